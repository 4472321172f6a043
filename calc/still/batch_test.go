package still

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// The reference results of the shared note 3.2 for a bare pot charged with
// 1000 L, worked out there with NRTL; van Laar gives 0.4 to 0.5 % vol more.
func TestRayleighReference(t *testing.T) {
	for _, c := range []struct{ charge, stop, litres, abv, recovery float64 }{
		{5, 0.1, 349, 14.1, 98.7}, {8, 0.1, 400, 19.9, 99.25}, {8, 0.5, 297, 25.7, 95.6},
		{8, 1.0, 245, 29.5, 90.6}, {10, 0.1, 427, 23.3, 99.4}, {10, 0.5, 329, 29.3, 96.7},
	} {
		name := fmt.Sprintf("%v %% vol to %v", c.charge, c.stop)
		run := Run{Charge: must(ChargeOf(litres("1000"), quantity.FromDecimal(quantity.Snap(c.charge), quantity.ABV20))), Pressure: StandardAtmosphere, End: End{Still: strong(c.stop)}}
		end := must(Distil(run))
		assert.InDelta(t, c.litres, end.Last().Drawn.Volume(), 0.6, "%s, L", name)
		assert.InDelta(t, c.abv, end.Last().Drawn.Strength().ABV20(), 0.06, "%s, %% vol", name)
		assert.InDelta(t, c.recovery, 100*end.Recovery(), 0.06, "%s, %%", name)
		run.Model = VanLaar
		other := must(Distil(run))
		assert.InDelta(t, 0.45, other.Last().Drawn.Strength().ABV20()-end.Last().Drawn.Strength().ABV20(), 0.1, "%s: van Laar over NRTL (shared note)", name)
		assert.InDelta(t, c.litres, other.Last().Drawn.Volume(), 20, "%s: the tolerance between models, L", name)
	}
}

// Rayleigh's equation in its closed form, ln(W0/W) = ∫ dx/(y − x), by Simpson's
// rule: an independent way to the same end.
func TestRayleighIntegral(t *testing.T) {
	e := must(NewEquilibrium(NRTL, StandardAtmosphere))
	for _, way := range []Way{{}, {0.4, TotalReflux()}, {2.4, 1.5}} {
		charge := must(ChargeOf(litres("300"), percent("25")))
		c := must(Distil(Run{Charge: charge, Way: way, Pressure: StandardAtmosphere, End: End{Still: strong(2)}}))
		first, last := molesOf(c.Points[0].Left), molesOf(c.Last().Left)
		const n = 4000
		a, b := last.fraction(), first.fraction()
		f := func(x float64) float64 { return 1 / (e.distillate(x, way) - x) }
		sum := f(a) + f(b)
		for i := 1; i < n; i++ {
			sum += f(a+(b-a)*float64(i)/n) * float64(2+2*(i%2))
		}
		assert.InDelta(t, sum*(b-a)/n/3, math.Log((first.ethanol+first.water)/(last.ethanol+last.water)), 1e-5, "%v", way)
	}
}

func drawRun(t *rapid.T) (Run, Curve, bool) {
	abv := rapid.Float64Range(0.5, 90).Draw(t, "abv")
	way := Way{Plates: rapid.Float64Range(0, 6).Draw(t, "plates"), Reflux: rapid.SampledFrom([]float64{0, 0.3, 1, 2.5, 8, math.Inf(1)}).Draw(t, "reflux")}
	charge := must(ChargeOf(
		quantity.FromDecimal(quantity.Snap(rapid.Float64Range(1, 20000).Draw(t, "litres")).Round(2), quantity.Litre),
		quantity.FromDecimal(quantity.Snap(abv).Round(2), quantity.ABV20)))
	r := Run{Charge: charge, Way: way, Pressure: Pressure(rapid.Float64Range(700, 1050).Draw(t, "hPa")), Model: rapid.SampledFrom(models()).Draw(t, "model"), Heat: 15}
	if rapid.Bool().Draw(t, "by spirit") {
		r.End.Spirit = strong(rapid.Float64Range(1, 90).Draw(t, "end"))
	} else {
		r.End.Still = strong(rapid.Float64Range(0.05, 20).Draw(t, "end_still"))
	}
	c, err := Distil(r)
	return r, c, err == nil
}

