package report

import (
	"fmt"
	"strings"

	"gaugebook/calc/book"
)

// A Problem is something that stands in the way of signing: a column that does
// not foot, a balance below zero, a question without an answer.
type Problem struct {
	Where   string // form and line, or record
	Says    string
	Cause   string // probable, in words; "" where none suggests itself
	Entries []book.Address
}

func problems(s *book.State, m *Month) []Problem {
	var out []Problem
	for i := range m.Forms {
		out = append(out, m.Forms[i].problems(m)...)
	}
	out = append(out, Balances(s)...)
	for _, q := range s.Questions() {
		if q.Answer == "" && q.On.Month() <= m.Month {
			out = append(out, Problem{Where: "question of " + q.On.Day(), Says: q.Says, Cause: string(q.Kind), Entries: q.Entries})
		}
	}
	if n := s.Incomplete(); n > 0 {
		out = append(out, Problem{Where: "the book", Says: fmt.Sprintf("%d entries are of kinds this version does not know (%s), so every figure may be short.", n, strings.Join(s.UnknownKinds(), ", ")),
			Cause: "a newer app wrote them: update this one"})
	}
	return out
}

// name is what the form is called in a sentence.
func (f *Form) name() string {
	switch {
	case f.Form == "":
		return f.Title
	case f.Part == "":
		return f.Form
	}
	return f.Form + " part " + f.Part
}

// name is what the line is called in a sentence.
func (l *Line) name() string {
	if l.Number == "" {
		return "‘" + l.Meaning + "’"
	}
	return "line " + l.Number
}

func (f *Form) problems(m *Month) []Problem {
	var out []Problem
	add := func(where, says, cause string, entries []book.Address) {
		out = append(out, Problem{Where: f.name() + " " + where, Says: says, Cause: cause, Entries: entries})
	}
	var in, end *Line
	for i := range f.Lines {
		l := &f.Lines[i]
		switch l.what {
		case totalIn:
			in = l
		case totalOut:
			end = l
		}
		for j := range l.Cells {
			c := &l.Cells[j]
			at := fmt.Sprintf("%s, %s", l.name(), c.Column)
			if c.Printed < 0 {
				add(at, "the figure is below zero, and the form takes none below zero",
					"more went out of the account than the book says came in: an entry is missing, or stands in the wrong account", addresses(c.Entries))
			}
			if c.turned && l.what != totalIn && l.what != totalOut {
				add(at, fmt.Sprintf("the adjustments to closed months are more than what moved this month, so %s stand here the other way round", c.Printed),
					"the closed month was far off: consider an amended report for it", c.Late)
			}
		}
	}
	for _, k := range f.strays {
		if k.month == m.Month {
			add("", fmt.Sprintf("%s of %s went from %s to %s, and no line takes that", Steps(k.amount), k.kind, k.from, k.to),
				"an entry stands in the wrong account; or a kind this version does not know was signed for", addresses(k.entries))
		}
	}
	if in == nil || end == nil {
		return out
	}
	for i := range in.Cells {
		if a, b := in.Cells[i], end.Cells[i]; a.Printed != b.Printed || a.Amount != b.Amount {
			add(fmt.Sprintf("%s and %s, %s", in.name(), end.name(), a.Column), fmt.Sprintf("%s came in and %s went out or is on hand", a.Printed, b.Printed),
				"a movement stands on no line of this form: see the movements between accounts", nil)
		}
	}
	return out
}

func addresses(shares []Share) []book.Address {
	var out []book.Address
	for _, s := range shares {
		out = append(out, s.Entry)
	}
	return out
}
