package engine_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// A phone is an engine with what the page keeps for it: the log and the chain.
type phone struct {
	t      *testing.T
	engine *engine.Engine
	chain  exchange.Chain
	lines  []string
	minute int
}

func newPhone(t *testing.T, device string) *phone {
	p := &phone{t: t, chain: exchange.Chain{Device: device}}
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	p.engine = engine.New(engine.Outside{Now: func() time.Time { return now }, Random: counting{new(byte)}})
	p.call("hello", map[string]any{"app": "test"})
	p.call("open", "")
	return p
}

// counting is a random source that never gives the same ten bytes twice.
type counting struct{ last *byte }

func (c counting) Read(p []byte) (int, error) {
	for i := range p {
		*c.last++
		p[i] = *c.last
	}
	return len(p), nil
}

// ask calls the engine; a string goes as it is, anything else as JSON. What
// stands beside the answer is its field beside.
func (p *phone) ask(name string, in any) map[string]any {
	raw, isText := in.(string)
	if !isText {
		b, err := json.Marshal(in)
		require.NoError(p.t, err)
		raw = string(b)
	}
	var out map[string]any
	answer, beside, _ := strings.Cut(string(p.engine.Call(name, []byte(raw))), "\n")
	require.NoError(p.t, json.Unmarshal([]byte(answer), &out), name)
	if beside != "" {
		out["beside"] = beside
	}
	return out
}

// call is ask for what must not be refused.
func (p *phone) call(name string, in any) map[string]any {
	out := p.ask(name, in)
	require.NotContains(p.t, out, "faults", "%s %v: %v", name, in, out["faults"])
	return out
}

// save does what the page does: seal, keep, add.
func (p *phone) save(kind string, body map[string]any) string {
	p.minute++
	return p.saveAt(fmt.Sprintf("2026-11-25T%02d:%02d:00-05:00", 9+p.minute/60, p.minute%60), kind, body)
}

// saveAt seals and keeps what happened, and was written, at a time.
func (p *phone) saveAt(at, kind string, body map[string]any) string {
	out := p.engine.Call("seal", must(p.t, map[string]any{"kind": kind, "body": body, "happened": at, "written": at, "by": "JS", "chain": p.chain, "contact": exchange.Contact{}}))
	var sealed struct {
		Address string
		Held    exchange.Held
		Next    exchange.Chain
		Faults  []struct{ Field, Sentence string }
	}
	require.NoError(p.t, json.Unmarshal(out, &sealed))
	require.Empty(p.t, sealed.Faults, "%s %v", kind, body)
	_, err := record.Decode([]byte(sealed.Held.Line))
	require.NoError(p.t, err, "the sealed line is a record")
	p.chain, p.lines = sealed.Next, append(p.lines, sealed.Held.Line)
	p.call("add", sealed.Held.Line)
	return sealed.Address
}

func must(t *testing.T, v any) []byte {
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return b
}

// sentences lists the faults of an answer by field.
func sentences(faults any) map[string]string {
	out := map[string]string{}
	list, _ := faults.([]any)
	for _, f := range list {
		m := f.(map[string]any)
		out[m["field"].(string)] = m["sentence"].(string)
	}
	return out
}

// The worked example of 27 CFR 30.23: 192.85 proof read at 72.10 °F, with
// corrections of −0.03 and +0.05, is 190.0 proof.
func ExampleEngine_Call() {
	e := engine.New(engine.Outside{Now: time.Now, Random: counting{new(byte)}})
	out := e.Call("preview", []byte(`{"kind":"reading","body":{"indicated":"192.85proof","temp":"72.10F","indicated_correction":"-0.03proof","temp_correction":"0.05F"}}`))
	var answer struct {
		Result struct{ Label, Figure, Unit string }
	}
	if err := json.Unmarshal(out, &answer); err != nil {
		panic(err)
	}
	fmt.Println(answer.Result.Label, answer.Result.Figure, answer.Result.Unit)
	// Output: True proof 190.0 proof
}

