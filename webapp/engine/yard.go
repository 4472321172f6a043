package engine

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
)

// now is the moment of a call, by the phone's clock.
func (e *Engine) now() book.Moment {
	t := e.outside.Now()
	return book.MomentAt(t.UnixMilli(), t.Format(time.RFC3339))
}

// cautionsIn are a room's cautions; the page says once, for all of them, that
// local codes rule.
func cautionsIn(room book.Room) []string {
	const said = " Follow your local code and licensed practice."
	out := []string{}
	for _, c := range must.CautionsIn(string(room)) {
		out = append(out, strings.TrimSuffix(c.Text, said))
	}
	return out
}

type roomView struct {
	Blocks   []block  `json:"blocks"`
	Cautions []string `json:"cautions"`
}

// yard shows what came through the gate and what is on hand.
func (e *Engine) yard() roomView {
	blocks := []block{}
	if t := e.lowGoods(); len(t.Rows) > 0 {
		blocks = append(blocks, block{Table: t})
	}
	blocks = append(blocks, block{Table: e.rawTable(true)}, block{Table: e.goodsTable()}, block{Table: e.rawTable(false)})
	return roomView{blocks, cautionsIn(book.Yard)}
}

func (e *Engine) lowGoods() *table {
	t := &table{Title: "Running low: order again", Rows: []row{}, Columns: []column{{Label: "Goods"}, {Label: "Left", Figure: true}}}
	s := e.book.State()
	for _, d := range s.Overdue(e.now()) {
		if g := s.Good(d.About); d.Kind == book.GoodsLow && g != nil {
			t.Rows = append(t.Rows, row{Cells: []cell{{g.Name, d.About}, text(g.Measured.Show(s.OnHand(d.About)))}, Note: "to be ordered at " + g.Measured.Show(g.Reorder*steps(g.Measured))})
		}
	}
	return t
}

// steps is what one of a good's reorder level is in the steps it is counted in.
func steps(m book.Measured) int64 {
	return map[book.Measured]int64{book.ByWeight: 1e6, book.ByVolume: 1e3, book.InPieces: 1}[m]
}

func (e *Engine) goodsTable() *table {
	t := &table{Title: "Goods on hand", Empty: "No goods came in yet.", Rows: []row{}, Columns: []column{{Label: "Goods"}, {Label: "On hand", Figure: true}}}
	lots, newest := map[book.Address]int{}, map[book.Address]*book.GoodsLot{}
	for _, g := range e.book.State().GoodsLots {
		newest[g.Good] = g
		if g.OnHand() > 0 {
			lots[g.Good]++
		}
	}
	for _, r := range e.book.State().Register(book.AGood) {
		g := newest[r.Address]
		if g == nil {
			continue
		}
		note := fmt.Sprintf("in %d lots, the last of %s", lots[r.Address], g.Came.Day())
		if lots[r.Address] == 1 {
			note = "in one lot, of " + g.Came.Day()
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{r.Name, g.Address}, text(g.Measured.Show(e.book.State().OnHand(r.Address)))}, Note: note})
	}
	return t
}

// latestDeliveries is how many deliveries the yard lists.
const latestDeliveries = 6

// rawTable lists the lots of which something is left, or the latest deliveries.
func (e *Engine) rawTable(onHand bool) *table {
	t := &table{Title: "Lots on hand", Empty: "No raw material is on hand.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "On hand", Figure: true}, {Label: "Bx", Figure: true}}}
	if !onHand {
		t.Title, t.Empty, t.Columns[1].Label = "Latest deliveries", "Nothing was delivered yet.", "Net"
	}
	for a, r := range e.book.State().RawLots {
		if onHand && r.OnHand <= 0 {
			continue
		}
		weight, brix := r.Net, ""
		notes := []string{"came " + r.Came.Day()}
		if onHand {
			weight = r.OnHand
			if r.OnHand != r.Net {
				notes[0] += " with " + e.massText(r.Net.Kilograms())
			}
		}
		if mean, least, most, n := r.Sweetness(); n > 0 {
			brix = quantity.Fixed(mean, 1)
			if n > 1 {
				notes = append(notes, fmt.Sprintf("%d samples, %s to %s Bx", n, quantity.Fixed(least, 1), quantity.Fixed(most, 1)))
			}
		}
		if taken, prepared := r.Preparation(); taken > 0 {
			notes = append(notes, fmt.Sprintf("prepared %s of %s, %s %%", e.massText(prepared.Kilograms()), e.massText(taken.Kilograms()), quantity.Fixed(100*prepared.Kilograms()/taken.Kilograms(), 1)))
		}
		if cost := e.costPrepared(r); cost != "" {
			notes = append(notes, cost)
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{capital(r.Variety), a}, text(e.massText(weight.Kilograms())), text(brix)}, Note: strings.Join(notes, "; ")})
	}
	if slices.Reverse(t.Rows); !onHand {
		t.Rows = t.Rows[:min(len(t.Rows), latestDeliveries)]
	}
	return t
}

