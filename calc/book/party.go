package book

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/fizz"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

var partyKinds = []*Kind{
	describe[LineCleared]("line cleared", BottlingFloor, "",
		"The line stops for the day: it is clear, and the run goes on another day.", "An open bottling.", "A day of the run ends with what was counted so far."),
	describe[CarbonationChecked]("carbonation checked", BottlingFloor, "",
		"The gas in a drink was read off its temperature and pressure, in the tank or in a can that was pierced.", "A bottling, or a tank.", "A line in the run's record; a can above its rating, or a strength off the label, is asked about."),
	describe[PacksMade]("packs made", BottlingFloor, APack,
		"Finished bottles were put together into gift packs.", "Closed bottlings.", "The bottles stay in finished goods, in the packs; what the packs took of dry goods leaves the stock."),
}

// LineCleared ends a day of a run that goes on.
type LineCleared struct {
	Bottling Ref `key:"bottling,need" label:"Bottling" ref:"bottling"`
	Gauge
	Note string `key:"note" label:"Note"`
}

func (b *LineCleared) sound(f *faults) {
	if !b.None() {
		b.soundAmount(f)
	}
}

func (b *LineCleared) timely(s *State, f *faults) {
	r := s.bottling(f, b.Bottling)
	if r == nil || b.None() {
		return
	}
	_, faults := b.measure(s, r.Tanked.Shown, s.vesselOr(r.Tank))
	f.list.Add("", faults.Err())
}

// vesselOr is a vessel, or one that nothing is known of.
func (s *State) vesselOr(a Address) *Vessel {
	if v := s.Vessel(a); v != nil {
		return v
	}
	return &Vessel{}
}

// A DayCleared is the end of a day of a run.
type DayCleared struct {
	Entry Address
	On    Moment
	Good  int64  // good bottles so far
	Tank  Gauged // zero where the tank was not measured
}

func (b *LineCleared) apply(t *turn) {
	r := t.bottling(b.Bottling)
	if r == nil {
		return
	}
	day := DayCleared{Entry: t.entry.address, On: t.now(), Good: r.Good()}
	if !b.None() {
		day.Tank, _ = t.measured(&b.Gauge, r.Tanked.Shown, t.state.vesselOr(r.Tank))
	}
	r.Days = append(r.Days, day)
}

// CarbonationChecked is the gas in a drink.
type CarbonationChecked struct {
	Bottling Ref              `key:"bottling" label:"Bottling" ref:"bottling"`
	Tank     Ref              `key:"tank" label:"or tank" ref:"vessel" help:"Before the first lid: the strength of every tank is read there."`
	Temp     quantity.Reading `key:"temp,need" label:"Temperature of the drink" unit:"F|C" min:"-1C" max:"65C"`
	Pressure quantity.Reading `key:"pressure,need" label:"Pressure on the gauge" unit:"psi|bar" min:"0bar" max:"20bar" help:"At rest: shaken, and left until it stands."`
	Strength quantity.Reading `key:"strength" label:"Strength" unit:"%|proof" min:"0proof|0%" max:"40proof|20%"`
	Sugar    quantity.Reading `key:"sugar" label:"Sugar" unit:"g/L" min:"0g/L" max:"200g/L"`
	Hottest  quantity.Reading `key:"hottest" label:"Hottest storage" unit:"F|C" min:"0C" max:"65C" help:"A car in the sun reaches 60 °C."`
	Rating   quantity.Reading `key:"rating" label:"Rating of the can" unit:"psi|bar" min:"0.5bar" max:"20bar" help:"As its supplier certifies it. 85 psi is custom and no certificate."`
	Note     string           `key:"note" label:"Note"`
}

func (b *CarbonationChecked) sound(f *faults) {
	switch {
	case b.Bottling != "" && b.Tank != "":
		f.add(fault.Conflict, "tank", string(b.Tank), "stands beside a bottling", "name where it was measured")
	case b.Bottling == "" && b.Tank == "":
		f.add(fault.Missing, "bottling", "", "a check belongs to a bottling or a tank", "choose one")
	}
}

// drink is what the gas is dissolved in.
func (b *CarbonationChecked) drink() (d fizz.Drink, err error) {
	d.Sugar = b.Sugar
	if !b.Strength.IsNone() {
		s, err := spirit.StrengthOf(b.Strength)
		if err != nil {
			return d, err
		}
		d.ABV = quantity.FromDecimal(quantity.ABVToTenth(quantity.Snap(s.ABV20())), quantity.ABV20)
	}
	return d, nil
}

// Worked is how much gas the drink holds and, where the hottest storage is
// given, the can at it; nil where it is not.
func (b *CarbonationChecked) Worked() (fizz.Dissolved, *fizz.Sealed, error) {
	d, err := b.drink()
	if err != nil {
		return fizz.Dissolved{}, nil, err
	}
	held, err := fizz.Dissolve(fizz.Saturation{Drink: d, Temp: b.Temp, Pressure: b.Pressure})
	if err != nil || b.Hottest.IsNone() {
		return held, nil, err
	}
	can, err := fizz.Seal(fizz.Can{Drink: d, Volumes: held.Volumes.Reading(3), Hottest: b.Hottest, Rating: b.Rating})
	return held, &can, err
}

func (b *CarbonationChecked) timely(s *State, f *faults) {
	s.knownBottling(f, b.Bottling)
	if b.Tank != "" && s.Vessel(b.Tank) == nil {
		unknownRef(f, "tank", b.Tank, "vessel")
	}
	_, _, err := b.Worked()
	f.list.Add("pressure", err)
}

// A Carbonation is a check of the gas with what it came to.
type Carbonation struct {
	Entry   Address
	On      Moment
	Volumes float64 // of gas in one of the drink
	Within  bool    // whether the can holds at its hottest; true where that was not asked
	*CarbonationChecked
}

