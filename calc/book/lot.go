package book

import "slices"

// A SpiritClass is the class of spirit, after 27 CFR part 5 subpart I.
type SpiritClass string

// The classes a book tells apart. The monthly reports divide some of them again
// by the proof of distillation, which each lot keeps.
const (
	Whisky  SpiritClass = "whisky"
	Brandy  SpiritClass = "brandy"
	Rum     SpiritClass = "rum"
	Gin     SpiritClass = "gin"
	Vodka   SpiritClass = "vodka"
	Neutral SpiritClass = "alcohol and neutral spirits"
	Other   SpiritClass = "other"
)

// A Lot is something that can be traced: fruit, a mash, the hearts of a run, a
// bottling. It is named by the entry that began it.
type Lot struct {
	Address  Address
	Name     string // what people call it: 'Quince, orchard row 4'
	Material Material
	Class    SpiritClass
	Begun    Moment
	Run      Address // of a distillate
	Proof    float64 // of distillation, US proof; 0 where it was not distilled here
	Amount   int64   // what was made of it, in the measure of its material's parts
	From     []Part  // the lots it was made of, with the amounts that went in
	With     []Part  // what else went in and gave it no alcohol: yeast, botanicals, bottles
	Into     []Address
}

func (l *Lot) copied() Lot {
	c := *l
	c.From, c.With, c.Into = slices.Clone(l.From), slices.Clone(l.With), slices.Clone(l.Into)
	return c
}

// Lot finds a lot, nil where the book has none by that name.
func (s *State) Lot(a Address) *Lot { return s.lots.get(a) }

// Lots ranges over all lots in the order they were begun.
func (s *State) Lots(yield func(Address, *Lot) bool) { s.lots.all(yield) }

func (s *State) classOf(lot Address) SpiritClass {
	if l := s.lots.get(lot); l != nil && l.Class != "" {
		return l.Class
	}
	return Other
}

// begin makes a lot out of parts of others, named by this entry unless it has
// an address already.
func (t *turn) begin(l Lot) {
	if l.Address == "" {
		l.Address, l.Begun = t.entry.address, t.now()
	}
	for _, p := range l.From {
		t.into(p.Lot, l.Address)
	}
	for _, p := range l.With {
		t.into(p.Lot, l.Address)
	}
	t.state.lots.put(l.Address, &l)
}

// into notes at a lot that another was made with it.
func (t *turn) into(lot, made Address) {
	if parent := t.state.lots.edit(lot); parent != nil && !slices.Contains(parent.Into, made) {
		parent.Into = append(parent.Into, made)
	}
}
