package engine

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
)

type fermentView struct {
	Board    []boardItem `json:"board"`
	Vessel   *hallVessel `json:"vessel"`
	Cautions []string    `json:"cautions"`
}

// A boardItem is one fermenter as somebody who walks by wants it.
type boardItem struct {
	Vessel book.Address `json:"vessel"`
	Name   string       `json:"name"`
	Holds  bool         `json:"holds"` // whether something ferments in it
	Lot    string       `json:"lot,omitempty"`
	Day    string       `json:"day,omitempty"`
	Last   string       `json:"last"`
	Ready  string       `json:"ready,omitempty"`
	Wants  []string     `json:"wants"`
}

// A hallVessel is the fermenter that is looked at.
type hallVessel struct {
	Address book.Address   `json:"address"`
	Title   string         `json:"title"`
	Day     string         `json:"day"`
	Ready   string         `json:"ready"`
	Why     string         `json:"why"` // how the forecast was made, or why there is none
	Before  *table         `json:"before"`
	Last    map[string]any `json:"last"` // of the last check, for one tap
	Advice  []adviceLine   `json:"advice"`
	Blocks  []block        `json:"blocks"`
}

type adviceLine struct {
	Finding string `json:"finding"`
	Look    string `json:"look"`
	Source  string `json:"source"`
}

// fermentHall shows the board and the fermenter that is wanted, else the first
// that wants something, else the first with mash in it.
func (e *Engine) fermentHall(wanted book.Address) fermentView {
	s := e.book.State()
	now := e.now()
	due := map[book.Address]string{}
	for _, d := range s.Overdue(now) {
		if d.Kind == book.NotChecked {
			due[d.About] = d.Says
		}
	}
	out := fermentView{Board: []boardItem{}, Cautions: cautionsIn(book.FermentHall)}
	var chosen book.Address
	var standing fermentLook
	urgent := false
	for a, v := range s.Vessels {
		mashes := s.Fermenting(a)
		if !forMash(v) && len(mashes) == 0 {
			continue
		}
		if len(mashes) == 0 {
			out.Board = append(out.Board, boardItem{Vessel: a, Name: v.Name, Wants: []string{}, Last: "takes " + e.litresText(v.Capacity.Base())})
			continue
		}
		look := e.lookAt(mashes[0], now)
		item := e.boardItem(a, v, mashes, &look, due[a], now)
		out.Board = append(out.Board, item)
		if a == wanted || chosen == "" || chosen != wanted && !urgent && len(item.Wants) > 0 {
			chosen, standing, urgent = a, look, len(item.Wants) > 0
		}
	}
	if chosen != "" {
		out.Vessel = e.hallVessel(chosen, s.Fermenting(chosen)[0], &standing)
	}
	return out
}

func (e *Engine) boardItem(a book.Address, v *book.Vessel, mashes []*book.Ferment, look *fermentLook, overdue string, now book.Moment) boardItem {
	m := mashes[0]
	item := boardItem{Vessel: a, Name: v.Name, Holds: true, Lot: e.lotsIn(mashes), Day: look.day, Ready: look.ready, Last: "not checked yet", Wants: []string{}}
	if c := m.Last(); c != nil {
		item.Last = "checked " + e.whenText(c.On, now) + e.checkText(m, c)
	}
	if !m.Finished.IsNone() {
		item.Ready = "finished " + m.Finished.Day() + ", ready for the still"
	} else if overdue != "" {
		item.Wants = append(item.Wants, "Check it today.")
	}
	if look.over {
		item.Wants = append(item.Wants, "It should be done: if its extract stood still for days, write that it is finished.")
	}
	for _, advice := range look.advice {
		item.Wants = append(item.Wants, advice.Finding)
	}
	item.Wants = item.Wants[:min(len(item.Wants), mostWants)]
	return item
}

// mostWants is how much of what a fermenter wants stands on the board; the rest
// stands at the fermenter.
const mostWants = 3

// mashName is what people call a mash: its name, else what it is made of.
func (e *Engine) mashName(m *book.Ferment) string {
	s := e.book.State()
	if l := s.Lot(m.Address); l != nil && l.Name != "" {
		return l.Name
	}
	var of []string
	for _, p := range m.Parts {
		if r := s.RawLot(p.Lot); r != nil && !slices.Contains(of, capital(r.Variety)) {
			of = append(of, capital(r.Variety))
		}
	}
	if len(of) == 0 {
		return string(m.Address)
	}
	return strings.Join(of, " and ")
}

