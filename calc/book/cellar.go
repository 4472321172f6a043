package book

import (
	"fmt"
	"slices"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var cellarKinds = []*Kind{
	describe[InfusionBegun]("infusion begun", SpiritStore, ALot,
		"Fruit, herbs or spice were put into spirit to steep.", "The vessel with its spirit; the lots that go in.", "The raw material is used up; a lot begins, of the spirit and what steeps in it."),
	describe[InfusionDrained]("infusion drained", SpiritStore, "",
		"The spirit was drawn off what steeped in it, and measured.", "The vessel.", "What was measured goes over; the alcohol left in the fruit is lost, or stays to be distilled."),
	describe[SugarAdded]("sugar added", SpiritStore, ALot,
		"Sugar, syrup, honey or caramel went into spirit.", "The vessel; the lot of sugar, if it comes from stock.", "Mass and solids grow, alcohol does not; a lot of sweetened spirit begins."),
	describe[SpiritFiltered]("spirit filtered", SpiritStore, "",
		"Spirit went through a filter, and what came through was measured.", "The vessel.", "The difference is lost in filtration."),
	describe[SolidsMeasured]("solids measured", SpiritStore, "",
		"What is dissolved in a spirit was found: by evaporating a sample, or by distilling it for its true strength (27 CFR 30.32).", "The vessel.", "Stands beside the vessel's gauges."),
	describe[ReductionPlanned]("reduction planned", SpiritStore, "",
		"Spirit is to be brought down to a strength with water, in stages with days of rest between.", "The vessel with its spirit.", "The water added to it and the gauges after are read as stages, until the vessel is empty or planned anew."),
	describe[RestBegun]("rest begun", SpiritStore, "",
		"Spirit is left alone for a while.", "The vessel.", "It is listed as ready to taste when the time is over."),
	describe[SpiritTasted]("spirit tasted", SpiritStore, "",
		"Somebody tasted what is in a vessel or a lot, with marks and words.", "The vessel or the lot.", "Stands with the vessel and with the run it came from."),
	describe[LaboratoryResultReceived]("laboratory result received", SpiritStore, "",
		"What the laboratory found in a sample.", "The vessel or the lot.", "A result above a published limit is asked about."),
	describe[VesselMoved]("vessel moved", SpiritStore, "",
		"A barrel or tote stands somewhere else now.", "The vessel.", "Its place."),
	describe[VesselRecoopered]("vessel recoopered", SpiritStore, "",
		"A barrel was repaired, charred again or lined (27 CFR 19.486, 19.618).", "The vessel.", "Its cooperage, capacity and tare from now on."),
	describe[VesselRetired]("vessel retired", SpiritStore, "",
		"A vessel is no longer used.", "The vessel, empty.", "It is no longer offered."),
}

// LeftInFruit is the cause of alcohol that drained fruit keeps.
const LeftInFruit Cause = "left in the fruit"

// Infused is what steeps in a vessel.
type Infused struct {
	Entry  Address
	Begun  Moment
	Until  Day
	Weight Mass
}

// A Rest is what a vessel was left to.
type Rest struct {
	Entry Address
	Begun Moment
	Until Day
	For   string
}

// Solids is what was found dissolved in a vessel's spirit.
type Solids struct {
	Entry  Address
	On     Moment
	Way    string
	Solids quantity.Reading // per volume; none where only a true strength was found
	True   quantity.Reading // strength by distillation; none where only solids were found
}

// InfusionBegun puts something into spirit.
type InfusionBegun struct {
	Vessel Ref           `key:"vessel,need" label:"Vessel with the spirit" ref:"vessel" help:"Move the spirit into it first."`
	Parts  []InfusedPart `key:"parts,need" label:"What goes in"`
	Recipe Ref           `key:"recipe" label:"Recipe" ref:"recipe"`
	Until  Day           `key:"until" label:"Drain on"`
	Name   string        `key:"name" label:"Name of the lot"`
	Note   string        `key:"note" label:"Note"`
}

// An InfusedPart is what went in of one lot.
type InfusedPart struct {
	What   string           `key:"what,need" label:"What"`
	Lot    Ref              `key:"lot" label:"Lot" ref:"lot" help:"Its weight on hand goes down."`
	Weight quantity.Reading `key:"weight,need" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
}

func (b *InfusionBegun) timely(s *State, f *faults) {
	s.spiritIn(f, "vessel", b.Vessel)
	s.enoughOf(f, "parts", b.Parts)
}

// enoughOf is enough for each part that names a lot.
func (s *State) enoughOf(f *faults, field string, parts []InfusedPart) {
	for i, p := range parts {
		if p.Lot != "" {
			path := fmt.Sprintf("%s[%d].", field, i+1)
			s.enough(f, path+"lot", path+"weight", p.Lot, p.Weight)
		}
	}
}

// infused uses up what steeps, and gives it as parts of a lot.
func (t *turn) infused(parts []InfusedPart) (with []Part) {
	for _, p := range parts {
		if p.Lot != "" {
			with = addParts(with, t.take(p.Lot, weightOf(p.Weight)), 1)
		}
	}
	return with
}

// spiritIn says why there is no spirit in a vessel.
func (s *State) spiritIn(f *faults, field string, a Address) *Vessel {
	v := s.Vessel(a)
	switch {
	case v == nil:
		unknownRef(f, field, a, "vessel")
	case !v.Content.Material.Accounted() || v.Content.Empty():
		f.add(fault.Conflict, field, v.Name, "holds no spirit, as far as this phone knows", "choose another vessel, or enter first what was put into it")
	}
	return v
}

// spirit gives a vessel with spirit to change, and asks where there is none.
func (t *turn) spirit(a Address) *Vessel {
	v := t.vessel(a, "vessel")
	if v != nil && (!v.Content.Material.Accounted() || v.Content.Empty()) {
		t.ask(NothingThere, "It is about spirit in "+v.Name+", and the book has none in it.", nil, v.Address)
		return nil
	}
	return v
}

func (b *InfusionBegun) apply(t *turn) {
	with, weight := t.infused(b.Parts), Mass(0)
	for _, p := range b.Parts {
		weight += weightOf(p.Weight)
	}
	if v := t.spirit(b.Vessel); v != nil {
		t.remake(v, b.Name, Spirit, with)
		v.Infused = Infused{Entry: t.entry.address, Begun: t.now(), Until: b.Until, Weight: weight}
	}
}

// remake begins a lot of what a vessel holds and something that gives it no
// alcohol. The lot is as old as the youngest of its parts, and of the class of
// the largest.
func (t *turn) remake(v *Vessel, name string, m Material, with []Part) {
	c := &v.Content
	lot := Lot{Name: name, Material: m, From: c.Parts, With: with, Amount: int64(c.Alcohol)}
	whole := Part{Lot: t.entry.address, Amount: int64(c.Alcohol)}
	largest := int64(0)
	for i, p := range c.Parts {
		if i == 0 || p.Wood < whole.Wood {
			whole.Wood = p.Wood
		}
		if i == 0 || p.Amount > largest {
			largest, lot.Class = p.Amount, t.state.classOf(p.Lot)
		}
	}
	t.begin(lot)
	if c.Parts = nil; whole.Amount != 0 {
		c.Parts = []Part{whole}
	}
	c.Material, c.Since = m, t.now()
}

// InfusionDrained draws the spirit off.
type InfusionDrained struct {
	Vessel Ref `key:"vessel,need" label:"Vessel it steeped in" ref:"vessel"`
	To     Ref `key:"to" label:"Drained into" ref:"vessel" help:"Leave it empty where the fruit was lifted out and the spirit stayed."`
	Gauge
	Fruit  quantity.Reading `key:"fruit" label:"Weight of the drained fruit" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Keeps  string           `key:"fruit_goes" label:"The fruit" words:"thrown away|pressed out|kept to distil" help:"Kept to distil: its alcohol stays in the vessel."`
	Solids quantity.Reading `key:"solids" label:"Dissolved solids" unit:"g/100mL" min:"0g/L" max:"700g/L" help:"If they were measured."`
	Note   string           `key:"note" label:"Note"`
}

func (b *InfusionDrained) sound(f *faults) { b.soundAmount(f) }

func (b *InfusionDrained) timely(s *State, f *faults) {
	v := s.spiritIn(f, "vessel", b.Vessel)
	to := v
	if b.To != "" {
		if to = s.Vessel(b.To); to == nil {
			unknownRef(f, "to", b.To, "vessel")
		}
	}
	if len(f.list) == 0 {
		g, faults := b.measure(s, s.strong(&v.Content), to)
		f.list.Add("", faults.Err())
		s.fits(f, to, g)
		if v.Content.overdrawn(g.Measure) {
			f.add(fault.TooHigh, "volume", b.Volume.String(), fmt.Sprintf("is %s, more than the %s that steeped in %s", s.Shown(g.Alcohol), s.Shown(v.Content.Alcohol), v.Name), "measure again, or enter first what was put into it")
		}
	}
}

func (b *InfusionDrained) apply(t *turn) {
	v := t.spirit(b.Vessel)
	if v == nil {
		return
	}
	to := v
	if b.To != "" && b.To != b.Vessel {
		if to = t.vessel(b.To, "to"); to == nil {
			return
		}
	}
	g, ok := t.measured(&b.Gauge, t.state.strong(&v.Content), to)
	if !ok {
		return
	}
	v.Infused = Infused{}
	if to == v {
		t.settle(v, g, LeftInFruit)
		return
	}
	out := t.draw(v, Measure{Mass: min(g.Mass, max(v.Content.Mass, 0)), Alcohol: g.Alcohol, Solids: v.Content.Solids, Doubt: g.Doubt})
	out.Mass = g.Mass + out.Solids // the fruit's own water came with it
	if rest := &v.Content; b.Keeps != "kept to distil" && rest.Alcohol >= 0 {
		t.post(rest.Account, Lost, LeftInFruit, rest.Parts)
		*rest = Content{}
	}
	t.pour(to, out)
}

// SugarAdded sweetens spirit.
type SugarAdded struct {
	Vessel Ref              `key:"vessel,need" label:"Vessel" ref:"vessel"`
	What   string           `key:"what,need" label:"What went in" words:"sugar|syrup|honey|juice|caramel|other"`
	Weight quantity.Reading `key:"weight,need" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Solids quantity.Reading `key:"solids" label:"Sugar in it" unit:"pct" min:"0pct" max:"100pct" help:"By weight; of sugar itself, all."`
	Lot    Ref              `key:"lot" label:"Lot of raw material" ref:"lot"`
	Goods  Ref              `key:"goods" label:"Lot of goods" ref:"goods lot" help:"If the sugar is kept with the goods."`
	Name   string           `key:"name" label:"Name of the lot"`
	Note   string           `key:"note" label:"Note"`
}

func (b *SugarAdded) sound(f *faults) {
	if b.What != "sugar" && b.Solids.IsNone() {
		f.add(fault.Missing, "solids", "", "how much of the "+b.What+" is sugar is needed", "read its Brix, or take it from its label")
	}
	if b.Lot != "" && b.Goods != "" {
		f.add(fault.Conflict, "goods", string(b.Goods), "stands beside a lot of raw material", "name the one it came from")
	}
}

func (b *SugarAdded) timely(s *State, f *faults) {
	s.spiritIn(f, "vessel", b.Vessel)
	if b.Lot != "" {
		s.enough(f, "lot", "weight", b.Lot, b.Weight)
	}
	if b.Goods != "" {
		s.stocked(f, "goods", b.Goods, &Amount{Weight: b.Weight})
	}
}

func (b *SugarAdded) apply(t *turn) {
	weight := weightOf(b.Weight)
	var with []Part
	if b.Lot != "" {
		with = t.take(b.Lot, weight)
	}
	if b.Goods != "" {
		if g := t.goodsLot(b.Goods); g != nil {
			n := (&Amount{Weight: b.Weight}).of(g.Measured)
			g.Used += n
			t.short(g)
			with = []Part{{Lot: b.Goods, Amount: n}}
		}
	}
	v := t.spirit(b.Vessel)
	if v == nil {
		return
	}
	t.remake(v, b.Name, Sweet, with)
	solids := weight
	if share := b.Solids; !share.IsNone() {
		solids = Mass(portion(int64(weight), int64(quantity.Snap(share.Float()*1e4).Round(0).IntPart()), 1e6))
	}
	v.Content.Mass += weight
	v.Content.Solids += solids
	t.brim(v)
}

// SpiritFiltered measures what a filter let through.
type SpiritFiltered struct {
	Vessel Ref `key:"vessel,need" label:"From" ref:"vessel"`
	To     Ref `key:"to" label:"To" ref:"vessel" help:"Leave it empty where it came back into the same vessel."`
	Gauge
	Way   string           `key:"way" label:"Through" words:"sheets|cartridge|charcoal|paper|settling"`
	Chill quantity.Reading `key:"chilled_to" label:"Chilled to" unit:"F|C" min:"-20C" max:"40C"`
	Rinse quantity.Reading `key:"rinse" label:"Rinse water in it" unit:"gal|L" min:"0L" max:"200000L" help:"Water that was pushed after it and came into the spirit."`
	Lot   Ref              `key:"lot" label:"Lot of sheets" ref:"goods lot"`
	Used  int64            `key:"pieces" label:"Sheets used"`
	Note  string           `key:"note" label:"Note"`
}

func (b *SpiritFiltered) sound(f *faults) {
	b.soundAmount(f)
	if (b.Lot == "") != (b.Used == 0) {
		f.add(fault.Missing, "pieces", "", "a lot of sheets and how many were used belong together", "give both, or neither")
	}
}

func (b *SpiritFiltered) timely(s *State, f *faults) {
	v := s.spiritIn(f, "vessel", b.Vessel)
	if b.To != "" && s.Vessel(b.To) == nil {
		unknownRef(f, "to", b.To, "vessel")
	}
	if b.Lot != "" {
		s.stocked(f, "lot", b.Lot, &Amount{Pieces: b.Used})
	}
	if v != nil {
		s.covers(f, b.Vessel, &b.Gauge)
	}
}

func (b *SpiritFiltered) apply(t *turn) {
	if b.Lot != "" {
		if g := t.goodsLot(b.Lot); g != nil {
			g.Used += b.Used
			t.short(g)
		}
	}
	v := t.spirit(b.Vessel)
	if v == nil {
		return
	}
	to := v
	if b.To != "" && b.To != b.Vessel {
		if to = t.vessel(b.To, "to"); to == nil {
			return
		}
	}
	g, ok := t.measured(&b.Gauge, t.state.strong(&v.Content), to)
	if !ok {
		return
	}
	if v.Content.overdrawn(g.Measure) {
		t.ask(GaugeDisagrees, fmt.Sprintf("More came through the filter than %s held: %s of %s.", v.Name, t.state.Shown(g.Alcohol), t.state.Shown(v.Content.Alcohol)), nil, v.Address)
	}
	if to == v {
		t.settle(v, g, Filtration)
		v.Gauge = g
		return
	}
	out := t.drawGauged(v, &Gauge{})
	t.agree(&out, g, Filtration)
	t.pour(to, out)
}

// SolidsMeasured is what is dissolved in a spirit.
type SolidsMeasured struct {
	Vessel   Ref              `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Way      string           `key:"way,need" label:"Found by" words:"evaporation|distillation|pycnometer|laboratory"`
	Sample   quantity.Reading `key:"sample" label:"Sample" unit:"mL" min:"1mL" max:"5000mL" help:"25 mL in the regulation."`
	Residue  quantity.Reading `key:"residue" label:"What was left of it" unit:"g" min:"0g" max:"3000g" help:"Dried, without the dish."`
	Solids   quantity.Reading `key:"solids" label:"Dissolved solids" unit:"g/100mL" min:"0g/L" max:"700g/L" help:"Instead of sample and residue."`
	Apparent quantity.Reading `key:"apparent" label:"Strength by hydrometer" unit:"proof|%" min:"0proof|0%" max:"200proof|100%" help:"Corrected for temperature."`
	Strength quantity.Reading `key:"strength" label:"True strength" unit:"proof|%" min:"0proof|0%" max:"200proof|100%" help:"By distillation: the legal one above 600 mg in 100 mL."`
	Note     string           `key:"note" label:"Note"`
}

func (b *SolidsMeasured) sound(f *faults) {
	if b.Residue.IsNone() != b.Sample.IsNone() {
		f.add(fault.Missing, "sample", "", "a residue and its sample belong together", "give both")
	}
	if !b.Solids.IsNone() && !b.Residue.IsNone() {
		f.add(fault.Conflict, "solids", b.Solids.String(), "stands beside a residue", "give the residue with its sample, or the solids")
	}
	if b.Solids.IsNone() && b.Residue.IsNone() && b.Strength.IsNone() {
		f.add(fault.Missing, "solids", "", "a finding is needed", "give sample and residue, the solids, or the true strength")
	}
}

func (b *SolidsMeasured) timely(s *State, f *faults) { s.spiritIn(f, "vessel", b.Vessel) }

// found is the dissolved solids in g/100 mL, to a thousandth.
func (b *SolidsMeasured) found() quantity.Reading {
	if b.Residue.IsNone() || b.Sample.IsNone() || b.Sample.Base() <= 0 {
		return b.Solids
	}
	grams := b.Residue.In(quantity.Gram) / b.Sample.In(quantity.Millilitre) * 100
	return quantity.FromDecimal(quantity.Snap(grams).Round(3), quantity.GramPer100ML)
}

func (b *SolidsMeasured) apply(t *turn) {
	if v := t.spirit(b.Vessel); v != nil {
		v.Found = Solids{Entry: t.entry.address, On: t.now(), Way: b.Way, Solids: b.found(), True: b.Strength}
	}
}

// RestBegun leaves a vessel alone.
type RestBegun struct {
	Vessel Ref    `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Until  Day    `key:"until,need" label:"Ready to taste on"`
	For    string `key:"for" label:"For" help:"To marry, to clear, to soften before reduction."`
	Note   string `key:"note" label:"Note"`
}

func (b *RestBegun) timely(s *State, f *faults) { s.spiritIn(f, "vessel", b.Vessel) }

func (b *RestBegun) apply(t *turn) {
	if v := t.spirit(b.Vessel); v != nil {
		v.Rest = Rest{Entry: t.entry.address, Begun: t.now(), Until: b.Until, For: b.For}
	}
}

// SpiritTasted is one person's opinion.
type SpiritTasted struct {
	Vessel Ref    `key:"vessel" label:"Vessel" ref:"vessel"`
	Lot    Ref    `key:"lot" label:"or lot" ref:"lot" help:"A bottling, or the hearts of a run."`
	Taster string `key:"taster" label:"Who tasted" help:"If it was not the writer."`
	Nose   int64  `key:"nose" label:"Nose, 1 to 10"`
	Palate int64  `key:"palate" label:"Palate, 1 to 10"`
	Finish int64  `key:"finish" label:"Finish, 1 to 10"`
	Whole  int64  `key:"whole,need" label:"All in all, 1 to 10"`
	Words  string `key:"words" label:"In words"`
	Next   string `key:"next" label:"What next" words:"ready|wait|blend|distil again|ask others"`
}

func (b *SpiritTasted) sound(f *faults) {
	oneOf(f, b.Vessel, b.Lot)
	marks(f, b.Nose, b.Palate, b.Finish, b.Whole)
}

// oneOf holds that something is about a vessel or a lot, and not both.
func oneOf(f *faults, vessel, lot Address) {
	if (vessel == "") == (lot == "") {
		f.add(fault.Missing, "vessel", string(vessel), "it is about a vessel or about a lot", "name one of the two")
	}
}

// marks holds every mark given between 1 and 10.
func marks(f *faults, nose, palate, finish, whole int64) {
	for i, m := range []int64{nose, palate, finish, whole} {
		if m > 10 {
			f.add(fault.TooHigh, []string{"nose", "palate", "finish", "whole"}[i], fmt.Sprint(m), "is above 10, the best mark", "give a mark from 1 to 10")
		}
	}
}

func (b *SpiritTasted) timely(s *State, f *faults) { s.vesselOrLot(f, b.Vessel, b.Lot) }

func (s *State) vesselOrLot(f *faults, vessel, lot Address) {
	if vessel != "" && s.Vessel(vessel) == nil {
		unknownRef(f, "vessel", vessel, "vessel")
	}
	if lot != "" && s.Lot(lot) == nil {
		unknownRef(f, "lot", lot, "lot")
	}
}

// lotsOf are the lots that an entry about a vessel or a lot is about.
func (t *turn) lotsOf(vessel, lot Address) []Address {
	if lot != "" {
		if t.state.lots.get(lot) == nil {
			t.dangling("lot", lot)
			return nil
		}
		return []Address{lot}
	}
	v := t.state.vessels.get(vessel)
	if v == nil {
		t.dangling("vessel", vessel)
		return nil
	}
	var out []Address
	for _, p := range v.Content.Parts {
		if p.Lot != "" && !slices.Contains(out, p.Lot) {
			out = append(out, p.Lot)
		}
	}
	return out
}

// A Tasting is an opinion with the lots it is about.
type Tasting struct {
	Entry Address
	On    Moment
	Lots  []Address
	*SpiritTasted
}

// Tastings lists the opinions in book order.
func (s *State) Tastings() []Tasting { return s.notes.tastings }

func (b *SpiritTasted) apply(t *turn) {
	n := &t.state.notes
	n.tastings = append(n.tastings, Tasting{t.entry.address, t.now(), t.lotsOf(b.Vessel, b.Lot), b})
	if v := t.state.vessels.get(b.Vessel); v != nil && v.Rest.Entry != "" && b.Next == "ready" {
		t.state.vessels.edit(b.Vessel).Rest = Rest{}
	}
}

// VesselMoved changes where a vessel stands.
type VesselMoved struct {
	Vessel   Ref    `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Location string `key:"location" label:"Where it stands now" help:"The store or the room; left empty, the same."`
	Row      string `key:"row" label:"Row" help:"Of a cask; left empty, none."`
	Tier     string `key:"tier" label:"Tier" help:"Of a cask, counted from the floor."`
	Note     string `key:"note" label:"Note"`
}

func (b *VesselMoved) sound(f *faults) {
	if b.Location == "" && b.Row == "" && b.Tier == "" {
		f.add(fault.Missing, "location", "", "where it stands now is needed", "say the room, or the row and the tier")
	}
}

func (b *VesselMoved) timely(s *State, f *faults) {
	if s.Vessel(b.Vessel) == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
	}
}

