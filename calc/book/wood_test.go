package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What went into a barrel is what is in it and what it lost, through a filling,
// a sample, regauges, a leak, a top-up and a dump; the next filling begins anew.
func TestABarrelsLevels(t *testing.T) {
	x, barrel, tank := barrelled(t)
	v := func() *Vessel { return x.state().Vessel(barrel) }
	whole := func() {
		t.Helper()
		a, c := v().Aged, v().Content
		assert.Equal(t, c.Alcohol, a.In.Alcohol-a.Lost.Alcohol)
		assert.Equal(t, c.Mass, a.In.Mass-a.Lost.Mass)
	}
	filled := v().Aged.Filling
	x.days(100)
	x.tell("sample taken", `{"vessel":%q,"volume":"200mL","purpose":"tasting"}`, barrel)
	whole()
	assert.Zero(t, v().Aged.Lost, "a sample is no loss of the wood's")
	x.tell("vessel moved", `{"vessel":%q,"row":"C","tier":"2"}`, barrel)
	x.days(100)
	x.tell("spirit gauged", `{"vessel":%q,"gross":"461lb","strength":"119.4proof","cause":"evaporation"}`, barrel)
	whole()
	assert.Positive(t, v().Aged.Lost.Alcohol)
	assert.Equal(t, v().Gauge.Mass, v().Aged.Levels[2].Found.Mass)
	assert.True(t, v().Aged.Levels[2].Weighed)
	x.tell("loss recorded", `{"vessel":%q,"volume":"1gal","volume_temp":"60F","cause":"leak"}`, barrel)
	x.days(10)
	x.tell("spirit gauged", `{"vessel":%q,"gross":"449lb","strength":"119.4proof"}`, barrel) // only compared
	whole()
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"2gal","volume_temp":"60F","purpose":"fill a barrel"}`, tank, barrel)
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"5gal","volume_temp":"60F","purpose":"dump"}`, barrel, tank)
	whole()
	var kinds []LevelKind
	for _, l := range v().Aged.Current() {
		kinds = append(kinds, l.Kind)
	}
	assert.Equal(t, []LevelKind{Filled, Drawn, Regauge, LossTold, Regauge, Topped, Drawn}, kinds)
	assert.Equal(t, filled, v().Aged.Filling)
	assert.True(t, v().Aged.Full())

	x.tell("spirit moved", `{"from":%q,"to":%q,"purpose":"dump"}`, barrel, tank)
	assert.False(t, v().Aged.Full())
	assert.Equal(t, Emptied, v().Aged.Levels[7].Kind)
	x.days(1)
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"50gal","volume_temp":"60F","purpose":"fill a barrel"}`, tank, barrel)
	whole()
	assert.Equal(t, 2, v().Aged.Fills)
	require.Len(t, v().Aged.Current(), 1)
	assert.Zero(t, v().Aged.Lost)
	assert.Empty(t, x.state().Vessel(tank).Aged.Levels, "steel keeps no levels")
}

// A move names a room, or a row and a tier, and what it does not name is gone.
func TestWhereABarrelStands(t *testing.T) {
	x := newTale(t, "us")
	barrel := x.vessel("B1", "barrel", "53gal", `,"cooperage":"charred new","location":"Long store","row":"A","tier":"1","wood":"oak","char":"char 3","fills":"2"`)
	x.tell("vessel moved", `{"vessel":%q,"row":"B","tier":"3"}`, barrel)
	v := x.state().Vessel(barrel)
	assert.Equal(t, []string{"Long store", "B", "3"}, []string{v.Location, v.Row, v.Tier})
	x.tell("vessel moved", `{"vessel":%q,"location":"Yard"}`, barrel)
	v = x.state().Vessel(barrel)
	assert.Equal(t, []string{"Yard", "", ""}, []string{v.Location, v.Row, v.Tier})
	assert.Contains(t, x.refused("vessel moved", `{"vessel":%q}`, barrel), "where it stands now is needed")
	x.tell("vessel recoopered", `{"vessel":%q,"what":"heads shaved","char":"char 4","cooperage":"recharred"}`, barrel)
	assert.Equal(t, "char 4", x.state().Vessel(barrel).Char)
}
