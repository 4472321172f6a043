package main

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
	"gaugebook/cmd/internal/rig"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// tell seals one entry of a kind and gives its address and its line.
func (h *handset) tell(t testing.TB, when time.Time, kind string, body map[string]any) (address string, line []byte) {
	t.Helper()
	typed, err := json.Marshal(body)
	require.NoError(t, err)
	composed, faults := book.Compose(kind, book.US, typed)
	require.Empty(t, faults, "%s %v", kind, body)
	k := book.KindOf(composed)
	h.n++
	noise := sha256.Sum256(fmt.Appendf(nil, "%s %d", h.chain.Device, h.n))
	line, next, err := exchange.Seal(h.chain, exchange.Contact{}, exchange.Draft{
		Kind: k.Name, V: k.Version, Body: book.Encode(composed), Happened: record.StampOf(when), Written: record.StampOf(when), By: "JS",
	}, record.NewID(when, [10]byte(noise[:10])))
	require.NoError(t, err)
	h.chain = next
	return string(book.MakeAddress(next.Device, uint64(next.Seq))), line
}

// A drop is one reading of a run that package still worked out: 100 gallons of
// 60 proof in a pot whose neck works as half a plate.
type drop struct {
	strength quantity.Reading
	drawn    still.Liquid
}

// drops are so many readings of it, evenly over the alcohol that comes over down
// to 40 proof.
func drops(t testing.TB, n int) (charge still.Charge, out []drop) {
	t.Helper()
	charge, err := still.ChargeOf(quantity.MustParse("100", quantity.Gallon), quantity.MustParse("60", quantity.Proof))
	require.NoError(t, err)
	end, err := spirit.FromProof(40)
	require.NoError(t, err)
	curve, err := still.Distil(still.Run{Charge: charge, Way: still.Way{Plates: 0.5, Reflux: still.TotalReflux()}, Pressure: still.StandardAtmosphere, End: still.End{Spirit: end}})
	require.NoError(t, err)
	whole := curve.Last().Drawn.PureAlcohol()
	for i := 1; i < len(curve.Points); i++ {
		a, b := curve.Points[i-1], curve.Points[i]
		from, to := a.Drawn.PureAlcohol(), b.Drawn.PureAlcohol()
		for len(out) < n {
			want := whole * (float64(len(out)) + 0.5) / float64(n)
			if want > to {
				break
			}
			part := (want - from) / (to - from)
			proof := a.Spirit.Proof() + part*(b.Spirit.Proof()-a.Spirit.Proof())
			out = append(out, drop{quantity.FromDecimal(quantity.Snap(proof).Round(1), quantity.Proof),
				still.Liquid{Ethanol: a.Drawn.Ethanol + part*(b.Drawn.Ethanol-a.Drawn.Ethanol), Water: a.Drawn.Water + part*(b.Drawn.Water-a.Drawn.Water)}})
		}
	}
	require.Len(t, out, n)
	return charge, out
}

// gallons is what a receiver that was empty when so much had been drawn reads at
// 60 °F.
func (d drop) gallons(since still.Liquid) string {
	l := still.Liquid{Ethanol: d.drawn.Ethanol - since.Ethanol, Water: d.drawn.Water - since.Water}
	return quantity.Fixed(quantity.Figure{Value: l.VolumeAt(spirit.At60F), Unit: quantity.Litre}.In(quantity.Gallon).Value, 2)
}

// cellar puts a still, its receivers, a product and 100 gallons of low wines
// into the book, from another phone.
func cellar(t testing.TB, h *handset, when time.Time) (lines [][]byte, at map[string]string) {
	t.Helper()
	at = map[string]string{}
	add := func(name, kind string, body map[string]any) {
		address, line := h.tell(t, when, kind, body)
		lines, at[name] = append(lines, line), address
	}
	for _, v := range [][3]string{{"Copper pot", "still", "150gal"}, {"Heads can", "receiver", "10gal"}, {"Hearts can", "receiver", "60gal"}, {"Tails can", "receiver", "60gal"}, {"Low wines tank", "tank", "200gal"}} {
		add(v[0], "vessel registered", map[string]any{"name": v[0], "use": v[1], "capacity": v[2]})
	}
	add("product", "product registered", map[string]any{"name": "Quince brandy", "class": "brandy", "strength": "80proof", "bottle": "750mL", "per_case": "6"})
	add("spirit", "spirit received", map[string]any{"vessel": at["Low wines tank"], "volume": "100gal", "volume_temp": "60F", "strength": "60proof",
		"reason": "on hand at opening", "class": "brandy", "account": "production"})
	return lines, at
}

