package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// mostPoints is how many points of a controller a chart asks for.
const mostPoints = 200

// The looks of a line: what was read, what is expected, what came before, what
// a controller sent.
const (
	lookRead       = "read"
	lookExpected   = "expected"
	lookBefore     = "before"
	lookController = "controller"
)

// A plot is a chart in its own units, days across where it says nothing else.
type plot struct {
	title, up string
	across    string // "" for days since the yeast
	each      string // one of what is across, "" for a day
	lines     []plotLine
	area      *plotArea
	marks     []float64 // figures that must be in sight
}

type plotLine struct {
	label, look string
	points      [][2]float64
}

type plotArea struct {
	label     string
	low, high [][2]float64
}

// lastAcross is where the plot ends.
func (p *plot) lastAcross() float64 {
	end := 1.0
	for _, l := range p.lines {
		for _, q := range l.points {
			end = max(end, q[0])
		}
	}
	return end
}

// chart places a plot; nil where it has no point.
func (p *plot) chart() *chart {
	low, high, end := math.Inf(1), math.Inf(-1), 1.0
	see := func(points [][2]float64) {
		for _, q := range points {
			low, high, end = min(low, q[1]), max(high, q[1]), max(end, q[0])
		}
	}
	n := 0
	for _, l := range p.lines {
		see(l.points)
		n += len(l.points)
	}
	if n == 0 {
		return nil
	}
	if p.area != nil {
		see(p.area.low)
		see(p.area.high)
	}
	for _, m := range p.marks {
		low, high = min(low, m), max(high, m)
	}
	step := stepFor(high-low, 5)
	bottom, top := step*math.Floor(low/step), step*(math.Floor(high/step)+1)
	at := func(points [][2]float64) [][2]float64 {
		out := make([][2]float64, len(points))
		for i, q := range points {
			out[i] = [2]float64{place(max(0, q[0]) / end), place((q[1] - bottom) / (top - bottom))}
		}
		return out
	}
	c := &chart{Title: p.title, Across: cmp.Or(p.across, "days since the yeast"), Up: p.up, Bands: []band{}, Summary: p.summary()}
	for _, l := range p.lines {
		if len(l.points) > 0 {
			c.Lines = append(c.Lines, line{Label: l.label, Look: l.look, Points: at(l.points)})
		}
	}
	if p.area != nil {
		c.Areas = []area{{Label: p.area.label, Low: at(p.area.low), High: at(p.area.high)}}
	}
	decimals := 0
	if step < 1 {
		decimals = int(math.Ceil(-math.Log10(step) - 1e-9))
	}
	for v := bottom; v <= top+step/2; v += step {
		c.UpTicks = append(c.UpTicks, tick{place((v - bottom) / (top - bottom)), strconv.FormatFloat(v, 'f', decimals, 64)})
	}
	daily := max(1, stepFor(end, 6))
	for d := 0.0; d <= end; d += daily {
		c.AcrossTicks = append(c.AcrossTicks, tick{place(d / end), strconv.Itoa(int(d))})
	}
	return c
}

// summary says the chart to who cannot see it.
func (p *plot) summary() string {
	words, each := capital(p.title), cmp.Or(p.each, "day")
	for _, l := range p.lines {
		if n := len(l.points); n > 0 {
			words += fmt.Sprintf("; %s: %d points, from %s on %s %s to %s on %s %s", l.label, n,
				quantity.Fixed(l.points[0][1], 1), each, quantity.Fixed(l.points[0][0], 1), quantity.Fixed(l.points[n-1][1], 1), each, quantity.Fixed(l.points[n-1][0], 1))
		}
	}
	return words
}

// stepFor is a round step that parts a span into no more than so many.
func stepFor(span, most float64) float64 {
	step := math.Pow(10, math.Floor(math.Log10(max(span, 1e-3)/most)))
	for _, times := range []float64{1, 2, 5} {
		if span/(step*times) <= most {
			return step * times
		}
	}
	return step * 10
}

// sameBefore is how many earlier lots a chart lays under this one.
const sameBefore = 3

// extractChart draws the extract with its forecast over earlier lots of the
// same material.
func (e *Engine) extractChart(m *book.Ferment, look *fermentLook) *chart {
	if !look.assessed {
		return nil
	}
	p := &plot{title: "extract at 20 °C", up: "Bx"}
	read := plotLine{label: "read", look: lookRead}
	for _, q := range look.assessment.Points {
		read.points = append(read.points, [2]float64{q.Day, q.Extract.Value})
	}
	if f := look.forecast; f != nil {
		expected := plotLine{label: "expected", look: lookExpected}
		p.area = &plotArea{label: "where four in five ferments run"}
		for _, q := range f.Curve {
			expected.points = append(expected.points, [2]float64{q.Day, q.Median})
			p.area.low = append(p.area.low, [2]float64{q.Day, q.Low})
			p.area.high = append(p.area.high, [2]float64{q.Day, q.High})
		}
		p.lines = append(p.lines, expected)
	}
	for _, other := range e.earlier(m) {
		f, _ := e.ferment(other)
		if n := len(f.Checks); n > 0 && !f.Original.IsNone() {
			f.Now = f.Checks[n-1].At
			if a, err := f.Assess(); err == nil {
				l := plotLine{label: e.mashName(other) + ", " + other.Begun.Day(), look: lookBefore}
				for _, q := range a.Points {
					l.points = append(l.points, [2]float64{q.Day, q.Extract.Value})
				}
				p.lines = append(p.lines, l)
			}
		}
	}
	p.lines = append(p.lines, read)
	return p.chart()
}

