package engine

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// benchGlass is what a trial is put together to, in grams.
const benchGlass = 100

// blend shows what a blend comes to before it is done, and prepares its entries.
func (e *Engine) blend(p book.BlendPlan, out *preview) fault.List {
	s := e.book.State()
	b, faults := s.Blend(p, e.now())
	if len(faults) > 0 {
		return faults
	}
	c := &b.Content
	strength := e.strengthOf(c)
	r := &result{Label: "The blend", Figure: quantity.Fixed(strength.Float(), 1), Unit: strength.Unit().Label(), Method: "Mass balance, with densities of OIML R 22:1975."}
	out.Result = r
	beside := func(label, value string) {
		if value != "" {
			r.Beside = append(r.Beside, pair{label, value})
		}
	}
	if i := slices.IndexFunc(b.Taken, func(t book.Taken) bool { return t.Solved }); i >= 0 {
		f := e.atBase(&b.Taken[i].Content)
		r.Label, r.Figure, r.Unit = "Take from "+e.name(book.AVessel, b.Taken[i].Vessel), quantity.Fixed(f.Value, 2), f.Unit.Label()
		beside("by weight", e.weightText(&b.Taken[i].Content))
	} else if b.Solved {
		f := e.waterAt(b.Water)
		r.Label, r.Figure, r.Unit = "Water to add", quantity.Fixed(f.Value, 2), f.Unit.Label()
		beside("by weight", e.waterWeight(b.Water))
	}
	if r.Label != "The blend" {
		beside("strength", e.strongText(c))
	}
	beside("volume", hundredths(e.atBase(c)))
	beside(strings.ToLower(e.alcoholLabel()[:1])+e.alcoholLabel()[1:], e.alcoholText(c.Alcohol))
	beside("weight", e.weightText(c))
	if b.Water > 0 && r.Label != "Water to add" {
		beside("water in it", hundredths(e.waterAt(b.Water))+", "+e.waterWeight(b.Water))
	}
	if b.Lost >= 0.01 {
		beside("contraction", e.litresText(b.Lost))
	}
	switch {
	case !b.Aged:
		beside("youngest", "not known")
	case b.Age.Days > 0:
		beside("youngest, in wood", b.Age.String())
	default:
		beside("youngest", "never in wood")
	}
	r.Says = e.mindBlend(p, &b)
	e.blendSteps(p, &b, &r.Steps)
	out.Blocks = []block{{Table: e.shareTable("What it will be made of", b.Shares)}}
	e.prepareBlend(p, &b, out)
	return nil
}

func (e *Engine) waterWeight(m book.Mass) string {
	b, err := spirit.Blend(spirit.Part{Amount: e.waterAt(m).Reading(6), Strength: quantity.MustParse("0", quantity.ABV20)})
	if err != nil {
		return e.massText(m.Kilograms())
	}
	return quantity.Fixed(b.Weight.Value, 2) + " " + b.Weight.Unit.Label()
}

// mindBlend is what to mind about a blend.
func (e *Engine) mindBlend(p book.BlendPlan, b *book.Blend) (says []string) {
	s := e.book.State()
	mind := func(format string, args ...any) { says = append(says, fmt.Sprintf(format, args...)) }
	if v := s.Vessel(p.Into); v != nil && b.Content.Litres20() > v.Capacity.Base() {
		mind("%s takes %s: this is more.", v.Name, e.litresText(v.Capacity.Base()))
	}
	accounts, classes := map[book.Account]bool{}, map[book.SpiritClass]bool{}
	of := func(c *book.Content) {
		if !c.Empty() {
			accounts[c.Account] = true
		}
		for _, part := range c.Parts {
			if l := s.Lot(part.Lot); l != nil && l.Class != "" {
				classes[l.Class] = true
			}
		}
	}
	for i := range b.Taken {
		of(&b.Taken[i].Content)
	}
	if v := s.Vessel(p.Into); v != nil {
		of(&v.Content)
	}
	if len(accounts) > 1 {
		mind("Spirit of two accounts meets: the book will ask. Say in the move which account it goes to.")
	}
	if len(classes) > 1 {
		var words []string
		for c := range classes {
			words = append(words, string(c))
		}
		slices.Sort(words)
		mind("%s meet: what the blend may be called is for the regulation to say.", capital(strings.Join(words, " and ")))
	}
	if b.Content.Solids > 0 {
		mind("There is sugar in it: the strength is by mass and volume balance, an estimate. A distilled sample tells the legal one.")
	}
	return says
}

