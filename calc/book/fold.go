package book

import (
	"cmp"
	"slices"
	"strings"
)

// A Book holds entries in book order and keeps the State that follows from
// them. Entries may be added in any order and any number of times: the State
// depends on the set alone. An entry at the end costs its own work; a late one,
// or a correction, costs the work of the entries after its place. A Book is not
// safe for use by several goroutines at once.
type Book struct {
	log         []*leaf // in effective book order
	byID        map[string]*leaf
	byAddress   map[Address]*leaf
	corrections map[Address][]*Entry // by the address named; in the order written
	closings    map[string][]*leaf   // by month, in the order written
	marks       []mark
	state       *State
	applied     int  // leaves of log that state has taken in
	refoldAll   bool // an address changed hands
}

// A leaf is an entry at its place in the book.
type leaf struct {
	*Entry
	address Address
	place   place // as last amended
	filed   bool  // it stands in the log, at place
}

func (l *leaf) compare(m *leaf) int {
	// Two entries with one address come of a cloned device; the identity decides.
	return cmp.Or(l.place.compare(m.place), strings.Compare(l.ID, m.ID))
}

// A mark is a state to go back to: the house after the first n entries.
type mark struct {
	n     int
	state *State
}

// markEvery is how many entries lie between marks; going back costs at most as
// many more entries than the late one made necessary.
const markEvery = 1000

// New is an empty book.
func New() *Book {
	b := &Book{byID: map[string]*leaf{}, byAddress: map[Address]*leaf{}, corrections: map[Address][]*Entry{}, closings: map[string][]*leaf{}}
	b.state = &State{book: b}
	return b
}

// State is the house as all entries leave it. It is valid until the next Add.
func (b *Book) State() *State { return b.state }

// Len is how many entries the book holds.
func (b *Book) Len() int { return len(b.log) }

// All ranges over the entries in book order. An entry whose time was amended
// stands at its amended time.
func (b *Book) All(yield func(*Entry) bool) {
	for _, l := range b.log {
		if !yield(l.Entry) {
			return
		}
	}
}

// Entry finds an entry by address, nil where the book has none.
func (b *Book) Entry(a Address) *Entry {
	if l := b.byAddress[a]; l != nil {
		return l.Entry
	}
	return nil
}

// Add takes in entries, in any order; those it already has are passed over. It
// reports how many were new.
func (b *Book) Add(entries ...*Entry) int {
	fresh := make([]*leaf, 0, len(entries))
	for _, e := range entries {
		if b.byID[e.ID] != nil {
			continue
		}
		l := &leaf{Entry: e, address: e.Address()}
		b.byID[e.ID] = l
		fresh = append(fresh, l)
		b.name(l)
		if target := correctionOf(e); target != "" {
			b.corrections[target] = append(b.corrections[target], e)
			slices.SortFunc(b.corrections[target], func(x, y *Entry) int { return x.place().compareWritten(y.place()) })
		}
		if c, ok := e.Body.(*MonthClosed); ok {
			b.closings[c.Month] = append(b.closings[c.Month], l)
			slices.SortFunc(b.closings[c.Month], func(x, y *leaf) int { return x.Entry.place().compareWritten(y.Entry.place()) })
		}
	}
	if len(fresh) > 0 {
		b.refold(b.file(fresh))
	}
	return len(fresh)
}

// name gives an entry its address. Where a copied device gave one address to
// two entries, the one written first has it, whichever arrived first.
func (b *Book) name(l *leaf) {
	if holder := b.byAddress[l.address]; holder != nil {
		b.refoldAll = true
		if cmp.Or(holder.Entry.place().compareWritten(l.Entry.place()), strings.Compare(holder.ID, l.ID)) < 0 {
			return
		}
	}
	b.byAddress[l.address] = l
}

// file puts fresh entries where they belong, moves the entries that they
// correct, and returns the first position that changed.
func (b *Book) file(fresh []*leaf) int {
	first := len(b.log)
	moved := slices.Clone(fresh)
	for _, l := range fresh {
		for _, c := range b.corrections[l.address] { // that waited for l
			if waiting := b.byID[c.ID]; waiting.filed {
				first = min(first, b.find(waiting))
			}
		}
		root := b.root(l)
		if root == nil {
			continue
		}
		if c, ok := root.Body.(*MonthClosed); ok { // entries of the month may be late by it, or no longer
			first = min(first, b.monthStart(c.Month))
		}
		if root.filed {
			at := b.find(root)
			first = min(first, at)
			if b.effective(root.Entry).place != root.place {
				b.log = slices.Delete(b.log, at, at+1)
				root.filed = false
				moved = append(moved, root)
			}
		}
	}
	for _, l := range moved {
		l.place, l.filed = b.effective(l.Entry).place, true
	}
	slices.SortFunc(moved, (*leaf).compare)
	at := b.find(moved[0])
	if at == len(b.log) {
		b.log = append(b.log, moved...)
	} else {
		b.log = merge(b.log[:at], slices.Clone(b.log[at:]), moved)
	}
	return min(first, at)
}

