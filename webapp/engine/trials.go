package engine

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
	"gaugebook/calc/spirit"
)

// keptBack says what the book does with marks before all are in, and what it
// cannot do.
const keptBack = "Marks are kept back until all are in. The book shows them on no page, in no table and in no CSV before that. They stand in the log like every entry: who reads the log's own lines can read them."

// kept reports whether a body has marks that nobody is to see yet, and gives
// what may be seen of it.
func (e *Engine) kept(body book.Body) ([]pair, bool) {
	if !e.book.State().Blind(body) {
		return nil, false
	}
	const marks = "kept back until all are in"
	switch b := body.(type) {
	case *book.TrialScored:
		return []pair{{"Trial", e.name(book.ATrial, b.Trial)}, {"Who tasted", b.Taster}, {"Marks", marks}}, true
	case *book.EntryAmended:
		return []pair{{"Entry", string(b.Entry)}, {"Why", b.Why}, {"Marks", marks}}, true
	}
	return nil, false
}

type benchView struct {
	Waiting []glass    `json:"waiting"`
	Family  []relative `json:"family"`
	Blocks  []block    `json:"blocks"`
	Scaled  []choice   `json:"scaled"` // trials that can be made large
	Tanks   []choice   `json:"tanks"`
	Units   []unit     `json:"units"`
	Kept    string     `json:"kept"`
}

// A glass waits for its tasters.
type glass struct {
	Trial book.Address `json:"trial"`
	Name  string       `json:"name"`
	Says  string       `json:"says"`
}

// A relative is a trial in the list of its family.
type relative struct {
	Trial    book.Address `json:"trial"`
	Name     string       `json:"name"`
	Says     string       `json:"says"`
	Children []relative   `json:"children"`
}

// bench is what stands on the tasting bench and what came of it.
func (e *Engine) bench() benchView {
	s := e.book.State()
	out := benchView{Waiting: []glass{}, Family: []relative{}, Blocks: []block{}, Scaled: []choice{}, Tanks: []choice{}, Kept: keptBack,
		Units: e.ownFirst([]quantity.Unit{quantity.Litre, quantity.Gallon, quantity.Kilogram, quantity.Pound})}
	var all []*book.Trial
	for a, t := range s.Trials {
		all = append(all, t)
		if !t.Complete() {
			out.Waiting = append(out.Waiting, glass{a, t.Name, waitingFor(t)})
		}
		if parent := s.Trial(t.From); parent == nil || !slices.Contains(parent.Children, a) {
			out.Family = append(out.Family, e.relative(t, 0))
		}
		out.Scaled = append(out.Scaled, choice{string(a), joinedWords(t.Name, e.productName(t.Product), t.Made.Day())})
	}
	slices.Reverse(out.Family)
	slices.Reverse(out.Scaled)
	for _, product := range e.productsOf(all) {
		var own []*book.Trial
		for _, t := range all {
			if t.Product == product {
				own = append(own, t)
			}
		}
		if ranks := book.Ranking(own); len(ranks) > 0 {
			out.Blocks = append(out.Blocks, block{Table: e.rankingTable(e.productName(product), ranks)})
		}
	}
	out.Blocks = append(out.Blocks, block{Table: e.approvalsTable()})
	for a, v := range s.Vessels {
		if label, offered := isTank(e, a); offered {
			if !v.Content.Empty() {
				label += ", " + string(v.Content.Material)
			}
			out.Tanks = append(out.Tanks, choice{string(a), label})
		}
	}
	return out
}

func waitingFor(t *book.Trial) string {
	says := fmt.Sprintf("%d of %d tasters are in", t.In(), t.Tasters)
	if in := t.Tasted(); len(in) > 0 {
		says += ": " + strings.Join(in, ", ")
	}
	return says
}

// deepestFamily bounds a family whose forged entries name one another.
const deepestFamily = 100

func (e *Engine) relative(t *book.Trial, depth int) relative {
	r := relative{Trial: t.Address, Name: t.Name, Children: []relative{}}
	notes := []string{t.Made.Day()}
	if mean, ok := t.Mean(); ok {
		ranks := book.Ranking([]*book.Trial{t})
		notes = append(notes, quantity.Fixed(mean, 1)+" all in all"+spread(ranks[0]))
	} else {
		notes = append(notes, fmt.Sprintf("%d of %d tasters are in", t.In(), t.Tasters))
	}
	if t.Note != "" {
		notes = append(notes, t.Note)
	}
	r.Says = strings.Join(notes, "; ")
	for _, child := range t.Children {
		if c := e.book.State().Trial(child); c != nil && depth < deepestFamily {
			r.Children = append(r.Children, e.relative(c, depth+1))
		}
	}
	return r
}

