package spirit

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// Strength is how strong a spirit is: a mass fraction, seen on any scale. The
// zero Strength is water.
type Strength struct{ p MassFraction }

// FromMassFraction is a strength from kg ethanol per kg; faults outside 0 to 1.
func FromMassFraction(p MassFraction) (Strength, error) {
	if !(p >= -rim && p <= 1+rim) {
		return Strength{}, offScale(float64(p)*100, 100, "% by mass")
	}
	return Strength{clamp(float64(p))}, nil
}

// FromMassPercent is a strength from g ethanol per 100 g.
func FromMassPercent(percent float64) (Strength, error) {
	return FromMassFraction(MassFraction(percent / 100))
}

// FromABV20 is a strength from % vol at 20 °C, the metric scale (OIML R 22).
func FromABV20(percent float64) (Strength, error) {
	return scale20.from(percent/100, percent, 100, "% vol")
}

// FromABV15 is a strength from % vol at 15 °C.
func FromABV15(percent float64) (Strength, error) {
	return scale15.from(percent/100, percent, 100, "% vol at 15 °C")
}

// FromABV60F is a strength from % vol at 60 °F, half its proof.
func FromABV60F(percent float64) (Strength, error) {
	return scale60F.from(percent/100, percent, 100, "% vol at 60 °F")
}

// FromProof is a strength from US degrees of proof: twice the % vol at 60 °F
// (27 CFR 30.11).
func FromProof(proof float64) (Strength, error) {
	return scale60F.from(proof/200, proof, 200, "proof")
}

// FromDensity is the strength of an ethanol-water mixture of density d in vacuo
// at temperature t, −20 to 40 °C.
func FromDensity(d Density, t Celsius) (Strength, error) {
	if err := checkTemperature(t); err != nil {
		return Strength{}, err
	}
	s := scaleAt(t)
	return s.fromDensity(float64(d))
}

// FromDensityInAir is FromDensity for an apparent density by weighing in air.
func FromDensityInAir(d Density, t Celsius) (Strength, error) {
	return FromDensity(d*(1-AirDensity/WeightDensity)+AirDensity, t)
}

// FromSG60 is the strength for a specific gravity 60/60 °F in vacuo.
func FromSG60(sg float64) (Strength, error) { return scale60F.fromDensity(sg * scale60F.water) }

// FromSG20 is the strength for a specific gravity 20/20 °C in vacuo.
func FromSG20(sg float64) (Strength, error) { return scale20.fromDensity(sg * scale20.water) }

// StrengthOf is a typed strength: proof, or % vol at 20 °C.
func StrengthOf(r quantity.Reading) (Strength, error) {
	if r.IsNone() {
		return Strength{}, fault.Fault{Code: fault.Missing, Limit: "a strength is needed", Remedy: "give it in proof or % vol"}
	}
	s, err := strengthIn(r.Unit(), r.Float())
	return s, as(err, r)
}

// strengthIn is a strength from a figure in proof or % vol at 20 °C.
func strengthIn(u quantity.Unit, x float64) (Strength, error) {
	switch u {
	case quantity.Proof:
		return FromProof(x)
	case quantity.ABV20:
		return FromABV20(x)
	}
	return Strength{}, fault.Fault{Code: fault.WrongUnit, Limit: "is not a strength", Remedy: "give it in proof or % vol"}
}

// MassFraction is kg ethanol per kg.
func (s Strength) MassFraction() MassFraction { return s.p }

// MassPercent is g ethanol per 100 g.
func (s Strength) MassPercent() float64 { return 100 * float64(s.p) }

// ABV20 is % vol at 20 °C.
func (s Strength) ABV20() float64 { return 100 * scale20.share(float64(s.p), scale20.ethanol) }

// ABV15 is % vol at 15 °C.
func (s Strength) ABV15() float64 { return 100 * scale15.share(float64(s.p), scale15.ethanol) }

// ABV60F is % vol at 60 °F.
func (s Strength) ABV60F() float64 { return 100 * scale60F.share(float64(s.p), scale60F.ethanol) }

// Proof is US degrees of proof.
func (s Strength) Proof() float64 { return 200 * scale60F.share(float64(s.p), scale60F.ethanol) }

