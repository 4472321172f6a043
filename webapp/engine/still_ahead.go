package engine

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// A charged is what went into a still, as far as the book can say.
type charged struct {
	charge  still.Charge
	entries []still.Entry
	volume  float64 // L at 20 °C
	known   bool    // whether every vessel's alcohol is
	remarks []string
}

// chargeOf adds up a run's charge. Spirit is as it was gauged; a mash is as
// strong as was measured, else as its ferment says.
func (e *Engine) chargeOf(run *book.Run) charged {
	if known, ok := e.charges[run.Address]; ok {
		return known
	}
	out := e.addCharges(run)
	if e.charges != nil {
		e.charges[run.Address] = out
	}
	return out
}

func (e *Engine) addCharges(run *book.Run) charged {
	out := charged{known: len(run.Charges) > 0}
	out.charge.Mass.Unit, out.charge.PureAlcohol.Unit = quantity.Kilogram, quantity.Litre
	out.charge.PureAlcohol.HasU = true
	if !out.known {
		out.remarks = append(out.remarks, "The run was started without its charge. Correct the entry that started it.")
	}
	for i := range run.Charges {
		c := &run.Charges[i]
		name := e.name(book.AVessel, c.Vessel)
		one, from, err := e.chargedFrom(c, run.Started)
		if c.Material.Accounted() {
			from = string(c.Material)
		}
		if err != nil {
			out.known = false
			out.remarks = append(out.remarks, "How strong the charge from "+name+" was is not known: "+firstSentence(err))
			continue
		}
		litres := c.Volume.Litres()
		if c.Material.Accounted() {
			litres = c.Mass.Kilograms() / float64(contentStrength(c).DensityAt(spirit.At20C)) * 1000
		}
		out.volume += litres
		out.charge.Mass.Value += one.Mass.Value
		sum := &out.charge.PureAlcohol
		sum.Value, sum.U = sum.Value+one.PureAlcohol.Value, math.Hypot(sum.U, one.PureAlcohol.U)
		out.entries = append(out.entries, still.Entry{Name: name + " (" + from + ")", Alcohol: one.PureAlcohol})
	}
	return out
}

func contentStrength(c *book.Charged) spirit.Strength {
	content := book.Content{Material: c.Material, Mass: c.Mass, Alcohol: c.Alcohol, Solids: c.Solids}
	return content.Strength()
}

// mashMeasured is the half-width of a mash's strength that was measured, where
// no instrument says (common practice, no source), % vol.
const mashMeasured = "0.2"

// chargedFrom is what one vessel gave, and where its strength is from.
func (e *Engine) chargedFrom(c *book.Charged, at book.Moment) (still.Charge, string, error) {
	if c.Material.Accounted() {
		return still.Charge{
			Mass:        quantity.Figure{Value: c.Mass.Kilograms(), Unit: quantity.Kilogram},
			PureAlcohol: quantity.Figure{Value: c.Alcohol.LitresPureAlcohol(), Unit: quantity.Litre, U: book.Alcohol(c.Doubt).LitresPureAlcohol(), HasU: c.Doubt > 0},
		}, "", nil
	}
	volume := quantity.FromDecimal(quantity.Snap(c.Volume.Litres()).Round(3), quantity.Litre)
	volume = volume.WithHalfWidth(quantity.FromDecimal(quantity.Snap(0.01*c.Volume.Litres()).Round(3), quantity.Litre)) // a dip stick in a fermenter (common practice, no source)
	if !c.Strength.IsNone() {
		strength := c.Strength
		if !strength.HasHalfWidth() {
			strength = strength.WithHalfWidth(quantity.MustParse(mashMeasured, strength.Unit()))
		}
		one, err := still.ChargeOf(volume, strength)
		return one, "measured", err
	}
	abv, err := e.fermented(c, at)
	if err != nil {
		return still.Charge{}, "", err
	}
	half := quantity.FromDecimal(quantity.Snap(math.Sqrt(3)*abv.U).Round(3), quantity.ABV20)
	one, err := still.ChargeOf(volume, abv.Reading(3).WithHalfWidth(half))
	return one, "by its ferment", err
}

