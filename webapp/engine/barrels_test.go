package engine_test

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/cask"
	"gaugebook/calc/demo"
	"gaugebook/calc/quantity"
)

type seenBarrels struct {
	Says, Row, More string
	Rows            []struct {
		Key, Title, Says string
		Open             bool
		Tiers            []struct {
			Title string
			Cells []struct{ Vessel, Short, Word, Says, Look string }
		}
	}
	List seenTable
}

type seenBlock struct {
	Result *struct {
		Label, Figure string
		Says          []string
	}
	Facts *struct {
		Title string
		Lines []struct{ Label, Value string }
	}
	Table *seenTable
	Chart *struct {
		Areas []struct{ Low, High [][2]float64 }
	}
}

type seenBarrel struct {
	Name               string
	Full               bool
	Wants              []struct{ Says string }
	Holds, Ahead, Past []seenBlock
	Wrong              map[string]string
	Says               []string
	Faults             []any
}

func (b seenBarrel) fact(t *testing.T, title, label string) string {
	t.Helper()
	for _, one := range b.Ahead {
		if one.Facts != nil && strings.HasPrefix(one.Facts.Title, title) {
			for _, l := range one.Facts.Lines {
				if strings.HasPrefix(l.Label, label) {
					return l.Value
				}
			}
		}
	}
	require.Fail(t, "no fact", "%s: %s in %+v", title, label, b.Ahead)
	return ""
}

// Every barrel of the demo in use stands on the map once, in words too; the
// list comes in the order that was asked for, and holds a row's barrels alone.
func TestMapAndListOfTheDemo(t *testing.T) {
	a := hollowAlder(t)
	var all seenBarrels
	a.into(&all, map[string]any{"what": "barrels", "barrel": map[string]any{"sort": "loss, most first"}})
	seen := map[string]bool{}
	for _, r := range all.Rows {
		assert.True(t, r.Open, r.Title)
		for _, tier := range r.Tiers {
			for _, c := range tier.Cells {
				assert.False(t, seen[c.Vessel], "%s stands there twice", c.Says)
				seen[c.Vessel] = true
				assert.Contains(t, c.Says, r.Title[len("Long store, "):])
				assert.Contains(t, c.Says, strings.ToLower(tier.Title))
				assert.LessOrEqual(t, len(c.Word), 5, "%s fits its cell", c.Word)
				assert.Equal(t, c.Look == "empty", c.Word == "empty")
			}
		}
	}
	assert.Len(t, seen, 24, "25, and one was broken up")
	require.Len(t, all.List.Rows, 24)
	last := 100.0
	for _, words := range all.List.column(2) {
		if words == "" {
			last = -1
			continue
		}
		loss, err := strconv.ParseFloat(strings.TrimSuffix(words, " %"), 64)
		require.NoError(t, err)
		assert.LessOrEqual(t, loss, last, "the most first, and those that nothing is known of last")
		last = loss
	}
	assert.Equal(t, -1., last)
	var row seenBarrels
	a.into(&row, map[string]any{"what": "barrels", "barrel": map[string]any{"row": all.Rows[1].Key}})
	assert.Len(t, row.List.Rows, 6)
	for _, r := range row.List.Rows {
		assert.Contains(t, r.Note, "row B")
	}
}

// A large store opens by its rows: one is drawn, and the list is cut off in words.
func TestALargeStoreOpensByItsRows(t *testing.T) {
	p := opened(t, demo.Store(300))
	var v seenBarrels
	require.NoError(t, json.Unmarshal(p.Call("view", must(t, map[string]any{"what": "barrels", "barrel": map[string]any{"row": "Long store\x1f2"}})), &v))
	require.Len(t, v.Rows, 6)
	for _, r := range v.Rows {
		assert.Equal(t, r.Title == "Long store, row 2", r.Open)
		assert.Equal(t, r.Open, len(r.Tiers) == 3)
		assert.Equal(t, "50 barrels", r.Says)
	}
	require.NoError(t, json.Unmarshal(p.Call("view", must(t, map[string]any{"what": "barrels"})), &v))
	assert.Len(t, v.List.Rows, 60)
	assert.Contains(t, v.More, "60 of 300")
	var store struct{ Blocks []seenBlock }
	require.NoError(t, json.Unmarshal(p.Call("view", must(t, map[string]any{"what": "store"})), &store))
	assert.Equal(t, []string{"300 barrels"}, store.Blocks[0].Table.column(0), "and not one by one")
	form := string(p.Call("form", must(t, map[string]any{"kind": "spirit gauged"})))
	assert.NotContains(t, form, "Barrel 0001", "a list of thousands")
	assert.Contains(t, form, "Barrels are gauged on the page")
}

