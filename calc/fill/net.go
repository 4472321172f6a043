package fill

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Base is the temperature at which contents count. The two differ by 0.3 % of
// a bottle of 40 % vol: a house keeps to one.
type Base uint8

// The bases.
const (
	At20C Base = iota // the metric one
	At60F             // the US one
)

func (b Base) celsius() spirit.Celsius {
	if b == At60F {
		return spirit.At60F
	}
	return spirit.At20C
}

// String is the base in words.
func (b Base) String() string {
	if b == At60F {
		return "60 °F"
	}
	return "20 °C"
}

// BaseOf is the base of a strength's scale: 60 °F for proof, 20 °C for % vol.
func BaseOf(strength quantity.Reading) Base {
	if strength.Unit() == quantity.Proof {
		return At60F
	}
	return At20C
}

// A Liquid is what is filled: its strength, or, with sugar or extract in it, its
// density in vacuo at the base temperature.
type Liquid struct{ Strength, Density quantity.Reading }

// at is the density in vacuo at the base, from one of the liquid's readings.
func (l Liquid) at(x float64, b Base) (spirit.Density, error) {
	if !l.Density.IsNone() {
		return spirit.Density(x), nil
	}
	s, err := strengthIn(l.Strength.Unit(), x)
	return s.DensityAt(b.celsius()), err
}

// estimate is the reading the density comes from.
func (l Liquid) estimate() quantity.Estimate {
	if !l.Density.IsNone() {
		return l.Density.EstimateIn(quantity.KilogramPerCubicMetre)
	}
	return l.Strength.EstimateIn(l.Strength.Unit())
}

func (l Liquid) reading() quantity.Reading {
	if !l.Density.IsNone() {
		return l.Density
	}
	return l.Strength
}

func (l Liquid) check(faults *fault.List) {
	switch {
	case !l.Density.IsNone() && !l.Strength.IsNone():
		faults.Add("density", fault.Fault{Code: fault.Conflict, Value: l.Density.String(), Limit: "stands beside a strength", Remedy: "give the density where there is sugar in it, else the strength"})
	case !l.Density.IsNone():
		faults.Add("density", between(l.Density, "a density", quantity.MustParse("780", quantity.KilogramPerCubicMetre), quantity.MustParse("1400", quantity.KilogramPerCubicMetre)))
	default:
		_, err := spirit.StrengthOf(l.Strength)
		faults.Add("strength", err)
	}
}

func strengthIn(u quantity.Unit, x float64) (spirit.Strength, error) {
	if u == quantity.Proof {
		return spirit.FromProof(x)
	}
	return spirit.FromABV20(x)
}

// A Weighing is one bottle on a scale, empty and full.
type Weighing struct {
	Empty, Full quantity.Reading
	Liquid      Liquid
	Base        Base
}

// Contents is what is in a bottle.
type Contents struct {
	Net    quantity.Figure // mL at the base temperature
	Weight quantity.Figure // g, net, in air
	quantity.Explained
}

// Weigh finds net contents from the two weights: the net weight over the
// density in air at the base temperature (1.2 kg/m³ of air, weights of 8000).
// The temperature of the bottle does not matter, its strength does: 0.1 % vol
// is 0.014 %. 750 mL of 40.0 % vol weigh 710.2 g at 20 °C; of 80 proof, at 60 °F,
// 712.3 g. The closure is weighed with both or with neither.
func Weigh(w Weighing) (Contents, error) {
	var faults fault.List
	faults.Add("empty", between(w.Empty, "the weight of the empty bottle", grams("0"), grams("60000")))
	faults.Add("full", between(w.Full, "the weight of the full bottle", grams("0"), grams("90000")))
	if len(faults) == 0 && w.Full.Base() <= w.Empty.Base() {
		faults.Add("full", fault.Fault{Code: fault.Conflict, Value: w.Full.String(), Limit: "is not more than the empty bottle, " + w.Empty.String(), Remedy: "check which weight is which"})
	}
	w.Liquid.check(&faults)
	if err := faults.Err(); err != nil {
		return Contents{}, err
	}
	var y [3]float64
	out, err := quantity.PropagateFinite([]quantity.Estimate{w.Empty.EstimateIn(quantity.Gram), w.Full.EstimateIn(quantity.Gram), w.Liquid.estimate()}, func(x []float64) ([]float64, error) {
		ρ, err := w.Liquid.at(x[2], w.Base)
		if err != nil {
			return nil, err
		}
		y = [3]float64{(x[1] - x[0]) / float64(ρ.InAir()) * 1000, x[1] - x[0], float64(ρ)}
		return y[:], nil
	})
	if err != nil {
		return Contents{}, err
	}
	doubted := quantity.Doubted(w.Empty, w.Full, w.Liquid.reading())
	c := Contents{Net: quantity.FigureOf(out[0], quantity.Millilitre, doubted), Weight: quantity.FigureOf(out[1], quantity.Gram, doubted)}
	c.Explained = quantity.Explain(func(k *quantity.Working) {
		k.Add("net weight in air, "+w.Full.Digits()+" − "+w.Empty.Digits(), c.Weight.Text(1))
		k.Add("density in vacuo at "+w.Base.String()+" of "+w.Liquid.reading().String(), quantity.Fixed(out[2].Value, 2)+" kg/m3")
		k.Add("density by weighing in air, (ρ − 1.2) ÷ (1 − 1.2/8000)", quantity.Fixed(float64(spirit.Density(out[2].Value).InAir()), 2)+" kg/m3")
		k.Add("net contents at "+w.Base.String(), c.Net.Text(1))
	})
	return c, nil
}

