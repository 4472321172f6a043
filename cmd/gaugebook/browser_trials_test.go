package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// trials has two phones taste one glass without a network, blind to each other:
// a phone that holds the other's marks shows them nowhere, and both show them
// once the third taster is in. Then the glass is made as large as a tank.
func trials(t *testing.T, s stage) {
	o := s.open(t)
	one := join(t, o, codeOf(t, o))
	register(one.Tab, [3]string{"Tank 3", "tank", "100"})
	enter(one.Tab, "Spirit store")
	page(one.Tab, "Trials")
	one.Tab.Tap("Put a trial together")
	one.Tab.Type("Put a trial together > Name", "Glass K")
	one.Tab.Type("How many will taste it", "3")
	one.Tab.Type("Put a trial together > Strength", "80")
	one.Tab.Tap("Add: parts")
	one.Tab.Type("Parts 1 > What", "Quince hearts")
	one.Tab.Type("Parts 1 > Weight", "60")
	one.Tab.Tap("Add: parts")
	one.Tab.Type("Parts 2 > What", "Water")
	one.Tab.Type("Parts 2 > Weight", "40")
	one.Tab.Save("Save the trial")
	sent(one.Tab)
	two := join(t, o, o.Invite())
	enter(two.Tab, "Spirit store")
	page(two.Tab, "Trials")
	two.Tab.Until("Taste Glass K")
	keptOffline(one.Tab)
	keptOffline(two.Tab)

	o.Wire.Cut()
	one.Tab.Offline(true)
	two.Tab.Offline(true)
	taste := func(tab *rig.Tab, who, mark, words string) string {
		tab.Tap("Taste Glass K")
		tab.Type("Who tasted", who)
		tab.Tap("All in all, 1 to 10 > " + mark)
		tab.Type("In words", words)
		return tab.Save("Save the marks")
	}
	first := taste(one.Tab, "JS", "9", "marzipan")
	second := taste(two.Tab, "MK", "4", "watery")
	one.Tab.Until("1 of 3 tasters are in: JS")
	two.Tab.Until("1 of 3 tasters are in: MK")
	assert.NotContains(t, one.Tab.Text(), "marzipan", "not even one's own, once saved: somebody else may hold the phone next")
	one.Tab.Until("They stand in the log like every entry")

	o.Wire.Mend()
	for _, p := range []*rig.Phone{one, two} {
		p.Tab.Offline(false)
		rig.Eval[bool](p.Tab, "dispatchEvent(new Event('online'))")
		sent(p.Tab)
	}
	two.Tab.Until("2 of 3 tasters are in")
	one.Tab.Until("2 of 3 tasters are in") // each holds the other's marks now
	for tab, other := range map[*rig.Tab]string{one.Tab: second, two.Tab: first} {
		shown := tab.Text()
		enter(tab, "Office")
		tab.Until(other)
		shown += tab.Text()
		enter(tab, "Spirit store")
		for _, mark := range []string{"marzipan", "watery", "All in all"} {
			assert.NotContains(t, strings.ReplaceAll(shown, "All in all, 1 to 10", ""), mark)
		}
	}

	taste(two.Tab, "RV", "8", "round")
	sent(two.Tab)
	for _, tab := range []*rig.Tab{one.Tab, two.Tab} {
		tab.Until("7.0 all in all, 4 to 9, 3 tasters")
		for _, mark := range []string{"JS 9 marzipan", "MK 4 watery", "RV 8 round"} { // two of one second stand in their phones' order
			tab.Until(mark)
		}
		tab.Until("No glass waits for marks.")
	}

	tab := one.Tab
	tab.Choose("Make it as large as a tank > Trial", "Glass K")
	tab.Choose("Into the tank", "Tank 3")
	tab.Type("How much is wanted", "120")
	tab.Until("Tank 3 has room for 100 gal, and this is 120 gal.")
	// 120 gal are 454.2 L; at 40 % vol they weigh 0.948 kg a litre, 430.7 kg, 949 lb: 60 % of it are 570 lb.
	table := strings.Join(rows(tab, "Into the tank, and what to buy"), "\n")
	assert.Contains(t, table, "Quince hearts | 570 lb | none | 570 lb")
	assert.Contains(t, table, "Water | 380 lb")
	fitsScreens(t, tab, "the trials")
	_, records := arrived(t, o)
	require.Len(t, records, 5, "a tank, a trial and three tasters")
	calm(t, one)
	calm(t, two)
}
