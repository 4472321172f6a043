package reckon

import (
	"slices"
	"strings"

	"gaugebook/calc/quantity"
)

// A Calculation is one named calculation as data.
type Calculation struct {
	Name    string
	Help    string // one line: what is asked
	Source  string // publications, as a person would look them up
	Caution string // what to mind while doing the work, "" for none
	Inputs  []Input
	Choices [][]string // keys of inputs, exactly one of these sets is given, and given whole; nil for no choice
	Outputs []Output
	Example []Given // a case that answers
	Table1  bool    // whether it looks into an owner's printed Table 1

	// lastDigit says that the inputs are read off instruments: a reading
	// without a half-width counts half a step of the last digit typed.
	lastDigit bool
	run       func(*sheet)
}

// An Input is one figure that a person gives.
type Input struct {
	Key        string
	Label      string
	Help       string
	Scales     []Scale // units taken with their ranges; the first one's unit is that of a bare number
	At         []Scale // for a figure 'amount@strength': the scales of the strength; nil otherwise
	Required   bool
	Repeatable bool
	Exact      bool // chosen, not measured: takes no half-width
	difference bool // a correction: units scale and do not shift
}

// Bare is the unit of a number typed without one.
func (i Input) Bare() quantity.Unit { return i.Scales[0].Unit }

// Measured reports whether the input takes a half-width, key.u.
func (i Input) Measured() bool { return !i.Exact }

// A Scale is one unit with the closed range taken in it; other units of the
// same dimension are converted to it, except strength, where each unit is a
// scale of its own.
type Scale struct {
	Unit      quantity.Unit
	Low, High string // plain decimals
}

// String is the range in words: "0 to 206 proof".
func (s Scale) String() string {
	return s.Low + " to " + quantity.MustParse(s.High, s.Unit).String()
}

// An Output is one figure or word of the answer.
type Output struct {
	Key   string
	Label string
	Units string // the unit, or the pair of which the inputs choose; "" for a word or plain number
	Help  string
}

// Units lists every unit that is taken, the bare one first.
func (i Input) Units() []string { return unitsOf(i.Scales) }

func unitsOf(scales []Scale) []string {
	var out []string
	add := func(u quantity.Unit) {
		for _, have := range out {
			if have == symbol(u) {
				return
			}
		}
		out = append(out, symbol(u))
	}
	for _, s := range scales {
		add(s.Unit)
	}
	for _, s := range scales {
		if d := s.Unit.Dimension(); d != quantity.Strength {
			for _, u := range quantity.Units(d) {
				add(u)
			}
		}
	}
	return out
}

// Ranges is the ranges in words, one for each scale.
func (i Input) Ranges() string {
	out := rangesOf(i.Scales)
	if i.At != nil {
		out += ", at " + rangesOf(i.At)
	}
	return out
}

func rangesOf(scales []Scale) string {
	var out []string
	for _, s := range scales {
		out = append(out, s.String())
	}
	return strings.Join(out, " or ")
}

// catalogue holds the calculations in the order in which spirit moves: read,
// gauged, reduced, blended, sweetened. It is never changed.
var catalogue = []Calculation{
	trueProof(), trueStrength(), strength(),
	gaugeWeight(), gaugeVolume(), gaugeCases(), fillPackage(),
	reduce(), waterPer100(), table4Water(), blend(),
	obscuration(), sweetened(), liqueur(),
	boil(), batch(),
	gravity(), extract(), potential(), strike(), cooling(), diluteWash(), nutrient(), acid(), enzyme(),
	age(), macerate(), tank(),
	mixedDrink(), co2(), canPressure(),
	netContents(), fillSample(), bottles(),
	tax(), effectiveRate(), dueDate(),
}

// All lists the calculations; the lists in them are to be read only.
func All() []Calculation { return slices.Clone(catalogue) }

// Find is the calculation of that name.
func Find(name string) (Calculation, bool) {
	for _, c := range catalogue {
		if c.Name == name {
			return c, true
		}
	}
	return Calculation{}, false
}

// input is the input with that key.
func (c *Calculation) input(key string) (Input, bool) {
	for _, in := range c.Inputs {
		if in.Key == key {
			return in, true
		}
	}
	return Input{}, false
}

// Keys lists what may be given, half-widths included.
func (c *Calculation) Keys() []string {
	var out []string
	for _, in := range c.Inputs {
		out = append(out, in.Key)
		if in.Measured() {
			out = append(out, in.Key+halfWidth)
		}
	}
	return out
}

// halfWidth is what is put behind the key of an input to name the half-width of
// its instrument.
const halfWidth = ".u"

// Nearest is the word closest to s, "" where none is close enough to be what
// was meant: more than half of its letters would have to change.
func Nearest(s string, words []string) string {
	best, least := "", 0
	for _, w := range words {
		d := changes(strings.ToLower(s), w)
		if 2*d <= max(len(s), len(w)) && (best == "" || d < least) {
			best, least = w, d
		}
	}
	return best
}

// changes counts the letters to insert, remove or replace to make a into b.
func changes(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			next := min(row[j+1]+1, row[j]+1, diagonal+cost)
			diagonal, row[j+1] = row[j+1], next
		}
	}
	return row[len(b)]
}