// What is drawn and what is left are the charge, at every point of every run;
// the spirit only weakens, the pot only warms, and the end is met, unless the
// pot is empty of alcohol before.
func TestEveryRunBalances(t *testing.T) {
	drawn, runs := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		drawn++
		r, c, ok := drawRun(t)
		if !ok {
			return
		}
		runs++
		charge := r.Charge.liquid()
		before := c.Points[0]
		for _, p := range c.Points {
			together := p.Drawn.Plus(p.Left)
			if math.Abs(together.Ethanol-charge.Ethanol) > 1e-12*charge.Ethanol || math.Abs(together.Water-charge.Water) > 1e-12*charge.Water {
				t.Fatalf("drawn and left are %v, the charge %v", together, charge)
			}
			if p.Left.Ethanol < 0 || p.Left.Water < 0 || p.Drawn.Ethanol < 0 || p.Drawn.Water < 0 {
				t.Fatalf("below nothing: %+v", p)
			}
			if p.Spirit.MassFraction() > before.Spirit.MassFraction()+1e-9 || p.Left.Strength().MassFraction() > before.Left.Strength().MassFraction()+1e-9 ||
				p.Pot < before.Pot-1e-6 || p.Minutes < before.Minutes {
				t.Fatalf("the run turned back: %+v after %+v", p, before)
			}
			before = p
		}
		short := math.Min(float64(c.Last().Spirit.MassFraction()-r.End.Spirit.MassFraction()), float64(c.Last().Left.Strength().MassFraction()-r.End.Still.MassFraction()))
		exhausted := c.Last().Left.Ethanol <= 1e-7*charge.Ethanol
		if math.Abs(short) > 1e-7 && !exhausted {
			t.Fatalf("the end was missed by %v", short)
		}
	})
	assert.Greater(t, runs, drawn/2, "most drawn runs must be runs, or nothing is held")
}

// More plates and more reflux make the first spirit stronger, up to total reflux.
func TestPlatesAndReflux(t *testing.T) {
	e := must(NewEquilibrium(NRTL, StandardAtmosphere))
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0.001, 0.85).Draw(t, "x")
		plates := rapid.Float64Range(0, 12).Draw(t, "plates")
		reflux := rapid.Float64Range(0, 20).Draw(t, "reflux")
		more := rapid.Float64Range(0, 3).Draw(t, "more")
		d := e.distillate(x, Way{plates, reflux})
		const slack = 2e-6 // the grid's
		for _, higher := range []Way{{plates + more, reflux}, {plates, reflux + more}, {plates, TotalReflux()}} {
			if y := e.distillate(x, higher); y < d-slack {
				t.Fatalf("%v gives %v, less than %v of %v plates and reflux %v", higher, y, d, plates, reflux)
			}
		}
		if y := e.vapour(x); d < y-slack || d > azeotrope {
			t.Fatalf("%v lies outside %v, the bare pot, and the azeotrope", d, y)
		}
		if d0 := e.distillate(x, Way{plates, 0}); d0 != e.vapour(x) {
			t.Fatalf("plates without reflux made %v of %v", d0, e.vapour(x))
		}
	})
}

