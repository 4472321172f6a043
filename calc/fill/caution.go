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

// RoomChecks lists what is looked at before the first bottle (common practice,
// no source): one flag in the entry that opens a run says it was done.
func RoomChecks() []string {
	return []string{
		"No flame, spark or hot lamp near the filler; the air moves; the extinguisher is in its place.",
		"The line is clear of the last product’s bottles, labels and cartons.",
		"The tank’s tag, strength, temperature and clarity are those of this product.",
		"The lot code on the coder and the date are today’s.",
		"The first bottle is kept: label straight, strength and wording right, closure tight.",
	}
}
