package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"gaugebook/cmd/internal/rig"
)

// fillStorage writes to another database of the origin until nothing goes in.
const fillStorage = `(async () => {
	const db = await new Promise((resolve, reject) => {
		const open = indexedDB.open('filler');
		open.onupgradeneeded = () => open.result.createObjectStore('all', { autoIncrement: true });
		open.onsuccess = () => resolve(open.result);
		open.onerror = () => reject(open.error);
	});
	const fits = (size) => new Promise((resolve) => {
		const bytes = new Uint8Array(size); // of chance, or they would be packed
		for (let i = 0; i < size; i += 65536) crypto.getRandomValues(bytes.subarray(i, i + 65536));
		const transaction = db.transaction('all', 'readwrite', { durability: 'strict' });
		transaction.objectStore('all').add(bytes);
		transaction.oncomplete = () => resolve(true);
		transaction.onabort = () => resolve(false);
	});
	for (const size of [1 << 20, 1 << 16, 1 << 12, 1 << 8]) while (await fits(size));
	db.close();
	return true;
})()`

// A phone without room saves nothing and says so: what was typed stays in its
// form and is offered as text; with room again the same tap saves it.
func fullPhone(t *testing.T, s stage) {
	o := s.open(t)
	p := rig.NewPhone(t, t.TempDir())
	tab := p.Tab
	room := func(bytes int) {
		tab.Call("Storage.overrideQuotaForOrigin", map[string]any{"origin": o.Wire.URL, "quotaSize": bytes})
	}
	room(160_000_000)
	visit(tab, o)
	joinHere(tab, codeOf(t, o))
	register(tab, [3]string{"Copper still", "still", "150"})
	startRun(tab, "Copper still")
	sent(tab)
	keptOffline(tab)
	before := rig.Eval[int](tab, "rig.held()")

	tab.Type("Hydrometer reads", "151.5")
	tab.Type("at a temperature of", "60")
	tab.Settle()
	rig.Eval[bool](tab, fillStorage) // only then does Chromium look again at what it has
	room(20_000_000)
	tab.Tap("Save the reading")
	tab.Until("The phone has no room left: nothing was saved")
	text := rig.Wait[string](tab, "rig.find('The entry as text')?.value")
	rig.Wait[bool](tab, "document.querySelector('.act .qr') !== null") // and to be scanned by another phone
	for _, line := range []string{"draw read\n", "\nby: JS\n", "indicated: 151.5", "temp: 60"} {
		assert.Contains(t, text, line)
	}
	assert.Equal(t, "151.5", rig.Eval[string](tab, "rig.find('Hydrometer reads').value"), "the form is kept")
	assert.Equal(t, before, rig.Eval[int](tab, "rig.held()"))
	assert.Empty(t, rig.Eval[string](tab, "document.querySelector('.receipt').textContent"), "nothing is said to be saved")

	room(80_000_000)
	rig.Eval[bool](tab, "new Promise((resolve) => { indexedDB.deleteDatabase('filler').onsuccess = () => resolve(true) })")
	address := tab.Save("Save the reading")
	assert.NotContains(t, tab.Text(), "The entry as text")
	assert.NotContains(t, tab.Text(), "no room left")
	sent(tab)
	got, _ := arrived(t, o)
	assert.Equal(t, address, got[len(got)-1])
	calm(t, p)
}

// A phone whose clock is ten years off is told so, and told again until it is
// set; what it writes is stored as its clock said, and marked by a further
// entry, once.
func clockOff(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"})
	startRun(tab, "Copper still")
	sent(tab)
	const told = "This phone’s clock and the office’s differ by more than five minutes."
	assert.NotContains(t, tab.Text(), told)
	for years, way := range map[int]string{10: "ahead", -10: "behind"} {
		off := tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": fmt.Sprintf(`(() => {
			const True = Date, off = %d * 365.2 * 864e5;
			globalThis.Date = class extends True {
				constructor(...parts) { if (parts.length > 0) super(...parts); else super(True.now() + off); }
				static now() { return True.now() + off; }
			};
		})()`, years)})
		visit(tab, o)
		tab.Until(told)
		held := rig.Eval[int](tab, "rig.held()")
		address := reading(tab, "150.5")
		reaches(tab, held+2)
		sent(tab)
		tab.Until(told)
		got, records := arrived(t, o)
		last, mark := records[len(records)-2], records[len(records)-1]
		assert.Equal(t, address, got[len(got)-2])
		assert.Equal(t, "clock doubted", mark.Kind)
		assert.JSONEq(t, fmt.Sprintf(`{"off":"3652d","way":%q,"first":%d,"last":%d}`, way, last.Seq, last.Seq), string(mark.Body))
		assert.WithinDuration(t, time.Now(), mark.Happened.Time(), 10*time.Minute, "by the office's clock")
		enter(tab, "Office")
		tab.Until(fmt.Sprintf("was 3652 days %s when %s was written", way, address))
		enter(tab, "Still room")
		year := time.Now().Add(time.Duration(years) * 365 * 24 * time.Hour).Year()
		assert.True(t, strings.HasPrefix(string(last.Written), fmt.Sprint(year)), "%s is kept as the phone's clock said: %s", address, last.Written)
		tab.Call("Page.removeScriptToEvaluateOnNewDocument", map[string]any{"identifier": off["identifier"]})
	}
	visit(tab, o)
	reading(tab, "149.5")
	sent(tab)
	_, records := arrived(t, o)
	assert.Equal(t, "draw read", records[len(records)-1].Kind, "nothing is doubted any more")
	rig.Wait[bool](tab, "!document.body.innerText.includes('differ by more than five minutes')")
	calm(t, p)
}
