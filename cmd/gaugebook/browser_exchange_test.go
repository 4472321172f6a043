package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// reading saves one reading.
func reading(tab *rig.Tab, indicated string) (address string) {
	tab.Type("Hydrometer reads", indicated)
	tab.Type("at a temperature of", "60")
	return tab.Save("Save the reading")
}

// saveMany starts, in the page, the saving of so many readings one after the
// other, as fast as the page takes them.
func saveMany(tab *rig.Tab, n int) {
	rig.Eval[bool](tab, fmt.Sprintf(`(() => {
		globalThis.saved = [];
		const type = (name, text) => { const input = rig.find(name); input.value = text; input.dispatchEvent(new Event('input', { bubbles: true })); };
		const receipt = () => document.querySelector('.receipt').textContent.match(/^Saved as (\S+)$/)?.[1];
		(async () => {
			for (let i = 0; i < %d; i++) {
				type('Hydrometer reads', String(100 + i %% 90));
				type('at a temperature of', '60');
				rig.find('Save the reading').click();
				saved.push(await rig.until(() => receipt() !== saved.at(-1) && receipt(), 20000));
			}
		})().catch((error) => { globalThis.stuck = 'after ' + saved.length + ': ' + error.message + ' ' + rig.words(document.querySelector('.act')); });
		return true;
	})()`, n))
}

// Two tabs of one phone save at the same time, and keep one sequence.
func twoTabs(t *testing.T, s stage) {
	each := 500
	if n, err := strconv.Atoi(os.Getenv("GAUGEBOOK_TAB_SAVES")); err == nil {
		each = n
	}
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	register(p.Tab, [3]string{"Copper still", "still", "150"})
	startRun(p.Tab, "Copper still")
	reading(p.Tab, "160")
	before := rig.Eval[int](p.Tab, "rig.held()")
	other := p.NewTab()
	visit(other, o)
	inTable(other, "160.0")

	began := time.Now()
	tabs := []*rig.Tab{p.Tab, other}
	for _, tab := range tabs {
		saveMany(tab, each)
	}
	saved := map[string]bool{}
	for _, tab := range tabs {
		for n := 0; n < each; {
			n = rig.Wait[int](tab, fmt.Sprintf("(globalThis.stuck && -1) || (saved.length > %d && saved.length)", n))
			require.Positive(t, n, "%s", rig.Eval[string](tab, "globalThis.stuck ?? ''"))
		}
		for _, address := range rig.Eval[[]string](tab, "saved") {
			assert.False(t, saved[address], "%s was said to be saved twice", address)
			saved[address] = true
		}
	}
	t.Logf("%d entries by two tabs: %v", 2*each, time.Since(began).Round(time.Millisecond))
	require.Len(t, saved, 2*each)
	sent(p.Tab)
	_, records := arrived(t, o)
	require.Len(t, records, before+2*each)
	slices.SortFunc(records, func(a, b record.Record) int { return cmp.Compare(a.Seq, b.Seq) }) // the tab that sends hears of the other's entries a little later
	var prev record.Digest
	for i, r := range records {
		require.Equal(t, int64(i+1), r.Seq, "%s: a gap or a repetition", r.Address())
		require.Equal(t, records[0].Device, r.Device)
		require.Equal(t, prev, r.Prev, "%s does not follow the one before it", r.Address())
		line, err := record.Encode(r)
		require.NoError(t, err)
		prev = record.DigestOf(line)
		assert.True(t, i < before || saved[r.Address()], "%s arrived and no tab saved it", r.Address())
	}
	calm(t, p)
}

// The office is killed while a push is under way: before it saw the push, and
// after it had stored it and before its answer came.
func killedInPush(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	register(p.Tab, [3]string{"Copper still", "still", "150"})
	startRun(p.Tab, "Copper still")
	sent(p.Tab)
	want, _ := arrived(t, o)
	for _, stored := range []bool{false, true} {
		dead := make(chan bool, 1)
		o.Wire.Break(rig.Fault{At: "POST /sync/v1/push", Reply: stored, Do: func() { o.Kill(); dead <- true }})
		want = append(want, reading(p.Tab, "150"))
		<-dead
		onlyHere(t, p.Tab, 1)
		got, _ := arrived(t, o)
		assert.Len(t, got, map[bool]int{false: len(want) - 1, true: len(want)}[stored], "stored before the kill: %v", stored)
		o.Start()
		sent(p.Tab)
		got, _ = arrived(t, o)
		assert.Equal(t, want, got)
	}
	calm(t, p)
}

