package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Way is how a still is run: how many ideal plates the vapour climbs above
// the pot, and how much of what condenses flows back over them. The zero Way is
// a bare pot.
type Way struct {
	Plates float64 // effective, above the pot: 0 to 30, a part of a plate counts as a part
	Reflux float64 // moles returned for each mole drawn: 0 to 1000, or TotalReflux
}

// TotalReflux stands where the reflux is not known: plates are then counted as
// if everything flowed back.
func TotalReflux() float64 { return math.Inf(1) }

// Common practice, no source: a pot's hood and neck work as 0.2 to 0.6 plates
// above it; a tray of a small fruit column as 0.5 to 0.7, and its dephlegmator
// gives a reflux of 0.5 to 2.

func (w Way) check() error {
	var faults fault.List
	if !(w.Plates >= 0 && w.Plates <= 30) {
		faults.Add("plates", outside(w.Plates, 30, "0 to 30 effective plates", "count a tray as about 0.6 of a plate"))
	}
	if !(w.Reflux >= 0 && w.Reflux <= 1000) && !math.IsInf(w.Reflux, 1) {
		faults.Add("reflux", outside(w.Reflux, 1000, "a reflux of 0 to 1000", "give what flows back over what is drawn, 1 where it is half and half"))
	}
	return faults.Err()
}

func outside(x, high float64, in, remedy string) error {
	f := fault.Fault{Code: fault.TooLow, Value: quantity.Fixed(x, 2), Limit: "is outside " + in, Remedy: remedy}
	if x > high {
		f.Code = fault.TooHigh
	}
	return f
}

// drawn is the part of what condenses at the head that is drawn off. Where the
// reflux is not known, all of it counts.
func (w Way) drawn() float64 {
	if math.IsInf(w.Reflux, 1) {
		return 1
	}
	return 1 / (w.Reflux + 1)
}

// distillate is the mole fraction that comes over from a pot at x.
//
// Moles overflow constantly (the heats of vaporisation of ethanol and water,
// 39 and 41 kJ/mol, are near enough), nothing is held up on the plates, and
// what condenses at the head has the composition of the vapour. Down the column,
// the liquid leaving a plate is in equilibrium with the vapour leaving it, and
// the vapour that rises to it is (1−a) x + a d, with a the part drawn and d the
// distillate (McCabe and Thiele, Ind. Eng. Chem. 17 (1925) 605, from memory).
// The top plate, if in part, moves its liquid by that part of the way to
// equilibrium. A richer d meets a richer pot, so exactly one fits.
func (e *Equilibrium) distillate(x float64, w Way) float64 {
	y0 := e.vapour(x)
	if w.Plates == 0 || w.Reflux == 0 || y0 == 0 {
		return y0
	}
	full := int(w.Plates)
	part := w.Plates - float64(full)
	a, most := 0.0, azeotrope
	if math.IsInf(w.Reflux, 1) {
		for range full { // each plate's liquid is as the vapour below it
			y0 = e.vapour(y0)
		}
		full = 0
	} else {
		a = w.drawn()
		most = min(most, y0/a)
	}
	excess := func(d float64) float64 {
		y := (1-a)*(d+part*(e.liquid(d)-d)) + a*d
		for range full {
			y = (1-a)*e.liquid(y) + a*d
		}
		return y - y0
	}
	switch { // rounding can carry either end past the root
	case excess(y0) >= 0:
		return y0
	case excess(most) <= 0:
		return most
	}
	return root(excess, y0, most, 1e-12)
}
