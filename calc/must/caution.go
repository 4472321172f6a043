package must

import "strings"

// An Advice is something to look at: never a block, always with the first thing
// a distiller would look at.
type Advice struct {
	Code      string // stable word for tests and translations
	Finding   string // what was found, with its figures
	LookFirst string
	Source    string
}

// A Caution belongs to a room and is shown there.
type Caution struct {
	Room   string // "yard", "mash room", "ferment hall"
	Hazard string
	Text   string
	Source string
}

// localCode ends every caution.
const localCode = " Follow your local code and licensed practice."

// Cautions lists what to mind in the yard, the mash room and the ferment hall.
func Cautions() []Caution {
	return []Caution{
		{"yard", "lifting", "Crates and sacks: use the truck, lift with two, keep feet from under pallets." + localCode, customary},
		{"mash room", "hot water and mash", "Strike water and mash scald at once; grain stuck in a tun can let go. Close the valve before opening the lid, wear boots, gloves and a face shield." + localCode, customary},
		{"mash room", "acids", "Acid goes into water or mash, never water into acid. Goggles, gloves and apron; eyewash within ten seconds' walk. Never store it beside caustic or chlorine." + localCode, "ANSI/ISEA Z358.1 for the eyewash, from memory; " + customary},
		{"mash room", "caustics", "Caustic goes slowly into cold water, never water onto caustic: it boils and spits. It blinds. Never mix it with acid, never close a vessel full of CO2 on it: the vessel collapses. Rinse until the pH is that of the water." + localCode, customary},
		{"mash room", "milling", "Grain dust burns and explodes: no spark, no open flame, clean up dust. Guards stay on." + localCode, customary},
		{"ferment hall", "carbon dioxide", "A fermenting cubic metre gives cubic metres of CO2 a day. It is heavier than air and fills pits, cellars and tank bottoms first. Limit 5,000 ppm over 8 hours, 30,000 ppm for 15 minutes; 40,000 ppm is dangerous to life. Air the room, wear a CO2 alarm; an oxygen alarm is too late." + localCode, "29 CFR 1910.1000 Table Z-1; NIOSH Pocket Guide (at second hand)"},
		{"ferment hall", "confined space", "Never enter or lean into a tank, vat or pit that held a ferment until it was aired and measured, with a permit, a second person outside and a way to pull you out. Most who die go in to help." + localCode, "29 CFR 1910.146"},
		{"ferment hall", "stone fruit", "Keep stones whole, at most 5 % broken, and do not let a finished mash lie on them: they give off hydrogen cyanide, which becomes ethyl carbamate in the spirit." + localCode, "Codex CXC 70-2011; Commission Recommendation (EU) 2016/22"},
		{"ferment hall", "pressure", "A closed lid needs an open airlock; a blocked one lifts the lid or bursts the vessel." + localCode, customary},
	}
}

// CautionsIn lists the cautions of one room.
func CautionsIn(room string) []Caution {
	var out []Caution
	for _, c := range Cautions() {
		if c.Room == room {
			out = append(out, c)
		}
	}
	return out
}

// isUrea reports whether a nutrient is urea by any of its names.
func isUrea(name string) bool {
	n := strings.ToLower(name)
	return strings.Contains(n, "urea") || strings.Contains(n, "carbamide") || strings.Contains(n, "carbonyldiamide")
}
