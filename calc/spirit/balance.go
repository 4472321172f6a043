package spirit

import (
	"math"
	"slices"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Part is an amount of a spirit, or of water (0 %), that goes into a blend.
type Part struct {
	Amount   quantity.Reading // volume (gal at 60 °F, L at 20 °C) or weight in air
	Strength quantity.Reading
}

// A Mixture is what a blend makes. Volumes are at 60 °F in gallons or at 20 °C
// in litres, weights in air, in the convention of the first part.
type Mixture struct {
	Volume, Weight quantity.Figure
	Contraction    quantity.Figure // volume of the parts less that of the mixture
	Mass           quantity.Figure // kg, in vacuo
	Reached        quantity.Figure // strength on the scale of the first part
	Strength       Strength
	quantity.Explained
}

// checkPart adds the faults of part number i, counted from 1.
func checkPart(faults *fault.List, p Part, i int) {
	name := "part " + strconv.Itoa(i)
	faults.Add(name, checkVolumeOrWeight(p.Amount))
	_, err := StrengthOf(p.Strength)
	faults.Add(name, err)
}

// Blend mixes any number of parts: masses and ethanol add, volumes do not, and
// the contraction is what the mixture's density (OIML R 22) leaves of them.
func Blend(parts ...Part) (Mixture, error) {
	var faults fault.List
	if len(parts) == 0 {
		faults.Add("part", fault.Fault{Code: fault.Missing, Limit: "a blend needs parts", Remedy: "give each as amount and strength"})
	}
	in := make([]quantity.Estimate, 0, 2*len(parts))
	var readings []quantity.Reading
	for i, p := range parts {
		checkPart(&faults, p, i+1)
		in = append(in, estimate(p.Amount), estimate(p.Strength))
		readings = append(readings, p.Amount, p.Strength)
	}
	if err := faults.Err(); err != nil {
		return Mixture{}, err
	}
	c, scale := conventionOf(parts[0].Amount.Unit()), parts[0].Strength.Unit()
	var y [6]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		var mass, alcohol, volume float64
		for i, part := range parts {
			p, err := fraction(part.Strength.Unit(), x[2*i+1])
			if err != nil {
				return nil, err
			}
			m := conventionOf(part.Amount.Unit()).massOf(part.Amount.Unit(), x[2*i], p)
			mass, alcohol, volume = mass+m, alcohol+m*p, volume+c.volumeOf(m, p)
		}
		p := alcohol / mass
		v := c.volumeOf(mass, p)
		y = [6]float64{v, mass * c.heft(p), volume - v, mass, Strength{MassFraction(p)}.In(scale), p}
		return y[:], nil
	})
	if err != nil {
		return Mixture{}, err
	}
	doubted := quantity.Doubted(readings...)
	m := Mixture{
		Volume: quantity.FigureOf(out[0], c.volume, doubted), Weight: quantity.FigureOf(out[1], c.weight, doubted),
		Contraction: quantity.FigureOf(out[2], c.volume, doubted), Mass: quantity.FigureOf(out[3], quantity.Kilogram, doubted),
		Reached: quantity.FigureOf(out[4], scale, doubted), Strength: Strength{clamp(out[5].Value)},
	}
	m.Explained = quantity.Explain(func(w *quantity.Working) {
		for _, part := range parts {
			s, _ := StrengthOf(part.Strength)
			mass := conventionOf(part.Amount.Unit()).massOf(part.Amount.Unit(), part.Amount.Float(), float64(s.p))
			w.Add(part.Amount.String()+" of "+part.Strength.String()+", "+quantity.Fixed(s.MassPercent(), 3)+" % by mass: mass in vacuo", quantity.Fixed(mass, 3)+" kg")
			w.Add("its ethanol", quantity.Fixed(mass*float64(s.p), 3)+" kg")
		}
		w.Add("all masses together", m.Mass.Text(3))
		w.Add("all ethanol together over all masses", quantity.Fixed(m.Strength.MassPercent(), 3)+" % by mass")
		w.Add("that strength on the scale asked for", m.Reached.Text(places))
		w.Add("volume at "+c.basis+", the mass over the density of that strength", m.Volume.Text(places))
		w.Add("contraction, what the parts lost of their volumes", m.Contraction.Text(3))
		w.Add("weight in air", m.Weight.Text(places))
	})
	return m, nil
}

