package engine

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

type fillView struct {
	Runs   []runChoice `json:"runs"`
	Run    *runChoice  `json:"run"`
	Checks int         `json:"checks"`
	Told   string      `json:"told"` // what the last check tells the filler to do
	Why    []string    `json:"why"`
	Now    *result     `json:"now"` // the weight to fill
	Blocks []block     `json:"blocks"`
}

// Between two checks (common practice, no source).
const (
	checkEvery      = 30 * time.Minute
	checkEveryCases = 10
)

// fillPage is the fill record of an open run: what the filler is told, the
// weight to fill, the control chart, and what law and handbook make of it all.
func (e *Engine) fillPage(wanted book.Address) fillView {
	out := fillView{Runs: []runChoice{}, Why: []string{}, Blocks: []block{}}
	run := e.openRun(wanted, &out.Runs)
	if run == nil {
		return out
	}
	out.Run, out.Checks = &runChoice{run.Address, bottlingTitle(run)}, len(run.Fills)
	chart, err := fill.ChartOf(run.Bottle, fill.Rules{})
	if err != nil {
		out.Told, out.Why = "The run does not say how large its bottle is", []string{"Amend the entry that opened it: without the size there is no limit."}
		return out
	}
	weighed := checksOf(run, "")
	watched := chart.Watch(millisOf(weighed))
	switch {
	case len(watched) == 0:
		out.Told, out.Why = "No bottle was weighed yet", []string{"Weigh the first five of each filling head, then a few every half hour or every ten cases (common practice, no source)."}
	default:
		last := watched[len(watched)-1]
		out.Told = capital(string(last.Action))
		if last.Why != "" {
			out.Why = append(out.Why, capital(last.Why)+".")
		}
		out.Why = append(out.Why, e.headsTold(run, chart)...)
		if due := e.checkDue(run); due != "" {
			out.Why = append(out.Why, due)
		}
	}
	out.Now = e.toFill(run, chart)
	if len(watched) > 0 {
		out.Blocks = append(out.Blocks, block{Chart: fillChart(chart, weighed, watched)}, block{Table: e.fillsTable(weighed, watched, chart)}, block{Facts: e.judged(run, weighed)})
	}
	out.Blocks = append(out.Blocks, block{Facts: e.strengthChecks(run)})
	return out
}

// checksOf are the checks that weighed bottles, of one filling head or of all.
func checksOf(run *book.Bottling, head string) (out []book.FillFound) {
	for _, f := range run.Fills {
		if head != "" {
			all := f.Millis
			f.Millis = nil
			for i, ml := range all {
				if len(all) == len(f.Bottles) && f.Bottles[i].Head == head {
					f.Millis = append(f.Millis, ml)
				}
			}
		}
		if len(f.Millis) > 0 {
			out = append(out, f)
		}
	}
	return out
}

func millisOf(checks []book.FillFound) (out [][]float64) {
	for _, f := range checks {
		out = append(out, f.Millis)
	}
	return out
}

// headsTold says which filling heads are to be set again, where heads are named.
func (e *Engine) headsTold(run *book.Bottling, chart fill.Chart) (says []string) {
	var heads []string
	for _, f := range run.Fills {
		for _, b := range f.Bottles {
			if b.Head != "" && !slices.Contains(heads, b.Head) {
				heads = append(heads, b.Head)
			}
		}
	}
	for _, head := range heads {
		watched := chart.Watch(millisOf(checksOf(run, head)))
		if len(watched) == 0 {
			continue
		}
		if last := watched[len(watched)-1]; last.Action != fill.GoOn {
			says = append(says, "Head "+head+": "+string(last.Action)+", "+last.Why+".")
		}
	}
	return says
}

// checkDue says that the next check is due.
func (e *Engine) checkDue(run *book.Bottling) string {
	last := run.Fills[len(run.Fills)-1].On
	var since int64
	for _, t := range run.Tally {
		if t.Station == "case" && t.Spoiled == "" && last.Before(t.On) {
			since += t.Bottles
		}
	}
	cases, ago := since/max(run.PerCase, 1), e.now().Since(last)
	if ago < checkEvery && cases < checkEveryCases || since == 0 {
		return ""
	}
	return fmt.Sprintf("A check is due: %d minutes and %s since the last (common practice: every half hour or ten cases).", int(ago.Minutes()), counted(cases, "case", "cases"))
}

