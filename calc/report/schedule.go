package report

import (
	"cmp"
	"maps"
	"math/bits"
	"slices"
	"strings"

	"gaugebook/calc/book"
)

// schedules makes the parts of the forms that divide a line again: by material,
// by kind, by wood. They foot to the line they divide.
func schedules(s *book.State, m *Month, all []*flow) []Form {
	out := []*division{
		{Form: Form{Form: "TTB F 5110.40", Part: "II", Title: "Spirits of 190 proof and over, by material", Columns: []Column{produced}}, of: []Column{From190}, into: byMaterial, known: materials},
		{Form: Form{Form: "TTB F 5110.40", Part: "III", Title: "Whisky by kind and cooperage", Columns: []Column{"new cooperage", "used cooperage", "put in tanks"}}, of: []Column{Whisky160, WhiskyOver}, into: byWood},
		{Form: Form{Form: "TTB F 5110.40", Part: "IV", Title: "Brandy by kind", Columns: []Column{produced}}, of: []Column{Brandy170, BrandyOver}, into: byFruit, known: brandies},
	}
	var forms []Form
	o := &origins{s, wooden(s), postingsOf(s, m.Month)}
	for _, d := range out {
		if f, any := d.divide(o, m); any {
			forms = append(forms, f)
		}
	}
	if f, any := redistilled(m, all); any {
		forms = append(forms, f)
	}
	return append(forms, processed(m, all))
}

const produced Column = "produced"

// A division takes the produced spirits of some columns apart.
type division struct {
	Form
	of    []Column
	into  func(*division, *origins, *book.Posting) share
	known []Line // with numbers of their own, in the form's order
}

// A share says where a posting stands in a division.
type share struct {
	number, meaning, source string
	column                  Column
}

var materials = []Line{{Number: "1", Meaning: "Grain", Source: read}, {Number: "2", Meaning: "Fruit", Source: read}, {Number: "3", Meaning: "Molasses", Source: read},
	{Number: "7", Meaning: "From redistillation", Source: read}, {Number: "8", Meaning: "Other", Source: read}}

var brandies = []Line{{Number: "1", Meaning: "Grape brandy", Source: read}, {Number: "2", Meaning: "All other brandy", Source: read},
	{Number: "3", Meaning: "Neutral grape brandy", Source: read}, {Number: "4", Meaning: "All other neutral brandy", Source: read}}

// divide spreads line 14 of the production report over its shares, so that they
// add up to it. Of a closed month the line is what was signed for, and the
// shares are what the book says of it now.
func (d *division) divide(s *origins, m *Month) (Form, bool) {
	amounts := map[share]book.Alcohol{}
	entries := map[share][]Share{}
	for i := range s.postings {
		p := &s.postings[i]
		if !slices.Contains(still, p.From) || !out14(p.To) || !slices.Contains(d.of, kindOf(s.State, p, book.US)) {
			continue
		}
		k := d.into(d, s, p)
		amounts[k] += p.Amount
		entries[k] = append(entries[k], Share{p.Entry, p.Amount})
	}
	var whole Cell
	for _, c := range m.Forms[0].Line("14").Cells {
		if slices.Contains(d.of, c.Column) {
			whole.include(&c)
		}
	}
	f := d.Form
	if len(amounts) == 0 {
		return f, false
	}
	for _, k := range d.known {
		f.Lines = append(f.Lines, f.line(k.Number, k.Meaning, k.Source))
	}
	keys := slices.SortedFunc(maps.Keys(amounts), func(a, b share) int {
		return cmp.Or(cmp.Compare(a.meaning, b.meaning), cmp.Compare(a.column, b.column))
	})
	printed, exact := spread(int64(whole.Printed), keys, amounts), spread(int64(whole.Amount), keys, amounts)
	for _, k := range keys {
		at := slices.IndexFunc(f.Lines, func(l Line) bool { return l.Number == k.number && l.Meaning == k.meaning })
		if at < 0 {
			at = len(f.Lines)
			f.Lines = append(f.Lines, f.line(k.number, k.meaning, k.source))
		}
		c := &f.Lines[at].Cells[max(0, slices.Index(f.Columns, k.column))]
		c.Amount, c.Printed, c.Entries = book.Alcohol(exact[k]), Tenths(printed[k]), entries[k]
		c.Adjusted = c.Amount - amounts[k]
	}
	if len(f.Columns) > 1 {
		f.total()
	}
	return f, true
}

func (f *Form) line(number, meaning, source string) Line {
	l := Line{Number: number, Meaning: meaning, Source: source, what: apart}
	for _, c := range f.Columns {
		l.Cells = append(l.Cells, Cell{Column: c})
	}
	return l
}

// out14 reports whether what leaves production for an account is on lines 1 to 13.
func out14(to book.Account) bool {
	for _, r := range forms[0].lines {
		if r.what == flowOut && slices.Contains(r.to, to) {
			return true
		}
	}
	return false
}

