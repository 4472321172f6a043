package report

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// Tenths is an amount of alcohol as a report prints it: tenths of a proof
// gallon, in a metric book tenths of a litre of pure alcohol.
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

// tenth rounds an amount to the nearest tenth, 0.05 going up (27 CFR 30.64; of
// litres of pure alcohol by common practice, no source).
func tenth(a book.Alcohol, c book.Convention) Tenths {
	switch {
	case a < 0:
		return -tenth(-a, c)
	case c == book.Metric:
		return Tenths(quantity.Snap(a.LitresPureAlcohol() * 10).Round(0).IntPart())
	}
	return Tenths((a + stepsPerTenth/2) / stepsPerTenth)
}

// A Cell is one figure of a form with what it rests on. The amount is what the
// entries add, and Adjusted: in an open month the adjustments to closed ones,
// in a closed month what it was signed for and is no longer told. What is on
// hand names no entries: it opens into the lines above it and the month before.
type Cell struct {
	Column   Column
	Amount   book.Alcohol // exact
	Printed  Tenths       // as the form shows it
	Entries  []Share      // in book order for each way the alcohol went
	Adjusted book.Alcohol
	Late     []book.Address // written or corrected after a closed month was signed for
	Evened   bool           // a tenth off its own rounding, so that what is on hand can be printed: see round
	turned   bool
}

// Off is how far the printed figure is from the exact one, rounded by itself: 0
// or a tenth, where the figures were made to agree (see round); more only where
// no flow of the month could be turned.
func (c *Cell) Off(in book.Convention) Tenths { return c.Printed - tenth(c.Amount, in) }

// A Line is one line of a form.
type Line struct {
	Number  string
	Meaning string
	Source  string
	Memo    bool   // a movement the form has no line for
	Cells   []Cell // in the order of the form's columns, the total last where there is more than one
	what    figure
}

// OnHand reports whether the line says what is on hand.
func (l *Line) OnHand() bool { return l.what == closing }

// Flow reports whether the line is a movement that its form counts.
func (l *Line) Flow() bool { return l.what == flowIn || l.what == flowOut }

// A Form is one part of one of the monthly reports.
type Form struct {
	Form    string
	Part    string
	Title   string
	Columns []Column
	Lines   []Line
	strays  []*flow // that touch its accounts and stand on no line
}

// A Month is everything a month is closed on.
type Month struct {
	Month       string
	House       book.House
	ClosedBy    book.Address // "" while it is open
	Digest      string       // of the figures
	Forms       []Form
	Records     []Record
	Adjustments []Row     // what the book came to say of closed months since they were closed
	Problems    []Problem // what does not balance or is not settled
	Removed     Tenths    // tax determined, less returned
}

// Unit is what the figures count.
func (m *Month) Unit() string {
	if m.House.Convention == book.Metric {
		return "litres of pure alcohol"
	}
	return "proof gallons"
}

// Of makes the report of a month, "2026-10". The state must not change while it
// is read.
func Of(s *book.State, month string) Month {
	m := Month{Month: month, House: s.House(), ClosedBy: s.ClosedBy(month)}
	all := flows(s, month)
	for i := range forms {
		m.Forms = append(m.Forms, forms[i].fill(all, month, m.House.Convention))
	}
	for _, f := range all {
		if f.month == month {
			m.Removed += Tenths(change(book.TaxDetermined, f.way)) * f.printed
		}
	}
	if m.House.Convention == book.Metric {
		m.neutral()
	} else {
		m.Forms = append(m.Forms, schedules(s, &m, all)...)
	}
	m.Digest = digest(month, all)
	m.Records = lists(s, month)
	m.Adjustments = adjustments(s, month)
	m.Problems = problems(s, &m)
	return m
}

// neutral takes the regulator's numbers off the forms of a book that is not
// kept under its rules. The figures stay.
func (m *Month) neutral() {
	for i := range m.Forms {
		f := &m.Forms[i]
		plain := plain[f.Form+f.Part]
		f.Form, f.Part = "", ""
		for j := range f.Lines {
			l := &f.Lines[j]
			if said := plain[l.Number]; said != "" {
				l.Meaning = said
			}
			l.Number, l.Source = "", ""
		}
	}
}

