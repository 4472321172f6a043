package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Plan asks what a batch will give, in the words of the person who charges it.
type Plan struct {
	Volume, Strength quantity.Reading // of the charge, at 20 °C in litres or 60 °F in gallons
	Pressure         quantity.Reading // at the still; none for 1013.25 hPa, give or take 20
	Way              Way
	Heat             Kilowatt         // that boils, losses taken off; 0 where not known
	End, EndStill    quantity.Reading // strengths at which it ends, of the spirit or of what is left; one of them
}

// A Planned answers a Plan. Volumes are at 20 °C in litres, strengths on the
// scale of the charge's.
type Planned struct {
	Drawn, DrawnStrength quantity.Figure
	PureAlcohol          quantity.Figure // L, of what is drawn
	Left, LeftStrength   quantity.Figure
	Recovery             quantity.Figure // % of the charge's alcohol
	Minutes              quantity.Figure // of boiling; no unit where the heat is not known
	Curve                Curve
	quantity.Explained
}

// Work distils the plan (see Distil). The uncertainty joins that of the charge,
// the pressure and the end with half the width between the two models, which
// differ by up to half a % vol in what a pot gives; that of plates and reflux is
// not in it, for nobody knows it before the run (see Learn).
func (p Plan) Work() (Planned, error) {
	var faults fault.List
	pressure := p.Pressure
	if pressure.IsNone() {
		pressure = usualPressure()
	}
	faults.Add("pressure", checkDimension(pressure, quantity.Pressure, "give it in hPa, kPa, mmHg or psi"))
	scale := p.Strength.Unit()
	for _, in := range []struct {
		field string
		r     quantity.Reading
	}{{"strength", p.Strength}, {"end", p.End}, {"end_still", p.EndStill}} {
		if in.field == "strength" || !in.r.IsNone() {
			_, err := spirit.StrengthOf(in.r)
			faults.Add(in.field, err)
		}
	}
	if p.Volume.Unit().Dimension() != quantity.Volume || p.Volume.Float() <= 0 {
		faults = append(faults, fault.Fault{Code: fault.TooLow, Field: "charge", Value: p.Volume.String(), Limit: "is not a volume above 0", Remedy: "give the volume of the charge in L or gal"})
	}
	if err := faults.Err(); err != nil {
		return Planned{}, err
	}
	in := []quantity.Estimate{p.Volume.EstimateIn(p.Volume.Unit()), p.Strength.EstimateIn(scale), pressure.EstimateIn(quantity.Hectopascal),
		p.End.EstimateIn(p.End.Unit()), p.EndStill.EstimateIn(p.EndStill.Unit())}
	work := func(x []float64, m Model) (Curve, error) {
		at := func(v float64, u quantity.Unit) quantity.Reading {
			return quantity.FromDecimal(quantity.Snap(v), u)
		}
		charge, err := ChargeOf(at(x[0], p.Volume.Unit()), at(x[1], scale))
		if err != nil {
			return Curve{}, err
		}
		r := Run{Charge: charge, Way: p.Way, Pressure: Pressure(x[2]), Model: m, Heat: p.Heat}
		if r.End.Spirit, err = strengthOrWater(p.End, x[3]); err != nil {
			return Curve{}, err
		}
		if r.End.Still, err = strengthOrWater(p.EndStill, x[4]); err != nil {
			return Curve{}, err
		}
		return Distil(r)
	}
	totals := func(c Curve) []float64 {
		l := c.Last()
		return []float64{l.Drawn.Volume(), l.Drawn.Strength().In(scale), l.Drawn.PureAlcohol(), l.Left.Volume(), l.Left.Strength().In(scale), 100 * c.Recovery(), l.Minutes}
	}
	x := make([]float64, len(in))
	for i, e := range in {
		x[i] = e.Value
	}
	curve, err := work(x, NRTL)
	if err != nil {
		return Planned{}, err
	}
	out, err := quantity.Propagate(in, func(x []float64) ([]float64, error) {
		c, err := work(x, NRTL)
		if err != nil {
			return nil, err
		}
		return totals(c), nil
	})
	if err != nil {
		return Planned{}, err
	}
	if other, err := work(x, VanLaar); err == nil {
		for i, v := range totals(other) {
			out[i].U = math.Hypot(out[i].U, (v-out[i].Value)/2/math.Sqrt(3))
		}
	}
	for i := range out { // the strength asked for is met whatever else is in doubt; what binary arithmetic leaves of that is none
		if out[i].U < 1e-9*math.Abs(out[i].Value) {
			out[i].U = 0
		}
	}
	fig := func(i int, u quantity.Unit) quantity.Figure {
		return quantity.Figure{Value: out[i].Value, U: out[i].U, Unit: u, HasU: true}
	}
	planned := Planned{
		Drawn: fig(0, quantity.Litre), DrawnStrength: fig(1, scale), PureAlcohol: fig(2, quantity.Litre),
		Left: fig(3, quantity.Litre), LeftStrength: fig(4, scale), Recovery: fig(5, quantity.Percent),
		Curve: curve, Explained: curve.Explained,
	}
	if p.Heat > 0 {
		planned.Minutes = fig(6, quantity.Minute)
	}
	return planned, nil
}

func strengthOrWater(r quantity.Reading, x float64) (spirit.Strength, error) {
	if r.IsNone() {
		return spirit.Strength{}, nil
	}
	return spirit.StrengthOf(quantity.FromDecimal(quantity.Snap(x), r.Unit()))
}
