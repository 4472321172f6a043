package book

import (
	"fmt"
	"math"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

var storeKinds = []*Kind{
	describe[SpiritReceived]("spirit received", SpiritStore, ALot,
		"Spirit that was not made from this book's runs: in bond from elsewhere, or on hand when the book was opened.", "The vessel.", "A lot begins; its alcohol is received into an account."),
	describe[SpiritGauged]("spirit gauged", SpiritStore, "",
		"A tank or barrel was measured.", "The vessel.", "The gauge stands beside the book's figure. If a cause is given the difference is booked to it; if not and it is larger than the measuring error, the book asks."),
	describe[SpiritMoved]("spirit moved", SpiritStore, "",
		"Spirit went from one vessel to another: a move, a blend, the filling or dumping of a barrel.", "Both vessels.", "Mass, alcohol and shares go over; the account may change."),
	describe[WaterAdded]("water added", SpiritStore, "",
		"Spirit was reduced with water.", "The vessel.", "Its mass grows; its alcohol does not."),
	describe[LossRecorded]("loss recorded", SpiritStore, "",
		"Spirit is gone, and this says how much and why.", "The vessel.", "The alcohol goes to losses."),
	describe[GainRecorded]("gain recorded", SpiritStore, "",
		"A vessel holds more than the book says, and nothing explains it.", "The vessel.", "The alcohol comes from gains."),
	describe[SampleTaken]("sample taken", SpiritStore, "",
		"A sample was taken for the laboratory, for tasting or to be kept.", "The vessel.", "The alcohol goes to research and samples."),
	describe[SpiritDestroyed]("spirit destroyed", SpiritStore, "",
		"Spirit was destroyed, with the manner and the witness (27 CFR 19.617).", "The vessel.", "The alcohol goes to destroyed."),
}

// The most and least a posting of one gauge can be: ten tank cars. A forged
// entry beyond it is a question, not an overflow.
const maxAlcohol = Alcohol(1e12)

// milligramsPerStep is the mass of ethanol in one step of Alcohol.
var milligramsPerStep = proofGallonKilograms * 1e6 / 1e4

// A proof gallon is half a wine gallon of ethanol at 60 °F (27 CFR 30.11): a
// fixed mass, and so a fixed volume of ethanol at 20 °C.
var (
	ethanol, _           = spirit.FromMassFraction(1)
	proofGallonKilograms = quantity.MustParse("0.5", quantity.Gallon).In(quantity.Litre) * float64(ethanol.DensityAt(spirit.At60F)) / 1e3
	litresPerProofGallon = proofGallonKilograms / float64(ethanol.DensityAt(20)) * 1e3
)

// sugarLitresPerKilogram is the apparent volume of dissolved sucrose in spirit
// of 25 to 40 % vol, up to 300 g/L (see package spirit, Liqueur).
const sugarLitresPerKilogram = 0.620

// Steps is an amount of alcohol in proof gallons as whole steps. It is the one
// place where a worked-out amount becomes an integer: to the nearest step,
// halves up, after float noise is taken off.
func Steps(proofGallons float64) Alcohol {
	return Alcohol(quantity.Snap(proofGallons * 1e4).Round(0).IntPart())
}

// ProofGallons is the amount in proof gallons, to show or to report.
func (a Alcohol) ProofGallons() float64 { return float64(a) / 1e4 }

// LitresPureAlcohol is the amount in litres of pure alcohol at 20 °C.
func (a Alcohol) LitresPureAlcohol() float64 {
	return a.ProofGallons() * litresPerProofGallon
}

// Kilograms of material.
func (m Mass) Kilograms() float64 { return float64(m) / 1e6 }

// Litres of material.
func (v Millilitres) Litres() float64 { return float64(v) / 1e3 }

func massOf(kg float64) Mass { return Mass(quantity.Snap(kg * 1e6).Round(0).IntPart()) }

// Strength is how strong an accounted content is, from its mass and alcohol; it
// is off for one that holds less than nothing.
func (c *Content) Strength() spirit.Strength {
	liquid := c.Mass - c.Solids
	if liquid <= 0 || c.Alcohol <= 0 {
		return spirit.Strength{}
	}
	s, err := spirit.FromMassFraction(spirit.MassFraction(math.Min(1, float64(c.Alcohol)*milligramsPerStep/float64(liquid))))
	if err != nil {
		return spirit.Strength{}
	}
	return s
}

// Litres20 is the volume of the content at 20 °C in litres.
func (c *Content) Litres20() float64 {
	if !c.Material.Accounted() {
		return c.Volume.Litres()
	}
	return (c.Mass-c.Solids).Kilograms()/float64(c.Strength().DensityAt(20))*1e3 + c.Solids.Kilograms()*sugarLitresPerKilogram
}

// strong is the strength of a content as a reading in the book's own scale.
func (s *State) strong(c *Content) quantity.Reading {
	if !c.Material.Accounted() || c.Alcohol <= 0 || c.Mass <= 0 {
		return quantity.Reading{}
	}
	strength := c.Strength()
	if c.Solids > 0 { // of the whole liquid, sugar and all
		strength, _ = spirit.FromABV20(min(100, c.Alcohol.LitresPureAlcohol()/c.Litres20()*100))
	}
	if s.Convention() == Metric {
		return quantity.FromDecimal(quantity.ABVToTenth(quantity.Snap(strength.ABV20())), quantity.ABV20)
	}
	return quantity.FromDecimal(quantity.ProofToTenth(quantity.Snap(strength.Proof())), quantity.Proof)
}

// measured works out the gauge of this entry; where it cannot be, it asks.
func (t *turn) measured(g *Gauge, known quantity.Reading, v *Vessel) (Gauged, bool) {
	out, faults := g.measure(t.state, known, v)
	if len(faults) > 0 {
		t.ask(Dangling, "Its gauge cannot be worked out: "+faults.Error(), nil)
		return Gauged{}, false
	}
	out.Entry, out.On = t.entry.address, t.now()
	t.state.gauges = append(t.state.gauges, GaugeLine{Vessel: v.Address, Gauged: out})
	return out, true
}

// A GaugeLine is one gauge for the gauge record (27 CFR 19.618).
type GaugeLine struct {
	Vessel Address
	Gauged
}

// Gauges lists every gauge in book order.
func (s *State) Gauges() []GaugeLine { return s.gauges }

// drawGauged takes what a gauge says out of a vessel, or all of it where the
// gauge says nothing, and asks where that is more than it holds.
func (t *turn) drawGauged(v *Vessel, g *Gauge) Content {
	m := v.Content.all()
	if !g.None() {
		m = t.amount(v, g)
	}
	if m.Alcohol < 0 || m.Volume < 0 { // of less than nothing, all is nothing
		m = Measure{}
	}
	return t.draw(v, m)
}

// amount is how much a gauge says leaves a vessel. Fermenting stuff goes by its
// volume; spirit by the gauge, at the vessel's strength unless it was measured.
func (t *turn) amount(v *Vessel, g *Gauge) Measure {
	if !v.Content.Material.Accounted() {
		if g.Volume.IsNone() {
			return v.Content.all()
		}
		return Measure{Volume: Millilitres(quantity.Snap(g.Volume.Base() * 1e3).Round(0).IntPart())}
	}
	out, ok := t.measured(g, t.state.strong(&v.Content), v)
	if !ok {
		return Measure{}
	}
	return g.taken(&v.Content, out)
}

// taken is what a gauge that was worked out takes of a content: at the content's
// own strength, unless it was measured.
func (g *Gauge) taken(c *Content, out Gauged) Measure {
	if g.Indicated.IsNone() && g.Strength.IsNone() && c.Mass > 0 {
		if c.Solids > 0 { // sugar takes room too: divide by volume, not by the mass of the spirit alone
			return c.fraction(Mass(portion(int64(c.Mass), int64(out.Figures.Volume20C.Value*1e3), int64(c.Litres20()*1e3))))
		}
		return c.fraction(out.Mass)
	}
	return out.Measure
}

// draw takes a measure out of a vessel, and asks where it does not hold it.
func (t *turn) draw(v *Vessel, m Measure) Content {
	held, over := v.Content, v.Content.overdrawn(m)
	out := v.Content.draw(m, t.now())
	if v.Content.Empty() {
		v.Reducing = Reducing{}
	}
	if over {
		more := t.state.Shown(m.Alcohol - held.Alcohol)
		if !held.Material.Accounted() {
			more = t.state.ShownVolume((m.Volume - held.Volume).Litres())
		}
		t.ask(Overdrawn, fmt.Sprintf("%s more were drawn from %s than the book says it held.", more, v.Name), nil, v.Address)
	}
	return out
}

// pour puts a content into a vessel; its time in the vessel's wood begins.
func (t *turn) pour(v *Vessel, in Content) {
	if !v.Content.Empty() && v.Content.Account != in.Account && in.Account != "" && v.Content.Account != "" {
		t.ask(Mixing, fmt.Sprintf("%s held spirit of the %s account, and spirit of the %s account came to it.", v.Name, v.Content.Account, in.Account), nil, v.Address)
		t.post(in.Account, v.Content.Account, "", in.Parts)
		in.Account = v.Content.Account
	}
	v.Content.pour(in, t.now())
	v.Content.Wooded = t.now().ms
	t.brim(v)
}

// brim asks where a vessel holds more than it takes.
func (t *turn) brim(v *Vessel) {
	if litres := v.Content.Litres20(); litres > v.Capacity.Base()*overFull {
		t.ask(OverFull, fmt.Sprintf("%s is said to hold %s, and it takes %s.", v.Name, t.state.ShownVolume(litres), v.Capacity), nil, v.Address)
	}
}

// SpiritReceived brings spirit into the book.
type SpiritReceived struct {
	Vessel Ref `key:"vessel,need" label:"Into" ref:"vessel"`
	Gauge
	Reason   string           `key:"reason,need" label:"How it came" words:"on hand at opening|in bond|bought in|returned"`
	From     string           `key:"from" label:"From whom"`
	Class    SpiritClass      `key:"class,need" label:"Class" words:"whisky|brandy|rum|gin|vodka|alcohol and neutral spirits|other"`
	Material Material         `key:"material" label:"What it is" words:"heads|hearts|tails|low wines|spirit" help:"Spirit, unless told otherwise."`
	Account  Account          `key:"account,need" label:"Entered in" words:"production|storage|processing"`
	Name     string           `key:"name" label:"Name of the lot"`
	Distil   quantity.Reading `key:"distilled_at" label:"Proof of distillation" unit:"proof|%" min:"0proof|0%" max:"200proof|100%"`
	Note     string           `key:"note" label:"Note"`
}

func (b *SpiritReceived) sound(f *faults) { b.soundMeasured(f) }

func (b *SpiritReceived) timely(s *State, f *faults) {
	v := s.Vessel(b.Vessel)
	if v == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
		return
	}
	g, faults := b.measure(s, quantity.Reading{}, v)
	f.list.Add("", faults.Err())
	s.fits(f, v, g)
}

