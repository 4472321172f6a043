package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

type traceView struct {
	Choices []traceGroup `json:"choices"`
	Lot     string       `json:"lot"`
	Title   string       `json:"title"`
	Says    string       `json:"says"`
	Picture *picture     `json:"picture,omitempty"`
	Blocks  []block      `json:"blocks"`
	Recall  []block      `json:"recall"`
	Found   string       `json:"found"` // bottles of which the book knows where they are
	Files   string       `json:"csv"`   // the recall sheet
}

type traceGroup struct {
	Label   string   `json:"label"`
	Choices []choice `json:"choices"`
}

// A picture is lots in rows, from the fruit down to the bottle, with lines from
// what something was made of to what was made. Places are parts of its width.
type picture struct {
	Summary string        `json:"summary"`
	Rows    [][]pictured  `json:"rows"`
	Lines   []pictureLine `json:"lines"`
}

type pictured struct {
	Lot   book.Address `json:"lot"`
	Name  string       `json:"name"`
	Share string       `json:"share"`
	At    float64      `json:"at"` // the middle
	Wide  float64      `json:"wide"`
	Here  bool         `json:"here"`
}

type pictureLine struct {
	Row  int     `json:"row"` // from this row
	From float64 `json:"from"`
	To   float64 `json:"to"` // of the row To_row
	Down int     `json:"down"`
}

// traceChoices offers what can be traced: bottles, vessels, runs' spirits,
// mashes, fruit and goods, the newest first.
func (e *Engine) traceChoices() []traceGroup {
	s := e.book.State()
	groups := []traceGroup{{Label: "Bottles"}, {Label: "Vessels"}, {Label: "Spirits"}, {Label: "Mashes"}, {Label: "Fruit and grain"}, {Label: "Goods"}}
	add := func(g int, a book.Address, label string) {
		groups[g].Choices = append(groups[g].Choices, choice{string(a), label})
	}
	for a, l := range s.Lots {
		label := joinedWords(l.Name, string(l.Material), l.Begun.Day(), string(a))
		switch b := s.Bottling(a); {
		case b != nil:
			add(0, a, joinedWords(b.Name, b.LotCode, l.Begun.Day(), string(a)))
		case l.Material.Accounted():
			add(2, a, label)
		case l.Material.Fermenting():
			add(3, a, label)
		case l.Material == book.DryGoods:
			add(5, a, label)
		default:
			add(4, a, label)
		}
	}
	for _, g := range groups {
		slices.Reverse(g.Choices)
	}
	for a, v := range s.Vessels {
		if len(s.Composition(a)) > 0 {
			add(1, a, joinedWords(v.Name, string(v.Content.Material)))
		}
	}
	return slices.DeleteFunc(groups, func(g traceGroup) bool { return len(g.Choices) == 0 })
}

// trace follows a lot, or what a vessel holds, both ways.
func (e *Engine) trace(a book.Address) (any, error) {
	out := traceView{Choices: e.traceChoices(), Lot: string(a), Blocks: []block{}, Recall: []block{}}
	if out.Choices == nil {
		out.Choices = []traceGroup{}
	}
	if a == "" {
		return out, nil
	}
	s := e.book.State()
	up, down, title := e.bothWays(a)
	if title == "" {
		return nil, fault.Fault{Code: fault.Unknown, Field: "lot", Value: string(a), Limit: "is no lot or vessel of this book", Remedy: "choose one from the list"}
	}
	out.Title = title
	out.Says = fmt.Sprintf("It came of %d lots and became %d. Shares are by alcohol, of mash by volume, of raw material by weight; what gives no alcohol has none.", len(up), len(down))
	out.Picture = e.picture(a, up, down)
	out.Blocks = append(out.Blocks, block{Table: e.traceTable("Came of: its share of this", "It came of nothing the book knows of.", up, true)},
		block{Table: e.traceTable("Became: how much of each is of this", "Nothing came of it yet.", down, false)}, block{Table: e.heldTable(a, down)})
	if s.Lot(a) != nil {
		e.recall(&out, a, down)
	}
	return out, nil
}

// bothWays is the ancestry and descent of a lot; of a vessel the lots in it
// with their ancestry.
func (e *Engine) bothWays(a book.Address) (up, down []book.Trace, title string) {
	s := e.book.State()
	if l := s.Lot(a); l != nil {
		title = joinedWords(l.Name, string(l.Material), l.Begun.Day())
		if b := s.Bottling(a); b != nil {
			title = joinedWords(b.Name, b.LotCode, "bottled "+l.Begun.Day())
		}
		return s.Ancestry(a), s.Descent(a), title
	}
	v := s.Vessel(a)
	if v == nil {
		return nil, nil, ""
	}
	at := map[book.Address]int{}
	join := func(x book.Trace) {
		i, in := at[x.Lot.Address]
		if !in {
			at[x.Lot.Address] = len(up)
			up = append(up, x)
			return
		}
		up[i].Share += x.Share
		up[i].Depth = min(up[i].Depth, x.Depth)
	}
	for _, held := range s.Composition(a) {
		if l := s.Lot(held.Lot); l != nil {
			join(book.Trace{Lot: l, Depth: 1, Share: held.Share})
			for _, x := range s.Ancestry(held.Lot) {
				join(book.Trace{Lot: x.Lot, Depth: x.Depth + 1, Share: x.Share * held.Share})
			}
		}
	}
	return up, nil, joinedWords(v.Name, string(v.Content.Material))
}

