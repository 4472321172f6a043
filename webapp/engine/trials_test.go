package engine_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everything is all that the phone can be asked to show of some entries: every
// page that lists entries, and each entry's own.
func (p *phone) everything(entries ...string) string {
	var out strings.Builder
	for _, in := range []map[string]any{{"what": "trials"}, {"what": "office", "day": "2026-11-25"}, {"what": "store"}, {"what": "calendar"}} {
		fmt.Fprintln(&out, p.call("view", in))
	}
	for _, a := range entries {
		fmt.Fprintln(&out, p.call("view", map[string]any{"what": "entry", "address": a}))
	}
	for _, kind := range []string{"trial scored", "trial opened", "trial made"} {
		fmt.Fprintln(&out, p.call("form", map[string]any{"kind": kind}))
	}
	return out.String()
}

// A phone that holds everybody's marks shows none of them before all are in:
// not on the bench, not in the day's entries, not in an entry, its correction or
// its history.
func TestMarksAreBlindUntilAllAreIn(t *testing.T) {
	p, _ := metric(t, 0)
	trial := p.save("trial made", map[string]any{"name": "Glass K", "tasters": "2", "parts": []map[string]any{{"what": "Hearts", "weight": "60g"}}})
	score := p.save("trial scored", map[string]any{"trial": trial, "taster": "JS", "whole": "7", "nose": "9", "words": "marzipan"})
	amended := p.save("entry amended", map[string]any{"entry": score, "why": "slip", "body": map[string]any{"trial": trial, "taster": "JS", "whole": "8", "words": "marzipan, long"}})
	shown := p.everything(trial, score, amended)
	assert.NotContains(t, shown, "marzipan")
	assert.NotContains(t, shown, "All in all 8")
	assert.Contains(t, shown, "kept back until all are in", "and it says so")
	assert.Contains(t, shown, "1 of 2 tasters are in: JS")
	entry := p.call("view", map[string]any{"what": "entry", "address": score})
	assert.Equal(t, map[string]any{"trial": trial, "taster": "JS"}, entry["values"], "who corrects a mark gives it anew")
	assert.Equal(t, true, entry["correctable"])
	p.refused("trial scored", map[string]any{"trial": trial, "taster": "js ", "whole": "5"}, "taster", "has given marks")

	p.save("trial scored", map[string]any{"trial": trial, "taster": "MK", "whole": "6"})
	shown = p.everything(trial, score, amended)
	assert.Contains(t, shown, "marzipan, long")
	assert.Contains(t, shown, "JS 8 marzipan, long; MK 6")
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "entry", "address": score})["values"]), "marzipan, long")

	early := p.save("trial made", map[string]any{"name": "Glass L", "tasters": "3", "from": trial, "parts": []map[string]any{{"what": "Hearts", "weight": "60g"}}})
	p.save("trial scored", map[string]any{"trial": early, "taster": "JS", "whole": "3", "words": "watery"})
	assert.NotContains(t, p.everything(early), "watery")
	p.save("trial opened", map[string]any{"trial": early, "why": "MK is ill"})
	shown = p.everything(early)
	assert.Contains(t, shown, "opened with 1 of 3 in")
	family := p.call("view", map[string]any{"what": "trials"})["family"].([]any)
	require.Len(t, family, 1)
	children := family[0].(map[string]any)["children"].([]any)
	require.Len(t, children, 1)
	assert.Equal(t, "Glass L", children[0].(map[string]any)["name"])
}

// 300 L at 40 % vol and 20 °C weigh 300 × 0.94805 = 284.41 kg (OIML R 22, table
// I: 948.05 kg/m3 at 40 % vol).
func TestATrialAsLargeAsATank(t *testing.T) {
	p, _ := metric(t, 0)
	tank := p.save("vessel registered", map[string]any{"name": "Tank 3", "use": "tank", "capacity": "250L"})
	good := p.save("goods registered", map[string]any{"name": "Cane sugar", "type": "sugar", "counted_in": "weight"})
	p.save("goods received", map[string]any{"good": good, "weight": "20kg"})
	trial := p.save("trial made", map[string]any{"name": "K7", "tasters": "1", "strength": "40%", "parts": []map[string]any{{"what": "Cane sugar", "weight": "10g"}, {"what": "Quince hearts", "weight": "60g"}, {"what": "water", "weight": "30g"}}})
	scale := func(target string) map[string]any {
		return p.call("view", map[string]any{"what": "scale", "trial": trial, "target": target, "tank": tank})
	}
	out := scale("300L")
	assert.Empty(t, out["wrong"])
	assert.Contains(t, out["csv"], "Cane sugar,28.441,20.000,8.441")
	assert.Contains(t, out["csv"], "water,85.324,,0.000,from the tap")
	assert.Contains(t, fmt.Sprint(out["says"]), "Tank 3 has room for 250 L, and this is 300 L.")
	assert.Contains(t, fmt.Sprint(out["says"]), "as if it were spirit and water alone")
	assert.Contains(t, scale("100kg")["csv"], "Cane sugar,10.000,20.000,0.000")
	assert.Contains(t, scale("12%")["wrong"], "is a unit of strength")
	assert.NotEmpty(t, scale("much")["wrong"])
	assert.Contains(t, scale("900000kg")["wrong"], "no batch")
	assert.Empty(t, scale("")["wrong"], "nothing typed, nothing scolded")
}

func TestApprovalsStandWithTheirProduct(t *testing.T) {
	p, _ := metric(t, 0)
	a := p.save("product registered", map[string]any{"name": "Quince brandy", "class": "brandy", "formula": "F-17"})
	p.save("product registered", map[string]any{"name": "Rye", "class": "whisky"})
	p.save("approval recorded", map[string]any{"product": a, "of": "label", "number": "L-4", "status": "approved", "until": "2026-11-01"})
	p.save("approval recorded", map[string]any{"product": a, "of": "label", "number": "L-5", "status": "applied for"})
	shown := fmt.Sprint(p.call("view", map[string]any{"what": "trials"}))
	for _, want := range []string{"approved until 2026-11-01: over", "applied for", "F-17", "number only", "none kept"} {
		assert.Contains(t, shown, want)
	}
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "office", "day": "2026-11-25"})["wants"]), "L-4 ends on 2026-11-01", "its end is asked about")
}