func TestReadingInEitherConvention(t *testing.T) {
	p := newPhone(t, "heron41")
	for _, row := range []struct{ why, figure, symbol, temp, label, unit, beside string }{
		{"proof at °F", "120.0", "proof", "60F", "True proof", "proof", "% vol"},
		{"proof at °C", "120.0", "proof", "15.5556C", "True proof", "proof", "% vol"},
		{"% vol at °C", "60.0", "%", "20C", "True strength at 20 °C", "% vol", "proof"},
		{"% vol at °F", "60.0", "%", "68F", "True strength at 20 °C", "% vol", "proof"},
	} {
		out := p.call("preview", map[string]any{"kind": "reading", "body": map[string]any{"indicated": row.figure + row.symbol, "temp": row.temp}})
		result := out["result"].(map[string]any)
		require.Equal(t, row.label, result["label"], row.why)
		require.Equal(t, row.unit, result["unit"], row.why)
		// At its own base temperature an instrument reads true: a law, not a table.
		require.Equal(t, row.figure, result["figure"], row.why)
		require.Contains(t, result["beside"].([]any)[0].(map[string]any)["value"], row.beside, row.why)
		require.NotEmpty(t, result["steps"], row.why)
	}
}

// house is a phone with a still, two receivers, a tank and a product.
func house(t *testing.T) (p *phone, still, receiver, tank, product string) {
	p = newPhone(t, "heron41")
	still = p.save("vessel registered", map[string]any{"name": "Pot still", "use": "still", "capacity": "150gal"})
	receiver = p.save("vessel registered", map[string]any{"name": "Receiver A", "use": "receiver", "capacity": "10"})
	tank = p.save("vessel registered", map[string]any{"name": "Tank 3", "use": "tank", "capacity": "300"})
	product = p.save("product registered", map[string]any{"name": "Quince brandy", "class": "brandy", "strength": "80proof", "bottle": "750mL", "per_case": "6"})
	return p, still, receiver, tank, product
}

func TestStillRoom(t *testing.T) {
	p, still, receiver, _, product := house(t)
	view := p.call("view", map[string]any{"what": "still"})
	require.Nil(t, view["run"], "no run is open yet")
	require.Contains(t, fmt.Sprint(view["cautions"]), "Heads are not for drinking")
	require.NotContains(t, fmt.Sprint(view["cautions"]), "fire marshal", "the page says that once")

	run := p.save("run started", map[string]any{"still": still, "product": product})
	cut := map[string]any{"run": run, "fraction": "hearts", "receiver": receiver}
	preview := p.call("preview", map[string]any{"kind": "receiver changed", "body": cut})
	require.Contains(t, sentences(preview["wrong"])["fraction"], "a cut needs a reading before it", "a cut before any reading is told at its field")

	p.save("draw read", map[string]any{"run": run, "indicated": "150", "temp": "60F", "volume": "0.5"})
	p.save("receiver changed", cut)
	p.save("draw read", map[string]any{"run": run, "indicated": "150", "temp": "60F", "volume": "1", "vapour": "178"})
	p.save("draw read", map[string]any{"run": run, "indicated": "150", "temp": "60F", "volume": "2.5", "note": "clean"})

	view = p.call("view", map[string]any{"what": "still"})
	shown := view["run"].(map[string]any)
	require.Equal(t, run, shown["address"])
	require.Equal(t, "hearts", shown["collecting"])
	require.Equal(t, "150proof", shown["last"].(map[string]any)["indicated"], "the last reading is offered for one tap")

	var chart, receivers, lines map[string]any
	for _, b := range view["blocks"].([]any) {
		block := b.(map[string]any)
		if c, ok := block["chart"].(map[string]any); ok {
			chart = c
		}
		if table, ok := block["table"].(map[string]any); ok {
			if strings.HasPrefix(table["title"].(string), "Pure alcohol") {
				receivers = table
			} else {
				lines = table
			}
		}
	}
	require.Len(t, chart["lines"].([]any)[0].(map[string]any)["points"], 3)
	require.Len(t, chart["bands"], 2, "heads and hearts")
	for _, b := range chart["bands"].([]any) {
		band := b.(map[string]any)
		require.LessOrEqual(t, band["from"], band["to"])
	}
	require.Len(t, lines["rows"], 4)
	require.Contains(t, fmt.Sprint(lines["rows"]), "clean")
	rows := receivers["rows"].([]any)
	require.Len(t, rows, 2)
	// At 60 °F nothing is corrected, and a proof gallon is a gallon at 100 proof (27 CFR 30.11): 2.5 gallons of
	// 150 proof throughout are 3.75.
	require.Contains(t, fmt.Sprint(rows[1]), "text:3.75")
	require.Contains(t, fmt.Sprint(rows[1]), "Hearts into Receiver A")
}