// toFill is what the scale shows of a full bottle, tared with an empty one.
func (e *Engine) toFill(run *book.Bottling, chart fill.Chart) *result {
	liquid := fill.Liquid{Strength: run.Tanked.Shown}
	for _, f := range slices.Backward(run.Fills) {
		if !f.Density.IsNone() {
			liquid = fill.Liquid{Density: f.Density}
			break
		}
	}
	grams := func(ml quantity.Figure) string {
		g, err := fill.NetWeight(ml.Reading(3), liquid, e.fillBase())
		if err != nil {
			return ""
		}
		return quantity.Fixed(g.Value, 1)
	}
	out := &result{Label: "Weight to fill, the scale tared with an empty bottle", Figure: grams(chart.Size), Unit: "g",
		Beside: []pair{{"allowed for one bottle", grams(chart.Low) + " to " + grams(chart.High) + " g"}, {"for", run.Bottle.String() + " at " + e.fillBase().String()}}}
	if out.Figure == "" {
		return nil
	}
	if v := e.book.State().Vessel(run.Tank); v != nil && v.Content.Material == book.Sweet && liquid.Density.IsNone() {
		out.Says = append(out.Says, "There is sugar in it, and the strength alone does not say what it weighs: give the density with the next check.")
	}
	return out
}

func (e *Engine) fillBase() fill.Base {
	if e.metric() {
		return fill.At20C
	}
	return fill.At60F
}

// fillChart is the control chart: the mean of each check over the bottles' span,
// between the lines at which the filler sets again and stops.
func fillChart(c fill.Chart, checks []book.FillFound, watched []fill.Watched) *chart {
	low, high := c.Low.Value, c.High.Value
	for _, f := range checks {
		low, high = min(low, slices.Min(f.Millis)), max(high, slices.Max(f.Millis))
	}
	step := stepFor(high-low, 6)
	bottom, top := step*math.Floor(low/step), step*(math.Floor(high/step)+1)
	up := func(ml float64) float64 { return place((ml - bottom) / (top - bottom)) }
	const room = 0.82 // of the width: the rest is for the words of the lines
	across := func(i int) float64 {
		if len(checks) == 1 {
			return room / 2
		}
		return place(room * float64(i) / float64(len(checks)-1))
	}
	out := &chart{Title: "mean of each check; shaded, from its lowest to its highest bottle", Across: "check", Up: "mL", Bands: []band{}}
	mean := line{Label: "mean", Look: lookRead}
	limits := line{Label: "where the checks before leave the mean", Look: lookExpected} // there by its low side, back by its high
	var back [][2]float64
	span := area{Label: "lowest to highest bottle"}
	for i, w := range watched {
		mean.Points = append(mean.Points, [2]float64{across(i), up(w.Mean.Value)})
		span.Low = append(span.Low, [2]float64{across(i), up(slices.Min(checks[i].Millis))})
		span.High = append(span.High, [2]float64{across(i), up(slices.Max(checks[i].Millis))})
		if w.Lower.Unit == quantity.Millilitre {
			limits.Points = append(limits.Points, [2]float64{across(i), up(w.Lower.Value)})
			back = append(back, [2]float64{across(i), up(w.Upper.Value)})
		}
	}
	if len(back) > 1 {
		slices.Reverse(back)
		limits.Points = append(limits.Points, back...)
		out.Lines = append(out.Lines, limits)
	}
	out.Lines = append(out.Lines, mean)
	if len(checks) > 1 {
		out.Areas = []area{span}
	}
	for _, m := range []struct {
		ml    float64
		label string
	}{{c.Low.Value, "stop"}, {c.WarnLow.Value, "set again"}, {c.Size.Value, "as labelled"}, {c.WarnTop.Value, "set again"}, {c.High.Value, "stop"}} {
		out.Marks = append(out.Marks, mark{At: up(m.ml), Up: true, Label: m.label})
	}
	for ml := bottom; ml <= top+step/2; ml += step {
		out.UpTicks = append(out.UpTicks, tick{up(ml), quantity.Fixed(ml, 0)})
	}
	every := max(1, (len(checks)+5)/6)
	for i := 0; i < len(checks); i += every {
		out.AcrossTicks = append(out.AcrossTicks, tick{across(i), checks[i].On.Clock()})
	}
	last := watched[len(watched)-1]
	out.Summary = fmt.Sprintf("%d checks of %s mL; the last mean is %s mL: %s.", len(checks), quantity.Fixed(c.Size.Value, 0), quantity.Fixed(last.Mean.Value, 1), last.Action)
	return out
}

