package engine

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

type viewOf struct {
	What    string       `json:"what"`
	Run     book.Address `json:"run"`
	Address book.Address `json:"address"`
	Vessel  book.Address `json:"vessel"`
	Day     string       `json:"day"`
	Room    string       `json:"room"`
	End     string       `json:"end"` // the strength hearts are to end at, as typed
	Asides  []aside      `json:"asides"`
	Barrel  barrelOf     `json:"barrel"`
	officeOf
	storeOf
	closeOf
	floorOf
}

// viewing makes one view.
type viewing = func(*Engine, viewOf) (any, error)

// views are those of the pocket engine, by name.
func views() map[string]viewing {
	return map[string]viewing{
		"ferment": func(e *Engine, in viewOf) (any, error) { return e.fermentHall(in.Vessel), nil },
		"still":   func(e *Engine, in viewOf) (any, error) { return e.stillRoom(in.Run, in.End), nil },
		"station": func(e *Engine, in viewOf) (any, error) { return e.stationPage(in), nil },
		"entry":   func(e *Engine, in viewOf) (any, error) { return e.entry(in.Address) },
		"scanned": func(e *Engine, in viewOf) (any, error) { return e.scanned(in.Vessel), nil },
	}
}

func (e *Engine) view(in viewOf) (any, error) {
	if page, ok := e.views[in.What]; ok {
		return page(e, in)
	}
	if e.more == nil {
		return nil, errElsewhere
	}
	return nil, fault.Fault{Code: fault.NotOneOf, Field: "what", Value: in.What, Limit: "is no view", Remedy: "load the page again"}
}

type blocksView struct {
	Blocks []block `json:"blocks"`
}

func (e *Engine) spiritStore() blocksView {
	return blocksView{append(e.asked(), block{Table: e.vesselsTable(true)}, block{Table: e.gaugesTable()})}
}

// asked is the block of open questions, if there are any.
func (e *Engine) asked() []block {
	if q := e.openQuestions(); len(q) > 0 {
		return []block{{Questions: q}}
	}
	return []block{}
}

// vesselsTable lists vessels with what they hold; of spirit only, or all.
func (e *Engine) vesselsTable(spirit bool) *table {
	t := &table{Title: "Every vessel and what it holds", Empty: "No vessel is registered yet. Register the first one in the office.", Rows: []row{},
		Columns: []column{{Label: "Vessel"}, {Label: "Holds"}, {Label: e.alcoholLabel(), Figure: true}}}
	if spirit {
		t.Title, t.Empty = "What stands in the store", "No vessel holds spirit, as far as this phone knows."
	}
	barrels := e.manyBarrels()
	for a, v := range e.book.State().Vessels {
		c := &v.Content
		if barrels > 0 && isBarrel(v) || spirit && (c.Empty() || !c.Material.Accounted()) {
			continue
		}
		holds, alcohol := "empty", ""
		var notes []string
		if !c.Empty() {
			holds = string(c.Material)
			note := e.volumeText(c)
			if c.Material.Accounted() {
				alcohol = e.alcoholText(c.Alcohol)
				note += ", " + e.strengthText(c.Strength())
			}
			notes = append(notes, note)
		}
		if c.Alcohol < 0 || c.Mass < 0 {
			notes = append(notes, "less than nothing: more was drawn than the book knows of")
		}
		if v.Gauge.Entry != "" {
			notes = append(notes, "gauged "+spaced(v.Gauge.On.String())+" at "+e.alcoholText(v.Gauge.Alcohol))
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{v.Name, a}, text(holds), text(alcohol)}, Note: strings.Join(notes, "; ")})
	}
	if barrels > 0 {
		t.Rows = append(t.Rows, tableRow(text(fmt.Sprintf("%d barrels", barrels)), "Listed in the spirit store, on the page ‘Barrels’.", "", ""))
	}
	return t
}

// latestGauges is how many gauges the store lists.
const latestGauges = 12

func (e *Engine) gaugesTable() *table {
	t := &table{Title: "Latest gauges, in litres of pure alcohol and proof gallons", Empty: "Nothing was gauged yet.", Rows: []row{},
		Columns: []column{{Label: "Vessel"}, {Label: "L", Figure: true}, {Label: "PG", Figure: true}}}
	all := e.book.State().Gauges()
	for _, g := range slices.Backward(all[max(0, len(all)-latestGauges):]) {
		t.Rows = append(t.Rows, row{Cells: []cell{{e.name(book.AVessel, g.Vessel), g.Entry}, text(quantity.Fixed(g.Alcohol.LitresPureAlcohol(), 2)), text(g.Figures.Legal.ProofGallons.StringFixed(1))},
			Note: spaced(g.On.String()) + ", " + e.strengthText(g.Strength)})
	}
	return t
}

