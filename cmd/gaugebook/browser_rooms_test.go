package main

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// figure waits until the big figure on the page is so.
func figure(tab *rig.Tab, want string) {
	tab.Until("") // the page is there
	rig.Wait[bool](tab, "[...document.querySelectorAll('.big-figure')].some((one) => rig.seen(one) && one.textContent === '"+want+"')")
}

// rows are the rows of a table by its caption, their cells joined by a bar; a
// note that belongs to a row follows it.
func rows(tab *rig.Tab, caption string) []string {
	return rig.Wait[[]string](tab, `(() => {
		const table = [...document.querySelectorAll('table')].find((one) => one.caption && rig.words(one.caption).startsWith('`+caption+`'));
		return table && [...table.tBodies[0].rows].map((row) => [...row.cells].map(rig.words).join(' | '));
	})()`)
}

// rooms walks through the house without a network: a run with its cuts, a
// gauge by volume and by weight, a bottling, the office and a correction. Then
// the network comes back.
func rooms(t *testing.T, s stage) {
	o, p := s.away(t)
	tab := p.Tab

	register(tab, [3]string{"Copper still", "still", "150"}, [3]string{"Receiver one", "receiver", "10"}, [3]string{"Tank three", "tank", "5000"})
	tab.Tap("Register a product")
	tab.Type("Register a product > Name", "Quince brandy")
	tab.Choose("Register a product > Class", "brandy")
	tab.Type("Register a product > Strength on the label", "80")
	tab.Type("Register a product > Bottle or can", "750")
	tab.Type("Register a product > Bottles in a case", "6")
	tab.Save("Save the product")

	startRun(tab, "Copper still")
	draw := func(indicated, temp, volume string) {
		tab.Type("Hydrometer reads", indicated)
		tab.Type("at a temperature of", temp)
		tab.Type("In the receiver", volume)
		tab.Save("Save the reading")
	}
	cut := func(words, into, left string) { // with what was left behind, so that no clock guesses at it
		tab.Tap(words)
		tab.Choose(words+" > into", into)
		tab.Type(words+" > Left in the receiver before", left)
		tab.Save("Save: " + strings.ToLower(words))
	}
	draw("162.5", "60", "0.4")
	cut("Cut to hearts", "Receiver one", "0.4")
	draw("158", "60", "2")
	draw("150", "60", "4")
	cut("Cut to tails", "Receiver one", "4")
	draw("90", "60", "1")
	lines := rows(tab, "The run")
	require.Len(t, lines, 12, "four readings and two cuts, each with its note: %q", lines)
	for at, want := range map[int]string{0: "90.0", 1: "read 90 proof at 60 °F", 2: "cut", 3: "from here tails into Receiver one", 10: "162.5"} {
		assert.Contains(t, lines[at], want)
	}
	// At 60 °F proof gallons are gallons × proof ÷ 100 (27 CFR 30.11), and
	// between two readings of a receiver the mean of their strengths came over:
	// 2 × 1.58 + 2 × 1.54 = 6.24.
	receivers := strings.Join(rows(tab, "Pure alcohol"), "\n")
	for start, want := range map[string]float64{"Heads": 0.65, "Hearts into Receiver one": 6.24} {
		found := regexp.MustCompile(`(?m)^` + start + `\b.* \| ([\d.]+)$`).FindStringSubmatch(receivers)
		require.Len(t, found, 2, "%s: %s", start, receivers)
		got, err := strconv.ParseFloat(found[1], 64)
		require.NoError(t, err)
		assert.InEpsilon(t, want, got, 0.02, "proof gallons of %s: %s", start, receivers)
	}
	assert.Contains(t, receivers, "Tails into Receiver one")
	assert.Regexp(t, `^Strength over .*, 4 readings, from 162\.5 to 90\.0 proof; then hearts; then tails`,
		rig.Eval[string](tab, "document.querySelector('gb-chart svg').getAttribute('aria-label')"))
	assert.Equal(t, 4, rig.Eval[int](tab, "document.querySelectorAll('gb-chart circle').length"), "points of the chart")

	tab.Tap("Gauge a receiver")
	tab.Choose("Gauge a receiver > What it is", "hearts")
	tab.Choose("Gauge a receiver > Where it stands", "Tank three")
	tab.Type("Gauge a receiver > Volume as read", "4")
	tab.Type("Gauge a receiver > Hydrometer reads", "152")
	tab.Type("Gauge a receiver > at a temperature of", "60")
	tab.Save("Save the gauge")
	tab.Tap("End the run")
	tab.Save("End the run > button: End the run")
	tab.Until("No run is open")

	enter(tab, "Spirit store")
	tab.Choose("Vessel", "Tank three")
	tab.Type("Volume as read", "4308.48")
	tab.Type("Hydrometer reads", "86.8")
	tab.Type("at a temperature of", "60")
	tab.Type("Temperature of the volume", "72")
	figure(tab, "3721.1") // 27 CFR 30.51
	assert.Contains(t, rig.Eval[string](tab, "rig.words(document.querySelector('.answer'))"), "4286.94 gal", "27 CFR 30.51: wine gallons at 60 °F")
	tab.Save("Save the gauge")
	tab.Choose("Vessel", "Tank three")
	tab.Tap("Amount by > weight")
	tab.Type("Net weight", "68")
	tab.Tap("Strength by > known strength")
	tab.Type("True strength", "190")
	figure(tab, "19.0") // 27 CFR 30.44(b): 10 gallons of 190 proof weigh 68 lb
	tab.Save("Save the gauge")
	assert.Contains(t, rows(tab, "Latest gauges")[0], "Tank three")
	assert.Contains(t, rows(tab, "What stands")[0], "hearts")

	enter(tab, "Bottling floor")
	tab.Choose("Open a bottling > Product", "Quince brandy")
	tab.Choose("Open a bottling > Tank", "Tank three")
	tab.Type("Open a bottling > Volume as read", "4")
	tab.Type("Open a bottling > Temperature of the volume", "60")
	tab.Tap("Open a bottling > Strength by > known strength")
	tab.Type("Open a bottling > True strength", "80")
	tab.Save("Open a bottling > button: Open the bottling")
	tab.Tap("Count")
	tab.Type("Full cases", "3")
	tab.Type("Loose bottles", "1")
	tab.Save("Save the count")
	tab.Tap("Spoiled bottles")
	tab.Choose("Spoiled bottles > Why", "broken")
	tab.Type("Spoiled bottles > Bottles", "1")
	tab.Save("Save the spoils")
	figure(tab, "19")
	tally := rig.Eval[string](tab, "rig.words([...document.querySelectorAll('.leaf')].find((leaf) => leaf.textContent.includes('expected from the tank')))")
	for _, want := range []string{"expected from the tank20.2", "spoiled1", "difference−0.2"} { // 4 gal of 3.785411784 L in bottles of 750 mL are 20.19
		assert.Contains(t, tally, want)
	}
	assert.Contains(t, rows(tab, "Spoils by reason")[0], "broken | 1")

	enter(tab, "Office")
	assert.Contains(t, strings.Join(rows(tab, "Every vessel"), "\n"), "Tank three | hearts | 6.1")
	tab.Tap("row: 150 proof")
	tab.Until("Its history")
	wrong := strings.TrimPrefix(rig.Eval[string](tab, "document.querySelector('h1').textContent"), "Entry ")
	tab.Tap("Correct this entry")
	tab.Type("Correct it > Why", "misread by one mark")
	tab.Type("Correct it > Hydrometer reads", "152")
	correction := tab.Save("Save the correction")
	history := rig.Eval[string](tab, "rig.words(rig.region(document, 'Its history'))")
	for _, want := range []string{"Written as " + wrong, "150 proof", "Amended by " + correction, "Why: misread by one mark", "152 proof"} {
		assert.Contains(t, history, want)
	}
	tab.Tap("Back to the room")
	assert.Contains(t, strings.Join(rows(tab, "Entries of"), "\n"), "amended by "+correction)

	onlyHere(t, tab, 19)
	calm(t, p)
	o.Wire.Mend()
	tab.Offline(false)
	sent(tab)
	addresses, records := arrived(t, o)
	require.Len(t, addresses, 19)
	for i, r := range records {
		assert.Equal(t, int64(i+1), r.Seq, "%s came out of order, twice or not at all", r.Address())
	}
	second := join(t, o, o.Invite())
	enter(second.Tab, "Office")
	second.Tab.Until("amended by " + correction)
	calm(t, second)
}
