package book

import (
	"slices"
	"sort"
)

// A Book holds entries in book order and keeps the State that follows from
// them. Entries may be added in any order and any number of times: the State
// depends on the set alone. An entry at the end costs its own work; a late one,
// or a correction, costs the work of the entries after its place. A Book is not
// safe for use by several goroutines at once.
type Book struct {
	log         []*Entry         // in effective book order
	places      map[string]place // by ID: where each entry stands now
	byID        map[string]*Entry
	byAddress   map[Address]*Entry
	corrections map[Address][]*Entry // by the address named; in the order written
	marks       []mark
	state       *State
	applied     int  // entries of log that state has taken in
	refoldAll   bool // an address changed hands
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
	b := &Book{places: map[string]place{}, byID: map[string]*Entry{}, byAddress: map[Address]*Entry{},
		corrections: map[Address][]*Entry{}}
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
	for _, e := range b.log {
		if !yield(e) {
			return
		}
	}
}

// Entry finds an entry by address, nil where the book has none.
func (b *Book) Entry(a Address) *Entry { return b.byAddress[a] }

// Add takes in entries, in any order; those it already has are passed over. It
// reports how many were new.
func (b *Book) Add(entries ...*Entry) int {
	fresh := make([]*Entry, 0, len(entries))
	for _, e := range entries {
		if b.byID[e.ID] != nil {
			continue
		}
		b.byID[e.ID] = e
		fresh = append(fresh, e)
		b.name(e)
		if target := correctionOf(e); target != "" {
			b.corrections[target] = append(b.corrections[target], e)
			slices.SortFunc(b.corrections[target], func(x, y *Entry) int { return x.place().compareWritten(y.place()) })
		}
	}
	if len(fresh) == 0 {
		return 0
	}
	b.refold(b.insert(fresh))
	return len(fresh)
}

// name gives an entry its address. Where a copied device gave one address to
// two entries, the one written first has it, whichever arrived first.
func (b *Book) name(e *Entry) {
	a := e.Address()
	holder := b.byAddress[a]
	if holder != nil {
		b.refoldAll = true
		if c := holder.place().compareWritten(e.place()); c < 0 || c == 0 && holder.ID < e.ID {
			return
		}
	}
	b.byAddress[a] = e
}

// insert puts fresh entries where they belong, moves the entries that they
// correct, and returns the first position that changed.
func (b *Book) insert(fresh []*Entry) int {
	moved := slices.Clone(fresh)
	first := len(b.log)
	for _, e := range fresh {
		for _, c := range b.corrections[e.Address()] { // that waited for e
			if at, in := b.places[c.ID]; in {
				first = min(first, b.find(at, c.ID))
			}
		}
		root := b.root(e)
		if root == nil || root == e {
			continue
		}
		if old, in := b.places[root.ID]; in {
			at := b.find(old, root.ID)
			first = min(first, at)
			if now := b.effective(root).place; now != old {
				b.log = slices.Delete(b.log, at, at+1)
				delete(b.places, root.ID)
				moved = append(moved, root)
			}
		}
	}
	slices.SortFunc(moved, func(x, y *Entry) int { return compareAt(b.placeOf(x), x.ID, b.placeOf(y), y.ID) })
	moved = slices.CompactFunc(moved, func(x, y *Entry) bool { return x.ID == y.ID })
	for _, e := range moved {
		b.places[e.ID] = b.placeOf(e)
	}
	at := b.find(b.places[moved[0].ID], moved[0].ID)
	first = min(first, at)
	if at == len(b.log) {
		b.log = append(b.log, moved...)
		return first
	}
	tail := slices.Clone(b.log[at:])
	b.log = b.log[:at]
	for len(tail) > 0 && len(moved) > 0 {
		if compareAt(b.places[tail[0].ID], tail[0].ID, b.places[moved[0].ID], moved[0].ID) < 0 {
			b.log, tail = append(b.log, tail[0]), tail[1:]
		} else {
			b.log, moved = append(b.log, moved[0]), moved[1:]
		}
	}
	b.log = append(append(b.log, tail...), moved...)
	return first
}

func compareAt(p place, id string, q place, jd string) int {
	if c := p.compare(q); c != 0 {
		return c
	}
	switch { // two entries with one address: a cloned device; the identity decides
	case id < jd:
		return -1
	case id > jd:
		return 1
	}
	return 0
}

func (b *Book) placeOf(e *Entry) place { return b.effective(e).place }

// find is the position in the log at which p stands or would stand.
func (b *Book) find(p place, id string) int {
	return sort.Search(len(b.log), func(i int) bool {
		e := b.log[i]
		return compareAt(b.places[e.ID], e.ID, p, id) >= 0
	})
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
	entry *Entry
	at    *Moment // the amended time, nil where it stands as written
}

func (b *Book) turn(e *Entry) {
	s := b.state
	s.entries++
	if first := b.byAddress[e.Address()]; first != e {
		t := &turn{book: b, state: s, entry: e}
		t.ask(AddressTaken, "Two different entries carry the address "+string(e.Address())+"; the device was copied. The one written first counts, and this one is left out.", nil)
		return
	}
	eff := b.effective(e)
	switch {
	case eff.void:
		s.voided++
	case eff.body == nil:
		if s.unknown == nil {
			s.unknown = map[string]int{}
		}
		s.unknown[e.Kind]++
	default:
		t := &turn{book: b, state: s, entry: e}
		if eff.happened != nil {
			t.at = eff.happened
		}
		eff.body.apply(t)
	}
}

// now is when the entry happened, as last amended.
func (t *turn) now() Moment {
	if t.at != nil {
		return *t.at
	}
	return t.entry.Happened
}

// late reports whether the entry was written after its month was closed.
func (t *turn) late() bool {
	by := t.book.byAddress[t.state.closed[t.now().Month()]]
	return by == nil || by.place().compareWritten(t.entry.place()) < 0
}

func nextMonth(m string) string {
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
