package engine

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type yieldView struct {
	Year   string   `json:"year"` // "" for all of it
	Years  []string `json:"years"`
	Blocks []block  `json:"blocks"`
}

// yields follows what was taken in to what was bottled: where alcohol was lost,
// the worst first; what each lot gave, beside the official tables; what each lot
// of bottles cost. hour is what an hour costs that was noted without a price.
func (e *Engine) yields(year, hour string) (any, error) {
	wage := decimal.Zero
	if hour != "" {
		var err error
		if wage, err = decimal.NewFromString(hour); err != nil || wage.IsNegative() {
			return nil, fault.Fault{Code: book.Malformed, Field: "hour", Value: hour, Limit: "is not what an hour costs", Remedy: "give money such as 24.50, or leave it empty"}
		}
	}
	out := yieldView{Year: year, Years: e.years()}
	g := e.gave()
	out.Blocks = []block{{Table: e.lossTable(year)}, {Table: e.classTable(year)}, {Table: e.officialTable(year, g)}, {Table: e.lotYields(year, g)}}
	for _, c := range e.currencies(wage) {
		costs := e.costs(year, c, wage)
		out.Blocks = append(out.Blocks, block{Table: e.costTable(costs)}, block{Table: e.lostCostTable(costs)})
	}
	return out, nil
}

// currencies are those the book has prices in; where it has none, hours that
// get a price here are in that of the convention.
func (e *Engine) currencies(hour decimal.Decimal) []quantity.Unit {
	list := report.Currencies(e.book.State())
	if len(list) == 0 && hour.IsPositive() {
		if e.metric() {
			return []quantity.Unit{quantity.Euro}
		}
		return []quantity.Unit{quantity.Dollar}
	}
	return list
}

// years are those in which alcohol moved, the latest first.
func (e *Engine) years() []string {
	out := []string{}
	postings := e.book.State().Postings()
	for i := range postings {
		if y := postings[i].On.Day()[:4]; len(out) == 0 || out[len(out)-1] != y {
			out = append(out, y)
		}
	}
	slices.Sort(out)
	out = slices.Compact(out)
	slices.Reverse(out)
	return out
}

// What lots became, each by its share.
const (
	hearts  = iota // litres of pure alcohol
	bottles        // pieces
	mash           // litres
	became
)

// yieldsOf is what lots became.
type yieldsOf map[book.Address][]float64

func (g yieldsOf) of(a book.Address, what int) float64 {
	if x := g[a]; x != nil {
		return x[what]
	}
	return 0
}

func (e *Engine) gave() yieldsOf {
	s := e.book.State()
	return s.LaidBack(became, func(l *book.Lot) []float64 {
		out := make([]float64, became)
		switch {
		case l.Material == book.Hearts:
			out[hearts] = book.Alcohol(l.Amount).LitresPureAlcohol()
		case s.Bottling(l.Address) != nil:
			out[bottles] = float64(s.Bottling(l.Address).Good())
		case s.Ferment(l.Address) != nil:
			out[mash] = float64(l.Amount) / 1000
		default:
			return nil
		}
		return out
	})
}

func in(year string, m book.Moment) bool { return year == "" || strings.HasPrefix(m.Day(), year) }

// lossTable is every way alcohol was lost, the worst first, against all that
// was produced in the same time.
func (e *Engine) lossTable(year string) *table {
	t := &table{Title: "Where alcohol is lost, the worst first; a name opens the largest of its entries", Empty: "Nothing was lost.", Rows: []row{}, Columns: []column{{Label: "Step"}, {Label: e.alcoholLabel(), Figure: true}, {Label: "of made", Figure: true}}}
	type step struct {
		from  book.Account
		cause book.Cause
		class book.SpiritClass
	}
	lost, worst, most := map[step]book.Alcohol{}, map[step]book.Address{}, map[step]book.Alcohol{}
	var made book.Alcohol
	postings := e.book.State().Postings()
	for i := range postings {
		p := &postings[i]
		if !in(year, p.On) {
			continue
		}
		k := step{p.From, p.Cause, p.Class}
		switch {
		case p.From == book.Produced:
			made += p.Amount
		case p.To == book.Produced:
			made -= p.Amount
		case p.To == book.Lost || p.To == book.Shortage || p.To == book.Destroyed:
			if p.To == book.Destroyed {
				k.cause = "destroyed"
			}
			lost[k] += p.Amount
			if p.Amount > most[k] {
				worst[k], most[k] = p.Entry, p.Amount
			}
		case p.From == book.Gained:
			k.from = p.To
			lost[k] -= p.Amount
		}
	}
	order := slices.SortedFunc(maps.Keys(lost), func(a, b step) int {
		return cmp.Or(cmp.Compare(lost[b], lost[a]), cmp.Compare(a.from, b.from), cmp.Compare(a.cause, b.cause), cmp.Compare(a.class, b.class))
	})
	for _, k := range order {
		share := "–"
		if made > 0 {
			share = quantity.Fixed(100*float64(lost[k])/float64(made), 1) + " %"
		}
		cause := string(k.cause)
		if cause == "" {
			cause = "not said"
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{capital(cause) + ", " + string(k.class), worst[k]}, text(e.alcoholText(lost[k])), text(share)}, Note: "out of " + string(k.from)})
	}
	return t
}