func (b *SpiritReceived) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	g, ok := t.measured(&b.Gauge, quantity.Reading{}, v)
	if !ok {
		return
	}
	lot := Lot{Name: b.Name, Material: b.Material, Class: b.Class, Amount: int64(g.Alcohol)}
	if !lot.Material.Accounted() {
		lot.Material = Spirit
	}
	if at, err := spirit.StrengthOf(b.Distil); err == nil && !b.Distil.IsNone() {
		lot.Proof = at.Proof()
	}
	t.begin(lot)
	parts := []Part{{Lot: t.entry.address, Amount: int64(g.Alcohol)}}
	t.post(Received, b.Account, Cause(b.Reason), parts)
	t.pour(v, Content{Material: lot.Material, Account: b.Account, Mass: g.Mass, Alcohol: g.Alcohol, Parts: parts, Doubt: g.Doubt})
}

// SpiritGauged measures a vessel.
type SpiritGauged struct {
	Vessel Ref `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Gauge
	Cause Cause            `key:"cause" label:"Book the difference as" words:"evaporation|leak|spill|filtration|theft|measurement|unexplained" help:"Leave it empty to only compare."`
	Note  string           `key:"note" label:"Note"`
	Dip   quantity.Reading `key:"dip" label:"Dip" unit:"in|cm" min:"0cm" max:"2000cm" help:"Or the height in the sight glass: the tank's own table makes a volume of it."`
	Way   string           `key:"read_by" label:"Read by" words:"dip stick|sight glass|meter|scale"`
}

func (b *SpiritGauged) sound(f *faults) {
	if b.Dip.IsNone() {
		b.soundAmount(f)
		return
	}
	b.soundDip(f)
}

func (b *SpiritGauged) timely(s *State, f *faults) {
	v := s.Vessel(b.Vessel)
	if v == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
		return
	}
	measured, _, err := b.Measured(v)
	if err != nil {
		f.list.Add("dip", err)
		return
	}
	g, faults := measured.measure(s, s.strong(&v.Content), v)
	f.list.Add("", faults.Err())
	s.fits(f, v, g)
}

func (b *SpiritGauged) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	measured, _, err := b.Measured(v)
	if err != nil {
		t.ask(Dangling, "Its gauge cannot be worked out: "+err.Error(), nil, v.Address)
		return
	}
	if g, ok := t.measured(&measured, t.state.strong(&v.Content), v); ok {
		t.compare(v, g, b.Cause)
		t.gaugedAfter(v, g)
	}
}

// compare sets a gauge beside the book: booked to a cause, or asked about where
// the difference is larger than the measuring error of both.
func (t *turn) compare(v *Vessel, g Gauged, cause Cause) {
	v.Gauge = g
	diff := g.Alcohol - v.Content.Alcohol
	if cause != "" {
		t.settle(v, g, cause)
		return
	}
	if doubt := 2 * math.Hypot(g.Doubt, v.Content.Doubt); math.Abs(float64(diff)) > doubt+halfLegalStep {
		kind, word, body := "loss recorded", "less", Body(&LossRecorded{Vessel: v.Address, ToGauge: true, Cause: Unexplained})
		if diff > 0 {
			kind, word, body = "gain recorded", "more", &GainRecorded{Vessel: v.Address, ToGauge: true, Cause: Unexplained}
		}
		t.ask(GaugeDisagrees, fmt.Sprintf("%s holds %.1f proof gallons %s than the book says; the measuring error explains %.1f.",
			v.Name, math.Abs(diff.ProofGallons()), word, doubt/1e4), &Proposal{Kind: kind, Body: Encode(body)}, v.Address)
	}
}

// settle makes the book agree with a gauge and books the difference.
func (t *turn) settle(v *Vessel, g Gauged, cause Cause) { t.agree(&v.Content, g, cause) }

// agree makes a content what a gauge says and books the difference.
func (t *turn) agree(c *Content, g Gauged, cause Cause) {
	c.account(Storage)
	account := c.Account
	switch diff := g.Alcohol - c.Alcohol; {
	case diff < 0:
		gone := share(c.Parts, int64(-diff))
		t.post(account, Lost, cause, gone)
		c.Parts = addParts(c.Parts, gone, -1)
	case diff > 0:
		come := share(c.Parts, int64(diff))
		t.post(Gained, account, cause, come)
		c.Parts = addParts(c.Parts, come, 1)
	}
	c.Solids = Mass(portion(int64(c.Solids), int64(g.Alcohol), int64(max(c.Alcohol, g.Alcohol))))
	c.Mass, c.Alcohol, c.Doubt = g.Mass+c.Solids, g.Alcohol, g.Doubt
	if c.Empty() {
		*c = Content{}
	}
}

// SpiritMoved takes spirit from one vessel to another.
type SpiritMoved struct {
	From Ref `key:"from,need" label:"From" ref:"vessel"`
	To   Ref `key:"to,need" label:"To" ref:"vessel"`
	Gauge
	Account Account `key:"account" label:"Now in the account" words:"production|storage|processing" help:"Empty: it stays where it was."`
	Purpose string  `key:"purpose" label:"For" words:"move|blend|fill a barrel|dump|bottling|redistilling|deposit"`
	Note    string  `key:"note" label:"Note"`

	Lost   quantity.Reading `key:"lost" label:"Of it lost on the way" unit:"gal|L" min:"0L" max:"200000L" help:"What left the one vessel and did not come into the other."`
	LostAs Cause            `key:"lost_as" label:"Lost as" words:"spill|leak|evaporation|filtration|measurement|unexplained"`
}

func (b *SpiritMoved) sound(f *faults) {
	if b.From == b.To {
		f.add(fault.Conflict, "to", string(b.To), "is the vessel it came from", "choose another vessel")
	}
	if !b.None() {
		b.soundMoved(f)
	}
	if b.Lost.IsNone() && b.LostAs != "" {
		f.add(fault.Missing, "lost", "", "how much was lost is needed", "give the volume, or leave out why")
	}
	if !b.Volume.IsNone() && b.Lost.Base() > b.Volume.Base() {
		f.add(fault.TooHigh, "lost", b.Lost.String(), "is more than was moved, "+b.Volume.String(), "check both figures")
	}
}

// soundMoved is soundAmount, where the strength may be the vessel's own.
func (g *Gauge) soundMoved(f *faults) { g.soundAmount(f) }

func (b *SpiritMoved) timely(s *State, f *faults) {
	s.holds(f, "from", b.From)
	s.covers(f, b.From, &b.Gauge)
	to := s.Vessel(b.To)
	if to == nil {
		unknownRef(f, "to", b.To, "vessel")
	}
	if from := s.Vessel(b.From); from != nil && volumeOf(b.Lost).Litres() > from.Content.Litres20() {
		f.add(fault.TooHigh, "lost", b.Lost.String(), "is more than "+from.Name+" holds, "+s.ShownVolume(from.Content.Litres20()), "check the figure and its unit")
	}
}

// covers says that more is to be drawn from a vessel than it holds.
func (s *State) covers(f *faults, from Address, g *Gauge) {
	v := s.Vessel(from)
	if v == nil || v.Content.Empty() || g.None() {
		return
	}
	if !v.Content.Material.Accounted() {
		if !g.Volume.IsNone() && v.Content.overdrawn(Measure{Volume: Millilitres(g.Volume.Base() * 1e3)}) {
			f.add(fault.TooHigh, "volume", g.Volume.String(), fmt.Sprintf("is more than %s holds, %s", v.Name, s.ShownVolume(v.Content.Volume.Litres())), "read it again, or enter first what was put into it")
		}
		return
	}
	out, faults := g.measure(s, s.strong(&v.Content), v)
	if f.list.Add("", faults.Err()); len(faults) > 0 {
		return
	}
	if v.Content.overdrawn(out.Measure) {
		field, value := "volume", g.Volume
		if g.Weighed() {
			field, value = "net", g.Net
		}
		f.add(fault.TooHigh, field, value.String(), fmt.Sprintf("is %s, more than the %s that %s holds", s.Shown(out.Alcohol), s.Shown(v.Content.Alcohol), v.Name),
			"read it again; if it is right, gauge "+v.Name+" first")
	}
}

// Shown is an amount of alcohol in the words of the book's convention.
func (s *State) Shown(a Alcohol) string {
	if s.Convention() == Metric {
		return quantity.Fixed(a.LitresPureAlcohol(), 2) + " L pure alcohol"
	}
	return quantity.Fixed(a.ProofGallons(), 1) + " proof gallons"
}

func (b *SpiritMoved) apply(t *turn) {
	from, to := t.vessel(b.From, "from"), t.vessel(b.To, "to")
	if from == nil || to == nil || from == to {
		return
	}
	t.sameMove(b, from)
	out := t.drawGauged(from, &b.Gauge)
	if b.Account != "" && b.Account != out.Account && out.Material.Accounted() {
		t.post(out.Account, b.Account, Cause(b.Purpose), out.Parts)
		out.Account = b.Account
	}
	if !b.Lost.IsNone() {
		t.lose(&out, b.Lost, b.LostAs)
	}
	t.pour(to, out)
}

// sameMove asks when two phones told one move: same vessels, same amount,
// within a day, and the second writer had not seen the first.
func (t *turn) sameMove(b *SpiritMoved, from *Vessel) {
	for i := len(from.History) - 2; i >= 0 && i >= len(from.History)-6; i-- {
		e := t.book.Entry(from.History[i])
		if e == nil || e.Device == t.entry.Device {
			continue
		}
		body, happened, void, _ := t.book.Effective(e)
		was, ok := body.(*SpiritMoved)
		if ok && !void && was.From == b.From && was.To == b.To && was.Volume.Compact() == b.Volume.Compact() && was.Net.Compact() == b.Net.Compact() && was.Gross.Compact() == b.Gross.Compact() && math.Abs(float64(t.now().ms-happened.ms)) < 86_400_000 {
			t.ask(Twice, "Two phones logged what looks like one move from "+from.Name+".", proposeVoid(t.entry.address, "one move, logged by two phones"), e.Address())
			return
		}
	}
}

// WaterAdded reduces spirit.
type WaterAdded struct {
	Vessel Ref              `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Water  quantity.Reading `key:"water" label:"Water by volume" unit:"gal|L" min:"0L" max:"200000L"`
	Weight quantity.Reading `key:"water_weight" label:"Water by weight" unit:"lb|kg" min:"0kg" max:"200000kg"`
	Note   string           `key:"note" label:"Note"`
}

