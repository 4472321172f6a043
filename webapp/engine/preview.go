package engine

import (
	"encoding/json"
	"strconv"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

type preview struct {
	Wrong  []spokenFault `json:"wrong"`
	Result *result       `json:"result,omitempty"`
	Doubts []string      `json:"doubts,omitempty"` // about the instruments that are read, a sentence each; they stop nothing
	Blocks []block       `json:"blocks,omitempty"` // what goes with a plan's figure
	Then   []prepared    `json:"then,omitempty"`   // the entries that do what is planned, in order
	Also   []prepared    `json:"also,omitempty"`   // entries that keep the plan itself
}

// reading is the form that keeps nothing: a hydrometer and its thermometer.
const reading = "reading"

// preview says what follows from what is typed so far, and what is wrong with
// it. A figure is given as soon as it can be, whatever else is missing.
func (e *Engine) preview(in typed) (any, error) {
	if in.Kind == reading {
		return e.previewReading(in)
	}
	if e.beyond(in.Kind) {
		return nil, errElsewhere
	}
	if e.more != nil {
		if out, ok, err := e.more.preview(e, in); ok {
			return out, err
		}
	}
	if in.Kind == "entry amended" {
		_, faults := e.compose(in)
		var amendment struct {
			Entry book.Address    `json:"entry"`
			Body  json.RawMessage `json:"body"`
		}
		if json.Unmarshal(in.Body, &amendment) == nil {
			if named := e.book.Entry(amendment.Entry); named != nil {
				body, _ := book.Compose(named.Kind, e.book.State().Convention(), amendment.Body)
				return e.comesTo(typed{named.Kind, amendment.Body}, body, faults)
			}
		}
		return preview{Wrong: spoken(faults)}, nil
	}
	body, faults := e.compose(in)
	return e.comesTo(in, body, faults)
}

// comesTo says what a body comes to that was made of what is typed, and what is
// doubtful about its instruments.
func (e *Engine) comesTo(in typed, body book.Body, faults fault.List) (any, error) {
	if e.more == nil && figured(body) {
		return nil, errElsewhere
	}
	out := preview{Wrong: spoken(faults), Result: e.result(body)}
	if kind, ok := book.KindNamed(in.Kind); ok {
		out.Doubts = e.doubts(kind, in.Body)
	}
	return out, nil
}

// previewReading reads a hydrometer as a draw of no run.
func (e *Engine) previewReading(in typed) (any, error) {
	kind, err := kindNamed("draw read")
	if err != nil {
		return nil, err
	}
	doubts := e.doubts(kind, in.Body)
	body, all := book.Compose(kind.Name, e.book.State().Convention(), in.Body)
	var faults fault.List
	for _, f := range all {
		if f.Field != "run" {
			faults = append(faults, f)
		}
	}
	draw, ok := body.(*book.DrawRead)
	if !ok {
		return preview{Wrong: spoken(faults), Doubts: doubts}, nil
	}
	g := draw.Gauge()
	if len(faults) == 0 {
		_, _, err := g.TrueStrength(e.book.State())
		faults.Add("indicated", err)
	}
	return preview{Wrong: spoken(faults), Result: e.trueStrength(&g), Doubts: doubts}, nil
}

// result is the figure that a body is written for, nil where there is none
// (yet), and in the pocket engine where it is worked out elsewhere.
func (e *Engine) result(body book.Body) *result {
	s := e.book.State()
	switch b := body.(type) {
	case *book.FermentChecked:
		return e.checked(b)
	case *book.DrawRead:
		return e.drawing(b)
	case *book.RunStarted:
		return e.charging(b)
	case *book.ReceiverGauged:
		return e.gauged(&b.Gauge, b.Vessel)
	case *book.SpiritReceived:
		return e.gauged(&b.Gauge, b.Vessel)
	case *book.SpiritGauged:
		return e.regauged(b)
	case *book.SpiritMoved:
		return e.moved(b)
	case *book.LossRecorded:
		return e.gauged(&b.Gauge, b.Vessel)
	case *book.GainRecorded:
		return e.gauged(&b.Gauge, b.Vessel)
	case *book.SpiritDestroyed:
		return e.gauged(&b.Gauge, b.Vessel)
	case *book.BottlingClosed:
		if r := s.Bottling(b.Bottling); r != nil {
			return e.gauged(&b.Gauge, r.Tank)
		}
	case *book.BottlesCounted:
		if r := s.Bottling(b.Bottling); r != nil {
			return e.counted(r, b)
		}
	}
	if e.more != nil {
		return e.more.result(e, body)
	}
	return nil
}

// trueStrength shows a hydrometer reading corrected, in the unit it was read.
func (e *Engine) trueStrength(g *book.Gauge) *result {
	c, ok, err := g.TrueStrength(e.book.State())
	if err != nil || !ok {
		return nil
	}
	out := &result{Figure: c.Rounded.StringFixed(1), Steps: c.Working(), Method: "Method: " + string(c.Method) + "."}
	if g.Indicated.Unit() == quantity.Proof {
		out.Label, out.Unit = "True proof", "proof"
		out.Beside = append(out.Beside, pair{"at 20 °C", abvText(c.Strength) + " % vol"})
	} else {
		out.Label, out.Unit = "True strength at 20 °C", "% vol"
		out.Beside = append(out.Beside, pair{"at 60 °F", proofText(c.Strength) + " proof"})
	}
	if c.True.HasU {
		out.Beside = append(out.Beside, pair{"within", "±" + quantity.Fixed(c.True.Expanded(), 2)})
	}
	return out
}

// gauged shows a gauge worked out, nil while an amount or a strength is wanting.
func (e *Engine) gauged(g *book.Gauge, vessel book.Address) *result {
	v := e.book.State().Vessel(vessel)
	measured, working, faults := g.Measure(e.book.State(), v)
	if len(faults) > 0 {
		return nil
	}
	f := measured.Figures
	out := &result{Label: "Proof gallons", Figure: f.Legal.ProofGallons.StringFixed(1), Unit: "PG", Steps: append(working, f.Working()...)}
	pure := pair{"pure alcohol", quantity.Fixed(f.PureAlcohol.Value, 2) + " L"}
	if e.metric() {
		out.Label, out.Figure, out.Unit = "Pure alcohol", quantity.Fixed(f.PureAlcohol.Value, 2), "L"
		pure = pair{"proof gallons", f.Legal.ProofGallons.StringFixed(1)}
	}
	out.Beside = []pair{
		{"strength", proofText(f.Strength) + " proof, " + abvText(f.Strength) + " % vol"},
		{"at 60 °F", f.Legal.WineGallons.StringFixed(2) + " gal"},
		{"at 20 °C", quantity.Fixed(f.Volume20C.Value, 2) + " L"},
		pure,
		{"weight", quantity.Fixed(f.Weight.Value, 1) + " " + f.Weight.Unit.Label()},
	}
	if v != nil && v.Content.Material.Accounted() && !v.Content.Empty() {
		out.Beside = append(out.Beside, pair{"the book says", e.alcoholText(v.Content.Alcohol) + " " + e.alcoholLabel()})
	}
	return out
}

// counted shows a bottling's count with one more count.
func (e *Engine) counted(r *book.Bottling, b *book.BottlesCounted) *result {
	if b.Cases == 0 && b.Loose == 0 {
		return nil
	}
	per := b.PerCase
	if per == 0 {
		per = r.PerCase
	}
	station := b.Station
	if station == "" {
		station = "case"
	}
	now := b.Cases*per + b.Loose
	return &result{Label: "This count", Figure: strconv.FormatInt(now, 10), Unit: "bottles",
		Beside: []pair{{"with earlier counts at " + string(station), strconv.FormatInt(r.At(station)+now, 10)}},
		Steps: quantity.Working{{Text: strconv.FormatInt(b.Cases, 10) + " cases of " + strconv.FormatInt(per, 10) + " and " + strconv.FormatInt(b.Loose, 10) + " loose",
			Value: strconv.FormatInt(now, 10)}}}
}
