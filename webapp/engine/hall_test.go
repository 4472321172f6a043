package engine_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	trade "gaugebook/calc/must"
	"gaugebook/calc/quantity"
	"gaugebook/calc/reckon"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// figures of a preview's result, by label.
func beside(t *testing.T, result map[string]any) map[string]string {
	out := map[string]string{}
	list, _ := result["beside"].([]any)
	for _, p := range list {
		m := p.(map[string]any)
		out[m["label"].(string)] = m["value"].(string)
	}
	return out
}

func says(result map[string]any) string { return fmt.Sprint(result["says"]) }

func (p *phone) preview(kind string, body map[string]any) map[string]any {
	p.t.Helper()
	out := p.call("preview", map[string]any{"kind": kind, "body": body})
	require.Contains(p.t, out, "result", "%s %v: %v", kind, body, out["wrong"])
	result := out["result"].(map[string]any)
	require.NotNil(p.t, result["steps"], "the page counts the steps of %s %v", kind, body)
	require.NotNil(p.t, result["beside"], "the page lists what goes with %s %v", kind, body)
	return result
}

// metric is a phone of a metric book with so many fermenters of 500 L.
func metric(t *testing.T, fermenters int) (p *phone, addresses []string) {
	p = newPhone(t, "heron41")
	p.save("book opened", map[string]any{"name": "Hollow Alder", "convention": "metric"})
	for i := range fermenters {
		addresses = append(addresses, p.save("vessel registered", map[string]any{"name": fmt.Sprintf("Fermenter %d", i+1), "use": "fermenter", "capacity": "500L"}))
	}
	return p, addresses
}

// A delivery's figures are those of must.Receive: damsons of 15.2 Bx, whose
// published marks are checked in calc/must.
func TestDeliveryAtTheGate(t *testing.T) {
	p, _ := metric(t, 2)
	body := map[string]any{"material": "fruit", "variety": "Damsons", "gross": "1240kg", "tare": "200kg", "crates": "4", "crate_tare": "10kg", "price": "1350EUR",
		"samples": []map[string]any{{"sugar": "15.0Bx"}, {"sugar": "15.4Bx"}}}
	result := p.preview("delivery received", body)
	r, err := trade.Receive(trade.Delivery{Material: "damson", Net: quantity.MustParse("1000", quantity.Kilogram), Price: quantity.MustParse("1350", quantity.Euro),
		Samples:    []quantity.Reading{quantity.MustParse("15.0", quantity.Brix), quantity.MustParse("15.4", quantity.Brix)},
		Fermenters: []quantity.Reading{quantity.MustParse("500", quantity.Litre), quantity.MustParse("500", quantity.Litre)}})
	require.NoError(t, err)
	assert.Equal(t, quantity.Fixed(r.PureAlcohol.Value, 1), result["figure"])
	by := beside(t, result)
	assert.Equal(t, quantity.Fixed(r.Low.Value, 1)+" to "+quantity.Fixed(r.High.Value, 1), by["range"])
	assert.Equal(t, "152 kg", by["sugar in"], "1,000 kg × 15.2 %")
	assert.Equal(t, "1.35 EUR a kg", by["cost"])
	assert.Equal(t, "1000 kg", by["net weight"], "1,240 less 200 less four crates of 10")
	assert.Contains(t, says(result), "Too big", "about 940 L of mash, and two fermenters of 400 L to fill")
	assert.Contains(t, fmt.Sprint(result["steps"]), "German Brennereiordnung", "every mark with its source")

	body["gross"], body["crates"] = "540kg", nil
	delete(body, "crates")
	delete(body, "crate_tare")
	assert.Contains(t, says(p.preview("delivery received", body)), "Fills one fermenter of the 2", "340 kg")

	unknown := p.preview("delivery received", map[string]any{"material": "fruit", "variety": "Medlar", "net": "100kg"})
	assert.Equal(t, "Net weight", unknown["label"])
	assert.Contains(t, says(unknown), "No published yield", "nothing is made up for a fruit without a table")
}

