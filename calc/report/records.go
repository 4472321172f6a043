package report

import (
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// A Record is one of the lists that 27 CFR part 19 asks for.
type Record struct {
	Title   string
	Section string // of 27 CFR
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

func list(title, section string, columns ...string) Record {
	return Record{Title: title, Section: section, Columns: append([]string{"date", "entry"}, columns...)}
}

func pg(a book.Alcohol) string { return tenth(a).String() }

// records makes the lists of a month.
func records(s *book.State, month string) []Record {
	return []Record{
		gaugeRecord(s, month),
		movements(s, month, "Movements between accounts", "19.585, 19.590, 19.620", func(p *book.Posting) bool { return p.From.InHouse() && p.To.InHouse() }),
		movements(s, month, "Received", "19.590", func(p *book.Posting) bool { return p.From == book.Received }),
		movements(s, month, "Dumped to processing", "19.598", func(p *book.Posting) bool {
			return p.To == book.Processing && p.From != book.Gained
		}),
		bottlingRecord(s, month),
		movements(s, month, "Removed on determination of tax", "19.611, 19.612", func(p *book.Posting) bool {
			return p.To == book.TaxDetermined || p.From == book.TaxDetermined
		}),
		movements(s, month, "Withdrawn without tax", "19.585(b), 19.590", func(p *book.Posting) bool {
			return p.To == book.InBond || p.To == book.Exported || p.To == book.FreeOfTax
		}),
		movements(s, month, "Samples and research", "19.616", func(p *book.Posting) bool { return p.To == book.Research }),
		movements(s, month, "Losses, gains and shortages", "19.461 to 19.465", func(p *book.Posting) bool {
			return p.To == book.Lost || p.To == book.Shortage || p.From == book.Gained
		}),
		movements(s, month, "Destroyed", "19.617", func(p *book.Posting) bool { return p.To == book.Destroyed }),
	}
}

func gaugeRecord(s *book.State, month string) Record {
	r := list("Gauges", "19.618", "vessel", "proof", "wine gallons", "proof gallons", "litres at 20 °C", "litres of pure alcohol")
	for _, g := range s.Gauges() {
		if g.On.Month() != month {
			continue
		}
		f := g.Figures
		r.add(g.Entry, g.On, vesselName(s, g.Vessel), g.Shown.String(), f.Legal.WineGallons.String(), f.Legal.ProofGallons.StringFixed(1),
			quantity.Fixed(f.Volume20C.Value, 2), quantity.Fixed(f.PureAlcohol.Value, 2))
	}
	return r
}

func vesselName(s *book.State, a book.Address) string {
	if v := s.Vessel(a); v != nil {
		return v.Name
	}
	return string(a)
}

// movements lists the postings of a month that are wanted, those of one entry
// and one kind of spirits together.
func movements(s *book.State, month, title, section string, wanted func(*book.Posting) bool) Record {
	r := list(title, section, "from", "to", "cause", "kind", "lots", "proof gallons")
	postings := s.Postings()
	for i := 0; i < len(postings); i++ {
		p := &postings[i]
		if p.On.Month() != month || !wanted(p) {
			continue
		}
		sum, lots := p.Amount, []string{lotName(s, p.Lot)}
		for i+1 < len(postings) && sameMovement(p, &postings[i+1]) {
			i++
			sum += postings[i].Amount
			lots = append(lots, lotName(s, postings[i].Lot))
		}
		r.add(p.Entry, p.On, string(p.From), string(p.To), string(p.Cause), string(p.Class), strings.Join(lots, ", "), pg(sum))
	}
	return r
}

func sameMovement(p, q *book.Posting) bool {
	return p.Entry == q.Entry && p.From == q.From && p.To == q.To && p.Cause == q.Cause && p.Class == q.Class
}

func lotName(s *book.State, a book.Address) string {
	if l := s.Lot(a); l != nil && l.Name != "" {
		return l.Name + " (" + string(a) + ")"
	}
	if a == "" {
		return "not known"
	}
	return string(a)
}

func bottlingRecord(s *book.State, month string) Record {
	r := list("Bottled or packaged", "19.599", "product", "tank", "tank gauge, proof gallons", "bottle", "per case", "cases", "loose", "bottles spoiled", "proof gallons bottled", "missing (gain below zero)")
	for _, b := range s.Bottlings {
		if b.Open() || b.Closed.Month() != month {
			continue
		}
		good, per := b.Good(), max(b.PerCase, 1)
		spoiled, _ := b.Spoiled()
		r.add(b.ClosedBy, b.Closed, b.Name, vesselName(s, b.Tank), b.Tanked.Figures.Legal.ProofGallons.StringFixed(1), b.Bottle.String(),
			count(b.PerCase), count(good/per), count(good%per), count(spoiled), pg(b.Finished), pg(b.Missing))
	}
	return r
}

func count(n int64) string { return quantity.Fixed(float64(n), 0) }

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
