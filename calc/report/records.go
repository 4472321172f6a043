package report

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// A Record is one of the lists that 27 CFR part 19 asks for.
type Record struct {
	Title   string
	Section string // of 27 CFR; "" in a metric book
	Columns []string
	Rows    []Row
}

// A Row is one line of a list, with the entry behind it.
type Row struct {
	Entry book.Address
	On    book.Moment
	Cells []string
}

func (r *Record) add(e book.Address, on book.Moment, cells ...string) {
	r.Rows = append(r.Rows, Row{Entry: e, On: on, Cells: append([]string{on.Day(), string(e)}, cells...)})
}

// A lister makes the lists of one month.
type lister struct {
	*book.State
	month    string
	in       book.Convention
	postings []book.Posting // of the month
}

// postingsOf are the postings of a month.
func postingsOf(s *book.State, month string) []book.Posting {
	var out []book.Posting
	for _, p := range s.Postings() {
		if p.On.Month() == month {
			out = append(out, p)
		}
	}
	return out
}

func (s *lister) list(title, section string, columns ...string) Record {
	if s.in == book.Metric {
		section = ""
	}
	return Record{Title: title, Section: section, Columns: append([]string{"date", "entry"}, columns...)}
}

// unit heads the columns of alcohol.
func (s *lister) unit() string { return (&Month{House: s.House()}).Unit() }

func (s *lister) shown(a book.Alcohol) string { return tenth(a, s.in).String() }

// lists makes the lists of a month.
func lists(state *book.State, month string) []Record {
	s := &lister{state, month, state.Convention(), postingsOf(state, month)}
	return []Record{
		s.materials(),
		s.gauges(),
		s.movements("Movements between accounts", "19.585, 19.590, 19.620", func(p *book.Posting) bool { return p.From.InHouse() && p.To.InHouse() }),
		s.movements("Received", "19.590", func(p *book.Posting) bool { return p.From == book.Received }),
		s.movements("Dumped to processing", "19.598", func(p *book.Posting) bool {
			return p.To == book.Processing && p.From != book.Gained
		}),
		s.bottled(),
		s.fills(),
		s.movements("Removed on determination of tax", "19.611", determined),
		s.days(),
		s.movements("Withdrawn without tax", "19.585(b), 19.590", func(p *book.Posting) bool {
			return p.To == book.InBond || p.To == book.Exported || p.To == book.FreeOfTax
		}),
		s.movements("Samples and research", "19.616", func(p *book.Posting) bool { return p.To == book.Research }),
		s.movements("Losses, gains and shortages", "19.461 to 19.465", func(p *book.Posting) bool {
			return p.To == book.Lost || p.To == book.Shortage || p.From == book.Gained || p.From == book.Lost
		}),
		s.movements("Destroyed", "19.617", func(p *book.Posting) bool { return p.To == book.Destroyed }),
		s.inventories(),
	}
}

func determined(p *book.Posting) bool {
	return p.To == book.TaxDetermined || p.From == book.TaxDetermined
}

// materials is part VI of the production report as a list: what went into the
// mashes of the month.
func (s *lister) materials() Record {
	unit := quantity.Pound
	if s.in == book.Metric {
		unit = quantity.Kilogram
	}
	r := s.list("Materials used (TTB F 5110.40 part VI)", "19.584", "mash", "material", "kind", "lot", unit.Symbol())
	if s.in == book.Metric {
		r.Title = "Materials used"
	}
	for a, f := range s.Ferments {
		mash := s.Lot(a)
		if f.Begun.Month() != s.month || mash == nil {
			continue
		}
		for _, p := range mash.From {
			raw := s.Lot(p.Lot)
			if raw == nil || !raw.Material.Raw() {
				continue
			}
			weight := quantity.Figure{Value: book.Mass(p.Amount).Kilograms(), Unit: quantity.Kilogram}.In(unit)
			r.add(a, f.Begun, s.lot(a), string(raw.Material), raw.Name, string(p.Lot), quantity.Fixed(weight.Value, 1))
		}
	}
	return r
}

func (s *lister) gauges() Record {
	columns := []string{"vessel", "strength", "litres at 20 °C", "litres of pure alcohol"}
	if s.in != book.Metric {
		columns = append(columns, "wine gallons", "proof gallons")
	}
	r := s.list("Gauges", "19.618", columns...)
	for _, g := range s.Gauges() {
		if g.On.Month() != s.month {
			continue
		}
		f := g.Figures
		cells := []string{s.vessel(g.Vessel), g.Shown.String(), quantity.Fixed(f.Volume20C.Value, 2), quantity.Fixed(f.PureAlcohol.Value, 2)}
		if s.in != book.Metric {
			cells = append(cells, f.Legal.WineGallons.String(), f.Legal.ProofGallons.StringFixed(1))
		}
		r.add(g.Entry, g.On, cells...)
	}
	return r
}

func (s *lister) vessel(a book.Address) string {
	if v := s.Vessel(a); v != nil {
		return v.Name
	}
	return string(a)
}

