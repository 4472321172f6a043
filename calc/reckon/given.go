package reckon

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Given is one input as it was typed: "temp", "72.10F".
type Given struct{ Key, Text string }

// A figure is one input as it was read: an amount or a strength alone, or an
// amount at a strength. An amount typed as "?" is wanted, and has no reading.
type figure struct {
	typed  string
	amount quantity.Reading
	at     quantity.Reading // none but for 'amount@strength'
	wanted bool
}

// read makes figures of what was typed, in the order of the inputs of c, or
// says everything that is wrong with it.
func (c *Calculation) read(given []Given) (map[string][]figure, fault.List) {
	var faults fault.List
	figures := map[string][]figure{}
	halves := map[string]Given{}
	for _, g := range given {
		key, half := strings.CutSuffix(g.Key, halfWidth)
		in, known := c.input(key)
		switch {
		case !known || half && !in.Measured():
			faults = append(faults, c.unknown(g, known))
		case half && in.At != nil:
			faults = append(faults, fault.Fault{Code: fault.Unknown, Field: g.Key, Value: g.Text,
				Limit: "a half-width stands with the figure it belongs to", Remedy: "write for example " + key + "=100±0.5L@70±0.1%"})
		case half && halves[key] != Given{}, !half && !in.Repeatable && figures[key] != nil:
			faults = append(faults, fault.Fault{Code: fault.Conflict, Field: g.Key, Value: g.Text,
				Limit: "is given twice", Remedy: "leave one of them out"})
		case half:
			halves[key] = g
		default:
			f, err := in.read(g.Text)
			faults.Add(key, err)
			figures[key] = append(figures[key], f)
		}
	}
	for _, in := range c.Inputs {
		g, ok := halves[in.Key]
		if !ok {
			continue
		}
		if figures[in.Key] == nil {
			faults = append(faults, fault.Fault{Code: fault.Missing, Field: in.Key,
				Limit: "its half-width is given, the reading is not", Remedy: "give " + in.Key + " too, or leave out " + g.Key})
			continue
		}
		faults.Add(g.Key, in.doubt(&figures[in.Key][0], g.Text))
	}
	faults = append(faults, c.choose(figures)...)
	for _, in := range c.Inputs {
		if in.Required && figures[in.Key] == nil {
			faults = append(faults, c.missing(in))
		}
	}
	return figures, faults
}

// unknown is the fault of a key that c does not take.
func (c *Calculation) unknown(g Given, exact bool) fault.Fault {
	f := fault.Fault{Code: fault.Unknown, Field: g.Key, Value: g.Text, Limit: c.Name + " has no input of this name",
		Remedy: "its inputs are " + strings.Join(c.inputKeys(), ", ")}
	if g.Key == "" {
		f.Field, f.Limit = "input", "stands without the name of its input"
	} else if exact {
		f.Limit, f.Remedy = "is chosen, not measured, and has no half-width", "leave it out"
	} else if near := Nearest(g.Key, c.Keys()); near != "" {
		f.Remedy = "did you mean " + near + "? " + f.Remedy
	}
	return f
}

func (c *Calculation) inputKeys() []string {
	var out []string
	for _, in := range c.Inputs {
		out = append(out, in.Key)
	}
	return out
}

func (c *Calculation) missing(in Input) fault.Fault {
	remedy := "give " + in.Key
	for _, g := range c.Example {
		if g.Key == in.Key {
			remedy += ", for example " + g.Key + "=" + g.Text
			break
		}
	}
	return fault.Fault{Code: fault.Missing, Field: in.Key, Limit: in.Help + " is needed", Remedy: remedy}
}

// choose checks that exactly one set of c.Choices is given, and that one whole.
func (c *Calculation) choose(figures map[string][]figure) (faults fault.List) {
	if c.Choices == nil {
		return nil
	}
	var words []string
	var begun []string // the set of which something is given
	for _, set := range c.Choices {
		words = append(words, strings.Join(set, " with "))
	}
	for _, set := range c.Choices {
		for _, key := range set {
			if figures[key] == nil {
				continue
			}
			if begun != nil && &begun[0] != &set[0] {
				return fault.List{{Code: fault.Conflict, Field: key, Value: figures[key][0].typed,
					Limit:  "answers the same question as " + begun[0] + ", which is given too",
					Remedy: "give only one of " + strings.Join(words, ", ")}}
			}
			begun = set
		}
	}
	if begun == nil {
		return fault.List{{Code: fault.Missing, Field: c.Choices[0][0],
			Limit: "one of " + strings.Join(words, ", ") + " is needed", Remedy: "give the one that was measured"}}
	}
	for _, key := range begun {
		if in, _ := c.input(key); figures[key] == nil {
			faults = append(faults, c.missing(in))
		}
	}
	return faults
}

