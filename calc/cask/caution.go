package cask

// A Caution belongs to a room and is shown there.
type Caution struct{ Room, Hazard, Text, Source string }

// Cautions lists what to mind among tanks and barrels.
func Cautions() []Caution {
	const (
		local     = " Follow your local code, fire marshal and licensed practice."
		customary = "common practice, no source"
	)
	return []Caution{
		{"spirit store", "vapour", "Ethanol vapour burns from 3.3 % in air and gathers low: no flame, spark or hot work, lamps and pumps rated for it, air moving." + local, "handbook figure, second-hand; " + customary},
		{"spirit store", "bonding", "Bond and earth both vessels before spirit flows; fill from the bottom, slowly at first." + local, customary},
		{"spirit store", "lifting", "A full barrel weighs about 240 kg: roll it, lift it with the truck, chock it, never stand below it." + local, customary},
		{"spirit store", "confined space", "Never enter or lean into a tank or vat that held spirit or a ferment until it was aired and measured, with a permit and a second person outside." + local, "29 CFR 1910.146"},
		{"spirit store", "pressure", "A barrel in the sun pushes: open the bung slowly, face away." + local, customary},
	}
}
