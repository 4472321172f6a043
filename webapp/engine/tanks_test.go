package engine_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tanked is a metric book with a tank of 600 L brandy at 62 % and an empty one.
func tanked(t *testing.T) (p *phone, full, empty string) {
	p, _ = metric(t, 0)
	full = p.save("vessel registered", map[string]any{"name": "Tank 3", "use": "tank", "capacity": "1000L"})
	empty = p.save("vessel registered", map[string]any{"name": "Tank 4", "use": "tank", "capacity": "500L"})
	p.save("spirit received", map[string]any{"vessel": full, "volume": "600L", "volume_temp": "20C", "strength": "62%", "reason": "in bond", "class": "brandy", "account": "storage", "name": "Quince hearts"})
	return p, full, empty
}

func (p *phone) tanks(vessel string) map[string]any {
	return p.call("view", map[string]any{"what": "tanks", "vessel": vessel})
}

func TestTanksSayWhatIsInThem(t *testing.T) {
	p, full, empty := tanked(t)
	p.save("vessel registered", map[string]any{"name": "Barrel 1", "use": "barrel", "capacity": "200L"})
	view := p.tanks("")
	require.Len(t, view["tanks"], 1)
	line := view["tanks"].([]any)[0].(map[string]any)
	assert.Equal(t, "spirit, 600.0 L at 20 °C, 62.0 % vol", line["holds"])
	assert.Equal(t, "100.0 % Quince hearts, youngest of 2026-11-25", line["of"])
	assert.Equal(t, "[map[label:Tank 4 value:"+empty+"]]", fmt.Sprint(view["empty"]))
	assert.Equal(t, full, view["vessel"].(map[string]any)["vessel"], "the first that holds something")
	assert.Equal(t, empty, p.tanks(empty)["vessel"].(map[string]any)["vessel"])

	p.save("spirit moved", map[string]any{"from": full, "to": empty, "volume": "100L", "volume_temp": "20C", "lost": "1L", "lost_as": "spill"})
	assert.Contains(t, fmt.Sprint(p.tanks(empty)["vessel"]), "99.0 L at 20 °C")
}

// What rests is listed by its day; what is overdue says by how long. The phone's
// clock stands at 25 November 2026.
func TestReadyToTaste(t *testing.T) {
	p, full, empty := tanked(t)
	p.save("spirit moved", map[string]any{"from": full, "to": empty, "volume": "100L", "volume_temp": "20C"})
	assert.Empty(t, p.tanks("")["ready"])
	p.save("rest begun", map[string]any{"vessel": empty, "until": "2027-02-25", "for": "to marry"})
	p.save("rest begun", map[string]any{"vessel": full, "until": "2026-11-13"})
	ready := p.tanks("")["ready"].([]any)
	require.Len(t, ready, 2)
	first, second := ready[0].(map[string]any), ready[1].(map[string]any)
	assert.Equal(t, "Tank 3: ready to taste since 2026-11-13, 12 days overdue", first["says"])
	assert.Equal(t, true, first["due"])
	assert.Equal(t, "Tank 4: ready to taste on 2027-02-25, in 92 days", second["says"])
	assert.Equal(t, "spirit, 62.0 % vol, to marry, 0 days so far", second["note"])
	assert.Equal(t, "[map[label:1 month value:2026-12-25] map[label:3 months value:2027-02-25] map[label:5 months value:2027-04-25] map[label:7 months value:2027-06-25] map[label:12 months value:2027-11-25]]", fmt.Sprint(p.tanks("")["rests"]))

	p.save("spirit tasted", map[string]any{"vessel": full, "lot": "", "whole": "8", "words": "long, quince peel", "next": "ready"})
	assert.Len(t, p.tanks("")["ready"], 1, "ready is ready: its rest is over")
	assert.Contains(t, fmt.Sprint(p.tanks(full)["vessel"]), "quince peel")
	assert.Contains(t, fmt.Sprint(p.tanks(empty)["vessel"]), "quince peel", "of the same lot")
}

func TestADipOnThePhone(t *testing.T) {
	p, full, _ := tanked(t)
	p.refused("spirit gauged", map[string]any{"vessel": full, "dip": "75cm", "volume_temp": "20C"}, "dip", "has no table")
	p.save("tank calibrated", map[string]any{"vessel": full, "rows": []map[string]any{{"dip": "50cm", "volume": "400L"}, {"dip": "100cm", "volume": "830L"}}})
	result := p.preview("spirit gauged", map[string]any{"vessel": full, "dip": "75cm", "volume_temp": "20C"})
	assert.Equal(t, "381.30", result["figure"], "615 L × 62 %")
	assert.Equal(t, "75 cm, 615.0 L", beside(t, result)["dip"])
	assert.Contains(t, fmt.Sprint(result["steps"]), "on the straight line", "the table's working is shown too")
	assert.Contains(t, fmt.Sprint(p.tanks(full)["vessel"]), "Its table has 2 rows, from 400 L at 50 cm to 830 L at 100 cm.")
}

// A pasted table is taken whole, or not at all.
func TestAPastedTable(t *testing.T) {
	p, _, _ := tanked(t)
	paste := func(text string) map[string]any {
		return p.call("view", map[string]any{"what": "dip rows", "pasted": text})
	}
	for text, rows := range map[string]string{
		"10,60\n50,400\n": "[map[dip:10cm volume:60L] map[dip:50cm volume:400L]]",
		"dip (in);volume (gal)\r\n4;16,5\r\n\r\n20;105,7": "[map[dip:4in volume:16.5gal] map[dip:20in volume:105.7gal]]",
		"\ufeffcm\tL\n0\t0\n12.5\t70":                     "[map[dip:0cm volume:0L] map[dip:12.5cm volume:70L]]",
		"50cm, 400 L\n10 cm, 60L":                         "[map[dip:50cm volume:400L] map[dip:10cm volume:60L]]",
	} {
		out := paste(text)
		assert.Empty(t, out["wrong"], "%q", text)
		assert.Equal(t, rows, fmt.Sprint(out["rows"]), "%q", text)
	}
	for text, want := range map[string]string{
		"10,60\n20\n50,400":     "Line 2: “20” does not have two figures",
		"10,60\n2x,100\n50,400": "Line 2: “2x”",
		"10,60\n20kg,100":       "“kg” is a unit of mass",
		"10,60\n20,50":          "does not lie above",
		"10,60":                 "at least two rows",
		"":                      "at least two rows",
	} {
		out := paste(text)
		assert.Contains(t, fmt.Sprint(out["wrong"]), want, "%q", text)
		assert.Empty(t, out["rows"], "%q: no row of a table with a bad one", text)
		assert.Contains(t, out["says"], "No row was taken")
	}
}