// A reading without a volume takes nothing away from what was measured before.
func TestReceiversUpToTheirLastVolume(t *testing.T) {
	p, still, _, _, _ := house(t)
	run := p.save("run started", map[string]any{"still": still, "class": "brandy"})
	read := func(more map[string]any) string {
		body := map[string]any{"run": run, "indicated": "150", "temp": "60F"}
		maps.Copy(body, more)
		p.save("draw read", body)
		return fmt.Sprint(p.call("view", map[string]any{"what": "still"})["blocks"])
	}
	require.Contains(t, read(map[string]any{"volume": "1"}), "text:1.50", "a gallon of 150 proof at 60 °F is 1.5 proof gallons (27 CFR 30.11)")
	require.Contains(t, read(nil), "text:1.50", "one volume gives no flow to go on with")
	require.Contains(t, read(nil), "up to its last volume")
}

func TestBottlingFloor(t *testing.T) {
	p, _, _, tank, product := house(t)
	p.save("spirit received", map[string]any{"vessel": tank, "volume": "100gal", "volume_temp": "60F", "strength": "80proof",
		"reason": "on hand at opening", "class": "brandy", "account": "processing"})
	run := p.save("bottling opened", map[string]any{"product": product, "tank": tank, "volume": "100", "volume_temp": "60F", "strength": "80proof"})
	preview := p.call("preview", map[string]any{"kind": "bottles counted", "body": map[string]any{"bottling": run, "cases": "10", "loose": "3"}})
	require.Equal(t, "63", preview["result"].(map[string]any)["figure"])
	p.save("bottles counted", map[string]any{"bottling": run, "cases": "80", "loose": "3"})
	p.save("bottles spoiled", map[string]any{"bottling": run, "reason": "broken", "bottles": "2"})

	view := p.call("view", map[string]any{"what": "bottling"})
	tally := view["blocks"].([]any)[0].(map[string]any)["result"].(map[string]any)
	require.Equal(t, "483", tally["figure"])
	// 100 gal of 3.785411784 L in bottles of 0.75 L are 504.72; 483 and 2 broken leave 19.7 wanting.
	require.Contains(t, fmt.Sprint(tally["beside"]), "504.7")
	require.Contains(t, fmt.Sprint(tally["beside"]), "\u221219.7")
}

func TestGaugeShowsBothConventions(t *testing.T) {
	p, _, _, tank, _ := house(t)
	out := p.call("preview", map[string]any{"kind": "spirit gauged", "body": map[string]any{"vessel": tank, "volume": "53gal", "volume_temp": "60F", "strength": "120proof"}})
	result := out["result"].(map[string]any)
	require.Equal(t, "63.6", result["figure"], "53 gal at 120 proof and 60 °F: 53 × 1.20 = 63.6 proof gallons (27 CFR 30.11)")
	require.Contains(t, fmt.Sprint(result["beside"]), "L")
	out = p.call("preview", map[string]any{"kind": "spirit gauged", "body": map[string]any{"vessel": tank, "volume": "53gal"}})
	require.NotContains(t, out, "result", "without a strength there is no figure")
	require.NotEmpty(t, out["wrong"])
}

