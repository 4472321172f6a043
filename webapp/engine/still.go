package engine

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

type stillView struct {
	Runs   []runChoice `json:"runs"`
	Run    *runView    `json:"run"`
	Blocks []block     `json:"blocks"`

	Cautions []string `json:"cautions"`
}

type runChoice struct {
	Address book.Address `json:"address"`
	Title   string       `json:"title"`
}

type runView struct {
	runChoice
	Collecting book.Fraction  `json:"collecting"`
	Receiver   book.Address   `json:"receiver"`
	Cuts       []cutChoice    `json:"cuts"`
	Last       map[string]any `json:"last"` // the last reading's values, for one tap
}

type cutChoice struct {
	Fraction book.Fraction `json:"fraction"`
	Words    string        `json:"words"`
}

// stillRoom shows the run that is wanted, else the one started last.
func (e *Engine) stillRoom(wanted book.Address) stillView {
	s := e.book.State()
	out := stillView{Runs: []runChoice{}, Blocks: []block{}}
	for _, c := range still.Cautions(true) {
		out.Cautions = append(out.Cautions, strings.TrimSpace(strings.TrimSuffix(c.Text, still.Defer))) // the page says that once, for all of them
	}
	var run *book.Run
	for a, r := range s.Runs {
		if !r.Running() {
			continue
		}
		out.Runs = append(out.Runs, runChoice{a, e.runTitle(r)})
		if run == nil || run.Address != wanted {
			run = r
		}
	}
	if run == nil {
		return out
	}
	fraction, receiver := run.Collecting()
	out.Run = &runView{runChoice: runChoice{run.Address, e.runTitle(run)}, Collecting: fraction, Receiver: receiver, Cuts: cutsAfter(fraction)}
	if last := run.Reading(); last != nil {
		out.Run.Last = values(&book.DrawRead{Indicated: last.Read.Indicated, Temp: last.Read.Temp, Vapour: last.Read.Vapour,
			Volume: last.Read.Volume, Hydrometer: last.Read.Hydrometer, Thermometer: last.Read.Thermometer, Plates: last.Read.Plates})
	}
	draws := e.draws(run)
	if c := e.runChart(run, draws); c != nil {
		out.Blocks = append(out.Blocks, block{Chart: c})
	}
	out.Blocks = append(out.Blocks, block{Table: e.receiversTable(run, draws)}, block{Table: e.runTable(draws)})
	return out
}

// cutsAfter lists the next receivers, the usual one first.
func cutsAfter(f book.Fraction) []cutChoice {
	var out []cutChoice
	switch f {
	case book.Heads:
		out = []cutChoice{{book.Hearts, "Cut to hearts"}}
	case book.Hearts:
		out = []cutChoice{{book.Tails, "Cut to tails"}}
	case book.Tails:
		out = []cutChoice{{book.Hearts, "Back to hearts"}}
	}
	return append(out, cutChoice{f, "Next receiver, still " + string(f)})
}

// A draw is one line of the run with its strength worked out.
type draw struct {
	book.Line
	strength spirit.Strength
	reading  quantity.Reading // the same, with its doubt
	known    bool
	segment  int // counts the cuts
}

func (e *Engine) draws(run *book.Run) []draw {
	var out []draw
	segment := 0
	for _, l := range run.Lines {
		d := draw{Line: l}
		if l.Cut {
			segment++
		}
		d.segment = segment
		if l.Read != nil {
			g := l.Read.Gauge()
			c, ok, err := g.TrueStrength(e.book.State())
			if d.known = ok && err == nil; d.known {
				d.strength, d.reading = c.Strength, c.True.Reading(2)
			}
		}
		out = append(out, d)
	}
	return out
}

func (e *Engine) runTable(draws []draw) *table {
	t := &table{Title: "The run, newest line first", Empty: "No line yet.", Rows: []row{},
		Columns: []column{{Label: "Time"}, {Label: "True " + e.strengthUnit(), Figure: true}, {Label: "Receiver", Figure: true}, {Label: "Vapour", Figure: true}}}
	for i := len(draws) - 1; i >= 0; i-- {
		d := draws[i]
		at := cell{d.On.Clock(), d.Entry}
		if d.Cut {
			t.Rows = append(t.Rows, row{Cells: []cell{at, text("cut"), text(""), text("")}, Note: "from here " + string(d.Fraction) + e.into(d.Receiver)})
			continue
		}
		r := d.Read
		strength := "?"
		if d.known {
			strength = e.strengthFigure(d.strength)
		}
		notes := []string{"read " + r.Indicated.String() + " at " + r.Temp.String()}
		for _, more := range []string{r.Nose, r.Note} {
			if more != "" {
				notes = append(notes, more)
			}
		}
		t.Rows = append(t.Rows, row{Cells: []cell{at, text(strength), text(r.Volume.String()), text(r.Vapour.String())}, Note: strings.Join(notes, "; ")})
	}
	return t
}

