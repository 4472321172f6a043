package reckon

import (
	"slices"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/fizz"
	"gaugebook/calc/quantity"
)

// drinkTemperatures is wide enough for a can in a car; the limits of each step
// are the formula's.
func drinkTemperatures() []Scale {
	return []Scale{{quantity.Celsius, "0", "65"}, {quantity.Fahrenheit, "32", "149"}}
}

// drinkInputs are what the CO2 dissolves in.
func drinkInputs() []Input {
	return []Input{
		{Key: "abv", Label: "strength", Help: "the strength of the drink, none for water", Scales: []Scale{{quantity.ABV20, "0", "20"}}},
		{Key: "sugar", Label: "sugar", Help: "the sugar in the drink", Scales: []Scale{{quantity.GramPerLitre, "0", "200"}}},
		{Key: "ambient", Label: "air pressure", Help: "the air pressure at the tank, 1013.25 hPa where none is given", Scales: []Scale{{quantity.Hectopascal, "550", "1100"}}},
	}
}

func (s *sheet) drink() fizz.Drink {
	return fizz.Drink{ABV: s.reading("abv"), Sugar: s.reading("sugar")}
}

// carbonationInputs are the two ways of saying how much gas is in a drink.
func carbonationInputs() []Input {
	return []Input{
		{Key: "volumes", Label: "carbonation", Help: "the carbonation in volumes of gas to one of the drink", Scales: []Scale{{quantity.NoUnit, "0.1", "6"}}},
		{Key: "dissolved", Label: "CO2", Help: "the CO2 in the drink, instead of volumes", Scales: []Scale{{quantity.GramPerLitre, "0.2", "12"}}},
	}
}

// carbonation is the input that was given of the two.
func (s *sheet) carbonation() (key string) {
	if s.given("dissolved") {
		return "dissolved"
	}
	return "volumes"
}

// fizzCaution is the caution of the bottling floor about that hazard.
func fizzCaution(hazard string) string {
	for _, c := range fizz.Cautions() {
		if c.Hazard == hazard {
			return c.Text
		}
	}
	panic("reckon: no caution about " + hazard)
}

func mixedDrink() Calculation {
	return Calculation{
		Name:   "mixed-drink",
		Help:   "weights of spirit, water and sugar for a batch of a drink, to be carbonated and canned",
		Source: "balance of mass; OIML R 22:1975 for the contraction; 0.620 L/kg for dissolved sucrose, common practice, no source",
		Inputs: []Input{
			{Key: "batch", Label: "batch", Help: "the volume wanted, at 20 °C", Scales: []Scale{{quantity.Litre, "0.001", "1000000"}, {quantity.Gallon, "0.001", "264172"}}, Required: true},
			{Key: "abv", Label: "strength", Help: "the strength of the drink", Scales: []Scale{{quantity.ABV20, "0.1", "20"}}, Required: true},
			{Key: "sugar", Label: "sugar", Help: "the sugar in the drink, that of juice with it", Scales: []Scale{{quantity.GramPerLitre, "0", "200"}}},
			{Key: "spirit", Label: "spirit", Help: "the strength of the spirit", Scales: []Scale{{quantity.Proof, "1", "200"}, {quantity.ABV20, "0.5", "100"}}, Required: true},
		},
		Outputs: []Output{
			{Key: "spirit_kg", Label: "spirit", Units: "kg", Help: "on a scale in air, as all weights"},
			{Key: "spirit_l", Label: "spirit", Units: "L", Help: "at 20 °C"},
			{Key: "sugar_kg", Label: "sugar", Units: "kg"},
			{Key: "water_kg", Label: "water", Units: "kg"},
			{Key: "batch_kg", Label: "all of it", Units: "kg"},
			{Key: "density", Label: "density of the drink", Units: "kg/m3", Help: "at 20 °C in vacuo"},
			{Key: "note", Label: "note"},
		},
		Caution: fizzCaution("refermentation"),
		Example: []Given{{"batch", "400L"}, {"abv", "7%"}, {"sugar", "60g/L"}, {"spirit", "80%"}},
		run:     runMixedDrink,
	}
}

