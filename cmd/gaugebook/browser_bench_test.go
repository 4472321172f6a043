package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"gaugebook/calc/book"
	"gaugebook/cmd/internal/rig"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"

	"github.com/stretchr/testify/require"
	"golang.org/x/time/rate"
)

// years are n entries of an ordinary life, half an hour apart, written by one
// device: runs with their draw logs, moves, reductions, bottlings, over and
// over, and a run on the small still that never ends, so that the still room
// has its form.
func years(t testing.TB, chain exchange.Chain, n int) (lines [][]byte, after exchange.Chain) {
	t.Helper()
	at := time.Date(2025, 3, 1, 8, 0, 0, 0, time.UTC)
	add := func(kind, body string, args ...any) string {
		if len(lines) == n {
			return ""
		}
		at = at.Add(30 * time.Minute)
		var noise [10]byte
		copy(noise[:], fmt.Sprintf("%010d", len(lines)))
		line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{
			Kind: kind, V: 1, Body: fmt.Appendf(nil, body, args...), Happened: record.StampOf(at), Written: record.StampOf(at), By: "JS",
		}, record.NewID(at, noise))
		require.NoError(t, err)
		lines, chain = append(lines, line), next
		return fmt.Sprintf("%s-%d", chain.Device, chain.Seq)
	}
	add("book opened", `{"name":"Hollow Alder","convention":"us"}`)
	still := add("vessel registered", `{"name":"Copper still","use":"still","capacity":"200gal"}`)
	receiver := add("vessel registered", `{"name":"R1","use":"receiver","capacity":"60gal"}`)
	tank := add("vessel registered", `{"name":"Tank 1","use":"tank","capacity":"250gal"}`)
	product := add("product registered", `{"name":"Quince brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":12}`)
	add("run started", `{"still":%q,"product":%q}`, add("vessel registered", `{"name":"Small still","use":"still","capacity":"20gal"}`), product)
	for len(lines) < n {
		run := add("run started", `{"still":%q,"product":%q}`, still, product)
		for i := range 25 {
			add("draw read", `{"run":%q,"indicated":"%d.5proof","temp":"71.2F","volume":"%dgal","vapour":"178.5F"}`, run, 160-i, i)
			if i == 2 || i == 20 {
				add("receiver changed", `{"run":%q,"fraction":%q,"receiver":%q}`, run, []string{"hearts", "tails"}[i/20], receiver)
			}
		}
		add("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":%q,"volume":"50gal","indicated":"140proof","temp":"71F"}`, run, receiver)
		add("run ended", `{"run":%q}`, run)
		add("spirit moved", `{"from":%q,"to":%q}`, receiver, tank)
		add("water added", `{"vessel":%q,"water":"39.2gal"}`, tank)
		add("spirit gauged", `{"vessel":%q,"volume":"86gal","indicated":"80proof","temp":"60F","cause":"measurement"}`, tank)
		bottling := add("bottling opened", `{"product":%q,"tank":%q,"volume":"86gal","temp":"60F","strength":"80proof"}`, product, tank)
		for range 20 {
			add("bottles counted", `{"bottling":%q,"cases":1}`, bottling)
		}
		add("bottling closed", `{"bottling":%q,"tank_empty":true,"cause":"bottling"}`, bottling)
		for range 10 {
			add("cases removed", `{"bottling":%q,"cases":2,"purpose":"sale"}`, bottling)
		}
	}
	return lines, chain
}

// BenchmarkFoldStored folds entries from their stored bytes, as the office does
// when it opens a book.
func BenchmarkFoldStored(b *testing.B) {
	const n = 200_000
	lines, _ := years(b, exchange.Chain{Device: "heron41"}, n)
	for b.Loop() {
		entries := make([]*book.Entry, n)
		for i, line := range lines {
			var err error
			if entries[i], err = engine.EntryOf(line); err != nil {
				b.Fatal(err)
			}
		}
		folded := book.New()
		folded.Add(entries...)
		require.Zero(b, folded.State().Incomplete())
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "fold-s")
}

// stocked is an office whose book has n entries, and a phone that holds them
// all, keeps the page and stands in the still room.
func stocked(b *testing.B, binary string, n int) (*rig.Office, *rig.Phone) {
	b.Helper()
	o := rig.Open(b, binary, b.TempDir())
	h := joinWith(b, o.Wire.URL, o.Words[strings.Index(o.Words, "code ")+5:][:9])
	lines, _ := years(b, h.chain, n)
	for batch := range slices.Chunk(lines, exchange.MaxRecords) {
		_, err := h.push(o.Wire.URL, batch)
		require.NoError(b, err)
	}
	p := rig.NewPhone(b, b.TempDir())
	code := o.Invite()
	visit(p.Tab, o)
	joinHere(p.Tab, code)
	reaches(p.Tab, n)
	enter(p.Tab, "Still room")
	rig.Wait[bool](p.Tab, form)
	keptOffline(p.Tab)
	p.Tab.Settle()
	return o, p
}

// form is whether the form of a run's readings can be used.
const form = "rig.find('Hydrometer reads') !== null"

// reaches waits until the phone's log has so many entries.
func reaches(tab *rig.Tab, n int) {
	for rig.Eval[int](tab, "rig.held()") < n {
		rig.Eval[bool](tab, "new Promise((resolve) => setTimeout(() => resolve(true), 20))")
	}
}

// module imports one of the page's own modules.
const module = "const module = (name) => import(document.querySelector('script[type=module]').src.replace('main.js', name));"

// BenchmarkColdStart opens the app on a phone that was switched off, without a
// network and at a quarter of the speed, until a reading can be typed, and until
// the book itself is open.
func BenchmarkColdStart(b *testing.B) {
	binary := rig.Build(b, b.TempDir(), nil)
	for _, n := range []int{2_000, 20_000} {
		b.Run(fmt.Sprintf("entries=%d", n), func(b *testing.B) {
			o, p := stocked(b, binary, n)
			rig.Wait[bool](p.Tab, keptShown)
			o.Wire.Cut()
			p.SwitchOff()
			p = p.Again()
			starts := func(slow func() (stop func())) (took, opened []time.Duration) {
				for range 40 {
					p.SwitchOff()
					p = p.Again()
					stop := slow()
					began := time.Now()
					p.Tab.Call("Page.navigate", map[string]any{"url": o.Wire.URL}) // Go would look at the page before it has a form
					rig.Wait[bool](p.Tab, form)
					took = append(took, time.Since(began))
					rig.Wait[bool](p.Tab, bookOpen)
					opened = append(opened, time.Since(began))
					stop()
				}
				slices.Sort(took)
				slices.Sort(opened)
				return took, opened
			}
			p95 := func(sorted []time.Duration) float64 { return sorted[len(sorted)*95/100].Seconds() }
			throttled, _ := starts(func() (stop func()) { // as a browser's tools slow a page: its own thread alone
				p.Tab.Call("Emulation.setCPUThrottlingRate", map[string]any{"rate": 4})
				return func() {}
			})
			for b.Loop() {
				took, opened := starts(func() (stop func()) { return p.Slow(4) })
				b.ReportMetric(took[len(took)/2].Seconds(), "median-s")
				b.ReportMetric(p95(took), "p95-s")
				b.ReportMetric(opened[len(opened)/2].Seconds(), "opened-median-s")
			}
			b.ReportMetric(throttled[len(throttled)/2].Seconds(), "throttled-median-s")
			b.ReportMetric(p95(throttled), "throttled-p95-s")

			// The engine's share: all lines into a new engine, in a worker of its own.
			fold := "(async () => {" + module + `
				const { Engine } = await module('engine.js'), { Log } = await module('log.js');
				const { lines } = await new Log(() => {}).read(0), engine = new Engine(() => {});
				await engine.call('hello', { app: 'figures' });
				const body = new TextEncoder().encode(lines.join('\n')), began = performance.now();
				await engine.call('open', body);
				engine.worker.terminate();
				return (performance.now() - began) / 1000;
			})()`
			folds := func() float64 { // the median of three
				took := []float64{rig.Eval[float64](p.Tab, fold), rig.Eval[float64](p.Tab, fold), rig.Eval[float64](p.Tab, fold)}
				slices.Sort(took)
				return took[1]
			}
			b.ReportMetric(folds(), "fold-s")
			spin := "(() => { const began = performance.now(); let n = 0; for (let i = 0; i < 3e8; i++) n ^= i; return performance.now() - began + n * 0 })()"
			rig.Eval[float64](p.Tab, spin)
			free := rig.Eval[float64](p.Tab, spin)
			stop := p.Slow(4)
			b.ReportMetric(folds(), "fold-slowed-s")
			b.ReportMetric(rig.Eval[float64](p.Tab, spin)/free, "times-slower")
			stop()
		})
	}
}

// BenchmarkSave is from the tap on 'Save the reading' to 'Saved as …', at a
// quarter of the speed, in a book of 2,000 entries; a person has a moment
// between two readings.
func BenchmarkSave(b *testing.B) {
	o, p := stocked(b, rig.Build(b, b.TempDir(), nil), 2_000)
	o.Wire.Cut()
	var took []float64
	for b.Loop() {
		stop := p.Slow(4)
		for i := range 60 {
			p.Tab.Type("Hydrometer reads", fmt.Sprint(100+i))
			p.Tab.Type("at a temperature of", "60")
			p.Tab.Settle()
			took = append(took, rig.Eval[float64](p.Tab, `new Promise((resolve) => {
				const receipt = document.querySelector('.receipt'), before = receipt.textContent, button = rig.find('Save the reading');
				let began = 0;
				new MutationObserver((_, observer) => {
					if (!receipt.textContent.startsWith('Saved as ') || receipt.textContent === before) return;
					observer.disconnect();
					resolve(performance.now() - began);
				}).observe(receipt, { childList: true, characterData: true, subtree: true });
				began = performance.now();
				button.click();
			})`))
		}
		stop()
	}
	slices.Sort(took)
	b.ReportMetric(took[len(took)/2], "p50-ms")
	b.ReportMetric(took[len(took)*95/100], "p95-ms")
}

// BenchmarkExchange pushes 10,000 entries from Chromium to the office and pulls
// them into a fresh phone, with everything on: digests, chains, both logs, the
// fold, the page. The floor is the same records into a database of the same
// stores and indexes in the same browser, in as large transactions, and nothing
// else.
func BenchmarkExchange(b *testing.B) {
	const n = 10_000
	binary := rig.Build(b, b.TempDir(), nil)
	var push, pull, floor float64
	for b.Loop() {
		o := rig.Open(b, binary, b.TempDir())
		p := rig.NewPhone(b, b.TempDir())
		visit(p.Tab, o)
		joinHere(p.Tab, o.Words[strings.Index(o.Words, "code ")+5:][:9])
		sent(p.Tab)
		keptOffline(p.Tab)
		o.Wire.Cut()
		chain := rig.Eval[exchange.Chain](p.Tab, "(async () => {"+module+"return (await new (await module('log.js')).Log(() => {}).read(0)).chain })()")
		require.NotEmpty(b, chain.Device)
		lines, _ := years(b, chain, n)
		for batch := range slices.Chunk(lines, exchange.MaxRecords) {
			put := make([]map[string]string, len(batch))
			to := chain
			for i, line := range batch {
				r, err := record.Decode(line)
				require.NoError(b, err)
				put[i] = map[string]string{"id": r.ID.String(), "line": string(line), "state": "unsent"}
				to = exchange.Chain{Device: r.Device, Seq: r.Seq, Prev: record.DigestOf(line), Clock: r.Clock}
			}
			raw, err := json.Marshal(map[string]any{"chain": map[string]any{"from": chain, "to": to}, "put": put})
			require.NoError(b, err)
			rig.Eval[bool](p.Tab, "(async () => {"+module+"await new (await module('log.js')).Log(() => {}).store("+string(raw)+"); return true })()")
			chain = to
		}
		visit(p.Tab, o)
		p.Tab.Settle()
		o.Wire.Mend()
		push += rig.Eval[float64](p.Tab, `(async () => {
			const began = performance.now();
			dispatchEvent(new Event('online'));
			while (await rig.held('unsent') > 0) await new Promise((resolve) => setTimeout(resolve, 20));
			return (performance.now() - began) / 1000;
		})()`)
		p.SwitchOff()

		code := o.Invite()
		fresh := rig.NewPhone(b, b.TempDir())
		visit(fresh.Tab, o)
		keptOffline(fresh.Tab)
		began := time.Now()
		joinHere(fresh.Tab, code)
		reaches(fresh.Tab, n)
		pull += time.Since(began).Seconds()
		fresh.Tab.Settle()
		floor += rig.Eval[float64](fresh.Tab, "(async () => {"+module+`
			const { lines } = await new (await module('log.js')).Log(() => {}).read(0);
			const records = lines.map((line) => ({ id: JSON.parse(line).id, line, state: 'received' }));
			const db = await new Promise((resolve) => {
				const open = indexedDB.open('floor');
				open.onupgradeneeded = () => {
					const entries = open.result.createObjectStore('entries', { autoIncrement: true });
					entries.createIndex('id', 'id', { unique: true });
					entries.createIndex('state', 'state');
				};
				open.onsuccess = () => resolve(open.result);
			});
			const began = performance.now();
			for (let i = 0; i < records.length; i += `+fmt.Sprint(exchange.MaxRecords)+`) {
				const transaction = db.transaction('entries', 'readwrite', { durability: 'strict' });
				for (const record of records.slice(i, i + `+fmt.Sprint(exchange.MaxRecords)+`)) transaction.objectStore('entries').add(record);
				await new Promise((resolve) => { transaction.oncomplete = resolve; });
			}
			return (performance.now() - began) / 1000;
		})()`)
		fresh.SwitchOff()
	}
	times := float64(b.N)
	b.ReportMetric(push/times, "push-s")
	b.ReportMetric(pull/times, "pull-s")
	b.ReportMetric(floor/times, "floor-s")
	b.ReportMetric(pull/floor, "pull/floor")
}

// BenchmarkFirstLoad counts the bytes that the office sends to a phone that
// never saw it: until a person can join, and until the page is kept for opening
// without a network.
func BenchmarkFirstLoad(b *testing.B) {
	o := rig.Open(b, rig.Build(b, b.TempDir(), nil), b.TempDir())
	_, office, _ := strings.Cut(strings.TrimSpace(o.Words), "listening on http://")
	wire := newPoorWire()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	b.Cleanup(func() { ln.Close() })
	go func() {
		for {
			phone, err := ln.Accept()
			if err != nil {
				return
			}
			go func() {
				defer phone.Close()
				there, err := net.Dial("tcp", office)
				if err != nil {
					return
				}
				defer there.Close()
				go io.Copy(there, phone) // ends with either
				io.Copy(wire.to(phone), there)
			}()
		}
	}()
	o.Wire.To(ln.Addr().String())
	for b.Loop() {
		wire.bytes.Store(0)
		p := rig.NewPhone(b, b.TempDir())
		visit(p.Tab, o)
		p.Tab.Settle()
		b.ReportMetric(float64(wire.bytes.Load()), "usable-bytes")
		keptOffline(p.Tab)
		p.Tab.Settle()
		b.ReportMetric(float64(wire.bytes.Load()), "kept-bytes")
		p.SwitchOff()
	}
}

// A poorWire carries 500 kB a second to the phone, all connections together: a
// phone at the edge of the signal, and slow enough that what the page fetches
// once a person can join is not counted with what it needs before.
type poorWire struct {
	turn  *rate.Limiter // in bytes
	bytes atomic.Int64
}

const poorPiece = 8 << 10

func newPoorWire() *poorWire { return &poorWire{turn: rate.NewLimiter(500_000, poorPiece)} }

func (w *poorWire) to(phone io.Writer) io.Writer { return poorEnd{w, phone} }

type poorEnd struct {
	wire  *poorWire
	phone io.Writer
}

func (e poorEnd) Write(p []byte) (n int, err error) {
	for piece := range slices.Chunk(p, poorPiece) {
		if err := e.wire.turn.WaitN(context.Background(), len(piece)); err != nil {
			return n, err
		}
		e.wire.bytes.Add(int64(len(piece)))
		sent, err := e.phone.Write(piece)
		n += sent
		if err != nil {
			return n, err
		}
	}
	return n, nil
}

// BenchmarkSizes are the sizes of what is shipped.
func BenchmarkSizes(b *testing.B) {
	const built = "../../webapp/built/files/"
	binary := rig.Build(b, b.TempDir(), nil)
	for b.Loop() {
		for file, metric := range map[string]string{binary: "binary-bytes", built + "pocket.wasm.br": "pocket-br-bytes", built + "engine.wasm.br": "engine-br-bytes"} {
			info, err := os.Stat(file)
			require.NoError(b, err)
			b.ReportMetric(float64(info.Size()), metric)
		}
	}
}
