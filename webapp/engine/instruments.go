package engine

import (
	"cmp"
	"encoding/json"
	"slices"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// reads is the type of instrument that a field of a form names, by its key. A
// field that is not here, 'instrument', takes several.
var reads = map[string]string{"hydrometer": "hydrometer", "thermometer": "thermometer"}

// doubts are the sentences about instruments whose readings stand in what is
// typed. An instrument is doubted where it is named; a scale or a pH meter,
// which no form asks for, where none of the house's is without doubt.
func (e *Engine) doubts(kind *book.Kind, raw json.RawMessage) []string {
	if kind.Room == book.Office || kind.Begins == book.ARecipe { // registers and plans hold no readings
		return nil
	}
	on, s := book.Day(e.now().Day()), e.book.State()
	var out []string
	say := func(sentence string) {
		if sentence != "" && !slices.Contains(out, sentence) {
			out = append(out, sentence)
		}
	}
	measured := map[string]bool{} // types of instruments that no field names
	var walk func([]book.Field, json.RawMessage)
	walk = func(fields []book.Field, raw json.RawMessage) {
		var values map[string]json.RawMessage
		if json.Unmarshal(raw, &values) != nil {
			return
		}
		for i := range fields {
			f, value := &fields[i], values[fields[i].Key]
			var word string
			switch {
			case value == nil:
			case f.Type == book.Group:
				var parts []json.RawMessage
				if json.Unmarshal(value, &parts) == nil {
					for _, part := range parts {
						walk(f.Fields, part)
					}
				}
			case json.Unmarshal(value, &word) != nil || word == "":
			case f.RefTo == book.AnInstrument:
				if r := s.Registered(book.AnInstrument, book.Address(word)); r != nil {
					say(r.Doubt(on))
				}
			case f.Type == book.Figure && len(f.Units) > 0:
				switch f.Units[0].Dimension() {
				case quantity.Mass:
					measured["scale"] = true
				case quantity.Acidity:
					measured["pH meter"] = true
				}
			}
		}
	}
	walk(kind.Fields, raw)
	for _, of := range []string{"scale", "pH meter"} {
		if measured[of] {
			say(e.doubtOf(of, on))
		}
	}
	return out
}

// doubtOf is the doubt of the first instrument of a type where every one in use
// is doubtful, or "".
func (e *Engine) doubtOf(of string, on book.Day) (first string) {
	for _, r := range e.book.State().Register(book.AnInstrument) {
		if b := r.Body.(*book.InstrumentRegistered); b.Type != of || r.Retired {
			continue
		}
		doubt := r.Doubt(on)
		if doubt == "" {
			return ""
		}
		first = cmp.Or(first, doubt)
	}
	return first
}

// instrumentLabel is how a list offers an instrument.
func (e *Engine) instrumentLabel(r *book.Registered) string {
	if r.Doubt(book.Day(e.now().Day())) != "" {
		return r.Name + " (in doubt)"
	}
	return r.Name
}

type instrumentsView struct {
	Doubts []string `json:"doubts"`
	Table  *table   `json:"table"`
}

// instrumentRegister is the register: what each instrument is corrected by, how
// exactly it reads, and whether its readings can be trusted today.
func (e *Engine) instrumentRegister() instrumentsView {
	on := book.Day(e.now().Day())
	t := &table{Title: "Instruments", Empty: "No instrument is registered: readings are taken as they stand, and carry no uncertainty.", Rows: []row{},
		Columns: []column{{Label: "Instrument"}, {Label: "State"}, {Label: "Next check"}, {Label: "Last check"}, {Label: "Add to its reading", Figure: true}, {Label: "Reads within", Figure: true},
			{Label: "Smallest graduation", Figure: true}, {Label: "Type"}, {Label: "Graduated at"}, {Label: "Certificate"}}}
	figure := func(r quantity.Reading, before string) cell {
		if r.IsNone() {
			return text("not known")
		}
		return text(before + r.Digits() + " " + r.Unit().Label())
	}
	all := e.book.State().Register(book.AnInstrument)
	slices.SortStableFunc(all, func(a, b *book.Registered) int { return cmp.Compare(rank(a, on), rank(b, on)) })
	v := instrumentsView{Doubts: []string{}, Table: t}
	for _, r := range all {
		b := r.Body.(*book.InstrumentRegistered)
		due, dated := b.Due()
		if !dated {
			due = "none set"
		}
		if doubt := r.Doubt(on); doubt != "" && !r.Retired {
			v.Doubts = append(v.Doubts, doubt)
		}
		t.Rows = append(t.Rows, row{Struck: r.Retired, Cells: []cell{{b.Name, r.Address}, text([]string{"in doubt", "sound", "not used"}[rank(r, on)]), text(string(due)), text(cmp.Or(string(b.Checked), "never")),
			figure(b.Correction, ""), figure(b.Half(), "±"), figure(b.Graduation, ""), text(b.Type), text(cmp.Or(basisText(b.Basis), "–")), text(cmp.Or(b.Certificate, "–"))}})
	}
	return v
}

// rank puts the doubtful first and the retired last.
func rank(r *book.Registered, on book.Day) int {
	switch {
	case r.Retired:
		return 2
	case r.Doubt(on) != "":
		return 0
	}
	return 1
}

// basisText is the temperature a hydrometer reads true at.
func basisText(basis string) string {
	if r, err := quantity.Parse(basis, quantity.Celsius); err == nil {
		return r.Digits() + " " + r.Unit().Label()
	}
	return ""
}
