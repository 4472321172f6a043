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

// A Result is what a laboratory found, with the lots it is about.
type Result struct {
	Entry Address
	On    Moment
	Lots  []Address
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

func (b *LaboratoryResultReceived) apply(t *turn) {
	n := &t.state.notes
	n.results = append(n.results, Result{t.entry.address, t.now(), t.lotsOf(b.Vessel, b.Lot), b})
	if !b.Methanol.IsNone() {
		strength := b.Strength
		if v := t.state.vessels.get(b.Vessel); v != nil && strength.IsNone() {
			strength = t.state.strong(&v.Content)
		}
		if limit, ok := MethanolLimit(t.state.Convention(), b.MadeOf, strength); ok {
			t.within(b.Methanol, limit, "per litre of pure alcohol")
		}
	}
	if stoneFruit(b.MadeOf) {
		t.within(b.Cyanide, Limit{"hydrocyanic acid", quantity.MustParse("70", quantity.MilligramPerLitre), fromRegulation}, "per litre of pure alcohol")
		t.within(b.EthylCarbamate, Limit{"ethyl carbamate", quantity.MustParse("1", quantity.MilligramPerLitre), "target of Recommendation (EU) 2016/22, from memory"}, "per litre of spirit")
	}
}

// within asks where a finding is above a limit.
func (t *turn) within(found quantity.Reading, limit Limit, per string) {
	if !found.IsNone() && found.Unit().Dimension() == limit.Most.Unit().Dimension() && found.Base() > limit.Most.Base() {
		t.ask(AboveLimit, fmt.Sprintf("The laboratory found %s of %s %s; the limit is %s (%s).", found, limit.Of, per, limit.Most, limit.Source), nil)
	}
}