func TestFaultsAreSentencesAtTheirFields(t *testing.T) {
	p, still, _, tank, _ := house(t)
	run := p.save("run started", map[string]any{"still": still, "class": "brandy"})
	for _, row := range []struct {
		why, kind, field, says string
		body                   map[string]any
	}{
		{"a letter in a number", "draw read", "indicated", "“12o”", map[string]any{"run": run, "indicated": "12o", "temp": "60"}},
		{"a reading beyond the scale", "draw read", "indicated", "206 proof", map[string]any{"run": run, "indicated": "212", "temp": "60"}},
		{"a temperature beyond the field", "draw read", "temp", "40", map[string]any{"run": run, "indicated": "120", "temp": "50C"}},
		{"a missing temperature", "draw read", "temp", "needed", map[string]any{"run": run, "indicated": "120"}},
		{"a run that is not there", "draw read", "run", "run", map[string]any{"run": "heron41-999", "indicated": "120", "temp": "60"}},
		{"more drawn than is held", "spirit moved", "from", "holds nothing", map[string]any{"from": tank, "to": still}},
	} {
		out := p.ask("seal", map[string]any{"kind": row.kind, "body": row.body, "happened": "2026-11-25T10:00:00Z", "written": "2026-11-25T10:00:00Z", "by": "JS", "chain": p.chain})
		require.Contains(t, sentences(out["faults"])[row.field], row.says, "%s: %v", row.why, out)
	}
}

func TestAmendment(t *testing.T) {
	p, still, _, _, _ := house(t)
	run := p.save("run started", map[string]any{"still": still, "class": "brandy"})
	read := p.save("draw read", map[string]any{"run": run, "indicated": "158.2", "temp": "60"})

	amend := map[string]any{"entry": read, "body": map[string]any{"run": run, "indicated": "158.2x", "temp": "60"}}
	out := p.ask("seal", map[string]any{"kind": "entry amended", "body": amend, "happened": "2026-11-25T10:00:00Z", "written": "2026-11-25T10:00:00Z", "by": "JS", "chain": p.chain})
	require.Contains(t, sentences(out["faults"]), "indicated", "the inner body's faults stand at its own fields")
	require.Contains(t, sentences(out["faults"]), "why")

	p.save("entry amended", map[string]any{"entry": read, "why": "misread by one", "body": map[string]any{"run": run, "indicated": "157.2", "temp": "60"}})
	view := p.call("view", map[string]any{"what": "entry", "address": read})
	require.Equal(t, "157.2proof", view["values"].(map[string]any)["indicated"])
	history := view["history"].([]any)
	require.Len(t, history, 2)
	require.Equal(t, "misread by one", history[1].(map[string]any)["why"])
	require.Contains(t, fmt.Sprint(history[1]), "157.2 proof, was 158.2 proof")

	office := p.call("view", map[string]any{"what": "office", "day": "2026-11-25"})
	require.Contains(t, fmt.Sprint(office["entries"]), "amended by")
}

// Every kind can be described, and a form filled with what an entry says says
// it again.
func TestEveryEntryRefillsItsForm(t *testing.T) {
	p, still, _, _, product := house(t)
	run := p.save("run started", map[string]any{"still": still, "product": product, "note": "“quotes” \\ and\nlines"})
	for _, address := range []string{product, run} {
		view := p.call("view", map[string]any{"what": "entry", "address": address})
		form := p.call("form", map[string]any{"kind": view["kind"]})
		require.NotEmpty(t, form["fields"])
		again := p.save(view["kind"].(string), view["values"].(map[string]any))
		same := p.call("view", map[string]any{"what": "entry", "address": again})
		require.Equal(t, view["values"], same["values"])
		require.Equal(t, view["says"], same["says"])
	}
}

