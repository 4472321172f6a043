package engine_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tanks is a phone of a metric book with tanks of so many litres of so many % vol.
func tanks(t *testing.T, held ...[2]string) (p *phone, at []string) {
	p, _ = metric(t, 0)
	for i, h := range held {
		a := p.save("vessel registered", map[string]any{"name": fmt.Sprintf("Tank %d", i+1), "use": "tank", "capacity": "500L"})
		if h[0] != "" {
			p.save("spirit received", map[string]any{"vessel": a, "volume": h[0] + "L", "volume_temp": "20C", "strength": h[1] + "%", "reason": "bought in", "class": "brandy", "account": "storage", "name": fmt.Sprintf("Lot of tank %d", i+1)})
		}
		at = append(at, a)
	}
	return p, at
}

type planAnswer struct {
	wrong  map[string]string
	result map[string]any
	then   []map[string]any
	also   []map[string]any
	blocks []any
}

func (p *phone) plan(kind string, body map[string]any) planAnswer {
	p.t.Helper()
	out := p.call("preview", map[string]any{"kind": "plan " + kind, "body": body})
	a := planAnswer{wrong: sentences(out["wrong"])}
	a.result, _ = out["result"].(map[string]any)
	a.blocks, _ = out["blocks"].([]any)
	for _, x := range asList(out["then"]) {
		a.then = append(a.then, x.(map[string]any))
	}
	for _, x := range asList(out["also"]) {
		a.also = append(a.also, x.(map[string]any))
	}
	return a
}

func asList(x any) []any {
	list, _ := x.([]any)
	return list
}

// do saves a prepared entry as its form would.
func (p *phone) do(entry map[string]any) string {
	values := entry["values"].(map[string]any)
	delete(values, "ways")
	return p.save(entry["kind"].(string), values)
}

// A blend of the bench: 100 L of 70 with 100 L of 40 are 199.39 L of 55.17 % vol
// (densities of OIML R 22, worked out with them). Its entries leave what it said.
func TestABlendIsShownThenDone(t *testing.T) {
	p, at := tanks(t, [2]string{"100", "70"}, [2]string{"100", "40"}, [2]string{"", ""})
	form := p.call("form", map[string]any{"kind": "plan blend"})
	assert.Contains(t, fmt.Sprint(form["fields"]), "Tank 1, 100.00 L of spirit, 70.0 % vol", "vessels that hold spirit are offered, with what they hold")
	assert.NotContains(t, fmt.Sprint(asList(form["fields"])[0]), "Tank 3", "an empty one is not")

	a := p.plan("blend", map[string]any{"parts": []any{map[string]any{"vessel": at[0]}, map[string]any{"vessel": at[1]}}, "into": at[2]})
	require.Empty(t, a.wrong)
	by := beside(t, a.result)
	assert.Equal(t, "55.2", a.result["figure"])
	assert.Equal(t, "199.39 L", by["volume"])
	assert.Equal(t, "110.00", by["l pure alcohol"])
	assert.Equal(t, "never in wood", by["youngest"])
	assert.Contains(t, fmt.Sprint(a.blocks), "Lot of tank 1")
	require.Len(t, a.then, 2)
	assert.Equal(t, "Move all from Tank 1 to Tank 3", a.then[0]["title"])
	require.Len(t, a.also, 1, "the what-if as a trial")
	trial := a.also[0]["values"].(map[string]any)
	assert.Len(t, trial["parts"], 2)
	trial["name"], trial["tasters"] = "Red dot", "2"
	p.do(a.also[0])
	for _, entry := range a.then {
		p.do(entry)
	}
	store := fmt.Sprint(p.call("view", map[string]any{"what": "store"}))
	assert.Contains(t, store, "199.4 L at 20 °C, 55.2 % vol")
}

// 199.39 L of 55.17 % vol again, the other way round: how much of the stronger
// brings 100 L of 40 there.
func TestABlendSolvesForOne(t *testing.T) {
	p, at := tanks(t, [2]string{"300", "70"}, [2]string{"100", "40"})
	a := p.plan("blend", map[string]any{"parts": []any{map[string]any{"vessel": at[0]}}, "into": at[1], "strength": "55.17%"})
	require.Empty(t, a.wrong)
	assert.Equal(t, "Take from Tank 1", a.result["label"])
	assert.Regexp(t, `^(99\.9|100\.0)\d$`, a.result["figure"])
	require.Len(t, a.then, 1)
	assert.Regexp(t, `^Move (99\.9\d|100|100\.0\d) L from Tank 1 to Tank 2$`, a.then[0]["title"])
	p.do(a.then[0])
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "store"})), "55.2 % vol")

	a = p.plan("blend", map[string]any{"parts": []any{map[string]any{"vessel": at[0]}}, "into": at[1], "strength": "80%"})
	assert.Contains(t, a.wrong["strength"]+a.wrong["parts[1].volume"], "70.0 % vol", "what cannot be is said with what there is: %v", a.wrong)
	assert.Nil(t, a.result)
}

