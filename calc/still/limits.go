package still

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A ClassLimit is how strong a class of spirit may come off the still.
type ClassLimit struct {
	Law    string // "US" or "EU"
	Class  string // as the regulation calls it
	Least  Bound
	Most   Bound
	Source string // where it stands and how it was read
}

// A Bound is a strength that a class must not pass.
type Bound struct {
	At     quantity.Reading // none for no bound
	Itself bool             // whether At itself is allowed
}

// ClassLimits lists the limits known here. They are asked about, never applied:
// a class is the proprietor's to claim and the regulation's to grant.
func ClassLimits() []ClassLimit {
	at := func(s string, u quantity.Unit) quantity.Reading { return quantity.MustParse(s, u) }
	below := func(s string, u quantity.Unit) Bound { return Bound{At: at(s, u)} }
	proof160 := Bound{At: at("160", quantity.Proof), Itself: true}
	proof190 := below("190", quantity.Proof)
	none := Bound{}
	const us, eu = "US", "EU"
	const annex = "Regulation (EU) 2019/787 Annex I, from memory"
	return []ClassLimit{
		{us, "whisky", none, proof190, "27 CFR 5.143(a), read"},
		{us, "bourbon, rye, wheat, malt or rye malt whisky", none, proof160, "27 CFR 5.143, a loose copy of its table and from memory"},
		{us, "corn whisky", none, proof160, "Rev. Rul. 56-495, read; 27 CFR 5.143"},
		{us, "American single malt whisky", none, proof160, "27 CFR 5.143, from memory"},
		{us, "light whisky", below("160", quantity.Proof), proof190, "27 CFR 5.143, from memory"},
		{us, "brandy", none, proof190, "27 CFR 5.145, from memory"},
		{us, "neutral brandy", below("170", quantity.Proof), proof190, "27 CFR 5.145, from memory"},
		{us, "rum", none, proof190, "27 CFR 5.147, from memory"},
		{us, "agave spirits", none, proof190, "27 CFR 5.148, from memory"},
		{us, "neutral spirits or vodka", Bound{At: proof190.At, Itself: true}, none, "27 CFR 5.142, from memory"},
		{eu, "fruit spirit", none, below("86", quantity.ABV20), "Regulation (EU) 2019/787 Annex I, gist read"},
		{eu, "wine spirit", none, below("86", quantity.ABV20), annex},
		{eu, "grape marc or fruit marc spirit", none, below("86", quantity.ABV20), annex},
		{eu, "whisky", none, below("94.8", quantity.ABV20), annex},
		{eu, "rum", none, below("96", quantity.ABV20), annex},
		{eu, "grain spirit", none, below("95", quantity.ABV20), annex},
	}
}

// Ask is a question where a strength off the still lies outside the class, ""
// where it does not. The limit is on the spirit as it is gauged, to the legal
// tenth; single readings at the parrot may pass it.
func (c ClassLimit) Ask(s spirit.Strength) string {
	ask := func(b Bound, strict, itself string, side int) string {
		if b.At.IsNone() {
			return ""
		}
		x := quantity.Figure{Value: s.In(b.At.Unit()), Unit: b.At.Unit()}
		way := x.Decimal().Round(1).Cmp(b.At.Decimal())
		if way == -side || way == 0 && b.Itself {
			return ""
		}
		word := strict
		if b.Itself {
			word = itself
		}
		return "It came over at " + x.Text(1) + "; " + c.Class + " is distilled " + word + " " + b.At.String() + " (" + c.Source + "). Is the class right?"
	}
	if q := ask(c.Most, "below", "at no more than", 1); q != "" {
		return q
	}
	return ask(c.Least, "above", "at no less than", -1)
}

// methanolDensity is that of methanol at 20 °C, g/mL (from memory).
const methanolDensity = 0.7918

// A MethanolFound is one methanol content on the scales that limits use.
type MethanolFound struct {
	PerPureAlcohol float64         // g per hL of pure alcohol
	PerLitre       quantity.Figure // g/L of the spirit
	ByVolume       float64         // % of the spirit's volume
	Over           []ContentsLimit // limits it is above
}

// A ContentsLimit is a legal limit of methanol.
type ContentsLimit struct {
	Law, Spirit string
	Most        float64 // g per hL of pure alcohol, or % by volume
	ByVolume    bool
	Source      string
}

