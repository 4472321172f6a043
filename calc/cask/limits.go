package cask

import (
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// An EntryLimit is how strong a class of spirit may be when it enters the wood.
type EntryLimit struct {
	Law     string // "US" or "EU"
	Class   string // as the regulation calls it
	Most    quantity.Reading
	Source  string
	wording string
}

// EntryLimits lists the limits known here. Like those of the still they are
// asked about, never applied: a class is the proprietor's to claim. Regulation
// (EU) 2019/787 sets none, from memory.
func EntryLimits() []EntryLimit {
	return []EntryLimit{{Law: "US", Class: "whisky", Most: quantity.MustParse("125", quantity.Proof), Source: "27 CFR 5.143, from memory",
		wording: "bourbon, rye, wheat, malt, rye malt and corn whisky"}}
}

// AskEntry is a question where spirit of a class enters the wood above a limit,
// to the legal tenth; "" where it does not.
func AskEntry(law, class string, s spirit.Strength) string {
	for _, l := range EntryLimits() {
		at := quantity.Figure{Value: s.In(l.Most.Unit()), Unit: l.Most.Unit()}
		if l.Law == law && l.Class == class && at.Decimal().Round(1).Cmp(l.Most.Decimal()) > 0 {
			return "At " + at.Text(1) + " it is above " + l.Most.String() + ", the most at which " + l.wording + " enter the wood (" + l.Source + "). Is it to be one of these?"
		}
	}
	return ""
}

// A LegalAge is a time in wood after which a regulation lets spirit be called
// something.
type LegalAge struct {
	Law, Class    string
	Years, Months int
	Allows        string // what it may be called, or need not be
	Wood          string // in what it counts, "" for any
	Source        string
}

// LegalAges lists those known here. They are no advice on when it is good.
func LegalAges() []LegalAge {
	const memory = ", from memory"
	const bond, statement = "27 CFR 5.88" + memory, "27 CFR 5.74" + memory
	const annex = "Regulation (EU) 2019/787 Annex I" + memory
	return []LegalAge{
		{"US", "whisky", 2, 0, "straight", "charred new oak, for most types", "27 CFR 5.143" + memory},
		{"US", "whisky", 4, 0, "sold without a statement of its age", "", statement},
		{"US", "whisky", 4, 0, "bottled in bond", "", bond},
		{"US", "brandy", 2, 0, "grape brandy, and not immature brandy", "oak", "27 CFR 5.145" + memory},
		{"US", "brandy", 4, 0, "bottled in bond", "", bond},
		{"US", "rum", 4, 0, "bottled in bond", "", bond},
		{"EU", "whisky", 3, 0, "whisky", "wooden casks of 700 L at most", annex},
		{"EU", "brandy", 0, 6, "brandy of wine", "oak casks below 1,000 L", annex},
	}
}
