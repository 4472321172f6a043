package engine

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type seasonsView struct {
	Year   string   `json:"year"`
	Years  []string `json:"years"`
	Blocks []block  `json:"blocks"`
}

// beside is how many years stand beside each other.
const beside = 3

// seasons sets a year beside the two before it: what came in and what it gave,
// where alcohol was lost, what was bottled and what a bottle cost. A year is
// that of the delivery, of the loss, of the bottling.
func (e *Engine) seasons(year string) (any, error) {
	out := seasonsView{Years: e.years(), Blocks: []block{}}
	if len(out.Years) == 0 {
		return out, nil
	}
	if out.Year = year; !slices.Contains(out.Years, year) {
		out.Year = out.Years[0]
	}
	var years []string
	for y := out.Year; len(years) < beside && y >= out.Years[len(out.Years)-1]; y = yearBefore(y) {
		years = append(years, y)
	}
	if c := e.seasonChart(years); c != nil {
		out.Blocks = append(out.Blocks, block{Chart: c})
	}
	out.Blocks = append(out.Blocks, block{Table: e.seasonFruit(years)}, block{Table: e.seasonLosses(years)})
	for _, c := range report.Currencies(e.book.State()) {
		out.Blocks = append(out.Blocks, block{Table: e.seasonClasses(years, c)})
	}
	if len(report.Currencies(e.book.State())) == 0 {
		out.Blocks = append(out.Blocks, block{Table: e.seasonClasses(years, quantity.NoUnit)})
	}
	return out, nil
}

// seasonFruit is what came in by fruit, with its sugar and what it gave, each
// year beside the ones before.
func (e *Engine) seasonFruit(years []string) *table {
	t := &table{Title: "What came in, and what it gave: litres of pure alcohol from 100 kg", Empty: "Nothing came in.", Rows: []row{}, Columns: []column{{Label: "Of"}, {Label: "kg", Figure: true}, {Label: "Bx", Figure: true}, {Label: "L", Figure: true}, {Label: "Bottles", Figure: true}}}
	g := e.gave()
	sums := make([]map[string]*fruitSum, len(years))
	kg := map[string]float64{}
	for i, y := range years {
		sums[i] = e.byFruit(y, g)
		for name, x := range sums[i] {
			kg[name] += x.came
		}
	}
	for _, name := range slices.SortedFunc(maps.Keys(kg), func(a, b string) int { return cmp.Or(cmp.Compare(kg[b], kg[a]), cmp.Compare(a, b)) }) {
		for i, y := range years {
			x := sums[i][name]
			if x == nil {
				x = &fruitSum{}
			}
			sugar, per := "–", "–"
			if x.sampled > 0 {
				sugar = quantity.Fixed(x.sugar/x.sampled, 1)
			}
			if x.kg > 0 {
				per = quantity.Fixed(100*x.hearts/x.kg, 2)
			}
			t.Rows = append(t.Rows, row{Cells: []cell{text(capital(name) + " " + y), text(quantity.Fixed(x.came, 0)), text(sugar), text(per), text(quantity.Fixed(x.bottles, 0))}})
		}
	}
	return t
}