// costPrepared is what a lot costs by the weight that came out of preparation.
func (e *Engine) costPrepared(r *book.RawLot) string {
	taken, prepared := r.Preparation()
	if r.Price.IsNone() || r.Net <= 0 {
		return ""
	}
	share := 1.0
	if taken > 0 && prepared > 0 {
		share = prepared.Kilograms() / taken.Kilograms()
	}
	return e.costText(quantity.Figure{Value: r.Price.Float() / r.Net.Kilograms() / share, Unit: r.Price.Unit()})
}

// priced shows what a price comes to by the kilogram, prepared if it was, or by
// the piece.
func (e *Engine) priced(b *book.PriceNoted) *result {
	s := e.book.State()
	out := &result{Label: "What it costs", Beside: []pair{}, Steps: quantity.Working{}}
	if r := s.RawLot(b.Lot); r != nil {
		with := *r
		with.Price = b.Price
		cost := e.costPrepared(&with)
		if cost == "" {
			return nil
		}
		out.Figure, out.Unit, _ = strings.Cut(cost, " ")
		if taken, prepared := r.Preparation(); taken > 0 && prepared > 0 {
			out.Says = []string{"By what came out of preparation."}
		}
		out.Steps.Add(b.Price.String()+" for "+e.massText(r.Net.Kilograms()), cost)
		return out
	}
	g := s.GoodsLot(b.Lot)
	if g == nil || g.Received <= 0 || b.Price.IsNone() {
		return nil
	}
	per, of := float64(g.Received), " a piece"
	switch g.Measured {
	case book.ByWeight:
		per, of = book.Mass(g.Received).Kilograms(), " a kg"
	case book.ByVolume:
		per, of = book.Millilitres(g.Received).Litres(), " a L"
	}
	out.Figure, out.Unit = quantity.Fixed(b.Price.Float()/per, 3), b.Price.Unit().Symbol()+of
	out.Steps.Add(b.Price.String()+" for "+g.Measured.Show(g.Received), out.Figure+" "+out.Unit)
	return out
}

// costText is a price of a kilogram, by the pound too where people buy so.
func (e *Engine) costText(perKg quantity.Figure) string {
	out := perKg.Text(2) + " a kg"
	if !e.metric() {
		perKg.Value = perKg.Value / quantity.MustParse("1", quantity.Kilogram).In(quantity.Pound)
		out += ", " + perKg.Text(2) + " a lb"
	}
	return out
}

// massText and litresText are a weight and a volume as the book's convention
// has them.
func (e *Engine) massText(kg float64) string {
	f := quantity.Figure{Value: kg, Unit: quantity.Kilogram}
	if !e.metric() {
		f = f.In(quantity.Pound)
	}
	return places(f)
}

func (e *Engine) litresText(l float64) string {
	f := quantity.Figure{Value: l, Unit: quantity.Litre}
	if !e.metric() {
		f = f.In(quantity.Gallon)
	}
	return places(f)
}

// places shows a figure to three digits, as a scale or a dip stick would.
func places(f quantity.Figure) string {
	p := int32(0)
	for limit := 100.0; p < 3 && max(f.Value, -f.Value) < limit*0.9995; limit /= 10 {
		p++
	}
	return f.Text(p)
}

// pureText is litres of pure alcohol in the unit of alcoholLabel.
func (e *Engine) pureText(litres float64) string {
	if e.metric() {
		return quantity.Fixed(litres, 1)
	}
	return quantity.Fixed(litres/book.Steps(1).LitresPureAlcohol(), 1)
}

// called lists words of people and of languages of the trade for a material
// whose published name is another.
var called = map[string]string{"molasses": "cane molasses", "barley": "malted barley", "malt": "malted barley", "corn": "maize", "blackcurrant": "black currant",
	"redcurrant": "red currant", "cherry": "sweet cherry", "panela": "raw sugar", "sugar": "raw sugar", "marc": "grape marc", "pomace": "apple pomace"}

// material finds the published material that a variety is of: 'Cider apples'
// is apple. The longest name counts, so that 'sour cherries' is no sweet one.
func material(variety string) (must.Material, bool) {
	words := " "
	for _, w := range strings.FieldsFunc(strings.ToLower(variety), func(r rune) bool { return r == ' ' || r == ',' || r == '-' || r == '(' || r == ')' }) {
		switch {
		case strings.HasSuffix(w, "ies"):
			w = w[:len(w)-3] + "y"
		case strings.HasSuffix(w, "ches"):
			w = w[:len(w)-2]
		case strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss"):
			w = w[:len(w)-1]
		}
		words += w + " "
	}
	words = strings.ReplaceAll(words, " molasse ", " molasses ")
	var best must.Material
	length := 0
	try := func(word, name string) {
		if m, ok := must.MaterialNamed(name); ok && len(word) > length && strings.Contains(words, " "+word+" ") {
			best, length = m, len(word)
		}
	}
	for _, m := range must.Materials() {
		try(m.Name, m.Name)
	}
	for word, name := range called {
		try(word, name)
	}
	return best, length > 0
}

