package engine

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A described field is what the page needs to ask for it.
type described struct {
	Key     string      `json:"key"`
	Label   string      `json:"label"`
	Help    string      `json:"help,omitempty"`
	Type    string      `json:"type"`
	Need    bool        `json:"need,omitempty"`
	Units   []unit      `json:"units,omitempty"`
	Words   []string    `json:"words,omitempty"`
	Choices []choice    `json:"choices,omitempty"`
	MaxLen  int         `json:"max_len,omitempty"`
	Fields  []described `json:"fields,omitempty"`
	Front   bool        `json:"front,omitempty"` // of a part: in sight, though it is not needed
}

type unit struct {
	Symbol string `json:"symbol"`
	Name   string `json:"name"`
}

type choice struct {
	Value string `json:"value"`
	Label string `json:"label"`
}

type formOf struct {
	Kind string `json:"kind"`
}

type form struct {
	Kind   string      `json:"kind"`
	Help   string      `json:"help"`
	Fields []described `json:"fields"`
}

func (e *Engine) form(in formOf) (any, error) {
	if in.Kind == reading {
		return e.readingForm()
	}
	if e.beyond(in.Kind) {
		return nil, errElsewhere
	}
	if e.more != nil {
		if f, ok := e.more.form(e, in.Kind); ok {
			return f, nil
		}
	}
	kind, err := kindNamed(in.Kind)
	if err != nil {
		return nil, err
	}
	fields := e.narrow(kind.Name, e.describe(kind.Fields))
	fields = slices.DeleteFunc(fields, func(d described) bool { return slices.Contains(unasked[kind.Name], d.Key) })
	for i := range fields {
		for j := range fields[i].Fields {
			inner := &fields[i].Fields[j]
			inner.Front = inner.Front || slices.Contains(inFront[kind.Name], fields[i].Key+"."+inner.Key)
		}
	}
	return form{kind.Name, kind.Help, fields}, nil
}

// unasked are the fields that a kind's form leaves out: what is worked out, and
// the amount of a gauge that reads a strength only. It is read and never changed.
var unasked = map[string][]string{
	monthClosed:    {"figures"},
	"entry voided": {"bottling"},
	"fill checked": {"volume", "volume_temp", "gross", "tare", "net"},
}

// inFront are the fields of parts that stand open though a part can do without
// them. It is read and never changed.
var inFront = map[string][]string{"fill checked": {"bottles.empty", "bottles.full"}}

// readingForm asks for a hydrometer and its thermometer and keeps nothing.
func (e *Engine) readingForm() (any, error) {
	kind, err := kindNamed("draw read")
	if err != nil {
		return nil, err
	}
	asked := []string{"indicated", "temp", "hydrometer", "thermometer", "indicated_correction", "temp_correction"}
	fields := slices.DeleteFunc(e.describe(kind.Fields), func(d described) bool { return !slices.Contains(asked, d.Key) })
	return form{Kind: reading, Fields: fields}, nil
}

func kindNamed(name string) (*book.Kind, error) {
	kind, ok := book.KindNamed(name)
	if !ok {
		return nil, fault.Fault{Code: fault.Unknown, Field: "kind", Value: name, Limit: "is not a kind of entry this build knows", Remedy: "load the page again"}
	}
	return kind, nil
}

func (e *Engine) describe(fields []book.Field) []described {
	out := make([]described, 0, len(fields))
	for i := range fields {
		f := &fields[i]
		d := described{Key: f.Key, Label: f.Label, Help: f.Help, Type: string(f.Type), Need: f.Need, Words: f.Words, MaxLen: f.MaxLen}
		switch f.Type {
		case book.Figure:
			d.Units = unitsFor(f, e.book.State().Convention())
		case book.Naming:
			d.Choices = e.choices(f.RefTo)
			if of := reads[f.Key]; of != "" && f.RefTo == book.AnInstrument {
				d.Choices = slices.DeleteFunc(d.Choices, func(c choice) bool { i := e.instrument(book.Address(c.Value)); return i == nil || i.Type != of })
			}
		case book.Group:
			d.Fields = e.describe(f.Fields)
		}
		out = append(out, d)
	}
	return out
}

// describeAs is describe for a body that is corrected: a list also offers what
// the body names, though nothing new may name it any more, such as a run that
// has ended.
func (e *Engine) describeAs(fields []book.Field, values map[string]any) []described {
	out := e.describe(fields)
	for i := range fields {
		named, ok := values[fields[i].Key].(string)
		if ok && fields[i].Type == book.Naming && !slices.ContainsFunc(out[i].Choices, func(c choice) bool { return c.Value == named }) {
			out[i].Choices = append(out[i].Choices, choice{named, e.name(fields[i].RefTo, book.Address(named))})
		}
	}
	return out
}

