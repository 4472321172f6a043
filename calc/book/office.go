package book

import (
	"fmt"
	"slices"

	"gaugebook/calc/cask"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var officeKinds = []*Kind{
	describe[BookOpened]("book opened", Office, "",
		"The place and the legal convention its book is kept in.", "", "How bare numbers are read and reports are headed."),
	describe[VesselRegistered]("vessel registered", Office, AVessel,
		"A fermenter, still, receiver, tank or barrel gets its name in the book.", "", "It can be chosen wherever a vessel is asked for."),
	describe[InstrumentRegistered]("instrument registered", Office, AnInstrument,
		"A hydrometer, thermometer, scale or other instrument, with its correction and how exactly it reads.", "", "Readings taken with it are corrected, and carry its uncertainty."),
	describe[PersonRegistered]("person registered", Office, APerson,
		"Somebody who writes in the book.", "", "Initials on entries can be read as a name."),
	describe[ProductRegistered]("product registered", Office, AProduct,
		"What is made and sold: its class, the strength on its label, its bottle and its case.", "", "Runs and bottlings can name it."),
	describe[EntryAmended]("entry amended", Office, "",
		"An earlier entry was wrong; this says what it should have said, and why.", "The entry it names.", "The entry acts as amended, in its old place. Both stay readable."),
	describe[EntryVoided]("entry voided", Office, "",
		"An earlier entry should not be there at all; this says why.", "The entry it names.", "The entry no longer acts. Both stay readable."),
	describe[QuestionSettled]("question settled", Office, "",
		"Somebody looked into a question of the book and says what came of it.", "The question.", "The question is answered."),
	describe[MonthClosed]("month closed", Office, "",
		"The month's figures were checked and signed for.", "", "What is told of the month afterwards counts as an adjustment in the first open one."),
}

// BookOpened says what place the book is of.
type BookOpened struct {
	Name       string     `key:"name,need" label:"Name of the distillery"`
	Convention Convention `key:"convention,need" label:"Legal convention" words:"us|metric" help:"us: proof at 60 °F, gallons, pounds. metric: % vol at 20 °C, litres, kilograms."`
	Plant      string     `key:"plant" label:"Plant or permit number" help:"As the regulator writes it; stands on reports."`
}

func (b *BookOpened) apply(t *turn) {
	t.state.house = House{Convention: b.Convention, Name: b.Name, Plant: b.Plant, Opened: t.entry.address}
}

// A VesselUse is what a vessel is for.
type VesselUse string

// The uses of vessels.
const (
	Fermenter     VesselUse = "fermenter"
	Still         VesselUse = "still"
	Receiver      VesselUse = "receiver"
	Tank          VesselUse = "tank"
	Barrel        VesselUse = "barrel"
	BottlingTank  VesselUse = "bottling tank"
	SmallCask     VesselUse = "cask"
	PortableTotes VesselUse = "tote"
)

// VesselRegistered gives a vessel its name in the book.
type VesselRegistered struct {
	Name       string           `key:"name,need" label:"Name" help:"As it is painted on the vessel."`
	Use        VesselUse        `key:"use,need" label:"What it is for" words:"fermenter|still|receiver|tank|barrel|bottling tank|cask|tote"`
	Capacity   quantity.Reading `key:"capacity,need" label:"Capacity" unit:"gal|L" min:"0.1L" max:"200000L" help:"To the brim."`
	Tare       quantity.Reading `key:"tare" label:"Empty weight" unit:"lb|kg" min:"0kg" max:"100000kg"`
	Serial     string           `key:"serial" label:"Serial number"`
	Cooperage  string           `key:"cooperage" label:"Cooperage" words:"charred new|recharred|plain new|reused|paraffined|none" help:"For wood: how the inside is made (27 CFR 19.618)."`
	Wood       string           `key:"wood" label:"Wood" help:"American oak, chestnut; the cooper, if you like."`
	Char       string           `key:"char" label:"Char or toast" help:"Of a cask: char 3, medium toast."`
	Fills      int64            `key:"fills" label:"Fills before" help:"Of a cask: how often it was filled before this book."`
	Location   string           `key:"location" label:"Where it stands"`
	Row        string           `key:"row" label:"Row" help:"Of a cask: as it is marked in the store."`
	Tier       string           `key:"tier" label:"Tier" help:"Of a cask: counted from the floor."`
	DipHalf    quantity.Reading `key:"half_width" label:"How exactly its volume reads, ±" unit:"gal|L" min:"0L" max:"1000L" help:"Half the distance between two marks you can tell apart."`
	TrueLevels string           `key:"note" label:"Note"`
}

// Wooden reports whether spirit ages in the vessel.
func (v *VesselRegistered) Wooden() bool {
	return (v.Use == Barrel || v.Use == SmallCask) && v.Cooperage != "paraffined" && v.Cooperage != "none"
}

func (b *VesselRegistered) apply(t *turn) {
	t.state.vessels.put(t.entry.address, &Vessel{Address: t.entry.address, VesselRegistered: *b})
}

// InstrumentRegistered puts an instrument in the register.
type InstrumentRegistered struct {
	Name        string           `key:"name,need" label:"Name" help:"As it is marked: 'H2, 185 to 206'."`
	Type        string           `key:"type,need" label:"Type" words:"hydrometer|thermometer|scale|refractometer|pH meter|gauge glass|meter"`
	Basis       string           `key:"basis" label:"Graduated at" words:"60F|20C|15C" help:"The temperature a hydrometer reads true at."`
	Correction  quantity.Reading `key:"correction" label:"Correction" unit:"proof|F|C|lb|kg|Bx|sg|pH|%" min:"-5proof|-5%|-5C|-10F|-5kg|-5Bx|-0.1sg|-2pH" max:"5proof|5%|5C|10F|5kg|5Bx|0.1sg|2pH" help:"What its certificate says to add to every reading. Give the unit."`
	HalfWidth   quantity.Reading `key:"half_width" label:"How exactly it reads, ±" unit:"proof|F|C|lb|kg|Bx|sg|pH|%" min:"0proof|0%|0C|0F|0kg|0Bx|0sg|0pH" max:"10proof|5%|5C|10F|100kg|5Bx|0.1sg|2pH" help:"Usually half its smallest graduation. Give the unit."`
	Checked     Day              `key:"checked" label:"Last checked"`
	CheckEvery  quantity.Reading `key:"check_every" label:"Check again after" unit:"d" min:"1d" max:"3660d"`
	Certificate string           `key:"certificate" label:"Certificate or serial number"`
	Graduation  quantity.Reading `key:"graduation" label:"Smallest graduation" unit:"proof|F|C|lb|kg|Bx|sg|pH|%" min:"0proof|0%|0C|0F|0kg|0Bx|0sg|0pH" max:"20proof|10%|10C|20F|200kg|10Bx|0.2sg|4pH" help:"From one mark to the next. Give the unit. Half of it is how exactly it reads, unless told otherwise."`
}

func (b *InstrumentRegistered) apply(t *turn) { t.register(AnInstrument, b.Name, b) }

// PersonRegistered names somebody who writes in the book.
type PersonRegistered struct {
	Name     string `key:"name,need" label:"Name"`
	Initials string `key:"initials,need" label:"Initials"`
	Duty     string `key:"duty" label:"Duty" words:"owner|distiller|cellar hand|counter|reader"`
}

func (b *PersonRegistered) apply(t *turn) { t.register(APerson, b.Name, b) }

// ProductRegistered describes what is made and sold.
type ProductRegistered struct {
	Name     string           `key:"name,need" label:"Name"`
	Class    SpiritClass      `key:"class,need" label:"Class" words:"whisky|brandy|rum|gin|vodka|alcohol and neutral spirits|other"`
	Strength quantity.Reading `key:"strength" label:"Strength on the label" unit:"proof|%" min:"0proof|0%" max:"200proof|100%"`
	Bottle   quantity.Reading `key:"bottle" label:"Bottle or can" unit:"mL" min:"1mL" max:"10L"`
	PerCase  int64            `key:"per_case" label:"Bottles in a case"`
	Formula  string           `key:"formula" label:"Formula number"`
	Approval string           `key:"approval" label:"Label approval"`
	Goods    []ProductGood    `key:"goods" label:"Dry good" help:"What each bottle or case takes: glass, closure, labels, seal, carton. A run then says what it will be short of."`
}

func (b *ProductRegistered) apply(t *turn) { t.register(AProduct, b.Name, b) }

// QuestionSettled answers a question of the book.
type QuestionSettled struct {
	Question string `key:"question,need" label:"Question"`
	Answer   string `key:"answer,need" label:"What came of it" words:"corrected|acknowledged|not so"`
	Why      string `key:"why,need" label:"In words" help:"What was found. It stays readable for ever."`
}

func (b *QuestionSettled) apply(t *turn) {
	if t.state.answers == nil {
		t.state.answers = map[string]Address{}
	}
	t.state.answers[b.Question] = t.entry.address
}

// MonthClosed says that a month's figures were checked, and keeps them: what
// was signed for stays as it was signed. Whatever the book learns afterwards of
// the month counts as an adjustment in the first open one.
type MonthClosed struct {
	Month   string       `key:"month,need" label:"Month" help:"Year and month: 2026-10."`
	Digest  string       `key:"digest,need" label:"Digest of the figures" help:"Worked out by the book when it is closed."`
	Figures []ClosedFlow `key:"figures" label:"Figures" help:"What moved between the accounts, as it was signed for."`
	Note    string       `key:"note" label:"Note"`
}

// A ClosedFlow is all that moved between two accounts in a closed month, of one
// kind of spirits.
type ClosedFlow struct {
	From   Account          `key:"from,need" label:"From" words:"produced|received|gained|distilling|production|storage|processing|finished|tax determined|transferred in bond|exported|free of tax|research and samples|destroyed|lost|shortage"`
	To     Account          `key:"to,need" label:"To" words:"produced|received|gained|distilling|production|storage|processing|finished|tax determined|transferred in bond|exported|free of tax|research and samples|destroyed|lost|shortage"`
	Kind   string           `key:"kind,need" label:"Kind of spirits"`
	Amount quantity.Reading `key:"amount,need" label:"Proof gallons" unit:"gal" max:"100000000gal"`
}

func (b *MonthClosed) sound(f *faults) {
	if len(b.Month) != 7 || NextMonth(b.Month) < b.Month || !addressLike("m-1"+b.Month[5:]) {
		f.add(fault.NotOneOf, "month", b.Month, "is not a month such as 2026-10", "choose a month")
	}
}

func (b *MonthClosed) timely(s *State, f *faults) {
	if by := s.closed[b.Month]; by != "" {
		f.add(fault.Conflict, "month", b.Month, "was closed already by "+string(by), "enter what came later in the open month")
	}
}

func (b *MonthClosed) apply(t *turn) {
	if t.state.closed == nil {
		t.state.closed = map[string]Address{}
	}
	if by := t.state.closed[b.Month]; by != "" {
		t.ask(Twice, "The month "+b.Month+" was closed before.", proposeVoid(t.entry.address, "closed twice"), by)
		return
	}
	t.state.closed[b.Month] = t.entry.address
}

// Closed lists what the months that are closed were signed for, by month.
func (s *State) Closed() map[string]*MonthClosed {
	out := make(map[string]*MonthClosed, len(s.closed))
	for month, by := range s.closed {
		body, _, _, _ := s.book.Effective(s.book.Entry(by))
		if c, ok := body.(*MonthClosed); ok {
			out[month] = c
		}
	}
	return out
}

// ClosedBy is the entry that closed a month, "" while it is open.
func (s *State) ClosedBy(month string) Address { return s.closed[month] }

// Vessel finds a vessel, nil where the book has none by that address.
func (s *State) Vessel(a Address) *Vessel { return s.vessels.get(a) }

// Vessels ranges over all vessels in the order they were registered.
func (s *State) Vessels(yield func(Address, *Vessel) bool) { s.vessels.all(yield) }

// A Vessel is a vessel with what it holds.
type Vessel struct {
	VesselRegistered
	Address    Address
	Content    Content
	Gauge      Gauged      // the last gauge, zero where it never was
	Rest       Rest        // what it was left to, zero for none
	Infused    Infused     // what steeps in it, zero for nothing
	Found      Solids      // what was last found dissolved in it, zero where nobody looked
	Aged       Aged        // what its wood did to its spirit
	Reducing   Reducing    // its reduction, zero where none is planned
	Table      *cask.Table // its own table of dips, nil for none
	Calibrated Address     // the entry that gave it, "" for none
	Retired    Address     // the entry that took it out of use, "" while it is in use
	History    []Address   // entries that changed what it holds
}

func (v *Vessel) copied() Vessel {
	c := *v
	c.Content.Parts = slices.Clone(v.Content.Parts)
	return c
}

// vessel gives a vessel to change, and asks where the book has none.
func (t *turn) vessel(a Address, field string) *Vessel {
	v := t.state.vessels.edit(a)
	if v == nil {
		t.dangling(field, a)
		return nil
	}
	v.History = append(v.History, t.entry.address)
	v.ripen(t.now())
	t.touched = append(t.touched, v)
	return v
}

func (t *turn) dangling(field string, a Address) {
	t.ask(Dangling, fmt.Sprintf("Its %s is %s, which the book does not hold (yet).", field, a), nil)
}

// unknownRef is the fault of an address that names nothing of its class.
func unknownRef(f *faults, field string, a Address, what string) {
	f.add(fault.Unknown, field, string(a), "is not a "+what+" of this book", "choose one from the list, or register it first")
}