// TestBrowserStillRoom makes a whole run without a network: the charge, the
// readings, the cuts, what is seen on the way, the gauges and the balance.
func TestBrowserStillRoom(t *testing.T) {
	s := stage{rig.Build(t, t.TempDir(), nil)}
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	h := joinWith(t, o.Wire.URL, o.Invite())
	lines, _ := cellar(t, h, time.Now().Add(-time.Hour))
	_, err := h.push(o.Wire.URL, lines)
	require.NoError(t, err)
	tab := p.Tab
	visit(tab, o)
	keptOffline(tab)
	enter(tab, "Spirit store")
	tab.Until("Low wines tank")
	o.Wire.Cut()
	tab.Offline(true)
	visit(tab, o)

	enter(tab, "Still room")
	tab.Tap("Start a run")
	tab.Until("Charge with the heat off") // the caution of the moment
	tab.Choose("Start a run > Still", "Copper pot")
	tab.Tap("Start a run > Add: charge")
	tab.Choose("Start a run > From", "Low wines tank")
	figure(tab, "60.0") // 100 gallons of 60 proof (27 CFR 30.11)
	tab.Choose("Start a run > Product", "Quince brandy")
	tab.Tap("Start a run > pot")
	tab.Choose("Start a run > into", "Heads can")
	tab.Type("Start a run > Hearts are to end at", "110")
	tab.Save("Start the run")
	tab.Until("Collecting: Heads into Heads can")

	charge, all := drops(t, 14)
	var log []still.Line
	base := still.Liquid{}
	read := func(d drop, receiver string) {
		tab.Type("Hydrometer reads", d.strength.Digits())
		tab.Type("at a temperature of", "60")
		tab.Type("In the receiver", d.gallons(base))
		tab.Save("Save the reading")
		log = append(log, still.Line{After: time.Duration(len(log)) * time.Minute, Receiver: receiver, Strength: d.strength,
			Volume: quantity.MustParse(d.gallons(base), quantity.Gallon), VolumeTemp: quantity.MustParse("60", quantity.Fahrenheit)})
	}
	cut := func(words, into string, d drop) {
		tab.Tap(words)
		tab.Choose(words+" > into", into)
		tab.Type(words+" > Left in the receiver before", d.gallons(base))
		tab.Save("Save: " + strings.ToLower(words))
		base = d.drawn
	}
	read(all[0], "heads")
	cut("Cut to hearts", "Hearts can", all[0])
	tab.Until("Collecting: Hearts into Hearts can")
	log = append(log, still.Line{After: log[0].After, Receiver: "hearts"})
	for _, d := range all[1:6] {
		read(d, "hearts")
	}
	tab.Tap("clean")
	assert.Equal(t, "clean", rig.Eval[string](tab, "rig.find('Nose and taste').value"), "a tapped word stands in the field")
	tab.Tap("clean")

	// What the page says is still to come is what package still says of the same log.
	tab.Until("Hearts still to come, until 110 proof")
	seen, err := strconv.ParseFloat(rig.Eval[string](tab, "[...document.querySelectorAll('.big')].find((one) => one.textContent.includes('still to come')).querySelector('.big-figure').textContent"), 64)
	require.NoError(t, err)
	collected, err := still.Collect(log)
	require.NoError(t, err)
	know, err := still.Learn(still.Lesson{Charge: charge, Lines: collected.Lines, Pressure: still.StandardAtmosphere, Model: still.NRTL, Guess: still.GuessPot()})
	require.NoError(t, err)
	end, err := spirit.FromProof(110)
	require.NoError(t, err)
	outlook, err := know.Ahead(end)
	require.NoError(t, err)
	assert.InDelta(t, outlook.ToCome.Value/book.Steps(1).LitresPureAlcohol(), seen, 0.2, "proof gallons to come")
	label := func() string {
		return rig.Eval[string](tab, "document.querySelector('gb-chart svg').getAttribute('aria-label')")
	}
	assert.Contains(t, label(), "Strength over collected alcohol, 6 readings")
	assert.Contains(t, label(), "; then hearts; hearts end at 110 proof")
	tab.Tap("Drawn over > time")
	assert.Contains(t, label(), "Strength over time, 6 readings")

	for _, screen := range []struct {
		width  int
		scheme string
	}{{390, "light"}, {768, "dark"}, {1280, "light"}} {
		tab.Size(screen.width, 844)
		tab.Scheme(screen.scheme)
		tab.Settle()
		assert.False(t, rig.Eval[bool](tab, "document.documentElement.scrollWidth > innerWidth"), "%d px: the page scrolls sideways", screen.width)
		assert.Empty(t, rig.Eval[[]string](tab, tooSmall), "%d px: too small to touch", screen.width)
		assert.Empty(t, unnamed(t, tab), "%d px: without a name", screen.width)
	}
	tab.Size(390, 844)

	for _, d := range all[6:9] {
		read(d, "hearts")
	}
	hearts := all[8]
	heartsGallons := hearts.gallons(base)
	cut("Cut to tails", "Tails can", hearts)
	read(all[13], "tails")
	tailsGallons := all[13].gallons(base)

	gauge := func(what, where, gallons string, from, to still.Liquid) {
		in := still.Liquid{Ethanol: to.Ethanol - from.Ethanol, Water: to.Water - from.Water}
		tab.Choose("Gauge a receiver > What it is", what)
		tab.Choose("Gauge a receiver > Where it stands", where)
		tab.Type("Gauge a receiver > Volume as read", gallons)
		tab.Type("Gauge a receiver > Temperature of the volume", "60")
		tab.Tap("Gauge a receiver > Strength by > known strength")
		tab.Type("Gauge a receiver > True strength", quantity.Fixed(in.Strength().Proof(), 1))
		tab.Save("Save the gauge")
	}
	tab.Tap("Gauge a receiver")
	gauge("heads", "Heads can", all[0].gallons(still.Liquid{}), still.Liquid{}, all[0].drawn)
	gauge("hearts", "Hearts can", heartsGallons, all[0].drawn, hearts.drawn)
	gauge("tails", "Tails can", tailsGallons, hearts.drawn, all[13].drawn)
	// What is left in the pot is the charge less what was drawn.
	left := still.Liquid{Ethanol: charge.PureAlcohol.Value*0.78924 - all[13].drawn.Ethanol}
	left.Water = charge.Mass.Value - charge.PureAlcohol.Value*0.78924 - all[13].drawn.Water
	tab.Tap("End the run")
	tab.Until("A hot still that is closed") // vacuum, said at the end
	tab.Type("End the run > Stillage", quantity.Fixed(quantity.Figure{Value: left.VolumeAt(spirit.At60F), Unit: quantity.Litre}.In(quantity.Gallon).Value, 1))
	tab.Type("End the run > Strength of the stillage", quantity.Fixed(left.Strength().Proof(), 1))
	tab.Save("End the run > button: End the run")
	tab.Until("No run is open")
	tab.Until("Closed within error")
	tab.Until("27 CFR 5.145")
	tab.Until("L from 100 L of charge")
	assert.Len(t, rows(tab, "The run, newest"), 2*12, "ten readings and two cuts, each with its note")
	calm(t, p)

	back(o, tab)
	addresses, _ := arrived(t, o)
	assert.Len(t, addresses, len(lines)+1+10+2+3+1)
}

