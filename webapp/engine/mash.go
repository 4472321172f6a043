package engine

import (
	"fmt"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
)

type mashRoomView struct {
	roomView
	Mashes []sumFor `json:"mashes"`
}

// A sumFor is a mash whose figures the sums can begin with: of each calculation
// the inputs that the book knows, as a form holds them.
type sumFor struct {
	choice
	Sums map[string]map[string]string `json:"sums"`
}

// mashRoom shows where there is room, what was mashed and how mashes rest.
func (e *Engine) mashRoom() mashRoomView {
	return mashRoomView{roomView{[]block{{Table: e.roomTable()}, {Table: e.mashTable()}, {Table: e.restsTable()}}, cautionsIn(book.MashRoom)}, e.sumsFor()}
}

// sumsFor gives what the book knows of the mashes that stand in fermenters.
func (e *Engine) sumsFor() []sumFor {
	out := []sumFor{}
	for a, v := range e.book.State().Vessels {
		mashes := e.book.State().Fermenting(a)
		if len(mashes) == 0 {
			continue
		}
		m := mashes[0]
		volume := e.volumeTyped(v.Content.Litres20())
		sums := map[string]map[string]string{"nutrient": {"volume": volume}, "acid": {"mash": volume}, "enzyme": {}, "gravity": {}}
		if f, _ := e.ferment(m); !f.Original.IsNone() {
			sums["nutrient"]["brix"] = quantity.Fixed(f.Original.Float(), 1) + f.Original.Unit().Symbol()
		}
		if kg := weighed(m.Parts); kg > 0 {
			sums["enzyme"]["fruit"] = e.massTyped(kg)
		}
		temp := m.Temp
		if c := m.Last(); c != nil && !c.Temp.IsNone() {
			temp = c.Temp
		}
		if !temp.IsNone() {
			sums["enzyme"]["temp"], sums["gravity"]["temp"] = temp.Compact(), temp.Compact()
		}
		out = append(out, sumFor{choice{string(a), v.Name + ", " + e.mashName(m)}, sums})
	}
	return out
}

// weighed is the weight of the parts of a mash, kg.
func weighed(parts []book.MashPart) (kg float64) {
	for _, p := range parts {
		if !p.Weight.IsNone() && p.Weight.Unit().Dimension() == quantity.Mass {
			kg += p.Weight.In(quantity.Kilogram)
		}
	}
	return kg
}

// volumeTyped and massTyped are a figure of the book as a person would type it.
func (e *Engine) volumeTyped(litres float64) string {
	f := quantity.Figure{Value: litres, Unit: quantity.Litre}
	if !e.metric() {
		f = f.In(quantity.Gallon)
	}
	return quantity.Fixed(f.Value, 1) + f.Unit.Symbol()
}

func (e *Engine) massTyped(kg float64) string {
	f := quantity.Figure{Value: kg, Unit: quantity.Kilogram}
	if !e.metric() {
		f = f.In(quantity.Pound)
	}
	return quantity.Fixed(f.Value, 1) + f.Unit.Symbol()
}

// roomTable lists the fermenters with what still fits in, to the height that
// foam and cap leave.
func (e *Engine) roomTable() *table {
	t := &table{Title: "Which fermenter has room", Empty: "No fermenter is registered yet: do it in the office.", Rows: []row{},
		Columns: []column{{Label: "Fermenter"}, {Label: "Holds"}, {Label: "Room", Figure: true}}}
	for a, v := range e.book.State().Vessels {
		if !forMash(v) {
			continue
		}
		held := v.Content.Litres20()
		holds, note := "empty", "takes "+e.litresText(v.Capacity.Base())+" to the brim"
		if mashes := e.book.State().Fermenting(a); len(mashes) > 0 {
			holds = e.litresText(held)
			note = e.mashName(mashes[0]) + "; " + note
		}
		fruit, stone := must.Material{}, must.Material{Class: must.Stone}
		room := max(0, v.Capacity.Base()*fruit.Fill()-held)
		if v.Content.Empty() {
			note += "; with stone fruit " + e.litresText(v.Capacity.Base()*stone.Fill())
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{v.Name, a}, text(holds), text(e.litresText(room))}, Note: note})
	}
	return t
}

// latestMashes is how many mashes the room lists.
const latestMashes = 6

