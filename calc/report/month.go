package report

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// Tenths is an amount of proof gallons as the law prints it, in tenths.
type Tenths int64

// String is the figure with its one decimal: "16.4".
func (t Tenths) String() string {
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	return fmt.Sprintf("%s%d.%d", sign, t/10, t%10)
}

// stepsPerTenth is how many steps of the ledger make 0.1 proof gallon.
const stepsPerTenth = 1000

// tenth rounds an amount to the nearest tenth, 0.05 going up (27 CFR 30.64).
func tenth(a book.Alcohol) Tenths {
	if a < 0 {
		return -tenth(-a)
	}
	return Tenths((a + stepsPerTenth/2) / stepsPerTenth)
}

// A Cell is one figure of a form with what it rests on.
type Cell struct {
	Column  Column
	Amount  book.Alcohol   // exact
	Printed Tenths         // as the form shows it
	Entries []book.Address // in book order
}

// Carried is how far the printed figure is from the exact one. A flow is never
// more than half a tenth off for each kind of spirits; what is on hand carries
// the roundings of the months before, until an inventory settles them.
func (c *Cell) Carried() book.Alcohol { return book.Alcohol(c.Printed)*stepsPerTenth - c.Amount }

// A Line is one line of a form.
type Line struct {
	Number  string
	Meaning string
	Source  string
	Cells   []Cell // in the order of the form's columns, the total last where there is more than one
	what    figure
}

// A Form is one part of one of the monthly reports.
type Form struct {
	Form    string
	Part    string
	Title   string
	Columns []Column
	Lines   []Line
}

// A Month is everything a month is closed on.
type Month struct {
	Month       string
	House       book.House
	ClosedBy    book.Address // "" while it is open
	Forms       []Form
	Records     []Record
	Adjustments []Row     // what the book came to say of closed months since they were closed
	Problems    []Problem // what does not balance or is not settled
	Removed     Tenths    // proof gallons tax determined, less returned
}

// Of makes the report of a month, "2026-10". The state must not change while it
// is read.
func Of(s *book.State, month string) Month {
	m := Month{Month: month, House: s.House(), ClosedBy: s.ClosedBy(month)}
	flows := tally(s, month)
	for i := range forms {
		m.Forms = append(m.Forms, forms[i].fill(flows, month))
	}
	for k, f := range flows {
		if k.month == month {
			m.Removed += Tenths(change(book.TaxDetermined, k)) * tenth(f.amount)
		}
	}
	m.Records = records(s, month)
	m.Adjustments = adjustments(s, month)
	m.Problems = problems(s, &m)
	return m
}

// Close makes the body of the entry that closes a month with these figures.
func Close(s *book.State, month, note string) *book.MonthClosed {
	out := &book.MonthClosed{Month: month, Note: note}
	flows := tally(s, month)
	for _, k := range slices.SortedFunc(maps.Keys(flows), flow.compare) {
		if k.month == month && flows[k].amount != 0 {
			out.Figures = append(out.Figures, book.ClosedFlow{From: k.from, To: k.to, Kind: string(k.kind),
				Amount: quantity.FromDecimal(decimal.New(int64(flows[k].amount), -4), quantity.Gallon)})
		}
	}
	out.Digest = digest(month, flows)
	return out
}

// A flow is all that went from one account to another in a month, of one kind
// of spirits. It is the smallest figure that is rounded: lines and balances are
// sums of rounded flows, so that the forms agree with themselves, with each
// other and with the month before, by construction.
type flow struct {
	month    string
	from, to book.Account
	kind     Column
}

func (k flow) compare(l flow) int {
	return cmp.Or(cmp.Compare(k.month, l.month), cmp.Compare(k.from, l.from), cmp.Compare(k.to, l.to), cmp.Compare(k.kind, l.kind))
}

type flowed struct {
	amount  book.Alcohol
	entries []book.Address
}

// tally sums the postings up to a month into flows. A closed month has the
// flows it was signed for; what the book has come to say of closed months since
// then counts in the first month after them.
func tally(s *book.State, month string) map[flow]*flowed {
	flows := map[flow]*flowed{}
	count := func(k flow, amount book.Alcohol, entry book.Address) {
		f := flows[k]
		if f == nil {
			f = &flowed{}
			flows[k] = f
		}
		f.amount += amount
		if n := len(f.entries); entry != "" && (n == 0 || f.entries[n-1] != entry) {
			f.entries = append(f.entries, entry)
		}
	}
	closed := s.Closed()
	open := firstOpen(closed)
	late := map[book.Address]bool{} // written or corrected after their month was closed
	for _, q := range s.Questions() {
		if q.Kind == book.ClosedMonth {
			late[q.Entries[0]] = true
		}
	}
	postings := s.Postings()
	for i := range postings {
		p := &postings[i]
		k := flow{p.On.Month(), p.From, p.To, kindOf(s, p)}
		if k.month > month {
			continue
		}
		if closed[k.month] == nil {
			count(k, p.Amount, p.Entry)
			continue
		}
		adjusted := flow{open, k.from, k.to, k.kind}
		count(adjusted, p.Amount, "")
		if late[p.Entry] {
			count(adjusted, 0, p.Entry)
		} else {
			count(k, 0, p.Entry)
		}
	}
	for m, c := range closed {
		for _, f := range c.Figures {
			amount := book.Alcohol(f.Amount.Decimal().Shift(4).IntPart())
			k := flow{m, f.From, f.To, Column(f.Kind)}
			count(flow{open, k.from, k.to, k.kind}, -amount, "")
			if m <= month {
				count(k, amount, "")
			}
		}
	}
	return forward(flows, month)
}

