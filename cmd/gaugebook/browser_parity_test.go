package main

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/cmd/internal/rig"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// The calculations' own tests, run as WASM in Chromium: every row of
// testdata/parity, and the worked examples of 27 CFR part 30, among them
// 30.23.
func calculatedInChromium(t *testing.T, _ stage) {
	p := rig.NewPhone(t, t.TempDir())
	for _, c := range []struct{ pkg, pattern, ran string }{
		{"calc/reckon", "^TestParity$", "--- PASS: TestParity"},
		{"calc/spirit", "^Example", "--- PASS: ExampleTrueProof"},
	} {
		printed, passed := p.GoTest(t.TempDir(), c.pkg, c.pattern)
		assert.True(t, passed, "%s in Chromium:\n%s", c.pkg, printed)
		assert.Contains(t, printed, c.ran, c.pkg)
	}
}

// A question to an engine.
type question struct{ name, body string }

// The shipped engine in Chromium and the same packages here give the same
// bytes: the demo's eighteen months folded, every view of them, and what the
// forms show for the parity cases.
func sameBytes(t *testing.T, s stage) {
	lines, addresses, days := demoLines(t)
	ask := []question{{"hello", `{"app":"parity"}`}, {"open", strings.Join(lines, "\n")}}
	add := func(name string, in any) {
		raw, err := json.Marshal(in)
		require.NoError(t, err)
		ask = append(ask, question{name, string(raw)})
	}
	for _, room := range []string{"still", "ferment", "station", "yard", "mash", "store", "bottling"} {
		add("view", map[string]string{"what": room})
	}
	for _, day := range days {
		add("view", map[string]string{"what": "office", "day": day})
	}
	for _, address := range addresses {
		add("view", map[string]string{"what": "entry", "address": address})
	}
	for _, kind := range book.Kinds() {
		add("form", map[string]string{"kind": kind.Name})
	}
	for _, body := range parityForms(t) {
		add("preview", body)
	}

	outside := engine.Outside{Now: time.Now, Random: rand.Reader}
	here, inPocket := engine.New(outside), engine.NewPocket(outside)
	answers, figures := make([]string, len(ask)), 0
	pocket, known := make([]string, len(ask)), map[string]bool{}
	for i, q := range ask {
		answers[i] = string(here.Call(q.name, []byte(q.body)))
		if q.name == "preview" && strings.Contains(answers[i], `"figure"`) {
			figures++
		}
		pocket[i] = string(inPocket.Call(q.name, []byte(q.body)))
		if pocket[i] != `{"elsewhere":true}` {
			require.Equal(t, answers[i], pocket[i], "%s %.200s: the whole engine, and the pocket one", q.name, q.body)
			known[q.name+" "+q.body] = true
		}
	}
	require.Greater(t, figures, 80, "parity cases that a form gives a figure for")
	for _, wanted := range []string{`view {"what":"still"}`, `view {"what":"ferment"}`, `view {"what":"station"}`, `form {"kind":"draw read"}`, `form {"kind":"delivery received"}`} {
		require.True(t, known[wanted], "%s: the pocket engine answers", wanted)
	}

	o := s.open(t)
	p := rig.NewPhone(t, t.TempDir())
	visit(p.Tab, o)
	pairs := make([][2]string, len(ask))
	for i, q := range ask {
		pairs[i] = [2]string{q.name, q.body}
	}
	raw, err := json.Marshal(pairs)
	require.NoError(t, err)
	for _, size := range []struct {
		name, begin string
		answers     []string
	}{{"the pocket engine", "", pocket}, {"the whole engine", "await engine.widen();", answers}} {
		rig.Eval[bool](p.Tab, `(() => {
		const main = document.querySelector('script[type=module]').src;
		globalThis.answer = undefined;
		globalThis.asked = import(main.replace('main.js', 'engine.js')).then(async ({ Engine }) => {
			const engine = new Engine(() => {});
			`+size.begin+`
			const encoder = new TextEncoder();
			globalThis.answer = (name, body) => new Promise((resolve) => {
				engine.worker.onmessage = ({ data }) => { if (data.id !== undefined) resolve(data.body); };
				engine.worker.postMessage({ id: 1, name, body: encoder.encode(body) });
			});
			return true;
		});
		return true;
	})()`)
		rig.Wait[bool](p.Tab, "globalThis.answer !== undefined")
		rig.Eval[bool](p.Tab, "(globalThis.questions = "+string(raw)+", globalThis.digests = [], true)")
		rig.Eval[bool](p.Tab, `((async () => {
		for (const [name, body] of questions) {
			const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', await answer(name, body)));
			digests.push([...digest].map((one) => one.toString(16).padStart(2, '0')).join(''));
		}
	})(), true)`)
		for n := 0; n < len(ask); {
			n = rig.Wait[int](p.Tab, fmt.Sprintf("digests.length > %d && digests.length", n))
		}
		for i, there := range rig.Eval[[]string](p.Tab, "digests") {
			sum := sha256.Sum256([]byte(size.answers[i]))
			if hex.EncodeToString(sum[:]) != there {
				shown := rig.Eval[string](p.Tab, fmt.Sprintf("answer(...questions[%d]).then((body) => new TextDecoder().decode(body))", i))
				require.Equal(t, size.answers[i], shown, "%s, %s %.200s: natively, and in Chromium", size.name, ask[i].name, ask[i].body)
			}
		}
	}
	t.Logf("%d answers about %d entries are the same bytes natively and in Chromium", len(ask), len(lines))
}

