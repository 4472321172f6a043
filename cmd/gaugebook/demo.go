package main

import (
	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// hollowAlder is the demo book's eighteen months as drafts to be sealed.
func hollowAlder() ([]demoEntry, error) { return drafts(demo.Eighteen()), nil }

// drafts are entries of the demo as they are sealed.
func drafts(entries []demo.Entry) []demoEntry {
	out := make([]demoEntry, len(entries))
	for i, e := range entries {
		k := book.KindOf(e.Body)
		out[i] = demoEntry{Device: e.Device, Draft: exchange.Draft{
			Kind: k.Name, V: k.Version, Body: book.Encode(e.Body), Happened: record.StampOf(e.Happened), Written: record.StampOf(e.Written), By: e.By,
		}}
	}
	return out
}
