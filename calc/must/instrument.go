package must

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// An Instrument is what an extract was read with.
type Instrument string

// The instruments.
const (
	Hydrometer    Instrument = "hydrometer"
	Refractometer Instrument = "refractometer"
)

// A Sample is one reading as it was taken.
type Sample struct {
	Reading     quantity.Reading // Bx or SG
	Temp        quantity.Reading // of the sample; none for a refractometer that compensates by itself
	Instrument  Instrument       // empty for a hydrometer
	Calibration quantity.Reading // temperature on the hydrometer's stem; none for 20 °C
	Fermenting  bool             // whether alcohol is present
}

// A Corrected answers a Sample, at 20 °C.
type Corrected struct {
	Extract    quantity.Figure // Bx, apparent where alcohol is present
	Gravity    quantity.Figure // SG 20/20
	Sugar      quantity.Figure // g/L of extract
	Correction quantity.Figure // Bx, as added
	Note       string          // what the figure can and cannot say
	quantity.Explained
}

const (
	noteHydrometer    = "Strain and degas the sample first: pulp and gas lift the hydrometer (common practice, no source)."
	noteApparent      = "Apparent extract: alcohol makes the mash lighter, so more sugar is left than the hydrometer shows."
	noteRefractometer = "Before fermentation only. Acids, pectin and salts read as sugar: in fruit pulp 0.5 to 2 Bx more than is fermentable (common practice, no source)."
)

// alcoholOnRefractometer is how many Bx a refractometer shows for 1 % by mass
// of ethanol: its index rises 0.00065, that of sugar 0.00148 per Bx (worked out
// from handbook indices quoted from memory).
const alcoholOnRefractometer = 0.44

// Correct brings a reading to 20 °C: a hydrometer by its printed correction, 0
// to 35 °C and up to 30 Bx, a refractometer by its own, 10 to 30 °C. A
// refractometer with alcohol present is refused: sugar and alcohol both raise
// its index and one reading cannot part them.
func Correct(s Sample) (Corrected, error) {
	if s.Instrument == Refractometer {
		return s.refractometer()
	}
	return s.hydrometer()
}

func (s Sample) hydrometer() (Corrected, error) {
	var faults fault.List
	if s.Instrument != Hydrometer && s.Instrument != "" {
		faults.Add("instrument", fault.Fault{Code: fault.NotOneOf, Value: string(s.Instrument), Limit: "is not hydrometer or refractometer", Remedy: "choose the instrument that was read"})
	}
	_, err := ExtractOf(s.Reading)
	faults.Add("reading", err)
	faults.Add("temp", checkBetween(s.Temp, celsius("0"), celsius("35"), "bring the sample near 20 °C and read again"))
	cal := s.Calibration
	if cal.IsNone() {
		cal = celsius("20")
	} else {
		faults.Add("calibration", checkBetween(cal, celsius("14"), celsius("25"), "read the temperature on the hydrometer's stem"))
	}
	if err := faults.Err(); err != nil {
		return Corrected{}, err
	}
	t0 := cal.In(quantity.Celsius)
	water0, err := waterAt(t0)
	if err != nil {
		return Corrected{}, err
	}
	var y [5]float64
	out, err := quantity.PropagateFinite([]quantity.Estimate{estimate(s.Reading), s.Temp.EstimateIn(quantity.Celsius)}, func(x []float64) ([]float64, error) {
		shown, t := x[0], x[1]
		if s.Reading.Unit() == quantity.SG {
			// The stem's mark stands for a density at t0; a stem made for 20 °C
			// floats at the mark of the same density, glass expansion apart.
			shown *= water0 / (1000 * waterDensity20) * (1 + glass*(t0-20))
		}
		e, err := extractIn(s.Reading, shown)
		if err != nil {
			return nil, fault.List{named(err, "reading")}
		}
		if s.Reading.Unit() == quantity.Brix && t0 != 20 {
			// True at t0: what would a stem made for 20 °C show there?
			for true20, i := e, 0; i < 8; i++ {
				e = true20 - Extract(hydrometerTable.at(t0, float64(e)))
			}
		}
		if e > 30 && math.Abs(t-20) > 1 {
			return nil, fault.List{{Code: fault.TooHigh, Field: "reading", Value: s.Reading.String(), Limit: "is above 30 Bx, the end of the temperature table", Remedy: "bring the sample to 20 °C, or dilute a weighed sample with as much water and double the result"}}
		}
		c := hydrometerTable.at(t, float64(e))
		at20 := e + Extract(c)
		if err := checkExtract(at20); err != nil {
			return nil, fault.List{named(err, "reading")}
		}
		y = [5]float64{float64(at20), float64(gravity(at20)), at20.GramsPerLitre(), c, float64(e)}
		return y[:], nil
	})
	if err != nil {
		return Corrected{}, err
	}
	c := s.corrected(out)
	c.Note = noteHydrometer
	if s.Fermenting {
		c.Note = noteApparent + " " + noteHydrometer
	}
	c.Explained = quantity.Explain(func(w *quantity.Working) {
		if s.Reading.Unit() == quantity.SG || t0 != 20 {
			w.Add("what a Brix hydrometer made for 20 °C would show for "+s.Reading.String()+" on one made for "+cal.String()+" (NBS Circular 440)", quantity.Fixed(out[4].Value, 2)+" Bx")
		}
		w.Add("correction for a sample at "+s.Temp.String()+", table for Brix hydrometers at 20 °C (from memory)", quantity.Fixed(out[3].Value, 2)+" Bx")
		c.steps(w)
	})
	return c, nil
}

