package book

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var yardKinds = []*Kind{
	describe[SupplierRegistered]("supplier registered", Yard, ASupplier,
		"Somebody who sells fruit, grain or goods to the house.", "", "Deliveries can name them."),
	describe[DeliveryReceived]("delivery received", Yard, ALot,
		"Fruit, grain, molasses or botanicals came through the gate: what, how much, how sweet, from whom.", "The supplier, if there is one to name.", "A lot of raw material begins and is on hand."),
	describe[DeliveryExpected]("delivery expected", Yard, AnExpected,
		"Fruit, grain or molasses is to come: what, how much, on which day.", "", "The harvest plan counts with it, until a delivery names it or its entry is taken out."),
	describe[MaterialPrepared]("material prepared", Yard, "",
		"A lot was sorted, washed, pitted, peeled or milled.", "The lot.", "What was culled is no longer on hand; the yield of preparation is known."),
	describe[MaterialDiscarded]("material discarded", Yard, "",
		"Raw material was thrown away, given back or sold on.", "The lot.", "It is no longer on hand."),
}

// SupplierRegistered names somebody who sells to the house.
type SupplierRegistered struct {
	Name  string `key:"name,need" label:"Name"`
	Place string `key:"place" label:"Place" help:"Where the goods come from, as it stands on their papers."`
	Note  string `key:"note" label:"Note"`
}

func (b *SupplierRegistered) apply(t *turn) { t.register(ASupplier, b.Name, b) }

// A Weighing is a weight with what was under it on the scale.
type Weighing struct {
	Gross     quantity.Reading `key:"gross" label:"Gross weight" unit:"lb|kg" min:"0kg" max:"100000kg" help:"Truck or pallet and all. Then the tare is needed."`
	Tare      quantity.Reading `key:"tare" label:"Tare" unit:"lb|kg" min:"0kg" max:"100000kg" help:"Truck or pallet alone."`
	Crates    int64            `key:"crates" label:"Crates"`
	CrateTare quantity.Reading `key:"crate_tare" label:"Weight of one empty crate" unit:"lb|kg" min:"0kg" max:"500kg"`
	Net       quantity.Reading `key:"net" label:"Net weight" unit:"lb|kg" min:"0kg" max:"100000kg" help:"Instead of gross and tare."`
}

// net is what the scale says of the stuff itself.
func (w *Weighing) net() Mass {
	if !w.Net.IsNone() {
		return weightOf(w.Net)
	}
	return weightOf(w.Gross) - weightOf(w.Tare) - Mass(w.Crates)*weightOf(w.CrateTare)
}

func (w *Weighing) sound(f *faults) {
	switch {
	case w.Net.IsNone() && w.Gross.IsNone():
		f.add(fault.Missing, "net", "", "a weight is needed", "weigh it, gross and tare, or give the net weight")
	case !w.Net.IsNone() && !w.Gross.IsNone():
		f.add(fault.Conflict, "net", w.Net.String(), "stands beside a gross weight", "give gross and tare, or net")
	case w.net() <= 0:
		field, value := "net", w.Net
		if value.IsNone() {
			field, value = "gross", w.Gross
		}
		f.add(fault.TooLow, field, value.String(), "leaves no net weight", "check the tare and the crates")
	}
}

// weightOf is a weight as exact milligrams; zero for none. A record that
// arrived with another unit weighs nothing.
func weightOf(r quantity.Reading) Mass {
	if r.IsNone() || r.Unit().Dimension() != quantity.Mass {
		return 0
	}
	return massOf(min(max(r.Base(), -maxKilograms), maxKilograms))
}

// volumeOf is a volume as exact millilitres, as weightOf.
func volumeOf(r quantity.Reading) Millilitres {
	if r.IsNone() || r.Unit().Dimension() != quantity.Volume {
		return 0
	}
	return Millilitres(quantity.Snap(min(max(r.Base(), -maxKilograms), maxKilograms) * 1e3).Round(0).IntPart())
}

// ShownMass is a weight in the words of the book's convention.
func (s *State) ShownMass(m Mass) string {
	if s.Convention() == Metric {
		return quantity.Fixed(m.Kilograms(), 0) + " kg"
	}
	return quantity.Fixed(m.Kilograms()/pound, 0) + " lb"
}

// ShownVolume is a volume in the words of the book's convention.
func (s *State) ShownVolume(litres float64) string {
	if s.Convention() == Metric {
		return quantity.Fixed(litres, 0) + " L"
	}
	return quantity.Fixed(litres/gallon, 0) + " gal"
}

var (
	pound  = quantity.MustParse("1", quantity.Pound).Base()
	gallon = quantity.MustParse("1", quantity.Gallon).Base()
)

