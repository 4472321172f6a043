package reckon

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// A Table is an answer that runs over many rows: a curve. Every cell is a plain
// decimal; a column's key ends in its unit.
type Table struct {
	Columns []Output
	Rows    [][]string
}

// boilingTemperatures is wide enough for heads above a mountain and for water
// in a deep cellar; what boils at the day's pressure is still's to say.
func boilingTemperatures() []Scale {
	return []Scale{{quantity.Celsius, "40", "110"}, {quantity.Fahrenheit, "104", "230"}}
}

// atThePressure are the two ways of saying what the air weighs at the still.
func atThePressure() []Input {
	return []Input{
		{Key: "pressure", Label: "pressure", Help: "the air pressure at the still, not reduced to sea level", Scales: []Scale{{quantity.Hectopascal, "550", "1100"}}},
		{Key: "altitude", Label: "altitude", Help: "the altitude of the still, where there is no barometer", Scales: []Scale{{quantity.Metre, "-500", "4500"}}, Exact: true},
	}
}

// pressure is the pressure given, that of the altitude given, or none.
func (s *sheet) pressure() (quantity.Reading, bool) {
	if !s.given("altitude") {
		return s.reading("pressure"), true
	}
	if s.given("pressure") {
		return quantity.Reading{}, !s.fail("altitude", fault.Fault{Code: fault.Conflict, Field: "altitude", Limit: "answers the same question as pressure, which is given too", Remedy: "leave one of them out"})
	}
	p, err := still.StandardPressure(s.reading("altitude"))
	return p, !s.fail("altitude", err)
}

func boil() Calculation {
	return Calculation{
		Name:    "boil",
		Help:    "strength of a boiling liquid, its boiling point and the strength of its vapour, from any one of them",
		Source:  "NRTL (Gmehling and Onken, from memory) and Antoine, against the table of Carey and Lewis, Ind. Eng. Chem. 24 (1932) 882",
		Caution: "Heads boil below these figures. Vapour burns and smothers: keep the condenser cold and the room aired. " + still.Defer,
		Inputs: append([]Input{
			{Key: "liquid", Label: "strength of the liquid", Help: "the strength of the boiling liquid", Scales: abvOrProof()},
			{Key: "vapour", Label: "strength of the vapour", Help: "the strength of the vapour, once it is condensed", Scales: abvOrProof()},
			{Key: "temp", Label: "temperature", Help: "the temperature at which both boil", Scales: boilingTemperatures()},
		}, atThePressure()...),
		Choices: [][]string{{"liquid"}, {"vapour"}, {"temp"}},
		Outputs: []Output{
			{Key: "boiling", Label: "boiling point", Units: "C or F"},
			{Key: "liquid_strength", Label: "strength of the liquid", Units: "% or proof"},
			{Key: "vapour_strength", Label: "strength of the vapour", Units: "% or proof", Help: "at most the azeotrope, 97.2 % vol"},
			{Key: "liquid_mole", Label: "ethanol in the liquid", Help: "moles per mole"},
			{Key: "vapour_mole", Label: "ethanol in the vapour", Help: "moles per mole"},
			{Key: "azeotrope", Label: "the azeotrope boils at", Units: "C or F"},
			{Key: "water", Label: "water boils at", Units: "C or F"},
			{Key: "at_pressure", Label: "pressure", Units: "hPa"},
		},
		Example: []Given{{"liquid", "40%"}, {"pressure", "1013.25hPa"}},
		run:     runBoil,
	}
}

func runBoil(s *sheet) {
	pressure, ok := s.pressure()
	if !ok {
		return
	}
	b, err := still.BoilAt(still.Boiling{Liquid: s.reading("liquid"), Vapour: s.reading("vapour"), Temp: s.reading("temp"), Pressure: pressure})
	if s.fail("temp", err) {
		return
	}
	mole := func(x still.MoleFraction) quantity.Figure { return quantity.Figure{Value: float64(x)} }
	s.figure("boiling", b.Temp, 2)
	s.figure("liquid_strength", b.Liquid, 2)
	s.figure("vapour_strength", b.Vapour, 2)
	s.figure("liquid_mole", mole(b.LiquidMole), 4)
	s.figure("vapour_mole", mole(b.VapourMole), 4)
	s.figure("azeotrope", b.Azeotrope, 2)
	s.figure("water", b.Water, 2)
	s.figure("at_pressure", b.Pressure, 1)
	s.answer.Method, s.answer.Explained = "computed (NRTL, Antoine)", b.Explained
}

