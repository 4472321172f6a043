package reckon

import (
	"math"
	"strconv"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// An Answer is what a calculation gives: its outputs, or its faults.
type Answer struct {
	Name    string
	Outputs []Value // in the order of the calculation's Outputs
	Method  string  // by what rule or table the answer was reached
	Caution string
	Table   *Table     // the curve behind the outputs, nil for most
	Faults  fault.List // where not empty, everything else is
	quantity.Explained
}

// A Value is one output.
type Value struct {
	Key, Label string
	Text       string   // a plain decimal, or a word
	IsNumber   bool     // whether Text is a plain decimal
	Shown      string   // Text as people want it: fewer places
	Unit       string   // symbol, "" for none
	UnitLabel  string   // Unit as people read it behind a figure
	U          *float64 // standard uncertainty in Unit, nil where none applies
}

// places is to how many decimal places a figure is given where no regulation
// rounds it: coarse enough that two builds of one formula agree on every digit.
const places = 6

// A sheet is one calculation being worked.
type sheet struct {
	*Calculation
	desk    Desk
	figures map[string][]figure
	answer  Answer
}

// A Desk is what lies beside the sheet while a calculation is worked. The zero
// Desk is empty: everything is computed.
type Desk struct {
	Table1 *spirit.Table // the owner's printed Table 1, nil for none
}

// Run answers the calculation of that name for what is given.
func (d Desk) Run(name string, given []Given) Answer {
	c, ok := Find(name)
	if !ok {
		var names []string
		for _, c := range catalogue {
			names = append(names, c.Name)
		}
		remedy := "gaugebook calc lists the calculations"
		if near := Nearest(name, names); near != "" {
			remedy = "did you mean " + near + "? " + remedy
		}
		return Answer{Name: name, Faults: fault.List{{Code: fault.NotOneOf, Field: "calculation", Value: name, Limit: "is not a calculation", Remedy: remedy}}}
	}
	figures, faults := c.read(given)
	if len(faults) > 0 {
		return Answer{Name: name, Faults: faults}
	}
	if c.lastDigit {
		for _, in := range c.Inputs {
			if fs := figures[in.Key]; fs != nil && in.Measured() && !in.difference {
				fs[0].amount = withLastDigit(fs[0].amount)
			}
		}
	}
	s := &sheet{Calculation: &c, desk: d, figures: figures, answer: Answer{Name: name, Caution: c.Caution}}
	c.run(s)
	if len(s.answer.Faults) > 0 {
		return Answer{Name: name, Faults: s.answer.Faults}
	}
	return s.answer
}

// Run is Desk.Run on an empty desk.
func Run(name string, given []Given) Answer { return Desk{}.Run(name, given) }

// given reports whether the input was given.
func (s *sheet) given(key string) bool { return s.figures[key] != nil }

// reading is the input's reading, none if it was not given.
func (s *sheet) reading(key string) quantity.Reading {
	if fs := s.figures[key]; fs != nil {
		return fs[0].amount
	}
	return quantity.Reading{}
}

// typed is the input as typed, for a fault that is found later.
func (s *sheet) typed(key string) string {
	if fs := s.figures[key]; fs != nil {
		return fs[0].typed
	}
	return ""
}

// fail notes a fault of the formula, of the input key unless it names its own
// field, and with the value as typed and not as the formula understood it.
func (s *sheet) fail(key string, err error) bool {
	if err == nil {
		return false
	}
	s.answer.Faults.Add(key, err)
	for i := range s.answer.Faults {
		if f := &s.answer.Faults[i]; len(s.figures[f.Field]) == 1 {
			f.Value = s.typed(f.Field)
		}
	}
	return true
}

// renamed gives the faults of the formula's field from to the input to.
func renamed(err error, from, to string) error {
	var in, out fault.List
	in.Add("", err)
	for _, f := range in {
		if f.Field == from {
			f.Field = to
		}
		out = append(out, f)
	}
	return out.Err()
}

// figure puts a result, rounded for reproduction only; people are shown it to
// so many places.
func (s *sheet) figure(key string, f quantity.Figure, shown int32) {
	d, to := f.Decimal(), int32(places)
	if f.Unit == quantity.SG {
		to += 2
	}
	s.put(key, d.Round(to).String(), d.StringFixed(shown), true, f.Unit, uncertainty(f))
}

// legal puts a result as the regulation's rounding left it.
func (s *sheet) legal(key string, d decimal.Decimal, f quantity.Figure, shown int32) {
	text := d.StringFixed(shown)
	s.put(key, text, text, true, f.Unit, uncertainty(f))
}

// word puts a result in words.
func (s *sheet) word(key, text string) { s.put(key, text, text, false, quantity.NoUnit, nil) }

func (s *sheet) put(key, text, shown string, number bool, unit quantity.Unit, u *float64) {
	for _, o := range s.Outputs {
		if o.Key == key {
			v := Value{Key: key, Label: o.Label, Text: text, IsNumber: number, Shown: shown, Unit: symbol(unit), UnitLabel: unit.Label(), U: u}
			if o.Units == proofGallon {
				v.Unit, v.UnitLabel = proofGallon, proofGallon
			}
			s.answer.Outputs = append(s.answer.Outputs, v)
			return
		}
	}
	panic("reckon: " + s.Name + " does not list its output " + key)
}

// uncertainty is f's, to three significant digits, of which two have a meaning
// (JCGM 100:2008, 7.2.6) and the third spares a reader's own rounding.
func uncertainty(f quantity.Figure) *float64 {
	if !f.HasU {
		return nil
	}
	u, err := strconv.ParseFloat(strconv.FormatFloat(math.Abs(f.U), 'e', 2, 64), 64)
	if err != nil {
		panic("reckon: " + err.Error()) // FormatFloat wrote it
	}
	return &u
}

// symbol is a unit as the answer names it: as it is typed, where a share is %.
func symbol(u quantity.Unit) string {
	if u == quantity.Percent {
		return "%"
	}
	return u.Symbol()
}