func TestWordsOfPeopleForMaterials(t *testing.T) {
	p, _ := metric(t, 1)
	for variety, name := range map[string]string{"Cider apples": "apple", "Sour cherries": "sour cherry", "cherries, black": "sweet cherry", "Winter rye": "rye",
		"Dark molasses": "cane molasses", "Blackcurrants": "black currant", "Quince, row 4": "quince", "Peaches": "peach", "Sloes": "sloe", "Raspberries": "raspberry"} {
		material := "fruit"
		switch name {
		case "rye":
			material = "grain"
		case "cane molasses":
			material = "molasses"
		}
		result := p.preview("delivery received", map[string]any{"material": material, "variety": variety, "net": "100kg"})
		assert.Contains(t, result["method"], "Reckoned as "+name+".", variety)
	}
	for _, variety := range []string{"Grapefruit", "Pineapple", "Appleton barley wine"} {
		result := p.preview("delivery received", map[string]any{"material": "fruit", "variety": variety, "net": "100kg"})
		assert.NotContains(t, fmt.Sprint(result["method"]), "Reckoned as apple", variety)
		assert.NotContains(t, fmt.Sprint(result["method"]), "Reckoned as grape.", variety)
	}
}

// A whole autumn's lot: gate, preparation, mash, yeast, checks, board.
func TestFromTheGateToTheBoard(t *testing.T) {
	p, fermenters := metric(t, 2)
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "400kg", "price": "400EUR", "samples": []map[string]any{{"sugar": "13.0Bx"}}})
	prepared := p.preview("material prepared", map[string]any{"lot": lot, "prepared": "320kg", "culls": "60kg", "peel": "20kg"})
	assert.Equal(t, "80.0", prepared["figure"])
	assert.Equal(t, "1.25 EUR a kg", beside(t, prepared)["cost prepared"], "400 EUR over 320 kg")
	p.save("material prepared", map[string]any{"lot": lot, "prepared": "320kg", "culls": "60kg", "peel": "20kg"})

	form := p.call("form", map[string]any{"kind": "mash made"})
	assert.Contains(t, fmt.Sprint(form["fields"]), "Quince, 320 kg, came 2026-11-25", "what is on hand is offered")
	mash := map[string]any{"fermenter": fermenters[0], "type": "fruit mash", "parts": []map[string]any{{"lot": lot, "weight": "320kg"}}, "volume": "310L", "ph": "3.6pH", "mash_temp": "18C", "sugar": "13.0Bx", "sample_temp": "20C"}
	result := p.preview("mash made", mash)
	x, err := trade.Expect(trade.Batch{Material: "quince", Prepared: quantity.MustParse("320", quantity.Kilogram), Extract: quantity.MustParse("13.0", quantity.Brix)})
	require.NoError(t, err)
	assert.Equal(t, quantity.Fixed(x.PureAlcohol.Value, 1), result["figure"])
	assert.Contains(t, says(result), "pH 3.6 is high")
	assert.Equal(t, "62 % full", beside(t, result)["Fermenter 1"], "310 of 500 L")
	mash["volume"] = "460L"
	assert.Contains(t, says(p.preview("mash made", mash)), "no more than 85 %")
	mash["volume"] = "310L"
	m := p.save("mash made", mash)

	yeast := p.preview("addition made", map[string]any{"vessel": fermenters[0], "what": "yeast", "weight": "62g"})
	assert.Equal(t, "20.0", yeast["figure"], "62 g into 310 L")
	assert.Equal(t, "31 g to 93 g", beside(t, yeast)["usual, dry"], "10 to 30 g in 100 L")
	p.save("addition made", map[string]any{"vessel": fermenters[0], "what": "yeast", "weight": "62g"})
	acid := p.preview("addition made", map[string]any{"vessel": fermenters[0], "what": "acid", "volume": "100mL"})
	assert.Contains(t, says(acid), "Never a blind dose")

	// The phone's clock of this test stands at 9:00 UTC; entries are of 9:01 on.
	check := p.preview("ferment checked", map[string]any{"vessel": fermenters[0], "gravity": "1.020sg", "mash_temp": "20C"})
	c, err := trade.Correct(trade.Sample{Reading: quantity.MustParse("1.020", quantity.SG), Temp: quantity.MustParse("20", quantity.Celsius), Fermenting: true})
	require.NoError(t, err)
	a, err := trade.Attenuate(trade.Attenuation{Original: quantity.MustParse("13.0", quantity.Brix), Present: c.Extract.Reading(6)})
	require.NoError(t, err)
	assert.Equal(t, "1.0200", check["figure"], "at 20 °C a hydrometer reads true")
	assert.Contains(t, beside(t, check)["alcohol so far"], quantity.Fixed(a.ABV20.Value, 1)+" % vol", "Balling")
	refractometer := p.save("instrument registered", map[string]any{"name": "R1", "type": "refractometer"})
	told := p.preview("ferment checked", map[string]any{"vessel": fermenters[0], "sugar": "8.0Bx", "mash_temp": "20C", "instrument": refractometer})
	assert.Contains(t, says(told), "alcohol raises its reading", "a refractometer's limit is told and its figure not dressed up")

	p.save("ferment checked", map[string]any{"vessel": fermenters[0], "gravity": "1.048sg", "ph": "3.4pH", "mash_temp": "19C", "smell": "vinegar"})
	view := p.call("view", map[string]any{"what": "ferment", "vessel": fermenters[0]})
	board := view["board"].([]any)
	require.Len(t, board, 2)
	line := board[0].(map[string]any)
	assert.Equal(t, true, line["holds"])
	assert.Contains(t, line["day"], "day 1 of about 14")
	assert.Contains(t, line["last"], "pH 3.4")
	assert.Contains(t, fmt.Sprint(line["wants"]), "vinegar")
	assert.Equal(t, false, board[1].(map[string]any)["holds"])
	vessel := view["vessel"].(map[string]any)
	assert.Equal(t, fermenters[0], vessel["address"])
	assert.Contains(t, vessel["why"], "four hydrometer readings", "why there is no forecast yet")
	assert.Contains(t, fmt.Sprint(vessel["advice"]), "Is the lid tight")
	assert.Contains(t, fmt.Sprint(view["cautions"]), "5,000 ppm")
	assert.Contains(t, fmt.Sprint(view["cautions"]), "Never enter")

	p.save("ferment finished", map[string]any{"vessel": fermenters[0], "gravity": "1.004sg", "mash_temp": "19C"})
	view = p.call("view", map[string]any{"what": "ferment"})
	line = view["board"].([]any)[0].(map[string]any)
	assert.Contains(t, line["ready"], "ready for the still")
	assert.Empty(t, line["wants"], "what is finished asks for nothing")
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "mash"})["blocks"]), "62 g", "the mash's additions")
	require.NotEmpty(t, m)
}