// A newer build waits while a form is touched, even when it is told to start
// and however often the page is put away; it takes over once the form is saved.
func updated(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"})
	startRun(tab, "Copper still")
	keptOffline(tab)
	visit(tab, o) // now by the service worker
	const script = "document.querySelector('script[type=module]').src"
	old := rig.Eval[string](tab, script)
	tab.Type("Hydrometer reads", "155.5")
	tab.Type("at a temperature of", "60")

	o.Kill()
	o.Use(rig.Build(t, t.TempDir(), rig.NewBuild(t)))
	o.Start()
	const waiting = "navigator.serviceWorker.getRegistration().then((r) => Boolean(r.waiting))"
	rig.Eval[bool](tab, "navigator.serviceWorker.getRegistration().then((r) => r.update()).then(() => true)")
	tab.Until("A newer Gaugebook is on this phone")
	hide := func(is bool) {
		rig.Eval[bool](tab, fmt.Sprintf("(() => { Object.defineProperty(document, 'hidden', { configurable: true, get: () => %v }); document.dispatchEvent(new Event('visibilitychange')); return true })()", is))
	}
	tab.Tap("Start it now")
	tab.Until("starts as soon as what is being written here is saved")
	hide(true)
	hide(false)
	tab.Settle()
	assert.True(t, rig.Eval[bool](tab, waiting), "the newer build still waits")
	assert.Equal(t, old, rig.Eval[string](tab, script), "the page is still of its own build")
	assert.Equal(t, "155.5", rig.Eval[string](tab, "rig.find('Hydrometer reads').value"), "what was typed is still there")

	tab.Tap("Save the reading")
	address := tab.Saved()
	rig.Wait[bool](tab, script+".includes('/app/5555555555555555/')")
	inTable(tab, "155.5")
	sent(tab)
	got, _ := arrived(t, o)
	assert.Equal(t, address, got[len(got)-1])
	assert.Equal(t, 2, rig.Eval[int](tab, "caches.keys().then((names) => names.length)"), "the build before is kept for tabs that still run it")
	calm(t, p)

	// The phone lies in a drawer with an entry that nobody has, while a season is
	// written on others and the office moves on to yet another build.
	o.Wire.Cut()
	address = reading(tab, "154.5")
	onlyHere(t, tab, 1)
	p.SwitchOff()
	const season = 2000
	o.Kill()
	o.Use(s.binary)
	o.Start("--invite")
	code, _, _ := strings.Cut(o.Words[strings.Index(o.Words, "joins with the code ")+len("joins with the code "):], ",")
	o.Wire.Mend()
	other := joinWith(t, o.Wire.URL, code)
	for range season / 500 {
		_, err := other.push(o.Wire.URL, other.write(t, 500))
		require.NoError(t, err)
	}
	p = p.Again()
	tab = p.Tab
	visit(tab, o)
	sent(tab)
	rig.Wait[bool](tab, fmt.Sprintf("rig.held().then((n) => n === %d)", len(got)+1+season))
	got, _ = arrived(t, o)
	assert.Equal(t, address, got[len(got)-1], "what it wrote before it was put away came after all of that")
	rig.Eval[bool](tab, "navigator.serviceWorker.getRegistration().then((r) => r.update()).then(() => true)")
	tab.Until("A newer Gaugebook is on this phone")
	tab.Tap("Start it now")
	rig.Wait[bool](tab, script+" === '"+old+"'")
	inTable(tab, "154.5")
	sent(tab)
}

