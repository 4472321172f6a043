package engine

import (
	"fmt"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type countView struct {
	Title     string  `json:"title"`
	Worksheet string  `json:"worksheet"`
	Blocks    []block `json:"blocks"`
	CSV       string  `json:"csv"`
}

// countSheet is the sheet of a physical inventory: what the book has of every
// vessel of spirit and every lot of bottles, the last gauge or count beside it
// with the difference, and the counts that were signed for.
func (e *Engine) countSheet() countView {
	s := e.book.State()
	day := e.now().Day()
	out := countView{Title: joinedWords("Physical inventory", s.House().Name, s.House().Plant, day), Worksheet: worksheet}
	rows := [][]string{{"account", "what", "in the book", "counted", "difference", "on"}}
	for _, a := range []book.Account{book.Production, book.Storage, book.Processing} {
		t := &table{Title: "In " + string(a) + ", by vessel", Empty: "Nothing stands in " + string(a) + ".", Rows: []row{},
			Columns: []column{{Label: "Vessel"}, {Label: "In the book", Figure: true}, {Label: "Last gauge", Figure: true}, {Label: "Difference", Figure: true}, {Label: "Counted"}}}
		var sum book.Alcohol
		for address, v := range s.Vessels {
			c := &v.Content
			if c.Empty() || !c.Material.Accounted() || c.Account != a {
				continue
			}
			sum += c.Alcohol
			gauged, diff, on := "", "", ""
			note := joinedWords(string(c.Material), e.volumeText(c), e.strengthText(c.Strength()))
			if v.Gauge.Entry != "" {
				on = v.Gauge.On.Day()
				gauged = e.alcoholText(v.Gauge.Alcohol)
				diff = e.alcoholText(v.Gauge.Alcohol - c.Alcohol)
				note += "; gauged " + on
				if c.Since != v.Gauge.On && v.Gauge.On.Before(c.Since) {
					note += ", moved since, so the difference is no loss"
					diff = ""
				}
			}
			t.Rows = append(t.Rows, row{Cells: []cell{{v.Name, address}, text(e.alcoholText(c.Alcohol)), text(gauged), text(diff), text("")}, Note: note})
			rows = append(rows, []string{string(a), v.Name, e.alcoholText(c.Alcohol), gauged, diff, on})
		}
		if len(t.Rows) > 0 {
			t.Rows = append(t.Rows, row{Cells: []cell{text("All of it"), text(e.alcoholText(sum)), text(""), text(""), text("")}, Note: "the account says " + e.alcoholText(s.Balance(a))})
		}
		out.Blocks = append(out.Blocks, block{Table: t})
	}
	bottles := &table{Title: "Bottles, by cases", Empty: "No bottle is in the house.", Rows: []row{},
		Columns: []column{{Label: "Lot"}, {Label: "In the book", Figure: true}, {Label: "Last count", Figure: true}, {Label: "Difference", Figure: true}, {Label: "Counted"}}}
	for address, b := range s.Bottlings {
		if b.Open() || b.Left() == 0 && b.Counted.Entry == "" {
			continue
		}
		counted, diff, on := "", "", ""
		note := joinedWords(b.LotCode, b.Bottle.String(), casesText(b.Left(), b.PerCase))
		if b.Counted.Entry != "" {
			on = b.Counted.On.Day()
			counted, diff = fmt.Sprint(b.Counted.Bottles), fmt.Sprint(b.Counted.Bottles-b.Left())
			note += "; counted " + on
		}
		if b.Left() == 0 && b.Counted.Bottles == 0 {
			continue
		}
		bottles.Rows = append(bottles.Rows, row{Cells: []cell{{b.Name, address}, text(fmt.Sprint(b.Left())), text(counted), text(diff), text("")}, Note: note})
		rows = append(rows, []string{"finished", joinedWords(b.Name, b.LotCode), fmt.Sprint(b.Left()), counted, diff, on})
	}
	taken := &table{Title: "Inventories signed for (27 CFR 19.333, 19.623)", Empty: "No inventory was signed for yet.", Rows: []row{}, Columns: []column{{Label: "Taken"}, {Label: "Account"}, {Label: "By"}, {Label: "In the book", Figure: true}}}
	if e.metric() {
		taken.Title = "Inventories signed for"
	}
	for _, i := range s.Inventories() {
		taken.Rows = append(taken.Rows, row{Cells: []cell{{string(i.Taken), i.Entry}, text(string(i.Account)), text(joinedWords(i.By, i.Title)), text(e.alcoholText(i.Book))}})
	}
	out.Blocks = append(out.Blocks, block{Table: bottles}, block{Table: taken})
	out.CSV = report.CSV(rows)
	return out
}

// casesText is a number of bottles in cases and loose ones.
func casesText(n, per int64) string {
	if per <= 1 {
		return fmt.Sprintf("%d bottles", n)
	}
	return fmt.Sprintf("%d cases and %d loose", n/per, n%per)
}

type vesselView struct {
	Vessel  string   `json:"vessel"`
	House   string   `json:"house"` // whose book it is
	Choices []choice `json:"choices"`
	Result  *result  `json:"result"`
	Blocks  []block  `json:"blocks"`
}

// vesselPage is one vessel: what it holds and of what, its age, its rest, and
// the entries that changed it.
func (e *Engine) vesselPage(a book.Address) (any, error) {
	s := e.book.State()
	out := vesselView{Vessel: string(a), House: e.houseName(), Choices: e.choices(book.AVessel), Blocks: []block{}}
	if a == "" {
		return out, nil
	}
	v := s.Vessel(a)
	if v == nil {
		return nil, fault.Fault{Code: fault.Unknown, Field: "vessel", Value: string(a), Limit: "is no vessel of this book", Remedy: "choose one from the list"}
	}
	c, now := &v.Content, e.now()
	lines := []pair{{"What it is for", string(v.Use)}, {"Takes", v.Capacity.String()}}
	add := func(label, value string) {
		if value != "" {
			lines = append(lines, pair{label, value})
		}
	}
	add("Stands", placeOf(v))
	add("Serial number", v.Serial)
	add("Cooperage", v.Cooperage)
	switch {
	case c.Empty():
		add("Holds", "nothing")
	case c.Material.Accounted():
		out.Result = &result{Label: v.Name + " holds", Figure: e.alcoholText(c.Alcohol), Unit: e.alcoholLabel(), Beside: []pair{{"what", string(c.Material)}, {"volume", e.volumeText(c)}, {"strength", e.strengthText(c.Strength())}}}
		add("In the account", string(c.Account))
	default:
		out.Result = &result{Label: v.Name + " holds", Figure: quantity.Fixed(c.Volume.Litres(), 0), Unit: "L", Beside: []pair{{"what", string(c.Material)}}}
	}
	if age, ok := s.Youngest(a, now); ok && age.Days > 0 {
		add("Youngest spirit, in wood", age.String())
	}
	if rested := v.Rested(now); rested > 0 {
		add("Left alone for", fmt.Sprintf("%d days", int(rested/(24*time.Hour))))
	}
	if v.Rest.Until != "" {
		add("To rest until", joinedWords(string(v.Rest.Until), v.Rest.For))
	}
	if v.Infused.Until != "" {
		add("To steep until", string(v.Infused.Until))
	}
	if v.Gauge.Entry != "" {
		add("Last gauge", spaced(v.Gauge.On.String())+", "+e.alcoholText(v.Gauge.Alcohol)+" "+e.alcoholLabel())
	}
	out.Blocks = append(out.Blocks, block{Facts: &facts{Title: v.Name, Lines: lines}})
	parts := &table{Title: "What it is made of", Empty: "It holds nothing.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
	for _, held := range s.Composition(a) {
		r := row{Cells: []cell{text("not known"), text(percent(held.Share))}}
		if l := s.Lot(held.Lot); l != nil {
			r.Cells[0], r.Note = cell{e.lotName(l), l.Address}, joinedWords(string(l.Material), string(l.Class), l.Begun.Day())
		}
		parts.Rows = append(parts.Rows, r)
	}
	fruit := &table{Title: "Back to the fruit", Empty: "It comes of nothing the book knows of.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
	up, _, _ := e.bothWays(a)
	for _, x := range nearest(up) {
		if x.Lot.Material.Raw() && x.Share > 0 {
			fruit.Rows = append(fruit.Rows, row{Cells: []cell{{e.lotName(x.Lot), x.Lot.Address}, text(percent(x.Share))}, Note: joinedWords(string(x.Lot.Material), x.Lot.Begun.Day())})
		}
	}
	history := &table{Title: "What changed it, the latest first", Empty: "Nothing changed it yet.", Rows: []row{}, Columns: []column{{Label: "When"}, {Label: "What"}}}
	const latest = 40
	for i := len(v.History) - 1; i >= 0 && len(history.Rows) < latest; i-- {
		entry := e.book.Entry(v.History[i])
		if entry == nil {
			continue
		}
		body, happened, _, _ := e.book.Effective(entry)
		history.Rows = append(history.Rows, row{Cells: []cell{{spaced(happened.String()), entry.Address()}, text(entry.Kind)}, Note: e.gist(body)})
	}
	out.Blocks = append(out.Blocks, block{Table: parts}, block{Table: fruit}, block{Table: history})
	return out, nil
}
