package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// barrelOf is what the pages of the barrels are asked for.
type barrelOf struct {
	Row      string `json:"row"`
	Sort     string `json:"sort"`
	Day      string `json:"day"`      // of the forecast
	Target   string `json:"target"`   // strength, as typed
	Humidity string `json:"humidity"` // of the store, %, as typed
}

const (
	// allOpen is how many barrels are drawn at once; of a larger store one row is.
	allOpen = 60
	// regaugeAfter is how long a barrel may lie before a regauge is asked for:
	// common practice, no source.
	regaugeAfter = 366 * 24 * time.Hour
)

type barrelsView struct {
	Says    string      `json:"says"`
	Rows    []barrelRow `json:"rows"`
	Row     string      `json:"row"`
	Choices []choice    `json:"choices"` // of rows
	Sorts   []string    `json:"sorts"`
	Sort    string      `json:"sort"`
	List    *table      `json:"list"`
	More    string      `json:"more"` // what the list leaves out
	Empty   string      `json:"empty"`
}

// A barrelRow is one row of the store; its tiers are given where it is open.
type barrelRow struct {
	Key   string       `json:"key"`
	Title string       `json:"title"`
	Says  string       `json:"says"`
	Open  bool         `json:"open"`
	Tiers []barrelTier `json:"tiers"`
	all   []*barrel
	wants int
}

type barrelTier struct {
	Title string       `json:"title"`
	Cells []barrelCell `json:"cells"`
}

// A barrelCell is a barrel on the map: its short name over one word, its age or
// what it wants, and all of it in words.
type barrelCell struct {
	Vessel book.Address `json:"vessel"`
	Short  string       `json:"short"`
	Word   string       `json:"word"`
	Says   string       `json:"says"`
	Look   string       `json:"look"` // 'wants', 'empty' or ''
}

// A barrel is a wooden vessel as the list sees it; nothing here needs physics,
// and what only a shown one needs is worked out when it is shown.
type barrel struct {
	*book.Vessel
	days  int     // in wood, of the youngest spirit in it
	aged  bool    // whether that is known
	loss  float64 // of its alcohol, a year
	lossy bool    // whether a regauge told it
	wants []barrelWant
}

// A barrelWant is what a barrel wants of a person.
type barrelWant struct {
	Word string `json:"word"` // fits a cell of the map
	Says string `json:"says"`
}

// isBarrel reports whether a vessel is listed with the barrels.
func isBarrel(v *book.Vessel) bool { return v.Use == book.Barrel || v.Use == book.SmallCask }

// manyBarrels is how many barrels are in use, where they are more than a list
// of vessels should hold; else 0.
func (e *Engine) manyBarrels() int {
	n := 0
	for _, v := range e.book.State().Vessels {
		if isBarrel(v) && v.Retired == "" {
			n++
		}
	}
	if n <= allOpen {
		return 0
	}
	return n
}

// barrels lists the barrels in use, in the order in which they were registered.
func (e *Engine) barrels() []*barrel {
	s, now := e.book.State(), e.now()
	asked := map[book.Address]string{}
	for _, q := range e.openQuestions() {
		for _, a := range q.Entries {
			if v := s.Vessel(a); v != nil && isBarrel(v) {
				asked[a] = q.Text
			}
		}
	}
	var out []*barrel
	for a, v := range s.Vessels {
		if !isBarrel(v) || v.Retired != "" {
			continue
		}
		b := &barrel{Vessel: v}
		b.days, b.aged = v.YoungestDays(now)
		b.loss, b.lossy = yearlyLoss(&v.Aged, func(m book.Measure) float64 { return float64(m.Alcohol) })
		b.wants = barrelWants(v, asked[a], now)
		out = append(out, b)
	}
	return out
}

// yearlyLoss is the share of a measure of a filling that went in a year, up to
// its last regauge, and whether a regauge told it.
func yearlyLoss(a *book.Aged, of func(book.Measure) float64) (float64, bool) {
	years := a.Gauged.Since(a.Filling).Hours() / 24 / 365.25
	if !a.Full() || years < 0.2 || of(a.In) <= 0 { // less than a quarter tells more of the scale than of the wood
		return 0, false
	}
	return of(a.Lost) / of(a.In) / years, true
}

// productIn names what most of a content is.
func (e *Engine) productIn(c *book.Content) string {
	if c.Empty() {
		return ""
	}
	if len(c.Parts) == 0 {
		return string(c.Material)
	}
	s := e.book.State()
	l := s.Lot(mostOf(c))
	if l == nil {
		return string(c.Material)
	}
	if r := s.Run(l.Run); r != nil {
		if p := s.Registered(book.AProduct, r.Product); p != nil {
			return p.Name
		}
	}
	return e.lotName(l)
}

