package engine

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// runAsked are the book's open questions about this run.
func (e *Engine) runAsked(w *worked) []block {
	about := map[book.Address]bool{w.Address: true, w.EndedBy: true}
	for _, l := range w.Lines {
		about[l.Entry] = true
	}
	for _, f := range w.Fractions {
		about[f.Entry] = true
	}
	delete(about, "")
	var asked []question
	for _, q := range e.openQuestions() {
		if slices.ContainsFunc(q.Entries, func(a book.Address) bool { return about[a] }) {
			asked = append(asked, q)
		}
	}
	if len(asked) == 0 {
		return []block{}
	}
	return []block{{Questions: asked}}
}

// outcome is what a run came to: the balance, the yield and the limits of its
// class, as soon as a receiver was gauged.
func (e *Engine) outcome(w *worked) []block {
	if len(w.Fractions) == 0 {
		return nil
	}
	var out []block
	c := w.charge
	if r, asked := e.balance(w, c); r != nil {
		out = append(out, block{Result: r})
		if asked != nil {
			out = append(out, block{Questions: []question{*asked}})
		}
	}
	if r := e.yield(w, c); r != nil {
		out = append(out, block{Result: r})
	}
	return append(out, e.limits(w)...)
}

// fractionEntries are the gauges of the receivers, for a balance.
func (e *Engine) fractionEntries(run *book.Run) (out []still.Entry) {
	for _, f := range run.Fractions {
		out = append(out, still.Entry{Name: string(f.Fraction) + " in " + e.name(book.AVessel, f.Vessel),
			Alcohol: quantity.Figure{Value: f.Alcohol.LitresPureAlcohol(), Unit: quantity.Litre, U: book.Alcohol(f.Doubt).LitresPureAlcohol(), HasU: f.Doubt > 0}})
	}
	return out
}

// balanced is the alcohol balance of a run, in litres of pure alcohol.
func (e *Engine) balanced(run *book.Run, c charged) (still.Balanced, bool) {
	if !c.known || len(run.Fractions) == 0 {
		return still.Balanced{}, false
	}
	out := e.fractionEntries(run)
	if left, ok := stillageOf(run); ok {
		out = append(out, left)
	}
	b, err := still.Balance(c.entries, out)
	return b, err == nil
}

// stillageOf is what stayed in the still, where its volume and strength were
// given; nothing, where it reads as water.
func stillageOf(run *book.Run) (still.Entry, bool) {
	g := run.Stillage
	if g.Volume.IsNone() || g.Strength.IsNone() {
		return still.Entry{}, false
	}
	strength := g.Strength
	if !strength.HasHalfWidth() {
		strength = strength.WithHalfWidth(quantity.MustParse(mashMeasured, strength.Unit()))
	}
	left, err := still.ChargeOf(g.Volume, strength)
	if err != nil {
		return still.Entry{Name: "stillage", Alcohol: quantity.Figure{Unit: quantity.Litre, HasU: true}}, true
	}
	return still.Entry{Name: "stillage", Alcohol: left.PureAlcohol}, true
}

func (e *Engine) balance(w *worked, c charged) (*result, *question) {
	out := &result{Label: "Alcohol balance", Figure: "?", Beside: []pair{}, Steps: quantity.Working{}}
	if !c.known {
		out.Says = c.remarks
		return out, nil
	}
	b, ok := e.balanced(w.Run, c)
	if !ok {
		return nil, nil
	}
	per, name := e.alcoholUnit()
	in := func(f quantity.Figure) string {
		return quantity.Fixed(f.Value/per, 2) + " ±" + quantity.Fixed(f.Expanded()/per, 2)
	}
	out.Label = "Alcohol balance: what went in, less what came out"
	out.Figure, out.Unit = fixed(b.Gap.Value/per, 2), name
	out.Beside = []pair{{"within", "±" + quantity.Fixed(b.Gap.Expanded()/per, 2)}, {"charge", in(b.In)}, {"came out", in(b.Out)}, {"of the charge", quantity.Fixed(100*b.Share, 1) + " %"}}
	out.Steps = b.Working()
	out.Method = "In litres of pure alcohol at 20 °C."
	if _, given := stillageOf(w.Run); !given {
		out.Says = append(out.Says, "The stillage's volume and strength were not given: what stayed in the still counts as lost.")
	}
	if w.Running() {
		out.Says = append(out.Says, "The run goes on: what is not gauged yet counts as lost.")
		return out, nil
	}
	if b.Verdict == still.Closed {
		out.Says = append(out.Says, b.Words)
		return out, nil
	}
	return out, &question{Kind: "alcohol balance", Text: b.Words, Entries: []book.Address{w.Address, w.EndedBy}}
}

