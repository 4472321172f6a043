package book

import (
	"fmt"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A BlendPlan is a blend before it is done. What is not given is all there is of
// a vessel; where a strength or a volume is to be reached, the one amount left
// empty is worked out, or the water where none was left; both at once want an
// empty amount and water.
type BlendPlan struct {
	Parts    []BlendPart      `key:"parts,need" label:"Part"`
	Into     Ref              `key:"into" label:"Into" ref:"vessel" help:"What it holds already is part of the blend."`
	Strength quantity.Reading `key:"strength" label:"Strength to reach" unit:"proof|%" min:"0.1proof|0.1%" max:"200proof|100%"`
	Volume   quantity.Reading `key:"volume" label:"Volume to reach" unit:"gal|L" min:"0.1L" max:"200000L"`
	Water    quantity.Reading `key:"water" label:"Water added" unit:"gal|L" min:"0L" max:"200000L" help:"Worked out where a target is given and every amount is."`
}

// A BlendPart is what is taken of a vessel.
type BlendPart struct {
	Vessel Ref              `key:"vessel,need" label:"From" ref:"vessel"`
	Volume quantity.Reading `key:"volume" label:"Volume" unit:"gal|L" min:"0L" max:"200000L" help:"At 60 °F or 20 °C. Empty: all of it, or what the target asks for."`
	Net    quantity.Reading `key:"net" label:"or weight" unit:"lb|kg" min:"0kg" max:"200000kg"`
}

// gauge is the part as an entry would measure it, at the base temperature.
func (p *BlendPart) gauge(c Convention) Gauge {
	g := Gauge{Volume: p.Volume, Net: p.Net}
	if !g.Volume.IsNone() {
		g.VolumeTemp = Base(c)
	}
	return g
}

// Base is the temperature at which a convention's volumes count.
func Base(c Convention) quantity.Reading {
	if c == Metric {
		return quantity.MustParse("20", quantity.Celsius)
	}
	return quantity.MustParse("60", quantity.Fahrenheit)
}

// A Blend is what a plan comes to, as the entries will leave it.
type Blend struct {
	Content Content
	Taken   []Taken
	Water   Mass
	Solved  bool // the water was worked out
	Shares  []Share
	Age     Age
	Aged    bool    // whether the age of the youngest is known
	Lost    float64 // L at 20 °C that the volumes lose in mixing
}

// Taken is what a blend takes of one vessel.
type Taken struct {
	Vessel Address
	Plan   BlendPart
	Content
	All, Solved bool // all that it holds; worked out
}

// Blend works a plan out, by mass, as the entries themselves would.
func (s *State) Blend(p BlendPlan, on Moment) (Blend, fault.List) {
	var f faults
	var out Blend
	at := func(a Address) *Vessel { // as it stands then
		v := s.Vessel(a)
		if v == nil {
			return nil
		}
		c := v.copied()
		c.ripen(on)
		return &c
	}
	open := -1
	var rest Content // what the open part is taken of
	sum := Content{Material: Spirit}
	seen := map[Address]bool{}
	for i := range p.Parts {
		part := &p.Parts[i]
		path := fmt.Sprintf("parts[%d].", i+1)
		v := at(part.Vessel)
		if before := len(f.list); v == nil || v.Content.Empty() || !v.Content.Material.Accounted() {
			s.spiritIn(&f, path+"vessel", part.Vessel)
			continue
		} else if s.covers(&f, part.Vessel, new(part.gauge(s.Convention()))); len(f.list) > before {
			f.list[before].Field = path + f.list[before].Field
			continue
		}
		switch {
		case seen[part.Vessel]:
			f.add(fault.Conflict, path+"vessel", v.Name, "stands here twice", "give all that is taken of it as one part")
			continue
		case !part.Volume.IsNone() && !part.Net.IsNone():
			f.add(fault.Conflict, path+"net", part.Net.String(), "stands beside a volume", "give one of the two")
			continue
		}
		seen[part.Vessel] = true
		if part.Vessel == p.Into {
			continue // all of it stays
		}
		t := Taken{Vessel: part.Vessel, Plan: *part}
		g := part.gauge(s.Convention())
		switch target := !p.Strength.IsNone() || !p.Volume.IsNone(); {
		case !g.None():
			gauged, faults := g.measure(s, s.strong(&v.Content), v)
			f.list.Add(path+"volume", faults.Err())
			t.Content = v.Content.draw(g.taken(&v.Content, gauged), on)
		case !target:
			t.Content, t.All = v.Content.draw(v.Content.all(), on), true
		case open >= 0:
			f.add(fault.Conflict, path+"volume", "", "is the second amount left empty", "leave one empty for the target, and give the others")
		default:
			open, rest, t.Solved = len(out.Taken), v.Content, true
		}
		sum.pour(t.Content, on)
		out.Taken = append(out.Taken, t)
	}
	into := &Vessel{}
	if p.Into != "" {
		if into = at(p.Into); into == nil {
			unknownRef(&f, "into", p.Into, "vessel")
			return Blend{}, f.list
		}
		if !into.Content.Empty() && !into.Content.Material.Accounted() {
			f.add(fault.Conflict, "into", into.Name, "holds "+string(into.Content.Material), "choose a vessel for spirit")
		}
	}
	if len(f.list) > 0 {
		return Blend{}, f.list
	}
	before := sum.Litres20()
	if !into.Content.Empty() {
		before += into.Content.Litres20()
	}
	sum.Mass, sum.Alcohol, sum.Solids = sum.Mass+into.Content.Mass, sum.Alcohol+into.Content.Alcohol, sum.Solids+into.Content.Solids
	out.Water = massOf(volumeOf(p.Water).Litres() * float64(spirit.Strength{}.DensityAt(20)) / 1e3)
	sum.Mass += out.Water
	if more, faults := p.solve(s, &sum, open, rest); len(faults) > 0 {
		return Blend{}, faults
	} else {
		if open >= 0 {
			t := &out.Taken[open]
			t.All = more.part == rest.Mass
			t.Content = rest.draw(rest.fraction(more.part), on)
			before += t.Content.Litres20()
		}
		out.Solved = more.water > 0
		out.Water += more.water
	}
	for _, t := range out.Taken {
		into.Content.pour(t.Content, on)
	}
	if into.Content.Material.Accounted() {
		into.Content.Mass += out.Water
	}
	out.Content = into.Content
	out.Shares = shares(out.Content.Parts)
	out.Age, out.Aged = youngest(out.Content.Parts, 0, on)
	out.Lost = before + out.Water.Kilograms()/float64(spirit.Strength{}.DensityAt(20))*1e3 - out.Content.Litres20()
	return out, nil
}

// more is what a target asks for beside what is given.
type more struct{ part, water Mass }

// A mixture is a content that is not in whole steps.
type mixture struct{ mass, alcohol, solids float64 }

// with is what is given together with so much of a content and so much water.
func (m more) with(given, rest *Content) mixture {
	part := float64(m.part) / float64(max(rest.Mass, 1))
	return mixture{
		float64(given.Mass + m.part + m.water),
		float64(given.Alcohol) + part*float64(rest.Alcohol),
		float64(given.Solids) + part*float64(rest.Solids),
	}
}

func (m mixture) strength() spirit.Strength {
	s, _ := spirit.FromMassFraction(spirit.MassFraction(min(max(m.alcohol*milligramsPerStep/(m.mass-m.solids), 0), 1)))
	return s
}

// litres is the volume at a temperature, sugar and all.
func (m mixture) litres(t spirit.Celsius) float64 {
	if m.mass <= m.solids {
		return 0
	}
	return (m.mass-m.solids)/1e3/float64(m.strength().DensityAt(t)) + m.solids/1e6*sugarLitresPerKilogram
}

// abv is the strength of all of it, sugar too, in % vol at 20 °C.
func (m mixture) abv() float64 {
	if m.mass <= m.solids || m.alcohol <= 0 {
		return 0
	}
	return m.alcohol / 1e4 * litresPerProofGallon / m.litres(20) * 100
}

func (c *Content) mixture() mixture {
	return mixture{float64(c.Mass), float64(c.Alcohol), float64(c.Solids)}
}

// ABV is the strength of a content, sugar and all, in % vol at 20 °C.
func (c *Content) ABV() float64 { return c.mixture().abv() }

// Litres60 is the volume of spirit at 60 °F in litres.
func (c *Content) Litres60() float64 { return c.mixture().litres(spirit.At60F) }

// least is the least mass up to most for which enough holds, which is false up
// to some mass and true from there on: by halves, to the milligram.
func least(most Mass, enough func(Mass) bool) Mass {
	low, high := Mass(0), most
	for low < high {
		if mid := low + (high-low)/2; enough(mid) {
			high = mid
		} else {
			low = mid + 1
		}
	}
	return low
}

// solve works out what the targets ask for. Mixing moves a strength one way
// only and a volume up only, so each unknown is found by halves.
func (p *BlendPlan) solve(s *State, given *Content, open int, rest Content) (m more, _ fault.List) {
	if p.Strength.IsNone() && p.Volume.IsNone() {
		return m, nil
	}
	target, err := spirit.StrengthOf(p.Strength)
	if p.Strength.IsNone() {
		err = nil
	}
	var f faults
	if f.list.Add("strength", err); err != nil {
		return m, f.list
	}
	abv, litres := target.ABV20(), 0.0
	if !p.Volume.IsNone() {
		litres = p.Volume.Base()
	}
	mixed := func(m more) (strength, volume float64) {
		all := m.with(given, &rest)
		if p.Volume.Unit() == quantity.Gallon {
			return all.abv(), all.litres(spirit.At60F)
		}
		return all.abv(), all.litres(20)
	}
	whole := more{part: rest.Mass}
	const flood = Mass(1e15) // more water than any house has
	stronger := func(w more) bool { x, _ := mixed(w); return x > abv }
	water := func(part Mass) Mass {
		return least(flood, func(w Mass) bool { return !stronger(more{part, w}) })
	}
	over := func(m more) bool { _, v := mixed(m); return v > litres*(1+1e-6) }
	under := func(m more) bool { _, v := mixed(m); return v < litres*(1-1e-6) }
	const tooLittle, tooMuch = "is less than the other parts give", "is more than all of it gives, "
	switch alone, _ := mixed(more{}); {
	case open < 0 && (!p.Water.IsNone() || !p.Strength.IsNone() && !p.Volume.IsNone()):
		f.add(fault.Conflict, "parts[1].volume", p.Parts[0].Volume.String(), "leaves nothing open for the target", "leave one amount empty")
	case open < 0 && !p.Strength.IsNone():
		if m.water = water(0); alone < abv {
			f.add(fault.Conflict, "strength", p.Strength.String(), "is above that of the parts together, and water only lowers it", "leave the amount of something stronger empty")
		}
	case open < 0:
		m.water = least(flood, func(w Mass) bool { return !under(more{water: w}) })
		if over(m) {
			f.add(fault.TooLow, "volume", p.Volume.String(), "is less than the parts give", "take less of them")
		}
	case !p.Strength.IsNone() && !p.Volume.IsNone():
		if !p.Water.IsNone() {
			f.add(fault.Conflict, "water", p.Water.String(), "is one amount too many for two targets", "leave it empty, it is worked out too")
			break
		}
		m.part = least(whole.part, func(x Mass) bool { return !under(more{x, water(x)}) })
		m.water = water(m.part)
		if got, v := mixed(m); under(m) {
			f.add(fault.TooHigh, "volume", p.Volume.String(), tooMuch+s.ShownVolume(v)+" with water", "ask for less, or add a vessel")
		} else if got < abv-1e-3 || over(m) {
			f.add(fault.Conflict, "volume", p.Volume.String(), "and the strength are not reached together by these parts and water", "take less of the others, or something stronger")
		}
	case !p.Strength.IsNone() && given.Mass == 0:
		f.add(fault.Missing, fmt.Sprintf("parts[%d].volume", open+1), "", "nothing else is in the blend, so no amount of it changes the strength", "give its amount, and the water is worked out; or give a volume to reach too")
	case !p.Strength.IsNone():
		rises := rest.ABV() > abv
		m.part = least(whole.part, func(x Mass) bool { return stronger(more{part: x}) == rises })
		got, _ := mixed(m)
		switch {
		case (alone > abv) == rises && m.part == 0:
			f.add(fault.Conflict, "strength", p.Strength.String(), "does not lie between "+s.ShownStrength(alone)+" and "+s.ShownStrength(rest.ABV())+", the two sides of the blend", "leave the amount of another part empty")
		case stronger(m) != rises:
			f.add(fault.TooHigh, fmt.Sprintf("parts[%d].volume", open+1), "", fmt.Sprintf("all of it, %s, brings the blend only to %s", s.ShownVolume(rest.Litres20()), s.ShownStrength(got)), "take less of the others, or add a vessel")
		}
	default:
		m.part = least(whole.part, func(x Mass) bool { return !under(more{part: x}) })
		if _, v := mixed(m); under(m) {
			f.add(fault.TooHigh, "volume", p.Volume.String(), tooMuch+s.ShownVolume(v), "ask for less, or add a vessel")
		} else if over(m) {
			f.add(fault.TooLow, "volume", p.Volume.String(), tooLittle, "take less of them")
		}
	}
	return m, f.list
}

// ShownStrength is a strength in % vol at 20 °C in the words of the book's
// convention.
func (s *State) ShownStrength(abv float64) string {
	strength, _ := spirit.FromABV20(min(max(abv, 0), 100))
	if s.Convention() == Metric {
		return quantity.Fixed(strength.ABV20(), 1) + " % vol"
	}
	return quantity.Fixed(strength.Proof(), 1) + " proof"
}