func batch() Calculation {
	number := func(key, label, help, high string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.NoUnit, "0", high}}, Exact: true}
	}
	return Calculation{
		Name:    "batch",
		Help:    "a batch distillation from charge to end: what comes over, how strong, and the curve of the run",
		Source:  "Rayleigh (1902); McCabe and Thiele (1925); NRTL (Gmehling and Onken, from memory) and Antoine",
		Caution: "A plan, not a cut: smell and taste decide, and cutting heads does not remove methanol. Vapour burns: keep the condenser cold, the receiver aired, no flame near. " + still.Defer,
		Inputs: append([]Input{
			{Key: "charge", Label: "charge", Help: "the volume of the charge at 20 °C, or 60 °F in gallons", Scales: volumes(), Required: true},
			{Key: "strength", Label: "strength", Help: "the strength of the charge", Scales: abvOrProof(), Required: true},
			number("plates", "plates", "the effective plates above the pot: 0 for a bare pot, 0.2 to 0.6 for its hood, about 0.6 for a tray", "30"),
			number("reflux", "reflux", "what flows back over what is drawn; without it, plates count as at total reflux", "1000"),
			{Key: "end", Label: "end", Help: "the strength of the spirit at which the run ends", Scales: abvOrProof()},
			{Key: "end_still", Label: "end in the still", Help: "the strength of what is left at which the run ends", Scales: abvOrProof()},
			number("heat_kw", "heat", "the power in kW that boils, losses taken off", "100000"),
		}, atThePressure()...),
		Choices: [][]string{{"end"}, {"end_still"}},
		Outputs: []Output{
			{Key: "volume", Label: "drawn, at 20 °C", Units: "L or gal", Help: "in gallons at 60 °F where the charge was"},
			{Key: "drawn_strength", Label: "strength of what is drawn", Units: "% or proof"},
			{Key: "lpa", Label: "litres of pure alcohol", Units: "L", Help: "drawn, at 20 °C"},
			{Key: "left", Label: "left in the still", Units: "L or gal"},
			{Key: "left_strength", Label: "strength of what is left", Units: "% or proof"},
			{Key: "recovery", Label: "recovered of the charge's alcohol", Units: "%"},
			{Key: "minutes", Label: "time of boiling", Units: "min", Help: "where the heat is given"},
		},
		Example: []Given{{"charge", "300L"}, {"strength", "25%"}, {"plates", "0.4"}, {"end", "60%"}},
		run:     runBatch,
	}
}

func runBatch(s *sheet) {
	pressure, ok := s.pressure()
	if !ok {
		return
	}
	way := still.Way{Plates: s.reading("plates").Float(), Reflux: s.reading("reflux").Float()}
	if !s.given("reflux") {
		way.Reflux = still.TotalReflux()
	}
	volume := s.reading("charge")
	p, err := still.Plan{Volume: volume, Strength: s.reading("strength"), Pressure: pressure, Way: way,
		Heat: still.Kilowatt(s.reading("heat_kw").Float()), End: s.reading("end"), EndStill: s.reading("end_still")}.Work()
	if s.fail("charge", err) {
		return
	}
	drawn, left := p.Drawn, p.Left
	if american(volume) {
		last := p.Curve.Last()
		drawn, left = inGallons(last.Drawn, drawn), inGallons(last.Left, left)
	}
	s.figure("volume", drawn, 2)
	s.figure("drawn_strength", p.DrawnStrength, 2)
	s.figure("lpa", p.PureAlcohol, 2)
	s.figure("left", left, 2)
	s.figure("left_strength", p.LeftStrength, 2)
	s.figure("recovery", p.Recovery, 2)
	if p.Minutes.Unit == quantity.Minute {
		s.figure("minutes", p.Minutes, 0)
	}
	s.answer.Method, s.answer.Explained = "computed (Rayleigh, McCabe and Thiele, NRTL, Antoine)", p.Explained
	s.answer.Table = batchTable(p.Curve, american(volume), s.reading("strength").Unit())
}

