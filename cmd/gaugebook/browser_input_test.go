package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gaugebook/cmd/internal/rig"
)

// badInput types what cannot be: each sentence says the value, the limit and
// what to do, at its field; nothing is saved and what was typed stays.
func badInput(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"}, [3]string{"Receiver one", "receiver", "10"}, [3]string{"Tank three", "tank", "300"})
	startRun(tab, "Copper still")
	entries := rig.Eval[int](tab, "rig.held()")
	unchanged := func(what string) {
		t.Helper()
		tab.Settle()
		assert.Equal(t, entries, rig.Eval[int](tab, "rig.held()"), "%s: entries in the log", what)
		assert.Empty(t, rig.Eval[string](tab, "document.querySelector('.receipt').textContent"), "%s: nothing is said to be saved", what)
	}
	at := func(button, field string, says ...string) {
		t.Helper()
		typed := rig.Eval[string](tab, "rig.find('"+field+"').value")
		tab.Tap(button)
		for _, words := range says { // an earlier sentence may stand there until the engine has looked again
			tab.BelowSays(field, words)
		}
		assert.Equal(t, typed, rig.Eval[string](tab, "rig.find('"+field+"').value"), "what was typed at ‘%s’ stays", field)
		unchanged(field)
	}
	atButton := func(button string, says ...string) {
		t.Helper()
		tab.Tap(button)
		sentence := rig.Wait[string](tab, "[...document.querySelectorAll('.act .fault')].filter(rig.seen).map(rig.words).join(' ')")
		for _, words := range says {
			assert.Contains(t, sentence, words, "the sentence at ‘%s’", button)
		}
		unchanged(button)
	}

	// A cut before any reading.
	tab.Tap("Cut to hearts")
	tab.Choose("Cut to hearts > into", "Receiver one")
	atButton("Save: cut to hearts", "a cut needs a reading before it", "take a reading first")
	tab.Tap("Cut to hearts")

	// A letter in a number, a temperature beyond the table, a reading beyond the scale.
	tab.Type("Hydrometer reads", "19o.5")
	tab.Type("at a temperature of", "72")
	at("Save the reading", "Hydrometer reads", "19o.5")
	tab.Type("Hydrometer reads", "190.5")
	tab.Type("at a temperature of", "172")
	at("Save the reading", "at a temperature of", "172", "the most this field takes", "read the instrument again")
	tab.Type("at a temperature of", "72")
	tab.Type("Hydrometer reads", "212")
	at("Save the reading", "Hydrometer reads", "212", "206")
	tab.Type("Hydrometer reads", "")
	at("Save the reading", "Hydrometer reads", "needed")
	tab.Type("Hydrometer reads", "150")
	tab.Tap("More") // what is wrong behind a fold is shown
	tab.Type("Hydrometer correction", "ten")
	tab.Tap("More")
	rig.Wait[bool](tab, "[...document.querySelectorAll('form input')].filter(rig.seen).every(({ value }) => value !== 'ten')")
	tab.Tap("Save the reading")
	tab.BelowSays("Hydrometer correction", "ten")
	unchanged("Hydrometer correction")
	assert.True(t, rig.Eval[bool](tab, "document.activeElement.value === 'ten'"), "and has the focus")
	tab.Type("Hydrometer correction", "")
	tab.Type("In the receiver", "0.5")
	tab.Save("Save the reading")
	entries++

	// More in a receiver than it takes, and more drawn from it than it holds.
	tab.Tap("Cut to hearts")
	tab.Choose("Cut to hearts > into", "Receiver one")
	tab.Save("Save: cut to hearts")
	entries++
	tab.Type("Hydrometer reads", "150")
	tab.Type("at a temperature of", "60")
	tab.Type("In the receiver", "12")
	at("Save the reading", "In the receiver", "12 gal", "10 gal", "change the receiver")
	tab.Type("In the receiver", "4")
	tab.Save("Save the reading")
	entries++
	tab.Tap("Gauge a receiver")
	tab.Choose("Gauge a receiver > What it is", "hearts")
	tab.Choose("Gauge a receiver > Where it stands", "Receiver one")
	tab.Type("Gauge a receiver > Volume as read", "4")
	tab.Type("Gauge a receiver > Hydrometer reads", "150")
	tab.Type("Gauge a receiver > at a temperature of", "60")
	tab.Save("Save the gauge")
	entries++
	enter(tab, "Spirit store")
	tab.Tap("Move spirit")
	tab.Choose("Move spirit > From", "Receiver one")
	tab.Choose("Move spirit > To", "Tank three")
	tab.Type("Move spirit > Volume as read", "6")
	tab.Type("Move spirit > Temperature of the volume", "60")
	at("Save the move", "Move spirit > Volume as read", "6 gal", "Receiver one")

	sent(tab)
	addresses, _ := arrived(t, o)
	assert.Len(t, addresses, entries)
	calm(t, p)
}
