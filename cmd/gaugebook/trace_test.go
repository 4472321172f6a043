package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

func TestATraceGoesBothWays(t *testing.T) {
	path := bookOfThreeMonths(t)
	b, err := readBook(t.Context(), path)
	require.NoError(t, err)
	s := b.State()
	var lot *book.Lot // the last that came of something from the field
	for _, l := range s.Lots {
		if o := s.Origins(l.Address); l.Material == book.Hearts && o[0].Lot != nil && o[0].Lot.Material.Raw() {
			lot = l
		}
	}
	require.NotNil(t, lot)
	tr := traced(t, path, string(lot.Address))
	var whole float64
	var fruit step
	for _, x := range tr.From {
		if l := s.Lot(book.Address(x.Address)); len(l.From) == 0 {
			whole += x.Share
			if l.Material.Raw() && x.Share > fruit.Share {
				fruit = x
			}
		}
	}
	require.InDelta(t, 1, whole, 0.001, "what it came of at the beginning is all of it")
	require.Contains(t, fruit.Amount, " lb", "weights of a US book")

	back := traced(t, path, fruit.Address)
	require.Empty(t, back.From)
	at := -1
	for i, x := range back.Into {
		if x.Address == string(lot.Address) {
			at = i
		}
	}
	require.GreaterOrEqual(t, at, 0, "the field reaches the spirit")
	require.InDelta(t, fruit.Share, back.Into[at].Share, 0.0002, "and with the same share")
	for i := 1; i < len(tr.From); i++ {
		a, b := tr.From[i-1], tr.From[i]
		require.True(t, a.Away < b.Away || a.Away == b.Away && a.Share >= b.Share, "the nearest first, of those the largest share")
	}

	const bottled = "heron41-170"
	require.Equal(t, s.Bottling(bottled).Good(), traced(t, path, bottled).Lot.Bottles)
	out, _, err := asked(t, "", "trace", "--book", path, bottled)
	require.NoError(t, err)
	assert.Contains(t, out, "Came of (share of this lot; - for what gives no alcohol)\n")
	assert.Contains(t, out, "bottles, ")
	assert.Contains(t, out, "Became (how much of each is of this lot)\n")
}

func TestATraceShowsWhatIsStillInVessels(t *testing.T) {
	path := bookOfThreeMonths(t)
	b, err := readBook(t.Context(), path)
	require.NoError(t, err)
	vessel := book.Address("heron41-72") // a barrel that was filled before
	held := b.State().Composition(vessel)
	require.NotEmpty(t, held)
	tr := traced(t, path, string(held[0].Lot))
	found := false
	for _, x := range tr.Held {
		if x.Address == string(vessel) {
			found = true
			assert.InDelta(t, held[0].Share, x.Share, 0.0001)
		}
	}
	require.True(t, found)
	_, _, err = asked(t, "", "trace", "--book", path, string(vessel))
	require.ErrorContains(t, err, "lot “heron41-72”: is a vessel; trace what it holds: "+string(held[0].Lot))
}

func TestWhatCannotBeTraced(t *testing.T) {
	path := bookOfThreeMonths(t)
	_, _, err := asked(t, "", "trace", "--book", path, "heron41-1")
	assert.EqualError(t, err, "lot “heron41-1”: is no lot of this book; give the address of the entry that began it, such as heron41-12.")
	_, _, err = asked(t, "", "trace", "--book", path, "Winter rye")
	assert.ErrorContains(t, err, "lot “Winter rye”: is the name of several lots; give the address of one: heron41-102, heron41-106")
	out, _, err := asked(t, "", "trace", "--book", path, "--json", "Juniper Gin")
	require.NoError(t, err, "one lot has the name")
	assert.Contains(t, out, `"address": "heron41-140"`)
}

func traced(t *testing.T, path, lot string) trace {
	out, errs, err := asked(t, "", "trace", "--book", path, "--json", lot)
	require.NoError(t, err, errs)
	var tr trace
	require.NoError(t, json.NewDecoder(strings.NewReader(out)).Decode(&tr))
	return tr
}