// lotsIn names what stands in a vessel, the largest share first.
func (e *Engine) lotsIn(mashes []*book.Ferment) string {
	var names []string
	for _, m := range mashes {
		names = append(names, e.mashName(m))
	}
	return strings.Join(names, " and ")
}

// whenText is a time as people say it: today, yesterday, or the date.
func (e *Engine) whenText(m, now book.Moment) string {
	switch day := m.Day(); {
	case day == now.Day():
		return "today " + m.Clock()
	case day == e.outside.Now().AddDate(0, 0, -1).Format(time.DateOnly):
		return "yesterday " + m.Clock()
	default:
		return day
	}
}

func (e *Engine) checkText(m *book.Ferment, c *book.FermentCheck) string {
	var parts []string
	if x, ok := e.corrected20(&c.Sweetness, c.Temp, true); ok {
		parts = append(parts, shown(x.Extract, 1))
	}
	if !c.PH.IsNone() {
		parts = append(parts, "pH "+c.PH.Digits())
	}
	if !c.Temp.IsNone() {
		parts = append(parts, c.Temp.String())
	}
	if len(parts) == 0 {
		return ""
	}
	return ": " + strings.Join(parts, ", ")
}

// ferment is a lot of mash as the formulas take it. Times count from the yeast.
// Where the mash was not read, its first check of the first day and a half
// stands for the original; from says which it was.
func (e *Engine) ferment(m *book.Ferment) (f must.Ferment, from string) {
	f = must.Ferment{Style: styleOf(m.Type), Stone: e.onStones(m)}
	if c, ok := e.original(&m.MashMade); ok {
		f.Original, from = c.Extract.Reading(6), "the reading of the mash"
	}
	if v := e.book.State().Vessel(m.Vessel); v != nil && len(v.Content.Parts) > 0 && v.Content.Volume > 0 {
		f.Volume = quantity.FromDecimal(quantity.Snap(v.Content.Litres20()).Round(3), quantity.Litre)
	} else if v := m.Volume; !v.IsNone() && v.Unit().Dimension() == quantity.Volume {
		f.Volume = v
	}
	for _, c := range m.Checks {
		at := c.On.Since(m.From())
		if f.Original.IsNone() && at < 36*time.Hour {
			if x, ok := e.corrected20(&c.Sweetness, c.Temp, false); ok {
				f.Original, from = x.Extract.Reading(6), "the first check, for want of a reading of the mash"
				continue
			}
		}
		if at < 0 {
			continue
		}
		sample, read := e.read(&c.Sweetness, c.Temp, true)
		check := must.Check{At: at, MashTemp: inRange(c.Temp, -5, 60), PH: inRange(c.PH, 1, 9), Smell: smellOf(c.Smell)}
		if _, err := must.Correct(sample); read && err == nil {
			check.Sample = sample // one that tells nothing is left to its own line
		}
		f.Checks = append(f.Checks, check)
	}
	return f, from
}

// inRange keeps a reading that the formulas take; a record that arrived with
// another is shown as it is and not reckoned with.
func inRange(r quantity.Reading, low, high float64) quantity.Reading {
	if r.IsNone() {
		return r
	}
	if d := r.Unit().Dimension(); d != quantity.Temperature && d != quantity.Acidity || r.Base() < low || r.Base() > high { // °C or pH
		return quantity.Reading{}
	}
	return r
}

// smellOf is a tapped word as the formulas know it.
func smellOf(word string) must.Smell {
	switch word {
	case "":
		return ""
	case "sulphide":
		return must.SmellSulphide
	case "solvent":
		return must.SmellSolvent
	case "vinegar":
		return must.SmellVinegar
	case "butter":
		return must.SmellButter
	}
	return must.SmellFine
}

// onStones reports whether a mash lies on the stones of its fruit: it is of
// stone fruit, and no preparation of the lot took them out.
func (e *Engine) onStones(m *book.Ferment) bool {
	for _, p := range m.Parts {
		r := e.book.State().RawLot(p.Lot)
		if r == nil {
			continue
		}
		known, ok := material(r.Variety)
		if !ok || known.Class != must.Stone {
			continue
		}
		pitted := false
		for _, done := range r.Prepared {
			if entry := e.book.Entry(done.Entry); entry != nil {
				body, _, _, _ := e.book.Effective(entry)
				b, is := body.(*book.MaterialPrepared)
				pitted = pitted || is && (b.Milled == "pitted" || !b.Pits.IsNone())
			}
		}
		if !pitted {
			return true
		}
	}
	return false
}

