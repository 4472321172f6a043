package spirit

import (
	"math"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Rule says what 27 CFR 30.32 asks for, by the dissolved solids.
type Rule string

// The rules, by mg of solids in 100 mL at gauge proof.
const (
	RuleNone        Rule = "400 mg per 100 mL or less: no correction needed; the proprietor may record the obscuration (27 CFR 30.71, 30.72)"
	RuleEvaporation Rule = "more than 400 to 600 mg per 100 mL, 80 to 100 proof: obscuration by evaporation is added (27 CFR 30.32)"
	RuleOther       Rule = "more than 400 to 600 mg per 100 mL, outside 80 to 100 proof: find the true proof by distillation or pycnometer (27 CFR 30.32)"
	RuleDistil      Rule = "more than 600 mg per 100 mL: find the true proof by distillation or an equally exact method (27 CFR 30.32)"
)

// An Extract is what was found of dissolved solids in a spirit, and the proof
// its hydrometer showed, corrected to 60 °F. Give Solids, or Residue and Sample.
type Extract struct {
	Solids          quantity.Reading // per volume
	Residue, Sample quantity.Reading // g left of a sample (25 mL in the section) after evaporation
	Apparent        quantity.Reading // strength by hydrometer after correction for temperature
}

// An Obscured answers an Extract.
type Obscured struct {
	Solids      quantity.Figure // g/100 mL
	Obscuration quantity.Figure // proof
	TrueProof   quantity.Figure // apparent proof plus obscuration, or apparent alone under RuleNone; unrounded
	Rounded     decimal.Decimal // to the nearest tenth
	Lawful      bool            // whether TrueProof may be used; otherwise it is an estimate and the Rule says what to do
	Rule        Rule
	quantity.Explained
}

// Obscure finds how much proof the dissolved solids hide from a hydrometer: 0.4
// degree for each 0.1 g in 100 mL (27 CFR 30.32(b)), a constant for the extract
// of wood, good from 80 to 100 proof. Sugar hides a fifth more; for that see
// UnderSugar, and never this.
func Obscure(e Extract) (Obscured, error) {
	var faults fault.List
	switch {
	case !e.Solids.IsNone():
		if !e.Residue.IsNone() || !e.Sample.IsNone() {
			faults.Add("solids", fault.Fault{Code: fault.Conflict, Value: e.Solids.String(), Limit: "stands beside a residue and its sample", Remedy: "give the solids, or the residue and the sample"})
		}
		switch {
		case e.Solids.Unit().Dimension() != quantity.Concentration:
			faults.Add("solids", fault.Fault{Code: fault.WrongUnit, Value: e.Solids.String(), Limit: "is not a concentration", Remedy: "give it in g/100mL, g/L or mg/L"})
		case e.Solids.Float() < 0:
			faults.Add("solids", fault.Fault{Code: fault.TooLow, Value: e.Solids.String(), Limit: "is below 0", Remedy: "weigh the dish again"})
		case e.Solids.In(quantity.GramPer100ML) > 60:
			faults.Add("solids", fault.Fault{Code: fault.TooHigh, Value: e.Solids.String(), Limit: "is above 60 g/100mL, more than a syrup holds", Remedy: "check the figure and its unit"})
		}
	case e.Residue.IsNone() && e.Sample.IsNone():
		faults.Add("solids", fault.Fault{Code: fault.Missing, Limit: "the dissolved solids are needed", Remedy: "give them, or the residue and the volume of the sample"})
	default:
		if e.Residue.Unit().Dimension() != quantity.Mass || e.Residue.Float() != 0 {
			faults.Add("residue", checkAmount(e.Residue, quantity.Mass))
		}
		faults.Add("sample", checkAmount(e.Sample, quantity.Volume))
		if len(faults) == 0 && e.Residue.In(quantity.Gram) > 0.6*e.Sample.In(quantity.Millilitre) {
			faults.Add("residue", fault.Fault{Code: fault.TooHigh, Value: e.Residue.String(), Limit: "is more than a syrup of " + e.Sample.String() + " would leave", Remedy: "check both figures and take off the weight of the dish"})
		}
	}
	s, err := StrengthOf(e.Apparent)
	faults.Add("apparent", err)
	if err := faults.Err(); err != nil {
		return Obscured{}, err
	}
	in := []quantity.Estimate{estimate(e.Apparent)}
	if e.Solids.IsNone() {
		in = append(in, e.Residue.EstimateIn(quantity.Gram), e.Sample.EstimateIn(quantity.Millilitre))
	} else {
		in = append(in, e.Solids.EstimateIn(quantity.GramPer100ML))
	}
	var y [3]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		proof := x[0]
		if e.Apparent.Unit() != quantity.Proof {
			s, err := FromABV20(x[0])
			if err != nil {
				return nil, err
			}
			proof = s.Proof()
		}
		solids := x[1]
		if len(x) == 3 {
			solids *= 100 / x[2]
		}
		y = [3]float64{solids, 4 * solids, proof}
		return y[:], nil
	})
	if err != nil {
		return Obscured{}, err
	}
	doubted := quantity.Doubted(e.Solids, e.Residue, e.Sample, e.Apparent)
	o := Obscured{Solids: quantity.FigureOf(out[0], quantity.GramPer100ML, doubted), Obscuration: quantity.FigureOf(out[1], quantity.Proof, doubted)}
	o.Rule, o.Lawful = rule(o.Solids.Decimal(), quantity.Snap(out[2].Value))
	apparent := quantity.FigureOf(out[2], quantity.Proof, doubted)
	o.TrueProof = apparent
	if o.Rule != RuleNone {
		o.TrueProof.Value += o.Obscuration.Value
		o.TrueProof.U = math.Hypot(apparent.U, o.Obscuration.U)
	}
	o.Rounded = quantity.ProofToTenth(o.TrueProof.Decimal())
	o.Explained = quantity.Explain(func(w *quantity.Working) {
		if e.Solids.IsNone() {
			w.Add("dissolved solids, "+e.Residue.String()+" from "+e.Sample.String()+", in 100 mL", o.Solids.Text(3))
		} else {
			w.Add("dissolved solids", o.Solids.Text(3))
		}
		w.Add("obscuration, "+quantity.Fixed(o.Solids.Value, 3)+" × 4: 0.4 proof for each 0.1 g in 100 mL (27 CFR 30.32)", o.Obscuration.Text(2))
		if e.Apparent.Unit() != quantity.Proof {
			w.Add("the proof of "+e.Apparent.String(), quantity.Fixed(s.Proof(), 2)+" proof")
		}
		w.Add(string(o.Rule), "")
		text := "true proof, apparent " + quantity.Fixed(apparent.Value, 2) + " + " + quantity.Fixed(o.Obscuration.Value, 2)
		if o.Rule == RuleNone {
			text = "true proof, the apparent proof as it is"
		} else if !o.Lawful {
			text += ", an estimate only"
		}
		w.Add(text, o.Rounded.StringFixed(1)+" proof")
	})
	return o, nil
}

// rule is decided on decimals: a limit of 400 mg is passed by 400.1 and not by
// the noise of a division.
func rule(solids, proof decimal.Decimal) (Rule, bool) {
	mg := solids.Shift(3)
	switch {
	case mg.LessThanOrEqual(decimal.NewFromInt(400)):
		return RuleNone, true
	case mg.GreaterThan(decimal.NewFromInt(600)):
		return RuleDistil, false
	case proof.LessThan(decimal.NewFromInt(80)) || proof.GreaterThan(decimal.NewFromInt(100)):
		return RuleOther, false
	}
	return RuleEvaporation, true
}
