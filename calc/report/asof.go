package report

import (
	"cmp"
	"slices"
	"strings"

	"gaugebook/calc/book"
)

// AsOf is the book as it stood when one of its entries was about to be written:
// a fold of the entries that were written before it, on any device.
func AsOf(b *book.Book, e *book.Entry) *book.Book { return newReplay(b).before(e) }

// Told is a fold of some of a book's entries alone, such as those that one
// phone had.
func Told(b *book.Book, has func(*book.Entry) bool) *book.Book {
	out := book.New()
	var some []*book.Entry
	for e := range b.All {
		if has(e) {
			some = append(some, e)
		}
	}
	out.Add(some...)
	return out
}

// A replay writes a book anew, in the order in which its entries were written.
type replay struct {
	entries []*book.Entry
	book    *book.Book
}

func newReplay(b *book.Book) *replay {
	r := &replay{book: book.New()}
	for e := range b.All {
		r.entries = append(r.entries, e)
	}
	slices.SortFunc(r.entries, written)
	return r
}

// written orders entries by when their devices wrote them.
func written(a, b *book.Entry) int {
	return cmp.Or(strings.Compare(a.Clock, b.Clock), strings.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq))
}

func (r *replay) before(e *book.Entry) *book.Book {
	n := 0
	for n < len(r.entries) && written(r.entries[n], e) < 0 {
		n++
	}
	r.book.Add(r.entries[:n]...)
	r.entries = r.entries[n:]
	return r.book
}

// Signed is a closed month beside what the book said when it was closed.
type Signed struct {
	Month   string
	By      *book.Entry // that closed it, or the correction of it that stands
	Intact  bool        // the digest is that of the figures
	Differs []Differing // what the entries written before it give, where they do not give the figures
}

// A Differing flow was signed for as one amount and is another.
type Differing struct {
	From, To     book.Account
	Kind         Column
	Signed, Told book.Alcohol
}

// Closings holds every closed month against the entries that were written
// before it was closed. They give the same figures, unless a phone that had not
// been heard for a while came in afterwards, or another build folds otherwise.
func Closings(b *book.Book) []Signed {
	closed := b.State().Closed()
	var out []Signed
	for month := range closed {
		e := b.Entry(b.State().ClosedBy(month))
		if _, _, _, by := b.Effective(e); by != nil {
			e = by
		}
		out = append(out, Signed{Month: month, By: e})
	}
	slices.SortFunc(out, func(x, y Signed) int { return written(x.By, y.By) })
	r := newReplay(b)
	for i := range out {
		c := closed[out[i].Month]
		out[i].Intact = c.Digest == digest(c.Month, signed(c))
		out[i].Differs = Compare(r.before(out[i].By).State(), c)
	}
	slices.SortFunc(out, func(x, y Signed) int { return cmp.Compare(x.Month, y.Month) })
	return out
}

// signed is what a month was closed on, as flows.
func signed(c *book.MonthClosed) []*flow {
	var out []*flow
	for _, f := range c.Figures {
		out = append(out, &flow{way: way{c.Month, f.From, f.To, Column(f.Kind)}, amount: book.Alcohol(f.Amount.Decimal().Shift(4).IntPart())})
	}
	slices.SortFunc(out, func(a, b *flow) int { return a.way.compare(b.way) })
	return out
}

// Compare says where the figures that a month is closed on are not those of a
// state.
func Compare(s *book.State, c *book.MonthClosed) []Differing {
	amounts := map[way][2]book.Alcohol{}
	for i, list := range [][]*flow{signed(c), flows(s, c.Month)} {
		for _, f := range list {
			if f.month == c.Month {
				a := amounts[f.way]
				a[i] += f.amount
				amounts[f.way] = a
			}
		}
	}
	var out []Differing
	for k, a := range amounts {
		if a[0] != a[1] {
			out = append(out, Differing{k.from, k.to, k.kind, a[0], a[1]})
		}
	}
	slices.SortFunc(out, func(a, b Differing) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Kind, b.Kind))
	})
	return out
}