func nearest(list []book.Trace) []book.Trace {
	out := slices.Clone(list)
	slices.SortStableFunc(out, func(a, b book.Trace) int { return cmp.Or(cmp.Compare(a.Depth, b.Depth), cmp.Compare(b.Share, a.Share)) })
	return out
}

// percent is a share to a tenth of a percent.
func percent(share float64) string {
	switch {
	case share <= 0:
		return "–"
	case share < 0.0005:
		return "under 0.1 %"
	}
	return quantity.Fixed(100*share, 1) + " %"
}

func (e *Engine) traceTable(title, empty string, list []book.Trace, up bool) *table {
	t := &table{Title: title, Empty: empty, Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
	for _, x := range nearest(list) {
		note := joinedWords(string(x.Lot.Material), x.Lot.Begun.Day(), fmt.Sprintf("%d away", x.Depth))
		if up {
			note = joinedWords(note, e.amountIn(x))
		} else if b := e.book.State().Bottling(x.Lot.Address); b != nil {
			note = joinedWords(note, fmt.Sprintf("%d bottles, %d in the house", b.Good(), b.Left()))
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{e.lotName(x.Lot), x.Lot.Address}, text(percent(x.Share))}, Note: note})
	}
	return t
}

func (e *Engine) lotName(l *book.Lot) string {
	if l.Name != "" {
		return capital(l.Name)
	}
	return capital(string(l.Material)) + " " + string(l.Address)
}

// amountIn is how much of a lot is in the traced one, in the measure of its
// material.
func (e *Engine) amountIn(x book.Trace) string {
	n := int64(math.Round(x.Amount))
	switch m := x.Lot.Material; {
	case n <= 0 || m == book.DryGoods:
		return ""
	case m.Raw():
		return e.massText(book.Mass(n).Kilograms())
	case m.Fermenting():
		return e.litresText(book.Millilitres(n).Litres())
	}
	return e.book.State().Shown(book.Alcohol(n))
}

// heldTable lists the vessels that hold some of it now.
func (e *Engine) heldTable(a book.Address, down []book.Trace) *table {
	t := &table{Title: "Is now in: how much of what the vessel holds", Empty: "No vessel holds any of it now.", Rows: []row{}, Columns: []column{{Label: "Vessel"}, {Label: "Share", Figure: true}}}
	s := e.book.State()
	reach := map[book.Address]float64{a: 1}
	for _, x := range down {
		reach[x.Lot.Address] = x.Share
	}
	for address, v := range s.Vessels {
		var share float64
		for _, held := range s.Composition(address) {
			share += held.Share * reach[held.Lot]
		}
		if share > 0 {
			t.Rows = append(t.Rows, row{Cells: []cell{{v.Name, address}, text(percent(share))}, Note: joinedWords(string(v.Content.Material), e.volumeText(&v.Content))})
		}
	}
	return t
}

// mostInRow is how many lots stand beside each other in the picture.
const mostInRow = 4

// picture lays the lots out in rows by how far away they are. A row shows its
// largest shares; the last box of a fuller one counts the others.
func (e *Engine) picture(a book.Address, up, down []book.Trace) *picture {
	out := &picture{Rows: [][]pictured{}, Lines: []pictureLine{}}
	byRow := map[int][]book.Trace{}
	for _, x := range nearest(up) {
		if x.Lot.Material != book.DryGoods && x.Share > 0 {
			byRow[-x.Depth] = append(byRow[-x.Depth], x)
		}
	}
	for _, x := range nearest(down) {
		if x.Share > 0 {
			byRow[x.Depth] = append(byRow[x.Depth], x)
		}
	}
	low, high := 0, 0
	for d := range byRow {
		low, high = min(low, d), max(high, d)
	}
	type spot struct {
		row int
		at  float64
	}
	spots := map[book.Address]spot{}
	for d := low; d <= high; d++ {
		var boxes []pictured
		if d == 0 {
			name := e.name(book.AVessel, a)
			if l := e.book.State().Lot(a); l != nil {
				name = e.lotName(l)
			}
			boxes = []pictured{{Lot: a, Name: name, Share: "this", Here: true}}
		}
		list := byRow[d]
		for i, x := range list {
			if i == mostInRow-1 && len(list) > mostInRow {
				boxes = append(boxes, pictured{Name: fmt.Sprintf("%d more", len(list)-i)})
				break
			}
			boxes = append(boxes, pictured{Lot: x.Lot.Address, Name: e.lotName(x.Lot), Share: percent(x.Share)})
		}
		if len(boxes) == 0 {
			continue
		}
		wide := 1 / float64(len(boxes))
		for i := range boxes {
			boxes[i].Wide, boxes[i].At = wide, wide*(float64(i)+0.5)
			if boxes[i].Lot != "" {
				spots[boxes[i].Lot] = spot{len(out.Rows), boxes[i].At}
			}
		}
		out.Rows = append(out.Rows, boxes)
	}
	s := e.book.State()
	for at, to := range spots {
		var from []book.Address
		if l := s.Lot(at); l != nil {
			for _, p := range l.From {
				from = append(from, p.Lot)
			}
		} else {
			for _, held := range s.Composition(at) {
				from = append(from, held.Lot)
			}
		}
		slices.Sort(from)
		for _, f := range slices.Compact(from) {
			if x, in := spots[f]; in && x.row < to.row {
				out.Lines = append(out.Lines, pictureLine{x.row, x.at, to.at, to.row})
			}
		}
	}
	slices.SortFunc(out.Lines, func(x, y pictureLine) int {
		return cmp.Or(cmp.Compare(x.Row, y.Row), cmp.Compare(x.From, y.From), cmp.Compare(x.Down, y.Down), cmp.Compare(x.To, y.To))
	})
	var words []string
	for _, r := range out.Rows {
		var names []string
		for _, b := range r {
			names = append(names, strings.TrimSpace(b.Name+" "+b.Share))
		}
		words = append(words, strings.Join(names, ", "))
	}
	out.Summary = "From top to bottom: " + strings.Join(words, "; then ")
	return out
}

