package reckon

import (
	"strings"
	"time"

	"gaugebook/calc/cask"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// storeCaution is the caution of the spirit store about that hazard.
func storeCaution(hazard string) string {
	for _, c := range cask.Cautions() {
		if c.Hazard == hazard {
			return c.Text
		}
	}
	panic("reckon: no caution about " + hazard)
}

func age() Calculation {
	share := func(key, label, help, high string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.Percent, "0", high}}}
	}
	return Calculation{
		Name:   "age",
		Help:   "volume and strength in a barrel after years: by a yearly loss, or learned from its own regauges",
		Source: "compound loss; two-component model of water and ethanol, break-even humidity 60 to 70 % at 63 % vol from memory",
		Inputs: []Input{
			{Key: "volume", Label: "filled", Help: "the volume filled, L at 20 °C or gal at 60 °F", Scales: volumes()},
			{Key: "yearly", Label: "yearly loss", Help: "the loss a year, of what is left", Scales: []Scale{{quantity.Percent, "0", "30"}}},
			share("first_year", "first year", "the loss of the first year, where new wood soaks up more", "30"),
			{Key: "strength", Label: "strength filled", Help: "the strength filled; give drift too, or no alcohol is worked out", Scales: abvOrProof()},
			{Key: "drift", Label: "drift", Help: "the change of the strength a year, below 0 where it falls: humid air lowers it, dry air raises it", Scales: []Scale{{quantity.ABV20, "-10", "10"}, {quantity.Proof, "-10", "10"}}, difference: true},
			{Key: "regauge", Label: "gauges", Help: "the filling and every regauge, volume at strength (or net weight at strength), in order", Scales: append(volumes(), weights()...), At: abvOrProof(), Repeatable: true},
			{Key: "day", Label: "their days", Help: "the day of each gauge, counted from the filling on day 0, in the same order", Scales: []Scale{{quantity.Day, "0", "36525"}}, Repeatable: true, Exact: true},
			{Key: "humidity", Label: "humidity", Help: "the relative humidity of the store, 65 where none is given", Scales: []Scale{{quantity.Percent, "10", "99"}}, Exact: true},
			{Key: "target", Label: "target strength", Help: "a strength to wait for, with regauges", Scales: abvOrProof(), Exact: true},
			{Key: "years", Label: "years", Help: "the years from the filling", Scales: []Scale{{quantity.NoUnit, "0", "100"}}, Required: true, Exact: true},
		},
		Choices: [][]string{{"volume", "yearly"}, {"regauge", "day"}},
		Outputs: []Output{
			{Key: "volume", Label: "left", Units: "L or gal"},
			{Key: "volume_low", Label: "at least", Units: "L or gal", Help: "two standard uncertainties, from the regauges"},
			{Key: "volume_high", Label: "at most", Units: "L or gal"},
			{Key: "lost", Label: "lost", Units: "L or gal"},
			{Key: "lost_share", Label: "lost of the filling", Units: "%"},
			{Key: "strength", Label: "strength", Units: "% or proof"},
			{Key: "strength_low", Label: "at least", Units: "% or proof"},
			{Key: "strength_high", Label: "at most", Units: "% or proof"},
			{Key: "lpa", Label: "litres of pure alcohol", Units: "L", Help: "at 20 °C"},
			{Key: "lpa_lost", Label: "pure alcohol lost", Units: "L"},
			{Key: "yearly_loss", Label: "yearly loss now", Units: "%", Help: "at the last regauge"},
			{Key: "yearly_drift", Label: "drift now", Units: "% or proof", Help: "a year, at the last regauge"},
			{Key: "break_even", Label: "break-even humidity", Units: "%", Help: "above it the strength falls, below it rises"},
			{Key: "target_years", Label: "target reached", Help: "years from the filling, and the band"},
			{Key: "note", Label: "note"},
		},
		Caution: "A forecast, not a gauge: only a regauge says what is in the barrel. " + storeCaution("lifting"),
		Example: []Given{{"volume", "200L"}, {"yearly", "2%"}, {"years", "10"}},
		run: func(s *sheet) {
			if s.given("regauge") {
				runRegauged(s)
				return
			}
			runEvaporate(s)
		},
	}
}

