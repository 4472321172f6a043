package spirit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

func TestWaterByTable4Of3064(t *testing.T) {
	final, water, err := Table4Reduction{Net: lb("1000"), ProofGallons: dec("302.58"), PerPound: dec("0.27964")}.Water()
	require.NoError(t, err)
	equal(t, "1082.03", final, "27 CFR 30.64: 302.58 ÷ 0.27964")
	equal(t, "82.03", water, "27 CFR 30.64")
	computed := must(Reduce(Reduction{Weight: lb("1000"), From: proof("200"), To: proof("190")}))
	assert.InDelta(t, 82.03, computed.AddedWeight.Value, 0.05, "27 CFR 30.64; computed from OIML R 22")
	_, _, err = Table4Reduction{Net: lb("1000")}.Water()
	assert.ErrorContains(t, err, "per_pound")
	_, _, err = Table4Reduction{}.Water()
	assert.Error(t, err)
}

func TestWaterByTable6Of3066(t *testing.T) {
	from, to := Table6Row{dec("95.5"), dec("5.59")}, Table6Row{dec("94.0"), dec("7.36")}
	unrounded, asPrinted, err := WaterPer100(from, to)
	require.NoError(t, err)
	equal(t, "1.84", asPrinted.Round(2), "27 CFR 30.66 prints 1.84, its quotient cut to 1.01")
	equal(t, "1.89", unrounded.Round(2), "the quotient as it is")
	computed := must(Reduce(Reduction{Volume: gal("100"), From: proof("191"), To: proof("188")}))
	assert.InDelta(t, 1.89, computed.AddedVolume.Value, 0.01, "mass balance")
	unrounded, _, err = WaterPer100(Table6Row{dec("56"), dec("47.75")}, Table6Row{dec("50"), dec("53.73")})
	require.NoError(t, err)
	equal(t, "12.43", unrounded.Round(2), "112 to 100 proof: 1.12 × 53.73 − 47.75 = 12.4276")
	_, _, err = WaterPer100(to, from)
	assert.ErrorContains(t, err, "water only lowers")
}

func TestTable6(t *testing.T) {
	for _, row := range published(t, "27-cfr-30/table6.csv") {
		got := Table6(must(StrengthOf(proof(row[0]))))
		equal(t, row[1], got.Alcohol, row[0]+" proof, alcohol (27 CFR 30.66, Table 6)")
		assert.InDelta(t, num(row[2]), got.Water.InexactFloat64(), 0.0101, "%s proof, water (27 CFR 30.66, Table 6)", row[0])
	}
}

func TestReductionByMass(t *testing.T) {
	for _, c := range []struct{ volume, from, to, water, final string }{
		{"100", "70", "40", "77.49", "175.00"}, {"100", "60", "40", "51.39", "150.00"}, {"100", "65", "43", "52.89", "151.16"},
		{"50", "72", "45", "31.19", "80.00"}, {"100", "95", "40", "144.28", "237.50"}, {"100", "63.5", "46", "39.40", "138.04"}, {"100", "40", "37.5", "6.75", "106.67"},
	} {
		r, err := Reduce(Reduction{Volume: litre(c.volume), From: abv(c.from), To: abv(c.to)})
		require.NoError(t, err)
		source := c.volume + " L " + c.from + " → " + c.to + " (computed from OIML R 22 elsewhere)"
		assert.InDelta(t, num(c.water), r.AddedVolume.Value, 0.0051, source)
		assert.InDelta(t, num(c.final), r.FinalVolume.Value, 0.0051, source)
		assert.InDelta(t, r.SpiritVolume.Value+r.AddedVolume.Value-r.FinalVolume.Value, r.Contraction.Value, 1e-9)
		assert.Contains(t, r.Caution, "cool")
		assert.Contains(t, r.Working().String(), r.AddedVolume.Text(2))
	}
}