// A Reduction asks what to add to a spirit. Give From, and:
//
//   - To and the amount at hand (Volume or Weight): what reaches the strength;
//   - To and the amount wanted (FinalVolume or FinalWeight): how much spirit to
//     take and what to add, to reach both;
//   - the amount at hand and the amount wanted, without To: what reaches the
//     amount, and the strength that gives.
//
// With is the strength of what is added, none for water. A spirit that was
// overshot, reduced too far, is the same question with a stronger With.
type Reduction struct {
	Volume, Weight           quantity.Reading
	From, To, With           quantity.Reading
	FinalVolume, FinalWeight quantity.Reading
}

// A Reduced answers a Reduction. Volumes are at 60 °F in gallons or at 20 °C in
// litres, weights in air.
type Reduced struct {
	SpiritVolume, SpiritWeight quantity.Figure
	AddedVolume, AddedWeight   quantity.Figure
	FinalVolume, FinalWeight   quantity.Figure
	Contraction                quantity.Figure
	Reached                    quantity.Figure // on the scale of To, or of From
	Strength                   Strength
	Caution                    string // what to do before the figures are trusted
	quantity.Explained
}

// Caution after every addition: the heat of mixing falsifies the next reading.
// The 4 to 7 K at about 50 % are common practice, no source.
const cautionMixing = "Mixing warms the spirit, by 4 to 7 K near 50 % vol: stir, let it cool and settle, and measure before the next addition. Add the last part in small steps."

// Reduce works out an addition by mass balance, so that contraction is in it.
// Against the printed examples: 1,000 lb of 200 proof to 190 (30.64) takes 82.07
// lb, 82.03 by Table 4; 100 gallons of 191 to 188 (30.66) take 1.88 gal, 1.89 by
// Table 6 unrounded (the section prints 1.84, having cut a quotient short).
func Reduce(r Reduction) (Reduced, error) {
	q, err := r.pose()
	if err != nil {
		return Reduced{}, err
	}
	out, err := q.answer()
	if err != nil {
		return Reduced{}, err
	}
	return q.reduced(out), nil
}

// A Stage is one addition of a staged reduction.
type Stage struct {
	To                       quantity.Reading
	AddedVolume, AddedWeight quantity.Figure // in this stage
	FinalVolume, FinalWeight quantity.Figure // after it
}

// Stages plans a reduction in steps through the strengths of to, in the order
// they are reached, ending at r.To. The amount at hand must be given. The
// additions together are those of one Reduce; measure before each.
func Stages(r Reduction, to ...quantity.Reading) ([]Stage, error) {
	q, err := r.pose()
	if err == nil && q.hand.IsNone() {
		err = fault.List{{Code: fault.Missing, Field: "volume", Limit: "stages need the amount at hand", Remedy: "give the volume or weight of the spirit"}}
	}
	if err != nil {
		return nil, err
	}
	targets := slices.Concat(to, []quantity.Reading{r.To})
	in := []quantity.Estimate{estimate(q.hand), estimate(q.from), estimate(q.with)}
	readings := []quantity.Reading{q.hand, q.from, q.with}
	var faults fault.List
	before, _ := StrengthOf(q.from)
	final, _ := StrengthOf(q.to)
	for i, target := range targets {
		s, err := StrengthOf(target)
		if err == nil && (s.p-before.p)*(final.p-s.p) < 0 {
			err = fault.Fault{Code: fault.Conflict, Value: target.String(), Limit: "does not lie between the stage before it and the end", Remedy: "list the stages in the order they are reached"}
		}
		faults.Add("stage "+strconv.Itoa(i+1), err)
		before = s
		in, readings = append(in, estimate(target)), append(readings, target)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		from, err := fraction(q.from.Unit(), x[1])
		if err != nil {
			return nil, err
		}
		with := 0.0
		if !q.with.IsNone() {
			if with, err = fraction(q.with.Unit(), x[2]); err != nil {
				return nil, err
			}
		}
		spirit := q.massOf(q.hand.Unit(), x[0], from)
		mass := spirit
		y := make([]float64, 0, 4*len(targets))
		for i, target := range targets {
			p, err := fraction(target.Unit(), x[3+i])
			if err != nil {
				return nil, err
			}
			addition := spirit*(from-with)/(p-with) - mass
			mass += addition
			y = append(y, q.volumeOf(addition, with), addition*q.heft(with), q.volumeOf(mass, p), mass*q.heft(p))
		}
		return y, nil
	})
	if err != nil {
		return nil, err
	}
	doubted := quantity.Doubted(readings...)
	stages := make([]Stage, len(targets))
	for i, target := range targets {
		y := out[4*i:]
		stages[i] = Stage{To: target,
			AddedVolume: quantity.FigureOf(y[0], q.volume, doubted), AddedWeight: quantity.FigureOf(y[1], q.weight, doubted),
			FinalVolume: quantity.FigureOf(y[2], q.volume, doubted), FinalWeight: quantity.FigureOf(y[3], q.weight, doubted)}
	}
	return stages, nil
}

