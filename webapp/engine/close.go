package engine

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/fill"
	"gaugebook/calc/party"
	"gaugebook/calc/quantity"
)

// closeOf is what the pages of a bottling's end are asked for.
type closeOf struct {
	Closing json.RawMessage `json:"closing"` // a form of 'bottling closed', as far as it is filled in
	Serial  string          `json:"serial"`  // the first case's, as typed
	Cases   string          `json:"cases"`   // labels wanted, as typed
}

// closePages are the views of a bottling's end by name.
func closePages() map[string]viewing {
	return map[string]viewing{
		"close":       func(e *Engine, in viewOf) (any, error) { return e.closePage(in) },
		"run sheet":   func(e *Engine, in viewOf) (any, error) { return e.runSheet(in.Run) },
		"cans":        func(e *Engine, in viewOf) (any, error) { return e.cansPage(in.Run) },
		"case labels": func(e *Engine, in viewOf) (any, error) { return e.caseLabels(in.Run, in.Serial, in.Cases) },
	}
}

type closeView struct {
	Runs    []choice  `json:"runs"`
	Run     string    `json:"run"`
	Title   string    `json:"title"`
	Open    bool      `json:"open"`
	Result  *result   `json:"result"`
	Causes  []cause   `json:"causes"`
	Recount []string  `json:"recount"` // what to count again, likeliest first
	Goods   []lineLot `json:"goods"`
	Blocks  []block   `json:"blocks"`
}

// A cause is one explanation of the gaps, with what a person can do about it.
type cause struct {
	Says   string `json:"says"`
	Likely string `json:"likely"`
	Look   string `json:"look"`
	Acts   []act  `json:"acts"`
}

// An act opens an entry, or offers one to be looked over and saved, or puts a
// reason into the closing.
type act struct {
	Words  string            `json:"words"`
	Entry  book.Address      `json:"entry,omitempty"`
	Kind   string            `json:"kind,omitempty"`
	Values map[string]string `json:"values,omitempty"` // of the kind; without one, of the closing
}

// A lineLot is a lot of dry goods at the line, with what is still to be said of
// it.
type lineLot struct {
	Lot  book.Address `json:"lot"`
	Name string       `json:"name"`
	Says string       `json:"says"`
}

// latestRuns is how many closed runs the pages offer.
const latestRuns = 40

// runChoices offers the runs, the open ones first and the newest first.
func (e *Engine) runChoices() []choice {
	var open, closed []choice
	for a, b := range e.book.State().Bottlings {
		if b.Open() {
			open = append(open, choice{string(a), bottlingTitle(b) + ", open"})
		} else {
			closed = append(closed, choice{string(a), bottlingTitle(b)})
		}
	}
	slices.Reverse(open)
	slices.Reverse(closed)
	return append(append([]choice{}, open...), closed[:min(len(closed), latestRuns)]...)
}

// chosenRun is the run a page shows: the wanted one, or the first it offers.
func (e *Engine) chosenRun(wanted book.Address, offered []choice) *book.Bottling {
	if r := e.book.State().Bottling(wanted); r != nil {
		return r
	}
	if len(offered) == 0 {
		return nil
	}
	return e.book.State().Bottling(book.Address(offered[0].Value))
}

// closePage holds the three ways of counting against each other, with the
// closing as far as it is typed.
func (e *Engine) closePage(in viewOf) (any, error) {
	out := closeView{Runs: e.runChoices(), Causes: []cause{}, Recount: []string{}, Goods: []lineLot{}, Blocks: []block{}}
	r := e.chosenRun(in.Run, out.Runs)
	if r == nil {
		return out, nil
	}
	out.Run, out.Title, out.Open = string(r.Address), bottlingTitle(r), r.Open()
	if r.Bottle.IsNone() {
		return out, nil
	}
	closing := party.Closing(e.book, r)
	if r.Open() && len(in.Closing) > 0 {
		body, _ := book.Compose("bottling closed", e.book.State().Convention(), in.Closing)
		closing, _ = body.(*book.BottlingClosed)
	}
	s, err := party.Of(e.book, r, closing)
	if err != nil { // the heel is not typed to its end
		closing = &book.BottlingClosed{Samples: closing.Samples, Spilled: closing.Spilled}
		if s, err = party.Of(e.book, r, closing); err != nil {
			return nil, err
		}
	}
	found, err := s.Reconcile()
	if err != nil {
		out.Result = &result{Label: "This cannot be reconciled yet", Figure: "–", Beside: []pair{}, Says: sentencesOf(err), Steps: quantity.Working{}}
	} else {
		out.Result = e.unexplained(&s, &found, closing)
		for i := range found.Causes {
			c := &found.Causes[i]
			if c.Kind != fill.Nothing && c.Look != "nothing" && len(out.Recount) < 3 {
				out.Recount = append(out.Recount, capital(c.Look)+".")
			}
			out.Causes = append(out.Causes, e.causeOf(&s, c))
		}
		out.Blocks = append(out.Blocks, block{Table: e.accountsTable(&s, &found)})
	}
	for _, l := range s.Lots {
		out.Goods = append(out.Goods, e.lineLot(&s, l))
	}
	return out, nil
}