// fermented is how strong a mash became by its ferment: as the laboratory told
// at its end, else by its extracts; over the lots of the mash by their shares.
func (e *Engine) fermented(c *book.Charged, at book.Moment) (quantity.Figure, error) {
	out := quantity.Figure{Unit: quantity.ABV20, HasU: true}
	whole := 0.0
	for _, p := range c.Parts {
		m := e.book.State().Ferment(p.Lot)
		if m == nil {
			continue
		}
		abv, u, err := e.strengthOfMash(m, at)
		if err != nil {
			return out, err
		}
		whole += float64(p.Amount)
		out.Value += abv * float64(p.Amount)
		out.U = math.Hypot(out.U, u*float64(p.Amount))
	}
	if whole == 0 {
		return out, noStrength("its mash is not in the book")
	}
	out.Value, out.U = out.Value/whole, out.U/whole
	return out, nil
}

// pulp is the doubt, as a part of it, of the alcohol of a fruit mash that was
// worked out from its juice: skins, flesh and stones take room and hold little
// of it, and the official yields of fruit lie a fifth to a third below what the
// juice alone would give (the German and Austrian rates in calc/must against
// the sugar of the same fruits). Without a distilled sample it is a wide guess.
const pulp = 0.25

func (e *Engine) strengthOfMash(m *book.Ferment, at book.Moment) (abv, u float64, err error) {
	if entry := e.book.Entry(m.FinishedBy); entry != nil {
		body, _, _, _ := e.book.Effective(entry)
		if b, ok := body.(*book.FermentFinished); ok && !b.Strength.IsNone() {
			s, err := spirit.StrengthOf(b.Strength)
			return s.ABV20(), 0.1, err
		}
	}
	f, _ := e.ferment(m)
	f.Now = max(at.Since(m.From()), 0)
	if n := len(f.Checks); n > 0 {
		f.Now = max(f.Now, f.Checks[n-1].At)
	}
	if f.Original.IsNone() || len(f.Checks) == 0 {
		return 0, 0, noStrength("its extract was not read at the start and at the end")
	}
	a, err := f.Assess()
	if err != nil {
		return 0, 0, err
	}
	abv, u = max(a.Attenuated.ABV20.Value, 0), (a.Attenuated.High.Value-a.Attenuated.Low.Value)/4
	if m.Type == "fruit mash" {
		u = math.Hypot(u, pulp*abv)
	}
	return abv, u, nil
}

// noStrength is the fault of a mash of which nobody can say how strong it is.
func noStrength(why string) error {
	return fault.Fault{Code: fault.Missing, Field: "strength", Limit: why, Remedy: "give the strength of the mash in the charge (correct the entry that started the run)"}
}

// A foreseen is where a run goes, as far as its readings say.
type foreseen struct {
	end     quantity.Reading
	wrong   string // what is wrong with the end that was typed
	know    *still.Knowledge
	outlook *still.Outlook
	why     string // why nothing can be foreseen
	hearts  bool   // whether hearts are collected now
	last    book.Moment
	engine  *Engine
}

// foresee learns the still from the run so far and looks ahead to where hearts
// are to end: as typed, else as the run says, else as earlier runs of the
// product were cut.
func (e *Engine) foresee(w *worked, typed string) *foreseen {
	f := &foreseen{engine: e}
	f.end, _ = e.heartsEnd(w.Run)
	if typed != "" {
		scale := quantity.Proof
		if e.metric() {
			scale = quantity.ABV20
		}
		r, err := quantity.Parse(typed, scale)
		if err == nil {
			_, err = spirit.StrengthOf(r)
		}
		if err != nil {
			f.wrong = firstSentence(err)
		} else {
			f.end = r
		}
	}
	if len(w.draws) > 0 {
		f.last = w.draws[len(w.draws)-1].On
	}
	fraction, _ := w.Collecting()
	f.hearts = fraction == book.Hearts
	switch c := w.charge; {
	case w.err != nil:
		f.why = "Nothing can be foreseen yet: the log does not say how much was collected. Give the volume in the receiver with each reading."
	case !c.known:
		f.why = c.remarks[0]
	default:
		e.learn(f, w, c.charge)
	}
	return f
}

