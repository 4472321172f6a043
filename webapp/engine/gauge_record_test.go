package engine_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

// A gauge's paper says what 27 CFR 19.618 asks for, with the figures of the
// book's gauge; an entry that gauged nothing has none.
func TestAGaugeHasItsPaper(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	type seen struct {
		Gauge *struct {
			Facts struct {
				Lines []struct{ Label, Value string }
			}
			Steps struct{ Figure string }
		}
	}
	produced := 0
	for _, g := range s.Gauges() {
		entry := a.book.Entry(g.Entry)
		if entry.Kind != "receiver gauged" {
			continue
		}
		body, _, void, _ := a.book.Effective(entry)
		if void || body.(*book.ReceiverGauged).Fraction != book.Hearts {
			continue
		}
		produced++
		var got seen
		a.into(&got, map[string]any{"what": "entry", "address": g.Entry})
		require.NotNil(t, got.Gauge, g.Entry)
		says := map[string]string{}
		for _, p := range got.Gauge.Facts.Lines {
			says[p.Label] = p.Value
		}
		for _, label := range []string{"Serial", "Date", "Reason", "Related record", "Kind of spirits", "Proof of distillation", "Container", "Proprietor", "Proof", "Wine gallons at 60 °F", "Proof gallons"} {
			assert.NotEmpty(t, says[label], "%s of %s", label, g.Entry)
		}
		assert.Equal(t, g.Figures.Legal.ProofGallons.StringFixed(1), says["Proof gallons"])
		assert.Equal(t, says["Proof gallons"], got.Gauge.Steps.Figure)
		assert.Contains(t, says["Reason"], "production gauge")
	}
	assert.Greater(t, produced, 10)
	var opened seen
	a.into(&opened, map[string]any{"what": "entry", "address": s.House().Opened})
	assert.Nil(t, opened.Gauge)
}
