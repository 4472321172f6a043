package reckon

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// massBalance is how everything here is answered.
const massBalance = "computed by mass balance (OIML R 22)"

func reduce() Calculation {
	amount := func(key, help string, scales []Scale) Input {
		return Input{Key: key, Label: strings.ReplaceAll(key, "_", " "), Help: help, Scales: scales}
	}
	final := func(key, help string, scales []Scale) Input {
		in := amount(key, help, scales)
		in.Exact = true
		return in
	}
	return Calculation{
		Name:   "reduce",
		Help:   "water, or a second spirit, to bring a spirit to a strength, to an amount, or to both",
		Source: "mass balance with densities from OIML R 22:1975 (contraction as in Table 6); 27 CFR 30.64, 30.66",
		Inputs: []Input{
			amount("volume", "the volume at hand, gal at 60 °F or L at 20 °C (or give weight)", volumesUS()),
			amount("weight", "the weight at hand on a scale in air (or give volume)", weightsUS()),
			{Key: "from", Label: "strength at hand", Help: "the strength at hand", Scales: proofOrABV(), Required: true},
			{Key: "to", Label: "strength wanted", Help: "the strength wanted; leave it out to fill up to a final volume or weight", Scales: proofOrABV(), Exact: true},
			final("final_volume", "the volume wanted, instead of the amount at hand or of to", volumesUS()),
			final("final_weight", "the weight wanted, instead of the amount at hand or of to", weightsUS()),
			{Key: "with", Label: "strength of what is added", Help: "the strength of what is added instead of water; a stronger spirit where the first was reduced too far", Scales: proofOrABV()},
			{Key: "stage", Label: "stage", Help: "a strength to stop at on the way, in the order they are reached", Scales: proofOrABV(), Repeatable: true, Exact: true},
		},
		Outputs: []Output{
			{Key: "water_volume", Label: "volume to add", Units: "gal or L", Help: "of water, or of what with names"},
			{Key: "water_weight", Label: "weight to add", Units: "lb or kg"},
			{Key: "final_volume", Label: "final volume", Units: "gal or L"},
			{Key: "final_weight", Label: "final weight", Units: "lb or kg"},
			{Key: "contraction", Label: "contraction", Units: "gal or L", Help: "volume that is lost in mixing"},
			{Key: "spirit_volume", Label: "volume of the spirit", Units: "gal or L"},
			{Key: "spirit_weight", Label: "weight of the spirit", Units: "lb or kg"},
			{Key: "strength", Label: "strength reached", Units: "proof or %"},
			{Key: "stages", Label: "stages", Help: "what to add in each, where stages are given"},
		},
		Example: []Given{{"volume", "100L"}, {"from", "70%"}, {"to", "40%"}},
		run:     runReduce,
	}
}

func runReduce(s *sheet) {
	for _, pair := range [][2]string{{"volume", "weight"}, {"final_volume", "final_weight"}} {
		if s.given(pair[0]) && s.given(pair[1]) {
			s.fail(pair[1], fault.Fault{Code: fault.Conflict, Limit: "answers the same question as " + pair[0] + ", which is given too", Remedy: "give only one of them"})
			return
		}
	}
	q := spirit.Reduction{
		Volume: s.reading("volume"), Weight: s.reading("weight"),
		From: s.reading("from"), To: s.reading("to"), With: s.reading("with"),
		FinalVolume: s.reading("final_volume"), FinalWeight: s.reading("final_weight"),
	}
	r, err := spirit.Reduce(q)
	if s.fail("from", err) {
		return
	}
	s.figure("water_volume", r.AddedVolume, 2)
	s.figure("water_weight", r.AddedWeight, 2)
	s.figure("final_volume", r.FinalVolume, 2)
	s.figure("final_weight", r.FinalWeight, 2)
	s.figure("contraction", r.Contraction, 3)
	s.figure("spirit_volume", r.SpiritVolume, 2)
	s.figure("spirit_weight", r.SpiritWeight, 2)
	s.figure("strength", r.Reached, 2)
	s.answer.Method, s.answer.Explained, s.answer.Caution = massBalance, r.Explained, r.Caution
	if !s.given("stage") {
		return
	}
	var stops []quantity.Reading
	for _, f := range s.figures["stage"] {
		stops = append(stops, f.amount)
	}
	stages, err := spirit.Stages(q, stops...)
	if s.fail("stage", numbered(err, "stage", s.figures["stage"])) {
		return
	}
	var plan []string
	added := func(st spirit.Stage) string { return st.AddedVolume.Text(2) + " (" + st.AddedWeight.Text(2) + ")" }
	for _, st := range stages {
		plan = append(plan, st.To.String()+": add "+added(st))
	}
	s.word("stages", strings.Join(plan, "; "))
	s.answer.Explained = quantity.Explain(func(w *quantity.Working) {
		*w = r.Working()
		for i, st := range stages {
			w.Add(fmt.Sprintf("stage %d, to %s: add %s; volume then", i+1, st.To, added(st)), st.FinalVolume.Text(2))
		}
	})
}

