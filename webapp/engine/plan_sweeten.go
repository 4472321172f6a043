package engine

import (
	"fmt"

	"gaugebook/calc/book"
	"gaugebook/calc/cask"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

type sweetenView struct {
	Vessel  book.Address `json:"vessel"`
	Choices []choice     `json:"choices"`
	Blocks  []block      `json:"blocks"`
}

// sweeten is the vessel in which something steeps or is sweetened: which of its
// strengths is the legal one, and why.
func (e *Engine) sweeten(wanted book.Address) sweetenView {
	out := sweetenView{Choices: e.picked(e.choices(book.AVessel), holdsSpirit), Blocks: []block{}}
	steeping := &table{Title: "What steeps", Rows: []row{}, Columns: []column{{Label: "Vessel"}, {Label: "Since"}, {Label: "Drain on"}}}
	for a, v := range e.book.State().Vessels {
		if v.Infused.Entry != "" && !v.Content.Empty() {
			steeping.Rows = append(steeping.Rows, row{Cells: []cell{{v.Name, v.Infused.Entry}, text(v.Infused.Begun.Day()), text(string(v.Infused.Until))}, Note: e.massText(v.Infused.Weight.Kilograms()) + " in " + e.volumeText(&v.Content)})
		}
		if a == wanted && !v.Content.Empty() && v.Content.Material.Accounted() {
			out.Vessel = a
		}
	}
	if out.Vessel != "" {
		out.Blocks = append(out.Blocks, block{Facts: e.whichStrength(e.book.State().Vessel(out.Vessel))})
	}
	if len(steeping.Rows) > 0 {
		out.Blocks = append(out.Blocks, block{Table: steeping})
	}
	return out
}

// changedSince reports whether something came into a vessel after a day's
// reading was taken, so that the reading no longer speaks of what is in it.
func (e *Engine) changedSince(v *book.Vessel, on book.Moment) bool {
	for i := len(v.History) - 1; i >= 0; i-- {
		entry := e.book.Entry(v.History[i])
		if entry == nil {
			continue
		}
		body, happened, void, _ := e.book.Effective(entry)
		if void {
			continue
		}
		if !on.Before(happened) {
			return false
		}
		switch b := body.(type) {
		case *book.SpiritMoved:
			if b.To == v.Address {
				return true
			}
		case *book.WaterAdded, *book.SugarAdded, *book.InfusionBegun, *book.InfusionDrained, *book.SpiritReceived, *book.GainRecorded, *book.ReceiverGauged, *book.SpiritFiltered:
			return true
		}
	}
	return false
}

// whichStrength lists what is known of a vessel's strength, the legal one first.
func (e *Engine) whichStrength(v *book.Vessel) *facts {
	f := &facts{Title: v.Name + ": which strength counts", Lines: []pair{}}
	legal := ""
	add := func(strength, how, why string, lawful bool) {
		label := "Estimate"
		if lawful {
			label = "Not needed"
			if legal == "" {
				legal, label = how, "Legal-grade"
			}
		}
		f.Lines = append(f.Lines, pair{label, strength + ", " + how + ". " + why})
	}
	results := e.book.State().Results()
	for i := len(results) - 1; i >= 0; i-- {
		if r := &results[i]; r.Vessel == v.Address && !r.Strength.IsNone() && !e.changedSince(v, r.On) {
			add(r.Strength.String(), "by a laboratory, "+r.On.Day(), "It distils the sample, so that nothing dissolved hides its strength.", true)
			break
		}
	}
	c, found := &v.Content, &v.Found
	measured := found.Entry != "" && !e.changedSince(v, found.On)
	if measured && !found.True.IsNone() {
		add(found.True.String(), "by "+found.Way+", "+found.On.Day(), "Found without what is dissolved in it (27 CFR 30.32).", found.Way != "evaporation")
	}
	if measured && !found.Solids.IsNone() {
		if o, apparent, ok := e.obscured(found.Entry); ok {
			figure := o.Rounded.StringFixed(1) + " proof"
			if e.metric() {
				if s, err := spirit.FromProof(o.TrueProof.Value); err == nil {
					figure = abvText(s) + " % vol"
				}
			}
			add(figure, "by evaporation, "+found.On.Day(), fmt.Sprintf("The hydrometer's %s with the obscuration of %s: %s.", apparent, o.Solids.Text(3), o.Rule), o.Lawful && c.Solids == 0)
		}
	}
	gauged := v.Gauge.Entry != "" && !e.changedSince(v, v.Gauge.On)
	switch {
	case gauged && c.Solids == 0 && !(measured && found.Solids.In(quantity.GramPer100ML) > 0.4):
		add(v.Gauge.Shown.String(), "by the gauge of "+v.Gauge.On.Day(), "Nothing was put in that a hydrometer could not see through; up to 0.4 g in 100 mL need no correction (27 CFR 30.32).", true)
	case gauged:
		add(v.Gauge.Shown.String(), "as the gauge of "+v.Gauge.On.Day()+" has it", "What is dissolved hides strength from a hydrometer, unless the strength itself was found by distillation.", false)
	}
	balance := "From the alcohol and the mass that went in; no reading of this spirit."
	if c.Solids > 0 {
		balance = fmt.Sprintf("By mass and volume balance with %s of sugar in a litre.", gramsText(c))
	}
	add(e.strongText(c), "by the book's balance", balance, false)
	if legal == "" {
		f.Lines = append([]pair{{"Legal-grade", "None yet. " + e.wantedGauge(c)}}, f.Lines...)
	}
	return f
}

func gramsText(c *book.Content) string {
	return quantity.Fixed(c.Solids.Kilograms()/c.Litres20()*1e3, 1) + " g"
}

// wantedGauge says what would give the legal strength.
func (e *Engine) wantedGauge(c *book.Content) string {
	if c.Solids > 0 {
		return "Sweetened spirit is distilled for it: 100 mL with 50 mL of water, 95 mL and more collected, made up to 100 mL at 20 °C and read (27 CFR 30.32; the amounts are common practice)."
	}
	return "Gauge the vessel; after fruit, herbs or wood measure the solids first."
}

// obscured is what the solids that an entry measured do to its hydrometer
// reading.
func (e *Engine) obscured(a book.Address) (o spirit.Obscured, apparent quantity.Reading, ok bool) {
	entry := e.book.Entry(a)
	if entry == nil {
		return o, apparent, false
	}
	body, _, _, _ := e.book.Effective(entry)
	b, is := body.(*book.SolidsMeasured)
	if !is || b.Apparent.IsNone() {
		return o, apparent, false
	}
	o, err := spirit.Obscure(spirit.Extract{Solids: b.Solids, Residue: b.Residue, Sample: b.Sample, Apparent: b.Apparent})
	return o, b.Apparent, err == nil
}

// steeped shows what fruit does to the spirit it is laid into.
func (e *Engine) steeped(b *book.InfusionBegun) *result {
	v := e.book.State().Vessel(b.Vessel)
	if v == nil || v.Content.Empty() || !v.Content.Material.Accounted() || v.Content.Solids > 0 {
		return nil
	}
	fruit, dry := 0.0, 0.0
	for _, p := range b.Parts {
		if p.Weight.IsNone() {
			continue
		}
		if r := e.book.State().RawLot(p.Lot); r != nil && r.Material == book.Botanicals {
			dry += p.Weight.In(quantity.Kilogram)
			continue
		}
		fruit += p.Weight.In(quantity.Kilogram)
	}
	c := &v.Content
	if fruit == 0 && dry == 0 {
		return nil
	}
	before := e.strengthOf(c)
	if fruit == 0 {
		return &result{Label: "Strength", Figure: quantity.Fixed(before.Float(), 1), Unit: before.Unit().Label(), Steps: quantity.Working{},
			Beside: []pair{{"stays behind in the herbs", e.litresText(dry) + " to " + e.litresText(2*dry)}}, Says: []string{"Dry herbs, peel and spice bring next to no water, and keep 1 to 2 L a kilogram (common practice, no source)."}}
	}
	m, err := cask.Macerate(cask.Maceration{Spirit: e.atBase(c).Reading(6), Strength: e.inUnit(c), Fruit: quantity.FromDecimal(quantity.Snap(fruit), quantity.Kilogram)})
	if err != nil {
		return nil
	}
	out := &result{Label: "Strength at the end", Figure: quantity.Fixed(m.Strength.Value, 1), Unit: m.Strength.Unit.Label(), Steps: m.Working(), Method: "Mass balance; fruit is taken to hold 85 % of water and to drain 70 to 85 % (common practice, no source).",
		Beside: []pair{{"now", e.strongText(c)}, {"liquid in all", hundredths(m.Liquid)}, {"runs off", quantity.Fixed(m.DrainedLow.Value, 1) + " to " + hundredths(m.DrainedTop)}, {"pure alcohol left in the fruit", quantity.Fixed(m.LeftLow.Value, 2) + " to " + hundredths(m.LeftTop)}}}
	if m.Advice != "" {
		out.Says = append(out.Says, m.Advice)
	}
	if litres := m.Liquid.In(quantity.Litre).Value + fruit*0.2; litres > v.Capacity.Base() {
		out.Says = append(out.Says, v.Name+" takes "+e.litresText(v.Capacity.Base())+": with the fruit this is more.")
	}
	return out
}

// inUnit is the strength of plain spirit as the convention's unit has it.
func (e *Engine) inUnit(c *book.Content) quantity.Reading {
	if e.metric() {
		return strengthReading(c.Strength())
	}
	return quantity.FromDecimal(quantity.Snap(c.Strength().Proof()).Round(6), quantity.Proof)
}

// drained shows what ran off, and what stayed in the fruit.
func (e *Engine) drained(b *book.InfusionDrained) *result {
	out := e.gauged(&b.Gauge, b.Vessel)
	v := e.book.State().Vessel(b.Vessel)
	if out == nil || v == nil || v.Content.Empty() {
		return out
	}
	g, _, faults := b.Measure(e.book.State(), v)
	if len(faults) > 0 {
		return out
	}
	c := &v.Content
	litres := g.Figures.Volume20C.Value
	out.Beside = append(out.Beside, pair{"of the spirit put in, by volume", quantity.Fixed(100*litres/c.Litres20(), 1) + " %"})
	if m, err := cask.Macerate(cask.Maceration{Spirit: e.atBase(c).Reading(6), Strength: e.inUnit(c), Fruit: massReading(v.Infused.Weight)}); err == nil && c.Solids == 0 {
		all := m.Liquid.In(quantity.Litre).Value
		out.Beside = append(out.Beside, pair{"of all liquid, with the fruit's water", quantity.Fixed(100*litres/all, 1) + " % drained"}, pair{"strength expected", m.Strength.Text(1)})
		out.Steps.Add("the spirit and the water of "+e.massText(v.Infused.Weight.Kilograms())+" of fruit, at 85 %", hundredths(m.Liquid))
	}
	if !b.Fruit.IsNone() && v.Infused.Weight > 0 {
		took := b.Fruit.In(quantity.Kilogram) - v.Infused.Weight.Kilograms()
		word := "the fruit took up"
		if took < 0 {
			took, word = -took, "the fruit gave off"
		}
		out.Beside = append(out.Beside, pair{word, e.massText(took)})
	}
	left := c.Alcohol - g.Alcohol
	out.Beside = append(out.Beside, pair{"alcohol left in the fruit", e.alcoholWithUnit(left)})
	if left < 0 {
		out.Says = append(out.Says, "More alcohol ran off than went in: read it again, or gauge the spirit before the next infusion.")
	}
	if b.Solids.IsNone() {
		out.Says = append(out.Says, "Fruit's sugar hides strength from the hydrometer: measure the solids, or have a sample distilled.")
	}
	return out
}

func massReading(m book.Mass) quantity.Reading {
	return quantity.FromDecimal(quantity.Snap(m.Kilograms()), quantity.Kilogram)
}

// sugared shows what sugar makes of a spirit.
func (e *Engine) sugared(b *book.SugarAdded) *result {
	v := e.book.State().Vessel(b.Vessel)
	if v == nil || v.Content.Empty() || !v.Content.Material.Accounted() || b.Weight.IsNone() {
		return nil
	}
	share := 1.0
	if !b.Solids.IsNone() {
		share = b.Solids.Float() / 100
	}
	before := v.Content
	c := before
	kg := b.Weight.In(quantity.Kilogram)
	c.Mass += book.Mass(kg * 1e6)
	c.Solids += book.Mass(kg * share * 1e6)
	litres := c.Litres20()
	grams := c.Solids.Kilograms() / litres * 1e3
	density := c.Mass.Kilograms() / litres * 1e3
	strength := e.strengthOf(&c)
	out := &result{Label: "Strength, by balance", Figure: quantity.Fixed(strength.Float(), 1), Unit: strength.Unit().Label(), Method: "Mass and apparent volume of the sugar, 0.620 L/kg (common practice, from 25 to 40 % vol and up to 300 g/L).", Beside: []pair{
		{"before", e.strongText(&before)}, {"volume", e.litresText(litres)}, {"sugar", quantity.Fixed(grams, 1) + " g/L"}, {"sugar by weight", quantity.Fixed(100*float64(c.Solids)/float64(c.Mass), 1) + " %"}, {"density at 20 °C", quantity.Fixed(density/1000, 4) + " kg/L"}}}
	if s, err := spirit.FromDensity(spirit.Density(density), 20); err == nil {
		out.Beside = append(out.Beside, pair{"a hydrometer would show", e.strengthText(s)})
	}
	out.Steps.Add("spirit and water, "+quantity.Fixed((c.Mass-c.Solids).Kilograms(), 3)+" kg, and "+quantity.Fixed(c.Solids.Kilograms(), 3)+" kg of sugar at 0.620 L/kg: the volume at 20 °C", quantity.Fixed(litres, 2)+" L")
	out.Steps.Add("the pure alcohol, "+quantity.Fixed(c.Alcohol.LitresPureAlcohol(), 3)+" L, in that volume", quantity.Fixed(c.ABV(), 2)+" % vol")
	out.Steps.Add("the sugar in that volume", quantity.Fixed(grams, 1)+" g/L")
	switch invert := grams * 1.053; {
	case e.metric() && invert < 100:
		out.Says = append(out.Says, "A liqueur has 100 g/L and more, as invert sugar; this is "+quantity.Fixed(invert, 0)+" (Regulation (EU) 2019/787, from memory).")
	case !e.metric() && float64(c.Solids)/float64(c.Mass) < 0.025:
		out.Says = append(out.Says, "A cordial or liqueur has 2.5 % of sugar by weight and more (27 CFR part 5, from memory).")
	}
	out.Says = append(out.Says, "An estimate: only a distilled sample tells the legal strength.")
	if litres > v.Capacity.Base() {
		out.Says = append(out.Says, v.Name+" takes "+e.litresText(v.Capacity.Base())+": this is more.")
	}
	return out
}

// dissolved shows what measured solids hide, and what the rule asks for.
func (e *Engine) dissolved(b *book.SolidsMeasured) *result {
	if !b.Strength.IsNone() {
		out := &result{Label: "True strength, by " + b.Way, Figure: b.Strength.Digits(), Unit: b.Strength.Unit().Label(), Beside: []pair{}, Steps: quantity.Working{},
			Says: []string{"Legal-grade: found without what is dissolved in it (27 CFR 30.32)."}}
		if b.Way == "evaporation" || b.Way == "" {
			out.Says[0] = "A strength is found by distillation or pycnometer; by evaporation it is added to the hydrometer's."
		}
		if found := solidsOf(b); !found.IsNone() {
			out.Beside = append(out.Beside, pair{"dissolved solids", found.String()})
		}
		return out
	}
	o, err := spirit.Obscure(spirit.Extract{Solids: b.Solids, Residue: b.Residue, Sample: b.Sample, Apparent: b.Apparent})
	if err != nil {
		if found := solidsOf(b); !found.IsNone() {
			return &result{Label: "Dissolved solids", Figure: found.Digits(), Unit: found.Unit().Label(), Beside: []pair{}, Steps: quantity.Working{}, Says: []string{"With the strength by hydrometer the true one follows."}}
		}
		return nil
	}
	v := e.book.State().Vessel(b.Vessel)
	sugared := v != nil && v.Content.Solids > 0
	out := &result{Label: "True proof", Figure: o.Rounded.StringFixed(1), Unit: "proof", Steps: o.Working(), Beside: []pair{{"dissolved solids", o.Solids.Text(3)}, {"obscuration", o.Obscuration.Text(1)}}}
	if s, err := spirit.FromProof(o.TrueProof.Value); err == nil {
		if e.metric() {
			out.Label, out.Figure, out.Unit = "True strength", abvText(s), "% vol"
			out.Beside = append(out.Beside, pair{"proof", o.Rounded.StringFixed(1)})
		} else {
			out.Beside = append(out.Beside, pair{"at 20 °C", abvText(s) + " % vol"})
		}
	}
	word := "An estimate: "
	if o.Lawful && !sugared {
		word = "Legal-grade: "
	}
	out.Says = []string{word + string(o.Rule) + "."}
	if sugared {
		out.Says = append(out.Says, "The constant of that rule is wood's. Sugar hides a fifth more:")
		if u, err := spirit.UnderSugar(spirit.Sweetened{Apparent: b.Apparent, Sugar: quantity.FromDecimal(quantity.Snap(o.Solids.Value*10).Round(4), quantity.GramPerLitre)}); err == nil {
			out.Says[1] += " with it, " + u.ABV20.Text(1) + "."
		}
	}
	return out
}

// solidsOf is what a measurement found in g/100 mL.
func solidsOf(b *book.SolidsMeasured) quantity.Reading {
	if b.Residue.IsNone() || b.Sample.IsNone() || b.Sample.Float() <= 0 {
		return b.Solids
	}
	return quantity.FromDecimal(quantity.Snap(b.Residue.In(quantity.Gram)/b.Sample.In(quantity.Millilitre)*100).Round(3), quantity.GramPer100ML)
}

// filtered shows what stayed behind in a filter.
func (e *Engine) filtered(b *book.SpiritFiltered) *result {
	out := e.gauged(&b.Gauge, b.Vessel)
	v := e.book.State().Vessel(b.Vessel)
	if out == nil || v == nil || v.Content.Empty() {
		return out
	}
	g, _, faults := b.Measure(e.book.State(), v)
	if len(faults) > 0 {
		return out
	}
	c := &v.Content
	lost := c.Alcohol - g.Alcohol
	rinse := 0.0
	if !b.Rinse.IsNone() {
		rinse = b.Rinse.Base()
	}
	litres := c.Litres20() + rinse - g.Figures.Volume20C.Value
	out.Label, out.Figure = "Stayed in the filter", e.alcoholText(lost)
	if e.metric() {
		out.Unit = "L of pure alcohol"
	}
	through := pair{"came through", e.alcoholWithUnit(g.Alcohol)}
	out.Beside = append([]pair{through, {"of what it held", quantity.Fixed(100*float64(lost)/float64(max(c.Alcohol, 1)), 2) + " %"}, {"by volume, rinse counted", e.litresText(max(0, litres))}}, out.Beside...)
	out.Steps.Add("what "+v.Name+" held, by the book", e.alcoholWithUnit(c.Alcohol))
	out.Steps.Add("less what came through", e.alcoholWithUnit(g.Alcohol))
	out.Steps.Add("its volume before, "+quantity.Fixed(c.Litres20(), 2)+" L, and "+quantity.Fixed(rinse, 2)+" L of rinse, less what came through, all at 20 °C", quantity.Fixed(litres, 2)+" L")
	switch {
	case lost < 0:
		out.Says = append(out.Says, "More came through than it held: read it again, or gauge the vessel before the next filtering.")
	case rinse > 0:
		out.Says = append(out.Says, "The rinse carries no alcohol: the loss is the difference in alcohol, and the strength is lower by the water.")
	default:
		out.Says = append(out.Says, "A batch leaves 0.5 to 2 L in the filter, and what the sheets soak up (common practice, no source). Rinse water pushed after it brings most of that out.")
	}
	if b.Chill.IsNone() && c.ABV() < 46 {
		out.Says = append(out.Says, "Below 46 % vol esters and oils cloud in the cold: chill it to −2 to +4 °C for 12 to 72 h and filter it cold (common practice, no source).")
	}
	return out
}
