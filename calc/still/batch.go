package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Liquid is so much ethanol and water, kept apart, so that what is drawn and
// what is left add up whatever their volumes do.
type Liquid struct{ Ethanol, Water float64 } // kg

// pureDensity is that of ethanol at 20 °C, kg/L (OIML R 22), of which litres of
// pure alcohol are made.
var pureDensity = func() float64 {
	return float64(mixture(1, 0).DensityAt(spirit.At20C)) / 1000
}()

// Mass in kg, in vacuo.
func (l Liquid) Mass() float64 { return l.Ethanol + l.Water }

// PureAlcohol in litres at 20 °C.
func (l Liquid) PureAlcohol() float64 { return l.Ethanol / pureDensity }

// Strength of the mixture; water for nothing at all.
func (l Liquid) Strength() spirit.Strength {
	if l.Mass() <= 0 {
		return spirit.Strength{}
	}
	return mixture(l.Ethanol, l.Water)
}

// Volume in litres at 20 °C, once it is mixed.
func (l Liquid) Volume() float64 { return l.VolumeAt(spirit.At20C) }

// VolumeAt is the volume in litres at a temperature of −20 to 40 °C.
func (l Liquid) VolumeAt(t spirit.Celsius) float64 {
	return l.Mass() / float64(l.Strength().DensityAt(t)) * 1000
}

// Plus is both together.
func (l Liquid) Plus(m Liquid) Liquid { return Liquid{l.Ethanol + m.Ethanol, l.Water + m.Water} }

// A Charge is what goes into the still.
type Charge struct {
	Mass        quantity.Figure // kg in vacuo
	PureAlcohol quantity.Figure // L at 20 °C
}

// ChargeOf is a volume of a strength, at 20 °C in litres or 60 °F in gallons.
// Solids of a mash count as water, which boils like it; the alcohol is right.
func ChargeOf(volume, strength quantity.Reading) (Charge, error) {
	base := quantity.MustParse("20", quantity.Celsius)
	if volume.Unit() == quantity.Gallon {
		base = quantity.MustParse("60", quantity.Fahrenheit)
	}
	g, err := spirit.GaugeVolume(spirit.VolumeGauge{Volume: volume, Temp: base, Strength: strength})
	if err != nil {
		return Charge{}, err
	}
	c := Charge{Mass: g.Mass, PureAlcohol: g.PureAlcohol}
	return c, c.check()
}

func (c Charge) liquid() Liquid {
	e := c.PureAlcohol.Value * pureDensity
	return Liquid{Ethanol: e, Water: c.Mass.Value - e}
}

func (c Charge) check() error {
	l := c.liquid()
	switch {
	case !(c.Mass.Value > 0) || !(c.PureAlcohol.Value > 0):
		return fault.List{{Code: fault.TooLow, Field: "charge", Value: c.PureAlcohol.Text(2), Limit: "holds no alcohol to distil", Remedy: "give the volume and the strength of the charge"}}
	case !(l.Water > 0) || MoleFractionOf(l.Strength()) >= azeotrope:
		return fault.List{{Code: fault.TooHigh, Field: "strength", Value: quantity.Fixed(100*l.Ethanol/l.Mass(), 1) + " % by mass",
			Limit: "is not below the azeotrope, " + quantity.Fixed(AzeotropeStrength().ABV20(), 1) + " % vol, above which boiling strengthens nothing", Remedy: "check the strength of the charge"}}
	}
	return nil
}

// An End is where a run stops: when the spirit coming over, or what is left in
// the still, has fallen to a strength, whichever is first. Water stands for
// never; one of the two must be above it.
type End struct{ Spirit, Still spirit.Strength }

// leastEnd is as far as a run is followed: below, only water comes over.
const leastEnd = 0.0001 // mass fraction, 0.013 % vol

func (e End) check() error {
	var faults fault.List
	for _, end := range []struct {
		field string
		s     spirit.Strength
	}{{"end", e.Spirit}, {"end_still", e.Still}} {
		if p := end.s.MassFraction(); p > 0 && p < leastEnd {
			faults = append(faults, fault.Fault{Code: fault.TooLow, Field: end.field, Value: quantity.Fixed(end.s.ABV20(), 3) + " % vol", Limit: "is below 0.02 % vol, where nothing but water comes over", Remedy: "end the run at a strength that can be read"})
		}
	}
	if e.Spirit.MassFraction() == 0 && e.Still.MassFraction() == 0 {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "end", Limit: "the strength at which the run ends is needed", Remedy: "give that of the spirit, or that of what is left in the still"})
	}
	return faults.Err()
}

// Kilowatt is a heating or cooling power.
type Kilowatt float64

// Latent heats of vaporisation at the boiling point, kJ/kg (CRC Handbook, from
// memory).
const (
	ethanolLatent = 846
	waterLatent   = 2257
)