// demoLines are the demo's entries as sealed records, with their addresses and
// the days they happened on.
func demoLines(t *testing.T) (lines, addresses, days []string) {
	t.Helper()
	chains := map[string]exchange.Chain{}
	for i, e := range demo.Eighteen() {
		chain, ok := chains[e.Device]
		if !ok {
			chain.Device = e.Device
		}
		noise := sha256.Sum256(fmt.Appendf(nil, "parity %d", i))
		kind := book.KindOf(e.Body)
		line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{
			Kind: kind.Name, V: kind.Version, Body: book.Encode(e.Body), Happened: record.StampOf(e.Happened), Written: record.StampOf(e.Written), By: e.By,
		}, record.NewID(e.Written, [10]byte(noise[:10])))
		require.NoError(t, err)
		chains[e.Device] = next
		lines, addresses = append(lines, string(line)), append(addresses, string(book.MakeAddress(next.Device, uint64(next.Seq))))
		if day := e.Happened.Format("2006-01-02"); len(days) == 0 || days[len(days)-1] != day {
			days = append(days, day)
		}
	}
	return lines, addresses, days
}

// parityForms are the rows of testdata/parity that a form of the phone can ask,
// as what is typed into it.
func parityForms(t *testing.T) (bodies []any) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/parity/reckon.csv")
	require.NoError(t, err)
	asks := map[string]struct {
		kind string
		keys map[string]string
	}{
		"true-proof":    {"reading", map[string]string{"indicated": "indicated", "temp": "temp", "indicated_correction": "indicated_correction", "temp_correction": "temp_correction"}},
		"true-strength": {"reading", map[string]string{"indicated": "indicated", "temp": "temp"}},
		"gauge-volume":  {"spirit gauged", map[string]string{"volume": "volume", "temp": "volume_temp", "proof": "strength"}},
		"gauge-weight":  {"spirit gauged", map[string]string{"net": "net", "gross": "gross", "tare": "tare", "proof": "strength"}},
	}
	for line := range strings.Lines(string(raw)) {
		name, rest, _ := strings.Cut(strings.TrimSpace(line), ",")
		form, ok := asks[name]
		if !ok {
			continue
		}
		body := map[string]string{}
		for pair := range strings.SplitSeq(rest, ",") {
			key, value, _ := strings.Cut(pair, "=")
			if to, ok := form.keys[key]; ok {
				body[to] = value
			}
		}
		bodies = append(bodies, map[string]any{"kind": form.kind, "body": body})
	}
	return bodies
}
