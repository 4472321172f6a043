package book

import (
	"fmt"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// LaboratoryResultReceived is what a laboratory found.
type LaboratoryResultReceived struct {
	Vessel         Ref              `key:"vessel" label:"Vessel" ref:"vessel"`
	Lot            Ref              `key:"lot" label:"or lot" ref:"lot"`
	MadeOf         string           `key:"made_of" label:"Distilled from" words:"apple|apricot|plum|mirabelle|peach|pear|blackberry|raspberry|williams pear|quince|redcurrant|blackcurrant|elderberry|juniper|rowan|cherry|other fruit|fruit pomace|grape pomace|cider|wine|grain|molasses" help:"The limits of methanol and hydrocyanic acid go by it."`
	Laboratory     string           `key:"laboratory" label:"Laboratory"`
	Document       string           `key:"document" label:"Number of its report"`
	Sampled        Day              `key:"sampled" label:"Sampled on"`
	Strength       quantity.Reading `key:"strength" label:"Strength" unit:"proof|%" min:"0proof|0%" max:"200proof|100%"`
	Methanol       quantity.Reading `key:"methanol" label:"Methanol per litre of pure alcohol" unit:"g/L" min:"0g/L" max:"100g/L" help:"10 g/L is 1,000 g per hectolitre of pure alcohol."`
	Cyanide        quantity.Reading `key:"hydrocyanic_acid" label:"Hydrocyanic acid per litre of pure alcohol" unit:"mg/L" min:"0mg/L" max:"10000mg/L" help:"70 mg/L is 7 g per hectolitre of pure alcohol."`
	EthylCarbamate quantity.Reading `key:"ethyl_carbamate" label:"Ethyl carbamate per litre of spirit" unit:"mg/L" min:"0mg/L" max:"1000mg/L"`
	Copper         quantity.Reading `key:"copper" label:"Copper per litre of spirit" unit:"mg/L" min:"0mg/L" max:"1000mg/L"`
	VolatileAcid   quantity.Reading `key:"volatile_acid" label:"Volatile acid per litre of pure alcohol" unit:"g/L" min:"0g/L" max:"100g/L" help:"As acetic acid."`
	Note           string           `key:"note" label:"Note"`
}

func (b *LaboratoryResultReceived) sound(f *faults) {
	oneOf(f, b.Vessel, b.Lot)
	for _, r := range []quantity.Reading{b.Strength, b.Methanol, b.Cyanide, b.EthylCarbamate, b.Copper, b.VolatileAcid} {
		if !r.IsNone() {
			return
		}
	}
	f.add(fault.Missing, "strength", "", "a result is needed", "give what the laboratory found")
}

func (b *LaboratoryResultReceived) timely(s *State, f *faults) { s.vesselOrLot(f, b.Vessel, b.Lot) }

// A Result is what a laboratory found, with the lots it is about, and each
// finding held against the limits as the book stood then.
type Result struct {
	Entry    Address
	On       Moment
	Lots     []Address
	Findings []Finding
	*LaboratoryResultReceived
}

// Results lists what laboratories found, in book order.
func (s *State) Results() []Result { return s.notes.results }

// A Limit is a published limit of something in spirits.
type Limit struct {
	Of     string
	Most   quantity.Reading
	Source string
}

// The limits a result is held against. The regulation's own text was not at
// hand for the methanol of fruit spirits: those are from memory and said to be.
const (
	fromRegulation = "Regulation (EU) 2019/787, annex I, from memory"
	fromGuide      = "FDA compliance policy guide 510.200: 0.35 % by volume, written for imports"
)

// MethanolLimit is the most methanol, per litre of pure alcohol, that a spirit
// of this origin may have under a convention: the European limits of each kind
// of fruit, or the American 0.35 % by volume, worked out for the strength.
func MethanolLimit(c Convention, madeOf string, strength quantity.Reading) (Limit, bool) {
	if c != Metric {
		s, err := spirit.StrengthOf(strength)
		if strength.IsNone() || err != nil || s.ABV20() <= 0 {
			return Limit{}, false
		}
		grams := 0.35 / 100 * methanolDensity / (s.ABV20() / 100)
		return Limit{"methanol", quantity.FromDecimal(quantity.Snap(grams).Round(2), quantity.GramPerLitre), fromGuide}, true
	}
	most := ""
	switch madeOf {
	case "apple", "apricot", "plum", "mirabelle", "peach", "pear", "blackberry", "raspberry":
		most = "12"
	case "williams pear", "quince", "redcurrant", "blackcurrant", "elderberry", "juniper", "rowan":
		most = "13.5"
	case "fruit pomace":
		most = "15"
	case "cherry", "other fruit", "grape pomace", "cider":
		most = "10"
	case "wine":
		most = "2"
	default:
		return Limit{}, false
	}
	return Limit{"methanol", quantity.MustParse(most, quantity.GramPerLitre), fromRegulation}, true
}

// methanolDensity is that of methanol at 20 °C, g/L (from memory; 0.7918 g/mL).
const methanolDensity = 791.8

// stoneFruit reports whether hydrocyanic acid and ethyl carbamate are to be
// expected.
func stoneFruit(madeOf string) bool {
	switch madeOf {
	case "apricot", "plum", "mirabelle", "peach", "cherry":
		return true
	}
	return false
}

// A Finding is one figure of a laboratory beside its limit.
type Finding struct {
	Of      string
	Found   quantity.Reading
	Per     string // what it is counted on: "per litre of pure alcohol"
	Limit   Limit  // Most is none where no limit is known
	Compare bool   // the limit is of something else, and only stands for comparison
	Note    string
}

// Above reports whether a finding is above a limit that is its own.
func (f *Finding) Above() bool { return !f.Compare && f.over() }

func (f *Finding) over() bool {
	most := f.Limit.Most
	return !most.IsNone() && f.Found.Unit().Dimension() == most.Unit().Dimension() && f.Found.Base() > most.Base()
}

const (
	perPure   = "per litre of pure alcohol"
	perSpirit = "per litre of spirit"
)

// Findings holds each figure of a result against the published limits of the
// book's convention. Where that has none, a European figure is said to be one; no
// limit of copper in spirits is at hand, and drinking water's stands beside it.
func (s *State) Findings(b *LaboratoryResultReceived) []Finding {
	var out []Finding
	add := func(of string, found quantity.Reading, per string, limit Limit, compare bool, note string) {
		if !found.IsNone() {
			limit.Of = of
			out = append(out, Finding{Of: of, Found: found, Per: per, Limit: limit, Compare: compare, Note: note})
		}
	}
	metric := s.Convention() == Metric
	strength := b.Strength
	var parts []Part
	if v := s.Vessel(b.Vessel); v != nil {
		parts = v.Content.Parts
		if strength.IsNone() {
			strength = s.strong(&v.Content)
		}
	} else if b.Lot != "" {
		parts = []Part{{Lot: b.Lot}}
	}
	limit, known := s.methanolOf(b.MadeOf, strength, parts)
	note := ""
	switch {
	case known:
	case !metric && strength.IsNone():
		note = "the limit goes by the strength: give it, or gauge the vessel"
	case metric && b.MadeOf == "":
		note = "the limit goes by what it is distilled from: say it"
	default:
		note = "no limit is known for this origin"
	}
	add("methanol", b.Methanol, perPure, limit, false, note)
	european := ""
	if !metric {
		european = "a European figure: no American one is at hand"
	}
	cyanide := Limit{Most: quantity.MustParse("70", quantity.MilligramPerLitre), Source: fromRegulation}
	carbamate := Limit{Most: quantity.MustParse("1", quantity.MilligramPerLitre), Source: "target of Recommendation (EU) 2016/22, from memory"}
	if !stoneFruit(b.MadeOf) {
		cyanide, carbamate, european = Limit{}, Limit{}, "limited for stone fruit only, as far as the book knows"
	}
	add("hydrocyanic acid", b.Cyanide, perPure, cyanide, false, european)
	add("ethyl carbamate", b.EthylCarbamate, perSpirit, carbamate, false, european)
	copper := Limit{Most: quantity.MustParse("1.3", quantity.MilligramPerLitre), Source: "action level of drinking water, 40 CFR 141.80, from memory"}
	if metric {
		copper = Limit{Most: quantity.MustParse("2", quantity.MilligramPerLitre), Source: "drinking water, Directive (EU) 2020/2184, from memory"}
	}
	add("copper", b.Copper, perSpirit, copper, true, "no limit for spirits is at hand: that of water is for comparison")
	add("volatile acid", b.VolatileAcid, perPure, Limit{}, false, "no limit is at hand")
	return out
}

// methanolOf is MethanolLimit, and in a metric book the lower one of vodka and
// neutral alcohol, where all of it is of that class.
func (s *State) methanolOf(madeOf string, strength quantity.Reading, parts []Part) (Limit, bool) {
	if s.Convention() == Metric && len(parts) > 0 {
		class := s.classOf(parts[0].Lot)
		for _, p := range parts {
			if s.classOf(p.Lot) != class {
				class = Other
			}
		}
		switch class {
		case Vodka:
			return Limit{"methanol", quantity.MustParse("0.1", quantity.GramPerLitre), fromRegulation}, true
		case Neutral:
			return Limit{"methanol", quantity.MustParse("0.3", quantity.GramPerLitre), fromRegulation}, true
		}
	}
	return MethanolLimit(s.Convention(), madeOf, strength)
}

func (b *LaboratoryResultReceived) apply(t *turn) {
	n := &t.state.notes
	lots := t.lotsOf(b.Vessel, b.Lot)
	findings := t.state.Findings(b)
	n.results = append(n.results, Result{t.entry.address, t.now(), lots, findings, b})
	for i := range findings {
		if f := &findings[i]; f.Above() {
			source := f.Limit.Source
			if f.Note != "" {
				source += "; " + f.Note
			}
			t.ask(AboveLimit, fmt.Sprintf("The laboratory found %s of %s %s; the limit is %s (%s).", f.Found, f.Of, f.Per, f.Limit.Most, source), nil)
		}
	}
	if bottled := t.state.bottlings.get(b.Lot); bottled != nil && !b.Strength.IsNone() {
		if found, err := spirit.StrengthOf(b.Strength); err == nil {
			t.offLabelled(bottled, found, "By the laboratory the bottle is", bottled.Address)
		}
	}
}
