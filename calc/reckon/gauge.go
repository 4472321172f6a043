package reckon

import (
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// proofInput is the strength of what is gauged, in every calculation that has one.
func proofInput() Input {
	return Input{Key: "proof", Label: "strength", Help: "the true proof, or the strength in % vol at 20 °C", Scales: proofOrABV(), Required: true}
}

func gaugeWeight() Calculation {
	return Calculation{
		Name:   "gauge-weight",
		Help:   "wine gallons, proof gallons and litres of pure alcohol from a weight and the proof",
		Source: "27 CFR 30.41 (0.120074 ÷ specific gravity), 30.63, 30.64; densities from OIML R 22:1975",
		Inputs: []Input{
			{Key: "net", Label: "net weight", Help: "the net weight on a scale in air", Scales: []Scale{{quantity.Pound, "0.001", "10000000"}, {quantity.Kilogram, "0.001", "5000000"}}},
			{Key: "gross", Label: "gross weight", Help: "the weight of the full vessel", Scales: weightsUS()},
			{Key: "tare", Label: "tare", Help: "the weight of the empty vessel", Scales: weightsUS()},
			proofInput(),
			{Key: "sg60", Label: "specific gravity", Help: "the specific gravity 60/60 °F, where solids are above 600 mg per 100 mL (30.41)", Scales: []Scale{{quantity.SG, "0.7", "1.6"}}},
			{Key: "table4", Label: "Table 4", Help: "wine gallons per pound as the printed Table 4 has it, instead of computing it", Scales: []Scale{{quantity.NoUnit, "0.11", "0.16"}}, Exact: true},
		},
		Choices: [][]string{{"net"}, {"gross", "tare"}},
		Outputs: []Output{
			{Key: "wine_gallons", Label: "wine gallons", Units: "gal", Help: "at 60 °F, to the nearest tenth (30.64)"},
			{Key: "proof_gallons", Label: "proof gallons", Units: proofGallon, Help: "to the nearest tenth"},
			{Key: "litres20", Label: "litres at 20 °C", Units: "L"},
			{Key: "lpa", Label: "litres of pure alcohol", Units: "L", Help: "at 20 °C"},
			{Key: "wine_gallons_unrounded", Label: "wine gallons, unrounded", Units: "gal"},
			{Key: "proof_gallons_unrounded", Label: "proof gallons, unrounded", Units: proofGallon},
		},
		Example: []Given{{"gross", "452lb"}, {"tare", "92.5lb"}, {"proof", "112.4"}},
		run:     runGaugeWeight,
	}
}

// proofGallon is the unit of proof gallons, which are no volume.
const proofGallon = "proof gal"

func runGaugeWeight(s *sheet) {
	g, err := spirit.GaugeWeight(spirit.WeightGauge{
		Net: s.reading("net"), Gross: s.reading("gross"), Tare: s.reading("tare"),
		Strength: s.reading("proof"), SG60: s.reading("sg60"), Table4: s.reading("table4"),
	})
	if s.fail("proof", renamed(err, "strength", "proof")) {
		return
	}
	s.legal("wine_gallons", g.Legal.WineGallons, g.Volume60F, 1)
	s.legal("proof_gallons", g.Legal.ProofGallons, g.ProofGallons, 1)
	s.figure("litres20", g.Volume20C, 2)
	s.figure("lpa", g.PureAlcohol, 2)
	s.figure("wine_gallons_unrounded", g.Volume60F, 3)
	s.figure("proof_gallons_unrounded", g.ProofGallons, 3)
	s.answer.Method = "computed (27 CFR 30.41, OIML R 22)"
	if s.given("table4") {
		s.answer.Method = string(spirit.PrintedTable)
	}
	s.answer.Explained = g.Explained
}

func gaugeVolume() Calculation {
	return Calculation{
		Name:   "gauge-volume",
		Help:   "volume at 60 °F and at 20 °C, proof gallons and litres of pure alcohol from a volume, its temperature and the proof",
		Source: "27 CFR 30.51 (volume factor of Table 7, computed from OIML R 22:1975 to its three decimals)",
		Inputs: []Input{
			{Key: "volume", Label: "volume", Help: "the volume at its temperature", Scales: volumesUS(), Required: true},
			{Key: "temp", Label: "temperature", Help: "the temperature of the spirit in the vessel", Scales: temperaturesF(), Required: true},
			proofInput(),
			{Key: "table7", Label: "Table 7", Help: "the factor as the printed Table 7 has it, instead of computing it", Scales: []Scale{{quantity.NoUnit, "0.9", "1.1"}}, Exact: true},
		},
		Outputs: []Output{
			{Key: "volume_60f", Label: "volume at 60 °F", Units: "gal or L", Help: "wine gallons to the hundredth (30.51)"},
			{Key: "volume_20c", Label: "volume at 20 °C", Units: "gal or L"},
			{Key: "proof_gallons", Label: "proof gallons", Units: proofGallon, Help: "to the nearest tenth"},
			{Key: "lpa", Label: "litres of pure alcohol", Units: "L", Help: "at 20 °C"},
			{Key: "volume_60f_unrounded", Label: "volume at 60 °F, unrounded", Units: "gal or L"},
			{Key: "proof_gallons_unrounded", Label: "proof gallons, unrounded", Units: proofGallon},
		},
		Example: []Given{{"volume", "4308.48gal"}, {"temp", "72F"}, {"proof", "86.8"}},
		run:     runGaugeVolume,
	}
}

func runGaugeVolume(s *sheet) {
	volume := s.reading("volume")
	g, err := spirit.GaugeVolume(spirit.VolumeGauge{Volume: volume, Temp: s.reading("temp"), Strength: s.reading("proof"), Table7: s.reading("table7")})
	if s.fail("volume", renamed(err, "strength", "proof")) {
		return
	}
	if american(volume) {
		s.legal("volume_60f", g.Legal.WineGallons, g.Volume60F, 2)
		s.figure("volume_20c", g.Volume20C.In(quantity.Gallon), 2)
	} else {
		s.figure("volume_60f", g.Volume60F.In(quantity.Litre), 2)
		s.figure("volume_20c", g.Volume20C, 2)
	}
	s.legal("proof_gallons", g.Legal.ProofGallons, g.ProofGallons, 1)
	s.figure("lpa", g.PureAlcohol, 2)
	unrounded := g.Volume60F
	if !american(volume) {
		unrounded = unrounded.In(quantity.Litre)
	}
	s.figure("volume_60f_unrounded", unrounded, 3)
	s.figure("proof_gallons_unrounded", g.ProofGallons, 3)
	s.answer.Method = "computed (27 CFR 30.51, OIML R 22)"
	if s.given("table7") {
		s.answer.Method = string(spirit.PrintedTable)
	}
	s.answer.Explained = g.Explained
}
