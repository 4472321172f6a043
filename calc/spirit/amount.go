package spirit

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// The convention an amount was given in decides the temperature at which its
// volume counts and how its weight was found; the two are never mixed.
//
// US: gallons at 60 °F; pounds in air, one gallon being SG/0.120074 lb with the
// specific gravity 60/60 °F in air (27 CFR 30.41). Metric: litres at 20 °C;
// kilograms on a scale in air of 1.2 kg/m³ (OIML D 28). The water of the first
// is 1.7e-5 lighter than that of the second.
type convention struct {
	scale          *scale
	volume, weight quantity.Unit
	basis          string
}

func us() convention     { return convention{&scale60F, quantity.Gallon, quantity.Pound, "60 °F"} }
func metric() convention { return convention{&scale20, quantity.Litre, quantity.Kilogram, "20 °C"} }

func conventionOf(u quantity.Unit) convention {
	switch u {
	case quantity.Gallon, quantity.Pound, quantity.Ounce:
		return us()
	}
	return metric()
}

// gallonsPerPoundOfWater is the factor of 27 CFR 30.41, one over the 8.32823 lb
// of 21.161.
const gallonsPerPoundOfWater = 0.120074

// litresPerGallon is exact: 231 cubic inches of 2.54³ cm³.
const litresPerGallon = 3.785411784

// litres of a mass in kg at the convention's base temperature.
func (c convention) litres(mass, p float64) float64 {
	ρ, _ := c.scale.density(p)
	return mass / ρ * 1000
}

// volumeOf is a mass in kg as the convention's volume.
func (c convention) volumeOf(mass, p float64) float64 {
	v := c.litres(mass, p)
	if c.volume == quantity.Gallon {
		v /= litresPerGallon
	}
	return v
}

// heft is the weight in air, in the convention's unit, of a kg of mass.
func (c convention) heft(p float64) float64 {
	ρ, _ := c.scale.density(p)
	if c.weight == quantity.Pound {
		sg := (ρ - float64(AirDensity)) / (c.scale.water - float64(AirDensity))
		return 1000 / ρ / litresPerGallon * sg / gallonsPerPoundOfWater
	}
	return (1 - float64(AirDensity)/ρ) / (1 - float64(AirDensity/WeightDensity))
}

// massOf is the mass in kg of an amount x of unit u, a volume at the
// convention's base temperature or a weight in air.
func (c convention) massOf(u quantity.Unit, x, p float64) float64 {
	if u.Dimension() == quantity.Volume {
		ρ, _ := c.scale.density(p)
		return quantity.Figure{Value: x, Unit: u}.In(quantity.Litre).Value * ρ / 1000
	}
	return quantity.Figure{Value: x, Unit: u}.In(c.weight).Value / c.heft(p)
}

// amountOf is a mass in kg as an amount of unit u: the inverse of massOf.
func (c convention) amountOf(u quantity.Unit, mass, p float64) float64 {
	if u.Dimension() == quantity.Volume {
		return quantity.Figure{Value: c.litres(mass, p), Unit: quantity.Litre}.In(u).Value
	}
	return quantity.Figure{Value: mass * c.heft(p), Unit: c.weight}.In(u).Value
}

// checkAmount holds a typed volume or weight to its dimension and above zero.
func checkAmount(r quantity.Reading, d quantity.Dimension) error {
	want := "give it in gal or L"
	if d == quantity.Mass {
		want = "give it in lb or kg"
	}
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: "a " + d.String() + " is needed", Remedy: want}
	case r.Unit().Dimension() != d:
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not a " + d.String(), Remedy: want}
	case r.Float() <= 0:
		return fault.Fault{Code: fault.TooLow, Value: r.String(), Limit: "is not above 0", Remedy: "check the figure"}
	}
	return nil
}

// checkVolumeOrWeight is checkAmount for a field that takes both.
func checkVolumeOrWeight(r quantity.Reading) error {
	if r.Unit().Dimension() == quantity.Mass {
		return checkAmount(r, quantity.Mass)
	}
	return checkAmount(r, quantity.Volume)
}

// estimate is a reading in its own unit.
func estimate(r quantity.Reading) quantity.Estimate { return r.EstimateIn(r.Unit()) }

// fraction is the mass fraction behind a figure in proof or % vol at 20 °C.
func fraction(u quantity.Unit, x float64) (float64, error) {
	s, err := strengthIn(u, x)
	return float64(s.p), err
}

// places shows a weight or volume: a person's scale has no more.
const places = 2
