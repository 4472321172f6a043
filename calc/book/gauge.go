package book

import (
	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Gauge is how much spirit there is and how strong: by volume and
// temperature or by weight, with a hydrometer reading or a strength that is
// known already. It stands inside every kind that measures spirit.
type Gauge struct {
	Volume              quantity.Reading `key:"volume" label:"Volume as read" unit:"gal|L" min:"0L" max:"200000L"`
	VolumeTemp          quantity.Reading `key:"volume_temp" label:"Temperature of the volume" unit:"F|C" min:"-20C" max:"40C" help:"If it differs from the spirit at the hydrometer."`
	Gross               quantity.Reading `key:"gross" label:"Gross weight" unit:"lb|kg" min:"0kg" max:"200000kg"`
	Tare                quantity.Reading `key:"tare" label:"Tare" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Net                 quantity.Reading `key:"net" label:"Net weight" unit:"lb|kg" min:"0kg" max:"200000kg"`
	Indicated           quantity.Reading `key:"indicated" label:"Hydrometer reads" unit:"proof|%" min:"0proof|0%" max:"206proof|103%"`
	Temp                quantity.Reading `key:"temp" label:"at a temperature of" unit:"F|C" min:"-20C" max:"40C"`
	Hydrometer          Ref              `key:"hydrometer" label:"Hydrometer" ref:"instrument"`
	Thermometer         Ref              `key:"thermometer" label:"Thermometer" ref:"instrument"`
	IndicatedCorrection quantity.Reading `key:"indicated_correction" label:"Hydrometer correction" unit:"proof|%" min:"-5proof|-5%" max:"5proof|5%" help:"If it is not in the register."`
	TempCorrection      quantity.Reading `key:"temp_correction" label:"Thermometer correction" unit:"F|C" min:"-10F|-5C" max:"10F|5C" help:"If it is not in the register. A difference: 1 °F is 5/9 °C."`
	Strength            quantity.Reading `key:"strength" label:"True strength" unit:"proof|%" min:"0proof|0%" max:"200proof|100%" help:"Instead of a hydrometer reading, where it is known."`
}

// None reports whether nothing was measured.
func (g *Gauge) None() bool { return *g == Gauge{} }

// Weighed reports whether the amount was found by weight.
func (g *Gauge) Weighed() bool { return !g.Net.IsNone() || !g.Gross.IsNone() }

// A Gauged is what a gauge found.
type Gauged struct {
	Measure
	Entry    Address
	On       Moment
	Strength spirit.Strength  // true, to the legal tenth
	Shown    quantity.Reading // the true strength as the book's convention writes it
	Figures  spirit.Gauge     // volumes, proof gallons, litres of pure alcohol, the working
}

// reading joins what was read with its instruments' own corrections and doubts.
func (g *Gauge) reading(s *State) spirit.HydrometerReading {
	h := spirit.HydrometerReading{Indicated: g.Indicated, Temp: g.Temp,
		IndicatedCorrection: g.IndicatedCorrection, TempCorrection: g.TempCorrection, Table: s.table}
	if in := s.instrument(g.Hydrometer); in != nil {
		h.Indicated = h.Indicated.WithHalfWidth(asDifference(in.Half(), h.Indicated.Unit()))
		h.Scale = scaleOf(in.Basis)
		if h.IndicatedCorrection.IsNone() {
			h.IndicatedCorrection = asDifference(in.Correction, h.Indicated.Unit())
		}
	}
	if in := s.instrument(g.Thermometer); in != nil {
		h.Temp = h.Temp.WithHalfWidth(asDifference(in.Half(), h.Temp.Unit()))
		if h.TempCorrection.IsNone() {
			h.TempCorrection = asDifference(in.Correction, h.Temp.Unit())
		}
	}
	return h
}

// asDifference is a small difference of an instrument for a reading in u: a
// degree of proof is half a percent by volume, near enough for a correction. It
// is none where the instrument measures something else.
func asDifference(d quantity.Reading, u quantity.Unit) quantity.Reading {
	switch {
	case d.IsNone() || d.Unit().Dimension() != u.Dimension():
		return quantity.Reading{}
	case d.Unit() == quantity.Proof && u == quantity.ABV20:
		return quantity.FromDecimal(d.Decimal().Div(two), u)
	case d.Unit() == quantity.ABV20 && u == quantity.Proof:
		return quantity.FromDecimal(d.Decimal().Mul(two), u)
	}
	return d
}

var two = decimal.NewFromInt(2)

func scaleOf(basis string) spirit.Scale {
	switch basis {
	case "15C":
		return spirit.Scale15C
	case "60F":
		return spirit.Scale60F
	}
	return spirit.Scale20C
}

func (s *State) instrument(a Address) *InstrumentRegistered {
	if r := s.Registered(AnInstrument, a); r != nil {
		return r.Body.(*InstrumentRegistered)
	}
	return nil
}

// TrueStrength is the strength that the gauge found, to the legal tenth, with
// its working; ok is false where no strength was measured.
func (g *Gauge) TrueStrength(s *State) (c spirit.Corrected, ok bool, err error) {
	switch {
	case g.Indicated.IsNone():
		return c, false, nil
	case g.Indicated.Unit() == quantity.Proof:
		c, err = spirit.TrueProof(g.reading(s))
	default:
		c, err = spirit.TrueStrength(g.reading(s))
	}
	return c, err == nil, err
}

// strong is the true strength as a reading, none where it was not measured.
func (g *Gauge) strong(s *State, f *faults) quantity.Reading {
	if !g.Strength.IsNone() {
		return g.Strength
	}
	c, ok, err := g.TrueStrength(s)
	f.list.Add("indicated", err)
	if !ok {
		return quantity.Reading{}
	}
	return c.True.Reading(1)
}

// Measure works a gauge out as an entry about a vessel would, and says how its
// strength was found: read, or the vessel's own where none was measured. It is
// for looking before saving; v may be nil.
func (g *Gauge) Measure(s *State, v *Vessel) (out Gauged, strength quantity.Working, faults fault.List) {
	if v == nil {
		v = &Vessel{}
	}
	known := s.strong(&v.Content)
	if out, faults = g.measure(s, known, v); len(faults) > 0 {
		return out, nil, faults
	}
	if c, read, _ := g.TrueStrength(s); read {
		strength = c.Working()
	} else if g.Strength.IsNone() {
		strength.Add("the strength of "+v.Name+", as the book has it", known.String())
	}
	return out, strength, nil
}

// measure works a gauge out. known stands in for the strength where the gauge
// did not take one; the vessel's own tare and marks serve where none were typed.
func (g *Gauge) measure(s *State, known quantity.Reading, v *Vessel) (Gauged, fault.List) {
	var f faults
	strength := g.strong(s, &f)
	if strength.IsNone() {
		strength = known
	}
	if len(f.list) == 0 && strength.IsNone() {
		f.add(fault.Missing, "indicated", "", "a gauge needs a strength", "read the hydrometer, or give the true strength")
	}
	if len(f.list) > 0 {
		return Gauged{}, f.list
	}
	var out spirit.Gauge
	var err error
	if g.Weighed() {
		w := spirit.WeightGauge{Net: g.Net, Gross: g.Gross, Tare: g.Tare, Strength: strength}
		if w.Tare.IsNone() && w.Net.IsNone() {
			w.Tare = v.Tare
		}
		out, err = spirit.GaugeWeight(w)
	} else {
		by := spirit.VolumeGauge{Volume: g.Volume.WithHalfWidth(v.DipHalf), Temp: g.VolumeTemp, Strength: strength}
		if by.Temp.IsNone() {
			by.Temp = s.corrected(g)
		}
		out, err = spirit.GaugeVolume(by)
	}
	if f.list.Add("volume", err); err != nil {
		return Gauged{}, f.list
	}
	return Gauged{Measure: measureOf(out), Strength: out.Strength, Shown: strength, Figures: out}, nil
}

// corrected is the temperature at the hydrometer with its thermometer's
// correction, for a volume whose own was not taken.
func (s *State) corrected(g *Gauge) quantity.Reading {
	h := g.reading(s)
	if h.TempCorrection.IsNone() {
		return h.Temp
	}
	return quantity.FromDecimal(h.Temp.Decimal().Add(quantity.Snap(h.TempCorrection.DeltaIn(h.Temp.Unit()))), h.Temp.Unit()).WithHalfWidth(h.Temp.HalfWidth())
}

// measureOf makes exact steps of a gauge's figures. A gauge whose instruments
// did not say how exactly they read is taken to be right to a third of a
// percent (common practice, no source).
func measureOf(g spirit.Gauge) Measure {
	m := Measure{Mass: massOf(g.Mass.Value), Alcohol: min(Steps(g.ProofGallons.Value), maxAlcohol), Doubt: g.ProofGallons.U * 1e4}
	if !g.ProofGallons.HasU {
		m.Doubt = float64(m.Alcohol) / 300
	}
	return m
}

// soundAmount holds what must be true of any gauge that gives an amount.
func (g *Gauge) soundAmount(f *faults) {
	ways := 0
	for _, given := range []bool{!g.Volume.IsNone(), g.Weighed()} {
		if given {
			ways++
		}
	}
	switch {
	case ways == 0:
		f.add(fault.Missing, "volume", "", "an amount is needed", "give the volume with its temperature, or the weight")
	case ways == 2:
		f.add(fault.Conflict, "volume", g.Volume.String(), "stands beside a weight", "give the volume or the weight, whichever was measured")
	}
	if !g.Volume.IsNone() && g.VolumeTemp.IsNone() && g.Temp.IsNone() {
		f.add(fault.Missing, "volume_temp", "", "a volume needs its temperature", "read the thermometer")
	}
	g.soundStrength(f)
}

// soundMeasured is soundAmount of spirit whose strength nobody knew before.
func (g *Gauge) soundMeasured(f *faults) {
	g.soundAmount(f)
	if g.Indicated.IsNone() && g.Strength.IsNone() {
		f.add(fault.Missing, "indicated", "", "a first gauge needs a strength", "read the hydrometer, or give the true strength")
	}
}

func (g *Gauge) soundStrength(f *faults) {
	if !g.Indicated.IsNone() && g.Temp.IsNone() {
		f.add(fault.Missing, "temp", "", "a hydrometer reading needs its temperature", "read the thermometer beside the hydrometer")
	}
	if !g.Indicated.IsNone() && !g.Strength.IsNone() {
		f.add(fault.Conflict, "strength", g.Strength.String(), "stands beside a hydrometer reading", "give one of the two")
	}
	if !g.Gross.IsNone() && !g.Net.IsNone() {
		f.add(fault.Conflict, "net", g.Net.String(), "stands beside a gross weight", "give gross and tare, or net")
	}
}
