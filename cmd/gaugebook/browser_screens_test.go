package main

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/demo"
	"gaugebook/cmd/internal/rig"
)

// looks are at a phone's size, a tablet's and a desk's, light and dark. A colour
// does not follow the size, so each of the larger is seen in one of the two.
var looks = []struct {
	width, height int
	scheme, rules string
}{{390, 844, "light", everyRule}, {390, 844, "dark", lookRules}, {768, 1024, "light", lookRules}, {1280, 800, "dark", lookRules}}

// What axe-core is asked: the levels of WCAG 2.2 AA and good practice, once of
// a screen; what depends on its size or its colours, of each. The size of what
// is touched is asked by tooSmall, more strictly.
const (
	everyRule  = "{ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], rules: { 'target-size': { enabled: false } } }"
	lookRules  = "{ runOnly: { type: 'rule', values: ['color-contrast', 'scrollable-region-focusable', 'link-in-text-block'] } }"
	axeVersion = "4.14.1"
	axeSum     = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c" // testdata/axe-core/SOURCE.md
)

// sides names what runs off the right side of the page.
const sides = `(() => {
	const { scrollWidth, clientWidth } = document.documentElement;
	if (scrollWidth <= clientWidth) return [];
	const over = [...document.querySelectorAll('body *')].filter((one) => one.getBoundingClientRect().right > clientWidth + 0.5);
	return ['the page is ' + scrollWidth + ' wide', ...over.slice(-3).map((one) => 'runs off the side: <' + one.tagName.toLowerCase() + ' class="' + one.className + '"> ' + rig.words(one).slice(0, 60))];
})()`

// typedIn names what has no place on paper.
const typedIn = `[...document.querySelectorAll('input, select, textarea, .unprinted, button:not(.link)')].filter(rig.seen).map((one) => 'is printed: ' + one.outerHTML.slice(0, 80))`

// inspection is one look at the page as it stands: what axe-core finds of
// serious and critical, what is too small to touch, and what runs off the side.
const inspection = `(async (rules) => {
	await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
	const { violations, passes } = await axe.run(document, { ...rules, resultTypes: ['violations'], elementRef: false });
	const grave = violations.filter(({ impact }) => impact === 'serious' || impact === 'critical').flatMap(({ id, impact, nodes }) => nodes.slice(0, 4)
		.map(({ html, failureSummary }) => impact + ', ' + id + ': ' + html.slice(0, 160) + ' ' + failureSummary.replace(/\s+/g, ' ').slice(0, 300)));
	return { found: [...grave, ...` + tooSmall + `, ...` + sides + `], asked: passes.length + violations.length };
})`

// A gallery goes by keyboard from one screen to the next, and looks at each.
type gallery struct {
	t       *testing.T
	tab     *rig.Tab
	screens []string
	stops   int
	printed map[string]int // pages of A4
	asking  time.Duration
}

// look inspects what the page shows now: walked through by keyboard, then with
// everything unfolded, and printed where it can be.
func (g *gallery) look(name string) {
	g.t.Helper()
	g.screens = append(g.screens, name)
	g.walk(name)
	unfold(g.tab)
	started := time.Now()
	for _, l := range looks {
		g.tab.Size(l.width, l.height)
		g.tab.Scheme(l.scheme)
		seen := rig.Eval[struct {
			Found []string
			Asked int
		}](g.tab, inspection+"("+l.rules+")")
		require.Positive(g.t, seen.Asked, "rules that axe-core could ask of %s", name)
		assert.Empty(g.t, seen.Found, "%s, %d × %d, %s", name, l.width, l.height, l.scheme)
	}
	g.asking += time.Since(started)
	g.tab.Scheme("light")
	if rig.Eval[bool](g.tab, "[...document.querySelectorAll('button')].some((one) => rig.words(one) === 'Print it' && rig.seen(one))") {
		g.print(name)
	}
	g.tab.Size(390, 844)
}