// MethanolLimits lists the limits known here.
func MethanolLimits() []ContentsLimit {
	const annex = "Regulation (EU) 2019/787 Annex I, from memory"
	return []ContentsLimit{
		{"EU", "fruit spirit in general", 1000, false, annex + "; cider and perry spirit read in Regulation (EU) 2018/175"},
		{"EU", "spirit of apple, apricot, plum, mirabelle, quetsch, peach, pear, blackberry or raspberry", 1200, false, annex},
		{"EU", "spirit of Williams pear, quince, redcurrant, blackcurrant, elderberry, juniper or rowan", 1350, false, annex},
		{"EU", "grape marc spirit", 1000, false, annex},
		{"EU", "fruit marc spirit", 1500, false, annex},
		{"EU", "wine spirit", 200, false, annex},
		{"EU", "vodka", 10, false, annex},
		{"EU", "neutral alcohol", 30, false, annex},
		{"US", "brandy", 0.35, true, "FDA Compliance Policy Guide 510.200 (1980), read; written for imports"},
	}
}

// Methanol turns a laboratory's g per hL of pure alcohol into g/L and % by
// volume of a spirit: 1200 g/hL at 40 % vol is 4.8 g/L and 0.61 %. A spirit
// within an EU limit can be above the US one.
func Methanol(perPureAlcohol float64, strength quantity.Reading) (MethanolFound, error) {
	var faults fault.List
	if !(perPureAlcohol >= 0 && perPureAlcohol <= 10000) {
		faults.Add("methanol", outside(perPureAlcohol, 10000, "0 to 10000 g per hL of pure alcohol", "check the laboratory's unit"))
	}
	s, err := spirit.StrengthOf(strength)
	faults.Add("strength", err)
	if err := faults.Err(); err != nil {
		return MethanolFound{}, err
	}
	gPerL := perPureAlcohol / 100 * s.ABV20() / 100
	m := MethanolFound{PerPureAlcohol: perPureAlcohol, PerLitre: quantity.Figure{Value: gPerL, Unit: quantity.GramPerLitre}, ByVolume: gPerL / 1000 / methanolDensity * 100}
	for _, l := range MethanolLimits() {
		x := perPureAlcohol
		if l.ByVolume {
			x = m.ByVolume
		}
		if x > l.Most {
			m.Over = append(m.Over, l)
		}
	}
	return m, nil
}

// A Caution is shown in the still room where its work is done.
type Caution struct {
	Key    string
	When   string // the moment it belongs to
	Text   string
	Source string
}

// Defer ends every caution.
const Defer = "Follow your local code, your fire marshal and licensed practice."

// Cautions lists those of the still room. Stone is set for stone fruit.
func Cautions(stoneFruit bool) []Caution {
	const common = "common practice, no source"
	out := []Caution{
		{"vapour", "while spirit runs", "Spirit of 40 % vol gives off vapour that lights at about 26 °C. No flame, no spark, air low and high, parrot and receiver where it is aired.", "flash points from a handbook page (shared note S86)"},
		{"coolant", "while spirit runs", "Without cooling water the condenser lets vapour into the room within a minute. Take the heat away first, then look for the water.", common},
		{"charge", "at the charge", "Charge with the heat off, no more than three quarters full: mash foams. Never open the manhole under vapour. Keep relief valve and vacuum breaker clear.", common},
		{"vacuum", "at the end", "A hot still that is closed, rinsed cold or pumped out collapses. Open the vent before anything hot cools and before anything leaves.", common},
		{"stillage", "at the end", "Stillage is near boiling. Let it cool, or drain it where nobody stands, in boots and gloves.", common},
		{"heads", "at the first cut", "Heads are not for drinking: acetaldehyde, ethyl acetate and other sharp things come over first. Mark the vessel.", common},
		{"methanol", "at the first cut", "Cutting heads does not remove methanol. It comes from the fruit's pectin and runs through the whole distillation beside the alcohol. Less of it forms in juice without skins, with no long warm enzyme rest; only a laboratory says how much there is.", "shared note 3.4 (S18, S27, from memory); Processes 8 (2020) 1609 by title"},
	}
	if stoneFruit {
		out = append(out,
			Caution{"stones", "at mash and charge", "Cracked stones set hydrocyanic acid free, in the mash and in the store. Leave stones whole, air the room, never dry or heat crushed stones.", "common practice; limit of 7 g per hL of pure alcohol: Recommendation 2010/133/EU, read"},
			Caution{"carbamate", "during the run and after", "Light and time make ethyl carbamate of what stones leave in spirit. Distil without delay over clean copper, cut tails early, keep the spirit dark and cool; have it tested: about 1 mg/L is the EU's target.", "Recommendation (EU) 2016/22 (opening read; target from memory); Codex code of practice REP11/CF App. II"},
		)
	}
	for i := range out {
		out[i].Text += " " + Defer
	}
	return out
}
