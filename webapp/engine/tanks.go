package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/cask"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

type tanksView struct {
	Tanks  []tankLine `json:"tanks"`
	Empty  []choice   `json:"empty"`
	Ready  []rested   `json:"ready"`
	Vessel *tankView  `json:"vessel"`
	Rests  []choice   `json:"rests"` // days to rest until, for one tap
}

// A tankLine is one tank of the list.
type tankLine struct {
	Vessel book.Address `json:"vessel"`
	Name   string       `json:"name"`
	Holds  string       `json:"holds"`
	Of     string       `json:"of"` // what it is made of, and how old
	Wants  string       `json:"wants"`
}

// A rested vessel waits to be tasted, or will.
type rested struct {
	Vessel book.Address `json:"vessel"`
	Name   string       `json:"name"`
	Says   string       `json:"says"`
	Note   string       `json:"note"`
	Due    bool         `json:"due"`
}

type tankView struct {
	Vessel book.Address `json:"vessel"`
	Name   string       `json:"name"`
	Result *result      `json:"result"`
	Says   string       `json:"says"` // of its table: whether a dip can be read
	Dips   bool         `json:"dips"`
	Blocks []block      `json:"blocks"`
}

// tanks lists the tanks with what is in them, what has rested, and one tank
// more closely.
func (e *Engine) tanks(wanted book.Address) tanksView {
	s, now := e.book.State(), e.now()
	out := tanksView{Tanks: []tankLine{}, Empty: []choice{}, Ready: e.ready(), Rests: e.restDays(now)}
	first := book.Address("")
	for a, v := range s.Vessels {
		_, tank := isTank(e, a)
		c, kept := &v.Content, storing(v)
		switch {
		case !tank || !c.Empty() && !c.Material.Accounted():
			continue
		case !c.Empty() && (first == "" || kept && !storing(s.Vessel(first))):
			first = a
		}
		if c.Empty() {
			out.Empty = append(out.Empty, choice{string(a), v.Name})
			continue
		}
		line := tankLine{Vessel: a, Name: v.Name, Holds: string(c.Material) + ", " + e.volumeText(c) + ", " + e.strengthText(c.Strength()), Of: joinedWords(e.madeUpOf(a), e.ageText(a, now))}
		if c.Alcohol < 0 || c.Mass < 0 {
			line.Holds = "less than nothing: more was drawn than the book knows of"
		}
		if v.Rest.Until != "" && string(v.Rest.Until) <= now.Day() {
			line.Wants = "ready to taste since " + string(v.Rest.Until)
		}
		out.Tanks = append(out.Tanks, line)
	}
	slices.SortStableFunc(out.Tanks, func(a, b tankLine) int {
		x, y := storing(s.Vessel(a.Vessel)), storing(s.Vessel(b.Vessel))
		switch {
		case x == y:
			return 0
		case x:
			return -1
		}
		return 1
	})
	if _, tank := isTank(e, wanted); tank {
		first = wanted
	}
	if first != "" {
		out.Vessel = e.tank(first, now)
	}
	return out
}

// storing reports whether spirit is kept in a vessel, and not only caught.
func storing(v *book.Vessel) bool { return v.Use == book.Tank || v.Use == book.BottlingTank }

// mostNamed is how many lots a line of the list names.
const mostNamed = 3

// madeUpOf is the composition of a vessel in a line: its largest lots, by the
// names people have for them.
func (e *Engine) madeUpOf(a book.Address) string {
	type part struct {
		name  string
		share float64
	}
	var parts []part
	for _, x := range e.book.State().Composition(a) {
		name := "not known"
		if l := e.book.State().Lot(x.Lot); l != nil {
			if name = l.Name; name == "" {
				name = string(l.Material)
			}
		}
		at := slices.IndexFunc(parts, func(p part) bool { return p.name == name })
		if at < 0 {
			parts, at = append(parts, part{name: name}), len(parts)
		}
		parts[at].share += x.Share
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.share, a.share) })
	var words []string
	for i, p := range parts {
		if i == mostNamed && len(parts) > mostNamed+1 {
			words = append(words, fmt.Sprintf("%d names more", len(parts)-i))
			break
		}
		words = append(words, percent(p.share)+" "+p.name)
	}
	return strings.Join(words, ", ")
}