func (b *VesselMoved) apply(t *turn) {
	if v := t.vessel(b.Vessel, "vessel"); v != nil {
		if b.Location != "" {
			v.Location = b.Location
		}
		v.Row, v.Tier = b.Row, b.Tier
	}
}

// VesselRecoopered changes what a vessel is made of.
type VesselRecoopered struct {
	Vessel    Ref              `key:"vessel,need" label:"Vessel" ref:"vessel"`
	What      string           `key:"what,need" label:"What was done" help:"New heads, staves, char, lining."`
	Cooperage string           `key:"cooperage" label:"Cooperage now" words:"charred new|recharred|plain new|reused|paraffined|none" help:"Only if it changed."`
	Capacity  quantity.Reading `key:"capacity" label:"Capacity now" unit:"gal|L" min:"0.1L" max:"200000L" help:"Only if it changed."`
	Tare      quantity.Reading `key:"tare" label:"Empty weight now" unit:"lb|kg" min:"0kg" max:"100000kg" help:"Only if it changed: wet wood weighs more."`
	Char      string           `key:"char" label:"Char or toast now" help:"Only if it changed."`
	Note      string           `key:"note" label:"Note"`
}

func (b *VesselRecoopered) timely(s *State, f *faults) {
	if s.Vessel(b.Vessel) == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
	}
}

func (b *VesselRecoopered) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	if b.Cooperage != "" {
		v.Cooperage, v.Content.Wooded = b.Cooperage, t.now().ms
	}
	if b.Char != "" {
		v.Char = b.Char
	}
	if !b.Capacity.IsNone() {
		v.Capacity = b.Capacity
	}
	if !b.Tare.IsNone() {
		v.Tare = b.Tare
	}
}

// VesselRetired takes a vessel out of use.
type VesselRetired struct {
	Vessel Ref    `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Why    string `key:"why,need" label:"Why" words:"sold|broken up|leaks|replaced|lent"`
	Note   string `key:"note" label:"Note"`
}

func (b *VesselRetired) timely(s *State, f *faults) {
	switch v := s.Vessel(b.Vessel); {
	case v == nil:
		unknownRef(f, "vessel", b.Vessel, "vessel")
	case !v.Content.Empty():
		f.add(fault.Conflict, "vessel", v.Name, "is not empty, as far as this phone knows", "enter first where what it held went")
	}
}

func (b *VesselRetired) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	if v.Retired = t.entry.address; !v.Content.Empty() {
		t.ask(CountDisagrees, v.Name+" was taken out of use, and the book has something in it.", nil, v.Address)
	}
}
