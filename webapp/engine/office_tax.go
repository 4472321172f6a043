package engine

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
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
		out.Blocks = append(out.Blocks, block{Table: e.leftTable(year)})
		return out, nil
	}
	group := decimal.Zero
	if before != "" {
		if group, err = decimal.NewFromString(before); err != nil || group.IsNegative() {
			return nil, fault.Fault{Code: book.Malformed, Field: "before", Value: before, Limit: "is not a number of proof gallons", Remedy: "give proof gallons such as 120.5, or leave it empty"}
		}
	}
	all, err := e.assessed(n, group)
	if err != nil {
		return nil, err
	}
	last, err := e.assessed(n-1, decimal.Zero)
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
		x, err := e.period(p, group)
		if err != nil {
			return nil, err
		}
		out.Periods = append(out.Periods, x)
	}
	slices.Reverse(out.Periods)
	out.Blocks = append(out.Blocks, block{Table: tiersTable(&all)}, block{Table: productsTable(&all)}, block{Table: e.leftTable(year)}, block{Table: ratesTable(n)}, block{Table: daysTable(&all)})
	return out, nil
}

func yearBefore(y string) string {
	n, err := strconv.Atoi(y)
	if err != nil {
		return ""
	}
	return strconv.Itoa(n - 1)
}

// period is a return period with its tax and whether it was filed.
func (e *Engine) period(p duty.Period, group decimal.Decimal) (period, error) {
	r := e.taxReturn(p.From, p.To, group)
	a, err := duty.Assess(r)
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

// assessed is a whole year's tax.
func (e *Engine) assessed(year int, group decimal.Decimal) (duty.Assessed, error) {
	return duty.Assess(e.taxReturn(time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(year, 12, 31, 0, 0, 0, 0, time.UTC), group))
}

// taxReturn is what the book has of a return: bottles that left, as the ledger
// has them to its last step, and what came back as credits that wait for their
// claim, at the first tier's rate.
func (e *Engine) taxReturn(from, to time.Time, group decimal.Decimal) duty.Return {
	r := duty.Return{From: from, To: to, Before: group}
	postings := e.book.State().Postings()
	for i := range postings {
		p := &postings[i]
		on, err := time.Parse(time.DateOnly, p.On.Day())
		if err != nil || on.Year() != from.Year() {
			continue
		}
		pg := decimal.New(int64(p.Amount), -4)
		switch {
		case p.From == book.Finished && !p.To.InHouse() && !p.To.Source():
			r.Removals = append(r.Removals, duty.Removal{On: on, Product: e.bottled(p), Purpose: purposeOf(p), PG: pg, Entry: string(p.Entry)})
		case p.From == book.TaxDetermined:
			c := duty.Credit{On: on, Why: "came back", PG: pg}
			for _, s := range duty.Rates() {
				if !on.Before(s.From) && (s.Until.IsZero() || !on.After(s.Until)) {
					c.Rate = s.Tiers[0].Rate
				}
			}
			r.Credits = append(r.Credits, c)
		}
	}
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

// ratesTable shows the rates in force in a year, with their date and source.
func ratesTable(year int) *table {
	t := &table{Title: "The rates, with their date and source", Rows: []row{}, Columns: []column{{Label: "Proof gallons of the year"}, {Label: "USD per PG", Figure: true}}}
	for _, s := range duty.Rates() {
		if s.From.Year() > year || !s.Until.IsZero() && s.Until.Year() < year {
			continue
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
