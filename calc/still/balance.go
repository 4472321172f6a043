package still

import (
	"math"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// An Entry is one line of an alcohol balance: a charge, a fraction, the
// stillage. All entries of a balance are in one unit of pure alcohol (litres,
// proof gallons).
type Entry struct {
	Name    string
	Alcohol quantity.Figure
}

// A Verdict on a balance.
type Verdict string

// The verdicts.
const (
	Closed Verdict = "closed within error"
	Lost   Verdict = "less came out than went in"
	Gained Verdict = "more came out than went in"
)

// A Balanced is an alcohol balance.
type Balanced struct {
	In, Out quantity.Figure
	Gap     quantity.Figure // in less out: the loss, where it is real
	Share   float64         // of what went in
	Verdict Verdict
	Words   string
	quantity.Explained
}

// assumedGauge is the standard uncertainty of a gauge whose instruments do not
// say theirs, as a part of it (common practice, no source; the book takes the
// same).
const assumedGauge = 1.0 / 300

// Balance holds what went into a still, charge and returned spirit, against
// what came out, fractions and stillage. The gap is a loss, or an error, only
// where it is beyond twice its combined standard uncertainty. The entries'
// doubts are independent; of gauges taken with one instrument give the doubt
// once, on the largest.
func Balance(in, out []Entry) (Balanced, error) {
	var faults fault.List
	if len(in) == 0 {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "charge", Limit: "a balance needs what went in", Remedy: "enter the charge"})
	}
	if len(out) == 0 {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "fractions", Limit: "a balance needs what came out", Remedy: "gauge the receivers"})
	}
	sum := func(entries []Entry) quantity.Figure {
		total := quantity.Figure{HasU: true}
		for i, e := range entries {
			a := e.Alcohol
			switch {
			case !(a.Value >= 0) || math.IsInf(a.Value, 0):
				faults = append(faults, fault.Fault{Code: fault.TooLow, Field: e.Name, Value: quantity.Fixed(a.Value, 2), Limit: "is not an amount of alcohol", Remedy: "check its gauge"})
			case i > 0 && a.Unit != total.Unit:
				faults = append(faults, fault.Fault{Code: fault.WrongUnit, Field: e.Name, Value: a.Text(2), Limit: "is in another unit than " + entries[0].Name, Remedy: "give all in one unit"})
			}
			if !a.HasU {
				a.U = assumedGauge * a.Value
			}
			total.Value, total.Unit, total.U = total.Value+a.Value, a.Unit, math.Hypot(total.U, a.U)
		}
		return total
	}
	b := Balanced{In: sum(in), Out: sum(out)}
	if len(faults) == 0 && b.In.Unit != b.Out.Unit {
		faults = append(faults, fault.Fault{Code: fault.WrongUnit, Field: out[0].Name, Value: out[0].Alcohol.Text(2), Limit: "is in another unit than " + in[0].Name, Remedy: "give all in one unit"})
	}
	if len(faults) == 0 && b.In.Value == 0 {
		faults = append(faults, fault.Fault{Code: fault.TooLow, Field: in[0].Name, Value: in[0].Alcohol.Text(2), Limit: "is no alcohol at all", Remedy: "gauge the charge, or work it out from the ferment"})
	}
	if err := faults.Err(); err != nil {
		return Balanced{}, err
	}
	b.Gap = quantity.Figure{Value: b.In.Value - b.Out.Value, Unit: b.In.Unit, U: math.Hypot(b.In.U, b.Out.U), HasU: true}
	b.Share = b.Gap.Value / b.In.Value
	of := quantity.Fixed(math.Abs(100*b.Share), 1) + " % of what went in"
	switch {
	case math.Abs(b.Gap.Value) <= b.Gap.Expanded():
		b.Verdict, b.Words = Closed, "Closed within error: "+b.Gap.Text(2)+", "+of+"."
	case b.Gap.Value > 0:
		b.Verdict, b.Words = Lost, "Less came out than went in by "+b.Gap.Text(2)+", "+of+": a leak or vapour, a fraction not gauged, stillage stronger than taken, or a charge weaker than taken?"
	default:
		b.Verdict, b.Words = Gained, "More came out than went in by "+quantity.Figure{Value: -b.Gap.Value, Unit: b.Gap.Unit, U: b.Gap.U, HasU: true}.Text(2)+", "+of+": was spirit returned that is not entered, a fraction gauged twice, or the charge stronger than taken?"
	}
	b.Explained = quantity.Explain(func(w *quantity.Working) {
		list := func(entries []Entry) string {
			var parts []string
			for _, e := range entries {
				parts = append(parts, e.Name+" "+quantity.Fixed(e.Alcohol.Value, 2))
			}
			return strings.Join(parts, " + ")
		}
		w.Add("in: "+list(in), b.In.Text(2))
		w.Add("out: "+list(out), b.Out.Text(2))
		w.Add("in less out, with the root of the sum of the squares of both doubts", b.Gap.Text(2))
		w.Add("of what went in", quantity.Fixed(100*b.Share, 1)+" %")
		w.Add("twice the standard uncertainty is "+quantity.Fixed(b.Gap.Expanded(), 2), string(b.Verdict))
	})
	return b, nil
}