// movements lists the postings of a month that are wanted, those of one entry
// and one kind of spirits together.
func (s *lister) movements(title, section string, wanted func(*book.Posting) bool) Record {
	r := s.list(title, section, "from", "to", "cause", "kind", "lots", s.unit())
	type movement struct {
		from, to book.Account
		cause    book.Cause
		class    book.SpiritClass
	}
	for i := 0; i < len(s.postings); {
		first := &s.postings[i]
		var order []movement
		sums, lots := map[movement]book.Alcohol{}, map[movement][]string{}
		for ; i < len(s.postings) && s.postings[i].Entry == first.Entry; i++ {
			p := &s.postings[i]
			if !wanted(p) {
				continue
			}
			k := movement{p.From, p.To, p.Cause, p.Class}
			if lots[k] == nil {
				order = append(order, k)
			}
			sums[k] += p.Amount
			if lot := s.lot(p.Lot); !slices.Contains(lots[k], lot) {
				lots[k] = append(lots[k], lot)
			}
		}
		for _, k := range order {
			r.add(first.Entry, first.On, string(k.from), string(k.to), string(k.cause), string(k.class), strings.Join(lots[k], ", "), s.shown(sums[k]))
		}
	}
	return r
}

func (s *lister) lot(a book.Address) string {
	if l := s.Lot(a); l != nil && l.Name != "" {
		return l.Name + " (" + string(a) + ")"
	}
	if a == "" {
		return "not known"
	}
	return string(a)
}

func (s *lister) bottled() Record {
	unit := quantity.Gallon
	if s.in == book.Metric {
		unit = quantity.Litre
	}
	r := s.list("Bottled or packaged", "19.599", "product", "tank", "tank gauge", "bottle", "per case", "cases", "loose", "spoiled", unit.Label(), "bottled", "missing")
	for _, b := range s.Bottlings {
		if b.Open() || b.Closed.Month() != s.month {
			continue
		}
		good, per := b.Good(), max(b.PerCase, 1)
		spoiled, _ := b.Spoiled()
		volume := quantity.Figure{Value: b.Bottle.Base() * float64(good), Unit: quantity.Litre}.In(unit)
		r.add(b.ClosedBy, b.Closed, b.Name, s.vessel(b.Tank), s.shown(b.Tanked.Alcohol), b.Bottle.String(),
			count(b.PerCase), count(good/per), count(good%per), count(spoiled), quantity.Fixed(volume.Value, 2), s.shown(b.Finished), s.shown(b.Missing))
	}
	return r
}

// fills lists the checks of contents and strength at the line.
func (s *lister) fills() Record {
	r := s.list("Alcohol and fill tests", "19.356, 19.600", "time", "product", "line", "bottles", "label", "strength found", "least mL", "most mL", "done")
	for _, b := range s.Bottlings {
		for _, f := range b.Fills {
			if f.On.Month() != s.month {
				continue
			}
			least, most := "", ""
			if len(f.Millis) > 0 {
				least, most = quantity.Fixed(slices.Min(f.Millis), 1), quantity.Fixed(slices.Max(f.Millis), 1)
			}
			r.add(f.Entry, f.On, f.On.Clock(), b.Name, f.Line, count(int64(len(f.Bottles))), b.Label.String(), f.Strength.String(), least, most, f.Action)
		}
	}
	slices.SortStableFunc(r.Rows, func(a, b Row) int { return cmp.Compare(a.On.Milliseconds(), b.On.Milliseconds()) })
	return r
}

// days is the daily summary of what tax was determined on, each day's proof
// gallons to the nearest tenth. Rates are not applied here: they depend on the
// year's removals of the whole group (26 USC 5001(c)).
func (s *lister) days() Record {
	r := s.list("Tax determined, day by day", "19.612", "documents", s.unit()+" removed", s.unit()+" returned")
	type day struct {
		first     book.Address
		on        book.Moment
		entries   map[book.Address]bool
		out, back book.Alcohol
	}
	days := map[string]*day{}
	for i := range s.postings {
		p := &s.postings[i]
		if !determined(p) {
			continue
		}
		d := days[p.On.Day()]
		if d == nil {
			d = &day{first: p.Entry, on: p.On, entries: map[book.Address]bool{}}
			days[p.On.Day()] = d
		}
		d.entries[p.Entry] = true
		if p.To == book.TaxDetermined {
			d.out += p.Amount
		} else {
			d.back += p.Amount
		}
	}
	for _, k := range slices.Sorted(maps.Keys(days)) {
		d := days[k]
		r.add(d.first, d.on, count(int64(len(d.entries))), s.shown(d.out), s.shown(d.back))
	}
	return r
}

// inventories lists the physical counts that were signed for.
func (s *lister) inventories() Record {
	r := s.list("Physical inventories", "19.333, 19.623", "account", "taken on", "by", "title", "signed", "in the book, "+s.unit())
	for _, x := range s.Inventories() {
		if x.On.Month() != s.month {
			continue
		}
		signed := "not signed"
		if x.Signed {
			signed = "signed"
		}
		r.add(x.Entry, x.On, string(x.Account), string(x.Taken), x.By, x.Title, signed, s.shown(x.Book))
	}
	return r
}

func count(n int64) string { return strconv.FormatInt(n, 10) }

// adjustments lists, in the first open month, the entries that were written or
// corrected after the month they are about was closed.
func adjustments(s *book.State, month string) []Row {
	var r Record
	if month != firstOpen(s.Closed()) {
		return nil
	}
	for _, q := range s.Questions() {
		if q.Kind == book.ClosedMonth {
			r.add(q.Entries[0], q.On, q.Says)
		}
	}
	return r.Rows
}