// A Run is a batch distillation to be worked out.
type Run struct {
	Charge   Charge
	Way      Way
	Pressure Pressure
	Model    Model
	Heat     Kilowatt // that boils, losses taken off; 0 where not known
	End      End
}

// A Point is one moment of a run.
type Point struct {
	Minutes     float64 // of boiling, 0 throughout where the heat is not known
	Spirit      spirit.Strength
	Drawn, Left Liquid
	Vapour, Pot spirit.Celsius // dew point of what comes over, boiling point of what is left
}

// A Curve is a run from its first drop to its end.
type Curve struct {
	Points []Point
	quantity.Explained
}

// Last is the end of the run.
func (c Curve) Last() Point { return c.Points[len(c.Points)-1] }

// Recovery is the part of the charge's alcohol that was drawn.
func (c Curve) Recovery() float64 {
	p := c.Last()
	return p.Drawn.Ethanol / (p.Drawn.Ethanol + p.Left.Ethanol)
}

// Distil follows a run from the charge to its end (Rayleigh's differential
// distillation, Phil. Mag. 4 (1902) 521, from memory; with plates and reflux the
// distillate takes the place of the vapour). Points stand a hundredth of the
// charge's alcohol apart, closer near the end. What is drawn and what is left
// are summed apart and make up the charge to 1e-12 of it.
//
// Against the shared reference results for a bare pot (1000 L of 5 to 10 % vol,
// stopped at 0.1 to 1 % in the pot) volumes agree within 20 L, strengths within
// 1.2 % vol, the tolerance between published models; NRTL within 0.1.
func Distil(r Run) (Curve, error) {
	var faults fault.List
	faults.Add("", r.Charge.check())
	faults.Add("", r.Way.check())
	faults.Add("", r.End.check())
	e, err := NewEquilibrium(r.Model, r.Pressure)
	faults.Add("pressure", err)
	if !(r.Heat >= 0) {
		faults.Add("heat", fault.Fault{Code: fault.TooLow, Value: quantity.Fixed(float64(r.Heat), 1) + " kW", Limit: "is below 0", Remedy: "give the power that reaches the pot, or leave it out"})
	}
	if err := faults.Err(); err != nil {
		return Curve{}, err
	}
	p := pot{e, r.Way}
	stages := p.course(p.at(moles{}, molesOf(r.Charge.liquid())), fine, r.End.over())
	if len(stages) < 2 {
		return Curve{}, r.overAtOnce(stages[0])
	}
	points := make([]Point, len(stages))
	for i, s := range stages {
		points[i] = Point{Spirit: MoleFraction(s.spirit).Strength(), Drawn: s.drawn.liquid(), Left: s.left.liquid(),
			Vapour: spirit.Celsius(e.boiling(e.liquid(s.spirit))), Pot: spirit.Celsius(e.boiling(s.left.fraction()))}
		if r.Heat > 0 && i > 0 {
			was := stages[i-1].drawn
			kJ := (s.drawn.ethanol-was.ethanol)*ethanolMolar*ethanolLatent + (s.drawn.water-was.water)*waterMolar*waterLatent
			points[i].Minutes = points[i-1].Minutes + kJ/r.Way.drawn()/float64(r.Heat)/60
		}
	}
	c := Curve{Points: points}
	c.Explained = quantity.Explain(func(w *quantity.Working) { r.explain(w, c) })
	return c, nil
}

func (r Run) overAtOnce(first stage) error {
	f := fault.Fault{Code: fault.Conflict, Field: "end", Value: abv(r.End.Spirit),
		Limit:  "is not below the first of the spirit, " + abv(MoleFraction(first.spirit).Strength()) + ", so the run would be over before it begins",
		Remedy: "end it at a lower strength, or give more plates or reflux"}
	if r.End.Still.MassFraction() >= r.Charge.liquid().Strength().MassFraction() {
		f.Field, f.Value = "end_still", abv(r.End.Still)
		f.Limit, f.Remedy = "is not below the strength of the charge, "+abv(r.Charge.liquid().Strength()), "end the run at a lower strength of what is left"
	}
	return fault.List{f}
}