func TestBlends(t *testing.T) {
	for _, c := range []struct{ a, b, volume, strength string }{
		{"100 70", "100 40", "199.39", "55.17"}, {"100 60", "50 30", "149.51", "50.16"}, {"80 65", "120 43", "199.68", "51.88"},
	} {
		part := func(s string) Part {
			var v, x string
			_, err := fmt.Sscan(s, &v, &x)
			require.NoError(t, err)
			return Part{litre(v), abv(x)}
		}
		m, err := Blend(part(c.a), part(c.b))
		require.NoError(t, err)
		assert.InDelta(t, num(c.volume), m.Volume.Value, 0.0051, "%s and %s (computed from OIML R 22 elsewhere)", c.a, c.b)
		assert.InDelta(t, num(c.strength), m.Reached.Value, 0.0051, "%s and %s", c.a, c.b)
	}
}

// reading draws a typed figure of n decimals.
func reading(t *rapid.T, label string, from, to int64, decimals int32, u quantity.Unit) quantity.Reading {
	return quantity.FromDecimal(decimal.New(rapid.Int64Range(from, to).Draw(t, label), -decimals), u)
}

func anyPart(t *rapid.T) Part {
	strength := reading(t, "% vol", 0, 1000, 1, quantity.ABV20)
	if rapid.Bool().Draw(t, "in proof") {
		strength = reading(t, "proof", 0, 2000, 1, quantity.Proof)
	}
	return Part{reading(t, "amount", 1, 100_000, 1, rapid.SampledFrom([]quantity.Unit{quantity.Litre, quantity.Gallon, quantity.Kilogram, quantity.Pound}).Draw(t, "unit")), strength}
}

func TestBlendConservesMassAndEthanol(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.Custom(anyPart), 1, 6).Draw(t, "parts")
		m, err := Blend(parts...)
		require.NoError(t, err)
		mass, ethanol := 0.0, 0.0
		for _, p := range parts {
			one, err := Blend(p)
			require.NoError(t, err)
			mass += one.Mass.Value
			ethanol += one.Mass.Value * float64(one.Strength.MassFraction())
			assert.InDelta(t, 0, one.Contraction.Value, 1e-9*one.Volume.Value, "one part does not contract")
		}
		assert.InEpsilon(t, mass, m.Mass.Value, 1e-12)
		assert.InDelta(t, ethanol, m.Mass.Value*float64(m.Strength.MassFraction()), 1e-9*mass)
		assert.GreaterOrEqual(t, m.Contraction.Value, -3e-3*m.Volume.Value, "only weak spirit and water swell, and hardly")
		assert.LessOrEqual(t, m.Contraction.Value, 0.0365*(m.Volume.Value+m.Contraction.Value), "no parts lose more than half and half does")
	})
}

func TestReduceThenBlendReturns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		to := reading(t, "to", 20, 800, 1, quantity.ABV20)
		from := reading(t, "from", to.Decimal().Shift(1).IntPart(), 1000, 1, quantity.ABV20)
		r := Reduction{From: from, To: to}
		unit := rapid.SampledFrom([]quantity.Unit{quantity.Litre, quantity.Kilogram, quantity.Gallon, quantity.Pound}).Draw(t, "unit")
		amount := reading(t, "amount", 1, 100_000, 1, unit)
		if unit.Dimension() == quantity.Volume {
			r.Volume = amount
		} else {
			r.Weight = amount
		}
		one, err := Reduce(r)
		require.NoError(t, err)
		c := conventionOf(unit)
		m, p := c.massOf(unit, amount.Float(), float64(must(StrengthOf(from)).p)), float64(must(StrengthOf(from)).p)
		water := c.massOf(c.weight, one.AddedWeight.Value, 0)
		assert.InDelta(t, to.Float(), Strength{MassFraction(m * p / (m + water))}.ABV20(), 1e-9, "spirit and water blended")
		assert.InEpsilon(t, m+water, c.massOf(c.volume, one.FinalVolume.Value, float64(one.Strength.p)), 1e-12, "final volume")
		assert.InEpsilon(t, m+water, c.massOf(c.weight, one.FinalWeight.Value, float64(one.Strength.p)), 1e-12, "final weight")

		// Asked from the other end: the final volume needs the same spirit.
		back, err := Reduce(Reduction{FinalVolume: one.FinalVolume.Reading(9), From: from, To: to})
		require.NoError(t, err)
		assert.InDelta(t, one.SpiritVolume.Value, back.SpiritVolume.Value, 1e-6+1e-8*one.SpiritVolume.Value)
		// And filled up to that volume, the spirit reaches the strength.
		r.To, r.FinalVolume = quantity.Reading{}, one.FinalVolume.Reading(9)
		if one.FinalVolume.Value > one.SpiritVolume.Value*1.001 {
			filled, err := Reduce(r)
			require.NoError(t, err)
			assert.InDelta(t, to.Float(), filled.Reached.Value, 1e-4)
		}
	})
}

