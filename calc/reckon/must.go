package reckon

import (
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
)

// Extracts are typed in Bx or, with a figure near 1, as SG with its unit.
func extracts() []Scale {
	return []Scale{{quantity.Brix, "-5.2", "40"}, {quantity.SG, "0.98", "1.17874"}}
}

// mashTemperatures is wide enough for a boil, the limits of each step are the
// formula's.
func mashTemperatures() []Scale {
	return []Scale{{quantity.Celsius, "-10", "100"}, {quantity.Fahrenheit, "14", "212"}}
}

func gravity() Calculation {
	return Calculation{
		Name:   "gravity",
		Help:   "extract, specific gravity and sugar per litre at 20 °C from a hydrometer or a refractometer and its temperature",
		Source: "NBS Circular 440 (fit of Brix to SG 20/20); temperature tables of NBS Circular 440 and ICUMSA, from memory",
		Inputs: []Input{
			{Key: "hydrometer", Label: "hydrometer", Help: "the reading of a Brix (Plato) or SG hydrometer", Scales: extracts()},
			{Key: "refractometer", Label: "refractometer", Help: "the reading of a refractometer, before fermentation only", Scales: []Scale{{quantity.Brix, "0", "40"}}},
			{Key: "temp", Label: "temperature", Help: "the temperature of the sample; leave it out for a refractometer that compensates", Scales: []Scale{{quantity.Celsius, "0", "35"}, {quantity.Fahrenheit, "32", "95"}}},
			{Key: "calibration", Label: "calibrated at", Help: "the temperature on the hydrometer's stem, 20C where none is given", Scales: []Scale{{quantity.Celsius, "14", "25"}, {quantity.Fahrenheit, "58", "77"}}, Exact: true},
		},
		Choices: [][]string{{"hydrometer"}, {"refractometer"}},
		Outputs: []Output{
			{Key: "brix", Label: "extract", Units: "Bx", Help: "g in 100 g, as sucrose; apparent once alcohol is present"},
			{Key: "sg", Label: "specific gravity", Units: "sg", Help: "20/20 °C"},
			{Key: "sugar", Label: "extract per litre", Units: "g/L", Help: "at 20 °C"},
			{Key: "correction", Label: "correction", Units: "Bx", Help: "what was added for temperature"},
			{Key: "note", Label: "note", Help: "what the figure can and cannot say"},
		},
		Caution:   "A refractometer tells nothing once alcohol is present: it reads about 0.44 Bx for each % by mass of it. Strain and degas a fermenting sample before the hydrometer.",
		Example:   []Given{{"hydrometer", "20.0Bx"}, {"temp", "28.0C"}},
		lastDigit: true,
		run:       runGravity,
	}
}

func runGravity(s *sheet) {
	sample := must.Sample{Instrument: must.Hydrometer, Temp: s.reading("temp"), Calibration: s.reading("calibration")}
	key := "hydrometer"
	if s.given("refractometer") {
		key, sample.Instrument = "refractometer", must.Refractometer
		if s.given("calibration") {
			s.fail("calibration", fault.Fault{Code: fault.Conflict, Limit: "is given for a refractometer, which has none", Remedy: "leave it out"})
			return
		}
	}
	sample.Reading = s.reading(key)
	c, err := must.Correct(sample)
	if s.fail(key, renamed(err, "reading", key)) {
		return
	}
	s.figure("brix", c.Extract, 2)
	s.figure("sg", c.Gravity, 4)
	s.figure("sugar", c.Sugar, 1)
	s.figure("correction", c.Correction, 2)
	s.word("note", c.Note)
	s.answer.Method, s.answer.Explained = "computed (NBS Circular 440) with the printed temperature table", c.Explained
}