func runEvaporate(s *sheet) {
	for _, key := range []string{"humidity", "target"} {
		if s.given(key) {
			s.fail(key, fault.Fault{Code: fault.Conflict, Limit: "needs the barrel's regauges", Remedy: "give regauge and day, or leave it out"})
			return
		}
	}
	e, err := cask.Evaporate(cask.Evaporation{Volume: s.reading("volume"), Strength: s.reading("strength"), Yearly: s.reading("yearly"),
		FirstYear: s.reading("first_year"), Drift: s.reading("drift"), Years: s.reading("years")})
	if s.fail("volume", err) {
		return
	}
	s.figure("volume", e.Volume, 1)
	s.figure("lost", e.Lost, 1)
	s.figure("lost_share", e.LostShare, 1)
	if e.Strength.Unit != quantity.NoUnit {
		s.figure("strength", e.Strength, 2)
		s.figure("lpa", e.PureAlcohol, 2)
		s.figure("lpa_lost", e.PureLost, 2)
	}
	s.answer.Method, s.answer.Explained = "compounded yearly losses", e.Explained
}

func runRegauged(s *sheet) {
	for _, key := range []string{"first_year", "strength", "drift"} {
		if s.given(key) {
			s.fail(key, fault.Fault{Code: fault.Conflict, Limit: "is what the regauges tell", Remedy: "leave it out"})
			return
		}
	}
	gauges, days := s.figures["regauge"], s.figures["day"]
	if len(gauges) != len(days) {
		s.fail("day", fault.Fault{Code: fault.Conflict, Field: "day", Limit: "is not given once for each gauge", Remedy: "give a day for each regauge, in the same order, 0 for the filling"})
		return
	}
	var b cask.Barrel
	b.Humidity = s.reading("humidity")
	start := time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
	on := func(days float64) time.Time { return start.AddDate(0, 0, int(days+0.5)) }
	for i, g := range gauges {
		if g.wanted {
			s.fail("regauge", fault.Fault{Code: fault.Missing, Field: "regauge", Value: g.typed, Limit: "has no amount", Remedy: "give what was gauged"})
			return
		}
		b.Gauges = append(b.Gauges, cask.Gauging{On: on(days[i].amount.In(quantity.Day)), Amount: g.amount, Strength: g.at})
	}
	f, err := b.Fit()
	if s.fail("regauge", gaugeNamed(err)) {
		return
	}
	if last := b.Gauges[len(b.Gauges)-1].On; on(s.reading("years").Float() * 365.25).Before(last) {
		s.fail("years", fault.Fault{Code: fault.TooLow, Limit: "is before the last gauge, on day " + days[len(days)-1].typed, Remedy: "ask for a later time; what was is in the gauges"})
		return
	}
	then, err := f.At(on(s.reading("years").Float() * 365.25))
	if s.fail("years", renamed(err, "day", "years")) {
		return
	}
	band := func(key string, f quantity.Figure, places int32) {
		low, high := f, f
		low.Value, high.Value = f.Value-f.Expanded(), f.Value+f.Expanded()
		low.HasU, high.HasU = false, false
		s.figure(key, f, places)
		s.figure(key+"_low", low, places)
		s.figure(key+"_high", high, places)
	}
	band("volume", then.Volume, 1)
	band("strength", then.Strength, 2)
	s.figure("lpa", then.PureAlcohol, 2)
	s.figure("yearly_loss", f.Loss, 1)
	s.figure("yearly_drift", f.Drift, 2)
	s.figure("break_even", f.BreakEven, 0)
	if s.given("target") {
		r, err := f.Reaches(s.reading("target"))
		if s.fail("target", err) {
			return
		}
		years := func(t time.Time) string { return quantity.Fixed(t.Sub(start).Hours()/24/365.25, 1) }
		words := "not within 60 years"
		switch {
		case !r.On.IsZero() && r.Latest.IsZero():
			words = years(r.On) + ", from " + years(r.Earliest) + " on, perhaps never"
		case !r.On.IsZero():
			words = years(r.On) + ", from " + years(r.Earliest) + " to " + years(r.Latest)
		case !r.Earliest.IsZero():
			words = "not by what is likely; at the band's edge from " + years(r.Earliest)
		}
		s.word("target_years", words)
	}
	notes := f.Notes
	for _, x := range f.Suspicious {
		notes = append(notes, "Gauge "+quantity.Fixed(float64(x.Gauge+1), 0)+": "+x.Advice+".")
	}
	if notes != nil {
		s.word("note", strings.Join(notes, " "))
	}
	s.answer.Method, s.answer.Explained = "two-component model fitted to the barrel's own regauges", then.Explained
}