// A fermentLook is where a ferment stands, in words and figures.
type fermentLook struct {
	must.Ferment
	from       string
	assessed   bool
	assessment must.Assessment
	forecast   *must.Forecast
	day, ready string
	over       bool // past the day of the forecast
	why        string
	advice     []must.Advice
}

func (e *Engine) lookAt(m *book.Ferment, now book.Moment) fermentLook {
	f, from := e.ferment(m)
	look := fermentLook{Ferment: f, from: from}
	look.Now = max(now.Since(m.From()), 0)
	if n := len(f.Checks); n > 0 {
		look.Now = max(look.Now, f.Checks[n-1].At) // a phone whose clock was ahead
	}
	if !m.Finished.IsNone() {
		look.Now = max(m.Finished.Since(m.From()), 0)
	}
	about := f.Style.Days
	if f.Original.IsNone() {
		look.why = "No forecast: the extract at the start was not read. Correct the mash's entry, or read tomorrow's fruit before the yeast goes in."
	} else if a, err := look.Assess(); err != nil {
		look.why = "No figures: " + firstSentence(err)
	} else {
		look.assessed, look.assessment = true, a
		if m.Finished.IsNone() {
			look.advice = e.localised(&f, slices.DeleteFunc(a.Advice, func(a must.Advice) bool { return a.Code == "not-checked" })) // the book asks for it anyway
		}
	}
	if c := m.Last(); c != nil && c.Smell == "mould" && m.Finished.IsNone() {
		look.advice = append(look.advice, must.Advice{Code: "mould", Finding: "It smells of mould.", LookFirst: "Look under the lid: skim off what is mouldy, keep air out and the cap wet; what is mouldy through goes to no still.", Source: "common practice, no source"})
	}
	if look.assessed && m.Finished.IsNone() {
		if forecast, err := e.forecast(m, look.Ferment); err != nil {
			look.why = "No forecast yet: " + firstSentence(err)
		} else {
			look.forecast, about = &forecast, forecast.Ready
			look.ready = "ready " + e.readyText(&forecast, look.Now)
			look.over = forecast.High*24 < look.Now.Hours()
			look.why = fmt.Sprintf("From %d readings. Four in five such ferments end within the range; it is ready once its extract stands still. Curve: %s.", forecast.Readings, forecast.Model)
		}
	}
	look.day = fmt.Sprintf("day %d of about %s", m.Days(now), quantity.Fixed(about, 0))
	if !m.Finished.IsNone() {
		look.day = fmt.Sprintf("took %d days", m.Days(m.Finished))
		look.assessment.CO2.Value, look.why = 0, ""
	}
	return look
}

// localised puts what is said of the temperature in the book's own degrees.
func (e *Engine) localised(f *must.Ferment, all []must.Advice) []must.Advice {
	for i := range all {
		limit, word := f.Style.Cold, "below"
		switch all[i].Code {
		case "too-cold":
		case "too-warm":
			limit, word = f.Style.Warm, "above"
		default:
			continue
		}
		for _, c := range slices.Backward(f.Checks) {
			if !c.MashTemp.IsNone() {
				all[i].Finding = "The mash is at " + c.MashTemp.String() + ", " + word + " " + e.tempText(limit) + "."
				break
			}
		}
	}
	return all
}

// forecast asks the formulas once for the same readings: a board of ten
// fermenters is drawn anew at every entry.
func (e *Engine) forecast(m *book.Ferment, f must.Ferment) (must.Forecast, error) {
	h := fnv.New64a()
	fmt.Fprint(h, m.Address, f.Style.Name, f.Original, f.Checks)
	key := h.Sum64()
	if known, ok := e.forecasts[key]; ok {
		return known.forecast, known.err
	}
	seed := fnv.New64a()
	seed.Write([]byte(m.Address))
	out, err := f.Forecast(rand.NewPCG(seed.Sum64(), uint64(len(f.Checks))))
	if e.forecasts == nil || len(e.forecasts) > 64 {
		e.forecasts = map[uint64]foretold{}
	}
	e.forecasts[key] = foretold{out, err}
	return out, err
}

// A foretold is a forecast that was worked out already.
type foretold struct {
	forecast must.Forecast
	err      error
}

