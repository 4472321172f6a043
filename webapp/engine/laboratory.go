package engine

import (
	"fmt"
	"slices"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

type laboratoryView struct {
	About   book.Address `json:"about"`
	Choices []traceGroup `json:"choices"`
	Blocks  []block      `json:"blocks"`
}

// laboratory lists what laboratories found, of one vessel or lot or of all, each
// figure beside its limit.
func (e *Engine) laboratory(about book.Address) laboratoryView {
	s := e.book.State()
	out := laboratoryView{About: about, Choices: []traceGroup{}, Blocks: []block{}}
	vessels, lots := traceGroup{Label: "Vessels"}, traceGroup{Label: "Lots"}
	offer := func(g *traceGroup, a book.Address, label string) {
		if a != "" && !slices.ContainsFunc(g.Choices, func(c choice) bool { return c.Value == string(a) }) {
			g.Choices = append(g.Choices, choice{string(a), label})
		}
	}
	held := s.Composition(about)
	for _, r := range slices.Backward(s.Results()) {
		offer(&vessels, r.Vessel, e.name(book.AVessel, r.Vessel))
		for _, a := range r.Lots {
			if l := s.Lot(a); l != nil {
				offer(&lots, a, joinedWords(e.lotName(l), l.Begun.Day()))
			}
		}
		own := about == "" || r.Vessel == about || r.Lot == about || slices.Contains(r.Lots, about)
		inIt := slices.ContainsFunc(held, func(x book.Share) bool { return x.Lot != "" && slices.Contains(r.Lots, x.Lot) })
		if own || inIt {
			out.Blocks = append(out.Blocks, block{Table: e.foundTable(&r, !own)})
		}
	}
	for _, g := range []traceGroup{vessels, lots} {
		if len(g.Choices) > 0 {
			out.Choices = append(out.Choices, g)
		}
	}
	return out
}

// foundTable is one report of a laboratory. Passed is set where it is about a
// lot that came into the vessel later.
func (e *Engine) foundTable(r *book.Result, passed bool) *table {
	s := e.book.State()
	about := e.name(book.AVessel, r.Vessel)
	if l := s.Lot(r.Lot); l != nil {
		about = e.lotName(l)
	}
	on := r.On.Day()
	if r.Sampled != "" {
		on = "sampled " + string(r.Sampled)
	}
	t := &table{Title: joinedWords(about, on, r.Laboratory, r.Document), Rows: []row{}, Columns: []column{{Label: "What"}, {Label: "Found", Figure: true}, {Label: "Limit", Figure: true}}}
	if passed {
		t.Title += " (of what is in it now)"
	}
	if !r.Strength.IsNone() {
		note := ""
		if v := s.Vessel(r.Vessel); v != nil && v.Content.Material.Accounted() && !v.Content.Empty() {
			note = "the book has " + e.strengthText(v.Content.Strength()) + " in " + v.Name + " now"
		}
		if b := s.Bottling(r.Lot); b != nil && !b.Label.IsNone() {
			note = "the label says " + b.Label.String() + "; ±0.3 % vol is allowed (27 CFR 19.356)"
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{"Strength", r.Entry}, text(r.Strength.String()), text("")}, Note: note})
	}
	for i := range r.Findings {
		f := &r.Findings[i]
		limit, note := "none known", joinedWords(f.Per, f.Limit.Source, f.Note)
		if !f.Limit.Most.IsNone() {
			limit = f.Limit.Most.String()
			if f.Compare {
				limit = "(" + limit + ")"
			}
		}
		if f.Above() {
			limit = "above " + limit
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{capital(f.Of), r.Entry}, text(f.Found.String()), text(limit)}, Note: note})
	}
	if note := joinedWords(r.MadeOf, r.Note); note != "" {
		t.Rows = append(t.Rows, row{Cells: []cell{{"Distilled from", r.Entry}, text(""), text("")}, Note: note})
	}
	return t
}

// tested shows what is typed of a report beside its limits, before it is saved.
func (e *Engine) tested(b *book.LaboratoryResultReceived) *result {
	found := e.book.State().Findings(b)
	if len(found) == 0 {
		return nil
	}
	out := &result{Label: "Above a published limit", Figure: "none", Beside: []pair{}, Steps: quantity.Working{}}
	above := 0
	for i := range found {
		f := &found[i]
		limit := "no limit known"
		if !f.Limit.Most.IsNone() {
			limit = "limit " + f.Limit.Most.String()
			if f.Compare {
				limit = "for comparison " + f.Limit.Most.String()
			}
		}
		out.Beside = append(out.Beside, pair{f.Of, f.Found.String() + ", " + limit})
		out.Steps.Add(joinedWords(f.Of+" "+f.Per, f.Limit.Source, f.Note), f.Found.String())
		if f.Above() {
			above++
			out.Says = append(out.Says, fmt.Sprintf("%s is above %s (%s). The book will ask about it.", capital(f.Of), f.Limit.Most, f.Limit.Source))
		}
	}
	if above > 0 {
		out.Figure, out.Unit = fmt.Sprint(above), fmt.Sprintf("of %d", len(found))
	}
	return out
}