// A second phone hears of an entry by the office's word alone, with no poll to
// bring it; and where that word does not come through, by the poll alone.
func live(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	register(p.Tab, [3]string{"Copper still", "still", "150"})
	startRun(p.Tab, "Copper still")
	for name, page := range map[string]string{
		// A poll is the one thing that waits for half a minute: here it never comes …
		"by word": `const wait = setTimeout; globalThis.setTimeout = (what, ms, ...more) => (ms === 30000 ? 0 : wait(what, ms, ...more));`,
		// … and here at once, with nothing else to hear by.
		"by poll": `const wait = setTimeout; globalThis.setTimeout = (what, ms, ...more) => wait(what, ms === 30000 ? 200 : ms, ...more);
			globalThis.EventSource = class { addEventListener() {} close() {} };`,
	} {
		code := o.Invite()
		other := rig.NewPhone(t, t.TempDir())
		other.Tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": "{" + page + "}"})
		visit(other.Tab, o)
		joinHere(other.Tab, code)
		enter(other.Tab, "Still room")
		other.Tab.Settle()
		for _, indicated := range []string{"141.5", "139.5"} {
			reading(p.Tab, indicated)
			inTable(other.Tab, indicated)
		}
		calm(t, other)
		other.SwitchOff()
		t.Log(name)
	}
}

// What comes from the office while a room is being opened, between its view and
// its form, is in the room when it stands there.
func newsAtTheDoor(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	register(p.Tab, [3]string{"Copper still", "still", "150"})
	startRun(p.Tab, "Copper still")
	other := rig.NewPhone(t, t.TempDir())
	other.Tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `
		globalThis.door = { held: false, waiting: [], news: 0 };
		globalThis.Worker = class extends Worker {
			postMessage(asked, ...rest) {
				const ask = () => super.postMessage(asked, ...rest);
				if (asked.name === 'add') this.addEventListener('message', ({ data }) => { if (data.id === asked.id) door.news++; });
				if (door.held && asked.name === 'form') door.waiting.push(ask);
				else ask();
			}
		};`})
	visit(other.Tab, o)
	joinHere(other.Tab, o.Invite())
	sent(other.Tab)
	rig.Eval[int](other.Tab, "(door.held = true, door.news = 0)")
	other.Tab.Tap("Still room")
	rig.Wait[bool](other.Tab, "door.waiting.length > 0")
	reading(p.Tab, "141.5")
	rig.Wait[bool](other.Tab, "door.news > 0")
	other.Tab.Settle()
	rig.Eval[int](other.Tab, "(door.held = false, door.waiting.forEach((ask) => ask()), 0)")
	inTable(other.Tab, "141.5")

	// Who is so quick as to touch a field when it is just there keeps it.
	other.Tab.Tap("Rooms")
	rig.Eval[bool](other.Tab, `(new MutationObserver((_, watch) => {
		const field = document.querySelector('.first input');
		if (field) { watch.disconnect(); field.focus(); }
	}).observe(document.getElementById('room'), { childList: true, subtree: true }), true)`)
	other.Tab.Tap("Still room")
	inTable(other.Tab, "141.5")
	other.Tab.Settle()
	assert.True(t, rig.Eval[bool](other.Tab, "document.activeElement === rig.find('Hydrometer reads')"), "the focus stays")
	calm(t, other)
}

// A phone that was wiped joins as a new one and gets everything from the office.
func wiped(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"})
	startRun(tab, "Copper still")
	first := reading(tab, "151.5")
	sent(tab)
	keptOffline(tab)
	tab.Go("about:blank")
	tab.Call("Storage.clearDataForOrigin", map[string]any{"origin": o.Wire.URL, "storageTypes": "all"})
	usage := tab.Call("Storage.getUsageAndQuota", map[string]any{"origin": o.Wire.URL})
	assert.Zero(t, usage["usage"], "%v", usage)

	code := o.Invite()
	visit(tab, o)
	joinHere(tab, code)
	enter(tab, "Still room")
	inTable(tab, "151.5")
	onlyHere(t, tab, 0)
	again := reading(tab, "152.5")
	sent(tab)
	device, _, _ := strings.Cut(first, "-")
	assert.False(t, strings.HasPrefix(again, device+"-"), "%s: a wiped phone must not go on with the chain it lost", again)
	got, _ := arrived(t, o)
	assert.Equal(t, again, got[len(got)-1])
	assert.True(t, strings.HasSuffix(again, "-1"), again)
	calm(t, p)
}