func (e *Engine) blendSteps(p book.BlendPlan, b *book.Blend, w *quantity.Working) {
	tell := func(name string, c *book.Content) {
		w.Add(name+": "+hundredths(e.atBase(c))+" of "+e.strongText(c)+", its mass", quantity.Fixed(c.Mass.Kilograms(), 3)+" kg")
		w.Add("its pure alcohol", e.alcoholWithUnit(c.Alcohol))
	}
	if v := e.book.State().Vessel(p.Into); v != nil && !v.Content.Empty() {
		tell(v.Name+", already there", &v.Content)
	}
	for i := range b.Taken {
		tell(e.name(book.AVessel, b.Taken[i].Vessel), &b.Taken[i].Content)
	}
	if b.Water > 0 {
		w.Add("water, its mass", quantity.Fixed(b.Water.Kilograms(), 3)+" kg")
	}
	w.Add("all masses together", quantity.Fixed(b.Content.Mass.Kilograms(), 3)+" kg")
	w.Add("all alcohol together", e.alcoholWithUnit(b.Content.Alcohol))
	w.Add("the strength of that alcohol in that mass", e.strongText(&b.Content))
	w.Add("its volume, the mass over the density of that strength", hundredths(e.atBase(&b.Content)))
}

// prepareBlend makes the entries of a blend in their order, and the trial that
// keeps it as a what-if.
func (e *Engine) prepareBlend(p book.BlendPlan, b *book.Blend, out *preview) {
	s := e.book.State()
	trial := &book.TrialMade{Strength: e.strengthOf(&b.Content)}
	grams := func(m book.Mass) quantity.Reading {
		return quantity.FromDecimal(quantity.Snap(benchGlass*float64(m)/float64(b.Content.Mass)).Round(1), quantity.Gram)
	}
	if v := s.Vessel(p.Into); v != nil && !v.Content.Empty() {
		trial.Parts = append(trial.Parts, book.TrialPart{What: v.Name, Vessel: p.Into, Weight: grams(v.Content.Mass)})
	}
	for i := range b.Taken {
		t := &b.Taken[i]
		from := e.name(book.AVessel, t.Vessel)
		trial.Parts = append(trial.Parts, book.TrialPart{What: from, Vessel: t.Vessel, Weight: grams(t.Mass)})
		move, how, by := &book.SpiritMoved{From: t.Vessel, To: p.Into, Purpose: "blend"}, "", byVolume
		switch {
		case t.All:
			how = "all"
		case !t.Plan.Net.IsNone():
			move.Net, how, by = t.Plan.Net, t.Plan.Net.String(), byWeight
		default:
			if move.Volume = t.Plan.Volume; move.Volume.IsNone() {
				move.Volume = volumeToEnter(e.atBase(&t.Content))
			}
			move.VolumeTemp, how = book.Base(s.Convention()), move.Volume.String()
		}
		if p.Into != "" {
			out.Then = append(out.Then, prepare("Move "+how+" from "+from+" to "+e.name(book.AVessel, p.Into), "Save the move", move).measured(by))
		}
	}
	if b.Water > 0 {
		water := volumeToEnter(e.waterAt(b.Water))
		trial.Parts = append(trial.Parts, book.TrialPart{What: "Water", Weight: grams(b.Water)})
		if p.Into != "" {
			out.Then = append(out.Then, prepare("Add "+water.String()+" of water to "+e.name(book.AVessel, p.Into), "Save the water", &book.WaterAdded{Vessel: p.Into, Water: water}))
		}
	}
	if p.Into == "" {
		out.Result.Says = append(out.Result.Says, "Choose where it goes, and its moves can be prepared here.")
	}
	out.Also = []prepared{prepare("Keep it as a trial", "Save the trial", trial)}
}
