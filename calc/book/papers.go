package book

import (
	"fmt"
	"strings"
	"time"

	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

var paperKinds = []*Kind{
	describe[InstrumentChecked]("instrument checked", Office, "",
		"An instrument was held against a standard.", "The instrument.", "Its correction and its next check; readings before this keep the old one."),
	describe[CustomerRegistered]("customer registered", Office, ACustomer,
		"Somebody who buys, where the law's records need a name.", "", "Removals can name them."),
	describe[DeviceNamed]("device named", Office, ADevice,
		"Whose phone writes under a name, and what it may do.", "", "Addresses can be read as a person's."),
	describe[RegistrationEnded]("registration ended", Office, "",
		"An instrument, person, product, good, recipe, supplier or customer is no longer used.", "Its registration.", "It is no longer offered. Nothing it did changes."),
	describe[ReportFiled]("report filed", Office, "",
		"A monthly report was sent.", "The month.", "It is no longer due."),
	describe[ReturnFiled]("return filed", Office, "",
		"A tax return was sent, and perhaps paid.", "", "It is no longer due."),
	describe[CostNoted]("cost noted", Office, "",
		"Hours, energy or money that went into something.", "What it went into, if one thing.", "It counts in the cost of what it went into."),
	describe[RecallTried]("recall tried", Office, "",
		"A recall was tried out: a lot, how long it took to find it all, what was found.", "The lot.", "Stands in the list of recalls."),
	describe[ClockDoubted]("clock doubted", Office, "",
		"A device's clock was not the office's. The device writes this by itself.", "The entries it wrote meanwhile.", "Those entries are marked, and their times asked about."),
	describe[TableLoaded]("table loaded", Office, "",
		"A part of the owner's printed Table 1 of the gauging manual was typed in.", "", "True proof is read from it wherever it has the cells (27 CFR 30.23)."),
}

// InstrumentChecked is an instrument held against a standard.
type InstrumentChecked struct {
	Instrument  Ref              `key:"instrument,need" label:"Instrument" ref:"instrument"`
	Found       string           `key:"found,need" label:"Found" words:"fit|fit with a new correction|not fit"`
	Correction  quantity.Reading `key:"correction" label:"Correction from now on" unit:"proof|F|C|lb|kg|Bx|sg|pH|%" min:"-5proof|-5%|-5C|-10F|-5kg|-5Bx|-0.1sg|-2pH" max:"5proof|5%|5C|10F|5kg|5Bx|0.1sg|2pH" help:"What to add to every reading. Give the unit."`
	Against     string           `key:"against" label:"Held against" help:"Ice water, a certified hydrometer, a test weight."`
	Certificate string           `key:"certificate" label:"Certificate"`
	Note        string           `key:"note" label:"Note"`
}

func (b *InstrumentChecked) sound(f *faults) {
	if b.Found == "fit with a new correction" && b.Correction.IsNone() {
		f.add(fault.Missing, "correction", "", "the new correction is needed", "say what to add to every reading")
	}
}

func (b *InstrumentChecked) timely(s *State, f *faults) {
	s.registered(f, "instrument", AnInstrument, b.Instrument)
}

func (b *InstrumentChecked) apply(t *turn) {
	r := t.state.registers.edit(b.Instrument)
	if r == nil || r.Class != AnInstrument {
		t.dangling("instrument", b.Instrument)
		return
	}
	now := *r.Body.(*InstrumentRegistered)
	now.Checked = Day(t.now().Day())
	if !b.Correction.IsNone() {
		now.Correction = b.Correction
	}
	if b.Certificate != "" {
		now.Certificate = b.Certificate
	}
	r.Body, r.Retired = &now, r.Retired || b.Found == "not fit"
}

// CustomerRegistered names a buyer.
type CustomerRegistered struct {
	Name   string `key:"name,need" label:"Name"`
	Place  string `key:"place" label:"Place" help:"Only what the law's records need."`
	Permit string `key:"permit" label:"Permit or plant number"`
	Type   string `key:"type" label:"What they are" words:"wholesaler|shop|restaurant|plant|abroad|other"`
}

func (b *CustomerRegistered) apply(t *turn) { t.register(ACustomer, b.Name, b) }

// DeviceNamed says whose device writes under a name.
type DeviceNamed struct {
	Device string `key:"device,need" label:"Device" help:"Its word and number: heron41."`
	Person Ref    `key:"person" label:"Whose" ref:"person"`
	Duty   string `key:"duty" label:"What it may do" words:"owner|distiller|cellar hand|counter|reader"`
	Lent   bool   `key:"lent" label:"Borrowed" help:"It leaves when its shift is over."`
	Note   string `key:"note" label:"Note"`
}

func (b *DeviceNamed) timely(s *State, f *faults) { s.registered(f, "person", APerson, b.Person) }

func (b *DeviceNamed) apply(t *turn) { t.register(ADevice, b.Device, b) }

// DeviceOf is the last word on a device, nil where it was never named.
func (s *State) DeviceOf(device string) *DeviceNamed {
	var out *DeviceNamed
	for _, r := range s.Register(ADevice) {
		if d := r.Body.(*DeviceNamed); d.Device == device {
			out = d
		}
	}
	return out
}

// RegistrationEnded takes something out of the register.
type RegistrationEnded struct {
	Entry Ref    `key:"entry,need" label:"What is no longer used" ref:"entry"`
	Why   string `key:"why,need" label:"Why"`
}

func (b *RegistrationEnded) timely(s *State, f *faults) {
	if s.registers.get(b.Entry) == nil {
		unknownRef(f, "entry", b.Entry, "registration")
	}
}

func (b *RegistrationEnded) apply(t *turn) {
	if r := t.state.registers.edit(b.Entry); r != nil {
		r.Retired = true
	} else {
		t.dangling("registration", b.Entry)
	}
}

// ReportFiled is a monthly report that was sent.
type ReportFiled struct {
	Form    string `key:"form,need" label:"Form" words:"5110.40|5110.11|5110.28|5110.43|state|other"`
	Month   string `key:"month,need" label:"Month" help:"Year and month: 2026-10."`
	Amended bool   `key:"amended" label:"Amended" help:"It replaces one that was sent before."`
	Digest  string `key:"digest" label:"Digest of the figures" help:"Worked out by the book."`
	Way     string `key:"way" label:"How it was sent" words:"online|mail|by hand"`
	Number  string `key:"number" label:"Number of the receipt"`
	Note    string `key:"note" label:"Note"`
}

func (b *ReportFiled) sound(f *faults) { soundMonth(f, b.Month) }

func soundMonth(f *faults, m string) { (&MonthClosed{Month: m}).sound(f) }

// A Filing is a report that was sent.
type Filing struct {
	Entry Address
	On    Moment
	*ReportFiled
}

// Filings lists the reports that were sent, in book order.
func (s *State) Filings() []Filing { return s.notes.filings }

func (b *ReportFiled) apply(t *turn) {
	t.state.notes.filings = append(t.state.notes.filings, Filing{t.entry.address, t.now(), b})
}

// ReturnFiled is a tax return that was sent.
type ReturnFiled struct {
	From   Day              `key:"from,need" label:"First day it is for"`
	To     Day              `key:"to,need" label:"Last day it is for"`
	Serial string           `key:"serial" label:"Serial number" help:"From 1 in each year."`
	Amount quantity.Reading `key:"amount,need" label:"Tax" unit:"USD|EUR" min:"0USD|0EUR" max:"100000000USD|100000000EUR"`
	Paid   Day              `key:"paid" label:"Paid on"`
	Number string           `key:"number" label:"Number of the receipt"`
	Note   string           `key:"note" label:"Note"`
}

func (b *ReturnFiled) sound(f *faults) {
	if b.To < b.From {
		f.add(fault.Conflict, "to", string(b.To), "is before the first day", "check both days")
	}
}

// A Return is a tax return that was sent.
type Return struct {
	Entry Address
	On    Moment
	*ReturnFiled
}

// Returns lists the tax returns that were sent, in book order.
func (s *State) Returns() []Return { return s.notes.returns }

func (b *ReturnFiled) apply(t *turn) {
	t.state.notes.returns = append(t.state.notes.returns, Return{t.entry.address, t.now(), b})
}

// CostNoted is money or hours that went into something.
type CostNoted struct {
	What  string           `key:"what,need" label:"What" words:"hours|energy|water|freight|laboratory|rent of equipment|fees|other"`
	Hours quantity.Reading `key:"hours" label:"Hours" unit:"h" min:"0h" max:"2000h"`
	Money quantity.Reading `key:"money" label:"Money" unit:"USD|EUR" min:"0USD|0EUR" max:"10000000USD|10000000EUR"`
	Into  Ref              `key:"into" label:"Into" ref:"entry" help:"The run, the mash, the bottling or the lot it went into."`
	Note  string           `key:"note" label:"Note"`

	Energy quantity.Reading `key:"energy" label:"Energy" unit:"kWh" min:"0kWh" max:"10000000kWh" help:"Off the meter: kWh, MJ or therm."`
	Each   quantity.Reading `key:"each" label:"Price of one hour, or of one unit of energy" unit:"USD|EUR" min:"0USD|0EUR" max:"100000USD|100000EUR" help:"Instead of the money."`
}

func (b *CostNoted) sound(f *faults) {
	switch {
	case b.Hours.IsNone() && b.Money.IsNone() && b.Energy.IsNone():
		f.add(fault.Missing, "money", "", "a cost has hours, energy or money", "give one of them at least")
	case b.Each.IsNone():
	case !b.Money.IsNone():
		f.add(fault.Conflict, "each", b.Each.String(), "stands beside the money", "give the money, or the price of one")
	case b.Hours.IsNone() == b.Energy.IsNone():
		f.add(fault.Conflict, "each", b.Each.String(), "is the price of one, and it is not clear of what", "give hours or energy, not both, and the price of one")
	}
}

// Worth is what it cost: the money, or the hours or the energy at the price of
// one; none where neither was told.
func (b *CostNoted) Worth() quantity.Reading {
	switch {
	case !b.Money.IsNone() || b.Each.IsNone():
		return b.Money
	case !b.Hours.IsNone():
		return quantity.FromDecimal(b.Each.Decimal().Mul(quantity.Snap(b.Hours.In(quantity.Hour))), b.Each.Unit())
	}
	return quantity.FromDecimal(b.Each.Decimal().Mul(b.Energy.Decimal()), b.Each.Unit())
}

func (b *CostNoted) timely(s *State, f *faults) {
	if b.Into != "" && s.book.Entry(b.Into) == nil {
		unknownRef(f, "into", b.Into, "entry")
	}
}

// A Cost is what went into something.
type Cost struct {
	Entry Address
	On    Moment
	*CostNoted
}

// Costs lists what was noted, in book order.
func (s *State) Costs() []Cost { return s.notes.costs }

func (b *CostNoted) apply(t *turn) {
	t.state.notes.costs = append(t.state.notes.costs, Cost{t.entry.address, t.now(), b})
}

// RecallTried is a mock recall.
type RecallTried struct {
	Lot     Ref              `key:"lot,need" label:"Lot" ref:"lot"`
	Took    quantity.Reading `key:"took,need" label:"How long it took" unit:"min" min:"0min" max:"100000min"`
	Found   int64            `key:"found" label:"Bottles found"`
	Missing int64            `key:"missing" label:"Bottles not found"`
	Outcome string           `key:"outcome,need" label:"What came of it"`
}

func (b *RecallTried) timely(s *State, f *faults) { s.vesselOrLot(f, "", b.Lot) }

// A Recall is one that was tried.
type Recall struct {
	Entry Address
	On    Moment
	*RecallTried
}

// Recalls lists the recalls that were tried, in book order.
func (s *State) Recalls() []Recall { return s.notes.recalls }

func (b *RecallTried) apply(t *turn) {
	if t.state.lots.get(b.Lot) == nil {
		t.dangling("lot", b.Lot)
	}
	t.state.notes.recalls = append(t.state.notes.recalls, Recall{t.entry.address, t.now(), b})
}

// TableLoaded is a part of a printed Table 1. The whole table is more than one
// entry holds; the parts of several add up.
type TableLoaded struct {
	Source string     `key:"source" label:"Copied from" help:"The edition and its pages."`
	Rows   []TableRow `key:"rows,need" label:"Rows"`
}

// A TableRow is a row of the table, from one temperature on.
type TableRow struct {
	Reading int64  `key:"reading" label:"Hydrometer reading" help:"Whole degrees of proof."`
	From    int64  `key:"from" label:"First temperature" help:"Whole °F."`
	Proofs  string `key:"proofs,need" label:"True proofs" maxlen:"800" help:"One for each degree from there on, with spaces between."`
}

// csv writes the rows as spirit.ParseTable reads them.
func (b *TableLoaded) csv() string {
	var out strings.Builder
	for _, r := range b.Rows {
		for i, proof := range strings.Fields(r.Proofs) {
			fmt.Fprintf(&out, "%d,%d,%s\n", r.Reading, r.From+int64(i), proof)
		}
	}
	return out.String()
}

func (b *TableLoaded) sound(f *faults) {
	if _, err := spirit.ParseTable(strings.NewReader(b.csv())); err != nil {
		f.list.Add("rows", err)
	}
}

func (b *TableLoaded) timely(s *State, f *faults) {
	if _, err := spirit.ParseTable(strings.NewReader(s.notes.table + b.csv())); err != nil {
		f.list.Add("rows", err)
	}
}

func (b *TableLoaded) apply(t *turn) {
	whole := t.state.notes.table + b.csv()
	table, err := spirit.ParseTable(strings.NewReader(whole))
	if err != nil {
		t.ask(Dangling, "A part of the printed table is left out: "+err.Error(), nil)
		return
	}
	t.state.table, t.state.notes.table = table, whole
}

// Table is the owner's printed Table 1, nil where none was typed in.
func (s *State) Table() *spirit.Table { return s.table }

// notes are the entries that only stand in lists.
type notes struct {
	results      []Result
	tastings     []Tasting
	inventories  []Inventory
	filings      []Filing
	returns      []Return
	costs        []Cost
	recalls      []Recall
	carbonations []Carbonation
	declined     []Declined
	rates        []duty.Schedule
	shares       []yearShare
	table        string // the printed table as CSV
	told         recent
	clocks       []ClockDoubt
}

func (n *notes) copy() notes {
	c := *n
	c.results = n.results[:len(n.results):len(n.results)]
	c.tastings = n.tastings[:len(n.tastings):len(n.tastings)]
	c.inventories = n.inventories[:len(n.inventories):len(n.inventories)]
	c.filings = n.filings[:len(n.filings):len(n.filings)]
	c.returns = n.returns[:len(n.returns):len(n.returns)]
	c.costs = n.costs[:len(n.costs):len(n.costs)]
	c.clocks = n.clocks[:len(n.clocks):len(n.clocks)]
	c.recalls = n.recalls[:len(n.recalls):len(n.recalls)]
	c.declined = n.declined[:len(n.declined):len(n.declined)]
	c.rates = n.rates[:len(n.rates):len(n.rates)]
	c.shares = n.shares[:len(n.shares):len(n.shares)]
	c.carbonations = n.carbonations[:len(n.carbonations):len(n.carbonations)]
	return c
}

// dayOf is a calendar day as a time at its start, UTC; ok is false for none.
func dayOf(d Day) (time.Time, bool) {
	t, err := time.Parse(time.DateOnly, string(d))
	return t, err == nil
}
