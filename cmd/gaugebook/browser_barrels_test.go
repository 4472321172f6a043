package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/demo"
	"gaugebook/cmd/internal/rig"
	"gaugebook/server/shelf"
	"gaugebook/server/store"
)

// barrels follows a barrel without a network: registered, filled by weight,
// regauged twice, a year apart; what it lost, what it will hold, its place on
// the map and its label. Then the network comes back, and the label opens it.
func barrels(t *testing.T, s stage) {
	o, p := s.away(t)
	tab := p.Tab
	happened := func(drawer, day string) {
		tab.Tap(drawer + " > More")
		rig.Eval[bool](tab, "((input) => { input.value = '"+day+"T09:00'; input.dispatchEvent(new Event('input', { bubbles: true })); return true })(rig.find('"+drawer+" > When it happened'))")
	}

	enter(tab, "Office")
	tab.Tap("Register a vessel")
	tab.Type("Register a vessel > Name", "Tank one")
	tab.Choose("Register a vessel > What it is for", "tank")
	tab.Type("Register a vessel > Capacity", "100")
	happened("Register a vessel", "2024-10-01")
	tab.Save("Save the vessel")

	enter(tab, "Spirit store")
	tab.Tap("Receive spirit")
	tab.Choose("Receive spirit > Into", "Tank one")
	tab.Type("Receive spirit > Volume as read", "60")
	tab.Type("Receive spirit > Temperature of the volume", "60")
	tab.Tap("Receive spirit > known strength")
	tab.Type("Receive spirit > True strength", "126")
	tab.Choose("Receive spirit > How it came", "in bond")
	tab.Choose("Receive spirit > Class", "whisky")
	tab.Choose("Receive spirit > Entered in", "storage")
	happened("Receive spirit", "2024-11-01")
	tab.Save("Save what came")

	tab.Tap("button: Barrels")
	tab.Until("No barrel is registered yet")
	tab.Tap("Register a barrel")
	tab.Type("Register a barrel > Name", "Barrel 12")
	tab.Type("Register a barrel > Serial number", "C0012")
	tab.Type("Register a barrel > Capacity", "53")
	tab.Type("Register a barrel > Empty weight", "110")
	tab.Choose("Register a barrel > Cooperage", "charred new")
	tab.Type("Register a barrel > Row", "B")
	tab.Type("Register a barrel > Tier", "2")
	happened("Register a barrel", "2024-10-02")
	barrel := tab.Save("Save the barrel")
	tab.Tap("Register a barrel")
	const cell = "document.querySelector('.cask')"
	rig.Wait[bool](tab, cell+"?.textContent === '12 empty'")
	rig.Eval[bool](tab, "("+cell+".click(), true)")

	// 400 lb of 126 proof; the limit of its class is told while it is typed.
	tab.Tap("Fill it")
	tab.Choose("Fill it > From", "Tank one")
	tab.Type("Fill it > Gross weight", "510")
	tab.Until("At 126.0 proof it is above 125 proof")
	happened("Fill it", "2024-11-02")
	tab.Save("Save the filling")
	tab.Until("Regauge it")
	regauge := func(gross, strength, day string) {
		tab.Tap("Regauge it")
		tab.Type("Regauge it > Gross weight", gross)
		tab.Tap("Regauge it > known strength")
		tab.Type("Regauge it > True strength", strength)
		tab.Until("since 202")
		happened("Regauge it", day)
		tab.Save("Save the regauge")
	}
	regauge("491", "126.4", "2025-05-03")
	regauge("474", "126.9", "2025-11-02")
	lines := rows(tab, "Gauges and changes")
	require.Len(t, lines, 6, "%q", lines)
	assert.Regexp(t, `^2025-11-02 \| [\d.]+ \| 126\.9 \| [\d.]+$`, lines[0])
	assert.Regexp(t, `^regauged by weight: −2\.\d\d gal, \+0\.5 proof, −[\d.]+ proof gallons in 183 days$`, lines[1])
	page := tab.Text()
	assert.Contains(t, page, "It loses in a year")
	assert.Contains(t, page, "Expected of a barrel of 53 gal: 3 % to 6 % a year")
	assert.Contains(t, page, "straight", "27 CFR 5.143: two years in charred new oak")
	require.Equal(t, 2, rig.Eval[int](tab, "[...document.querySelectorAll('gb-chart')].filter((one) => one.querySelector('.chart-area')).length"), "volume and strength, each with its band")
	tab.Type("Reaches a strength of", "128")
	tab.Key("Tab")
	tab.Until("Reaches 128 proof")
	tab.Type("Humidity of the store, %", "5")
	tab.Key("Tab")
	tab.Until("the range is 10 to 99 %")

	fitsScreens(t, tab, "one barrel")
	tab.Tap("Its label to print")
	tab.Until("Scanned, a label opens")
	assert.Equal(t, 1, rig.Eval[int](tab, "document.querySelectorAll('.cask-labels .qr').length"))
	tab.Tap("‹ Back")
	tab.Tap("‹ All barrels")
	tab.Until("1 barrel, 1 of them filled")
	says := rig.Eval[string](tab, cell+".getAttribute('aria-label')")
	assert.Regexp(t, `^12 [^,]+, Barrel 12, row B, tier 2, .* in wood, [\d.]+ proof gallons`, says)
	fitsScreens(t, tab, "the barrels")

	back(o, tab)
	addresses, records := arrived(t, o)
	require.Len(t, records, 6, "tank, spirit, barrel, filling and two regauges")
	assert.Contains(t, addresses, barrel)
	assert.Contains(t, string(records[3].Body), `"gross":"510lb"`, "kept as typed")
	enter(tab, "Yard")
	tab.Go(o.Wire.URL + "/#vessel=" + barrel)
	rig.Wait[bool](tab, "document.querySelector('h1').textContent === 'Spirit store'")
	tab.Until("Barrel 12 holds")
	calm(t, p)
}

