package engine

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

type taxView struct {
	Year      string   `json:"year"`
	Years     []string `json:"years"`
	Worksheet string   `json:"worksheet"`
	Says      []string `json:"says"`
	Result    *result  `json:"result"`
	Periods   []period `json:"periods"`
	Blocks    []block  `json:"blocks"`
}

// A period is a return with what it comes to so far.
type period struct {
	Title    string       `json:"title"`
	Due      string       `json:"due"`
	Says     string       `json:"says"`
	Tax      string       `json:"tax"`
	Filed    book.Address `json:"filed"`
	Proposal *proposal    `json:"proposal,omitempty"` // the entry that says it was filed
}

// tax is the excise of a year, by return period.
func (e *Engine) tax(year, before string) (any, error) {
	now := e.now().Day()
	years := []string{}
	first := now[:4]
	if p := e.book.State().Postings(); len(p) > 0 {
		first = min(first, p[0].On.Day()[:4])
	}
	for y := now[:4]; y >= first && len(years) < 50; y = yearBefore(y) {
		years = append(years, y)
	}
	if year == "" {
		year = years[0]
	}
	n, err := strconv.Atoi(year)
	if err != nil || n < 2018 || n > 2200 {
		return nil, fault.Fault{Code: fault.NotOneOf, Field: "year", Value: year, Limit: "is not a year from 2018 on, from when the built-in rates are", Remedy: "choose a year"}
	}
	out := taxView{Year: year, Years: years, Worksheet: worksheet, Says: []string{}, Periods: []period{}, Blocks: []block{}}
	if e.metric() {
		out.Says = append(out.Says, "This book is kept by the metric convention. The rates and return periods built in are those of the United States; here only what left stands, in litres of pure alcohol.")
		d := e.departures()
		out.Blocks = append(out.Blocks, block{Table: e.leftTable(year)}, block{Table: e.linesTable(d.of(n).removals, n)})
		return out, nil
	}
	group := decimal.Zero
	if before != "" {
		if group, err = decimal.NewFromString(before); err != nil || group.IsNegative() {
			return nil, fault.Fault{Code: book.Malformed, Field: "before", Value: before, Limit: "is not a number of proof gallons", Remedy: "give proof gallons such as 120.5, or leave it empty"}
		}
	}
	d := e.departures()
	all, err := duty.Assess(e.returnOf(d, ymd(n, 1, 1), ymd(n, 12, 31), group))
	if err != nil {
		return nil, err
	}
	last, err := duty.Assess(e.returnOf(d, ymd(n-1, 1, 1), ymd(n-1, 12, 31), decimal.Zero))
	lastYear := decimal.Zero
	if err == nil {
		lastYear = last.Gross
	}
	expected := decimal.Max(lastYear, all.Gross)
	frequency := duty.FrequencyOf(lastYear, expected)
	out.Says = append(out.Says, fmt.Sprintf("Returns are %s: the tax of %d came to %s USD and no less is expected of %d (%s, %s).", frequency, n-1, lastYear.StringFixed(2), n,
		duty.LimitOf("quarterly").Source, duty.LimitOf("quarterly").Read))
	if e.sweetened(year) {
		out.Says = append(out.Says, "Products with wine or flavours may owe less: their effective rate is worked out by formula, and is not applied here.")
	}
	out.Result = &result{Label: "Tax of " + year + ", so far", Figure: all.Gross.StringFixed(2), Unit: "USD", Steps: all.Working(),
		Beside: []pair{{"proof gallons", all.PG.StringFixed(4)}, {"credits that wait for a claim", all.Pending.StringFixed(2) + " USD"}}}
	days := map[string]decimal.Decimal{}
	for _, l := range all.Lines {
		day := l.On.Format(time.DateOnly)
		days[day] = days[day].Add(l.Tax)
	}
	var owed []duty.DayTax
	for _, day := range slices.Sorted(maps.Keys(days)) {
		on, _ := time.Parse(time.DateOnly, day)
		owed = append(owed, duty.DayTax{On: on, Tax: days[day]})
	}
	for _, p := range duty.Calendar(n, frequency, duty.MustPayElectronically(lastYear), owed) {
		if p.From.Format(time.DateOnly) > now {
			break
		}
		x, err := e.period(d, p, group)
		if err != nil {
			return nil, err
		}
		out.Periods = append(out.Periods, x)
	}
	slices.Reverse(out.Periods)
	out.Blocks = append(out.Blocks, block{Table: tiersTable(&all)}, block{Table: productsTable(&all)}, block{Table: e.leftTable(year)}, block{Table: creditsTable(d.of(n).credits)},
		block{Table: e.linesTable(d.of(n).removals, n)}, block{Table: e.ratesTable(n)}, block{Table: daysTable(&all)})
	return out, nil
}

