package report

import (
	"cmp"
	"maps"
	"slices"

	"gaugebook/calc/book"
)

// A way is from where to where alcohol of one kind went in a month.
type way struct {
	month    string
	from, to book.Account
	kind     Column
}

func (k way) compare(l way) int {
	return cmp.Or(cmp.Compare(k.month, l.month), cmp.Compare(k.from, l.from), cmp.Compare(k.to, l.to), cmp.Compare(k.kind, l.kind))
}

// A flow is all that went one way. It is the smallest figure that is rounded
// (see round): lines and balances are sums of rounded flows, so that the forms
// agree with themselves, with each other and with the month before, by
// construction.
type flow struct {
	way
	amount  book.Alcohol
	entries []Share        // of the month itself
	late    []book.Address // written or corrected after a month was closed
	turned  bool           // adjustments were more than what moved
	printed Tenths         // see round
	evened  bool           // by a tenth, there
}

// A Share is what one entry adds to a figure.
type Share struct {
	Entry  book.Address
	Amount book.Alcohol
}

// adjusted is what the entries do not account for: in an open month the
// adjustments to closed ones, in a closed month what it was signed for and is
// no longer told.
func (f *flow) adjusted() book.Alcohol {
	left := f.amount
	for _, e := range f.entries {
		left -= e.Amount
	}
	return left
}

func (f *flow) tell(entry book.Address, amount book.Alcohol) {
	if n := len(f.entries); n > 0 && f.entries[n-1].Entry == entry {
		f.entries[n-1].Amount += amount
		return
	}
	f.entries = append(f.entries, Share{entry, amount})
}

// flows sums the postings up to a month. A closed month has the flows it was
// signed for; what the book has come to say of closed months since then counts
// in the first month after them.
func flows(s *book.State, month string) []*flow {
	all := map[way]*flow{}
	at := func(k way) *flow {
		f := all[k]
		if f == nil {
			f = &flow{way: k}
			all[k] = f
		}
		return f
	}
	convention, closed := s.Convention(), s.Closed()
	open := firstOpen(closed)
	late := map[book.Address]bool{}
	for _, q := range s.Questions() {
		if q.Kind == book.ClosedMonth {
			late[q.Entries[0]] = true
		}
	}
	postings := s.Postings()
	for i := range postings {
		p := &postings[i]
		k := way{p.On.Month(), p.From, p.To, kindOf(s, p, convention)}
		switch {
		case k.month > month:
		case closed[k.month] == nil:
			f := at(k)
			f.amount += p.Amount
			if k.month == month {
				f.tell(p.Entry, p.Amount)
			}
		default:
			if k.month == month {
				if f := at(k); late[p.Entry] {
					f.late = append(f.late, p.Entry)
				} else {
					f.tell(p.Entry, p.Amount)
				}
			}
			if k.month = open; open <= month {
				f := at(k)
				f.amount += p.Amount
				if late[p.Entry] && open == month {
					f.late = append(f.late, p.Entry)
				}
			}
		}
	}
	for m, c := range closed {
		for _, f := range c.Figures {
			amount := book.Alcohol(f.Amount.Decimal().Shift(4).IntPart())
			k := way{m, f.From, f.To, Column(f.Kind)}
			if m <= month {
				at(k).amount += amount
			}
			if k.month = open; open <= month {
				at(k).amount -= amount
			}
		}
	}
	out := forward(all)
	round(out, convention)
	return out
}

// firstOpen is the month after the last closed one.
func firstOpen(closed map[string]*book.MonthClosed) string {
	last := ""
	for m := range closed {
		last = max(last, m)
	}
	return book.NextMonth(last)
}

// forward turns a flow below zero, which an adjustment can bring about, into
// one the other way, for the forms take no figure below zero; and puts all in
// order.
func forward(all map[way]*flow) []*flow {
	out := make(map[way]*flow, len(all))
	for _, k := range slices.SortedFunc(maps.Keys(all), way.compare) {
		f := all[k]
		if f.amount < 0 {
			f.way, f.amount, f.turned = way{k.month, k.to, k.from, k.kind}, -f.amount, true
			for i := range f.entries {
				f.entries[i].Amount = -f.entries[i].Amount
			}
		}
		there := out[f.way]
		if there == nil {
			out[f.way] = f
			continue
		}
		there.amount += f.amount
		there.entries = append(there.entries, f.entries...)
		there.late = append(there.late, f.late...)
		there.turned = there.turned || f.turned
	}
	return slices.SortedFunc(maps.Values(out), func(a, b *flow) int { return a.way.compare(b.way) })
}

// change is what a flow does to an account: 1, -1 or nothing.
func change(a book.Account, k way) int64 {
	switch a {
	case k.to:
		return 1
	case k.from:
		return -1
	}
	return 0
}
