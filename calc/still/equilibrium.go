package still

import (
	"math"
	"sort"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// MoleFraction is moles of ethanol per mole of mixture.
type MoleFraction float64

// Molar masses, kg/mol (IUPAC 2021 standard atomic weights, rounded).
const (
	ethanolMolar = 0.046069
	waterMolar   = 0.018015
)

// MoleFractionOf is a strength in moles.
func MoleFractionOf(s spirit.Strength) MoleFraction {
	e, w := float64(s.MassFraction())/ethanolMolar, (1-float64(s.MassFraction()))/waterMolar
	return MoleFraction(e / (e + w))
}

// Strength is the mole fraction as a strength.
func (x MoleFraction) Strength() spirit.Strength {
	e, w := float64(x)*ethanolMolar, float64(1-x)*waterMolar
	return mixture(e, w)
}

// mixture is the strength of so much ethanol with so much water, by mass.
func mixture(ethanol, water float64) spirit.Strength {
	s, err := spirit.FromMassFraction(spirit.MassFraction(min(max(ethanol/(ethanol+water), 0), 1)))
	if err != nil {
		panic("still: " + err.Error()) // held between 0 and 1 above
	}
	return s
}

// Pressure is in hPa.
type Pressure float64

// StandardAtmosphere is 760 mmHg.
const StandardAtmosphere Pressure = 1013.25

const mmHg = 1.333223874 // hPa

// The pressures at which stills of the trade boil: from an altitude of 4,500 m
// to a mine's bottom. The vapour-pressure constants were fitted around them.
const (
	thinnest Pressure = 550
	densest  Pressure = 1100
)

func checkPressure(p Pressure) error {
	f := fault.Fault{Code: fault.TooLow, Value: quantity.Fixed(float64(p), 0) + " hPa", Limit: "is outside 550 to 1100 hPa, where the boiling points are known",
		Remedy: "give the pressure at the still, not the one reduced to sea level"}
	switch {
	case p >= thinnest && p <= densest:
		return nil
	case p > densest:
		f.Code = fault.TooHigh
	}
	return f
}

// A liquid's Antoine constants: log10(p/mmHg) = a − b/(t/°C + c).
type antoine struct{ a, b, c float64 }

// Gmehling and Onken's constants as a laboratory's page prints them from Perry
// (shared note S43); 760.05 mmHg at 78.30 °C and 760.09 at 100 °C.
var (
	ethanolAntoine = antoine{8.11220, 1592.864, 226.184}
	waterAntoine   = antoine{8.07131, 1730.630, 233.426}
)

func (l antoine) pressure(t float64) float64 {
	return mmHg * math.Exp(math.Ln10*(l.a-l.b/(t+l.c)))
}

func (l antoine) boiling(p float64) float64 {
	return l.b/(l.a-math.Log10(p/mmHg)) - l.c
}

// VapourPressures are those of pure ethanol and pure water at t, by Antoine's
// equation. Range: 50 to 105 °C, where boiling points are sought; ethanol is
// carried a little past its constants' 93 °C for the weakest washes.
func VapourPressures(t spirit.Celsius) (ethanol, water Pressure) {
	return Pressure(ethanolAntoine.pressure(float64(t))), Pressure(waterAntoine.pressure(float64(t)))
}

// A Model is a way of saying how ethanol and water depart from an ideal mixture.
type Model uint8

// The two models are independent of each other: NRTL's parameters rest on a
// collection of measurements and change with temperature, van Laar's are two
// constants of a general text. Against the 15 points of Carey and Lewis (1932)
// they are off by 0.004 and 0.005 in vapour composition and 0.13 to 0.15 K, on
// the mean.
const (
	NRTL    Model = iota // Gmehling and Onken's parameters, from memory (S45)
	VanLaar              // A12 1.6798, A21 0.9227 (S44)
)

// String is the model's name.
func (m Model) String() string {
	if m == VanLaar {
		return "van Laar"
	}
	return "NRTL"
}

// activities are the activity coefficients at mole fraction x and t °C.
func (m Model) activities(x, t float64) (ethanol, water float64) {
	if m == VanLaar {
		const a12, a21 = 1.6798, 0.9227
		d := a12*x + a21*(1-x)
		e, w := a21*(1-x)/d, a12*x/d
		return math.Exp(a12 * e * e), math.Exp(a21 * w * w)
	}
	const alpha, a12, a21, gas = 0.3031, -109.6339, 1332.3134, 1.98721 // cal/mol, cal/(mol K)
	rt := gas * (t + 273.15)
	τ12, τ21 := a12/rt, a21/rt
	g12, g21 := math.Exp(-alpha*τ12), math.Exp(-alpha*τ21)
	d1, d2 := x+(1-x)*g21, 1-x+x*g12
	e := τ21*(g21/d1)*(g21/d1) + τ12*g12/(d2*d2)
	w := τ12*(g12/d2)*(g12/d2) + τ21*g21/(d1*d1)
	return math.Exp((1 - x) * (1 - x) * e), math.Exp(x * x * w)
}

// azeotrope is the composition at which vapour and liquid are alike: 0.8943
// molar, 97.2 % vol (Carey and Lewis; 78.15 °C at 760 mmHg). The models put it
// between 0.916 and 0.918, so vapour is held at the measured one. It moves by
// less than 0.01 between 550 and 1100 hPa, which is neglected.
const azeotrope = 0.8943

// AzeotropeStrength is as strong as boiling makes a spirit.
func AzeotropeStrength() spirit.Strength { return MoleFraction(azeotrope).Strength() }

// An Equilibrium is vapour over liquid at one pressure by one model, ready to be
// asked thousands of times. Make one with NewEquilibrium and keep it.
type Equilibrium struct {
	model    Model
	pressure float64
	y, slope [cells + 1]float64 // vapour over even steps of the grid, and its slope there
}

// The vapour rises steeply over weak liquids and slowly over strong ones; the
// grid is close where it is steep, z = x (1+bend)/(x+bend) of the azeotrope's
// way, and a cubic between its points is good to 1e-8 (tested).
const (
	cells = 256
	bend  = 0.12
)

func gridOf(x float64) float64 { h := x / azeotrope; return cells * h * (1 + bend) / (h + bend) }

func onGrid(z float64) float64 {
	h := z / cells
	return azeotrope * bend * h / (1 + bend - h)
}

// NewEquilibrium prepares the model at a pressure, 550 to 1100 hPa.
func NewEquilibrium(m Model, p Pressure) (*Equilibrium, error) {
	if err := checkPressure(p); err != nil {
		return nil, err
	}
	e := &Equilibrium{model: m, pressure: float64(p)}
	for k := range e.y {
		x := onGrid(float64(k))
		t := e.boiling(x)
		γe, _ := m.activities(x, t)
		e.y[k] = x * γe * ethanolAntoine.pressure(t) / e.pressure
	}
	y := &e.y
	for k := range e.slope { // to the fourth order
		switch {
		case k < 2:
			e.slope[k] = (-25*y[k] + 48*y[k+1] - 36*y[k+2] + 16*y[k+3] - 3*y[k+4]) / 12
		case k > cells-2:
			e.slope[k] = (25*y[k] - 48*y[k-1] + 36*y[k-2] - 16*y[k-3] + 3*y[k-4]) / 12
		default:
			e.slope[k] = (y[k-2] - 8*y[k-1] + 8*y[k+1] - y[k+2]) / 12
		}
	}
	return e, nil
}

// Pressure is the pressure it was made for.
func (e *Equilibrium) Pressure() Pressure { return Pressure(e.pressure) }

// boiling is the temperature at which the partial pressures over x add up to
// the pressure (modified Raoult's law, vapour taken as ideal).
func (e *Equilibrium) boiling(x float64) float64 {
	lo, hi := ethanolAntoine.boiling(e.pressure)-2, waterAntoine.boiling(e.pressure)+1e-6
	return root(func(t float64) float64 {
		γe, γw := e.model.activities(x, t)
		return x*γe*ethanolAntoine.pressure(t) + (1-x)*γw*waterAntoine.pressure(t) - e.pressure
	}, lo, hi, exact)
}

// vapour is the mole fraction of the vapour over a boiling liquid.
func (e *Equilibrium) vapour(x float64) float64 {
	if x >= azeotrope {
		return azeotrope
	}
	z := gridOf(x)
	k := int(z)
	return min(hermite(z-float64(k), e.y[k], e.y[k+1], e.slope[k], e.slope[k+1]), azeotrope)
}

// liquid is the mole fraction of the liquid that boils to this vapour.
func (e *Equilibrium) liquid(y float64) float64 {
	if y >= e.y[cells] {
		return azeotrope
	}
	k := sort.Search(cells, func(k int) bool { return e.y[k+1] > y })
	h := e.y[k+1] - e.y[k]
	return onGrid(float64(k) + hermite((y-e.y[k])/h, 0, 1, h/e.slope[k], h/e.slope[k+1]))
}

// hermite is the cubic through a and b with their slopes, a part s of the way.
func hermite(s, a, b, slopeA, slopeB float64) float64 {
	d := b - a
	return a + s*(slopeA+s*(3*d-2*slopeA-slopeB+s*(slopeA+slopeB-2*d)))
}

// Boiling is the boiling point of a liquid up to the azeotrope.
func (e *Equilibrium) Boiling(liquid spirit.Strength) spirit.Celsius {
	return spirit.Celsius(e.boiling(float64(MoleFractionOf(liquid))))
}

// Vapour is the vapour over a boiling liquid, at most the azeotrope.
func (e *Equilibrium) Vapour(liquid spirit.Strength) spirit.Strength {
	return MoleFraction(e.vapour(float64(MoleFractionOf(liquid)))).Strength()
}

// liquidAt is the liquid that boils at t; the azeotrope below its boiling
// point, water above water's.
func (e *Equilibrium) liquidAt(t float64) float64 {
	switch {
	case t <= e.boiling(azeotrope):
		return azeotrope
	case t >= e.boiling(0):
		return 0
	}
	return root(func(x float64) float64 { return e.boiling(x) - t }, 0, azeotrope, exact)
}

// exact is a tolerance at the edge of what a float64 holds.
const exact = 1e-14

// root is where f, of opposite signs at a and b, is zero, to a tolerance in x:
// inverse quadratic interpolation where it is safe and bisection elsewhere
// (Chandrupatla, Adv. Eng. Software 28 (1997) 145, from memory).
func root(f func(float64) float64, a, b, tolerance float64) float64 {
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a
	case fb == 0:
		return b
	}
	var c, fc float64
	step := 0.5
	for range 100 {
		x := a + step*(b-a)
		fx := f(x)
		if (fx > 0) == (fa > 0) {
			c, fc = a, fa
		} else {
			c, fc = b, fb
			b, fb = a, fa
		}
		a, fa = x, fx
		best := a
		if math.Abs(fb) < math.Abs(fa) {
			best = b
		}
		limit := tolerance * max(math.Abs(best), 1e-6) / math.Abs(b-a)
		if limit > 0.5 || fa == 0 {
			return best
		}
		ξ, φ := (a-b)/(c-b), (fa-fb)/(fc-fb)
		step = 0.5
		if φ*φ < ξ && (1-φ)*(1-φ) < 1-ξ {
			step = fa/(fb-fa)*fc/(fb-fc) + (c-a)/(b-a)*fa/(fc-fa)*fb/(fc-fb)
		}
		step = min(max(step, limit), 1-limit)
	}
	return a
}
