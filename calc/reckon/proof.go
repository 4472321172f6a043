package reckon

import (
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func trueProof() Calculation {
	return Calculation{
		Name:   "true-proof",
		Help:   "true proof at 60 °F from a proof hydrometer and a thermometer",
		Source: "27 CFR 30.23, 30.31 and Table 1 of the gauging manual where its cells are at hand; computed from OIML R 22:1975 elsewhere",
		Inputs: []Input{
			{Key: "indicated", Label: "hydrometer", Help: "the reading of the proof hydrometer", Scales: []Scale{{quantity.Proof, "0", "206"}}, Required: true},
			{Key: "temp", Label: "thermometer", Help: "the temperature of the sample as it was read", Scales: []Scale{{quantity.Fahrenheit, "0", "100"}, {quantity.Celsius, "-17.7", "37.7"}}, Required: true},
			{Key: "indicated_correction", Label: "hydrometer's correction", Help: "the correction from the hydrometer's certificate, added", Scales: []Scale{{quantity.Proof, "-5", "5"}}, difference: true},
			{Key: "temp_correction", Label: "thermometer's correction", Help: "the correction from the thermometer's certificate, added", Scales: []Scale{{quantity.Fahrenheit, "-9", "9"}, {quantity.Celsius, "-5", "5"}}, difference: true},
		},
		Outputs: []Output{
			{Key: "true_proof", Label: "true proof", Units: "proof", Help: "to the nearest tenth (27 CFR 30.23)"},
			{Key: "true_proof_unrounded", Label: "true proof, unrounded", Units: "proof"},
			{Key: "u", Label: "standard uncertainty", Units: "proof", Help: "of the true proof; a reading without a half-width counts half of its last digit"},
		},
		Example:   []Given{{"indicated", "192.85"}, {"temp", "72.10F"}, {"indicated_correction", "-0.03"}, {"temp_correction", "0.05"}},
		Table1:    true,
		lastDigit: true,
		run:       runTrueProof,
	}
}

func runTrueProof(s *sheet) {
	h := s.hydrometer()
	h.Table = s.desk.Table1
	c, ok := s.correct(h, spirit.TrueProof)
	if ok && c.Method != spirit.PrintedTable {
		h.Table = quotedCells
		c, ok = s.correct(h, spirit.TrueProof)
	}
	if !ok {
		return
	}
	s.corrected("true_proof", c)
}

// correct is one correction; its faults are told of the figures as read, because
// nobody typed the half of a last digit.
func (s *sheet) correct(h spirit.HydrometerReading, f func(spirit.HydrometerReading) (spirit.Corrected, error)) (spirit.Corrected, bool) {
	c, err := f(h)
	if err != nil {
		if _, asRead := f(exactly(h)); asRead != nil {
			err = asRead
		}
	}
	return c, !s.fail("indicated", err)
}

// quotedCells is the part of the printed Table 1 that the CFR itself quotes, in
// 27 CFR 30.23; it answers the regulation's own example as the regulation does.
var quotedCells = mustTable("193,72,190.2\n192,72,189.1\n192,73,188.9\n193,75,189.5\n")

func mustTable(csv string) *spirit.Table {
	t, err := spirit.ParseTable(strings.NewReader(csv))
	if err != nil {
		panic("reckon: " + err.Error()) // the text stands in this file
	}
	return t
}

// exactly is h without half-widths.
func exactly(h spirit.HydrometerReading) spirit.HydrometerReading {
	for _, r := range []*quantity.Reading{&h.Indicated, &h.Temp, &h.IndicatedCorrection, &h.TempCorrection} {
		if r.HasHalfWidth() {
			*r = quantity.MustParse(r.Digits(), r.Unit())
		}
	}
	return h
}

func trueStrength() Calculation {
	return Calculation{
		Name:   "true-strength",
		Help:   "% vol at 20 °C from a % vol hydrometer and a thermometer",
		Source: "OIML R 22:1975, general formula and the table for glass hydrometers (25e-6 per K)",
		Inputs: []Input{
			{Key: "indicated", Label: "hydrometer", Help: "the reading of the % vol hydrometer", Scales: []Scale{{quantity.ABV20, "0", "103"}}, Required: true},
			{Key: "temp", Label: "thermometer", Help: "the temperature of the sample as it was read", Scales: temperatures(), Required: true},
			{Key: "indicated_correction", Label: "hydrometer's correction", Help: "the correction from the hydrometer's certificate, added", Scales: []Scale{{quantity.ABV20, "-3", "3"}}, difference: true},
			{Key: "temp_correction", Label: "thermometer's correction", Help: "the correction from the thermometer's certificate, added", Scales: []Scale{{quantity.Celsius, "-5", "5"}, {quantity.Fahrenheit, "-9", "9"}}, difference: true},
			{Key: "calibration", Label: "calibrated at", Help: "the temperature on the hydrometer's stem: 20C (where none is given), 15C or 60F", Scales: []Scale{{quantity.Celsius, "15", "20"}, {quantity.Fahrenheit, "60", "60"}}, Exact: true},
		},
		Outputs: []Output{
			{Key: "abv20", Label: "% vol at 20 °C", Units: "%", Help: "to the nearest tenth"},
			{Key: "abv20_unrounded", Label: "% vol at 20 °C, unrounded", Units: "%"},
			{Key: "u", Label: "standard uncertainty", Units: "%", Help: "of abv20; a reading without a half-width counts half of its last digit"},
		},
		Example:   []Given{{"indicated", "40.0"}, {"temp", "25.0C"}},
		lastDigit: true,
		run:       runTrueStrength,
	}
}

func runTrueStrength(s *sheet) {
	h := s.hydrometer()
	switch c := s.reading("calibration"); {
	case c.IsNone() || c.Unit() == quantity.Celsius && c.Float() == 20:
	case c.Unit() == quantity.Celsius && c.Float() == 15:
		h.Scale = spirit.Scale15C
	case c.Unit() == quantity.Fahrenheit:
		h.Scale = spirit.Scale60F
	default:
		s.fail("calibration", fault.Fault{Code: fault.NotOneOf, Limit: "is not one of 20C, 15C, 60F", Remedy: "read the temperature on the hydrometer's stem"})
		return
	}
	if c, ok := s.correct(h, spirit.TrueStrength); ok {
		s.corrected("abv20", c)
	}
}

func (s *sheet) hydrometer() spirit.HydrometerReading {
	return spirit.HydrometerReading{
		Indicated: s.reading("indicated"), Temp: s.reading("temp"),
		IndicatedCorrection: s.reading("indicated_correction"), TempCorrection: s.reading("temp_correction"),
	}
}

// corrected puts a corrected hydrometer reading.
func (s *sheet) corrected(key string, c spirit.Corrected) {
	s.legal(key, c.Rounded, c.True, 1)
	s.figure(key+"_unrounded", c.True, 3)
	s.figure("u", quantity.Figure{Value: *uncertainty(c.True), Unit: c.True.Unit}, 3) // lastDigit: there always is one
	s.answer.Method, s.answer.Explained, s.answer.Caution = string(c.Method), c.Explained, c.Caution
}
