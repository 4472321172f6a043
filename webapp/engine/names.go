package engine

import (
	"encoding/json"
	"fmt"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// name is what people call what an address stands for.
func (e *Engine) name(class book.Class, a book.Address) string {
	s := e.book.State()
	switch class {
	case book.AVessel:
		if v := s.Vessel(a); v != nil {
			return v.Name
		}
	case book.ARun:
		if r := s.Run(a); r != nil {
			return e.runTitle(r)
		}
	case book.ABottling:
		if b := s.Bottling(a); b != nil {
			return bottlingTitle(b)
		}
	case book.ATrial:
		if t := s.Trial(a); t != nil {
			return t.Name
		}
	case book.APack:
		if p := s.Pack(a); p != nil {
			return p.Name
		}
	case book.ALot, book.AGoodsLot:
		if l := s.Lot(a); l != nil && l.Name != "" {
			return l.Name
		}
	default:
		if r := s.Registered(class, a); r != nil {
			return r.Name
		}
	}
	return string(a)
}

func (e *Engine) runTitle(r *book.Run) string {
	what := string(r.Class)
	if p := e.book.State().Registered(book.AProduct, r.Product); p != nil {
		what = p.Name
	}
	if what == "" {
		what = "Run"
	}
	return capital(what) + ", " + e.name(book.AVessel, r.Still) + ", " + r.Started.Day() + " " + r.Started.Clock()
}

func bottlingTitle(b *book.Bottling) string {
	what := b.Name
	if what == "" {
		what = "Bottling"
	}
	return what + ", " + b.Opened.Day() + " " + b.Opened.Clock()
}

// choices lists what a field may name, with what helps to tell them apart.
func (e *Engine) choices(class book.Class) []choice {
	s := e.book.State()
	out := []choice{}
	add := func(a book.Address, label string) { out = append(out, choice{string(a), label}) }
	switch class {
	case book.AVessel:
		for a, v := range s.Vessels {
			label := v.Name + ", " + string(v.Use)
			if !v.Content.Empty() {
				label += ", " + string(v.Content.Material)
			}
			add(a, label)
		}
	case book.ARun:
		for a, r := range s.Runs {
			if r.Running() {
				add(a, e.runTitle(r))
			}
		}
	case book.ABottling:
		for a, b := range s.Bottlings {
			add(a, bottlingTitle(b))
		}
	case book.ATrial:
		for a, t := range s.Trials {
			add(a, t.Name+", "+t.Made.Day())
		}
	case book.APack:
		for a, p := range s.Packs {
			if n := p.Left(); n > 0 {
				add(a, fmt.Sprintf("%s, made %s, %d left", p.Name, p.Made.Day(), n))
			}
		}
	case book.AGoodsLot:
		for a, g := range s.GoodsLots {
			if g.OnHand() > 0 {
				add(a, g.Name+", "+g.Measured.Show(g.OnHand())+", came "+g.Came.Day())
			}
		}
	case book.ALot:
		for a, l := range s.Lots {
			label := string(l.Material) + " " + l.Begun.Day()
			if l.Name != "" {
				label = l.Name + ", " + label
			}
			add(a, label)
		}
	case book.AnInstrument:
		for _, r := range s.Register(class) {
			if !r.Retired {
				add(r.Address, e.instrumentLabel(r))
			}
		}
	default:
		for _, r := range s.Register(class) {
			if !r.Retired {
				add(r.Address, r.Name)
			}
		}
	}
	return out
}

// says is a body in labels and words, what was not given left out.
func (e *Engine) says(body book.Body) []pair {
	if body == nil {
		return []pair{}
	}
	if seen, hidden := e.kept(body); hidden {
		return seen
	}
	return e.lines(book.KindOf(body).Fields, book.Encode(body), []pair{}, "")
}

func (e *Engine) lines(fields []book.Field, raw []byte, out []pair, before string) []pair {
	var values map[string]json.RawMessage
	if json.Unmarshal(raw, &values) != nil {
		return append(out, pair{before + "Content", string(raw)})
	}
	for i := range fields {
		f := &fields[i]
		v, given := values[f.Key]
		if !given {
			continue
		}
		if f.Type == book.Group {
			var parts []json.RawMessage
			if json.Unmarshal(v, &parts) == nil {
				for _, part := range parts {
					out = e.lines(f.Fields, part, out, f.Label+": ")
				}
			}
			continue
		}
		out = append(out, pair{before + f.Label, e.value(f, v)})
	}
	return out
}

func (e *Engine) value(f *book.Field, raw json.RawMessage) string {
	var s string
	if json.Unmarshal(raw, &s) != nil {
		if f.Type == book.Flag {
			return "yes"
		}
		return string(raw)
	}
	switch f.Type {
	case book.Figure:
		var r quantity.Reading
		if r.UnmarshalText([]byte(s)) == nil {
			return r.String()
		}
	case book.Naming:
		if f.RefTo != book.AnEntry {
			return e.name(f.RefTo, book.Address(s))
		}
	case book.Time:
		return spaced(s)
	}
	return s
}

// spaced is an RFC 3339 time as people read it: 2026-11-25 09:05.
func spaced(s string) string {
	if len(s) < 16 {
		return s
	}
	return s[:10] + " " + s[11:16]
}

// gist is a body in one line: its first few values.
func (e *Engine) gist(body book.Body) string {
	var parts []string
	for _, p := range e.says(body) {
		if len(parts) == 3 {
			break
		}
		if strings.Trim(p.Value, "0123456789") == "" { // a bare count says nothing by itself
			p.Value = strings.ToLower(p.Label) + " " + p.Value
		}
		parts = append(parts, p.Value)
	}
	return strings.Join(parts, ", ")
}

// values are a body's fields as a form holds them.
func values(body book.Body) map[string]any {
	var out map[string]any
	d := json.NewDecoder(strings.NewReader(string(book.Encode(body))))
	d.UseNumber()
	if err := d.Decode(&out); err != nil {
		panic("engine: the book encodes an object: " + err.Error())
	}
	return formValues(out)
}

func formValues(in map[string]any) map[string]any {
	for key, v := range in {
		switch v := v.(type) {
		case bool:
			in[key] = "yes"
		case json.Number:
			in[key] = v.String()
		case []any:
			for _, part := range v {
				if m, ok := part.(map[string]any); ok {
					formValues(m)
				}
			}
		}
	}
	return in
}
