package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/report"
)

func TestVerifyFoldsAndBalances(t *testing.T) {
	out, errs, err := asked(t, "", "verify", "--book", bookOfThreeMonths(t))
	require.NoError(t, err, errs)
	for _, want := range []string{"664 entries of 5 devices, every one as it was written", "movements of alcohol; all accounts add up to nothing, and the vessels, stills and bottles hold what the accounts say",
		"2 closed months have the figures they were signed for", "not that it was true"} {
		assert.Contains(t, out, want)
	}
}

// told is a book of one vessel with some spirit, its first month closed with
// the given change to what is signed for.
func told(t *testing.T, change func(*book.MonthClosed)) *folded {
	f := &folded{Book: book.New(), arrived: map[book.Address]int64{}}
	write := func(device string, seq uint64, seen uint64, day, kind string, body book.Body, typed string) *book.Entry {
		if body == nil {
			var faults error
			b, list := book.Compose(kind, book.US, []byte(typed))
			faults = list.Err()
			require.NoError(t, faults)
			body = b
		}
		at, err := book.ParseMoment(day + "T10:00:00Z")
		require.NoError(t, err)
		e := &book.Entry{ID: fmt.Sprint(device, seq), Device: device, Seq: seq, Clock: fmt.Sprintf("%012x-0000", at.Milliseconds()), Seen: seen,
			Written: at, Happened: at, Kind: kind, Version: 1, Body: body, Raw: book.Encode(body)}
		f.arrived[e.Address()] = int64(f.Len() + 1)
		f.Add(e)
		return e
	}
	write("heron41", 1, 0, "2026-09-01", "book opened", nil, `{"name":"Hollow Alder","convention":"us"}`)
	write("heron41", 2, 0, "2026-09-02", "vessel registered", nil, `{"name":"T1","use":"tank","capacity":"90gal"}`)
	write("heron41", 3, 0, "2026-09-03", "spirit received", nil, `{"vessel":"heron41-2","reason":"in bond","class":"brandy","account":"storage","volume":"40","temp":"60","strength":"100"}`)
	c := report.Close(f.State(), "2026-09", "")
	change(c)
	write("heron41", 4, 3, "2026-10-05", "month closed", c, "")
	write("lark07", 1, 3, "2026-09-20", "sample taken", nil, `{"vessel":"heron41-2","volume":"1L","purpose":"laboratory"}`)
	return f
}

func TestVerifySaysWhatCameInAfterAMonthWasClosed(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, told(t, func(*book.MonthClosed) {}).verify(&out))
	assert.Contains(t, out.String(), "2026-09, closed by heron41-4: entries written before it came in after it, and count as adjustments in the first open month (from storage to research and samples, brandy, 170 proof and under: 0.2632 proof gallons more)")
	assert.Contains(t, out.String(), "1 closed months have the figures they were signed for")
}

func TestVerifyFindsFiguresThatWereNotTheBooks(t *testing.T) {
	for name, forge := range map[string]struct {
		change func(*book.MonthClosed)
		says   string
	}{
		"the digest": {func(c *book.MonthClosed) { c.Digest = strings.Repeat("0", 64) }, "2026-09, closed by heron41-4: its digest is not that of its figures"},
		"a figure":   {func(c *book.MonthClosed) { c.Figures = nil }, "its digest is not that of its figures"},
		"both": {func(c *book.MonthClosed) {
			c.Digest, c.Figures = report.Close(book.New().State(), "2026-09", "").Digest, nil
		}, "2026-09, closed by heron41-4: from received to storage, brandy, 170 proof and under: 0.0000 proof gallons were signed for, and the entries before it give 40.0000"},
	} {
		t.Run(name, func(t *testing.T) {
			var out bytes.Buffer
			err := told(t, forge.change).verify(&out)
			require.EqualError(t, err, "closed months whose figures cannot be found again: 2026-09")
			assert.Contains(t, out.String(), forge.says)
		})
	}
}

func TestVerifySaysThatTotalsMayBeShort(t *testing.T) {
	f := told(t, func(*book.MonthClosed) {})
	f.Add(&book.Entry{ID: "x", Device: "lark07", Seq: 2, Clock: "000000000001-0000", Kind: "still sung to", Version: 1})
	f.unread = 1
	var out bytes.Buffer
	require.NoError(t, f.verify(&out))
	assert.Contains(t, out.String(), "2 entries are of kinds or versions this build does not know, and every total may be short")
}
