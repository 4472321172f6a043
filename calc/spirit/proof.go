package spirit

import (
	"math"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Method says where a true proof comes from.
type Method string

// The two methods. Table 1 of the gauging manual is not printed in the CFR, so
// a result always says which of them it is.
const (
	Computed     Method = "computed"
	PrintedTable Method = "from the printed table"
)

// glass is the cubic expansion of a hydrometer's glass per K (OIML R 22, from
// memory).
const glass = 25e-6

// A Scale is what a % vol hydrometer's graduations mean: the temperature at
// which it floats at the strength it shows. The zero Scale is the metric one.
type Scale uint8

// The scales of % vol hydrometers.
const (
	Scale20C Scale = iota
	Scale15C
	Scale60F
)

func (s Scale) reference() *scale {
	return [...]*scale{&scale20, &scale15, &scale60F}[s]
}

// String is the calibration temperature.
func (s Scale) String() string { return [...]string{"20 °C", "15 °C", "60 °F"}[s] }

// A HydrometerReading is what stood on a hydrometer and on its thermometer,
// with each instrument's own correction (none for none) added to it.
type HydrometerReading struct {
	Indicated, Temp                     quantity.Reading
	IndicatedCorrection, TempCorrection quantity.Reading
	Scale                               Scale  // of a % vol hydrometer; TrueProof ignores it
	Table                               *Table // an owner's printed Table 1, used by TrueProof where it covers the reading; nil for none
}

// Corrected is a hydrometer reading brought to its scale's temperature.
type Corrected struct {
	True     quantity.Figure // unrounded, in proof or in % vol at 20 °C
	Rounded  decimal.Decimal // to the nearest tenth
	Strength Strength        // of True
	Method   Method
	Caution  string // what to know before the figure is used; usually empty
	quantity.Explained
}

// cautionCold stands beside a proof computed below 45 °F.
const cautionCold = "Below 45 °F the printed Table 1 is known to part from the density formula by tenths of a proof: warm the sample to near 60 °F, or load that corner of the printed table."

// TrueProof brings the reading of a proof hydrometer to 60 °F (27 CFR 30.23,
// 30.31): each instrument's correction is added, the result is read from the
// printed Table 1 by the double interpolation of 30.23 where one is at hand and
// covers the reading, computed otherwise, and rounded to the nearest tenth.
//
// Computed, the hydrometer's mark stands for the density of that proof at
// 60 °F, lessened by the glass's own expansion, and the spirit is the mixture
// that has this density at the temperature read (OIML R 22). The four cells
// that 30.23 quotes are met within 0.05; below 45 °F the printed table is known
// to part from the density formula by tenths (from memory).
//
// Range: 0 to 206 proof and 0 to 100 °F, the printed table's own. The marks
// above 200 stand for no liquid at 60 °F; the formula is carried on past pure
// ethanol, which puts absolute alcohol of 100 °F at 205.8.
func TrueProof(h HydrometerReading) (Corrected, error) {
	ind, temp, err := h.checked(quantity.Proof, 206, quantity.Fahrenheit, 0, 100)
	if err != nil {
		return Corrected{}, err
	}
	c := Corrected{Method: Computed}
	var printed *float64
	if h.Table.covers(ind, temp) {
		c.Method = PrintedTable
		v := h.Table.interpolate(ind, temp).InexactFloat64()
		printed = &v
	}
	if err := c.finish(h, quantity.Proof, ind, temp, quantity.Fahrenheit, printed, func(reading, fahrenheit float64) (float64, error) {
		return 200 * scale60F.correct(reading/200, FromFahrenheit(fahrenheit), &scale60F), nil
	}); err != nil {
		return Corrected{}, err
	}
	if c.Strength, err = FromProof(min(max(c.True.Value, 0), 200)); err != nil {
		return Corrected{}, err
	}
	c.Rounded = quantity.ProofToTenth(c.True.Decimal())
	if c.Method == Computed && temp.LessThan(decimal.NewFromInt(45)) {
		c.Caution = cautionCold
	}
	c.Explained = quantity.Explain(func(w *quantity.Working) {
		h.explain(w, ind, temp, quantity.Proof, quantity.Fahrenheit)
		if c.Method == PrintedTable {
			h.Table.explain(w, ind, temp)
		} else {
			explainDensity(w, &scale60F, "60 °F", ind.InexactFloat64()/200, ind.String()+" proof", FromFahrenheit(temp.InexactFloat64()), temp.Round(4).String()+" °F")
			w.Add("the proof of that spirit at 60 °F, computed", quantity.Fixed(c.True.Value, 3)+" proof")
		}
		w.Add("to the nearest tenth, 5 hundredths and over going up (27 CFR 30.23)", c.Rounded.StringFixed(1)+" proof")
	})
	return c, nil
}

// TrueStrength brings the reading of a % vol hydrometer, calibrated at 20 °C,
// 15 °C or 60 °F, to % vol at 20 °C (OIML R 22, its Table for glass
// alcoholometers). Range: 0 to 103 % vol, −20 to 40 °C.
func TrueStrength(h HydrometerReading) (Corrected, error) {
	ind, temp, err := h.checked(quantity.ABV20, 103, quantity.Celsius, -20, 40)
	if err != nil {
		return Corrected{}, err
	}
	ref := h.Scale.reference()
	c := Corrected{Method: Computed}
	if err := c.finish(h, quantity.ABV20, ind, temp, quantity.Celsius, nil, func(reading, celsius float64) (float64, error) {
		return 100 * ref.correct(reading/100, Celsius(celsius), &scale20), nil
	}); err != nil {
		return Corrected{}, err
	}
	if c.Strength, err = FromABV20(min(max(c.True.Value, 0), 100)); err != nil {
		return Corrected{}, err
	}
	c.Rounded = quantity.ABVToTenth(c.True.Decimal())
	c.Explained = quantity.Explain(func(w *quantity.Working) {
		h.explain(w, ind, temp, quantity.ABV20, quantity.Celsius)
		explainDensity(w, ref, h.Scale.String(), ind.InexactFloat64()/100, ind.String()+" % vol", Celsius(temp.InexactFloat64()), temp.Round(4).String()+" °C")
		w.Add("the strength of that spirit at 20 °C, computed", quantity.Fixed(c.True.Value, 3)+" % vol")
		w.Add("to the nearest tenth", c.Rounded.StringFixed(1)+" % vol")
	})
	return c, nil
}

// correct is what a hydrometer of scale sc that shows share in a spirit of
// temperature t would show on the scale to in the same spirit at to's
// temperature, as a share of pure ethanol.
func (sc *scale) correct(share float64, t Celsius, to *scale) float64 {
	ρ, _ := sc.afloat(share, t)
	iso := at(t)
	p := solve(iso.density, ρ, sc.massFraction(share, sc.ethanol))
	return to.share(p, to.ethanol)
}

// afloat is the density of the spirit of temperature t in which a hydrometer
// of scale sc shows share, and the density that its mark stands for.
func (sc *scale) afloat(share float64, t Celsius) (ρ, mark float64) {
	mark, _ = sc.density(sc.massFraction(share, sc.ethanol))
	return mark / (1 + glass*float64(t-sc.t)), mark
}

// checked adds the instruments' corrections in decimals and holds the sums to
// the range; every fault at once.
func (h HydrometerReading) checked(scaleUnit quantity.Unit, top int64, tempUnit quantity.Unit, coldest, warmest int64) (ind, temp decimal.Decimal, err error) {
	var faults fault.List
	unit := scaleUnit.Label()
	ind = h.Indicated.Decimal().Add(h.IndicatedCorrection.Decimal())
	switch {
	case h.Indicated.IsNone():
		faults.Add("indicated", fault.Fault{Code: fault.Missing, Limit: "the hydrometer's reading is needed", Remedy: "type it in " + unit})
	case h.Indicated.Unit() != scaleUnit:
		f := fault.Fault{Code: fault.WrongUnit, Value: h.Indicated.String(), Limit: "is not the reading of a proof hydrometer", Remedy: "use true-strength for a % vol hydrometer"}
		if scaleUnit == quantity.ABV20 {
			f.Limit, f.Remedy = "is not the reading of a % vol hydrometer", "use true-proof for a proof hydrometer"
		}
		faults.Add("indicated", f)
	case ind.GreaterThan(decimal.NewFromInt(top)):
		f := fault.Fault{Code: fault.TooHigh, Value: h.Indicated.String(), Limit: "is above " + decimal.NewFromInt(top).String() + " " + unit + ", the top of the table", Remedy: "check the hydrometer"}
		if scaleUnit == quantity.ABV20 {
			f.Limit = "is above " + decimal.NewFromInt(top).String() + " % vol, more than pure alcohol shows at 40 °C"
		}
		faults.Add("indicated", f)
	case ind.IsNegative():
		faults.Add("indicated", fault.Fault{Code: fault.TooLow, Value: h.Indicated.String(), Limit: "is below 0 " + unit, Remedy: "check the reading and the hydrometer's correction"})
	}
	if !h.IndicatedCorrection.IsNone() && h.IndicatedCorrection.Unit() != scaleUnit {
		faults.Add("indicated_correction", fault.Fault{Code: fault.WrongUnit, Value: h.IndicatedCorrection.String(), Limit: "is not in " + unit, Remedy: "give the hydrometer's correction on its own scale"})
	}
	correctionOK := h.TempCorrection.IsNone() || h.TempCorrection.Unit().Dimension() == quantity.Temperature
	if !correctionOK {
		faults.Add("temp_correction", fault.Fault{Code: fault.WrongUnit, Value: h.TempCorrection.String(), Limit: "is not a difference of temperature", Remedy: "give the thermometer's correction in °F or °C"})
	}
	switch {
	case h.Temp.IsNone():
		faults.Add("temp", fault.Fault{Code: fault.Missing, Limit: "a strength is read at a temperature", Remedy: "read the thermometer in the same jar"})
	case h.Temp.Unit().Dimension() != quantity.Temperature:
		faults.Add("temp", fault.Fault{Code: fault.WrongUnit, Value: h.Temp.String(), Limit: "is not a temperature", Remedy: "give it in °F or °C"})
	case correctionOK:
		temp = temperatureIn(h.Temp, tempUnit).Add(differenceIn(h.TempCorrection, tempUnit))
		if cold := temp.LessThan(decimal.NewFromInt(coldest)); cold || temp.GreaterThan(decimal.NewFromInt(warmest)) {
			f := fault.Fault{Code: fault.TooHigh, Value: h.Temp.String(), Limit: "is above " + decimal.NewFromInt(warmest).String() + " " + tempUnit.Label() + ", the warmest of the table", Remedy: "cool the sample and read both instruments again"}
			if cold {
				f.Code, f.Limit, f.Remedy = fault.TooLow, "is below "+decimal.NewFromInt(coldest).String()+" "+tempUnit.Label()+", the coldest of the table", "let the sample warm up and read both instruments again"
			}
			faults.Add("temp", f)
		}
	}
	return ind, temp, faults.Err()
}

var degreesPerKelvin = decimal.New(18, -1)

// temperatureIn converts a typed temperature exactly from °C to °F, and to
// sixteen places from °F to °C.
func temperatureIn(r quantity.Reading, u quantity.Unit) decimal.Decimal {
	thirtyTwo := decimal.NewFromInt(32)
	switch d := r.Decimal(); {
	case r.Unit() == u:
		return d
	case u == quantity.Fahrenheit:
		return d.Mul(degreesPerKelvin).Add(thirtyTwo)
	default:
		return d.Sub(thirtyTwo).Div(degreesPerKelvin)
	}
}

func differenceIn(r quantity.Reading, u quantity.Unit) decimal.Decimal {
	switch d := r.Decimal(); {
	case r.IsNone() || r.Unit() == u:
		return d
	case u == quantity.Fahrenheit:
		return d.Mul(degreesPerKelvin)
	default:
		return d.Div(degreesPerKelvin)
	}
}

// finish works f out at the corrected readings with its uncertainty, and
// refuses what neither water nor ethanol can be. A printed value takes the place
// of the computed one; its doubt is still that of f, since a reading at the edge
// of the cells at hand can be moved only there.
func (c *Corrected) finish(h HydrometerReading, unit quantity.Unit, ind, temp decimal.Decimal, tempUnit quantity.Unit, printed *float64, f func(reading, temp float64) (float64, error)) error {
	u := func(a, b quantity.Reading, u quantity.Unit) float64 {
		return math.Hypot(a.UncertaintyIn(u), b.UncertaintyIn(u))
	}
	in := [2]quantity.Estimate{
		{Value: ind.InexactFloat64(), U: u(h.Indicated, h.IndicatedCorrection, unit)},
		{Value: temp.InexactFloat64(), U: u(h.Temp, h.TempCorrection, tempUnit)},
	}
	var y [1]float64
	out, err := quantity.Propagate(in[:], func(x []float64) ([]float64, error) {
		v, err := f(x[0], x[1])
		if err == nil && math.IsNaN(v) {
			err = fault.Fault{Code: fault.Conflict, Field: "indicated", Value: h.Indicated.String(), Limit: "cannot stand in any spirit at " + h.Temp.String(), Remedy: "read the hydrometer and the thermometer again"}
		}
		y[0] = v
		return y[:], err
	})
	if err != nil {
		return err
	}
	c.True = quantity.Figure{Value: out[0].Value, Unit: unit, U: out[0].U,
		HasU: quantity.Doubted(h.Indicated, h.IndicatedCorrection, h.Temp, h.TempCorrection)}
	if printed != nil {
		c.True.Value = *printed
	}
	top := 200.0
	if unit == quantity.ABV20 {
		top = 100
	}
	switch v := c.True.Value; {
	case v >= top+0.05:
		return fault.List{{Code: fault.TooHigh, Field: "indicated", Value: h.Indicated.String(),
			Limit:  "at " + h.Temp.String() + " would be " + quantity.Fixed(v, 1) + " " + unit.Label() + ", more than pure alcohol",
			Remedy: "read the hydrometer and the thermometer again"}}
	case v <= -0.05:
		return fault.List{{Code: fault.TooLow, Field: "indicated", Value: h.Indicated.String(),
			Limit:  "at " + h.Temp.String() + " is less than water shows there",
			Remedy: "read both again, and look for dissolved sugar or extract, which hides alcohol from a hydrometer"}}
	}
	return nil
}

func (h HydrometerReading) explain(w *quantity.Working, ind, temp decimal.Decimal, unit, tempUnit quantity.Unit) {
	if h.IndicatedCorrection.IsNone() {
		w.Add("the hydrometer's reading", ind.String()+" "+unit.Label())
	} else {
		w.Add("the hydrometer's reading "+h.Indicated.Digits()+" and its correction "+h.IndicatedCorrection.Digits(), ind.String()+" "+unit.Label())
	}
	text := "the thermometer's reading " + h.Temp.Digits() + " " + h.Temp.Unit().Label()
	if !h.TempCorrection.IsNone() {
		text += " and its correction " + h.TempCorrection.String()
	}
	w.Add(text, temp.Round(4).String()+" "+tempUnit.Label())
}

func explainDensity(w *quantity.Working, sc *scale, calibrated string, share float64, mark string, t Celsius, temp string) {
	ρ, marked := sc.afloat(share, t)
	w.Add("the density that the mark "+mark+" stands for at "+calibrated+" (OIML R 22)", quantity.Fixed(marked, 3)+" kg/m3")
	w.Add("divided by 1 + 0.000025 × ("+quantity.Fixed(float64(t), 3)+" − "+quantity.Fixed(float64(sc.t), 3)+"), the glass having grown: the density of the spirit at "+temp, quantity.Fixed(ρ, 3)+" kg/m3")
}
