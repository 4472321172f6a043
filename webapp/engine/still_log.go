package engine

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// A draw is one line of the run with its strength worked out.
type draw struct {
	book.Line
	after    time.Duration // since the run began, without the time it stood
	strength spirit.Strength
	reading  quantity.Reading // the same, with its doubt
	known    bool
	segment  int     // counts the cuts
	flow     float64 // L/min since the volume before, NaN where the log does not say
}

// A worked is a run with what its draw log adds up to.
type worked struct {
	*book.Run
	draws     []draw
	lines     []still.Line
	of        []int             // the draw of each line
	names     map[string]string // of the receivers, as people say them
	charge    charged
	collected still.Collected
	err       error
	until     string                 // how far what was collected reaches, where not to the end
	drawn     map[int]still.Gathered // all receivers together, by draw
}

func (e *Engine) work(run *book.Run) *worked {
	w := &worked{Run: run, names: map[string]string{}, drawn: map[int]still.Gathered{}}
	w.draws = e.draws(run)
	e.drawLog(w)
	w.charge = e.chargeOf(run)
	w.collected, w.err = still.Collect(w.lines)
	if w.err != nil && spoken(w.err)[0].Code == still.TooLittle {
		// Nothing says how fast it runs: then what was measured counts, and no more.
		w.measured()
		w.collected, w.err = still.Collect(w.lines)
		w.until = ", up to its last volume"
	}
	for i, g := range w.collected.Lines {
		w.drawn[w.of[i]] = g
	}
	return w
}

// measured leaves out a receiver's lines after its last volume, and the time
// from there to the next receiver.
func (w *worked) measured() {
	last := map[string]int{}
	for i, l := range w.lines {
		if !l.Volume.IsNone() {
			last[l.Receiver] = i
		}
	}
	var lines []still.Line
	var of []int
	var out time.Duration
	for i, l := range w.lines {
		if until, any := last[l.Receiver]; !any || i > until {
			continue
		}
		if n := len(lines); n > 0 && lines[n-1].Receiver != l.Receiver {
			out = l.After - lines[n-1].After
		}
		l.After -= out
		lines, of = append(lines, l), append(of, w.of[i])
	}
	w.lines, w.of = lines, of
}

func (e *Engine) draws(run *book.Run) []draw {
	s := e.book.State()
	var out []draw
	segment := 0
	var stood time.Duration
	var since *book.Moment
	var before *draw // the volume read last in this segment
	for _, l := range run.Lines {
		d := draw{Line: l, flow: math.NaN(), after: l.On.Since(run.Started) - stood}
		if since != nil {
			d.after = since.Since(run.Started) - stood
		}
		switch {
		case l.Cut:
			segment++
			before = nil
		case l.Stopped != nil && since == nil:
			since = &l.On
		case l.Resumed != nil && since != nil:
			stood += l.On.Since(*since)
			since = nil
		}
		d.segment = segment
		if l.Read != nil {
			g := l.Read.Gauge()
			c, ok, err := g.TrueStrength(s)
			if d.known = ok && err == nil; d.known {
				d.strength, d.reading = c.Strength, c.True.Reading(2)
			}
		}
		if l.Read != nil && volumeRead(l.Read.Volume) {
			if before != nil {
				d.flow = flowBetween(before.Read.Volume, l.Read.Volume, d.after-before.after)
			}
			kept := d
			before = &kept
		}
		out = append(out, d)
	}
	return out
}

func volumeRead(r quantity.Reading) bool {
	return !r.IsNone() && r.Unit().Dimension() == quantity.Volume
}

// flowBetween is L/min between two volumes, NaN where the clock or the dip stick
// does not say.
func flowBetween(from, to quantity.Reading, in time.Duration) float64 {
	more := to.In(quantity.Litre) - from.In(quantity.Litre)
	if in < 30*time.Second || more <= 0 {
		return math.NaN()
	}
	return more / in.Minutes()
}

// flowText is a flow for an hour.
func (e *Engine) flowText(perMinute float64) string {
	return e.litresText(perMinute*60) + " an hour"
}

// drawLog is the run as the still's formulas take it. A receiver is a vessel
// with its fraction, or whatever stood there between two cuts where none was
// named.
func (e *Engine) drawLog(w *worked) {
	receiver := func(d draw) string {
		key := string(d.Fraction) + " " + string(d.Receiver)
		if d.Receiver == "" {
			key += strconv.Itoa(d.segment)
		}
		w.names[key] = capital(string(d.Fraction)) + e.into(d.Receiver)
		return key
	}
	for i, d := range w.draws {
		l := still.Line{After: d.after, Receiver: receiver(d)}
		switch {
		case d.Stopped != nil || d.Resumed != nil:
			continue
		case d.known:
			l.Strength = d.reading
			fallthrough
		case d.Read != nil:
			if volumeRead(d.Read.Volume) {
				l.Volume, l.VolumeTemp = d.Read.Volume, d.Read.Temp
			}
		case i > 0 && d.Change != nil && volumeRead(d.Change.Volume):
			w.add(i, still.Line{After: l.After, Receiver: receiver(w.draws[i-1]), Volume: d.Change.Volume})
		}
		w.add(i, l)
	}
}

func (w *worked) add(draw int, l still.Line) {
	w.lines, w.of = append(w.lines, l), append(w.of, draw)
}

// clockText is a time of a run, with its day where the run went past midnight.
func (e *Engine) clockText(run *book.Run, m book.Moment) string {
	if m.Day() != run.Started.Day() {
		return m.Day()[5:] + " " + m.Clock()
	}
	return m.Clock()
}