// classTable sets by class of spirit what was produced, bottled and lost.
func (e *Engine) classTable(year string) *table {
	t := &table{Title: "By class, from the still to the bottle", Empty: "Nothing was produced.", Rows: []row{}, Columns: []column{{Label: "Class"}, {Label: "Produced", Figure: true}, {Label: "Bottled", Figure: true}, {Label: "Lost", Figure: true}}}
	type sum struct{ made, bottled, lost book.Alcohol }
	sums := map[book.SpiritClass]*sum{}
	for _, p := range e.book.State().Postings() {
		if !in(year, p.On) {
			continue
		}
		s := sums[p.Class]
		if s == nil {
			s = &sum{}
			sums[p.Class] = s
		}
		switch {
		case p.From == book.Produced:
			s.made += p.Amount
		case p.To == book.Produced:
			s.made -= p.Amount
		case p.To == book.Finished && p.From == book.Processing:
			s.bottled += p.Amount
		case p.To == book.Lost || p.To == book.Shortage || p.To == book.Destroyed:
			s.lost += p.Amount
		case p.From == book.Gained:
			s.lost -= p.Amount
		}
	}
	for _, c := range slices.SortedFunc(maps.Keys(sums), func(a, b book.SpiritClass) int {
		return cmp.Or(cmp.Compare(sums[b].made, sums[a].made), cmp.Compare(a, b))
	}) {
		s := sums[c]
		t.Rows = append(t.Rows, row{Cells: []cell{text(capital(string(c))), text(e.alcoholText(s.made)), text(e.alcoholText(s.bottled)), text(e.alcoholText(s.lost))}})
	}
	return t
}

// A fruitSum is what of one kind of raw material became spirit.
type fruitSum struct {
	name               string
	known              must.Material
	kg, hearts, litres float64 // used, pure alcohol in hearts, mash
	bottles            float64
	came               float64 // kg delivered
	sugar, sampled     float64 // kg × % and the kg of it
	lots               int
}

// byFruit sums deliveries by what they are; only those that were distilled
// count for what was used.
func (e *Engine) byFruit(year string, g yieldsOf) map[string]*fruitSum {
	out, kinds := map[string]*fruitSum{}, map[string]*fruitSum{}
	for a, r := range e.book.State().RawLots {
		if !in(year, r.Came) || r.Net <= 0 {
			continue
		}
		x := kinds[r.Variety]
		if x == nil { // what a delivery is, as the tables have it where they know it
			known, ok := material(r.Variety)
			name := known.Name
			if !ok {
				name = strings.ToLower(r.Variety)
			}
			if x = out[name]; x == nil {
				x = &fruitSum{name: name, known: known}
				out[name] = x
			}
			kinds[r.Variety] = x
		}
		x.lots++
		x.came += r.Net.Kilograms()
		if mean, _, _, n := r.Sweetness(); n > 0 {
			x.sugar, x.sampled = x.sugar+mean*r.Net.Kilograms(), x.sampled+r.Net.Kilograms()
		}
		x.bottles += g.of(a, bottles)
		if g.of(a, hearts) > 0 {
			x.kg, x.hearts, x.litres = x.kg+(r.Net-r.OnHand).Kilograms(), x.hearts+g.of(a, hearts), x.litres+g.of(a, mash)
		}
	}
	return out
}

// tooMuch is how many times an official rate is more than the fruit can have
// given (common practice, no source).
const tooMuch = 1.6