// unfold opens everything that is folded, also what that brings.
func unfold(tab *rig.Tab) {
	const open = "((folded) => { folded.forEach((one) => { one.open = true; }); return folded.length; })([...document.querySelectorAll('details:not([open])')])"
	for range 4 {
		if rig.Eval[int](tab, open) == 0 {
			return
		}
		tab.Settle()
	}
}

// atTop puts the focus before the page's first control, as a page that was just
// opened has it.
func (g *gallery) atTop() {
	g.tab.Key("Tab") // so that it is a keyboard's focus, which is shown
	rig.Eval[bool](g.tab, "(document.querySelector('.skip')?.focus(), globalThis.walked = new Set(), true)")
}

// A stop is where the focus is after a press of Tab.
type stop struct {
	Name, Wrong string
	Top         bool // the walk is through
}

// where says where the focus is: on what, whether that can be seen, and that
// nothing lies over the whole of it.
const where = `(() => {
	const at = document.activeElement;
	if (!at || at === document.body || at === document.documentElement) return { top: walked.size > 0 || !document.querySelector('a[href], button') };
	const top = at.classList.contains('skip') && walked.size > 1;
	walked.add(at);
	const shown = at.getBoundingClientRect().width < 8 && at.labels?.[0] ? at.labels[0] : at;
	const name = rig.names(at)[0] ?? '<' + at.tagName.toLowerCase() + ' class="' + at.className + '">';
	const box = shown.getBoundingClientRect();
	const left = Math.max(box.left, 0), y = Math.max(box.top, 0);
	const width = Math.min(box.right, innerWidth) - left, height = Math.min(box.bottom, innerHeight) - y; // what of it is in the window
	const free = [[.5, .5], [.1, .15], [.9, .15], [.1, .85], [.9, .85]].some(([part, down]) => {
		const hit = document.elementFromPoint(left + part * width, y + down * height);
		return hit && (shown.contains(hit) || at.contains(hit));
	});
	const { outlineStyle, outlineWidth } = getComputedStyle(shown);
	const wrong = outlineStyle === 'none' || outlineWidth === '0px' ? 'has the focus, and it cannot be seen' : free ? '' : 'has the focus, and lies out of sight or under something, at ' + [left, y, width, height].map((one) => one.toFixed(0));
	return { name, wrong, top };
})()`

// missed lists the controls that the walk did not come to.
const missed = `[...document.querySelectorAll('a[href], button, summary, input, select, textarea')].filter((one) => rig.seen(one) && !one.disabled && !walked.has(one)
	&& !(one.type === 'radio' && [...walked].some((other) => other.name === one.name))).map((one) => rig.names(one)[0] ?? one.outerHTML.slice(0, 80))`

// walk presses Tab from the top of the page until it is there again. News of the
// book may furnish a part anew meanwhile; so what was missed is looked for twice.
func (g *gallery) walk(name string) {
	g.t.Helper()
	if len(g.round(name)) > 0 {
		g.tab.Settle()
		assert.Empty(g.t, g.round(name), "%s: no press of Tab comes to these", name)
	}
}

// round is one way round the page, and what it did not come to.
func (g *gallery) round(name string) []string {
	g.t.Helper()
	g.atTop()
	most := rig.Eval[int](g.tab, "document.querySelectorAll('a, button, summary, input, select, textarea, .scroll').length")*2 + 40 // a date has several stops
	for range most {
		at := rig.Eval[stop](g.tab, where)
		if at.Top {
			return rig.Eval[[]string](g.tab, missed)
		}
		assert.Empty(g.t, at.Wrong, "%s: %s", name, at.Name)
		g.tab.Key("Tab")
		g.stops++
	}
	return []string{fmt.Sprintf("%d presses of Tab do not come round; the focus is at %s", most, rig.Eval[stop](g.tab, where).Name)}
}

