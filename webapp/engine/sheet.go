package engine

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/party"
	"gaugebook/calc/quantity"
)

type sheetView struct {
	Runs   []choice `json:"runs"`
	Run    string   `json:"run"`
	Title  string   `json:"title"`
	House  string   `json:"house"`
	Says   string   `json:"says"`
	Blocks []block  `json:"blocks"`
}

// runSheet is the paper of a run: what was bottled, the tank at both ends, what
// every station counted, spoils, dry goods, fill checks and the three ways.
func (e *Engine) runSheet(wanted book.Address) (any, error) {
	out := sheetView{Runs: e.runChoices(), Blocks: []block{}}
	r := e.chosenRun(wanted, out.Runs)
	if r == nil {
		return out, nil
	}
	house := e.book.State().House()
	out.Run, out.Title, out.House = string(r.Address), bottlingTitle(r), joinedWords(house.Name, house.Plant)
	closing := party.Closing(e.book, r)
	out.Says = "Open: the counts are as far as they have come."
	if !r.Open() {
		out.Says = "Closed: " + e.signed(r.ClosedBy) + "."
	}
	out.Blocks = append(out.Blocks, block{Facts: e.labelFacts(r)}, block{Facts: e.tankFacts(r, closing)}, block{Table: stationsTable(r)}, block{Table: spoilsTable(r)}, block{Facts: e.fillFacts(r)})
	if t := e.daysTable(r); len(t.Rows) > 0 {
		out.Blocks = append(out.Blocks, block{Table: t})
	}
	if t := e.carbonationsTable(r.Address); len(t.Rows) > 0 {
		out.Blocks = append(out.Blocks, block{Table: t})
	}
	if r.Bottle.IsNone() {
		return out, nil
	}
	s, err := party.Of(e.book, r, closing)
	if err != nil {
		return nil, err
	}
	out.Blocks = append(out.Blocks, block{Table: e.goodsAtLine(&s)})
	if found, err := s.Reconcile(); err == nil {
		out.Blocks = append(out.Blocks, block{Table: e.accountsTable(&s, &found)}, block{Facts: e.cameOut(&s, found.Causes[0].Explanation, closing)})
	}
	return out, nil
}

// given leaves out what has no value.
func given(lines ...pair) []pair {
	out := []pair{}
	for _, l := range lines {
		if l.Value != "" {
			out = append(out, l)
		}
	}
	return out
}

func (e *Engine) labelFacts(r *book.Bottling) *facts {
	f := &facts{Title: "What was bottled", Lines: given(
		pair{"Product", r.Name}, pair{"Class", string(r.Class)}, pair{"Strength on the label", r.Label.String()}, pair{"Bottle or can", r.Bottle.String()},
		pair{"In a case", countOrNone(r.PerCase)}, pair{"Lot code", r.LotCode}, pair{"Run", string(r.Address)})}
	if p := e.book.State().Registered(book.AProduct, r.Product); p != nil {
		b := p.Body.(*book.ProductRegistered)
		f.Lines = append(f.Lines, given(pair{"Label approval", b.Approval}, pair{"Formula", b.Formula})...)
	}
	return f
}

func countOrNone(n int64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatInt(n, 10)
}

// gaugeText is a gauge as it was typed, with what it came to.
func (e *Engine) gaugeText(g *book.Gauge, found *book.Gauged) string {
	typed := g.Volume.String()
	if t := g.VolumeTemp.String(); t != "" {
		typed += " at " + t
	}
	if g.Weighed() {
		typed = g.Net.String() + g.Gross.String()
	}
	return joinedWords(typed, found.Shown.String(), e.alcoholText(found.Alcohol)+" "+e.alcoholLabel())
}

func (e *Engine) tankFacts(r *book.Bottling, closing *book.BottlingClosed) *facts {
	f := &facts{Title: "The tank: " + e.name(book.AVessel, r.Tank), Lines: []pair{{"Before, " + spaced(r.Opened.String()), e.gaugeText(&r.Gauge, &r.Tanked)}}}
	if closing == nil {
		return f
	}
	heel := "empty"
	if !closing.Empty {
		g := closing.Gauge
		if g.Strength.IsNone() && g.Indicated.IsNone() {
			g.Strength = r.Tanked.Shown
		}
		if found, _, faults := g.Measure(e.book.State(), e.book.State().Vessel(r.Tank)); len(faults) == 0 {
			heel = e.gaugeText(&closing.Gauge, &found)
		}
	}
	f.Lines = append(f.Lines, pair{"After, " + spaced(r.Closed.String()), heel})
	f.Lines = append(f.Lines, given(pair{"Samples", closing.Samples.String()}, pair{"Spilled", closing.Spilled.String()})...)
	return f
}