// Every sum of the mash room is answered as gaugebook calc answers it, on the
// example that its listing gives.
func TestSumsAreThoseOfTheCommand(t *testing.T) {
	for _, convention := range []string{"us", "metric"} {
		p := newPhone(t, "heron41")
		p.save("book opened", map[string]any{"name": "Hollow Alder", "convention": convention})
		for _, name := range []string{"strike", "dilute-wash", "nutrient", "acid", "gravity"} {
			c, ok := reckon.Find(name)
			require.True(t, ok, name)
			form := p.call("form", map[string]any{"kind": "calc " + name})
			require.Len(t, form["fields"], len(c.Inputs), name)
			body := map[string]any{}
			var steps []map[string]any
			for _, g := range c.Example {
				if amount, at, ok := strings.Cut(g.Text, "@"); ok {
					steps = append(steps, map[string]any{"amount": amount, "at": at})
					body[g.Key] = steps
				} else {
					body[g.Key] = g.Text
				}
			}
			result := p.preview("calc "+name, body)
			answer := reckon.Run(name, c.Example)
			require.Empty(t, answer.Faults, name)
			shown := fmt.Sprint(result["figure"], " ", result["beside"], result["says"])
			for _, v := range answer.Outputs {
				if v.IsNumber {
					assert.Contains(t, shown, v.Shown, "%s in a %s book: %s", name, convention, v.Key)
				}
			}
			require.NotEmpty(t, result["steps"], name)
			assert.Contains(t, strings.ToLower(fmt.Sprint(result["method"])), strings.ToLower(c.Source), "%s names its source", name)
		}
		want := map[string]string{"us": "°F", "metric": "°C"}[convention]
		strike, _ := reckon.Find("strike")
		body := map[string]any{}
		for _, g := range strike.Example {
			body[g.Key] = g.Text
		}
		assert.Equal(t, want, p.preview("calc strike", body)["unit"])
	}
	p, _ := metric(t, 1)
	out := p.call("preview", map[string]any{"kind": "calc acid", "body": map[string]any{"mash": "800L", "sample": "1L", "target": "3.2pH", "step": []map[string]any{{"amount": "0mL", "at": "3.8pH"}}}})
	assert.Nil(t, out["result"])
	assert.Contains(t, sentences(out["wrong"])["step"], "at least two readings", "no dose without a titration")
}

