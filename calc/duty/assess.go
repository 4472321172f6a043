package duty

import (
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Purpose is why spirits left.
type Purpose string

// The purposes.
const (
	Sale        Purpose = "sale"
	TastingRoom Purpose = "tasting room"
	Export      Purpose = "export"
	InBond      Purpose = "in bond"
	Sample      Purpose = "sample" // for research or a laboratory
	Destroyed   Purpose = "destroyed"
	Broken      Purpose = "broken"  // in bond, explained
	Missing     Purpose = "missing" // bottled, unexplained
)

// Taxed reports whether a removal for this purpose determines tax. A bottled
// shortage that nobody can explain is presumed removed (27 CFR 19.461); other
// losses in bond, export, transfers in bond, samples for research and lawful
// destruction are not taxed.
func (p Purpose) Taxed() bool { return p == Sale || p == TastingRoom || p == Missing }

var purposes = []Purpose{Sale, TastingRoom, Export, InBond, Sample, Destroyed, Broken, Missing}

// A Removal is what left on one document or in one day.
type Removal struct {
	On          time.Time
	Product     string
	Class       string // of spirits, for a state's lines
	Purpose     Purpose
	PG          decimal.Decimal // proof gallons, as gauged
	Litres      decimal.Decimal // of product, for a state's lines; zero where not told
	Bottles     int64           // as Litres
	Destination string          // a state or a class of buyer, for a state's lines
	Formula     *Formula        // wine and flavours in the product, nil for none
	Entry       string          // what it is in the book
}

// A Credit is tax to be taken off, for goods that came back or were destroyed.
type Credit struct {
	On      time.Time
	Why     string
	PG      decimal.Decimal
	Rate    decimal.Decimal // USD per proof gallon that was PAID, from the removal
	Allowed string          // the claim's approval; without one the credit waits
}

// A Return is what one tax return is made of.
type Return struct {
	From, To  time.Time // within one calendar year
	Rates     []Schedule
	Removals  []Removal         // any order, any day: those in the period count
	Credits   []Credit          // as Removals
	Before    decimal.Decimal   // taxed proof gallons of the group earlier in the year, before the first of Removals
	Allowance []decimal.Decimal // proof gallons of each reduced tier that this operation may use; none for all of it
}

// A Part is what of a line fell into one tier.
type Part struct {
	Rate decimal.Decimal // USD per proof gallon, effective where wine or flavours are in it
	Tier int             // from 0
	PG   decimal.Decimal
	Tax  decimal.Decimal // not rounded
}

// A Line is the removals of one product on one day.
type Line struct {
	On      time.Time
	Product string
	PG      decimal.Decimal
	Parts   []Part
	Tax     decimal.Decimal // not rounded
	Entries []string
}

// An Assessed answers a Return.
type Assessed struct {
	Lines   []Line
	Tiers   []Part                      // totals by tier, of one law after another where it changed; Rate is the law's
	PG      decimal.Decimal             // taxed in the period
	Year    decimal.Decimal             // taxed in the year up to the period's end
	Gross   decimal.Decimal             // tax on removals, to the cent
	Credit  decimal.Decimal             // allowed and taken, to the cent
	Carried decimal.Decimal             // allowed and above the tax: for the next return, or a refund
	Pending decimal.Decimal             // not allowed yet, to the cent
	Tax     decimal.Decimal             // to pay
	Untaxed map[Purpose]decimal.Decimal // proof gallons that left without tax
	quantity.Explained
}

// Cent rounds money to the cent, half a cent up (common practice, no source:
// done once, at the total).
func Cent(d decimal.Decimal) decimal.Decimal { return d.Round(2) }

// Assess works out a return. The tiers fill in the order of removals in the
// calendar year, so removals of the year before the period count too, each by the
// law of its day; those of one day and product are one line (27 CFR 19.612). Credits are taken at the
// rate that was paid, once a claim is allowed.
func Assess(r Return) (Assessed, error) {
	from, to := day(r.From), day(r.To)
	var faults fault.List
	switch {
	case to.Before(from):
		faults.Add("to", fault.Fault{Code: fault.Conflict, Value: to.Format(time.DateOnly), Limit: "is before the first day", Remedy: "check both days"})
	case from.Year() != to.Year():
		faults.Add("to", fault.Fault{Code: fault.Conflict, Value: to.Format(time.DateOnly), Limit: "is not in the year of the first day, and the tiers begin anew each year", Remedy: "assess each year by itself"})
	}
	rates := r.Rates
	if rates == nil {
		rates = Rates()
	}
	laws, err := during(rates, from, to)
	faults.Add("from", err)
	if r.Before.IsNegative() {
		faults.Add("before", fault.Fault{Code: fault.TooLow, Value: r.Before.String(), Limit: "is below 0", Remedy: "give the taxed proof gallons earlier in the year"})
	}
	for i, x := range r.Removals {
		name := "removal " + strconv.Itoa(i+1)
		if x.PG.IsNegative() {
			faults.Add(name, fault.Fault{Code: fault.TooLow, Value: x.PG.String(), Limit: "is below 0", Remedy: "enter a return of goods as a credit"})
		}
		if !slices.Contains(purposes, x.Purpose) {
			faults.Add(name, fault.Fault{Code: fault.NotOneOf, Value: string(x.Purpose), Limit: "is not a purpose", Remedy: "use sale, tasting room, export, in bond, sample, destroyed, broken or missing"})
		}
	}
	for i, x := range r.Credits {
		if x.PG.IsNegative() || x.Rate.IsNegative() {
			faults.Add("credit "+strconv.Itoa(i+1), fault.Fault{Code: fault.TooLow, Value: x.PG.String(), Limit: "is below 0", Remedy: "give what came back and the rate that was paid"})
		}
	}
	if err := faults.Err(); err != nil {
		return Assessed{}, err
	}
	out := Assessed{Untaxed: map[Purpose]decimal.Decimal{}}
	first := make([]int, len(laws)) // where the tiers of a law begin among all
	tops := make([][]decimal.Decimal, len(laws))
	for i, law := range laws {
		if tops[i], err = allot(law, r.Allowance); err != nil {
			return Assessed{}, err
		}
		first[i] = len(out.Tiers)
		for j, t := range law.Tiers {
			out.Tiers = append(out.Tiers, Part{Rate: t.Rate, Tier: j})
		}
	}
	ordered := slices.Clone(r.Removals)
	slices.SortStableFunc(ordered, func(a, b Removal) int { return day(a.On).Compare(day(b.On)) })
	used := r.Before
	type product struct {
		law     int
		formula *Formula
	}
	effective := map[product][]decimal.Decimal{}
	for _, x := range ordered {
		on := day(x.On)
		if on.Year() != from.Year() || on.After(to) {
			continue
		}
		inPeriod := !on.Before(from)
		if !x.Purpose.Taxed() {
			if inPeriod {
				out.Untaxed[x.Purpose] = out.Untaxed[x.Purpose].Add(x.PG)
			}
			continue
		}
		if !inPeriod {
			used = used.Add(x.PG)
			continue
		}
		at := inLaw(laws, on)
		law := laws[at]
		parts := split(tops[at], used, x.PG)
		used = used.Add(x.PG)
		l := out.line(on, x.Product)
		l.PG = l.PG.Add(x.PG)
		if x.Entry != "" {
			l.Entries = append(l.Entries, x.Entry)
		}
		for tier, pg := range parts {
			if pg.IsZero() {
				continue
			}
			rate := law.Tiers[tier].Rate
			if x.Formula != nil {
				made := product{at, x.Formula}
				if effective[made] == nil {
					for _, t := range law.Tiers {
						e, err := x.Formula.Rate(t.Rate, 2)
						if err != nil {
							return Assessed{}, err
						}
						effective[made] = append(effective[made], e.Rate)
					}
				}
				rate = effective[made][tier]
			}
			p := Part{rate, tier, pg, pg.Mul(rate)}
			l.add(p)
			total := &out.Tiers[first[at]+tier]
			total.PG, total.Tax = total.PG.Add(p.PG), total.Tax.Add(p.Tax)
			out.PG = out.PG.Add(p.PG)
		}
	}
	out.Year = used
	for _, t := range out.Tiers {
		out.Gross = out.Gross.Add(t.Tax)
	}
	out.Gross = Cent(out.Gross)
	for _, c := range r.Credits {
		if on := day(c.On); on.Before(from) || on.After(to) {
			continue
		}
		if tax := c.PG.Mul(c.Rate); c.Allowed == "" {
			out.Pending = out.Pending.Add(tax)
		} else {
			out.Credit = out.Credit.Add(tax)
		}
	}
	out.Credit, out.Pending = Cent(out.Credit), Cent(out.Pending)
	if out.Credit.GreaterThan(out.Gross) {
		out.Carried = out.Credit.Sub(out.Gross)
		out.Credit = out.Gross
	}
	out.Tax = out.Gross.Sub(out.Credit)
	out.Explained = quantity.Explain(func(w *quantity.Working) { out.explain(w, r.Before, laws) })
	return out, nil
}

// line is the line of a day and a product, a new one where there is none.
func (a *Assessed) line(on time.Time, product string) *Line {
	for i := range a.Lines {
		if a.Lines[i].On.Equal(on) && a.Lines[i].Product == product {
			return &a.Lines[i]
		}
	}
	a.Lines = append(a.Lines, Line{On: on, Product: product})
	return &a.Lines[len(a.Lines)-1]
}

func (l *Line) add(p Part) {
	l.Tax = l.Tax.Add(p.Tax)
	for i := range l.Parts {
		if q := &l.Parts[i]; q.Tier == p.Tier && q.Rate.Equal(p.Rate) {
			q.PG, q.Tax = q.PG.Add(p.PG), q.Tax.Add(p.Tax)
			return
		}
	}
	l.Parts = append(l.Parts, p)
}

// allot is where each tier ends for this operation: the law's tiers, or what of
// each the controlled group left to it.
func allot(law Schedule, allowance []decimal.Decimal) ([]decimal.Decimal, error) {
	var tops []decimal.Decimal
	var faults fault.List
	reached := decimal.Zero
	top := decimal.Zero
	for i, t := range law.Tiers[:len(law.Tiers)-1] {
		width := t.UpTo.Sub(reached)
		reached = t.UpTo
		if i < len(allowance) {
			name := "allowance " + strconv.Itoa(i+1)
			switch a := allowance[i]; {
			case a.IsNegative():
				faults.Add(name, fault.Fault{Code: fault.TooLow, Value: a.String(), Limit: "is below 0", Remedy: "give the proof gallons the group left to this operation"})
			case a.GreaterThan(width):
				faults.Add(name, fault.Fault{Code: fault.TooHigh, Value: a.String(), Limit: "is above " + width.String() + ", what the law gives a whole controlled group (" + t.Source + ")", Remedy: "give this operation's share"})
			default:
				width = a
			}
		}
		top = top.Add(width)
		tops = append(tops, top)
	}
	if len(allowance) > len(tops) {
		faults.Add("allowance "+strconv.Itoa(len(tops)+1), fault.Fault{Code: fault.Conflict, Limit: "is one more than the law has reduced tiers", Remedy: "give one for each reduced rate"})
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return tops, nil
}

// split parts so many proof gallons over the tiers after used ones.
func split(tops []decimal.Decimal, used, pg decimal.Decimal) []decimal.Decimal {
	out := make([]decimal.Decimal, len(tops)+1)
	for i, top := range tops {
		if room := top.Sub(used); room.IsPositive() {
			take := decimal.Min(room, pg)
			out[i] = take
			used, pg = used.Add(take), pg.Sub(take)
		}
	}
	out[len(tops)] = pg
	return out
}

func (a Assessed) explain(w *quantity.Working, before decimal.Decimal, laws []Schedule) {
	if !before.IsZero() {
		w.Add("taxed earlier in the year, which fills the tiers first", before.String()+" proof gal")
	}
	var tiers []Tier
	for _, law := range laws {
		tiers = append(tiers, law.Tiers...)
	}
	for i, t := range a.Tiers {
		if t.PG.IsZero() {
			continue
		}
		l := tiers[i]
		w.Add(t.PG.String()+" proof gallons in the tier of "+l.Rate.StringFixed(2)+" USD ("+l.Source+", "+l.Read+")", t.Tax.String()+" USD")
	}
	w.Add("tax on removals, to the cent", a.Gross.StringFixed(2)+" USD")
	if !a.Credit.IsZero() || !a.Carried.IsZero() {
		w.Add("credit allowed, at the rate paid", a.Credit.StringFixed(2)+" USD")
	}
	if !a.Pending.IsZero() {
		w.Add("credit not allowed yet, not taken", a.Pending.StringFixed(2)+" USD")
	}
	w.Add("tax to pay", a.Tax.StringFixed(2)+" USD")
	w.Add("a worksheet: the proprietor checks and files", "")
}

// A Measure is what a state's line counts.
type Measure string

// The measures.
const (
	ProofGallons Measure = "proof gallons"
	WineGallons  Measure = "wine gallons"
	Litres       Measure = "litres"
	Bottles      Measure = "bottles"
)

// A Grouping is a line of somebody's return, a state's for the most part: which
// of the removals it counts, in what, and at what rate. An empty list takes all.
type Grouping struct {
	Name                   string
	Products, Destinations []string
	Classes                []string
	Purposes               []Purpose
	Per                    Measure
	Rate                   decimal.Decimal // money for one of the measure, zero where the line only counts
	Source                 string
}

// A Grouped is what a line came to.
type Grouped struct {
	Name   string
	Amount decimal.Decimal
	Per    Measure
	Tax    decimal.Decimal // to the cent
	Count  int             // of removals
}

// litresPerGallon is the wine gallon of 231 cubic inches.
var litresPerGallon = decimal.RequireFromString("3.785411784")

// Group counts the removals from one day to another under each line. A removal
// may stand under several lines, or under none.
func Group(removals []Removal, from, to time.Time, lines ...Grouping) ([]Grouped, error) {
	var faults fault.List
	var out []Grouped
	for _, g := range lines {
		sum := Grouped{Name: g.Name, Per: g.Per}
		for _, r := range removals {
			if on := day(r.On); on.Before(day(from)) || on.After(day(to)) || !takes(g.Products, r.Product) || !takes(g.Classes, r.Class) || !takes(g.Destinations, r.Destination) || !takes(g.Purposes, r.Purpose) {
				continue
			}
			sum.Count++
			switch g.Per {
			case ProofGallons:
				sum.Amount = sum.Amount.Add(r.PG)
			case WineGallons:
				sum.Amount = sum.Amount.Add(r.Litres.Div(litresPerGallon))
			case Litres:
				sum.Amount = sum.Amount.Add(r.Litres)
			case Bottles:
				sum.Amount = sum.Amount.Add(decimal.NewFromInt(r.Bottles))
			}
		}
		if !slices.Contains([]Measure{ProofGallons, WineGallons, Litres, Bottles}, g.Per) {
			faults.Add(g.Name, fault.Fault{Code: fault.NotOneOf, Value: string(g.Per), Limit: "is not a measure", Remedy: "use proof gallons, wine gallons, litres or bottles"})
		}
		sum.Tax = Cent(sum.Amount.Mul(g.Rate))
		out = append(out, sum)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

func takes[T comparable](list []T, x T) bool { return len(list) == 0 || slices.Contains(list, x) }
