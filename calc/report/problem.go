package report

import (
	"fmt"

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
	for _, f := range m.Forms {
		out = append(out, f.problems()...)
	}
	for _, q := range s.Questions() {
		if q.Answer == "" && q.On.Month() <= m.Month {
			out = append(out, Problem{Where: "question of " + q.On.Day(), Says: q.Says, Cause: string(q.Kind), Entries: q.Entries})
		}
	}
	if n := s.Incomplete(); n > 0 {
		out = append(out, Problem{Where: "the book", Says: fmt.Sprintf("%d entries are of kinds this version does not know, so every figure may be short.", n), Cause: "a newer app wrote them: update this one"})
	}
	return out
}

func (f *Form) problems() []Problem {
	var out []Problem
	name := f.Form
	if f.Part != "" {
		name += " part " + f.Part
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
		for _, c := range l.Cells {
			if c.Printed < 0 {
				out = append(out, Problem{Where: fmt.Sprintf("%s line %s, %s", name, l.Number, c.Column), Says: "the figure is below zero, and the form takes none below zero",
					Cause: "more went out of the account than the book says came in: an entry is missing, or stands in the wrong account", Entries: c.Entries})
			}
		}
	}
	if in == nil || end == nil {
		return out
	}
	for i := range in.Cells {
		if a, b := in.Cells[i], end.Cells[i]; a.Printed != b.Printed || a.Amount != b.Amount {
			out = append(out, Problem{Where: fmt.Sprintf("%s lines %s and %s, %s", name, in.Number, end.Number, a.Column),
				Says:  fmt.Sprintf("%s came in and %s went out or is on hand", a.Printed, b.Printed),
				Cause: "a movement stands on no line of this form: see the movements between accounts"})
		}
	}
	return out
}
