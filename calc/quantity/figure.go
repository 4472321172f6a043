package quantity

import (
	"math"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"
)

// A Figure is a result that was worked out: its value, unrounded, its unit, and
// its standard uncertainty in that unit where the readings behind it carried
// any. The regulation's rounding is a separate, named step on Decimal.
type Figure struct {
	Value float64
	Unit  Unit
	U     float64 // standard uncertainty, k = 1
	HasU  bool    // whether U was worked out: some reading carried a half-width
}

// FigureOf dresses an estimate with its unit; doubted says whether its
// uncertainty was worked out.
func FigureOf(e Estimate, u Unit, doubted bool) Figure {
	return Figure{Value: e.Value, Unit: u, U: e.U, HasU: doubted}
}

// Decimal is the figure as an exact decimal, see Snap.
func (f Figure) Decimal() decimal.Decimal { return Snap(f.Value) }

// Expanded is the uncertainty times the coverage factor k = 2, an interval of
// about 95 % for a nearly normal result (JCGM 100:2008, 6.2 and G.6.6).
func (f Figure) Expanded() float64 { return 2 * f.U }

// In is the figure in another unit of its dimension, its uncertainty with it.
func (f Figure) In(u Unit) Figure {
	if f.Unit == u {
		return f
	}
	from, to := units[f.Unit], units[u]
	if from.dim != to.dim || from.dim == Strength {
		panic("quantity: " + from.symbol + " cannot be given in " + to.symbol)
	}
	return Figure{Value: (f.Value+from.offset)*from.scale/to.scale - to.offset, Unit: u, U: f.U * from.scale / to.scale, HasU: f.HasU}
}

// Reading is the figure rounded to so many places as a reading, for use as the
// input of a further calculation; its half-width is U·√3, which gives U back.
func (f Figure) Reading(places int32) Reading {
	r := FromDecimal(f.Decimal().Round(places), f.Unit)
	if f.HasU {
		r.half = significant(f.U*math.Sqrt(3), 4).String()
	}
	return r
}

// Text is the figure to so many places with its unit: "189.97 proof"; with a
// known uncertainty, its expanded one follows: "189.97 ± 0.12 proof".
func (f Figure) Text(places int32) string {
	s := f.Decimal().StringFixed(places)
	if f.HasU {
		s += " " + plusMinus + " " + Snap(f.Expanded()).StringFixed(places)
	}
	return strings.TrimSpace(s + " " + f.Unit.Label())
}

// A Step is one line of a working: what is done, in words and numbers, and what
// it gives, with its unit.
type Step struct {
	Text  string `json:"text"`
	Value string `json:"value"`
}

// A Working is how a result was reached, step by step, as a person would do it
// with pencil and the printed tables.
type Working []Step

// Add appends a step.
func (w *Working) Add(text, value string) { *w = append(*w, Step{Text: text, Value: value}) }

// Fixed is x, snapped, to so many places, for the text of a step or a fault.
func Fixed(x float64, places int32) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "not a number"
	}
	return Snap(x).StringFixed(places)
}

// String is the working as numbered lines.
func (w Working) String() string {
	var b strings.Builder
	for i, s := range w {
		b.WriteString(strconv.Itoa(i+1) + ". " + s.Text)
		if s.Value != "" {
			b.WriteString(" = " + s.Value)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// Explained is embedded in a result that can show its working. The steps are
// written only when someone asks: a fold over a year of entries never does.
type Explained struct{ explain func(w *Working) }

// Explain makes the Explained of a result from what writes its steps.
func Explain(f func(w *Working)) Explained { return Explained{f} }

// Working is how the result was reached.
func (e Explained) Working() Working {
	var w Working
	if e.explain != nil {
		e.explain(&w)
	}
	return w
}
