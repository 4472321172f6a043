package main

import (
	"context"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/server/store"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// A folded is a stored book and the state that follows from it.
type folded struct {
	*book.Book
	head    record.Mark
	arrived map[book.Address]int64 // an entry's number in the log
	clock   record.Clock           // the highest in the log
	unread  int                    // lines that are no records
}

// readBook folds the book of a file.
func readBook(ctx context.Context, path string) (*folded, error) {
	r, err := store.OpenReader(ctx, path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return foldLog(ctx, r)
}

func foldLog(ctx context.Context, r *store.Reader) (*folded, error) {
	f := &folded{Book: book.New(), arrived: map[book.Address]int64{}}
	var entries []*book.Entry
	for stored, err := range r.Entries(ctx, 0) {
		if err != nil {
			return nil, err
		}
		f.head = record.Mark{Seq: stored.Seq, Chain: stored.Chain}
		e, err := engine.EntryOf(stored.Line)
		if err != nil {
			f.unread++
			continue
		}
		f.arrived[e.Address()] = stored.Seq
		var clock record.Clock
		if clock.UnmarshalText([]byte(e.Clock)) == nil {
			f.clock = max(f.clock, clock)
		}
		entries = append(entries, e)
	}
	f.Add(entries...)
	return f, nil
}

// monthArgument reads a month such as 2026-10.
func monthArgument(s string) error {
	_, err := book.ParseMoment(s + "-01T00:00:00Z")
	if err != nil || len(s) != len("2026-10") {
		return fault.Fault{Code: fault.NotOneOf, Field: "month", Value: s, Limit: "is not a month", Remedy: "write it as 2026-10"}
	}
	return nil
}