// unitsFor offers the units the field names, the book's own convention first.
func unitsFor(f *book.Field, c book.Convention) []unit {
	bare := f.Bare(c)
	out := []unit{{bare.Symbol(), bare.Label()}}
	for _, u := range f.Units {
		if u != bare {
			out = append(out, unit{u.Symbol(), u.Label()})
		}
	}
	return out
}

// foreignTo lists, by convention, the units that its people read second.
var foreignTo = map[book.Convention][]quantity.Unit{
	book.US:     {quantity.Celsius, quantity.Kilogram, quantity.Litre, quantity.ABV20},
	book.Metric: {quantity.Fahrenheit, quantity.Pound, quantity.Gallon, quantity.Proof},
}

// domesticTo are the units that stand for them there.
var domesticTo = map[book.Convention]map[quantity.Unit]quantity.Unit{
	book.US:     {quantity.Celsius: quantity.Fahrenheit, quantity.Kilogram: quantity.Pound, quantity.Litre: quantity.Gallon},
	book.Metric: {quantity.Fahrenheit: quantity.Celsius, quantity.Pound: quantity.Kilogram, quantity.Gallon: quantity.Litre},
}

// ownFirst offers units, the convention's own first.
func (e *Engine) ownFirst(units []quantity.Unit) []unit {
	c := e.book.State().Convention()
	var own, foreign []unit
	seen := map[quantity.Unit]bool{}
	add := func(u quantity.Unit) {
		if seen[u] {
			return
		}
		seen[u] = true
		to := &own
		if slices.Contains(foreignTo[c], u) {
			to = &foreign
		}
		*to = append(*to, unit{u.Symbol(), u.Label()})
	}
	for _, u := range units {
		if d, ok := domesticTo[c][u]; ok {
			add(d)
		}
		add(u)
	}
	return append(own, foreign...)
}

// typed is a body as a form holds it.
type typed struct {
	Kind string          `json:"kind"`
	Body json.RawMessage `json:"body"`
}

// compose makes a body of what is typed and holds it against the book. The
// inner body of an amendment is typed too: it is composed as its own kind, and
// its faults stand at its own fields.
func (e *Engine) compose(in typed) (book.Body, fault.List) {
	convention := e.book.State().Convention()
	if in.Kind == monthClosed {
		return e.more.closing(e, in.Body)
	}
	if in.Kind == "entry amended" {
		inner, faults := e.composeInner(&in)
		if len(faults) > 0 {
			return inner, faults
		}
	}
	body, faults := book.Compose(in.Kind, convention, in.Body)
	if v, ok := body.(*book.EntryVoided); ok {
		v.Bottling = e.countedAt(v.Entry)
	}
	if len(faults) == 0 {
		faults = e.book.State().Timely(body)
	}
	return body, faults
}

func (e *Engine) composeInner(in *typed) (book.Body, fault.List) {
	var amendment struct {
		Entry    book.Address    `json:"entry"`
		Why      string          `json:"why"`
		Happened string          `json:"happened,omitempty"`
		Version  int             `json:"v"`
		Body     json.RawMessage `json:"body"`
	}
	if err := json.Unmarshal(in.Body, &amendment); err != nil {
		return nil, fault.List{{Code: book.Malformed, Field: "body", Limit: "is not the JSON that was expected: " + err.Error(), Remedy: "load the page again"}}
	}
	named := e.book.Entry(amendment.Entry)
	if named == nil {
		return nil, fault.List{{Code: fault.Unknown, Field: "entry", Value: string(amendment.Entry), Limit: "is not an entry of this book", Remedy: "open the entry to correct and correct it there"}}
	}
	body, faults := book.Compose(named.Kind, e.book.State().Convention(), amendment.Body)
	if strings.TrimSpace(amendment.Why) == "" {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "why", Limit: "a correction says why", Remedy: "say in a few words what was wrong"})
	}
	if len(faults) > 0 {
		return body, faults
	}
	amendment.Version, amendment.Body = book.KindOf(body).Version, book.Encode(body)
	raw, err := json.Marshal(amendment)
	if err != nil {
		panic(fmt.Sprintf("engine: an amendment of strings: %v", err))
	}
	in.Body = raw
	return body, nil
}

// countedAt is the bottling that an entry counts for, "" for any other entry.
func (e *Engine) countedAt(a book.Address) book.Address {
	if entry := e.book.Entry(a); entry != nil {
		switch b := entry.Body.(type) {
		case *book.BottlesCounted:
			return b.Bottling
		case *book.BottlesSpoiled:
			return b.Bottling
		}
	}
	return ""
}