func sentencesOf(err error) []string {
	var out []string
	for _, f := range spoken(err) {
		out = append(out, f.Sentence)
	}
	return out
}

// unexplained is the figure of a close: the spirit that is in no bottle, or
// before the heel is measured the bottles.
func (e *Engine) unexplained(s *party.Sheet, found *fill.Reconciled, closing *book.BottlingClosed) *result {
	good := []pair{{"good bottles", strconv.FormatInt(found.Bottles, 10)}, {"in cases", casesText(found.Bottles, s.PerCase)}}
	if s.OtherCases > 0 {
		good[1].Value = fmt.Sprintf("%d of %d, %d of %d and %d loose", s.Cases, s.PerCase, s.OtherCases, s.OtherCase, s.Loose)
	}
	spoiled, _ := s.Run.Spoiled()
	out := &result{Label: "Good bottles", Figure: strconv.FormatInt(found.Bottles, 10), Unit: "bottles", Beside: append(good[1:], pair{"spoiled", strconv.FormatInt(spoiled, 10)}), Steps: found.Working()}
	if s.HeelRead {
		spirit := found.Accounts[0]
		out.Label, out.Figure, out.Unit = "In no bottle", quantity.Fixed(found.Share.Value, 2), "% of the tank"
		out.Beside = append(good, pair{"spoiled", strconv.FormatInt(spoiled, 10)}, pair{"that is", e.gapLitres(spirit.Gap.Value)},
			pair{"usual in the line", e.gapLitres(spirit.Usual.Value)}, pair{"measured to", "±" + e.gapLitres(2*math.Hypot(spirit.Gap.U, spirit.Usual.U))})
	}
	for _, other := range s.Shared {
		out.Says = append(out.Says, "Run "+other+" was filled from the same tank meanwhile: what it has in bottles is taken as known.")
	}
	out.Says = append(out.Says, s.Wanting...)
	if closing != nil && !s.Run.Open() {
		if closing.Cause != "" || closing.Note != "" {
			out.Says = append(out.Says, "Closed with: "+strings.TrimSuffix(joinedWords(string(closing.Cause), closing.Note), ".")+".")
		}
		if s.Run.Missing != 0 {
			out.Beside = append(out.Beside, pair{"booked as " + bookedAs(s.Run.Missing), e.alcoholText(max(s.Run.Missing, -s.Run.Missing)) + " " + e.alcoholLabel()})
		}
	}
	return out
}

func bookedAs(missing book.Alcohol) string {
	if missing < 0 {
		return "a gain"
	}
	return "a loss"
}

// gapLitres is a volume of spirit that is or is not there.
func (e *Engine) gapLitres(l float64) string {
	if e.metric() {
		return fixed(l, 1) + " L"
	}
	return fixed(quantity.Figure{Value: l, Unit: quantity.Litre}.In(quantity.Gallon).Value, 2) + " gal"
}

// likely says a probability in words.
func likely(p float64) string {
	word := "hardly"
	switch {
	case p >= 0.9:
		word = "almost surely"
	case p >= 0.5:
		word = "probably"
	case p >= 0.2:
		word = "perhaps"
	case p >= 0.05:
		word = "less likely"
	}
	return fmt.Sprintf("%s, %s %%", word, quantity.Fixed(100*p, 0))
}

// causeOf is a cause in words with what can be done about it.
func (e *Engine) causeOf(s *party.Sheet, c *fill.Cause) cause {
	out := cause{Says: capital(c.Explanation) + ".", Likely: likely(c.Probability), Look: capital(c.Look) + ".", Acts: []act{}}
	if c.Kind == fill.Nothing {
		out.Look = ""
	}
	if s.Run.Open() {
		out.Acts = e.acts(s, c)
	}
	return out
}

