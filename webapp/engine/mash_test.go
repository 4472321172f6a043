package engine_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A grain mash is held against the maltster's own figure where the delivery has
// one: 100 kg of malt at 80 % and 50 kg of rye without a sheet hold
// 80 + 37.5 = 117.5 kg of extract. 450 L at 15.0 Bx (1.0611, NBS Circular 440)
// hold 450 × 0.9982 × 1.0611 × 0.15 = 71.5 kg: 61 %.
func TestExtractOfTheMaltstersSheet(t *testing.T) {
	p, fermenters := metric(t, 1)
	p.refused("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "100kg", "extract": "80pct"}, "extract", "maltster")
	malt := p.save("delivery received", map[string]any{"material": "grain", "variety": "Malted barley", "net": "100kg", "extract": "80pct"})
	rye := p.save("delivery received", map[string]any{"material": "grain", "variety": "Winter rye", "net": "50kg"})
	body := map[string]any{"fermenter": fermenters[0], "type": "grain mash", "volume": "450L", "sugar": "15.0Bx", "sample_temp": "20C", "mash_temp": "20C",
		"parts": []map[string]any{{"lot": malt, "weight": "100kg"}, {"lot": rye, "weight": "50kg"}}}
	by := beside(t, p.preview("mash made", body))
	assert.Equal(t, "71.5 kg, 61 % of the bill, 75 % where no sheet says", by["extract won"], "450 × 0.9982 × 1.0611 × 0.15 = 71.5 kg of 117.5 kg")
	body["parts"] = []map[string]any{{"lot": malt, "weight": "100kg"}}
	assert.Equal(t, "71.5 kg, 89 % of what the maltster's sheets promise", beside(t, p.preview("mash made", body))["extract won"])
	body["volume"] = "490L"
	body["sugar"] = "17.0Bx"
	assert.Contains(t, says(p.preview("mash made", body)), "more than the bill's", "a figure that cannot be is said, not hidden")
}

// The sums begin with what the book has of a mash.
func TestSumsOfAMash(t *testing.T) {
	p, fermenters := metric(t, 2)
	assert.Empty(t, p.call("view", map[string]any{"what": "mash"})["mashes"])
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "320kg"})
	p.save("mash made", map[string]any{"fermenter": fermenters[0], "type": "fruit mash", "volume": "310L", "sugar": "13.0Bx", "sample_temp": "20C", "mash_temp": "18C",
		"parts": []map[string]any{{"lot": lot, "weight": "320kg"}}})
	mashes := p.call("view", map[string]any{"what": "mash"})["mashes"].([]any)
	require.Len(t, mashes, 1)
	mash := mashes[0].(map[string]any)
	assert.Equal(t, fermenters[0], mash["value"])
	assert.Equal(t, "map[acid:map[mash:310.0L] enzyme:map[fruit:320.0kg temp:18C] gravity:map[temp:18C] nutrient:map[brix:13.0Bx volume:310.0L]]", fmt.Sprint(mash["sums"]))
	sums := mash["sums"].(map[string]any)["nutrient"].(map[string]any)
	assert.NotEmpty(t, p.preview("calc nutrient", sums)["figure"], "what is given is enough for a figure")
	assert.Equal(t, "13", p.preview("calc enzyme", map[string]any{"fruit": "320kg", "per_tonne": "40mL", "temp": "18C"})["figure"], "0.32 t × 40 mL")
	assert.Equal(t, "30", p.preview("calc cooling", map[string]any{"start": "100C", "now": "60C", "elapsed": "30min", "coolant": "20C", "target": "40C"})["figure"])

	p.save("ferment checked", map[string]any{"vessel": fermenters[0], "mash_temp": "19C", "smell": "butter"})
	board := p.call("view", map[string]any{"what": "ferment", "vessel": fermenters[0]})
	assert.Contains(t, fmt.Sprint(board), "lactic bacteria", "what the advice speaks of can be tapped")
}

// refused holds that a form does not save, and what it says at a field.
func (p *phone) refused(kind string, body map[string]any, field, words string) {
	p.t.Helper()
	wrong, _ := p.call("preview", map[string]any{"kind": kind, "body": body})["wrong"].([]any)
	for _, w := range wrong {
		if f := w.(map[string]any); f["field"] == field {
			assert.Contains(p.t, f["sentence"], words, "%s of %s %v", field, kind, body)
			return
		}
	}
	assert.Fail(p.t, "nothing is wrong", "at %s of %s %v: %v", field, kind, body, wrong)
}