// mostOf is the lot that most of a content is of.
func mostOf(c *book.Content) book.Address {
	return slices.MaxFunc(c.Parts, func(a, b book.Part) int { return cmp.Compare(a.Amount, b.Amount) }).Lot
}

func barrelWants(v *book.Vessel, asked string, now book.Moment) []barrelWant {
	out := []barrelWant{}
	if asked != "" {
		out = append(out, barrelWant{"ask", "The book asks: " + asked})
	}
	if !v.Content.Empty() && v.Aged.Full() && now.Since(v.Aged.Gauged) > regaugeAfter {
		out = append(out, barrelWant{"gauge", "It was not gauged since " + v.Aged.Gauged.Day() + ": regauge it."})
	}
	if v.Rest.Until != "" && string(v.Rest.Until) <= now.Day() && !v.Content.Empty() {
		out = append(out, barrelWant{"taste", "It was to rest until " + string(v.Rest.Until) + ": taste it."})
	}
	return out
}

// rowKey is where a barrel stands but for its tier.
func rowKey(v *book.Vessel) string { return v.Location + "\x1f" + v.Row }

func rowTitle(v *book.Vessel) string {
	row := v.Row
	if row != "" {
		row = "row " + row
	}
	return capital(cmp.Or(joinedWords(v.Location, row), "nowhere yet"))
}

// place is where a barrel stands, in words.
func placeOf(v *book.Vessel) string {
	tier := v.Tier
	if tier != "" {
		tier = "tier " + tier
	}
	row := v.Row
	if row != "" {
		row = "row " + row
	}
	return joinedWords(v.Location, row, tier)
}

