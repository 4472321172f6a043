package reckon

import (
	"github.com/shopspring/decimal"

	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// Here are the calculations that are the regulation's own arithmetic, for the
// packages and tables it prints.

func fillPackage() Calculation {
	return Calculation{
		Name:   "fill-package",
		Help:   "weight to fill into a package of 10 wine gallons or less",
		Source: "27 CFR 30.44(b)",
		Inputs: []Input{
			{Key: "gallons", Label: "wine gallons", Help: "the wine gallons to fill", Scales: []Scale{{quantity.Gallon, "0", "10"}}, Required: true, Exact: true},
			exactInput(proofInput()),
		},
		Outputs: []Output{
			{Key: "pounds", Label: "pounds", Units: "lb", Help: "whole pounds"},
			{Key: "ounces", Label: "and ounces", Units: "oz", Help: "any part of an ounce a whole one"},
			{Key: "weight", Label: "the same in hundredths", Units: "lb"},
			{Key: "proof_gallons", Label: "proof gallons", Units: proofGallon, Help: "to the nearest tenth"},
		},
		Example: []Given{{"gallons", "5"}, {"proof", "192"}},
		run: func(s *sheet) {
			f, err := spirit.FillPackage(spirit.PackageFill{Gallons: s.reading("gallons"), Strength: s.reading("proof")})
			if s.fail("proof", renamed(err, "strength", "proof")) {
				return
			}
			lb := quantity.Figure{Unit: quantity.Pound}
			s.legal("pounds", decimal.NewFromInt(f.Pounds), lb, 0)
			s.legal("ounces", decimal.NewFromInt(f.Ounces), quantity.Figure{Unit: quantity.Ounce}, 0)
			s.legal("weight", f.Weight, lb, 2)
			s.legal("proof_gallons", f.ProofGallons, quantity.Figure{Unit: quantity.Gallon}, 1)
			s.answer.Method, s.answer.Explained = "27 CFR 30.44(b), specific gravity from OIML R 22", f.Explained
		},
	}
}

func gaugeCases() Calculation {
	count := func(key, help string) Input {
		return Input{Key: key, Label: key, Help: help, Scales: []Scale{{quantity.Piece, "1", "1000000"}}, Required: true, Exact: true}
	}
	return Calculation{
		Name:   "gauge-cases",
		Help:   "wine gallons, proof gallons and litres of pure alcohol of full cases, by their labels",
		Source: "27 CFR 30.52; 0.264172 gal per litre",
		Inputs: []Input{
			count("cases", "the number of full cases"),
			count("bottles", "the number of bottles in a case"),
			{Key: "size", Label: "size", Help: "the volume of a bottle", Scales: []Scale{{quantity.Millilitre, "1", "100000"}}, Required: true, Exact: true},
			exactInput(proofInput()),
		},
		Outputs: []Output{
			{Key: "wine_gallons", Label: "wine gallons", Units: "gal"},
			{Key: "proof_gallons", Label: "proof gallons", Units: proofGallon, Help: "to the nearest tenth"},
			{Key: "lpa", Label: "litres of pure alcohol", Units: "L", Help: "at 20 °C"},
		},
		Example: []Given{{"cases", "56"}, {"bottles", "12"}, {"size", "750mL"}, {"proof", "80"}},
		run: func(s *sheet) {
			c, err := spirit.GaugeCases(spirit.CasedSpirits{Cases: s.reading("cases"), Bottles: s.reading("bottles"), Size: s.reading("size"), Strength: s.reading("proof")})
			if s.fail("proof", renamed(err, "strength", "proof")) {
				return
			}
			gal := quantity.Figure{Unit: quantity.Gallon}
			s.legal("wine_gallons", c.WineGallons, gal, 6)
			s.legal("proof_gallons", c.ProofGallons, gal, 1)
			s.figure("lpa", c.PureAlcohol, 2)
			s.answer.Method, s.answer.Explained = "27 CFR 30.52", c.Explained
		},
	}
}

func waterPer100() Calculation {
	proof := func(key, help string) Input {
		return Input{Key: key, Label: help, Help: help, Scales: proofOrABV(), Required: true, Exact: true}
	}
	return Calculation{
		Name:   "water-per-100",
		Help:   "wine gallons of water to 100 wine gallons, by the rule of Table 6",
		Source: "27 CFR 30.66; Table 6 computed from OIML R 22:1975",
		Inputs: []Input{proof("from", "the strength at hand"), proof("to", "the strength wanted")},
		Outputs: []Output{
			{Key: "water", Label: "water to add", Units: "gal", Help: "with the quotient as it is"},
			{Key: "water_as_printed", Label: "with the quotient cut", Units: "gal", Help: "with the quotient cut to two decimals, as the section's own example has it"},
		},
		Example: []Given{{"from", "191"}, {"to", "188"}},
		run: func(s *sheet) {
			from, err := spirit.StrengthOf(s.reading("from"))
			s.fail("from", err)
			to, err := spirit.StrengthOf(s.reading("to"))
			if s.fail("to", err) || len(s.answer.Faults) > 0 {
				return
			}
			a, b := spirit.Table6(from), spirit.Table6(to)
			unrounded, printed, err := spirit.WaterPer100(a, b)
			if s.fail("to", err) {
				return
			}
			gal := quantity.Figure{Unit: quantity.Gallon}
			s.legal("water", unrounded, gal, 2)
			s.legal("water_as_printed", printed, gal, 2)
			s.answer.Method = "27 CFR 30.66, Table 6 computed (OIML R 22)"
			s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
				w.Add("parts of alcohol and of water at 60 °F in 100 of "+s.reading("from").String(), a.Alcohol.StringFixed(2)+" and "+a.Water.StringFixed(2))
				w.Add("parts of alcohol and of water at 60 °F in 100 of "+s.reading("to").String(), b.Alcohol.StringFixed(2)+" and "+b.Water.StringFixed(2))
				w.Add("("+a.Alcohol.StringFixed(2)+" ÷ "+b.Alcohol.StringFixed(2)+") × "+b.Water.StringFixed(2)+" − "+a.Water.StringFixed(2), unrounded.StringFixed(2)+" gal")
			})
		},
	}
}