// fruitOf is the weight of the raw lots behind a run's charge, by the shares of
// the mash that was charged.
func (e *Engine) fruitOf(run *book.Run) []book.MashPart {
	kg := map[book.Address]float64{}
	var order []book.Address
	var walk func(lot book.Address, share float64, depth int)
	walk = func(lot book.Address, share float64, depth int) {
		l := e.book.State().Lot(lot)
		if l == nil || depth > 8 {
			return
		}
		for _, p := range l.From {
			parent := e.book.State().Lot(p.Lot)
			switch {
			case parent == nil:
			case parent.Material.Raw():
				if _, seen := kg[p.Lot]; !seen {
					order = append(order, p.Lot)
				}
				kg[p.Lot] += share * book.Mass(p.Amount).Kilograms()
			case parent.Material.Fermenting() && parent.Amount > 0:
				walk(p.Lot, share*float64(p.Amount)/float64(parent.Amount), depth+1)
			}
		}
	}
	for _, p := range run.From {
		if l := e.book.State().Lot(p.Lot); l != nil && l.Material.Fermenting() && l.Amount > 0 {
			walk(p.Lot, float64(p.Amount)/float64(l.Amount), 0)
		}
	}
	var out []book.MashPart
	for _, lot := range order {
		out = append(out, book.MashPart{Lot: lot, Weight: quantity.FromDecimal(quantity.Snap(kg[lot]).Round(3), quantity.Kilogram)})
	}
	return out
}

// gaugedOut is the pure alcohol that a run's receivers were gauged at.
func gaugedOut(run *book.Run) quantity.Figure {
	out := quantity.Figure{Unit: quantity.Litre, HasU: true}
	for _, f := range run.Fractions {
		out.Value += f.Alcohol.LitresPureAlcohol()
		out.U = math.Hypot(out.U, book.Alcohol(f.Doubt).LitresPureAlcohol())
	}
	return out
}

// yieldOf is a run's yield, false where nothing says what it was of: of its
// charge all that came over, of its fruit what came over less the spirit that
// was returned to the still.
func (e *Engine) yieldOf(run *book.Run, c charged) (y still.Yielded, parts []book.MashPart, ok bool) {
	all := gaugedOut(run)
	if all.Value <= 0 {
		return y, nil, false
	}
	if c.volume > 0 {
		of, err := still.Yield(all, quantity.Reading{}, quantity.FromDecimal(quantity.Snap(c.volume).Round(3), quantity.Litre))
		y, ok = of, err == nil
	}
	parts = e.fruitOf(run)
	sum := 0.0
	for _, p := range parts {
		sum += p.Weight.In(quantity.Kilogram)
	}
	made := all
	made.Value -= run.Charged.LitresPureAlcohol()
	if sum > 0 && made.Value > 0 {
		of, err := still.Yield(made, quantity.FromDecimal(quantity.Snap(sum).Round(3), quantity.Kilogram), quantity.Reading{})
		if err == nil {
			y.Per100Kg, ok = of.Per100Kg, true
		}
	}
	return y, parts, ok
}

func (e *Engine) yield(w *worked, c charged) *result {
	y, parts, ok := e.yieldOf(w.Run, c)
	if !ok {
		return nil
	}
	out := &result{Label: "Yield, pure alcohol", Figure: quantity.Fixed(y.Per100Kg.Value, 2), Unit: "L from 100 kg of fruit", Beside: []pair{}}
	if y.Per100Kg.Value == 0 {
		out.Figure, out.Unit = quantity.Fixed(y.Per100L.Value, 2), "L from 100 L of charge"
	}
	if y.PerLitre.Value > 0 {
		out.Beside = append(out.Beside, pair{"from one litre of charge", quantity.Fixed(1000*y.PerLitre.Value, 0) + " mL"})
	}
	if mean, n := e.yieldBefore(w.Run); n > 0 {
		out.Beside = append(out.Beside, pair{fmt.Sprintf("mean of the last %d", n), quantity.Fixed(mean, 2) + " L"})
	}
	sum, steps, kg := e.potential(parts)
	if kg > 0 && sum.Low.Value > 0 {
		per := func(litres float64) string { return quantity.Fixed(100*litres/kg, 2) }
		out.Beside = append(out.Beside, pair{"lowest official rate", per(sum.Low.Value) + " L"}, pair{"likely, by the handbook", per(sum.PureAlcohol.Value) + " L, up to " + per(sum.High.Value)})
		switch v := y.Per100Kg; {
		case v.Value+v.Expanded() < 100*sum.Low.Value/kg:
			out.Says = append(out.Says, "Below the lowest official rate: was all of the mash run, did the ferment end early, or is a weight wrong?")
		case v.Value-v.Expanded() > 100*sum.High.Value/kg:
			out.Says = append(out.Says, "Above what the tables know: look for an error of record first. Is a weight wrong, or was spirit returned that is not in the charge?")
		default:
			out.Says = append(out.Says, "Between the lowest official rate and the highest the tables know.")
		}
	}
	out.Steps.Add("pure alcohol of all receivers", gaugedOut(w.Run).Text(2))
	if w.Charged > 0 {
		out.Steps.Add("of it, returned to the still as spirit and not of the fruit", quantity.Fixed(w.Charged.LitresPureAlcohol(), 2)+" L")
	}
	for _, p := range parts {
		out.Steps.Add("of "+e.name(book.ALot, p.Lot), p.Weight.String())
	}
	out.Steps = append(out.Steps, steps...)
	return out
}