func yearBefore(y string) string {
	n, err := strconv.Atoi(y)
	if err != nil {
		return ""
	}
	return strconv.Itoa(n - 1)
}

func ymd(year int, month time.Month, day int) time.Time {
	return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
}

// period is a return period with its tax and whether it was filed.
func (e *Engine) period(d departures, p duty.Period, group decimal.Decimal) (period, error) {
	a, err := duty.Assess(e.returnOf(d, p.From, p.To, group))
	if err != nil {
		return period{}, err
	}
	from, to := p.From.Format(time.DateOnly), p.To.Format(time.DateOnly)
	out := period{Title: from + " to " + to, Due: p.Due.Format(time.DateOnly), Tax: a.Tax.StringFixed(2) + " USD",
		Says: fmt.Sprintf("%s proof gallons; %s", a.PG.StringFixed(4), p.Rule)}
	for _, f := range e.book.State().Returns() {
		if string(f.From) == from && string(f.To) == to {
			out.Filed = f.Entry
		}
	}
	if out.Filed == "" && to < e.now().Day() {
		out.Proposal = &proposal{"return filed", map[string]any{"from": from, "to": to, "amount": a.Tax.StringFixed(2) + "USD"}}
	}
	return out, nil
}

// A departed is what left in a year, and what came back.
type departed struct {
	removals []duty.Removal
	credits  []duty.Credit
}

type departures map[int]*departed

// of is a year, empty where nothing left.
func (d departures) of(year int) *departed {
	if y := d[year]; y != nil {
		return y
	}
	return &departed{}
}

// departures are the bottles that left, by year, as the ledger has them to its
// last step; what was destroyed or came back after its tax was determined is a
// credit that waits for its claim, at the first tier's rate.
func (e *Engine) departures() departures {
	out := departures{}
	s := e.book.State()
	rates := s.TaxRates()
	postings := s.Postings()
	names := map[book.Address]string{}
	for i := range postings {
		p := &postings[i]
		left := p.From == book.Finished && !p.To.InHouse() && !p.To.Source()
		if !left && p.From != book.TaxDetermined {
			continue
		}
		on, err := time.Parse(time.DateOnly, p.On.Day())
		if err != nil {
			continue
		}
		year := out[on.Year()]
		if year == nil {
			year = &departed{}
			out[on.Year()] = year
		}
		pg := decimal.New(int64(p.Amount), -4)
		if !left {
			year.credits = append(year.credits, duty.Credit{On: on, Why: "came back: " + e.bottled(p), PG: pg, Rate: firstRate(rates, on)})
			continue
		}
		if names[p.Lot] == "" {
			names[p.Lot] = e.bottled(p)
		}
		r := duty.Removal{On: on, Product: names[p.Lot], Class: string(p.Class), Purpose: purposeOf(p), PG: pg, Entry: string(p.Entry)}
		if b := s.Bottling(p.Lot); b != nil && b.Finished > 0 {
			r.Bottles = int64(math.Round(float64(p.Amount) * float64(b.Good()) / float64(b.Finished)))
			r.Litres = quantity.Snap(b.Bottle.In(quantity.Litre)).Mul(decimal.NewFromInt(r.Bottles))
		}
		year.removals = append(year.removals, r)
	}
	return out
}

// destination is where a removal went: the place of a registered customer, or
// to whom, as it was typed.
func (e *Engine) destination(a book.Address) string {
	entry := e.book.Entry(a)
	if entry == nil {
		return ""
	}
	body, _, _, _ := e.book.Effective(entry)
	r, ok := body.(*book.CasesRemoved)
	if !ok {
		return ""
	}
	s := e.book.State()
	if c := s.Registered(book.ACustomer, r.Customer); c != nil {
		return c.Body.(*book.CustomerRegistered).Place
	}
	return r.To
}

func firstRate(rates []duty.Schedule, on time.Time) decimal.Decimal {
	rate := decimal.Zero
	for _, s := range rates {
		if !on.Before(s.From) && (s.Until.IsZero() || !on.After(s.Until)) {
			rate = s.Tiers[0].Rate
		}
	}
	return rate
}

// assessed is a whole year's tax.
func (e *Engine) assessed(d departures, year int) (duty.Assessed, error) {
	return duty.Assess(e.returnOf(d, ymd(year, 1, 1), ymd(year, 12, 31), decimal.Zero))
}

