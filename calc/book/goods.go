package book

import (
	"fmt"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var goodsKinds = []*Kind{
	describe[GoodsRegistered]("goods registered", Office, AGood,
		"Something the house keeps in stock: glass, closures, labels, cartons, yeast, filter sheets.", "", "Deliveries, issues and counts can name it."),
	describe[GoodsReceived]("goods received", Yard, AGoodsLot,
		"Goods came in, as one lot.", "The good.", "A lot of goods begins and is on hand."),
	describe[GoodsIssued]("goods issued", BottlingFloor, "",
		"Goods were taken out of stock, to the bottling line or for use.", "The lot of goods.", "On hand goes down; the bottling has them at its line."),
	describe[GoodsReturned]("goods returned", BottlingFloor, "",
		"Goods that were issued came back unused.", "The lot of goods.", "On hand goes up; the bottling no longer has them."),
	describe[GoodsSpoiled]("goods spoiled", BottlingFloor, "",
		"Goods cannot be used: broken, misprinted, out of date.", "The lot of goods.", "Of the bottling they were issued to, if one is named; of the stock on hand otherwise."),
	describe[GoodsCounted]("goods counted", Office, "",
		"Somebody counted what is on hand of a lot of goods.", "The lot of goods.", "Nothing but a question, where the count is not what the book has."),
	describe[GoodsAdjusted]("goods adjusted", Office, "",
		"The book takes over the last count of a lot of goods, with the reason.", "A count of it.", "On hand is what was counted."),
}

// GoodsRegistered puts a good in the register.
type GoodsRegistered struct {
	Name     string   `key:"name,need" label:"Name" help:"As it is called in the house: 'Tall 750 clear'."`
	Type     string   `key:"type,need" label:"What it is" words:"bottle|can|can end|closure|label|back label|neck label|seal|carton|divider|yeast|enzyme|acid|nutrient|sugar|filter sheet|cleaning|other"`
	Measured Measured `key:"counted_in,need" label:"Counted in" words:"pieces|weight|volume"`
	Reorder  int64    `key:"reorder" label:"Order again at" help:"In pieces, kilograms or litres, as it is counted."`
	PerUnit  int64    `key:"per_roll" label:"Pieces on a roll or pallet" help:"A gap of a whole roll is easier to find."`
	Product  Ref      `key:"product" label:"Only for the product" ref:"product"`
	Note     string   `key:"note" label:"Note"`
	Fits     int64    `key:"fits" label:"Bottles that it takes" help:"For cartons and dividers: how many bottles are in a full one."`
}

func (b *GoodsRegistered) apply(t *turn) { t.register(AGood, b.Name, b) }

// Good finds a registered good, nil where there is none by that address.
func (s *State) Good(a Address) *GoodsRegistered {
	if r := s.Registered(AGood, a); r != nil {
		return r.Body.(*GoodsRegistered)
	}
	return nil
}

// GoodsReceived begins a lot of goods.
type GoodsReceived struct {
	Good Ref `key:"good,need" label:"What came" ref:"good"`
	Amount
	Supplier    Ref              `key:"supplier" label:"Supplier" ref:"supplier"`
	SupplierLot string           `key:"supplier_lot" label:"Supplier's lot"`
	Price       quantity.Reading `key:"price" label:"Price of all of it" unit:"USD|EUR" min:"0USD|0EUR" max:"10000000USD|10000000EUR" help:"It reaches every phone that sees the lot. ‘price noted’ keeps it to those that see costs."`
	Document    string           `key:"document" label:"Delivery note or invoice"`
	BestBefore  Day              `key:"best_before" label:"To be used by"`
	Note        string           `key:"note" label:"Note"`
}

func (b *GoodsReceived) sound(f *faults) { b.Amount.sound(f, false) }

func (b *GoodsReceived) timely(s *State, f *faults) {
	s.registered(f, "supplier", ASupplier, b.Supplier)
	if g := s.Good(b.Good); g == nil {
		unknownRef(f, "good", b.Good, "good")
	} else {
		b.as(f, g.Measured, g.Name)
	}
}

// A GoodsLot is a lot of goods with what became of it. Amounts are in whole
// pieces, milligrams or millilitres, as Measured says.
type GoodsLot struct {
	GoodsReceived
	Address   Address
	Came      Moment
	Name      string
	Measured  Measured
	Received  int64
	Issued    int64 // to bottlings and other uses, less what came back
	Used      int64 // in mashes and infusions
	Spoiled   int64 // in stock
	Adjusted  int64 // by counts that were taken over
	Count     int64 // the last one
	Counted   Moment
	CountedBy Address // entry of the last count, "" for none
}

func (g *GoodsLot) copied() GoodsLot { return *g }

// OnHand is what the book has of the lot in stock.
func (g *GoodsLot) OnHand() int64 { return g.Received - g.Issued - g.Used - g.Spoiled + g.Adjusted }

// GoodsLot finds a lot of goods, nil where there is none by that address.
func (s *State) GoodsLot(a Address) *GoodsLot { return s.goods.get(a) }

// GoodsLots ranges over the lots of goods in the order they came.
func (s *State) GoodsLots(yield func(Address, *GoodsLot) bool) { s.goods.all(yield) }

// OnHand is what the book has of a good in stock, over all its lots.
func (s *State) OnHand(good Address) int64 {
	var n int64
	for _, g := range s.goods.all {
		if g.Good == good {
			n += g.OnHand()
		}
	}
	return n
}

func (b *GoodsReceived) apply(t *turn) {
	lot := &GoodsLot{GoodsReceived: *b, Address: t.entry.address, Came: t.now(), Measured: InPieces}
	if g := t.state.Good(b.Good); g != nil {
		lot.Name, lot.Measured = g.Name, g.Measured
	} else {
		t.dangling("good", b.Good)
	}
	lot.Received = b.of(lot.Measured)
	t.state.goods.put(lot.Address, lot)
	t.begin(Lot{Name: lot.Name, Material: DryGoods, Amount: lot.Received})
}

// goodsLot gives a lot of goods to change, and asks where the book has none.
func (t *turn) goodsLot(a Address) *GoodsLot {
	g := t.state.goods.edit(a)
	if g == nil {
		t.dangling("lot of goods", a)
	}
	return g
}

// short asks where more was taken of a lot of goods than there was.
func (t *turn) short(g *GoodsLot) {
	if over := -g.OnHand(); over > 0 {
		t.ask(Overdrawn, fmt.Sprintf("%s more were taken of %s than the book says there were.", g.Measured.Show(over), g.Name), nil, g.Address)
	}
}

// stocked says why so much cannot be taken of a lot of goods.
func (s *State) stocked(f *faults, field string, lot Address, a *Amount) *GoodsLot {
	g := s.GoodsLot(lot)
	if g == nil {
		unknownRef(f, field, lot, "lot of goods")
		return nil
	}
	before := len(f.list)
	a.as(f, g.Measured, g.Name)
	if n := a.of(g.Measured); n > g.OnHand() && len(f.list) == before {
		f.add(fault.TooHigh, string(g.Measured), g.Measured.Show(n), "is more than the "+g.Measured.Show(max(g.OnHand(), 0))+" of this lot of "+g.Name+" on hand", "count again, or enter first what came in")
	}
	return g
}

// A GoodsMove is one movement of goods to or from a bottling line.
type GoodsMove struct {
	Entry  Address
	Lot    Address
	Good   Address
	Way    string // issued, returned, spoiled
	Amount int64
}

// toLine notes a movement at a bottling.
func (t *turn) toLine(bottling Address, g *GoodsLot, way string, n int64) {
	if bottling == "" {
		return
	}
	r := t.state.bottlings.edit(bottling)
	if r == nil {
		t.dangling("bottling", bottling)
		return
	}
	r.Goods = append(r.Goods, GoodsMove{Entry: t.entry.address, Lot: g.Address, Good: g.Good, Way: way, Amount: n})
	if lot := t.state.lots.edit(bottling); lot != nil && way == "issued" { // it is closed already
		lot.With = addParts(lot.With, []Part{{Lot: g.Address, Amount: n}}, 1)
		t.into(g.Address, bottling)
	}
}

// Line sums what a bottling has of a good at its line: issued, returned and
// spoiled there.
func (b *Bottling) Line(good Address) (issued, returned, spoiled int64) {
	for _, m := range b.Goods {
		switch {
		case m.Good != good:
		case m.Way == "issued":
			issued += m.Amount
		case m.Way == "returned":
			returned += m.Amount
		default:
			spoiled += m.Amount
		}
	}
	return issued, returned, spoiled
}

// with lists the lots of goods that a bottling used.
func (b *Bottling) with() []Part {
	var out []Part
	for _, m := range b.Goods {
		switch m.Way {
		case "issued":
			out = addParts(out, []Part{{Lot: m.Lot, Amount: m.Amount}}, 1)
		case "returned":
			out = addParts(out, []Part{{Lot: m.Lot, Amount: m.Amount}}, -1)
		}
	}
	return out
}

// GoodsIssued takes goods out of stock.
type GoodsIssued struct {
	Lot Ref `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Amount
	Bottling Ref    `key:"bottling" label:"To the bottling" ref:"bottling"`
	For      string `key:"for" label:"For" help:"If it is not for a bottling."`
	Note     string `key:"note" label:"Note"`
}

func (b *GoodsIssued) sound(f *faults) { b.Amount.sound(f, false) }

func (b *GoodsIssued) timely(s *State, f *faults) {
	s.stocked(f, "lot", b.Lot, &b.Amount)
	s.knownBottling(f, b.Bottling)
}

func (s *State) knownBottling(f *faults, a Address) {
	if a != "" && s.Bottling(a) == nil {
		unknownRef(f, "bottling", a, "bottling")
	}
}

func (b *GoodsIssued) apply(t *turn) {
	if g := t.goodsLot(b.Lot); g != nil {
		n := b.of(g.Measured)
		g.Issued += n
		t.short(g)
		t.toLine(b.Bottling, g, "issued", n)
	}
}

// GoodsReturned brings issued goods back.
type GoodsReturned struct {
	Lot Ref `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Amount
	Bottling Ref    `key:"bottling" label:"From the bottling" ref:"bottling"`
	Note     string `key:"note" label:"Note"`
}

func (b *GoodsReturned) sound(f *faults) { b.Amount.sound(f, false) }

func (b *GoodsReturned) timely(s *State, f *faults) {
	g := s.GoodsLot(b.Lot)
	if g == nil {
		unknownRef(f, "lot", b.Lot, "lot of goods")
		return
	}
	b.as(f, g.Measured, g.Name)
	if n := b.of(g.Measured); n > g.Issued {
		f.add(fault.TooHigh, string(g.Measured), g.Measured.Show(n), "is more than the "+g.Measured.Show(g.Issued)+" of this lot that were issued", "count again, or choose the right lot")
	}
	s.knownBottling(f, b.Bottling)
}

func (b *GoodsReturned) apply(t *turn) {
	g := t.goodsLot(b.Lot)
	if g == nil {
		return
	}
	n := b.of(g.Measured)
	if over := n - g.Issued; over > 0 {
		t.ask(CountDisagrees, fmt.Sprintf("%s more came back of %s than were issued.", g.Measured.Show(over), g.Name), nil, g.Address)
	}
	g.Issued -= n
	t.toLine(b.Bottling, g, "returned", n)
}

// GoodsSpoiled is goods that cannot be used.
type GoodsSpoiled struct {
	Lot Ref `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Amount
	Bottling Ref    `key:"bottling" label:"At the bottling" ref:"bottling" help:"If they were issued to it. Otherwise they are taken off the stock."`
	Reason   string `key:"reason,need" label:"Why" words:"broken|misprinted|wrong|dirty|out of date|missing|other"`
	Note     string `key:"note" label:"Note"`
}

func (b *GoodsSpoiled) sound(f *faults) { b.Amount.sound(f, false) }

func (b *GoodsSpoiled) timely(s *State, f *faults) {
	if b.Bottling == "" {
		s.stocked(f, "lot", b.Lot, &b.Amount)
		return
	}
	if s.GoodsLot(b.Lot) == nil {
		unknownRef(f, "lot", b.Lot, "lot of goods")
	}
	s.knownBottling(f, b.Bottling)
}

func (b *GoodsSpoiled) apply(t *turn) {
	g := t.goodsLot(b.Lot)
	if g == nil {
		return
	}
	n := b.of(g.Measured)
	if b.Bottling != "" {
		t.toLine(b.Bottling, g, "spoiled", n)
		return
	}
	g.Spoiled += n
	t.short(g)
}

// GoodsCounted asserts what is on hand; it never makes the book agree.
type GoodsCounted struct {
	Lot Ref `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Amount
	None bool   `key:"none" label:"None is left"`
	Note string `key:"note" label:"Note"`
}

func (b *GoodsCounted) sound(f *faults) { b.Amount.sound(f, b.None) }

func (b *GoodsCounted) timely(s *State, f *faults) {
	if g := s.GoodsLot(b.Lot); g == nil {
		unknownRef(f, "lot", b.Lot, "lot of goods")
	} else if !b.None {
		b.as(f, g.Measured, g.Name)
	}
}

func (b *GoodsCounted) apply(t *turn) {
	g := t.goodsLot(b.Lot)
	if g == nil {
		return
	}
	g.Count, g.Counted, g.CountedBy = b.of(g.Measured), t.now(), t.entry.address
	if b.None {
		g.Count = 0
	}
	if off := g.Count - g.OnHand(); off != 0 {
		word, size := "less", -off
		if off > 0 {
			word, size = "more", off
		}
		t.ask(CountDisagrees, fmt.Sprintf("The count of %s is %s %s than the book has.", g.Name, g.Measured.Show(size), word),
			&Proposal{Kind: "goods adjusted", Body: Encode(&GoodsAdjusted{Lot: b.Lot, Why: "not found"})}, b.Lot)
	}
}

// GoodsAdjusted takes the last count over.
type GoodsAdjusted struct {
	Lot Ref    `key:"lot,need" label:"Lot of goods" ref:"goods lot"`
	Why string `key:"why,need" label:"Why" help:"Where the difference came from, or that nobody knows."`
}

func (b *GoodsAdjusted) timely(s *State, f *faults) {
	switch g := s.GoodsLot(b.Lot); {
	case g == nil:
		unknownRef(f, "lot", b.Lot, "lot of goods")
	case g.CountedBy == "":
		f.add(fault.Missing, "lot", g.Name, "was never counted", "count it first")
	}
}

func (b *GoodsAdjusted) apply(t *turn) {
	if g := t.goodsLot(b.Lot); g != nil && g.CountedBy != "" {
		g.Adjusted += g.Count - g.OnHand()
	}
}
