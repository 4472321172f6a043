package spirit

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// MassFraction is kg of ethanol per kg of mixture, the one strength that
// temperature does not touch.
type MassFraction float64

// Celsius is a temperature in °C (ITS-90; R 22 was fitted on IPTS-68, which
// parts from it by less than 0.01 K here).
type Celsius float64

// FromFahrenheit is a temperature given in °F.
func FromFahrenheit(f float64) Celsius { return Celsius((f - 32) / 1.8) }

// Fahrenheit is the temperature in °F.
func (t Celsius) Fahrenheit() float64 { return float64(t)*1.8 + 32 }

// TemperatureOf is a typed temperature.
func TemperatureOf(r quantity.Reading) Celsius { return Celsius(r.In(quantity.Celsius)) }

// The reference temperatures of the scales, and the range of OIML R 22.
const (
	At20C   Celsius = 20
	At15C   Celsius = 15
	At60F   Celsius = 28 / 1.8
	lowest  Celsius = -20
	hottest Celsius = 40
)

// Density is in kg/m³, in vacuo unless a name says 'in air'.
type Density float64

// Weighing in air: the conventional air density and the density of the weights
// by which scales are adjusted (OIML D 28:2004, from memory).
const (
	AirDensity    Density = 1.2
	WeightDensity Density = 8000
)

// InAir is the apparent density found by weighing in air against weights of
// WeightDensity: (ρ − a)/(1 − a/w). A gallon of water at 60 °F so weighs
// 8.32837 lb; 27 CFR 21.161 has 8.32823 (air and weights of its day).
func (d Density) InAir() Density { return (d - AirDensity) / (1 - AirDensity/WeightDensity) }

// isotherm is the formula of R 22 at one temperature: the coefficients of
// p^0 … p^11. Collapsing the temperature first makes a strength at that
// temperature a polynomial in one unknown.
type isotherm [12]float64

func at(t Celsius) isotherm {
	τ := float64(t - 20)
	iso := isotherm(coefficientsA)
	b := 0.0
	for k := len(coefficientsB) - 1; k >= 0; k-- {
		b = (b + coefficientsB[k]) * τ
	}
	iso[0] += b
	for k := 1; k < len(iso); k++ {
		c := 0.0
		for i := len(coefficientsC) - 1; i >= 0; i-- {
			if row := coefficientsC[i]; k <= len(row) {
				c += row[k-1]
			}
			c *= τ
		}
		iso[k] += c
	}
	return iso
}

// density and its slope at p, kg/m³.
func (iso *isotherm) density(p float64) (ρ, slope float64) {
	for k := len(iso) - 1; k >= 0; k-- {
		slope = slope*p + ρ
		ρ = ρ*p + iso[k]
	}
	return ρ, slope
}

// alcohol is p·ρ(p), kg of ethanol per m³ of mixture, and its slope.
func (iso *isotherm) alcohol(p float64) (a, slope float64) {
	ρ, s := iso.density(p)
	return p * ρ, ρ + p*s
}

// The formula is carried this far past water and past ethanol, where a reading
// stands for no liquid: a hydrometer in warm spirit near 200 proof shows more
// than 200. Both density and alcohol stay monotone there (tested).
const (
	least = -0.05
	most  = 1.08
)

// solve finds p in [least, most] where f, rising or falling throughout, is y:
// Newton steps, and a bisection wherever a step would leave the bracket. It
// returns NaN if y lies outside what the bracket gives.
func solve(f func(float64) (float64, float64), y, start float64) float64 {
	lo, hi := least, most
	flo, _ := f(lo)
	fhi, _ := f(hi)
	rising := fhi > flo
	if (y < flo) == rising && y != flo || (y > fhi) == rising && y != fhi {
		return math.NaN()
	}
	p := start
	for range 60 {
		v, slope := f(p)
		if (v < y) == rising {
			lo = p
		} else {
			hi = p
		}
		next := p - (v-y)/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-p) < 1e-14 {
			return next
		}
		p = next
	}
	return p
}

// massFraction of the liquid that holds share of its volume as pure ethanol,
// both at the isotherm's temperature; pure is the density of ethanol there.
func (iso *isotherm) massFraction(share, pure float64) float64 {
	return solve(iso.alcohol, share*pure, share/(1.25-0.25*share))
}

// share is the part of the volume that pure ethanol would fill.
func (iso *isotherm) share(p, pure float64) float64 {
	a, _ := iso.alcohol(p)
	return a / pure
}

// A scale is an isotherm with its pure ethanol, at a reference temperature.
type scale struct {
	isotherm
	t              Celsius
	water, ethanol float64 // kg/m³
}

func scaleAt(t Celsius) scale {
	s := scale{isotherm: at(t), t: t}
	s.water, _ = s.density(0)
	s.ethanol, _ = s.density(1)
	return s
}

// The three reference scales, worked out once and never changed.
var (
	scale20  = scaleAt(At20C)
	scale15  = scaleAt(At15C)
	scale60F = scaleAt(At60F)
)

// checkTemperature holds t inside the range of the formula.
func checkTemperature(t Celsius) error {
	if math.IsNaN(float64(t)) || t < lowest-1e-9 || t > hottest+1e-9 {
		code, remedy := fault.TooHigh, "cool the sample below 40 °C (104 °F) and read again"
		if t < lowest {
			code, remedy = fault.TooLow, "let the sample come to room temperature and read again"
		}
		return fault.Fault{Code: code, Value: quantity.Fixed(float64(t), 1) + " °C",
			Limit: "is outside −20 to 40 °C, the range of the density formula (OIML R 22)", Remedy: remedy}
	}
	return nil
}