// ageText is how old what is in a vessel is: since the youngest of it began, in
// wood, and left alone.
func (e *Engine) ageText(a book.Address, now book.Moment) string {
	s := e.book.State()
	v := s.Vessel(a)
	var words []string
	youngest := book.Moment{}
	for _, x := range s.Composition(a) {
		if l := s.Lot(x.Lot); l != nil && youngest.Before(l.Begun) {
			youngest = l.Begun
		}
	}
	if !youngest.IsNone() {
		words = append(words, "youngest of "+youngest.Day())
	}
	if age, ok := s.Youngest(a, now); ok && age.Days > 0 {
		words = append(words, age.String()+" in wood")
	}
	if d := int(v.Rested(now) / (24 * time.Hour)); d > 0 {
		words = append(words, counted(d, "day", "days")+" left alone")
	}
	return strings.Join(words, ", ")
}

// ready lists every vessel that rests, the longest overdue first.
func (e *Engine) ready() []rested {
	out := []rested{}
	now := e.now()
	type at struct {
		until string
		rested
	}
	var all []at
	for a, v := range e.book.State().Vessels {
		if v.Rest.Until == "" || v.Content.Empty() {
			continue
		}
		until := string(v.Rest.Until)
		x := at{until, rested{Vessel: a, Name: v.Name, Due: until <= now.Day(), Note: joinedWords(string(v.Content.Material), e.strengthText(v.Content.Strength()), v.Rest.For, counted(int(v.Rested(now)/(24*time.Hour)), "day", "days")+" so far")}}
		apart := daysBetween(now.Day(), until)
		switch {
		case apart < 0:
			x.Says = v.Name + ": ready to taste since " + until + ", " + counted(-apart, "day", "days") + " overdue"
		case apart == 0:
			x.Says = v.Name + ": ready to taste today"
		default:
			x.Says = v.Name + ": ready to taste on " + until + ", in " + counted(apart, "day", "days")
		}
		all = append(all, x)
	}
	slices.SortStableFunc(all, func(a, b at) int { return cmp.Compare(a.until, b.until) })
	for _, x := range all {
		out = append(out, x.rested)
	}
	return out
}

func daysBetween(from, to string) int {
	a, errA := time.Parse(time.DateOnly, from)
	b, errB := time.Parse(time.DateOnly, to)
	if errA != nil || errB != nil {
		return 0
	}
	return int(b.Sub(a) / (24 * time.Hour))
}

// restDays offers the usual rests as days (common practice, no source).
func (e *Engine) restDays(now book.Moment) []choice {
	out := []choice{}
	today, err := time.Parse(time.DateOnly, now.Day())
	if err != nil {
		return out
	}
	for _, months := range []int{1, 3, 5, 7, 12} {
		label := strconv.Itoa(months) + " months"
		if months == 1 {
			label = "1 month"
		}
		out = append(out, choice{today.AddDate(0, months, 0).Format(time.DateOnly), label})
	}
	return out
}

