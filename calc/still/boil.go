package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Boiling asks what goes with one of three: the strength of a boiling liquid,
// the strength of its vapour, or the temperature of both. Strengths are in
// proof or % vol; the answer is on the scale of the one given, or in % vol.
type Boiling struct {
	Liquid, Vapour, Temp quantity.Reading // exactly one
	Pressure             quantity.Reading // at the still; none for 1013.25 hPa, give or take 20
}

// A Boil is vapour and liquid in equilibrium.
type Boil struct {
	Temp           quantity.Figure // °C, or °F where that was given
	Liquid, Vapour quantity.Figure
	LiquidMole     MoleFraction
	VapourMole     MoleFraction
	Pressure       quantity.Figure // hPa
	Azeotrope      quantity.Figure // its boiling point, where the range ends, in Temp's unit
	Water          quantity.Figure // that of water, where it begins
	quantity.Explained
}

// What the published points leave in doubt of any model: mean deviations of
// NRTL and van Laar from the 15 points of Carey and Lewis (1932), taken as
// standard uncertainties.
const (
	doubtOfTemp   = 0.15  // °C
	doubtOfVapour = 0.005 // mole fraction
)

// usualPressure is what is assumed of a day without a barometer, at sea level.
func usualPressure() quantity.Reading {
	return quantity.MustParse("1013.25±35", quantity.Hectopascal)
}

// BoilAt relates liquid, vapour and boiling point by NRTL and Antoine at a
// pressure of 550 to 1100 hPa. The doubts of the readings and of the published
// points are joined. A temperature beyond the ends of the range by less than
// twice its doubt is taken as the end: water, or the azeotrope at 97.2 % vol.
//
// Against the published table: within 0.012 in vapour and 0.65 K; the table
// itself scatters so (TestPublishedPoints).
func BoilAt(b Boiling) (Boil, error) {
	var faults fault.List
	p := b.Pressure
	if p.IsNone() {
		p = usualPressure()
	}
	faults.Add("pressure", checkDimension(p, quantity.Pressure, "give it in hPa, kPa, mmHg or psi"))
	given, field := pick(&faults, b)
	if err := faults.Err(); err != nil {
		return Boil{}, err
	}
	faults.Add("pressure", checkPressure(Pressure(p.In(quantity.Hectopascal))))
	scale := quantity.ABV20
	unit := quantity.Celsius
	in := given.EstimateIn(given.Unit())
	if field == "temp" {
		unit = given.Unit()
		in = given.EstimateIn(quantity.Celsius)
	} else {
		scale = given.Unit()
		s, err := spirit.StrengthOf(given)
		if err == nil && MoleFractionOf(s) > azeotrope {
			err = fault.Fault{Code: fault.TooHigh, Value: given.String(), Limit: "is above the azeotrope, " + quantity.Fixed(AzeotropeStrength().ABV20(), 1) + " % vol, which no boiling passes", Remedy: "check the figure and its unit"}
		}
		faults.Add(field, err)
	}
	if err := faults.Err(); err != nil {
		return Boil{}, err
	}
	inputs := []quantity.Estimate{in, p.EstimateIn(quantity.Hectopascal), {U: doubtOfTemp}, {U: doubtOfVapour}}
	out, err := quantity.Propagate(inputs, func(x []float64) ([]float64, error) {
		e, err := NewEquilibrium(NRTL, Pressure(x[1]))
		if err != nil {
			return nil, err
		}
		// The published points' doubt is on what is worked out, not on what was
		// read, and the ends, water and pure spirit, are in none.
		doubt := func(y float64) float64 { return x[3] * 4 * y * (1 - y) }
		var t, liquid, y float64
		switch field {
		case "temp":
			t, liquid = x[0], e.liquidAt(x[0]+x[2])
			y = e.vapour(liquid)
			y = min(y+doubt(y), azeotrope)
		case "vapour":
			if y, err = moleOf(scale, x[0]); err != nil {
				return nil, err
			}
			liquid = e.liquid(min(y+doubt(y), azeotrope))
			t = e.boiling(liquid) + x[2]
		default:
			if liquid, err = moleOf(scale, x[0]); err != nil {
				return nil, err
			}
			t, y = e.boiling(liquid)+x[2], e.vapour(liquid)
			y = min(y+doubt(y), azeotrope)
		}
		return []float64{t, MoleFraction(liquid).Strength().In(scale), MoleFraction(y).Strength().In(scale), liquid, y, e.boiling(azeotrope), e.boiling(0), x[1]}, nil
	})
	if err != nil {
		return Boil{}, err
	}
	// What was read is in doubt only where it was said so.
	fig := func(i int, u quantity.Unit, doubted bool) quantity.Figure {
		return quantity.Figure{Value: out[i].Value, U: out[i].U, Unit: u, HasU: doubted}
	}
	own := func(f string) bool { return f != field || given.HasHalfWidth() }
	a := Boil{
		Temp:   fig(0, quantity.Celsius, own("temp")).In(unit),
		Liquid: fig(1, scale, own("liquid")), Vapour: fig(2, scale, own("vapour")),
		LiquidMole: MoleFraction(out[3].Value), VapourMole: MoleFraction(out[4].Value),
		Azeotrope: fig(5, quantity.Celsius, p.HasHalfWidth()).In(unit), Water: fig(6, quantity.Celsius, p.HasHalfWidth()).In(unit),
		Pressure: fig(7, quantity.Hectopascal, p.HasHalfWidth()),
	}
	if field == "temp" {
		if err := a.reach(given, inputs[0].U, out[5], out[6]); err != nil {
			return Boil{}, err
		}
	}
	a.Explained = quantity.Explain(func(w *quantity.Working) { a.explain(w, given, field) })
	return a, nil
}