// spread is how far the tasters of a trial are from one another.
func spread(r book.Rank) string {
	if r.In() < 2 {
		return ", one taster"
	}
	return fmt.Sprintf(", %d to %d, %d tasters", r.Low, r.High, r.In())
}

func (e *Engine) productName(a book.Address) string {
	if a == "" {
		return ""
	}
	return e.name(book.AProduct, a)
}

func (e *Engine) productsOf(trials []*book.Trial) (out []book.Address) {
	for _, t := range trials {
		if !slices.Contains(out, t.Product) {
			out = append(out, t.Product)
		}
	}
	return out
}

// rankingTable sets the opened trials of a product in order.
func (e *Engine) rankingTable(product string, ranks []book.Rank) *table {
	t := &table{Title: "Ranking", Rows: []row{}, Columns: []column{{Label: "Trial"}, {Label: "Mean", Figure: true}, {Label: "Spread", Figure: true}}}
	if product != "" {
		t.Title += ": " + product
	}
	for i, r := range ranks {
		wide := fmt.Sprintf("%d to %d", r.Low, r.High)
		if r.In() > 1 {
			wide += ", s " + quantity.Fixed(r.Deviation, 1)
		}
		var notes []string
		switch {
		case i == 0:
		case r.In() < 2 || ranks[0].In() < 2:
			notes = append(notes, "one taster cannot tell it from the first")
		case r.Apart:
			notes = append(notes, "below the first by more than the tasters differ")
		default:
			notes = append(notes, "not told apart from the first: the tasters differ by more")
		}
		if int64(r.In()) < r.Tasters {
			notes = append(notes, fmt.Sprintf("opened with %d of %d in", r.In(), r.Tasters))
		}
		for _, s := range r.Scores() {
			notes = append(notes, strings.TrimSpace(s.Taster+" "+strconv.FormatInt(s.Whole, 10)+" "+s.Words))
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{r.Name, r.Address}, text(quantity.Fixed(r.Mean, 1)), text(wide)}, Note: strings.Join(notes, "; ")})
	}
	return t
}

// approvalsTable says for each product where its formula and its label stand.
func (e *Engine) approvalsTable() *table {
	s := e.book.State()
	t := &table{Title: "Approvals of formulas and labels", Empty: "No product is registered yet.", Rows: []row{}, Columns: []column{{Label: "Product"}, {Label: "Of"}, {Label: "Stands"}}}
	for _, p := range s.Register(book.AProduct) {
		if p.Retired {
			continue
		}
		product := p.Body.(*book.ProductRegistered)
		told := map[string]bool{}
		add := func(of, stands string, entry book.Address, note string) {
			told[of] = true
			t.Rows = append(t.Rows, row{Cells: []cell{{p.Name, entry}, text(of), text(stands)}, Note: note})
		}
		for _, r := range s.Approvals(p.Address) {
			a := r.Body.(*book.ApprovalRecorded)
			stands := a.Status
			if a.Status == "approved" && a.Until != "" && string(a.Until) < e.now().Day() {
				stands = "approved until " + string(a.Until) + ": over"
			} else if a.Until != "" {
				stands += " until " + string(a.Until)
			}
			add(a.Of, stands, r.Address, joinedWords(a.Number, a.Note))
		}
		if !told["formula"] && product.Formula != "" {
			add("formula", "number only", p.Address, product.Formula)
		}
		if !told["label"] && product.Approval != "" {
			add("label", "number only", p.Address, product.Approval)
		}
		if len(told) == 0 {
			add("", "none kept", p.Address, "")
		}
	}
	return t
}

type scaleView struct {
	Wrong string   `json:"wrong"`
	Says  []string `json:"says"`
	Table *table   `json:"table,omitempty"`
	CSV   string   `json:"csv"`
	Title string   `json:"title"`
}

// mostScaled is the largest batch, kg: a slip of the thumb beyond it.
const mostScaled = 200_000