// learn asks the formulas once for the same readings.
func (e *Engine) learn(f *foreseen, w *worked, charge still.Charge) {
	l := still.Lesson{Charge: charge, Pressure: still.StandardAtmosphere, Model: still.NRTL, Guess: guessOf(w.Run)}
	if !w.Pressure.IsNone() {
		l.Pressure = still.Pressure(w.Pressure.In(quantity.Hectopascal))
	}
	l.Lines = oneWay(w)
	h := fnv.New64a()
	fmt.Fprint(h, w.Address, l.Charge.Mass, l.Charge.PureAlcohol, l.Pressure, l.Guess, l.Lines, f.end)
	key := h.Sum64()
	known, ok := e.outlooks[key]
	if !ok {
		known = lookAhead(l, f.end)
		if e.outlooks == nil || len(e.outlooks) > 16 {
			e.outlooks = map[uint64]ahead{}
		}
		e.outlooks[key] = known
	}
	f.know, f.outlook, f.why = known.know, known.outlook, known.why
}

// An ahead is a run that was looked ahead of already.
type ahead struct {
	know    *still.Knowledge
	outlook *still.Outlook
	why     string
}

func lookAhead(l still.Lesson, end quantity.Reading) (out ahead) {
	k, err := still.Learn(l)
	if err != nil {
		out.why = "Nothing can be foreseen yet. " + said(err)
		return out
	}
	out.know = &k
	if end.IsNone() {
		out.why = "Give the strength at which hearts are to end: then this says how much is still to come."
		return out
	}
	s, err := spirit.StrengthOf(end)
	if err != nil {
		out.why = said(err)
		return out
	}
	o, err := k.Ahead(s)
	if err != nil {
		out.why = said(err)
		return out
	}
	out.outlook = &o
	return out
}

// said is a fault of a run with the words of its field, which no form has.
func said(err error) string {
	one := spoken(err)[0]
	switch one.Field {
	case "run":
		return "The run " + lowered(one.Sentence)
	case "end":
		return one.Sentence
	}
	return capital(one.Field) + ": " + one.Sentence
}

func lowered(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]|0x20) + s[1:]
}

// mostRead is how many readings a fit needs at the most; of more every other
// one is left out, or two of three, and so on.
const mostRead = 48

// oneWay are the lines since plates were last changed.
func oneWay(w *worked) []still.Gathered {
	from, plates := 0, int64(0)
	for i, d := range w.draws {
		if d.Read == nil || d.Read.Plates == 0 {
			continue
		}
		if plates != 0 && d.Read.Plates != plates {
			from = i
		}
		plates = d.Read.Plates
	}
	var out []still.Gathered
	for i, g := range w.collected.Lines {
		if w.of[i] >= from {
			out = append(out, g)
		}
	}
	every := (len(out) + mostRead - 1) / mostRead
	if every < 2 {
		return out
	}
	var thin []still.Gathered
	for i, g := range out {
		if (len(out)-1-i)%every == 0 || i >= len(out)-5 { // the last ones tell the flow
			thin = append(thin, g)
		}
	}
	return thin
}

// guessOf is what is held of a still before its run says anything.
func guessOf(run *book.Run) still.Guess {
	trays := run.Plates
	for _, l := range run.Lines {
		if l.Read != nil && l.Read.Plates > 0 {
			trays = l.Read.Plates
		}
	}
	if run.Way != "column" && run.Way != "pot and column" && trays == 0 {
		return still.GuessPot()
	}
	g := still.GuessColumn(int(min(max(trays, 0), 30)))
	if trays == 0 {
		g.Plates = quantity.Estimate{Value: 2, U: 1.5} // a column of which nothing was said (common practice, no source)
	}
	if back := run.Reflux; !back.IsNone() {
		part := back.Float() / 100
		g.Reflux = quantity.Estimate{Value: max(part/(1-part), 0.01), U: 0.3}
	}
	return g
}