// readyText is the day of a forecast as people say it: about Thursday, ±1 day.
func (e *Engine) readyText(f *must.Forecast, now time.Duration) string {
	at := e.outside.Now().Add(f.ReadyIn(now))
	half := strings.TrimSuffix(quantity.Fixed(f.HalfWidth(), 1), ".0")
	unit := " days"
	if half == "1" {
		unit = " day"
	}
	words := "about " + at.Weekday().String()
	switch left := f.ReadyIn(now); {
	case left < -12*time.Hour:
		words = "since about " + at.Weekday().String() + " " + at.Format("2 January")
	case left < 12*time.Hour:
		words = "about today"
	case left > 6*24*time.Hour:
		words += " " + at.Format("2 January")
	}
	return words + ", ±" + half + unit
}

func (e *Engine) hallVessel(a book.Address, m *book.Ferment, look *fermentLook) *hallVessel {
	out := &hallVessel{Address: a, Title: e.name(book.AVessel, a) + ": " + e.mashName(m), Day: look.day, Ready: capital(look.ready), Why: look.why,
		Before: e.checksTable(m, checksAbove), Advice: []adviceLine{}, Blocks: []block{}}
	if !m.Finished.IsNone() {
		out.Ready = "Finished " + m.Finished.Day() + ", ready for the still"
	}
	if c := m.Last(); c != nil {
		out.Last = values(&book.FermentChecked{Sweetness: book.Sweetness{SampleTemp: c.SampleTemp, Instrument: c.Instrument}, PH: c.PH, Temp: c.Temp, Smell: c.Smell, Activity: c.Activity})
	}
	for _, advice := range look.advice {
		out.Advice = append(out.Advice, adviceLine{advice.Finding, advice.LookFirst, advice.Source})
	}
	if look.assessed {
		out.Blocks = append(out.Blocks, block{Result: e.standing(look)})
	}
	for _, c := range []*chart{e.extractChart(m, look), e.phChart(m), e.tempChart(m, look)} {
		if c != nil {
			out.Blocks = append(out.Blocks, block{Chart: c})
		}
	}
	if len(m.Checks) > checksAbove {
		out.Blocks = append(out.Blocks, block{Table: e.checksTable(m, len(m.Checks))})
	}
	return out
}

// checksAbove is how many checks stand above the form.
const checksAbove = 3

// checksTable lists the latest checks, the newest first.
func (e *Engine) checksTable(m *book.Ferment, most int) *table {
	t := &table{Title: "The last three checks", Empty: "Not checked yet.", Rows: []row{},
		Columns: []column{{Label: "Check"}, {Label: "Bx at 20 °C", Figure: true}, {Label: "pH", Figure: true}, {Label: "Mash", Figure: true}}}
	if most > checksAbove {
		t.Title = "Every check"
	}
	for _, c := range slices.Backward(m.Checks[max(0, len(m.Checks)-most):]) {
		at := cell{c.On.Day()[5:] + " " + c.On.Clock(), c.Entry}
		brix := ""
		var notes []string
		if x, ok := e.corrected20(&c.Sweetness, c.Temp, true); ok {
			brix = quantity.Fixed(x.Extract.Value, 1)
		} else if c.Read() {
			brix = "?"
			notes = append(notes, "read by refractometer: a trend only once there is alcohol")
		}
		for _, word := range []string{c.Smell, gasText(c.Activity), c.Note} {
			if word != "" {
				notes = append(notes, word)
			}
		}
		t.Rows = append(t.Rows, row{Cells: []cell{at, text(brix), text(c.PH.Digits()), text(c.Temp.String())}, Note: strings.Join(notes, "; ")})
	}
	return t
}

func gasText(activity string) string {
	if activity == "" {
		return ""
	}
	return "gas: " + activity
}

