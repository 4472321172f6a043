package book

import (
	"maps"
	"slices"

	"gaugebook/calc/spirit"
)

// A Convention is the legal system a book is kept in.
type Convention string

// The conventions. Every field takes the other one's units and says what they
// became; reports use the book's own.
const (
	US     Convention = "us"     // proof at 60 °F, gallons, pounds
	Metric Convention = "metric" // % vol at 20 °C, litres, kilograms
)

// A State is the house as the entries leave it. It is made by a Book and only
// read by others; it changes when the Book takes in entries.
type State struct {
	book      *Book
	house     House
	vessels   table[Vessel, *Vessel]
	lots      table[Lot, *Lot]
	runs      table[Run, *Run]
	bottlings table[Bottling, *Bottling]
	registers table[Registered, *Registered]
	raws      table[RawLot, *RawLot]
	goods     table[GoodsLot, *GoodsLot]
	ferments  table[Ferment, *Ferment]
	trials    table[Trial, *Trial]
	packs     table[Pack, *Pack]
	notes     notes

	ledger    ledger
	questions []Question
	answers   map[string]Address
	closed    map[string]Address // month -> the entry that closed it
	gauges    []GaugeLine
	table     *spirit.Table // the owner's printed Table 1, nil for none

	entries int
	voided  int
	unknown map[string]int // kinds this build does not know -> entries
}

// copy gives a state that later changes to s do not reach.
func (s *State) copy() *State {
	return &State{
		book:      s.book,
		house:     s.house,
		vessels:   s.vessels.copy(),
		lots:      s.lots.copy(),
		runs:      s.runs.copy(),
		bottlings: s.bottlings.copy(),
		registers: s.registers.copy(),
		raws:      s.raws.copy(),
		goods:     s.goods.copy(),
		ferments:  s.ferments.copy(),
		trials:    s.trials.copy(),
		packs:     s.packs.copy(),
		notes:     s.notes.copy(),
		ledger:    s.ledger.copy(),
		questions: s.questions[:len(s.questions):len(s.questions)],
		answers:   maps.Clone(s.answers),
		closed:    maps.Clone(s.closed),
		gauges:    s.gauges[:len(s.gauges):len(s.gauges)],
		table:     s.table,
		entries:   s.entries,
		voided:    s.voided,
		unknown:   maps.Clone(s.unknown),
	}
}

// A House is what the book says of the place itself.
type House struct {
	Convention Convention
	Name       string
	Plant      string // the regulator's number of the premises
	Opened     Address
}

// House is what the book says of the place itself.
func (s *State) House() House {
	h := s.house
	if h.Convention == "" {
		h.Convention = US
	}
	return h
}

// Convention is the legal system of the book.
func (s *State) Convention() Convention { return s.House().Convention }

// Entries counts the entries in the state, Voided those that no longer act, and
// Incomplete those of kinds or versions that this build does not know: while it
// is above zero every total may be short.
func (s *State) Entries() int { return s.entries }

// Voided counts the entries that a correction took out.
func (s *State) Voided() int { return s.voided }

// Incomplete counts the entries this build does not understand.
func (s *State) Incomplete() int {
	n := 0
	for _, c := range s.unknown {
		n += c
	}
	return n
}

// UnknownKinds lists the kinds behind Incomplete.
func (s *State) UnknownKinds() []string { return slices.Sorted(maps.Keys(s.unknown)) }

// A Registered thing is an instrument, a product, a person, a good or a recipe:
// something the entries speak of by address.
type Registered struct {
	Address Address
	Class   Class
	Name    string
	Body    Body // as registered, with later changes
	Retired bool
}

func (r *Registered) copied() Registered { return *r }

// Registered finds a registered thing of a class, nil where there is none.
func (s *State) Registered(c Class, a Address) *Registered {
	if r := s.registers.get(a); r != nil && r.Class == c {
		return r
	}
	return nil
}

// Register lists the registered things of a class in the order they came.
func (s *State) Register(c Class) []*Registered {
	var out []*Registered
	for _, r := range s.registers.all {
		if r.Class == c {
			out = append(out, r)
		}
	}
	return out
}

func (t *turn) register(c Class, name string, b Body) {
	t.state.registers.put(t.entry.address, &Registered{Address: t.entry.address, Class: c, Name: name, Body: b})
}