// In is the strength on the scale of u, proof or % vol at 20 °C.
func (s Strength) In(u quantity.Unit) float64 {
	if u == quantity.Proof {
		return s.Proof()
	}
	return s.ABV20()
}

// DensityAt is the density in vacuo at t, −20 to 40 °C; NaN outside, where the
// formula of R 22 says nothing.
func (s Strength) DensityAt(t Celsius) Density {
	switch t {
	case At20C:
		return s.on(&scale20)
	case At60F:
		return s.on(&scale60F)
	}
	if checkTemperature(t) != nil {
		return Density(math.NaN())
	}
	iso := at(t)
	ρ, _ := iso.density(float64(s.p))
	return Density(ρ)
}

// DensityInAirAt is the apparent density at t by weighing in air.
func (s Strength) DensityInAirAt(t Celsius) Density { return s.DensityAt(t).InAir() }

// SG60 is the specific gravity 60/60 °F in vacuo.
func (s Strength) SG60() float64 { return float64(s.on(&scale60F)) / scale60F.water }

// SG60InAir is the specific gravity 60/60 °F by weighing in air, on which the
// weights per gallon of the US tables rest (27 CFR 30.41, 30.64).
func (s Strength) SG60InAir() float64 {
	return float64(s.on(&scale60F)-AirDensity) / (scale60F.water - float64(AirDensity))
}

// SG20 is the specific gravity 20/20 °C in vacuo.
func (s Strength) SG20() float64 { return float64(s.on(&scale20)) / scale20.water }

func (s Strength) on(sc *scale) Density {
	ρ, _ := sc.density(float64(s.p))
	return Density(ρ)
}

// rim is how far past water or pure ethanol a result may lie and still be taken
// as water or ethanol: what rounding of a figure to 9 places can do.
const rim = 1e-7

func clamp(p float64) MassFraction { return MassFraction(min(max(p, 0), 1)) }

func (sc *scale) from(share, shown, top float64, unit string) (Strength, error) {
	if !(share >= -rim && share <= 1+rim) {
		return Strength{}, offScale(shown, top, unit)
	}
	return Strength{clamp(sc.massFraction(share, sc.ethanol))}, nil
}

func (sc *scale) fromDensity(ρ float64) (Strength, error) {
	if !(ρ <= sc.water*(1+rim) && ρ >= sc.ethanol*(1-rim)) {
		code, remedy := fault.TooHigh, "check for dissolved sugar or extract, which no density can tell from water; distil the sample first"
		if ρ < sc.ethanol {
			code, remedy = fault.TooLow, "check the figure, its unit and the temperature"
		}
		return Strength{}, fault.Fault{Code: code, Value: quantity.Fixed(ρ, 2) + " kg/m3",
			Limit:  "is no mixture of ethanol and water, which runs from " + quantity.Fixed(sc.ethanol, 2) + " to " + quantity.Fixed(sc.water, 2) + " kg/m3 at " + quantity.Fixed(float64(sc.t), 2) + " °C",
			Remedy: remedy}
	}
	return Strength{clamp(sc.fromDensityUnchecked(ρ))}, nil
}

func (sc *scale) fromDensityUnchecked(ρ float64) float64 {
	return solve(sc.density, ρ, (sc.water-ρ)/(sc.water-sc.ethanol))
}

func offScale(x, top float64, unit string) error {
	f := fault.Fault{Code: fault.TooLow, Limit: "is below 0 " + unit + ", which is water", Remedy: "check the figure"}
	if !(x < 0) {
		f.Code = fault.TooHigh
		f.Limit = "is above " + quantity.Fixed(top, 0) + " " + unit + ", pure alcohol"
		f.Remedy = "check the figure and its unit"
	}
	if !math.IsNaN(x) && !math.IsInf(x, 0) {
		f.Value = quantity.Snap(x).String() + " " + unit
	}
	return f
}

// as puts the reading as typed into a fault that was found deeper down.
func as(err error, r quantity.Reading) error {
	if f, ok := err.(fault.Fault); ok {
		f.Value = r.String()
		return f
	}
	return err
}