// standing shows the alcohol so far, with what goes with it.
func (e *Engine) standing(look *fermentLook) *result {
	a := &look.assessment
	at := &a.Attenuated
	out := &result{Label: "Alcohol so far, at 20 °C", Figure: quantity.Fixed(max(0, at.ABV20.Value), 1), Unit: "% vol", Steps: at.Working(),
		Beside: []pair{
			{"range", quantity.Fixed(max(0, at.Low.Value), 1) + " to " + quantity.Fixed(max(0, at.High.Value), 1)},
			{"extract now", shown(at.ApparentExtract, 1)},
			{"at the start", shown(at.OriginalExtract, 1)},
			{"real extract", shown(at.RealExtract, 1)},
			{"attenuation", shown(at.Apparent, 0)},
		}}
	if look.from != "" {
		out.Steps = append(quantity.Working{{Text: "the extract at the start is " + look.from, Value: at.OriginalExtract.Text(1)}}, out.Steps...)
	}
	if a.Alcohol.Value > 0 {
		out.Beside = append(out.Beside, pair{"pure alcohol in it", e.pureWithUnit(a.Alcohol.Value)})
	}
	if a.CO2.Value > 0 {
		out.Beside = append(out.Beside, pair{"falls a day", shown(a.Fall, 1)},
			pair{"CO₂ a day", e.massText(a.CO2.Value) + ", " + quantity.Fixed(a.CO2Gas.Value/1000, 1) + " m³"},
			pair{"heat", quantity.Fixed(a.HeatW, 0) + " W; uncooled it warms " + e.riseText(a.RiseK) + " a day"})
		out.Says = append(out.Says, "Its CO₂ alone wants "+quantity.Fixed(a.Air, 0)+" m³ of outside air an hour to keep the room under 5,000 ppm; pits and tanks never mix well.")
	}
	if f := look.forecast; f != nil {
		out.Beside = append(out.Beside, pair{"will end at", quantity.Fixed(f.FinishLow, 1) + " to " + quantity.Fixed(f.FinishHigh, 1) + " Bx"})
	}
	return out
}

// shown is a figure without its doubt, for a line of a room; the working has it.
func shown(f quantity.Figure, places int32) string {
	return strings.TrimSpace(quantity.Fixed(f.Value, places) + " " + f.Unit.Label())
}

func (e *Engine) pureWithUnit(litres float64) string {
	if e.metric() {
		return e.pureText(litres) + " L"
	}
	return e.pureText(litres) + " PG"
}

func (e *Engine) riseText(kelvin float64) string {
	if e.metric() {
		return quantity.Fixed(kelvin, 1) + " K"
	}
	return quantity.Fixed(kelvin*9/5, 1) + " °F"
}

// checked shows a check's reading corrected, and what it makes of the ferment.
func (e *Engine) checked(b *book.FermentChecked) *result {
	sample, read := e.read(&b.Sweetness, b.Temp, true)
	if !read {
		return nil
	}
	if sample.Instrument == must.Refractometer {
		return &result{Label: "Refractometer, with alcohol in the mash", Figure: sample.Reading.Digits(), Unit: sample.Reading.Unit().Label(), Beside: []pair{}, Steps: quantity.Working{},
			Says: []string{"A trend only: alcohol raises its reading too, by about 0.44 Bx for each % by mass. For the extract and the forecast read a hydrometer in a strained, degassed sample."}}
	}
	c, err := must.Correct(sample)
	if err != nil {
		return nil
	}
	out := &result{Label: "Extract at 20 °C", Figure: quantity.Fixed(c.Extract.Value, 1), Unit: "Bx", Steps: c.Working(), Method: c.Note,
		Beside: []pair{{"gravity", shown(c.Gravity, 4)}}}
	if sample.Reading.Unit() == quantity.SG {
		out.Label, out.Figure, out.Unit = "Gravity at 20 °C", quantity.Fixed(c.Gravity.Value, 4), "SG"
		out.Beside = []pair{{"extract", shown(c.Extract, 1)}}
	}
	if b.Instrument == "" && sample.Reading.Unit() == quantity.Brix {
		out.Says = append(out.Says, "Taken for a hydrometer's reading: name the instrument if it was the refractometer.")
	}
	mashes := e.book.State().Fermenting(b.Vessel)
	if len(mashes) == 0 {
		return out
	}
	f, _ := e.ferment(mashes[0])
	if f.Original.IsNone() {
		return out
	}
	if a, err := must.Attenuate(must.Attenuation{Original: f.Original, Present: c.Extract.Reading(6)}); err == nil && a.ABV20.Value > 0 {
		out.Beside = append(out.Beside, pair{"alcohol so far", fmt.Sprintf("%s, %s to %s", shown(a.ABV20, 1), quantity.Fixed(max(0, a.Low.Value), 1), quantity.Fixed(a.High.Value, 1))},
			pair{"attenuation", shown(a.Apparent, 0)})
		out.Steps = append(out.Steps, a.Working()...)
	}
	before := f.Original
	if n := len(f.Checks); n > 0 {
		for _, check := range slices.Backward(f.Checks) {
			if x, err := must.Correct(check.Sample); err == nil {
				before = x.Extract.Reading(6)
				break
			}
		}
	}
	if fell := before.Float() - c.Extract.Value; before.Unit() == quantity.Brix {
		out.Beside = append(out.Beside, pair{"since the last reading", signed(-fell) + " Bx"})
	}
	return out
}