func (b *WaterAdded) sound(f *faults) {
	if b.Water.IsNone() == b.Weight.IsNone() {
		f.add(fault.Missing, "water", b.Water.String(), "the water is given once, by volume or by weight", "fill in one of the two")
	}
}

func (b *WaterAdded) timely(s *State, f *faults) { s.holds(f, "vessel", b.Vessel) }

func (b *WaterAdded) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	litres := volumeOf(b.Water).Litres()
	water := massOf(litres*float64(spirit.Strength{}.DensityAt(20))/1e3) + weightOf(b.Weight)
	if v.Content.Material.Fermenting() {
		t.thin(v, Millilitres(water/1000))
	} else {
		stood := *v.Standing()
		stood.Mass += water
		v.Content.Mass += water
		t.watered(v, water, stood)
	}
	v.Content.Since = t.now()
	t.brim(v)
}

// LossRecorded books spirit that is gone.
type LossRecorded struct {
	Vessel Ref `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Gauge
	ToGauge bool   `key:"to_gauge" label:"Down to the last gauge" help:"Instead of an amount: the book takes over what was last measured."`
	Cause   Cause  `key:"cause,need" label:"Why" words:"evaporation|leak|spill|breakage|filtration|theft|measurement|unexplained"`
	Note    string `key:"note" label:"Note"`
}

func (b *LossRecorded) sound(f *faults) { b.soundChange(f, b.ToGauge) }

func (g *Gauge) soundChange(f *faults, toGauge bool) {
	switch {
	case !toGauge:
		g.soundAmount(f)
	case !g.None():
		f.add(fault.Conflict, "to_gauge", "yes", "stands beside an amount", "give one of the two")
	}
}

func (b *LossRecorded) timely(s *State, f *faults) { s.changeable(f, b.Vessel, &b.Gauge, b.ToGauge) }

func (s *State) changeable(f *faults, vessel Address, g *Gauge, toGauge bool) {
	v := s.Vessel(vessel)
	switch {
	case v == nil:
		unknownRef(f, "vessel", vessel, "vessel")
	case toGauge && v.Gauge.Entry == "":
		f.add(fault.Missing, "to_gauge", "yes", v.Name+" was never gauged", "gauge it, or give an amount")
	case !toGauge:
		s.holds(f, "vessel", vessel)
		s.covers(f, vessel, g)
	}
}

func (b *LossRecorded) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	switch {
	case v == nil:
	case b.ToGauge:
		t.settle(v, v.Gauge, b.Cause)
	default:
		if out := t.drawGauged(v, &b.Gauge); out.Material.Accounted() {
			t.post(out.Account, Lost, b.Cause, out.Parts)
		}
	}
}

// GainRecorded books spirit that is there and cannot be explained.
type GainRecorded struct {
	Vessel Ref `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Gauge
	ToGauge bool   `key:"to_gauge" label:"Up to the last gauge" help:"Instead of an amount: the book takes over what was last measured."`
	Cause   Cause  `key:"cause,need" label:"Why" words:"measurement|unexplained"`
	Note    string `key:"note" label:"Note"`
}