// yieldBefore is the mean yield of 100 kg over the last runs of the product.
func (e *Engine) yieldBefore(run *book.Run) (mean float64, n int) {
	for _, r := range e.productRuns(run) {
		if r.Address == run.Address || !r.Started.Before(run.Started) || n == 5 {
			continue
		}
		if y, _, ok := e.yieldOf(r, e.chargeOf(r)); ok && y.Per100Kg.Value > 0 {
			mean, n = mean+y.Per100Kg.Value, n+1
		}
	}
	return mean / max(float64(n), 1), n
}

// classesOf are the published classes that a class of the book may be of.
func classesOf(c book.SpiritClass) []string {
	switch c {
	case book.Whisky:
		return []string{"whisky"}
	case book.Brandy:
		return []string{"brandy", "fruit spirit"}
	case book.Rum:
		return []string{"rum"}
	case book.Vodka, book.Neutral:
		return []string{"neutral spirits or vodka"}
	}
	return nil
}

// limits sets the hearts against what the class of the product may come off the
// still at, as a question where they are outside.
func (e *Engine) limits(w *worked) []block {
	law := "US"
	if e.metric() {
		law = "EU"
	}
	var out []block
	for _, f := range w.Fractions {
		if f.Fraction != book.Hearts {
			continue
		}
		for _, l := range still.ClassLimits() {
			if l.Law != law || !slices.Contains(classesOf(w.Class), l.Class) {
				continue
			}
			if asks := l.Ask(f.Strength); asks != "" {
				out = append(out, block{Questions: []question{{Kind: "limit of the class", Text: asks, Entries: []book.Address{f.Entry}}}})
				continue
			}
			out = append(out, block{Facts: &facts{Title: "Limit of the class", Lines: []pair{
				{"Hearts in " + e.name(book.AVessel, f.Vessel), e.strengthText(f.Strength)}, {capital(l.Class) + " off the still", boundText(l)}, {"By", l.Source}}}})
		}
	}
	return out
}

func boundText(l still.ClassLimit) string {
	switch {
	case !l.Most.At.IsNone() && l.Most.Itself:
		return "at no more than " + l.Most.At.String()
	case !l.Most.At.IsNone():
		return "below " + l.Most.At.String()
	}
	return "at no less than " + l.Least.At.String()
}

// productRuns are the ended runs like this one, and this one, the latest first.
func (e *Engine) productRuns(run *book.Run) (out []*book.Run) {
	for _, r := range e.book.State().Runs {
		if r.Address == run.Address || !r.Running() && alike(r, run) {
			out = append(out, r)
		}
	}
	slices.Reverse(out)
	return out
}

// runsCompared is how many runs of a product stand side by side.
const runsCompared = 12

// productTable sets the runs of a product side by side, to learn from; nil where
// there is none to compare with.
func (e *Engine) productTable(run *book.Run) *table {
	runs := e.productRuns(run)
	if len(runs) < 2 {
		return nil
	}
	per, _ := e.alcoholUnit()
	unit := "PG"
	if e.metric() {
		unit = "L"
	}
	t := &table{Title: "Runs of this product side by side", Rows: []row{}, Columns: []column{{Label: "Run"}, {Label: "Charge", Figure: true}, {Label: "Hearts, " + unit, Figure: true},
		{Label: "Hearts from", Figure: true}, {Label: "to", Figure: true}, {Label: "L per 100 kg", Figure: true}, {Label: "Gap, " + unit, Figure: true}, {Label: "Marks", Figure: true}}}
	for _, r := range runs[:min(len(runs), runsCompared)] {
		c := e.chargeOf(r)
		cells := []cell{{strings.ReplaceAll(r.Started.Day(), "-", "\u2011"), r.Address}} // hyphens that no line is broken at
		add := func(s string) { cells = append(cells, text(s)) }
		chargeText := ""
		if c.known {
			chargeText = quantity.Fixed(c.charge.PureAlcohol.Value/per, 1)
		}
		add(chargeText)
		hearts := book.Alcohol(0)
		for _, f := range r.Fractions {
			if f.Fraction == book.Hearts {
				hearts += f.Alcohol
			}
		}
		heartsText := ""
		if hearts > 0 {
			heartsText = quantity.Fixed(hearts.LitresPureAlcohol()/per, 1)
		}
		add(heartsText)
		for _, fraction := range []book.Fraction{book.Heads, book.Hearts} {
			words := ""
			if s, ok := e.cutFrom(r, fraction); ok {
				words = e.strengthFigure(s)
			}
			add(words)
		}
		yielded := ""
		if y, _, ok := e.yieldOf(r, c); ok && y.Per100Kg.Value > 0 {
			yielded = quantity.Fixed(y.Per100Kg.Value, 2)
		}
		add(yielded)
		gap, note := "", ""
		if b, ok := e.balanced(r, c); ok && !r.Running() {
			gap, note = signed(b.Gap.Value/per), string(b.Verdict)
		}
		add(gap)
		marks, words := e.scores(r)
		add(marks)
		if r.Address == run.Address {
			note = joined("the run shown", note)
		}
		t.Rows = append(t.Rows, row{Cells: cells, Note: joined(note, words)})
	}
	return t
}

