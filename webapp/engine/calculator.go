//go:build !pocket

package engine

import (
	"encoding/json"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/reckon"
)

// The keys of a part 'amount@strength'.
const partAmount, partAt = "amount", "at"

// calculation finds the calculation of a form, false where it is of a kind.
func calculation(kind string) (reckon.Calculation, bool) {
	name, is := strings.CutPrefix(kind, calculator)
	if !is {
		return reckon.Calculation{}, false
	}
	return reckon.Find(name)
}

// calculatorForm asks for the inputs of a calculation.
func (e *Engine) calculatorForm(c reckon.Calculation) form {
	out := form{Kind: calculator + c.Name, Help: capital(c.Help) + "."}
	for _, in := range c.Inputs {
		d := described{Key: in.Key, Label: capital(in.Label), Help: capital(in.Help) + ".", Need: in.Required, Type: string(book.Figure), Units: e.ownFirst(unitsOf(in.Scales))}
		if in.Repeatable && in.At != nil {
			d.Type, d.Units = string(book.Group), nil
			d.Fields = []described{
				{Key: partAmount, Label: "Amount", Type: string(book.Figure), Need: true, Units: e.ownFirst(unitsOf(in.Scales))},
				{Key: partAt, Label: "at", Type: string(book.Figure), Need: true, Units: e.ownFirst(unitsOf(in.At))},
			}
		}
		out.Fields = append(out.Fields, d)
	}
	return out
}

// unitsOf are the units of some scales.
func unitsOf(scales []reckon.Scale) []quantity.Unit {
	out := make([]quantity.Unit, len(scales))
	for i, s := range scales {
		out[i] = s.Unit
	}
	return out
}

// calculate answers a calculator's form. A missing input is told without a
// figure; what the formula itself refuses stands at the input it names.
func (e *Engine) calculate(c reckon.Calculation, body json.RawMessage) (preview, error) {
	given, err := givenIn(c, body)
	if err != nil {
		return preview{}, err
	}
	answer := reckon.Run(c.Name, given)
	if len(answer.Faults) > 0 {
		return preview{Wrong: spoken(answer.Faults)}, nil
	}
	out := &result{Steps: answer.Working(), Method: capital(answer.Method) + ". " + capital(c.Source) + ".", Beside: []pair{}}
	main := e.mainOutput(answer.Outputs)
	for i, v := range answer.Outputs {
		switch {
		case i == main:
			out.Label, out.Figure, out.Unit = capital(v.Label), v.Shown, v.UnitLabel
		case v.IsNumber:
			out.Beside = append(out.Beside, pair{v.Label, strings.TrimSpace(v.Shown + " " + v.UnitLabel)})
		case v.Text != "":
			out.Says = append(out.Says, capital(v.Text))
		}
	}
	if c.Caution != "" {
		out.Says = append(out.Says, "Caution: "+c.Caution)
	}
	return preview{Wrong: []spokenFault{}, Result: out}, nil
}

// mainOutput is the output to be shown big: the first, or the same in a unit of
// the book's convention.
func (e *Engine) mainOutput(all []reckon.Value) int {
	for i, v := range all {
		if v.Label != all[0].Label {
			break
		}
		foreign := slices.ContainsFunc(foreignTo[e.book.State().Convention()], func(u quantity.Unit) bool { return u.Symbol() == v.Unit })
		if !foreign {
			return i
		}
	}
	return 0
}

// givenIn reads a form of a calculation, in the order of its inputs.
func givenIn(c reckon.Calculation, body json.RawMessage) ([]reckon.Given, error) {
	var typed map[string]json.RawMessage
	if err := json.Unmarshal(body, &typed); err != nil {
		return nil, fault.Fault{Code: book.Malformed, Field: "body", Limit: "is not the JSON that was expected: " + err.Error(), Remedy: "load the page again"}
	}
	var out []reckon.Given
	for _, in := range c.Inputs {
		raw, ok := typed[in.Key]
		if !ok {
			continue
		}
		var one string
		var parts []map[string]string
		if json.Unmarshal(raw, &one) == nil {
			out = append(out, reckon.Given{Key: in.Key, Text: one})
		} else if json.Unmarshal(raw, &parts) == nil {
			for _, p := range parts {
				out = append(out, reckon.Given{Key: in.Key, Text: p[partAmount] + "@" + p[partAt]})
			}
		}
	}
	return out, nil
}