// A Yielded is what a run gave for what went in.
type Yielded struct {
	Per100Kg quantity.Figure // L of pure alcohol per 100 kg of fruit; no unit where no fruit was given
	Per100L  quantity.Figure // L of pure alcohol per 100 L of charge; no unit where no charge was given
	PerLitre quantity.Figure // the same for one litre
}

// Yield sets pure alcohol against the fruit it came from and the charge it was
// distilled from. The official yield tables count litres per 100 kg or per 100 L
// of mash. Either of fruit and charge may be none.
func Yield(alcohol quantity.Figure, fruit, charge quantity.Reading) (Yielded, error) {
	var faults fault.List
	if alcohol.Unit.Dimension() != quantity.Volume {
		faults = append(faults, fault.Fault{Code: fault.WrongUnit, Field: "alcohol", Value: alcohol.Text(2), Limit: "is not a volume of pure alcohol", Remedy: "give it in L"})
	}
	if fruit.IsNone() && charge.IsNone() {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "fruit", Limit: "a yield is of something", Remedy: "give the weight of the fruit, or the volume of the charge"})
	}
	per := func(field string, r quantity.Reading, d quantity.Dimension, u quantity.Unit) float64 {
		switch {
		case r.IsNone():
		case r.Unit().Dimension() != d:
			faults = append(faults, fault.Fault{Code: fault.WrongUnit, Field: field, Value: r.String(), Limit: "is not a " + d.String(), Remedy: "give it in " + u.Symbol()})
		case r.Float() <= 0:
			faults = append(faults, fault.Fault{Code: fault.TooLow, Field: field, Value: r.String(), Limit: "is not above 0", Remedy: "check the figure"})
		default:
			return r.In(u)
		}
		return 0
	}
	kg := per("fruit", fruit, quantity.Mass, quantity.Kilogram)
	litres := per("charge", charge, quantity.Volume, quantity.Litre)
	if err := faults.Err(); err != nil {
		return Yielded{}, err
	}
	a := alcohol.In(quantity.Litre)
	over := func(x, u, times float64) quantity.Figure {
		v := a.Value / x * times
		relative := u / x
		if a.Value > 0 {
			relative = math.Hypot(relative, a.U/a.Value)
		}
		return quantity.Figure{Value: v, Unit: quantity.Litre, U: v * relative, HasU: a.HasU || u > 0}
	}
	var y Yielded
	if kg > 0 {
		y.Per100Kg = over(kg, fruit.UncertaintyIn(quantity.Kilogram), 100)
	}
	if litres > 0 {
		u := charge.UncertaintyIn(quantity.Litre)
		y.Per100L, y.PerLitre = over(litres, u, 100), over(litres, u, 1)
	}
	return y, nil
}