// The table of the bench (densities of OIML R 22): 100 L of 70 to 40 % vol take
// 77.49 L of water and make 175.00 L, in one stage or in four.
func TestAReductionInStages(t *testing.T) {
	p, at := tanks(t, [2]string{"100", "70"})
	product := p.save("product registered", map[string]any{"name": "Quince brandy", "class": "brandy", "strength": "40%", "bottle": "500mL", "per_case": "6"})
	one := p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40%"})
	require.Empty(t, one.wrong)
	assert.Equal(t, "77.49", one.result["figure"])
	assert.Equal(t, "175.00 L", beside(t, one.result)["makes"])
	require.Len(t, one.then, 2, "water, then a gauge")
	off := p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40.4%", "product": product})
	assert.Contains(t, says(off.result), "Off the label's 40 % vol by 0.4 % vol")
	near := p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40.3%", "product": product})
	assert.Contains(t, says(near.result), "Within the label's 40 % vol", "40 accepts 39.7 to 40.3, ends included (27 CFR 19.356)")

	a := p.plan("reduce", map[string]any{"vessel": at[0], "product": product, "stages": "4", "days": "2"})
	require.Empty(t, a.wrong)
	assert.Equal(t, "Water for the first stage", a.result["label"])
	assert.Equal(t, "77.49 L, 77.27 kg", beside(t, a.result)["water in all"], "998.20 kg/m³ and the air's lift: 77.49 × 0.99820 × 0.99895")
	require.Len(t, a.also, 1)
	p.do(a.also[0])

	under := func() map[string]any {
		list := asList(p.call("view", map[string]any{"what": "reductions"})["under"])
		require.Len(t, list, 1)
		return list[0].(map[string]any)
	}
	for stage := range 4 {
		u := under()
		assert.Equal(t, fmt.Sprintf("Tank 1 down to 40 %% vol: stage %d of 4", stage+1), u["title"])
		then := asList(u["then"])
		require.NotEmpty(t, then)
		water := then[len(then)-1].(map[string]any)
		assert.Equal(t, "water added", water["kind"])
		p.do(water)
		u = under()
		gauge := asList(u["then"])[0].(map[string]any)
		require.Equal(t, "spirit gauged", gauge["kind"], "each stage is followed by a gauge")
		assert.Contains(t, says(u["result"].(map[string]any)), "once it is cool")
	}
	u := under()
	assert.Equal(t, "Tank 1: reduced to 40 % vol", u["title"])
	assert.Contains(t, says(u["result"].(map[string]any)), "Within the label's 40 % vol")
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "store"})), "175.0 L at 20 °C, 40.0 % vol", "all stages together are one reduction")

	// A gauge that found it weaker is believed, and what brings it back is shown.
	p.save("spirit gauged", map[string]any{"vessel": at[0], "volume": "175L", "volume_temp": "20C", "strength": "39.2%"})
	u = under()
	assert.Contains(t, says(u["result"].(map[string]any)), "It went below 40 % vol")
}

func TestAReductionThatWentTooFar(t *testing.T) {
	p, at := tanks(t, [2]string{"100", "39"}, [2]string{"50", "70"}, [2]string{"50", "38"})
	a := p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40%"})
	require.Empty(t, a.wrong)
	assert.Equal(t, "Tank 1 is below it. Add from Tank 2", a.result["label"])
	require.Len(t, a.then, 2)
	p.do(a.then[0])
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "store"})), "40.0 % vol")
	assert.NotContains(t, fmt.Sprint(a.blocks), "Tank 3", "what is weaker brings nothing")
	a = p.plan("reduce", map[string]any{"vessel": at[0], "strength": "80%"})
	assert.Contains(t, a.wrong["strength"], "nothing chosen is strong enough")
}