func (e *Engine) mashTable() *table {
	t := &table{Title: "Latest mashes", Empty: "No mash was made yet.", Rows: []row{}, Columns: []column{{Label: "Mash"}, {Label: "Volume", Figure: true}, {Label: "Extract", Figure: true}}}
	var all []*book.Ferment
	for _, m := range e.book.State().Ferments {
		all = append(all, m)
	}
	for i := len(all) - 1; i >= max(0, len(all)-latestMashes); i-- {
		m := all[i]
		extract := ""
		if f, _ := e.ferment(m); !f.Original.IsNone() {
			extract = quantity.Fixed(f.Original.Float(), 1) + " Bx"
		}
		notes := []string{m.Begun.Day(), e.name(book.AVessel, m.Fermenter)}
		for _, a := range m.Additions {
			notes = append(notes, a.What+" "+addedText(a.AdditionMade))
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{e.mashName(m), m.Address}, text(m.Volume.String()), text(extract)}, Note: strings.Join(notes, "; ")})
	}
	return t
}

func addedText(b *book.AdditionMade) string {
	if b.Weight.IsNone() {
		return b.Volume.String()
	}
	return b.Weight.String()
}

func (e *Engine) restsTable() *table {
	t := &table{Title: "Rests of a grain mash", Rows: []row{}, Columns: []column{{Label: "Rest"}, {Label: "at", Figure: true}, {Label: "for", Figure: true}}}
	for _, r := range must.Rests() {
		at := fmt.Sprintf("%d to %d °C", r.Low, r.High)
		if !e.metric() {
			at = fmt.Sprintf("%d to %d °F", r.Low*9/5+32, r.High*9/5+32)
		}
		t.Rows = append(t.Rows, row{Cells: []cell{text(capital(r.Name)), text(at), text(strconv.Itoa(r.Minutes) + " min")}, Note: r.For + " (" + r.Source + ")"})
	}
	t.Rows = append(t.Rows, row{Cells: []cell{text("Iodine test"), text(""), text("")}, Note: must.Iodine})
	return t
}

// styleOf is how a type of mash ferments.
func styleOf(kind string) must.Style {
	switch kind {
	case "grain mash":
		return must.GrainMash()
	case "molasses wash":
		return must.MolassesWash()
	case "sugar wash":
		return must.SugarWash()
	}
	return must.FruitMash()
}

// original is the corrected extract of a mash before the yeast, none where it
// was not read.
func (e *Engine) original(b *book.MashMade) (must.Corrected, bool) {
	return e.corrected20(&b.Sweetness, b.Temp, false)
}

// corrected20 brings a reading of sugar to 20 °C; false where there is none or
// it tells nothing.
func (e *Engine) corrected20(w *book.Sweetness, mash quantity.Reading, fermenting bool) (must.Corrected, bool) {
	s, read := e.read(w, mash, fermenting)
	if !read {
		return must.Corrected{}, false
	}
	c, err := must.Correct(s)
	return c, err == nil
}

// read is a reading of sugar with the temperature of its sample.
func (e *Engine) read(w *book.Sweetness, mash quantity.Reading, fermenting bool) (must.Sample, bool) {
	sugar, temp := w.Gravity, w.SampleTemp
	if sugar.IsNone() {
		sugar = w.Sugar
	}
	if temp.IsNone() {
		temp = mash
	}
	return e.sample(sugar, temp, w.Instrument, fermenting), !sugar.IsNone()
}

// mashed shows what a mash can give, and what to mind before it is saved.
func (e *Engine) mashed(b *book.MashMade) *result {
	sum, steps, kg := e.potential(b.Parts)
	oe, read := e.original(b)
	if kg == 0 && !read {
		return nil
	}
	var out *result
	if sum.PureAlcohol.Value > 0 {
		out = e.expected(&sum)
		out.Steps = steps
		out.Method = "The range is that of the published yields below, each with its source."
	} else {
		out = &result{Label: "Weight mashed", Figure: quantity.Fixed(kg, 0), Unit: "kg", Beside: []pair{}, Steps: append(quantity.Working{}, steps...)}
	}
	if read {
		out.Beside = append(out.Beside, pair{"extract at 20 °C", shown(oe.Extract, 1) + ", gravity " + quantity.Fixed(oe.Gravity.Value, 4)})
		out.Steps = append(out.Steps, oe.Working()...)
	}
	e.filling(b, out)
	style := styleOf(b.Type)
	if !b.PH.IsNone() && b.PH.Unit() == quantity.PH && style.PHLow > 0 {
		switch x := b.PH.Float(); {
		case b.Type == "fruit mash" && x > 3.2, x > style.PHHigh:
			out.Says = append(out.Says, "pH "+b.PH.Digits()+" is high for a "+b.Type+": "+phWanted(b.Type, style)+" Titrate a sample on the bench and acidify in steps, never blindly.")
		case x < style.PHLow:
			out.Says = append(out.Says, "pH "+b.PH.Digits()+" is low: the yeast is slowed. Calibrate the meter and read again; add no acid.")
		}
	}
	if !b.Temp.IsNone() && b.Temp.Unit().Dimension() == quantity.Temperature {
		if t := b.Temp.In(quantity.Celsius); t > style.Warm {
			out.Says = append(out.Says, "At "+b.Temp.String()+" the mash is too warm for the yeast: cool it below "+e.tempText(style.Warm)+" first.")
		} else if t < style.Cold {
			out.Says = append(out.Says, "At "+b.Temp.String()+" the mash is cold for the yeast, which wants "+e.tempText(style.Cold)+" or more.")
		}
	}
	if b.Iodine == "blue" {
		out.Says = append(out.Says, "Blue with iodine: starch is left. Hold the rest and test again.")
	}
	if b.Type == "grain mash" && read && !b.Volume.IsNone() && kg > 0 {
		e.extracted(b, oe, out)
	}
	return out
}