// Carbonations lists the checks of the gas in book order.
func (s *State) Carbonations() []Carbonation { return s.notes.carbonations }

func (b *CarbonationChecked) apply(t *turn) {
	r := t.state.Bottling(b.Bottling)
	if b.Bottling != "" && r == nil {
		t.dangling("bottling", b.Bottling)
	}
	found := Carbonation{Entry: t.entry.address, On: t.now(), CarbonationChecked: b, Within: true}
	if held, can, err := b.Worked(); err == nil {
		found.Volumes = held.Volumes.Value
		if can != nil && !can.Within {
			found.Within = false
			t.ask(OverPressure, fmt.Sprintf("The pressure of %s volumes of gas in a closed can %s.", quantity.Fixed(found.Volumes, 1), strings.Replace(can.Verdict, "too close", "comes too close", 1)), nil, b.Bottling+b.Tank)
		}
	}
	n := &t.state.notes
	n.carbonations = append(n.carbonations, found)
	if s, err := spirit.StrengthOf(b.Strength); err == nil && !b.Strength.IsNone() && r != nil {
		t.offLabelled(r, s, "The can is", r.Address)
	}
}

// PacksMade bundles finished bottles.
type PacksMade struct {
	Name  string     `key:"name,need" label:"Name of the pack"`
	Packs int64      `key:"packs,need" label:"Packs made"`
	Parts []PackPart `key:"parts,need" label:"In each pack" help:"Each lot of bottles with how many of it."`
	Goods []PackGood `key:"goods" label:"Boxes and cards" help:"Of all the packs together."`
	Note  string     `key:"note" label:"Note"`
}

// A PackPart is so many bottles of a lot in each pack.
type PackPart struct {
	Bottling Ref   `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Each     int64 `key:"each,need" label:"Bottles in a pack"`
}

// A PackGood is what all packs took of a lot of goods.
type PackGood struct {
	Lot    Ref   `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Pieces int64 `key:"pieces,need" label:"Pieces"`
}

func (b *PacksMade) timely(s *State, f *faults) {
	for i, p := range b.Parts {
		at := fmt.Sprintf("parts[%d].", i+1)
		r := s.Bottling(p.Bottling)
		switch n := b.Packs * p.Each; {
		case r == nil:
			unknownRef(f, at+"bottling", p.Bottling, "lot of bottles")
		case r.Open():
			f.add(fault.Conflict, at+"bottling", string(p.Bottling), "is not closed, so its bottles are not finished goods yet", "close the bottling first")
		case n > r.Left()-r.Packed:
			f.add(fault.TooHigh, at+"each", fmt.Sprint(n), fmt.Sprintf("is more than the %d bottles of this lot that are here and in no pack", r.Left()-r.Packed), "count again, or choose the right lot")
		}
	}
	for i, g := range b.Goods {
		if s.GoodsLot(g.Lot) == nil {
			unknownRef(f, fmt.Sprintf("goods[%d].lot", i+1), g.Lot, "lot of goods")
		}
	}
}

// A Pack is a kind of gift pack as it was made.
type Pack struct {
	PacksMade
	Address Address
	Made    Moment
	Gone    []int64 // bottles removed in packs, part by part
}

func (p *Pack) copied() Pack {
	c := *p
	c.Gone = slices.Clone(p.Gone)
	return c
}

// Left is how many packs are whole in the house.
func (p *Pack) Left() int64 {
	left := p.Packs
	for i, part := range p.Parts {
		left = min(left, p.Packs-(p.Gone[i]+part.Each-1)/max(part.Each, 1))
	}
	return left
}

// Pack finds gift packs, nil where there are none by that address.
func (s *State) Pack(a Address) *Pack { return s.packs.get(a) }

// Packs ranges over the gift packs in the order they were made.
func (s *State) Packs(yield func(Address, *Pack) bool) { s.packs.all(yield) }

func (b *PacksMade) apply(t *turn) {
	for _, p := range b.Parts {
		r := t.state.bottlings.edit(p.Bottling)
		if r == nil {
			t.dangling("bottling", p.Bottling)
			continue
		}
		r.Packed += b.Packs * p.Each
		if over := r.Packed - r.Left(); over > 0 {
			t.ask(Overdrawn, fmt.Sprintf("%d bottles more are in packs of %s %s than the book says there are.", over, r.Name, r.Address), nil, r.Address)
		}
	}
	for _, x := range b.Goods {
		if g := t.goodsLot(x.Lot); g != nil {
			g.Used += x.Pieces
			t.short(g)
		}
	}
	t.state.packs.put(t.entry.address, &Pack{PacksMade: *b, Address: t.entry.address, Made: t.now(), Gone: make([]int64, len(b.Parts))})
}

// unpacked notes that bottles of a lot left the house in packs, and asks where
// more left than the packs held.
func (t *turn) unpacked(pack Address, r *Bottling, n int64) {
	if pack == "" || r == nil {
		return
	}
	p := t.state.packs.edit(pack)
	if p == nil {
		t.dangling("pack", pack)
		return
	}
	i := slices.IndexFunc(p.Parts, func(x PackPart) bool { return x.Bottling == r.Address })
	if i < 0 {
		t.ask(CountDisagrees, fmt.Sprintf("The pack %s has no bottle of this lot.", p.Name), nil, pack)
		return
	}
	p.Gone[i] += n
	r.Packed -= n
	if over := p.Gone[i] - p.Packs*p.Parts[i].Each; over > 0 {
		t.ask(Overdrawn, fmt.Sprintf("%d bottles more left in the packs %s than were put in.", over, p.Name), nil, pack)
	}
}
