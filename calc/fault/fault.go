// Package fault holds what is wrong with an input, as a value a program can
// read and a sentence a distiller can act on.
//
// Every check in Gaugebook answers with faults, all of them at once, each
// naming its field, the value found, the limit it broke and the remedy. The
// same fault is shown on the page, printed by the command line, sent by the
// server and listed in a report, so its words are written once, where the
// limit is known, and never re-phrased on the way.
//
// The package refuses to log, to wrap foreign errors, or to know any trade
// rule. Its one surprise: a nil or empty List is not an error, so return
// list.Err() and not the list itself.
package fault

import (
	"strings"
)

// A Code names one kind of fault for ever; tests, translations and
// testdata/problems refer to it.
type Code string

// The codes every package may use. A package with faults of its own declares
// them beside the check that finds them.
const (
	Missing     Code = "missing"      // a needed field was left empty
	NotANumber  Code = "not-number"   // a number was wanted, something else stood there
	UnknownUnit Code = "unknown-unit" // the unit is not one of ours
	WrongUnit   Code = "wrong-unit"   // a unit of another dimension
	TooLow      Code = "too-low"      // below the field's lower limit
	TooHigh     Code = "too-high"     // above the field's upper limit
	NotOneOf    Code = "not-one-of"   // not among the words allowed
	Unknown     Code = "unknown"      // names something the book does not hold
	Conflict    Code = "conflict"     // two fields that cannot both stand
	TooLong     Code = "too-long"     // more text than the field takes
)

// A Fault is one thing wrong with one field.
type Fault struct {
	Code   Code   `json:"code"`
	Field  string `json:"field"`           // key of the field, as in forms, JSON and the command line
	Value  string `json:"value"`           // what was found, exactly as typed
	Limit  string `json:"limit"`           // what would have been taken, in words with numbers and units
	Remedy string `json:"remedy"`          // what the person can do next
	Entry  string `json:"entry,omitempty"` // address of the entry, where there is one
}

// Error is the fault as one sentence: field, value, limit, remedy.
func (f Fault) Error() string {
	var b strings.Builder
	if f.Entry != "" {
		b.WriteString(f.Entry)
		b.WriteString(": ")
	}
	b.WriteString(f.Field)
	if f.Value != "" {
		b.WriteString(" “")
		b.WriteString(f.Value)
		b.WriteString("”")
	}
	b.WriteString(": ")
	b.WriteString(f.Limit)
	if f.Remedy != "" {
		b.WriteString("; ")
		b.WriteString(f.Remedy)
	}
	b.WriteString(".")
	return b.String()
}

// A List is every fault found in one input.
type List []Fault

// Add appends faults; an error that is a Fault or a List is taken apart, any
// other error becomes a fault of the named field with the error as its limit.
func (l *List) Add(field string, err error) {
	switch e := err.(type) {
	case nil:
	case Fault:
		if e.Field == "" {
			e.Field = field
		}
		*l = append(*l, e)
	case List:
		for _, f := range e {
			l.Add(field, f)
		}
	default:
		*l = append(*l, Fault{Code: Conflict, Field: field, Limit: err.Error()})
	}
}

// Err is nil for an empty list and the list itself otherwise.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// Error joins the sentences.
func (l List) Error() string {
	parts := make([]string, len(l))
	for i, f := range l {
		parts[i] = f.Error()
	}
	return strings.Join(parts, " ")
}
