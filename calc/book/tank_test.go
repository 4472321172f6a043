package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/quantity"
)

const strapping = `{"vessel":%q,"rows":[{"dip":"10cm","volume":"60L"},{"dip":"50cm","volume":"400L"},{"dip":"100cm","volume":"830L"}]}`

// The row of gaugebook calc tank: 75 cm between 400 L at 50 cm and 830 L at
// 100 cm is 615 L.
func TestADipIsReadByTheTanksTable(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "tank", "1000L", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"615L","volume_temp":"20C","strength":"62%%","reason":"in bond","class":"brandy","account":"storage"}`, tank)
	assert.Contains(t, x.refused("spirit gauged", `{"vessel":%q,"dip":"75cm","volume_temp":"20C"}`, tank), "has no table")
	x.tell("tank calibrated", strapping, tank)
	assert.Contains(t, x.refused("spirit gauged", `{"vessel":%q,"dip":"105cm","volume_temp":"20C"}`, tank), "above 100.0 cm")
	assert.Contains(t, x.refused("spirit gauged", `{"vessel":%q,"dip":"75cm","volume":"600L","volume_temp":"20C"}`, tank), "stands beside a volume")
	assert.Contains(t, x.refused("spirit gauged", `{"vessel":%q,"dip":"75cm"}`, tank), "needs the temperature")
	x.tell("spirit gauged", `{"vessel":%q,"dip":"75cm","volume_temp":"20C"}`, tank)
	g := x.state().Vessel(tank).Gauge
	assert.InDelta(t, 615, g.Figures.Volume20C.Value, 0.001)
	x.quiet()
	x.tell("spirit gauged", `{"vessel":%q,"dip":"19.685in","volume_temp":"20C"}`, tank)
	assert.InDelta(t, 400, x.state().Vessel(tank).Gauge.Figures.Volume20C.Value, 0.05, "50 cm in inches")

	x.tell("tank calibrated", `{"vessel":%q,"rows":[{"dip":"0cm","volume":"0L"},{"dip":"100cm","volume":"900L"}]}`, tank)
	x.tell("spirit gauged", `{"vessel":%q,"dip":"50cm","volume_temp":"20C"}`, tank)
	assert.InDelta(t, 450, x.state().Vessel(tank).Gauge.Figures.Volume20C.Value, 0.001, "the later table")
	gauges := x.state().Gauges()
	assert.InDelta(t, 400, gauges[len(gauges)-2].Figures.Volume20C.Value, 0.05, "what was gauged before keeps its table")
}

func TestATableIsHeldToItsTank(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "tank", "800L", "")
	assert.Contains(t, x.refused("tank calibrated", strapping, tank), "more than T1 takes")
	assert.Contains(t, x.refused("tank calibrated", `{"vessel":%q,"rows":[{"dip":"10cm","volume":"60L"}]}`, tank), "at least two rows")
	assert.Contains(t, x.refused("tank calibrated", `{"vessel":%q,"rows":[{"dip":"10cm","volume":"60L"},{"dip":"20cm","volume":"50L"}]}`, tank), "does not lie above")
}

// Nothing is made or lost on the way but what is said to be: what left is what
// came and what is booked as lost.
func TestAMoveWithItsLoss(t *testing.T) {
	x := newTale(t, "metric")
	from, to := x.vessel("T1", "tank", "1000L", ""), x.vessel("T2", "tank", "1000L", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"500L","volume_temp":"20C","strength":"60%%","reason":"in bond","class":"brandy","account":"storage"}`, from)
	before := x.state().Vessel(from).Content
	assert.Contains(t, x.refused("spirit moved", `{"from":%q,"to":%q,"volume":"100L","volume_temp":"20C","lost":"101L"}`, from, to), "more than was moved")
	assert.Contains(t, x.refused("spirit moved", `{"from":%q,"to":%q,"lost_as":"spill"}`, from, to), "how much was lost")
	assert.Contains(t, x.refused("spirit moved", `{"from":%q,"to":%q,"lost":"600L"}`, from, to), "more than T1 holds")
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"200L","volume_temp":"20C","lost":"2L","lost_as":"spill"}`, from, to)
	x.quiet()
	a, b := x.state().Vessel(from).Content, x.state().Vessel(to).Content
	var lost Alcohol
	for _, p := range x.state().Postings() {
		if p.To == Lost {
			lost += p.Amount
			assert.Equal(t, Cause("spill"), p.Cause)
		}
	}
	assert.Equal(t, before.Alcohol, a.Alcohol+b.Alcohol+lost)
	assert.InDelta(t, 1.2, lost.LitresPureAlcohol(), 0.001, "2 L of 60 %")
	assert.InDelta(t, 198, b.Litres20(), 0.05)
	var parts int64
	for _, p := range b.Parts {
		parts += p.Amount
	}
	require.Equal(t, int64(b.Alcohol), parts)
	assert.InDelta(t, 60, b.Strength().ABV20(), 0.001, "what is lost is as strong as what is left")

	x.tell("spirit moved", `{"from":%q,"to":%q,"lost":"1%s"}`, from, to, quantity.Litre.Symbol())
	assert.True(t, x.state().Vessel(from).Content.Empty(), "all of it")
	assert.InDelta(t, 497, x.state().Vessel(to).Content.Litres20(), 0.05)
}