// phWanted says at which pH a mash of a type is wanted.
func phWanted(kind string, s must.Style) string {
	if kind == "fruit mash" {
		return "3.0 to 3.2 is wanted (garden and fruit growers' association, Saarland)."
	}
	return quantity.Fixed(s.PHLow, 1) + " to " + quantity.Fixed(s.PHHigh, 1) + " is wanted."
}

// potential adds up what the parts of a mash can give.
func (e *Engine) potential(parts []book.MashPart) (sum must.Expectation, steps quantity.Working, kg float64) {
	for _, p := range parts {
		r := e.book.State().RawLot(p.Lot)
		if r == nil || p.Weight.IsNone() || p.Weight.Unit().Dimension() != quantity.Mass {
			continue
		}
		kg += p.Weight.In(quantity.Kilogram)
		m, known := material(r.Variety)
		if !known {
			steps.Add(r.Variety+", of which no published yield is at hand", "not counted")
			continue
		}
		x, err := must.Expect(must.Batch{Material: m.Name, Prepared: p.Weight, Extract: e.juice(r, m)})
		if err != nil {
			steps.Add(r.Variety+": "+firstSentence(err), "not counted")
			continue
		}
		for _, f := range []struct{ to, by *quantity.Figure }{{&sum.PureAlcohol, &x.PureAlcohol}, {&sum.Low, &x.Low}, {&sum.High, &x.High}, {&sum.Sugar, &x.Sugar}} {
			f.to.Value, f.to.Unit = f.to.Value+f.by.Value, f.by.Unit
		}
		steps.Add(capital(r.Variety)+", "+p.Weight.String(), "")
		steps = append(steps, x.Working()...)
	}
	return sum, steps, kg
}

// juice is the mean of a lot's samples at 20 °C, none where they tell nothing.
func (e *Engine) juice(r *book.RawLot, m must.Material) quantity.Reading {
	var sum float64
	var n int
	if m.Fruit() {
		for _, s := range r.Samples {
			if c, err := must.Correct(e.sample(s.Sugar, s.Temp, s.Instrument, false)); err == nil {
				sum, n = sum+c.Extract.Value, n+1
			}
		}
	}
	if n == 0 {
		return quantity.Reading{}
	}
	return quantity.Figure{Value: sum / float64(n), Unit: quantity.Brix}.Reading(6)
}

// filling says how full the fermenter becomes.
func (e *Engine) filling(b *book.MashMade, out *result) {
	v := e.book.State().Vessel(b.Fermenter)
	if v == nil || b.Volume.IsNone() || b.Volume.Unit().Dimension() != quantity.Volume {
		return
	}
	m := must.Material{}
	for _, p := range b.Parts {
		if r := e.book.State().RawLot(p.Lot); r != nil {
			if known, ok := material(r.Variety); ok && known.Class == must.Stone {
				m = known
			}
		}
	}
	full := (v.Content.Litres20() + b.Volume.Base()) / v.Capacity.Base()
	out.Beside = append(out.Beside, pair{v.Name, quantity.Fixed(100*full, 0) + " % full"})
	if full > m.Fill() {
		out.Says = append(out.Says, fmt.Sprintf("%s becomes %s %% full; foam and cap want no more than %s %%.", v.Name, quantity.Fixed(100*full, 0), quantity.Fixed(100*m.Fill(), 0)))
	}
}

// usualBill is the extract of a usual bill, % of its weight as is, where no
// maltster's sheet is at hand (common practice, no source).
const usualBill = "75"

