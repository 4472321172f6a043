package spirit

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

func TestScalesReturn(t *testing.T) {
	scales := map[string]struct {
		to   func(Strength) float64
		from func(float64) (Strength, error)
	}{
		"mass fraction": {func(s Strength) float64 { return float64(s.MassFraction()) }, func(x float64) (Strength, error) { return FromMassFraction(MassFraction(x)) }},
		"mass percent":  {Strength.MassPercent, FromMassPercent},
		"abv20":         {Strength.ABV20, FromABV20},
		"abv15":         {Strength.ABV15, FromABV15},
		"abv60f":        {Strength.ABV60F, FromABV60F},
		"proof":         {Strength.Proof, FromProof},
		"sg60":          {Strength.SG60, FromSG60},
		"sg20":          {Strength.SG20, FromSG20},
	}
	for name, scale := range scales {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				p := rapid.Float64Range(0, 1).Draw(t, "p")
				s := must(FromMassFraction(MassFraction(p)))
				back, err := scale.from(scale.to(s))
				require.NoError(t, err)
				assert.InDelta(t, p, float64(back.MassFraction()), 1e-9)
				more := must(FromMassFraction(MassFraction(min(p+1e-4, 1))))
				if p < 0.9999 {
					rises := scale.to(more) > scale.to(s)
					assert.Equal(t, name != "sg60" && name != "sg20", rises, "monotone")
				}
			})
			for _, p := range []MassFraction{0, 1} {
				back, err := scale.from(scale.to(must(FromMassFraction(p))))
				require.NoError(t, err, "the pure substances are on the scale")
				assert.InDelta(t, float64(p), float64(back.MassFraction()), 1e-12)
			}
		})
	}
}

func TestDensityReturns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, c := rapid.Float64Range(0, 1).Draw(t, "p"), Celsius(rapid.Float64Range(-20, 40).Draw(t, "t"))
		s := must(FromMassFraction(MassFraction(p)))
		back, err := FromDensity(s.DensityAt(c), c)
		require.NoError(t, err)
		// At −20 °C the density near 19 % by mass hardly changes with strength.
		assert.InDelta(t, p, float64(back.MassFraction()), 1e-9)
		ρ := float64(s.DensityAt(c))
		assert.InDelta(t, ρ, float64(back.DensityAt(c)), 1e-9)
	})
}

func TestOneLiquidHasManyNumbers(t *testing.T) {
	s := must(FromABV20(40))
	assert.InDelta(t, 33.30, s.MassPercent(), 0.005, "OIML R 22: 40 % vol is 33.30 % by mass (from memory)")
	assert.InDelta(t, 79.86, s.Proof(), 0.005, "computed elsewhere from OIML R 22")
	assert.InDelta(t, s.ABV60F(), s.Proof()/2, 1e-12, "27 CFR 30.11: proof is twice the % vol at 60 °F")
	assert.InDelta(t, 0.93426, must(FromProof(100)).SG60(), 0.00003, "proof spirit, in vacuo: 0.93426 (from memory)")
	assert.InDelta(t, 0.93418, must(FromProof(100)).SG60InAir(), 0.00003, "proof spirit, in air: 0.93418 (from memory)")
	assert.Zero(t, Strength{}.Proof(), "the zero strength is water")
	assert.InDelta(t, 1, Strength{}.SG60InAir(), 1e-15)
	for _, pure := range []float64{must(FromProof(200)).ABV20(), must(FromABV15(100)).Proof() / 2} {
		assert.InDelta(t, 100, pure, 1e-9)
	}
}

func TestStrengthOfATypedReading(t *testing.T) {
	assert.InDelta(t, 140, must(StrengthOf(proof("140"))).Proof(), 1e-9)
	assert.InDelta(t, 70, must(StrengthOf(abv("70"))).ABV20(), 1e-9)
	assert.InDelta(t, 70, must(StrengthOf(abv("70"))).In(quantity.ABV20), 1e-9)
	for _, c := range []struct {
		r    quantity.Reading
		code fault.Code
		says string
	}{
		{quantity.Reading{}, fault.Missing, "a strength is needed"},
		{proof("200.1"), fault.TooHigh, "“200.1 proof”: is above 200 proof, pure alcohol"},
		{abv("100.1"), fault.TooHigh, "is above 100 % vol"},
		{proof("-1"), fault.TooLow, "is below 0 proof"},
		{degC("20"), fault.WrongUnit, "is not a strength"},
	} {
		_, err := StrengthOf(c.r)
		var f fault.Fault
		require.ErrorAs(t, err, &f, "%v", c.r)
		assert.Equal(t, c.code, f.Code)
		assert.ErrorContains(t, f, c.says)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		_, err := FromProof(x)
		assert.Error(t, err, "%v", x)
		_, err = FromMassPercent(x)
		assert.Error(t, err, "%v", x)
		_, err = FromSG60(x)
		assert.Error(t, err, "%v", x)
	}
}