// A barrel's page says what package cask, and so gaugebook calc age, says of
// the same gauges: 200 L of 62.5 % vol, a year by year by volume, with a sample
// of 1 L told between.
func TestABarrelsForecastIsCasks(t *testing.T) {
	p := newPhone(t, "heron41")
	at := func(day, kind string, body map[string]any) string {
		return p.saveAt(day+"T09:00:00Z", kind, body)
	}
	at("2020-01-01", "book opened", map[string]any{"name": "Hollow Alder", "convention": "metric"})
	tank := at("2020-01-01", "vessel registered", map[string]any{"name": "T", "use": "tank", "capacity": "500L"})
	barrel := at("2020-01-01", "vessel registered", map[string]any{"name": "B", "use": "barrel", "capacity": "225L", "cooperage": "reused", "tare": "50kg"})
	at("2020-01-02", "spirit received", map[string]any{"vessel": tank, "volume": "300L", "volume_temp": "20C", "strength": "62.5%", "reason": "in bond", "class": "whisky", "account": "storage"})
	at("2020-02-01", "spirit moved", map[string]any{"from": tank, "to": barrel, "volume": "200L", "volume_temp": "20C", "purpose": "fill a barrel"})
	gauge := func(day, volume, strength string) {
		at(day, "spirit gauged", map[string]any{"vessel": barrel, "volume": volume, "volume_temp": "20C", "strength": strength, "cause": "evaporation"})
	}
	gauge("2021-02-01", "194L", "62.2%")
	at("2021-08-01", "sample taken", map[string]any{"vessel": barrel, "volume": "1000mL", "purpose": "tasting"})
	gauge("2022-02-01", "187.2L", "61.9%")
	gauge("2023-02-01", "181.6L", "61.6%")

	var v seenBarrel
	look := func(in map[string]any) {
		v = seenBarrel{}
		raw := p.engine.Call("view", must(t, map[string]any{"what": "barrel", "vessel": barrel, "barrel": in}))
		require.NoError(t, json.Unmarshal(raw, &v))
		require.Empty(t, v.Faults)
	}
	look(map[string]any{"day": "2030-02-01", "target": "60", "humidity": "75"})
	date := func(day string) time.Time {
		d, err := time.Parse(time.DateOnly, day)
		require.NoError(t, err)
		return d
	}
	l, s := quantity.Litre, quantity.ABV20
	g := func(day, volume, strength string) cask.Gauging {
		return cask.Gauging{On: date(day), Amount: quantity.MustParse(volume, l), Strength: quantity.MustParse(strength, s)}
	}
	b := cask.Barrel{Capacity: quantity.MustParse("225", l), Humidity: quantity.MustParse("75", quantity.Percent),
		Gauges:  []cask.Gauging{g("2020-02-01", "200", "62.5"), g("2021-02-01", "194", "62.2"), g("2022-02-01", "187.2", "61.9"), g("2023-02-01", "181.6", "61.6")},
		Changes: []cask.Change{{On: date("2021-08-01"), Out: true, Amount: quantity.MustParse("1", l)}}}
	f, err := b.Fit()
	require.NoError(t, err)
	assert.Equal(t, quantity.Fixed(f.Loss.Value, 1), v.Ahead[0].Result.Figure)
	then, err := f.At(date("2030-02-01"))
	require.NoError(t, err)
	banded := func(x quantity.Figure) string {
		return fmt.Sprintf("%s %s, from %s to %s", quantity.Fixed(x.Value, 1), x.Unit.Label(), quantity.Fixed(x.Value-x.Expanded(), 1), quantity.Fixed(x.Value+x.Expanded(), 1))
	}
	assert.Equal(t, banded(then.Volume), v.fact(t, "Expected on 2030-02-01", "Volume"))
	assert.Equal(t, banded(then.Strength), v.fact(t, "Expected", "Strength"))
	r, err := f.Reaches(quantity.MustParse("60", s))
	require.NoError(t, err)
	assert.Contains(t, v.fact(t, "Expected", "Reaches 60"), r.On.Format("2006-01"))
	assert.Contains(t, strings.Join(v.Says, " "), "humid", "the limits of the model stand on the page")
	past := v.Past[0].Table
	assert.Equal(t, []string{"181.6", "187.2", "193.0", "194.0", "200.0"}, past.column(1))
	assert.Regexp(t, `^regauged: −5\.6 L, −0\.3 % vol, −\d\.\d\d L of pure alcohol in 365 days$`, past.Rows[0].Note)
	assert.Contains(t, past.Rows[2].Note, "drawn from: −1.0 L")

	look(map[string]any{"target": "a lot", "humidity": "5"})
	assert.NotEmpty(t, v.Wrong["target"])
	assert.Contains(t, v.Wrong["humidity"], "10 to 99")
	assert.NotEmpty(t, v.Ahead, "what was typed wrong takes no forecast away")
	assert.Contains(t, v.Ahead[2].Table.Rows[0].Note, "wooden casks of 700 L at most")
	assert.Equal(t, "reached", v.Ahead[2].Table.Rows[0].Cells[2].Text, "3 years in wood")

	assert.Equal(t, map[string]any{"room": "store", "page": "barrels"}, p.call("view", map[string]any{"what": "scanned", "vessel": barrel}))
	assert.Equal(t, map[string]any{"room": "store", "page": "tanks"}, p.call("view", map[string]any{"what": "scanned", "vessel": tank}))
	assert.Equal(t, "ferment", p.call("view", map[string]any{"what": "scanned", "vessel": "heron41-999"})["room"])
	labels := p.call("view", map[string]any{"what": "barrel labels"})
	assert.Equal(t, "Hollow Alder", labels["house"])
	assert.Len(t, labels["labels"], 1)
}