// acts are the entries that would put a cause right, and the reason it gives
// the closing.
func (e *Engine) acts(s *party.Sheet, c *fill.Cause) []act {
	run := string(s.Run.Address)
	n := strconv.FormatFloat(math.Abs(c.Size), 'f', 0, 64)
	out := []act{}
	add := func(words, kind string, values map[string]string) {
		values["bottling"], values["note"] = run, capital(c.Explanation)+"."
		out = append(out, act{Words: words, Kind: kind, Values: values})
	}
	lot := func() string {
		i := slices.IndexFunc(s.Lots, func(l party.LotAt) bool { return l.Name == c.Subject })
		for j, l := range s.Lots { // the lot that came last had the started pack
			if l.Name == c.Subject {
				i = j
			}
		}
		if i < 0 {
			return ""
		}
		return string(s.Lots[i].Lot)
	}
	switch c.Kind {
	case fill.CaseLess:
		add("Found: count it now", "bottles counted", map[string]string{"station": "case", "cases": n})
	case fill.PartialLess:
		add("Found: count them now", "bottles counted", map[string]string{"station": "case", "loose": n})
	case fill.CountsAway:
		if c.Subject == string(fill.Casing) {
			add("Counted again: write them", "bottles counted", map[string]string{"station": "case", "cases": n})
		}
	case fill.CaseMore, fill.PartialMore, fill.ReworkMore, fill.PalletMore, fill.MixedSizes:
		out = append(out, e.countsToLookAt(s, c)...)
	case fill.PackOut, fill.GoodsSpoiled:
		if c.Kind == fill.PackOut {
			n = e.packOf(s, c)
		}
		if l := lot(); l != "" {
			add("Found: it came back", "goods returned", map[string]string{"lot": l, "pieces": n})
			add("Write as spoiled", "goods spoiled", map[string]string{"lot": l, "pieces": n, "reason": "missing"})
		}
	case fill.PackIn:
		if l := lot(); l != "" {
			add("Write as issued", "goods issued", map[string]string{"lot": l, "pieces": e.packOf(s, c)})
		}
	case fill.BottlesGone:
		add("Write as spoiled", "bottles spoiled", map[string]string{"station": c.Subject, "reason": "broken", "bottles": n})
	case fill.SpiritGone:
		out = append(out, act{Words: "Write it as spilled", Values: map[string]string{"spilled": quantity.Fixed(c.Size, 1) + "L"}})
	case fill.TankWarm:
		out = append(out, act{Words: "Look at the first gauge", Entry: s.Run.Address})
	case fill.StrengthWarm:
		if k := len(s.Run.Fills); k > 0 {
			out = append(out, act{Words: "Look at the last check", Entry: s.Run.Fills[k-1].Entry})
		}
	}
	return append(out, act{Words: "Accept it as the reason", Values: map[string]string{"cause": string(causeWord(c.Kind)), "note": capital(c.Explanation) + "."}})
}

// packOf is a cause's packs in pieces.
func (e *Engine) packOf(s *party.Sheet, c *fill.Cause) string {
	i := slices.IndexFunc(s.Goods, func(g fill.Good) bool { return g.Name == c.Subject })
	if i < 0 {
		return ""
	}
	return strconv.FormatInt(int64(math.Round(math.Abs(c.Size)))*s.Goods[i].Pack, 10)
}

// causeWord is what the closing books a gap as, by what explains it.
func causeWord(k fill.Kind) book.Cause {
	switch k {
	case fill.Nothing:
		return book.InTheLine
	case fill.SpiritGone:
		return book.Spill
	case fill.HeelMisread, fill.TankWarm, fill.StrengthWarm:
		return book.Measurement
	}
	return book.Unexplained
}

// countsToLookAt are the counts at casing that may be one too many, the newest
// first: those as large as what is too much, where there are such.
func (e *Engine) countsToLookAt(s *party.Sheet, c *fill.Cause) []act {
	const most = 3
	want := func(b *book.BottlesCounted) bool {
		switch c.Kind {
		case fill.CaseMore:
			return float64(b.Cases) == math.Abs(c.Size)
		case fill.PalletMore:
			return b.Cases == s.Pallet
		case fill.MixedSizes:
			return b.Cases > 0 && b.PerCase == 0
		}
		return b.Loose > 0
	}
	var out []act
	for _, a := range e.counts(s.Run, "case") {
		body, happened, _, _ := e.book.Effective(a)
		if b := body.(*book.BottlesCounted); want(b) && len(out) < most {
			out = append(out, act{Words: fmt.Sprintf("Look at %s, %s", countText(b), happened.Clock()), Entry: a.Address()})
		}
	}
	return out
}

// counts are the entries that counted at a station of a run, the newest first.
func (e *Engine) counts(r *book.Bottling, at book.Station) (out []*book.Entry) {
	for entry := range e.book.All {
		if entry.Kind != "bottles counted" {
			continue
		}
		body, _, void, _ := e.book.Effective(entry)
		b, ok := body.(*book.BottlesCounted)
		if ok && !void && b.Bottling == r.Address && (b.Station == at || b.Station == "" && at == "case") {
			out = append(out, entry)
		}
	}
	slices.Reverse(out)
	return out
}

func countText(b *book.BottlesCounted) string {
	var parts []string
	if b.Cases > 0 {
		parts = append(parts, fmt.Sprintf("%d cases", b.Cases))
	}
	if b.Loose > 0 {
		parts = append(parts, fmt.Sprintf("%d loose", b.Loose))
	}
	return strings.Join(parts, " and ")
}

