package engine_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/webapp/engine"
)

// aRun opens a run of 80 proof in cases of 12 × 750 mL on 100 gallons.
func aRun(p *phone, more map[string]any) (run, product string) {
	tank := p.save("vessel registered", map[string]any{"name": "Bottling tank", "use": "bottling tank", "capacity": "200gal"})
	registered := map[string]any{"name": "Quince brandy", "class": "brandy", "strength": "80", "bottle": "750mL", "per_case": "12", "approval": "HA-101"}
	for key, value := range more {
		registered[key] = value
	}
	product = p.save("product registered", registered)
	p.save("spirit received", map[string]any{"vessel": tank, "volume": "100gal", "volume_temp": "60F", "strength": "80proof", "reason": "in bond", "class": "brandy", "account": "processing"})
	return p.save("bottling opened", map[string]any{"product": product, "tank": tank, "volume": "100gal", "volume_temp": "60F", "strength": "80proof", "lot_code": "26K25", "first_case": "41"}), product
}

func station(p *phone, run, at string, more ...string) map[string]any {
	in := map[string]any{"what": "station", "run": run, "station": at, "device": p.chain.Device}
	for i := 0; i+1 < len(more); i += 2 {
		in[more[i]] = more[i+1]
	}
	return p.call("view", in)
}

func TestAStationShowsWhatIsCountedThere(t *testing.T) {
	p := newPhone(t, "heron41")
	empty := station(p, "", "label")
	assert.Nil(t, empty["run"], "before the run has come from the office")
	run, _ := aRun(p, nil)
	picked := station(p, run, "")
	assert.Empty(t, picked["station"], "nobody has said yet where the phone stands")
	assert.Len(t, picked["stations"], 6)
	assert.Nil(t, station(p, run, "label")["last"])

	for range 2 {
		p.save("bottles counted", map[string]any{"bottling": run, "station": "label", "cases": "1"})
	}
	p.save("bottles counted", map[string]any{"bottling": run, "station": "label", "loose": "3"})
	v := station(p, run, "label")
	r := v["result"].(map[string]any)
	assert.Equal(t, "2 cases, 3 loose", fmt.Sprint(r["figure"], " ", r["unit"]))
	assert.Equal(t, "+12 bottles", v["adds"])
	assert.Contains(t, fmt.Sprint(r["beside"]), "27 bottles")
	assert.Contains(t, v["last"].(map[string]any)["says"], "3 bottles, ")
	assert.Empty(t, v["beware"])

	spoil := p.save("bottles spoiled", map[string]any{"bottling": run, "station": "label", "reason": "label", "bottles": "1"})
	v = station(p, run, "label")
	assert.Equal(t, spoil, v["last"].(map[string]any)["entry"])
	assert.Contains(t, fmt.Sprint(v["spoils"]), "count:1 label:Label reason:label")
	p.save("entry voided", map[string]any{"entry": spoil, "why": "taken back at the station"})
	assert.NotContains(t, fmt.Sprint(station(p, run, "label")["spoils"]), "count:1")
	assert.Contains(t, p.lines[len(p.lines)-1], `"bottling":"`+run+`"`, "who sees the run only is given what was taken back")
	assert.Nil(t, station(p, run, "case")["last"], "another station's count is not undone from here")
	assert.Equal(t, "0", station(p, run, "case")["result"].(map[string]any)["figure"])

	other := &phone{t: t, chain: exchange.Chain{Device: "otter22"}, minute: p.minute}
	other.engine = engine.New(engine.Outside{Now: func() time.Time { return time.Date(2026, 11, 25, 14, 30, 0, 0, time.UTC) }, Random: counting{new(byte)}})
	other.call("open", strings.Join(p.lines, "\n"))
	other.save("bottles counted", map[string]any{"bottling": run, "station": "label", "cases": "5"})
	v = station(other, run, "label")
	assert.Contains(t, fmt.Sprint(v["result"]), "7 ")
	assert.Contains(t, v["last"].(map[string]any)["says"], "5 cases, ", "its own last, whatever others did")
	assert.Contains(t, v["beware"], "heron41")
}

