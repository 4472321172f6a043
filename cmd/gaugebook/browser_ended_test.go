package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
	"gaugebook/server/store"
	"gaugebook/sync/record"
)

// invited gives a code for a phone, as the owner's page of phones does.
func invited(owner *rig.Tab, role, label string) string {
	return rig.Eval[string](owner, fmt.Sprintf(`fetch('/devices/v1/invite', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(
		{ role: '%s', label: '%s', ends_ms: Date.now() + 3600000 }) }).then((r) => r.json()).then(({ code }) => code)`, role, label))
}

// helper is a phone that joined with a code of the owner's, and is kept for
// opening offline.
func helper(t *testing.T, o *rig.Office, owner *rig.Tab, label string) *rig.Phone {
	t.Helper()
	p := join(t, o, invited(owner, "cellar hand", label))
	p.Tab.Tap("They are the same")
	keptOffline(p.Tab)
	return p
}

// suppliers writes some in the yard and gives their addresses.
func suppliers(tab *rig.Tab, names ...string) (addresses []string) {
	enter(tab, "Yard")
	tab.Tap("Register a supplier")
	for _, name := range names {
		tab.Type("Register a supplier > Name", name)
		addresses = append(addresses, tab.Save("Save the supplier"))
	}
	return addresses
}

// inBook are the addresses in the office's log, and those kept aside.
func inBook(t *testing.T, o *rig.Office) (log, aside []string) {
	t.Helper()
	r, err := store.OpenReader(t.Context(), o.Book)
	require.NoError(t, err)
	defer r.Close()
	for e, err := range r.Entries(t.Context(), 0) {
		require.NoError(t, err)
		log = append(log, fmt.Sprintf("%s-%d", e.Device, e.DeviceSeq))
	}
	asides, err := r.Asides(t.Context())
	require.NoError(t, err)
	for _, a := range asides {
		rec, err := record.Decode(a.Line)
		require.NoError(t, err)
		aside = append(aside, rec.Address())
	}
	return log, aside
}

// A helper's phone out of reach locks itself when its time is over, by its own
// clock. The owner ends it meanwhile, as one ends a lost phone: its next
// contact is told so, and what it had not sent waits for the owner, who lets
// one entry in and leaves one out, with a reason that stays in the book.
func ended(t *testing.T, s stage) {
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	p := helper(t, o, owner.Tab, "Harvest helper")
	first := suppliers(p.Tab, "Near Orchard")
	sent(p.Tab)
	p.Tab.Offline(true)
	late := suppliers(p.Tab, "Far Orchard", "Nether Orchard")
	onlyHere(t, p.Tab, 2)
	rig.Eval[bool](p.Tab, "(Date.now = ((now) => () => now() + 7200000)(Date.now.bind(Date)), true)")
	p.Tab.Until("This phone’s time has ended")
	p.Tab.Until("Only on this phone: 2.")
	assert.NotContains(t, p.Tab.Text(), "Far Orchard", "the book is closed on it")
	p.Tab.Tap("Rooms")
	p.Tab.Until("This phone’s time has ended")
	o.Wire.Cut()    // a new document can begin before it is told that it is out of reach
	visit(p.Tab, o) // by its true clock there is time left
	p.Tab.Offline(true)
	o.Wire.Mend()
	assert.NotContains(t, p.Tab.Text(), "has ended")

	device := late[0][:strings.LastIndex(late[0], "-")]
	enter(owner.Tab, "Office")
	owner.Tab.Tap("Phones")
	owner.Tab.Tap("End " + device)
	rig.Wait[bool](owner.Tab, "[...document.querySelectorAll('tr')].some((row) => row.innerText.includes('"+device+"') && row.innerText.includes('ended'))")
	p.Tab.Offline(false)
	rig.Eval[bool](p.Tab, "dispatchEvent(new Event('online'))")
	p.Tab.Until("This phone’s time has ended")
	p.Tab.Until("Every entry of this phone is at the office.")
	p.Tab.Until("To write in the book again this phone needs a new code from the owner.")
	log, aside := inBook(t, o)
	assert.Contains(t, log, first[0])
	assert.Equal(t, late, aside, "kept aside, in order")

	owner.Tab.Tap("Today")
	owner.Tab.Tap("Phones")
	owner.Tab.Until("Waiting for you")
	owner.Tab.Until("Far Orchard")
	owner.Tab.Tap("Leave " + late[0] + " out")
	owner.Tab.Type("Leave "+late[0]+" out > Why", "not a supplier of ours")
	owner.Tab.Save("Leave it out")
	owner.Tab.Until("Left out: 1")
	owner.Tab.Tap("Left out: 1")
	owner.Tab.Until("not a supplier of ours")
	owner.Tab.Tap("Let " + late[1] + " in")
	rig.Wait[bool](owner.Tab, "!document.body.innerText.includes('Waiting for you')")
	sent(owner.Tab)
	log, aside = inBook(t, o)
	assert.Contains(t, log, late[1])
	assert.NotContains(t, log, late[0])
	assert.Equal(t, late, aside, "nothing that was kept aside is erased")

	p.Tab.Tap("Hand back")
	p.Tab.Tap("Send all, then wipe this phone")
	p.Tab.Until("3 of 3 received.")
	assert.Equal(t, "0 0 0", leftover(p.Tab))
}