// numbered turns a fault of the formula's field "part 2" into one of the input
// part, with the text of the second one.
func numbered(err error, key string, given []figure) error {
	var in, out fault.List
	in.Add("", err)
	for _, f := range in {
		var n int
		if _, scanErr := fmt.Sscanf(f.Field, key+" %d", &n); scanErr == nil {
			f.Field = key
			if n >= 1 && n <= len(given) {
				f.Value = given[n-1].typed
			}
		}
		out = append(out, f)
	}
	return out.Err()
}

func blend() Calculation {
	amounts := append(volumesUS(), weightsUS()...)
	return Calculation{
		Name:   "blend",
		Help:   "volume, weight and strength of several spirits together, or the amount of one of them that reaches a strength",
		Source: "mass balance with densities from OIML R 22:1975",
		Inputs: []Input{
			{Key: "part", Label: "part", Help: "amount@strength, gal at 60 °F, L at 20 °C or a weight in air; ?@strength for the one to find", Scales: amounts, At: proofOrABV(), Required: true, Repeatable: true},
			{Key: "target", Label: "strength wanted", Help: "the strength that the part with amount ? is to reach", Scales: proofOrABV(), Exact: true},
		},
		Outputs: []Output{
			{Key: "volume", Label: "volume", Units: "gal or L", Help: "in the system of the first part"},
			{Key: "weight", Label: "weight", Units: "lb or kg"},
			{Key: "strength", Label: "strength", Units: "proof or %", Help: "on the scale of the first part"},
			{Key: "contraction", Label: "contraction", Units: "gal or L", Help: "volume that is lost in mixing"},
			{Key: "part_volume", Label: "volume of the part to find", Units: "gal or L"},
			{Key: "part_weight", Label: "weight of the part to find", Units: "lb or kg"},
		},
		Caution: "Mixing warms the spirit: stir, let it cool and settle, and measure before the figures are trusted.",
		Example: []Given{{"part", "100L@70%"}, {"part", "100L@40%"}},
		run:     runBlend,
	}
}

func runBlend(s *sheet) {
	var known []spirit.Part
	var knownFigures []figure
	var wanted []figure
	for _, f := range s.figures["part"] {
		if f.wanted {
			wanted = append(wanted, f)
			continue
		}
		known = append(known, spirit.Part{Amount: f.amount, Strength: f.at})
		knownFigures = append(knownFigures, f)
	}
	switch {
	case len(wanted) > 1:
		s.answer.Faults.Add("part", fault.Fault{Code: fault.Conflict, Value: wanted[1].typed, Limit: "is the second part with amount ?", Remedy: "leave one amount open and give the others"})
		return
	case len(known) == 0:
		s.answer.Faults.Add("part", fault.Fault{Code: fault.Missing, Value: wanted[0].typed, Limit: "stands alone", Remedy: "give another part with its amount"})
		return
	case len(wanted) == 1 && !s.given("target"):
		s.answer.Faults.Add("target", fault.Fault{Code: fault.Missing, Limit: "the strength that " + wanted[0].typed + " is to reach is needed", Remedy: "give target, or the amount of the part"})
		return
	case len(wanted) == 0 && s.given("target"):
		s.answer.Faults.Add("target", fault.Fault{Code: fault.Conflict, Value: s.typed("target"), Limit: "is the strength of a blend with one amount open", Remedy: "leave it out, or write ? for one amount"})
		return
	}
	m, err := spirit.Blend(known...)
	if s.fail("part", numbered(err, "part", knownFigures)) {
		return
	}
	s.answer.Method, s.answer.Explained = massBalance, m.Explained
	if len(wanted) == 0 {
		s.figure("volume", m.Volume, 2)
		s.figure("weight", m.Weight, 2)
		s.figure("strength", m.Reached, 2)
		s.figure("contraction", m.Contraction, 3)
		return
	}
	r, err := spirit.Reduce(spirit.Reduction{Weight: m.Weight.Reading(9), From: m.Reached.Reading(9), To: s.reading("target"), With: wanted[0].at})
	if s.fail("target", renamed(renamed(renamed(err, "to", "target"), "with", "part"), "weight", "part")) {
		return
	}
	s.figure("volume", r.FinalVolume, 2)
	s.figure("weight", r.FinalWeight, 2)
	s.figure("strength", r.Reached, 2)
	s.figure("contraction", r.Contraction, 3)
	s.figure("part_volume", r.AddedVolume, 2)
	s.figure("part_weight", r.AddedWeight, 2)
	s.answer.Explained = quantity.Explain(func(w *quantity.Working) { *w = slices.Concat(m.Working(), r.Working()) })
}
