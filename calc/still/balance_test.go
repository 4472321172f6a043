package still

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

func pure(name string, litresPure, u float64) Entry {
	return Entry{name, quantity.Figure{Value: litresPure, Unit: quantity.Litre, U: u, HasU: u > 0}}
}

// Check case 31 of the shared notes: in 600 L of 24.6 % vol; out 12 at 80, 130
// at 70, 110 at 35 and 345 at 0.3 % vol; loss 7.5 L, 5.1 %.
func TestBalanceCase(t *testing.T) {
	in := []Entry{pure("charge", 600*0.246, 0.7)}
	out := []Entry{pure("heads", 12*.80, 0.05), pure("hearts", 130*.70, 0.4), pure("tails", 110*.35, 0.3), pure("stillage", 345*.003, 0.2)}
	b := must(Balance(in, out))
	assert.InDelta(t, 147.6, b.In.Value, 0.1)
	assert.InDelta(t, 140.1, b.Out.Value, 0.1)
	assert.InDelta(t, 7.5, b.Gap.Value, 0.1)
	assert.InDelta(t, 5.1, 100*b.Share, 0.05)
	assert.Equal(t, Lost, b.Verdict)
	assert.Contains(t, b.Words, "5.1 %")
	assert.NotEmpty(t, b.Working())

	in[0].Alcohol.U = 4 // a mash is known no better
	assert.Equal(t, Closed, must(Balance(in, out)).Verdict)
	assert.Equal(t, Gained, must(Balance(out, []Entry{pure("hearts", 150, 0.5)})).Verdict)

	silent := must(Balance([]Entry{pure("charge", 147.6, 0)}, []Entry{pure("hearts", 147.3, 0)}))
	assert.Equal(t, Closed, silent.Verdict, "instruments that do not say their doubt have one all the same")
	assert.InDelta(t, math.Hypot(147.6, 147.3)/300, silent.Gap.U, 1e-9)
}

func TestBalanceLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		entries := func(name string) (out []Entry) {
			for range rapid.IntRange(1, 5).Draw(t, name) {
				out = append(out, pure(name, rapid.Float64Range(1, 500).Draw(t, "L"), rapid.Float64Range(0.01, 5).Draw(t, "u")))
			}
			return out
		}
		in, out := entries("in"), entries("out")
		b, back := must(Balance(in, out)), must(Balance(out, in))
		if math.Abs(b.Out.Value+b.Gap.Value-b.In.Value) > 1e-9 || math.Abs(b.Gap.Value+back.Gap.Value) > 1e-9 {
			t.Fatalf("out and gap do not make in: %+v", b)
		}
		if (b.Verdict == Closed) != (back.Verdict == Closed) || (b.Verdict == Lost) != (back.Verdict == Gained) {
			t.Fatalf("%s one way, %s the other", b.Verdict, back.Verdict)
		}
	})
}

func TestBalanceRefuses(t *testing.T) {
	gallons := Entry{"tails", quantity.Figure{Value: 3, Unit: quantity.Gallon}}
	some := []Entry{pure("charge", 10, 0.1)}
	for name, c := range map[string]struct {
		in, out []Entry
		code    fault.Code
		field   string
	}{
		"nothing in":     {nil, some, fault.Missing, "charge"},
		"nothing out":    {some, nil, fault.Missing, "fractions"},
		"two units":      {some, []Entry{gallons}, fault.WrongUnit, "tails"},
		"mixed units":    {some, []Entry{pure("hearts", 2, 0), gallons}, fault.WrongUnit, "tails"},
		"below nothing":  {some, []Entry{pure("hearts", -2, 0)}, fault.TooLow, "hearts"},
		"not a number":   {some, []Entry{pure("hearts", math.NaN(), 0)}, fault.TooLow, "hearts"},
		"an empty still": {[]Entry{pure("charge", 0, 0)}, some, fault.TooLow, "charge"},
	} {
		_, err := Balance(c.in, c.out)
		f := refused(t, err)
		assert.Equal(t, c.code, f.Code, name)
		assert.Equal(t, c.field, f.Field, name)
	}
}