// leftover counts what is left of the app on a phone: databases, caches, workers.
func leftover(tab *rig.Tab) string {
	return rig.Eval[string](tab, `Promise.all([indexedDB.databases(), caches.keys(), navigator.serviceWorker.getRegistrations()]).then((all) => all.map((one) => one.length).join(' '))`)
}

// Handing back is broken off at each of its steps, by the battery. Opened again
// the phone has either everything it had, unsent entries too, or goes on to
// the end; nothing is lost that the office has not.
func wipeKilled(t *testing.T, s stage) {
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	hang := func(path string) string {
		return `globalThis.fetch = ((real) => (path, ...rest) => (String(path).startsWith('` + path + `') ? (globalThis.stopped = true, new Promise(() => {})) : real(path, ...rest)))(globalThis.fetch)`
	}
	stop := func(what string) string {
		return what + ` = () => { globalThis.stopped = true; return new Promise(() => {}); }`
	}
	for _, step := range []struct {
		name, breaks string
		kept         bool // the phone has all it had
	}{
		{"before all is sent", hang("/sync/v1/push"), true},
		{"before the office counts", hang("/phone/v1/held"), true},
		{"before the office lets it go", hang("/phone/v1/leave"), false},
		{"before the caches go", stop("caches.keys"), false},
		{"before the worker goes", stop("navigator.serviceWorker.getRegistrations"), false},
		{"before the log goes", `IDBFactory.prototype.deleteDatabase = () => { globalThis.stopped = true; return {}; }`, false},
	} {
		t.Run(step.name, func(t *testing.T) {
			p := helper(t, o, owner.Tab, step.name)
			wrote := suppliers(p.Tab, "Orchard one")
			sent(p.Tab)
			if step.name == "before all is sent" {
				p.SwitchOff() // a browser writes its cookies down within half a minute, and when it is closed
				p = p.Again()
				visit(p.Tab, o)
				rig.Eval[bool](p.Tab, "("+step.breaks+", true)")
				wrote = append(wrote, suppliers(p.Tab, "Orchard two")...)
			}
			p.Tab.Tap("Rooms")
			p.Tab.Tap("This phone")
			p.Tab.Tap("Hand back")
			rig.Eval[bool](p.Tab, "("+step.breaks+", true)")
			p.Tab.Tap("Send all, then wipe this phone")
			rig.Wait[bool](p.Tab, "globalThis.stopped === true")
			p.Kill()

			p = p.Again()
			p.Tab.Go(o.Wire.URL)
			rig.Wait[bool](p.Tab, "document.querySelector('#room > :not(.wanting)') !== null || document.title === 'Safe to hand back'")
			if step.kept {
				sent(p.Tab)
				enter(p.Tab, "This phone")
				assert.Equal(t, 1, rig.Eval[int](p.Tab, "indexedDB.databases().then((all) => all.length)"))
			} else {
				rig.Wait[bool](p.Tab, "document.title === 'Safe to hand back' || document.body.innerText.includes('Join a book')")
				if rig.Eval[bool](p.Tab, "document.title === 'Safe to hand back'") {
					p.Tab.Until("1 of 1 received.")
					assert.Equal(t, "0 0 0", leftover(p.Tab))
				} else { // the browser wiped it all at the office's word, and opened the page anew
					assert.Equal(t, 0, rig.Eval[int](p.Tab, held))
				}
			}
			log, aside := inBook(t, o)
			assert.Subset(t, log, wrote, "the office has every entry")
			assert.Empty(t, aside)
			p.Kill()
		})
	}
}
