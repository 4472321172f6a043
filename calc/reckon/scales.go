package reckon

import (
	"gaugebook/calc/quantity"
)

// The scales that several calculations share, the bare one first. The strength
// scales part: proof is read at 60 °F and % vol at 20 °C, and neither is
// converted where an instrument was read.

func proofOrABV() []Scale {
	return []Scale{{quantity.Proof, "0", "200"}, {quantity.ABV20, "0", "100"}}
}

func abvOrProof() []Scale {
	return []Scale{{quantity.ABV20, "0", "100"}, {quantity.Proof, "0", "200"}}
}

// temperatures is the range of the density formula.
func temperatures() []Scale {
	return []Scale{{quantity.Celsius, "-20", "40"}, {quantity.Fahrenheit, "-4", "104"}}
}

func temperaturesF() []Scale {
	c := temperatures()
	return []Scale{c[1], c[0]}
}

// The largest amounts stand for a slip of the thumb: no tank of the trade holds more.

func volumesUS() []Scale {
	return []Scale{{quantity.Gallon, "0", "1000000"}, {quantity.Litre, "0", "4000000"}}
}

func volumes() []Scale {
	us := volumesUS()
	return []Scale{us[1], us[0]}
}

func weightsUS() []Scale {
	return []Scale{{quantity.Pound, "0", "10000000"}, {quantity.Kilogram, "0", "5000000"}}
}

func weights() []Scale {
	us := weightsUS()
	return []Scale{us[1], us[0]}
}

// american reports whether an amount was given in US units, in which the answer
// is then given too.
func american(r quantity.Reading) bool {
	switch r.Unit() {
	case quantity.Gallon, quantity.Pound, quantity.Ounce:
		return true
	}
	return false
}
