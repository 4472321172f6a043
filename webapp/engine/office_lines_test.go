package engine_test

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A line of a state's return is the removals it names and no others, and a rate
// that the house enters is used from its day on.
func TestLinesOfOnesOwn(t *testing.T) {
	a := hollowAlder(t)
	tax := func() (got struct {
		Result struct{ Figure string }
		Blocks []struct{ Table seenTable }
	}) {
		a.into(&got, map[string]any{"what": "tax", "year": "2026"})
		return got
	}
	before := tax()
	a.save("grouping defined", map[string]any{"name": "All that was sold", "per": "proof gallons", "purposes": []any{map[string]any{"purpose": "sale"}}, "rate": "2USD"})
	a.save("grouping defined", map[string]any{"name": "Gin to tasters", "per": "bottles", "classes": []any{map[string]any{"class": "gin"}}, "purposes": []any{map[string]any{"purpose": "tasting room"}}})
	sold := decimal.Zero
	for _, r := range table(t, before.Blocks, "What left in 2026").Rows {
		if r.Cells[0].Text == "sale" {
			sold = decimal.RequireFromString(strings.TrimSuffix(r.Cells[2].Text, " PG"))
		}
	}
	require.True(t, sold.IsPositive())
	lines := table(t, tax().Blocks, "Lines of your own").Rows
	require.Len(t, lines, 2)
	assert.Equal(t, sold.StringFixed(2)+" proof gallons", lines[0].Cells[1].Text)
	assert.Equal(t, sold.Mul(decimal.NewFromInt(2)).StringFixed(2)+" USD", lines[0].Cells[2].Text)
	assert.Regexp(t, `^[1-9]\d*\.00 bottles$`, lines[1].Cells[1].Text)

	// Twice the first rate from the first day of the year: twice the tax, since no second tier is reached.
	a.save("tax rate changed", map[string]any{"from": "2026-01-01", "source": "an invented act", "tiers": []any{map[string]any{"up_to": "100000gal", "rate": "5.40USD"}, map[string]any{"rate": "27USD"}}})
	was, is := decimal.RequireFromString(before.Result.Figure), decimal.RequireFromString(tax().Result.Figure)
	assert.LessOrEqual(t, is.Sub(was.Mul(decimal.NewFromInt(2))).Abs().InexactFloat64(), 0.01, "%s and %s", was, is)
	assert.Contains(t, table(t, tax().Blocks, "The rates").Rows[0].Note, "an invented act")
	assert.Len(t, table(t, tax().Blocks, "The rates").Rows, 2, "what was replaced does not stand there")

	// The group leaves nothing of the first rate: all is taxed at the second.
	a.save("group share agreed", map[string]any{"year": "2026", "shares": []any{map[string]any{"share": "0gal"}}})
	assert.LessOrEqual(t, decimal.RequireFromString(tax().Result.Figure).Sub(is.Mul(decimal.NewFromInt(5))).Abs().InexactFloat64(), 0.05)
}

// What fruit gave stands beside the published rate with its source, the poorest
// first, and every bottle's cost is its parts with the tax.
func TestYieldBesideTheTables(t *testing.T) {
	a := hollowAlder(t)
	var got struct{ Blocks []struct{ Table seenTable } }
	a.into(&got, map[string]any{"what": "yield", "year": "2025", "hour": "24"})
	official := table(t, got.Blocks, "Hearts beside").Rows
	rates := map[string]string{"Damson, 100 L": "4.6", "Quince, 100 L": "3.6", "Rye, 100 kg": "26.0", "Apple, 100 L": "3.6"} // testdata/published/fruit-yields
	found, last := 0, 0.0
	for _, r := range official {
		if want, ok := rates[r.Cells[0].Text]; ok {
			assert.Equal(t, want, r.Cells[2].Text, r.Cells[0].Text)
			assert.Contains(t, r.Note, "German")
			part := decimal.RequireFromString(strings.TrimSuffix(r.Cells[3].Text, " %")).InexactFloat64()
			assert.GreaterOrEqual(t, part, last, "the poorest first")
			found, last = found+1, part
		}
	}
	assert.GreaterOrEqual(t, found, 3)
	for _, r := range table(t, got.Blocks, "Cost of a bottle").Rows {
		assert.NotContains(t, r.Note, "hours without a price")
		parts := decimal.Zero
		_, list, _ := strings.Cut(r.Note, "bottles: ")
		list, all, _ := strings.Cut(list, ", in all ")
		all, _, _ = strings.Cut(all, ";")
		for one := range strings.SplitSeq(list, ", ") {
			parts = parts.Add(decimal.RequireFromString(one[strings.LastIndex(one, " ")+1:]))
		}
		assert.Equal(t, all, parts.StringFixed(2), r.Note)
		assert.Greater(t, decimal.RequireFromString(r.Cells[2].Text).InexactFloat64(), decimal.RequireFromString(r.Cells[1].Text).InexactFloat64(), "the tax comes to it")
	}
	lost := table(t, got.Blocks, "What the angels").Rows
	assert.Contains(t, lost[0].Cells[0].Text, "Heads")
}

// table is the one whose title begins so.
func table(t *testing.T, blocks []struct{ Table seenTable }, title string) seenTable {
	t.Helper()
	for _, b := range blocks {
		if strings.HasPrefix(b.Table.Title, title) {
			return b.Table
		}
	}
	require.Fail(t, "no table "+title)
	return seenTable{}
}
