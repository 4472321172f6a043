package cask

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Maceration is fruit laid into spirit.
type Maceration struct {
	Spirit, Strength quantity.Reading // volume (gal at 60 °F, L at 20 °C) or weight in air, and its strength
	Fruit            quantity.Reading // prepared weight
	Water            quantity.Reading // % of the fruit that is water; none for 85
	Drained          quantity.Reading // % of the liquid that runs off; none for 70 to 85
}

// A Macerated answers a Maceration, once the fruit's water and the spirit are
// one liquid.
type Macerated struct {
	Liquid                 quantity.Figure // all of it, in the unit of volume of the spirit's convention
	Strength               quantity.Figure // on the scale of the spirit's
	DrainedLow, DrainedTop quantity.Figure // what runs off
	LeftLow, LeftTop       quantity.Figure // pure alcohol, L at 20 °C, that stays in the fruit
	Advice                 string          // "" where there is none
	quantity.Explained
}

// Macerate assumes equilibrium: the water of the fruit mixes with the spirit,
// by mass (OIML R 22). 10 L of 60 % on 4 kg of fruit with 85 % water make 13.30 L
// of 45.1 %. Fruit's sugar and acid dissolve too: they are not in the volume,
// and hide strength from a hydrometer. Common practice, no source: fruit holds
// 80 to 88 % water, 70 to 85 % of the liquid drains, a macerate keeps above 20 to
// 25 % vol and is best above 30.
func Macerate(m Maceration) (Macerated, error) {
	var faults fault.List
	if m.Spirit.Unit().Dimension() == quantity.Mass {
		faults.Add("spirit", checkAbove(m.Spirit, "an amount of spirit", quantity.Mass))
	} else {
		faults.Add("spirit", checkAbove(m.Spirit, "an amount of spirit", quantity.Volume))
	}
	_, err := spirit.StrengthOf(m.Strength)
	faults.Add("strength", err)
	faults.Add("fruit", checkAbove(m.Fruit, "the weight of the fruit", quantity.Mass))
	water := m.Water
	if water.IsNone() {
		water = pct("85±1.5")
	}
	faults.Add("water", checkBetween(water, "the fruit's water", pct("0"), pct("98")))
	low, top := m.Drained, m.Drained
	if low.IsNone() {
		low, top = pct("70"), pct("85")
	}
	faults.Add("drained", checkBetween(low, "the share that drains", pct("1"), pct("100")))
	if err := faults.Err(); err != nil {
		return Macerated{}, err
	}
	// The fruit's water as one reading, so that spirit.Blend does the rest.
	share := water.EstimateIn(quantity.Percent)
	kg := m.Fruit.EstimateIn(quantity.Kilogram)
	parts := []spirit.Part{{Amount: m.Spirit, Strength: m.Strength}}
	doubted := quantity.Doubted(m.Spirit, m.Strength, m.Fruit, m.Water)
	if share.Value > 0 {
		w, err := quantity.PropagateFinite([]quantity.Estimate{share, kg}, func(x []float64) ([]float64, error) { return []float64{x[0] / 100 * x[1]}, nil })
		if err != nil {
			return Macerated{}, err
		}
		parts = append(parts, spirit.Part{Amount: quantity.FigureOf(w[0], quantity.Kilogram, doubted).Reading(6), Strength: quantity.MustParse("0", m.Strength.Unit())})
	}
	b, err := spirit.Blend(parts...)
	if err != nil {
		return Macerated{}, err
	}
	r := Macerated{Liquid: b.Volume, Strength: b.Reached}
	part := func(f quantity.Figure, share float64) quantity.Figure {
		f.Value, f.U = f.Value*share, f.U*share
		return f
	}
	r.DrainedLow, r.DrainedTop = part(b.Volume, low.Float()/100), part(b.Volume, top.Float()/100)
	alcohol := quantity.Figure{Value: b.Mass.Value * float64(b.Strength.MassFraction()) / ethanolDensity, Unit: quantity.Litre}
	r.LeftLow, r.LeftTop = part(alcohol, 1-top.Float()/100), part(alcohol, 1-low.Float()/100)
	switch abv := b.Strength.ABV20(); {
	case abv < 25:
		r.Advice = "Below 25 % vol a macerate can spoil or ferment: take stronger spirit or less fruit."
	case abv < 30:
		r.Advice = "Between 25 and 30 % vol: keep it cool and short; 30 % vol and more keeps better."
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("water in "+m.Fruit.String()+" of fruit, at "+water.String(), quantity.Fixed(share.Value/100*kg.Value, 3)+" kg")
		w.Add("mixed by mass with "+m.Spirit.String()+" of "+m.Strength.String()+": strength at equilibrium", r.Strength.Text(2))
		w.Add("the liquid in all", r.Liquid.Text(2))
		w.Add("of that drains, by practice", quantity.Fixed(r.DrainedLow.Value, 2)+" to "+quantity.Fixed(r.DrainedTop.Value, 2)+" "+r.Liquid.Unit.Label())
		w.Add("pure alcohol that stays in the fruit, to press or distil", quantity.Fixed(r.LeftLow.Value, 2)+" to "+quantity.Fixed(r.LeftTop.Value, 2)+" L")
	})
	return r, nil
}
