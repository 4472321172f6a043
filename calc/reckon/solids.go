package reckon

import (
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func obscuration() Calculation {
	return Calculation{
		Name:   "obscuration",
		Help:   "proof hidden by the dissolved solids of wood or extract, and what the regulation asks for",
		Source: "27 CFR 30.32, 30.71, 30.72",
		Inputs: []Input{
			{Key: "solids", Label: "dissolved solids", Help: "the dissolved solids at gauge proof", Scales: []Scale{{quantity.GramPer100ML, "0", "60"}}},
			{Key: "residue", Label: "residue", Help: "the residue left by evaporation of the sample", Scales: []Scale{{quantity.Gram, "0", "1000"}}},
			{Key: "sample", Label: "sample", Help: "the volume of the sample that was evaporated", Scales: []Scale{{quantity.Millilitre, "0", "10000"}}},
			{Key: "apparent", Label: "apparent strength", Help: "the hydrometer's strength after correction for temperature", Scales: proofOrABV(), Required: true},
		},
		Choices: [][]string{{"solids"}, {"residue", "sample"}},
		Outputs: []Output{
			{Key: "obscuration", Label: "obscuration", Units: "proof", Help: "0.4 for each 0.1 g in 100 mL"},
			{Key: "true_proof", Label: "true proof", Units: "proof", Help: "to the nearest tenth; an estimate where the rule asks for another method"},
			{Key: "rule", Label: "rule", Help: "what 27 CFR 30.32 asks for"},
			{Key: "solids", Label: "dissolved solids", Units: "g/100mL"},
		},
		Example: []Given{{"residue", "0.125g"}, {"sample", "25mL"}, {"apparent", "88.0"}},
		run:     runObscuration,
	}
}

func runObscuration(s *sheet) {
	o, err := spirit.Obscure(spirit.Extract{Solids: s.reading("solids"), Residue: s.reading("residue"), Sample: s.reading("sample"), Apparent: s.reading("apparent")})
	if s.fail("apparent", err) {
		return
	}
	s.figure("obscuration", o.Obscuration, 2)
	s.legal("true_proof", o.Rounded, o.TrueProof, 1)
	s.word("rule", string(o.Rule))
	s.figure("solids", o.Solids, 3)
	s.answer.Method = "by evaporation (27 CFR 30.32)"
	if !o.Lawful {
		s.answer.Method = "an estimate; the rule asks for another method"
	}
	s.answer.Explained = o.Explained
}

func sweetened() Calculation {
	return Calculation{
		Name:   "sweetened",
		Help:   "true strength behind a hydrometer in a spirit of known sugar; an estimate for the bench",
		Source: "mass and apparent volume of sucrose, 0.620 mL/g (common practice), with OIML R 22:1975",
		Inputs: []Input{
			{Key: "apparent", Label: "apparent strength", Help: "the hydrometer's strength after correction for temperature", Scales: abvOrProof(), Required: true},
			{Key: "sugar", Label: "sugar", Help: "the sucrose in the spirit", Scales: []Scale{{quantity.GramPerLitre, "0", "700"}}, Required: true},
		},
		Outputs: []Output{
			{Key: "abv20", Label: "% vol at 20 °C", Units: "%"},
			{Key: "obscuration", Label: "hidden by the sugar", Units: "%"},
		},
		Caution: "Only distillation gives the legal strength of a sweetened product (27 CFR 30.32).",
		Example: []Given{{"apparent", "37.6%"}, {"sugar", "10g/L"}},
		run: func(s *sheet) {
			u, err := spirit.UnderSugar(spirit.Sweetened{Apparent: s.reading("apparent"), Sugar: s.reading("sugar")})
			if s.fail("apparent", err) {
				return
			}
			s.figure("abv20", u.ABV20, 2)
			s.figure("obscuration", u.Obscuration, 2)
			s.answer.Method, s.answer.Explained = "computed from mass and apparent volume (OIML R 22)", u.Explained
		},
	}
}

func liqueur() Calculation {
	return Calculation{
		Name:   "liqueur",
		Help:   "volume, strength, sugar and density of spirit, water and sucrose together",
		Source: "mass and apparent volume of sucrose, 0.620 mL/g (common practice), with OIML R 22:1975",
		Inputs: []Input{
			{Key: "spirit", Label: "spirit", Help: "the volume or weight of the spirit, gal at 60 °F, L at 20 °C", Scales: append(volumes(), weights()...), Required: true},
			{Key: "strength", Label: "strength", Help: "its strength", Scales: abvOrProof(), Required: true},
			{Key: "water", Label: "water", Help: "the weight or volume of water", Scales: append(weights(), volumes()...)},
			{Key: "sugar", Label: "sugar", Help: "the weight of sucrose", Scales: weights()},
		},
		Outputs: []Output{
			{Key: "volume", Label: "volume", Units: "gal or L", Help: "at 20 °C"},
			{Key: "abv20", Label: "% vol at 20 °C", Units: "%"},
			{Key: "sugar_g_l", Label: "sugar", Units: "g/L"},
			{Key: "density", Label: "density at 20 °C", Units: "kg/m3", Help: "in vacuo"},
			{Key: "apparent_abv20", Label: "what a hydrometer shows", Units: "%", Help: "at 20 °C under the sugar; left out where it is denser than water"},
		},
		Caution: "Only distillation gives the legal strength of a sweetened product (27 CFR 30.32).",
		Example: []Given{{"spirit", "10.0L"}, {"strength", "60%"}, {"water", "5.0kg"}, {"sugar", "3.0kg"}},
		run: func(s *sheet) {
			q, err := spirit.MakeLiqueur(spirit.LiqueurRecipe{Spirit: s.reading("spirit"), Strength: s.reading("strength"), Water: s.reading("water"), Sugar: s.reading("sugar")})
			if s.fail("spirit", err) {
				return
			}
			s.figure("volume", q.Volume, 2)
			s.figure("abv20", q.ABV20, 2)
			s.figure("sugar_g_l", q.Sugar, 1)
			s.figure("density", q.Density, 2)
			if q.Apparent.Value > 0 { // denser than water there is no reading on the scale
				s.figure("apparent_abv20", q.Apparent, 1)
			}
			s.answer.Method, s.answer.Explained = "computed from mass and apparent volume (OIML R 22)", q.Explained
		},
	}
}
