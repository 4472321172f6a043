package engine

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/must"
	"gaugebook/calc/quantity"
)

type occupancyView struct {
	Blocks   []block        `json:"blocks"`
	Expected *table         `json:"expected"`
	Values   map[string]any `json:"values"` // what the harvest plan begins with
}

// occupancy is which vessel is free when.
func (e *Engine) occupancy() occupancyView {
	type line struct {
		until string // a day; unknown stands last
		row   row
	}
	const unknown = "~"
	var lines []line
	s := e.book.State()
	free := &facts{Title: "Free now, barrels aside", Lines: []pair{}}
	for a, v := range s.Vessels {
		if v.Retired != "" || v.Use == book.Barrel || v.Use == book.SmallCask || v.Use == book.Still {
			continue
		}
		if v.Content.Empty() {
			name, use := v.Name+", "+e.litresText(v.Capacity.Base()), capital(string(v.Use))
			if i := slices.IndexFunc(free.Lines, func(p pair) bool { return p.Label == use }); i >= 0 {
				free.Lines[i].Value += "; " + name
			} else {
				free.Lines = append(free.Lines, pair{use, name})
			}
			continue
		}
		until, why := e.busyUntil(a, v)
		holds := hundredths(e.atBase(&v.Content))
		if !v.Content.Material.Accounted() {
			holds = e.litresText(v.Content.Litres20())
		}
		l := line{unknown, row{Cells: []cell{{v.Name, a}, text(string(v.Content.Material)), text("not known")}, Note: joinedWords(holds, why)}}
		if until != "" {
			l.until, l.row.Cells[2] = until, text(until)
		}
		lines = append(lines, l)
	}
	if len(free.Lines) == 0 {
		free.Lines = append(free.Lines, pair{"Nothing", "every vessel holds something"})
	}
	slices.SortStableFunc(lines, func(a, b line) int { return cmp.Compare(a.until, b.until) })
	t := &table{Title: "Which vessel is free when", Empty: "Every vessel is empty.", Rows: []row{}, Columns: []column{{Label: "Vessel"}, {Label: "Holds"}, {Label: "Free from"}}}
	for _, l := range lines {
		t.Rows = append(t.Rows, l.row)
	}
	out := occupancyView{Blocks: []block{{Facts: free}, {Table: t}}, Expected: e.expectedTable(), Values: map[string]any{"batches": "1", "days": "5", "weeks": "6"}}
	if busiest := e.busiestDay(); busiest > 0 {
		out.Values["batches"] = fmt.Sprint(busiest)
	}
	if litres := e.usualCharge(); litres > 0 {
		f := quantity.Figure{Value: litres, Unit: quantity.Litre}
		if !e.metric() {
			f = f.In(quantity.Gallon)
		}
		out.Values["charge"] = quantity.FromDecimal(f.Decimal().Round(0), f.Unit).Compact()
	}
	return out
}

// busyUntil is the day on which a vessel is to be empty, "" where nothing in the
// book tells it, and why.
func (e *Engine) busyUntil(a book.Address, v *book.Vessel) (until, why string) {
	s := e.book.State()
	if mashes := s.Fermenting(a); len(mashes) > 0 {
		in, words := e.readyIn(mashes[0])
		if in <= 0 {
			return e.now().Day(), e.mashName(mashes[0]) + ", " + words
		}
		return e.dayAhead(in), e.mashName(mashes[0]) + ", " + words + ", then the still"
	}
	for _, b := range s.Bottlings {
		if b.Open() && b.Tank == a {
			return e.now().Day(), "being bottled"
		}
	}
	if r := &v.Reducing; r.Entry != "" && !r.Next().IsNone() {
		left := len(r.Stages) - r.Reached()
		return e.dayAhead(left * int(r.Every)), fmt.Sprintf("being reduced, %s to come", counted(left, "stage", "stages"))
	}
	switch {
	case v.Infused.Until != "":
		return string(v.Infused.Until), "steeping"
	case v.Rest.Until != "":
		return string(v.Rest.Until), joinedWords("resting", v.Rest.For)
	}
	return "", ""
}

func (e *Engine) dayAhead(days int) string {
	return e.outside.Now().AddDate(0, 0, days).Format(time.DateOnly)
}

// readyIn is in how many days a mash is done, 0 where it is, by its forecast,
// else by what is usual.
func (e *Engine) readyIn(m *book.Ferment) (days int, words string) {
	if !m.Finished.IsNone() {
		return 0, "finished " + m.Finished.Day()
	}
	now := e.now()
	look := e.lookAt(m, now)
	if look.forecast != nil {
		return max(0, int(math.Ceil(look.forecast.ReadyIn(look.Now).Hours()/24))), look.ready
	}
	takes, from := e.usualDays(m.Type, e.mashName(m))
	return max(0, takes-int(now.Since(m.From()).Hours()/24)), fmt.Sprintf("no forecast yet; %d days, %s", takes, from)
}