func extract() Calculation {
	return Calculation{
		Name:   "extract",
		Help:   "real extract, attenuation and alcohol of a ferment from its extract before and now",
		Source: "Balling's relations (De Clerck; Briggs et al.; Cutaia, Reid and Speers 2009), from memory",
		Inputs: []Input{
			{Key: "original", Label: "original extract", Help: "the extract before the yeast went in, corrected to 20 °C", Scales: extracts(), Required: true},
			{Key: "present", Label: "present extract", Help: "the hydrometer's extract now, corrected to 20 °C", Scales: extracts(), Required: true},
		},
		Outputs: []Output{
			{Key: "abv20", Label: "alcohol so far", Units: "%", Help: "% vol at 20 °C"},
			{Key: "abv20_low", Label: "at least", Units: "%", Help: "±3 % for fruit and molasses, and the readings' doubt"},
			{Key: "abv20_high", Label: "at most", Units: "%"},
			{Key: "alcohol_by_mass", Label: "alcohol by mass", Units: "%"},
			{Key: "real_extract", Label: "real extract", Units: "%"},
			{Key: "apparent_attenuation", Label: "apparent attenuation", Units: "%", Help: "above 100 where the ferment ended below water"},
			{Key: "real_attenuation", Label: "real attenuation", Units: "%"},
		},
		Caution:   "An estimate: the distilled sample and its hydrometer are the reference. Read a hydrometer, never a refractometer.",
		Example:   []Given{{"original", "12.39Bx"}, {"present", "2.56Bx"}},
		lastDigit: true,
		run: func(s *sheet) {
			a, err := must.Attenuate(must.Attenuation{Original: s.reading("original"), Present: s.reading("present")})
			if s.fail("present", err) {
				return
			}
			s.figure("abv20", a.ABV20, 2)
			s.figure("abv20_low", a.Low, 1)
			s.figure("abv20_high", a.High, 1)
			s.figure("alcohol_by_mass", a.AlcoholByMass, 2)
			s.figure("real_extract", a.RealExtract, 2)
			s.figure("apparent_attenuation", a.Apparent, 1)
			s.figure("real_attenuation", a.Real, 1)
			s.answer.Method, s.answer.Explained = "computed (Balling)", a.Explained
		},
	}
}

// materialKey is a material's name as the key of its weight.
func materialKey(m must.Material) string { return strings.ReplaceAll(m.Name, " ", "_") }

func potential() Calculation {
	c := Calculation{
		Name:   "potential",
		Help:   "litres of pure alcohol to expect of fruit, grain, molasses or sugar, with the published low and high marks",
		Source: "German rates of 2004 and 2018; Austrian VO-Abfindung section 2; distillers' handbooks, from memory; average Brix of 19 CFR 151.91",
		Outputs: []Output{
			{Key: "lpa", Label: "pure alcohol, likely", Units: "L", Help: "from the still, at 20 °C"},
			{Key: "lpa_low", Label: "low mark", Units: "L", Help: "the lowest official rate: below it something was lost"},
			{Key: "lpa_high", Label: "high mark", Units: "L", Help: "the handbook's upper figure, or what the sugar can give"},
			{Key: "mash", Label: "mash", Units: "L", Help: "of fruit, its weight over the density of its juice"},
			{Key: "sugar", Label: "sugar by Brix", Units: "kg"},
			{Key: "ceiling", Label: "ceiling", Units: "L", Help: "what that sugar can give at most"},
		},
		Example: []Given{{"damson", "1000kg"}, {"brix", "15.2"}},
		run:     runPotential,
	}
	for _, m := range must.Materials() {
		c.Inputs = append(c.Inputs, Input{Key: materialKey(m), Label: m.Name, Help: "the prepared weight of " + m.Name, Scales: weights()})
		c.Choices = append(c.Choices, []string{materialKey(m)})
	}
	c.Inputs = append(c.Inputs, Input{Key: "brix", Label: "juice", Help: "the corrected extract of the juice, where it was read", Scales: extracts()})
	return c
}

