package engine

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/cask"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

type barrelView struct {
	Vessel book.Address      `json:"vessel"`
	Name   string            `json:"name"`
	Row    string            `json:"row"`
	Full   bool              `json:"full"`
	Wants  []barrelWant      `json:"wants"`
	Fixed  map[string]string `json:"fixed"` // what its drawers begin with
	Day    string            `json:"day"`   // of the forecast
	Holds  []block           `json:"holds"` // the figure, if it holds anything
	About  []block           `json:"about"` // the barrel itself, and what it is made of
	Ahead  []block           `json:"ahead"` // the forecast
	Past   []block           `json:"past"`
	Wrong  map[string]string `json:"wrong"` // what is wrong with what was asked, by field
	Says   []string          `json:"says"`  // what the fit rests on, and where it ends
}

// oneBarrel is one barrel's page.
func (e *Engine) oneBarrel(a book.Address, in barrelOf) (any, error) {
	v := e.book.State().Vessel(a)
	if v == nil || !isBarrel(v) {
		return nil, fault.Fault{Code: fault.Unknown, Field: "vessel", Value: string(a), Limit: "is no barrel of this book", Remedy: "choose one from the list"}
	}
	asked := ""
	for _, q := range e.openQuestions() {
		if slices.Contains(q.Entries, a) {
			asked = q.Text
		}
	}
	out := barrelView{Vessel: a, Name: v.Name, Row: rowKey(v), Full: v.Aged.Full(), Wants: barrelWants(v, asked, e.now()), Wrong: map[string]string{}, Says: []string{},
		Fixed: map[string]string{"location": v.Location, "row": v.Row, "tier": v.Tier, "tare": v.Tare.Compact(), "cooperage": v.Cooperage, "char": v.Char},
		Holds: []block{}, Ahead: []block{}, Past: []block{}}
	out.About = e.barrelHolds(v)
	if out.About[0].Result != nil {
		out.Holds, out.About = out.About[:1], out.About[1:]
	}
	if out.Full {
		e.foretell(v, in, &out)
	}
	out.Past = append(out.Past, e.levelBlocks(v)...)
	return out, nil
}