func runMixedDrink(s *sheet) {
	m, err := fizz.Mix(fizz.Recipe{Batch: s.reading("batch"), ABV: s.reading("abv"), Sugar: s.reading("sugar"), Spirit: s.reading("spirit")})
	if s.fail("batch", err) {
		return
	}
	s.figure("spirit_kg", m.Spirit, 3)
	s.figure("spirit_l", m.SpiritVolume, 3)
	s.figure("sugar_kg", m.Sugar, 3)
	s.figure("water_kg", m.Water, 3)
	s.figure("batch_kg", m.Weight, 2)
	s.figure("density", m.Density, 1)
	s.word("note", m.Caution)
	s.answer.Method, s.answer.Explained = "balance of mass", m.Explained
}

func co2() Calculation {
	return Calculation{
		Name:   "co2",
		Help:   "CO2 in a drink from temperature and pressure, or the pressure to set for a carbonation",
		Source: "Carroll, Slupsky and Mather, J. Phys. Chem. Ref. Data 20 (1991) 1201, 0 to 50 °C; wine's constant (Liger-Belair); brewers' chart (ASBC, Zahm) to compare: all from memory",
		Inputs: slices.Concat([]Input{
			{Key: "temp", Label: "temperature", Help: "the temperature of the drink", Scales: drinkTemperatures(), Required: true},
			{Key: "pressure", Label: "pressure", Help: "the pressure on the gauge", Scales: []Scale{{quantity.Bar, "0", "20"}}},
		}, carbonationInputs(), drinkInputs()),
		Choices: [][]string{{"pressure"}, {"volumes"}, {"dissolved"}},
		Outputs: []Output{
			{Key: "volumes", Label: "carbonation", Help: "volumes of gas in one of the drink"},
			{Key: "co2", Label: "CO2", Units: "g/L"},
			{Key: "pressure_bar", Label: "pressure to set", Units: "bar", Help: "on the gauge, at rest with the gas"},
			{Key: "pressure_psi", Label: "pressure to set", Units: "psi"},
			{Key: "chart", Label: "by the brewers' chart", Help: "volumes, made for beer"},
			{Key: "chart_psi", Label: "by the brewers' chart", Units: "psi", Help: "made for beer"},
			{Key: "note", Label: "note"},
		},
		Caution: fizzCaution("pressure"),
		Example: []Given{{"temp", "4C"}, {"pressure", "1.8bar"}, {"abv", "7%"}},
		run:     runCO2,
	}
}

func runCO2(s *sheet) {
	if s.given("pressure") {
		d, err := fizz.Dissolve(fizz.Saturation{Drink: s.drink(), Temp: s.reading("temp"), Pressure: s.reading("pressure"), Ambient: s.reading("ambient")})
		if s.fail("temp", err) {
			return
		}
		s.figure("volumes", d.Volumes, 2)
		s.figure("co2", d.CO2, 2)
		s.figure("chart", d.Chart, 2)
		s.notes(d.Notes)
		s.answer.Method, s.answer.Explained = "computed (Henry's law)", d.Explained
		return
	}
	r, err := fizz.SetPressure(fizz.Target{Drink: s.drink(), Temp: s.reading("temp"), Volumes: s.reading(s.carbonation()), Ambient: s.reading("ambient")})
	if s.fail(s.carbonation(), renamed(err, "volumes", s.carbonation())) {
		return
	}
	s.figure("co2", r.CO2, 2)
	s.figure("pressure_bar", r.Pressure.In(quantity.Bar), 2)
	s.figure("pressure_psi", r.Pressure.In(quantity.PSI), 1)
	s.figure("chart_psi", r.Chart.In(quantity.PSI), 1)
	s.notes(r.Notes)
	s.answer.Method, s.answer.Explained = "computed (Henry's law)", r.Explained
}

// notes puts remarks, if there are any.
func (s *sheet) notes(notes []string) {
	if len(notes) > 0 {
		s.word("note", strings.Join(notes, " "))
	}
}