// seasonLosses is what each way of losing alcohol took of what was made.
func (e *Engine) seasonLosses(years []string) *table {
	t := &table{Title: "Lost, as a part of what was made", Empty: "Nothing was lost.", Rows: []row{}, Columns: []column{{Label: "Step"}}}
	made := make([]book.Alcohol, len(years))
	lost := map[string][]book.Alcohol{}
	postings := e.book.State().Postings()
	for i := range postings {
		p := &postings[i]
		at := slices.Index(years, p.On.Day()[:4])
		if at < 0 {
			continue
		}
		switch what, amount := report.LossOf(e.book.State(), p); {
		case p.From == book.Produced:
			made[at] += p.Amount
		case p.To == book.Produced:
			made[at] -= p.Amount
		case what != "":
			if lost[what] == nil {
				lost[what] = make([]book.Alcohol, len(years))
			}
			lost[what][at] += amount
		}
	}
	for _, y := range years {
		t.Columns = append(t.Columns, column{Label: y, Figure: true})
	}
	for _, what := range slices.SortedFunc(maps.Keys(lost), func(a, b string) int { return cmp.Or(cmp.Compare(lost[b][0], lost[a][0]), cmp.Compare(a, b)) }) {
		r := row{Cells: []cell{text(capital(what))}}
		for i := range years {
			share := "–"
			if made[i] > 0 {
				share = quantity.Fixed(100*float64(lost[what][i])/float64(made[i]), 1) + " %"
			}
			r.Cells = append(r.Cells, text(share))
		}
		t.Rows = append(t.Rows, r)
	}
	if len(t.Rows) > 0 {
		r := row{Cells: []cell{text("Made, " + strings.ToLower(e.alcoholLabel()))}}
		for i := range years {
			r.Cells = append(r.Cells, text(e.alcoholText(made[i])))
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// seasonClasses is what was bottled of each class and what a bottle cost, the
// tax apart.
func (e *Engine) seasonClasses(years []string, currency quantity.Unit) *table {
	t := &table{Title: "What was bottled, and what a bottle cost before the tax", Empty: "Nothing was bottled.", Rows: []row{}, Columns: []column{{Label: "Class"}, {Label: e.alcoholLabel(), Figure: true}, {Label: "Bottles", Figure: true}, {Label: strings.TrimSpace(currency.Symbol() + " a bottle"), Figure: true}}}
	type sum struct {
		alcohol book.Alcohol
		good    int64
		spent   decimal.Decimal
		part    bool // something in it has no price
	}
	sums := map[book.SpiritClass][]sum{}
	c := report.Costs(e.book.State(), currency, decimal.Zero, func(m book.Moment) bool { return slices.Contains(years, m.Day()[:4]) })
	for _, b := range c.Bottled {
		if sums[b.Class] == nil {
			sums[b.Class] = make([]sum, len(years))
		}
		x := &sums[b.Class][slices.Index(years, b.Closed.Day()[:4])]
		x.alcohol, x.good, x.spent, x.part = x.alcohol+b.Finished, x.good+b.Good(), x.spent.Add(b.Spent.Total()), x.part || b.Unpriced || b.Hours > 0
	}
	for _, class := range slices.Sorted(maps.Keys(sums)) {
		for i, y := range years {
			x := sums[class][i]
			each, note := "–", ""
			if x.good > 0 && x.spent.IsPositive() {
				each = x.spent.DivRound(decimal.NewFromInt(x.good), 2).StringFixed(2)
				if x.part {
					note = "not all that is in it has a price"
				}
			}
			t.Rows = append(t.Rows, row{Cells: []cell{text(capital(string(class)) + " " + y), text(e.alcoholText(x.alcohol)), text(strconv.FormatInt(x.good, 10)), text(each)}, Note: note})
		}
	}
	return t
}

// seasonChart draws what was made, came in and was bottled through a year over
// the years before it, month by month.
func (e *Engine) seasonChart(years []string) *chart {
	s := e.book.State()
	const months = 12
	var made, came, filled [beside][months]float64
	place := func(m book.Moment) (year, month int) {
		day := m.Day()
		n, err := strconv.Atoi(day[5:7])
		if err != nil {
			return -1, 0
		}
		return slices.Index(years, day[:4]), n - 1
	}
	for _, l := range s.Lots {
		if y, m := place(l.Begun); y >= 0 && l.Material == book.Hearts {
			made[y][m] += book.Alcohol(l.Amount).LitresPureAlcohol()
		}
	}
	for _, r := range s.RawLots {
		if y, m := place(r.Came); y >= 0 {
			came[y][m] += r.Net.Kilograms()
		}
	}
	for _, b := range s.Bottlings {
		if y, m := place(b.Closed); !b.Open() && y >= 0 {
			filled[y][m] += float64(b.Good())
		}
	}
	now := e.now().Month()
	drawn := func(by, title, up string, of *[beside][months]float64) *chart {
		p := &plot{title: title, up: up}
		looks := []string{lookRead, lookExpected, lookBefore}
		any := false
		for i := len(years) - 1; i >= 0; i-- { // this year above the others
			l := plotLine{label: years[i], look: looks[i], points: [][2]float64{{0, 0}}}
			sum := 0.0
			for m := range months {
				if fmt.Sprintf("%s-%02d", years[i], m+1) > now {
					break
				}
				sum += of[i][m]
				l.points = append(l.points, [2]float64{float64(m + 1), sum})
			}
			if sum > 0 {
				p.lines, any = append(p.lines, l), true
			}
		}
		if !any {
			return nil
		}
		c := p.chart()
		c.By, c.Choose, c.Across = by, "Drawn", "end of the month"
		c.AcrossTicks = nil
		last := p.lastAcross()
		for m := 2; m <= months; m += 2 {
			if at := float64(m) / last; at <= 1 {
				c.AcrossTicks = append(c.AcrossTicks, tick{at, time.Month(m).String()[:3]})
			}
		}
		words := []string{capital(title)}
		for _, l := range p.lines {
			if n := len(l.points); n > 0 {
				words = append(words, fmt.Sprintf("%s: %s by the end of %s", l.label, quantity.Fixed(l.points[n-1][1], 0), time.Month(n-1)))
			}
		}
		c.Summary = strings.Join(words, "; ")
		return c
	}
	charts := slices.DeleteFunc([]*chart{
		drawn("Alcohol", "pure alcohol in hearts since New Year", "L", &made),
		drawn("Fruit and grain", "delivered since New Year", "kg", &came),
		drawn("Bottles", "bottled since New Year", "bottles", &filled),
	}, func(c *chart) bool { return c == nil })
	if len(charts) == 0 {
		return nil
	}
	charts[0].Others = charts[1:]
	return charts[0]
}