// maxKilograms keeps a forged figure inside an integer.
const maxKilograms = 1e9

// A SweetnessSample is one Brix reading of a delivery.
type SweetnessSample struct {
	Sugar      quantity.Reading `key:"sugar,need" label:"Brix" unit:"Bx" min:"0Bx" max:"95Bx"`
	Temp       quantity.Reading `key:"temp" label:"at a temperature of" unit:"F|C" min:"-5C" max:"60C"`
	Instrument Ref              `key:"instrument" label:"Refractometer or hydrometer" ref:"instrument"`
	Where      string           `key:"where" label:"Taken from" help:"Which crate, top or bottom."`
}

// DeliveryReceived takes raw material in at the gate.
type DeliveryReceived struct {
	Material Material `key:"material,need" label:"What it is" words:"fruit|grain|molasses|sugar|botanicals"`
	Variety  string   `key:"variety,need" label:"Kind and variety" help:"As people call it: quince, winter rye, dark molasses."`
	Weighing
	Samples     []SweetnessSample `key:"samples" label:"Brix samples" help:"Several, from different crates: the spread says how even the lot is."`
	PH          quantity.Reading  `key:"ph" label:"pH" unit:"pH" min:"1pH" max:"10pH"`
	Supplier    Ref               `key:"supplier" label:"Supplier" ref:"supplier"`
	SupplierLot string            `key:"supplier_lot" label:"Supplier's lot"`
	Price       quantity.Reading  `key:"price" label:"Price of the whole delivery" unit:"USD|EUR" min:"0USD|0EUR" max:"10000000USD|10000000EUR" help:"It reaches every phone that sees the lot. ‘price noted’ keeps it to those that see costs."`
	Grown       string            `key:"grown" label:"Where it grew"`
	Harvested   Day               `key:"harvested" label:"Harvested on"`
	Condition   string            `key:"condition" label:"Condition" help:"Ripeness, rot, leaves, stones."`
	Note        string            `key:"note" label:"Note"`
	Extract     quantity.Reading  `key:"extract" label:"Extract as is" unit:"pct" min:"1pct" max:"100pct" help:"Of malt and grain, by weight, from the maltster's sheet: the mash room reckons its yield with it."`
	Expected    Ref               `key:"expected" label:"It was expected as" ref:"expected delivery" help:"The harvest plan no longer waits for it."`
}

// DeliveryExpected is raw material that is to come.
type DeliveryExpected struct {
	Material Material         `key:"material,need" label:"What it is" words:"fruit|grain|molasses"`
	Variety  string           `key:"variety,need" label:"Kind and variety" help:"As people call it: quince, winter rye, dark molasses."`
	Weight   quantity.Reading `key:"weight,need" label:"How much" unit:"lb|kg" min:"1kg" max:"100000kg"`
	Day      Day              `key:"day,need" label:"On which day"`
	Supplier Ref              `key:"supplier" label:"Supplier" ref:"supplier"`
	Note     string           `key:"note" label:"Note"`
}

func (b *DeliveryExpected) timely(s *State, f *faults) {
	s.registered(f, "supplier", ASupplier, b.Supplier)
}

func (b *DeliveryExpected) apply(t *turn) {
	t.register(AnExpected, b.Variety+", "+t.state.ShownMass(weightOf(b.Weight))+", "+string(b.Day), b)
}

func (b *DeliveryReceived) sound(f *faults) {
	b.Weighing.sound(f)
	if !b.Extract.IsNone() && b.Material != Grain {
		f.add(fault.Conflict, "extract", b.Extract.String(), "is given for "+string(b.Material)+", and a maltster's sheet is of malt and grain", "leave it out; the sugar of juice stands in the Brix samples")
	}
}

func (b *DeliveryReceived) timely(s *State, f *faults) {
	s.registered(f, "supplier", ASupplier, b.Supplier)
	if b.Expected != "" && s.Registered(AnExpected, b.Expected) == nil {
		f.add(fault.Unknown, "expected", string(b.Expected), "is nothing this book expects", "choose one from the list, or leave it empty")
	}
}

// registered says that an address is not in the register as what it should be.
func (s *State) registered(f *faults, field string, c Class, a Address) {
	if a == "" {
		return
	}
	switch r := s.Registered(c, a); {
	case r == nil:
		unknownRef(f, field, a, string(c))
	case r.Retired:
		f.add(fault.Conflict, field, r.Name, "is no longer in use", "choose another "+string(c))
	}
}

