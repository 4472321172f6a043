package spirit

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

func TestObscurationOf3032(t *testing.T) {
	o, err := Obscure(Extract{Residue: grams("0.125"), Sample: quantity.MustParse("25", quantity.Millilitre), Apparent: proof("90")})
	require.NoError(t, err)
	equal(t, "0.5", o.Solids.Decimal(), "27 CFR 30.32(b): 0.125 g × 4")
	equal(t, "2", o.Obscuration.Decimal(), "27 CFR 30.32(b): 0.50 × 4")
	equal(t, "92.0", o.Rounded, "added to the reading")
	assert.Equal(t, RuleEvaporation, o.Rule)
	assert.True(t, o.Lawful)
	assert.Contains(t, o.Working().String(), "0.125 g from 25 mL")
}

func TestObscurationRules(t *testing.T) {
	for _, c := range []struct {
		solids, apparent string
		rule             Rule
		lawful           bool
		proof            string
	}{
		{"0", "90", RuleNone, true, "90"},
		{"0.4", "90", RuleNone, true, "90"},
		{"0.4", "150", RuleNone, true, "150"},
		{"0.401", "90", RuleEvaporation, true, "91.6"},
		{"0.6", "80", RuleEvaporation, true, "82.4"},
		{"0.6", "100", RuleEvaporation, true, "102.4"},
		{"0.5", "79.9", RuleOther, false, "81.9"},
		{"0.5", "100.1", RuleOther, false, "102.1"},
		{"0.601", "90", RuleDistil, false, "92.4"},
	} {
		o, err := Obscure(Extract{Solids: perDL(c.solids), Apparent: proof(c.apparent)})
		require.NoError(t, err)
		where := c.solids + " g/100 mL at " + c.apparent + " proof (27 CFR 30.32)"
		assert.Equal(t, c.rule, o.Rule, where)
		assert.Equal(t, c.lawful, o.Lawful, where)
		equal(t, c.proof, o.Rounded, where)
	}
	metric := must(Obscure(Extract{Solids: perL("5"), Apparent: abv("45")}))
	assert.Equal(t, RuleEvaporation, metric.Rule)
	assert.InDelta(t, must(StrengthOf(abv("45"))).Proof()+2, metric.TrueProof.Value, 1e-9)
}

func TestObscurationFaults(t *testing.T) {
	mL := quantity.MustParse("25", quantity.Millilitre)
	for _, c := range []struct {
		e     Extract
		field string
		says  string
	}{
		{Extract{Apparent: proof("90")}, "solids", "are needed"},
		{Extract{Solids: perDL("0.5"), Sample: mL, Apparent: proof("90")}, "solids", "beside a residue"},
		{Extract{Solids: perDL("-0.5"), Apparent: proof("90")}, "solids", "below 0"},
		{Extract{Solids: perDL("61"), Apparent: proof("90")}, "solids", "more than a syrup"},
		{Extract{Solids: grams("0.5"), Apparent: proof("90")}, "solids", "is not a concentration"},
		{Extract{Residue: grams("0.1"), Apparent: proof("90")}, "sample", "a volume is needed"},
		{Extract{Sample: mL, Apparent: proof("90")}, "residue", "a mass is needed"},
		{Extract{Residue: grams("24.1"), Sample: mL, Apparent: proof("90")}, "residue", "take off the weight of the dish"},
		{Extract{Solids: perDL("0.5")}, "apparent", "a strength is needed"},
	} {
		_, err := Obscure(c.e)
		var l fault.List
		require.ErrorAs(t, err, &l, c.says)
		assert.Equal(t, c.field, l[0].Field, "%v", l)
		assert.ErrorContains(t, l, c.says)
	}
	clean, err := Obscure(Extract{Residue: grams("0"), Sample: mL, Apparent: proof("90")})
	require.NoError(t, err, "a clean dish is a result")
	assert.Zero(t, clean.Obscuration.Value)
}