// returnOf is what the book has of a return within one year.
func (e *Engine) returnOf(d departures, from, to time.Time, group decimal.Decimal) duty.Return {
	s := e.book.State()
	r := duty.Return{From: from, To: to, Before: group, Rates: s.TaxRates(), Allowance: s.GroupShare(strconv.Itoa(from.Year()))}
	r.Removals, r.Credits = d.of(from.Year()).removals, d.of(from.Year()).credits
	return r
}

// bottled is the product of a posting with its bottle.
func (e *Engine) bottled(p *book.Posting) string {
	if b := e.book.State().Bottling(p.Lot); b != nil {
		return b.Name + ", " + b.Bottle.String()
	}
	return string(p.Class)
}

// purposeOf is why bottles left, by the account they went to.
func purposeOf(p *book.Posting) duty.Purpose {
	switch p.To {
	case book.Exported:
		return duty.Export
	case book.InBond:
		return duty.InBond
	case book.Research, book.FreeOfTax:
		return duty.Sample
	case book.Destroyed:
		return duty.Destroyed
	case book.Lost:
		return duty.Broken
	case book.Shortage:
		return duty.Missing
	}
	if p.Cause == "tasting room" {
		return duty.TastingRoom
	}
	return duty.Sale
}

// sweetened reports whether anything of a year's bottles may bear an effective
// rate: a product of no class of its own.
func (e *Engine) sweetened(year string) bool {
	return slices.ContainsFunc(e.book.State().Postings(), func(p book.Posting) bool {
		return p.To == book.TaxDetermined && p.Class == book.Other && p.On.Day()[:4] == year
	})
}

func tiersTable(a *duty.Assessed) *table {
	t := &table{Title: "By tier of the year", Empty: "Nothing was taxed yet.", Rows: []row{}, Columns: []column{{Label: "Tier"}, {Label: "USD per PG", Figure: true}, {Label: "Proof gallons", Figure: true}, {Label: "USD", Figure: true}}}
	for _, p := range a.Tiers {
		t.Rows = append(t.Rows, row{Cells: []cell{text(strconv.Itoa(p.Tier + 1)), text(p.Rate.StringFixed(2)), text(p.PG.StringFixed(4)), text(duty.Cent(p.Tax).StringFixed(2))}})
	}
	return t
}

func productsTable(a *duty.Assessed) *table {
	t := &table{Title: "Taxed removals by product and size", Empty: "Nothing was removed on determination of tax.", Rows: []row{}, Columns: []column{{Label: "Product and bottle"}, {Label: "Proof gallons", Figure: true}, {Label: "USD", Figure: true}}}
	pg, tax := map[string]decimal.Decimal{}, map[string]decimal.Decimal{}
	for _, l := range a.Lines {
		pg[l.Product], tax[l.Product] = pg[l.Product].Add(l.PG), tax[l.Product].Add(l.Tax)
	}
	for _, name := range slices.SortedFunc(maps.Keys(pg), func(a, b string) int { return cmp.Or(pg[b].Cmp(pg[a]), cmp.Compare(a, b)) }) {
		t.Rows = append(t.Rows, row{Cells: []cell{text(name), text(pg[name].StringFixed(4)), text(duty.Cent(tax[name]).StringFixed(2))}})
	}
	return t
}