// Close makes the body of the entry that closes a month with these figures.
func Close(s *book.State, month, note string) *book.MonthClosed {
	out := &book.MonthClosed{Month: month, Note: note}
	all := flows(s, month)
	for _, f := range all {
		if f.month == month && f.amount != 0 {
			out.Figures = append(out.Figures, book.ClosedFlow{From: f.from, To: f.to, Kind: string(f.kind),
				Amount: quantity.FromDecimal(decimal.New(int64(f.amount), -4), quantity.Gallon)})
		}
	}
	out.Digest = digest(month, all)
	return out
}

// fill works out a form.
func (f *form) fill(all []*flow, month string, in book.Convention) Form {
	columns := f.columns(in)
	out := Form{Form: f.form, Part: f.part, Title: f.title, Columns: columns}
	for _, r := range f.lines {
		l := Line{Number: r.number, Meaning: r.meaning, Source: r.source, Memo: r.number == "", what: r.what, Cells: make([]Cell, len(columns))}
		for i, c := range columns {
			l.Cells[i].Column = c
		}
		out.Lines = append(out.Lines, l)
	}
	for _, k := range all {
		column := f.index(columns, k.kind)
		if !f.touches(k) {
			continue
		}
		if column < 0 {
			out.strays = append(out.strays, k)
			continue
		}
		for i := range f.lines {
			if sign := f.balance(&f.lines[i], k, month); sign != 0 {
				c := &out.Lines[i].Cells[column]
				c.Amount += book.Alcohol(sign) * k.amount
				if c.Printed += Tenths(sign) * k.printed; f.lines[i].what == apart {
					c.Printed = tenth(c.Amount, in) // in no total: as it is
				}
			}
		}
		if k.month != month {
			continue
		}
		at := slices.IndexFunc(f.lines, func(r rule) bool { return slices.Contains(r.from, k.from) && slices.Contains(r.to, k.to) })
		if at < 0 {
			out.strays = append(out.strays, k)
			continue
		}
		out.Lines[at].Cells[column].add(k)
	}
	for c := range columns {
		out.sum(c)
	}
	if len(columns) > 1 {
		out.total()
	}
	return out
}

func (f *form) touches(k *flow) bool {
	return slices.Contains(f.accounts, k.from) || slices.Contains(f.accounts, k.to)
}

func (c *Cell) add(f *flow) {
	c.Amount += f.amount
	c.Printed += f.printed
	c.Adjusted += f.adjusted()
	c.Entries = append(c.Entries, f.entries...)
	c.Late = append(c.Late, f.late...)
	c.turned = c.turned || f.turned
	c.Evened = c.Evened || f.evened
}

// balance says what a flow adds to a line that shows what is on hand.
func (f *form) balance(r *rule, k *flow, month string) int64 {
	switch {
	case r.what == opening && k.month < month, r.what == closing:
		return change(f.accounts[0], k.way)
	case r.what == apart && r.from == nil && quarterEnd(month):
		return change(r.to[0], k.way)
	}
	return 0
}

func quarterEnd(month string) bool {
	return slices.Contains([]string{"-03", "-06", "-09", "-12"}, month[min(4, len(month)):])
}

// sum fills the total lines of a column from the printed figures.
func (f *Form) sum(c int) {
	var in, out Cell
	for i := range f.Lines {
		cell := &f.Lines[i].Cells[c]
		switch f.Lines[i].what {
		case flowIn, opening:
			in.include(cell)
		case flowOut, closing:
			out.include(cell)
		}
	}
	for i := range f.Lines {
		cell := &f.Lines[i].Cells[c]
		switch f.Lines[i].what {
		case totalIn:
			cell.include(&in)
		case totalOut:
			cell.include(&out)
		}
	}
}

func (c *Cell) include(d *Cell) {
	c.Printed += d.Printed
	c.Amount += d.Amount
	c.Adjusted += d.Adjusted
	c.Entries = append(c.Entries, d.Entries...)
	c.Late = append(c.Late, d.Late...)
	c.Evened = c.Evened || d.Evened
}

// total adds the column that sums each line across the kinds of spirits.
func (f *Form) total() {
	f.Columns = append(slices.Clone(f.Columns), Total)
	for i := range f.Lines {
		t := Cell{Column: Total}
		for j := range f.Lines[i].Cells {
			t.include(&f.Lines[i].Cells[j])
		}
		f.Lines[i].Cells = append(f.Lines[i].Cells, t)
	}
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
func digest(month string, all []*flow) string {
	h := sha256.New()
	fmt.Fprintln(h, "gaugebook month 1", month)
	for _, f := range all {
		if f.month == month && f.amount != 0 {
			fmt.Fprintln(h, f.from, "|", f.to, "|", f.kind, "|", int64(f.amount))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
