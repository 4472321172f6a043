package book

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var businessKinds = []*Kind{
	describe[PriceNoted]("price noted", Office, "",
		"What a delivery or a lot of goods cost.", "The lot.", "Counts in the cost of what is made of the lot. Only phones that see costs get it."),
	describe[EntryDeclined]("entry declined", Office, "",
		"An entry that the office keeps aside, of a phone whose role or time did not cover it, is not let in.", "The entry, kept aside.", "It is no longer asked about. It stays aside as it came, and can still be let in."),
}

// PriceNoted is what a lot cost. It stands apart from the delivery, so that
// the delivery can reach phones that see no prices: a record is sealed whole,
// and no field of it can be kept from one who gets it.
type PriceNoted struct {
	Lot   Ref              `key:"lot,need" label:"Lot" ref:"lot"`
	Price quantity.Reading `key:"price,need" label:"Price of all of it" unit:"USD|EUR" min:"0USD|0EUR" max:"10000000USD|10000000EUR" help:"The whole lot, as on the invoice."`
	Note  string           `key:"note" label:"Note"`
}

func (b *PriceNoted) timely(s *State, f *faults) {
	if s.RawLot(b.Lot) == nil && s.GoodsLot(b.Lot) == nil {
		unknownRef(f, "lot", b.Lot, "delivery or lot of goods")
	}
}

// apply gives the lot its price; the last word counts, as it does for one that
// came with its price.
func (b *PriceNoted) apply(t *turn) {
	switch s := t.state; {
	case s.RawLot(b.Lot) != nil:
		s.raws.edit(b.Lot).Price = b.Price
	case s.GoodsLot(b.Lot) != nil:
		s.goods.edit(b.Lot).Price = b.Price
	default:
		t.dangling("lot", b.Lot)
	}
}

// EntryDeclined is the owner's word that an entry kept aside stays there.
type EntryDeclined struct {
	Entry string `key:"entry,need" label:"Its address" help:"As the list of what waits shows it."`
	What  string `key:"what" label:"What it was"`
	Why   string `key:"why,need" label:"Why" help:"It stays readable for ever."`
}

func (b *EntryDeclined) timely(s *State, f *faults) {
	if s.book.Entry(Address(b.Entry)) != nil {
		f.add(fault.Conflict, "entry", b.Entry, "is in the book", "void it, if it should not be there")
	}
}

func (b *EntryDeclined) apply(t *turn) {
	t.state.notes.declined = append(t.state.notes.declined, Declined{t.entry.address, t.now(), t.entry.By, b})
}

// A Declined entry is one that the owner decided not to let in.
type Declined struct {
	By   Address // the entry that says so
	On   Moment
	Sign string // who signed it
	*EntryDeclined
}

// Declined lists what the owner left out, in book order.
func (s *State) Declined() []Declined { return s.notes.declined }