func TestLiqueur(t *testing.T) {
	l, err := MakeLiqueur(LiqueurRecipe{Spirit: litre("10.0"), Strength: abv("60"), Water: kg("5.0"), Sugar: kg("3.0")})
	require.NoError(t, err)
	const source = "computed elsewhere, mass and apparent volume of 0.620 mL/g, the 5 kg of water without the 5 g that air hides from the scale"
	assert.InDelta(t, 16.73, l.Volume.Value, 0.01, source)
	assert.InDelta(t, 35.86, l.ABV20.Value, 0.015, source)
	assert.InDelta(t, 179, l.Sugar.Value, 0.5, source)
	assert.InDelta(t, 1021.5, l.Density.Value, 0.1, source)
	assert.Contains(t, l.Working().String(), "0.620 L/kg × 3.000 kg")
	us := must(MakeLiqueur(LiqueurRecipe{Spirit: gal("10"), Strength: proof("120"), Water: lb("20"), Sugar: lb("15")}))
	assert.Equal(t, quantity.Gallon, us.Volume.Unit)
	plain := must(MakeLiqueur(LiqueurRecipe{Spirit: litre("10"), Strength: abv("40")}))
	assert.InDelta(t, 40, plain.ABV20.Value, 1e-9, "without sugar and water nothing changes")
	assert.InDelta(t, 40, plain.Apparent.Value, 1e-9)
	assert.InDelta(t, 10, plain.Volume.Value, 1e-9)
	for _, bad := range []LiqueurRecipe{{}, {Spirit: litre("1"), Strength: abv("40"), Sugar: kg("30")}, {Spirit: litre("1"), Strength: abv("40"), Sugar: litre("3")}, {Spirit: litre("1"), Strength: abv("40"), Water: abv("3")}, {Spirit: litre("1"), Strength: abv("40"), Water: kg("-1")}} {
		_, err := MakeLiqueur(bad)
		assert.Error(t, err, "%v", bad)
	}
}

// 40 % vol under sucrose, as computed elsewhere by Tabarié's relation.
func TestSugarUnderAHydrometer(t *testing.T) {
	for _, c := range []struct{ sugar, shows string }{{"5", "38.8"}, {"10", "37.6"}, {"20", "35.0"}, {"30", "32.3"}} {
		u, err := UnderSugar(Sweetened{Apparent: abv(c.shows), Sugar: perL(c.sugar)})
		require.NoError(t, err)
		assert.InDelta(t, 40, u.ABV20.Value, 0.08, "%s g/L that shows %s", c.sugar, c.shows)
	}
	per := must(UnderSugar(Sweetened{Apparent: abv("39.76"), Sugar: perL("1")}))
	assert.InDelta(t, 0.24, per.Obscuration.Value, 0.01, "a gram per litre hides 0.24 % vol at 40, computed elsewhere by Tabarié's relation")
	assert.Contains(t, per.Working().String(), "hidden by the sugar")
	for _, bad := range []Sweetened{{}, {Apparent: abv("40")}, {Apparent: abv("40"), Sugar: kg("1")}, {Apparent: abv("40"), Sugar: perL("701")}, {Apparent: abv("99"), Sugar: perL("100")}} {
		_, err := UnderSugar(bad)
		assert.Error(t, err, "%v", bad)
	}
}

func TestUnderSugarUndoesALiqueur(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, err := MakeLiqueur(LiqueurRecipe{
			Spirit: litre("10"), Strength: reading(t, "strength", 350, 960, 1, quantity.ABV20),
			Water: reading(t, "water", 0, 100, 1, quantity.Kilogram), Sugar: reading(t, "sugar", 0, 20, 1, quantity.Kilogram),
		})
		require.NoError(t, err)
		if l.Apparent.Value < 0.5 {
			return
		}
		u, err := UnderSugar(Sweetened{Apparent: l.Apparent.Reading(9), Sugar: l.Sugar.Reading(9)})
		require.NoError(t, err)
		assert.InDelta(t, l.ABV20.Value, u.ABV20.Value, 1e-6)
	})
}
