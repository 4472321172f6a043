package book

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/quantity"
)

// store is a metric book with tanks of so many litres of so many % vol.
func store(t testing.TB, tanks ...[2]string) (x *tale, at []Address) {
	x = newTale(t, "metric")
	for i, tank := range tanks {
		a := x.vessel(fmt.Sprint("Tank ", i+1), "tank", "2000L", "")
		x.tell("spirit received", `{"vessel":%q,"volume":%q,"volume_temp":"20","strength":%q,"reason":"bought in","class":"brandy","account":"storage"}`, a, tank[0]+"L", tank[1]+"%")
		at = append(at, a)
	}
	return x, at
}

func read(s string) quantity.Reading { return stored(s) }

// Blends and reductions by the mass balance of the bench (densities of OIML R
// 22:1975 at 20 °C, worked out with them; the first pair of water rows is also
// where V₁(q₁/q₂ − 1) would give 75.0 L).
func TestBlendsOfTheBench(t *testing.T) {
	for _, row := range []struct{ v1, q1, v2, q2, volume, strength string }{
		{"100", "70", "100", "40", "199.39", "55.17"},
		{"100", "60", "50", "30", "149.51", "50.16"},
		{"80", "65", "120", "43", "199.68", "51.88"},
	} {
		x, at := store(t, [2]string{row.v1, row.q1}, [2]string{row.v2, row.q2})
		into := x.vessel("Blend", "tank", "500L", "")
		b, faults := x.state().Blend(BlendPlan{Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1]}}, Into: into}, moment(x.minute))
		require.Empty(t, faults)
		assert.Equal(t, row.volume, quantity.Fixed(b.Content.Litres20(), 2), "%v", row)
		assert.InDelta(t, read(row.strength+"%").Float(), b.Content.ABV(), 0.006, "%v", row)
		assert.Len(t, b.Shares, 2)
	}
	for _, row := range []struct{ v, q, to, water, volume string }{
		{"100", "70", "40", "77.49", "175.00"}, {"100", "60", "40", "51.39", "150.00"}, {"100", "65", "43", "52.89", "151.16"}, {"50", "72", "45", "31.19", "80.00"},
		{"100", "95", "40", "144.28", "237.50"}, {"100", "63.5", "46", "39.40", "138.04"}, {"100", "40", "37.5", "6.75", "106.67"},
	} {
		x, at := store(t, [2]string{row.v, row.q})
		b, faults := x.state().Blend(BlendPlan{Parts: []BlendPart{{Vessel: at[0], Volume: read(row.v + "L")}}, Into: at[0], Strength: read(row.to + "%")}, moment(x.minute))
		require.Empty(t, faults)
		assert.InDelta(t, read(row.water+"L").Float(), b.Water.Kilograms()/0.99820, 0.011, "water at 20 °C, %v", row) // 998.20 kg/m³, OIML R 22
		assert.InDelta(t, read(row.volume+"L").Float(), b.Content.Litres20(), 0.011, "%v", row)
		assert.True(t, b.Solved)
	}
}

