package engine

import (
	"encoding/json"
	"strconv"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// planned marks a form that works out what is to be done and keeps nothing
// itself; its answer holds the entries that would do it: "plan blend".
const planned = "plan "

// A plan is such a form.
type plan struct {
	help   string
	fields []book.Field
	work   func(e *Engine, typed json.RawMessage, out *preview)
}

func planOf[T any](help string, work func(e *Engine, typed T, out *preview) fault.List) plan {
	sheet := book.SheetOf[T]()
	return plan{help, sheet.Fields, func(e *Engine, typed json.RawMessage, out *preview) {
		in, faults := sheet.Read(e.book.State().Convention(), typed)
		if len(faults) == 0 {
			faults = work(e, in, out)
		}
		out.Wrong = spoken(faults)
	}}
}

// plans finds a plan of the store by the kind of its form.
func plans(kind string) (plan, bool) {
	switch kind {
	case planned + "blend":
		return planOf("", (*Engine).blend), true
	case planned + "reduce":
		return planOf("", (*Engine).reduce), true
	case planned + "harvest":
		return planOf("", (*Engine).harvest), true
	}
	return plan{}, false
}

// front are the fields of parts that stand beside what is needed.
var front = map[string][]string{planned + "blend": {"volume"}}

func (e *Engine) planForm(kind string, p plan) form {
	fields := e.narrow(kind, e.describe(p.fields))
	for i := range fields {
		for j := range fields[i].Fields {
			for _, key := range front[kind] {
				if fields[i].Fields[j].Key == key {
					fields[i].Fields[j].Front = true
				}
			}
		}
	}
	return form{Kind: kind, Help: p.help, Fields: fields}
}

// A prepared entry is one that a plan asks for, as its form holds it; a person
// saves it when it is done.
type prepared struct {
	Title  string         `json:"title"`
	Kind   string         `json:"kind"`
	Save   string         `json:"save"`
	Values map[string]any `json:"values"`
}

func prepare(title, save string, body book.Body) prepared {
	return prepared{Title: title, Kind: book.KindOf(body).Name, Save: save, Values: values(body)}
}

// byVolume and byWeight are how a form of a gauge is to ask for the amount; the
// strength is the book's.
var byVolume, byWeight = [2]int{0, 2}, [2]int{1, 2}

func (p prepared) measured(by [2]int) prepared {
	p.Values["ways"] = by
	return p
}

// atBase is a volume as the book's convention counts it: of spirit in litres at
// 20 °C, or in gallons at 60 °F.
func (e *Engine) atBase(c *book.Content) quantity.Figure {
	if e.metric() || !c.Material.Accounted() {
		return quantity.Figure{Value: c.Litres20(), Unit: quantity.Litre}
	}
	return quantity.Figure{Value: c.Litres60(), Unit: quantity.Litre}.In(quantity.Gallon)
}

// waterAt is the volume of water of a mass, as it runs from the hose.
func (e *Engine) waterAt(m book.Mass) quantity.Figure {
	f := quantity.Figure{Value: m.Kilograms() / float64(spirit.Strength{}.DensityAt(20)) * 1e3, Unit: quantity.Litre}
	if !e.metric() {
		f = f.In(quantity.Gallon)
	}
	return f
}

// strengthOf is the strength of a content, sugar and all, to the legal tenth, as
// the book's convention writes it.
func (e *Engine) strengthOf(c *book.Content) quantity.Reading {
	s, err := spirit.FromABV20(min(max(c.ABV(), 0), 100))
	if err != nil {
		return quantity.Reading{}
	}
	if e.metric() {
		return quantity.FromDecimal(quantity.ABVToTenth(quantity.Snap(s.ABV20())), quantity.ABV20)
	}
	return quantity.FromDecimal(quantity.ProofToTenth(quantity.Snap(s.Proof())), quantity.Proof)
}

// strongText is strengthOf in words.
func (e *Engine) strongText(c *book.Content) string {
	r := e.strengthOf(c)
	return quantity.Fixed(r.Float(), 1) + " " + r.Unit().Label()
}

// weightText is the weight of a content in air, on a scale.
func (e *Engine) weightText(c *book.Content) string {
	if c.Solids == 0 && c.Mass > 0 {
		if b, err := spirit.Blend(spirit.Part{Amount: e.atBase(c).Reading(6), Strength: strengthReading(c.Strength())}); err == nil {
			return quantity.Fixed(b.Weight.Value, 1) + " " + b.Weight.Unit.Label()
		}
	}
	return e.massText(c.Mass.Kilograms())
}

func strengthReading(s spirit.Strength) quantity.Reading {
	return quantity.FromDecimal(quantity.Snap(s.ABV20()).Round(6), quantity.ABV20)
}

func hundredths(f quantity.Figure) string { return quantity.Fixed(f.Value, 2) + " " + f.Unit.Label() }

// volumeToEnter is a volume as an entry takes it.
func volumeToEnter(f quantity.Figure) quantity.Reading {
	return quantity.FromDecimal(f.Decimal().Round(2), f.Unit)
}

// holdsSpirit offers the vessels that hold spirit, with how much and how strong.
func holdsSpirit(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Content.Empty() || !v.Content.Material.Accounted() {
		return "", false
	}
	c := v.Standing()
	return joinedWords(v.Name, hundredths(e.atBase(c))+" of "+string(c.Material), e.strongText(c)), true
}

// takesSpirit offers what spirit may be put into.
func takesSpirit(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Retired != "" || v.Use == book.Still || v.Use == book.Fermenter || v.Content.Material.Fermenting() {
		return "", false
	}
	if v.Content.Empty() {
		return v.Name + ", empty, takes " + e.litresText(v.Capacity.Base()), true
	}
	return v.Name + ", holds " + hundredths(e.atBase(&v.Content)) + " of " + string(v.Content.Material), true
}

// shareTable is what spirit is made of, by lots.
func (e *Engine) shareTable(title string, list []book.Share) *table {
	t := &table{Title: title, Empty: "Nothing that the book knows of.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
	for _, held := range list {
		r := row{Cells: []cell{text("not known"), text(percent(held.Share))}}
		if l := e.book.State().Lot(held.Lot); l != nil {
			r.Cells[0], r.Note = cell{e.lotName(l), l.Address}, joinedWords(string(l.Material), string(l.Class), l.Begun.Day())
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// counted is a number of things: 1 batch, 2 batches.
func counted[N int | int64](n N, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.FormatInt(int64(n), 10) + " " + many
}