// reach presses a key until what has the focus begins with the words, and gives
// up after so many.
func (g *gallery) reach(key, words string) {
	g.t.Helper()
	for range 250 {
		g.tab.Key(key)
		if rig.Eval[bool](g.tab, fmt.Sprintf("rig.names(document.activeElement).some((one) => one.startsWith(%q))", words)) {
			return
		}
	}
	g.tab.Fail("250 presses of %s do not lead to ‘%s’", key, words)
}

// press reaches a control from the top of the page and presses Enter on it; the
// focus is on something afterwards.
func (g *gallery) press(words string) {
	g.t.Helper()
	g.atTop()
	g.reach("Tab", words)
	g.tab.Key("Enter")
	g.tab.Settle()
	g.holds("after ‘" + words + "’")
}

// holds fails where the focus is lost.
func (g *gallery) holds(when string) {
	g.t.Helper()
	assert.True(g.t, rig.Eval[bool](g.tab, "document.activeElement !== document.body && rig.seen(document.activeElement)"), "%s the focus is on something", when)
}

// enter goes into a room by keyboard.
func (g *gallery) enter(room string) {
	g.t.Helper()
	g.press("Rooms")
	g.press(room)
	rig.Wait[bool](g.tab, fmt.Sprintf("document.querySelector('h1').textContent === %q && document.querySelector('#room > .room') !== null", room))
}

// names are the texts of what a selector finds.
func names(tab *rig.Tab, selector string) []string {
	return rig.Eval[[]string](tab, "[...document.querySelectorAll('"+selector+"')].filter(rig.seen).map(rig.words)")
}

// chooseFirst takes the first thing that a page has to choose from, where it
// waits for a choice before it shows anything.
func chooseFirst(tab *rig.Tab) {
	chosen := rig.Eval[int](tab, `((open) => { open.forEach((one) => { one.selectedIndex = 1; one.dispatchEvent(new Event('change', { bubbles: true })); }); return open.length; })(
		[...document.querySelectorAll('.choose select')].filter((one) => rig.seen(one) && one.value === '' && one.options.length > 1))`)
	if chosen > 0 {
		tab.Settle()
	}
}

// withEngine puts axe-core into every page that the tab opens from now on. The
// page's Content-Security-Policy stands: the protocol evaluates, not the page.
func withEngine(t *testing.T, tab *rig.Tab) {
	t.Helper()
	axe, err := os.ReadFile("../../testdata/axe-core/axe.min.js")
	require.NoError(t, err)
	sum := sha256.Sum256(axe)
	require.Equal(t, axeSum, hex.EncodeToString(sum[:]), "testdata/axe-core/SOURCE.md")
	tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": string(axe)})
}

// The papers that a printer may hold, in inches, and what is left between the
// sheet's margins, in the page's pixels.
var papers = []struct {
	name          string
	width, height float64
}{{"A4", 210 / 25.4, 297 / 25.4}, {"Letter", 8.5, 11}}

// pagesMost are the most pages that a sheet may take; any other may take ten.
var pagesMost = map[string]int{"The join sheet": 1, "Office: Vessel": 2, "Office: Calendar": 3}

// within are the screens that a page leads to by something else than a nav.
var within = map[string][]struct{ words, to string }{
	"Spirit store: Barrels": {{"01", "A barrel"}, {"Labels to print", "Labels of barrels"}},
}