// tank is one vessel more closely: what it holds, of what and how old, its
// table, its tastings and its results.
func (e *Engine) tank(a book.Address, now book.Moment) *tankView {
	s := e.book.State()
	v := s.Vessel(a)
	c := &v.Content
	out := &tankView{Vessel: a, Name: v.Name, Dips: v.Table != nil, Blocks: []block{}}
	out.Result = &result{Label: v.Name + " holds", Figure: "nothing", Beside: []pair{{"takes", v.Capacity.String()}}, Steps: quantity.Working{}}
	if !c.Empty() {
		out.Result.Figure, out.Result.Unit = e.alcoholText(c.Alcohol), e.alcoholLabel()
		out.Result.Beside = []pair{{"what", string(c.Material)}, {"volume", e.volumeText(c)}, {"strength", e.strengthText(c.Strength())}, {"account", string(c.Account)}, {"full", quantity.Fixed(100*c.Litres20()/v.Capacity.Base(), 0) + " %"}}
		if age := e.ageText(a, now); age != "" {
			out.Result.Beside = append(out.Result.Beside, pair{"age", age})
		}
	}
	if v.Gauge.Entry != "" {
		out.Result.Beside = append(out.Result.Beside, pair{"last gauge", spaced(v.Gauge.On.String()) + ", " + e.alcoholText(v.Gauge.Alcohol)})
	}
	out.Says = "It has no table of its own yet: a dip cannot be read."
	if v.Table != nil {
		rows := v.Table.Rows()
		out.Says = fmt.Sprintf("Its table has %d rows, from %s at %s to %s at %s.", len(rows), rows[0].Volume, rows[0].Dip, rows[len(rows)-1].Volume, rows[len(rows)-1].Dip)
	}
	parts := &table{Title: "What it is made of", Empty: "It holds nothing.", Rows: []row{}, Columns: []column{{Label: "Lot"}, {Label: "Share", Figure: true}}}
	for _, held := range s.Composition(a) {
		r := row{Cells: []cell{text("not known"), text(percent(held.Share))}}
		if l := s.Lot(held.Lot); l != nil {
			r.Cells[0], r.Note = cell{e.lotName(l), l.Address}, joinedWords(string(l.Material), string(l.Class), "of "+l.Begun.Day())
		}
		parts.Rows = append(parts.Rows, r)
	}
	out.Blocks = append(out.Blocks, block{Table: parts}, block{Table: e.tastingsTable(a)})
	if v.Table != nil {
		out.Blocks = append(out.Blocks, block{Table: dipTable(v)})
	}
	return out
}

// latestTastings is how many tastings a vessel lists.
const latestTastings = 12

// tastingsTable lists what was said of what is in a vessel: of the vessel, or
// of a lot that is in it.
func (e *Engine) tastingsTable(a book.Address) *table {
	t := &table{Title: "Tasted", Empty: "Nobody tasted it yet.", Rows: []row{}, Columns: []column{{Label: "When"}, {Label: "All in all", Figure: true}, {Label: "What next"}}}
	s := e.book.State()
	held := s.Composition(a)
	for _, x := range slices.Backward(s.Tastings()) {
		about := x.Vessel == a
		note := joinedWords(x.Taster, x.Words)
		for _, p := range held {
			if !about && slices.Contains(x.Lots, p.Lot) && p.Lot != "" {
				about = true
				if l := s.Lot(p.Lot); l != nil {
					note = joinedWords(note, "of "+e.lotName(l))
				}
			}
		}
		if !about || len(t.Rows) == latestTastings {
			continue
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{x.On.Day(), x.Entry}, text(strconv.FormatInt(x.Whole, 10)), text(x.Next)}, Note: note})
	}
	return t
}

func dipTable(v *book.Vessel) *table {
	t := &table{Title: "Its own table", Rows: []row{}, Columns: []column{{Label: "Dip"}, {Label: "Volume", Figure: true}}}
	for _, r := range v.Table.Rows() {
		t.Rows = append(t.Rows, row{Cells: []cell{{r.Dip.String(), v.Calibrated}, text(r.Volume.String())}})
	}
	return t
}

// dipped shows a gauge by dip: the table's working goes before the gauge's.
func (e *Engine) dipped(b *book.SpiritGauged) *result {
	g, d, err := b.Measured(e.book.State().Vessel(b.Vessel))
	if err != nil {
		return nil
	}
	out := e.gauged(&g, b.Vessel)
	if d == nil {
		return out
	}
	if out == nil { // the strength is wanting: what the dip says is there
		return &result{Label: "By the tank's table", Figure: quantity.Fixed(d.Volume.Value, 1), Unit: d.Volume.Unit.Label(), Beside: []pair{{"a centimetre", d.PerCM.Text(2)}}, Steps: d.Working()}
	}
	out.Beside = append(out.Beside, pair{"dip", b.Dip.String() + ", " + d.Volume.Text(1)})
	out.Steps = append(d.Working(), out.Steps...)
	return out
}