// A column stepped off by hand from the distillate down: the constant molar
// overflow balance around the head must land on the pot.
func TestColumnLandsOnPot(t *testing.T) {
	e := must(NewEquilibrium(NRTL, StandardAtmosphere))
	for _, plates := range []int{1, 2, 3, 5} {
		for _, reflux := range []float64{0.5, 1, 2, 5} {
			for _, x := range []float64{0.005, 0.03, 0.1, 0.3} {
				d := e.distillate(x, Way{float64(plates), reflux})
				y := d
				for range plates {
					liquid := e.liquid(y)
					y = (reflux*liquid + d) / (reflux + 1)
				}
				assert.InDelta(t, x, e.liquid(y), 3e-6, "%d plates, reflux %v, pot %v", plates, reflux, x)
			}
		}
	}
	// At total reflux a plate is one more equilibrium (Fenske).
	x := 0.02
	assert.InDelta(t, e.vapour(e.vapour(e.vapour(x))), e.distillate(x, Way{2, TotalReflux()}), 1e-12)
	assert.InDelta(t, e.distillate(x, Way{2, TotalReflux()}), e.distillate(x, Way{2, 1000}), 5e-4, "a large reflux nears it")
	assert.InDelta(t, e.distillate(x, Way{2, 2}), e.distillate(x, Way{2 - 1e-9, 2}), 1e-6, "parts of plates meet whole ones")
}

func TestTimeOfBoiling(t *testing.T) {
	run := Run{Charge: must(ChargeOf(litres("100"), percent("30"))), Pressure: StandardAtmosphere, Heat: 10, End: End{Still: strong(1)}}
	c := must(Distil(run))
	want := float64(Evaporation(c.Last().Drawn)) * 1000 / 10 / 60
	assert.InEpsilon(t, want, c.Last().Minutes, 1e-9, "a bare pot boils once what it gives")
	run.Way = Way{2, 1}
	c = must(Distil(run))
	assert.InEpsilon(t, 2*float64(Evaporation(c.Last().Drawn))*1000/10/60, c.Last().Minutes, 1e-9, "as much again for what flows back")
	run.Heat = 0
	assert.Zero(t, must(Distil(run)).Last().Minutes)
}

func TestChargeOf(t *testing.T) {
	c := must(ChargeOf(litres("1000±2"), percent("8±0.1")))
	assert.InDelta(t, 80, c.PureAlcohol.Value, 1e-6)
	assert.InDelta(t, 948.05, must(ChargeOf(litres("1000"), percent("40"))).Mass.Value, 0.02, "kg/m3 of 40 %% vol (check case 35, OIML R 22)")
	assert.True(t, c.PureAlcohol.HasU)
	us := must(ChargeOf(quantity.MustParse("100", quantity.Gallon), proof("50")))
	assert.InDelta(t, 25*3.785411784*1.0048, us.PureAlcohol.Value, 0.02, "25 gal of alcohol at 60 °F, warmed to 20 °C")
	assert.InDelta(t, us.PureAlcohol.Value, us.liquid().PureAlcohol(), 1e-9)
}

func TestDistilRefuses(t *testing.T) {
	good := Run{Charge: must(ChargeOf(litres("300"), percent("25"))), Pressure: StandardAtmosphere, End: End{Spirit: strong(50)}}
	for name, c := range map[string]struct {
		change func(*Run)
		code   fault.Code
		field  string
	}{
		"no end":              {func(r *Run) { r.End = End{} }, fault.Missing, "end"},
		"an end of water":     {func(r *Run) { r.End = End{Still: strong(0.005)} }, fault.TooLow, "end_still"},
		"over at once":        {func(r *Run) { r.End.Spirit = strong(90) }, fault.Conflict, "end"},
		"stronger than all":   {func(r *Run) { r.End = End{Still: strong(30)} }, fault.Conflict, "end_still"},
		"plates below none":   {func(r *Run) { r.Way.Plates = -1 }, fault.TooLow, "plates"},
		"plates beyond count": {func(r *Run) { r.Way.Plates = 31 }, fault.TooHigh, "plates"},
		"reflux below none":   {func(r *Run) { r.Way.Reflux = -0.1 }, fault.TooLow, "reflux"},
		"reflux not a number": {func(r *Run) { r.Way.Reflux = math.NaN() }, fault.TooLow, "reflux"},
		"pressure":            {func(r *Run) { r.Pressure = 100 }, fault.TooLow, "pressure"},
		"heat":                {func(r *Run) { r.Heat = -1 }, fault.TooLow, "heat"},
		"no charge":           {func(r *Run) { r.Charge = Charge{} }, fault.TooLow, "charge"},
		"past the azeotrope": {func(r *Run) {
			r.Charge = Charge{Mass: quantity.Figure{Value: 100, Unit: quantity.Kilogram}, PureAlcohol: quantity.Figure{Value: 125, Unit: quantity.Litre}}
		}, fault.TooHigh, "strength"},
	} {
		r := good
		c.change(&r)
		_, err := Distil(r)
		f := refused(t, err)
		assert.Equal(t, c.code, f.Code, "%s: %v", name, f)
		assert.Equal(t, c.field, f.Field, name)
	}
	_, err := ChargeOf(litres("100"), percent("99"))
	assert.Equal(t, "strength", refused(t, err).Field)
	assert.NotEmpty(t, must(Distil(good)).Working())
}