// recall is the sheet of a recall: which bottles have some of the lot in them,
// how many went to whom and when, and what is still here.
func (e *Engine) recall(out *traceView, a book.Address, down []book.Trace) {
	s := e.book.State()
	share := map[book.Address]float64{}
	if s.Bottling(a) != nil {
		share[a] = 1
	}
	for _, x := range down {
		if s.Bottling(x.Lot.Address) != nil {
			share[x.Lot.Address] = x.Share
		}
	}
	lots := &table{Title: "Lots of bottles to call back", Empty: "No bottle has any of it.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Bottles", Figure: true}, {Label: "Gone", Figure: true}, {Label: "Here", Figure: true}}}
	var good int64
	for address, b := range s.Bottlings {
		if _, in := share[address]; in {
			good += b.Good()
			lots.Rows = append(lots.Rows, row{Cells: []cell{{b.Name, address}, text(fmt.Sprint(b.Good())), text(fmt.Sprint(b.Gone)), text(fmt.Sprint(b.Left()))},
				Note: joinedWords(b.LotCode, b.Bottle.String(), "bottled "+b.Opened.Day(), percent(share[address])+" of this")})
		}
	}
	went := &table{Title: "Recall sheet: which cases, to whom, when", Empty: "No bottle of it left the house.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "To whom"}, {Label: "Cases", Figure: true}, {Label: "Loose", Figure: true}}}
	rows := [][]string{{"day", "entry", "lot", "product", "lot code", "for", "to whom", "cases", "loose", "document"}}
	for entry := range e.book.All {
		if entry.Kind != "cases removed" && entry.Kind != "cases returned" {
			continue
		}
		body, happened, void, _ := e.book.Effective(entry)
		var lot book.Address
		var why, whom, document string
		var cases, loose int64
		switch x := body.(type) {
		case *book.CasesRemoved:
			lot, why, whom, document, cases, loose = x.Bottling, x.Purpose, x.To, x.Document, x.Cases, x.Loose
		case *book.CasesReturned:
			lot, why, whom, cases, loose = x.Bottling, "came back: "+x.Why, x.From, -x.Cases, -x.Loose
		}
		b := s.Bottling(lot)
		if _, in := share[lot]; !in || void || b == nil {
			continue
		}
		shown := whom
		if shown == "" {
			shown = "not written"
		}
		went.Rows = append(went.Rows, row{Cells: []cell{{happened.Day(), entry.Address()}, text(shown), text(fmt.Sprint(cases)), text(fmt.Sprint(loose))}, Note: joinedWords(b.Name, b.LotCode, string(lot), why, document)})
		rows = append(rows, []string{happened.Day(), string(entry.Address()), string(lot), b.Name, b.LotCode, why, whom, fmt.Sprint(cases), fmt.Sprint(loose), document})
	}
	tried := &table{Title: "Mock recalls of this lot", Empty: "None was tried with this lot yet.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "Took", Figure: true}, {Label: "Found", Figure: true}, {Label: "Not found", Figure: true}}}
	for _, r := range s.Recalls() {
		if r.Lot == a {
			tried.Rows = append(tried.Rows, row{Cells: []cell{{r.On.Day(), r.Entry}, text(r.Took.String()), text(fmt.Sprint(r.Found)), text(fmt.Sprint(r.Missing))}, Note: r.Outcome})
		}
	}
	out.Recall, out.Found, out.Files = []block{{Table: lots}, {Table: went}, {Table: tried}}, fmt.Sprint(good), csvOf(rows)
}