func TestAPaceIsForWhoLikesOne(t *testing.T) {
	p := newPhone(t, "heron41")
	run, _ := aRun(p, nil)
	assert.Empty(t, station(p, run, "case")["pace"])
	for range 4 {
		p.save("bottles counted", map[string]any{"bottling": run, "cases": "1"})
	}
	assert.Equal(t, "4 of 4 cases. The goal is reached.", station(p, run, "case", "goal", "4")["pace"])
	assert.Contains(t, station(p, run, "case", "goal", "60")["pace"], "4 of 60 cases.")
	assert.Contains(t, station(p, run, "case", "goal", "lots")["pace"], "“lots” is no number of cases")

	later := &phone{t: t, chain: exchange.Chain{Device: "otter22"}}
	later.engine = engine.New(engine.Outside{Now: func() time.Time { return time.Date(2026, 11, 25, 9, 35, 0, 0, time.FixedZone("", -5*3600)) }, Random: counting{new(byte)}})
	later.call("open", strings.Join(p.lines, "\n"))
	// Four cases within the half hour since the first, at 09:05: eight an hour, and 56 more in seven hours.
	assert.Equal(t, "4 of 60 cases. 8 an hour; at this pace the goal at about 16:35.", station(later, run, "case", "goal", "60")["pace"])
}

// 100 gallons are 378.541 L; 0.65 % stay in the line; bottles of 750 mL: 501.
func TestARunSaysWhatItWillGiveAndWhatIsShort(t *testing.T) {
	p := newPhone(t, "heron41")
	glass := p.save("goods registered", map[string]any{"name": "Tall 750 clear", "type": "bottle", "counted_in": "pieces"})
	carton := p.save("goods registered", map[string]any{"name": "Carton of 12", "type": "carton", "counted_in": "pieces"})
	p.save("goods received", map[string]any{"good": glass, "pieces": "400"})
	p.save("goods received", map[string]any{"good": carton, "pieces": "60"})
	run, product := aRun(p, map[string]any{"goods": []map[string]any{{"good": glass}, {"good": carton, "per": "case"}}})
	v := p.call("view", map[string]any{"what": "run", "run": run})
	said := fmt.Sprint(v["blocks"])
	assert.Contains(t, said, "figure:501")
	assert.Contains(t, said, "41 cases, 9 loose")
	assert.Contains(t, said, "Short of Tall 750 clear: 505 needed, 400 on hand, enough for 400 bottles.")
	assert.NotContains(t, said, "Short of Carton")
	assert.Contains(t, said, "within ±0.3 % vol of the label")
	for _, want := range []string{"HA-101", "26K25", "from 41"} {
		assert.Contains(t, said, want)
	}
	draws := v["draws"].([]any)
	require.Len(t, draws, 2)
	first := draws[0].(map[string]any)
	assert.Contains(t, first["title"], "Draw 400 Tall 750 clear")
	p.save("goods issued", first["values"].(map[string]any))
	p.save("bottles counted", map[string]any{"bottling": run, "cases": "3"})
	v = p.call("view", map[string]any{"what": "run", "run": run})
	assert.Len(t, v["draws"], 1, "what is at the line is not drawn again")
	assert.Contains(t, fmt.Sprint(v["blocks"]), "Short of Tall 750 clear: 505 needed, 400 on hand", "neither on hand in the store nor twice")
	assert.Contains(t, fmt.Sprint(v["blocks"]), "41 to 43, by now")
	begin := v["begin"].(map[string]any)
	assert.Equal(t, "26K25A", begin["lot_code"], "the second of the day (27 CFR 19.485(a))")
	assert.Equal(t, "44", begin["first_case"])
	assert.Len(t, v["checks"], 5)
	assert.Equal(t, []any{product}, v["named"].([]any)[:1])

	looked := func(strength string) string {
		return fmt.Sprint(p.call("preview", map[string]any{"kind": "bottling opened", "body": map[string]any{"product": product, "tank": v["named"].([]any)[1], "volume": "100gal", "volume_temp": "60F", "strength": strength}})["result"])
	}
	assert.Contains(t, looked("82proof"), "off the label by 1 % vol")
	assert.Contains(t, looked("80proof"), "Short of Tall 750 clear", "before it is opened, too")
}

// A product without a list of goods goes by what its last run drew.
func TestARunLearnsItsGoodsFromTheLast(t *testing.T) {
	p := newPhone(t, "heron41")
	seal := p.save("goods registered", map[string]any{"name": "Neck seal", "type": "seal", "counted_in": "pieces"})
	lot := p.save("goods received", map[string]any{"good": seal, "pieces": "600"})
	run, product := aRun(p, nil)
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "run", "run": run})["blocks"]), "dry goods are not registered")
	p.save("goods issued", map[string]any{"lot": lot, "pieces": "520", "bottling": run})
	named := p.call("view", map[string]any{"what": "run", "run": run})["named"].([]any)
	require.Len(t, named, 2, "the product, the tank")
	next := p.call("preview", map[string]any{"kind": "bottling opened", "body": map[string]any{"product": product, "tank": named[1], "volume": "100gal", "volume_temp": "60F", "strength": "80proof"}})["result"]
	assert.Contains(t, fmt.Sprint(next), "Short of Neck seal: 505 needed, 80 on hand, enough for 80 bottles.")
	assert.Contains(t, fmt.Sprint(next), "as its last run drew them")
}

