package cask

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Strapping is one row of a tank's own table: the volume that stands in it at
// a dip.
type Strapping struct{ Dip, Volume quantity.Reading }

// A Table is a tank's own table, sorted.
type Table struct {
	rows []Strapping
	unit quantity.Unit // of the volumes
}

// A Dipped is what stands in a tank at a dip, at the temperature it has:
// spirit.GaugeVolume brings it to the base temperature.
type Dipped struct {
	Volume quantity.Figure
	PerCM  quantity.Figure // what one centimetre of dip stands for there
	Method string
	quantity.Explained
}

// NewTable checks a tank's table: at least two rows, dips and volumes rising
// together. The rows may come in any order.
func NewTable(rows []Strapping) (Table, error) {
	var faults fault.List
	if len(rows) < 2 {
		return Table{}, fault.List{{Code: fault.Missing, Field: "table", Limit: "a tank's table needs at least two rows", Remedy: "fill the tank with measured water and write down the dips"}}
	}
	t := Table{rows: slices.Clone(rows), unit: rows[0].Volume.Unit()}
	for i, r := range rows {
		name := "row " + strconv.Itoa(i+1)
		switch {
		case r.Dip.Unit().Dimension() != quantity.Length:
			faults.Add(name, fault.Fault{Code: fault.WrongUnit, Value: r.Dip.String(), Limit: "is not a length", Remedy: "give the dip in cm or in"})
		case r.Volume.Unit().Dimension() != quantity.Volume:
			faults.Add(name, fault.Fault{Code: fault.WrongUnit, Value: r.Volume.String(), Limit: "is not a volume", Remedy: "give it in L or gal"})
		case r.Dip.Float() < 0 || r.Volume.Float() < 0:
			faults.Add(name, fault.Fault{Code: fault.TooLow, Value: r.Dip.String() + ", " + r.Volume.String(), Limit: "is below 0", Remedy: "check the row"})
		}
	}
	if err := faults.Err(); err != nil {
		return Table{}, err
	}
	slices.SortStableFunc(t.rows, func(a, b Strapping) int { return cmp.Compare(a.Dip.Base(), b.Dip.Base()) })
	for i, r := range t.rows[1:] {
		if before := t.rows[i]; r.Dip.Base() <= before.Dip.Base() || r.Volume.Base() <= before.Volume.Base() {
			faults.Add("table", fault.Fault{Code: fault.Conflict, Value: r.Volume.String() + " at " + r.Dip.String(),
				Limit: "does not lie above " + before.Volume.String() + " at " + before.Dip.String(), Remedy: "a deeper dip stands for more: check both rows"})
		}
	}
	return t, faults.Err()
}

// Rows are the table's rows, from the lowest dip up.
func (t Table) Rows() []Strapping { return slices.Clone(t.rows) }

// Volume reads the table at a dip, with a straight line between its rows. It
// refuses a dip outside the rows: below the first the bottom's shape is not
// known, above the last the tank runs over.
func (t Table) Volume(dip quantity.Reading) (Dipped, error) {
	first, last := t.rows[0], t.rows[len(t.rows)-1]
	low, high := first.Dip.In(quantity.Centimetre), last.Dip.In(quantity.Centimetre)
	if err := checkDip(dip, low, high, "the tank's table"); err != nil {
		return Dipped{}, err
	}
	at := func(x float64) (lower, upper Strapping) {
		i := 0
		for i < len(t.rows)-2 && t.rows[i+1].Dip.In(quantity.Centimetre) <= x {
			i++
		}
		return t.rows[i], t.rows[i+1]
	}
	d, doubted, err := dipped(dip, t.unit, func(x float64) float64 {
		a, b := at(x)
		da, db := a.Dip.In(quantity.Centimetre), b.Dip.In(quantity.Centimetre)
		va, vb := a.Volume.In(t.unit), b.Volume.In(t.unit)
		return va + (vb-va)*(x-da)/(db-da)
	})
	if err != nil {
		return Dipped{}, err
	}
	d.Method = "the tank's own table"
	lower, upper := at(dip.In(quantity.Centimetre))
	slope := (upper.Volume.In(t.unit) - lower.Volume.In(t.unit)) / (upper.Dip.In(quantity.Centimetre) - lower.Dip.In(quantity.Centimetre))
	d.PerCM = quantity.FigureOf(quantity.Estimate{Value: slope}, t.unit, false)
	if doubted { // the slope of the row itself, also at its ends
		d.Volume.U = slope * dip.UncertaintyIn(quantity.Centimetre)
	}
	d.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("the row below", lower.Volume.String()+" at "+lower.Dip.String())
		w.Add("the row above", upper.Volume.String()+" at "+upper.Dip.String())
		w.Add("for each centimetre between them", d.PerCM.Text(3))
		w.Add("volume at "+dip.String()+", on the straight line", d.Volume.Text(2))
	})
	return d, nil
}

// An Upright is an upright cylinder with a flat bottom, for a tank without a
// table.
type Upright struct{ Diameter quantity.Reading }

