package cask

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// An Evaporation asks what yearly rates leave of a filling.
type Evaporation struct {
	Volume    quantity.Reading // filled, L at 20 °C or gal at 60 °F
	Strength  quantity.Reading // at filling, none where only the volume is asked
	Yearly    quantity.Reading // % of what is left, each year
	FirstYear quantity.Reading // % in the first year, none for Yearly: new wood soaks up more than it lets out
	Drift     quantity.Reading // change of strength a year on the scale of Strength, of either sign; none where it is not known
	Years     quantity.Reading // without unit
}

// An Evaporated answers an Evaporation. The volumes are in the unit of the
// filling.
type Evaporated struct {
	Volume, Lost quantity.Figure
	LostShare    quantity.Figure // % of the filling
	Strength     quantity.Figure // on the scale of the filling; NoUnit where Strength or Drift was not given
	PureAlcohol  quantity.Figure // L at 20 °C, as Strength
	PureLost     quantity.Figure // L at 20 °C of the filling's, as Strength
	quantity.Explained
}

// Evaporate compounds: V = V0 (1 − first)^min(t, 1) (1 − yearly)^(t − 1), so
// 200 L at 2 % are 163.4 L after ten years and not 160. The rate tells nothing
// of the strength, which rises in dry air and falls in humid: a drift is a
// figure of its own, from the barrel's regauges, and without one no alcohol is
// worked out. Range: rates up to 30 %, up to 100 years.
func Evaporate(e Evaporation) (Evaporated, error) {
	var faults fault.List
	faults.Add("volume", checkAbove(e.Volume, "a volume", quantity.Volume))
	faults.Add("yearly", checkBetween(e.Yearly, "a yearly loss", pct("0"), pct("30")))
	faults.Add("years", checkBetween(e.Years, "a number of years", plain("0"), plain("100")))
	first := e.FirstYear
	if first.IsNone() {
		first = e.Yearly
	} else {
		faults.Add("first_year", checkBetween(first, "a loss of the first year", pct("0"), pct("30")))
	}
	strong := !e.Strength.IsNone() && !e.Drift.IsNone()
	if !e.Strength.IsNone() {
		_, err := spirit.StrengthOf(e.Strength)
		faults.Add("strength", err)
	}
	if !e.Drift.IsNone() {
		switch {
		case e.Strength.IsNone():
			faults.Add("strength", fault.Fault{Code: fault.Missing, Limit: "a drift needs the strength it starts from", Remedy: "give the strength at filling, or leave out the drift"})
		case e.Drift.Unit() != e.Strength.Unit():
			faults.Add("drift", fault.Fault{Code: fault.WrongUnit, Value: e.Drift.String(), Limit: "is not on the scale of the strength", Remedy: "give both in " + e.Strength.Unit().Label()})
		case math.Abs(e.Drift.Float()) > 10:
			faults.Add("drift", fault.Fault{Code: fault.TooHigh, Value: e.Drift.String(), Limit: "is more than 10 a year", Remedy: "give the change of one year"})
		}
	}
	if err := faults.Err(); err != nil {
		return Evaporated{}, err
	}
	unit := e.Volume.Unit()
	in := []quantity.Estimate{e.Volume.EstimateIn(unit), first.EstimateIn(quantity.Percent), e.Yearly.EstimateIn(quantity.Percent), e.Years.EstimateIn(quantity.NoUnit), {}, {}}
	if e.FirstYear.IsNone() {
		in[1].U = 0 // the same reading as in[2], moved together below
	}
	if strong {
		in[4], in[5] = e.Strength.EstimateIn(e.Strength.Unit()), e.Drift.EstimateIn(e.Drift.Unit())
	}
	var y [6]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		first := x[1]
		if e.FirstYear.IsNone() {
			first = x[2]
		}
		v := x[0] * math.Pow(1-first/100, math.Min(x[3], 1)) * math.Pow(1-x[2]/100, math.Max(x[3]-1, 0))
		y = [6]float64{v, x[0] - v, 100 * (1 - v/x[0])}
		if strong {
			y[3] = x[4] + x[5]*x[3]
			before, err := pure(unit, x[0], e.Strength.Unit(), x[4])
			if err != nil {
				return nil, err
			}
			if y[4], err = pure(unit, v, e.Strength.Unit(), y[3]); err != nil {
				return nil, fault.List{{Code: fault.Conflict, Field: "drift", Value: e.Drift.String(), Limit: "leads to " + quantity.Fixed(y[3], 1) + " " + e.Strength.Unit().Label() + ", which no spirit has", Remedy: "check the drift and the years"}}
			}
			y[5] = before - y[4]
		}
		return y[:], nil
	})
	if err != nil {
		return Evaporated{}, err
	}
	doubted := quantity.Doubted(e.Volume, e.FirstYear, e.Yearly, e.Years, e.Strength, e.Drift)
	r := Evaporated{Volume: quantity.FigureOf(out[0], unit, doubted), Lost: quantity.FigureOf(out[1], unit, doubted), LostShare: quantity.FigureOf(out[2], quantity.Percent, doubted)}
	if strong {
		r.Strength, r.PureAlcohol, r.PureLost = quantity.FigureOf(out[3], e.Strength.Unit(), doubted), quantity.FigureOf(out[4], quantity.Litre, doubted), quantity.FigureOf(out[5], quantity.Litre, doubted)
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		t := e.Years.Float()
		w.Add("filled", e.Volume.String())
		w.Add("what "+quantity.Fixed(math.Min(t, 1), 2)+" of the first year leaves, at "+first.String(), quantity.Fixed(100*math.Pow(1-first.Float()/100, math.Min(t, 1)), 2)+" %")
		if t > 1 {
			w.Add("what "+quantity.Fixed(t-1, 2)+" further years leave, at "+e.Yearly.String()+" of what is left each", quantity.Fixed(100*math.Pow(1-e.Yearly.Float()/100, t-1), 2)+" %")
		}
		w.Add("left, compounded", r.Volume.Text(2))
		w.Add("lost", r.Lost.Text(2)+", "+r.LostShare.Text(1))
		if !strong {
			w.Add("no alcohol is worked out: a rate does not say which of water and alcohol left; give the drift of the strength from regauges", "")
			return
		}
		w.Add("strength, "+e.Strength.String()+" with "+e.Drift.String()+" a year", r.Strength.Text(2))
		w.Add("pure alcohol left at 20 °C", r.PureAlcohol.Text(2))
		w.Add("pure alcohol lost", r.PureLost.Text(2))
	})
	return r, nil
}

