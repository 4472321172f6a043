package fizz

import "gaugebook/calc/quantity"

// localCode ends every caution.
const localCode = " Follow your local code and licensed practice."

const customary = "common practice, no source"

// A Style is how strongly a kind of drink is carbonated by custom.
type Style struct {
	Name      string
	Low, High quantity.Reading // volumes
	Source    string
}

// Styles lists what is customary.
func Styles() []Style {
	v := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.NoUnit) }
	return []Style{
		{"highball, seltzer", v("2.8"), v("3.8"), customary},
		{"cocktail, gin and tonic", v("2.4"), v("3.2"), customary},
		{"spritz, wine-like", v("2.0"), v("2.6"), customary},
		{"beer, to compare", v("2.4"), v("2.7"), customary},
	}
}

// A Caution belongs to a room and is shown there.
type Caution struct{ Room, Hazard, Text, Source string }

// Cautions lists what to mind where gas and drink are closed in.
func Cautions() []Caution {
	return []Caution{
		{"bottling floor", "pressure", "Gas cylinder chained, regulator and relief valve rated and tested, no vessel above its plate. Never open a lid or clamp under pressure, never freeze a relief valve." + localCode, customary},
		{"bottling floor", "over-carbonation", "A can warms in a car to 60 °C and its pressure doubles or more. Work out the hottest storage before the first lid; above the supplier's rating, take less gas." + localCode, customary},
		{"bottling floor", "refermentation", "Sugar and a few yeast cells go on working in the can: 4 g/L make one volume. Filter sterile, preserve or pasteurise; hold samples warm." + localCode, "Gay-Lussac; " + customary},
		{"bottling floor", "pasteurising", "At 60 to 65 °C a can of 2.5 volumes is near its limit: low gas, or treat the drink before it is filled." + localCode, "the chart carried on, indicative"},
		{"bottling floor", "carbon dioxide", "CO2 from purging and leaks gathers low, in pits and walk-in coolers: 5,000 ppm over 8 hours, 40,000 ppm is dangerous to life. Alarm, air, and never alone." + localCode, "29 CFR 1910.1000 Table Z-1; NIOSH Pocket Guide (second-hand)"},
		{"bottling floor", "breakage", "Goggles and gloves wherever filled glass or cans are under pressure; a box over the test can." + localCode, customary},
	}
}
