package quantity

import (
	"math"
	"strconv"

	"github.com/shopspring/decimal"
)

// Snap is a worked-out figure as the decimal a person would have got: nine
// places, or twelve significant digits where that is coarser. It takes off the
// noise of binary arithmetic, so that 189.95 computed as 189.9499999999 rounds
// as 189.95 does, on every machine. It panics on NaN and infinity, which no
// checked calculation gives.
func Snap(x float64) decimal.Decimal {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		panic("quantity: a figure that is not finite reached rounding")
	}
	places := 9
	if a := math.Abs(x); a >= 1000 {
		places = max(0, 12-len(strconv.FormatFloat(a, 'f', 0, 64)))
	}
	return decimal.RequireFromString(strconv.FormatFloat(x, 'f', places, 64))
}

// significant is x to n significant digits.
func significant(x float64, n int) decimal.Decimal {
	d, err := decimal.NewFromString(strconv.FormatFloat(x, 'e', n-1, 64))
	if err != nil {
		panic("quantity: a figure that is not finite reached rounding")
	}
	return d
}

// ProofToTenth rounds a proof to the nearest tenth: hundredths below 5 are
// dropped, 5 and over go up (27 CFR 30.23, 30.31).
func ProofToTenth(d decimal.Decimal) decimal.Decimal { return d.Round(1) }

// ProofGallonsToTenth rounds proof gallons to the nearest tenth, 0.05 and over
// upwards (27 CFR 30.51, 30.63, 30.64).
func ProofGallonsToTenth(d decimal.Decimal) decimal.Decimal { return d.Round(1) }

// WineGallonsToHundredth keeps wine gallons measured by volume to two decimals
// (27 CFR 30.51).
func WineGallonsToHundredth(d decimal.Decimal) decimal.Decimal { return d.Round(2) }

// WineGallonsToTenth rounds wine gallons found from weight to the nearest tenth
// (27 CFR 30.64).
func WineGallonsToTenth(d decimal.Decimal) decimal.Decimal { return d.Round(1) }

// PoundsToHalf rounds the weight of a package of more than 10 wine gallons to
// the nearest pound or half pound (27 CFR 30.43).
func PoundsToHalf(d decimal.Decimal) decimal.Decimal {
	two := decimal.NewFromInt(2)
	return d.Mul(two).Round(0).Div(two)
}

// PoundsToHundredth rounds the weight of a package of 10 wine gallons or less
// to the hundredth of a pound (27 CFR 30.44).
func PoundsToHundredth(d decimal.Decimal) decimal.Decimal { return d.Round(2) }

// OuncesUp parts a weight in pounds into whole pounds and ounces, any part of
// an ounce counting as a whole one (27 CFR 30.44(b)). The weight is first kept
// to two decimals, as the section's examples do it.
func OuncesUp(lb decimal.Decimal) (pounds, ounces int64) {
	lb = PoundsToHundredth(lb)
	whole := lb.Floor()
	oz := lb.Sub(whole).Mul(decimal.NewFromInt(16)).Ceil()
	if oz.IntPart() == 16 {
		return whole.IntPart() + 1, 0
	}
	return whole.IntPart(), oz.IntPart()
}

// ABVToTenth rounds a strength in % vol to the nearest tenth, as a % vol
// hydrometer is read and a strength declared (common practice, no source).
func ABVToTenth(d decimal.Decimal) decimal.Decimal { return d.Round(1) }