func TestOvershotIsCorrected(t *testing.T) {
	low := Part{litre("100"), abv("39.2")}
	r, err := Reduce(Reduction{Volume: low.Amount, From: low.Strength, To: abv("40"), With: abv("70")})
	require.NoError(t, err)
	m, err := Blend(low, Part{r.AddedVolume.Reading(9), abv("70")})
	require.NoError(t, err)
	assert.InDelta(t, 40, m.Reached.Value, 1e-8)
	assert.InDelta(t, m.Volume.Value, r.FinalVolume.Value, 1e-7)
	assert.Contains(t, r.Working().String(), "weight of 70 % vol to add")
}

func TestStagesAddUp(t *testing.T) {
	r := Reduction{Volume: litre("200±1"), From: abv("70±0.1"), To: abv("40")}
	stages, err := Stages(r, abv("55"), abv("45"), abv("41.5"))
	require.NoError(t, err)
	require.Len(t, stages, 4)
	whole := must(Reduce(r))
	volume, weight := 0.0, 0.0
	for _, s := range stages {
		volume, weight = volume+s.AddedVolume.Value, weight+s.AddedWeight.Value
		assert.Positive(t, s.AddedWeight.Value)
	}
	assert.InDelta(t, whole.AddedVolume.Value, volume, 1e-9)
	assert.InDelta(t, whole.AddedWeight.Value, weight, 1e-9)
	last := stages[3]
	assert.InDelta(t, whole.FinalVolume.Value, last.FinalVolume.Value, 1e-9)
	assert.InDelta(t, whole.FinalVolume.U, last.FinalVolume.U, 1e-9)
	assert.Less(t, last.AddedVolume.U, whole.AddedVolume.U, "the last drop is less doubtful than all the water")
	_, err = Stages(r, abv("45"), abv("55"))
	assert.ErrorContains(t, err, "stage 2")
	_, err = Stages(Reduction{FinalVolume: litre("3"), From: abv("70"), To: abv("40")}, abv("45"))
	assert.ErrorContains(t, err, "stages need the amount at hand")
	list := []quantity.Reading{abv("55"), abv("1")}
	_, err = Stages(r, list[:1]...)
	require.NoError(t, err)
	assert.Equal(t, abv("1"), list[1], "the caller's list is left alone")
}

func TestBalanceFaults(t *testing.T) {
	for _, c := range []struct {
		err   error
		field string
		says  string
	}{
		{second(Reduce(Reduction{From: abv("70"), To: abv("40")})), "volume", "an amount is needed"},
		{second(Reduce(Reduction{Volume: litre("1"), From: abv("70")})), "to", "the strength to reach is needed"},
		{second(Reduce(Reduction{Volume: litre("1"), Weight: kg("1"), From: abv("70"), To: abv("40")})), "weight", "stands beside volume"},
		{second(Reduce(Reduction{Volume: litre("1"), FinalVolume: litre("2"), From: abv("70"), To: abv("40")})), "to", "together with both amounts"},
		{second(Reduce(Reduction{Volume: litre("1"), From: abv("40"), To: abv("70")})), "to", "water only lowers a strength"},
		{second(Reduce(Reduction{Volume: litre("1"), From: abv("40"), To: abv("0")})), "to", "water only lowers a strength"},
		{second(Reduce(Reduction{Volume: litre("1"), From: abv("40"), To: abv("75"), With: abv("70")})), "to", "stronger or weaker"},
		{second(Reduce(Reduction{Volume: litre("1"), FinalVolume: litre("0.9"), From: abv("40")})), "final_volume", "less than the spirit at hand"},
		{second(Reduce(Reduction{Volume: litre("0"), From: abv("70"), To: abv("40")})), "volume", "is not above 0"},
		{second(Reduce(Reduction{Volume: litre("1"), From: degC("70"), To: abv("40")})), "from", "is not a strength"},
		{second(Blend()), "part", "a blend needs parts"},
		{second(Blend(Part{litre("1"), abv("40")}, Part{abv("1"), abv("40")})), "part 2", "is not a volume"},
		{second(Blend(Part{litre("1"), quantity.Reading{}})), "part 1", "a strength is needed"},
	} {
		var l fault.List
		require.ErrorAs(t, c.err, &l, c.says)
		assert.Equal(t, c.field, l[0].Field, "%v", l)
		assert.ErrorContains(t, l, c.says)
	}
}