// sample is a reading of sugar as the formulas take it: with the correction and
// the doubt of its instrument. A Brix of an unnamed instrument is a
// refractometer's before there is alcohol, and a hydrometer's after.
func (e *Engine) sample(sugar, temp quantity.Reading, instrument book.Address, fermenting bool) must.Sample {
	s := must.Sample{Reading: sugar, Temp: temp, Instrument: must.Hydrometer, Fermenting: fermenting}
	i := e.instrument(instrument)
	switch {
	case i == nil && !fermenting && sugar.Unit() == quantity.Brix, i != nil && i.Type == "refractometer":
		s.Instrument = must.Refractometer
	case i != nil && i.Basis != "":
		if r, err := quantity.Parse(i.Basis, quantity.Celsius); err == nil {
			s.Calibration = r
		}
	}
	if i != nil {
		if !i.Correction.IsNone() && i.Correction.Unit() == sugar.Unit() {
			s.Reading = quantity.FromDecimal(sugar.Decimal().Add(i.Correction.Decimal()), sugar.Unit())
		}
		if half := i.Half(); !half.IsNone() && half.Unit() == sugar.Unit() && !sugar.HasHalfWidth() {
			s.Reading = s.Reading.WithHalfWidth(half)
		}
	}
	return s
}

// netOf is what the scale says of the stuff itself, none while it cannot be
// said.
func netOf(w *book.Weighing) quantity.Reading {
	if !w.Net.IsNone() {
		return w.Net
	}
	kg := func(r quantity.Reading) float64 {
		if r.IsNone() || r.Unit().Dimension() != quantity.Mass {
			return 0
		}
		return r.In(quantity.Kilogram)
	}
	net := kg(w.Gross) - kg(w.Tare) - float64(w.Crates)*kg(w.CrateTare)
	if net <= 0 {
		return quantity.Reading{}
	}
	return quantity.FromDecimal(quantity.Snap(net).Round(3), quantity.Kilogram)
}

// delivered shows what a delivery can become while it stands on the scale.
func (e *Engine) delivered(b *book.DeliveryReceived) *result {
	net := netOf(&b.Weighing)
	if net.IsNone() || net.Unit().Dimension() != quantity.Mass || net.Base() <= 0 {
		return nil
	}
	weighed := &result{Label: "Net weight", Figure: net.Digits(), Unit: net.Unit().Label(), Beside: []pair{}, Steps: quantity.Working{}}
	m, known := material(b.Variety)
	if !known || b.Material == book.Botanicals {
		if b.Variety != "" && b.Material != book.Botanicals {
			weighed.Says = []string{"No published yield is at hand for ‘" + b.Variety + "’: name the fruit or grain itself, such as quince or rye, to see what it can give."}
		}
		return weighed
	}
	d := must.Delivery{Material: m.Name, Net: net, Price: b.Price}
	var says []string
	if m.Fruit() {
		for _, s := range b.Samples {
			c, err := must.Correct(e.sample(s.Sugar, s.Temp, s.Instrument, false))
			if err != nil {
				says = append(says, "A Brix sample is left out: "+firstSentence(err))
				continue
			}
			d.Samples = append(d.Samples, c.Extract.Reading(6))
		}
	}
	free := e.freeFermenters()
	for _, v := range free {
		d.Fermenters = append(d.Fermenters, v.Capacity)
	}
	r, err := must.Receive(d)
	if err != nil {
		weighed.Says = append(says, firstSentence(err))
		return weighed
	}
	out := e.expected(&r.Expectation)
	out.Steps = r.Working()
	out.Beside = append([]pair{{"net weight", e.massText(r.Net.Value)}}, out.Beside...)
	if len(d.Samples) > 0 {
		brix := r.Brix.Text(1)
		if len(d.Samples) > 1 {
			brix = "mean " + brix + ", spread " + r.Spread.Text(1)
		}
		out.Beside = append(out.Beside, pair{"juice at 20 °C", brix})
	}
	if !b.Price.IsNone() {
		out.Beside = append(out.Beside, pair{"cost", e.costText(r.CostPerKg)})
	}
	if m.Fruit() {
		out.Beside = append(out.Beside, pair{"mash", e.litresText(r.Mash.Value)})
		out.Says = append(out.Says, e.placing(&r, m, len(free)))
		if len(d.Samples) == 0 {
			out.Says = append(out.Says, "Without a Brix sample this is the usual yield: read the juice of several crates.")
		}
	}
	if !b.PH.IsNone() && b.PH.Unit() == quantity.PH && m.PH.High > 0 {
		if x := b.PH.Float(); x < m.PH.Low || x > m.PH.High {
			out.Says = append(out.Says, fmt.Sprintf("pH %s is outside what is usual for %s, %s to %s: calibrate the meter and read again.", b.PH.Digits(), m.Name, quantity.Fixed(m.PH.Low, 1), quantity.Fixed(m.PH.High, 1)))
		}
	}
	out.Says = append(out.Says, says...)
	out.Method = "Reckoned as " + m.Name + ". The range is that of the published yields below, each with its source."
	return out
}