// earlier lists the latest finished lots of the same material and type.
func (e *Engine) earlier(m *book.Ferment) []*book.Ferment {
	of := e.materialOf(m)
	var out []*book.Ferment
	for a, other := range e.book.State().Ferments {
		if a != m.Address && other.Type == m.Type && of != "" && e.materialOf(other) == of && other.Begun.Before(m.Begun) && len(other.Checks) > 2 {
			out = append(out, other)
		}
	}
	return out[max(0, len(out)-sameBefore):]
}

// materialOf names what most of a mash is made of, as the tables do where they
// know it.
func (e *Engine) materialOf(m *book.Ferment) string {
	if len(m.Parts) == 0 {
		return ""
	}
	most := slices.MaxFunc(m.Parts, func(a, b book.MashPart) int { return int(max(-1, min(1, a.Weight.Base()-b.Weight.Base()))) })
	r := e.book.State().RawLot(most.Lot)
	if r == nil {
		return ""
	}
	if known, ok := material(r.Variety); ok {
		return known.Name
	}
	return r.Variety
}

func (e *Engine) phChart(m *book.Ferment) *chart {
	p := &plot{title: "acidity of the mash", up: "pH"}
	read := plotLine{label: "read", look: lookRead}
	if !m.PH.IsNone() {
		read.points = append(read.points, [2]float64{0, m.PH.Float()})
	}
	for _, c := range m.Checks {
		if !c.PH.IsNone() {
			read.points = append(read.points, [2]float64{dayOf(m, c.On), c.PH.Float()})
		}
	}
	sent := plotLine{label: "sent by the controller", look: lookController}
	for _, r := range m.Readings {
		if !r.PH.IsNone() {
			sent.points = append(sent.points, [2]float64{dayOf(m, r.At), r.PH.Float()})
		}
	}
	sent.points = thinned(sent.points)
	p.lines = []plotLine{sent, read}
	if len(read.points)+len(sent.points) < 2 {
		return nil
	}
	return p.chart()
}

// tempChart draws the temperature of the checks over that of a controller.
func (e *Engine) tempChart(m *book.Ferment, look *fermentLook) *chart {
	unit := quantity.Fahrenheit
	if e.metric() {
		unit = quantity.Celsius
	}
	p := &plot{title: "temperature of the mash", up: unit.Label()}
	read := plotLine{label: "read", look: lookRead}
	for _, c := range m.Checks {
		if r := inRange(c.Temp, -5, 60); !r.IsNone() {
			read.points = append(read.points, [2]float64{dayOf(m, c.On), r.In(unit)})
		}
	}
	sent := plotLine{label: "sent by the controller", look: lookController}
	for _, r := range m.Readings {
		if !r.Temp.IsNone() {
			sent.points = append(sent.points, [2]float64{dayOf(m, r.At), r.Temp.In(unit)})
		}
	}
	sent.points = thinned(sent.points)
	p.lines = []plotLine{sent, read}
	if len(read.points)+len(sent.points) < 2 {
		return nil
	}
	limits := quantity.Figure{Value: look.Style.Warm, Unit: quantity.Celsius}
	for _, l := range p.lines {
		for _, q := range l.points { // the limit is worth its room once the mash is near it
			if q[1] > limits.In(unit).Value-3 {
				p.marks = []float64{limits.In(unit).Value}
			}
		}
	}
	return p.chart()
}

func dayOf(m *book.Ferment, at book.Moment) float64 { return at.Since(m.From()).Hours() / 24 }

// thinned leaves no more points than a phone's screen can tell apart: of each
// stretch of time the lowest and the highest, so that no peak is lost.
func thinned(points [][2]float64) [][2]float64 {
	if len(points) <= mostPoints {
		return points
	}
	const stretches = mostPoints / 2
	first, span := points[0][0], points[len(points)-1][0]-points[0][0]
	var out [][2]float64
	for i, from := 0, 0; i < stretches; i++ {
		to := from
		for to < len(points) && (i == stretches-1 || (points[to][0]-first)*stretches < span*float64(i+1)) {
			to++
		}
		if from == to {
			continue
		}
		low, high := from, from
		for k := from; k < to; k++ {
			if points[k][1] < points[low][1] {
				low = k
			}
			if points[k][1] > points[high][1] {
				high = k
			}
		}
		out = append(out, points[min(low, high)])
		if low != high {
			out = append(out, points[max(low, high)])
		}
		from = to
	}
	return out
}
