package main

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// partyRun is a run of another phone on 120 L of 40 % vol: 13 cases of 12
// bottles were packed and the glass says so, and one case was never counted.
func partyRun(t *testing.T, h *handset, when time.Time) (lines [][]byte, run string) {
	t.Helper()
	add := func(kind string, body map[string]any) string {
		address, line := h.tell(t, when, kind, body)
		lines = append(lines, line)
		return address
	}
	tank := add("vessel registered", map[string]any{"name": "Bottling tank", "use": "bottling tank", "capacity": "60gal", "half_width": "0.1gal"})
	product := add("product registered", map[string]any{"name": "Quince brandy", "class": "brandy", "strength": "80proof", "bottle": "750mL", "per_case": "12", "approval": "HA-100"})
	add("spirit received", map[string]any{"vessel": tank, "volume": "32.0gal", "volume_temp": "60F", "strength": "80proof", "reason": "on hand at opening", "class": "brandy", "account": "processing"})
	run = add("bottling opened", map[string]any{"product": product, "tank": tank, "volume": "32.0gal", "volume_temp": "60F", "strength": "80proof", "lot_code": "26K25"})
	for _, g := range []struct{ name, kind, per, drawn string }{{"Tall clear", "bottle", "100", "200"}, {"Cork", "closure", "100", "200"}} {
		good := add("goods registered", map[string]any{"name": g.name, "type": g.kind, "counted_in": "pieces", "per_roll": g.per})
		lot := add("goods received", map[string]any{"good": good, "pieces": g.drawn})
		add("goods issued", map[string]any{"lot": lot, "pieces": g.drawn, "bottling": run})
	}
	for range 12 {
		add("bottles counted", map[string]any{"bottling": run, "station": "case", "cases": "1"})
	}
	return lines, run
}

// closing closes a run without a network: what came back is typed in place, the
// heel is measured, the missing case is the first cause, and once it is accepted
// the reason stands in the closing and on the run sheet.
func closing(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	h := joinWith(t, o.Wire.URL, o.Invite())
	lines, run := partyRun(t, h, time.Now().Add(-time.Hour))
	_, err := h.push(o.Wire.URL, lines)
	require.NoError(t, err)
	tab := p.Tab
	visit(tab, o)
	keptOffline(tab)
	rig.Wait[bool](tab, fmt.Sprintf("(async () => await rig.held() >= %d)()", len(lines)))
	o.Wire.Cut()
	tab.Offline(true)
	visit(tab, o)
	enter(tab, "Bottling floor")
	page(tab, "Close")
	tab.Until("The heel was not measured yet")

	// 156 bottles took glass and corks: 44 of 200 come back.
	first := "[...document.querySelectorAll('.causes li')].map((one) => rig.words(one))[0] ?? ''"
	for _, good := range []string{"Tall clear", "Cork"} {
		tab.Type(good+" > Came back", "44")
	}
	tab.Tap("Save what came back")
	rig.Wait[bool](tab, "("+first+").startsWith('One case of 12 less counted than packed.')")
	tab.Tap("The heel, and close for good > Amount by > volume")
	tab.Type("The heel, and close for good > Volume as read", "0.9")
	tab.Type("The heel, and close for good > Temperature of the volume", "60")
	rig.Wait[bool](tab, "[...document.querySelectorAll('.big-label')].some((one) => one.textContent === 'In no bottle') && ("+first+").startsWith('One case of 12 less counted than packed.')")
	tab.Until("Recount the pallets, and the case cartons.")

	fitsScreens(t, tab, "the close")

	rig.Eval[bool](tab, "([...document.querySelectorAll('.causes button')].find((one) => one.textContent === 'Accept it as the reason').click(), true)")
	rig.Wait[bool](tab, "rig.find('The heel, and close for good > Note').value === 'One case of 12 less counted than packed.'")
	closed := tab.Save("The heel, and close for good > button: Close the bottling")
	tab.Until("Closed with: unexplained, One case of 12 less counted than packed.")
	page(tab, "Sheet")
	tab.Until("Accepted because")
	tab.Until("HA-100")
	page(tab, "Labels")
	rig.Wait[bool](tab, "document.querySelectorAll('.case-labels li').length === 12 && document.querySelectorAll('.case-labels svg').length === 12")
	page(tab, "Cans")
	tab.Until("Customary carbonation")
	assert.Empty(t, rig.Eval[[]string](tab, tooSmall))
	assert.Empty(t, unnamed(t, tab))
	onlyHere(t, tab, 3)
	calm(t, p)

	back(o, tab)
	_, records := arrived(t, o)
	last := records[len(records)-1]
	assert.Equal(t, closed, last.Address())
	for _, want := range []string{`"bottling":"` + run + `"`, `"cause":"unexplained"`, `"note":"One case of 12 less counted than packed."`} {
		assert.Contains(t, string(last.Body), want)
	}
}