// posed is a Reduction that was checked.
type posed struct {
	convention
	hand, want     quantity.Reading // amount at hand, amount wanted
	from, to, with quantity.Reading
}

func (r Reduction) pose() (posed, error) {
	var faults fault.List
	q := posed{from: r.From, to: r.To, with: r.With}
	one := func(v, w quantity.Reading, vField, wField string) quantity.Reading {
		switch {
		case !v.IsNone() && !w.IsNone():
			faults.Add(wField, fault.Fault{Code: fault.Conflict, Value: w.String(), Limit: "stands beside " + vField, Remedy: "give one of the two"})
		case !v.IsNone():
			faults.Add(vField, checkAmount(v, quantity.Volume))
			return v
		case !w.IsNone():
			faults.Add(wField, checkAmount(w, quantity.Mass))
			return w
		}
		return quantity.Reading{}
	}
	q.hand = one(r.Volume, r.Weight, "volume", "weight")
	q.want = one(r.FinalVolume, r.FinalWeight, "final_volume", "final_weight")
	from, err := StrengthOf(r.From)
	faults.Add("from", err)
	var with Strength
	if !r.With.IsNone() {
		with, err = StrengthOf(r.With)
		faults.Add("with", err)
	}
	switch given := !q.hand.IsNone(); {
	case q.to.IsNone() && !(given && !q.want.IsNone()):
		faults.Add("to", fault.Fault{Code: fault.Missing, Limit: "the strength to reach is needed", Remedy: "give it, or give the amount at hand and the amount wanted"})
	case !q.to.IsNone() && given && !q.want.IsNone():
		faults.Add("to", fault.Fault{Code: fault.Conflict, Value: q.to.String(), Limit: "cannot be reached together with both amounts", Remedy: "leave out the amount at hand, the amount wanted or the strength"})
	case !given && q.want.IsNone():
		faults.Add("volume", fault.Fault{Code: fault.Missing, Limit: "an amount is needed", Remedy: "give the volume or weight at hand, or the final one wanted"})
	}
	if !q.to.IsNone() {
		to, err := StrengthOf(q.to)
		faults.Add("to", err)
		if len(faults) == 0 && !(to.p <= from.p && to.p > with.p || to.p >= from.p && to.p < with.p) {
			f := fault.Fault{Code: fault.Conflict, Value: q.to.String(), Limit: "does not lie between " + q.from.String() + " and " + added(q.with), Remedy: "water only lowers a strength; to raise it, add a stronger spirit"}
			if !q.with.IsNone() {
				f.Remedy = "add something stronger or weaker than the strength wanted"
			}
			faults.Add("to", f)
		}
	}
	first := q.hand
	if first.IsNone() {
		first = q.want
	}
	q.convention = conventionOf(first.Unit())
	return q, faults.Err()
}

func added(with quantity.Reading) string {
	if with.IsNone() {
		return "water"
	}
	return with.String()
}

// scaleUnit is the scale the reached strength is told on.
func (q posed) scaleUnit() quantity.Unit {
	if q.to.IsNone() {
		return q.from.Unit()
	}
	return q.to.Unit()
}