// Volume is π d²/4 × dip, in litres.
func (c Upright) Volume(dip quantity.Reading) (Dipped, error) {
	var faults fault.List
	faults.Add("diameter", checkAbove(c.Diameter, "a diameter", quantity.Length))
	faults.Add("dip", checkDip(dip, 0, math.Inf(1), ""))
	if err := faults.Err(); err != nil {
		return Dipped{}, err
	}
	area := math.Pi / 4 / 1000
	out, err := quantity.PropagateFinite([]quantity.Estimate{c.Diameter.EstimateIn(quantity.Centimetre), dip.EstimateIn(quantity.Centimetre)}, func(x []float64) ([]float64, error) {
		return []float64{area * x[0] * x[0] * x[1], area * x[0] * x[0]}, nil
	})
	if err != nil {
		return Dipped{}, err
	}
	doubted := quantity.Doubted(c.Diameter, dip)
	d := Dipped{Volume: quantity.FigureOf(out[0], quantity.Litre, doubted), PerCM: quantity.FigureOf(out[1], quantity.Litre, c.Diameter.HasHalfWidth()), Method: "an upright cylinder with a flat bottom: a dished bottom, fittings and a lean are not in it"}
	d.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("for each centimetre, π ÷ 4 × diameter²", d.PerCM.Text(3))
		w.Add("volume at "+dip.String(), d.Volume.Text(2))
	})
	return d, nil
}

// A Lying is a lying cylinder with flat ends, for a tank without a table.
type Lying struct{ Diameter, Length quantity.Reading }

// Volume is the circular segment below the dip times the length, in litres: with
// r the radius and h the dip, r² arccos((r − h)/r) − (r − h)√(2rh − h²).
func (c Lying) Volume(dip quantity.Reading) (Dipped, error) {
	var faults fault.List
	faults.Add("diameter", checkAbove(c.Diameter, "a diameter", quantity.Length))
	faults.Add("length", checkAbove(c.Length, "a length", quantity.Length))
	if len(faults) == 0 {
		faults.Add("dip", checkDip(dip, 0, c.Diameter.In(quantity.Centimetre), "the diameter"))
	}
	if err := faults.Err(); err != nil {
		return Dipped{}, err
	}
	segment := func(d, h float64) float64 {
		r := d / 2
		h = min(max(h, 0), d)
		return r*r*math.Acos((r-h)/r) - (r-h)*math.Sqrt(max(2*r*h-h*h, 0))
	}
	out, err := quantity.PropagateFinite([]quantity.Estimate{c.Diameter.EstimateIn(quantity.Centimetre), c.Length.EstimateIn(quantity.Centimetre), dip.EstimateIn(quantity.Centimetre)}, func(x []float64) ([]float64, error) {
		h := min(max(x[2], 0), x[0])
		return []float64{segment(x[0], x[2]) * x[1] / 1000, 2 * math.Sqrt(max(x[0]*h-h*h, 0)) * x[1] / 1000}, nil
	})
	if err != nil {
		return Dipped{}, err
	}
	doubted := quantity.Doubted(c.Diameter, c.Length, dip)
	d := Dipped{Volume: quantity.FigureOf(out[0], quantity.Litre, doubted), PerCM: quantity.Figure{Value: out[1].Value, Unit: quantity.Litre}, Method: "a lying cylinder with flat ends, level: dished ends, fittings and a slope are not in it"}
	d.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("the segment of the circle below the dip", quantity.Fixed(d.Volume.Value/c.Length.In(quantity.Centimetre)*1000, 1)+" cm2")
		w.Add("volume, that × the length "+c.Length.String(), d.Volume.Text(2))
		w.Add("one centimetre of dip stands there for", d.PerCM.Text(2))
	})
	return d, nil
}

func checkDip(dip quantity.Reading, low, high float64, of string) error {
	switch {
	case dip.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: "a dip is needed", Remedy: "read the stick in cm or in"}
	case dip.Unit().Dimension() != quantity.Length:
		return fault.Fault{Code: fault.WrongUnit, Value: dip.String(), Limit: "is not a length", Remedy: "give it in cm or in"}
	case dip.In(quantity.Centimetre) < low-1e-9 && of == "" || dip.Float() < 0:
		return fault.Fault{Code: fault.TooLow, Value: dip.String(), Limit: "is below 0", Remedy: "read the stick again"}
	case dip.In(quantity.Centimetre) < low-1e-9:
		return fault.Fault{Code: fault.TooLow, Value: dip.String(), Limit: "is below " + quantity.Fixed(low, 1) + " cm, where " + of + " begins", Remedy: "draw the rest off and measure it, or give the table a lower row"}
	case dip.In(quantity.Centimetre) > high+1e-9:
		return fault.Fault{Code: fault.TooHigh, Value: dip.String(), Limit: "is above " + quantity.Fixed(high, 1) + " cm, where " + of + " ends", Remedy: "check the stick and its unit"}
	}
	return nil
}

// dipped works a volume out at a dip.
func dipped(dip quantity.Reading, unit quantity.Unit, f func(cm float64) float64) (Dipped, bool, error) {
	out, err := quantity.PropagateFinite([]quantity.Estimate{dip.EstimateIn(quantity.Centimetre)}, func(x []float64) ([]float64, error) { return []float64{f(x[0])}, nil })
	if err != nil {
		return Dipped{}, false, err
	}
	return Dipped{Volume: quantity.FigureOf(out[0], unit, dip.HasHalfWidth())}, dip.HasHalfWidth(), nil
}