func TestYield(t *testing.T) {
	y := must(Yield(quantity.Figure{Value: 4.6, Unit: quantity.Litre, U: 0.05, HasU: true}, kg("92±1"), litres("100")))
	assert.InDelta(t, 5, y.Per100Kg.Value, 1e-9)
	assert.InDelta(t, 5*math.Hypot(0.05/4.6, 1/math.Sqrt(3)/92), y.Per100Kg.U, 1e-9)
	assert.InDelta(t, 4.6, y.Per100L.Value, 1e-9)
	assert.InDelta(t, 0.046, y.PerLitre.Value, 1e-9)
	alone := must(Yield(quantity.Figure{Value: 4.6, Unit: quantity.Litre}, quantity.Reading{}, litres("100")))
	assert.Equal(t, quantity.NoUnit, alone.Per100Kg.Unit)
	assert.False(t, alone.Per100L.HasU)
	for field, c := range map[string]struct{ alcohol, fruit, charge quantity.Reading }{
		"fruit":   {litres("3"), litres("3"), quantity.Reading{}},
		"charge":  {litres("3"), kg("3"), litres("0")},
		"alcohol": {kg("3"), kg("3"), quantity.Reading{}},
	} {
		_, err := Yield(quantity.Figure{Value: c.alcohol.Float(), Unit: c.alcohol.Unit()}, c.fruit, c.charge)
		assert.Equal(t, field, refused(t, err).Field)
	}
	_, err := Yield(quantity.Figure{Value: 3, Unit: quantity.Litre}, quantity.Reading{}, quantity.Reading{})
	assert.Equal(t, fault.Missing, refused(t, err).Code)
}

// Check case 34 of the shared notes: 500 kg from 20 to 94 °C, 148 MJ, 41.1 kWh;
// and note 3.5: 150 kg of 30 % by mass, 275 MJ, 76 kWh.
func TestHeat(t *testing.T) {
	h := must(HeatUp(Heating{Mass: kg("500"), From: degC("20"), To: degC("94"), Power: 25, Losses: 0.2}))
	assert.InDelta(t, 148, float64(h.Energy), 0.5, "MJ")
	assert.InDelta(t, 41.1, h.Energy.KilowattHours(), 0.1, "kWh")
	assert.InDelta(t, 148000/0.8/25/60, h.Minutes, 0.5, "min")
	assert.NotEmpty(t, h.Working())
	boils := must(HeatUp(Heating{Mass: kg("500"), From: degC("20"), Strength: percent("8"), Pressure: StandardAtmosphere}))
	assert.InDelta(t, 94, boils.To.Value, 0.05, "8 %% vol boils, °C")
	assert.Zero(t, boils.Minutes)
	e := Evaporation(Liquid{Ethanol: 45, Water: 105})
	assert.InDelta(t, 275, float64(e), 0.5, "MJ")
	assert.InDelta(t, 76, e.KilowattHours(), 0.5, "kWh")
	// Note 3.5: about 7 L of cooling water a litre of 75 % vol and 12 a litre of
	// 30 % by mass, at 40 K of rise.
	for _, c := range []struct {
		l    Liquid
		want float64
	}{{Liquid{67.82, 32.18}, 7}, {Liquid{30, 70}, 12}} {
		assert.InDelta(t, c.want, CoolingWater(c.l, 40)/c.l.Volume(), 1, "L a litre")
	}
	for field, bad := range map[string]Heating{
		"mass":     {Mass: litres("3"), From: degC("20"), To: degC("94")},
		"from":     {Mass: kg("3"), From: degC("95"), To: degC("94")},
		"to":       {Mass: kg("3"), From: degC("20"), To: kg("3")},
		"losses":   {Mass: kg("3"), From: degC("20"), To: degC("94"), Losses: 1},
		"power":    {Mass: kg("3"), From: degC("20"), To: degC("94"), Power: -1},
		"strength": {Mass: kg("3"), From: degC("20"), Pressure: StandardAtmosphere},
		"pressure": {Mass: kg("3"), From: degC("20"), Strength: percent("8")},
	} {
		_, err := HeatUp(bad)
		assert.Equal(t, field, refused(t, err).Field)
	}
	_, err := HeatUp(Heating{Mass: kg("0"), From: degC("20"), To: degC("94")})
	assert.Equal(t, "mass", refused(t, err).Field)
}

