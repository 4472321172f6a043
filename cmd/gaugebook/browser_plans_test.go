package main

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/spirit"
	"gaugebook/cmd/internal/rig"
)

// plans blends two tanks to a strength and reduces the blend in stages, without a
// network: each entry is prepared by the plan and saved by the person, and the
// plan's progress is read from the book.
func plans(t *testing.T, s stage) {
	o, p := s.away(t)
	tab := p.Tab
	register(tab, [3]string{"Tank one", "tank", "200"}, [3]string{"Tank two", "tank", "200"})

	enter(tab, "Spirit store")
	tab.Tap("Receive spirit")
	for vessel, proof := range map[string]string{"Tank one": "140", "Tank two": "80"} {
		tab.Choose("Receive spirit > Into", vessel)
		tab.Choose("Receive spirit > How it came", "bought in")
		tab.Choose("Receive spirit > Class", "brandy")
		tab.Choose("Receive spirit > Entered in", "storage")
		tab.Type("Receive spirit > Volume as read", "50")
		tab.Type("Receive spirit > Temperature of the volume", "60")
		tab.Tap("Receive spirit > Strength by > known strength")
		tab.Type("Receive spirit > True strength", proof)
		tab.Save("Save what came")
	}

	page(tab, "Blend")
	tab.Choose("Part 1 > From", "Tank one")
	tab.Choose("Blend > Into", "Tank two")
	tab.Type("Blend > Strength to reach", "100")
	tab.Until("Take from Tank one")
	// The square of masses: the parts are as the distances of the mass fractions
	// from the one wanted.
	at := func(proof float64) (p, density float64) {
		s, err := spirit.FromProof(proof)
		require.NoError(t, err)
		return float64(s.MassFraction()), float64(s.DensityAt(spirit.At60F))
	}
	p1, d1 := at(140)
	p2, d2 := at(80)
	pt, _ := at(100)
	want := 50 * d2 * (pt - p2) / (p1 - pt) / d1
	got, err := strconv.ParseFloat(rig.Wait[string](tab, "[...document.querySelectorAll('.big-figure')].find(rig.seen).textContent"), 64)
	require.NoError(t, err)
	assert.InDelta(t, want, got, 0.02, "gallons of 140 proof that bring 50 of 80 proof to 100")
	assert.Contains(t, strings.Join(rows(tab, "What it will be made of"), "\n"), "brandy")
	tab.Tap("Keep it as a trial")
	tab.Until("To do, in this order")
	tab.Tap("Put these away") // a what-if that nobody wants
	tab.Tap("Prepare its entry")
	tab.Until("To do, in this order")
	tab.Save("Save the move")
	tab.Until("All of it is done")
	page(tab, "Gauge")
	assert.Contains(t, strings.Join(rows(tab, "What stands"), "\n"), "100.0 proof")

	page(tab, "Reduce")
	tab.Choose("Reduce > Vessel", "Tank two")
	tab.Type("Reduce > Strength to reach", "80")
	tab.Until("Within the label's 80 proof")
	tab.Type("Reduce > Stages", "3")
	tab.Type("Reduce > Days between stages", "2")
	tab.Until("Water for the first stage")
	assert.Len(t, rows(tab, "Stage by stage"), 6, "three stages, each with its day")
	tab.Tap("Keep this plan")
	plan := tab.Save("Save the plan")
	tab.Until("Tank two down to 80 proof: stage 1 of 3")
	for stage := 1; stage <= 3; stage++ {
		here := fmt.Sprintf("Tank two down to 80 proof: stage %d of 3", stage)
		tab.Until(here)
		tab.Tap(here + " > Add ")
		tab.Save(here + " > Save the water")
		tab.Until("Gauge it once it is cool")
		if stage == 3 {
			break
		}
		after := fmt.Sprintf("Tank two down to 80 proof: stage %d of 3", stage+1)
		tab.Tap(after + " > Gauge Tank two once it is cool")
		tab.Type(after+" > Volume as read", fmt.Sprint(75+12*stage))
		tab.Type(after+" > Temperature of the volume", "60")
		tab.Tap(after + " > Strength by > known strength")
		tab.Type(after+" > True strength", fmt.Sprintf("%d", []int{88, 83}[stage-1]))
		tab.Save(after + " > Save the gauge")
	}
	tab.Until("Tank two: reduced to 80 proof")
	for _, name := range []string{"Filter", "Sweeten", "Occupancy", "Blend", "Reduce"} {
		page(tab, name)
		fitsScreens(t, tab, name)
	}
	calm(t, p)

	back(o, tab)
	addresses, records := arrived(t, o)
	require.Len(t, records, 11, "two tanks, two lots, a move, the plan, three waters and two gauges")
	assert.Contains(t, addresses, plan)
}