// print prints the screen on each paper: it has the pages it should, and
// nothing is cut at the right edge.
func (g *gallery) print(name string) {
	g.t.Helper()
	for _, paper := range papers {
		out := g.tab.Call("Page.printToPDF", map[string]any{"paperWidth": paper.width, "paperHeight": paper.height, "preferCSSPageSize": true})
		pdf, err := base64.StdEncoding.DecodeString(out["data"].(string))
		require.NoError(g.t, err)
		pages := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
		most, known := pagesMost[name]
		if !known {
			most = 10
		}
		assert.True(g.t, 1 <= pages && pages <= most, "%s on %s has %d pages, and should have 1 to %d", name, paper.name, pages, most)
		g.printed[name+" on "+paper.name] = pages
		if folder := os.Getenv("GAUGEBOOK_PRINTED"); folder != "" { // to be looked at
			require.NoError(g.t, os.WriteFile(fmt.Sprintf("%s/%s-%s.pdf", folder, strings.NewReplacer(":", "", " ", "-").Replace(name), paper.name), pdf, 0o644))
		}
		g.tab.Call("Emulation.setEmulatedMedia", map[string]any{"media": "print"})
		g.tab.Size(int(paper.width*96-24/25.4*96), int(paper.height*96))
		assert.Empty(g.t, rig.Eval[[]string](g.tab, "(dispatchEvent(new Event('beforeprint')), "+sides+".concat("+typedIn+"))"), "%s on %s", name, paper.name)
		g.tab.Call("Emulation.setEmulatedMedia", map[string]any{"media": ""})
	}
}

// TestBrowserScreens goes by keyboard through every screen of the app, found by
// its own doors and navs: everything can be reached, the focus is seen and never
// lost; axe-core finds nothing serious, nothing runs off the side and no control
// is smaller than 44 pixels, at three sizes, in light and in dark; what can be
// printed fits its paper.
func TestBrowserScreens(t *testing.T) {
	s := stage{rig.Build(t, t.TempDir(), nil)}
	o := s.open(t, "--demo")
	p := rig.NewPhone(t, t.TempDir())
	tab := p.Tab
	g := &gallery{t: t, tab: tab, printed: map[string]int{}}
	withEngine(t, tab)
	visit(tab, o)
	require.Equal(t, axeVersion, rig.Eval[string](tab, "axe.version"))
	g.look("Joining")
	g.atTop()
	g.reach("Tab", "How you sign")
	tab.Write("JS")
	tab.Key("Enter")
	tab.Until("Which room are you in?")
	rig.Wait[bool](tab, fmt.Sprintf("(async () => await rig.held() >= %d)()", len(demo.Eighteen()))) // the whole book is on the phone
	sent(tab)

	g.look("The building")
	rooms := names(tab, ".plan b")
	require.Contains(t, rooms, "This phone")
	for _, room := range rooms {
		g.enter(room)
		pages := names(tab, ".pages button")
		if len(pages) == 0 {
			g.look(room)
		}
		for _, page := range pages {
			g.press(page)
			rig.Wait[bool](tab, fmt.Sprintf("((here) => here.textContent === %q && here === document.activeElement)(document.querySelector('.pages [aria-current]'))", page))
			chooseFirst(tab)
			g.look(room + ": " + page)
			for _, way := range within[room+": "+page] {
				g.press(way.words)
				g.look(way.to)
				g.press("‹") // back
			}
		}
	}
	g.manual(o)
	g.job()

	g.enter("Office")
	g.press("Today")
	unfold(tab)
	rig.Eval[bool](tab, "([...document.querySelectorAll('gb-questions button')].find((one) => rig.words(one) === 'Settle it').click(), true)")
	rig.Wait[bool](tab, "document.querySelector('h1').textContent === 'A question'")
	g.look("A question")
	g.press("Back to the room")
	rig.Wait[bool](tab, "document.querySelector('h1').textContent === 'Office'")
	rig.Eval[bool](tab, "(document.querySelector('td button.link, th button.link').click(), true)")
	rig.Wait[bool](tab, "document.querySelector('h1').textContent.startsWith('Entry ')")
	g.look("An entry")

	g.atTop()
	g.reach("Tab", "All at the office")
	tab.Key("Enter")
	g.reach("Tab", "Send now")
	g.look("The badge’s panel")
	g.atTop()
	g.reach("Tab", "Send now")
	tab.Key("Escape")
	assert.Equal(t, []string{"All at the office"}, rig.Eval[[]string](tab, "rig.names(document.activeElement)"), "Escape closes the panel and gives the focus back")
	calm(t, p)

	// Another owner ends this phone; it locks itself, and is handed back.
	sent(tab)
	other := joinWith(t, o.Wire.URL, "")
	ended, err := json.Marshal(map[string]string{"device": rig.Wait[string](tab, "fetch('/phone/v1/me').then((r) => r.json()).then(({ name }) => name)")})
	require.NoError(t, err)
	status, reply, err := other.do(http.MethodPost, o.Wire.URL+"/devices/v1/end", "application/json", ended)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status, "%s", reply)
	rig.Wait[bool](tab, "document.querySelector('h1').textContent === 'Locked'")
	g.look("Locked")
	g.press("Hand back")
	g.press("Send all, then wipe this phone")
	rig.Wait[bool](tab, "document.title === 'Safe to hand back'")
	g.look("Handed back")

	words, _ := httpsHouse(t, t.TempDir()) // the join sheet is given on a listener of its own
	tab.Go(regexp.MustCompile(`http://127\.0\.0\.1:\d+/join`).FindString(words))
	g.look("The join sheet")
	g.print("The join sheet")
	t.Logf("%d screens, %d stops, %v of asking: %s", len(g.screens), g.stops, g.asking.Round(time.Second), strings.Join(g.screens, ", "))
	t.Logf("printed pages: %v", g.printed)
}