// answer solves the mass balance, with uncertainty. Its outputs are those of
// reduced, in order.
func (q posed) answer() ([]quantity.Estimate, error) {
	// Inputs: from, with, to, hand, want; those not given stay at an exact 0.
	readings := [5]quantity.Reading{q.from, q.with, q.to, q.hand, q.want}
	var in [5]quantity.Estimate
	for i, r := range readings {
		if !r.IsNone() {
			in[i] = estimate(r)
		}
	}
	var y [9]float64
	out, err := quantity.PropagateFinite(in[:], func(x []float64) ([]float64, error) {
		var p [3]float64
		for i := range p {
			if readings[i].IsNone() {
				continue
			}
			var err error
			if p[i], err = fraction(readings[i].Unit(), x[i]); err != nil {
				return nil, err
			}
		}
		from, with, to := p[0], p[1], p[2]
		var spirit, addition float64 // kg
		switch {
		case q.want.IsNone():
			spirit = q.massOf(q.hand.Unit(), x[3], from)
			addition = spirit * (from - to) / (to - with)
		case q.hand.IsNone():
			mass := conventionOf(q.want.Unit()).massOf(q.want.Unit(), x[4], to)
			spirit = mass * (to - with) / (from - with)
			addition = mass - spirit
		default:
			spirit = q.massOf(q.hand.Unit(), x[3], from)
			var err error
			if addition, err = q.fill(spirit, from, with, x[4]); err != nil {
				return nil, err
			}
			to = (spirit*from + addition*with) / (spirit + addition)
		}
		mass := spirit + addition
		v1, v2, v := q.volumeOf(spirit, from), q.volumeOf(addition, with), q.volumeOf(mass, to)
		y = [9]float64{v1, spirit * q.heft(from), v2, addition * q.heft(with), v, mass * q.heft(to), v1 + v2 - v, Strength{MassFraction(to)}.In(q.scaleUnit()), to}
		return y[:], nil
	})
	return out, err
}

// fill is the addition, in kg, that brings the spirit to an amount.
func (q posed) fill(spirit, from, with, amount float64) (float64, error) {
	unit := q.want.Unit()
	c := conventionOf(unit)
	reached := func(addition float64) float64 {
		mass := spirit + addition
		return c.amountOf(unit, mass, (spirit*from+addition*with)/mass)
	}
	if amount < reached(0)*(1-1e-12) {
		return 0, fault.List{{Code: fault.Conflict, Field: "final_" + unit.Dimension().String(), Value: q.want.String(), Limit: "is less than the spirit at hand", Remedy: "give the amount after the addition"}}
	}
	lo, hi := 0.0, spirit
	for reached(hi) < amount {
		hi *= 2
	}
	for range 100 {
		mid := (lo + hi) / 2
		if mid == lo || mid == hi {
			break
		}
		if reached(mid) < amount {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}

func (q posed) reduced(out []quantity.Estimate) Reduced {
	doubted := quantity.Doubted(q.hand, q.want, q.from, q.to, q.with)
	fig := func(i int, u quantity.Unit) quantity.Figure { return quantity.FigureOf(out[i], u, doubted) }
	r := Reduced{
		SpiritVolume: fig(0, q.volume), SpiritWeight: fig(1, q.weight),
		AddedVolume: fig(2, q.volume), AddedWeight: fig(3, q.weight),
		FinalVolume: fig(4, q.volume), FinalWeight: fig(5, q.weight),
		Contraction: fig(6, q.volume), Reached: fig(7, q.scaleUnit()),
		Strength: Strength{clamp(out[8].Value)}, Caution: cautionMixing,
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		from, _ := StrengthOf(q.from)
		ρ, _ := q.scale.density(float64(from.p))
		w.Add("the spirit, "+q.from.String()+": its density at "+q.basis+" (OIML R 22)", quantity.Fixed(ρ, 2)+" kg/m3")
		w.Add("its part of ethanol by mass", quantity.Fixed(from.MassPercent(), 3)+" %")
		w.Add("the part of ethanol by mass to reach", quantity.Fixed(r.Strength.MassPercent(), 3)+" %")
		w.Add("volume of the spirit at "+q.basis, r.SpiritVolume.Text(places))
		w.Add("its weight in air", r.SpiritWeight.Text(places))
		if q.with.IsNone() {
			w.Add("weight of water: the ethanol stays, so the mass grows as "+quantity.Fixed(from.MassPercent(), 3)+" ÷ "+quantity.Fixed(r.Strength.MassPercent(), 3), r.AddedWeight.Text(places))
		} else {
			with, _ := StrengthOf(q.with)
			w.Add("weight of "+q.with.String()+" to add: the masses are as the distances "+quantity.Fixed(math.Abs(from.MassPercent()-r.Strength.MassPercent()), 3)+" and "+quantity.Fixed(math.Abs(r.Strength.MassPercent()-with.MassPercent()), 3)+" of the mass strengths", r.AddedWeight.Text(places))
		}
		w.Add("volume to add at "+q.basis, r.AddedVolume.Text(places))
		w.Add("final volume at "+q.basis, r.FinalVolume.Text(places))
		w.Add("final weight in air", r.FinalWeight.Text(places))
		w.Add("contraction, what the two volumes lose", r.Contraction.Text(3))
		w.Add("strength reached", r.Reached.Text(places))
	})
	return r
}