func daysTable(a *duty.Assessed) *table {
	t := &table{Title: "Day by day (27 CFR 19.612)", Empty: "Nothing was removed on determination of tax.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "Product and bottle"}, {Label: "Proof gallons", Figure: true}, {Label: "USD", Figure: true}}}
	for _, l := range slices.Backward(a.Lines) {
		r := row{Cells: []cell{text(l.On.Format(time.DateOnly)), text(l.Product), text(l.PG.StringFixed(4)), text(duty.Cent(l.Tax).StringFixed(2))}}
		if len(l.Entries) > 0 {
			r.Cells[0].Entry = book.Address(l.Entries[0])
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// leftTable is every bottle that left in a year by why it did.
func (e *Engine) leftTable(year string) *table {
	t := &table{Title: "What left in " + year + ", by purpose", Empty: "No bottle left in " + year + ".", Rows: []row{}, Columns: []column{{Label: "For"}, {Label: "Taxed"}, {Label: e.alcoholLabel(), Figure: true}}}
	sums := map[duty.Purpose]book.Alcohol{}
	postings := e.book.State().Postings()
	for i := range postings {
		if p := &postings[i]; p.On.Day()[:4] == year && p.From == book.Finished && !p.To.InHouse() && !p.To.Source() {
			sums[purposeOf(p)] += p.Amount
		}
	}
	for _, p := range slices.SortedFunc(maps.Keys(sums), func(a, b duty.Purpose) int { return cmp.Compare(sums[b], sums[a]) }) {
		taxed := "no"
		if p.Taxed() {
			taxed = "yes"
		}
		t.Rows = append(t.Rows, row{Cells: []cell{text(string(p)), text(taxed), text(e.exact(sums[p]))}})
	}
	return t
}

// creditsTable is what came back in a year, as the credit it may become.
func creditsTable(list []duty.Credit) *table {
	t := &table{Title: "Credits, at the rate paid; none is taken before its claim is allowed", Empty: "Nothing came back after its tax was determined.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "What"}, {Label: "Proof gallons", Figure: true}, {Label: "USD", Figure: true}}}
	for _, c := range list {
		t.Rows = append(t.Rows, row{Cells: []cell{text(c.On.Format(time.DateOnly)), text(c.Why), text(c.PG.StringFixed(4)), text(duty.Cent(c.PG.Mul(c.Rate)).StringFixed(2))}})
	}
	return t
}

// linesTable fills in the lines that the house defined for its own returns.
func (e *Engine) linesTable(removals []duty.Removal, year int) *table {
	t := &table{Title: "Lines of your own, of the same removals", Empty: "No line is defined. A state's return asks for some: define them on this page.", Rows: []row{}, Columns: []column{{Label: "Line"}, {Label: "Amount", Figure: true}, {Label: "Tax", Figure: true}}}
	s := e.book.State()
	for _, r := range s.Register(book.AGrouping) {
		g := r.Body.(*book.GroupingDefined)
		if r.Retired {
			continue
		}
		line := duty.Grouping{Name: g.Name, Per: g.Per, Source: g.Source}
		for _, p := range g.Products {
			line.Products = append(line.Products, e.bottlesOf(p.Product)...)
		}
		for _, c := range g.Classes {
			line.Classes = append(line.Classes, string(c.Class))
		}
		for _, p := range g.Purposes {
			line.Purposes = append(line.Purposes, p.Purpose)
		}
		of := removals
		for i, p := range g.Places {
			line.Destinations = append(line.Destinations, p.Place)
			if i == 0 {
				of = slices.Clone(removals)
				for j := range of {
					of[j].Destination = e.destination(book.Address(of[j].Entry))
				}
			}
		}
		if !g.Rate.IsNone() {
			line.Rate = g.Rate.Decimal()
		}
		from := ymd(year, 1, 1)
		if on, err := time.Parse(time.DateOnly, string(g.From)); err == nil && on.After(from) {
			from = on
		}
		sums, err := duty.Group(of, from, ymd(year, 12, 31), line)
		if err != nil {
			continue // the kind takes no other measure
		}
		tax := "–"
		if !g.Rate.IsNone() {
			tax = sums[0].Tax.StringFixed(2) + " " + g.Rate.Unit().Symbol()
		}
		note := fmt.Sprintf("%d removals", sums[0].Count)
		if !g.Rate.IsNone() {
			note += " at " + g.Rate.String() + " each"
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{g.Name, r.Address}, text(sums[0].Amount.StringFixed(2) + " " + string(g.Per)), text(tax)}, Note: joinedWords(note, g.Source)})
	}
	return t
}

// bottlesOf are the names under which bottles of a product left.
func (e *Engine) bottlesOf(product book.Address) []string {
	out := []string{}
	for _, b := range e.book.State().Bottlings {
		if name := b.Name + ", " + b.Bottle.String(); b.Product == product && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	if len(out) == 0 {
		out = append(out, string(product)) // none left yet, and an empty list would take all
	}
	return out
}

// ratesTable shows the rates in force in a year, with their date and source.
func (e *Engine) ratesTable(year int) *table {
	t := &table{Title: "The rates, with their date and source", Rows: []row{}, Columns: []column{{Label: "Proof gallons of the year"}, {Label: "USD per PG", Figure: true}}}
	rates := e.book.State().TaxRates()
	for i, s := range rates {
		if s.From.Year() > year || !s.Until.IsZero() && s.Until.Year() < year {
			continue
		}
		if slices.ContainsFunc(rates[i+1:], func(later duty.Schedule) bool {
			return !later.From.After(ymd(year, 1, 1)) && (later.Until.IsZero() || !later.Until.Before(ymd(year, 12, 31)))
		}) {
			continue // replaced all year
		}
		for _, tier := range s.Tiers {
			upTo := "above that"
			if !tier.UpTo.IsZero() {
				upTo = "up to " + tier.UpTo.String()
			}
			t.Rows = append(t.Rows, row{Cells: []cell{text(upTo), text(tier.Rate.StringFixed(2))}, Note: "in force from " + s.From.Format(time.DateOnly) + "; " + tier.Source + ", " + tier.Read})
		}
	}
	return t
}