func canPressure() Calculation {
	volume := func(key, label, help string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.Millilitre, "10", "60000"}}}
	}
	return Calculation{
		Name:   "can-pressure",
		Help:   "pressure in a closed can at its hottest, against the rating of its supplier",
		Source: "the higher of the brewers' chart (ASBC, Zahm) and Henry's law with alcohol and sugar, both from memory; headspace by OIML R 22:1975",
		Inputs: slices.Concat(carbonationInputs(), []Input{
			{Key: "temp", Label: "hottest storage", Help: "the hottest the can will get; a car in the sun reaches 60 °C", Scales: drinkTemperatures(), Required: true},
			{Key: "rating", Label: "rating", Help: "the pressure that the can's supplier certifies, 85 psi where none is given", Scales: []Scale{{quantity.PSI, "10", "300"}}, Exact: true},
			volume("filled", "contents", "the contents at filling, with capacity, to see the headspace"),
			volume("capacity", "can, brimful", "the can's brimful volume"),
			{Key: "fill_temp", Label: "filled at", Help: "the temperature at filling, 4 °C where none is given", Scales: []Scale{{quantity.Celsius, "0", "40"}, {quantity.Fahrenheit, "32", "104"}}},
			{Key: "fermentable", Label: "fermentable sugar", Help: "the sugar that yeast could still ferment", Scales: []Scale{{quantity.GramPerLitre, "0", "200"}}},
		}, drinkInputs()),
		Choices: [][]string{{"volumes"}, {"dissolved"}},
		Outputs: []Output{
			{Key: "pressure_psi", Label: "pressure at the hottest", Units: "psi", Help: "on the gauge, the higher of the two ways"},
			{Key: "pressure_bar", Label: "pressure at the hottest", Units: "bar"},
			{Key: "chart_psi", Label: "by the brewers' chart", Units: "psi"},
			{Key: "computed_psi", Label: "by Henry's law", Units: "psi"},
			{Key: "rating_psi", Label: "rating", Units: "psi"},
			{Key: "margin_psi", Label: "rating less pressure", Units: "psi"},
			{Key: "headspace", Label: "headspace left at the hottest", Units: "%"},
			{Key: "verdict", Label: "against the rating"},
			{Key: "refermented", Label: "if its sugar ferments", Help: "volumes added in the closed can"},
			{Key: "note", Label: "note"},
		},
		Caution: fizzCaution("over-carbonation"),
		Example: []Given{{"volumes", "2.7"}, {"temp", "100F"}, {"rating", "90psi"}, {"abv", "7%"}},
		run:     runCanPressure,
	}
}

func runCanPressure(s *sheet) {
	if s.given("filled") != s.given("capacity") {
		missing := map[bool]string{true: "capacity", false: "filled"}[s.given("filled")]
		s.fail(missing, fault.Fault{Code: fault.Missing, Field: missing, Limit: "the headspace needs the contents and the can's brimful volume", Remedy: "give both or neither"})
		return
	}
	r, err := fizz.Seal(fizz.Can{Drink: s.drink(), Volumes: s.reading(s.carbonation()), Hottest: s.reading("temp"), Rating: s.reading("rating"),
		Filled: s.reading("filled"), Capacity: s.reading("capacity"), FillTemp: s.reading("fill_temp"), Ambient: s.reading("ambient")})
	if s.fail(s.carbonation(), renamed(renamed(err, "hottest", "temp"), "volumes", s.carbonation())) {
		return
	}
	s.figure("pressure_psi", r.Pressure.In(quantity.PSI), 1)
	s.figure("pressure_bar", r.Pressure.In(quantity.Bar), 2)
	s.figure("chart_psi", r.Chart.In(quantity.PSI), 1)
	s.figure("computed_psi", r.Computed.In(quantity.PSI), 1)
	s.figure("rating_psi", r.Rating.In(quantity.PSI), 1)
	s.figure("margin_psi", r.Margin.In(quantity.PSI), 1)
	if r.Headspace.Unit == quantity.Percent {
		s.figure("headspace", r.Headspace, 1)
	}
	s.word("verdict", r.Verdict)
	notes := r.Notes
	if s.given("fermentable") {
		f, err := fizz.Referment(fizz.Ferment{Sugar: s.reading("fermentable"), ABV: s.reading("abv")})
		if s.fail("fermentable", renamed(err, "sugar", "fermentable")) {
			return
		}
		s.figure("refermented", f.Volumes, 2)
		if f.Caution != "" {
			notes = append(notes, f.Caution)
		}
	}
	s.notes(notes)
	s.answer.Method, s.answer.Explained = "the higher of the brewers' chart and Henry's law", r.Explained
}