// scaleUp makes a trial large: what goes into the tank, what is on hand of it,
// and what is to be bought.
func (e *Engine) scaleUp(in storeOf) (any, error) {
	out := scaleView{Says: []string{}}
	s := e.book.State()
	t := s.Trial(in.Trial)
	if t == nil || strings.TrimSpace(in.Target) == "" {
		return out, nil
	}
	bare := quantity.Gallon
	if e.metric() {
		bare = quantity.Litre
	}
	target, err := quantity.Parse(in.Target, bare)
	if weight, other := quantity.Parse(in.Target, quantity.Kilogram); err != nil && other == nil {
		target, err = weight, nil
	}
	if err != nil {
		out.Wrong = firstSentence(err)
		return out, nil
	}
	kg, how, err := e.batchWeight(t, target)
	if err == nil && (kg <= 0 || kg > mostScaled) {
		err = fault.Fault{Code: fault.TooHigh, Field: "target", Value: target.String(), Limit: "is no batch between nothing and " + e.massText(mostScaled), Remedy: "check the figure and its unit"}
	}
	if err != nil {
		out.Wrong = spoken(err)[0].Sentence
		return out, nil
	}
	out.Title = t.Name + ", " + target.String()
	out.Says = append(out.Says, how)
	if v := s.Vessel(in.Tank); v != nil {
		out.Title += " in " + v.Name
		if litres, ok := batchLitres(t, target, kg); ok {
			if room := v.Capacity.Base() - max(0, v.Content.Litres20()); litres > room {
				out.Says = append(out.Says, fmt.Sprintf("%s has room for %s, and this is %s.", v.Name, e.litresText(max(0, room)), e.litresText(litres)))
			}
		}
	}
	if !t.Complete() {
		out.Says = append(out.Says, "Not everybody has tasted it yet.")
	}
	out.Table = &table{Title: "Into the tank, and what to buy", Empty: "The trial has no weights.", Rows: []row{}, Columns: []column{{Label: "What"}, {Label: "Into it", Figure: true}, {Label: "On hand", Figure: true}, {Label: "Buy", Figure: true}}}
	rows := [][]string{{"what", "into it, kg", "on hand, kg", "to buy, kg", "note"}}
	for _, n := range s.ScaleUp(t, book.Mass(quantity.Snap(kg*1e6).Round(0).IntPart())) {
		hand, buy, note := e.massText(n.OnHand.Kilograms()), e.massText(n.Buy().Kilograms()), ""
		handKg, buyKg := quantity.Fixed(n.OnHand.Kilograms(), 3), quantity.Fixed(n.Buy().Kilograms(), 3)
		switch {
		case n.Tap:
			hand, handKg, buy, note = "", "", "", "from the tap"
		case n.From == "":
			hand, handKg, note = "none", "0", "nothing in the book is called so"
		case !n.Counted:
			hand, handKg, buy, buyKg, note = "not by weight", "", "look", "", "counted in another measure: look what is there"
		}
		if n.Buy() == 0 && n.Counted {
			buy = "–"
		}
		if v := s.Vessel(n.From); v != nil {
			note = joinedWords(note, "from "+v.Name)
			if buy != "–" {
				note = joinedWords(note, "what is missing is to be made or bought in")
			}
		}
		out.Table.Rows = append(out.Table.Rows, row{Cells: []cell{text(capital(n.What)), text(e.massText(n.Weight.Kilograms())), text(hand), text(buy)}, Note: note})
		rows = append(rows, []string{n.What, quantity.Fixed(n.Weight.Kilograms(), 3), handKg, buyKg, note})
		if sugary(n.What) {
			out.Says = append(out.Says, capital(n.What)+" is in it: the volume is reckoned as if it were spirit and water alone. Make it up by weight, and let the tank's gauge say what it came to.")
		}
	}
	out.Says = append(out.Says, "Make the first batch small: what tastes right in a glass can be another thing in a tank.")
	out.CSV = report.CSV(rows)
	return out, nil
}

// sugary reports whether what goes in makes a spirit heavy.
func sugary(what string) bool {
	what = strings.ToLower(what)
	return slices.ContainsFunc([]string{"sugar", "syrup", "honey", "juice", "molasses", "caramel"}, func(w string) bool { return strings.Contains(what, w) })
}

// batchWeight is the weight of a batch, by the strength of the trial where the
// volume is given.
func (e *Engine) batchWeight(t *book.Trial, target quantity.Reading) (kg float64, how string, err error) {
	if target.Unit().Dimension() == quantity.Mass {
		return target.In(quantity.Kilogram), "By weight, in the shares of the glass.", nil
	}
	strength, err := spirit.StrengthOf(t.Strength)
	if t.Strength.IsNone() || err != nil {
		return 0, "", fault.Fault{Code: fault.Missing, Field: "target", Value: target.String(), Limit: "is a volume, and the trial does not say its strength", Remedy: "give the batch by weight, or correct the trial and give its strength"}
	}
	density := float64(strength.DensityAt(20)) / 1e3
	kg = target.In(quantity.Litre) * density
	return kg, target.String() + " at 20 °C and " + t.Strength.String() + " weigh " + quantity.Fixed(kg, 1) + " kg (" + quantity.Fixed(density, 4) + " kg a litre, OIML R 22).", nil
}

// batchLitres is the volume of a batch where it is known.
func batchLitres(t *book.Trial, target quantity.Reading, kg float64) (float64, bool) {
	if target.Unit().Dimension() == quantity.Volume {
		return target.In(quantity.Litre), true
	}
	strength, err := spirit.StrengthOf(t.Strength)
	if t.Strength.IsNone() || err != nil {
		return 0, false
	}
	return kg / float64(strength.DensityAt(20)) * 1e3, true
}
