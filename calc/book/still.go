package book

import (
	"fmt"
	"slices"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var stillKinds = []*Kind{
	describe[RunStarted]("run started", StillRoom, ARun,
		"A still is charged and a run begins.", "The still; the vessels the charge comes from.", "The charge leaves its vessels; spirit returned to the still stands in the distilling account."),
	describe[DrawRead]("draw read", StillRoom, "",
		"What the hydrometer and the thermometers showed at the parrot, and how much is in the receiver.", "A running distillation.", "A line in the run's table; nothing in the accounts."),
	describe[ReceiverChanged]("receiver changed", StillRoom, "",
		"The cut: what comes over goes into another receiver from now on.", "A running distillation with a reading.", "Later lines of the run belong to the new fraction."),
	describe[RunInterrupted]("run interrupted", StillRoom, "",
		"The heat was taken off and the run stands still.", "A running distillation.", "A line in the run's table; the time until it is resumed does not count."),
	describe[RunResumed]("run resumed", StillRoom, "",
		"The still is heated again and the run goes on.", "A run that was interrupted.", "A line in the run's table."),
	describe[ReceiverGauged]("receiver gauged", StillRoom, ALot,
		"The production gauge of what one receiver collected, and where it stands now.", "The run; the vessel.", "A lot of spirit begins; its alcohol is produced."),
	describe[RunEnded]("run ended", StillRoom, "",
		"The still is shut down.", "The run.", "Alcohol returned to the still and not gauged again is lost in distilling."),
}

// A Fraction is what a receiver collects.
type Fraction = Material

// RunStarted charges a still.
type RunStarted struct {
	Still    Ref           `key:"still,need" label:"Still" ref:"vessel"`
	Product  Ref           `key:"product" label:"Product" ref:"product"`
	Way      string        `key:"way" label:"How it is run" words:"pot|column|pot and column"`
	Charge   []Charge      `key:"charge" label:"Charge" help:"The vessels it comes from. Without amounts, all of what they hold."`
	Basket   []InfusedPart `key:"botanicals" label:"Botanicals in the still" help:"In the pot or in the vapour."`
	First    Fraction      `key:"first" label:"First comes" words:"heads|hearts|low wines" help:"Heads, unless told otherwise."`
	Receiver Ref           `key:"receiver" label:"into" ref:"vessel"`
	Class    SpiritClass   `key:"class" label:"Class" words:"whisky|brandy|rum|gin|vodka|alcohol and neutral spirits|other" help:"If there is no product yet."`
	Note     string        `key:"note" label:"Note"`

	Plates    int64            `key:"plates" label:"Plates in use"`
	Reflux    quantity.Reading `key:"reflux" label:"Reflux" unit:"pct" min:"0pct" max:"99pct" help:"Of what condenses, the part that runs back."`
	Steam     quantity.Reading `key:"steam" label:"Steam" unit:"psi|kPa" min:"0kPa" max:"2000kPa"`
	Pressure  quantity.Reading `key:"pressure" label:"Air pressure at the still" unit:"hPa" min:"550hPa" max:"1100hPa" help:"Off a barometer in the room. A weather report is for sea level."`
	HeartsEnd quantity.Reading `key:"hearts_end" label:"Hearts are to end at" unit:"proof|%" min:"1proof|0.5%" max:"190proof|95%"`
}

// A Charge is what went into the still from one vessel.
type Charge struct {
	Vessel Ref `key:"vessel,need" label:"From" ref:"vessel"`
	Gauge
}

// A Run is one distillation.
type Run struct {
	RunStarted
	Address   Address
	Started   Moment
	Ended     Moment
	EndedBy   Address
	Charged   Alcohol     // spirit returned to the still, from an account
	Again     []Part      // of it, what has not been gauged out again
	Mash      Millilitres // fermented stuff
	From      []Part      // lots of the charge
	Charges   []Charged   // vessel by vessel
	With      []Part      // botanicals in the still
	Lines     []Line      // readings and cuts, in book order
	Fractions []Gathered  // what was gauged out
	Stillage  Gauge
}

// A Charged is what one vessel gave to a charge.
type Charged struct {
	Vessel   Address
	Material Material
	Measure
	Strength quantity.Reading // of a mash, where it was measured
	Parts    []Part
}

// A Line is one line of the draw log: a reading, a cut, or a change between
// running and standing.
type Line struct {
	Entry    Address
	On       Moment
	Fraction Fraction // the receiver it belongs to
	Receiver Ref
	Cut      bool // the receiver changed here
	Change   *ReceiverChanged
	Read     *DrawRead
	Stopped  *RunInterrupted
	Resumed  *RunResumed
}

// A Gathered fraction is a lot that was gauged out of the run.
type Gathered struct {
	Fraction Fraction
	Vessel   Address
	Gauged
}

func (r *Run) copied() Run { return *r }

// Running reports whether the run has not ended.
func (r *Run) Running() bool { return r.Ended.IsNone() }

// Standing is the line that interrupted the run, nil while it goes on.
func (r *Run) Standing() *Line {
	for i := len(r.Lines) - 1; i >= 0; i-- {
		switch l := &r.Lines[i]; {
		case l.Stopped != nil:
			return l
		case l.Resumed != nil:
			return nil
		}
	}
	return nil
}

// Reading is the last line with a hydrometer reading, nil before the first.
func (r *Run) Reading() *Line {
	for i := len(r.Lines) - 1; i >= 0; i-- {
		if r.Lines[i].Read != nil {
			return &r.Lines[i]
		}
	}
	return nil
}

// Collecting is the fraction and the receiver that the last line left.
func (r *Run) Collecting() (Fraction, Address) {
	if n := len(r.Lines); n > 0 {
		return r.Lines[n-1].Fraction, r.Lines[n-1].Receiver
	}
	if r.First == Nothing {
		return Heads, r.Receiver
	}
	return r.First, r.Receiver
}

// Run finds a run, nil where the book has none by that address.
func (s *State) Run(a Address) *Run { return s.runs.get(a) }

// Runs ranges over all runs in the order they were started.
func (s *State) Runs(yield func(Address, *Run) bool) { s.runs.all(yield) }

func (b *RunStarted) timely(s *State, f *faults) {
	if v := s.Vessel(b.Still); v == nil || v.Use != Still {
		unknownRef(f, "still", b.Still, "still")
	}
	for i, c := range b.Charge {
		path := fmt.Sprintf("charge[%d].", i+1)
		s.holds(f, path+"vessel", c.Vessel)
		before := len(f.list)
		s.covers(f, c.Vessel, &c.Gauge)
		for j := range f.list[before:] {
			f.list[before+j].Field = path + f.list[before+j].Field
		}
	}
	s.enoughOf(f, "botanicals", b.Basket)
}

// holds says that a vessel to draw from is unknown or empty.
func (s *State) holds(f *faults, field string, a Address) {
	switch v := s.Vessel(a); {
	case v == nil:
		unknownRef(f, field, a, "vessel")
	case v.Content.Empty():
		f.add(fault.Conflict, field, v.Name, "holds nothing, as far as this phone knows", "choose another vessel, or enter what was put into it first")
	}
}

func (b *RunStarted) apply(t *turn) {
	run := &Run{RunStarted: *b, Address: t.entry.address, Started: t.now()}
	if p := t.state.Registered(AProduct, b.Product); p != nil {
		run.Class = p.Body.(*ProductRegistered).Class
	}
	for _, c := range b.Charge {
		v := t.vessel(c.Vessel, "charge")
		if v == nil {
			continue
		}
		out := t.drawGauged(v, &c.Gauge)
		if out.Material.Accounted() {
			t.post(out.Account, Distilling, "", out.Parts)
			run.Charged += out.Alcohol
			run.Again = addParts(run.Again, out.Parts, 1)
		} else {
			run.Mash += out.Volume
		}
		run.From = append(run.From, out.Parts...)
		run.Charges = append(run.Charges, Charged{c.Vessel, out.Material, out.all(), c.Strength, out.Parts})
	}
	run.With = t.infused(b.Basket)
	t.state.runs.put(run.Address, run)
}

// DrawRead is one line of the draw log.
type DrawRead struct {
	Run                 Ref              `key:"run,need" label:"Run" ref:"run"`
	Indicated           quantity.Reading `key:"indicated,need" label:"Hydrometer reads" unit:"proof|%" min:"0proof|0%" max:"206proof|103%"`
	Temp                quantity.Reading `key:"temp,need" label:"at a temperature of" unit:"F|C" min:"-20C" max:"40C"`
	Hydrometer          Ref              `key:"hydrometer" label:"Hydrometer" ref:"instrument"`
	Thermometer         Ref              `key:"thermometer" label:"Thermometer" ref:"instrument"`
	IndicatedCorrection quantity.Reading `key:"indicated_correction" label:"Hydrometer correction" unit:"proof|%" min:"-5proof|-5%" max:"5proof|5%"`
	TempCorrection      quantity.Reading `key:"temp_correction" label:"Thermometer correction" unit:"F|C" min:"-10F|-5C" max:"10F|5C"`
	Vapour              quantity.Reading `key:"vapour" label:"Vapour" unit:"F|C" min:"-20C" max:"120C"`
	Column              quantity.Reading `key:"column" label:"Column head" unit:"F|C" min:"-20C" max:"120C"`
	Coolant             quantity.Reading `key:"coolant" label:"Coolant out" unit:"F|C" min:"-20C" max:"120C"`
	Volume              quantity.Reading `key:"volume" label:"In the receiver" unit:"gal|L" min:"0L" max:"200000L"`
	Plates              int64            `key:"plates" label:"Plates in use"`
	Nose                string           `key:"nose" label:"Nose and taste" help:"A word or two."`
	Note                string           `key:"note" label:"Note"`
}

// Gauge is the reading as a gauge without an amount.
func (b *DrawRead) Gauge() Gauge {
	return Gauge{Indicated: b.Indicated, Temp: b.Temp, Hydrometer: b.Hydrometer, Thermometer: b.Thermometer,
		IndicatedCorrection: b.IndicatedCorrection, TempCorrection: b.TempCorrection}
}

func (b *DrawRead) timely(s *State, f *faults) {
	g := b.Gauge()
	_, _, err := g.TrueStrength(s)
	f.list.Add("indicated", err)
	run := s.running(f, b.Run)
	if run == nil || b.Volume.IsNone() {
		return
	}
	_, receiver := run.Collecting()
	if v := s.Vessel(receiver); v != nil && b.Volume.Base() > v.Capacity.Base() {
		f.add(fault.TooHigh, "volume", b.Volume.String(), "is more than "+v.Name+" takes, "+v.Capacity.String(), "read the receiver again, or change the receiver first")
	}
}

// running finds a run that has not ended, and says why there is none.
func (s *State) running(f *faults, a Address) *Run {
	r := s.Run(a)
	switch {
	case r == nil:
		unknownRef(f, "run", a, "run")
	case !r.Running():
		f.add(fault.Conflict, "run", string(a), "ended at "+r.Ended.Clock()+" on "+r.Ended.Day(), "start a new run, or void the entry that ended it")
	}
	return r
}

func (b *DrawRead) apply(t *turn) {
	t.line(b.Run, func(r *Run) Line {
		f, to := r.Collecting()
		if v := t.state.Vessel(to); v != nil && !b.Volume.IsNone() && b.Volume.Base() > v.Capacity.Base() {
			t.ask(OverFull, fmt.Sprintf("%s is said to hold %s, and it takes %s.", v.Name, b.Volume, v.Capacity), nil, to)
		}
		for i := len(r.Lines) - 1; i >= 0 && i >= len(r.Lines)-8; i-- {
			if was := r.Lines[i]; was.Read != nil && sameLine(was.Read, b) && t.now().ms-was.On.ms < 120_000 && was.Entry.Device() != t.entry.Device {
				t.ask(Twice, "Two phones logged the same reading of this run within two minutes.", proposeVoid(t.entry.address, "logged twice"), was.Entry)
			}
		}
		return Line{Fraction: f, Receiver: to, Read: b}
	})
}

func sameLine(a, b *DrawRead) bool {
	return a.Indicated.Compact() == b.Indicated.Compact() && a.Temp.Compact() == b.Temp.Compact() && a.Volume.Compact() == b.Volume.Compact()
}

// line adds a line to a run.
func (t *turn) line(run Address, make func(*Run) Line) {
	r := t.state.runs.edit(run)
	if r == nil {
		t.dangling("run", run)
		return
	}
	l := make(r)
	l.Entry, l.On = t.entry.address, t.now()
	r.Lines = append(r.Lines, l)
}

// ReceiverChanged is a cut.
type ReceiverChanged struct {
	Run      Ref              `key:"run,need" label:"Run" ref:"run"`
	Fraction Fraction         `key:"fraction,need" label:"Now comes" words:"heads|hearts|tails|low wines"`
	Receiver Ref              `key:"receiver" label:"into" ref:"vessel"`
	Volume   quantity.Reading `key:"volume" label:"Left in the receiver before" unit:"gal|L" min:"0L" max:"200000L"`
	Nose     string           `key:"nose" label:"Nose and taste"`
	Note     string           `key:"note" label:"Note"`
}

func (b *ReceiverChanged) timely(s *State, f *faults) {
	if r := s.running(f, b.Run); r != nil && r.Reading() == nil {
		f.add(BeforeAnyReading, "fraction", string(b.Fraction), "a cut needs a reading before it, and this run has none", "take a reading first, so that the cut can be defended later")
	}
}

// BeforeAnyReading is the fault of a cut that no reading stands before.
const BeforeAnyReading fault.Code = "cut-before-reading"

func (b *ReceiverChanged) apply(t *turn) {
	t.line(b.Run, func(r *Run) Line {
		if r.Reading() == nil {
			t.ask(BeforeReading, "The receiver was changed to "+string(b.Fraction)+" before any reading of the run.", nil)
		}
		return Line{Fraction: b.Fraction, Receiver: b.Receiver, Cut: true, Change: b}
	})
}

// RunInterrupted says that a run stands still.
type RunInterrupted struct {
	Run  Ref    `key:"run,need" label:"Run" ref:"run"`
	Why  string `key:"why" label:"Why" words:"end of the day|cooling water|power|a leak|other"`
	Note string `key:"note" label:"Note"`
}

func (b *RunInterrupted) timely(s *State, f *faults) {
	if r := s.running(f, b.Run); r != nil && r.Standing() != nil {
		f.add(fault.Conflict, "run", string(b.Run), "stands since "+r.Standing().On.Clock(), "write first that it goes on")
	}
}

func (b *RunInterrupted) apply(t *turn) {
	t.line(b.Run, func(r *Run) Line {
		fraction, receiver := r.Collecting()
		return Line{Fraction: fraction, Receiver: receiver, Stopped: b}
	})
}

// RunResumed says that an interrupted run goes on.
type RunResumed struct {
	Run  Ref    `key:"run,need" label:"Run" ref:"run"`
	Note string `key:"note" label:"Note"`
}

func (b *RunResumed) timely(s *State, f *faults) {
	if r := s.running(f, b.Run); r != nil && r.Standing() == nil {
		f.add(fault.Conflict, "run", string(b.Run), "was not interrupted, as far as this phone knows", "go on logging")
	}
}

func (b *RunResumed) apply(t *turn) {
	t.line(b.Run, func(r *Run) Line {
		fraction, receiver := r.Collecting()
		return Line{Fraction: fraction, Receiver: receiver, Resumed: b}
	})
}

// ReceiverGauged is the production gauge of a fraction.
type ReceiverGauged struct {
	Run      Ref      `key:"run,need" label:"Run" ref:"run"`
	Fraction Fraction `key:"fraction,need" label:"What it is" words:"heads|hearts|tails|low wines"`
	Vessel   Ref      `key:"vessel,need" label:"Where it stands" ref:"vessel"`
	Gauge
	Account Account `key:"account" label:"Entered in" words:"production|storage|processing" help:"Production, until it is deposited elsewhere."`
	Name    string  `key:"name" label:"Name of the lot"`
	Note    string  `key:"note" label:"Note"`
}

func (b *ReceiverGauged) sound(f *faults) { b.soundMeasured(f) }

func (b *ReceiverGauged) timely(s *State, f *faults) {
	if s.Run(b.Run) == nil {
		unknownRef(f, "run", b.Run, "run")
	}
	v := s.Vessel(b.Vessel)
	if v == nil {
		unknownRef(f, "vessel", b.Vessel, "vessel")
		return
	}
	g, faults := b.measure(s, quantity.Reading{}, v)
	f.list.Add("", faults.Err())
	s.fits(f, v, g)
}

// fits says that a vessel is too small for what is said to be in it.
func (s *State) fits(f *faults, v *Vessel, g Gauged) {
	if litres, room := g.Figures.Volume20C.Value, v.Capacity.Base(); litres > room*overFull {
		f.add(fault.TooHigh, "volume", quantity.Fixed(litres, 1)+" L at 20 °C", "is more than "+v.Name+" takes, "+v.Capacity.String(), "read it again, or choose the right vessel")
	}
}

// overFull allows for a capacity that was written down to the nearest mark and
// for the warmth of new spirit.
const overFull = 1.03

func (b *ReceiverGauged) apply(t *turn) {
	r := t.state.runs.edit(b.Run)
	if r == nil {
		t.dangling("run", b.Run)
		return
	}
	v := t.vessel(b.Vessel, "vessel")
	if v == nil {
		return
	}
	g, ok := t.measured(&b.Gauge, quantity.Reading{}, v)
	if !ok {
		return
	}
	for _, was := range r.Fractions {
		if was.Fraction == b.Fraction && was.Vessel == b.Vessel {
			t.ask(Twice, fmt.Sprintf("The %s of this run were gauged into %s before.", b.Fraction, v.Name), proposeVoid(t.entry.address, "gauged twice"), was.Entry)
		}
	}
	lot, fraction := t.entry.address, b.Fraction
	var with []Part
	if fraction == Hearts {
		with = r.With
	}
	if !fraction.Accounted() {
		fraction = LowWines
	}
	t.begin(Lot{Name: b.Name, Material: fraction, Class: r.Class, Amount: int64(g.Alcohol), Run: r.Address, Proof: g.Strength.Proof(), From: slices.Clone(r.From), With: with})
	parts := []Part{{Lot: lot, Amount: int64(g.Alcohol)}}
	account := b.Account
	if account == "" {
		account = Production
	}
	t.distilAgain(r, g.Alcohol)
	t.post(Produced, Production, "", parts)
	t.post(Production, account, "", parts)
	r.Fractions = append(r.Fractions, Gathered{Fraction: b.Fraction, Vessel: b.Vessel, Gauged: g})
	t.pour(v, Content{Material: fraction, Account: account, Mass: g.Mass, Alcohol: g.Alcohol, Parts: parts, Doubt: g.Doubt})
	if limit := classLimit(r.Class); b.Fraction == Hearts && limit > 0 && g.Strength.Proof() >= limit {
		t.ask(AboveClassLimit, fmt.Sprintf("The hearts came over at %.1f proof; %s is distilled below %.0f (27 CFR part 5, subpart I).", g.Strength.Proof(), r.Class, limit), nil)
	}
}

// leftToReturn is the alcohol returned to the still that no gauge has accounted
// for yet.
func (r *Run) leftToReturn() Alcohol {
	var left int64
	for _, p := range r.Again {
		left += p.Amount
	}
	return max(Alcohol(left), 0)
}

// distilAgain takes the spirit that was returned to the still out of its
// account as it comes over: it is produced anew, as the class it becomes. What
// the end of the run wrote off and was gauged later came over after all.
func (t *turn) distilAgain(r *Run, over Alcohol) {
	from := Distilling
	if !r.Running() {
		from = Lost
	}
	gone := share(r.Again, int64(min(r.leftToReturn(), over)))
	r.Again = addParts(r.Again, gone, -1)
	t.post(from, Produced, Redistilled, gone)
}

// classLimit is the proof that a class must be distilled below, 0 for none:
// whisky, brandy and rum below 190 (27 CFR 5.143(a) read; brandy and rum from
// memory of 5.145 and 5.147).
func classLimit(c SpiritClass) float64 {
	switch c {
	case Whisky, Brandy, Rum:
		return 190
	}
	return 0
}

// RunEnded shuts a run.
type RunEnded struct {
	Run              Ref              `key:"run,need" label:"Run" ref:"run"`
	Stillage         quantity.Reading `key:"stillage" label:"Stillage" unit:"gal|L" min:"0L" max:"200000L"`
	StillageStrength quantity.Reading `key:"stillage_strength" label:"Strength of the stillage" unit:"proof|%" min:"0proof|0%" max:"200proof|100%"`
	Note             string           `key:"note" label:"Note"`
}

func (b *RunEnded) timely(s *State, f *faults) { s.running(f, b.Run) }

func (b *RunEnded) apply(t *turn) {
	r := t.state.runs.edit(b.Run)
	if r == nil {
		t.dangling("run", b.Run)
		return
	}
	if !r.Running() {
		t.ask(Twice, "The run was ended twice.", proposeVoid(t.entry.address, "ended twice"), r.EndedBy)
		return
	}
	t.post(Distilling, Lost, InTheStill, r.Again)
	r.Ended, r.EndedBy = t.now(), t.entry.address
	r.Stillage = Gauge{Volume: b.Stillage, Strength: b.StillageStrength}
}

func proposeVoid(a Address, why string) *Proposal {
	return &Proposal{Kind: "entry voided", Body: Encode(&EntryVoided{Entry: a, Why: why})}
}
