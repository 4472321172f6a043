package engine_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLaboratoryResultsBesideTheirLimits(t *testing.T) {
	p, full, empty := tanked(t)
	body := map[string]any{"vessel": full, "made_of": "quince", "methanol": "14.1g/L", "copper": "1.9mg/L", "strength": "61.8%", "laboratory": "Bellweather Assay", "document": "BA-7"}
	result := p.preview("laboratory result received", body)
	assert.Equal(t, "1", result["figure"])
	assert.Equal(t, "of 2", result["unit"])
	assert.Equal(t, "14.1 g/L, limit 13.5 g/L", beside(t, result)["methanol"])
	assert.Equal(t, "1.9 mg/L, for comparison 2 mg/L", beside(t, result)["copper"])
	assert.Contains(t, says(result), "Methanol is above 13.5 g/L (Regulation (EU) 2019/787, annex I, from memory)")
	p.save("laboratory result received", body)
	look := func(about string) (titles []string, all string) {
		view := p.call("view", map[string]any{"what": "laboratory", "about": about})
		for _, b := range view["blocks"].([]any) {
			titles = append(titles, b.(map[string]any)["table"].(map[string]any)["title"].(string))
		}
		return titles, fmt.Sprint(view)
	}
	titles, all := look("")
	assert.Equal(t, []string{"Tank 3, 2026-11-25, Bellweather Assay, BA-7"}, titles)
	for _, want := range []string{"above 13.5 g/L", "(2 mg/L)", "from memory", "the book has 62.0 % vol in Tank 3 now", "Quince hearts"} {
		assert.Contains(t, all, want)
	}
	titles, _ = look(empty)
	assert.Empty(t, titles)
	p.save("spirit moved", map[string]any{"from": full, "to": empty, "volume": "100L", "volume_temp": "20C"})
	titles, _ = look(empty)
	require.Len(t, titles, 1)
	assert.Contains(t, titles[0], "(of what is in it now)", "a result goes with the lot it is about")
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "store"})), "result above a published limit", "and it is asked about")
}
