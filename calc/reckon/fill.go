package reckon

import (
	"strconv"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

// bottleMillilitres is the range of what is filled, a miniature to a demijohn.
func bottleMillilitres() []Scale { return []Scale{{quantity.Millilitre, "1", "60000"}} }

// baseInput is the temperature at which contents count.
func baseInput() Input {
	return Input{Key: "base", Label: "base temperature", Help: "60 °F or 20 °C, at which the contents count; that of the strength's scale where none is given: 60 °F for proof, 20 °C for % vol",
		Scales: []Scale{{quantity.Celsius, "15", "20"}, {quantity.Fahrenheit, "60", "68"}}, Exact: true}
}

// base is the base temperature asked for, or that of the strength's scale.
func (s *sheet) base() (fill.Base, bool) {
	if !s.given("base") {
		return fill.BaseOf(s.reading("strength")), true
	}
	switch r := s.reading("base"); {
	case r.Unit() == quantity.Celsius && r.Float() == 20:
		return fill.At20C, true
	case r.Unit() == quantity.Fahrenheit && r.Float() == 60:
		return fill.At60F, true
	}
	s.fail("base", fault.Fault{Code: fault.NotOneOf, Field: "base", Limit: "is not 60 °F or 20 °C", Remedy: "write base=60F or base=20C"})
	return 0, false
}

func netContents() Calculation {
	weight := func(key, label, help string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.Gram, "0", "90000"}}}
	}
	return Calculation{
		Name:   "net-contents",
		Help:   "contents of a bottle at the legal base temperature, from its weights or from its volume and temperature",
		Source: "OIML R 22:1975, weighing in air of 1.2 kg/m³; limits of 27 CFR 19.356 (copy of October 2022)",
		Inputs: []Input{
			weight("empty", "empty weight", "the weight of the empty bottle"),
			weight("full", "full weight", "the weight of the full bottle, with the closure only if the empty one had it"),
			{Key: "volume", Label: "volume poured out", Help: "the volume poured out and measured", Scales: bottleMillilitres()},
			{Key: "temp", Label: "its temperature", Help: "the temperature of what was poured out", Scales: temperatures()},
			{Key: "strength", Label: "strength", Help: "the true strength", Scales: abvOrProof()},
			{Key: "density", Label: "density", Help: "the density in vacuo at the base temperature, instead of the strength where there is sugar in it", Scales: []Scale{{quantity.KilogramPerCubicMetre, "780", "1400"}}},
			{Key: "size", Label: "stated size", Help: "the size on the label, to see the limits", Scales: bottleMillilitres(), Exact: true},
			baseInput(),
		},
		Choices: [][]string{{"empty", "full"}, {"volume", "temp"}},
		Outputs: []Output{
			{Key: "net_ml", Label: "net contents", Units: "mL", Help: "at the base temperature"},
			{Key: "net_g", Label: "net weight", Units: "g", Help: "in air"},
			{Key: "base", Label: "base temperature"},
			{Key: "error", Label: "off the stated size", Units: "%"},
			{Key: "least_ml", Label: "a bottle holds at least", Units: "mL", Help: "27 CFR 19.356"},
			{Key: "most_ml", Label: "and at most", Units: "mL"},
			{Key: "target_g", Label: "net weight of a full one", Units: "g", Help: "in air"},
			{Key: "verdict", Label: "this bottle"},
		},
		Caution: floorCaution("vapour"),
		Example: []Given{{"empty", "512.4g"}, {"full", "1222.8g"}, {"strength", "40.0%"}, {"size", "750mL"}},
		run:     runNetContents,
	}
}

// floorCaution is the caution of the bottling floor about that hazard.
func floorCaution(hazard string) string {
	for _, c := range fill.Cautions() {
		if c.Hazard == hazard {
			return c.Text
		}
	}
	panic("reckon: no caution about " + hazard)
}