// reach refuses a temperature at which nothing of ethanol and water boils.
func (a Boil) reach(given quantity.Reading, u float64, azeotrope, water quantity.Estimate) error {
	t := given.In(quantity.Celsius)
	at := func(e quantity.Estimate) string {
		return quantity.Figure{Value: e.Value, Unit: quantity.Celsius}.In(given.Unit()).Text(1) + " at " + a.Pressure.Decimal().StringFixed(0) + " hPa"
	}
	switch {
	case t < azeotrope.Value-2*math.Hypot(math.Hypot(u, azeotrope.U), doubtOfTemp):
		return fault.List{{Code: fault.TooLow, Field: "temp", Value: given.String(), Limit: "is below the boiling point of the strongest spirit, " + at(azeotrope),
			Remedy: "early heads may come over below it; later, check the thermometer, its place and the pressure"}}
	case t > water.Value+2*math.Hypot(u, math.Hypot(water.U, doubtOfTemp)):
		return fault.List{{Code: fault.TooHigh, Field: "temp", Value: given.String(), Limit: "is above the boiling point of water, " + at(water),
			Remedy: "check the thermometer and the pressure"}}
	}
	return nil
}

// pick is the one reading that was given, and its field.
func pick(faults *fault.List, b Boiling) (quantity.Reading, string) {
	var given quantity.Reading
	field := ""
	for _, c := range []struct {
		field string
		r     quantity.Reading
	}{{"liquid", b.Liquid}, {"vapour", b.Vapour}, {"temp", b.Temp}} {
		switch {
		case c.r.IsNone():
		case field != "":
			*faults = append(*faults, fault.Fault{Code: fault.Conflict, Field: c.field, Value: c.r.String(), Limit: "stands beside " + field, Remedy: "give one of liquid, vapour and temp"})
		default:
			given, field = c.r, c.field
		}
	}
	switch field {
	case "":
		*faults = append(*faults, fault.Fault{Code: fault.Missing, Field: "liquid", Limit: "a strength or a temperature is needed", Remedy: "give one of liquid, vapour and temp"})
	case "temp":
		faults.Add(field, checkDimension(given, quantity.Temperature, "give it in °C or °F"))
	default:
		faults.Add(field, checkDimension(given, quantity.Strength, "give it in proof or % vol"))
	}
	return given, field
}

func checkDimension(r quantity.Reading, d quantity.Dimension, remedy string) error {
	if r.Unit().Dimension() != d {
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not a " + d.String(), Remedy: remedy}
	}
	return nil
}

func moleOf(scale quantity.Unit, x float64) (float64, error) {
	from := spirit.FromABV20
	if scale == quantity.Proof {
		from = spirit.FromProof
	}
	s, err := from(x)
	return float64(MoleFractionOf(s)), err
}

func (a Boil) explain(w *quantity.Working, given quantity.Reading, field string) {
	p := a.Pressure.Decimal().StringFixed(1) + " hPa"
	switch field {
	case "temp":
		w.Add("the liquid whose partial pressures add up to "+p+" at "+given.String()+" (Antoine; NRTL), moles of ethanol per mole", quantity.Fixed(float64(a.LiquidMole), 4))
	case "vapour":
		w.Add("the vapour in moles of ethanol per mole", quantity.Fixed(float64(a.VapourMole), 4))
		w.Add("the liquid that boils to it at "+p+" (Antoine; NRTL)", quantity.Fixed(float64(a.LiquidMole), 4))
	default:
		w.Add("the liquid in moles of ethanol per mole", quantity.Fixed(float64(a.LiquidMole), 4))
	}
	t := a.Temp.In(quantity.Celsius).Value
	γe, γw := NRTL.activities(float64(a.LiquidMole), t)
	e, water := VapourPressures(spirit.Celsius(t))
	w.Add("vapour pressures of pure ethanol and pure water at "+quantity.Fixed(t, 2)+" °C (Antoine)", quantity.Fixed(float64(e), 1)+" and "+quantity.Fixed(float64(water), 1)+" hPa")
	w.Add("activity coefficients there (NRTL)", quantity.Fixed(γe, 4)+" and "+quantity.Fixed(γw, 4))
	w.Add("strength of the liquid", a.Liquid.Text(2))
	w.Add("boiling point", a.Temp.Text(2))
	w.Add("the ethanol's part of the vapour, at most the azeotrope's "+quantity.Fixed(azeotrope, 4), quantity.Fixed(float64(a.VapourMole), 4))
	w.Add("strength of the vapour, condensed", a.Vapour.Text(2))
}