// A bottle of 750 mL of 80 proof weighs 712.3 g net, in air at 60 °F (trade
// note, worked out from OIML R 22, within 0.1); one bottle may be off by 2 % (27 CFR
// 19.356): 735 to 765 mL.
func TestTheFillerIsToldByTheChecks(t *testing.T) {
	p := newPhone(t, "heron41")
	assert.Nil(t, p.call("view", map[string]any{"what": "fill"})["run"])
	run, _ := aRun(p, nil)
	look := func() map[string]any { return p.call("view", map[string]any{"what": "fill", "run": run}) }
	v := look()
	assert.Equal(t, "No bottle was weighed yet", v["told"])
	now := v["now"].(map[string]any)
	assert.Equal(t, "712.4", now["figure"])
	assert.Contains(t, fmt.Sprint(now["beside"]), "698.1 to 726.6 g")

	bottles := func(full ...string) map[string]any {
		var list []map[string]any
		for _, g := range full {
			list = append(list, map[string]any{"empty": "400g", "full": g})
		}
		return map[string]any{"bottling": run, "bottles": list}
	}
	before := p.call("preview", map[string]any{"kind": "fill checked", "body": bottles("1112.4g")})["result"].(map[string]any)
	assert.Equal(t, "750.0", before["figure"])
	steps := before["steps"].([]any)
	assert.Contains(t, fmt.Sprint(steps[len(steps)-1]), "750.0 mL", "as package fill works it out")
	assert.Contains(t, fmt.Sprint(before["says"]), "Go on.")

	p.save("fill checked", bottles("1112.35g", "1112.6g", "1112.1g"))
	v = look()
	assert.Equal(t, "Go on", v["told"])
	said := fmt.Sprint(v["blocks"])
	for _, want := range []string{"735.0 to 765.0 mL", "not judged: the table of Handbook 133 has not been typed in", "1 and 2: about as many over as under", "of 24 that the plan asks for", "within ±0.3 % vol of the label", "not read yet"} {
		assert.Contains(t, said, want)
	}
	chart := v["blocks"].([]any)[0].(map[string]any)["chart"].(map[string]any)
	assert.Len(t, chart["marks"], 5)

	told := p.call("preview", map[string]any{"kind": "fill checked", "body": bottles("1090g", "1112g")})["result"]
	assert.Contains(t, fmt.Sprint(told), "Stop and re-set: a bottle is outside the law's limit", "before it is saved")
	body := bottles("1090g", "1112g")
	body["strength"], body["action"] = "78proof", "stopped and set again"
	p.save("fill checked", body)
	v = look()
	assert.Equal(t, "Stop and re-set", v["told"])
	said = fmt.Sprint(v["blocks"])
	assert.Contains(t, said, "off the label by -1 % vol")
	assert.Contains(t, said, "done: stopped and set again")
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "run", "run": run})["blocks"]), "Outside ±2 % of 750 mL", "the run's screen asks about it")

	only := p.call("preview", map[string]any{"kind": "fill checked", "body": map[string]any{"bottling": run, "strength": "80.4proof"}})["result"]
	assert.Contains(t, fmt.Sprint(only), "within ±0.3")
}

func TestAFillCheckIsDue(t *testing.T) {
	p := newPhone(t, "heron41")
	run, _ := aRun(p, nil)
	p.save("fill checked", map[string]any{"bottling": run, "bottles": []map[string]any{{"head": "1", "empty": "400g", "full": "1112.3g"}, {"head": "2", "empty": "400g", "full": "1126.8g"}}})
	v := p.call("view", map[string]any{"what": "fill", "run": run})
	assert.Contains(t, fmt.Sprint(v["why"]), "Head 2: stop and re-set")
	assert.NotContains(t, fmt.Sprint(v["why"]), "due")
	assert.NotContains(t, fmt.Sprint(v["why"]), "Head 1")
	p.save("bottles counted", map[string]any{"bottling": run, "cases": "10"})
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "fill", "run": run})["why"]), "A check is due")
	p.save("fill checked", map[string]any{"bottling": run, "bottles": []map[string]any{{"empty": "400g", "full": "1112.3g"}}})
	assert.NotContains(t, fmt.Sprint(p.call("view", map[string]any{"what": "fill", "run": run})["why"]), "due")
	form := p.call("form", map[string]any{"kind": "fill checked"})
	assert.NotContains(t, fmt.Sprint(form["fields"]), "key:gross", "no amount is asked for where a strength is read")
}
