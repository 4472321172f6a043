package fill

// A Caution belongs to a room and is shown there.
type Caution struct{ Room, Hazard, Text, Source string }

// Cautions lists what to mind on the bottling floor; those of gas and pressure
// are fizz's.
func Cautions() []Caution {
	const (
		local     = " Follow your local code, fire marshal and licensed practice."
		customary = "common practice, no source"
	)
	return []Caution{
		{"bottling floor", "vapour", "Open spirit burns: no flame or spark at the filler, air moving, broken glass off the floor at once, gloves at the closer." + local, customary},
		{"bottling floor", "lifting", "A case of twelve weighs about 15 kg: lift with the knees, two to a pallet's top layer." + local, customary},
		{"bottling floor", "visitors", "Helpers are of age, sober and shod; who is tired sits down. No tasting until the line is clear." + local, customary},
	}
}