// natural orders words with numbers in them as people count: 2 before 10.
func natural(a, b string) int {
	for a != "" && b != "" {
		n, m := digits(a), digits(b)
		if n > 0 && m > 0 {
			x, y := strings.TrimLeft(a[:n], "0"), strings.TrimLeft(b[:m], "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), strings.Compare(x, y)); c != 0 {
				return c
			}
			a, b = a[n:], b[m:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits is how many digits a text begins with.
func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// sorts are the orders of the list.
var sorts = []string{"place", "age, oldest first", "product", "loss, most first", "what it wants"}

func (e *Engine) barrelStore(in barrelOf) barrelsView {
	all := e.barrels()
	out := barrelsView{Rows: []barrelRow{}, Choices: []choice{}, Sorts: sorts, Sort: in.Sort,
		Empty: "No barrel is registered yet, as far as this phone knows. Register the first one below."}
	if !slices.Contains(sorts, out.Sort) {
		out.Sort = sorts[0]
	}
	rows := map[string]*barrelRow{}
	full, wanting, alcohol := 0, 0, book.Alcohol(0)
	for _, b := range all {
		key := rowKey(b.Vessel)
		r := rows[key]
		if r == nil {
			r = &barrelRow{Key: key, Title: rowTitle(b.Vessel), Tiers: []barrelTier{}}
			rows[key] = r
		}
		r.all = append(r.all, b)
		if len(b.wants) > 0 {
			r.wants++
			wanting++
		}
		if !b.Content.Empty() {
			full++
			alcohol += b.Content.Alcohol
		}
	}
	for _, r := range rows {
		r.Says = counted(len(r.all), "barrel", "barrels")
		if r.wants > 0 {
			r.Says += ", " + wantsOf(r.wants)
		}
		out.Rows = append(out.Rows, *r)
	}
	slices.SortFunc(out.Rows, func(a, b barrelRow) int { return natural(a.Key, b.Key) })
	for i := range out.Rows {
		r := &out.Rows[i]
		out.Choices = append(out.Choices, choice{r.Key, r.Title})
		if r.Key == in.Row {
			out.Row = in.Row
		}
		if r.Open = len(all) <= allOpen || r.Key == in.Row; r.Open {
			r.Tiers = e.tiers(r.all)
		}
	}
	wish := "none wants anything"
	if wanting > 0 {
		wish = wantsOf(wanting)
	}
	out.Says = fmt.Sprintf("%s, %d of them filled, with %s; %s.", counted(len(all), "barrel", "barrels"), full, e.alcoholWithUnit(alcohol), wish)
	out.List, out.More = e.barrelList(all, out.Row, out.Sort)
	return out
}

func wantsOf(n int) string {
	if n == 1 {
		return "1 wants something"
	}
	return fmt.Sprintf("%d want something", n)
}

// alcoholWithUnit is an amount of alcohol with its unit in words.
func (e *Engine) alcoholWithUnit(a book.Alcohol) string {
	_, unit := e.alcoholUnit()
	return e.alcoholText(a) + " " + unit
}

// tiers are a row's barrels, the highest tier first, as one stands before it.
func (e *Engine) tiers(all []*barrel) []barrelTier {
	slices.SortStableFunc(all, byPlace)
	out := []barrelTier{}
	for _, b := range all {
		title := ""
		if b.Tier != "" {
			title = "Tier " + b.Tier
		}
		if n := len(out); n == 0 || out[n-1].Title != title {
			out = append(out, barrelTier{Title: title})
		}
		t := &out[len(out)-1]
		t.Cells = append(t.Cells, e.cellOf(b))
	}
	return out
}

func byPlace(a, b *barrel) int {
	return cmp.Or(natural(a.Location, b.Location), natural(a.Row, b.Row), natural(b.Tier, a.Tier), natural(a.Name, b.Name))
}

func (e *Engine) cellOf(b *barrel) barrelCell {
	c := barrelCell{Vessel: b.Address, Short: shortName(b.Name), Says: joinedWords(b.Name, placeOf(b.Vessel), e.barrelGist(b))}
	switch {
	case len(b.wants) > 0:
		c.Word, c.Look = b.wants[0].Word, "wants"
		for _, w := range b.wants {
			c.Says += ". " + w.Says
		}
	case b.Content.Empty():
		c.Word, c.Look = "empty", "empty"
	case b.aged:
		c.Word = shortAge(e.ageOf(b))
	default:
		c.Word = "?"
	}
	return c
}

// barrelGist is what a barrel holds in words that cost no physics.
func (e *Engine) barrelGist(b *barrel) string {
	if b.Content.Empty() {
		return "empty"
	}
	age := "of unknown age"
	if b.aged {
		age = longAge(e.ageOf(b)) + " in wood"
	}
	return joinedWords(e.productIn(&b.Content), age, e.alcoholWithUnit(b.Content.Alcohol))
}

// ageOf is the age of the youngest spirit in a barrel.
func (e *Engine) ageOf(b *barrel) book.Age { return book.AgeOf(b.days, e.now()) }

// shortName is the end of a name that tells it from its neighbours: 'Barrel 07'
// is 07 on the map.
func shortName(name string) string {
	words := strings.Fields(name)
	if len(words) == 0 {
		return "?"
	}
	last := []rune(words[len(words)-1])
	return string(last[max(0, len(last)-6):])
}

// shortAge is an age for a cell of the map: 12 d, 7 m, 2 y.
func shortAge(a book.Age) string {
	switch {
	case a.Years > 0:
		return strconv.Itoa(a.Years) + " y"
	case a.Months > 0:
		return strconv.Itoa(a.Months) + " m"
	}
	return strconv.Itoa(a.Spare) + " d"
}

// longAge is an age in words, with years and months alone where it has any.
func longAge(a book.Age) string {
	part := func(n int, word string) string {
		if n == 0 {
			return ""
		}
		return counted(n, word, word+"s")
	}
	if a.Years+a.Months > 0 {
		return strings.TrimSpace(part(a.Years, "year") + " " + part(a.Months, "month"))
	}
	return counted(a.Spare, "day", "days")
}

// barrelList lists the barrels of a row, or of the store, in an order.
func (e *Engine) barrelList(all []*barrel, in, order string) (*table, string) {
	list := slices.DeleteFunc(slices.Clone(all), func(b *barrel) bool { return in != "" && rowKey(b.Vessel) != in })
	slices.SortStableFunc(list, byPlace)
	wants := func(b *barrel) int { return min(len(b.wants), 1) }
	known := func(b *barrel) int {
		if b.lossy {
			return 1
		}
		return 0
	}
	switch order {
	case sorts[1]:
		slices.SortStableFunc(list, func(a, b *barrel) int { return cmp.Compare(b.days, a.days) })
	case sorts[2]:
		products := make(map[book.Address]string, len(list))
		for _, b := range list {
			products[b.Address] = cmp.Or(e.productIn(&b.Content), "\U0010ffff") // the empty ones last
		}
		slices.SortStableFunc(list, func(a, b *barrel) int { return strings.Compare(products[a.Address], products[b.Address]) })
	case sorts[3]:
		slices.SortStableFunc(list, func(a, b *barrel) int {
			return cmp.Or(cmp.Compare(known(b), known(a)), cmp.Compare(b.loss, a.loss))
		})
	case sorts[4]:
		slices.SortStableFunc(list, func(a, b *barrel) int { return cmp.Compare(wants(b), wants(a)) })
	}
	t := &table{Title: "The barrels by " + order, Empty: "No barrel stands here.", Rows: []row{}, Columns: []column{{Label: "Barrel"}, {Label: "Holds"}, {Label: "Alcohol lost a year", Figure: true}}}
	more := ""
	if len(list) > allOpen {
		more = fmt.Sprintf("The first %d of %d are listed: choose a row for its others.", allOpen, len(list))
		list = list[:allOpen]
	}
	for _, b := range list {
		loss, holds := "", cmp.Or(e.productIn(&b.Content), "empty")
		if b.lossy {
			loss = quantity.Fixed(100*b.loss, 1) + " %"
		}
		note := placeOf(b.Vessel)
		if !b.Content.Empty() {
			age := "of unknown age"
			if b.aged {
				age = longAge(e.ageOf(b)) + " in wood"
			}
			note = joinedWords(note, age, e.alcoholWithUnit(b.Content.Alcohol))
		}
		for _, w := range b.wants {
			note = joinedWords(note, w.Says)
		}
		t.Rows = append(t.Rows, tableRow(cell{b.Name, b.Address}, note, holds, loss))
	}
	return t, more
}

// tableRow is a row of a table: what names it, what stands beneath it, and its
// other cells.
func tableRow(first cell, note string, rest ...string) row {
	r := row{Cells: []cell{first}, Note: note}
	for _, s := range rest {
		r.Cells = append(r.Cells, text(s))
	}
	return r
}

type barrelLabelsView struct {
	Row     string        `json:"row"`
	Choices []choice      `json:"choices"`
	House   string        `json:"house"`
	Labels  []barrelLabel `json:"labels"`
	More    string        `json:"more"`
}

// A barrelLabel is what is stuck to a barrel beside the code that opens it.
type barrelLabel struct {
	Vessel book.Address `json:"vessel"`
	Name   string       `json:"name"`
	Says   string       `json:"says"`
}

// barrelLabels are the labels of a row, or of the first barrels of the store.
func (e *Engine) barrelLabels(in barrelOf) barrelLabelsView {
	out := barrelLabelsView{Choices: []choice{}, Labels: []barrelLabel{}, House: e.houseName()}
	var list []*book.Vessel
	rows := map[string]string{}
	for _, v := range e.book.State().Vessels {
		if isBarrel(v) && v.Retired == "" {
			list = append(list, v)
			rows[rowKey(v)] = rowTitle(v)
		}
	}
	for key, title := range rows {
		out.Choices = append(out.Choices, choice{key, title})
		if key == in.Row {
			out.Row = key
		}
	}
	slices.SortFunc(out.Choices, func(a, b choice) int { return natural(a.Value, b.Value) })
	if out.Row != "" {
		list = slices.DeleteFunc(list, func(v *book.Vessel) bool { return rowKey(v) != out.Row })
	}
	slices.SortStableFunc(list, func(a, b *book.Vessel) int { return byPlace(&barrel{Vessel: a}, &barrel{Vessel: b}) })
	if len(list) > allOpen {
		out.More = fmt.Sprintf("The first %d of %d: choose a row for the others.", allOpen, len(list))
		list = list[:allOpen]
	}
	for _, v := range list {
		serial := v.Serial
		if serial != "" {
			serial = "serial " + serial
		}
		out.Labels = append(out.Labels, barrelLabel{v.Address, v.Name, joinedWords(serial, v.Capacity.String(), v.Wood)})
	}
	return out
}

// houseName is whose book it is: the identity on a label.
func (e *Engine) houseName() string {
	h := e.book.State().House()
	return joinedWords(h.Name, h.Plant)
}

// A scannedView is the room and the page that a vessel's label opens.
type scannedView struct {
	Room string `json:"room"`
	Page string `json:"page"` // of a room of pages
}

// scanned finds where a vessel is looked at: a barrel among the barrels, and
// any other in the ferment hall, which asks for mash in it.
func (e *Engine) scanned(a book.Address) scannedView {
	if v := e.book.State().Vessel(a); v != nil && isBarrel(v) {
		return scannedView{"store", "barrels"}
	}
	if _, tank := isTank(e, a); tank && len(e.book.State().Fermenting(a)) == 0 {
		return scannedView{"store", "tanks"}
	}
	return scannedView{Room: "ferment"}
}