func runPotential(s *sheet) {
	for _, m := range must.Materials() {
		key := materialKey(m)
		if !s.given(key) {
			continue
		}
		x, err := must.Expect(must.Batch{Material: m.Name, Prepared: s.reading(key), Extract: s.reading("brix")})
		if s.fail(key, renamed(renamed(err, "prepared", key), "extract", "brix")) {
			return
		}
		s.figure("lpa", x.PureAlcohol, 1)
		s.figure("lpa_low", x.Low, 1)
		s.figure("lpa_high", x.High, 1)
		if m.Fruit() {
			s.figure("mash", x.Mash, 0)
		}
		if s.given("brix") {
			s.figure("sugar", x.Sugar, 1)
			s.figure("ceiling", x.Ceiling, 1)
		}
		s.answer.Method, s.answer.Explained = "published yields, scaled by Brix where it is known", x.Explained
		return
	}
}

func strike() Calculation {
	return Calculation{
		Name:   "strike",
		Help:   "temperature of the strike water for a grain mash",
		Source: "heat balance; specific heat of grain 0.40 ± 0.02 of water's (Briggs et al., from memory)",
		Inputs: []Input{
			{Key: "grain", Label: "grain", Help: "the weight of milled grain", Scales: weights(), Required: true},
			{Key: "grain_temp", Label: "grain's temperature", Help: "the temperature of the grain", Scales: mashTemperatures(), Required: true},
			{Key: "water", Label: "water", Help: "the water, as measured cold or by weight", Scales: append(volumes(), weights()...), Required: true},
			{Key: "target", Label: "rest", Help: "the temperature of the mash", Scales: mashTemperatures(), Required: true, Exact: true},
			{Key: "tun", Label: "tun", Help: "the weight of water that takes up as much heat as the tun; leave it out where the tun is warmed first", Scales: weights()},
			{Key: "tun_temp", Label: "tun's temperature", Help: "the temperature of the tun, that of the grain where none is given", Scales: mashTemperatures()},
		},
		Outputs: []Output{
			{Key: "strike_c", Label: "strike water", Units: "C"},
			{Key: "strike_f", Label: "strike water", Units: "F"},
			{Key: "thickness", Label: "water to grain", Help: "kg of water to a kg of grain"},
		},
		Caution: mashCaution("hot water and mash"),
		Example: []Given{{"grain", "180kg"}, {"grain_temp", "18C"}, {"water", "540L"}, {"target", "64C"}},
		run: func(s *sheet) {
			r, err := must.StrikeTemperature(must.Strike{Grain: s.reading("grain"), GrainTemp: s.reading("grain_temp"), Water: s.reading("water"),
				Target: s.reading("target"), Tun: s.reading("tun"), TunTemp: s.reading("tun_temp")})
			if s.fail("grain", err) {
				return
			}
			s.figure("strike_c", r.Water, 1)
			s.figure("strike_f", r.Water.In(quantity.Fahrenheit), 0)
			s.figure("thickness", quantity.Figure{Value: r.Thickness}, 2)
			s.answer.Method, s.answer.Explained = "computed by heat balance", r.Explained
		},
	}
}

// mashCaution is the caution of that hazard.
func mashCaution(hazard string) string {
	for _, c := range must.Cautions() {
		if c.Hazard == hazard {
			return c.Text
		}
	}
	panic("reckon: no caution about " + hazard)
}

