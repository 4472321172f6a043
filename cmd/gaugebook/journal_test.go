package main

import (
	"bytes"
	"encoding/csv"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/report"
	"gaugebook/server/shelf"
	"gaugebook/server/store"
)

// demoBook is the file of the demo's eighteen months.
func demoBook(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "demo.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	require.NoError(t, fill(t.Context(), shelf.Book{Store: s}, hollowAlder))
	require.NoError(t, s.Close())
	return path
}

// TestTheDemoBalancesInHledger asks hledger for every balance of the demo's
// journal by account and class, and for each by month, and finds the book's.
func TestTheDemoBalancesInHledger(t *testing.T) {
	path := demoBook(t)
	journal, errs, err := asked(t, "", "journal", "--book", path)
	require.NoError(t, err, errs)
	b, err := readBook(t.Context(), path)
	require.NoError(t, err)
	want := map[string]book.Alcohol{}
	december := map[string]book.Alcohol{}
	for _, p := range b.State().Postings() {
		for account, amount := range map[string]book.Alcohol{report.JournalAccount(p.From, p.Class): -p.Amount, report.JournalAccount(p.To, p.Class): p.Amount} {
			want[account] += amount
			if p.On.Month() == "2025-12" {
				december[account] += amount
			}
		}
	}
	for _, a := range book.Accounts() {
		var sum book.Alcohol
		for account, n := range want {
			if strings.Contains(account, ":"+string(a)+":") {
				sum += n
			}
		}
		require.Equal(t, b.State().Balance(a), sum, a)
	}
	require.Greater(t, len(want), 30)
	require.Equal(t, nonZero(want), hledger(t, journal))
	require.NotEmpty(t, nonZero(december))
	require.Equal(t, nonZero(december), hledger(t, journal, "--begin", "2025-12-01", "--end", "2026-01-01"))
}

func nonZero(balances map[string]book.Alcohol) map[string]string {
	out := map[string]string{}
	for account, n := range balances {
		if n != 0 {
			out[account] = decimal.New(int64(n), -4).String()
		}
	}
	return out
}

// hledger reads the balances of a journal by account.
func hledger(t *testing.T, journal string, args ...string) map[string]string {
	t.Helper()
	cmd := exec.Command("hledger", append([]string{"-f", "-", "--strict", "balance", "--flat", "--no-total", "-O", "csv"}, args...)...)
	cmd.Env = append(cmd.Environ(), "LANG=C.UTF-8")
	cmd.Stdin = strings.NewReader(journal)
	var errs strings.Builder
	cmd.Stderr = &errs
	out, err := cmd.Output()
	require.NoError(t, err, "hledger comes with go run ./cmd/check: %s", errs.String())
	got := map[string]string{}
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	require.NoError(t, err)
	for _, r := range rows[1:] {
		amount, ok := strings.CutSuffix(r[1], " PG")
		require.True(t, ok, "%q", r)
		got[r[0]] = decimal.RequireFromString(amount).String()
	}
	return got
}
