package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// holdEngine keeps what the next pages ask of the engine, as an engine does
// that is still on its way, until they are told letGo.
func holdEngine(tab *rig.Tab) {
	tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `(() => {
		let letGo;
		const gone = new Promise((resolve) => { letGo = resolve; });
		globalThis.held = { asked: 0, letGo };
		globalThis.Worker = class extends Worker {
			postMessage(...message) { held.asked++; gone.then(() => super.postMessage(...message)); }
		};
	})()`})
}

const (
	needsEngine = "held.asked > 0" // the page has come to where it needs the engine
	letGo       = "(held.letGo(), true)"
	asOf        = "document.querySelector('.as-of').textContent"
)

// coldly is a phone in the still room with one reading in its book, kept for the
// next start, that was switched off out of reach and on again.
func (s stage) coldly(t *testing.T, before func(*rig.Office, *rig.Phone)) (*rig.Office, *rig.Phone) {
	t.Helper()
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	register(p.Tab, [3]string{"Copper still", "still", "150"})
	startRun(p.Tab, "Copper still")
	reading(p.Tab, "160")
	sent(p.Tab)
	keptOffline(p.Tab)
	rig.Wait[bool](p.Tab, keptShown)
	o.Wire.Cut()
	before(o, p)
	p.SwitchOff()
	p = p.Again()
	holdEngine(p.Tab)
	p.Tab.Go(o.Wire.URL)
	return o, p
}

// Before the engine has come the room is there as it was, and takes what is
// typed; a tap on Save waits for the engine and saves once. Nothing that was
// typed, and not the focus, is taken away when the book is open.
func coldKept(t *testing.T, s stage) {
	o, p := s.coldly(t, func(*rig.Office, *rig.Phone) {})
	tab := p.Tab
	rig.Wait[bool](tab, form)
	inTable(tab, "160.0")
	rig.Wait[bool](tab, needsEngine)
	assert.Contains(t, rig.Eval[string](tab, asOf), "still being opened")
	assert.False(t, rig.Eval[bool](tab, bookOpen))
	before := rig.Eval[int](tab, held)
	tab.Type("Hydrometer reads", "151.5")
	tab.Type("at a temperature of", "60")
	tab.Tap("Save the reading")
	tab.Tap("Save the reading")
	tab.Type("Vapour", "178")
	tab.Settle()
	assert.Equal(t, before, rig.Eval[int](tab, held))
	assert.Empty(t, rig.Eval[string](tab, "document.querySelector('.receipt').textContent"), "nothing is said to be saved")

	rig.Eval[bool](tab, letGo)
	address := tab.Saved()
	inTable(tab, "151.5")
	rig.Wait[bool](tab, bookOpen)
	tab.Settle()
	assert.Empty(t, rig.Eval[string](tab, asOf))
	assert.Equal(t, "178", rig.Eval[string](tab, "rig.find('Vapour').value"), "typed meanwhile")
	assert.True(t, rig.Eval[bool](tab, "document.activeElement === rig.find('Vapour')"), "the focus stays")
	assert.Empty(t, rig.Eval[string](tab, "rig.find('Hydrometer reads').value"))
	onlyHere(t, tab, 1)
	require.Equal(t, before+1, rig.Eval[int](tab, held), "saved once")
	back(o, tab)
	got, records := arrived(t, o)
	last := records[len(records)-1]
	assert.Equal(t, address, got[len(got)-1])
	assert.Contains(t, string(last.Body), `"151.5proof"`)
	assert.NotContains(t, string(last.Body), "178", "typed after the tap")
	calm(t, p)
}

// An engine that does not come at all is told of where the room stands, which
// keeps what was typed in it, over opening the page again too.
func coldBroken(t *testing.T, s stage) {
	o, p := s.coldly(t, func(*rig.Office, *rig.Phone) {})
	tab := p.Tab
	broken := tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `globalThis.Worker = class extends Worker {
		postMessage() { setTimeout(() => this.onmessage({ data: { dead: 'no room for it' } })); }
	}`})
	tab.Go(o.Wire.URL)
	tab.Until("The book could not be opened: the engine stopped (no room for it)")
	tab.Type("Hydrometer reads", "151.5")
	tab.Tap("Save the reading")
	tab.Until("the engine does not start: no room for it")
	assert.Equal(t, "151.5", rig.Eval[string](tab, "rig.find('Hydrometer reads').value"))
	tab.Call("Page.removeScriptToEvaluateOnNewDocument", map[string]any{"identifier": broken["identifier"]})
	tab.Tap("Open it again")
	rig.Wait[bool](tab, needsEngine)
	rig.Eval[bool](tab, letGo)
	rig.Wait[bool](tab, bookOpen)
	assert.Equal(t, "151.5", rig.Eval[string](tab, "rig.find('Hydrometer reads').value"))
	tab.Type("at a temperature of", "60")
	tab.Save("Save the reading")
	inTable(tab, "151.5")
}