// BenchmarkBarrelStore opens the spirit store of 2,000 barrels on a slowed
// phone, from the tap on its door to the map of its rows, or to the form of a
// gauge where that was the last page; and one row of the map.
func BenchmarkBarrelStore(b *testing.B) {
	folder := b.TempDir()
	file, err := store.Open(b.Context(), filepath.Join(folder, "book.db"), store.Options{})
	require.NoError(b, err)
	entries := drafts(demo.Store(2000))
	require.NoError(b, fill(b.Context(), shelf.Book{Store: file}, func() ([]demoEntry, error) { return entries, nil }))
	require.NoError(b, file.Close())
	o := rig.Open(b, rig.Build(b, b.TempDir(), nil), folder)
	p := rig.NewPhone(b, b.TempDir())
	code := o.Invite()
	visit(p.Tab, o)
	joinHere(p.Tab, code)
	reaches(p.Tab, len(entries))
	enter(p.Tab, "Spirit store")
	p.Tab.Tap("button: Barrels")
	p.Tab.Until("2000 barrels")
	p.Tab.Settle()
	o.Wire.Cut()
	const shown = `(async (open, there) => {
		const began = performance.now();
		open();
		while (!there()) await new Promise((resolve) => new MutationObserver((_, observer) => { observer.disconnect(); resolve(); }).observe(document.getElementById('room'), { childList: true, subtree: true }));
		await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
		return performance.now() - began;
	})`
	const door = "() => rig.find('Spirit store').click()"
	var store, row, gauge []float64
	for b.Loop() {
		stop := p.Slow(4)
		for i := range 20 {
			p.Tab.Tap("Rooms")
			p.Tab.Settle()
			store = append(store, rig.Eval[float64](p.Tab, shown+"("+door+", () => document.querySelectorAll('.store-row').length > 30)"))
			p.Tab.Settle()
			title := fmt.Sprintf("Long store, row %d", i+2)
			row = append(row, rig.Eval[float64](p.Tab, shown+"(() => rig.find('"+title+" ').click(), () => document.querySelector('section.store-row')?.getAttribute('aria-label') === '"+title+"')"))
			p.Tab.Settle()
			p.Tab.Tap("button: Gauge")
			p.Tab.Settle()
			p.Tab.Tap("Rooms")
			p.Tab.Settle()
			gauge = append(gauge, rig.Eval[float64](p.Tab, shown+"("+door+", () => document.querySelector('#room form .big-figure') !== null)"))
			p.Tab.Settle()
			p.Tab.Tap("button: Barrels")
			p.Tab.Settle()
		}
		stop()
	}
	for metric, took := range map[string][]float64{"store": store, "row": row, "gauge": gauge} {
		slices.Sort(took)
		b.ReportMetric(took[len(took)/2], metric+"-p50-ms")
		b.ReportMetric(took[len(took)*95/100], metric+"-p95-ms")
	}
}
