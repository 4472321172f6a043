package book

import (
	"fmt"
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

var bottlingKinds = []*Kind{
	describe[BottlingOpened]("bottling opened", BottlingFloor, ABottling,
		"A bottling run is opened on a tank: the product, the tank's gauge, the bottle.", "The tank, gauged; the product.", "Its spirit stands in processing; a lot of bottles begins."),
	describe[BottlesCounted]("bottles counted", BottlingFloor, "",
		"Full cases and loose bottles, counted at one station since its last count.", "An open bottling.", "The run's live totals."),
	describe[BottlesSpoiled]("bottles spoiled", BottlingFloor, "",
		"Bottles that will not be sold, by reason.", "An open bottling.", "The run's live totals; the spirit of those not poured back is missing from the tank."),
	describe[BottlingClosed]("bottling closed", BottlingFloor, "",
		"The line is clear, the heel is measured, the run is reconciled.", "An open bottling.", "The bottles enter finished goods; what is missing is lost to a cause."),
	describe[CasesRemoved]("cases removed", Office, "",
		"Bottles left the bonded premises, or were broken or destroyed.", "A closed bottling.", "Finished goods go out by their purpose."),
	describe[CasesReturned]("cases returned", Office, "",
		"Bottles came back.", "A closed bottling.", "They stand in finished goods again."),
}

// BottlingOpened opens a bottling run.
type BottlingOpened struct {
	Product Ref `key:"product" label:"Product" ref:"product"`
	Tank    Ref `key:"tank,need" label:"Tank" ref:"vessel"`
	Gauge
	Label   quantity.Reading `key:"label_strength" label:"Strength on the label" unit:"proof|%" min:"0proof|0%" max:"200proof|100%" help:"As registered with the product, unless given here."`
	Bottle  quantity.Reading `key:"bottle" label:"Bottle or can" unit:"mL" min:"1mL" max:"10L" help:"As registered with the product, unless given here."`
	PerCase int64            `key:"per_case" label:"Bottles in a case" help:"As registered with the product, unless given here."`
	LotCode string           `key:"lot_code" label:"Lot code on the bottle"`
	Note    string           `key:"note" label:"Note"`
	// Cases are numbered in a series of their own, run after run (27 CFR 19.490(b)).
	FirstCase int64 `key:"first_case" label:"Serial number of the first case"`
	Checked   bool  `key:"room_checked" label:"The room and the line are checked"`
}

// A Bottling is one bottling run and, once closed, the lot of its bottles.
type Bottling struct {
	BottlingOpened
	Address  Address
	Opened   Moment
	Closed   Moment
	ClosedBy Address
	Name     string
	Class    SpiritClass
	Tanked   Gauged // the tank at the start
	Counts   []BottlesCounted
	Spoils   []BottlesSpoiled
	Tally    []Tallied // counts and spoils, each with its entry, in book order
	twins    []twin
	Fills    []FillFound
	Goods    []GoodsMove // at the line, in book order
	Days     []DayCleared
	Finished Alcohol // of the good bottles, once closed
	Missing  Alcohol // spirit that left the tank and is in no bottle; below zero for a gain
	Counted  BottleCount
	Gone     int64   // bottles removed, less returned
	Packed   int64   // of those in the house, in gift packs
	Given    Alcohol // their alcohol
	From     []Part
}

func (b *Bottling) copied() Bottling { return *b }

// Open reports whether the run is not closed yet.
func (b *Bottling) Open() bool { return b.Closed.IsNone() }

// Good is how many good bottles were counted. Each station counts what passes
// it, so the stations are not added: the run has what its last station has.
func (b *Bottling) Good() int64 { return b.At(b.LastStation()) }

// A Station is a place on the bottling line.
type Station string

// Stations lists them in the order a bottle passes.
func Stations() []Station { return []Station{"fill", "close", "label", "neck label", "seal", "case"} }

// LastStation is the furthest station that counted anything.
func (b *Bottling) LastStation() Station {
	last := -1
	all := Stations()
	for _, c := range b.Counts {
		for i, s := range all {
			if s == c.at() {
				last = max(last, i)
			}
		}
	}
	if last < 0 {
		return "case"
	}
	return all[last]
}

// At is how many bottles a station counted.
func (b *Bottling) At(s Station) int64 {
	var n int64
	for _, c := range b.Counts {
		if c.at() == s {
			n += c.Cases*b.caseOf(c) + c.Loose
		}
	}
	return n
}

func (b *Bottling) caseOf(c BottlesCounted) int64 {
	if c.PerCase > 0 {
		return c.PerCase
	}
	return b.PerCase
}

// Spoiled is how many bottles were spoiled; kept of them still hold spirit that
// did not go back to the tank.
func (b *Bottling) Spoiled() (bottles, kept int64) {
	for _, s := range b.Spoils {
		bottles += s.Bottles
		if !s.PouredBack {
			kept += s.Bottles
		}
	}
	return bottles, kept
}

// Left is how many of the bottles are still in the house.
func (b *Bottling) Left() int64 { return b.Good() - b.Gone }

// Bottling finds a bottling run, nil where the book has none by that address.
func (s *State) Bottling(a Address) *Bottling { return s.bottlings.get(a) }

// Bottlings ranges over all bottling runs in the order they were opened.
func (s *State) Bottlings(yield func(Address, *Bottling) bool) { s.bottlings.all(yield) }

// inBottles is what so many bottles hold at a strength: the bottle is full at
// the base temperature of the book's convention, 60 °F or 20 °C.
func (s *State) inBottles(bottle quantity.Reading, strength quantity.Reading, n int64) (Gauged, error) {
	base := quantity.MustParse("60F", quantity.Fahrenheit)
	if s.Convention() == Metric {
		base = quantity.MustParse("20C", quantity.Celsius)
	}
	if n == 0 {
		return Gauged{}, nil
	}
	litres := quantity.Snap(bottle.Base() * float64(n))
	out, err := spirit.GaugeVolume(spirit.VolumeGauge{Volume: quantity.FromDecimal(litres, quantity.Litre), Temp: base, Strength: strength})
	if err != nil {
		return Gauged{}, err
	}
	return Gauged{Measure: measureOf(out), Strength: out.Strength, Shown: strength, Figures: out}, nil
}

// Expected is how many bottles the tank fills, with the standard uncertainty.
func (s *State) Expected(b *Bottling) (bottles, doubt float64) {
	one, err := s.inBottles(b.Bottle, b.Tanked.Shown, 1)
	if err != nil || one.Mass == 0 {
		return 0, 0
	}
	bottles = float64(b.Tanked.Mass) / float64(one.Mass)
	if b.Tanked.Alcohol > 0 {
		doubt = bottles * b.Tanked.Doubt / float64(b.Tanked.Alcohol)
	}
	return bottles, doubt
}

// labelled fills in what the product's registration says.
func (b BottlingOpened) labelled(s *State) (BottlingOpened, string, SpiritClass) {
	r := s.Registered(AProduct, b.Product)
	if r == nil {
		return b, "", Other
	}
	p := r.Body.(*ProductRegistered)
	if b.Label.IsNone() {
		b.Label = p.Strength
	}
	if b.Bottle.IsNone() {
		b.Bottle = p.Bottle
	}
	if b.PerCase == 0 {
		b.PerCase = p.PerCase
	}
	return b, p.Name, p.Class
}

func (b *BottlingOpened) sound(f *faults) { b.soundAmount(f) }

func (b *BottlingOpened) timely(s *State, f *faults) {
	v := s.Vessel(b.Tank)
	if v == nil {
		unknownRef(f, "tank", b.Tank, "vessel")
		return
	}
	full, _, _ := b.labelled(s)
	if full.Bottle.IsNone() {
		f.add(fault.Missing, "bottle", "", "the size of the bottle is needed", "give it here, or register it with the product")
	}
	g, faults := b.measure(s, s.strong(&v.Content), v)
	f.list.Add("", faults.Err())
	s.fits(f, v, g)
}

func (b *BottlingOpened) apply(t *turn) {
	v := t.vessel(b.Tank, "tank")
	if v == nil {
		return
	}
	run := &Bottling{Address: t.entry.address, Opened: t.now()}
	run.BottlingOpened, run.Name, run.Class = b.labelled(t.state)
	// A run is counted even where its tank's gauge cannot be worked out: a
	// counter's phone does not know what the tank held before.
	if g, ok := t.measured(&b.Gauge, t.state.strong(&v.Content), v); ok {
		run.Tanked = g
		if t.onTank(run) == (Measure{}) { // what another run has in bottles by now is drawn when it closes
			t.compare(v, g, "")
		}
		v.Gauge = g
		t.toProcessing(v)
		t.offLabel(run)
	}
	t.state.bottlings.put(run.Address, run)
}

// toProcessing enters what a tank holds in the processing account.
func (t *turn) toProcessing(v *Vessel) {
	c := &v.Content
	c.account(Processing)
	if c.Account != Processing {
		t.post(c.Account, Processing, "bottling", c.Parts)
		c.Account = Processing
	}
}

// offLabel asks where the tank's strength is not within 0.3 % vol of the label
// (27 CFR 19.356, ends included).
func (t *turn) offLabel(b *Bottling) { t.offLabelled(b, b.Tanked.Strength, "The tank is", b.Tank) }

func (t *turn) offLabelled(b *Bottling, found spirit.Strength, what string, about Address) {
	label, err := spirit.StrengthOf(b.Label)
	if err != nil || b.Label.IsNone() {
		return
	}
	off := quantity.ABVToTenth(quantity.Snap(found.ABV60F() - label.ABV60F()))
	if t.state.Convention() == Metric {
		off = quantity.ABVToTenth(quantity.Snap(found.ABV20() - label.ABV20()))
	}
	if off.Abs().GreaterThan(labelTolerance) {
		t.ask(OffLabel, fmt.Sprintf("%s %s %% vol off the label, and ±%s is allowed (27 CFR 19.356).", what, off, labelTolerance), nil, about)
	}
}

var labelTolerance = quantity.MustParse("0.3", quantity.ABV20).Decimal()

// BottlesCounted is one station's count.
type BottlesCounted struct {
	Bottling Ref     `key:"bottling,need" label:"Bottling" ref:"bottling"`
	Station  Station `key:"station" label:"Station" words:"fill|close|label|neck label|seal|case" help:"Case, unless told otherwise."`
	Cases    int64   `key:"cases" label:"Full cases"`
	Loose    int64   `key:"loose" label:"Loose bottles"`
	PerCase  int64   `key:"per_case" label:"Bottles in a case" help:"If these cases are not the run's."`
	Note     string  `key:"note" label:"Note"`
	Pallet   string  `key:"pallet" label:"Pallet" maxlen:"40" help:"The mark on it. One that is counted again is asked about."`
}

// A Tallied is a count or a spoil of a run.
type Tallied struct {
	Entry   Address
	Device  string
	On      Moment
	Station Station
	Cases   int64
	Bottles int64  // those in cases too
	Spoiled string // why, "" for good ones
	Pallet  string
}

func (b *BottlesCounted) at() Station {
	if b.Station == "" {
		return "case"
	}
	return b.Station
}

func (b *BottlesCounted) sound(f *faults) {
	if b.Cases == 0 && b.Loose == 0 {
		f.add(fault.Missing, "cases", "", "a count counts something", "give full cases or loose bottles")
	}
}

func (b *BottlesCounted) timely(s *State, f *faults) {
	run := s.bottling(f, b.Bottling)
	if run != nil && b.Cases > 0 && run.caseOf(*b) == 0 {
		f.add(fault.Missing, "per_case", "", "the run does not say how many bottles are in a case", "give the number here")
	}
}

// bottling finds an open bottling, and says why there is none.
func (s *State) bottling(f *faults, a Address) *Bottling {
	r := s.Bottling(a)
	switch {
	case r == nil:
		unknownRef(f, "bottling", a, "bottling")
	case !r.Open():
		f.add(fault.Conflict, "bottling", string(a), "was closed at "+r.Closed.Clock()+" on "+r.Closed.Day(), "open a new run, or void the entry that closed it")
	}
	return r
}

func (b *BottlesCounted) apply(t *turn) {
	if r := t.bottling(b.Bottling); r != nil {
		r.Counts = append(r.Counts, *b)
		t.tally(r, Tallied{Station: b.at(), Cases: b.Cases, Bottles: b.Cases*r.caseOf(*b) + b.Loose, Pallet: b.Pallet})
	}
}

func (t *turn) bottling(a Address) *Bottling {
	r := t.state.bottlings.edit(a)
	if r == nil {
		t.dangling("bottling", a)
		return nil
	}
	if !r.Open() {
		t.ask(CountDisagrees, "It was written for a bottling that was closed before.", nil, r.ClosedBy)
	}
	return r
}

// BottlesSpoiled is what will not be sold.
type BottlesSpoiled struct {
	Bottling   Ref     `key:"bottling,need" label:"Bottling" ref:"bottling"`
	Station    Station `key:"station" label:"Station" words:"fill|close|label|neck label|seal|case"`
	Reason     string  `key:"reason,need" label:"Why" words:"broken|low fill|label|closure|dirt"`
	Bottles    int64   `key:"bottles,need" label:"Bottles"`
	PouredBack bool    `key:"poured_back" label:"The spirit went back to the tank"`
	Note       string  `key:"note" label:"Note"`
}

func (b *BottlesSpoiled) timely(s *State, f *faults) { s.bottling(f, b.Bottling) }

func (b *BottlesSpoiled) apply(t *turn) {
	if r := t.bottling(b.Bottling); r != nil {
		r.Spoils = append(r.Spoils, *b)
		t.tally(r, Tallied{Station: b.Station, Bottles: b.Bottles, Spoiled: b.Reason})
	}
}

// BottlingClosed reconciles a run.
type BottlingClosed struct {
	Bottling Ref `key:"bottling,need" label:"Bottling" ref:"bottling"`
	Gauge
	Empty   bool             `key:"tank_empty" label:"The tank is empty" help:"Instead of the gauge of the heel."`
	Samples quantity.Reading `key:"samples" label:"Samples taken from the line" unit:"mL" min:"0mL" max:"100L"`
	Spilled quantity.Reading `key:"spilled" label:"Known to be spilled" unit:"gal|L" min:"0L" max:"200000L"`
	Cause   Cause            `key:"cause" label:"Book what is missing as" words:"bottling|spill|filtration|measurement|unexplained" help:"Bottling, unless told otherwise."`
	Note    string           `key:"note" label:"Note"`
}

func (b *BottlingClosed) sound(f *faults) {
	switch {
	case b.Empty && !b.None():
		f.add(fault.Conflict, "tank_empty", "yes", "stands beside a gauge of the heel", "give one of the two")
	case !b.Empty:
		b.soundAmount(f)
	}
}

func (b *BottlingClosed) timely(s *State, f *faults) {
	r := s.bottling(f, b.Bottling)
	if r == nil {
		return
	}
	if r.Bottle.IsNone() && r.Good() > 0 {
		f.add(fault.Missing, "bottling", string(b.Bottling), "does not say how large its bottle is", "amend the entry that opened it")
	}
	v := s.Vessel(r.Tank)
	if v == nil || b.Empty {
		return
	}
	heel, faults := b.measure(s, r.Tanked.Shown, v)
	f.list.Add("", faults.Err())
	if heel.Mass > r.Tanked.Mass {
		f.add(fault.TooHigh, "volume", b.Volume.String(), "is more than the tank held when the run was opened", "measure the heel again")
	}
}

func (b *BottlingClosed) apply(t *turn) {
	r := t.bottling(b.Bottling)
	if r == nil || !r.Open() {
		return
	}
	v := t.vessel(r.Tank, "tank")
	if v == nil {
		return
	}
	var heel Gauged
	if !b.Empty {
		var ok bool
		if heel, ok = t.measured(&b.Gauge, r.Tanked.Shown, v); !ok {
			return
		}
	}
	r.Closed, r.ClosedBy = t.now(), t.entry.address
	good, err := t.state.inBottles(r.Bottle, r.Tanked.Shown, r.Good())
	if err != nil {
		t.ask(Dangling, "What the bottles hold cannot be worked out: "+err.Error(), nil)
		return
	}
	t.toProcessing(v)
	left := v.Content.all()
	bottled := v.Content.draw(good.Measure, t.now())
	t.post(Processing, Finished, "", bottled.Parts)
	r.Finished, r.From = bottled.Alcohol, bottled.Parts
	t.aside(v, r, b.Samples, Research, "line")
	t.aside(v, r, b.Spilled, Lost, Spill)
	held := heel
	others := t.onTank(r)
	held.Mass, held.Alcohol = held.Mass+others.Mass, held.Alcohol+others.Alcohol
	r.Missing = v.Content.Alcohol - held.Alcohol
	cause := b.Cause
	if cause == "" {
		cause = InTheLine
	}
	heel.Entry, heel.On = t.entry.address, t.now()
	v.Gauge = heel
	t.settle(v, held, cause)
	if doubt := 2 * math.Hypot(r.Tanked.Doubt, heel.Doubt); math.Abs(float64(r.Missing)) > doubt+halfLegalStep && b.Cause == "" {
		t.ask(CountDisagrees, fmt.Sprintf("%.1f proof gallons of the %.1f that left the tank are in no bottle; the measuring error explains %.1f.",
			r.Missing.ProofGallons(), (left.Alcohol-heel.Alcohol).ProofGallons(), doubt/1e4), nil, r.Address)
	}
	t.begin(Lot{Address: r.Address, Begun: r.Opened, Name: r.Name, Material: Spirit, Class: r.Class, From: r.From, With: r.with(), Amount: int64(r.Finished)})
}

// onTank is what other open runs on the tank of one have in bottles: it left the
// tank and is drawn when they close.
func (t *turn) onTank(r *Bottling) (m Measure) {
	for a, other := range t.state.bottlings.all {
		if a == r.Address || other.Tank != r.Tank || !other.Open() {
			continue
		}
		_, kept := other.Spoiled()
		if g, err := t.state.inBottles(other.Bottle, other.Tanked.Shown, other.Good()+kept); err == nil {
			m.Mass, m.Alcohol = m.Mass+g.Mass, m.Alcohol+g.Alcohol
		}
	}
	return m
}

// aside takes a known volume of the tank's spirit elsewhere.
func (t *turn) aside(v *Vessel, r *Bottling, volume quantity.Reading, to Account, cause Cause) {
	if volume.IsNone() {
		return
	}
	g, err := t.state.inBottles(volume, r.Tanked.Shown, 1)
	if err != nil {
		return
	}
	t.toProcessing(v)
	out := v.Content.draw(g.Measure, t.now())
	t.post(Processing, to, cause, out.Parts)
}

// CasesRemoved takes bottles out of finished goods.
type CasesRemoved struct {
	Bottling Ref    `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Cases    int64  `key:"cases" label:"Cases"`
	Loose    int64  `key:"loose" label:"Loose bottles"`
	Purpose  string `key:"purpose,need" label:"For" words:"sale|tasting room|export|in bond|sample|destroyed|broken|missing"`
	To       string `key:"to" label:"To whom"`
	Document string `key:"document" label:"Serial of the invoice or shipping document"`
	Note     string `key:"note" label:"Note"`

	Customer Ref `key:"customer" label:"Customer" ref:"customer" help:"One who is registered, where the law's records need a name."`
	Pack     Ref `key:"pack" label:"In the gift pack" ref:"pack"`
}

// account is where a removal goes.
func (b *CasesRemoved) account() (Account, Cause) {
	switch b.Purpose {
	case "export":
		return Exported, ""
	case "in bond":
		return InBond, ""
	case "sample":
		return Research, ""
	case "destroyed":
		return Destroyed, ""
	case "broken":
		return Lost, Breakage
	case "missing":
		return Shortage, Unexplained
	}
	return TaxDetermined, Cause(b.Purpose)
}

func (b *CasesRemoved) sound(f *faults) { soundCases(f, b.Cases, b.Loose) }

func soundCases(f *faults, cases, loose int64) {
	if cases == 0 && loose == 0 {
		f.add(fault.Missing, "cases", "", "cases or loose bottles are needed", "give a number")
	}
}

func (b *CasesRemoved) timely(s *State, f *faults) {
	if s.book.Entry(b.Customer) != nil { // a phone that holds no customers takes it as it is
		s.registered(f, "customer", ACustomer, b.Customer)
	}
	r := s.Bottling(b.Bottling)
	switch {
	case r == nil:
		unknownRef(f, "bottling", b.Bottling, "lot of bottles")
	case r.Open():
		f.add(fault.Conflict, "bottling", string(b.Bottling), "is not closed, so its bottles are not finished goods yet", "close the bottling first")
	case b.Cases*r.PerCase+b.Loose > r.Left():
		f.add(fault.TooHigh, "cases", fmt.Sprint(b.Cases*r.PerCase+b.Loose), fmt.Sprintf("is more than the %d bottles left of this lot", r.Left()), "count again, or choose the right lot")
	case b.Pack == "" && b.Cases*r.PerCase+b.Loose > r.Left()-r.Packed:
		f.add(fault.TooHigh, "cases", fmt.Sprint(b.Cases*r.PerCase+b.Loose), fmt.Sprintf("is more than the %d bottles of this lot that are in no gift pack", r.Left()-r.Packed), "name the pack they leave in, or take fewer")
	}
	if b.Pack != "" && s.Pack(b.Pack) == nil {
		unknownRef(f, "pack", b.Pack, "gift pack")
	}
}

func (b *CasesRemoved) apply(t *turn) {
	to, cause := b.account()
	r, n, _ := t.bottles(b.Bottling, b.Cases, b.Loose, 1, to, cause)
	t.unpacked(b.Pack, r, n)
}

// CasesReturned brings bottles back.
type CasesReturned struct {
	Bottling Ref    `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Cases    int64  `key:"cases" label:"Cases"`
	Loose    int64  `key:"loose" label:"Loose bottles"`
	From     string `key:"from" label:"From whom"`
	Why      string `key:"why,need" label:"Why"`
}

func (b *CasesReturned) sound(f *faults) { soundCases(f, b.Cases, b.Loose) }

func (b *CasesReturned) timely(s *State, f *faults) {
	if s.Bottling(b.Bottling) == nil {
		unknownRef(f, "bottling", b.Bottling, "lot of bottles")
	}
}

func (b *CasesReturned) apply(t *turn) {
	t.bottles(b.Bottling, b.Cases, b.Loose, -1, TaxDetermined, "returned")
}

// bottles moves bottles of a closed run between finished goods and elsewhere.
// Their alcohol is the difference of two rounded totals, so that a lot sold one
// bottle at a time comes to exactly what was bottled.
func (t *turn) bottles(lot Address, cases, loose, sign int64, other Account, cause Cause) (r *Bottling, n int64, step Alcohol) {
	if r = t.state.bottlings.edit(lot); r == nil {
		t.dangling("bottling", lot)
		return nil, 0, 0
	}
	n = cases*r.PerCase + loose
	if over := n - r.Left(); sign > 0 && over > 0 {
		t.ask(Overdrawn, fmt.Sprintf("%d bottles more were taken of %s %s than the book says there are.", over, r.Name, lot), nil, lot)
	}
	r.Gone += sign * n
	given := Alcohol(portion(int64(r.Finished), r.Gone, max(r.Good(), 1)))
	step = given - r.Given
	r.Given = given
	t.state.ledger.post(Posting{Entry: t.entry.address, On: t.now(), From: Finished, To: other, Cause: cause, Class: r.Class, Lot: lot, Amount: step})
	return r, n, step
}