// A RawLot is a delivery with what became of it.
type RawLot struct {
	DeliveryReceived
	Address  Address
	Came     Moment
	Net      Mass          // as delivered
	OnHand   Mass          // not yet used or thrown away
	Prepared []Preparation // in book order
}

func (r *RawLot) copied() RawLot { return *r }

// A Preparation is one sorting, pitting or milling of a lot.
type Preparation struct {
	Entry    Address
	On       Moment
	Taken    Mass
	Prepared Mass
}

// Preparation sums what was prepared of a lot: the weight taken in hand and the
// weight that came out of it. Their ratio is the yield of preparation.
func (r *RawLot) Preparation() (taken, prepared Mass) {
	for _, p := range r.Prepared {
		taken += p.Taken
		prepared += p.Prepared
	}
	return taken, prepared
}

// Sweetness is the mean and the range of the Brix samples, as read; n is how
// many there are.
func (r *RawLot) Sweetness() (mean, least, most float64, n int) {
	for i, s := range r.Samples {
		x := s.Sugar.Float()
		if mean += x; i == 0 || x < least {
			least = x
		}
		most = max(most, x)
	}
	if n = len(r.Samples); n > 0 {
		mean /= float64(n)
	}
	return mean, least, most, n
}

// RawLot finds a lot of raw material, nil where there is none by that address.
func (s *State) RawLot(a Address) *RawLot { return s.raws.get(a) }

// RawLots ranges over the lots of raw material in the order they came.
func (s *State) RawLots(yield func(Address, *RawLot) bool) { s.raws.all(yield) }

func (b *DeliveryReceived) apply(t *turn) {
	net := max(b.net(), 0)
	lot := &RawLot{DeliveryReceived: *b, Address: t.entry.address, Came: t.now(), Net: net, OnHand: net}
	t.state.raws.put(lot.Address, lot)
	if r := t.state.registers.edit(b.Expected); r != nil && r.Class == AnExpected {
		r.Retired = true
	}
	material := b.Material
	if !material.Raw() {
		material = Fruit
	}
	t.begin(Lot{Name: b.Variety, Material: material, Amount: int64(net)})
}

// take uses raw material up, and asks where there was not as much. It gives the
// part of the lot, of no known lot where the book has none by that address.
func (t *turn) take(lot Address, weight Mass) []Part {
	r := t.state.raws.edit(lot)
	if r == nil {
		t.dangling("lot", lot)
		return []Part{{Amount: int64(weight)}}
	}
	if over := weight - max(r.OnHand, 0); over > r.Net/50 {
		t.ask(Overdrawn, fmt.Sprintf("%s more were used of %s than the book says there were.", t.state.ShownMass(over), r.Variety), nil, lot)
	}
	r.OnHand -= weight
	return []Part{{Lot: lot, Amount: int64(weight)}}
}

// enough says that a lot does not have the weight that is to be used of it.
func (s *State) enough(f *faults, field, weightField string, lot Address, weight quantity.Reading) {
	r := s.RawLot(lot)
	switch {
	case r == nil:
		unknownRef(f, field, lot, "lot of raw material")
	case weightOf(weight)-max(r.OnHand, 0) > r.Net/50:
		f.add(fault.TooHigh, weightField, weight.String(), fmt.Sprintf("is more than the %s of %s on hand", s.ShownMass(r.OnHand), r.Variety), "weigh it again, or choose the right lot")
	}
}

// MaterialPrepared is what became of a lot before it is mashed.
type MaterialPrepared struct {
	Lot      Ref              `key:"lot,need" label:"Lot" ref:"lot"`
	Taken    quantity.Reading `key:"taken" label:"Weight taken in hand" unit:"lb|kg" min:"0kg" max:"100000kg" help:"All that is on hand, unless told otherwise."`
	Prepared quantity.Reading `key:"prepared,need" label:"Weight prepared" unit:"lb|kg" min:"0kg" max:"100000kg" help:"What is ready to be mashed."`
	Culls    quantity.Reading `key:"culls" label:"Culls" unit:"lb|kg" min:"0kg" max:"100000kg" help:"Rotten fruit, leaves, stems."`
	Pits     quantity.Reading `key:"pits" label:"Pits taken out" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Peel     quantity.Reading `key:"peel" label:"Peel and cores" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Washed   bool             `key:"washed" label:"Washed"`
	Milled   string           `key:"milled" label:"How it was broken up" words:"milled|crushed|pitted|pressed|whole"`
	Note     string           `key:"note" label:"Note"`
}