// BenchmarkStillRoomRedraw draws a run of 300 readings and its charts and tables
// anew, in Chromium at a quarter of this machine's speed: what building and
// laying out take, and what the engine takes to work it out in its worker.
func BenchmarkStillRoomRedraw(b *testing.B) {
	const readings, slower = 300, 4
	s := stage{rig.Build(b, b.TempDir(), nil)}
	o := rig.Open(b, s.binary, b.TempDir())
	h := joinWith(b, o.Wire.URL, strings.SplitN(o.Words, "joins with the code ", 2)[1][:9])
	begun := time.Now().Add(-12 * time.Hour)
	lines, at := cellar(b, h, begun)
	run, line := h.tell(b, begun, "run started", map[string]any{"still": at["Copper pot"], "product": at["product"], "way": "pot", "receiver": at["Hearts can"], "first": "hearts",
		"hearts_end": "60proof", "charge": []map[string]any{{"vessel": at["Low wines tank"]}}})
	lines = append(lines, line)
	_, all := drops(b, readings+40)
	for i, d := range all[:readings] {
		_, line := h.tell(b, begun.Add(time.Duration(i+1)*2*time.Minute), "draw read", map[string]any{"run": run, "indicated": d.strength.Compact(), "temp": "60F", "volume": d.gallons(still.Liquid{}) + "gal"})
		lines = append(lines, line)
	}
	book := make([]string, len(lines))
	for i, l := range lines {
		book[i] = string(l)
	}
	raw, err := json.Marshal(strings.Join(book, "\n"))
	require.NoError(b, err)
	p := rig.NewPhone(b, b.TempDir())
	p.Tab.Go(o.Wire.URL)
	p.Tab.Size(390, 844)
	p.Tab.Call("Emulation.setCPUThrottlingRate", map[string]any{"rate": slower})
	type measured struct{ Asked, Drawn float64 }
	for b.Loop() {
		m := rig.Eval[measured](p.Tab, `(async () => {
			const base = [...document.scripts].find(({ src }) => src.endsWith('/js/main.js')).src.replace('main.js', '');
			const [{ Engine }, { blocks }] = await Promise.all([import(base + 'engine.js'), import(base + 'view/blocks.js')]);
			const engine = new Engine(async () => {}); // the pocket engine knows the still room
			await engine.call('hello', { app: 'bench' });
			await engine.call('open', new TextEncoder().encode(`+string(raw)+`));
			let view, asked = Infinity;
			for (let i = 0; i < 3; i++) {
				const began = performance.now();
				view = await engine.call('view', { what: 'still', run: '', end: '' });
				asked = Math.min(asked, performance.now() - began);
			}
			const place = document.createElement('div');
			document.getElementById('room').replaceChildren(place);
			const times = [];
			for (let i = 0; i < 15; i++) {
				const began = performance.now();
				place.replaceChildren(...blocks({}, view.blocks));
				place.getBoundingClientRect();
				times.push(performance.now() - began);
			}
			return { asked, drawn: times.sort((a, b) => a - b)[7] };
		})()`)
		b.ReportMetric(m.Drawn, "ms/redraw")
		b.ReportMetric(m.Asked, "ms/view")
	}
}