// gaugeNamed gives a fault of one gauge, "gauge 2 strength", to the input it
// was typed in.
func gaugeNamed(err error) error {
	var in, out fault.List
	in.Add("regauge", err)
	for _, f := range in {
		if name, of, ok := cutLast(f.Field); ok {
			f.Limit = name + ": " + f.Limit
			f.Field = "regauge"
			if of == "day" {
				f.Field, f.Value = "day", "" // a date here is one of the sheet's own
			}
		}
		out = append(out, f)
	}
	return out.Err()
}

// cutLast parts "gauge 2 strength" into "gauge 2" and "strength".
func cutLast(field string) (head, last string, ok bool) {
	i := strings.LastIndexByte(field, ' ')
	if i < 0 {
		return "", "", false
	}
	return field[:i], field[i+1:], true
}

func tank() Calculation {
	length := func(key, label, help string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.Centimetre, "0", "2000"}}}
	}
	return Calculation{
		Name:   "tank",
		Help:   "volume in a tank from its dip: by the tank's own table, or as a cylinder where it has none",
		Source: "straight line between the rows of the tank's table (27 CFR 30.51 asks for a table); geometry",
		Inputs: []Input{
			func() Input { in := length("dip", "dip", "the depth on the stick"); in.Required = true; return in }(),
			{Key: "row", Label: "the tank's table", Help: "the rows of the tank's own table, volume at dip, two or more", Scales: volumes(), At: []Scale{{quantity.Centimetre, "0", "2000"}}, Repeatable: true, Exact: true},
			length("upright", "upright cylinder", "the inner diameter of an upright cylinder with a flat bottom"),
			length("lying", "lying cylinder", "the inner diameter of a lying cylinder with flat ends"),
			length("length", "its length", "the inner length of the lying cylinder"),
		},
		Choices: [][]string{{"row"}, {"upright"}, {"lying", "length"}},
		Outputs: []Output{
			{Key: "volume", Label: "volume", Units: "L or gal", Help: "at the temperature it has; gauge-volume brings it to 60 °F or 20 °C"},
			{Key: "per_cm", Label: "a centimetre stands for", Units: "L or gal"},
		},
		Caution: "Read temperature and proof with the dip. " + storeCaution("vapour"),
		Example: []Given{{"dip", "75cm"}, {"row", "60L@10cm"}, {"row", "400L@50cm"}, {"row", "830L@100cm"}},
		run:     runTank,
	}
}

