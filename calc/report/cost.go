package report

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// An Expense is what money went into.
type Expense int

// The expenses.
const (
	Material Expense = iota // fruit, grain and molasses
	Goods                   // glass, closures, labels, yeast
	Hours
	Energy
	OtherCost // what was noted as anything else
	expenses
	unpricedHours // hours that nobody gave a price
	unpricedLots  // above 0 where something behind it has no price
	carried
)

// String is the expense's name.
func (x Expense) String() string {
	return [...]string{"fruit and grain", "goods", "hours", "energy", "other"}[x]
}

// Expenses lists them.
func Expenses() []Expense { return []Expense{Material, Goods, Hours, Energy, OtherCost} }

// A Purse is money by expense.
type Purse [expenses]decimal.Decimal

// Total is the money of all expenses.
func (p Purse) Total() decimal.Decimal { return decimal.Sum(decimal.Zero, p[:]...) }

// A BottledCost is what a closed lot of bottles cost, without the tax.
type BottledCost struct {
	*book.Bottling
	Spent    Purse   // to the cent
	Hours    float64 // in it without a price
	Unpriced bool    // something behind it has no price
}

// A LostCost is what the alcohol that was lost in one way had cost until then.
type LostCost struct {
	What   string // 'the angels', 'heads', or the cause
	Amount book.Alcohol
	Money  decimal.Decimal // to the cent
}

// A Costing is what was bottled and lost in a time, in one currency.
type Costing struct {
	Currency quantity.Unit
	Bottled  []BottledCost
	Lost     []LostCost      // the dearest first
	Loose    decimal.Decimal // noted in that time, and put into nothing that became a lot
}

// Currencies are those that the book has prices in.
func Currencies(s *book.State) []quantity.Unit {
	seen := map[quantity.Unit]bool{}
	add := func(r quantity.Reading) {
		if !r.IsNone() {
			seen[r.Unit()] = true
		}
	}
	for _, r := range s.RawLots {
		add(r.Price)
	}
	for _, g := range s.GoodsLots {
		add(g.Price)
	}
	for _, c := range s.Costs() {
		add(c.Worth())
	}
	return slices.SortedFunc(maps.Keys(seen), func(a, b quantity.Unit) int { return cmp.Compare(a.Symbol(), b.Symbol()) })
}

// Costs allots money to what it became. A price is shared by amount over all
// that was made of the delivery, from the fruit to the bottle; what was noted
// for a run, over its fractions by their alcohol (common practice, no source).
// So the heads bear their part of a run and the angels theirs of a barrel: what
// is lost takes its cost with it, and stands in Lost. Money is shared by float64
// and comes out as decimals to the cent. during takes the moments of the time
// looked at; hour is the price of an hour that has none, zero for none.
func Costs(s *book.State, currency quantity.Unit, hour decimal.Decimal, during func(book.Moment) bool) Costing {
	out := Costing{Currency: currency}
	noted := map[book.Address][]float64{} // at lots and runs
	for _, c := range s.Costs() {
		own := expense(c.CostNoted, currency, hour)
		if s.Lot(c.Into) != nil || s.Run(c.Into) != nil {
			noted[c.Into] = plus(noted[c.Into], own, 1)
		} else if during(c.On) {
			for x := range expenses {
				out.Loose = out.Loose.Add(cents(own[x]))
			}
		}
	}
	per := s.Carried(int(carried), func(l *book.Lot) []float64 { return ownCost(s, l, currency, noted) })
	for a, b := range s.Bottlings {
		if b.Open() || b.Good() == 0 || !during(b.Closed) {
			continue
		}
		l := s.Lot(a)
		sum := plus(nil, per[a], float64(l.Amount))
		x := BottledCost{Bottling: b, Hours: sum[unpricedHours], Unpriced: sum[unpricedLots] > 0}
		for i := range x.Spent {
			x.Spent[i] = cents(sum[i])
		}
		out.Bottled = append(out.Bottled, x)
	}
	lost := map[string]*LostCost{}
	money := map[string]float64{}
	postings := s.Postings()
	for i := range postings {
		p := &postings[i]
		if !during(p.On) {
			continue
		}
		what, amount := LossOf(s, p)
		if what == "" {
			continue
		}
		if lost[what] == nil {
			lost[what] = &LostCost{What: what}
		}
		lost[what].Amount += amount
		for x := range min(expenses, Expense(len(per[p.Lot]))) {
			money[what] += per[p.Lot][x] * float64(amount)
		}
	}
	for what, x := range lost {
		x.Money = cents(money[what])
		out.Lost = append(out.Lost, *x)
	}
	slices.SortFunc(out.Lost, func(a, b LostCost) int { return cmp.Or(b.Money.Cmp(a.Money), strings.Compare(a.What, b.What)) })
	return out
}