// named is a fault with its field.
func named(err error, field string) fault.Fault {
	var l fault.List
	l.Add(field, err)
	return l[0]
}

func (s Sample) refractometer() (Corrected, error) {
	var faults fault.List
	if s.Fermenting {
		faults.Add("instrument", fault.Fault{Code: fault.Conflict, Value: string(Refractometer),
			Limit:  "reads alcohol as sugar, about " + quantity.Fixed(alcoholOnRefractometer, 2) + " Bx for each % by mass, and cannot part the two",
			Remedy: "read a hydrometer; keep the refractometer's figure as a trend only"})
	}
	_, err := ExtractOf(s.Reading)
	faults.Add("reading", err)
	if s.Reading.Unit() == quantity.SG {
		faults.Add("reading", fault.Fault{Code: fault.WrongUnit, Value: s.Reading.String(), Limit: "is a specific gravity, and a refractometer has no such scale for must", Remedy: "read its Brix scale"})
	}
	in := []quantity.Estimate{estimate(s.Reading)}
	if !s.Temp.IsNone() {
		faults.Add("temp", checkBetween(s.Temp, celsius("10"), celsius("30"), "let the prism and the drop come near 20 °C and read again"))
		if e := s.Reading.Float(); e > 30 && s.Reading.Unit() == quantity.Brix {
			faults.Add("reading", fault.Fault{Code: fault.TooHigh, Value: s.Reading.String(), Limit: "is above 30 Bx, the end of the temperature table at hand", Remedy: "read it at 20 °C and leave the temperature out"})
		}
	}
	if err := faults.Err(); err != nil {
		return Corrected{}, err
	}
	if !s.Temp.IsNone() {
		in = append(in, s.Temp.EstimateIn(quantity.Celsius))
	}
	var y [5]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		c := 0.0
		if len(x) == 2 {
			c = refractometerTable.at(x[1], x[0])
		}
		at20 := Extract(x[0] + c)
		if err := checkExtract(at20); err != nil {
			return nil, fault.List{named(err, "reading")}
		}
		y = [5]float64{float64(at20), float64(gravity(at20)), at20.GramsPerLitre(), c, x[0]}
		return y[:], nil
	})
	if err != nil {
		return Corrected{}, err
	}
	c := s.corrected(out)
	c.Note = noteRefractometer
	c.Explained = quantity.Explain(func(w *quantity.Working) {
		if s.Temp.IsNone() {
			w.Add("reading, taken as compensated for temperature", s.Reading.String())
		} else {
			w.Add("correction for a prism at "+s.Temp.String()+", international table for refractometers at 20 °C (from memory)", quantity.Fixed(out[3].Value, 2)+" Bx")
		}
		c.steps(w)
	})
	return c, nil
}

func (s Sample) corrected(out []quantity.Estimate) Corrected {
	doubted := quantity.Doubted(s.Reading, s.Temp)
	return Corrected{
		Extract: quantity.FigureOf(out[0], quantity.Brix, doubted), Gravity: quantity.FigureOf(out[1], quantity.SG, doubted),
		Sugar: quantity.FigureOf(out[2], quantity.GramPerLitre, doubted), Correction: quantity.FigureOf(out[3], quantity.Brix, doubted),
	}
}

func (c Corrected) steps(w *quantity.Working) {
	w.Add("extract at 20 °C, reading and correction together", c.Extract.Text(2))
	w.Add("its specific gravity 20/20 °C (NBS Circular 440)", c.Gravity.Text(4))
	w.Add("extract per litre, Bx × 10 × gravity × 0.9982", c.Sugar.Text(1))
}

// glass is the expansion of a hydrometer's glass, per K (OIML R 22).
const glass = 25e-6

// A correctionTable is a printed table of corrections to add, by temperature
// down and by the reading, every 5 Bx from 0 to 30, across.
type correctionTable struct {
	temps []float64
	rows  [][7]float64
}

// at interpolates between the printed cells. A reading outside 0 to 30 Bx takes
// the nearest column, which at 0 differs from what -3 would need by 0.04.
func (t correctionTable) at(temp, bx float64) float64 {
	i := 0
	for i < len(t.temps)-2 && t.temps[i+1] <= temp {
		i++
	}
	bx = min(max(bx, 0), 30)
	j := min(int(bx/5), 5)
	across := bx/5 - float64(j)
	down := (temp - t.temps[i]) / (t.temps[i+1] - t.temps[i])
	row := func(i int) float64 { return t.rows[i][j] + across*(t.rows[i][j+1]-t.rows[i][j]) }
	return row(i) + down*(row(i+1)-row(i))
}

