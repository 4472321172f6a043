package book

import (
	"fmt"
	"slices"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var mashKinds = []*Kind{
	describe[RecipeRegistered]("recipe registered", MashRoom, ARecipe,
		"How something is made: a mash, a maceration, a blend, a mixed drink.", "The recipe it was changed from, if there is one.", "Mashes and trials can name it."),
	describe[MashMade]("mash made", MashRoom, ALot,
		"A fruit mash, a grain mash or a molasses wash was made and stands in a fermenter.", "The fermenter; the lots it is made of.", "The raw material is used up; a lot of mash begins."),
	describe[AdditionMade]("addition made", MashRoom, "",
		"Acid, enzyme, yeast, nutrient, sugar or water went into a mash.", "The fermenter; the lot of goods, if it comes from stock.", "The goods are used up; with the first yeast the mash is pitched."),
	describe[MashMeasured]("mash measured", MashRoom, "",
		"The volume in a fermenter was measured.", "The fermenter.", "The book takes the volume over."),
	describe[MashMoved]("mash moved", FermentHall, "",
		"Mash went from one fermenter to another: racked, pressed, joined.", "Both fermenters.", "Volume and shares go over; the days run on."),
	describe[MashDiscarded]("mash discarded", FermentHall, "",
		"Fermenting stuff was thrown away before it was distilled (27 CFR 19.584).", "The fermenter.", "It is no longer there."),
}

// RecipeRegistered keeps a recipe.
type RecipeRegistered struct {
	Name    string       `key:"name,need" label:"Name"`
	For     string       `key:"for" label:"What it makes" words:"fruit mash|grain mash|molasses wash|maceration|liqueur|blend|mixed drink|other"`
	Product Ref          `key:"product" label:"Product" ref:"product"`
	From    Ref          `key:"from" label:"Changed from" ref:"recipe"`
	Parts   []RecipePart `key:"parts" label:"Parts"`
	Steps   string       `key:"steps" label:"Steps" maxlen:"4000" help:"In order, with temperatures and times."`
	Note    string       `key:"note" label:"Note"`
}

// A RecipePart is one ingredient.
type RecipePart struct {
	What   string           `key:"what,need" label:"What"`
	Weight quantity.Reading `key:"weight" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Volume quantity.Reading `key:"volume" label:"Volume" unit:"gal|L" min:"0L" max:"100000L"`
	Share  quantity.Reading `key:"share" label:"Share" unit:"pct" min:"0pct" max:"100pct" help:"Of the whole, by weight."`
}

func (b *RecipeRegistered) timely(s *State, f *faults) {
	s.registered(f, "from", ARecipe, b.From)
}

func (b *RecipeRegistered) apply(t *turn) { t.register(ARecipe, b.Name, b) }

// A Sweetness is a reading of sugar in juice, mash or wash: by Brix or by
// gravity, with the temperature of the sample. With alcohol in it the
// refractometer shows a trend only.
type Sweetness struct {
	Sugar      quantity.Reading `key:"sugar" label:"Brix" unit:"Bx" min:"-5Bx" max:"95Bx"`
	Gravity    quantity.Reading `key:"gravity" label:"Gravity" unit:"sg" min:"0.95sg" max:"1.5sg" help:"Instead of Brix."`
	SampleTemp quantity.Reading `key:"sample_temp" label:"Temperature of the sample" unit:"F|C" min:"-5C" max:"60C" help:"In the jar or on the prism. The temperature of the mash, unless told otherwise."`
	Instrument Ref              `key:"instrument" label:"Hydrometer or refractometer" ref:"instrument"`
}

// Read reports whether sugar was read.
func (w *Sweetness) Read() bool { return !w.Sugar.IsNone() || !w.Gravity.IsNone() }

func (w *Sweetness) sound(f *faults, mash quantity.Reading) {
	switch {
	case !w.Sugar.IsNone() && !w.Gravity.IsNone():
		f.add(fault.Conflict, "gravity", w.Gravity.String(), "stands beside a Brix reading", "give the one that was read")
	case w.Read() && w.SampleTemp.IsNone() && mash.IsNone():
		f.add(fault.Missing, "sample_temp", "", "a hydrometer or refractometer needs the temperature of its sample", "read the thermometer beside it")
	}
}

// MashMade fills a fermenter.
type MashMade struct {
	Fermenter Ref              `key:"fermenter,need" label:"Fermenter" ref:"vessel"`
	Type      string           `key:"type,need" label:"What it is" words:"fruit mash|grain mash|molasses wash|sugar wash"`
	Product   Ref              `key:"product" label:"For the product" ref:"product"`
	Recipe    Ref              `key:"recipe" label:"Recipe" ref:"recipe"`
	Parts     []MashPart       `key:"parts,need" label:"Made of"`
	Volume    quantity.Reading `key:"volume,need" label:"Volume in the fermenter" unit:"gal|L" min:"0L" max:"200000L" help:"All of this mash, water and all, as dipped."`
	Water     quantity.Reading `key:"water" label:"Water in it" unit:"gal|L" min:"0L" max:"200000L"`
	Backset   quantity.Reading `key:"backset" label:"Backset in it" unit:"gal|L" min:"0L" max:"200000L" help:"Stillage of an earlier run."`
	Strike    quantity.Reading `key:"strike_temp" label:"Temperature of the water" unit:"F|C" min:"0C" max:"110C"`
	Rests     []MashRest       `key:"rests" label:"Rests"`
	Iodine    string           `key:"iodine" label:"Iodine test" words:"clear|red|blue" help:"Blue: there is starch left."`
	Cooling   quantity.Reading `key:"cooled_in" label:"Cooled within" unit:"min" min:"0min" max:"2880min"`
	Sweetness
	Temp quantity.Reading `key:"mash_temp" label:"Temperature of the mash" unit:"F|C" min:"-5C" max:"100C"`
	PH   quantity.Reading `key:"ph" label:"pH" unit:"pH" min:"1pH" max:"10pH"`
	Name string           `key:"name" label:"Name of the lot"`
	Note string           `key:"note" label:"Note"`
}

// A MashPart is what went in of one lot.
type MashPart struct {
	Lot    Ref              `key:"lot,need" label:"Lot" ref:"lot"`
	Weight quantity.Reading `key:"weight,need" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
}

// A MashRest is one rest of a grain mash, or the warm rest of an enzyme.
type MashRest struct {
	Temp quantity.Reading `key:"temp,need" label:"Temperature" unit:"F|C" min:"0C" max:"110C"`
	Time quantity.Reading `key:"time,need" label:"For" unit:"min" min:"0min" max:"2880min"`
}

func (b *MashMade) sound(f *faults) { b.Sweetness.sound(f, b.Temp) }

func (b *MashMade) timely(s *State, f *faults) {
	for i, p := range b.Parts {
		path := fmt.Sprintf("parts[%d].", i+1)
		s.enough(f, path+"lot", path+"weight", p.Lot, p.Weight)
	}
	v := s.fermenter(f, "fermenter", b.Fermenter)
	if v != nil && v.Content.Litres20()+b.Volume.Base() > v.Capacity.Base()*overFull {
		f.add(fault.TooHigh, "volume", b.Volume.String(), "with what is in it is more than "+v.Name+" takes, "+v.Capacity.String(), "dip it again, or choose another fermenter")
	}
}

// fermenter finds a vessel that mash may go into, and says why there is none.
func (s *State) fermenter(f *faults, field string, a Address) *Vessel {
	v := s.Vessel(a)
	switch {
	case v == nil:
		unknownRef(f, field, a, "vessel")
	case v.Retired != "":
		f.add(fault.Conflict, field, v.Name, "is no longer in use", "choose another vessel")
	case v.Content.Material.Accounted():
		f.add(fault.Conflict, field, v.Name, "holds spirit, as far as this phone knows", "choose another vessel, or enter first where the spirit went")
	}
	return v
}

// A Ferment is a lot of mash with all that was seen of it.
type Ferment struct {
	MashMade
	Address    Address
	Begun      Moment
	Pitched    Moment  // none before the first yeast
	Vessel     Address // where it was last put
	Checks     []FermentCheck
	Additions  []Addition
	Readings   []ControllerPoint // of a controller, thinned
	Finished   Moment
	FinishedBy Address
}

func (m *Ferment) copied() Ferment { return *m }

// An Addition is what went into a mash, and when.
type Addition struct {
	Entry Address
	On    Moment
	*AdditionMade
}

// From is when its days are counted from: the pitching, or the mashing before.
func (m *Ferment) From() Moment {
	if m.Pitched.IsNone() {
		return m.Begun
	}
	return m.Pitched
}

// Days is the day of the ferment that a moment falls on; the first is day 1.
func (m *Ferment) Days(at Moment) int {
	return 1 + int(max(0, at.Since(m.From()).Hours()/24))
}

// Last is the last check, nil before the first.
func (m *Ferment) Last() *FermentCheck {
	if n := len(m.Checks); n > 0 {
		return &m.Checks[n-1]
	}
	return nil
}

// Ferment finds a lot of mash, nil where there is none by that address.
func (s *State) Ferment(a Address) *Ferment { return s.ferments.get(a) }

// Ferments ranges over the lots of mash in the order they were made.
func (s *State) Ferments(yield func(Address, *Ferment) bool) { s.ferments.all(yield) }

// Fermenting lists the lots of mash in a vessel, the largest share first.
func (s *State) Fermenting(vessel Address) []*Ferment {
	v := s.Vessel(vessel)
	if v == nil || !v.Content.Material.Fermenting() {
		return nil
	}
	parts := slices.Clone(v.Content.Parts)
	slices.SortStableFunc(parts, func(a, b Part) int { return int(max(-1, min(1, b.Amount-a.Amount))) })
	var out []*Ferment
	for _, p := range parts {
		if m := s.ferments.get(p.Lot); m != nil {
			out = append(out, m)
		}
	}
	return out
}

// mashes gives the lots of mash in a vessel to change.
func (t *turn) mashes(v *Vessel, change func(*Ferment)) int {
	n := 0
	if v.Content.Material.Fermenting() {
		for _, p := range v.Content.Parts {
			if m := t.state.ferments.edit(p.Lot); m != nil {
				change(m)
				n++
			}
		}
	}
	return n
}

func (b *MashMade) apply(t *turn) {
	lot := Lot{Name: b.Name, Material: Mash, Amount: int64(volumeOf(b.Volume))}
	if p := t.state.Registered(AProduct, b.Product); p != nil {
		lot.Class = p.Body.(*ProductRegistered).Class
		if lot.Name == "" {
			lot.Name = p.Name
		}
	}
	for _, p := range b.Parts {
		lot.From = addParts(lot.From, t.take(p.Lot, weightOf(p.Weight)), 1)
	}
	t.begin(lot)
	t.state.ferments.put(t.entry.address, &Ferment{MashMade: *b, Address: t.entry.address, Begun: t.now(), Vessel: b.Fermenter})
	v := t.vessel(b.Fermenter, "fermenter")
	if v == nil {
		return
	}
	t.mixes(v)
	t.pour(v, Content{Material: Mash, Volume: volumeOf(b.Volume), Parts: []Part{{Lot: t.entry.address, Amount: int64(volumeOf(b.Volume))}}})
}

// mixes asks where mash comes to a vessel of spirit.
func (t *turn) mixes(v *Vessel) {
	if v.Content.Material.Accounted() {
		t.ask(Mixing, "Mash came to "+v.Name+", which held spirit. The book takes the mash for so much water.", nil, v.Address)
	}
}

// thin changes the volume of what ferments in a vessel, by water or by a
// measure taken again; the lots keep their shares.
func (t *turn) thin(v *Vessel, by Millilitres) {
	c := &v.Content
	old := c.Parts
	c.Volume += by
	c.Parts = share(old, int64(c.Volume))
	for _, p := range addParts(c.Parts, old, -1) {
		if l := t.state.lots.edit(p.Lot); l != nil {
			l.Amount += p.Amount
		}
	}
	t.brim(v)
}

// AdditionMade puts something into a mash.
type AdditionMade struct {
	Vessel Ref              `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	What   string           `key:"what,need" label:"What went in" words:"yeast|nutrient|acid|enzyme|sugar|water|backset|antifoam|other"`
	Lot    Ref              `key:"lot" label:"Lot of goods" ref:"goods lot" help:"Its stock goes down."`
	Weight quantity.Reading `key:"weight" label:"Weight" unit:"g" min:"0kg" max:"10000kg"`
	Volume quantity.Reading `key:"volume" label:"Volume" unit:"mL" min:"0L" max:"100000L"`
	PH     quantity.Reading `key:"ph" label:"pH afterwards" unit:"pH" min:"1pH" max:"10pH"`
	Temp   quantity.Reading `key:"mash_temp" label:"Temperature of the mash" unit:"F|C" min:"-5C" max:"100C"`
	Note   string           `key:"note" label:"Note"`
}

func (b *AdditionMade) amount() *Amount { return &Amount{Weight: b.Weight, Volume: b.Volume} }

func (b *AdditionMade) sound(f *faults) {
	if b.Weight.IsNone() == b.Volume.IsNone() {
		f.add(fault.Missing, "weight", "", "the amount is given once, by weight or by volume", "fill in one of the two")
	}
}

func (b *AdditionMade) timely(s *State, f *faults) {
	s.mashIn(f, "vessel", b.Vessel)
	if b.Lot != "" {
		s.stocked(f, "lot", b.Lot, b.amount())
	}
}

// mashIn says why nothing ferments in a vessel.
func (s *State) mashIn(f *faults, field string, a Address) *Vessel {
	v := s.Vessel(a)
	switch {
	case v == nil:
		unknownRef(f, field, a, "vessel")
	case len(s.Fermenting(a)) == 0:
		f.add(fault.Conflict, field, v.Name, "holds no mash, as far as this phone knows", "choose another vessel, or enter the mash first")
	}
	return v
}

func (b *AdditionMade) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	var used []Part
	if b.Lot != "" {
		if g := t.goodsLot(b.Lot); g != nil {
			n := b.amount().of(g.Measured)
			g.Used += n
			t.short(g)
			used = []Part{{Lot: g.Address, Amount: n}}
		}
	}
	in := 0
	if v.Content.Material.Fermenting() {
		if b.What == "water" || b.What == "backset" {
			t.thin(v, volumeOf(b.Volume)+Millilitres(weightOf(b.Weight)/1000))
		}
		in = t.mashes(v, func(m *Ferment) {
			m.Additions = append(m.Additions, Addition{t.entry.address, t.now(), b})
			if b.What == "yeast" && m.Pitched.IsNone() {
				m.Pitched = t.now()
			}
			if l := t.state.lots.edit(m.Address); l != nil && used != nil {
				l.With = addParts(l.With, used, 1)
				t.into(b.Lot, m.Address)
			}
		})
	}
	if in == 0 {
		t.ask(NothingThere, "Something was added to "+v.Name+", and the book has no mash in it.", nil, v.Address)
	}
}

// MashMeasured takes a measured volume over.
type MashMeasured struct {
	Vessel Ref              `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	Volume quantity.Reading `key:"volume,need" label:"Volume in it" unit:"gal|L" min:"0L" max:"200000L"`
	Note   string           `key:"note" label:"Note"`
}

func (b *MashMeasured) timely(s *State, f *faults) { s.mashIn(f, "vessel", b.Vessel) }

func (b *MashMeasured) apply(t *turn) {
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	if !v.Content.Material.Fermenting() {
		t.ask(NothingThere, "Mash was measured in "+v.Name+", and the book has none in it.", nil, v.Address)
		return
	}
	is, was := volumeOf(b.Volume), v.Content.Volume
	if off := is - was; max(off, -off) > max(was, 0)/10 {
		t.ask(CountDisagrees, fmt.Sprintf("%s holds %s, and the book had %s.", v.Name, t.state.ShownVolume(is.Litres()), t.state.ShownVolume(was.Litres())), nil, v.Address)
	}
	t.thin(v, is-was)
}

// MashMoved takes mash from one fermenter to another.
type MashMoved struct {
	From    Ref              `key:"from,need" label:"From" ref:"vessel"`
	To      Ref              `key:"to,need" label:"To" ref:"vessel"`
	Volume  quantity.Reading `key:"volume" label:"Volume taken" unit:"gal|L" min:"0L" max:"200000L" help:"All of it, unless told otherwise."`
	Arrived quantity.Reading `key:"arrived" label:"Volume that arrived" unit:"gal|L" min:"0L" max:"200000L" help:"If lees or pomace stayed behind."`
	Way     string           `key:"way" label:"How" words:"pumped|racked|pressed|joined|drained"`
	Note    string           `key:"note" label:"Note"`
}

func (b *MashMoved) sound(f *faults) {
	if b.From == b.To {
		f.add(fault.Conflict, "to", string(b.To), "is the vessel it came from", "choose another vessel")
	}
}

func (b *MashMoved) timely(s *State, f *faults) {
	s.fermenter(f, "to", b.To)
	if v := s.mashIn(f, "from", b.From); v != nil && v.Content.Material.Fermenting() {
		s.covers(f, b.From, &Gauge{Volume: b.Volume})
	}
}

// drawMash takes fermenting stuff out of a vessel: all of it where no volume is
// given. It asks, and takes nothing, where there is none.
func (t *turn) drawMash(v *Vessel, volume quantity.Reading) (Content, bool) {
	if !v.Content.Material.Fermenting() {
		t.ask(NothingThere, "Mash was taken from "+v.Name+", and the book has none in it.", nil, v.Address)
		return Content{}, false
	}
	return t.drawGauged(v, &Gauge{Volume: volume}), true
}

func (b *MashMoved) apply(t *turn) {
	from, to := t.vessel(b.From, "from"), t.vessel(b.To, "to")
	if from == nil || to == nil || from == to {
		return
	}
	out, ok := t.drawMash(from, b.Volume)
	if !ok {
		return
	}
	if arrived := volumeOf(b.Arrived); !b.Arrived.IsNone() {
		out.Volume, out.Parts = arrived, share(out.Parts, int64(arrived))
	}
	t.mixes(to)
	for _, p := range out.Parts {
		if m := t.state.ferments.edit(p.Lot); m != nil {
			m.Vessel = to.Address
		}
	}
	t.pour(to, out)
}

// MashDiscarded throws fermenting stuff away.
type MashDiscarded struct {
	Vessel Ref              `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	Volume quantity.Reading `key:"volume" label:"Volume" unit:"gal|L" min:"0L" max:"200000L" help:"All of it, unless told otherwise."`
	Why    string           `key:"why,need" label:"Why" words:"vinegar|mould|stuck|lees|spilled|sold|fed|sample|other"`
	Note   string           `key:"note" label:"Note"`
}

func (b *MashDiscarded) timely(s *State, f *faults) {
	if v := s.mashIn(f, "vessel", b.Vessel); v != nil && v.Content.Material.Fermenting() {
		s.covers(f, b.Vessel, &Gauge{Volume: b.Volume})
	}
}

func (b *MashDiscarded) apply(t *turn) {
	if v := t.vessel(b.Vessel, "vessel"); v != nil {
		t.drawMash(v, b.Volume)
	}
}