// A Comparison holds what a vapour thermometer implies against what came over.
type Comparison struct {
	Implied quantity.Figure // strength of the vapour, on the scale of the spirit read
	Gap     quantity.Figure // spirit read less implied
	Agrees  bool            // the gap is within its expanded uncertainty
	Verdict string
	quantity.Explained
}

// placing is how far a vapour thermometer and a parrot stand apart even where
// all is well: the spirit read left the thermometer a minute before, and mixed
// in the parrot (common practice, no source), °C.
const placing = 0.3

// CompareVapour asks whether the temperature of the vapour that leaves the
// still and the strength at the parrot can both be true at the day's pressure.
// The thermometer must stand behind the last plate or dephlegmator; before it,
// the vapour is weaker than the spirit.
func CompareVapour(temp, pressure, read quantity.Reading) (Comparison, error) {
	var faults fault.List
	s, err := spirit.StrengthOf(read)
	faults.Add("strength", err)
	faults.Add("temp", checkDimension(temp, quantity.Temperature, "give it in °C or °F"))
	if err := faults.Err(); err != nil {
		return Comparison{}, err
	}
	half := quantity.FromDecimal(quantity.Snap(math.Hypot(placing, math.Sqrt(3)*temp.UncertaintyIn(quantity.Celsius))).Round(4), quantity.Celsius)
	t := quantity.FromDecimal(quantity.Snap(temp.In(quantity.Celsius)).Round(6), quantity.Celsius).WithHalfWidth(half)
	b, err := BoilAt(Boiling{Temp: t, Pressure: pressure})
	if err != nil {
		return Comparison{}, err
	}
	implied := b.VapourMole.Strength().In(read.Unit())
	u := b.Vapour.U
	uRead := doubtOf(read)
	if read.Unit() == quantity.Proof {
		u, uRead = 2*u, 2*uRead
	}
	c := Comparison{Implied: quantity.Figure{Value: implied, U: u, Unit: read.Unit(), HasU: true},
		Gap: quantity.Figure{Value: s.In(read.Unit()) - implied, U: math.Hypot(u, uRead), Unit: read.Unit(), HasU: true}}
	c.Agrees = math.Abs(c.Gap.Value) <= c.Gap.Expanded()
	switch {
	case c.Agrees:
		c.Verdict = "The vapour's temperature and the spirit's strength agree within measurement."
	case c.Gap.Value > 0:
		c.Verdict = "The spirit is stronger than its vapour's temperature allows, by " + c.Gap.Text(1) + ": is the thermometer before the last plate, does it read high, or is the pressure another?"
	default:
		c.Verdict = "The spirit is weaker than its vapour's temperature says, by " + quantity.Figure{Value: -c.Gap.Value, U: c.Gap.U, HasU: true, Unit: c.Gap.Unit}.Text(1) + ": does the thermometer read low or stand in a draught, is the hydrometer's temperature right, or does water get into the spirit?"
	}
	c.Explained = quantity.Explain(func(w *quantity.Working) {
		*w = append(*w, b.Working()...)
		w.Add("the strength read, less that", c.Gap.Text(2))
	})
	return c, nil
}

// StandardPressure is the pressure at an altitude in the standard atmosphere
// (ISO 2533:1975, from memory: 1013.25 hPa (1 − 2.25577e-5 h/m)^5.25588), with the weather's doubt of
// 20 hPa (common practice, no source). Range −500 to 4500 m. A weather report's
// pressure is reduced to sea level and is not the still's.
func StandardPressure(altitude quantity.Reading) (quantity.Reading, error) {
	if err := checkDimension(altitude, quantity.Length, "give it in m"); err != nil {
		return quantity.Reading{}, fault.List{named(err, "altitude")}
	}
	m := altitude.In(quantity.Metre)
	if !(m >= -500 && m <= 4500) {
		f := fault.Fault{Code: fault.TooHigh, Field: "altitude", Value: altitude.String(), Limit: "is outside −500 to 4500 m", Remedy: "give the altitude of the still, or read a barometer"}
		if m < 0 {
			f.Code = fault.TooLow
		}
		return quantity.Reading{}, fault.List{f}
	}
	hPa := float64(StandardAtmosphere) * math.Exp(5.25588*math.Log(1-2.25577e-5*m))
	return quantity.FromDecimal(quantity.Snap(hPa).Round(1), quantity.Hectopascal).WithHalfWidth(quantity.MustParse("35", quantity.Hectopascal)), nil
}

func named(err error, field string) fault.Fault {
	var l fault.List
	l.Add(field, err)
	return l[0]
}