func (e *Engine) into(receiver book.Address) string {
	if receiver == "" {
		return ""
	}
	return " into " + e.name(book.AVessel, receiver)
}

// receiversTable sets what each receiver collected by the draw log beside what
// was gauged at the end.
func (e *Engine) receiversTable(run *book.Run, draws []draw) *table {
	t := &table{Title: "Pure alcohol in the receivers, in litres and proof gallons", Empty: "Nothing collected yet: give the volume in the receiver with a reading.", Rows: []row{},
		Columns: []column{{Label: "Receiver"}, {Label: "L", Figure: true}, {Label: "PG", Figure: true}}}
	perGallon := book.Steps(1).LitresPureAlcohol()
	add := func(name string, litres, doubt float64, note string) {
		gallons := litres / perGallon
		note += fmt.Sprintf(", ±%s L", quantity.Fixed(2*doubt, 2))
		t.Rows = append(t.Rows, row{Cells: []cell{text(name), text(quantity.Fixed(litres, 2)), text(quantity.Fixed(gallons, 2))}, Note: note})
	}
	names := map[string]string{}
	log, until := e.drawLog(run, draws, names), ""
	collected, err := still.Collect(log)
	if err != nil && spoken(err)[0].Code == still.TooLittle {
		// Nothing says how fast it runs: then what was measured counts, and no more.
		collected, err = still.Collect(measured(log))
		until = ", up to its last volume"
	}
	if err != nil {
		if said := spoken(err); said[0].Code != still.TooLittle && len(draws) > 0 {
			t.Empty = "What was collected cannot be said: " + said[0].Field + ": " + said[0].Sentence
		}
	}
	for _, r := range collected.Receivers {
		if r.PureAlcohol.Value == 0 {
			continue
		}
		note := "by the draw log: " + e.volumeIn(r.Volume) + ", " + e.strengthText(r.Holds.Strength())
		if r.Guessed > 0 {
			note += ", in part guessed by the clock"
		}
		note += until
		add(names[r.Name], r.PureAlcohol.Value, r.PureAlcohol.U, note)
	}
	for _, f := range run.Fractions {
		add(capital(string(f.Fraction))+" in "+e.name(book.AVessel, f.Vessel), f.Alcohol.LitresPureAlcohol(), book.Alcohol(f.Doubt).LitresPureAlcohol(), "gauged at "+e.strengthText(f.Strength))
	}
	return t
}

// measured is a draw log without the lines of a receiver after its last volume.
func measured(log []still.Line) []still.Line {
	last := map[string]int{}
	for i, l := range log {
		if !l.Volume.IsNone() {
			last[l.Receiver] = i
		}
	}
	var out []still.Line
	for i, l := range log {
		if until, any := last[l.Receiver]; any && i <= until {
			out = append(out, l)
		}
	}
	return out
}

// volumeIn is a volume at 20 °C in the unit of the book's convention.
func (e *Engine) volumeIn(litres quantity.Figure) string {
	if e.metric() {
		return quantity.Fixed(litres.Value, 1) + " L"
	}
	return quantity.Fixed(litres.In(quantity.Gallon).Value, 2) + " gal"
}

// drawLog is the run as the still's formulas take it. A receiver is a vessel
// with its fraction, or whatever stood there between two cuts where none was
// named; names gets what people call each.
func (e *Engine) drawLog(run *book.Run, draws []draw, names map[string]string) []still.Line {
	var out []still.Line
	receiver := func(d draw) string {
		key := string(d.Fraction) + " " + string(d.Receiver)
		if d.Receiver == "" {
			key += strconv.Itoa(d.segment)
		}
		names[key] = capital(string(d.Fraction)) + e.into(d.Receiver)
		return key
	}
	for i, d := range draws {
		l := still.Line{After: d.On.Since(run.Started), Receiver: receiver(d)}
		switch {
		case d.known:
			l.Strength, l.Volume, l.VolumeTemp = d.reading, d.Read.Volume, d.Read.Temp
		case d.Read != nil:
			l.Volume, l.VolumeTemp = d.Read.Volume, d.Read.Temp
		case i > 0:
			if left := e.leftBefore(d.Entry); !left.IsNone() {
				out = append(out, still.Line{After: l.After, Receiver: receiver(draws[i-1]), Volume: left})
			}
		}
		out = append(out, l)
	}
	return out
}