func (b *MaterialPrepared) sound(f *faults) {
	out := weightOf(b.Prepared) + weightOf(b.Culls) + weightOf(b.Pits) + weightOf(b.Peel)
	if taken := weightOf(b.Taken); taken > 0 && out > taken+taken/50 {
		f.add(fault.TooHigh, "prepared", b.Prepared.String(), "with culls, pits and peel is more than the "+b.Taken.String()+" taken in hand", "weigh again")
	}
}

func (b *MaterialPrepared) timely(s *State, f *faults) {
	if b.Taken.IsNone() {
		s.enough(f, "lot", "prepared", b.Lot, b.Prepared)
	} else {
		s.enough(f, "lot", "taken", b.Lot, b.Taken)
	}
}

func (b *MaterialPrepared) apply(t *turn) {
	r := t.state.raws.edit(b.Lot)
	if r == nil {
		t.dangling("lot", b.Lot)
		return
	}
	taken, prepared := weightOf(b.Taken), weightOf(b.Prepared)
	if b.Taken.IsNone() {
		taken = max(r.OnHand, 0)
	}
	if prepared > taken+r.Net/50 || taken > max(r.OnHand, 0)+r.Net/50 {
		t.ask(Overdrawn, fmt.Sprintf("%s were taken and %s prepared of %s, and the book has %s on hand.", t.state.ShownMass(taken), t.state.ShownMass(prepared), r.Variety, t.state.ShownMass(r.OnHand)), nil, b.Lot)
	}
	r.OnHand += prepared - taken
	r.Prepared = append(r.Prepared, Preparation{Entry: t.entry.address, On: t.now(), Taken: taken, Prepared: prepared})
}

// MaterialDiscarded takes raw material off hand without using it.
type MaterialDiscarded struct {
	Lot    Ref              `key:"lot,need" label:"Lot" ref:"lot"`
	Weight quantity.Reading `key:"weight,need" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Why    string           `key:"why,need" label:"Why" words:"spoiled|given back|sold|fed|composted|weighed again"`
	Note   string           `key:"note" label:"Note"`
}

func (b *MaterialDiscarded) timely(s *State, f *faults) {
	s.enough(f, "lot", "weight", b.Lot, b.Weight)
}

func (b *MaterialDiscarded) apply(t *turn) { t.take(b.Lot, weightOf(b.Weight)) }

// An Amount is how much of a good: pieces, or a weight, or a volume, as the
// good is counted.
type Amount struct {
	Pieces int64            `key:"pieces" label:"Pieces"`
	Weight quantity.Reading `key:"weight" label:"Weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Volume quantity.Reading `key:"volume" label:"Volume" unit:"gal|L" min:"0L" max:"100000L"`
}

// A Measured says how a good is counted.
type Measured string

// The ways to count a good.
const (
	InPieces Measured = "pieces"
	ByWeight Measured = "weight"
	ByVolume Measured = "volume"
)

// of is the amount in whole pieces, milligrams or millilitres.
func (a *Amount) of(m Measured) int64 {
	switch m {
	case ByWeight:
		return int64(weightOf(a.Weight))
	case ByVolume:
		return int64(volumeOf(a.Volume))
	}
	return min(max(a.Pieces, 0), maxCount)
}

// Show writes an amount of a good as people say it.
func (m Measured) Show(n int64) string {
	switch m {
	case ByWeight:
		return tidy(Mass(n).Kilograms()) + " kg"
	case ByVolume:
		return tidy(Millilitres(n).Litres()) + " L"
	}
	return fmt.Sprintf("%d pieces", n)
}

func tidy(x float64) string {
	s := strings.TrimRight(quantity.Fixed(x, 3), "0")
	return strings.TrimSuffix(s, ".")
}

func (a *Amount) sound(f *faults, none bool) {
	given := 0
	for _, g := range []bool{a.Pieces != 0, !a.Weight.IsNone(), !a.Volume.IsNone(), none} {
		if g {
			given++
		}
	}
	switch {
	case given == 0:
		f.add(fault.Missing, "pieces", "", "an amount is needed", "give pieces, a weight or a volume, as this good is counted")
	case given > 1:
		f.add(fault.Conflict, "pieces", fmt.Sprint(a.Pieces), "stands beside another amount", "give pieces, a weight or a volume, as this good is counted")
	}
}

// as says that an amount is not in the measure its good is counted in.
func (a *Amount) as(f *faults, m Measured, name string) {
	given := map[Measured]bool{InPieces: a.Pieces != 0, ByWeight: !a.Weight.IsNone(), ByVolume: !a.Volume.IsNone()}
	if !given[m] && slices.Contains([]bool{given[InPieces], given[ByWeight], given[ByVolume]}, true) {
		f.add(fault.WrongUnit, string(m), "", name+" is counted in "+string(m), "give it that way")
	}
}
