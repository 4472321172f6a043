package engine

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
	"gaugebook/calc/still"
)

type stillView struct {
	Runs   []runChoice `json:"runs"`  // that go on
	Ended  []runChoice `json:"ended"` // the latest
	Run    *runView    `json:"run"`
	Blocks []block     `json:"blocks"`
	Older  *table      `json:"older,omitempty"` // lines of the run that its table leaves out

	Noses    []string            `json:"noses"`   // words to tap for nose and taste
	Moments  map[string][]string `json:"moments"` // cautions by the moment they belong to
	Cautions []string            `json:"cautions"`
}

type runChoice struct {
	Address book.Address `json:"address"`
	Title   string       `json:"title"`
}

type runView struct {
	runChoice
	Ended      bool           `json:"ended"`
	Stands     string         `json:"stands"` // since when and why it is interrupted
	Column     bool           `json:"column"` // whether it is run with plates
	Collecting book.Fraction  `json:"collecting"`
	Receiver   book.Address   `json:"receiver"`
	Into       string         `json:"into"` // what is collected and where, in words
	Cuts       []cutChoice    `json:"cuts"`
	Last       map[string]any `json:"last"`     // the last reading's values, for one tap
	End        string         `json:"end"`      // where the run or its product says that hearts end, as a field holds it
	EndSays    string         `json:"end_says"` // the same with where it is from, "" where nobody said
	EndUnits   []unit         `json:"end_units"`
	EndWrong   string         `json:"end_wrong,omitempty"`
}

type cutChoice struct {
	Fraction book.Fraction `json:"fraction"`
	Words    string        `json:"words"`
}

// noses are words for what comes over, in the order in which they are looked
// for (common practice, no source).
var noses = []string{"sharp", "solvent", "pear drop", "green", "fruit", "floral", "honey", "spice", "grain", "round", "clean", "hot", "dull", "oily", "wet cardboard", "cooked"}

// endedShown is how many ended runs are offered to look at again.
const endedShown = 12

// stillRoom shows the run that is wanted, else the open one started last, else
// the latest. end
// is where hearts are to end, as typed; without it the run or its product says.
func (e *Engine) stillRoom(wanted book.Address, end string) stillView {
	e.charges = map[book.Address]charged{}
	defer func() { e.charges = nil }()
	s := e.book.State()
	out := stillView{Runs: []runChoice{}, Ended: []runChoice{}, Blocks: []block{}, Noses: noses}
	run := s.Run(wanted)
	for a, r := range s.Runs {
		if !r.Running() {
			out.Ended = append(out.Ended, runChoice{a, e.runTitle(r)})
			continue
		}
		out.Runs = append(out.Runs, runChoice{a, e.runTitle(r)})
		if run == nil || run.Running() && run.Address != wanted {
			run = r
		}
	}
	out.Ended = out.Ended[max(0, len(out.Ended)-endedShown):]
	slices.Reverse(out.Ended)
	e.stillCautions(&out, run)
	if run == nil && len(out.Ended) > 0 {
		run = s.Run(out.Ended[0].Address) // the latest to have ended, to look back at
	}
	if run == nil {
		return out
	}
	w := e.work(run)
	fraction, receiver := run.Collecting()
	out.Run = &runView{runChoice: runChoice{run.Address, e.runTitle(run)}, Ended: !run.Running(), Column: plated(run),
		Collecting: fraction, Receiver: receiver, Into: capital(string(fraction)) + e.into(receiver), Cuts: cutsAfter(fraction)}
	if l := run.Standing(); l != nil && run.Running() {
		out.Run.Stands = "Interrupted since " + e.clockText(run, l.On)
		if l.Stopped.Why != "" {
			out.Run.Stands += ": " + l.Stopped.Why
		}
		out.Run.Stands += "."
	}
	if last := run.Reading(); last != nil {
		out.Run.Last = values(&book.DrawRead{Indicated: last.Read.Indicated, Temp: last.Read.Temp, Vapour: last.Read.Vapour, Column: last.Read.Column, Coolant: last.Read.Coolant,
			Volume: last.Read.Volume, Hydrometer: last.Read.Hydrometer, Thermometer: last.Read.Thermometer, Plates: last.Read.Plates})
	}
	out.Blocks = e.runAsked(w)
	f := e.foresee(w, end)
	out.Run.EndUnits, out.Run.EndWrong = e.strengthUnits(), f.wrong
	if own, from := e.heartsEnd(run); from != "" {
		out.Run.End, out.Run.EndSays = own.Compact(), "Without a word here: "+own.String()+", "+from+"."
	}
	if run.Running() {
		out.Blocks = append(out.Blocks, f.block())
	}
	if c := e.runChart(w, e.before(run), f); c != nil {
		out.Blocks = append(out.Blocks, block{Chart: c})
	}
	if b := e.instruments(w); b != nil {
		out.Blocks = append(out.Blocks, *b)
	}
	out.Blocks = append(out.Blocks, block{Table: e.receiversTable(w)})
	out.Blocks = append(out.Blocks, e.outcome(w)...)
	if t := e.productTable(run); t != nil {
		out.Blocks = append(out.Blocks, block{Table: t})
	}
	t := e.runTable(w)
	if len(t.Rows) > linesShown {
		older := *t
		older.Title, older.Rows = "Earlier lines of the run", t.Rows[linesShown:]
		t.Rows, out.Older = t.Rows[:linesShown], &older
	}
	out.Blocks = append(out.Blocks, block{Table: t})
	return out
}

// linesShown is how many lines of a run stand open; the others are a tap away.
const linesShown = 16

// stillCautions sorts the room's cautions: those of the moment first. Those of
// stones only where the charge may hold some.
func (e *Engine) stillCautions(out *stillView, run *book.Run) {
	stones := run == nil
	if run != nil {
		for _, p := range run.From {
			if m := e.book.State().Ferment(p.Lot); m != nil && e.ofStoneFruit(m) {
				stones = true
			}
		}
	}
	out.Moments = map[string][]string{}
	for _, c := range still.Cautions(stones) {
		words := strings.TrimSpace(strings.TrimSuffix(c.Text, still.Defer)) // the page says that once, for all of them
		out.Moments[c.When] = append(out.Moments[c.When], words)
		out.Cautions = append(out.Cautions, capital(c.When)+": "+words)
	}
}

// ofStoneFruit reports whether a mash has stone fruit in it, pitted or not.
func (e *Engine) ofStoneFruit(m *book.Ferment) bool {
	for _, p := range m.Parts {
		if r := e.book.State().RawLot(p.Lot); r != nil {
			if known, ok := material(r.Variety); ok && known.Class == must.Stone {
				return true
			}
		}
	}
	return false
}

// strengthUnits are the units of a strength, the book's own first.
func (e *Engine) strengthUnits() []unit {
	proof, abv := unit{quantity.Proof.Symbol(), quantity.Proof.Label()}, unit{quantity.ABV20.Symbol(), quantity.ABV20.Label()}
	if e.metric() {
		return []unit{abv, proof}
	}
	return []unit{proof, abv}
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
	Marks       []mark `json:"marks,omitempty"`

	By     string   `json:"by,omitempty"`     // what it is drawn over, where there are other ways
	Others []*chart `json:"others,omitempty"` // the same drawn over something else
	Choose string   `json:"choose,omitempty"` // what is chosen among them, in words
}

// A mark is a place with a name: across, or up where Up is set.
type mark struct {
	At    float64 `json:"at"`
	Up    bool    `json:"up,omitempty"`
	Label string  `json:"label"`
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
	Look  string  `json:"look,omitempty"` // 'kept' for hearts
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