// overheard notes what the page gives its engine to add, and how many entries
// the engine then says it has.
const overheard = `{
	const post = Worker.prototype.postMessage, heard = new WeakSet();
	globalThis.engine = { entries: 0, pulled: 0, read: 0 };
	Worker.prototype.postMessage = function (message, ...rest) {
		if (!heard.has(this)) this.addEventListener('message', ({ data }) => {
			const { entries, took } = JSON.parse(new TextDecoder().decode(data.body ?? new Uint8Array([123, 125])).split('\n')[0]);
			if (entries !== undefined) engine.entries = entries;
			engine.pulled += took ?? 0;
		});
		heard.add(this);
		if (message.name === 'add') engine.read += new TextDecoder().decode(message.body).split('\n').filter((line) => line !== '').length;
		return post.call(this, message, ...rest);
	};
}`

// A phone that is far behind catches up page by page. Its engine has each page
// from the office and does not read it again from the log; its other tab
// reads them there; and an entry that came between two pages is not passed over.
func farBehind(t *testing.T, s stage) {
	const first, more = 1_700, 700
	o := s.open(t)
	h := joinWith(t, o.Wire.URL, codeOf(t, o))
	lines, _ := years(t, h.chain, first+more)
	push := func(lines [][]byte) {
		for batch := range slices.Chunk(lines, exchange.MaxRecords) {
			_, err := h.push(o.Wire.URL, batch)
			require.NoError(t, err)
		}
	}
	push(lines[:first])
	p := rig.NewPhone(t, t.TempDir())
	other := p.NewTab()
	for _, tab := range []*rig.Tab{p.Tab, other} { // the first to open is the one that pulls
		tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": overheard})
		visit(tab, o)
	}
	holds := func(n int) {
		t.Helper()
		for _, tab := range []*rig.Tab{p.Tab, other} {
			rig.Wait[bool](tab, fmt.Sprintf("engine.entries === %d", n))
		}
		require.Equal(t, n, rig.Eval[int](p.Tab, "rig.held()"))
	}
	code := o.Invite()
	joinHere(p.Tab, code)
	holds(first)
	require.Equal(t, first, rig.Eval[int](p.Tab, "engine.pulled"))
	require.LessOrEqual(t, rig.Eval[int](p.Tab, "engine.read"), exchange.MaxRecords, "the tab that pulls does not read them again, but for a page that came while it took in its new name")
	require.Equal(t, first, rig.Eval[int](other, "engine.read"))

	o.Wire.Cut()
	const kept = "(async () => {" + module + "return (await new (await module('log.js')).Log(() => {}).read(0)).chain })()"
	chain := rig.Eval[exchange.Chain](p.Tab, kept)
	at := record.StampOf(time.Now())
	line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{Kind: "vessel registered", V: 1, Happened: at, Written: at, By: "JS",
		Body: []byte(`{"name":"Tank 2","use":"tank","capacity":"250gal"}`)}, record.NewID(time.Now(), [10]byte{1}))
	require.NoError(t, err)
	r, err := record.Decode(line)
	require.NoError(t, err)
	store, err := json.Marshal(exchange.Store{Chain: &exchange.Swap{From: chain, To: next}, Put: []exchange.Held{{ID: r.ID.String(), Line: string(line), State: exchange.Unsent}}})
	require.NoError(t, err)
	rig.Eval[bool](other, "(async () => {"+module+"await new (await module('log.js')).Log(() => {}).store("+string(store)+"); return true })()") // as a tab that ends before it tells
	o.Wire.Mend()
	push(lines[first:])
	rig.Eval[bool](p.Tab, "dispatchEvent(new Event('online'))")
	holds(first + more + 1)
	require.Equal(t, first+more, rig.Eval[int](p.Tab, "engine.pulled"))
	require.Positive(t, rig.Eval[int](p.Tab, "engine.read"))
	calm(t, p)
}