// firstOpen is the month after the last closed one.
func firstOpen(closed map[string]*book.MonthClosed) string {
	last := ""
	for m := range closed {
		last = max(last, m)
	}
	return book.NextMonth(last)
}

// forward drops what is later than the month and turns a flow below zero, which
// an adjustment can bring about, into one the other way: the forms take no
// figure below zero.
func forward(flows map[flow]*flowed, month string) map[flow]*flowed {
	for k, f := range flows {
		switch {
		case k.month > month:
			delete(flows, k)
		case f.amount < 0:
			delete(flows, k)
			back := flow{k.month, k.to, k.from, k.kind}
			if b := flows[back]; b != nil {
				f = &flowed{b.amount - f.amount, append(b.entries, f.entries...)}
			} else {
				f = &flowed{-f.amount, f.entries}
			}
			flows[back] = f
		}
	}
	return flows
}

// fill works out a form.
func (f *form) fill(flows map[flow]*flowed, month string) Form {
	out := Form{Form: f.form, Part: f.part, Title: f.title, Columns: f.columns()}
	for _, r := range f.lines {
		l := Line{Number: r.number, Meaning: r.meaning, Source: r.source, what: r.what, Cells: make([]Cell, len(out.Columns))}
		for i, c := range out.Columns {
			l.Cells[i].Column = c
		}
		for k, got := range flows {
			if sign := r.counts(f.account, k, month); sign != 0 {
				l.Cells[f.index(k.kind)].add(sign, got)
			}
		}
		out.Lines = append(out.Lines, l)
	}
	for c := range out.Columns {
		out.sum(c)
	}
	for _, l := range out.Lines {
		for i := range l.Cells {
			c := &l.Cells[i]
			c.Entries = unique(c.Entries)
			if l.what == apart { // in no total, so nothing has to agree with it
				c.Printed = tenth(c.Amount)
			}
		}
	}
	if len(out.Columns) > 1 {
		out.total()
	}
	return out
}

func (c *Cell) add(sign int64, got *flowed) {
	c.Amount += book.Alcohol(sign) * got.amount
	c.Printed += Tenths(sign) * tenth(got.amount)
	c.Entries = append(c.Entries, got.entries...)
}

// counts says whether a flow stands on the line: 1, -1 against it, 0 not.
func (r *rule) counts(account book.Account, k flow, month string) int64 {
	switch {
	case r.what == opening && k.month < month, r.what == closing:
		return change(account, k)
	case r.what == apart && r.from == nil && quarterEnd(month):
		return change(r.to[0], k)
	case r.from != nil && k.month == month && slices.Contains(r.from, k.from) && slices.Contains(r.to, k.to):
		return 1
	}
	return 0
}

func change(a book.Account, k flow) int64 {
	switch a {
	case k.to:
		return 1
	case k.from:
		return -1
	}
	return 0
}

func quarterEnd(month string) bool {
	return strings.HasSuffix(month, "-03") || strings.HasSuffix(month, "-06") || strings.HasSuffix(month, "-09") || strings.HasSuffix(month, "-12")
}

// sum fills the total lines of a column from the printed figures.
func (f *Form) sum(c int) {
	var in, out Tenths
	var inExact, outExact book.Alcohol
	for i := range f.Lines {
		cell := &f.Lines[i].Cells[c]
		switch f.Lines[i].what {
		case flowIn, opening:
			in += cell.Printed
			inExact += cell.Amount
		case flowOut, closing:
			out += cell.Printed
			outExact += cell.Amount
		}
	}
	for i := range f.Lines {
		cell := &f.Lines[i].Cells[c]
		switch f.Lines[i].what {
		case totalIn:
			cell.Printed, cell.Amount = in, inExact
		case totalOut:
			cell.Printed, cell.Amount = out, outExact
		}
	}
}

// total adds the column that sums each line across the kinds of spirits.
func (f *Form) total() {
	f.Columns = append(slices.Clone(f.Columns), Total)
	for i := range f.Lines {
		t := Cell{Column: Total}
		for _, c := range f.Lines[i].Cells {
			t.Amount += c.Amount
			t.Printed += c.Printed
			t.Entries = append(t.Entries, c.Entries...)
		}
		t.Entries = unique(t.Entries)
		f.Lines[i].Cells = append(f.Lines[i].Cells, t)
	}
}

func unique(a []book.Address) []book.Address {
	slices.SortFunc(a, cmp.Compare[book.Address])
	return slices.Compact(a)
}

// Line finds a line by its number, nil where the form has none.
func (f *Form) Line(number string) *Line {
	for i := range f.Lines {
		if f.Lines[i].Number == number {
			return &f.Lines[i]
		}
	}
	return nil
}

// digest names the figures of a month: what an entry that closes it carries, so
// that a later change of them cannot pass unnoticed.
func digest(month string, flows map[flow]*flowed) string {
	h := sha256.New()
	fmt.Fprintln(h, "gaugebook month 1", month)
	for _, k := range slices.SortedFunc(maps.Keys(flows), flow.compare) {
		if k.month == month && flows[k].amount != 0 {
			fmt.Fprintln(h, k.from, "|", k.to, "|", k.kind, "|", int64(flows[k].amount))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