func TestPlan(t *testing.T) {
	// Check case 29 of the shared notes.
	p := must(Plan{Volume: litres("1000"), Strength: percent("8"), Pressure: hPa("1013.25"), EndStill: percent("0.1")}.Work())
	assert.InDelta(t, 400, p.Drawn.Value, 20)
	assert.InDelta(t, 19.9, p.DrawnStrength.Value, 1.2)
	assert.InDelta(t, 99.25, p.Recovery.Value, 0.3)
	assert.Equal(t, quantity.NoUnit, p.Minutes.Unit, "no heat, no time")
	assert.Less(t, math.Abs(400-p.Drawn.Value), p.Drawn.Expanded(), "the model's doubt is told: the note's figure lies in it")
	doubted := must(Plan{Volume: litres("1000±5"), Strength: percent("8±0.2"), Pressure: hPa("1013.25"), EndStill: percent("0.1"), Heat: 20}.Work())
	assert.Greater(t, doubted.PureAlcohol.U, p.PureAlcohol.U)
	assert.Equal(t, quantity.Minute, doubted.Minutes.Unit)
	us := must(Plan{Volume: quantity.MustParse("100", quantity.Gallon), Strength: proof("50"), End: proof("120"), Way: Way{0.4, TotalReflux()}}.Work())
	assert.InDelta(t, 120, us.Curve.Last().Spirit.Proof(), 1e-4)
	assert.Equal(t, quantity.Proof, us.DrawnStrength.Unit)
	_, err := Plan{Volume: kg("3"), Strength: percent("8"), EndStill: percent("0.1")}.Work()
	assert.Equal(t, "charge", refused(t, err).Field)
	_, err = Plan{Volume: litres("100"), End: percent("50")}.Work()
	assert.Equal(t, "strength", refused(t, err).Field)
	_, err = Plan{Volume: litres("100"), Strength: percent("20"), Pressure: kg("1"), End: percent("50")}.Work()
	assert.Equal(t, "pressure", refused(t, err).Field)
}

func TestLiquid(t *testing.T) {
	assert.Zero(t, Liquid{}.PureAlcohol())
	assert.Equal(t, spirit.Strength{}, Liquid{}.Strength())
	assert.Zero(t, Liquid{}.Volume())
	half := Liquid{Ethanol: 33.30, Water: 66.70}
	assert.InDelta(t, 40, half.Strength().ABV20(), 0.01, "33.30 %% by mass is 40 %% vol (OIML R 22)")
	require.InDelta(t, 100/0.94805, half.Volume(), 0.01)
}

func BenchmarkDistil(b *testing.B) {
	charge := must(ChargeOf(litres("1000"), percent("8")))
	for _, way := range []Way{{}, {2.4, 1.5}, {3.4, TotalReflux()}, {8, 3}} {
		b.Run(fmt.Sprint(way), func(b *testing.B) {
			for b.Loop() {
				must(Distil(Run{Charge: charge, Way: way, Pressure: StandardAtmosphere, End: End{Still: strong(1)}}))
			}
		})
	}
}
