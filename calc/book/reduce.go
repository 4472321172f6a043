package book

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// ReductionPlanned is a reduction that is to be done over days.
type ReductionPlanned struct {
	Vessel  Ref              `key:"vessel,need" label:"Vessel" ref:"vessel"`
	Stages  []ReductionStage `key:"stages,need" label:"Stage"`
	Every   int64            `key:"days" label:"Days between stages" help:"For the water to marry, and the gauge to be trusted."`
	Product Ref              `key:"product" label:"For the product" ref:"product"`
	Note    string           `key:"note" label:"Note"`
}

// A ReductionStage is a strength on the way; the last is the end.
type ReductionStage struct {
	Strength quantity.Reading `key:"strength,need" label:"Down to" unit:"proof|%" min:"0.1proof|0.1%" max:"200proof|100%"`
}

func (b *ReductionPlanned) sound(f *faults) {
	before := math.Inf(1)
	for i, stage := range b.Stages {
		s, err := spirit.StrengthOf(stage.Strength)
		if err == nil && s.ABV20() >= before {
			err = fault.Fault{Code: fault.Conflict, Value: stage.Strength.String(), Limit: "is not below the stage before it", Remedy: "list the stages in the order they are reached"}
		}
		f.list.Add(fmt.Sprintf("stages[%d].strength", i+1), err)
		before = s.ABV20()
	}
}

func (b *ReductionPlanned) timely(s *State, f *faults) {
	v := s.spiritIn(f, "vessel", b.Vessel)
	s.registered(f, "product", AProduct, b.Product)
	if v == nil || len(f.list) > 0 {
		return
	}
	if first, err := spirit.StrengthOf(b.Stages[0].Strength); err == nil && first.ABV20() >= v.Standing().ABV() {
		f.add(fault.Conflict, "stages[1].strength", b.Stages[0].Strength.String(), "is not below the "+s.ShownStrength(v.Standing().ABV())+" of "+v.Name, "water only lowers a strength; to raise it, add a stronger spirit")
	}
}

// A Reducing is a planned reduction with what was done of it.
type Reducing struct {
	ReductionPlanned
	Entry Address // "" for none
	On    Moment
	From  float64 // % vol
	Done  []ReductionStep
}

// A ReductionStep is an addition of water, with the gauge after it.
type ReductionStep struct {
	Entry Address
	On    Moment
	Water Mass
	Left  float64 // % vol, by the gauge before it where that still held, else by the book
	Gauge Address // "" while it was not gauged
	Read  float64 // % vol by that gauge
	Day   Moment  // of that gauge
	stood Content // what it left, as Left
}

// Strength is what is known of the spirit after the step, % vol.
func (d *ReductionStep) Strength() float64 {
	if d.Gauge != "" {
		return d.Read
	}
	return d.Left
}

// Reached is how many of the stages are behind: each addition belongs to the
// stage, or to the start, that its strength came nearest to.
func (r *Reducing) Reached() int {
	n := 0
	for i := range r.Done {
		at, nearest := 0, math.Abs(r.Done[i].Strength()-r.From)
		for k, stage := range r.Stages {
			if s, err := spirit.StrengthOf(stage.Strength); err == nil && math.Abs(r.Done[i].Strength()-s.ABV20()) <= nearest {
				at, nearest = k+1, math.Abs(r.Done[i].Strength()-s.ABV20())
			}
		}
		n = max(n, at)
	}
	return n
}

// Next is the strength to go to, none where the end is reached.
func (r *Reducing) Next() quantity.Reading {
	if n := r.Reached(); n < len(r.Stages) {
		return r.Stages[n].Strength
	}
	return quantity.Reading{}
}

// Target is the end of the plan.
func (r *Reducing) Target() quantity.Reading {
	if len(r.Stages) == 0 {
		return quantity.Reading{}
	}
	return r.Stages[len(r.Stages)-1].Strength
}

// Due is the day of the next stage, or of the gauge that is wanted before it; ok
// is false where there is nothing left to do.
func (r *Reducing) Due() (on Day, ok bool) {
	if r.Entry == "" || r.Next().IsNone() && !r.Wants() {
		return "", false
	}
	if len(r.Done) == 0 {
		return Day(r.On.Day()), true
	}
	last, ok := dayOf(Day(r.Done[len(r.Done)-1].On.Day()))
	return Day(last.AddDate(0, 0, int(r.Every)).Format(time.DateOnly)), ok
}

// Wants reports whether the last addition is still to be gauged.
func (r *Reducing) Wants() bool {
	return len(r.Done) > 0 && r.Done[len(r.Done)-1].Gauge == ""
}

// Standing is what a vessel holds by the best that is known: by its gauge where
// nothing changed since but the water of its plan, else by the book.
func (v *Vessel) Standing() *Content {
	if r := &v.Reducing; r.Wants() && v.History[len(v.History)-1] == r.Done[len(r.Done)-1].Entry {
		c := r.Done[len(r.Done)-1].stood
		return &c
	}
	c := v.Content
	if v.Gauge.Entry != "" && !v.Gauge.On.Before(c.Since) && c.Solids == 0 && c.Material.Accounted() && v.Gauge.Mass > 0 {
		c.Mass, c.Alcohol, c.Doubt = v.Gauge.Mass, v.Gauge.Alcohol, v.Gauge.Doubt
	}
	return &c
}

func (b *ReductionPlanned) apply(t *turn) {
	v := t.spirit(b.Vessel)
	if v == nil {
		return
	}
	v.Reducing = Reducing{ReductionPlanned: *b, Entry: t.entry.address, On: t.now(), From: v.Standing().ABV()}
}

// watered notes an addition of water in the vessel's plan; stood is what the
// vessel held with it by the best that is known.
func (t *turn) watered(v *Vessel, water Mass, stood Content) {
	if r := &v.Reducing; r.Entry != "" {
		r.Done = append(slices.Clip(r.Done), ReductionStep{Entry: t.entry.address, On: t.now(), Water: water, Left: stood.ABV(), stood: stood})
	}
}

// gaugedAfter notes the gauge after an addition in the vessel's plan.
func (t *turn) gaugedAfter(v *Vessel, g Gauged) {
	if r := &v.Reducing; r.Wants() {
		r.Done = slices.Clone(r.Done)
		last := &r.Done[len(r.Done)-1]
		last.Gauge, last.Read, last.Day = t.entry.address, g.Strength.ABV20(), t.now()
	}
}