// officialTable sets what each material gave beside what the authorities count
// on, the poorest first. Their rates are of all alcohol, ours of the hearts.
func (e *Engine) officialTable(year string, g yieldsOf) *table {
	t := &table{Title: "Hearts beside the official yield tables, litres of pure alcohol, the poorest first", Empty: "Nothing was distilled of what came in this time.", Rows: []row{},
		Columns: []column{{Label: "From"}, {Label: "Here", Figure: true}, {Label: "Official", Figure: true}, {Label: "Part", Figure: true}}}
	type line struct {
		row
		part float64
	}
	var list []line
	for _, x := range e.byFruit(year, g) {
		if x.hearts <= 0 {
			continue
		}
		perKg := 100 * x.hearts / x.kg
		l := line{part: math.Inf(1), row: row{Cells: []cell{text(capital(x.name) + ", 100 kg"), text(quantity.Fixed(perKg, 2)), text("–"), text("–")}}}
		var said []string
		for _, rate := range x.known.Official {
			got, of := perKg, "100 kg"
			if !rate.PerKg {
				if x.litres <= 0 {
					continue
				}
				got, of = 100*x.hearts/x.litres, "100 L"
			}
			said = append(said, quantity.Fixed(rate.Litres, 1)+" from "+of+" of "+rate.Row+": "+rate.Source)
			if math.IsInf(l.part, 1) { // the first of the list, Germany's, is the one to fall below
				l.part = got / rate.Litres
				l.Cells[0].Text, l.Cells[1].Text = capital(x.name)+", "+of, quantity.Fixed(got, 2)
				l.Cells[2].Text, l.Cells[3].Text = quantity.Fixed(rate.Litres, 1), quantity.Fixed(100*l.part, 0)+" %"
			}
		}
		note := quantity.Fixed(x.kg, 0) + " kg gave " + quantity.Fixed(x.hearts, 1) + " L, " + quantity.Fixed(perKg, 2) + " from 100 kg."
		switch {
		case len(said) == 0:
			note += " No table at hand has it."
		case l.part < 1:
			note += " Below the rate: unripe fruit, a stuck ferment, vinegar or wide cuts (common practice, no source)."
		case l.part > tooMuch:
			note += " Far above the rate: look for a wrong weight, or sugar that nobody wrote down (common practice, no source)."
		}
		if y := x.known.Yield; y.Mean > 0 {
			note += " Handbooks: " + quantity.Fixed(y.Low, 1) + " to " + quantity.Fixed(y.High, 1) + " L from 100 kg (" + x.known.YieldBy + ")."
		}
		l.Note = note + " " + strings.Join(said, "; ")
		list = append(list, l)
	}
	slices.SortFunc(list, func(a, b line) int {
		return cmp.Or(cmp.Compare(a.part, b.part), cmp.Compare(a.Cells[0].Text, b.Cells[0].Text))
	})
	for _, l := range list {
		t.Rows = append(t.Rows, l.row)
	}
	return t
}

// lotYields follows each delivery to its hearts and its bottles, the poorest
// yield first; what is not distilled yet stands last.
func (e *Engine) lotYields(year string, g yieldsOf) *table {
	t := &table{Title: "From fruit to bottle, the poorest first", Empty: "Nothing was delivered.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Used"}, {Label: "Hearts, L per 100 kg", Figure: true}, {Label: "Bottles", Figure: true}}}
	type yielded struct {
		row
		per float64
	}
	var list []yielded
	for a, r := range e.book.State().RawLots {
		if !in(year, r.Came) || r.Net <= 0 {
			continue
		}
		used := r.Net - r.OnHand
		y := yielded{}
		per := "–"
		if used > 0 && g.of(a, hearts) > 0 {
			y.per = 100 * g.of(a, hearts) / used.Kilograms()
			per = quantity.Fixed(y.per, 2)
		}
		note := "came " + r.Came.Day() + ", " + quantity.Fixed(r.Net.Kilograms(), 0) + " kg"
		if taken, prepared := r.Preparation(); taken > 0 {
			note += ", prepared " + quantity.Fixed(100*prepared.Kilograms()/taken.Kilograms(), 1) + " %"
		}
		if mean, _, _, n := r.Sweetness(); n > 0 {
			note += ", " + quantity.Fixed(mean, 1) + " Bx"
		}
		y.row = row{Cells: []cell{{capital(r.Variety), a}, text(e.massText(used.Kilograms())), text(per), text(quantity.Fixed(g.of(a, bottles), 0))}, Note: note + "; hearts " + quantity.Fixed(g.of(a, hearts), 1) + " L of pure alcohol"}
		list = append(list, y)
	}
	slices.SortStableFunc(list, func(a, b yielded) int {
		if (a.per == 0) != (b.per == 0) {
			return cmp.Compare(b.per, a.per)
		}
		return cmp.Compare(a.per, b.per)
	})
	for i, y := range list {
		if i == mostRows {
			t.Title += fmt.Sprintf("; %d more by their year", len(list)-i)
			break
		}
		t.Rows = append(t.Rows, y.row)
	}
	return t
}