func TestOpenHoldsWhateverThePhoneHolds(t *testing.T) {
	p, _, _, _, _ := house(t)
	lines := strings.Join(p.lines, "\n")
	want := p.engine.Call("view", []byte(`{"what":"office","day":"2026-11-25"}`))

	other := newPhone(t, "wren20")
	out := other.call("open", lines)
	require.Equal(t, float64(4), out["entries"])
	require.True(t, bytes.Equal(want, other.engine.Call("view", []byte(`{"what":"office","day":"2026-11-25"}`))), "the same entries show the same office")
	require.Equal(t, float64(4), other.call("add", lines)["entries"], "told twice, held once")

	newer := strings.NewReplacer(`"vessel registered"`, `"moon phase noted"`, `"heron41"`, `"otter12"`, `"id":"0`, `"id":"1`).Replace(p.lines[0])
	out = other.call("add", "not a record\n"+newer)
	require.Equal(t, float64(2), out["incomplete"], "a broken line and an unknown kind are counted, not fatal")
	office := other.call("view", map[string]any{"what": "office", "day": "2026-11-25"})
	require.Contains(t, fmt.Sprint(office["blocks"]), "not understood")
}

func TestCallsThatAreNone(t *testing.T) {
	p := newPhone(t, "heron41")
	for _, row := range []struct{ name, body string }{
		{"sing", "{}"}, {"view", `{"what":"cellar door"}`}, {"view", `{`}, {"form", `{"kind":"moon phase noted"}`}, {"seal", `{"kind":"draw read","body":[]}`},
		{"view", `{"what":"entry","address":"heron41-77"}`},
	} {
		out := p.ask(row.name, row.body)
		require.NotEmpty(t, sentences(out["faults"]), "%s %s", row.name, row.body)
		for field, says := range sentences(out["faults"]) {
			require.Regexp(t, `^[“A-Z].*\.$`, says, "%s %s: a sentence for %s", row.name, row.body, field)
		}
	}
	fresh := engine.New(engine.Outside{Now: time.Now, Random: counting{new(byte)}})
	require.Contains(t, string(fresh.Call("exchange", []byte(`{"online":{}}`))), "came before hello")
}

// The exchange's effects come out as the page does them: opened without a name
// it waits for a code, joins with it, and stores the name it got.
func TestExchange(t *testing.T) {
	p := newPhone(t, "")
	out := p.call("exchange", map[string]any{"opened": map[string]any{"chain": exchange.Chain{}, "contact": map[string]any{}, "unsent": []any{}}})
	require.Equal(t, true, effect(t, out, "tell")["need_code"])
	out = p.call("exchange", map[string]any{"join": map[string]any{"code": "ABCD2345"}})
	send := effect(t, out, "send")
	require.Equal(t, exchange.PathJoin, send["path"])
	out = p.call("exchange", map[string]any{"replied": map[string]any{"id": send["id"], "status": 403, "wall_ms": 1,
		"body": `{"faults":[{"code":"wrong-code","field":"code","value":"","limit":"this code is not open","remedy":"ask for a new one"}]}`}})
	require.Contains(t, effect(t, out, "tell")["problem"].(map[string]any)["sentence"], "This code is not open", "a refused code is told in the office's own words")
}

