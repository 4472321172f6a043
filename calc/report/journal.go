package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"gaugebook/calc/book"
)

// Journal writes the movements of a book as a journal of plain-text accounting
// (the format of hledger 1.25's manual, "hledger_journal"): one transaction for
// all that one entry moved, an account for each class of spirit, the commodity
// PG with four decimals, which is the ledger's own step.
func Journal(w io.Writer, b *book.Book) error {
	s := b.State()
	if _, err := fmt.Fprintf(w, "; %s: movements of alcohol, in US proof gallons\n; a copy to check against and to work with: the book itself is elsewhere\n\ncommodity 1.0000 PG\n\n", oneLine(s.House().Name)); err != nil {
		return err
	}
	postings := s.Postings()
	used := map[string]bool{}
	for i := range postings {
		used[JournalAccount(postings[i].From, postings[i].Class)] = true
		used[JournalAccount(postings[i].To, postings[i].Class)] = true
	}
	for _, a := range slices.Sorted(maps.Keys(used)) {
		if _, err := fmt.Fprintln(w, "account", a); err != nil {
			return err
		}
	}
	for i := 0; i < len(postings); {
		p := &postings[i]
		kind := ""
		if e := b.Entry(p.Entry); e != nil {
			kind = e.Kind
		}
		var out strings.Builder
		fmt.Fprintf(&out, "\n%s (%s) %s\n", p.On.Day(), p.Entry, kind)
		for ; i < len(postings) && postings[i].Entry == p.Entry && postings[i].On == p.On; i++ {
			q := &postings[i]
			note := ""
			if q.Lot != "" {
				note = "  ; lot " + string(q.Lot)
			}
			if q.Cause != "" {
				note += "  ; " + string(q.Cause)
			}
			fmt.Fprintf(&out, "    %-52s  %14s PG%s\n", JournalAccount(q.To, q.Class), Steps(q.Amount), note)
			fmt.Fprintf(&out, "    %-52s  %14s PG\n", JournalAccount(q.From, q.Class), Steps(-q.Amount))
		}
		if _, err := io.WriteString(w, out.String()); err != nil {
			return err
		}
	}
	return nil
}

// JournalAccount is what an account is called in a journal: by whether its
// alcohol is on the way in, in the house, or on the way out.
func JournalAccount(a book.Account, c book.SpiritClass) string {
	group := "out"
	switch {
	case a.InHouse():
		group = "house"
	case a.Source():
		group = "in"
	}
	return group + ":" + string(a) + ":" + string(c)
}

// Steps is an amount in proof gallons to the last step of the ledger, "16.4000".
func Steps(a book.Alcohol) string {
	sign := ""
	if a < 0 {
		sign, a = "-", -a
	}
	return fmt.Sprintf("%s%d.%04d", sign, a/10_000, a%10_000)
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
