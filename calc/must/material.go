package must

// A Class groups materials that are mashed alike.
type Class string

// The classes.
const (
	Pome     Class = "pome fruit"
	Stone    Class = "stone fruit"
	Berry    Class = "berries"
	Grape    Class = "grapes"
	OtherRaw Class = "other fruit"
	Pomace   Class = "pomace"
	Grain    Class = "grain"
	Cane     Class = "molasses and sugar"
)

// A Rate is a yield an authority counts on, of pure alcohol at 20 °C.
type Rate struct {
	Litres float64
	PerKg  bool // of 100 kg of material; otherwise of 100 L of mash
	Source string
	Row    string // the line of the table
}

// A Span is a printed range with its mean.
type Span struct{ Low, High, Mean float64 }

// A Material is something to ferment, with what is published about it. A zero
// Span or figure is one that no source at hand gives. Brix is the average of
// 19 CFR 151.91.
type Material struct {
	Name     string
	Class    Class
	Official []Rate
	Yield    Span   // L of pure alcohol from 100 kg
	YieldBy  string // where Yield stands
	Sugar    Span   // % by mass
	Brix     float64
	PH       Span // compiled list of an agricultural extension, or the handbooks; Mean is the middle
}

// The sources of the tables. The two official lists and the two customs and
// food tables were read (the last two as copies); the handbook figures are from
// memory and want checking against the book.
const (
	de2004     = "German Brennereiordnung, rates from 1 October 2004"
	de2018     = "German yield list from 1 January 2018 (Alkoholsteuergesetz)"
	at95       = "Austrian VO-Abfindung, section 2 (BGBl 39/1995)"
	handbook   = "distillers' handbooks (Tanner and Brunner; Berglund 2004), from memory"
	grainBook  = "Russell, Stewart and Kellershohn, Whisky and Other Spirits, from memory"
	molasses   = "The Alcohol Textbook, from memory"
	customary  = "common practice, no source"
	brixSource = "average Brix of 19 CFR 151.91"
)

func de(l float64, row string) Rate   { return Rate{Litres: l, Source: de2004, Row: row} }
func de18(l float64, row string) Rate { return Rate{Litres: l, Source: de2018, Row: row} }
func at(l float64, row string) Rate   { return Rate{Litres: l, Source: at95, Row: row} }

func deGrain() []Rate {
	return []Rate{{Litres: 26, PerKg: true, Source: de2004, Row: "milled grain, per 100 kg"}}
}

func ph(low, high float64) Span { return Span{low, high, (low + high) / 2} }