// pure is the litres of pure alcohol at 20 °C in a volume at its base
// temperature.
func pure(unit quantity.Unit, volume float64, scale quantity.Unit, strength float64) (float64, error) {
	s, err := strengthIn(scale, strength)
	if err != nil {
		return 0, err
	}
	l := quantity.Figure{Value: volume, Unit: unit}.In(quantity.Litre).Value
	return l / 1000 * float64(s.DensityAt(baseOf(unit))) * float64(s.MassFraction()) / ethanolDensity, nil
}

// A TypicalLoss is a yearly loss reported of a place and a size: a first guess
// until the house has regauges of its own, which are better than any row here.
type TypicalLoss struct {
	Place     string
	MaxSize   quantity.Reading // up to this capacity; none for any
	Low, High quantity.Reading // % of what is left, a year
	FirstYear quantity.Reading // % at most in the first year, soaking included; none where not told
	Source    string
	Read      string // how far the source was read
	As        string // month in which the row was typed
}

// TypicalLosses lists what sources report, to be read as data with a date.
func TypicalLosses() []TypicalLoss {
	l := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.Litre) }
	none := quantity.Reading{}
	const typed = "2026-11"
	return []TypicalLoss{
		{"Scotland", none, pct("1.5"), pct("2.5"), none, "Offringa, A Field Guide to Whisky; the tax convention of 2 %", "second-hand", typed},
		{"Islay", none, pct("1.5"), pct("1.5"), none, "a forum's report", "anecdote", typed},
		{"Kentucky, unheated store, new oak", l("220"), pct("4"), pct("4"), pct("10"), "a distiller's account of a warehouse trial", "second-hand", typed},
		{"Cognac", none, pct("1"), pct("3"), none, "a trade body's page", "second-hand", typed},
		{"India, hot", none, pct("8"), pct("12"), none, "Offringa, A Field Guide to Whisky (up to 12); the lower end common practice, no source", "second-hand", typed},
		{"Caribbean, rum", none, pct("4"), pct("8"), none, "Beverages 2019, 5(4) 60; Del Toro et al. 2023 (titles and abstract)", "from memory", typed},
		{"northern US, heated, 20 °C, 40 to 60 % RH", l("60"), pct("6"), pct("12"), none, "common practice, no source", "no source", typed},
		{"northern US, heated, 20 °C, 40 to 60 % RH", l("220"), pct("3"), pct("6"), none, "common practice, no source", "no source", typed},
	}
}

// Typical is the loss to expect of a capacity in litres where the house says
// nothing: the heated room's row of its size.
func Typical(capacity float64) TypicalLoss {
	rows := TypicalLosses()
	if small := rows[len(rows)-2]; capacity <= small.MaxSize.Float() {
		return small
	}
	return rows[len(rows)-1]
}

// typical is Typical as a yearly loss in %.
func typical(capacity float64) (mean, sd float64) {
	row := Typical(capacity)
	low, high := row.Low.Float(), row.High.Float()
	return (low + high) / 2, (high - low) / 2
}