// usualDays is how many days such a mash takes: of the house's own past where it
// has any, of the same name before the same type.
func (e *Engine) usualDays(kind, name string) (days int, from string) {
	var same, alike []float64
	for _, m := range e.book.State().Ferments {
		if m.Finished.IsNone() || m.Type != kind {
			continue
		}
		d := float64(m.Days(m.Finished))
		alike = append(alike, d)
		if sameStuff(e.mashName(m), name) {
			same = append(same, d)
		}
	}
	if len(same) > 0 {
		return int(math.Round(middle(same))), "as " + counted(len(same), "ferment", "ferments") + " of it here took"
	}
	if len(alike) > 0 {
		return int(math.Round(middle(alike))), "as a " + kind + " takes here"
	}
	return int(math.Round(styleOf(kind).Days)), "usual for a " + kind + " (common practice)"
}

// sameStuff reports whether two names people gave are of the same stuff.
func sameStuff(a, b string) bool {
	a, b = strings.ToLower(strings.TrimSpace(a)), strings.ToLower(strings.TrimSpace(b))
	if a == b {
		return true
	}
	x, ok := material(a)
	y, alsoOk := material(b)
	return ok && alsoOk && x.Name == y.Name
}

// middle is the median.
func middle(list []float64) float64 {
	slices.Sort(list)
	n := len(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// mashOf is the litres of mash that a kilogram of a raw material made here, else
// makes by practice.
func (e *Engine) mashOf(m book.Material, variety string) (perKg float64, from string) {
	var same, alike []float64
	s := e.book.State()
	for _, f := range s.Ferments {
		if f.Volume.IsNone() || f.Volume.Unit().Dimension() != quantity.Volume {
			continue
		}
		kg, own, kindred := 0.0, true, true
		for _, p := range f.Parts {
			r := s.RawLot(p.Lot)
			if r == nil || p.Weight.IsNone() {
				own, kindred = false, false
				break
			}
			kg += p.Weight.In(quantity.Kilogram)
			own, kindred = own && sameStuff(r.Variety, variety), kindred && r.Material == m
		}
		if kg <= 0 || !kindred {
			continue
		}
		alike = append(alike, f.Volume.Base()/kg)
		if own {
			same = append(same, f.Volume.Base()/kg)
		}
	}
	if len(same) > 0 {
		return middle(same), "as its own lots here made"
	}
	if len(alike) > 0 {
		return middle(alike), "of the house's own " + string(m)
	}
	return must.LitresPerKilogram(string(m)), "common practice, no source"
}

// typeOf is the mash that is made of a raw material.
func typeOf(m book.Material) string {
	switch m {
	case book.Grain:
		return "grain mash"
	case book.Molasses:
		return "molasses wash"
	}
	return "fruit mash"
}

// busiestDay is the most runs that were started on one day.
func (e *Engine) busiestDay() int {
	days := map[string]int{}
	most := 0
	for _, r := range e.book.State().Runs {
		days[r.Started.Day()]++
		most = max(most, days[r.Started.Day()])
	}
	return most
}

// stillFill is how full a still is charged: mash of stone fruit foams at more
// (common practice, no source).
const stillFill = 0.75

// usualCharge is the middle charge of mash, in litres, else three quarters of
// the largest still.
func (e *Engine) usualCharge() float64 {
	var charges []float64
	for _, r := range e.book.State().Runs {
		if r.Mash > 0 {
			charges = append(charges, r.Mash.Litres())
		}
	}
	if len(charges) > 0 {
		return middle(charges)
	}
	most := 0.0
	for _, v := range e.book.State().Vessels {
		if v.Use == book.Still && v.Retired == "" {
			most = max(most, stillFill*v.Capacity.Base())
		}
	}
	return most
}

func (e *Engine) expectedTable() *table {
	t := &table{Title: "Expected deliveries", Empty: "Nothing is expected: write below what is to come.", Rows: []row{}, Columns: []column{{Label: "What"}, {Label: "How much", Figure: true}, {Label: "Day"}}}
	for _, x := range e.toCome() {
		r := row{Cells: []cell{{capital(x.Variety), x.Address}, text(e.massText(x.Weight.In(quantity.Kilogram))), text(string(x.Day))}}
		if string(x.Day) < e.now().Day() {
			r.Note = "late: the plan counts it today; take its entry out if it does not come"
		}
		t.Rows = append(t.Rows, r)
	}
	return t
}

type expectedLoad struct {
	book.Address
	*book.DeliveryExpected
}

// toCome lists what is to come, by day.
func (e *Engine) toCome() []expectedLoad {
	var out []expectedLoad
	for _, r := range e.book.State().Register(book.AnExpected) {
		if b, ok := r.Body.(*book.DeliveryExpected); ok && !r.Retired {
			out = append(out, expectedLoad{r.Address, b})
		}
	}
	slices.SortStableFunc(out, func(a, b expectedLoad) int { return cmp.Compare(a.Day, b.Day) })
	return out
}

// A harvestPlan asks where the still or the tanks become the limit.
type harvestPlan struct {
	Batches int64            `key:"batches" label:"Batches of the still a day" help:"Of the days on which it runs. Empty: it does not run."`
	Days    int64            `key:"days" label:"Days a week it runs" help:"From Monday on."`
	Charge  quantity.Reading `key:"charge,need" label:"Mash in a batch" unit:"gal|L" min:"1L" max:"200000L"`
	Weeks   int64            `key:"weeks,need" label:"Weeks to look ahead"`
}

const mostWeeks = 26

// harvest plays the season and names its bottleneck.
func (e *Engine) harvest(p harvestPlan, out *preview) fault.List {
	switch {
	case p.Weeks > mostWeeks:
		return fault.List{{Code: fault.TooHigh, Field: "weeks", Value: fmt.Sprint(p.Weeks), Limit: fmt.Sprintf("is more than %d weeks", mostWeeks), Remedy: "look less far ahead"}}
	case p.Days > 7:
		return fault.List{{Code: fault.TooHigh, Field: "days", Value: fmt.Sprint(p.Days), Limit: "is more than a week has", Remedy: "give 7 days at the most"}}
	case p.Batches > 24:
		return fault.List{{Code: fault.TooHigh, Field: "batches", Value: fmt.Sprint(p.Batches), Limit: "is more than one an hour", Remedy: "count the batches of one day"}}
	}
	today := e.outside.Now()
	monday := (int(today.Weekday()) + 6) % 7
	h := must.Harvest{Days: int(p.Weeks)*7 - monday, Batch: p.Charge.Base(), Batches: must.RunningDays(monday, int(p.Days), int(p.Batches))}
	steps := quantity.Working{}
	fill := must.Material{}.Fill()
	for a, v := range e.book.State().Vessels {
		mashes := e.book.State().Fermenting(a)
		if !forMash(v) && len(mashes) == 0 {
			continue
		}
		t := must.HarvestTank{Name: v.Name, Room: fill * v.Capacity.Base()}
		if len(mashes) > 0 {
			var words string
			t.Holds = v.Content.Litres20()
			t.Ready, words = e.readyIn(mashes[0])
			steps.Add(v.Name+" holds "+e.litresText(t.Holds)+" of "+e.mashName(mashes[0]), words)
		}
		h.Tanks = append(h.Tanks, t)
	}
	if len(h.Tanks) == 0 {
		return fault.List{{Code: fault.Missing, Field: "weeks", Limit: "no fermenter is registered", Remedy: "register the fermenters in the office first"}}
	}
	weights := map[int]float64{}
	for _, x := range e.toCome() {
		kg := x.Weight.In(quantity.Kilogram)
		perKg, from := e.mashOf(x.Material, x.Variety)
		takes, taken := e.usualDays(typeOf(x.Material), x.Variety)
		day := 0
		if on, err := time.Parse(time.DateOnly, string(x.Day)); err == nil {
			start, _ := time.Parse(time.DateOnly, e.now().Day())
			day = max(0, int(math.Round(on.Sub(start).Hours()/24)))
		}
		h.Loads = append(h.Loads, must.HarvestLoad{Name: capital(x.Variety), Day: day, Litres: kg * perKg, Takes: takes})
		weights[day] += kg
		steps.Add(capital(x.Variety)+", "+e.massText(kg)+" on "+string(x.Day)+", "+quantity.Fixed(perKg, 2)+" L of mash a kg ("+from+")", e.litresText(kg*perKg))
		steps.Add("it ferments "+counted(takes, "day", "days"), taken)
	}
	plan := h.Plan()
	out.Result = e.bottleneck(h, plan)
	out.Result.Steps = steps
	out.Blocks = []block{{Table: e.weekTable(h, plan, weights, today)}, {Table: e.tankTable(h, plan)}}
	return nil
}

// bottleneck is the one sentence of a harvest plan.
func (e *Engine) bottleneck(h must.Harvest, plan must.HarvestPlan) *result {
	on := e.outside.Now().AddDate(0, 0, plan.On)
	day := on.Format("Mon 2 Jan")
	sentence := fmt.Sprintf("All that is expected finds a fermenter, and no mash waits more than %d days for the still.", must.MostWait)
	r := &result{Label: "Neither still nor tanks are the limit until", Figure: e.outside.Now().AddDate(0, 0, h.Days-1).Format("2 Jan"), Beside: []pair{}}
	if len(h.Loads) == 0 {
		sentence = "Nothing is expected: write what is to come, and the plan counts with it."
	}
	switch {
	case plan.Bottleneck == must.TheTanks:
		r.Label, r.Figure = "The tanks are the limit from", on.Format("2 Jan")
		sentence = fmt.Sprintf("The tanks are the limit: on %s fruit for up to %s of mash finds no empty fermenter, and all that stands in them still ferments.", day, e.litresText(plan.Waits))
	case plan.Bottleneck == must.TheStill && plan.Days[plan.On].Waits > 0:
		r.Label, r.Figure = "The still is the limit from", on.Format("2 Jan")
		sentence = fmt.Sprintf("The still is the limit: on %s fruit for up to %s of mash finds no empty fermenter, while %s of finished mash stands in them and waits to be distilled.", day, e.litresText(plan.Waits), e.litresText(plan.Days[plan.On].Ready))
	case plan.Bottleneck == must.TheStill:
		r.Label, r.Figure = "The still is the limit from", on.Format("2 Jan")
		sentence = fmt.Sprintf("The still is the limit: on %s %s of finished mash has waited more than %d days for it.", day, e.litresText(plan.Waits), must.MostWait)
	}
	r.Says = []string{sentence}
	r.Method = fmt.Sprintf("Day by day: the still takes the ripest mash in the morning; a load goes into the smallest empty fermenter that takes it, to %s %% of its capacity; loads are not mixed.", quantity.Fixed(100*must.Material{}.Fill(), 0))
	r.Beside = append(r.Beside, pair{"fermenters", fmt.Sprint(len(h.Tanks))}, pair{"expected", counted(len(h.Loads), "delivery", "deliveries")})
	return r
}

// weekTable shows a plan week by week, a day in each column: how many fermenters
// are in use, and what waits.
func (e *Engine) weekTable(h must.Harvest, plan must.HarvestPlan, weights map[int]float64, today time.Time) *table {
	t := &table{Title: fmt.Sprintf("Fermenters in use, of %d, day by day (w: fruit waits for one; s: mash waits for the still)", len(h.Tanks)), Rows: []row{}, Columns: []column{{Label: "Week of"}}}
	for _, d := range []string{"Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"} {
		t.Columns = append(t.Columns, column{Label: d})
	}
	monday := (int(today.Weekday()) + 6) % 7
	for start := -monday; start < h.Days; start += 7 {
		r := row{Cells: []cell{text(today.AddDate(0, 0, start).Format("2 Jan"))}}
		came, waits, distilled, batches := 0.0, 0.0, 0.0, 0
		for day := start; day < start+7; day++ {
			if day < 0 {
				r.Cells = append(r.Cells, text(""))
				continue
			}
			d := plan.Days[day]
			mark := fmt.Sprint(d.InUse)
			if d.Waits > 0 {
				mark += "w"
			}
			if d.Ready > 0 {
				mark += "s"
			}
			r.Cells = append(r.Cells, text(mark))
			came, waits, distilled, batches = came+weights[day], max(waits, d.Waits), distilled+d.Distilled, batches+d.Batches
		}
		var notes []string
		if came > 0 {
			notes = append(notes, e.massText(came)+" come")
		}
		if batches > 0 {
			notes = append(notes, counted(batches, "batch", "batches")+", "+e.litresText(distilled)+" distilled")
		}
		if waits > 0 {
			notes = append(notes, "up to "+e.litresText(waits)+" of mash without a fermenter")
		}
		r.Note = strings.Join(notes, "; ")
		t.Rows = append(t.Rows, r)
	}
	return t
}

// tankTable is when the plan leaves each fermenter empty for good.
func (e *Engine) tankTable(h must.Harvest, plan must.HarvestPlan) *table {
	t := &table{Title: "When the plan is done with each fermenter", Rows: []row{}, Columns: []column{{Label: "Fermenter"}, {Label: "Takes mash", Figure: true}, {Label: "Free for good"}}}
	for i, tank := range h.Tanks {
		free := "not within the plan"
		switch {
		case plan.Free[i] == 0:
			free = "now"
		case plan.Free[i] > 0:
			free = e.outside.Now().AddDate(0, 0, plan.Free[i]).Format("Mon 2 Jan")
		}
		t.Rows = append(t.Rows, row{Cells: []cell{text(tank.Name), text(e.litresText(tank.Room)), text(free)}})
	}
	return t
}