// fillFacts sums the fill checks of a run (27 CFR 19.356).
func (e *Engine) fillFacts(r *book.Bottling) *facts {
	f := &facts{Title: "Fill and strength checks (27 CFR 19.356)", Lines: []pair{}}
	label := r.Bottle.In(quantity.Millilitre)
	n, over, under, out := 0, 0, 0, 0
	sum, least, most := 0.0, math.Inf(1), math.Inf(-1)
	strength := ""
	for _, c := range r.Fills {
		for _, ml := range c.Millis {
			n++
			sum += ml
			least, most = min(least, ml), max(most, ml)
			switch off := ml/label - 1; {
			case math.Abs(off) > book.FillLimit(r.Bottle)+1e-9:
				out++
			case off > 0:
				over++
			case off < 0:
				under++
			}
		}
		if !c.Strength.IsNone() {
			strength = c.Strength.String() + ", " + c.On.Clock()
		}
	}
	if n == 0 {
		f.Lines = append(f.Lines, pair{"Bottles checked", "none was weighed or poured out"})
	} else {
		mean := sum / float64(n)
		f.Lines = append(f.Lines, pair{"Bottles checked", strconv.Itoa(n)}, pair{"Mean", quantity.Fixed(mean, 1) + " mL, " + signedTo(100*(mean/label-1), 2) + " %"},
			pair{"From, to", quantity.Fixed(least, 1) + " to " + quantity.Fixed(most, 1) + " mL"}, pair{"Over, under", fmt.Sprintf("%d over, %d under", over, under)},
			pair{"Outside ±" + quantity.Fixed(100*book.FillLimit(r.Bottle), 1) + " %", strconv.Itoa(out)})
	}
	return &facts{Title: f.Title, Lines: append(f.Lines, given(pair{"Strength in the bottle, last", strength})...)}
}

func (e *Engine) goodsAtLine(s *party.Sheet) *table {
	t := &table{Title: "Dry goods", Empty: "No dry goods were issued to this run.", Rows: []row{},
		Columns: []column{{Label: "Lot"}, {Label: "Issued", Figure: true}, {Label: "Back", Figure: true}, {Label: "Spoiled", Figure: true}, {Label: "Used", Figure: true}}}
	for _, l := range s.Lots {
		n := func(x int64) cell { return text(strconv.FormatInt(x, 10)) }
		t.Rows = append(t.Rows, row{Cells: []cell{{l.Name, l.Lot}, n(l.Issued), n(l.Returned), n(l.Spoiled), n(l.Used())}, Note: "lot " + string(l.Lot)})
	}
	return t
}

// daysTable is what each day of a run of several came to.
func (e *Engine) daysTable(r *book.Bottling) *table {
	t := &table{Title: "Days", Empty: "It was done in one day.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "Bottles that day", Figure: true}, {Label: "Tank, " + e.alcoholLabel(), Figure: true}}}
	var before int64
	for _, d := range r.Days {
		tank := "not measured"
		if d.Tank.Entry != "" {
			tank = e.alcoholText(d.Tank.Alcohol)
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{d.On.Day(), d.Entry}, text(strconv.FormatInt(d.Good-before, 10)), text(tank)}})
		before = d.Good
	}
	if n := r.Good() - before; len(r.Days) > 0 && n > 0 {
		t.Rows = append(t.Rows, row{Cells: []cell{text("after that"), text(strconv.FormatInt(n, 10)), text("")}})
	}
	return t
}

// carbonationsTable lists the gas checks of a run or a tank; of all, for none.
func (e *Engine) carbonationsTable(about book.Address) *table {
	t := &table{Title: "Gas and strength checks", Empty: "No gas was checked yet.", Rows: []row{}, Columns: []column{{Label: "When"}, {Label: "Volumes", Figure: true}, {Label: "Strength", Figure: true}}}
	for _, c := range e.book.State().Carbonations() {
		if about != "" && c.Bottling != about && c.Tank != about {
			continue
		}
		note := joinedWords(c.Pressure.String()+" at "+c.Temp.String(), c.Note)
		switch {
		case !c.Within:
			note += "; above the rating at " + c.Hottest.String()
		case !c.Hottest.IsNone():
			note += "; within the rating at " + c.Hottest.String()
		}
		where := e.name(book.AVessel, c.Tank)
		if c.Bottling != "" {
			where = e.name(book.ABottling, c.Bottling)
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{spaced(c.On.String()), c.Entry}, text(quantity.Fixed(c.Volumes, 2)), text(c.Strength.String())}, Note: where + ": " + note})
	}
	slices.Reverse(t.Rows)
	return t
}

