package engine

import (
	"fmt"
	"slices"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A reducePlan asks what brings a vessel to a strength, to a volume, or both.
type reducePlan struct {
	Vessel   book.Ref         `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Strength quantity.Reading `key:"strength" label:"Strength to reach" unit:"proof|%" min:"0.1proof|0.1%" max:"200proof|100%" help:"Empty: the strength on the product's label."`
	Product  book.Ref         `key:"product" label:"For the product" ref:"product"`
	Stages   int64            `key:"stages" label:"Stages"`
	Every    int64            `key:"days" label:"Days between stages"`
	Volume   quantity.Reading `key:"volume" label:"Volume to reach" unit:"gal|L" min:"0.1L" max:"200000L" help:"At 60 °F or 20 °C. With a strength, so much of it is made and the other spirit stays."`
	Into     book.Ref         `key:"into" label:"Made in" ref:"vessel" help:"Where only a part of the spirit is reduced."`
	With     book.Ref         `key:"with" label:"Stronger spirit from" ref:"vessel" help:"Where it was reduced too far."`
}

// reduce shows the water that a vessel takes, or the spirit where water was too
// much, and prepares the entries.
func (e *Engine) reduce(p reducePlan, out *preview) fault.List {
	s := e.book.State()
	v := s.Vessel(p.Vessel)
	if v == nil || v.Content.Empty() || !v.Content.Material.Accounted() {
		return fault.List{{Code: fault.Conflict, Field: "vessel", Value: e.name(book.AVessel, p.Vessel), Limit: "holds no spirit, as far as this phone knows", Remedy: "choose another vessel, or enter first what was put into it"}}
	}
	label := e.labelStrength(p.Product)
	if p.Strength.IsNone() && p.Volume.IsNone() {
		p.Strength = label
	}
	c := v.Standing()
	target, err := spirit.StrengthOf(p.Strength)
	switch {
	case p.Strength.IsNone() && p.Volume.IsNone():
		return fault.List{{Code: fault.Missing, Field: "strength", Limit: "a strength or a volume to reach is needed", Remedy: "give one, or the product whose label says it"}}
	case !p.Strength.IsNone() && err != nil:
		return fieldFault("strength", err)
	case !p.Strength.IsNone() && target.ABV20() > c.ABV():
		return e.strengthen(p, v, c, out)
	case c.Solids > 0:
		return e.reduceSweet(p, v, out)
	}
	r := spirit.Reduction{Volume: e.atBase(c).Reading(6), From: strengthReading(c.Strength()), To: p.Strength}
	if r.FinalVolume = p.Volume; !p.Volume.IsNone() && !p.Strength.IsNone() {
		r.Volume = quantity.Reading{} // how much to take is asked too
	}
	a, err := spirit.Reduce(r)
	if err != nil {
		return faultsOf(err, map[string]string{"to": "strength", "final_volume": "volume", "from": "vessel", "volume": "vessel"})
	}
	if held := e.atBase(c); a.SpiritVolume.In(held.Unit).Value > held.Value*(1+1e-6) {
		return fault.List{{Code: fault.TooHigh, Field: "volume", Value: p.Volume.String(), Limit: "wants " + hundredths(a.SpiritVolume.In(held.Unit)) + " of spirit, and " + v.Name + " holds " + hundredths(held), Remedy: "ask for less, or blend it with another vessel"}}
	}
	res := &result{Label: "Water to add", Figure: quantity.Fixed(a.AddedVolume.Value, 2), Unit: a.AddedVolume.Unit.Label(), Steps: a.Working(),
		Method: "Mass balance, with densities of OIML R 22:1975.", Says: []string{a.Caution}}
	out.Result = res
	reached := quantity.FromDecimal(a.Reached.Decimal().Round(1), a.Reached.Unit)
	res.Beside = []pair{{"by weight", hundredths(a.AddedWeight)}, {"makes", hundredths(a.FinalVolume)}, {"of", reached.String()}, {"contraction", hundredths(a.Contraction)}, {"it holds now", hundredths(e.atBase(c)) + " of " + e.strongText(c) + e.known(v)}}
	if part := r.Volume.IsNone(); part {
		res.Beside = slices.Insert(res.Beside, 1, pair{"spirit to take", hundredths(a.SpiritVolume) + ", " + hundredths(a.SpiritWeight)})
	}
	if label.IsNone() {
		label = p.Strength
	}
	if says := e.tolerance(label, reached); says != "" {
		res.Says = slices.Insert(res.Says, 0, says)
	}
	if p.Stages > 1 {
		return e.stage(p, v, r, res, out)
	}
	e.prepareReduction(p, v, &a, r.Volume.IsNone(), out)
	return nil
}

// known says from where the strength of a vessel is known.
func (e *Engine) known(v *book.Vessel) string {
	if v.Standing().Mass != v.Content.Mass || v.Standing().Alcohol != v.Content.Alcohol {
		return ", by the gauge of " + v.Gauge.On.Day()
	}
	return ", by the book"
}

func fieldFault(field string, err error) fault.List {
	var list fault.List
	list.Add(field, err)
	return list
}

// faultsOf takes a formula's faults to the fields of a plan.
func faultsOf(err error, fields map[string]string) fault.List {
	var list fault.List
	list.Add("", err)
	for i := range list {
		if own, ok := fields[list[i].Field]; ok {
			list[i].Field = own
		}
	}
	return list
}

// labelStrength is what a product's label says, none for no product.
func (e *Engine) labelStrength(product book.Address) quantity.Reading {
	if r := e.book.State().Registered(book.AProduct, product); r != nil {
		return r.Body.(*book.ProductRegistered).Strength
	}
	return quantity.Reading{}
}

// tolerance says whether a strength may stand behind a label's.
func (e *Engine) tolerance(label, strength quantity.Reading) string {
	base, law := fill.At20C, "±0.3 % vol (Regulation (EU) 1169/2011, annex XII, from memory; 27 CFR 5.65 allows the same)"
	if !e.metric() {
		base, law = fill.At60F, "±0.3 % vol, 0.6 proof (27 CFR 5.65, 19.356)"
	}
	s, err := fill.Strong(label, strength, base)
	if label.IsNone() || err != nil {
		return ""
	}
	if !s.Within {
		return fmt.Sprintf("Off the label's %s by %s %% vol: %s is allowed.", label, quantity.Fixed(s.Off.Value, 1), law)
	}
	return fmt.Sprintf("Within the label's %s: %s is allowed.", label, law)
}

// stage shows a reduction stage by stage, and prepares its plan.
func (e *Engine) stage(p reducePlan, v *book.Vessel, r spirit.Reduction, res *result, out *preview) fault.List {
	if !p.Volume.IsNone() {
		return fault.List{{Code: fault.Conflict, Field: "volume", Value: p.Volume.String(), Limit: "stands beside stages, which take all that the vessel holds", Remedy: "move first what is to be reduced, or leave the volume empty"}}
	}
	from, err := spirit.StrengthOf(r.From)
	if err != nil {
		return fieldFault("vessel", err)
	}
	list, err := spirit.StageStrengths(from, p.Strength, int(p.Stages))
	if err != nil {
		return faultsOf(err, map[string]string{"to": "strength"})
	}
	stages, err := spirit.Stages(r, list[:len(list)-1]...)
	if err != nil {
		return faultsOf(err, map[string]string{"to": "strength"})
	}
	first := stages[0]
	res.Beside = append([]pair{{"by weight", hundredths(first.AddedWeight)}, {"comes to", first.To.String()}, {"water in all", res.Figure + " " + res.Unit + ", " + res.Beside[0].Value}}, res.Beside[1:]...)
	res.Label, res.Figure, res.Unit = "Water for the first stage", quantity.Fixed(first.AddedVolume.Value, 2), first.AddedVolume.Unit.Label()
	t := stageTable()
	now := e.outside.Now()
	for i, stage := range stages {
		t.Rows = append(t.Rows, stageRow(i, stage, now.AddDate(0, 0, i*int(p.Every)).Format("Mon 2 Jan")))
	}
	plan := &book.ReductionPlanned{Vessel: p.Vessel, Every: p.Every, Product: p.Product}
	for _, s := range list {
		plan.Stages = append(plan.Stages, book.ReductionStage{Strength: s})
	}
	out.Blocks = []block{{Table: t}}
	out.Also = []prepared{prepare("Keep this plan", "Save the plan", plan)}
	return nil
}

func stageTable() *table {
	return &table{Title: "Stage by stage", Rows: []row{}, Columns: []column{{Label: "Down to"}, {Label: "Water", Figure: true}, {Label: "by weight", Figure: true}, {Label: "makes", Figure: true}}}
}

func stageRow(i int, s spirit.Stage, when string) row {
	return row{Cells: []cell{text(s.To.String()), text(hundredths(s.AddedVolume)), text(hundredths(s.AddedWeight)), text(hundredths(s.FinalVolume))}, Note: joinedWords("Stage "+fmt.Sprint(i+1), when)}
}

// prepareReduction makes the entries of a reduction in one stage.
func (e *Engine) prepareReduction(p reducePlan, v *book.Vessel, a *spirit.Reduced, part bool, out *preview) {
	s := e.book.State()
	in := p.Vessel
	if part {
		if p.Into == "" {
			out.Result.Says = append(out.Result.Says, "Choose the vessel it is made in, and its entries can be prepared here.")
			return
		}
		in = p.Into
		volume := volumeToEnter(a.SpiritVolume.In(e.atBase(&v.Content).Unit))
		out.Then = append(out.Then, prepare("Move "+volume.String()+" from "+v.Name+" to "+e.name(book.AVessel, in), "Save the move",
			&book.SpiritMoved{From: p.Vessel, To: in, Gauge: book.Gauge{Volume: volume, VolumeTemp: book.Base(s.Convention())}, Purpose: "move"}).measured(byVolume))
		if to := s.Vessel(in); to != nil && !to.Content.Empty() {
			out.Result.Says = append(out.Result.Says, to.Name+" is not empty: what it holds is not in these figures. See Blend.")
		}
	}
	water := volumeToEnter(a.AddedVolume)
	if to := s.Vessel(in); to != nil && a.FinalVolume.In(quantity.Litre).Value > to.Capacity.Base() {
		out.Result.Says = append(out.Result.Says, to.Name+" takes "+e.litresText(to.Capacity.Base())+": this is more.")
	}
	name := e.name(book.AVessel, in)
	out.Then = append(out.Then, prepare("Add "+water.String()+" of water to "+name, "Save the water", &book.WaterAdded{Vessel: in, Water: water}), e.gaugeAfter(in, name))
}

func (e *Engine) gaugeAfter(vessel book.Address, name string) prepared {
	return prepare("Gauge "+name+" once it is cool", "Save the gauge", &book.SpiritGauged{Vessel: vessel})
}

// reduceSweet is reduce of spirit with sugar in it, by mass and volume balance.
func (e *Engine) reduceSweet(p reducePlan, v *book.Vessel, out *preview) fault.List {
	b, faults := e.book.State().Blend(book.BlendPlan{Parts: []book.BlendPart{{Vessel: p.Vessel}}, Into: p.Vessel, Strength: p.Strength, Volume: p.Volume}, e.now())
	if len(faults) > 0 {
		for i := range faults {
			if faults[i].Field != "volume" {
				faults[i].Field = "strength"
			}
		}
		return faults
	}
	f := e.waterAt(b.Water)
	out.Result = &result{Label: "Water to add", Figure: quantity.Fixed(f.Value, 2), Unit: f.Unit.Label(), Steps: quantity.Working{},
		Beside: []pair{{"by weight", e.waterWeight(b.Water)}, {"makes", hundredths(e.atBase(&b.Content))}, {"of", e.strongText(&b.Content)}},
		Says:   []string{"There is sugar in it: by mass and volume balance, an estimate. Add less, and have a sample distilled for the legal strength."}}
	e.blendSteps(book.BlendPlan{Into: p.Vessel}, &b, &out.Result.Steps)
	water := volumeToEnter(f)
	out.Then = []prepared{prepare("Add "+water.String()+" of water to "+v.Name, "Save the water", &book.WaterAdded{Vessel: p.Vessel, Water: water}), e.gaugeAfter(p.Vessel, v.Name)}
	return nil
}

// strengthen corrects a spirit that is weaker than it should be: how much of
// each stronger one brings it back.
func (e *Engine) strengthen(p reducePlan, v *book.Vessel, c *book.Content, out *preview) fault.List {
	s := e.book.State()
	if !p.Volume.IsNone() {
		return fault.List{{Code: fault.Conflict, Field: "strength", Value: p.Strength.String(), Limit: "is above the " + e.strongText(c) + " of " + v.Name, Remedy: "leave the volume empty to see what stronger spirit brings it there"}}
	}
	t := &table{Title: "Stronger spirit that brings it to " + p.Strength.String(), Empty: "The store holds nothing stronger.", Rows: []row{},
		Columns: []column{{Label: "From"}, {Label: "Add", Figure: true}, {Label: "makes", Figure: true}}}
	var chosen *book.Blend
	var with *book.Vessel
	for a, other := range s.Vessels {
		if a == p.Vessel || other.Content.Empty() || !other.Content.Material.Accounted() || other.Content.ABV() <= c.ABV() {
			continue
		}
		r := row{Cells: []cell{{other.Name, a}, text(""), text("")}, Note: joinedWords(e.strongText(&other.Content), e.classes(&other.Content))}
		b, faults := s.Blend(book.BlendPlan{Parts: []book.BlendPart{{Vessel: a}}, Into: p.Vessel, Strength: p.Strength}, e.now())
		if len(faults) > 0 {
			r.Note += "; " + sentence(faults[0])
		} else {
			r.Cells[1].Text, r.Cells[2].Text = hundredths(e.atBase(&b.Taken[0].Content)), hundredths(e.atBase(&b.Content))
			if a == p.With || p.With == "" && (chosen == nil || b.Taken[0].Mass < chosen.Taken[0].Mass) {
				chosen, with = &b, other
			}
		}
		t.Rows = append(t.Rows, r)
	}
	out.Blocks = []block{{Table: t}}
	if chosen == nil {
		return fault.List{{Code: fault.TooHigh, Field: "strength", Value: p.Strength.String(), Limit: "is above the " + e.strongText(c) + " of " + v.Name + ", and nothing chosen is strong enough", Remedy: "choose a stronger spirit, or a lower strength"}}
	}
	f := e.atBase(&chosen.Taken[0].Content)
	out.Result = &result{Label: v.Name + " is below it. Add from " + with.Name, Figure: quantity.Fixed(f.Value, 2), Unit: f.Unit.Label(), Steps: quantity.Working{}, Method: "Mass balance, with densities of OIML R 22:1975.",
		Beside: []pair{{"by weight", e.weightText(&chosen.Taken[0].Content)}, {"makes", hundredths(e.atBase(&chosen.Content))}, {"of", e.strongText(&chosen.Content)}},
		Says:   []string{"Gauge both before, and the blend after: this goes by what the book has of them."}}
	e.blendSteps(book.BlendPlan{Into: p.Vessel}, chosen, &out.Result.Steps)
	volume := volumeToEnter(f)
	out.Then = []prepared{prepare("Move "+volume.String()+" from "+with.Name+" to "+v.Name, "Save the move", &book.SpiritMoved{From: chosen.Taken[0].Vessel, To: p.Vessel,
		Gauge: book.Gauge{Volume: volume, VolumeTemp: book.Base(s.Convention())}, Purpose: "blend"}).measured(byVolume), e.gaugeAfter(p.Vessel, v.Name)}
	return nil
}

// classes are the classes of spirit in a content.
func (e *Engine) classes(c *book.Content) string {
	var out []string
	for _, p := range c.Parts {
		if l := e.book.State().Lot(p.Lot); l != nil && !slices.Contains(out, string(l.Class)) {
			out = append(out, string(l.Class))
		}
	}
	return joinedWords(out...)
}

type reduceView struct {
	Under []underway `json:"under"`
}

// underway is a planned reduction with what is to be done next.
type underway struct {
	Title  string     `json:"title"`
	Result *result    `json:"result"`
	Blocks []block    `json:"blocks"`
	Then   []prepared `json:"then"`
}

// reductions are the planned reductions under way.
func (e *Engine) reductions() reduceView {
	out := reduceView{Under: []underway{}}
	for a, v := range e.book.State().Vessels {
		if r := &v.Reducing; r.Entry != "" && !v.Content.Empty() {
			out.Under = append(out.Under, e.underway(a, v, r))
		}
	}
	return out
}

func (e *Engine) underway(a book.Address, v *book.Vessel, r *book.Reducing) underway {
	reached, target, c := r.Reached(), r.Target(), v.Standing()
	u := underway{Title: fmt.Sprintf("%s down to %s: stage %d of %d", v.Name, target, min(reached+1, len(r.Stages)), len(r.Stages)), Then: []prepared{}}
	strength := e.strengthOf(c)
	u.Result = &result{Label: "It stands at", Figure: quantity.Fixed(strength.Float(), 1), Unit: strength.Unit().Label(), Beside: []pair{{"volume", hundredths(e.atBase(c))}, {"known", e.known(v)[2:]}}, Steps: quantity.Working{}}
	mind := func(says string) { u.Result.Says = append(u.Result.Says, says) }
	label := e.labelStrength(r.Product)
	if label.IsNone() {
		label = target
	}
	end, err := spirit.StrengthOf(target)
	switch {
	case err != nil:
	case c.ABV() < end.ABV20()-fill.Tolerance.Float():
		mind("It went below " + target.String() + ": choose it below with that strength, and see what stronger spirit brings it back.")
	case r.Next().IsNone():
		u.Title = v.Name + ": reduced to " + target.String()
		mind(e.tolerance(label, strength))
	}
	if r.Wants() {
		mind("Gauge it once it is cool: the next water goes by that gauge.")
		u.Then = append(u.Then, e.gaugeAfter(a, v.Name))
	}
	t := stageTable()
	t.Columns = []column{{Label: "Down to"}, {Label: "Water", Figure: true}, {Label: "by weight", Figure: true}, {Label: "Gauged", Figure: true}}
	for i := range r.Done {
		d := &r.Done[i]
		gauged := cell{Text: "not yet"}
		if d.Gauge != "" {
			gauged = cell{e.book.State().ShownStrength(d.Read), d.Gauge}
		}
		t.Rows = append(t.Rows, row{Cells: []cell{{e.book.State().ShownStrength(d.Left), d.Entry}, text(hundredths(e.waterAt(d.Water))), text(e.waterWeight(d.Water)), gauged}, Note: "done " + d.On.Day()})
	}
	t.Title = "What was done and what is to come"
	if reached < len(r.Stages) && c.Solids == 0 {
		e.stagesAhead(a, v, r, c, &u, t)
	}
	u.Blocks = []block{{Table: t}}
	return u
}

// stagesAhead works the stages that are left out from what the vessel holds now.
func (e *Engine) stagesAhead(a book.Address, v *book.Vessel, r *book.Reducing, c *book.Content, u *underway, t *table) {
	var left []quantity.Reading
	for _, s := range r.Stages[r.Reached():] {
		left = append(left, s.Strength)
	}
	stages, err := spirit.Stages(spirit.Reduction{Volume: e.atBase(c).Reading(6), From: strengthReading(c.Strength()), To: left[len(left)-1]}, left[:len(left)-1]...)
	if err != nil {
		return // it stands below the next stage already; what to do is said above it
	}
	from := r.On
	if n := len(r.Done); n > 0 {
		from = r.Done[n-1].On
	}
	first, _ := time.Parse(time.DateOnly, from.Day())
	if len(r.Done) > 0 {
		first = first.AddDate(0, 0, int(r.Every))
	}
	for i, s := range stages {
		row := stageRow(r.Reached()+i, s, first.AddDate(0, 0, i*int(r.Every)).Format("Mon 2 Jan"))
		row.Cells[3].Text = ""
		t.Rows = append(t.Rows, row)
	}
	water := volumeToEnter(stages[0].AddedVolume)
	u.Result.Beside = append(u.Result.Beside, pair{"next", "add " + hundredths(stages[0].AddedVolume) + ", " + hundredths(stages[0].AddedWeight) + " of water"}, pair{"not before", first.Format("Mon 2 Jan")})
	u.Then = append(u.Then, prepare("Add "+water.String()+" of water to "+v.Name, "Save the water", &book.WaterAdded{Vessel: a, Water: water}))
}