// Filling whisky above 125 proof is asked about while it is typed, in a US book
// and into wood; so is a barrel that would run over.
func TestTheEntryProofIsAsked(t *testing.T) {
	p := newPhone(t, "heron41")
	p.save("book opened", map[string]any{"name": "Hollow Alder", "convention": "us"})
	tank := p.save("vessel registered", map[string]any{"name": "T", "use": "tank", "capacity": "200gal"})
	barrel := p.save("vessel registered", map[string]any{"name": "B", "use": "barrel", "capacity": "53gal", "cooperage": "charred new", "tare": "110lb"})
	other := p.save("vessel registered", map[string]any{"name": "S", "use": "tank", "capacity": "200gal"})
	p.save("spirit received", map[string]any{"vessel": tank, "volume": "150gal", "volume_temp": "60F", "strength": "126proof", "reason": "in bond", "class": "whisky", "account": "storage"})
	move := func(to, volume, strength string) string {
		return says(p.preview("spirit moved", map[string]any{"from": tank, "to": to, "volume": volume, "volume_temp": "60F", "strength": strength, "purpose": "fill a barrel"}))
	}
	assert.Contains(t, move(barrel, "50gal", "126proof"), "At 126.0 proof it is above 125 proof")
	assert.NotContains(t, move(barrel, "50gal", "125proof"), "above")
	assert.NotContains(t, move(other, "50gal", "126proof"), "above", "steel has no limit")
	assert.Contains(t, move(barrel, "60gal", "120proof"), "B would hold")
}