// demoPhone holds the demo's entries up to a day, and its clock stands there.
func demoPhone(t *testing.T, at time.Time, more ...func(device string, chain exchange.Chain) []string) *phone {
	t.Helper()
	p := &phone{t: t}
	p.engine = engine.New(engine.Outside{Now: func() time.Time { return at }, Random: counting{new(byte)}})
	chains := map[string]exchange.Chain{}
	var lines []string
	for i, e := range demo.Eighteen() {
		if e.Written.After(at) {
			continue
		}
		chain, ok := chains[e.Device]
		if !ok {
			chain.Device = e.Device
		}
		k := book.KindOf(e.Body)
		line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{Kind: k.Name, V: k.Version, Body: book.Encode(e.Body),
			Happened: record.StampOf(e.Happened), Written: record.StampOf(e.Written), By: e.By}, record.NewID(e.Written, [10]byte{byte(i), byte(i >> 8)}))
		require.NoError(t, err)
		chains[e.Device] = next
		lines = append(lines, string(line))
	}
	p.call("open", strings.Join(lines, "\n"))
	return p
}

// The demo on an autumn morning: what the board says is what calc/must says of
// the same checks.
func TestBoardOfTheDemo(t *testing.T) {
	at := time.Date(2026, 10, 15, 9, 0, 0, 0, time.FixedZone("", -5*3600))
	p := demoPhone(t, at)
	view := p.call("view", map[string]any{"what": "ferment"})
	board := view["board"].([]any)
	require.Len(t, board, 6, "the six fermenters of the house")
	ready, holds := 0, 0
	for _, item := range board {
		line := item.(map[string]any)
		words, _ := line["ready"].(string)
		if line["holds"] == true && !strings.HasPrefix(words, "finished") {
			holds++
			assert.Regexp(t, `^day \d+ of about \d+$`, line["day"])
			if words != "" {
				ready++
				assert.Regexp(t, `^ready (since )?about (today|\w+day( \d+ \w+)?), ±\d+(\.5)? days?$`, words)
			}
		}
	}
	assert.GreaterOrEqual(t, holds, 2, "it is October")
	assert.Positive(t, ready, "at least one has readings enough for a forecast")

	vessel := view["vessel"].(map[string]any)
	before := vessel["before"].(map[string]any)["rows"].([]any)
	assert.Len(t, before, 3, "the previous three checks stand above the form")
	var lines, areas int
	for _, b := range vessel["blocks"].([]any) {
		if c, ok := b.(map[string]any)["chart"].(map[string]any); ok && c["up"] == "Bx" {
			for _, l := range c["lines"].([]any) {
				lines++
				for _, q := range l.(map[string]any)["points"].([]any) {
					for _, part := range q.([]any) {
						assert.GreaterOrEqual(t, part.(float64), 0.0)
						assert.LessOrEqual(t, part.(float64), 1.0)
					}
				}
			}
			areas += len(c["areas"].([]any))
		}
	}
	assert.Equal(t, 5, lines, "read, expected, and three earlier lots of the same fruit")
	assert.Equal(t, 1, areas, "the forecast's band")
	again, err := json.Marshal(p.call("view", map[string]any{"what": "ferment"}))
	require.NoError(t, err)
	first, err := json.Marshal(view)
	require.NoError(t, err)
	assert.JSONEq(t, string(first), string(again), "a forecast is the same each time it is asked for")

	yard := p.call("view", map[string]any{"what": "yard"})
	assert.Contains(t, fmt.Sprint(yard["blocks"]), "prepared ")
	assert.Contains(t, fmt.Sprint(yard["blocks"]), "Goods on hand")
	assert.NotEmpty(t, yard["cautions"])
}