// Materials lists what the tables know, fruit first.
func Materials() []Material {
	return []Material{
		{"apple", Pome, []Rate{de18(3.6, "apples"), at(3, "apples, pears")}, Span{3, 6, 5}, handbook, Span{6, 15, 10}, 13.3, ph(3.3, 4.0)},
		{"pear", Pome, []Rate{de18(3.6, "pears"), at(3, "apples, pears")}, Span{3, 6, 4.5}, handbook, Span{6, 14, 9}, 15.4, ph(3.5, 4.6)},
		{"quince", Pome, []Rate{de(3.6, "pome fruit and pome wine"), at(2, "other pome fruit")}, Span{2, 4, 3}, handbook, Span{4, 8, 6}, 0, ph(3.12, 3.4)},
		{"rowan", Pome, []Rate{de(2, "other berries"), at(1.5, "juniper, rowan")}, Span{1.5, 3, 2}, handbook, Span{4, 8, 6}, 0, ph(3.0, 3.6)},
		{"sweet cherry", Stone, []Rate{de(5, "sweet cherries"), at(5, "sweet and sour cherries")}, Span{4, 9, 6}, handbook, Span{6, 18, 11}, 14.3, ph(3.2, 4.1)},
		{"sour cherry", Stone, []Rate{de(3.5, "sour cherries (own)"), at(5, "sweet and sour cherries")}, Span{3.5, 7, 5}, handbook, Span{8, 14, 10}, 14.3, ph(3.2, 4.1)},
		{"damson", Stone, []Rate{de(4.6, "Zwetschgen (damson plums)"), at(5.5, "plums, Zwetschken, mirabelles")}, Span{4, 8, 6}, handbook, Span{8, 15, 10}, 14.3, ph(2.8, 4.5)},
		{"plum", Stone, []Rate{de(3.9, "plums, greengages"), at(5.5, "plums, Zwetschken, mirabelles")}, Span{3, 7, 4.5}, handbook, Span{6, 15, 8}, 14.3, ph(2.8, 4.5)},
		{"mirabelle", Stone, []Rate{de(4.8, "mirabelles"), at(5.5, "plums, Zwetschken, mirabelles")}, Span{4, 8, 6}, handbook, Span{8, 17, 12}, 0, ph(3.5, 4.0)},
		{"sloe", Stone, []Rate{de(2, "sloes"), at(2, "sloes, cornelian cherry")}, Span{}, "", Span{}, 0, Span{}},
		{"apricot", Stone, []Rate{de18(3.5, "apricots"), at(3, "other stone fruit")}, Span{3, 7, 4}, handbook, Span{4, 14, 7}, 14.3, ph(3.3, 4.8)},
		{"peach", Stone, []Rate{de(3.5, "other stone fruit"), at(3, "other stone fruit")}, Span{3, 6, 4.5}, handbook, Span{7, 12, 8}, 11.8, ph(3.3, 4.05)},
		{"raspberry", Berry, []Rate{de18(2, "raspberries"), at(2, "other berries")}, Span{2, 3.5, 2.5}, handbook, Span{4, 6, 5.5}, 10.5, ph(3.22, 3.95)},
		{"blackberry", Berry, []Rate{de18(2, "blackberries"), at(2, "other berries")}, Span{2, 3.5, 3}, handbook, Span{4, 7, 5.5}, 10, ph(3.85, 4.5)},
		{"strawberry", Berry, []Rate{de18(2, "strawberries"), at(2, "other berries")}, Span{}, "", Span{}, 8, ph(3.0, 3.9)},
		{"blueberry", Berry, []Rate{de18(2, "blueberries/lingonberries"), at(2, "other berries")}, Span{2, 4, 3}, handbook, Span{4.5, 8, 6}, 14.1, ph(3.12, 3.33)},
		{"elderberry", Berry, []Rate{de18(2, "elderberries"), at(2, "other berries")}, Span{2, 3, 2.5}, handbook, Span{4, 6, 5}, 11, ph(3.6, 3.8)},
		{"black currant", Berry, []Rate{de18(2, "currants/gooseberries"), at(2, "other berries")}, Span{2, 3.5, 2.5}, handbook, Span{4, 9, 5}, 15, ph(2.8, 3.2)},
		{"red currant", Berry, []Rate{de18(2, "currants/gooseberries"), at(2, "other berries")}, Span{2, 3.5, 2.5}, handbook, Span{4, 9, 5}, 10.5, ph(2.8, 3.2)},
		{"gooseberry", Berry, []Rate{de18(2, "currants/gooseberries"), at(2, "other berries")}, Span{}, "", Span{}, 8.3, ph(2.8, 3.1)},
		{"grape", Grape, []Rate{de(5, "grapes (incl. revised item)"), at(4.5, "grapes")}, Span{4, 10, 8}, handbook, Span{9, 19, 14}, 21.5, ph(2.8, 3.8)},
		{"rose hip", OtherRaw, []Rate{de18(2, "rose hips"), at(2, "rose hips")}, Span{}, "", Span{}, 0, Span{}},
		{"fig", OtherRaw, []Rate{de18(3.3, "figs")}, Span{}, "", Span{}, 18.2, ph(5.05, 5.98)},
		{"grape marc", Pomace, []Rate{de(2, "grape marc"), at(2.5, "pomace")}, Span{2, 5, 3}, handbook, Span{2, 6, 4}, 0, ph(3.3, 4.2)},
		{"apple pomace", Pomace, []Rate{de18(1.5, "apple pomace"), at(2.5, "pomace")}, Span{}, "", Span{}, 0, Span{}},
		{"pear pomace", Pomace, []Rate{de18(1.5, "pear pomace"), at(2.5, "pomace")}, Span{}, "", Span{}, 0, Span{}},
		{"malted barley", Grain, deGrain(), Span{34, 43, 36.5}, grainBook + "; mash houses of a small distillery 34 to 39 L, " + customary, Span{}, 0, Span{}},
		{"wheat", Grain, deGrain(), Span{37, 39, 38}, grainBook, Span{}, 0, Span{}},
		{"maize", Grain, deGrain(), Span{39, 41, 40}, grainBook, Span{}, 0, Span{}},
		{"rye", Grain, deGrain(), Span{34, 37, 35.5}, customary, Span{}, 0, Span{}},
		{"cane molasses", Cane, nil, Span{24, 30, 27}, molasses, Span{50, 57, 53.5}, 0, Span{}},
		{"raw sugar", Cane, nil, Span{58, 65, 61.5}, "stoichiometry of sucrose at 90 to 95 %", Span{}, 0, Span{}},
	}
}

// MaterialNamed finds a material.
func MaterialNamed(name string) (Material, bool) {
	for _, m := range Materials() {
		if m.Name == name {
			return m, true
		}
	}
	return Material{}, false
}

// Fruit reports whether the material is measured by the Brix of its juice and
// by the litres of its mash.
func (m Material) Fruit() bool { return m.Class != Grain && m.Class != Cane }

// Fill is how full a fermenter may be: stone fruit froths and lifts a cap
// (common practice, no source).
func (m Material) Fill() float64 {
	if m.Class == Stone {
		return 0.80
	}
	return 0.85
}

// Style is how the material ferments.
func (m Material) Style() Style {
	switch {
	case m.Class == Grain:
		return GrainMash()
	case m.Name == "cane molasses":
		return MolassesWash()
	case m.Class == Cane:
		return SugarWash()
	}
	return FruitMash()
}