type pastedRows struct {
	Rows  []map[string]string `json:"rows"`
	Wrong []string            `json:"wrong"`
	Says  string              `json:"says"`
}

// mostDips is how many rows an entry of a table holds.
const mostDips = 200

// dipRows reads a tank's table as it was copied from a sheet: a row a line, the
// dip and then the volume. A first line without figures may name the units. One
// bad line and none is taken.
func (e *Engine) dipRows(pasted string) (any, error) {
	out := pastedRows{Rows: []map[string]string{}, Wrong: []string{}}
	dip, volume := quantity.Inch, quantity.Gallon
	if e.metric() {
		dip, volume = quantity.Centimetre, quantity.Litre
	}
	var rows []cask.Strapping
	wrong := func(line int, says string) {
		out.Wrong = append(out.Wrong, fmt.Sprintf("Line %d: %s", line, says))
	}
	for i, line := range strings.Split(strings.ReplaceAll(strings.ReplaceAll(pasted, "\r\n", "\n"), "\r", "\n"), "\n") {
		line = strings.TrimSpace(strings.TrimPrefix(line, "\ufeff"))
		if line == "" {
			continue
		}
		cells := cellsOf(line)
		if !strings.ContainsAny(line, "0123456789") && len(rows) == 0 && len(out.Wrong) == 0 {
			dip, volume = unitsNamed(line, dip, volume)
			continue
		}
		if len(cells) != 2 {
			wrong(i+1, "“"+line+"” does not have two figures, the dip and the volume; put a comma, a semicolon or a tab between them.")
			continue
		}
		d, errDip := quantity.Parse(cells[0], dip)
		v, errVolume := quantity.Parse(cells[1], volume)
		if errDip != nil || errVolume != nil {
			for _, err := range []error{errDip, errVolume} {
				if err != nil {
					wrong(i+1, firstSentence(err))
				}
			}
			continue
		}
		rows = append(rows, cask.Strapping{Dip: d, Volume: v})
		out.Rows = append(out.Rows, map[string]string{"dip": d.Compact(), "volume": v.Compact()})
	}
	if len(out.Wrong) == 0 {
		if len(rows) > mostDips {
			out.Wrong = append(out.Wrong, fmt.Sprintf("%d rows are more than the %d that one table holds; take every second one: between two rows a straight line is read.", len(rows), mostDips))
		} else if _, err := cask.NewTable(rows); err != nil {
			var list fault.List
			list.Add("table", err)
			for _, f := range list {
				out.Wrong = append(out.Wrong, sentence(f))
			}
		}
	}
	if len(out.Wrong) > 0 {
		out.Rows, out.Says = []map[string]string{}, "No row was taken: "+strconv.Itoa(len(out.Wrong))+" to mend."
		return out, nil
	}
	out.Says = fmt.Sprintf("%d rows stand below, dips in %s and volumes in %s. Look them over, then save.", len(rows), dip.Label(), volume.Label())
	return out, nil
}

// cellsOf parts a line at tabs or semicolons, where a comma is a decimal one;
// else at commas.
func cellsOf(line string) []string {
	cells := strings.FieldsFunc(line, func(r rune) bool { return r == '\t' || r == ';' })
	if len(cells) > 1 {
		for i := range cells {
			cells[i] = strings.ReplaceAll(cells[i], ",", ".")
		}
	} else {
		cells = strings.Split(line, ",")
	}
	for i := range cells {
		cells[i] = strings.Trim(strings.TrimSpace(cells[i]), `"`)
	}
	return cells
}

// unitsNamed finds a unit of length and one of volume in the head of a table.
func unitsNamed(line string, dip, volume quantity.Unit) (quantity.Unit, quantity.Unit) {
	for _, word := range strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" ,;\t()[]\"", r) }) {
		if r, err := quantity.Parse("1"+word, dip); err == nil {
			dip = r.Unit()
		} else if r, err := quantity.Parse("1"+word, volume); err == nil {
			volume = r.Unit()
		}
	}
	return dip, volume
}