// fillsTable lists the checks, the latest first, with what the filler was told.
func (e *Engine) fillsTable(checks []book.FillFound, watched []fill.Watched, c fill.Chart) *table {
	t := &table{Title: "Checks of this run", Empty: "", Rows: []row{}, Columns: []column{{Label: "At"}, {Label: "Bottles", Figure: true}, {Label: "Mean, mL", Figure: true}, {Label: "Off, %", Figure: true}}}
	for i, f := range slices.Backward(checks) {
		w := watched[i]
		r := row{Cells: []cell{{f.On.Clock(), f.Entry}, text(strconv.Itoa(len(f.Millis))), text(quantity.Fixed(w.Mean.Value, 1)), text(signed(100 * (w.Mean.Value/c.Size.Value - 1)))}}
		if w.Action != fill.GoOn {
			r.Note = capital(string(w.Action)) + ": " + w.Why
		}
		if f.Action != "" {
			r.Note = joinedWords(r.Note, "done: "+f.Action)
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// judged holds all bottles of the run's checks to the law and the handbook, as
// one sample of the lot.
func (e *Engine) judged(run *book.Bottling, checks []book.FillFound) *facts {
	out := &facts{Title: "The run, by law and handbook", Lines: []pair{}}
	lot, _ := e.book.State().Expected(run)
	s := fill.Sample{Size: run.Bottle, Lot: max(int64(lot), run.Good())}
	for _, f := range checks {
		for _, ml := range f.Millis {
			s.Bottles = append(s.Bottles, quantity.Figure{Value: ml, Unit: quantity.Millilitre}.Reading(3))
		}
	}
	if s.Lot < int64(len(s.Bottles)) {
		s.Lot = 0
	}
	j, err := fill.Judge(s)
	if err != nil {
		out.Lines = append(out.Lines, pair{"Judgement", "needs two bottles at the least"})
		return out
	}
	beyond := "none"
	if n := len(j.Beyond); n > 0 {
		beyond = fmt.Sprintf("%d of %d", n, len(s.Bottles))
	}
	balance := "about as many over as under"
	if !j.Balanced {
		balance = "uneven beyond chance: set the filler nearer to the label"
	}
	mean := "holds"
	if !j.MeanHolds {
		mean = "short by more than its doubt"
	}
	wanted := fmt.Sprintf("%d weighed", len(s.Bottles))
	if j.Wanted > 0 {
		wanted += fmt.Sprintf(" of %d that the plan asks for of this lot", j.Wanted)
	}
	out.Lines = append(out.Lines,
		pair{"One bottle may hold (27 CFR 19.356)", quantity.Fixed(j.Low.Value, 1) + " to " + j.High.Text(1)},
		pair{"Outside", beyond},
		pair{"Over and under", fmt.Sprintf("%d and %d: %s", j.Over, j.Under, balance)},
		pair{"Mean of the run", j.Mean.Text(1) + ", " + signed(j.Error.Value) + " %"},
		pair{"It may be short by (Handbook 133)", j.MeanLimit.Text(1) + ": " + mean},
		pair{"Sample (Handbook 133, table 2-1, from memory)", wanted},
		pair{"Maximum allowable variation", j.Variation},
		pair{"Judgement", j.Verdict})
	return out
}

// strengthChecks holds the strengths that were read on the line to the label.
func (e *Engine) strengthChecks(run *book.Bottling) *facts {
	out := &facts{Title: "Strength of the run", Lines: []pair{{"On the label", run.Label.String()}}}
	add := func(at string, found quantity.Reading) {
		words := found.String()
		if strong, err := fill.Strong(run.Label, found, e.fillBase()); err == nil {
			words += ": " + strong.Verdict
		}
		out.Lines = append(out.Lines, pair{at, words})
	}
	if run.Label.IsNone() {
		out.Lines[0].Value = "not known"
	}
	if !run.Tanked.Shown.IsNone() {
		add("Tank, "+run.Opened.Clock(), run.Tanked.Shown)
	}
	read := 0
	for _, f := range run.Fills {
		if !f.Strength.IsNone() {
			read++
			add("Bottle, "+f.On.Clock(), f.Strength)
		}
	}
	if read == 0 {
		out.Lines = append(out.Lines, pair{"Bottles", "not read yet: read one with a check"})
	}
	return out
}

// filled is the preview of a fill check: the contents, and what the filler is
// told if it is saved so.
func (e *Engine) filled(b *book.FillChecked) *result {
	s := e.book.State()
	run := s.Bottling(b.Bottling)
	if run == nil {
		return nil
	}
	whole := *b
	whole.Bottles = slices.DeleteFunc(slices.Clone(b.Bottles), func(x book.BottleFound) bool {
		return x.Volume.IsNone() && (x.Empty.IsNone() || x.Full.IsNone() || x.Full.Base() <= x.Empty.Base())
	})
	millis, read := whole.Contents(s, run)
	chart, err := fill.ChartOf(run.Bottle, fill.Rules{})
	if len(millis) == 0 || err != nil {
		return e.strongFound(run, read)
	}
	watched := chart.Watch(append(millisOf(checksOf(run, "")), millis))
	last := watched[len(watched)-1]
	out := &result{Label: "Mean contents at " + e.fillBase().String(), Figure: quantity.Fixed(last.Mean.Value, 1), Unit: "mL"}
	for i, ml := range millis {
		out.Beside = append(out.Beside, pair{"bottle " + strconv.Itoa(i+1), quantity.Fixed(ml, 1)})
	}
	out.Beside = append(out.Beside, pair{"one may hold", quantity.Fixed(chart.Low.Value, 1) + " to " + quantity.Fixed(chart.High.Value, 1)})
	told := capital(string(last.Action))
	if last.Why != "" {
		told += ": " + last.Why
	}
	out.Says = append(out.Says, told+".")
	if strong := e.strongFound(run, read); strong != nil {
		out.Says = append(out.Says, strong.Says...)
	}
	out.Steps = e.weighing(&whole, run, read)
	return out
}

// strongFound holds a strength to the label, nil where none was read.
func (e *Engine) strongFound(run *book.Bottling, read quantity.Reading) *result {
	strong, err := fill.Strong(run.Label, read, e.fillBase())
	if err != nil {
		return nil
	}
	return &result{Label: "Off the label", Figure: quantity.Fixed(strong.Off.Value, 1), Unit: "% vol", Beside: []pair{{"read", read.String()}, {"label", run.Label.String()}}, Says: []string{"Strength: " + strong.Verdict + "."}}
}

// weighing is the working of the first bottle that was weighed or poured out.
func (e *Engine) weighing(b *book.FillChecked, run *book.Bottling, read quantity.Reading) quantity.Working {
	if read.IsNone() {
		read = run.Tanked.Shown
	}
	first := b.Bottles[0]
	var c fill.Contents
	var err error
	switch {
	case first.Volume.IsNone() && !b.Density.IsNone():
		c, err = fill.Weigh(fill.Weighing{Empty: first.Empty, Full: first.Full, Liquid: fill.Liquid{Density: b.Density}, Base: e.fillBase()})
	case first.Volume.IsNone():
		c, err = fill.Weigh(fill.Weighing{Empty: first.Empty, Full: first.Full, Liquid: fill.Liquid{Strength: read}, Base: e.fillBase()})
	case !first.Temp.IsNone():
		c, err = fill.Pour(fill.Pouring{Volume: first.Volume, Temp: first.Temp, Strength: read, Base: e.fillBase()})
	default:
		return quantity.Working{{Text: "poured out at the base temperature", Value: first.Volume.String()}}
	}
	if err != nil {
		return nil
	}
	return c.Working()
}