// merge appends two sorted lists to a third, in order.
func merge(into, x, y []*leaf) []*leaf {
	for len(x) > 0 && len(y) > 0 {
		if x[0].compare(y[0]) < 0 {
			into, x = append(into, x[0]), x[1:]
		} else {
			into, y = append(into, y[0]), y[1:]
		}
	}
	return append(append(into, x...), y...)
}

// find is the position in the log at which l stands or would stand.
func (b *Book) find(l *leaf) int {
	at, _ := slices.BinarySearchFunc(b.log, l, (*leaf).compare)
	return at
}

// refold brings the state up to date with the log from a position on.
func (b *Book) refold(from int) {
	if b.refoldAll {
		from, b.refoldAll = 0, false
	}
	if from < b.applied {
		i := len(b.marks)
		for i > 0 && b.marks[i-1].n > from {
			i--
		}
		clear(b.marks[i:])
		b.marks = b.marks[:i]
		b.applied, b.state = 0, &State{book: b}
		if i > 0 {
			b.applied, b.state = b.marks[i-1].n, b.marks[i-1].state.copy()
		}
	}
	for ; b.applied < len(b.log); b.applied++ {
		if b.applied > 0 && b.applied%markEvery == 0 && (len(b.marks) == 0 || b.marks[len(b.marks)-1].n < b.applied) {
			b.mark()
		}
		b.turn(b.log[b.applied])
	}
}

// mark keeps a copy of the state, and thins the older ones so that they lie
// twice as far apart the further back they are: a few dozen for any book.
func (b *Book) mark() {
	b.marks = append(b.marks, mark{b.applied, b.state.copy()})
	for i := len(b.marks) - 3; i >= 0; i-- {
		gap := b.marks[i+2].n - b.marks[i].n
		if behind := b.applied - b.marks[i+2].n; gap <= behind/2 {
			b.marks = slices.Delete(b.marks, i+1, i+2)
		}
	}
}

// A turn is one entry taking effect.
type turn struct {
	book  *Book
	state *State
	entry *leaf
	at    *Moment // the amended time, nil where it stands as written

	touched []*Vessel
}

func (b *Book) turn(l *leaf) {
	s := b.state
	s.entries++
	t := &turn{book: b, state: s, entry: l}
	if b.byAddress[l.address] != l {
		t.ask(AddressTaken, "Two different entries carry the address "+string(l.address)+"; the device was copied. The one written first counts, and this one is left out.", nil)
		return
	}
	eff := b.effective(l.Entry)
	switch {
	case eff.void:
		s.voided++
		t.late(eff.by)
	case eff.body == nil:
		if s.unknown == nil {
			s.unknown = map[string]int{}
		}
		s.unknown[l.Kind]++
	default:
		t.at = eff.happened
		t.late(eff.by)
		t.twice(eff.body)
		eff.body.apply(t)
		for _, v := range t.touched {
			t.level(v, eff.body)
		}
	}
}

// now is when the entry happened, as last amended.
func (t *turn) now() Moment {
	if t.at != nil {
		return *t.at
	}
	return t.entry.Happened
}

// late asks about an entry, or a correction of one, that was written after the
// month it is about was closed.
func (t *turn) late(by *Entry) {
	written := t.entry.Entry
	if by != nil {
		written = by
	}
	month := t.now().Month()
	if c := t.book.closing(month); c != nil && c.Entry.place().compareWritten(written.place()) < 0 {
		t.ask(ClosedMonth, "It was written after "+month+" was closed. That month stays as it was signed for; the difference counts as an adjustment in the first open month.", nil, c.address)
	}
}

// closing is the entry that closed a month and stands, nil while it is open.
func (b *Book) closing(month string) *leaf {
	for _, l := range b.closings[month] {
		if !b.effective(l.Entry).void {
			return l
		}
	}
	return nil
}

// monthStart is the first position whose entry happened in a month or later.
func (b *Book) monthStart(month string) int {
	for i, l := range b.log {
		if l.Happened.Month() >= month {
			return i
		}
	}
	return len(b.log)
}

// NextMonth is the month after one, "2027-01" after "2026-12".
func NextMonth(m string) string {
	b := []byte(m)
	if len(b) != 7 {
		return m
	}
	month := int(b[5]-'0')*10 + int(b[6]-'0') + 1
	if month > 12 {
		month = 1
		for i := 3; i >= 0; i-- {
			if b[i]++; b[i] <= '9' {
				break
			}
			b[i] = '0'
		}
	}
	b[5], b[6] = byte('0'+month/10), byte('0'+month%10)
	return string(b)
}