// Bodies and lines stand beside the JSON, and what was pulled is folded once
// the log has it, not sooner, without being read from there.
func TestPulledBesideTheJSON(t *testing.T) {
	theirs := newPhone(t, "otter17")
	theirs.save("vessel registered", map[string]any{"name": "Tank “Ö”", "use": "tank", "capacity": "250gal"})
	theirs.save("vessel registered", map[string]any{"name": "Tank 2", "use": "tank", "capacity": "250gal"})
	p := newPhone(t, "heron41")
	entries := func() float64 { return p.call("add", "")["entries"].(float64) }
	event := func(event any, body string) map[string]any {
		head, err := json.Marshal(event)
		require.NoError(t, err)
		return p.call("exchange", string(head)+"\n"+body)
	}

	unsent := []exchange.Held{{ID: "x", State: exchange.Unsent}, {ID: "y", State: exchange.Unsent}}
	out := p.ask("exchange", string(must(t, map[string]any{"opened": exchange.Opened{Chain: p.chain, Unsent: unsent}}))+"\nonly one")
	require.NotEmpty(t, sentences(out["faults"]), "as many lines as entries, or none is whose it should be")
	out = event(map[string]any{"opened": exchange.Opened{Chain: p.chain, Unsent: unsent[:1]}}, theirs.lines[0])
	require.Equal(t, exchange.PathPush, effect(t, out, "send")["path"])
	require.NotContains(t, effect(t, out, "send"), "body")
	require.Regexp(t, `^\{"proto":1,.*\}\n`+regexp.QuoteMeta(theirs.lines[0])+`\n$`, out["beside"], "the request's body, as it goes out")
	event(map[string]any{"failed": map[string]any{"id": effect(t, out, "send")["id"]}}, "")
	out = event(map[string]any{"online": map[string]any{}}, "")
	out = event(map[string]any{"replied": exchange.Replied{ID: int64(effect(t, out, "send")["id"].(float64)), Status: 503}}, "")

	pull := int64(effect(t, out, "send")["id"].(float64))
	page := pageOf(theirs)
	out = event(map[string]any{"replied": exchange.Replied{ID: pull, Status: 200}}, string(page.Bytes()))
	require.Len(t, effect(t, out, "store")["put"], 2)
	require.NotContains(t, effect(t, out, "store")["put"].([]any)[0], "line")
	require.Equal(t, strings.Join(theirs.lines, "\n")+"\n", out["beside"])
	require.Zero(t, entries(), "the log does not hold them yet")
	out = event(map[string]any{"stored": map[string]any{}}, "")
	require.EqualValues(t, 2, out["took"])
	require.EqualValues(t, 2, entries())
	require.EqualValues(t, 2, p.call("add", strings.Join(theirs.lines, "\n"))["entries"], "read again they are the same")
	require.Zero(t, event(map[string]any{"stored": map[string]any{}}, "")["took"])
}

// pageOf is what a phone wrote as one page of the office.
func pageOf(p *phone) exchange.Page {
	page := exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e"}}
	for _, line := range p.lines {
		page.Lines, page.Next = append(page.Lines, []byte(line)), page.Next.Next([]byte(line))
	}
	return page
}

// A page that the log could not store, or that an earlier life of the engine
// gave it, is not folded.
func TestPulledAndNotStored(t *testing.T) {
	theirs := newPhone(t, "otter17")
	theirs.save("vessel registered", map[string]any{"name": "Tank 1", "use": "tank", "capacity": "250gal"})
	page := pageOf(theirs)
	for _, between := range []string{`{"not_stored":{"reason":"quota"}}`, `{"opened":{"chain":{"device":"heron41"}}}`} {
		p := newPhone(t, "heron41")
		out := p.call("exchange", `{"opened":{"chain":{"device":"heron41"}}}`)
		reply, err := json.Marshal(map[string]any{"replied": exchange.Replied{ID: int64(effect(t, out, "send")["id"].(float64)), Status: 200}})
		require.NoError(t, err)
		p.call("exchange", string(reply)+"\n"+string(page.Bytes()))
		p.call("exchange", between)
		require.Zero(t, p.call("exchange", `{"stored":{}}`)["took"], between)
		require.Zero(t, p.call("add", "")["entries"], between)
	}
}

func effect(t *testing.T, out map[string]any, name string) map[string]any {
	for _, e := range out["effects"].([]any) {
		if found, ok := e.(map[string]any)[name].(map[string]any); ok {
			return found
		}
	}
	require.Failf(t, "no such effect", "%s in %v", name, out)
	return nil
}