// hydrometerTable is the correction of a Brix hydrometer made for 20 °C, after
// NBS Circular 440 and the AOAC sugar tables: from memory; its signs agree with
// a page of a university, its ends with the density of water.
var hydrometerTable = correctionTable{
	temps: []float64{0, 5, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 35},
	rows: [][7]float64{
		{-0.30, -0.49, -0.65, -0.77, -0.89, -0.99, -1.08},
		{-0.36, -0.47, -0.56, -0.65, -0.73, -0.80, -0.86},
		{-0.32, -0.38, -0.43, -0.48, -0.52, -0.57, -0.60},
		{-0.31, -0.35, -0.40, -0.44, -0.48, -0.51, -0.55},
		{-0.29, -0.32, -0.36, -0.40, -0.43, -0.46, -0.50},
		{-0.26, -0.29, -0.32, -0.35, -0.38, -0.41, -0.44},
		{-0.24, -0.26, -0.29, -0.31, -0.34, -0.36, -0.38},
		{-0.20, -0.22, -0.24, -0.26, -0.28, -0.30, -0.32},
		{-0.17, -0.18, -0.20, -0.22, -0.23, -0.25, -0.26},
		{-0.13, -0.14, -0.15, -0.16, -0.18, -0.19, -0.20},
		{-0.09, -0.10, -0.10, -0.11, -0.12, -0.13, -0.13},
		{-0.05, -0.05, -0.05, -0.06, -0.06, -0.06, -0.07},
		{},
		{0.04, 0.05, 0.06, 0.06, 0.06, 0.07, 0.07},
		{0.10, 0.10, 0.11, 0.12, 0.12, 0.13, 0.14},
		{0.16, 0.16, 0.17, 0.17, 0.19, 0.20, 0.21},
		{0.21, 0.22, 0.23, 0.24, 0.26, 0.27, 0.28},
		{0.27, 0.28, 0.30, 0.31, 0.32, 0.34, 0.35},
		{0.33, 0.34, 0.36, 0.37, 0.40, 0.40, 0.42},
		{0.40, 0.41, 0.42, 0.44, 0.46, 0.48, 0.50},
		{0.46, 0.47, 0.49, 0.51, 0.54, 0.56, 0.58},
		{0.54, 0.55, 0.56, 0.59, 0.61, 0.63, 0.66},
		{0.61, 0.62, 0.63, 0.66, 0.68, 0.71, 0.73},
		{0.99, 1.01, 1.02, 1.06, 1.10, 1.13, 1.16},
	},
}

// refractometerTable is the international temperature correction of
// refractometers reading sucrose, 20 °C (ICUMSA, as AOAC reprints it): from
// memory; its ends agree with the refractive index of water.
var refractometerTable = correctionTable{
	temps: []float64{10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30},
	rows: [][7]float64{
		{-0.50, -0.54, -0.58, -0.61, -0.64, -0.66, -0.68},
		{-0.46, -0.49, -0.53, -0.55, -0.58, -0.60, -0.62},
		{-0.42, -0.45, -0.48, -0.50, -0.52, -0.54, -0.56},
		{-0.37, -0.40, -0.42, -0.44, -0.46, -0.48, -0.49},
		{-0.33, -0.35, -0.37, -0.39, -0.40, -0.41, -0.42},
		{-0.27, -0.29, -0.31, -0.33, -0.34, -0.34, -0.35},
		{-0.22, -0.24, -0.25, -0.26, -0.27, -0.28, -0.28},
		{-0.17, -0.18, -0.19, -0.20, -0.21, -0.21, -0.21},
		{-0.12, -0.13, -0.13, -0.14, -0.14, -0.14, -0.14},
		{-0.06, -0.06, -0.06, -0.07, -0.07, -0.07, -0.07},
		{},
		{0.06, 0.07, 0.07, 0.07, 0.07, 0.08, 0.08},
		{0.13, 0.13, 0.14, 0.14, 0.15, 0.15, 0.15},
		{0.19, 0.20, 0.21, 0.22, 0.22, 0.23, 0.23},
		{0.26, 0.27, 0.28, 0.29, 0.30, 0.30, 0.31},
		{0.33, 0.35, 0.36, 0.37, 0.38, 0.38, 0.39},
		{0.40, 0.42, 0.43, 0.44, 0.45, 0.46, 0.47},
		{0.48, 0.50, 0.52, 0.53, 0.54, 0.55, 0.55},
		{0.56, 0.57, 0.60, 0.61, 0.62, 0.63, 0.63},
		{0.64, 0.66, 0.68, 0.69, 0.71, 0.72, 0.72},
		{0.72, 0.74, 0.77, 0.78, 0.79, 0.80, 0.80},
	},
}
