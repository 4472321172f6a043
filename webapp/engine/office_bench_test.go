package engine_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/webapp/engine"
)

// tenYears is the demo's house over ten years with nine production lines side
// by side: some 200,000 entries.
var tenYears = sync.OnceValue(func() (all []*book.Entry) {
	seq := map[string]uint64{}
	for _, e := range demo.Life(120, 9) {
		seq[e.Device]++
		k := book.KindOf(e.Body)
		moment := func(t time.Time) book.Moment { return book.MomentAt(t.UnixMilli(), t.Format(time.RFC3339)) }
		all = append(all, &book.Entry{ID: fmt.Sprintf("%s-%d", e.Device, seq[e.Device]), Device: e.Device, Seq: seq[e.Device], Clock: fmt.Sprintf("%012x-%04x", e.Written.UnixMilli(), 0),
			Written: moment(e.Written), Happened: moment(e.Happened), By: e.By, Kind: k.Name, Version: k.Version, Body: e.Body, Raw: book.Encode(e.Body)})
	}
	return all
})

// BenchmarkOfficeOfTenYears asks for every page of the office on the book of
// ten years, as the page does: JSON in, JSON out.
func BenchmarkOfficeOfTenYears(b *testing.B) {
	entries := tenYears()
	last := entries[len(entries)-1].Happened
	at, err := time.Parse(time.RFC3339, last.String())
	require.NoError(b, err)
	e := engine.New(engine.Outside{Now: func() time.Time { return at }, Random: counting{new(byte)}})
	e.Hold(entries)
	b.Logf("%d entries", len(entries))
	s := e.Book().State()
	var bottling, fruit, vessel book.Address
	for a := range s.Bottlings {
		bottling = a
	}
	for a := range s.RawLots {
		if fruit == "" {
			fruit = a
		}
	}
	for a, v := range s.Vessels {
		if len(s.Composition(a)) > 0 && v.Use == book.Tank {
			vessel = a
		}
	}
	year := last.Day()[:4]
	for _, page := range []struct{ name, in string }{
		{"today", `{"what":"office","day":"` + last.Day() + `"}`},
		{"month", `{"what":"month","month":"` + last.Month() + `"}`},
		{"month as", `{"what":"month as","month":"` + last.Month() + `"}`},
		{"tax", `{"what":"tax"}`},
		{"trace bottles", `{"what":"trace","lot":"` + string(bottling) + `"}`},
		{"trace fruit", `{"what":"trace","lot":"` + string(fruit) + `"}`},
		{"trace vessel", `{"what":"trace","lot":"` + string(vessel) + `"}`},
		{"yield of a year", `{"what":"yield","year":"` + year + `"}`},
		{"yield of all", `{"what":"yield"}`},
		{"seasons", `{"what":"seasons"}`},
		{"registers", `{"what":"registers"}`},
		{"count", `{"what":"count"}`},
		{"vessel", `{"what":"vessel","vessel":"` + string(vessel) + `"}`},
		{"calendar", `{"what":"calendar"}`},
	} {
		b.Run(strings.ReplaceAll(page.name, " ", "-"), func(b *testing.B) {
			n := 0
			for b.Loop() {
				n = len(e.Call("view", []byte(page.in)))
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms")
			b.ReportMetric(float64(n)/1024, "KiB")
		})
	}
}
