package record

import "strings"

// A Fault is one thing wrong with one field. It has the JSON shape of every
// refusal in Gaugebook; it is declared here because sync knows nothing of calc.
type Fault struct {
	Code   string `json:"code"`
	Field  string `json:"field"`
	Value  string `json:"value"`
	Limit  string `json:"limit"`
	Remedy string `json:"remedy"`
	Entry  string `json:"entry,omitempty"`
}

// Codes of the faults found in sync.
const (
	Malformed = "malformed" // not the one form a record has
	TooLong   = "too-long"  // more bytes than the field takes
	Conflict  = "conflict"  // two things that cannot both stand
)

// Error is the fault as one sentence: field, value, limit, remedy.
func (f Fault) Error() string {
	var b strings.Builder
	if f.Entry != "" {
		b.WriteString(f.Entry + ": ")
	}
	b.WriteString(f.Field)
	if f.Value != "" {
		b.WriteString(" “" + f.Value + "”")
	}
	b.WriteString(": " + f.Limit)
	if f.Remedy != "" {
		b.WriteString("; " + f.Remedy)
	}
	b.WriteString(".")
	return b.String()
}

// malformed is the fault of a field that does not have its one form. The value
// is shortened: a line may be anything, and a sentence is for a person.
func malformed(field, value, limit string) error {
	const most = 60
	if len(value) > most {
		value = strings.ToValidUTF8(value[:most], "") + "…"
	}
	return Fault{Code: Malformed, Field: field, Value: strings.ToValidUTF8(value, "�"), Limit: limit,
		Remedy: "the entry is kept aside as it came; write it again on an up-to-date phone"}
}