// cameOut is how a run came out and what was accepted as the reason.
func (e *Engine) cameOut(s *party.Sheet, first string, closing *book.BottlingClosed) *facts {
	f := &facts{Title: "How it came out", Lines: []pair{{"Good bottles", casesText(s.Good(), s.PerCase)}, {"Likeliest reason for the gaps", capital(first)}}}
	if closing == nil {
		return f
	}
	cause := closing.Cause
	if cause == "" {
		cause = book.InTheLine
	}
	missing := s.Run.Missing
	f.Lines = append(f.Lines, pair{"Booked as " + bookedAs(missing), e.alcoholText(max(missing, -missing)) + " " + e.alcoholLabel() + ", " + string(cause)})
	f.Lines = append(f.Lines, given(pair{"Accepted because", closing.Note})...)
	return f
}

type labelsView struct {
	Runs   []choice    `json:"runs"`
	Run    string      `json:"run"`
	Says   string      `json:"says"`
	Serial string      `json:"serial"` // the first case's, as it would be
	Cases  string      `json:"cases"`
	Link   string      `json:"link"` // what the square says, after the page's own address
	Lines  []string    `json:"lines"`
	Labels []caseLabel `json:"labels"`
}

type caseLabel struct {
	Serial string `json:"serial"`
	Says   string `json:"says"` // how many bottles, for a remnant case
}

// Cases are numbered in one series from 1 to a million and then anew; the
// remnant case has the last full one's number and R (27 CFR 19.490(b) and (c),
// read in a copy of September 2024).
const lastSerial = 1_000_000

// mostLabels is how many are made at once: more is a mistyped number.
const mostLabels = 2_000

// caseLabels are the marks of a run's cases: what 27 CFR part 19 wants on one
// side of them. The series goes on over the runs of the book, unless a person
// gives another first number.
func (e *Engine) caseLabels(wanted book.Address, serial, cases string) (any, error) {
	out := labelsView{Runs: e.runChoices(), Lines: []string{}, Labels: []caseLabel{}}
	r := e.chosenRun(wanted, out.Runs)
	if r == nil {
		return out, nil
	}
	out.Run = string(r.Address)
	var before, full, loose int64
	for a, b := range e.book.State().Bottlings {
		if a == r.Address {
			break
		}
		n, _ := inCases(b)
		before += n
	}
	full, loose = inCases(r)
	if full == 0 && loose == 0 && r.PerCase > 0 { // nothing was counted yet: as many as are expected
		expected, _ := e.book.State().Expected(r)
		full = int64(expected) / r.PerCase
	}
	begins := before%lastSerial + 1
	if r.FirstCase > 0 { // given when the run was opened
		begins = r.FirstCase
	}
	first, err := positive("serial", serial, begins, lastSerial)
	if err != nil {
		return nil, err
	}
	count, err := positive("cases", cases, max(full, 1), mostLabels)
	if err != nil {
		return nil, err
	}
	if count > mostLabels {
		return nil, fault.Fault{Code: fault.TooHigh, Field: "cases", Value: strconv.FormatInt(count, 10), Limit: fmt.Sprintf("is more than the %d labels made at once", mostLabels), Remedy: "make them in two goes, with the first number of each"}
	}
	house := e.book.State().House()
	out.Serial, out.Cases, out.Link = strconv.FormatInt(first, 10), strconv.FormatInt(count, 10), "#lot="+string(r.Address)
	out.Says = "Number, kind, size, strength and plant belong on one side of each case, readable and lasting (27 CFR 19.483 to 19.495; 19.493 to 19.495 were not read by us: check them, and your local code)."
	contents := joinedWords(r.Bottle.String(), r.Label.String())
	if r.PerCase > 0 {
		contents = fmt.Sprintf("%d × %s", r.PerCase, contents)
	}
	for _, line := range []string{capital(r.Name), joinedWords(string(r.Class)), contents, joinedWords(house.Name, house.Plant), "Lot " + joinedWords(r.LotCode, string(r.Address)), "Filled " + r.Opened.Day()} {
		if line != "" {
			out.Lines = append(out.Lines, line)
		}
	}
	number := func(i int64) string { return strconv.FormatInt((first+i-1)%lastSerial+1, 10) }
	for i := range count {
		out.Labels = append(out.Labels, caseLabel{Serial: number(i)})
	}
	if loose > 0 && count == full {
		out.Labels = append(out.Labels, caseLabel{Serial: number(max(count-1, 0)) + "R", Says: fmt.Sprintf("remnant case: %d bottles", loose)})
	}
	return out, nil
}

// inCases is how many full cases a run packed, of any size, and how many loose
// bottles are left for a remnant case.
func inCases(r *book.Bottling) (full, loose int64) {
	for _, c := range r.Counts {
		if c.Station == "" || c.Station == "case" {
			full += c.Cases
			loose += c.Loose
		}
	}
	if per := r.PerCase; per > 0 {
		full, loose = full+loose/per, loose%per
	}
	return full, loose
}
