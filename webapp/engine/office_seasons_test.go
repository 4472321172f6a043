package engine_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

// Every season adds up to the book's own deliveries and bottles, and the chart
// ends where the year's alcohol does.
func TestSeasonsAreTheBook(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	var got struct {
		Years  []string
		Blocks []struct {
			Table seenTable
			Chart *struct {
				By, Choose, Summary string
				Lines               []struct{ Label string }
				Others              []struct{ By string }
			}
		}
	}
	a.into(&got, map[string]any{"what": "seasons"})
	require.Equal(t, []string{"2026", "2025"}, got.Years)
	kg, bottles, made := map[string]float64{}, map[string]int64{}, map[string]float64{}
	for _, r := range s.RawLots {
		kg[r.Came.Day()[:4]] += r.Net.Kilograms()
	}
	for _, b := range s.Bottlings {
		if !b.Open() {
			bottles[b.Closed.Day()[:4]] += b.Good()
		}
	}
	for _, l := range s.Lots {
		if l.Material == book.Hearts {
			made[l.Begun.Day()[:4]] += book.Alcohol(l.Amount).LitresPureAlcohol()
		}
	}
	chart := got.Blocks[0].Chart
	assert.Len(t, chart.Lines, 2)
	assert.Equal(t, "2026", chart.Lines[1].Label, "this year is drawn over the last")
	assert.Len(t, chart.Others, 2)
	for _, y := range got.Years {
		sum := func(rows seenTable, column int) float64 {
			total := 0.0
			for _, r := range rows.Rows {
				if strings.HasSuffix(r.Cells[0].Text, " "+y) {
					total += decimal.RequireFromString(r.Cells[column].Text).InexactFloat64()
				}
			}
			return total
		}
		assert.InDelta(t, kg[y], sum(got.Blocks[1].Table, 1), 0.5*float64(len(got.Blocks[1].Table.Rows)), "kg of %s, each rounded", y)
		assert.InDelta(t, float64(bottles[y]), sum(got.Blocks[3].Table, 2), 0.1, "bottles of %s", y)
		assert.Contains(t, chart.Summary, fmt.Sprintf("%s: %.0f by the end of", y, math.Round(made[y])))
	}
}