// What was kept of a book that has one line more since is not shown.
func coldMoved(t *testing.T, s stage) {
	var kept string
	_, p := s.coldly(t, func(o *rig.Office, p *rig.Phone) {
		kept = rig.Eval[string](p.Tab, "rig.kept('opening')")
		rig.Eval[bool](p.Tab, "(IDBObjectStore.prototype.put = ((put) => function (value, ...key) { return key[0] === 'opening' ? null : put.call(this, value, ...key); })(IDBObjectStore.prototype.put), true)")
		reading(p.Tab, "150.5")
	})
	tab := p.Tab
	rig.Wait[bool](tab, needsEngine)
	assert.Equal(t, kept, rig.Eval[string](tab, "rig.kept('opening')"), "what was kept is there")
	assert.Empty(t, rig.Eval[string](tab, asOf))
	assert.Equal(t, "Opening the book…", rig.Eval[string](tab, "rig.words(document.getElementById('room'))"))
	rig.Eval[bool](tab, letGo)
	inTable(tab, "150.5")
	rig.Wait[bool](tab, keptShown)
	assert.NotEqual(t, kept, rig.Eval[string](tab, "rig.kept('opening')"))
	calm(t, p)
}

// A phone whose time is over shows its lock and nothing that was kept; handed
// back it keeps nothing any more, whatever was still to be kept.
func coldLocked(t *testing.T, s stage) {
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	p := helper(t, o, owner.Tab, "Harvest helper")
	suppliers(p.Tab, "Near Orchard")
	sent(p.Tab)
	rig.Wait[bool](p.Tab, keptShown)
	require.Contains(t, rig.Eval[string](p.Tab, "rig.kept('opening')"), "Near Orchard")
	o.Wire.Cut()
	p.SwitchOff()
	p = p.Again()
	late := p.Tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": "Date.now = ((now) => () => now() + 7200000)(Date.now.bind(Date))"})
	holdEngine(p.Tab)
	p.Tab.Go(o.Wire.URL)
	rig.Wait[bool](p.Tab, needsEngine)
	assert.NotContains(t, p.Tab.Text(), "Near Orchard")
	assert.Empty(t, rig.Eval[string](p.Tab, asOf))
	rig.Eval[bool](p.Tab, letGo)
	p.Tab.Until("This phone’s time has ended")
	assert.NotContains(t, p.Tab.Text(), "Near Orchard")

	p.Tab.Call("Page.removeScriptToEvaluateOnNewDocument", map[string]any{"identifier": late["identifier"]})
	p.Tab.Go(o.Wire.URL) // by its true clock there is time left
	p.Tab.Until("Near Orchard")
	rig.Eval[bool](p.Tab, letGo)
	enter(p.Tab, "This phone")
	o.Wire.Mend()
	p.Tab.Tap("Hand back")
	p.Tab.Tap("Send all, then wipe this phone")
	p.Tab.Until("1 of 1 received.")
	rig.Eval[bool](p.Tab, "(Object.defineProperty(document, 'hidden', { get: () => true }), document.dispatchEvent(new Event('visibilitychange')))")
	p.Tab.Settle()
	assert.Equal(t, "0 0 0", leftover(p.Tab))
}

// A browser that cannot keep the app fetches every room while it can. What it
// could not have says so, and comes at a tap once it can be had.
func unkept(t *testing.T, s stage) {
	o := s.open(t)
	p := rig.NewPhone(t, t.TempDir())
	tab := p.Tab
	tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": "delete Navigator.prototype.serviceWorker"})
	block := func(patterns ...string) {
		tab.Call("Network.setBlockedURLs", map[string]any{"urls": append([]string{}, patterns...)})
	}
	block("*/room/mash.js", "*/store/tanks.js")
	visit(tab, o)
	joinHere(tab, codeOf(t, o))
	register(tab, [3]string{"Copper still", "still", "150"})
	sent(tab)
	tab.Tap("Rooms")
	tab.Tap("Mash room")
	tab.Until("“Mash room” is not on this phone yet")
	enter(tab, "Spirit store")
	tab.Tap("Tanks")
	tab.Until("“Tanks” is not on this phone yet, and the office cannot be reached.")
	block()
	tab.Tap("Try again")
	rig.Wait[bool](tab, "!document.body.innerText.includes('is not on this phone yet')")
	enter(tab, "Mash room")
	tab.Until("Make a mash")

	visit(tab, o)
	rig.Wait[bool](tab, `['view/manual', 'view/phone', 'store/trials', 'bottling/station', 'office/calendar', 'office/registers', 'office/month'].every((name) => performance.getEntriesByType('resource').some((one) => one.name.endsWith(name + '.js') && one.responseEnd > 0))`)
	o.Wire.Cut()
	startRun(tab, "Copper still")
	enter(tab, "Office")
	for _, page := range []string{"Month", "Registers", "Calendar"} {
		tab.Tap(page)
		rig.Wait[bool](tab, "document.querySelector('nav [aria-current]').textContent === '"+page+"' && document.querySelector('.page').children.length > 0")
	}
	assert.NotContains(t, tab.Text(), "is not on this phone yet")
	for _, problem := range p.Problems() {
		assert.True(t, strings.Contains(problem, "net::ERR_"), "the console complains: %s", problem)
	}
}
