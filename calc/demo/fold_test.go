package demo

import "gaugebook/calc/book"

func kindName(e Entry) string { return book.KindOf(e.Body).Name }

func fold(entries []Entry) *book.Book {
	b := book.New()
	seq := map[string]uint64{}
	for _, e := range entries {
		seq[e.Device]++
		b.Add(entry(e, seq[e.Device]))
	}
	return b
}