// heartsEnd is where hearts are to end by the run, else by the middle one of the
// product's last cuts.
func (e *Engine) heartsEnd(run *book.Run) (quantity.Reading, string) {
	if !run.HeartsEnd.IsNone() {
		return run.HeartsEnd, "as the run was started"
	}
	var cuts []float64
	for _, r := range e.book.State().Runs {
		if r.Address == run.Address || !alike(r, run) || !r.Started.Before(run.Started) {
			continue
		}
		if s, ok := e.cutFrom(r, book.Hearts); ok {
			cuts = append(cuts, s.In(e.scale()))
		}
	}
	if len(cuts) == 0 {
		return quantity.Reading{}, ""
	}
	cuts = cuts[max(0, len(cuts)-5):]
	n := len(cuts)
	slices.Sort(cuts)
	return quantity.FromDecimal(quantity.Snap(cuts[n/2]).Round(0), e.scale()), "where the last " + strconv.Itoa(n) + " of the product were cut, the middle one"
}

func (e *Engine) scale() quantity.Unit {
	if e.metric() {
		return quantity.ABV20
	}
	return quantity.Proof
}

// cutFrom is the strength of the last reading before the last cut away from a
// fraction.
func (e *Engine) cutFrom(run *book.Run, fraction book.Fraction) (s spirit.Strength, ok bool) {
	var last *book.Line
	for i := range run.Lines {
		l := &run.Lines[i]
		if l.Cut && l.Fraction != fraction && last != nil && last.Fraction == fraction {
			g := last.Read.Gauge()
			if c, read, err := g.TrueStrength(e.book.State()); err == nil && read {
				s, ok = c.Strength, true
			}
		}
		if l.Read != nil {
			last = l
		}
	}
	return s, ok
}

// block shows what is foreseen, or why nothing is.
func (f *foreseen) block() block {
	e := f.engine
	if f.outlook == nil {
		r := &result{Label: "Hearts still to come", Figure: "–", Unit: "", Beside: []pair{}, Says: []string{f.why}, Steps: quantity.Working{}}
		if f.know != nil {
			r.Steps = f.know.Working()
		}
		return block{Result: r}
	}
	o := f.outlook
	per, name := e.alcoholUnit()
	inUnit := func(q quantity.Figure) string {
		return quantity.Fixed(q.Value/per, 1) + " ±" + quantity.Fixed(q.Expanded()/per, 1)
	}
	r := &result{Label: "Hearts still to come, until " + f.end.String(), Figure: quantity.Fixed(o.ToCome.Value/per, 1), Unit: name, Steps: o.Working(), Beside: []pair{
		{"within", "±" + quantity.Fixed(o.ToCome.Expanded()/per, 1)},
		{"as spirit", e.volumeIn(o.Volume)},
	}}
	if o.Minutes.Unit == quantity.Minute {
		r.Beside = append(r.Beside, pair{"in", minutesText(o.Minutes.Value) + " ±" + minutesText(o.Minutes.Expanded())},
			pair{"about", clockAfter(f.last, o.Minutes.Value*float64(time.Minute.Milliseconds()))})
	}
	r.Beside = append(r.Beside, pair{"then in all", inUnit(o.Collected)}, pair{"plates at work", f.know.Plates.Text(1)})
	if !f.hearts {
		r.Label = "Still to come, until hearts end at " + f.end.String()
		r.Says = append(r.Says, "Hearts are not collected now: this counts from here.")
	}
	if f.know.Remark != "" {
		r.Says = append(r.Says, f.know.Remark)
	}
	r.Method = fmt.Sprintf("Worked out ahead from %d readings, if plates, reflux and heat stay as they are. The nose decides; this says when to be at the parrot.", o.Readings)
	return block{Result: r}
}

