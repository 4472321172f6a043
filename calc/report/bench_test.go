package report

import (
	"fmt"
	"testing"
	"time"

	"gaugebook/calc/book"
)

// years is a book of n entries of an ordinary life over two years: runs with
// draw logs, moves, bottlings and sales, over and over; months are closed.
func years(tb testing.TB, n int) *book.Book {
	w := newScribe(tb, book.US)
	at := time.Date(2025, 1, 1, 8, 0, 0, 0, time.UTC)
	step := 2 * 365 * 24 * time.Hour / time.Duration(n)
	var entries []*book.Entry
	add := func(kind, body string, args ...any) book.Address {
		at = at.Add(step)
		e := w.entry(at.Format(time.RFC3339), kind, fmt.Sprintf(body, args...))
		entries = append(entries, e)
		return e.Address()
	}
	add("book opened", `{"name":"Hollow Alder","convention":"us"}`)
	add("vessel registered", `{"name":"Copper","use":"still","capacity":"200gal"}`)
	add("vessel registered", `{"name":"R1","use":"receiver","capacity":"60gal"}`)
	add("vessel registered", `{"name":"Tank 1","use":"tank","capacity":"250gal"}`)
	product := add("product registered", `{"name":"Quince brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":"12"}`)
	for len(entries) < n {
		run := add("run started", `{"still":"heron41-2","product":%q}`, product)
		for i := range 25 {
			add("draw read", `{"run":%q,"indicated":"%d.5","temp":"71.2","volume":"%d"}`, run, 160-i, i)
		}
		add("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":"heron41-3","volume":"50","indicated":"140","temp":"71"}`, run)
		add("run ended", `{"run":%q}`, run)
		add("spirit moved", `{"from":"heron41-3","to":"heron41-4","account":"storage"}`)
		add("water added", `{"vessel":"heron41-4","water":"39.2"}`)
		add("spirit gauged", `{"vessel":"heron41-4","volume":"86","indicated":"80","temp":"60","cause":"measurement"}`)
		bottling := add("bottling opened", `{"product":%q,"tank":"heron41-4","volume":"86","temp":"60","strength":"80"}`, product)
		for range 20 {
			add("bottles counted", `{"bottling":%q,"cases":"1"}`, bottling)
		}
		add("bottling closed", `{"bottling":%q,"tank_empty":"yes","cause":"bottling"}`, bottling)
		for range 10 {
			add("cases removed", `{"bottling":%q,"cases":"2","purpose":"sale"}`, bottling)
		}
	}
	w.b.Add(entries...)
	return w.b
}

func BenchmarkMonthOf200k(b *testing.B) {
	s := years(b, 200_000).State()
	for _, month := range []string{"2025-01", "2026-12"} {
		b.Run(month, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Of(s, month)
			}
		})
	}
}

func BenchmarkBalancesOf200k(b *testing.B) {
	s := years(b, 200_000).State()
	for b.Loop() {
		Balances(s)
	}
}