// scores are the mean mark 'all in all' of a run's hearts, with how many gave
// one, and the last taster's words.
func (e *Engine) scores(run *book.Run) (marks, words string) {
	var sum, n int64
	for _, t := range e.book.State().Tastings() {
		of := slices.ContainsFunc(run.Fractions, func(f book.Gathered) bool { return f.Fraction == book.Hearts && slices.Contains(t.Lots, f.Entry) })
		if !of || t.Whole == 0 {
			continue
		}
		sum, n = sum+t.Whole, n+1
		if t.Words != "" {
			words = "tasted: " + t.Words
		}
	}
	if n == 0 {
		return "", ""
	}
	return quantity.Fixed(float64(sum)/float64(n), 1) + " of " + fmt.Sprint(n), words
}

// charging shows what a charge holds before the run begins.
func (e *Engine) charging(b *book.RunStarted) *result {
	if len(b.Charge) == 0 {
		return nil
	}
	run := &book.Run{RunStarted: *b}
	s := e.book.State()
	for i := range b.Charge {
		c := &b.Charge[i]
		v := s.Vessel(c.Vessel)
		if v == nil || v.Content.Empty() {
			return nil
		}
		one := book.Charged{Vessel: c.Vessel, Material: v.Content.Material, Strength: c.Strength, Parts: v.Content.Parts,
			Measure: book.Measure{Mass: v.Content.Mass, Alcohol: v.Content.Alcohol, Volume: v.Content.Volume, Solids: v.Content.Solids, Doubt: v.Content.Doubt}}
		if !c.Gauge.None() {
			if !v.Content.Material.Accounted() {
				if volumeRead(c.Volume) {
					one.Volume = book.Millilitres(quantity.Snap(c.Volume.Base() * 1000).Round(0).IntPart())
				}
			} else if g, _, faults := c.Gauge.Measure(s, v); len(faults) == 0 {
				one.Mass, one.Alcohol = g.Mass, g.Alcohol
			}
		}
		run.Charges = append(run.Charges, one)
	}
	run.Started = e.now()
	c := e.chargeOf(run)
	per, name := e.alcoholUnit()
	out := &result{Label: "Pure alcohol in the charge", Figure: "?", Unit: name, Beside: []pair{}, Steps: quantity.Working{}, Says: c.remarks}
	if c.known {
		out.Figure = quantity.Fixed(c.charge.PureAlcohol.Value/per, 1)
		out.Beside = append(out.Beside, pair{"within", "±" + quantity.Fixed(c.charge.PureAlcohol.Expanded()/per, 1)})
	}
	if c.volume > 0 {
		out.Beside = append(out.Beside, pair{"volume", e.litresText(c.volume)})
		if c.known {
			if strength, err := spirit.FromABV20(min(100, 100*c.charge.PureAlcohol.Value/c.volume)); err == nil {
				out.Beside = append(out.Beside, pair{"strength", e.strengthText(strength)})
			}
		}
	}
	for _, entry := range c.entries {
		out.Steps.Add(entry.Name, entry.Alcohol.Text(2))
	}
	if v := s.Vessel(b.Still); v != nil && c.volume > 0 {
		full := c.volume / v.Capacity.Base()
		out.Beside = append(out.Beside, pair{v.Name, quantity.Fixed(100*full, 0) + " % full"})
		if full > mostFull {
			out.Says = append(out.Says, "More than three quarters full: mash foams into the neck.")
		}
	}
	return out
}

// mostFull is how full a still may be charged (common practice, no source).
const mostFull = 0.75
