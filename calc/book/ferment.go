package book

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var fermentKinds = []*Kind{
	describe[FermentChecked]("ferment checked", FermentHall, "",
		"The daily look at a fermenter: sugar, pH, temperature, smell.", "The fermenter with its mash.", "A line in the ferment's table; nothing in the accounts."),
	describe[ReadingsArrived]("readings arrived", FermentHall, "",
		"A tank controller sent what it measured.", "The fermenters.", "Points behind the checks, thinned to one in a quarter of an hour."),
	describe[FermentFinished]("ferment finished", FermentHall, "",
		"The mash is done and ready for the still.", "The fermenter with its mash.", "It is no longer asked to be checked every day."),
}

// FermentChecked is the daily check of a fermenter.
type FermentChecked struct {
	Vessel Ref `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	Sweetness
	PH       quantity.Reading `key:"ph" label:"pH" unit:"pH" min:"1pH" max:"10pH"`
	Temp     quantity.Reading `key:"mash_temp" label:"Temperature of the mash" unit:"F|C" min:"-5C" max:"100C"`
	Smell    string           `key:"smell" label:"Smell" words:"clean|bread|sulphide|solvent|vinegar|butter|mould"`
	Activity string           `key:"activity" label:"Gas" words:"none|slow|steady|strong"`
	Note     string           `key:"note" label:"Note"`
}

// A FermentCheck is a check at its place.
type FermentCheck struct {
	Entry Address
	On    Moment
	*FermentChecked
}

func (b *FermentChecked) sound(f *faults) {
	b.Sweetness.sound(f, b.Temp)
	if !b.Read() && b.PH.IsNone() && b.Temp.IsNone() && b.Smell == "" && b.Activity == "" && b.Note == "" {
		f.add(fault.Missing, "sugar", "", "a check says something", "give a reading, a temperature or a smell")
	}
}

func (b *FermentChecked) timely(s *State, f *faults) { s.mashIn(f, "vessel", b.Vessel) }

func (b *FermentChecked) apply(t *turn) {
	v := t.state.vessels.get(b.Vessel) // a check changes nothing in the vessel
	if v == nil {
		t.dangling("vessel", b.Vessel)
		return
	}
	if t.mashes(v, func(m *Ferment) {
		m.Checks = append(m.Checks, FermentCheck{t.entry.address, t.now(), b})
	}) == 0 {
		t.ask(NothingThere, v.Name+" was checked, and the book has no mash in it.", nil, v.Address)
	}
}

// ReadingsArrived is what a controller sent. Its entry is written for the time
// of its last reading.
type ReadingsArrived struct {
	Controller string              `key:"controller" label:"Controller" help:"As it calls itself."`
	Readings   []ControllerReading `key:"readings,need" label:"Readings" help:"At most 200 an entry, in the order they were taken."`
}

// A ControllerReading is one line of a controller.
type ControllerReading struct {
	Vessel  Ref              `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	At      Moment           `key:"at,need" label:"At"`
	Temp    quantity.Reading `key:"temp" label:"Temperature" unit:"F|C" min:"-40C" max:"120C"`
	Gravity quantity.Reading `key:"gravity" label:"Gravity" unit:"sg" min:"0.9sg" max:"1.6sg"`
	PH      quantity.Reading `key:"ph" label:"pH" unit:"pH" min:"0pH" max:"14pH"`
}

func (b *ReadingsArrived) timely(s *State, f *faults) {
	for _, r := range b.Readings {
		if s.Vessel(r.Vessel) == nil {
			unknownRef(f, "readings", r.Vessel, "vessel")
			return
		}
	}
}

// A ControllerPoint is a controller's reading that was kept.
type ControllerPoint struct {
	Entry Address
	*ControllerReading
}

// pointEvery is how far apart the kept points of a controller are; all of them
// stay readable in their entries.
const pointEvery = 15 * 60 * 1000

func (b *ReadingsArrived) apply(t *turn) {
	for i := range b.Readings {
		r := &b.Readings[i]
		v := t.state.vessels.get(r.Vessel)
		if v == nil {
			t.dangling("fermenter", r.Vessel)
			return
		}
		t.mashesSince(v, r.At, func(m *Ferment) {
			// One that is not later than the last is one sent twice.
			if n := len(m.Readings); n == 0 || r.At.ms >= m.Readings[n-1].At.ms+pointEvery {
				m.Readings = append(m.Readings, ControllerPoint{t.entry.address, r})
			}
		})
	}
}

// mashesSince gives the lots of mash in a vessel that had begun by then.
func (t *turn) mashesSince(v *Vessel, then Moment, change func(*Ferment)) {
	if !v.Content.Material.Fermenting() {
		return
	}
	for _, p := range v.Content.Parts {
		if m := t.state.ferments.get(p.Lot); m != nil && !then.Before(m.Begun) {
			change(t.state.ferments.edit(p.Lot))
		}
	}
}

// FermentFinished says that a mash is ready for the still.
type FermentFinished struct {
	Vessel Ref `key:"vessel,need" label:"Fermenter" ref:"vessel"`
	Sweetness
	PH       quantity.Reading `key:"ph" label:"pH" unit:"pH" min:"1pH" max:"10pH"`
	Temp     quantity.Reading `key:"mash_temp" label:"Temperature of the mash" unit:"F|C" min:"-5C" max:"100C"`
	Strength quantity.Reading `key:"strength" label:"Its strength" unit:"proof|%" min:"0proof|0%" max:"60proof|30%" help:"If the laboratory, or a small still, told it."`
	Note     string           `key:"note" label:"Note"`
}

func (b *FermentFinished) sound(f *faults) { b.Sweetness.sound(f, b.Temp) }

func (b *FermentFinished) timely(s *State, f *faults) { s.mashIn(f, "vessel", b.Vessel) }

func (b *FermentFinished) apply(t *turn) {
	v := t.state.vessels.get(b.Vessel)
	if v == nil {
		t.dangling("vessel", b.Vessel)
		return
	}
	if t.mashes(v, func(m *Ferment) {
		if m.Finished.IsNone() {
			m.Finished, m.FinishedBy = t.now(), t.entry.address
		}
	}) == 0 {
		t.ask(NothingThere, v.Name+" was said to be finished, and the book has no mash in it.", nil, v.Address)
	}
}
