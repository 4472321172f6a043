package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// stations plays a bottling party: the owner's screen opens a run and shows a
// square for a station, a borrowed phone comes by it, counts without a network,
// takes back and spoils, and its numbers meet those of the next station. Nothing
// of another room reaches it, it locks at its end, and it is handed back.
func stations(t *testing.T, s stage) {
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	openARun(owner.Tab)

	label := borrowed(t, o, owner.Tab, "label")
	fits(t, label.Tab)
	assert.Zero(t, rig.Eval[int](label.Tab, "document.querySelectorAll('.pages button').length"), "the station is the only page")
	assert.NotContains(t, label.Tab.Text(), "proof", "no strength, no tank")
	casing := borrowed(t, o, owner.Tab, "case")

	label.Tab.Offline(true)
	for range 3 {
		label.Tab.Save("Case full")
	}
	figure(label.Tab, "3")
	label.Tab.Tap("One bottle more")
	label.Tab.Tap("One bottle more")
	label.Tab.Tap("One bottle more")
	label.Tab.Tap("One bottle less")
	label.Tab.Save("Count loose")
	label.Tab.Save("Broken")
	label.Tab.Save("Case full")
	figure(label.Tab, "4")
	label.Tab.Until("Undo: 1 case")
	label.Tab.Save("Undo")
	figure(label.Tab, "3")
	label.Tab.Until("Undo: 1 spoiled, broken")
	onlyHere(t, label.Tab, 7) // three cases, two loose, one broken, a case and its undoing
	for range 2 {
		casing.Tab.Save("Case full")
	}
	sent(casing.Tab)
	label.Tab.Offline(false)
	sent(label.Tab)
	enter(owner.Tab, "Bottling floor")
	owner.Tab.Until("Label 3 cases, 2 loose")
	owner.Tab.Until("Case 2 cases")
	label.Tab.Choose("Station", "Case")
	figure(label.Tab, "2")
	label.Tab.Until("Counting here too: " + nameOf(casing.Tab))

	// The same pallet on two phones is asked about, on the run's screen.
	for _, p := range []*rig.Phone{casing, label} {
		p.Tab.Tap("More")
		p.Tab.Tap("Count a whole pallet")
		p.Tab.Type("Count a whole pallet > Full cases", "4")
		p.Tab.Type("Count a whole pallet > Pallet", "7")
		p.Tab.Save("Count the pallet")
		sent(p.Tab)
	}
	owner.Tab.Until("Pallet 7 was counted at the station ‘case’ before: 48 bottles then, 48 now.")

	// What is on the borrowed phone: its run, what names it, and the counts.
	kinds := rig.Wait[[]string](label.Tab, `(globalThis.lines ??= null, rig.lines().then((all) => { globalThis.lines = [...new Set(all.map((line) => JSON.parse(line).kind))].sort(); }), globalThis.lines)`)
	assert.Equal(t, []string{"bottles counted", "bottles spoiled", "bottling opened", "entry voided", "product registered", "vessel registered"}, kinds)
	label.Tab.Tap("Rooms")
	assert.Equal(t, "Bottling floor (you are here), This phone", rig.Eval[string](label.Tab, "[...document.querySelectorAll('.plan b')].map((b) => b.textContent + (b.closest('[aria-current]') ? ' (you are here)' : '')).join(', ')"))

	// A square takes a phone that has joined to its station, without its code.
	label.Tab.Go(o.Wire.URL + "/#join=0000-0000&station=seal")
	label.Tab.Until("Counted at ‘seal’")
	assert.Equal(t, "/", rig.Eval[string](label.Tab, "location.pathname + location.search + location.hash"))

	label.Tab.Tap("Hand back")
	label.Tab.Until("Hand this phone back")
	label.Tab.Tap("Hand back") // on the page of the phone
	label.Tab.Tap("Send all, then wipe this phone")
	label.Tab.Until("Safe to hand back")
	label.Tab.Until("8 of 8 received.")
	left := rig.Wait[string](label.Tab, `(globalThis.leftover ??= null, Promise.all([indexedDB.databases(), caches.keys(), navigator.serviceWorker.getRegistrations()])
		.then(([a, b, c]) => { globalThis.leftover = a.length + ' ' + b.length + ' ' + c.length; }), globalThis.leftover)`)
	assert.Equal(t, "0 0 0", left, "databases, caches and workers")

	// At its end a phone locks itself, out of everyone's reach; what it wrote is kept.
	casing.Tab.Offline(true)
	casing.Tab.Save("Case full")
	rig.Eval[bool](casing.Tab, "(() => { const now = Date.now; Date.now = () => now() + 2 * 864e5; return true; })()")
	casing.Tab.Until("This phone’s time has ended")
	casing.Tab.Until("Only on this phone: 1.")
	assert.NotContains(t, casing.Tab.Text(), "Case full")
	casing.Tab.Tap("Rooms")
	casing.Tab.Until("This phone’s time has ended")
	casing.Tab.Offline(false)
	casing.Tab.Tap("Hand back")
	casing.Tab.Tap("Send all, then wipe this phone")
	casing.Tab.Until("5 of 5 received.") // its four counts, and that its clock is two days ahead
	owner.Tab.Until("Case 11 cases")

	// The filler is told what to do, before the check is saved and after.
	owner.Tab.Tap("Fill")
	figure(owner.Tab, "712.4") // grams of 750 mL of 80 proof, in air at 60 °F
	owner.Tab.Type("Bottles 1 > Empty weight", "400")
	owner.Tab.Type("Bottles 1 > Full weight", "1112.4")
	figure(owner.Tab, "750.0")
	owner.Tab.Until("Go on.")
	owner.Tab.Save("Save the check")
	owner.Tab.Type("Bottles 1 > Empty weight", "400")
	owner.Tab.Type("Bottles 1 > Full weight", "1090")
	owner.Tab.Until("Stop and re-set: a bottle is outside the law's limit")
	owner.Tab.Save("Save the check")
	rig.Wait[bool](owner.Tab, "document.querySelector('.ready')?.textContent === 'Stop and re-set'")
	rig.Wait[bool](owner.Tab, "document.querySelectorAll('.chart-point').length >= 2")
	owner.Tab.Until("not judged: the table of Handbook 133 has not been typed in")
	sent(owner.Tab)

	addresses, records := arrived(t, o)
	counted := 0
	for i, r := range records {
		if strings.HasPrefix(r.Kind, "bottles ") || r.Kind == "entry voided" {
			counted++
			assert.Contains(t, string(r.Body), `"bottling":`, addresses[i])
		}
	}
	assert.Equal(t, 8+4, counted, "each once")
	calm(t, owner)
	calm(t, label)
	calm(t, casing)
}