func diluteWash() Calculation {
	return Calculation{
		Name:   "dilute-wash",
		Help:   "water that brings molasses, syrup or honey to a wash of a wanted extract",
		Source: "mass balance; volume of the wash from NBS Circular 440",
		Inputs: []Input{
			{Key: "weight", Label: "molasses", Help: "the weight of molasses", Scales: weights()},
			{Key: "wash", Label: "wash wanted", Help: "the volume of wash wanted, at 20 °C", Scales: volumes(), Exact: true},
			{Key: "brix", Label: "its extract", Help: "the extract of the molasses; dilute a weighed sample 1 + 1, read it and double", Scales: []Scale{{quantity.Brix, "5", "100"}}, Required: true},
			{Key: "with", Label: "diluent", Help: "the extract of what it is diluted with, where that is not water", Scales: extracts()},
			{Key: "target", Label: "wash", Help: "the extract of the wash", Scales: extracts(), Required: true, Exact: true},
		},
		Choices: [][]string{{"weight"}, {"wash"}},
		Outputs: []Output{
			{Key: "molasses", Label: "molasses", Units: "kg"},
			{Key: "water_weight", Label: "to add", Units: "kg"},
			{Key: "water_volume", Label: "to add", Units: "L", Help: "at 20 °C"},
			{Key: "wash_volume", Label: "wash", Units: "L", Help: "at 20 °C"},
			{Key: "sg", Label: "its gravity", Units: "sg", Help: "20/20 °C"},
			{Key: "note", Label: "note", Help: "where the wash is heavy for a yeast"},
		},
		Example: []Given{{"weight", "250kg"}, {"brix", "80"}, {"target", "18"}},
		run: func(s *sheet) {
			r, err := must.Dilute(must.Dilution{Weight: s.reading("weight"), Wanted: s.reading("wash"), Extract: s.reading("brix"), With: s.reading("with"), Target: s.reading("target")})
			if s.fail("weight", renamed(renamed(err, "extract", "brix"), "wanted", "wash")) {
				return
			}
			s.figure("molasses", r.Molasses, 1)
			s.figure("water_weight", r.Added, 1)
			s.figure("water_volume", r.AddedL, 1)
			s.figure("wash_volume", r.Wash, 1)
			s.figure("sg", r.Gravity, 4)
			if r.Note != "" {
				s.word("note", r.Note)
			}
			s.answer.Method, s.answer.Explained = "computed by mass balance", r.Explained
		},
	}
}

func nutrient() Calculation {
	return Calculation{
		Name:   "nutrient",
		Help:   "nutrient for the yeast by the nitrogen its demand and the Brix ask for",
		Source: "demand of 7.5, 9 or 12.5 mg of N per L and Bx (winemaking handbooks and yeast growers, from memory); upper end 350 mg/L (Fermentation 2022, 8(6), 268)",
		Inputs: []Input{
			{Key: "volume", Label: "mash", Help: "the volume of mash", Scales: volumes(), Required: true},
			{Key: "brix", Label: "original extract", Help: "the extract when the yeast goes in", Scales: extracts(), Required: true},
			{Key: "demand", Label: "demand", Help: "mg of N per L and Bx: 7.5 for an undemanding yeast, 9 for most (where none is given), 12.5 for a demanding one", Scales: []Scale{{quantity.NoUnit, "5", "15"}}, Exact: true},
			{Key: "yan", Label: "nitrogen in the juice", Help: "the yeast-assimilable nitrogen measured in the juice, none where it was not measured", Scales: []Scale{{quantity.MilligramPerLitre, "0", "1000"}}},
			{Key: "nitrogen", Label: "nitrogen in the nutrient", Help: "the share of nitrogen in the nutrient, diammonium phosphate where none is given; urea never", Scales: []Scale{{quantity.Percent, "1", "25"}}},
			{Key: "abv", Label: "alcohol so far", Help: "the alcohol in the mash, none before the start", Scales: []Scale{{quantity.ABV20, "0", "20"}}},
		},
		Outputs: []Output{
			{Key: "wanted", Label: "nitrogen wanted", Units: "mg/L"},
			{Key: "missing", Label: "of that missing", Units: "mg/L"},
			{Key: "dose", Label: "nutrient in all", Units: "g"},
			{Key: "each", Label: "each of two doses", Units: "g"},
			{Key: "per_hl", Label: "in 100 L", Units: "g"},
			{Key: "when", Label: "when", Help: "the two doses"},
			{Key: "advice", Label: "advice", Help: "what to look at"},
		},
		Example: []Given{{"volume", "800L"}, {"brix", "14.0"}, {"yan", "80mg/L"}},
		run:     runNutrient,
	}
}

