package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/report"
	"gaugebook/webapp/engine"
)

// TestOldLogsFoldForEver folds the logs that releases wrote and holds what they
// come to against what they came to then.
func TestOldLogsFoldForEver(t *testing.T) {
	logs, err := filepath.Glob("../../testdata/promise/*.jsonl")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(logs), 2)
	versions := map[string]bool{}
	for _, log := range logs {
		b := book.New()
		raw, err := os.ReadFile(log)
		require.NoError(t, err)
		for line := range bytes.Lines(raw) {
			e, err := engine.EntryOf(bytes.TrimSuffix(line, []byte("\n")))
			require.NoError(t, err, "%s: %s", log, line)
			require.NotNil(t, e.Body, "%s: %s %s", log, e.Address(), e.Kind)
			versions[fmt.Sprint(e.Kind, " ", e.Version)] = true
			b.Add(e)
		}
		golden, err := os.ReadFile(strings.TrimSuffix(log, ".jsonl") + ".golden")
		require.NoError(t, err, "what it folds to now:\n%s", summary(b))
		require.Equal(t, string(golden), summary(b), log)
		require.Empty(t, report.Balances(b.State()), log)
		for _, c := range report.Closings(b) {
			require.True(t, c.Intact, "%s: %s", log, c.Month)
			require.Empty(t, c.Differs, "%s: %s", log, c.Month)
		}
	}
	for _, k := range book.Kinds() {
		for v := 1; v <= k.Version; v++ {
			assert.True(t, versions[fmt.Sprint(k.Name, " ", v)], "no log in testdata/promise has ‘%s’ of version %d: add one", k.Name, v)
		}
	}
}

// summary is what a book folds to, a line for each thing.
func summary(b *book.Book) string {
	var out strings.Builder
	s := b.State()
	fmt.Fprintln(&out, "entries", s.Entries(), "voided", s.Voided(), "not known", s.Incomplete())
	balances := map[string]book.Alcohol{}
	for _, p := range s.Postings() {
		balances[report.JournalAccount(p.From, p.Class)] -= p.Amount
		balances[report.JournalAccount(p.To, p.Class)] += p.Amount
	}
	for account, sum := range sortedMap(balances) {
		fmt.Fprintln(&out, "balance", account, report.Steps(sum))
	}
	for a, v := range s.Vessels {
		if c := &v.Content; !c.Empty() {
			fmt.Fprintln(&out, "vessel", a, c.Material, "|", c.Account, "|", int64(c.Mass), "mg", report.Steps(c.Alcohol), "PG", int64(c.Volume), "mL", len(c.Parts), "parts")
		}
	}
	for a, x := range s.Bottlings {
		fmt.Fprintln(&out, "bottling", a, x.Good(), "good", x.Left(), "left", report.Steps(x.Finished), "PG")
	}
	for a, x := range s.RawLots {
		fmt.Fprintln(&out, "raw", a, int64(x.OnHand), "mg")
	}
	for a, x := range s.GoodsLots {
		fmt.Fprintln(&out, "goods", a, x.OnHand())
	}
	for month, c := range sortedMap(s.Closed()) {
		fmt.Fprintln(&out, "closed", month, c.Digest)
	}
	for _, q := range s.Questions() {
		fmt.Fprintln(&out, "question", q.ID, "answered by", q.Answer)
	}
	return out.String()
}

func sortedMap[V any](m map[string]V) func(yield func(string, V) bool) {
	return func(yield func(string, V) bool) {
		for _, k := range slices.Sorted(maps.Keys(m)) {
			if !yield(k, m[k]) {
				return
			}
		}
	}
}
