package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAStagedReductionIsFollowedInTheEntries(t *testing.T) {
	x, at := store(t, [2]string{"100", "70"})
	tank := at[0]
	assert.Contains(t, x.refused("reduction planned", `{"vessel":%q,"stages":[{"strength":"72%%"}]}`, tank), "is not below the 70.0 % vol of Tank 1")
	assert.Contains(t, x.refused("reduction planned", `{"vessel":%q,"stages":[{"strength":"45%%"},{"strength":"50%%"}]}`, tank), "is not below the stage before it")
	plan := x.tell("reduction planned", `{"vessel":%q,"stages":[{"strength":"55%%"},{"strength":"45%%"},{"strength":"40%%"}],"days":"2"}`, tank)
	r := func() *Reducing { return &x.state().Vessel(tank).Reducing }
	require.Equal(t, plan, r().Entry)
	assert.Equal(t, "55 % vol", r().Next().String())
	due := func() string {
		on, ok := r().Due()
		if !ok {
			return "nothing"
		}
		return string(on)
	}
	began := moment(x.minute)
	assert.Equal(t, began.Day(), due(), "the first stage is due when it was planned")

	x.tell("water added", `{"vessel":%q,"water":"28.5L"}`, tank)
	require.Len(t, r().Done, 1)
	assert.Equal(t, 1, r().Reached(), "by the book at %.2f", r().Done[0].Left)
	assert.True(t, r().Wants())
	x.days(2)
	assert.Equal(t, moment(x.minute).Day(), due(), "two days between stages")
	gauge := x.tell("spirit gauged", `{"vessel":%q,"volume":"127.4L","volume_temp":"20C","strength":"54.9%%"}`, tank)
	assert.Equal(t, gauge, r().Done[0].Gauge)
	assert.InDelta(t, 54.9, r().Done[0].Strength(), 0.01)
	assert.InDelta(t, 54.9, x.state().Vessel(tank).Standing().ABV(), 0.01, "the gauge is the best that is known")
	assert.InDelta(t, 127.4, x.state().Vessel(tank).Standing().Litres20(), 0.01)

	// One addition that goes past a stage leaves it behind; what it leaves is
	// known by the gauge before it and its water, not by the book's older figures.
	gauged, booked := *x.state().Vessel(tank).Standing(), x.state().Vessel(tank).Content
	x.tell("water added", `{"vessel":%q,"water":"48L"}`, tank)
	stands := x.state().Vessel(tank).Standing()
	assert.Equal(t, gauged.Alcohol, stands.Alcohol)
	assert.NotEqual(t, booked.Alcohol, stands.Alcohol)
	assert.InDelta(t, 47.91, (stands.Mass - gauged.Mass).Kilograms(), 0.02)
	assert.InDelta(t, stands.ABV(), r().Done[1].Left, 1e-9)
	assert.Equal(t, 3, r().Reached(), "at %.2f", r().Done[1].Left)
	assert.True(t, r().Next().IsNone())
	kept := x.book.State()
	x.tell("water added", `{"vessel":%q,"water":"1L"}`, tank)
	require.NotNil(t, kept)
	assert.Len(t, r().Done, 3)
	assert.NotEqual(t, "nothing", due(), "the last gauge is still wanted")
	x.tell("spirit gauged", `{"vessel":%q,"volume":"175L","volume_temp":"20C","strength":"39.8%%"}`, tank)
	assert.Equal(t, "nothing", due())

	other := x.vessel("Tank 9", "tank", "2000L", "")
	x.tell("spirit moved", `{"from":%q,"to":%q}`, tank, other)
	assert.Empty(t, r().Entry, "an empty vessel has no plan")
	requireSound(t, x.state())
}

// A correction that arrives late folds the plan anew, whatever the marks shared.
func TestALateWaterIsAStageToo(t *testing.T) {
	x, at := store(t, [2]string{"100", "70"})
	x.tell("reduction planned", `{"vessel":%q,"stages":[{"strength":"55%%"},{"strength":"45%%"}]}`, at[0])
	water := x.tell("water added", `{"vessel":%q,"water":"28.5L"}`, at[0])
	x.tell("entry voided", `{"entry":%q,"why":"it was not done"}`, water)
	assert.Empty(t, x.state().Vessel(at[0]).Reducing.Done)
	assert.Equal(t, 0, x.state().Vessel(at[0]).Reducing.Reached())
}

func TestADeliveryThatCameIsNoLongerExpected(t *testing.T) {
	x := newTale(t, "metric")
	expected := x.tell("delivery expected", `{"material":"fruit","variety":"Quince","weight":"900kg","day":"2026-12-01"}`)
	assert.Equal(t, "Quince, 900 kg, 2026-12-01", x.state().Registered(AnExpected, expected).Name)
	assert.Contains(t, x.refused("delivery received", `{"material":"fruit","variety":"Quince","net":"890kg","expected":"heron41-77"}`), "is nothing this book expects")
	x.tell("delivery received", `{"material":"fruit","variety":"Quince","net":"500kg","expected":%q}`, expected)
	assert.True(t, x.state().Registered(AnExpected, expected).Retired)
	x.tell("delivery received", `{"material":"fruit","variety":"Quince","net":"390kg","expected":%q}`, expected) // in two loads
	x.quiet()
}