func (b *GainRecorded) sound(f *faults) { b.soundChange(f, b.ToGauge) }

func (b *GainRecorded) timely(s *State, f *faults) {
	if v := s.Vessel(b.Vessel); v == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
	} else if b.ToGauge && v.Gauge.Entry == "" {
		f.add(fault.Missing, "to_gauge", "yes", v.Name+" was never gauged", "gauge it, or give an amount")
	} else if !b.ToGauge {
		_, faults := b.measure(s, s.strong(&v.Content), v)
		f.list.Add("", faults.Err())
	}
}

func (b *GainRecorded) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	switch {
	case v == nil:
	case b.ToGauge:
		t.settle(v, v.Gauge, b.Cause)
	default:
		g, ok := t.measured(&b.Gauge, t.state.strong(&v.Content), v)
		if !ok {
			return
		}
		v.Content.account(Storage)
		account := v.Content.Account
		parts := share(v.Content.Parts, int64(g.Alcohol))
		t.post(Gained, account, b.Cause, parts)
		t.pour(v, Content{Material: Spirit, Account: account, Mass: g.Mass, Alcohol: g.Alcohol, Parts: parts, Doubt: g.Doubt})
	}
}

// SampleTaken takes a little for a purpose.
type SampleTaken struct {
	Vessel  Ref              `key:"vessel,need" label:"From" ref:"vessel"`
	Volume  quantity.Reading `key:"volume,need" label:"How much" unit:"mL" min:"0mL" max:"100L"`
	Purpose string           `key:"purpose,need" label:"For" words:"laboratory|tasting|government|kept"`
	Where   string           `key:"where" label:"Sent to"`
	Note    string           `key:"note" label:"Note"`
}