// A controller's readings stand behind the checks, thinned for a phone.
func TestReadingsOfAControllerBehindTheChecks(t *testing.T) {
	p, fermenters := metric(t, 1)
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "400kg"})
	p.save("mash made", map[string]any{"fermenter": fermenters[0], "type": "fruit mash", "parts": []map[string]any{{"lot": lot, "weight": "320kg"}}, "volume": "310L", "mash_temp": "18C", "sugar": "13.0Bx"})
	start := time.Date(2026, 11, 25, 16, 0, 0, 0, time.UTC)
	var readings []map[string]any
	for i := range 1000 {
		temp := fmt.Sprintf("%.1fC", 18+float64(i%50)/50)
		if i == 500 {
			temp = "27.3C" // a peak that no thinning may lose
		}
		readings = append(readings, map[string]any{"vessel": fermenters[0], "at": start.Add(time.Duration(i) * 15 * time.Minute).Format(time.RFC3339), "temp": temp})
	}
	for part := range 5 {
		p.save("readings arrived", map[string]any{"controller": "Panel", "readings": readings[200*part : 200*part+200]})
	}
	view := p.call("view", map[string]any{"what": "ferment"})
	found := false
	for _, b := range view["vessel"].(map[string]any)["blocks"].([]any) {
		c, ok := b.(map[string]any)["chart"].(map[string]any)
		if !ok || c["up"] != "°C" {
			continue
		}
		found = true
		points := c["lines"].([]any)[0].(map[string]any)["points"].([]any)
		assert.LessOrEqual(t, len(points), 200)
		assert.Greater(t, len(points), 100)
		top := 0.0
		for _, q := range points {
			top = max(top, q.([]any)[1].(float64))
		}
		ticks := c["up_ticks"].([]any)
		last := ticks[len(ticks)-1].(map[string]any)
		first := ticks[0].(map[string]any)
		var low, high float64
		fmt.Sscan(first["label"].(string), &low)
		fmt.Sscan(last["label"].(string), &high)
		assert.InDelta(t, 27.3, low+top*(high-low), 0.05, "the peak is still there")
	}
	assert.True(t, found, "a chart of the temperature")
}