// inGallons is a liquid as gallons at 60 °F, with the uncertainty of its litres.
func inGallons(l still.Liquid, litres quantity.Figure) quantity.Figure {
	gal := quantity.Figure{Value: l.VolumeAt(spirit.At60F), Unit: quantity.Litre}.In(quantity.Gallon)
	gal.U, gal.HasU = litres.In(quantity.Gallon).U, litres.HasU
	return gal
}

// batchTable is the curve in the units of the charge: litres at 20 °C, °C and
// litres of pure alcohol, or gallons at 60 °F, °F and proof gallons.
func batchTable(c still.Curve, us bool, scale quantity.Unit) *Table {
	suffix := map[bool]string{true: "_proof", false: "_abv"}[scale == quantity.Proof]
	type column struct {
		Output
		of func(still.Point) float64
	}
	strength := func(key, label string, of func(still.Point) spirit.Strength) column {
		return column{Output{Key: key + suffix, Label: label, Units: symbol(scale)}, func(p still.Point) float64 { return of(p).In(scale) }}
	}
	volume := func(key, label string, of func(still.Point) still.Liquid) column {
		if us {
			return column{Output{Key: key + "_gal", Label: label, Units: "gal"}, func(p still.Point) float64 { return inGallons(of(p), quantity.Figure{Unit: quantity.Litre}).Value }}
		}
		return column{Output{Key: key + "_l", Label: label, Units: "L"}, func(p still.Point) float64 { return of(p).Volume() }}
	}
	temp := func(key, label string, of func(still.Point) spirit.Celsius) column {
		if us {
			return column{Output{Key: key + "_f", Label: label, Units: "F"}, func(p still.Point) float64 { return of(p).Fahrenheit() }}
		}
		return column{Output{Key: key + "_c", Label: label, Units: "C"}, func(p still.Point) float64 { return float64(of(p)) }}
	}
	pure := column{Output{Key: "collected_lpa", Label: "pure alcohol collected", Units: "L"}, func(p still.Point) float64 { return p.Drawn.PureAlcohol() }}
	if us {
		pure = column{Output{Key: "collected_pg", Label: "pure alcohol collected", Units: proofGallon}, func(p still.Point) float64 {
			return inGallons(p.Drawn, quantity.Figure{Unit: quantity.Litre}).Value * p.Drawn.Strength().Proof() / 100
		}}
	}
	drawn := func(p still.Point) still.Liquid { return p.Drawn }
	left := func(p still.Point) still.Liquid { return p.Left }
	columns := []column{
		pure,
		volume("collected", "collected", drawn),
		strength("spirit", "strength of what comes over", func(p still.Point) spirit.Strength { return p.Spirit }),
		strength("collected", "strength of all collected", func(p still.Point) spirit.Strength {
			if p.Drawn.Mass() == 0 {
				return p.Spirit
			}
			return p.Drawn.Strength()
		}),
		strength("still", "strength of what is left", func(p still.Point) spirit.Strength { return p.Left.Strength() }),
		volume("still", "what is left", left),
		temp("vapour", "vapour", func(p still.Point) spirit.Celsius { return p.Vapour }),
		temp("still", "what is left", func(p still.Point) spirit.Celsius { return p.Pot }),
	}
	if c.Last().Minutes > 0 {
		columns = append(columns, column{Output{Key: "minutes", Label: "time of boiling", Units: "min"}, func(p still.Point) float64 { return p.Minutes }})
	}
	t := &Table{Rows: make([][]string, len(c.Points))}
	for _, col := range columns {
		t.Columns = append(t.Columns, col.Output)
		for i, p := range c.Points {
			t.Rows[i] = append(t.Rows[i], quantity.Fixed(math.Max(col.of(p), 0), 3))
		}
	}
	return t
}
