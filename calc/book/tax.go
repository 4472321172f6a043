package book

import (
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/duty"
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var taxKinds = []*Kind{
	describe[TaxRateChanged]("tax rate changed", Office, "",
		"The rates of tax on a proof gallon from a day on, with the law they stand in.", "", "They are used instead of the built-in ones for what is removed from that day on."),
	describe[GroupShareAgreed]("group share agreed", Office, "",
		"What of each reduced rate a controlled group leaves to this operation in a year (26 USC 5001(c)).", "", "The tiers of that year end there."),
	describe[GroupingDefined]("grouping defined", Office, AGrouping,
		"A line of somebody's return, a state's for the most part: which of the removals it counts, in what, and at what rate.", "", "It stands on the tax page, filled in."),
}

// TaxRateChanged is a schedule of rates.
type TaxRateChanged struct {
	From   Day       `key:"from,need" label:"In force from"`
	Until  Day       `key:"until" label:"To" help:"Its last day, if the law names one."`
	Source string    `key:"source,need" label:"The law and its section"`
	Tiers  []TaxTier `key:"tiers,need" label:"Rates" help:"From the first proof gallon of a year on; the last without an end."`
	Note   string    `key:"note" label:"Note"`
}

// A TaxTier is a part of a year's removals with its rate.
type TaxTier struct {
	UpTo quantity.Reading `key:"up_to" label:"Up to so many proof gallons in the year" unit:"gal" min:"1gal" max:"1000000000gal"`
	Rate quantity.Reading `key:"rate,need" label:"On a proof gallon" unit:"USD" min:"0USD" max:"1000USD"`
}

// schedule is the entry as rates.
func (b *TaxRateChanged) schedule(read string) duty.Schedule {
	from, _ := dayOf(b.From)
	until, _ := dayOf(b.Until)
	s := duty.Schedule{From: from, Until: until}
	for _, t := range b.Tiers {
		upTo := decimal.Zero
		if !t.UpTo.IsNone() {
			upTo = t.UpTo.Decimal()
		}
		s.Tiers = append(s.Tiers, duty.Tier{UpTo: upTo, Rate: t.Rate.Decimal(), Source: b.Source, Read: read})
	}
	return s
}

func (b *TaxRateChanged) sound(f *faults) {
	if b.Until != "" && b.Until < b.From {
		f.add(fault.Conflict, "until", string(b.Until), "is before the first day", "check both days")
	}
	for i, t := range b.Tiers {
		last := i == len(b.Tiers)-1
		switch {
		case last && !t.UpTo.IsNone():
			f.add(fault.Conflict, "tiers", t.UpTo.String(), "ends the last rate, and what is removed beyond it has none", "leave its end empty, or add the rate beyond it")
		case !last && t.UpTo.IsNone():
			f.add(fault.Missing, "tiers", "", "a rate with another after it needs its end", "say up to how many proof gallons it counts")
		case i > 0 && !last && t.UpTo.Base() <= b.Tiers[i-1].UpTo.Base():
			f.add(fault.Conflict, "tiers", t.UpTo.String(), "does not rise above the one before it", "list the rates from the first proof gallon on")
		}
	}
}

func (b *TaxRateChanged) apply(t *turn) {
	var f faults
	if b.sound(&f); len(f.list) > 0 { // it came in spite of its faults
		t.ask(Dangling, "These rates of tax are left out: "+f.list[0].Error(), nil)
		return
	}
	t.state.notes.rates = append(t.state.notes.rates, b.schedule("entry "+string(t.entry.address)))
}

// TaxRates are the rates of the law as built in, and those of the book after
// them: the last that covers a day is in force on it.
func (s *State) TaxRates() []duty.Schedule { return append(duty.Rates(), s.notes.rates...) }

// GroupShareAgreed is what a controlled group leaves to this operation.
type GroupShareAgreed struct {
	Year   string       `key:"year,need" label:"Calendar year" help:"2026."`
	Shares []GroupShare `key:"shares,need" label:"Of each reduced rate" help:"From the lowest rate on."`
	Source string       `key:"source" label:"The paper it stands in"`
}

// A GroupShare is what of one reduced rate is left.
type GroupShare struct {
	Share quantity.Reading `key:"share,need" label:"Proof gallons" unit:"gal" min:"0gal" max:"1000000000gal"`
}

func (b *GroupShareAgreed) sound(f *faults) {
	if _, err := time.Parse("2006", b.Year); err != nil {
		f.add(fault.NotOneOf, "year", b.Year, "is not a year such as 2026", "write the year in four digits")
		return
	}
	for _, x := range duty.Rates() {
		if most := len(x.Tiers) - 1; len(b.Shares) > most && x.Until.IsZero() {
			f.add(fault.TooHigh, "shares", strconv.Itoa(len(b.Shares)), "is more than the "+strconv.Itoa(most)+" reduced rates there are", "give one for each")
		}
	}
}

func (b *GroupShareAgreed) apply(t *turn) {
	shares := make([]decimal.Decimal, len(b.Shares))
	for i, x := range b.Shares {
		shares[i] = x.Share.Decimal()
	}
	t.state.notes.shares = append(t.state.notes.shares, yearShare{b.Year, shares})
}

type yearShare struct {
	year   string
	shares []decimal.Decimal
}

// GroupShare is what was last agreed for a year, nil for all of it.
func (s *State) GroupShare(year string) []decimal.Decimal {
	var out []decimal.Decimal
	for _, x := range s.notes.shares {
		if x.year == year {
			out = x.shares
		}
	}
	return out
}

// GroupingDefined is a line of somebody's return.
type GroupingDefined struct {
	Name     string           `key:"name,need" label:"Name of the line" help:"As the state's form has it."`
	Per      duty.Measure     `key:"per,need" label:"Counted in" words:"proof gallons|wine gallons|litres|bottles"`
	Products []GroupedProduct `key:"products" label:"Products" help:"None: all of them."`
	Classes  []GroupedClass   `key:"classes" label:"Classes" help:"None: all of them."`
	Purposes []GroupedPurpose `key:"purposes" label:"Left for" help:"None: for whatever reason."`
	Places   []GroupedPlace   `key:"places" label:"Destinations" help:"None: wherever it went."`
	Rate     quantity.Reading `key:"rate" label:"Rate for one of them" unit:"USD|EUR" min:"0USD|0EUR" max:"100000USD|100000EUR"`
	From     Day              `key:"from" label:"Counted from"`
	Source   string           `key:"source" label:"Where it is asked for"`
}

// GroupedProduct, GroupedClass, GroupedPurpose and GroupedPlace are what a line
// counts.
type (
	GroupedProduct struct {
		Product Ref `key:"product,need" label:"Product" ref:"product"`
	}
	GroupedClass struct {
		Class SpiritClass `key:"class,need" label:"Class" words:"whisky|brandy|rum|gin|vodka|alcohol and neutral spirits|other"`
	}
	GroupedPurpose struct {
		Purpose duty.Purpose `key:"purpose,need" label:"For" words:"sale|tasting room|export|in bond|sample|destroyed|broken|missing"`
	}
	GroupedPlace struct {
		Place string `key:"place,need" label:"Place, or to whom" help:"A place as customers are registered with it, or to whom as a removal has it."`
	}
)

func (b *GroupingDefined) timely(s *State, f *faults) {
	for _, p := range b.Products {
		s.registered(f, "products", AProduct, p.Product)
	}
}

func (b *GroupingDefined) apply(t *turn) { t.register(AGrouping, b.Name, b) }