// The rule of Table 6 (27 CFR 30.66) for the same question: 112 proof to 100 takes
// 12.42 gal of water to 100, printed factors; by mass it is within 0.02.
func TestReductionByTable6(t *testing.T) {
	x := newTale(t, "us")
	tank := x.vessel("T1", "tank", "300gal", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"100gal","volume_temp":"60F","strength":"112proof","reason":"bought in","class":"brandy","account":"storage"}`, tank)
	b, faults := x.state().Blend(BlendPlan{Parts: []BlendPart{{Vessel: tank}}, Into: tank, Strength: read("100proof")}, moment(x.minute))
	require.Empty(t, faults)
	assert.InDelta(t, 12.42, b.Water.Kilograms()/3.785411784/0.99904, 0.02) // water at 60 °F, 999.04 kg/m³
	assert.InDelta(t, 112, b.Content.Litres60()/3.785411784, 0.01, "proof gallons stay: 112 gal of 100 proof")
}

// Property: what a target asks of one part is what, put in, reaches it; water the
// same; and both targets at once.
func TestSolvingForOneIsTheInverseOfMixing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tenths := func(low, high int, what string) string {
			return fmt.Sprintf("%d.%d", rapid.IntRange(low, high).Draw(rt, what), rapid.IntRange(0, 9).Draw(rt, what+" tenths"))
		}
		v1, q1, v2, q2 := tenths(20, 900, "litres"), tenths(40, 94, "strong"), tenths(20, 900, "other litres"), tenths(5, 38, "weak")
		x, at := store(t, [2]string{v1, q1}, [2]string{v2, q2})
		s, now := x.state(), moment(x.minute)
		take := rapid.IntRange(1, 19).Draw(rt, "litres taken")
		plan := BlendPlan{Parts: []BlendPart{{Vessel: at[0], Volume: read(fmt.Sprint(take) + "L")}, {Vessel: at[1]}}}
		forward, faults := s.Blend(plan, now)
		require.Empty(rt, faults)
		strength := quantity.FromDecimal(quantity.Snap(forward.Content.ABV()), quantity.ABV20)
		volume := quantity.FromDecimal(quantity.Snap(forward.Content.Litres20()), quantity.Litre)
		whole := read(v2 + "L")
		for what, back := range map[string]BlendPlan{
			"to a strength": {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1], Volume: whole}}, Strength: strength},
			"to a volume":   {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1], Volume: whole}}, Volume: volume},
		} {
			b, faults := s.Blend(back, now)
			require.Empty(rt, faults, what)
			require.InDelta(rt, float64(forward.Taken[0].Mass), float64(b.Taken[0].Mass), 50e3, "%s: %d L of %s %% vol in %s L of %s, to 50 g", what, take, q1, v2, q2)
		}
		weaker := quantity.FromDecimal(quantity.Snap(forward.Content.ABV()*0.8), quantity.ABV20)
		more := quantity.FromDecimal(quantity.Snap(forward.Content.Litres20()*1.05), quantity.Litre)
		wet, faults := s.Blend(BlendPlan{Parts: []BlendPart{{Vessel: at[0], Volume: plan.Parts[0].Volume}, {Vessel: at[1], Volume: whole}}, Strength: weaker}, now)
		require.Empty(rt, faults)
		require.InDelta(rt, weaker.Float(), wet.Content.ABV(), 1e-4, "with water")
		both, faults := s.Blend(BlendPlan{Parts: []BlendPart{{Vessel: at[0]}}, Strength: read("30%"), Volume: more}, now)
		if len(faults) == 0 {
			require.InDelta(rt, 30, both.Content.ABV(), 1e-3)
			require.InDelta(rt, more.Float(), both.Content.Litres20(), 1e-3)
		} else {
			require.Greater(rt, more.Float()*30, read(v1+"L").Float()*read(q1+"%").Float()*0.999, "refused only where the tank has not the alcohol: %v", faults)
		}
	})
}

// Property: a blend that is planned is what the entries leave: the same masses,
// alcohol and lots, whatever is in the store.
func TestAPlannedBlendIsWhatTheEntriesLeave(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var tanks [][2]string
		for range rapid.IntRange(2, 5).Draw(rt, "tanks") {
			tanks = append(tanks, [2]string{fmt.Sprint(rapid.IntRange(10, 300).Draw(rt, "litres")), fmt.Sprint(rapid.IntRange(20, 90).Draw(rt, "strength"))})
		}
		x, at := store(t, tanks...)
		x.days(rapid.IntRange(0, 400).Draw(rt, "days"))
		plan := BlendPlan{Into: at[0]}
		for i, a := range at[1:] {
			part := BlendPart{Vessel: a}
			switch rapid.IntRange(0, 2).Draw(rt, "how much") {
			case 0:
				part.Volume = read(fmt.Sprint(rapid.IntRange(1, int(read(tanks[i+1][0]+"L").Float())).Draw(rt, "taken")) + "L")
			case 1:
				part.Net = read(fmt.Sprint(rapid.IntRange(1, 8).Draw(rt, "weighed")) + "kg")
			}
			plan.Parts = append(plan.Parts, part)
		}
		if rapid.Bool().Draw(rt, "with water") {
			plan.Water = read("7.5L")
		}
		b, faults := x.state().Blend(plan, moment(x.minute))
		require.Empty(rt, faults)
		sum, whole := 0.0, int64(0)
		for _, share := range b.Shares {
			sum += share.Share
		}
		for _, p := range b.Content.Parts {
			whole += p.Amount
		}
		require.InDelta(rt, 1, sum, 1e-9, "shares sum to one")
		require.Equal(rt, int64(b.Content.Alcohol), whole)
		for _, p := range plan.Parts {
			body := fmt.Sprintf(`{"from":%q,"to":%q,"purpose":"blend"`, p.Vessel, at[0])
			if !p.Volume.IsNone() {
				body += fmt.Sprintf(`,"volume":%q,"volume_temp":"20C"`, p.Volume.Compact())
			}
			if !p.Net.IsNone() {
				body += fmt.Sprintf(`,"net":%q`, p.Net.Compact())
			}
			x.tell("spirit moved", "%s}", body)
		}
		if !plan.Water.IsNone() {
			x.tell("water added", `{"vessel":%q,"water":"7.5L"}`, at[0])
		}
		c := &x.state().Vessel(at[0]).Content
		require.Equal(rt, b.Content.Mass, c.Mass)
		require.Equal(rt, b.Content.Alcohol, c.Alcohol)
		require.Equal(rt, b.Content.Parts, c.Parts)
		require.Equal(rt, b.Shares, x.state().Composition(at[0]))
		requireSound(rt, x.state())
	})
}

func TestBlendsThatCannotBe(t *testing.T) {
	x, at := store(t, [2]string{"100", "70"}, [2]string{"100", "40"}, [2]string{"10", "90"})
	mash := x.vessel("Fermenter", "fermenter", "100L", "")
	for want, plan := range map[string]BlendPlan{
		"does not lie between":          {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1], Volume: read("10L")}}, Strength: read("39%")},
		"brings the blend only to 44.7": {Parts: []BlendPart{{Vessel: at[2]}, {Vessel: at[1], Volume: read("100L")}}, Strength: read("50%")},
		"second amount left empty":      {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1]}}, Strength: read("50%")},
		"water only lowers it":          {Parts: []BlendPart{{Vessel: at[1], Volume: read("10L")}}, Strength: read("50%")},
		"leaves nothing open":           {Parts: []BlendPart{{Vessel: at[0], Volume: read("10L")}}, Strength: read("50%"), Volume: read("20L")},
		"more than all of it gives":     {Parts: []BlendPart{{Vessel: at[0]}}, Volume: read("200L")},
		"is less than the other parts":  {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1], Volume: read("50L")}}, Volume: read("40L")},
		"is less than the parts give":   {Parts: []BlendPart{{Vessel: at[0], Volume: read("50L")}}, Volume: read("40L")},
		"with water":                    {Parts: []BlendPart{{Vessel: at[0]}}, Strength: read("40%"), Volume: read("200L")},
		"not reached together":          {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[1], Volume: read("100L")}}, Strength: read("60%"), Volume: read("110L")},
		"one amount too many":           {Parts: []BlendPart{{Vessel: at[0]}}, Strength: read("40%"), Volume: read("100L"), Water: read("1L")},
		"nothing else is in the blend":  {Parts: []BlendPart{{Vessel: at[0]}}, Strength: read("50%")},
		"stands here twice":             {Parts: []BlendPart{{Vessel: at[0]}, {Vessel: at[0]}}},
		"stands beside a volume":        {Parts: []BlendPart{{Vessel: at[0], Volume: read("1L"), Net: read("1kg")}}},
		"more than the 70.00 L pure":    {Parts: []BlendPart{{Vessel: at[0], Volume: read("150L")}}},
		"holds no spirit":               {Parts: []BlendPart{{Vessel: mash}}},
		"is not a vessel":               {Parts: []BlendPart{{Vessel: at[0]}}, Into: "heron41-999"},
	} {
		_, faults := x.state().Blend(plan, moment(x.minute))
		require.NotEmpty(t, faults, want)
		assert.Contains(t, faults.Error(), want)
	}
	x.quiet()
}

// The age of a blend is that of its youngest spirit, to the day the entries are
// written.
func TestABlendIsAsOldAsItsYoungest(t *testing.T) {
	x, barrel, tank := barrelled(t)
	x.days(800)
	into := x.vessel("T2", "tank", "300gal", "")
	old, faults := x.state().Blend(BlendPlan{Parts: []BlendPart{{Vessel: barrel}}, Into: into}, moment(x.minute))
	require.Empty(t, faults)
	assert.True(t, old.Aged)
	assert.Equal(t, 800, old.Age.Days)
	young, faults := x.state().Blend(BlendPlan{Parts: []BlendPart{{Vessel: barrel}, {Vessel: tank, Volume: read("1gal")}}, Into: into}, moment(x.minute))
	require.Empty(t, faults)
	assert.Zero(t, young.Age.Days)
}
