package engine

import (
	"fmt"
	"math"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// runsBefore is how many earlier runs of the product a chart lays under this one.
const runsBefore = 3

// before are the latest ended runs of the same product, else of the same class
// on the same still, that were started before this one; the latest first.
func (e *Engine) before(run *book.Run) []*worked {
	var same []*book.Run
	for _, r := range e.book.State().Runs {
		if !r.Running() && r.Address != run.Address && r.Started.Before(run.Started) && alike(r, run) && len(r.Lines) > 2 {
			same = append(same, r)
		}
	}
	var out []*worked
	for i := len(same) - 1; i >= 0 && len(out) < runsBefore; i-- {
		if w := e.work(same[i]); w.err == nil {
			out = append(out, w)
		}
	}
	return out
}

// alike reports whether two runs are of one product, or of one class and still
// where no product was named.
func alike(a, b *book.Run) bool {
	if a.Product != "" || b.Product != "" {
		return a.Product == b.Product
	}
	return a.Class == b.Class && a.Still == b.Still
}

// An axis is what a run's strength is drawn over.
type axis struct {
	by, across string
	at         func(w *worked, draw int) (x float64, ok bool)
	ahead      func(o *still.Outlook) []float64 // of the points of its curve
}

// runChart draws the strength over what was collected, the distiller's axis,
// and over the clock, with the fractions as bands.
func (e *Engine) runChart(w *worked, before []*worked, f *foreseen) *chart {
	c := e.chartOver(e.byAlcohol(), w, before, f)
	t := e.chartOver(e.byTime(w), w, before, f)
	if c == nil {
		return t
	}
	if t != nil {
		c.Others = []*chart{t}
	}
	return c
}

// alcoholUnit is litres of pure alcohol in one unit of the book's convention.
func (e *Engine) alcoholUnit() (litres float64, name string) {
	if e.metric() {
		return 1, "L of pure alcohol"
	}
	return book.Steps(1).LitresPureAlcohol(), "proof gallons"
}

func (e *Engine) byAlcohol() *axis {
	per, name := e.alcoholUnit()
	return &axis{by: "alcohol", across: "collected, " + name,
		at: func(w *worked, draw int) (float64, bool) {
			g, ok := w.drawn[draw]
			return g.Drawn.PureAlcohol() / per, ok
		},
		ahead: func(o *still.Outlook) []float64 {
			out := make([]float64, len(o.Curve))
			for i, p := range o.Curve {
				out[i] = p.Collected / per
			}
			return out
		}}
}

// byTime counts minutes since the run began. What is to come takes the clock as
// moles, of which a still boils an even number.
func (e *Engine) byTime(w *worked) *axis {
	return &axis{by: "time", across: "time of day",
		at: func(of *worked, draw int) (float64, bool) { return of.draws[draw].On.Since(of.Started).Minutes(), true },
		ahead: func(o *still.Outlook) []float64 {
			if o.Minutes.Unit != quantity.Minute {
				return nil
			}
			sum, moles := 0.0, make([]float64, len(o.Curve))
			for i := 1; i < len(o.Curve); i++ {
				middle, err := spirit.FromABV20((o.Curve[i].Strength.Value + o.Curve[i-1].Strength.Value) / 2)
				if err != nil {
					return nil
				}
				sum += (o.Curve[i].Collected - o.Curve[i-1].Collected) / float64(still.MoleFractionOf(middle))
				moles[i] = sum
			}
			now := w.draws[len(w.draws)-1].On.Since(w.Started).Minutes()
			for i := range moles {
				moles[i] = now + moles[i]/sum*o.Minutes.Value
			}
			return moles
		}}
}

// strengthValue is a strength on the book's scale.
func (e *Engine) strengthValue(s spirit.Strength) float64 {
	if e.metric() {
		return s.ABV20()
	}
	return s.Proof()
}

// abvValue is a strength in % vol on the book's scale.
func (e *Engine) abvValue(abv float64) float64 {
	s, err := spirit.FromABV20(min(max(abv, 0), 100))
	if err != nil {
		return math.NaN()
	}
	return e.strengthValue(s)
}

func (e *Engine) strengths(a *axis, w *worked) (points [][2]float64) {
	for i, d := range w.draws {
		if x, ok := a.at(w, i); ok && d.known {
			points = append(points, [2]float64{x, e.strengthValue(d.strength)})
		}
	}
	return points
}

func (e *Engine) chartOver(a *axis, w *worked, before []*worked, f *foreseen) *chart {
	read := e.strengths(a, w)
	if len(read) == 0 || a.by == "alcohol" && read[len(read)-1][0] == 0 {
		return nil
	}
	lines := []plotLine{}
	for i := len(before) - 1; i >= 0; i-- {
		lines = append(lines, plotLine{"run of " + before[i].Started.Day(), lookBefore, e.strengths(a, before[i])})
	}
	var ahead *plotArea
	if f.outlook != nil {
		if xs := a.ahead(f.outlook); xs != nil {
			expected := plotLine{label: "expected", look: lookExpected}
			ahead = &plotArea{label: "where nineteen in twenty would run"}
			for i, p := range f.outlook.Curve {
				v, half := p.Strength.Value, p.Strength.Expanded()
				expected.points = append(expected.points, [2]float64{xs[i], e.abvValue(v)})
				ahead.low = append(ahead.low, [2]float64{xs[i], e.abvValue(v - half)})
				ahead.high = append(ahead.high, [2]float64{xs[i], e.abvValue(v + half)})
			}
			lines = append(lines, expected)
		}
	}
	lines = append(lines, plotLine{"this run, as read", lookRead, read})

	left, right, low, high := 0.0, 0.0, math.Inf(1), math.Inf(-1)
	see := func(points [][2]float64) {
		for _, p := range points {
			right, low, high = max(right, p[0]), min(low, p[1]), max(high, p[1])
		}
	}
	for _, l := range lines {
		see(l.points)
	}
	if ahead != nil {
		see(ahead.low)
		see(ahead.high)
	}
	if a.by == "time" {
		left, _ = a.at(w, 0)
		right = max(right, left+10)
	}
	step := max(1, stepFor(high-low, 6))
	bottom, top := max(0, step*math.Floor(low/step)), step*(math.Floor(high/step)+1)
	x := func(v float64) float64 { return place((max(v, left) - left) / (right - left)) }
	y := func(v float64) float64 { return place((v - bottom) / (top - bottom)) }
	at := func(points [][2]float64) [][2]float64 {
		out := make([][2]float64, len(points))
		for i, p := range points {
			out[i] = [2]float64{x(p[0]), y(p[1])}
		}
		return out
	}
	c := &chart{Title: "true strength of what came over", Across: a.across, Up: e.strengthUnit(), By: a.by, Lines: []line{}}
	for _, l := range lines {
		if len(l.points) > 0 {
			c.Lines = append(c.Lines, line{Label: l.label, Look: l.look, Points: at(l.points)})
		}
	}
	if ahead != nil {
		c.Areas = []area{{Label: ahead.label, Low: at(ahead.low), High: at(ahead.high)}}
	}
	for v := bottom; v <= top+step/2; v += step {
		c.UpTicks = append(c.UpTicks, tick{y(v), quantity.Fixed(v, places10(step))})
	}
	ticksAcross(c, a, w.Started, left, right, x)
	c.Bands = e.bands(a, w, x)
	if f.outlook != nil {
		if xs := a.ahead(f.outlook); xs != nil {
			end := x(xs[len(xs)-1])
			c.Marks = append(c.Marks, mark{At: end, Label: "hearts end"})
			if n := len(c.Bands); n > 0 && c.Bands[n-1].Look == "kept" {
				c.Bands[n-1].To = max(end, c.Bands[n-1].From)
			}
		}
	}
	if !f.end.IsNone() {
		if s, err := spirit.StrengthOf(f.end); err == nil {
			if v := e.strengthValue(s); v > bottom && v < top {
				c.Marks = append(c.Marks, mark{At: y(v), Up: true, Label: e.strengthText(s)})
			}
		}
	}
	over := map[string]string{"alcohol": "collected alcohol", "time": "time"}[a.by]
	c.Summary = fmt.Sprintf("Strength over %s, %d readings, from %.1f to %.1f %s", over, len(read), read[0][1], read[len(read)-1][1], c.Up)
	for i, b := range c.Bands {
		if i > 0 {
			c.Summary += "; then " + b.Label
		}
	}
	if f.outlook != nil {
		c.Summary += "; hearts end at " + f.end.String() + " after " + e.pureWithUnit(f.outlook.Collected.Value) + " in all"
	}
	return c
}

// places10 is how many decimals a round step wants.
func places10(step float64) int32 {
	if step >= 1 {
		return 0
	}
	return int32(math.Ceil(-math.Log10(step) - 1e-9))
}

func ticksAcross(c *chart, a *axis, started book.Moment, left, right float64, x func(float64) float64) {
	if a.by == "time" {
		for i := range 4 {
			v := left + (right-left)*float64(i)/3
			c.AcrossTicks = append(c.AcrossTicks, tick{x(v), clockAfter(started, v*60_000)})
		}
		return
	}
	step := stepFor(right-left, 6)
	for v := 0.0; v <= right; v += step {
		c.AcrossTicks = append(c.AcrossTicks, tick{x(v), quantity.Fixed(v, places10(step))})
	}
}

// bands are the fractions, from cut to cut.
func (e *Engine) bands(a *axis, w *worked, x func(float64) float64) []band {
	var out []band
	for i, d := range w.draws {
		if i > 0 && !d.Cut {
			continue
		}
		v, ok := a.at(w, i)
		if !ok {
			continue
		}
		b := band{From: x(v), To: 1, Label: string(d.Fraction)}
		if i == 0 {
			b.From = 0
		}
		if d.Fraction == book.Hearts {
			b.Look = "kept"
		}
		if n := len(out); n > 0 {
			out[n-1].To = b.From
		}
		out = append(out, b)
	}
	if n := len(out); n > 0 && !w.Running() {
		if v, ok := a.at(w, len(w.draws)-1); ok {
			out[n-1].To = max(out[n-1].From, x(v))
		}
	}
	return out
}

// minutesText is a stretch of time as people say it.
func minutesText(minutes float64) string {
	d := time.Duration(math.Round(minutes)) * time.Minute
	if d < time.Hour {
		return fmt.Sprintf("%d min", int(d.Minutes()))
	}
	return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
}