// mostRows is how many lots a table shows: all of a year, and not ten years.
const mostRows = 300

// costs is what bottles of a year cost, of what the book has prices of.
func (e *Engine) costs(year string, currency quantity.Unit, hour decimal.Decimal) report.Costing {
	return report.Costs(e.book.State(), currency, hour, func(m book.Moment) bool { return in(year, m) })
}

// costTable is what each closed lot of bottles cost with the tax, the latest
// first.
func (e *Engine) costTable(c report.Costing) *table {
	money := c.Currency.Symbol()
	t := &table{Title: "Cost of a bottle, of what the book has prices of", Empty: "No closed bottling has costs in the book.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: money, Figure: true}, {Label: "With tax", Figure: true}}}
	rates := map[string]decimal.Decimal{}
	for i, b := range slices.Backward(c.Bottled) {
		if len(t.Rows) == mostRows {
			t.Title += fmt.Sprintf("; %d more by their year", i+1)
			break
		}
		good := decimal.NewFromInt(b.Good())
		total := b.Spent.Total()
		tax := decimal.Zero
		if c.Currency == quantity.Dollar && !e.metric() {
			day := b.Closed.Day()
			if _, ok := rates[day]; !ok {
				on, _ := time.Parse(time.DateOnly, day)
				rates[day] = firstRate(e.book.State().TaxRates(), on)
			}
			tax = duty.Cent(decimal.New(int64(b.Finished), -4).Mul(rates[day]))
		}
		if total.IsZero() {
			continue
		}
		var parts []string
		for _, x := range report.Expenses() {
			if !b.Spent[x].IsZero() {
				parts = append(parts, x.String()+" "+b.Spent[x].StringFixed(2))
			}
		}
		note := joinedWords(b.LotCode, b.Closed.Day(), fmt.Sprintf("%d bottles", b.Good())) + ": " + strings.Join(parts, ", ") + ", in all " + total.StringFixed(2) + "; tax " + tax.StringFixed(2)
		if b.Hours > 0 {
			note += "; " + quantity.Fixed(b.Hours, 1) + " hours without a price"
		}
		if b.Unpriced {
			note += "; something in it has no price"
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{b.Name, b.Address}, text(total.DivRound(good, 2).StringFixed(2)), text(total.Add(tax).DivRound(good, 2).StringFixed(2))}, Note: note})
	}
	if len(t.Rows) > 0 && !e.metric() && c.Currency == quantity.Dollar {
		t.Title += "; tax at the first rate of the year, due when it is removed"
	}
	return t
}

// lostCostTable is what the angels took, the heads, and whatever else was lost,
// at what it had cost until then.
func (e *Engine) lostCostTable(c report.Costing) *table {
	money := c.Currency.Symbol()
	t := &table{Title: "What the angels and the heads cost", Empty: "Nothing was lost that had a price.", Rows: []row{}, Columns: []column{{Label: "Lost to"}, {Label: e.alcoholLabel(), Figure: true}, {Label: money, Figure: true}, {Label: "A bottle", Figure: true}}}
	var filled int64
	for _, b := range c.Bottled {
		filled += b.Good()
	}
	for _, l := range c.Lost {
		each := "–"
		if filled > 0 {
			each = l.Money.DivRound(decimal.NewFromInt(filled), 2).StringFixed(2)
		}
		t.Rows = append(t.Rows, row{Cells: []cell{text(capital(l.What)), text(e.alcoholText(l.Amount)), text(l.Money.StringFixed(2)), text(each)}})
	}
	if !c.Loose.IsZero() {
		t.Rows = append(t.Rows, row{Cells: []cell{text("Noted for no lot"), text("–"), text(c.Loose.StringFixed(2)), text("–")}, Note: "Rent, fees and the like: they stand in no bottle's cost."})
	}
	return t
}