// runTable lists the lines, the newest first.
func (e *Engine) runTable(w *worked) *table {
	t := &table{Title: "The run, newest line first", Empty: "No line yet.", Rows: []row{},
		Columns: []column{{Label: "Time"}, {Label: "True " + e.strengthUnit(), Figure: true}, {Label: "Receiver", Figure: true}, {Label: "Vapour", Figure: true}}}
	for _, d := range slices.Backward(w.draws) {
		at := cell{e.clockText(w.Run, d.On), d.Entry}
		said := func(what string, notes ...string) {
			t.Rows = append(t.Rows, row{Cells: []cell{at, text(what), text(""), text("")}, Note: joined(notes...)})
		}
		switch {
		case d.Cut:
			said("cut", "from here "+string(d.Fraction)+e.into(d.Receiver), leftText(d.Change), d.Change.Nose, d.Change.Note)
		case d.Stopped != nil:
			said("stopped", d.Stopped.Why, d.Stopped.Note)
		case d.Resumed != nil:
			said("goes on", d.Resumed.Note)
		default:
			r := d.Read
			strength := "?"
			if d.known {
				strength = e.strengthFigure(d.strength)
			}
			notes := []string{"read " + r.Indicated.String() + " at " + r.Temp.String()}
			if !math.IsNaN(d.flow) {
				notes = append(notes, e.flowText(d.flow))
			}
			for _, more := range []struct {
				label string
				r     quantity.Reading
			}{{"column", r.Column}, {"coolant", r.Coolant}} {
				if !more.r.IsNone() {
					notes = append(notes, more.label+" "+more.r.String())
				}
			}
			if r.Plates > 0 {
				notes = append(notes, fmt.Sprint(r.Plates, " plates"))
			}
			t.Rows = append(t.Rows, row{Cells: []cell{at, text(strength), text(r.Volume.String()), text(r.Vapour.String())}, Note: joined(append(notes, r.Nose, r.Note)...)})
		}
	}
	return t
}

func leftText(c *book.ReceiverChanged) string {
	if c.Volume.IsNone() {
		return ""
	}
	return c.Volume.String() + " left in the receiver before"
}

// joined are the words that say something.
func joined(words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(w string) bool { return w == "" }), "; ")
}

func (e *Engine) into(receiver book.Address) string {
	if receiver == "" {
		return ""
	}
	return " into " + e.name(book.AVessel, receiver)
}

// receiversTable sets what each receiver collected by the draw log beside what
// was gauged at the end.
func (e *Engine) receiversTable(w *worked) *table {
	t := &table{Title: "Pure alcohol in the receivers, in litres and proof gallons", Empty: "Nothing collected yet: give the volume in the receiver with a reading.", Rows: []row{},
		Columns: []column{{Label: "Receiver"}, {Label: "L", Figure: true}, {Label: "PG", Figure: true}}}
	add := func(name string, litres, doubt float64, note string) {
		gallons := litres / book.Steps(1).LitresPureAlcohol()
		note += fmt.Sprintf(", ±%s L", quantity.Fixed(2*doubt, 2))
		t.Rows = append(t.Rows, row{Cells: []cell{text(name), text(quantity.Fixed(litres, 2)), text(quantity.Fixed(gallons, 2))}, Note: note})
	}
	if w.err != nil {
		if words := e.whyNotCollected(w); words != "" {
			t.Empty = words
		}
	}
	for _, r := range w.collected.Receivers {
		if r.PureAlcohol.Value == 0 {
			continue
		}
		note := "by the draw log: " + e.volumeIn(r.Volume) + ", " + e.strengthText(r.Holds.Strength())
		if r.Guessed > 0 {
			note += ", in part guessed by the clock"
		}
		note += w.until
		if share := w.shareOf(r.PureAlcohol.Value); share != "" {
			note += ", " + share
		}
		add(w.names[r.Name], r.PureAlcohol.Value, r.PureAlcohol.U, note)
	}
	for _, f := range w.Fractions {
		add(capital(string(f.Fraction))+" in "+e.name(book.AVessel, f.Vessel), f.Alcohol.LitresPureAlcohol(), book.Alcohol(f.Doubt).LitresPureAlcohol(), "gauged at "+e.strengthText(f.Strength))
	}
	return t
}

// whyNotCollected says why a log adds up to nothing, with the line's own time;
// "" where there is only too little yet.
func (e *Engine) whyNotCollected(w *worked) string {
	said := spoken(w.err)[0]
	if said.Code == still.TooLittle || len(w.draws) == 0 {
		return ""
	}
	where := said.Field
	var n int
	var what string
	if _, err := fmt.Sscanf(said.Field, "line %d %s", &n, &what); err == nil && n >= 1 && n <= len(w.of) {
		where = "the line of " + e.clockText(w.Run, w.draws[w.of[n-1]].On)
	}
	return "What was collected cannot be said. " + capital(where) + ": " + said.Sentence
}

// shareOf is an amount as a part of the charge, "" where the charge is not known.
func (w *worked) shareOf(litres float64) string {
	c := &w.charge
	if !c.known || c.charge.PureAlcohol.Value <= 0 {
		return ""
	}
	return quantity.Fixed(100*litres/c.charge.PureAlcohol.Value, 0) + " % of the charge"
}

// volumeIn is a volume at 20 °C in the unit of the book's convention.
func (e *Engine) volumeIn(litres quantity.Figure) string {
	if e.metric() {
		return quantity.Fixed(litres.Value, 1) + " L"
	}
	return quantity.Fixed(litres.In(quantity.Gallon).Value, 2) + " gal"
}
