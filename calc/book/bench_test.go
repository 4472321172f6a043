package book

import (
	"fmt"
	"testing"
)

// years writes n entries of an ordinary life: runs with draw logs, moves,
// reductions and bottlings, over and over.
func years(tb testing.TB, n int) []*Entry {
	w, entries := house(tb)
	for len(entries) < n {
		at := func() Address { return MakeAddress(w.device, w.seq) }
		add := func(kind, body string, args ...any) {
			entries = append(entries, w.write(kind, fmt.Sprintf(body, args...)))
		}
		add("run started", `{"still":"heron41-2","product":"heron41-6"}`)
		run := at()
		for i := range 25 {
			add("draw read", `{"run":%q,"indicated":"%d.5","temp":"71.2","volume":"%d","vapour":"178.5F"}`, run, 160-i, i)
			if i == 2 || i == 20 {
				add("receiver changed", `{"run":%q,"fraction":%q,"receiver":"heron41-3"}`, run, []string{"hearts", "tails"}[i/20])
			}
		}
		add("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":"heron41-3","volume":"50","indicated":"140","temp":"71"}`, run)
		add("run ended", `{"run":%q}`, run)
		add("spirit moved", `{"from":"heron41-3","to":"heron41-4"}`)
		add("water added", `{"vessel":"heron41-4","water":"39.2"}`)
		add("spirit gauged", `{"vessel":"heron41-4","volume":"86","indicated":"80","temp":"60","cause":"measurement"}`)
		add("bottling opened", `{"product":"heron41-6","tank":"heron41-4","volume":"86","temp":"60","strength":"80"}`)
		bottling := at()
		for range 20 {
			add("bottles counted", `{"bottling":%q,"cases":"1"}`, bottling)
		}
		add("bottling closed", `{"bottling":%q,"tank_empty":"yes","cause":"bottling"}`, bottling)
		for range 10 {
			add("cases removed", `{"bottling":%q,"cases":"2","purpose":"sale"}`, bottling)
		}
	}
	return entries[:n]
}

func decodeAll(tb testing.TB, entries []*Entry) []*Entry {
	out := make([]*Entry, len(entries))
	for i, e := range entries {
		c := *e
		var err error
		if c.Body, err = Decode(e.Kind, e.Version, e.Raw); err != nil {
			tb.Fatal(err)
		}
		out[i] = &c
	}
	return out
}

func BenchmarkDecodeBody(b *testing.B) {
	entries := years(b, 2_000)
	b.ReportAllocs()
	for b.Loop() {
		decodeAll(b, entries)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/2_000, "ns/entry")
}

func BenchmarkFold200k(b *testing.B) {
	entries := years(b, 200_000)
	for b.Loop() {
		fold(entries...)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/200_000, "ns/entry")
}

func BenchmarkAppendTo200k(b *testing.B) {
	entries := years(b, 200_000)
	book := fold(entries...)
	w := &writer{t: b, device: "lark07", minute: 300_000}
	for b.Loop() {
		book.Add(w.write("spirit moved", `{"from":"heron41-3","to":"heron41-4"}`))
	}
}

func BenchmarkLateByAThousand(b *testing.B) {
	entries := years(b, 50_000)
	book := fold(entries...)
	w := &writer{t: b, device: "lark07"}
	for b.Loop() {
		w.minute = entries[len(entries)-1000].minute()
		book.Add(w.write("spirit moved", `{"from":"heron41-3","to":"heron41-4"}`))
	}
}