// leftBefore is what a cut says the receiver before it held.
func (e *Engine) leftBefore(cut book.Address) quantity.Reading {
	entry := e.book.Entry(cut)
	if entry == nil {
		return quantity.Reading{}
	}
	body, _, _, _ := e.book.Effective(entry)
	if c, ok := body.(*book.ReceiverChanged); ok {
		return c.Volume
	}
	return quantity.Reading{}
}

// A chart's positions are parts of its plot's width and height.
type chart struct {
	Title       string `json:"title"`
	Summary     string `json:"summary"`
	Across      string `json:"across"`
	Up          string `json:"up"`
	AcrossTicks []tick `json:"across_ticks"`
	UpTicks     []tick `json:"up_ticks"`
	Lines       []line `json:"lines"`
	Bands       []band `json:"bands"`
	Areas       []area `json:"areas,omitempty"`
}

type tick struct {
	At    float64 `json:"at"`
	Label string  `json:"label"`
}

type line struct {
	Label  string       `json:"label"`
	Look   string       `json:"look,omitempty"` // what kind of line it is; by its place where it says nothing
	Points [][2]float64 `json:"points"`
}

// An area lies between two lines.
type area struct {
	Label string       `json:"label"`
	Low   [][2]float64 `json:"low"`
	High  [][2]float64 `json:"high"`
}

type band struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Label string  `json:"label"`
}

// runChart draws the strength over the time, with the fractions as bands.
func (e *Engine) runChart(run *book.Run, draws []draw) *chart {
	type point struct{ ms, strength float64 }
	var points []point
	low, high := 200.0, 0.0
	for _, d := range draws {
		if !d.known {
			continue
		}
		y := d.strength.Proof()
		if e.metric() {
			y = d.strength.ABV20()
		}
		points = append(points, point{float64(d.On.Since(run.Started).Milliseconds()), y})
		low, high = min(low, y), max(high, y)
	}
	if len(points) == 0 {
		return nil
	}
	step := 1.0
	for _, wider := range []float64{2, 5, 10, 20} {
		if (high-low)/step > 4 {
			step = wider
		}
	}
	bottom, top := step*math.Floor(low/step), step*(math.Floor(high/step)+1)
	start := points[0].ms
	first := draws[0]
	if len(draws) > 0 {
		start = min(start, float64(first.On.Since(run.Started).Milliseconds()))
	}
	last := max(points[len(points)-1].ms, float64(draws[len(draws)-1].On.Since(run.Started).Milliseconds()))
	span := max(last-start, 10*60*1000)
	x := func(ms float64) float64 { return place((ms - start) / span) }
	y := func(v float64) float64 { return place((v - bottom) / (top - bottom)) }
	unit := e.strengthUnit()
	c := &chart{Title: "true strength of what came over", Across: "time of day", Up: unit, Lines: []line{{Label: "true strength"}}}
	for _, p := range points {
		c.Lines[0].Points = append(c.Lines[0].Points, [2]float64{x(p.ms), y(p.strength)})
	}
	for v := bottom; v <= top+step/2; v += step {
		c.UpTicks = append(c.UpTicks, tick{y(v), strconv.Itoa(int(v))})
	}
	for i := range 4 {
		part := float64(i) / 3
		c.AcrossTicks = append(c.AcrossTicks, tick{place(part), clockAfter(first.On, part*span)})
	}
	for i, d := range draws {
		if i == 0 || d.Cut {
			at := x(float64(d.On.Since(run.Started).Milliseconds()))
			if n := len(c.Bands); n > 0 {
				c.Bands[n-1].To = at
			}
			c.Bands = append(c.Bands, band{From: at, To: 1, Label: string(d.Fraction)})
		}
	}
	from, to := points[0], points[len(points)-1]
	c.Summary = fmt.Sprintf("Strength over time, %d readings, from %.1f to %.1f %s", len(points), from.strength, to.strength, unit)
	for _, b := range c.Bands[1:] {
		c.Summary += "; then " + b.Label
	}
	return c
}

// place keeps a position to what a screen can show.
func place(part float64) float64 {
	f, _ := quantity.Snap(part).Round(4).Float64()
	return f
}

// clockAfter is the time of day some milliseconds after a moment, where it was
// said.
func clockAfter(m book.Moment, ms float64) string {
	clock := m.Clock()
	h, errH := strconv.Atoi(clock[:2])
	minute, errM := strconv.Atoi(clock[3:])
	if errH != nil || errM != nil {
		return clock
	}
	n := (h*60 + minute + int(ms/60000)) % (24 * 60)
	return fmt.Sprintf("%02d:%02d", n/60, n%60)
}