// barrelHolds is what is in it, of what and how old, and what it is itself.
func (e *Engine) barrelHolds(v *book.Vessel) []block {
	s, c, now := e.book.State(), &v.Content, e.now()
	var out []block
	var lines []pair
	add := func(label, value string) {
		if value != "" {
			lines = append(lines, pair{label, value})
		}
	}
	if !c.Empty() {
		r := &result{Label: v.Name + " holds", Figure: e.alcoholText(c.Alcohol), Unit: e.alcoholLabel(), Beside: []pair{{"what", e.productIn(c)}}, Steps: quantity.Working{}}
		if c.Material.Accounted() {
			r.Beside = append(r.Beside, pair{"volume", e.volumeText(c)}, pair{"strength", e.strengthText(c.Strength())})
		}
		age, ok := s.Youngest(v.Address, now)
		if ok {
			r.Beside = append(r.Beside, pair{"youngest spirit in wood", longAge(age)})
		}
		out = append(out, block{Result: r})
		if ok {
			add("Age of the youngest spirit", age.String())
		}
		if v.Aged.Full() {
			add("Filled", v.Aged.Filling.Day()+", "+strconv.Itoa(daysSince(now, v.Aged.Filling))+" days ago")
			add("Last gauged", v.Aged.Gauged.Day())
		}
		add("In the account", string(c.Account))
		if v.Rest.Until != "" {
			add("To rest until", joinedWords(string(v.Rest.Until), v.Rest.For))
		}
	}
	add("Stands", placeOf(v))
	add("Serial number", v.Serial)
	add("Takes", v.Capacity.String())
	add("Empty weight", v.Tare.String())
	add("Wood", v.Wood)
	add("Cooperage", v.Cooperage)
	add("Char or toast", v.Char)
	before := ""
	if v.Fills > 0 {
		before = fmt.Sprintf(", %d before", v.Fills)
	}
	add("Fillings", fmt.Sprintf("%d in this book%s", v.Aged.Fills, before))
	if v.Retired != "" {
		add("Out of use since", string(v.Retired))
	}
	out = append(out, block{Facts: &facts{Title: "The barrel", Lines: lines}})
	if parts := s.Composition(v.Address); len(parts) > 0 {
		t := &table{Title: "What it is made of", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
		for _, p := range parts {
			r := tableRow(text("not known"), "", percent(p.Share))
			if l := s.Lot(p.Lot); l != nil {
				r.Cells[0], r.Note = cell{e.lotName(l), l.Address}, joinedWords(string(l.Material), string(l.Class), l.Begun.Day())
			}
			t.Rows = append(t.Rows, r)
		}
		out = append(out, block{Table: t})
	}
	return out
}

func daysSince(now, then book.Moment) int { return int(now.Since(then).Hours() / 24) }

// A level is a book.Level in the book's units: litres at 20 °C and % vol, or
// gallons at 60 °F and proof.
type level struct {
	*book.Level
	volume, strength, alcohol float64
}

// levelOf is a measure as a level shows it.
func (e *Engine) levelOf(l *book.Level, m book.Measure) level {
	c := book.Content{Material: book.Spirit, Mass: m.Mass, Alcohol: m.Alcohol}
	s := c.Strength()
	out := level{Level: l, volume: c.Litres20(), strength: s.ABV20(), alcohol: m.Alcohol.LitresPureAlcohol()}
	if !e.metric() {
		gallons := out.volume * float64(s.DensityAt(20)) / float64(s.DensityAt(spirit.At60F))
		out.volume = quantity.Figure{Value: gallons, Unit: quantity.Litre}.In(quantity.Gallon).Value
		out.strength, out.alcohol = s.Proof(), m.Alcohol.ProofGallons()
	}
	return out
}

// found is what a level says is in the barrel: the gauge where there was one.
func (e *Engine) found(l *book.Level) level {
	if l.Found != (book.Measure{}) {
		return e.levelOf(l, l.Found)
	}
	return e.levelOf(l, book.Measure{Mass: l.Mass, Alcohol: l.Alcohol})
}

func (e *Engine) barrelUnits() (volume, strength quantity.Unit) {
	if e.metric() {
		return quantity.Litre, quantity.ABV20
	}
	return quantity.Gallon, quantity.Proof
}

// levelBlocks tell the last filling, gauge by gauge, and list those before it.
func (e *Engine) levelBlocks(v *book.Vessel) []block {
	volume, strength := e.barrelUnits()
	t := &table{Title: "Gauges and changes, the latest first", Empty: "It was not filled yet, as far as this phone knows.", Rows: []row{},
		Columns: []column{{Label: "Day"}, {Label: volume.Label(), Figure: true}, {Label: strength.Label(), Figure: true}, {Label: e.alcoholLabel(), Figure: true}}}
	_, unit := e.alcoholUnit()
	places := int32(2)
	if e.metric() {
		places = 1
	}
	levels := v.Aged.Current()
	for i := range levels {
		now := e.found(&levels[i])
		note := string(now.Kind)
		if now.Kind == book.Regauge {
			if now.Weighed {
				note += " by weight"
			}
			if now.Found.Alcohol != now.Alcohol {
				note += ", not taken over into the book"
			}
		}
		if i > 0 {
			was := e.levelOf(&levels[i-1], book.Measure{Mass: levels[i-1].Mass, Alcohol: levels[i-1].Alcohol})
			note += fmt.Sprintf(": %s %s, %s %s, %s %s in %d days", signedTo(now.volume-was.volume, places), volume.Label(), signedTo(now.strength-was.strength, 1), strength.Label(),
				signedTo(now.alcohol-was.alcohol, 2), unit, daysSince(now.On, was.On))
		}
		t.Rows = append(t.Rows, tableRow(cell{now.On.Day(), now.Entry}, note, quantity.Fixed(now.volume, places), quantity.Fixed(now.strength, 1), quantity.Fixed(now.alcohol, 2)))
	}
	slices.Reverse(t.Rows)
	out := []block{{Table: t}}
	if v.Aged.Fills > 1 {
		earlier := &table{Title: "Earlier fillings", Rows: []row{}, Columns: []column{{Label: "Filled"}, {Label: "Emptied"}, {Label: e.alcoholLabel(), Figure: true}}}
		var filled *book.Level
		for i := range v.Aged.Levels {
			l := &v.Aged.Levels[i]
			switch {
			case l.Kind == book.Filled:
				filled = l
			case l.Kind == book.Emptied && filled != nil:
				earlier.Rows = append(earlier.Rows, tableRow(cell{filled.On.Day(), filled.Entry}, "", l.On.Day(), e.alcoholText(filled.Alcohol)))
			}
		}
		out = append(out, block{Table: earlier})
	}
	return out
}

// fixed is a figure to so many places, with the minus of print.
func fixed(x float64, places int32) string {
	return strings.Replace(quantity.Fixed(x, places), "-", "−", 1)
}

// signedTo is a change with its sign, if anything is left of it at so many places.
func signedTo(x float64, places int32) string {
	s := fixed(x, places)
	if x > 0 && strings.ContainsAny(s, "123456789") {
		return "+" + s
	}
	return s
}

// caskOf is a barrel's last filling as package cask takes it. A gauge of the
// same day as the one before takes its place.
func (e *Engine) caskOf(v *book.Vessel) cask.Barrel {
	volume, strength := e.barrelUnits()
	b := cask.Barrel{Capacity: v.Capacity, New: v.Fills == 0 && v.Aged.Fills == 1 && (v.Cooperage == "charred new" || v.Cooperage == "plain new"), Yearly: e.houseLoss(v)}
	reading := func(x float64, u quantity.Unit) quantity.Reading {
		return quantity.FromDecimal(quantity.Snap(x).Round(3), u)
	}
	levels := v.Aged.Current()
	for i := range levels {
		l := &levels[i]
		at := time.UnixMilli(l.On.Milliseconds()).UTC()
		if on, err := time.Parse(time.RFC3339, l.On.String()); err == nil {
			at = on
		}
		switch l.Kind {
		case book.Filled, book.Regauge:
			found := e.found(l)
			g := cask.Gauging{On: at, Amount: reading(found.volume, volume), Strength: reading(found.strength, strength)}
			b.Weighed = b.Weighed || l.Weighed
			if n := len(b.Gauges); n > 0 && b.Gauges[n-1].On.Format(time.DateOnly) >= at.Format(time.DateOnly) {
				b.Gauges[n-1] = g
				b.Changes = slices.DeleteFunc(b.Changes, func(c cask.Change) bool { return c.On.Format(time.DateOnly) == at.Format(time.DateOnly) })
				continue
			}
			b.Gauges = append(b.Gauges, g)
		case book.Emptied:
		default:
			was := &levels[i-1]
			mass, alcohol := l.Mass-was.Mass, l.Alcohol-was.Alcohol
			out := mass < 0
			if out {
				mass, alcohol = -mass, -alcohol
			}
			put := e.levelOf(l, book.Measure{Mass: mass, Alcohol: alcohol})
			c := cask.Change{On: at, Out: out, Amount: reading(put.volume, volume)}
			if !out {
				c.Strength = reading(put.strength, strength)
			}
			b.Changes = append(b.Changes, c)
		}
	}
	return b
}

// houseBarrels is how many other barrels of about the size make a rate of the
// house.
const houseBarrels = 3

// houseLoss is the median yearly loss, of their mass, of the house's other
// barrels of about the size, where enough of them were regauged after half a
// year: it beats any table.
func (e *Engine) houseLoss(v *book.Vessel) quantity.Reading {
	var rates []float64
	for a, o := range e.book.State().Vessels {
		if a == v.Address || !isBarrel(o) || o.Aged.Gauged.Since(o.Aged.Filling) < 180*24*time.Hour || o.Capacity.Base() > 1.3*v.Capacity.Base() || o.Capacity.Base() < v.Capacity.Base()/1.3 {
			continue
		}
		if r, ok := yearlyLoss(&o.Aged, func(m book.Measure) float64 { return float64(m.Mass) }); ok {
			rates = append(rates, 100*r)
		}
	}
	if len(rates) < houseBarrels {
		return quantity.Reading{}
	}
	slices.Sort(rates)
	median := rates[len(rates)/2]
	if median < 0.1 || median > 30 {
		return quantity.Reading{}
	}
	return quantity.FromDecimal(quantity.Snap(median).Round(1), quantity.Percent)
}

// limits of the model, told where it speaks.
var barrelLimits = []string{
	"Water and ethanol are followed apart. In air more humid than the break-even the strength falls, in drier air it rises; a rate of loss alone does not say which.",
	"The forecast takes the store to stay as warm and as humid as it was on the average of its years: a season, a move to another tier or a leak is not in it.",
	"It is a forecast and no gauge: only a regauge says what is in the barrel.",
}

// foretell fits the barrel's own rates and looks ahead.
func (e *Engine) foretell(v *book.Vessel, in barrelOf, out *barrelView) {
	b := e.caskOf(v)
	wrong := func(field string, err error) {
		if err != nil {
			out.Wrong[field] = spoken(err)[0].Sentence
		}
	}
	if in.Humidity != "" {
		h, err := quantity.Parse(in.Humidity, quantity.Percent)
		if b.Humidity = h; err != nil {
			wrong("humidity", err)
			b.Humidity = quantity.Reading{}
		}
	}
	f, err := b.Fit()
	if err != nil && !b.Humidity.IsNone() {
		wrong("humidity", err)
		b.Humidity = quantity.Reading{}
		f, err = b.Fit()
	}
	if err != nil {
		out.Says = []string{"Nothing is forecast: " + spoken(err)[0].Sentence}
		return
	}
	for _, s := range f.Suspicious {
		out.Wants = append(out.Wants, barrelWant{"look", fmt.Sprintf("The gauge of %s is not what evaporation explains: %s.", b.Gauges[s.Gauge].On.Format(time.DateOnly), s.Advice)})
	}
	out.Says = append(append(out.Says, f.Notes...), barrelLimits...)
	out.Ahead = append(out.Ahead, block{Result: e.lossResult(v, b, &f)})

	last := b.Gauges[len(b.Gauges)-1].On
	if n := len(b.Changes); n > 0 && b.Changes[n-1].On.After(last) {
		last = b.Changes[n-1].On
	}
	today, _ := time.Parse(time.DateOnly, e.now().Day())
	on, err := time.Parse(time.DateOnly, in.Day)
	if err != nil {
		on = today.AddDate(1, 0, 0)
	}
	out.Day = on.Format(time.DateOnly)
	then, err := f.At(on)
	wrong("day", err)
	if err == nil {
		lines := []pair{{"Volume", e.banded(then.Volume, 1)}, {"Strength", e.banded(then.Strength, 1)}, {"Pure alcohol", e.alcoholBand(then)}}
		if in.Target != "" {
			words, err := e.reaches(&f, in.Target)
			wrong("target", err)
			if err == nil {
				lines = append(lines, pair{"Reaches " + words[0], words[1]})
			}
		}
		out.Ahead = append(out.Ahead, block{Facts: &facts{Title: "Expected on " + out.Day, Lines: lines}})
	}
	if t := e.legalAges(v, e.now()); t != nil {
		out.Ahead = append(out.Ahead, block{Table: t})
	}
	until := on
	if soonest := last.AddDate(1, 0, 0); until.Before(soonest) {
		until = soonest
	}
	for _, c := range e.barrelCharts(v, b, &f, last, until) {
		out.Ahead = append(out.Ahead, block{Chart: c})
	}
}

// banded is a figure between the ends of its band.
func (e *Engine) banded(f quantity.Figure, places int32) string {
	return fmt.Sprintf("%s %s, from %s to %s", quantity.Fixed(f.Value, places), f.Unit.Label(), quantity.Fixed(f.Value-f.Expanded(), places), quantity.Fixed(f.Value+f.Expanded(), places))
}

// alcoholBand is a forecast's pure alcohol in the book's own unit.
func (e *Engine) alcoholBand(f cask.Forecast) string {
	p := f.PureAlcohol
	per, unit := e.alcoholUnit()
	part := func(litres float64) string { return quantity.Fixed(litres/per, 1) }
	return fmt.Sprintf("%s %s, from %s to %s", part(p.Value), unit, part(p.Value-p.Expanded()), part(p.Value+p.Expanded()))
}

// lossResult sets what the barrel loses beside what was to be expected.
func (e *Engine) lossResult(v *book.Vessel, b cask.Barrel, f *cask.Fitted) *result {
	_, strength := e.barrelUnits()
	usual := cask.Typical(v.Capacity.In(quantity.Litre))
	r := &result{Label: "It loses in a year", Figure: quantity.Fixed(f.Loss.Value, 1), Unit: "% of its volume", Steps: f.Working(),
		Method: "Two-component model of water and ethanol, fitted to this barrel’s own gauges."}
	r.Beside = []pair{
		{"within", "±" + quantity.Fixed(f.Loss.Expanded(), 1)},
		{"strength", signedTo(f.Drift.Value, 1) + " ± " + quantity.Fixed(f.Drift.Expanded(), 1) + " " + strength.Label() + " a year"},
		{"water gone", e.massText(f.Water.Value) + " a year"},
		{"ethanol gone", e.massText(f.Ethanol.Value) + " a year"},
		{"strength would stay at", quantity.Fixed(f.BreakEven.Value, 0) + " % humidity"},
	}
	expect := fmt.Sprintf("Expected of a barrel of %s: %s to %s a year (%s; %s).", v.Capacity, usual.Low, usual.High, usual.Place, usual.Source)
	if !b.Yearly.IsNone() {
		expect = fmt.Sprintf("The house’s other barrels of about this size lose %s a year, the median of them. ", b.Yearly) + expect
	}
	low, high := usual.Low.Float(), usual.High.Float()
	if !b.Yearly.IsNone() {
		low, high = b.Yearly.Float(), b.Yearly.Float()
	}
	switch {
	case len(b.Gauges) == 1:
		r.Label, expect = "It is expected to lose in a year", "Not regauged yet: this is what is usual, and no finding. "+expect
	case f.Loss.Value-f.Loss.Expanded() > high:
		expect = "That is more than was to be expected. " + expect
	case f.Loss.Value+f.Loss.Expanded() < low:
		expect = "That is less than was to be expected. " + expect
	}
	r.Says = []string{expect}
	return r
}

// reaches says when a strength is reached.
func (e *Engine) reaches(f *cask.Fitted, typed string) ([2]string, error) {
	_, unit := e.barrelUnits()
	target, err := quantity.Parse(typed, unit)
	if err != nil {
		return [2]string{}, err
	}
	r, err := f.Reaches(target)
	if err != nil {
		return [2]string{}, err
	}
	day := func(t time.Time) string { return t.Format("2006-01") }
	words := "not within 60 years, by what evaporates"
	switch {
	case !r.On.IsZero() && r.Latest.IsZero():
		words = day(r.On) + "; from " + day(r.Earliest) + " on, perhaps never"
	case !r.On.IsZero():
		words = day(r.On) + ", from " + day(r.Earliest) + " to " + day(r.Latest)
	case !r.Earliest.IsZero():
		words = "not by what is likely; at the band’s edge from " + day(r.Earliest)
	}
	return [2]string{target.String(), words}, nil
}

// law is the convention of the book as package cask names it.
func (e *Engine) law() string {
	if e.metric() {
		return "EU"
	}
	return "US"
}

// classIn is the class of most of what a content is.
func (e *Engine) classIn(c *book.Content) book.SpiritClass {
	if len(c.Parts) == 0 {
		return ""
	}
	if l := e.book.State().Lot(mostOf(c)); l != nil {
		return l.Class
	}
	return ""
}

// legalAges lists when the youngest spirit in a barrel comes to the ages that
// count in law; nil where none do.
func (e *Engine) legalAges(v *book.Vessel, now book.Moment) *table {
	age, ok := e.book.State().Youngest(v.Address, now)
	class := e.classIn(&v.Content)
	if !ok {
		return nil
	}
	today, err := time.Parse(time.DateOnly, now.Day())
	if err != nil {
		return nil
	}
	t := &table{Title: "Of age, by its youngest spirit", Rows: []row{}, Columns: []column{{Label: "May be"}, {Label: "Age"}, {Label: "On", Figure: true}}}
	for _, l := range cask.LegalAges() {
		if l.Law != e.law() || l.Class != string(class) {
			continue
		}
		on := cask.OfAge(today.AddDate(0, 0, -age.Days), l.Years, l.Months)
		word := on.Format(time.DateOnly)
		if !on.After(today) {
			word = "reached"
		}
		note := l.Source
		if l.Wood != "" {
			note = "counts in " + l.Wood + "; " + note
		}
		t.Rows = append(t.Rows, tableRow(text(l.Allows), note, longAge(book.Age{Years: l.Years, Months: l.Months}), word))
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

// daysInMonth is the mean, for a chart in months.
const daysInMonth = 365.25 / 12

// barrelCharts draw volume and strength since the filling, with the forecast
// and its band, up to a day.
func (e *Engine) barrelCharts(v *book.Vessel, b cask.Barrel, f *cask.Fitted, last, until time.Time) []*chart {
	volume, strength := e.barrelUnits()
	start := b.Gauges[0].On
	months := func(t time.Time) float64 { return t.Sub(start).Hours() / 24 / daysInMonth }
	plots := []*plot{
		{title: "volume of " + v.Name, up: volume.Label()}, {title: "strength of " + v.Name, up: strength.Label()},
	}
	read := [2]plotLine{{label: "as gauged", look: lookRead}, {label: "as gauged", look: lookRead}}
	for _, g := range b.Gauges {
		read[0].points = append(read[0].points, [2]float64{months(g.On), g.Amount.Float()})
		read[1].points = append(read[1].points, [2]float64{months(g.On), g.Strength.Float()})
	}
	expected := [2]plotLine{{label: "expected", look: lookExpected}, {label: "expected", look: lookExpected}}
	var bands [2]plotArea
	const steps = 16
	for i := range steps + 1 {
		on := last.Add(until.Sub(last) * time.Duration(i) / steps)
		then, err := f.At(on)
		if err != nil {
			break
		}
		for k, x := range []quantity.Figure{then.Volume, then.Strength} {
			expected[k].points = append(expected[k].points, [2]float64{months(on), x.Value})
			bands[k].low = append(bands[k].low, [2]float64{months(on), x.Value - x.Expanded()})
			bands[k].high = append(bands[k].high, [2]float64{months(on), x.Value + x.Expanded()})
		}
	}
	var out []*chart
	for k, p := range plots {
		p.across, p.each = "months since it was filled", "month"
		bands[k].label = "19 in 20 barrels like it"
		p.lines, p.area = []plotLine{expected[k], read[k]}, &bands[k]
		if c := p.chart(); c != nil {
			out = append(out, c)
		}
	}
	return out
}

// moved shows a move; into wood, what to mind before it is saved.
func (e *Engine) moved(b *book.SpiritMoved) *result {
	r := e.gauged(&b.Gauge, b.From)
	from, to := e.book.State().Vessel(b.From), e.book.State().Vessel(b.To)
	if to == nil || from == nil || !isBarrel(to) || !to.Wooden() {
		return r
	}
	if r == nil { // all of it, or an amount that is still wanting
		if !b.None() || from.Content.Empty() || !from.Content.Material.Accounted() {
			return nil
		}
		r = &result{Label: "All of it", Figure: e.alcoholText(from.Content.Alcohol), Unit: e.alcoholLabel(), Beside: []pair{{"volume", e.volumeText(&from.Content)}, {"strength", e.strengthText(from.Content.Strength())}}, Steps: quantity.Working{}}
	}
	strength, litres := from.Content.Strength(), from.Content.Litres20()
	if g, _, faults := b.Measure(e.book.State(), from); len(faults) == 0 {
		strength, litres = g.Figures.Strength, g.Figures.Volume20C.Value
	}
	if ask := cask.AskEntry(e.law(), string(e.classIn(&from.Content)), strength); ask != "" {
		r.Says = append(r.Says, ask)
	}
	if then := to.Content.Litres20() + litres; then > to.Capacity.Base() {
		r.Says = append(r.Says, fmt.Sprintf("%s would hold %s, and takes %s.", to.Name, e.litresText(then), to.Capacity))
	}
	return r
}

// regauged shows a gauge; of a barrel, what changed since the last one.
func (e *Engine) regauged(b *book.SpiritGauged) *result {
	r := e.dipped(b)
	v := e.book.State().Vessel(b.Vessel)
	if r == nil || v == nil || !isBarrel(v) || !v.Aged.Full() {
		return r
	}
	g, _, faults := b.Measure(e.book.State(), v)
	if len(faults) > 0 {
		return r
	}
	levels := v.Aged.Current()
	last := &levels[len(levels)-1]
	was, now := e.levelOf(last, book.Measure{Mass: last.Mass, Alcohol: last.Alcohol}), e.levelOf(last, g.Measure)
	volume, strength := e.barrelUnits()
	r.Beside = append(r.Beside, pair{"since " + last.On.Day(), fmt.Sprintf("%s %s, %s %s, %s %s", signedTo(now.volume-was.volume, 2), volume.Label(), signedTo(now.strength-was.strength, 1), strength.Label(),
		signedTo(now.alcohol-was.alcohol, 2), e.alcoholLabel())})
	return r
}