type bottlingView struct {
	Runs   []runChoice `json:"runs"`
	Run    *runChoice  `json:"run"`
	Blocks []block     `json:"blocks"`
}

func (e *Engine) bottlingFloor(wanted book.Address) bottlingView {
	out := bottlingView{Runs: []runChoice{}, Blocks: []block{}}
	run := e.openRun(wanted, &out.Runs)
	if run == nil {
		out.Blocks = append(out.Blocks, block{Table: e.bottlingsTable()})
		return out
	}
	out.Run = &runChoice{run.Address, bottlingTitle(run)}
	out.Blocks = append(out.Blocks, block{Result: e.tally(run)}, block{Table: stationsTable(run)}, block{Table: spoilsTable(run)}, block{Table: e.bottlingsTable()})
	return out
}

// tally sets the counted bottles beside the expected ones.
func (e *Engine) tally(r *book.Bottling) *result {
	expected, doubt := e.book.State().Expected(r)
	good := r.Good()
	spoiled, kept := r.Spoiled()
	diff := float64(good+kept) - expected
	within := 2 * doubt
	words := "outside the measuring error of ±" + quantity.Fixed(within, 1)
	if diff <= within && -diff <= within {
		words = "within the measuring error of ±" + quantity.Fixed(within, 1)
	}
	if doubt == 0 {
		words = "the measuring error is not known"
	}
	return &result{
		Label: "Bottles counted", Figure: strconv.FormatInt(good, 10), Unit: "bottles",
		Beside: []pair{
			{"expected from the tank", quantity.Fixed(expected, 1)},
			{"spoiled", strconv.FormatInt(spoiled, 10)},
			{"difference", signed(diff) + ", " + words},
		},
		Steps: quantity.Working{
			{Text: "the tank at the start, " + r.Tanked.Shown.String(), Value: alcoholBoth(r.Tanked.Alcohol)},
			{Text: "bottles of " + r.Bottle.String() + " that it fills", Value: quantity.Fixed(expected, 1)},
			{Text: "good bottles, as the station ‘" + string(r.LastStation()) + "’ counted", Value: strconv.FormatInt(good, 10)},
			{Text: "spoiled bottles whose spirit did not go back", Value: strconv.FormatInt(kept, 10)},
			{Text: "counted and spoiled, less expected", Value: signed(diff)},
		},
	}
}

func signed(x float64) string { return signedTo(x, 1) }

func stationsTable(r *book.Bottling) *table {
	t := &table{Title: "Counted at each station", Empty: "Nothing was counted yet.", Rows: []row{}, Columns: []column{{Label: "Station"}, {Label: "Bottles", Figure: true}}}
	for _, s := range book.Stations() {
		if n := r.At(s); n > 0 {
			t.Rows = append(t.Rows, row{Cells: []cell{text(string(s)), text(strconv.FormatInt(n, 10))}})
		}
	}
	return t
}

func spoilsTable(r *book.Bottling) *table {
	t := &table{Title: "Spoils by reason", Empty: "Nothing was spoiled.", Rows: []row{}, Columns: []column{{Label: "Why"}, {Label: "Bottles", Figure: true}, {Label: "Poured back", Figure: true}}}
	type sum struct{ all, back int64 }
	sums := map[string]sum{}
	var reasons []string
	for _, s := range r.Spoils {
		if _, known := sums[s.Reason]; !known {
			reasons = append(reasons, s.Reason)
		}
		n := sums[s.Reason]
		n.all += s.Bottles
		if s.PouredBack {
			n.back += s.Bottles
		}
		sums[s.Reason] = n
	}
	for _, reason := range reasons {
		t.Rows = append(t.Rows, row{Cells: []cell{text(reason), text(strconv.FormatInt(sums[reason].all, 10)), text(strconv.FormatInt(sums[reason].back, 10))}})
	}
	return t
}

// latestBottlings is how many bottlings the floor lists.
const latestBottlings = 8

