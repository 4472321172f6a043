package book

import (
	"fmt"
	"slices"

	"gaugebook/calc/fault"
)

// A ProductGood is a dry good that a product's bottle or case takes.
type ProductGood struct {
	Good Ref    `key:"good,need" label:"Good" ref:"good"`
	Each int64  `key:"each" label:"Pieces" help:"One, unless given here."`
	Per  string `key:"per" label:"For each" words:"bottle|case" help:"A bottle, unless told otherwise; a carton is for a case in any event."`
}

func (b *ProductRegistered) timely(s *State, f *faults) {
	for i, g := range b.Goods {
		s.registered(f, fmt.Sprintf("goods[%d].good", i+1), AGood, g.Good)
		if g.Each > 1000 {
			f.add(fault.TooHigh, fmt.Sprintf("goods[%d].each", i+1), fmt.Sprint(g.Each), "is more than the 1,000 pieces a bottle or a case takes at the most", "give the pieces of one bottle or case")
		}
	}
}

// A GoodNeed is what each bottle or each case of a product takes of a good.
type GoodNeed struct {
	Good    Address
	Name    string
	Each    int64
	PerCase bool
}

// Needs lists the dry goods of a product: as registered with it, else what its
// latest run drew: learned says that it was the latter.
func (s *State) Needs(product Address) (needs []GoodNeed, learned bool) {
	add := func(a Address, each int64, perCase bool) {
		if g := s.Good(a); g != nil && g.Measured == InPieces && !slices.ContainsFunc(needs, func(n GoodNeed) bool { return n.Good == a }) {
			needs = append(needs, GoodNeed{a, g.Name, max(each, 1), perCase || g.Type == "carton" || g.Type == "divider"})
		}
	}
	if r := s.Registered(AProduct, product); r != nil {
		for _, g := range r.Body.(*ProductRegistered).Goods {
			add(g.Good, g.Each, g.Per == "case")
		}
	}
	if len(needs) > 0 || product == "" {
		return needs, false
	}
	var last *Bottling
	for _, b := range s.bottlings.all {
		if b.Product == product && slices.ContainsFunc(b.Goods, func(m GoodsMove) bool { return m.Way == "issued" }) {
			last = b
		}
	}
	if last == nil {
		return nil, false
	}
	for _, m := range last.Goods {
		if m.Way == "issued" {
			add(m.Good, 1, false)
		}
	}
	return needs, true
}

// For is how many pieces a need comes to for so many bottles.
func (n GoodNeed) For(bottles, perCase int64) int64 {
	if n.PerCase {
		return n.Each * ((bottles + max(perCase, 1) - 1) / max(perCase, 1))
	}
	return n.Each * bottles
}

// Labelled is the opening of a run with what its product's registration says.
func (s *State) Labelled(b BottlingOpened) BottlingOpened {
	full, _, _ := b.labelled(s)
	return full
}

// NextCase is the serial number of the next case: cases are numbered in one
// series from 1 to 1,000,000 and then from 1 again, and a rest of a case bears
// the number of the last full one (27 CFR 19.490(b), (c)).
func (s *State) NextCase() int64 {
	next := int64(1)
	for _, b := range s.bottlings.all {
		if b.FirstCase > 0 {
			next = b.FirstCase
		}
		if b.PerCase > 0 {
			next += b.Good() / b.PerCase
		}
	}
	return (next-1)%1_000_000 + 1
}

// DayLot is the lot's name of a run that is opened on a day: year, letter of
// the month, day, and from the second run of the day on a letter, A for the
// second (27 CFR 19.485(a), which says so of packages; the third lot on 2
// January 2002 is 02A02B). taken are the runs opened on that day before.
func DayLot(day string, taken int) string {
	if len(day) != len("2006-01-02") {
		return ""
	}
	month := int(day[5]-'0')*10 + int(day[6]-'0')
	name := day[2:4] + string(rune('A'+month-1)) + day[8:]
	if taken > 0 {
		name += string(rune('A' + (taken-1)%26))
	}
	return name
}

// OpenedOn counts the runs that were opened on a day.
func (s *State) OpenedOn(day string) (n int) {
	for _, b := range s.bottlings.all {
		if b.Opened.Day() == day {
			n++
		}
	}
	return n
}
