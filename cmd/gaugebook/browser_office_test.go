package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/demo"
	"gaugebook/cmd/internal/rig"
)

// page turns to a page of a room that has several.
func page(tab *rig.Tab, name string) {
	rig.Eval[bool](tab, "([...document.querySelectorAll('.pages button')].find((one) => one.textContent === '"+name+"').click(), true)")
	rig.Wait[bool](tab, "document.querySelector('.pages [aria-current]')?.textContent === '"+name+"' && document.querySelector('.page > *') !== null")
}

// officeMonth opens a month of the demo without a network, drills into a figure
// down to an entry and back, and closes the month: the figures are the book's
// own, and it is seen closed after the page was opened anew.
func officeMonth(t *testing.T, s stage) {
	o := s.open(t, "--demo")
	p := rig.NewPhone(t, t.TempDir())
	tab := p.Tab
	visit(tab, o)
	if rig.Eval[bool](tab, "document.body.innerText.includes('Join this book')") { // the demo gives its own code to the page
		tab.Type("How you sign", "JS")
		tab.Tap("Join this book")
	}
	tab.Until("Which room are you in?")
	rig.Wait[bool](tab, fmt.Sprintf("(async () => await rig.held() >= %d)()", len(demo.Eighteen()))) // the whole book is on the phone
	sent(tab)
	keptOffline(tab)
	o.Wire.Cut()
	tab.Offline(true)
	visit(tab, o)
	enter(tab, "Office")

	month := rig.Wait[string](tab, "(document.querySelector('[aria-label^=\"Open the month: 20\"]')?.getAttribute('aria-label') ?? '').slice(16, 23)")
	rig.Eval[bool](tab, "(document.querySelector('[aria-label^=\"Open the month: 20\"]').click(), true)")
	rig.Wait[bool](tab, "document.querySelector('#standing')?.textContent === 'Open' && rig.words(document.querySelector('.paper')).startsWith('"+month+"')")
	tab.Until("the proprietor checks and files")

	// A figure opens into the entries that made it, and one of them opens.
	const figures = "[...document.querySelectorAll('.lines tr:not(.sum) button.link')].filter(rig.seen)"
	printed := rig.Eval[string](tab, figures+"[0].textContent")
	rig.Eval[bool](tab, "("+figures+"[0].click(), true)")
	rig.Wait[bool](tab, "document.querySelector('.opened .big-figure')?.textContent === '"+printed+"'")
	assert.True(t, rig.Eval[bool](tab, "document.activeElement.matches('.opened h3')"), "the focus is at what opened")
	behind := rows(tab, "The entries behind it")
	require.NotEmpty(t, behind)
	address, _, _ := strings.Cut(behind[0], " | ")
	rig.Eval[bool](tab, "(document.querySelector('.opened table button').click(), true)")
	rig.Wait[bool](tab, "document.querySelector('h1').textContent === 'Entry "+address+"'")
	tab.Tap("Back to the room")
	rig.Wait[bool](tab, "document.querySelector('#standing')?.textContent === 'Open' && rig.words(document.querySelector('.paper')).startsWith('"+month+"')")

	for _, size := range [][2]int{{1280, 800}, {768, 1024}, {390, 844}} {
		tab.Size(size[0], size[1])
		tab.Settle()
		assert.LessOrEqual(t, rig.Eval[int](tab, "document.documentElement.scrollWidth - document.documentElement.clientWidth"), 0, "the month at %d", size[0])
		assert.Empty(t, rig.Eval[[]string](tab, tooSmall), "smaller than 44 px at %d", size[0])
	}

	digest := rig.Eval[string](tab, "document.querySelector('.digest').textContent.split(': ')[1]")
	tab.Type("Note", "checked against the tanks")
	closed := tab.Save("Close " + month)
	rig.Wait[bool](tab, "document.querySelector('#standing')?.textContent === 'Closed'")
	tab.Until("signed for: " + closed)
	onlyHere(t, tab, 1)
	visit(tab, o)
	rig.Wait[bool](tab, "document.querySelector('#standing')?.textContent === 'Closed'")

	back(o, tab)
	_, records := arrived(t, o)
	last := records[len(records)-1]
	assert.Equal(t, "month closed", last.Kind)
	assert.Contains(t, string(last.Body), `"month":"`+month+`"`)
	assert.Contains(t, string(last.Body), `"digest":"`+digest+`"`, "what was signed is what was seen")
	assert.Contains(t, string(last.Body), `"figures":[{`)

	for _, name := range []string{"Tax", "Trace", "Yield", "Seasons", "Count", "Vessel", "Calendar", "Registers", "Today"} {
		page(tab, name)
		tab.Settle()
		assert.LessOrEqual(t, rig.Eval[int](tab, "document.documentElement.scrollWidth - document.documentElement.clientWidth"), 0, name)
		assert.Empty(t, rig.Eval[[]string](tab, tooSmall), name)
		assert.Empty(t, unnamed(t, tab), name)
	}
	// A table is kept as a file by its own button, and a season is drawn over another.
	page(tab, "Seasons")
	tab.Tap("Bottles")
	rig.Wait[bool](tab, "document.querySelector('gb-chart figcaption').textContent.startsWith('bottles')")
	rig.Eval[bool](tab, "(window.files = [], window.make = URL.createObjectURL.bind(URL), URL.createObjectURL = (blob) => { blob.text().then((text) => window.files.push(text)); return window.make(blob); }, [...document.querySelectorAll('.keep button')].find((one) => one.getAttribute('aria-label').includes('Lost')).click(), true)")
	rig.Wait[bool](tab, "window.files.length === 1")
	assert.Regexp(t, `^Step,2026,2025\n`, rig.Eval[string](tab, "window.files[0]"))
	page(tab, "Registers")
	tab.Choose("Register", "Goods")
	rig.Wait[bool](tab, "document.querySelector('.paper caption')?.textContent === 'Goods' && [...document.querySelectorAll('.paper tr.note')].some((one) => one.textContent.includes('order again at'))")
	calm(t, p)
}

// TestBrowserOffice is apart from TestBrowser's list for the demo it needs.
func TestBrowserOffice(t *testing.T) {
	officeMonth(t, stage{rig.Build(t, t.TempDir(), nil)})
}