func runTank(s *sheet) {
	dip := s.reading("dip")
	var d cask.Dipped
	var err error
	switch {
	case s.given("row"):
		var rows []cask.Strapping
		for _, f := range s.figures["row"] {
			if f.wanted {
				s.fail("row", fault.Fault{Code: fault.Missing, Field: "row", Value: f.typed, Limit: "has no volume", Remedy: "copy the row from the tank's table"})
				return
			}
			rows = append(rows, cask.Strapping{Dip: f.at, Volume: f.amount})
		}
		table, tableErr := cask.NewTable(rows)
		if s.fail("row", rowNamed(tableErr)) {
			return
		}
		d, err = table.Volume(dip)
	case s.given("upright"):
		d, err = cask.Upright{Diameter: s.reading("upright")}.Volume(dip)
		err = renamed(err, "diameter", "upright")
	default:
		d, err = cask.Lying{Diameter: s.reading("lying"), Length: s.reading("length")}.Volume(dip)
		err = renamed(err, "diameter", "lying")
	}
	if s.fail("dip", err) {
		return
	}
	s.figure("volume", d.Volume, 1)
	s.figure("per_cm", d.PerCM, 3)
	s.answer.Method, s.answer.Explained = d.Method, d.Explained
}

// rowNamed gives every fault of a table to the input row.
func rowNamed(err error) error {
	var in, out fault.List
	in.Add("row", err)
	for _, f := range in {
		f.Field = "row"
		out = append(out, f)
	}
	return out.Err()
}

func macerate() Calculation {
	return Calculation{
		Name:   "macerate",
		Help:   "strength and yield of fruit in spirit, once the fruit's water has come out",
		Source: "mass balance with densities from OIML R 22:1975; water in fruit 80 to 88 %, drained 70 to 85 %: common practice, no source",
		Inputs: []Input{
			{Key: "spirit", Label: "spirit", Help: "the spirit, by volume or weight", Scales: append(volumes(), weights()...), Required: true},
			{Key: "strength", Label: "its strength", Help: "the strength of the spirit", Scales: abvOrProof(), Required: true},
			{Key: "fruit", Label: "fruit", Help: "the prepared weight of the fruit", Scales: weights(), Required: true},
			{Key: "water", Label: "water in it", Help: "the share of water in the fruit, 85 where none is given; peel has next to none", Scales: []Scale{{quantity.Percent, "0", "98"}}},
			{Key: "drained", Label: "drains", Help: "the share of the liquid that runs off, 70 to 85 where none is given", Scales: []Scale{{quantity.Percent, "1", "100"}}, Exact: true},
		},
		Outputs: []Output{
			{Key: "strength", Label: "strength", Units: "% or proof", Help: "at equilibrium; a hydrometer shows less under the fruit's sugar"},
			{Key: "liquid", Label: "liquid in all", Units: "L or gal"},
			{Key: "drained_low", Label: "runs off, at least", Units: "L or gal"},
			{Key: "drained_high", Label: "at most", Units: "L or gal"},
			{Key: "lpa_left_low", Label: "pure alcohol left in the fruit, at least", Units: "L"},
			{Key: "lpa_left_high", Label: "at most", Units: "L"},
			{Key: "advice", Label: "advice"},
		},
		Caution: storeCaution("vapour"),
		Example: []Given{{"spirit", "10.0L"}, {"strength", "60%"}, {"fruit", "4.0kg"}},
		run: func(s *sheet) {
			m, err := cask.Macerate(cask.Maceration{Spirit: s.reading("spirit"), Strength: s.reading("strength"), Fruit: s.reading("fruit"), Water: s.reading("water"), Drained: s.reading("drained")})
			if s.fail("spirit", err) {
				return
			}
			s.figure("strength", m.Strength, 2)
			s.figure("liquid", m.Liquid, 2)
			s.figure("drained_low", m.DrainedLow, 2)
			s.figure("drained_high", m.DrainedTop, 2)
			s.figure("lpa_left_low", m.LeftLow, 2)
			s.figure("lpa_left_high", m.LeftTop, 2)
			if m.Advice != "" {
				s.word("advice", m.Advice)
			}
			s.answer.Method, s.answer.Explained = massBalance, m.Explained
		},
	}
}