// What is said of a temperature is said in the book's own degrees, and the
// lists of the mash room offer what goes into a mash.
func TestWordsOfAnAmericanBook(t *testing.T) {
	p := newPhone(t, "heron41")
	fermenter := p.save("vessel registered", map[string]any{"name": "Fermenter 1", "use": "fermenter", "capacity": "190gal"})
	p.save("vessel registered", map[string]any{"name": "Barrel 1", "use": "barrel", "capacity": "15gal"})
	for _, g := range [][2]string{{"Tall 750 clear", "bottle"}, {"Fruit yeast", "yeast"}} {
		good := p.save("goods registered", map[string]any{"name": g[0], "type": g[1], "counted_in": "weight"})
		p.save("goods received", map[string]any{"good": good, "weight": "10kg"})
	}
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Damson", "net": "700lb"})
	offered := fmt.Sprint(p.call("form", map[string]any{"kind": "mash made"})["fields"])
	assert.Contains(t, offered, "Fermenter 1, empty, takes 190 gal")
	assert.NotContains(t, offered, "Barrel 1")
	p.save("mash made", map[string]any{"fermenter": fermenter, "type": "fruit mash", "parts": []map[string]any{{"lot": lot, "weight": "700lb"}}, "volume": "75gal", "mash_temp": "66F", "sugar": "15.0Bx"})
	offered = fmt.Sprint(p.call("form", map[string]any{"kind": "addition made"})["fields"])
	assert.Contains(t, offered, "Fruit yeast, 10 kg")
	assert.NotContains(t, offered, "Tall 750 clear")
	p.save("ferment checked", map[string]any{"vessel": fermenter, "gravity": "1.050sg", "mash_temp": "91.4F"})
	wants := fmt.Sprint(p.call("view", map[string]any{"what": "ferment"})["board"])
	assert.Contains(t, wants, "The mash is at 91.4 °F, above 82 °F.", "28 °C of calc/must's fruit mash")
	feeding := p.preview("addition made", map[string]any{"vessel": fermenter, "what": "nutrient", "weight": "100g"})
	assert.Contains(t, says(feeding), "Half one day after the yeast")
}

// A price stands apart from its delivery, and the last word on it counts; the
// delivery's own form no longer asks for it.
func TestAPriceIsNotedApart(t *testing.T) {
	p, _ := metric(t, 1)
	for _, kind := range []string{"delivery received", "goods received"} {
		for _, f := range p.call("form", map[string]any{"kind": kind})["fields"].([]any) {
			assert.NotEqual(t, "price", f.(map[string]any)["key"], kind)
		}
	}
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "400kg"})
	good := p.save("goods registered", map[string]any{"name": "Flint 750", "type": "bottle", "counted_in": "pieces"})
	glass := p.save("goods received", map[string]any{"good": good, "pieces": "1200"})
	offered := fmt.Sprint(p.call("form", map[string]any{"kind": "price noted"})["fields"])
	assert.Contains(t, offered, "Quince, 400 kg, came 2026-11-25, no price yet")
	assert.Contains(t, offered, "Flint 750, 1200 pieces, came 2026-11-25, no price yet")

	typed := map[string]any{"lot": lot, "price": "400EUR"}
	by := p.preview("price noted", typed)
	assert.Equal(t, "1.00 EUR a kg", fmt.Sprint(by["figure"], " ", by["unit"]))
	p.save("price noted", map[string]any{"lot": lot, "price": "500EUR"})
	p.save("price noted", typed)
	p.save("price noted", map[string]any{"lot": glass, "price": "372EUR"})
	by = p.preview("price noted", map[string]any{"lot": glass, "price": "372EUR"})
	assert.Equal(t, "0.310 EUR a piece", fmt.Sprint(by["figure"], " ", by["unit"]))
	assert.NotContains(t, fmt.Sprint(p.call("form", map[string]any{"kind": "price noted"})["fields"]), "no price yet")
	prepared := p.preview("material prepared", map[string]any{"lot": lot, "prepared": "320kg", "culls": "60kg", "peel": "20kg"})
	assert.Equal(t, "1.25 EUR a kg", beside(t, prepared)["cost prepared"], "400 EUR over 320 kg, the last word")
}