func (e *Engine) bottlingsTable() *table {
	t := &table{Title: "Latest bottlings", Empty: "No bottling was opened yet.", Rows: []row{},
		Columns: []column{{Label: "Opened"}, {Label: "Good", Figure: true}, {Label: "Still here", Figure: true}}}
	for a, b := range e.book.State().Bottlings {
		r := row{Cells: []cell{{b.Opened.Day(), a}, text(strconv.FormatInt(b.Good(), 10)), text(strconv.FormatInt(b.Left(), 10))}, Note: b.Name}
		if b.Open() {
			r.Note += ", open"
		}
		t.Rows = append(t.Rows, r)
	}
	slices.Reverse(t.Rows)
	t.Rows = t.Rows[:min(len(t.Rows), latestBottlings)]
	return t
}

type entryView struct {
	Address     book.Address   `json:"address"`
	Kind        string         `json:"kind"`
	Void        bool           `json:"void"`
	Facts       string         `json:"facts"`
	Says        []pair         `json:"says"`
	History     []version      `json:"history"`
	Correctable bool           `json:"correctable"`
	WhyNot      string         `json:"why_not"`
	Fields      []described    `json:"fields"`
	Values      map[string]any `json:"values"`
	Gauge       *gaugeSheet    `json:"gauge"` // null where it gauged nothing
}

type version struct {
	What   string `json:"what"`
	When   string `json:"when"`
	Why    string `json:"why"`
	Says   []pair `json:"says"`
	Stands bool   `json:"stands"`
}

func (e *Engine) entry(a book.Address) (any, error) {
	entry := e.book.Entry(a)
	if entry == nil {
		return nil, fault.Fault{Code: fault.Unknown, Field: "address", Value: string(a), Limit: "is not an entry this phone holds", Remedy: "wait until it arrives, or check the address"}
	}
	body, happened, void, _ := e.book.Effective(entry)
	out := entryView{Address: a, Kind: entry.Kind, Void: void, Says: e.says(body), History: []version{}, Fields: []described{}, Values: map[string]any{},
		Facts: fmt.Sprintf("%s. Happened %s; written %s by %s on %s.", a, spaced(happened.String()), spaced(entry.Written.String()), entry.By, entry.Device)}
	if body != nil && !void {
		out.Gauge = e.gaugeSheet(a, body)
	}
	before := []pair{}
	if c, wrong := e.book.State().ClockOf(a); wrong {
		out.Facts += fmt.Sprintf(" The clock of %s was %s then: these times may be wrong by as much.", entry.Device, c.Says())
	}
	for i, v := range e.book.History(a) {
		now := e.says(v.Body)
		told := now
		if i > 0 {
			told = changes(before, now)
		}
		if v.Body != nil && v.Stands {
			before = now
		}
		what := "Written as " + string(v.By.Address())
		switch {
		case i > 0 && v.Body == nil:
			what = "Voided by " + string(v.By.Address())
		case i > 0:
			what = "Amended by " + string(v.By.Address())
		}
		out.History = append(out.History, version{what, spaced(v.By.Written.String()) + " " + v.By.By, v.Why, told, v.Stands})
	}
	switch {
	case !entry.Known() || body == nil:
		out.WhyNot = "This build does not understand the entry and cannot correct it."
	case entry.Kind == "entry amended" || entry.Kind == "entry voided":
		out.WhyNot = "This is a correction itself: correct the entry that it names."
	default:
		kind := book.KindOf(body)
		out.Correctable, out.Values = true, values(body)
		if score, ok := body.(*book.TrialScored); ok { // who amends marks that are kept back gives them anew
			if _, hidden := e.kept(body); hidden {
				out.Values = values(&book.TrialScored{Trial: score.Trial, Taster: score.Taster})
			}
		}
		out.Fields = withMarks(kind.Name, e.describeAs(kind.Fields, out.Values))
	}
	return out, nil
}

// changes tells what a correction changed, line by line.
func changes(before, now []pair) []pair {
	out := []pair{}
	find := func(in []pair, label string) (string, bool) {
		for _, p := range in {
			if p.Label == label {
				return p.Value, true
			}
		}
		return "", false
	}
	for _, p := range now {
		switch was, said := find(before, p.Label); {
		case !said:
			out = append(out, pair{p.Label, p.Value + ", which was not given"})
		case was != p.Value:
			out = append(out, pair{p.Label, p.Value + ", was " + was})
		}
	}
	for _, p := range before {
		if _, said := find(now, p.Label); !said && len(now) > 0 {
			out = append(out, pair{p.Label, "taken out, was " + p.Value})
		}
	}
	return out
}