func table4Water() Calculation {
	return Calculation{
		Name:   "water-by-table4",
		Help:   "water to add by weight, from the proof gallons per pound of a printed Table 4",
		Source: "27 CFR 30.64",
		Inputs: []Input{
			{Key: "net", Label: "net weight", Help: "the net weight", Scales: []Scale{{quantity.Pound, "0", "10000000"}}, Required: true, Exact: true},
			{Key: "proof_gallons", Label: "proof gallons", Help: "the proof gallons in it", Scales: []Scale{{quantity.Gallon, "0", "10000000"}}, Required: true, Exact: true},
			{Key: "per_pound", Label: "proof gallons per pound", Help: "what Table 4 prints at the strength wanted", Scales: []Scale{{quantity.NoUnit, "0", "0.31"}}, Required: true, Exact: true},
		},
		Outputs: []Output{
			{Key: "final_weight", Label: "final weight", Units: "lb", Help: "to the hundredth"},
			{Key: "water_weight", Label: "water to add", Units: "lb"},
		},
		Example: []Given{{"net", "1000lb"}, {"proof_gallons", "302.58"}, {"per_pound", "0.27964"}},
		run: func(s *sheet) {
			net, pg, per := s.reading("net"), s.reading("proof_gallons"), s.reading("per_pound")
			if net.Unit() != quantity.Pound {
				net = quantity.FromDecimal(quantity.Snap(net.In(quantity.Pound)), quantity.Pound)
			}
			gallons := pg.Decimal()
			if pg.Unit() != quantity.Gallon {
				gallons = quantity.Snap(pg.In(quantity.Gallon))
			}
			final, water, err := spirit.Table4Reduction{Net: net, ProofGallons: gallons, PerPound: per.Decimal()}.Water()
			if s.fail("net", err) {
				return
			}
			lb := quantity.Figure{Unit: quantity.Pound}
			s.legal("final_weight", final, lb, 2)
			s.legal("water_weight", water, lb, 2)
			s.answer.Method = string(spirit.PrintedTable)
			s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
				w.Add(pg.Digits()+" ÷ "+per.Digits()+", to two decimals (27 CFR 30.64)", final.StringFixed(2)+" lb")
				w.Add("less the net weight", water.StringFixed(2)+" lb")
			})
		},
	}
}

// exactInput is the input without a half-width.
func exactInput(in Input) Input {
	in.Exact = true
	return in
}
