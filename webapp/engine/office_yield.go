package engine

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type yieldView struct {
	Year   string   `json:"year"` // "" for all of it
	Years  []string `json:"years"`
	Blocks []block  `json:"blocks"`
	CSV    string   `json:"csv"` // of the lots, from fruit to bottle
}

// yields follows what was taken in to what was bottled: where alcohol was lost,
// the worst first; what each lot gave; what each lot of bottles cost.
func (e *Engine) yields(year string) yieldView {
	out := yieldView{Year: year, Years: []string{}}
	for _, p := range e.book.State().Postings() {
		if y := p.On.Day()[:4]; !slices.Contains(out.Years, y) {
			out.Years = append(out.Years, y)
		}
	}
	slices.Sort(out.Years)
	slices.Reverse(out.Years)
	lots, rows := e.lotYields(year)
	out.CSV = report.CSV(rows)
	out.Blocks = []block{{Table: e.lossTable(year)}, {Table: e.classTable(year)}, {Table: lots}, {Table: e.costTable(year)}}
	return out
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

// lotYields follows each delivery to its hearts and its bottles, the poorest
// yield of a material first; what is not distilled yet stands last.
func (e *Engine) lotYields(year string) (*table, [][]string) {
	t := &table{Title: "From fruit to bottle, the poorest first", Empty: "Nothing was delivered.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Used"}, {Label: "Hearts, L per 100 kg", Figure: true}, {Label: "Bottles", Figure: true}}}
	s := e.book.State()
	type yielded struct {
		row
		per float64
		csv []string
	}
	var list []yielded
	for a, r := range s.RawLots {
		if !in(year, r.Came) || r.Net <= 0 {
			continue
		}
		used := r.Net - r.OnHand
		var hearts, bottles float64
		for _, x := range s.Descent(a) {
			if x.Lot.Material == book.Hearts {
				hearts += book.Alcohol(x.Lot.Amount).LitresPureAlcohol() * x.Share
			}
			if b := s.Bottling(x.Lot.Address); b != nil {
				bottles += float64(b.Good()) * x.Share
			}
		}
		y := yielded{csv: []string{r.Came.Day(), string(a), r.Variety, quantity.Fixed(r.Net.Kilograms(), 1), quantity.Fixed(used.Kilograms(), 1), quantity.Fixed(hearts, 2), quantity.Fixed(bottles, 1)}}
		per := "–"
		if used > 0 && hearts > 0 {
			y.per = 100 * hearts / used.Kilograms()
			per = quantity.Fixed(y.per, 2)
		}
		note := "came " + r.Came.Day()
		if taken, prepared := r.Preparation(); taken > 0 {
			note += ", prepared " + quantity.Fixed(100*prepared.Kilograms()/taken.Kilograms(), 1) + " %"
		}
		if mean, _, _, n := r.Sweetness(); n > 0 {
			note += ", " + quantity.Fixed(mean, 1) + " Bx"
		}
		y.row = row{Cells: []cell{{capital(r.Variety), a}, text(e.massText(used.Kilograms())), text(per), text(quantity.Fixed(bottles, 0))}, Note: note + "; hearts " + quantity.Fixed(hearts, 1) + " L of pure alcohol"}
		list = append(list, y)
	}
	slices.SortStableFunc(list, func(a, b yielded) int {
		if (a.per == 0) != (b.per == 0) {
			return cmp.Compare(b.per, a.per)
		}
		return cmp.Compare(a.per, b.per)
	})
	rows := [][]string{{"came", "lot", "variety", "kg net", "kg used", "hearts, L pure alcohol", "bottles"}}
	for _, y := range list {
		t.Rows, rows = append(t.Rows, y.row), append(rows, y.csv)
	}
	return t, rows
}

// costTable is what each lot of bottles cost, from what the book has prices of:
// raw material and goods by how much of each is in it, and noted costs of what
// it came of. Money of two currencies is not added.
func (e *Engine) costTable(year string) *table {
	t := &table{Title: "Cost per bottle, of what the book has prices of", Empty: "No closed bottling has costs in the book.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "All", Figure: true}, {Label: "A bottle", Figure: true}}}
	s := e.book.State()
	costs := map[book.Address][]book.Cost{}
	for _, c := range s.Costs() {
		costs[c.Into] = append(costs[c.Into], c)
	}
	for a, b := range s.Bottlings {
		if b.Open() || b.Good() == 0 || !in(year, b.Closed) {
			continue
		}
		sums := map[quantity.Unit]*[3]decimal.Decimal{} // raw material, goods, noted
		var hours float64
		missing := 0
		add := func(what int, price quantity.Reading, share float64) {
			if sums[price.Unit()] == nil {
				sums[price.Unit()] = &[3]decimal.Decimal{}
			}
			sums[price.Unit()][what] = sums[price.Unit()][what].Add(price.Decimal().Mul(decimal.NewFromFloat(share)))
		}
		noted := func(into book.Address, share float64) {
			for _, c := range costs[into] {
				if !c.Money.IsNone() {
					add(2, c.Money, share)
				}
				if !c.Hours.IsNone() {
					hours += c.Hours.Float() * share
				}
			}
		}
		noted(a, 1)
		runs := map[book.Address]bool{}
		for _, x := range s.Ancestry(a) {
			if x.Lot.Amount <= 0 {
				continue
			}
			part := min(1, x.Amount/float64(x.Lot.Amount))
			noted(x.Lot.Address, part)
			if run := x.Lot.Run; run != "" && run != x.Lot.Address && !runs[run] {
				runs[run] = true
				noted(run, part)
			}
			if r := s.RawLot(x.Lot.Address); r != nil {
				if r.Price.IsNone() {
					missing++
				} else {
					add(0, r.Price, part)
				}
			} else if g := s.GoodsLot(x.Lot.Address); g != nil {
				if g.Price.IsNone() {
					missing++
				} else {
					add(1, g.Price, part)
				}
			}
		}
		if len(sums) == 0 {
			continue
		}
		r := row{Cells: []cell{{b.Name, a}}}
		var all, each, notes []string
		for _, u := range slices.SortedFunc(maps.Keys(sums), func(x, y quantity.Unit) int { return cmp.Compare(x.Symbol(), y.Symbol()) }) {
			x := sums[u]
			sum := x[0].Add(x[1]).Add(x[2])
			all = append(all, sum.StringFixed(2)+" "+u.Symbol())
			each = append(each, sum.DivRound(decimal.NewFromInt(b.Good()), 2).StringFixed(2)+" "+u.Symbol())
			notes = append(notes, fmt.Sprintf("material %s, goods %s, noted %s", x[0].StringFixed(2), x[1].StringFixed(2), x[2].StringFixed(2)))
		}
		if hours > 0 {
			notes = append(notes, quantity.Fixed(hours, 1)+" hours noted")
		}
		if missing > 0 {
			notes = append(notes, strconv.Itoa(missing)+" lots behind it have no price")
		}
		r.Cells = append(r.Cells, text(strings.Join(all, " + ")), text(strings.Join(each, " + ")))
		r.Note = joinedWords(b.LotCode, b.Closed.Day(), fmt.Sprintf("%d bottles", b.Good())) + "; " + strings.Join(notes, "; ")
		t.Rows = append(t.Rows, r)
	}
	slices.Reverse(t.Rows)
	return t
}