// The propagated uncertainty of a whole chain against draws (JCGM 101).
func TestUncertaintyAgainstMonteCarlo(t *testing.T) {
	draw := monteCarlo(20_000)
	for name, c := range map[string]struct {
		typed []quantity.Reading
		f     func(r []quantity.Reading) quantity.Figure
	}{
		"true proof": {[]quantity.Reading{proof("141.3±0.2"), degF("81.5±0.9")}, func(r []quantity.Reading) quantity.Figure {
			return must(TrueProof(HydrometerReading{Indicated: r[0], Temp: r[1]})).True
		}},
		"pure alcohol by volume": {[]quantity.Reading{litre("212±1"), degC("26±0.5"), abv("63.5±0.2")}, func(r []quantity.Reading) quantity.Figure {
			return must(GaugeVolume(VolumeGauge{Volume: r[0], Temp: r[1], Strength: r[2]})).PureAlcohol
		}},
		"proof gallons by weight": {[]quantity.Reading{lb("561.5±0.5"), lb("109.5±0.5"), proof("125±0.3")}, func(r []quantity.Reading) quantity.Figure {
			return must(GaugeWeight(WeightGauge{Gross: r[0], Tare: r[1], Strength: r[2]})).ProofGallons
		}},
		"water to add": {[]quantity.Reading{litre("212±1"), abv("63.5±0.2")}, func(r []quantity.Reading) quantity.Figure {
			return must(Reduce(Reduction{Volume: r[0], From: r[1], To: abv("43")})).AddedVolume
		}},
		"strength of a blend": {[]quantity.Reading{litre("80±1"), abv("65±0.3"), litre("120±2"), abv("43±0.3")}, func(r []quantity.Reading) quantity.Figure {
			return must(Blend(Part{r[0], r[1]}, Part{r[2], r[3]})).Reached
		}},
		"obscured proof": {[]quantity.Reading{grams("0.125±0.004"), litre("25±0.1mL"), proof("90±0.2")}, func(r []quantity.Reading) quantity.Figure {
			return must(Obscure(Extract{Residue: r[0], Sample: r[1], Apparent: r[2]})).TrueProof
		}},
		"strength of a liqueur": {[]quantity.Reading{litre("10±0.1"), abv("60±0.3"), kg("5±0.05"), kg("3±0.03")}, func(r []quantity.Reading) quantity.Figure {
			return must(MakeLiqueur(LiqueurRecipe{Spirit: r[0], Strength: r[1], Water: r[2], Sugar: r[3]})).ABV20
		}},
	} {
		t.Run(name, func(t *testing.T) {
			want := c.f(c.typed)
			require.True(t, want.HasU)
			got := draw(c.typed, c.f)
			assert.InEpsilon(t, got, want.U, 0.03, "law of propagation %.5g, Monte Carlo %.5g", want.U, got)
			assert.InDelta(t, 2*want.U, want.Expanded(), 1e-15)
		})
	}
}

// monteCarlo gives the standard deviation of f over n draws of its readings,
// each even within its half-width, from a fixed start.
func monteCarlo(n int) func([]quantity.Reading, func([]quantity.Reading) quantity.Figure) float64 {
	rnd := rand.New(rand.NewPCG(27, 30))
	return func(typed []quantity.Reading, f func([]quantity.Reading) quantity.Figure) float64 {
		drawn := make([]quantity.Reading, len(typed))
		centre := f(typed).Value
		var sum, squares float64
		for range n {
			for i, r := range typed {
				x := r.Float() + r.HalfWidth().Float()*(2*rnd.Float64()-1)
				drawn[i] = quantity.FromDecimal(quantity.Snap(x), r.Unit())
			}
			d := f(drawn).Value - centre
			sum, squares = sum+d, squares+d*d
		}
		mean := sum / float64(n)
		return math.Sqrt(squares/float64(n) - mean*mean)
	}
}