// openARun opens a run of a product in cases of 12 on a tank.
func openARun(tab *rig.Tab) {
	register(tab, [3]string{"Bottling tank", "bottling tank", "200"})
	tab.Tap("Register a product")
	tab.Type("Register a product > Name", "Quince brandy")
	tab.Choose("Register a product > Class", "brandy")
	tab.Type("Register a product > Strength on the label", "80")
	tab.Type("Register a product > Bottle or can", "750")
	tab.Type("Register a product > Bottles in a case", "12")
	tab.Save("Save the product")
	enter(tab, "Yard") // what a counter must never see
	tab.Tap("Register a supplier")
	tab.Type("Register a supplier > Name", "Far Orchard")
	tab.Save("Save the supplier")
	enter(tab, "Bottling floor")
	tab.Choose("Open a bottling > Product", "Quince brandy")
	tab.Choose("Open a bottling > Tank", "Bottling tank")
	tab.Type("Open a bottling > Volume as read", "100")
	tab.Type("Open a bottling > Temperature of the volume", "60")
	tab.Tap("Open a bottling > Strength by > known strength")
	tab.Type("Open a bottling > True strength", "80")
	figure(tab, "501") // 100 gal of 3.785411784 L, 0.65 % kept by the line, in bottles of 750 mL
	tab.Save("Open a bottling > button: Open the bottling")
	tab.Until("Its stations")
}

// borrowed is a new phone that joins by the square of a station on the run's
// screen: by the address that the square holds.
func borrowed(t *testing.T, o *rig.Office, screen *rig.Tab, station string) *rig.Phone {
	t.Helper()
	screen.Tap("Square for " + station)
	screen.Until("Scan it to stand at " + station)
	said := rig.Eval[string](screen, "document.querySelector('svg.qr').getAttribute('aria-label')")
	link := regexp.MustCompile(`http\S+`).FindString(said)
	require.Regexp(t, "^"+regexp.QuoteMeta(o.Wire.URL)+`/#join=[0-9A-Z-]+&station=`+station+"$", link)
	p := rig.NewPhone(t, t.TempDir())
	p.Tab.Size(390, 844)
	p.Tab.Go(link)
	p.Tab.Until("Join a book")
	assert.Equal(t, "/", rig.Eval[string](p.Tab, "location.pathname + location.search + location.hash"), "the code is no longer in the address")
	p.Tab.Type("How you sign", "AB")
	p.Tab.Tap("Join this book")
	p.Tab.Until("The office’s screen shows two words")
	words := rig.Eval[string](p.Tab, "document.querySelector('[data-about=words] p').textContent.match(/be: (.*)\\./)[1]")
	screen.Until("Its screen shows the words " + words)
	screen.Tap("The same words")
	p.Tab.Tap("They are the same")
	p.Tab.Until("Counted at ‘" + station + "’")
	p.Tab.Until("Case full")
	return p
}

// nameOf is the device that a phone writes as.
func nameOf(tab *rig.Tab) string {
	return rig.Wait[string](tab, `(globalThis.who ??= null, fetch('/phone/v1/me').then((r) => r.json()).then((me) => { globalThis.who = me.name; }), globalThis.who)`)
}

// fits holds that a page needs no scrolling on a phone of 390 × 844, and that
// no thumb misses: what is tapped is 44 pixels high and wide at the least.
func fits(t *testing.T, tab *rig.Tab) {
	t.Helper()
	tab.Settle()
	size := rig.Eval[[]int](tab, "[document.scrollingElement.scrollWidth, document.scrollingElement.scrollHeight]")
	assert.LessOrEqual(t, size[0], 390)
	assert.LessOrEqual(t, size[1], 844, "the station fits on one screen")
	small := rig.Eval[[]string](tab, "[...document.querySelectorAll('main button, main summary, main select')].filter(rig.seen).filter((n) => { const b = n.getBoundingClientRect(); return b.width < 44 || b.height < 44; }).map((n) => rig.words(n))")
	assert.Empty(t, small, "under 44 pixels")
}