// extracted sets the extract of a grain mash against its bill's: each grain's
// own figure where its delivery has one.
func (e *Engine) extracted(b *book.MashMade, oe must.Corrected, out *result) {
	var bill []must.BillPart
	var sheets, usual int
	for _, p := range b.Parts {
		part := must.BillPart{Weight: p.Weight, Extract: quantity.MustParse(usualBill, quantity.Percent)}
		r := e.book.State().RawLot(p.Lot)
		if r == nil || p.Weight.IsNone() || p.Weight.Unit().Dimension() != quantity.Mass {
			continue
		}
		if r.Extract.IsNone() {
			usual++
		} else {
			sheets, part.Extract = sheets+1, r.Extract
		}
		out.Steps.Add(r.Variety+", "+p.Weight.String(), part.Extract.String()+" extract as is")
		bill = append(bill, part)
	}
	y, err := must.Yield(must.Wort{Volume: b.Volume, Extract: oe.Extract.Reading(6), Bill: bill})
	if err != nil {
		out.Says = append(out.Says, firstSentence(err))
		return
	}
	of := "of what the maltster's sheets promise"
	switch {
	case sheets == 0:
		of = "of a bill of " + usualBill + " % extract"
	case usual > 0:
		of = "of the bill, " + usualBill + " % where no sheet says"
	}
	out.Beside = append(out.Beside, pair{"extract won", e.massText(y.InWort.Value) + ", " + y.Efficiency.Text(0) + " " + of})
	out.Steps = append(out.Steps, y.Working()...)
}

// tempText is a temperature as the book's convention has it.
func (e *Engine) tempText(celsius float64) string {
	f := quantity.Figure{Value: celsius, Unit: quantity.Celsius}
	if !e.metric() {
		f = f.In(quantity.Fahrenheit)
	}
	return f.Text(0)
}

// added shows an addition against the mash it goes into, and what practice says
// of it.
func (e *Engine) added(b *book.AdditionMade) *result {
	v, mashes := e.book.State().Vessel(b.Vessel), e.book.State().Fermenting(b.Vessel)
	if v == nil || len(mashes) == 0 || b.What == "" {
		return nil
	}
	litres := v.Content.Litres20()
	out := &result{Label: "Mash it goes into", Figure: quantity.Fixed(litres, 0), Unit: "L", Beside: []pair{}, Steps: quantity.Working{}}
	if !e.metric() {
		out.Figure, out.Unit = quantity.Fixed(quantity.Figure{Value: litres, Unit: quantity.Litre}.In(quantity.Gallon).Value, 0), "gal"
	}
	if amount, unit := b.Weight, quantity.Gram; litres > 0 && (!amount.IsNone() || !b.Volume.IsNone()) {
		if amount.IsNone() {
			amount, unit = b.Volume, quantity.Millilitre
		}
		dose := quantity.Figure{Value: amount.In(unit) / litres * 100, Unit: unit}
		out.Label, out.Figure, out.Unit = "In 100 L of the mash", strings.TrimSuffix(places(dose), " "+unit.Label()), unit.Label()
		out.Steps.Add(amount.String()+" into "+e.litresText(litres), places(dose)+" in 100 L")
	}
	volume := quantity.FromDecimal(quantity.Snap(litres).Round(3), quantity.Litre)
	f, _ := e.ferment(mashes[0])
	switch b.What {
	case "yeast":
		if p, err := must.Pitch(volume); err == nil {
			out.Beside = append(out.Beside, pair{"usual, dry", p.Low.Text(0) + " to " + p.High.Text(0)})
			out.Says = append(out.Says, capital(p.How)+".")
		}
	case "nutrient":
		e.feeding(b, f, volume, out)
	case "acid":
		out.Says = append(out.Says, "Never a blind dose: titrate a sample on the bench first. Three quarters of it, mix well, read the pH, then the rest.", "Acid into water or mash, never water into acid. Goggles, gloves, apron.")
	case "enzyme":
		out.Says = append(out.Says, "The maker's dose and no more: pectinase sets methanol free from pectin.")
	}
	return out
}

// feeding says what the nitrogen rule asks for, and what is against it.
func (e *Engine) feeding(b *book.AdditionMade, f must.Ferment, volume quantity.Reading, out *result) {
	q := must.Feeding{Volume: volume, Extract: f.Original, Demand: must.MediumDemand, Nutrient: e.name(book.AGoodsLot, b.Lot)}
	if a, err := f.Assess(); err == nil && len(a.Points) > 1 {
		q.ABV = quantity.Figure{Value: max(0, a.Attenuated.ABV20.Value), Unit: quantity.ABV20}.Reading(2)
		if gone := a.Points[0].Extract.Value - a.Points[len(a.Points)-1].Extract.Value; 3*gone > a.Points[0].Extract.Value {
			out.Says = append(out.Says, "More than a third of the sugar is gone: a dose of nitrogen comes late now, and what the yeast leaves feeds bacteria.")
		}
	}
	fed, err := must.Feed(q)
	if err != nil {
		out.Says = append(out.Says, firstSentence(err))
		return
	}
	out.Beside = append(out.Beside, pair{"asked for, as diammonium phosphate", "two doses of " + fed.Each.Text(0)})
	out.Says = append(out.Says, capital(fed.When)+".")
	for _, a := range fed.Advice {
		out.Says = append(out.Says, a.Finding+" "+a.LookFirst)
	}
	out.Steps = append(out.Steps, fed.Working()...)
}