func runNetContents(s *sheet) {
	base, ok := s.base()
	if !ok {
		return
	}
	liquid := fill.Liquid{Strength: s.reading("strength"), Density: s.reading("density")}
	var c fill.Contents
	var err error
	if s.given("volume") {
		if s.given("density") {
			s.fail("density", fault.Fault{Code: fault.Conflict, Field: "density", Limit: "says nothing of how a volume grows with warmth", Remedy: "give the strength, or weigh the bottle"})
			return
		}
		c, err = fill.Pour(fill.Pouring{Volume: s.reading("volume"), Temp: s.reading("temp"), Strength: s.reading("strength"), Base: base})
	} else {
		c, err = fill.Weigh(fill.Weighing{Empty: s.reading("empty"), Full: s.reading("full"), Liquid: liquid, Base: base})
	}
	if s.fail("strength", err) {
		return
	}
	s.figure("net_ml", c.Net, 1)
	s.figure("net_g", c.Weight, 1)
	s.word("base", base.String())
	s.answer.Method, s.answer.Explained = "computed (OIML R 22), at "+base.String(), c.Explained
	if !s.given("size") {
		return
	}
	size := s.reading("size")
	chart, err := fill.ChartOf(size, fill.Rules{})
	if s.fail("size", err) {
		return
	}
	full, err := fill.NetWeight(size, liquid, base)
	if s.fail("size", err) {
		return
	}
	ml := size.In(quantity.Millilitre)
	s.figure("error", quantity.Figure{Value: 100 * (c.Net.Value/ml - 1), Unit: quantity.Percent, U: 100 * c.Net.U / ml, HasU: c.Net.HasU}, 2)
	s.figure("least_ml", chart.Low, 1)
	s.figure("most_ml", chart.High, 1)
	full.HasU = false
	s.figure("target_g", full, 1)
	verdict := "within its limits"
	switch {
	case c.Net.Value < chart.Low.Value-1e-9*ml:
		verdict = "below its limit: stop and re-set, set aside what was filled since the last good check"
	case c.Net.Value > chart.High.Value+1e-9*ml:
		verdict = "above its limit: stop and re-set"
	case c.Net.Value < chart.WarnLow.Value || c.Net.Value > chart.WarnTop.Value:
		verdict = "within its limits, past half of them: set again"
	}
	s.word("verdict", verdict)
}

func fillSample() Calculation {
	return Calculation{
		Name:   "fill-sample",
		Help:   "a sample of bottles against the law's limits and the handbook's average requirement",
		Source: "27 CFR 19.356 (copy of October 2022); NIST Handbook 133 category A, from memory; its table of maximum allowable variations is empty",
		Inputs: []Input{
			{Key: "size", Label: "stated size", Help: "the size on the label", Scales: bottleMillilitres(), Required: true, Exact: true},
			{Key: "bottle", Label: "net contents", Help: "the net contents of each bottle at the base temperature, two or more", Scales: bottleMillilitres(), Required: true, Repeatable: true},
			{Key: "lot", Label: "bottles in the lot", Help: "the bottles in the lot, to see how many to take", Scales: []Scale{{quantity.Piece, "1", "10000000"}}, Exact: true},
		},
		Outputs: []Output{
			{Key: "verdict", Label: "verdict"},
			{Key: "mean", Label: "mean", Units: "mL"},
			{Key: "error", Label: "off the stated size", Units: "%", Help: "of the mean"},
			{Key: "spread", Label: "standard deviation", Units: "mL"},
			{Key: "over", Label: "over", Units: "pc"},
			{Key: "under", Label: "under", Units: "pc", Help: "about as many as over are wanted"},
			{Key: "beyond", Label: "outside the limit", Units: "pc"},
			{Key: "least_ml", Label: "a bottle holds at least", Units: "mL", Help: "27 CFR 19.356"},
			{Key: "most_ml", Label: "and at most", Units: "mL"},
			{Key: "mean_limit", Label: "the mean may be short by", Units: "mL", Help: "Handbook 133: correction factor × standard deviation"},
			{Key: "wanted", Label: "bottles to take", Units: "pc", Help: "Handbook 133's plan for the lot"},
			{Key: "variation", Label: "maximum allowable variation"},
		},
		Caution: floorCaution("vapour"),
		Example: []Given{{"size", "750mL"}, {"bottle", "751.2"}, {"bottle", "748.9"}, {"bottle", "750.4"}, {"bottle", "749.1"}, {"bottle", "750.8"}, {"bottle", "749.7"}, {"lot", "1980"}},
		run:     runFillSample,
	}
}

func runFillSample(s *sheet) {
	sample := fill.Sample{Size: s.reading("size")}
	for _, f := range s.figures["bottle"] {
		sample.Bottles = append(sample.Bottles, f.amount)
	}
	if s.given("lot") {
		n, ok := s.whole("lot")
		if !ok {
			return
		}
		sample.Lot = int64(n)
	}
	j, err := fill.Judge(sample)
	if s.fail("bottle", numbered(renamed(err, "bottles", "bottle"), "bottle", s.figures["bottle"])) {
		return
	}
	count := func(key string, n int) {
		s.figure(key, quantity.Figure{Value: float64(n), Unit: quantity.Piece}, 0)
	}
	s.word("verdict", j.Verdict)
	s.figure("mean", j.Mean, 2)
	s.figure("error", j.Error, 2)
	s.figure("spread", j.Spread, 2)
	count("over", j.Over)
	count("under", j.Under)
	count("beyond", len(j.Beyond))
	s.figure("least_ml", j.Low, 1)
	s.figure("most_ml", j.High, 1)
	s.figure("mean_limit", j.MeanLimit, 2)
	if j.Wanted > 0 {
		count("wanted", int(j.Wanted))
	}
	s.word("variation", j.Variation)
	s.answer.Method, s.answer.Explained = "27 CFR 19.356; NIST Handbook 133 without its table of variations", j.Explained
}