// instruments holds the last vapour temperature against the strength at the
// parrot, nil where none was read. A gap beyond what both can err asks.
func (e *Engine) instruments(w *worked) *block {
	for i := len(w.draws) - 1; i >= 0; i-- {
		d := &w.draws[i]
		if !d.known {
			continue
		}
		words, asks, steps, implied := e.vapourCheck(w.Run, d.Read, d.reading)
		if words == "" {
			continue
		}
		if asks {
			return &block{Questions: []question{{Kind: "vapour and strength", Text: words, Entries: []book.Address{d.Entry}}}}
		}
		if implied == "" {
			return &block{Facts: &facts{Title: "The instruments", Lines: []pair{{"at " + e.clockText(w.Run, d.On), words}}}}
		}
		return &block{Result: &result{Label: "Strength by the vapour's temperature, " + e.clockText(w.Run, d.On), Figure: implied, Unit: e.strengthUnit(),
			Beside: []pair{{"at the parrot", e.strengthText(d.strength)}}, Says: []string{words}, Steps: steps, Method: e.pressureText(w.Run)}}
	}
	return nil
}

func (e *Engine) pressureText(run *book.Run) string {
	if run.Pressure.IsNone() {
		return "At 1013 hPa, give or take 20: the pressure of the day was not given."
	}
	return "At the run's " + run.Pressure.String() + "."
}

// plated reports whether a run is made with plates.
func plated(run *book.Run) bool {
	return run.Way == "column" || run.Way == "pot and column" || run.Plates > 0
}

// vapourCheck says whether vapour and spirit can both be true. The thermometer
// behind the last plate counts: the column's head, where there is a column; the
// vapour of its pot is weaker than the spirit, as it should be.
func (e *Engine) vapourCheck(run *book.Run, r *book.DrawRead, strength quantity.Reading) (words string, asks bool, steps quantity.Working, implied string) {
	temp := r.Column
	if temp.IsNone() && !plated(run) {
		temp = r.Vapour
	}
	if temp.IsNone() || strength.IsNone() {
		return "", false, nil, ""
	}
	c, err := still.CompareVapour(temp, run.Pressure, strength)
	if err != nil {
		return "The vapour's " + temp.String() + " " + lowered(firstSentence(err)), false, nil, ""
	}
	s, err := spirit.StrengthOf(c.Implied.Reading(6))
	if err != nil {
		return "", false, nil, ""
	}
	implied = e.strengthFigure(s)
	if c.Agrees {
		return c.Verdict, false, c.Working(), implied
	}
	return temp.String() + " stands for " + e.strengthText(s) + ". " + c.Verdict, true, c.Working(), implied
}

// drawing shows a reading at the parrot corrected, with the flow since the last
// volume and what the vapour's temperature says of it.
func (e *Engine) drawing(b *book.DrawRead) *result {
	g := b.Gauge()
	out := e.trueStrength(&g)
	run := e.book.State().Run(b.Run)
	if out == nil || run == nil {
		return out
	}
	if volumeRead(b.Volume) {
		if flow := e.flowNow(run, b); !math.IsNaN(flow) {
			out.Beside = append(out.Beside, pair{"flow", e.flowText(flow)})
		}
	}
	if c, ok, err := g.TrueStrength(e.book.State()); ok && err == nil {
		if _, asks, _, implied := e.vapourCheck(run, b, c.True.Reading(2)); asks {
			out.Says = append(out.Says, "By the vapour's temperature it is "+implied+". One of the two is wrong: read again.")
		}
	}
	return out
}

// flowNow is L/min since the last volume of the receiver, up to this moment.
func (e *Engine) flowNow(run *book.Run, b *book.DrawRead) float64 {
	for _, l := range slices.Backward(run.Lines) {
		switch {
		case l.Cut || l.Stopped != nil || l.Resumed != nil:
			return math.NaN()
		case l.Read != nil && volumeRead(l.Read.Volume):
			return flowBetween(l.Read.Volume, b.Volume, e.now().Since(l.On))
		}
	}
	return math.NaN()
}
