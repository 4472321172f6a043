package cask

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// figure dresses an estimate with its unit.
func figure(e quantity.Estimate, u quantity.Unit, doubted bool) quantity.Figure {
	return quantity.Figure{Value: e.Value, Unit: u, U: e.U, HasU: doubted}
}

// checkBetween holds a needed figure between two others of its dimension.
func checkBetween(r quantity.Reading, what string, low, high quantity.Reading) error {
	u := low.Unit()
	remedy := "the range is " + low.Digits() + " to " + high.String() + ": check the figure and its unit"
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: what + " is needed", Remedy: "the range is " + low.Digits() + " to " + high.String()}
	case r.Unit().Dimension() != u.Dimension():
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not " + what, Remedy: "give it in " + u.Label()}
	case r.In(u) < low.Float():
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is below " + low.String(), Remedy: remedy}
	case r.In(u) > high.Float():
		return fault.Fault{Code: fault.TooHigh, Value: r.String(), Limit: "is above " + high.String(), Remedy: remedy}
	}
	return nil
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

// worked is quantity.Propagate for finite results.
func worked(in []quantity.Estimate, f func(x []float64) ([]float64, error)) ([]quantity.Estimate, error) {
	out, err := quantity.Propagate(in, f)
	if err != nil {
		return nil, err
	}
	for _, e := range out {
		if math.IsNaN(e.Value) || math.IsInf(e.Value, 0) {
			return nil, fault.Fault{Code: fault.TooHigh, Limit: "the figures are too large to work with", Remedy: "check the amounts and their units"}
		}
	}
	return out, nil
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
