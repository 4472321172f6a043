package cask

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// checkBetween holds a needed figure between two others of its dimension.
func checkBetween(r quantity.Reading, what string, low, high quantity.Reading) error {
	rangeOf := "the range is " + low.Digits() + " to " + high.String()
	return quantity.Between(r, what, low, high, rangeOf, rangeOf+": check the figure and its unit")
}

// checkAbove holds a needed figure to a dimension and above zero.
func checkAbove(r quantity.Reading, what string, d quantity.Dimension) error {
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: what + " is needed", Remedy: "give it in " + quantity.Units(d)[0].Label() + " or another unit of " + d.String()}
	case r.Unit().Dimension() != d:
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not " + what, Remedy: "give it in " + quantity.Units(d)[0].Label() + " or another unit of " + d.String()}
	case r.Float() <= 0:
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is not above 0", Remedy: "check the figure"}
	}
	return nil
}

func pct(s string) quantity.Reading   { return quantity.MustParse(s, quantity.Percent) }
func plain(s string) quantity.Reading { return quantity.MustParse(s, quantity.NoUnit) }

// baseOf is the temperature at which a volume of this unit counts: gallons at
// 60 °F, litres at 20 °C.
func baseOf(u quantity.Unit) spirit.Celsius {
	if u == quantity.Gallon {
		return spirit.At60F
	}
	return spirit.At20C
}

// strengthIn is a strength from a figure in proof or % vol at 20 °C.
func strengthIn(u quantity.Unit, x float64) (spirit.Strength, error) {
	if u == quantity.Proof {
		return spirit.FromProof(x)
	}
	return spirit.FromABV20(x)
}

// ethanolDensity is kg/L of pure ethanol at 20 °C (OIML R 22).
var ethanolDensity = func() float64 {
	s, _ := spirit.FromMassFraction(1)
	return float64(s.DensityAt(spirit.At20C)) / 1000
}()

// litres is a mass of a strength as litres at a temperature.
func litres(mass float64, s spirit.Strength, t spirit.Celsius) float64 {
	return mass / float64(s.DensityAt(t)) * 1000
}