func (b *SampleTaken) timely(s *State, f *faults) {
	s.holds(f, "vessel", b.Vessel)
	g := b.gauge()
	s.covers(f, b.Vessel, &g)
}

// gauge is the sample as a gauge at the base temperature: it is too small for
// its warmth to matter.
func (b *SampleTaken) gauge() Gauge {
	return Gauge{Volume: b.Volume, VolumeTemp: quantity.MustParse("20C", quantity.Celsius)}
}

func (b *SampleTaken) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	g := b.gauge()
	if out := t.drawGauged(v, &g); out.Material.Accounted() {
		t.post(out.Account, Research, Cause(b.Purpose), out.Parts)
	}
}

// SpiritDestroyed destroys spirit before a witness.
type SpiritDestroyed struct {
	Vessel Ref `key:"vessel,need" label:"From" ref:"vessel"`
	Gauge
	Manner  string `key:"manner,need" label:"How and where"`
	Witness string `key:"witness,need" label:"Who saw it, with title"`
	Note    string `key:"note" label:"Note"`
}

func (b *SpiritDestroyed) sound(f *faults) {
	if !b.None() {
		b.soundAmount(f)
	}
	if strings.TrimSpace(b.Manner) == "" {
		f.add(fault.Missing, "manner", "", "a destruction needs its manner and place", "say how and where")
	}
}

func (b *SpiritDestroyed) timely(s *State, f *faults) {
	s.holds(f, "vessel", b.Vessel)
	s.covers(f, b.Vessel, &b.Gauge)
}

func (b *SpiritDestroyed) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	if out := t.drawGauged(v, &b.Gauge); out.Material.Accounted() {
		t.post(out.Account, Destroyed, "", out.Parts)
	}
}
