package engine_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// opened is an engine that holds entries of the demo, some days after them.
func opened(tb testing.TB, entries []demo.Entry) *engine.Engine {
	tb.Helper()
	chains := map[string]exchange.Chain{}
	var lines []string
	for i, e := range entries {
		chain := chains[e.Device]
		chain.Device = e.Device
		kind := book.KindOf(e.Body)
		line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{Kind: kind.Name, V: kind.Version, Body: book.Encode(e.Body),
			Happened: record.StampOf(e.Happened), Written: record.StampOf(e.Written), By: e.By}, record.NewID(e.Written, [10]byte{byte(i >> 8), byte(i)}))
		require.NoError(tb, err)
		chains[e.Device] = next
		lines = append(lines, string(line))
	}
	now := entries[len(entries)-1].Happened.AddDate(0, 0, 20)
	p := engine.New(engine.Outside{Now: func() time.Time { return now }, Random: counting{new(byte)}})
	require.NotContains(tb, string(p.Call("open", []byte(strings.Join(lines, "\n")))), "faults")
	return p
}

// BenchmarkBarrels opens the pages of a store of 2,000 barrels: all of it, one
// row, in the order of their losses, one barrel; and the room's first page.
func BenchmarkBarrels(b *testing.B) {
	p := opened(b, demo.Store(2000))
	for _, page := range []struct {
		name, call string
		in         map[string]any
	}{
		{"store", "view", map[string]any{"what": "barrels"}},
		{"row", "view", map[string]any{"what": "barrels", "barrel": map[string]any{"row": "Long store\x1f1"}}},
		{"loss", "view", map[string]any{"what": "barrels", "barrel": map[string]any{"sort": "loss, most first"}}},
		{"one", "view", map[string]any{"what": "barrel", "vessel": "heron41-7"}},
		{"gauge", "view", map[string]any{"what": "store"}},
		{"form", "form", map[string]any{"kind": "spirit gauged"}},
	} {
		in, err := json.Marshal(page.in)
		require.NoError(b, err)
		b.Run(page.name, func(b *testing.B) {
			for b.Loop() {
				require.Greater(b, len(p.Call(page.call, in)), 1000)
			}
		})
	}
}