// expected shows the alcohol a batch can give, with its range.
func (e *Engine) expected(x *must.Expectation) *result {
	out := &result{Label: "Alcohol to expect, " + strings.ToLower(e.alcoholLabel()), Figure: e.pureText(x.PureAlcohol.Value), Unit: "PG", Steps: x.Working(),
		Beside: []pair{{"range", e.pureText(x.Low.Value) + " to " + e.pureText(x.High.Value)}}}
	if e.metric() {
		out.Label, out.Unit = "Pure alcohol to expect", "L"
	} else {
		out.Beside = append(out.Beside, pair{"pure alcohol", quantity.Fixed(x.PureAlcohol.Value, 1) + " L"})
	}
	if x.Sugar.Value > 0 {
		out.Beside = append(out.Beside, pair{"sugar in", e.massText(x.Sugar.Value)})
	}
	return out
}

// placing says at the gate whether the free fermenters take a delivery.
func (e *Engine) placing(r *must.Receipt, m must.Material, free int) string {
	full := quantity.Fixed(100*m.Fill(), 0) + " % full"
	switch {
	case free == 0:
		return "Too big: no fermenter is free for its " + e.litresText(r.Mash.Value) + " of mash."
	case r.Unplaced.Value > 0:
		return fmt.Sprintf("Too big for the fermenters that are free: all %d together, %s, leave %s of mash without a place.", free, full, e.litresText(r.Unplaced.Value))
	case r.Fermenters == 1:
		return fmt.Sprintf("Fills one fermenter of the %d that are free, %s.", free, full)
	}
	return fmt.Sprintf("Fills %d fermenters of the %d that are free, %s.", r.Fermenters, free, full)
}

// freeFermenters are the empty vessels that mash may go into.
func (e *Engine) freeFermenters() []*book.Vessel {
	var out []*book.Vessel
	for _, v := range e.book.State().Vessels {
		if forMash(v) && v.Content.Empty() {
			out = append(out, v)
		}
	}
	return out
}

// prepared shows the yield of a preparation.
func (e *Engine) prepared(b *book.MaterialPrepared) *result {
	r := e.book.State().RawLot(b.Lot)
	if r == nil || b.Prepared.IsNone() {
		return nil
	}
	taken := r.OnHand.Kilograms()
	if !b.Taken.IsNone() {
		taken = b.Taken.Base()
	}
	if taken <= 0 {
		return nil
	}
	part := func(q quantity.Reading) float64 {
		if q.IsNone() {
			return 0
		}
		return q.Base()
	}
	told := part(b.Prepared) + part(b.Culls) + part(b.Pits) + part(b.Peel)
	yield := quantity.Fixed(100*b.Prepared.Base()/taken, 1)
	out := &result{Label: "Yield of preparation", Figure: yield, Unit: "%", Beside: []pair{{"taken in hand", e.massText(taken)}, {"not accounted for", e.massText(taken - told)}}}
	out.Steps.Add("prepared "+b.Prepared.String()+" of "+e.massText(taken), yield+" %")
	if !r.Price.IsNone() {
		cost := quantity.Figure{Value: r.Price.Float() / r.Net.Kilograms() * taken / b.Prepared.Base(), Unit: r.Price.Unit()}
		out.Beside = append(out.Beside, pair{"cost prepared", e.costText(cost)})
		out.Steps.Add(r.Price.String()+" for "+e.massText(r.Net.Kilograms())+", over that yield", e.costText(cost))
	}
	if gap := (taken - told) / taken; gap > 0.05 {
		out.Says = append(out.Says, "More than a twentieth is in neither pile: weigh the culls too, or say how much was taken in hand.")
	}
	return out
}

// firstSentence is the first of an error's faults as a sentence.
func firstSentence(err error) string {
	var list fault.List
	list.Add("", err)
	if list[0].Code == fault.Missing {
		list[0].Value = "" // what is there is not what is missing
	}
	return sentence(list[0])
}