// ownCost is what a lot itself cost: its price, what was noted for it, and its
// part of what was noted for its run.
func ownCost(s *book.State, l *book.Lot, currency quantity.Unit, noted map[book.Address][]float64) []float64 {
	out := plus(nil, noted[l.Address], 1)
	bought := func(price quantity.Reading, as Expense) {
		switch {
		case price.IsNone():
			out[unpricedLots]++
		case price.Unit() == currency:
			out[as] += price.Float()
		}
	}
	if r := s.RawLot(l.Address); r != nil {
		bought(r.Price, Material)
		if taken, prepared := r.Preparation(); taken > prepared && r.Net > taken-prepared { // pits and culls make the rest dearer
			out[Material] *= float64(r.Net) / float64(r.Net-(taken-prepared))
		}
	} else if g := s.GoodsLot(l.Address); g != nil {
		bought(g.Price, Goods)
	}
	if run := s.Run(l.Run); run != nil && l.Run != l.Address && noted[l.Run] != nil {
		var whole book.Alcohol
		for _, f := range run.Fractions {
			whole += f.Alcohol
		}
		if whole > 0 {
			out = plus(out, noted[l.Run], float64(l.Amount)/float64(whole))
		}
	}
	return out
}

// expense is a noted cost by what it went into.
func expense(c *book.CostNoted, currency quantity.Unit, hour decimal.Decimal) []float64 {
	out := make([]float64, carried)
	as := OtherCost
	switch c.What {
	case "hours":
		as = Hours
	case "energy":
		as = Energy
	}
	switch worth := c.Worth(); {
	case !worth.IsNone():
		if worth.Unit() == currency {
			out[as] = worth.Float()
		}
	case c.Hours.IsNone():
	case hour.IsPositive():
		out[Hours] = hour.InexactFloat64() * c.Hours.In(quantity.Hour)
	default:
		out[unpricedHours] = c.Hours.In(quantity.Hour)
	}
	return out
}

// LossOf is the way a posting lost alcohol, and how much; a gain counts against
// the losses of measuring. It is "" for a posting that lost nothing.
func LossOf(s *book.State, p *book.Posting) (string, book.Alcohol) {
	switch {
	case p.From == book.Gained:
		return string(book.Measurement), -p.Amount
	case p.To != book.Lost && p.To != book.Destroyed && p.To != book.Shortage:
		return "", 0
	}
	l := s.Lot(p.Lot)
	switch {
	case l != nil && l.Material == book.Heads:
		return "heads", p.Amount
	case p.Cause == book.Evaporation:
		return "the angels", p.Amount
	case p.To == book.Destroyed:
		return "destroyed", p.Amount
	case p.To == book.Shortage:
		return "missing bottles", p.Amount
	case p.Cause == "":
		return string(book.Unexplained), p.Amount
	}
	return string(p.Cause), p.Amount
}

func plus(a, b []float64, times float64) []float64 {
	if a == nil {
		a = make([]float64, carried)
	}
	for i, x := range b {
		a[i] += x * times
	}
	return a
}

func cents(x float64) decimal.Decimal { return quantity.Snap(x).Round(2) }
