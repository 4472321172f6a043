package engine

import (
	"fmt"
	"slices"
	"strconv"

	"gaugebook/calc/book"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

type openedView struct {
	Runs     []runChoice    `json:"runs"`
	Run      *runChoice     `json:"run"`
	Named    []book.Address `json:"named"` // what names the run to a counter's phone
	Stations []placeAt      `json:"stations"`
	Draws    []drawOf       `json:"draws"` // what the run still needs, ready to be issued
	Blocks   []block        `json:"blocks"`
	Begin    map[string]any `json:"begin"`  // what the form of a new run begins with
	Checks   []string       `json:"checks"` // of the room and the line, before the first bottle
}

// A drawOf is goods to be issued to the run, from one lot.
type drawOf struct {
	Title  string         `json:"title"`
	Values map[string]any `json:"values"`
}

// runPage is the screen of an open run: what is expected, what is short, what
// to draw, and the stations; and what a new run begins with.
func (e *Engine) runPage(wanted book.Address) openedView {
	s := e.book.State()
	day := e.now().Day()
	out := openedView{Runs: []runChoice{}, Named: []book.Address{}, Stations: []placeAt{}, Draws: []drawOf{}, Blocks: []block{}, Checks: fill.RoomChecks(),
		Begin: map[string]any{"lot_code": book.DayLot(day, s.OpenedOn(day)), "first_case": strconv.FormatInt(s.NextCase(), 10)}}
	run := e.openRun(wanted, &out.Runs)
	if run == nil {
		return out
	}
	out.Run, out.Stations = &runChoice{run.Address, bottlingTitle(run)}, stationsOf(run)
	for _, a := range []book.Address{run.Product, run.Tank} {
		if a != "" {
			out.Named = append(out.Named, a)
		}
	}
	if asked := e.askedOfRun(run); len(asked) > 0 {
		out.Blocks = append(out.Blocks, block{Questions: asked})
	}
	expected := e.expect(&run.BottlingOpened, run.Tanked, run)
	if expected != nil {
		out.Blocks = append(out.Blocks, block{Result: expected.result})
		if len(expected.needs) > 0 {
			out.Blocks = append(out.Blocks, block{Table: e.needsTable(run, expected)})
		}
		out.Draws = e.goodsToDraw(run, expected)
	}
	out.Blocks = append(out.Blocks, block{Facts: e.lotFacts(run)})
	return out
}

// askedOfRun lists the open questions about a run: its opening, its counts, its
// fill checks.
func (e *Engine) askedOfRun(run *book.Bottling) (out []question) {
	own := map[book.Address]bool{run.Address: true}
	for _, t := range run.Tally {
		own[t.Entry] = true
	}
	for _, f := range run.Fills {
		own[f.Entry] = true
	}
	for _, q := range e.openQuestions() {
		if slices.ContainsFunc(q.Entries, func(a book.Address) bool { return own[a] }) {
			out = append(out, q)
		}
	}
	return out
}

// An expectation is what a tank is to give, worked out.
type expectation struct {
	fill.Expected
	needs  []book.GoodNeed
	stock  []fill.Stock
	result *result
}

// opening is the preview of a run: bottles and cases to expect, what is short,
// and whether the tank is at the label's strength.
func (e *Engine) opening(b *book.BottlingOpened) *result {
	s := e.book.State()
	v := s.Vessel(b.Tank)
	full := s.Labelled(*b)
	measured, working, faults := b.Measure(s, v)
	if len(faults) > 0 {
		return nil
	}
	if x := e.expect(&full, measured, nil); x != nil {
		x.result.Steps = append(append(working, measured.Figures.Working()...), x.result.Steps...)
		return x.result
	}
	return e.gauged(&b.Gauge, b.Tank) // without the size of the bottle there is the tank's gauge
}

// expect works out what a gauged tank fills, nil where the bottle is not known.
// run is nil before it is opened.
func (e *Engine) expect(b *book.BottlingOpened, tank book.Gauged, run *book.Bottling) *expectation {
	s := e.book.State()
	if b.Bottle.IsNone() || tank.Mass == 0 {
		return nil
	}
	per := max(b.PerCase, 1)
	x := &expectation{}
	var learned bool
	x.needs, learned = s.Needs(b.Product)
	for _, n := range x.needs {
		at := s.OnHand(n.Good)
		if run != nil {
			issued, returned, spoiled := run.Line(n.Good)
			at += issued - returned - spoiled
		}
		x.stock = append(x.stock, fill.Stock{Name: n.Name, PerCase: n.PerCase, Each: n.Each, OnHand: max(at, 0)})
	}
	base, volume := fill.At60F, tank.Figures.Volume60F.In(quantity.Litre)
	if e.metric() {
		base, volume = fill.At20C, tank.Figures.Volume20C
	}
	if !volume.HasU && tank.Alcohol > 0 { // as the book takes it where the instruments say nothing
		volume.U, volume.HasU = volume.Value*tank.Doubt/float64(tank.Alcohol), true
	}
	var err error
	x.Expected, err = fill.Expect(fill.Run{Tank: volume.Reading(3), Strength: tank.Shown, Base: base, Size: b.Bottle, PerCase: per, Goods: x.stock})
	if err != nil {
		return nil
	}
	x.result = &result{Label: "Bottles to expect", Figure: strconv.FormatInt(x.Cases*per+x.Loose, 10), Unit: "bottles", Steps: x.Working(),
		Beside: []pair{{"which is", onPallet(x.Cases*per+x.Loose, per)}, {"between", fmt.Sprintf("%d and %d", x.Least, x.Most)},
			{"in the tank", e.alcoholText(tank.Alcohol) + " " + e.alcoholLabel() + ", " + e.strengthText(tank.Strength)}}}
	for _, short := range x.Short {
		x.result.Says = append(x.result.Says, fmt.Sprintf("Short of %s: %d needed, %d on hand, enough for %d bottles.", short.Name, short.Needed, short.OnHand, short.Enough))
	}
	x.result.Says = append(x.result.Says, e.besideLabel(b, tank, base)...)
	switch {
	case len(x.needs) == 0:
		x.result.Says = append(x.result.Says, "The product’s dry goods are not registered, and no run of it drew any: glass, closures, labels, seals and cartons are not looked at.")
	case learned:
		x.result.Says = append(x.result.Says, "Dry goods as its last run drew them. Register them with the product to be sure.")
	}
	return x
}

// besideLabel holds the tank against the label, and says what is missing of it.
func (e *Engine) besideLabel(b *book.BottlingOpened, tank book.Gauged, base fill.Base) (says []string) {
	if !b.Label.IsNone() {
		if strong, err := fill.Strong(b.Label, tank.Shown, base); err == nil {
			says = append(says, "Strength: "+strong.Verdict+".")
		}
	} else {
		says = append(says, "No strength of the label is known, so the tank is held against none.")
	}
	for _, l := range e.approvals(b.Product) {
		if l.Value == "" {
			says = append(says, l.Label+": none is registered with the product.")
		}
	}
	return says
}

// approvals are the references of a product's label and formula.
func (e *Engine) approvals(product book.Address) []pair {
	s := e.book.State()
	r := s.Registered(book.AProduct, product)
	if r == nil {
		return []pair{{"Product", ""}}
	}
	p := r.Body.(*book.ProductRegistered)
	label, formula := p.Approval, p.Formula
	for _, a := range s.Approvals(product) {
		b := a.Body.(*book.ApprovalRecorded)
		if b.Of == "label" {
			label = joinedWords(b.Number, b.Status)
		} else {
			formula = joinedWords(b.Number, b.Status)
		}
	}
	out := []pair{{"Label approval", label}}
	if formula != "" { // not every spirit needs one
		out = append(out, pair{"Formula", formula})
	}
	return out
}

func (e *Engine) lotFacts(run *book.Bottling) *facts {
	lines := []pair{}
	add := func(label, value string) {
		if value != "" {
			lines = append(lines, pair{label, value})
		}
	}
	add("Class", string(run.Class))
	add("Strength on the label", run.Label.String())
	add("Bottle", run.Bottle.String())
	for _, l := range e.approvals(run.Product) {
		add(l.Label, l.Value)
	}
	add("Lot code", run.LotCode)
	if run.FirstCase > 0 {
		serials := fmt.Sprintf("from %d", run.FirstCase)
		if cased := run.At("case") / max(run.PerCase, 1); cased > 0 {
			serials = fmt.Sprintf("%d to %d, by now", run.FirstCase, run.FirstCase+cased-1)
		}
		add("Case serials", serials)
	}
	add("Tank", e.name(book.AVessel, run.Tank))
	checked := "not said"
	if run.Checked {
		checked = "yes"
	}
	add("Room and line checked", checked)
	return &facts{Title: "The label and the lot", Lines: lines}
}

// needsTable sets what the run needs of each good beside what it has.
func (e *Engine) needsTable(run *book.Bottling, x *expectation) *table {
	t := &table{Title: "Dry goods of the run", Empty: "", Rows: []row{}, Columns: []column{{Label: "Good"}, {Label: "Needed", Figure: true}, {Label: "At the line", Figure: true}, {Label: "In store", Figure: true}}}
	for _, n := range x.needs {
		issued, returned, spoiled := run.Line(n.Good)
		line, store := issued-returned-spoiled, e.book.State().OnHand(n.Good)
		needed := n.For(x.Most, run.PerCase)
		r := row{Cells: []cell{text(n.Name), text(strconv.FormatInt(needed, 10)), text(strconv.FormatInt(line, 10)), text(strconv.FormatInt(store, 10))}}
		if missing := needed - line - store; missing > 0 {
			r.Note = fmt.Sprintf("%d short", missing)
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// goodsToDraw proposes to issue what the line has not got yet, the oldest lot first.
func (e *Engine) goodsToDraw(run *book.Bottling, x *expectation) []drawOf {
	out := []drawOf{}
	for _, n := range x.needs {
		issued, returned, spoiled := run.Line(n.Good)
		want := n.For(x.Most, run.PerCase) - (issued - returned - spoiled)
		for a, lot := range e.book.State().GoodsLots {
			if want <= 0 {
				break
			}
			if lot.Good != n.Good || lot.OnHand() <= 0 {
				continue
			}
			take := min(want, lot.OnHand())
			want -= take
			out = append(out, drawOf{fmt.Sprintf("Draw %d %s, came %s", take, n.Name, lot.Came.Day()),
				map[string]any{"lot": string(a), "pieces": strconv.FormatInt(take, 10), "bottling": string(run.Address)}})
		}
	}
	return out
}