// spread divides a whole in proportion to amounts, each rounded down, and gives
// what is left one by one to the largest remainders.
func spread(whole int64, keys []share, amounts map[share]book.Alcohol) map[share]int64 {
	var sum uint64
	for _, k := range keys {
		sum += uint64(amounts[k])
	}
	out, rest, left := make(map[share]int64, len(keys)), map[share]uint64{}, whole
	for _, k := range keys {
		hi, lo := bits.Mul64(uint64(amounts[k]), uint64(max(whole, 0)))
		q, r := bits.Div64(hi, lo, sum) // an amount is never more than the sum, so hi is below it
		out[k], rest[k] = int64(q), r
		left -= int64(q)
	}
	byRest := slices.Clone(keys)
	slices.SortStableFunc(byRest, func(a, b share) int { return cmp.Compare(rest[b], rest[a]) })
	for i := range max(left, 0) {
		out[byRest[i%int64(len(byRest))]]++
	}
	return out
}

func byMaterial(d *division, s *origins, p *book.Posting) share {
	number := "8"
	switch from := s.main(p.Lot); {
	case s.again(p.Lot):
		number = "7"
	case from == nil:
	case from.Material == book.Grain:
		number = "1"
	case from.Material == book.Fruit:
		number = "2"
	case from.Material == book.Molasses:
		number = "3"
	}
	return d.share(number)
}

func (d *division) share(number string) share {
	at := slices.IndexFunc(d.known, func(l Line) bool { return l.Number == number })
	return share{number, d.known[at].Meaning, d.known[at].Source, produced}
}

func byFruit(d *division, s *origins, p *book.Posting) share {
	from := s.main(p.Lot)
	grape := from != nil && strings.Contains(strings.ToLower(from.Name), "grape")
	neutral := kindOf(s.State, p, book.US) == BrandyOver // neutral brandy is distilled at more than 170 proof (27 CFR 5.145, from memory)
	switch {
	case grape && neutral:
		return d.share("3")
	case neutral:
		return d.share("4")
	case grape:
		return d.share("1")
	}
	return d.share("2")
}

func byWood(_ *division, s *origins, p *book.Posting) share {
	column, ok := s.wood[p.Entry]
	if !ok {
		column = "put in tanks"
	}
	name := "whisky"
	if l := s.Lot(p.Lot); l != nil {
		if r := s.Run(l.Run); r != nil {
			if product := s.Registered(book.AProduct, r.Product); product != nil {
				name = product.Name
			}
		}
	}
	return share{"", name, "the line of its kind (1 bourbon, 2 corn, 3 rye, 4 light, 5 to 8 others) is the proprietor's to choose", column}
}

// origins knows where the spirit of a posting came from and which wood it met.
type origins struct {
	*book.State
	wood     map[book.Address]Column
	postings []book.Posting // of the month
}

// main is the lot that most of a distillate came of: fruit, grain, molasses, or
// spirit from elsewhere. Nil where the book does not know.
func (s *origins) main(lot book.Address) *book.Lot {
	for _, o := range s.Origins(lot) {
		return o.Lot
	}
	return nil
}

// again reports whether more of a distillate came of spirit returned to the
// still than of mash.
func (s *origins) again(lot book.Address) bool {
	var spirit float64
	for _, from := range s.Ancestry(lot) {
		if from.Depth == 1 && from.Lot.Material.Accounted() {
			spirit += from.Share
		}
	}
	return spirit > 0.5
}

// wooden says of the entries that changed what a barrel holds which wood it is.
func wooden(s *book.State) map[book.Address]Column {
	out := map[book.Address]Column{}
	for _, v := range s.Vessels {
		if !v.Wooden() {
			continue
		}
		column := Column("used cooperage")
		if strings.Contains(v.Cooperage, "new") {
			column = "new cooperage"
		}
		for _, e := range v.History {
			out[e] = column
		}
	}
	return out
}

// redistilled is part V: what went into the still again, by kind.
func redistilled(m *Month, all []*flow) (Form, bool) {
	f := Form{Form: "TTB F 5110.40", Part: "V", Title: "Used in redistillation, by kind", Columns: []Column{"used"}}
	for _, k := range byKind {
		l := f.line("", string(k), "the numbers of its lines were not read")
		for _, x := range all {
			if x.month == m.Month && x.to == book.Distilling && x.kind == k {
				l.Cells[0].add(x)
			}
		}
		if l.Cells[0].Amount != 0 {
			f.Lines = append(f.Lines, l)
		}
	}
	return f, len(f.Lines) > 0
}

// processed is part IV of the processing report: what was dumped and what was
// bottled, by class. Its total dumped is line 2 of part I, its total bottled
// line 9.
func processed(m *Month, all []*flow) Form {
	f := Form{Form: "TTB F 5110.28", Part: "IV", Title: "Processing by class", Columns: []Column{"dumped", "bottled, proof gallons"}}
	const unread = "the numbers of its lines were not read"
	bulk := &forms[2]
	total := f.line("67", "Total", secondHand)
	for _, class := range byClass {
		l := f.line("", string(class), unread)
		for _, x := range all {
			if x.month != m.Month || Column(classOf(x.kind)) != class {
				continue
			}
			for i, number := range []string{"2", "9"} {
				at := slices.IndexFunc(bulk.lines, func(r rule) bool { return r.number == number })
				if r := bulk.lines[at]; slices.Contains(r.from, x.from) && slices.Contains(r.to, x.to) {
					l.Cells[i].add(x)
				}
			}
		}
		for i := range l.Cells {
			total.Cells[i].include(&l.Cells[i])
		}
		if l.Cells[0].Amount != 0 || l.Cells[1].Amount != 0 {
			f.Lines = append(f.Lines, l)
		}
	}
	f.Lines = append(f.Lines, total)
	return f
}