// read makes a figure of what was typed for in.
func (in Input) read(text string) (figure, error) {
	f := figure{typed: text}
	if in.At == nil {
		r, err := in.parse(text, in.Scales)
		f.amount = r
		return f, err
	}
	amount, at, ok := strings.Cut(text, "@")
	if !ok {
		return f, fault.Fault{Code: fault.Missing, Value: text, Limit: "has no strength", Remedy: "write the amount, an @ and the strength, for example 100L@70%"}
	}
	var faults fault.List
	if strings.TrimSpace(amount) == "?" {
		f.wanted = true
	} else {
		r, err := in.parse(amount, in.Scales)
		f.amount = r
		faults.Add("", err)
	}
	r, err := in.parse(at, in.At)
	f.at = r
	faults.Add("", err)
	for i := range faults {
		faults[i].Value = text
	}
	return f, faults.Err()
}

// parse reads one reading and holds it against the ranges of its scales.
func (in Input) parse(text string, scales []Scale) (quantity.Reading, error) {
	r, err := quantity.Parse(text, scales[0].Unit)
	for _, s := range scales[1:] {
		if f, isFault := err.(fault.Fault); isFault && f.Code == fault.WrongUnit {
			if other, otherErr := quantity.Parse(text, s.Unit); otherErr == nil {
				r, err = other, nil
			}
		}
	}
	if f, isFault := err.(fault.Fault); isFault && (f.Code == fault.WrongUnit || f.Code == fault.UnknownUnit) {
		f.Remedy = "use one of " + strings.Join(unitsOf(scales), ", ")
		return r, f
	}
	if err != nil {
		return r, err
	}
	s, ok := scaleFor(r.Unit(), scales)
	if !ok {
		return r, fault.Fault{Code: fault.WrongUnit, Value: text, Limit: "is read in " + strings.Join(unitsOf(scales), " or "), Remedy: "give the figure as the instrument shows it"}
	}
	value := r.Decimal()
	if r.Unit() != s.Unit {
		x := r.In(s.Unit)
		if in.difference {
			x = r.DeltaIn(s.Unit)
		}
		value = quantity.Snap(x)
	}
	if value.LessThan(decimal.RequireFromString(s.Low)) {
		return r, fault.Fault{Code: fault.TooLow, Value: text, Limit: fmt.Sprintf("is below %s", quantity.MustParse(s.Low, s.Unit)), Remedy: fmt.Sprintf("the range is %s: check the figure and its unit", s)}
	}
	if value.GreaterThan(decimal.RequireFromString(s.High)) {
		return r, fault.Fault{Code: fault.TooHigh, Value: text, Limit: fmt.Sprintf("is above %s", quantity.MustParse(s.High, s.Unit)), Remedy: fmt.Sprintf("the range is %s: check the figure and its unit", s)}
	}
	return r, nil
}

// scaleFor is the scale in which a figure of unit u is judged.
func scaleFor(u quantity.Unit, scales []Scale) (Scale, bool) {
	for _, s := range scales {
		if s.Unit == u {
			return s, true
		}
	}
	for _, s := range scales {
		if d := s.Unit.Dimension(); d == u.Dimension() && d != quantity.Strength && d != quantity.NoDimension {
			return s, true
		}
	}
	return Scale{}, false
}

// doubt gives f the half-width that was typed for it; a bare number is in the
// unit of its reading.
func (in Input) doubt(f *figure, text string) error {
	if f.amount.IsNone() {
		return nil // the reading itself is at fault, which has been said
	}
	h, err := quantity.Parse(text, f.amount.Unit())
	switch {
	case err != nil:
		return err
	case h.Unit() != f.amount.Unit() && h.Unit().Dimension() == quantity.Strength:
		return fault.Fault{Code: fault.WrongUnit, Value: text, Limit: "its reading is in " + f.amount.Unit().Symbol(), Remedy: "give the half-width in the same unit"}
	case h.Decimal().IsNegative():
		return fault.Fault{Code: fault.TooLow, Value: text, Limit: "a half-width is 0 or more", Remedy: "write it without a sign"}
	case f.amount.HasHalfWidth():
		return fault.Fault{Code: fault.Conflict, Value: text, Limit: "the reading " + f.typed + " has a half-width already", Remedy: "leave one of them out"}
	}
	f.amount = f.amount.WithHalfWidth(h)
	return nil
}

// withLastDigit is r with half a step of its last digit as half-width, unless
// it has one: the least doubt an indication has (JCGM 100:2008, F.2.2.1).
func withLastDigit(r quantity.Reading) quantity.Reading {
	if r.IsNone() {
		return r
	}
	return r.WithHalfWidth(quantity.FromDecimal(decimal.New(5, r.Decimal().Exponent()-1), r.Unit()))
}