// A part of a tank, to a strength and a volume: 100 L of 40 % vol of 70 take
// 57.14 L of it and 44.28 L of water (100/175 of the row above).
func TestAReductionToAVolume(t *testing.T) {
	p, at := tanks(t, [2]string{"100", "70"}, [2]string{"", ""})
	a := p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40%", "volume": "100L", "into": at[1]})
	require.Empty(t, a.wrong)
	assert.Equal(t, "44.28", a.result["figure"])
	assert.Contains(t, beside(t, a.result)["spirit to take"], "57.14 L")
	require.Len(t, a.then, 3, "a move, water, a gauge")
	p.do(a.then[0])
	p.do(a.then[1])
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "store"})), "100.0 L at 20 °C, 40.0 % vol")
	assert.Contains(t, p.plan("reduce", map[string]any{"vessel": at[0], "strength": "40%", "volume": "400L"}).wrong["volume"], "Tank 1 holds 42.86 L")
}

// The worked examples of the bench: 10 L of 60 on 4 kg of fruit with 85 % of water
// are 13.30 L of 45.1 % vol; with 5 kg of water and 3 kg of sugar they are 16.73 L
// of 35.86 % vol with 179 g/L (mass and apparent volume, common practice, no
// source).
func TestInfusionsAndSugar(t *testing.T) {
	p, at := tanks(t, [2]string{"10", "60"}, [2]string{"10", "60"}, [2]string{"", ""})
	laid := map[string]any{"vessel": at[0], "parts": []any{map[string]any{"what": "Blackcurrants", "weight": "4kg"}}}
	r := p.preview("infusion begun", laid)
	assert.Equal(t, "45.1", r["figure"])
	assert.Equal(t, "13.30 L", beside(t, r)["liquid in all"])
	p.save("infusion begun", laid)
	ran := map[string]any{"vessel": at[0], "to": at[2], "volume": "10.5L", "volume_temp": "20C", "strength": "44.8%", "fruit": "4.6kg"}
	r = p.preview("infusion drained", ran)
	by := beside(t, r)
	assert.Equal(t, "78.9 % drained", by["of all liquid, with the fruit's water"], "10.5 of 13.30 L")
	assert.Equal(t, "0.600 kg", by["the fruit took up"])
	assert.Equal(t, "1.30 L of pure alcohol", by["alcohol left in the fruit"], "6.00 less 10.5 × 0.448 = 4.70")
	p.save("infusion drained", ran)

	p.save("water added", map[string]any{"vessel": at[1], "water_weight": "5kg"})
	r = p.preview("sugar added", map[string]any{"vessel": at[1], "what": "sugar", "weight": "3kg"})
	by = beside(t, r)
	assert.Equal(t, "35.9", r["figure"])
	assert.Equal(t, "16.7 L", by["volume"])
	assert.Equal(t, "179.3 g/L", by["sugar"])
	assert.Equal(t, "1.0215 kg/L", by["density at 20 °C"])
	p.save("sugar added", map[string]any{"vessel": at[1], "what": "sugar", "weight": "3kg"})
	which := func(vessel string) string {
		return fmt.Sprint(p.call("view", map[string]any{"what": "sweeten", "vessel": vessel})["blocks"])
	}
	assert.Contains(t, which(at[1]), "None yet. Sweetened spirit is distilled for it")
	p.save("laboratory result received", map[string]any{"vessel": at[1], "strength": "35.6%"})
	assert.Contains(t, which(at[1]), "label:Legal-grade value:35.6 % vol, by a laboratory")
	p.save("water added", map[string]any{"vessel": at[1], "water": "1L"})
	assert.Contains(t, which(at[1]), "None yet", "a result of before the water no longer speaks of it")
}

// 27 CFR 30.32(b): 0.125 g from 25 mL are 0.50 g in 100 mL and hide 2.0 proof.
func TestSolidsByTheRule(t *testing.T) {
	p, at := tanks(t, [2]string{"10", "45"})
	body := map[string]any{"vessel": at[0], "way": "evaporation", "sample": "25mL", "residue": "0.125g", "apparent": "88.0proof"}
	r := p.preview("solids measured", body)
	by := beside(t, r)
	assert.Contains(t, by["obscuration"], "2.0")
	assert.Equal(t, "90.0", by["proof"])
	assert.Contains(t, says(r), "Legal-grade: more than 400 to 600 mg")
	body["residue"] = "0.2g"
	assert.Contains(t, says(p.preview("solids measured", body)), "An estimate: more than 600 mg per 100 mL: find the true proof by distillation")
	body["residue"] = "0.125g"
	p.save("solids measured", body)
	assert.Contains(t, fmt.Sprint(p.call("view", map[string]any{"what": "sweeten", "vessel": at[0]})["blocks"]), "label:Legal-grade value:45.1 % vol, by evaporation")
}