func runNutrient(s *sheet) {
	demand := must.MediumDemand
	if s.given("demand") {
		demand = must.Demand(s.reading("demand").Float())
	}
	f, err := must.Feed(must.Feeding{Volume: s.reading("volume"), Extract: s.reading("brix"), Demand: demand, Present: s.reading("yan"), Nitrogen: s.reading("nitrogen"), ABV: s.reading("abv")})
	if s.fail("volume", renamed(renamed(err, "extract", "brix"), "present", "yan")) {
		return
	}
	s.figure("wanted", f.Wanted, 0)
	s.figure("missing", f.Missing, 0)
	s.figure("dose", f.Dose, 0)
	s.figure("each", f.Each, 0)
	s.figure("per_hl", f.PerHL, 1)
	s.word("when", f.When)
	s.advice(f.Advice)
	s.answer.Method, s.answer.Explained = "computed by the nitrogen rule", f.Explained
}

// advice puts what a distiller may want to look at, if there is any.
func (s *sheet) advice(as []must.Advice) {
	var words []string
	for _, a := range as {
		words = append(words, a.Finding+" "+a.LookFirst)
	}
	if words != nil {
		s.word("advice", strings.Join(words, " "))
	}
}

func acid() Calculation {
	small := []Scale{{quantity.Millilitre, "0", "1000"}, {quantity.Gram, "0", "1000"}}
	return Calculation{
		Name:   "acid",
		Help:   "acid towards a target pH, scaled up from a titration on the bench",
		Source: "proportion between the two readings about the target; target pH 3.0 to 3.2 for fruit (garden and fruit growers' association, Saarland)",
		Inputs: []Input{
			{Key: "mash", Label: "mash", Help: "the mash, by volume or weight", Scales: append(volumes(), weights()...), Required: true},
			{Key: "sample", Label: "sample", Help: "the sample titrated, by volume or weight as the mash", Scales: append(volumes(), weights()...), Required: true},
			{Key: "step", Label: "titration", Help: "the acid in the sample so far and the pH it gave, from 0 on, at least two", Scales: small, At: []Scale{{quantity.PH, "1", "9"}}, Required: true, Repeatable: true},
			{Key: "target", Label: "target", Help: "the pH wanted", Scales: []Scale{{quantity.PH, "2.8", "5.5"}}, Required: true, Exact: true},
		},
		Outputs: []Output{
			{Key: "dose", Label: "acid for the mash", Units: "mL or g", Help: "of the acid that was titrated with, as strong as that"},
			{Key: "first", Label: "add first", Units: "mL or g", Help: "three quarters: mix, wait, read the pH, then the rest"},
			{Key: "sample_dose", Label: "acid for the sample", Units: "mL or g"},
			{Key: "advice", Label: "advice", Help: "what to look at"},
		},
		Caution: mashCaution("acids"),
		Example: []Given{{"mash", "800L"}, {"sample", "1L"}, {"step", "0mL@3.8pH"}, {"step", "1.0mL@3.4pH"}, {"step", "2.0mL@3.1pH"}, {"target", "3.2"}},
		run:     runAcid,
	}
}

func runAcid(s *sheet) {
	t := must.Titration{Mash: s.reading("mash"), Sample: s.reading("sample"), Target: s.reading("target")}
	for _, f := range s.figures["step"] {
		if f.wanted {
			s.answer.Faults = append(s.answer.Faults, fault.Fault{Code: fault.Missing, Field: "step", Value: f.typed, Limit: "has no amount of acid", Remedy: "give the acid added in all, 0 for the first"})
			return
		}
		t.Steps = append(t.Steps, must.AcidStep{Acid: f.amount, PH: f.at})
	}
	a, err := must.Acidify(t)
	if s.fail("step", renamed(err, "steps", "step")) {
		return
	}
	s.figure("dose", a.Dose, 0)
	s.figure("first", a.First, 0)
	s.figure("sample_dose", a.Sample, 2)
	s.advice(a.Advice)
	s.answer.Method, s.answer.Explained = "scaled from the bench titration", a.Explained
}

