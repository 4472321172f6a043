package reckon

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A strengthScale is one way of saying how strong a spirit is.
type strengthScale struct {
	key    string
	scales []Scale
	from   func(float64) (spirit.Strength, error) // nil for density, which needs a temperature
	in     func(spirit.Strength) float64
	unit   quantity.Unit
	shown  int32
	words  string
}

func strengthScales() []strengthScale {
	percent := []Scale{{quantity.Percent, "0", "100"}}
	return []strengthScale{
		{"proof", proofOrABV(), spirit.FromProof, spirit.Strength.Proof, quantity.Proof, 2, "US proof, at 60 °F"},
		{"abv20", []Scale{{quantity.ABV20, "0", "100"}}, spirit.FromABV20, spirit.Strength.ABV20, quantity.ABV20, 2, "% vol at 20 °C"},
		{"abv15", percent, spirit.FromABV15, spirit.Strength.ABV15, quantity.Percent, 2, "% vol at 15 °C"},
		{"abv60f", percent, spirit.FromABV60F, spirit.Strength.ABV60F, quantity.Percent, 2, "% vol at 60 °F"},
		{"mass_percent", percent, spirit.FromMassPercent, spirit.Strength.MassPercent, quantity.Percent, 2, "% by mass"},
		{"density", []Scale{{quantity.KilogramPerCubicMetre, "700", "1020"}}, nil, nil, quantity.KilogramPerCubicMetre, 2, "density in vacuo"},
		{"sg60", []Scale{{quantity.SG, "0.79", "1"}}, spirit.FromSG60, spirit.Strength.SG60, quantity.SG, 5, "specific gravity 60/60 °F in vacuo"},
	}
}

func strength() Calculation {
	c := Calculation{
		Name:    "strength",
		Help:    "one strength on every scale: proof, % vol at 20 °C, 15 °C and 60 °F, % by mass, density, specific gravity",
		Source:  "OIML R 22:1975, general formula; 27 CFR 30.11 (proof is twice the % vol at 60 °F)",
		Example: []Given{{"abv20", "40"}},
		run:     runStrength,
	}
	for _, s := range strengthScales() {
		in := Input{Key: s.key, Label: s.words, Help: s.words, Scales: s.scales}
		out := Output{Key: s.key, Label: s.words, Units: symbol(s.unit)}
		if s.from == nil {
			in.Help += ", at temp"
			out.Help = "at temp, or at 20 °C where none is given"
		}
		c.Inputs = append(c.Inputs, in)
		c.Outputs = append(c.Outputs, out)
		c.Choices = append(c.Choices, []string{s.key})
	}
	c.Inputs = append(c.Inputs, Input{Key: "temp", Label: "temperature", Help: "temperature of the density", Scales: temperatures()})
	return c
}

func runStrength(s *sheet) {
	t := s.reading("temp")
	if t.IsNone() {
		if s.given("density") {
			in, _ := s.input("temp")
			s.answer.Faults.Add("temp", fault.Fault{Code: fault.Missing, Limit: in.Help + " is needed", Remedy: "give the temperature at which it was found, for example temp=20C"})
			return
		}
		t = quantity.MustParse("20", quantity.Celsius)
	}
	all := strengthScales()
	var given strengthScale
	for _, sc := range all {
		if s.given(sc.key) {
			given = sc
		}
	}
	r := s.reading(given.key)
	unit := given.unit
	if given.key == "proof" {
		unit = r.Unit() // a strength in % vol at 20 °C is no multiple of a proof
	}
	from := given.from
	if unit == quantity.ABV20 {
		from = spirit.FromABV20
	}
	estimates, err := quantity.Propagate(
		[]quantity.Estimate{r.EstimateIn(unit), t.EstimateIn(quantity.Celsius)},
		func(x []float64) ([]float64, error) {
			at := spirit.Celsius(x[1])
			var strength spirit.Strength
			var err error
			if from == nil {
				strength, err = spirit.FromDensity(spirit.Density(x[0]), at)
			} else {
				strength, err = from(x[0])
			}
			if err != nil {
				return nil, err
			}
			y := make([]float64, len(all))
			for i, sc := range all {
				if sc.in != nil {
					y[i] = sc.in(strength)
				} else {
					y[i] = float64(strength.DensityAt(at))
				}
			}
			return y, nil
		})
	if s.fail(given.key, err) {
		return
	}
	s.answer.Method = "computed (OIML R 22)"
	figures := make([]quantity.Figure, len(all))
	for i, sc := range all {
		figures[i] = quantity.Figure{Value: estimates[i].Value, U: estimates[i].U, Unit: sc.unit, HasU: quantity.Doubted(r, t)}
		s.figure(sc.key, figures[i], sc.shown)
	}
	s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add(given.words+" as given", r.String())
		for i, sc := range all {
			words := sc.words
			if sc.from == nil {
				words += " at " + t.String()
			}
			w.Add("the same liquid in "+words, figures[i].Text(sc.shown))
		}
	})
}