func TestWhatAFilterKeeps(t *testing.T) {
	p, at := tanks(t, [2]string{"100", "42"}, [2]string{"", ""})
	body := map[string]any{"vessel": at[0], "to": at[1], "volume": "99.2L", "volume_temp": "20C", "strength": "41.8%", "way": "sheets", "rinse": "0.5L"}
	r := p.preview("spirit filtered", body)
	by := beside(t, r)
	assert.Equal(t, "0.53", r["figure"], "42.00 less 99.2 × 0.418 = 41.47")
	assert.Equal(t, "1.30 L", by["by volume, rinse counted"], "100 + 0.5 − 99.2")
	assert.Contains(t, says(r), "The rinse carries no alcohol")
	assert.Contains(t, says(r), "Below 46 % vol")
	p.save("spirit filtered", body)
	body["vessel"], body["to"], body["volume"] = at[1], at[0], "120L"
	assert.Contains(t, says(p.preview("spirit filtered", body)), "More came through than it held")
}

func TestOccupancyAndHarvest(t *testing.T) {
	p, fermenters := metric(t, 2) // of 500 L: 425 to fill
	lot := p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "1000kg"})
	p.save("mash made", map[string]any{"fermenter": fermenters[0], "type": "fruit mash", "parts": []any{map[string]any{"lot": lot, "weight": "400kg"}}, "volume": "380L"})
	tank := p.save("vessel registered", map[string]any{"name": "Tank one", "use": "tank", "capacity": "500L"})
	p.save("spirit received", map[string]any{"vessel": tank, "volume": "100L", "volume_temp": "20C", "strength": "60%", "reason": "bought in", "class": "brandy", "account": "storage"})
	p.save("rest begun", map[string]any{"vessel": tank, "until": "2027-02-01", "for": "to soften"})
	view := p.call("view", map[string]any{"what": "occupancy"})
	words := fmt.Sprint(view["blocks"])
	assert.Contains(t, words, "resting, to soften")
	assert.Contains(t, words, "2027-02-01")
	assert.Contains(t, words, "no forecast yet; 14 days, usual for a fruit mash (common practice), then the still")
	assert.Contains(t, words, "label:Fermenter value:Fermenter 2, 500 L", "what is free now, with what it takes")

	season := map[string]any{"batches": "1", "days": "7", "charge": "200L", "weeks": "6"}
	free := p.plan("harvest", season)
	require.Empty(t, free.wrong)
	assert.Contains(t, says(free.result), "Nothing is expected")
	assert.Contains(t, free.result["label"], "Neither still nor tanks")
	p.save("delivery expected", map[string]any{"material": "fruit", "variety": "Quince", "weight": "400kg", "day": "2026-11-27"})
	late := p.save("delivery expected", map[string]any{"material": "fruit", "variety": "quinces", "weight": "400kg", "day": "2026-12-01"})
	tight := p.plan("harvest", season)
	assert.Contains(t, says(tight.result), "The tanks are the limit: on Tue 1 Dec fruit for up to 380 L of mash finds no empty fermenter", "0.95 L a kg, as the lot of 400 kg made 380 L")
	assert.Contains(t, fmt.Sprint(tight.result["steps"]), "0.95 L of mash a kg (as its own lots here made)")
	assert.Contains(t, fmt.Sprint(tight.blocks), "2w", "both in use, and fruit waits")
	assert.Equal(t, "1 Dec", tight.result["figure"])
	p.save("delivery received", map[string]any{"material": "fruit", "variety": "Quince", "net": "10kg", "expected": late})
	assert.NotContains(t, fmt.Sprint(p.call("view", map[string]any{"what": "occupancy"})["expected"]), "2026-12-01", "what came is expected no more")
	season["batches"] = "0"
	never := p.plan("harvest", season)
	assert.Contains(t, says(never.result), "The still is the limit")
	season["weeks"] = "60"
	assert.Contains(t, p.plan("harvest", season).wrong["weeks"], "more than 26 weeks")
}