func (r Run) explain(w *quantity.Working, c Curve) {
	first, last := c.Points[0], c.Last()
	w.Add("the charge, "+r.Charge.Mass.Text(2)+" of "+abv(first.Left.Strength())+", in moles of ethanol per mole", quantity.Fixed(float64(MoleFractionOf(first.Left.Strength())), 5))
	w.Add("it boils at "+quantity.Fixed(float64(r.Pressure), 1)+" hPa (Antoine, "+r.Model.String()+")", quantity.Fixed(float64(first.Pot), 2)+" °C")
	if r.Way.Plates > 0 {
		text := quantity.Fixed(r.Way.Plates, 2) + " effective plates, counted as at total reflux"
		if !math.IsInf(r.Way.Reflux, 1) {
			text = quantity.Fixed(r.Way.Plates, 2) + " effective plates with a reflux of " + quantity.Fixed(r.Way.Reflux, 2) + " (McCabe and Thiele)"
		}
		w.Add(text+": the first spirit", abv(first.Spirit))
	} else {
		w.Add("a bare pot: the first spirit is the vapour over it", abv(first.Spirit))
	}
	w.Add("drawn off step by step (Rayleigh), in "+quantity.Fixed(float64(len(c.Points)-1), 0)+" steps, the spirit falls to", abv(last.Spirit))
	w.Add("all that was drawn, mixed, at 20 °C", quantity.Fixed(last.Drawn.Volume(), 2)+" L of "+abv(last.Drawn.Strength()))
	w.Add("left in the still", quantity.Fixed(last.Left.Volume(), 2)+" L of "+abv(last.Left.Strength()))
	w.Add("recovered, "+quantity.Fixed(last.Drawn.PureAlcohol(), 2)+" of "+r.Charge.PureAlcohol.Text(2)+" of pure alcohol", quantity.Fixed(100*c.Recovery(), 2)+" %")
}

// moles is a liquid as the plates count it.
type moles struct{ ethanol, water float64 }

func molesOf(l Liquid) moles { return moles{l.Ethanol / ethanolMolar, l.Water / waterMolar} }

func (m moles) liquid() Liquid { return Liquid{m.ethanol * ethanolMolar, m.water * waterMolar} }

func (m moles) fraction() float64 { return m.ethanol / (m.ethanol + m.water) }

func (m moles) minus(n moles) moles { return moles{m.ethanol - n.ethanol, m.water - n.water} }

func (m moles) plus(n moles) moles { return moles{m.ethanol + n.ethanol, m.water + n.water} }

// A pot is a still being boiled.
type pot struct {
	*Equilibrium
	way Way
}

// waterPer is the water that comes over with a mole of ethanol from a pot.
func (p pot) waterPer(left moles) float64 {
	y := p.distillate(left.fraction(), p.way)
	return (1 - y) / y
}

// step is the water that comes over with the next h moles of ethanol, by the
// classical Runge-Kutta method of order 4.
func (p pot) step(left moles, h float64) float64 {
	k1 := p.waterPer(left)
	k2 := p.waterPer(left.minus(moles{h / 2, h / 2 * k1}))
	k3 := p.waterPer(left.minus(moles{h / 2, h / 2 * k2}))
	k4 := p.waterPer(left.minus(moles{h, h * k3}))
	return h / 6 * (k1 + 2*k2 + 2*k3 + k4)
}

// draw is the water that comes over with the next h moles of ethanol. A step
// is halved until two halves agree with the whole to 1e-8 of the pot; what is
// left of their difference is extrapolated away.
func (p pot) draw(left moles, h float64, halvings int) float64 {
	whole := p.step(left, h)
	first := p.step(left, h/2)
	middle := left.minus(moles{h / 2, first})
	halves := first + p.step(middle, h/2)
	if rest := (halves - whole) / 15; halvings == 0 || math.Abs(rest) <= 1e-8*(left.ethanol+left.water) {
		return halves + rest
	}
	first = p.draw(left, h/2, halvings-1)
	return first + p.draw(left.minus(moles{h / 2, first}), h/2, halvings-1)
}

// maxHalvings bounds the work where a plate's vapour meets the azeotrope and the
// curve has a corner, which no halving smooths.
const maxHalvings = 8

// A stage is a point of a run in moles.
type stage struct {
	spirit      float64
	drawn, left moles
}

// at is the pot with so much drawn and so much left.
func (p pot) at(drawn, left moles) stage {
	return stage{p.distillate(left.fraction(), p.way), drawn, left}
}

// How far apart the points of a course stand, as parts of its first ethanol: for
// showing, and for asking where it ends.
const (
	fine   = 0.01
	coarse = 0.04
)

// course follows the pot from s until over, which falls as the run goes on, is
// zero; that point is the last. A pot that gave all but 1e-7 of its ethanol is
// not followed further.
func (p pot) course(s stage, share float64, over func(stage) float64) []stage {
	stages := []stage{s}
	charge := s.left.ethanol
	for over(s) > 0 && s.left.ethanol > 1e-7*charge {
		from := s
		after := func(h float64) stage {
			out := moles{h, p.draw(from.left, h, maxHalvings)}
			return p.at(from.drawn.plus(out), from.left.minus(out))
		}
		h := min(charge*share, from.left.ethanol*share*10)
		if s = after(h); over(s) < 0 {
			s = after(root(func(h float64) float64 { return over(after(h)) }, 0, h, 1e-12))
			return append(stages, s)
		}
		stages = append(stages, s)
	}
	return stages
}

// over is how far a stage is from the end.
func (e End) over() func(stage) float64 {
	spirit, still := float64(MoleFractionOf(e.Spirit)), float64(MoleFractionOf(e.Still))
	return func(s stage) float64 { return min(s.spirit-spirit, s.left.fraction()-still) }
}
