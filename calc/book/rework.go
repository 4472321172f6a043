package book

import (
	"fmt"
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

var reworkKinds = []*Kind{
	describe[FillChecked]("fill checked", BottlingFloor, "",
		"A few bottles off the line were weighed, and the strength was read (27 CFR 19.356, 19.600).", "A bottling.", "A line in the run's fill record; a bottle outside its limits is asked about."),
	describe[BottlesDumped]("bottles dumped", BottlingFloor, "",
		"Finished bottles were opened and poured back into a tank.", "A closed bottling; the tank.", "Their alcohol goes from finished goods to processing."),
}

// FillChecked is a sample off the line.
type FillChecked struct {
	Bottling Ref           `key:"bottling,need" label:"Bottling" ref:"bottling"`
	Line     string        `key:"line" label:"Line or head"`
	Bottles  []BottleFound `key:"bottles" label:"Bottles"`
	Gauge
	Density quantity.Reading `key:"density" label:"Density in vacuo, where there is sugar in it" unit:"kg/m3" min:"780kg/m3" max:"1400kg/m3" help:"At 60 °F in a US book, 20 °C in a metric one. The strength alone does not say what a liqueur weighs."`
	Action  string           `key:"action" label:"What was done" words:"nothing|set again|stopped and set again|set aside"`
	Note    string           `key:"note" label:"Note"`
}

// A BottleFound is one bottle off the line: weighed empty and full, or poured
// out and measured at the base temperature.
type BottleFound struct {
	Head   string           `key:"head" label:"Filling head"`
	Empty  quantity.Reading `key:"empty" label:"Empty weight" unit:"g" min:"0g" max:"20kg"`
	Full   quantity.Reading `key:"full" label:"Full weight" unit:"g" min:"0g" max:"40kg"`
	Volume quantity.Reading `key:"volume" label:"or volume poured out" unit:"mL" min:"0mL" max:"20L" help:"At 60 °F in a US book, 20 °C in a metric one, unless its temperature is given."`
	Temp   quantity.Reading `key:"volume_temp" label:"Temperature of what was poured out" unit:"F|C" min:"-20C" max:"40C"`
}

func (b *FillChecked) sound(f *faults) {
	if len(b.Bottles) == 0 && b.Indicated.IsNone() && b.Strength.IsNone() {
		f.add(fault.Missing, "bottles", "", "a check finds something", "weigh a few bottles, or read the strength")
	}
	for i, x := range b.Bottles {
		path := fmt.Sprintf("bottles[%d].", i+1)
		switch {
		case x.Volume.IsNone() && (x.Empty.IsNone() || x.Full.IsNone()):
			f.add(fault.Missing, path+"full", x.Full.String(), "both weights of the bottle are needed", "weigh it empty and full, or pour it out and measure")
		case x.Volume.IsNone() && x.Full.Base() <= x.Empty.Base():
			f.add(fault.TooLow, path+"full", x.Full.String(), "is not more than the empty bottle", "weigh it again")
		case !x.Volume.IsNone() && !x.Full.IsNone():
			f.add(fault.Conflict, path+"volume", x.Volume.String(), "stands beside weights", "give the one that was measured")
		}
	}
	b.soundStrength(f)
}

func (b *FillChecked) timely(s *State, f *faults) {
	s.knownBottling(f, b.Bottling)
	_, _, err := b.TrueStrength(s)
	f.list.Add("indicated", err)
}

// A FillFound is a check with what it comes to.
type FillFound struct {
	Entry    Address
	On       Moment
	Millis   []float64        // net contents of each bottle at the base temperature, mL
	Strength quantity.Reading // as found, none where it was not read
	*FillChecked
}

// FillLimit is how far the contents of one bottle may be from what its label
// says: a share of the labelled volume (27 CFR 19.356, read in a copy of
// October 2022).
func FillLimit(bottle quantity.Reading) float64 {
	switch ml := bottle.In(quantity.Millilitre); {
	case ml >= 1000:
		return 0.015
	case ml > 375:
		return 0.02
	case ml > 100:
		return 0.03
	}
	return 0.045
}

// baseOf is the temperature at which contents count.
func baseOf(c Convention) spirit.Celsius {
	if c == Metric {
		return spirit.At20C
	}
	return spirit.At60F
}

// net is the contents of a weighed bottle in mL at the base temperature of the
// convention: the weight in air over the spirit's density in air. What was
// poured out at a temperature is brought to the base by the ratio of densities.
func (x *BottleFound) net(c Convention, s spirit.Strength) float64 {
	base := baseOf(c)
	switch {
	case x.Volume.IsNone():
		return (x.Full.Base() - x.Empty.Base()) / float64(s.DensityInAirAt(base)) * 1e6
	case x.Temp.IsNone():
		return x.Volume.In(quantity.Millilitre)
	}
	return x.Volume.In(quantity.Millilitre) * float64(s.DensityAt(spirit.Celsius(x.Temp.In(quantity.Celsius)))) / float64(s.DensityAt(base))
}

// Contents is what the check finds in each bottle of a run, in mL at the base
// temperature, and the strength it read, none where it read none; those bottles
// are left out whose contents need a strength that nobody knows.
func (b *FillChecked) Contents(s *State, r *Bottling) (millis []float64, read quantity.Reading) {
	read = b.strong(s, &faults{})
	known := read
	if known.IsNone() {
		known = r.Tanked.Shown
	}
	strength, err := spirit.StrengthOf(known)
	for i := range b.Bottles {
		x := &b.Bottles[i]
		weighed := x.Volume.IsNone()
		switch {
		case weighed && !b.Density.IsNone():
			ρ := spirit.Density(b.Density.In(quantity.KilogramPerCubicMetre))
			millis = append(millis, (x.Full.Base()-x.Empty.Base())/float64(ρ.InAir())*1e6)
		case err == nil || !weighed && x.Temp.IsNone():
			millis = append(millis, x.net(s.Convention(), strength))
		}
	}
	return millis, read
}

func (b *FillChecked) apply(t *turn) {
	r := t.state.bottlings.edit(b.Bottling)
	if r == nil {
		t.dangling("bottling", b.Bottling)
		return
	}
	found := FillFound{Entry: t.entry.address, On: t.now(), FillChecked: b}
	found.Millis, found.Strength = b.Contents(t.state, r)
	out, worst := 0, 0.0
	for _, ml := range found.Millis {
		if r.Bottle.IsNone() {
			break
		}
		off := ml/r.Bottle.In(quantity.Millilitre) - 1
		if math.Abs(off) > FillLimit(r.Bottle)+1e-9 {
			out++
		}
		if math.Abs(off) > math.Abs(worst) {
			worst = off
		}
	}
	r.Fills = append(r.Fills, found)
	if out > 0 {
		t.ask(OffFill, fmt.Sprintf("Outside ±%[3]s %% of %[4]s: %[1]d of %[2]d bottles, the worst off by %[5]s %% (27 CFR 19.356).",
			out, len(b.Bottles), tidy(FillLimit(r.Bottle)*100), r.Bottle, quantity.Fixed(worst*100, 1)), nil, r.Address)
	}
	if s, err := spirit.StrengthOf(found.Strength); !found.Strength.IsNone() && err == nil {
		t.offLabelled(r, s, "The bottle is", r.Address)
	}
}

// BottlesDumped pours finished bottles back.
type BottlesDumped struct {
	Bottling Ref   `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Cases    int64 `key:"cases" label:"Cases"`
	Loose    int64 `key:"loose" label:"Loose bottles"`
	To       Ref   `key:"to,need" label:"Into" ref:"vessel"`
	Gauge
	Why  string `key:"why,need" label:"Why" words:"label|closure|haze|strength|fill|returned|other"`
	Note string `key:"note" label:"Note"`
}

func (b *BottlesDumped) sound(f *faults) {
	soundCases(f, b.Cases, b.Loose)
	if !b.None() {
		b.soundAmount(f)
	}
}

func (b *BottlesDumped) timely(s *State, f *faults) {
	(&CasesRemoved{Bottling: b.Bottling, Cases: b.Cases, Loose: b.Loose}).timely(s, f)
	if s.Vessel(b.To) == nil {
		unknownRef(f, "to", b.To, "vessel")
	}
}

func (b *BottlesDumped) apply(t *turn) {
	v := t.vessel(b.To, "to")
	if v == nil {
		return
	}
	r, n, alcohol := t.bottles(b.Bottling, b.Cases, b.Loose, 1, Processing, "dumped")
	if r == nil {
		return
	}
	held, err := t.state.inBottles(r.Bottle, r.Tanked.Shown, n)
	if err != nil {
		held = Gauged{}
	}
	back := Content{Material: Spirit, Account: Processing, Mass: held.Mass, Alcohol: alcohol, Doubt: held.Doubt}
	if alcohol != 0 {
		back.Parts = []Part{{Lot: r.Address, Amount: int64(alcohol)}}
	}
	if !b.None() {
		g, ok := t.measured(&b.Gauge, r.Tanked.Shown, v)
		if ok {
			t.agree(&back, g, Spill)
		}
	}
	t.pour(v, back)
}
