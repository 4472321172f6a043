package engine

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

type traceView struct {
	Choices []traceGroup `json:"choices"`
	Years   []string     `json:"years"` // to choose from, where there are too many lots for one list
	Year    string       `json:"year"`
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
// what something was made of to what was made. Everything stands in the units
// of its own width and height.
type picture struct {
	Summary string        `json:"summary"`
	Width   int           `json:"width"`
	Height  int           `json:"height"`
	Boxes   []pictured    `json:"boxes"`
	Lines   []pictureLine `json:"lines"`
}

type pictured struct {
	Lot    book.Address `json:"lot"`
	X      int          `json:"x"`
	Y      int          `json:"y"`
	Wide   int          `json:"wide"`
	High   int          `json:"high"`
	Middle int          `json:"middle"`
	Words  []drawnWords `json:"words"`
	Here   bool         `json:"here"`
	name   string
	share  string
}

type drawnWords struct {
	Y    int    `json:"y"`
	Text string `json:"text"`
}

type pictureLine struct {
	X1 int `json:"x1"`
	Y1 int `json:"y1"`
	X2 int `json:"x2"`
	Y2 int `json:"y2"`
}

// mostChoices is how many lots stand in one list; of more, a year's.
const mostChoices = 1500

// traceYears are the years to choose from and the chosen one, that of the lot
// or the last unless told otherwise; none where one list holds them all.
func (e *Engine) traceYears(a book.Address, year string) (years []string, chosen string) {
	s := e.book.State()
	n := 0
	seen := map[string]bool{}
	for _, l := range s.Lots {
		n++
		seen[l.Begun.Day()[:4]] = true
	}
	if n <= mostChoices {
		return []string{}, ""
	}
	years = slices.Sorted(maps.Keys(seen))
	slices.Reverse(years)
	switch l := s.Lot(a); {
	case seen[year]:
		return years, year
	case l != nil:
		return years, l.Begun.Day()[:4]
	}
	return years, years[0]
}

// traceChoices offers what can be traced: bottles, vessels, runs' spirits,
// mashes, fruit and goods, the newest first.
func (e *Engine) traceChoices(year string) []traceGroup {
	s := e.book.State()
	groups := []traceGroup{{Label: "Bottles"}, {Label: "Vessels"}, {Label: "Spirits"}, {Label: "Mashes"}, {Label: "Fruit and grain"}, {Label: "Goods"}}
	add := func(g int, a book.Address, label string) {
		groups[g].Choices = append(groups[g].Choices, choice{string(a), label})
	}
	for a, l := range s.Lots {
		if !in(year, l.Begun) {
			continue
		}
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
func (e *Engine) trace(a book.Address, year string) (any, error) {
	out := traceView{Lot: string(a), Blocks: []block{}, Recall: []block{}}
	out.Years, out.Year = e.traceYears(a, year)
	out.Choices = e.traceChoices(out.Year)
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

// The measures of the picture.
const (
	pictureWide = 360
	boxHigh     = 48
	rowHigh     = 78
	boxGap      = 6
	letterWide  = 6 // of the picture's small letters, on the average
)

// picture lays the lots out in rows by how far away they are. A row shows its
// largest shares; the last box of a fuller one counts the others.
func (e *Engine) picture(a book.Address, up, down []book.Trace) *picture {
	byRow := map[int][]book.Trace{}
	low, high := 0, 0
	for _, x := range nearest(up) {
		if x.Share > 0 {
			byRow[-x.Depth], low = append(byRow[-x.Depth], x), min(low, -x.Depth)
		}
	}
	for _, x := range nearest(down) {
		if x.Share > 0 {
			byRow[x.Depth], high = append(byRow[x.Depth], x), max(high, x.Depth)
		}
	}
	out := &picture{Width: pictureWide, Boxes: []pictured{}, Lines: []pictureLine{}}
	spots := map[book.Address]*pictured{}
	var said []string
	for d := low; d <= high; d++ {
		var boxes []pictured
		if d == 0 {
			name := e.name(book.AVessel, a)
			if l := e.book.State().Lot(a); l != nil {
				name = e.lotName(l)
			}
			boxes = []pictured{{Lot: a, name: name, share: "this", Here: true}}
		}
		for i, x := range byRow[d] {
			if more := len(byRow[d]) - i; i == mostInRow-1 && more > 1 {
				boxes = append(boxes, pictured{name: fmt.Sprintf("%d more", more)})
				break
			}
			boxes = append(boxes, pictured{Lot: x.Lot.Address, name: e.lotName(x.Lot), share: percent(x.Share)})
		}
		if len(boxes) == 0 {
			continue
		}
		var names []string
		wide := pictureWide / len(boxes)
		for i := range boxes {
			b := &boxes[i]
			b.X, b.Y, b.Wide, b.High = wide*i+boxGap/2, out.Height+boxGap/2, wide-boxGap, boxHigh
			b.Middle = b.X + b.Wide/2
			b.write()
			names = append(names, strings.TrimSpace(b.name+" "+b.share))
		}
		out.Boxes = append(out.Boxes, boxes...)
		out.Height += rowHigh
		said = append(said, strings.Join(names, ", "))
	}
	out.Height -= rowHigh - boxHigh - boxGap
	for i := range out.Boxes {
		if b := &out.Boxes[i]; b.Lot != "" {
			spots[b.Lot] = b
		}
	}
	for i := range out.Boxes {
		to := &out.Boxes[i]
		for _, source := range e.madeOf(to.Lot) {
			if from := spots[source]; from != nil && from.Y < to.Y {
				out.Lines = append(out.Lines, pictureLine{from.Middle, from.Y + from.High, to.Middle, to.Y})
			}
		}
	}
	out.Summary = "From top to bottom: " + strings.Join(said, "; then ")
	return out
}

// madeOf lists the lots that a lot was made of, or that stand in a vessel.
func (e *Engine) madeOf(a book.Address) []book.Address {
	var out []book.Address
	if l := e.book.State().Lot(a); l != nil {
		for _, p := range l.From {
			out = append(out, p.Lot)
		}
	} else {
		for _, held := range e.book.State().Composition(a) {
			out = append(out, held.Lot)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// write sets the name of a box in at most two lines that fit it, and its share
// beneath.
func (b *pictured) write() {
	fits := max(4, b.Wide/letterWide)
	lines := []string{""}
	for word := range strings.FieldsSeq(b.name) {
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case utf8.RuneCountInString(*last)+1+utf8.RuneCountInString(word) <= fits:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
	}
	if len(lines) > 2 {
		lines = append(lines[:1], lines[1]+"…")
	}
	for i, l := range lines {
		if r := []rune(l); len(r) > fits {
			lines[i] = string(r[:fits-1]) + "…"
		}
	}
	if b.share != "" {
		lines = append(lines, b.share)
	}
	y := b.Y + (b.High-13*len(lines))/2 + 10
	for _, l := range lines {
		b.Words = append(b.Words, drawnWords{y, l})
		y += 13
	}
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
	out.Recall, out.Found, out.Files = []block{{Table: lots}, {Table: went}, {Table: tried}}, fmt.Sprint(good), report.CSV(rows)
}