// accountsTable is every way of counting with its gap and its measuring error.
func (e *Engine) accountsTable(s *party.Sheet, found *fill.Reconciled) *table {
	t := &table{Title: "Three ways of counting", Empty: "Nothing was counted yet.", Rows: []row{}, Columns: []column{{Label: "What"}, {Label: "Gap", Figure: true}, {Label: "Its error", Figure: true}}}
	for i, a := range found.Accounts {
		if i == 0 && !s.HeelRead {
			continue
		}
		r := row{Cells: []cell{text(capital(a.Name)), text(signedTo(a.Gap.Value, 0)), text("±" + quantity.Fixed(2*a.Gap.U, 0))}}
		switch {
		case i == 0:
			r.Cells[1].Text, r.Cells[2].Text = e.gapLitres(a.Gap.Value), "±"+e.gapLitres(2*math.Hypot(a.Gap.U, a.Usual.U))
			r.Note = fmt.Sprintf("the tank %s − %s, less samples %s and spills %s, less %d bottles; a line keeps about %s", e.gapLitres(s.Before.Base()), e.gapLitres(s.After.Base()),
				e.gapLitres(s.Samples.Base()), e.gapLitres(s.Spill.Base()), found.Bottles, e.gapLitres(a.Usual.Value))
		case a.Name == "strength":
			r.Cells[1].Text, r.Cells[2].Text = fixed(a.Gap.Value, 1)+" % vol", "±"+quantity.Fixed(2*a.Gap.U, 1)
			r.Note = "bottle " + s.Bottled.String() + ", tank " + s.Tank.String()
		default:
			r.Note = gapNote(s, a.Name)
		}
		if a.Exact && i > 0 {
			r.Cells[2].Text = "exact"
		}
		if a.Asked {
			r.Cells[1].Text += " ?"
			r.Note += "; more than its error: asked about"
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

// gapNote is how a gap of pieces was counted.
func gapNote(s *party.Sheet, name string) string {
	if i := slices.IndexFunc(s.Goods, func(g fill.Good) bool { return g.Name == name }); i >= 0 {
		g := s.Goods[i]
		return fmt.Sprintf("issued %d − back %d − spoiled %d, less %d that bottles or cases took", g.Issued, g.Returned, g.Spoiled, took(s, g))
	}
	at := fill.Station(strings.TrimPrefix(name, "count at "))
	if i := slices.IndexFunc(s.Tallies, func(t fill.Tally) bool { return t.At == at }); i >= 0 {
		return fmt.Sprintf("the station counted %d; %d passed it by the cases and the spoils after it", s.Tallies[i].Bottles, s.Passed(at))
	}
	return ""
}

// lineLot says what was issued of a lot and what should be left of it.
func (e *Engine) lineLot(s *party.Sheet, l party.LotAt) lineLot {
	says := fmt.Sprintf("Issued %d", l.Issued)
	if l.Returned > 0 {
		says += fmt.Sprintf(", back %d", l.Returned)
	}
	if l.Spoiled > 0 {
		says += fmt.Sprintf(", spoiled %d", l.Spoiled)
	}
	if gap, known := goodsGap(s, l.Name); known {
		switch {
		case gap > 0:
			says += fmt.Sprintf(". By the bottles %d of this good should still be here", gap)
		case gap < 0:
			says += fmt.Sprintf(". The bottles took %d more than were issued", -gap)
		default:
			says += ". All of it is accounted for"
		}
	}
	return lineLot{l.Lot, l.Name, says + "."}
}

// goodsGap is what was issued of a good and is neither back, spoiled nor on a
// bottle.
func goodsGap(s *party.Sheet, name string) (gap int64, known bool) {
	i := slices.IndexFunc(s.Goods, func(g fill.Good) bool { return g.Name == name })
	if i < 0 {
		return 0, false
	}
	g := s.Goods[i]
	return g.Issued - g.Returned - g.Spoiled - took(s, g), true
}

func took(s *party.Sheet, g fill.Good) int64 {
	if g.PerCase {
		return s.CasesOf(g)
	}
	return s.Used(g.At)
}

// positive reads a count that a person typed, empty for a default.
func positive(field, typed string, otherwise, most int64) (int64, error) {
	if strings.TrimSpace(typed) == "" {
		return otherwise, nil
	}
	n, err := strconv.ParseInt(strings.TrimSpace(typed), 10, 64)
	if err != nil || n < 1 || n > most {
		return 0, fault.Fault{Code: fault.NotOneOf, Field: field, Value: typed, Limit: fmt.Sprintf("is not a whole number from 1 to %d", most), Remedy: "type the number"}
	}
	return n, nil
}