func bottles() Calculation {
	count := func(key, label, help string, low string) Input {
		return Input{Key: key, Label: label, Help: help, Scales: []Scale{{quantity.Piece, low, "10000000"}}, Exact: true}
	}
	return Calculation{
		Name:   "bottles",
		Help:   "bottles and cases that a tank fills, and which good ends first",
		Source: "OIML R 22:1975; what a line keeps, 0.3 to 1.0 %, is common practice without a source",
		Inputs: []Input{
			{Key: "tank", Label: "tank", Help: "the volume in the tank", Scales: volumes(), Required: true},
			{Key: "temp", Label: "temperature", Help: "its temperature; leave it out where the volume is at the base temperature", Scales: temperatures()},
			{Key: "strength", Label: "strength", Help: "the strength in the tank", Scales: abvOrProof(), Required: true},
			baseInput(),
			{Key: "heel", Label: "heel", Help: "what will stay in the tank", Scales: volumes()},
			{Key: "loss", Label: "the line keeps", Help: "what the line keeps of the run, 0.65 ± 0.35 % where none is given", Scales: []Scale{{quantity.Percent, "0", "20"}}},
			{Key: "size", Label: "bottle", Help: "the size of a bottle", Scales: bottleMillilitres(), Required: true, Exact: true},
			count("per_case", "bottles in a case", "the bottles in a full case, 12 where none is given", "1"),
			count("glass", "bottles at hand", "the empty bottles at hand", "0"),
			count("closures", "closures at hand", "the closures at hand", "0"),
			count("labels", "labels at hand", "the labels at hand, one to a bottle", "0"),
			count("seals", "seals at hand", "the seals or strips at hand", "0"),
			count("cartons", "cartons at hand", "the case cartons at hand", "0"),
		},
		Outputs: []Output{
			{Key: "bottles", Label: "bottles"},
			{Key: "cases", Label: "full cases", Units: "pc"},
			{Key: "loose", Label: "loose bottles", Units: "pc"},
			{Key: "least", Label: "at least", Units: "pc", Help: "two standard uncertainties"},
			{Key: "most", Label: "at most", Units: "pc"},
			{Key: "volume", Label: "in the tank at the base temperature", Units: "L"},
			{Key: "short", Label: "too few"},
		},
		Caution: floorCaution("vapour"),
		Example: []Given{{"tank", "1520±3L"}, {"temp", "17C"}, {"strength", "40.0%"}, {"heel", "18L"}, {"size", "750mL"}, {"per_case", "12"}, {"seals", "2000"}},
		run:     runBottles,
	}
}

func runBottles(s *sheet) {
	base, ok := s.base()
	if !ok {
		return
	}
	r := fill.Run{Tank: s.reading("tank"), Temp: s.reading("temp"), Strength: s.reading("strength"), Base: base,
		Heel: s.reading("heel"), Loss: s.reading("loss"), Size: s.reading("size"), PerCase: 12}
	for _, key := range []string{"per_case", "glass", "closures", "labels", "seals", "cartons"} {
		if !s.given(key) {
			continue
		}
		n, ok := s.whole(key)
		if !ok {
			return
		}
		if key == "per_case" {
			r.PerCase = int64(n)
			continue
		}
		r.Goods = append(r.Goods, fill.Stock{Name: key, PerCase: key == "cartons", OnHand: int64(n)})
	}
	e, err := fill.Expect(r)
	if s.fail("tank", err) {
		return
	}
	count := func(key string, n int64) {
		s.figure(key, quantity.Figure{Value: float64(n), Unit: quantity.Piece}, 0)
	}
	s.figure("bottles", e.Bottles, 0)
	count("cases", e.Cases)
	count("loose", e.Loose)
	count("least", e.Least)
	count("most", e.Most)
	s.figure("volume", e.Volume, 1)
	var short []string
	for _, x := range e.Short {
		short = append(short, x.Name+": "+strconv.FormatInt(x.OnHand, 10)+" of "+strconv.FormatInt(x.Needed, 10)+", enough for "+strconv.FormatInt(x.Enough, 10)+" bottles")
	}
	if short != nil {
		s.word("short", strings.Join(short, "; "))
	}
	s.answer.Method, s.answer.Explained = "computed (OIML R 22), at "+base.String(), e.Explained
}