// A Pouring is one bottle poured out and measured at a temperature.
type Pouring struct {
	Volume, Temp, Strength quantity.Reading
	Base                   Base
}

// Pour brings a measured volume to the base temperature by the ratio of
// densities (OIML R 22): 752.7 mL of 40 % vol at 25 °C are 750 mL at 20 °C. The
// glass of the measure is left out.
func Pour(p Pouring) (Contents, error) {
	var faults fault.List
	faults.Add("volume", between(p.Volume, "a volume", millilitres("1"), millilitres("60000")))
	faults.Add("temp", between(p.Temp, "a temperature", quantity.MustParse("-20", quantity.Celsius), quantity.MustParse("40", quantity.Celsius)))
	_, err := spirit.StrengthOf(p.Strength)
	faults.Add("strength", err)
	if err := faults.Err(); err != nil {
		return Contents{}, err
	}
	var y [2]float64
	out, err := quantity.PropagateFinite([]quantity.Estimate{p.Volume.EstimateIn(quantity.Millilitre), p.Temp.EstimateIn(quantity.Celsius), p.Strength.EstimateIn(p.Strength.Unit())}, func(x []float64) ([]float64, error) {
		s, err := strengthIn(p.Strength.Unit(), x[2])
		if err != nil {
			return nil, err
		}
		base := s.DensityAt(p.Base.celsius())
		net := x[0] * float64(s.DensityAt(spirit.Celsius(x[1]))) / float64(base)
		y = [2]float64{net, net * float64(base.InAir()) / 1000}
		return y[:], nil
	})
	if err != nil {
		return Contents{}, err
	}
	doubted := quantity.Doubted(p.Volume, p.Temp, p.Strength)
	c := Contents{Net: quantity.FigureOf(out[0], quantity.Millilitre, doubted), Weight: quantity.FigureOf(out[1], quantity.Gram, doubted)}
	c.Explained = quantity.Explain(func(k *quantity.Working) {
		k.Add("measured at "+p.Temp.String(), p.Volume.String())
		k.Add("× density there ÷ density at "+p.Base.String()+" (OIML R 22)", quantity.Fixed(c.Net.Value/p.Volume.In(quantity.Millilitre), 5))
		k.Add("net contents at "+p.Base.String(), c.Net.Text(1))
	})
	return c, nil
}

// NetWeight is the weight in air of a full size at the base temperature: what
// the scale at the filler shows, tared with an empty bottle.
func NetWeight(size quantity.Reading, l Liquid, b Base) (quantity.Figure, error) {
	var faults fault.List
	faults.Add("size", between(size, "a size", millilitres("1"), millilitres("60000")))
	l.check(&faults)
	if err := faults.Err(); err != nil {
		return quantity.Figure{}, err
	}
	out, err := quantity.PropagateFinite([]quantity.Estimate{size.EstimateIn(quantity.Millilitre), l.estimate()}, func(x []float64) ([]float64, error) {
		ρ, err := l.at(x[1], b)
		return []float64{x[0] * float64(ρ.InAir()) / 1000}, err
	})
	if err != nil {
		return quantity.Figure{}, err
	}
	return quantity.FigureOf(out[0], quantity.Gram, quantity.Doubted(size, l.reading())), nil
}

func grams(s string) quantity.Reading       { return quantity.MustParse(s, quantity.Gram) }
func millilitres(s string) quantity.Reading { return quantity.MustParse(s, quantity.Millilitre) }

// between holds a needed figure between two others of its dimension.
func between(r quantity.Reading, what string, low, high quantity.Reading) error {
	return quantity.Between(r, what, low, high, "give it in "+low.Unit().Label(), "the range is "+low.Digits()+" to "+high.String()+": check the figure and its unit")
}