func limit(t *testing.T, law, class string) ClassLimit {
	t.Helper()
	for _, l := range ClassLimits() {
		if l.Law == law && l.Class == class {
			return l
		}
	}
	require.Fail(t, "no such class", class)
	return ClassLimit{}
}

func TestClassLimits(t *testing.T) {
	at := func(r quantity.Reading) string { // asked of US whisky and its like
		return limit(t, "US", "whisky").Ask(MoleFractionOf(must(strengthOrWater(r, r.Float()))).Strength())
	}
	assert.Empty(t, at(proof("189.9")), "below 190° (27 CFR 5.143(a))")
	assert.Contains(t, at(proof("190")), "below 190 proof")
	assert.Empty(t, at(proof("189.94")), "to the legal tenth")
	assert.NotEmpty(t, at(proof("189.96")))
	rye := limit(t, "US", "bourbon, rye, wheat, malt or rye malt whisky")
	of := func(c ClassLimit, r quantity.Reading) string { return c.Ask(must(strengthOrWater(r, r.Float()))) }
	assert.Empty(t, of(rye, proof("160")), "not exceeding 160°")
	assert.Contains(t, of(rye, proof("160.2")), "no more than 160 proof")
	light := limit(t, "US", "light whisky")
	assert.Contains(t, of(light, proof("160")), "above 160 proof")
	assert.Empty(t, of(light, proof("160.2")))
	vodka := limit(t, "US", "neutral spirits or vodka")
	assert.Empty(t, of(vodka, proof("190")))
	assert.Contains(t, of(vodka, proof("189")), "no less than 190 proof")
	assert.Contains(t, of(limit(t, "EU", "fruit spirit"), percent("86")), "below 86 % vol")
	assert.Empty(t, of(limit(t, "EU", "fruit spirit"), percent("85.9")))
	for _, l := range ClassLimits() {
		assert.NotEmpty(t, l.Source, l.Class)
		assert.False(t, l.Most.At.IsNone() && l.Least.At.IsNone(), l.Class)
	}
}

// Check case 32 of the shared notes: 1200 g/hL of pure alcohol at 40 % vol is
// 4.8 g/L and 0.61 % by volume, above the US limit; 0.35 % is 693 g/hL.
func TestMethanol(t *testing.T) {
	m := must(Methanol(1200, percent("40")))
	assert.InDelta(t, 4.8, m.PerLitre.Value, 1e-6)
	assert.InDelta(t, 0.61, m.ByVolume, 0.01)
	over := func(m MethanolFound, law, spirit string) bool {
		for _, l := range m.Over {
			if l.Law == law && l.Spirit == spirit {
				return true
			}
		}
		return false
	}
	assert.True(t, over(m, "US", "brandy"), "legal in the EU, not in the US")
	assert.True(t, over(m, "EU", "fruit spirit in general"))
	assert.False(t, over(m, "EU", "spirit of Williams pear, quince, redcurrant, blackcurrant, elderberry, juniper or rowan"))
	assert.InDelta(t, 0.35, must(Methanol(693, percent("40"))).ByVolume, 0.001)
	_, err := Methanol(-1, percent("40"))
	assert.Equal(t, "methanol", refused(t, err).Field)
	_, err = Methanol(1, percent("140"))
	assert.Equal(t, "strength", refused(t, err).Field)
	for _, l := range MethanolLimits() {
		assert.NotEmpty(t, l.Source, l.Spirit)
	}
}

func TestCautions(t *testing.T) {
	plain, stone := Cautions(false), Cautions(true)
	assert.Greater(t, len(stone), len(plain))
	seen := map[string]bool{}
	for _, c := range stone {
		assert.False(t, seen[c.Key], c.Key)
		seen[c.Key] = true
		assert.Contains(t, c.Text, "Follow your local code", c.Key)
		assert.Contains(t, c.Text, "licensed practice", c.Key)
		assert.NotEmpty(t, c.Source, c.Key)
		assert.NotEmpty(t, c.When, c.Key)
		if c.Key == "methanol" {
			assert.Contains(t, c.Text, "does not remove methanol")
		}
	}
	for _, key := range []string{"vapour", "coolant", "vacuum", "stillage", "heads", "methanol", "stones", "carbamate"} {
		assert.True(t, seen[key], key)
	}
}
