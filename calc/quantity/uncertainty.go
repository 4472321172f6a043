package quantity

import (
	"math"

	"gaugebook/calc/fault"
)

// An Estimate is an input of a calculation as it stands in its formula: the
// value in the formula's unit and its standard uncertainty.
type Estimate struct {
	Value, U float64
}

// EstimateIn is the reading's value in u with its standard uncertainty.
func (r Reading) EstimateIn(u Unit) Estimate { return Estimate{Value: r.In(u), U: r.UncertaintyIn(u)} }

// Propagate works f out at the values of its inputs and gives each output its
// combined standard uncertainty by the law of propagation for uncorrelated
// inputs (JCGM 100:2008, 5.1.2, equation 10). The contribution of an input is
// found through f itself, as half the change of the output when the input moves
// from one standard uncertainty below to one above (5.1.3, note 2), so no
// derivative is written by hand. Where f refuses one side, because the input
// stands at the end of its range, the other side alone is used.
//
// f must not keep x, which is used again; it may return the same slice each
// time. Correlated inputs (one thermometer read twice) must be given as one.
func Propagate(in []Estimate, f func(x []float64) ([]float64, error)) ([]Estimate, error) {
	x := make([]float64, len(in))
	for i, e := range in {
		x[i] = e.Value
	}
	y, err := f(x)
	if err != nil {
		return nil, err
	}
	out := make([]Estimate, len(y))
	for j, v := range y {
		out[j].Value = v
	}
	low := make([]float64, len(y))
	for i, e := range in {
		if e.U == 0 {
			continue
		}
		x[i] = e.Value - e.U
		width := 2.0
		y, err := f(x)
		if err == nil {
			copy(low, y)
		} else {
			for j := range low {
				low[j] = out[j].Value
			}
			width--
		}
		x[i] = e.Value + e.U
		if y, err = f(x); err != nil {
			if width == 1 {
				return nil, err
			}
			width--
			y = nil
		}
		x[i] = e.Value
		for j := range out {
			high := out[j].Value
			if y != nil {
				high = y[j]
			}
			c := (high - low[j]) / width
			out[j].U += c * c // variances until all inputs are in
		}
	}
	for j := range out {
		out[j].U = math.Sqrt(out[j].U)
	}
	return out, nil
}

// Doubted reports whether any of the readings carries a half-width, so that
// the uncertainty of what is worked out from them has a meaning.
func Doubted(rs ...Reading) bool {
	for _, r := range rs {
		if r.HasHalfWidth() {
			return true
		}
	}
	return false
}

// PropagateFinite is Propagate, refusing results that overflowed before they
// reach rounding.
func PropagateFinite(in []Estimate, f func(x []float64) ([]float64, error)) ([]Estimate, error) {
	out, err := Propagate(in, f)
	if err != nil {
		return out, err
	}
	for _, e := range out {
		if math.IsNaN(e.Value) || math.IsInf(e.Value, 0) {
			return out, fault.Fault{Code: fault.TooHigh, Limit: "the figures are too large to work with", Remedy: "check the amounts and their units"}
		}
	}
	return out, nil
}