// manual reads every page of the manual, then one again without a network, from
// the room that it is about.
func (g *gallery) manual(o *rig.Office) {
	g.t.Helper()
	g.press("Rooms")
	g.press("Manual")
	g.look("The manual")
	for _, chapter := range names(g.tab, ".manual .board b") {
		g.press(chapter)
		rig.Wait[bool](g.tab, fmt.Sprintf("document.querySelector('.manual h2').textContent === %q", chapter))
		g.holds("on the manual’s page " + chapter)
		g.look("The manual: " + chapter)
		g.press("All pages")
	}
	keptOffline(g.tab)
	const last = "new URL('../manual/yard.webp', document.querySelector('script[type=module]').src)" // they are kept in the order of their names
	rig.Wait[bool](g.tab, "caches.match("+last+").then((kept) => kept !== undefined)")
	o.Wire.Cut()
	g.tab.Offline(true)
	visit(g.tab, o)
	g.enter("Yard")
	g.press("How this room works")
	rig.Wait[bool](g.tab, "document.querySelector('.manual h2').textContent === 'Yard' && document.querySelector('.manual img').naturalWidth > 0")
	assert.Contains(g.t, names(g.tab, ".manual summary"), "Delivery received", "the kinds of the room explain themselves")
	o.Wire.Mend()
	g.tab.Offline(false)
	g.press("Back to where you were")
	rig.Wait[bool](g.tab, "document.querySelector('h1').textContent === 'Yard'")
}

// job logs a reading of the run and closes the month, by keyboard alone.
func (g *gallery) job() {
	g.t.Helper()
	g.enter("Still room")
	g.press("Start a run")
	g.reach("Tab", "Still")
	g.tab.Key("ArrowDown")
	g.reach("Tab", "Start the run")
	g.tab.Key("Enter")
	g.tab.Saved()
	g.tab.Settle()
	g.holds("after a run was started")
	g.atTop()
	g.reach("Tab", "Hydrometer reads")
	g.tab.Write("151.5")
	g.reach("Tab", "at a temperature of")
	g.tab.Write("66")
	g.reach("Tab", "Save the reading")
	g.tab.Key("Enter")
	g.tab.Saved()
	g.tab.Settle()
	g.holds("after a reading was saved")

	g.enter("Office")
	g.press("Month")
	g.atTop()
	g.reach("Shift+Tab", "Note") // from the foot of the page
	g.tab.Write("checked against the tanks")
	g.reach("Tab", "Close 20")
	g.tab.Key("Enter")
	g.tab.Saved()
	rig.Wait[bool](g.tab, "document.querySelector('#standing')?.textContent === 'Closed'")
	g.tab.Settle()
	g.holds("after the month was closed")
}