func cooling() Calculation {
	temp := func(key, label, help string, exact bool) Input {
		return Input{Key: key, Label: label, Help: help, Scales: mashTemperatures(), Required: true, Exact: exact}
	}
	return Calculation{
		Name:   "cooling",
		Help:   "how long a mash still cools, from two readings of its thermometer",
		Source: "Newton's law of cooling: the gap to the coolant shrinks by the same share in the same time",
		Inputs: []Input{
			temp("start", "at the start", "the mash when the cooling began", false),
			temp("now", "now", "the mash now", false),
			{Key: "elapsed", Label: "between them", Help: "the time from the one reading to the other", Scales: []Scale{{quantity.Minute, "0", "2880"}, {quantity.Hour, "0", "48"}}, Required: true},
			temp("coolant", "coolant", "the water of the jacket or coil, or the air of the room", false),
			temp("target", "wanted", "the temperature wanted", true),
		},
		Outputs: []Output{
			{Key: "minutes", Label: "still", Units: "min", Help: "while flow and stirring stay as they are"},
			{Key: "note", Label: "note"},
		},
		Caution: mashCaution("hot water and mash"),
		Example: []Given{{"start", "65C"}, {"now", "45C"}, {"elapsed", "30min"}, {"coolant", "12C"}, {"target", "20C"}},
		run: func(s *sheet) {
			c := must.Cooling{Start: s.reading("start"), Now: s.reading("now"), Coolant: s.reading("coolant"), Target: s.reading("target"), Elapsed: s.reading("elapsed")}
			left, err := must.CoolingTime(c)
			if s.fail("now", err) {
				return
			}
			s.figure("minutes", left, 0)
			if left.Value == 0 {
				s.word("note", "it is as cool as wanted")
			}
			s.answer.Method = "computed by Newton's law of cooling"
			s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
				gap := func(r quantity.Reading) string {
					return quantity.Fixed(r.In(quantity.Celsius)-c.Coolant.In(quantity.Celsius), 1) + " K"
				}
				w.Add("above the coolant at the start", gap(c.Start))
				w.Add("above the coolant now, after "+c.Elapsed.String(), gap(c.Now))
				w.Add("above the coolant when done", gap(c.Target))
				w.Add("still, elapsed × ln(now ÷ done) ÷ ln(start ÷ now)", left.Text(0))
			})
		},
	}
}

func enzyme() Calculation {
	return Calculation{
		Name:   "enzyme",
		Help:   "pectinase for a fruit mash, by the maker's dose",
		Source: "the maker's dose, doubled below 15 °C; it works from 15 to 50 °C (page of a fruit-wine society, second-hand)",
		Inputs: []Input{
			{Key: "fruit", Label: "fruit", Help: "the prepared weight of the fruit", Scales: weights(), Required: true},
			{Key: "per_tonne", Label: "maker's dose", Help: "for a tonne of fruit, from the maker's sheet: mL or g", Scales: []Scale{{quantity.Millilitre, "0", "5000"}, {quantity.Gram, "0", "5000"}}, Required: true, Exact: true},
			{Key: "temp", Label: "mash", Help: "the temperature of the mash", Scales: mashTemperatures(), Required: true},
		},
		Outputs: []Output{
			{Key: "dose", Label: "enzyme", Units: "mL or g"},
			{Key: "note", Label: "note", Help: "where the cold doubles it"},
			{Key: "advice", Label: "advice", Help: "what to look at"},
		},
		Example: []Given{{"fruit", "1500kg"}, {"per_tonne", "40mL"}, {"temp", "18C"}},
		run: func(s *sheet) {
			r, err := must.Enzyme(must.EnzymeDose{Prepared: s.reading("fruit"), PerTonne: s.reading("per_tonne"), Temp: s.reading("temp")})
			if s.fail("fruit", renamed(err, "prepared", "fruit")) {
				return
			}
			s.figure("dose", r.Dose, 0)
			times := ""
			if r.Doubled {
				times = " × 2"
				s.word("note", "doubled: the mash is below 15 °C; warm it instead, if you can")
			}
			s.advice(r.Advice)
			s.answer.Method = "the maker's dose by weight"
			s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
				w.Add(s.reading("fruit").String()+" × "+s.reading("per_tonne").String()+" a tonne"+times, r.Dose.Text(1))
			})
		},
	}
}
