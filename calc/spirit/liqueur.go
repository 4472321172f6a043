package spirit

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// sugarVolume is the apparent volume of sucrose dissolved in a mixture of
// ethanol and water, L/kg: it agrees with Tabarié's relation from 25 to 40 % vol
// and up to 300 g/L (from memory, common practice).
const sugarVolume = 0.620

// A LiqueurRecipe is what goes into a liqueur: spirit, water and sucrose.
type LiqueurRecipe struct {
	Spirit, Strength quantity.Reading // volume or weight in air, and its strength
	Water            quantity.Reading // weight or volume, none for none
	Sugar            quantity.Reading // weight of sucrose, none for none
}

// A Liqueur is what a recipe gives, at 20 °C.
type Liqueur struct {
	Volume   quantity.Figure // L, or gal where the spirit was in US units
	ABV20    quantity.Figure // % vol at 20 °C of the whole, the true one
	Sugar    quantity.Figure // g/L
	Density  quantity.Figure // kg/m3 in vacuo
	Apparent quantity.Figure // % vol that a hydrometer would show at 20 °C; 0 where the liqueur is heavier than water
	quantity.Explained
}

// MakeLiqueur balances mass and apparent volume: ethanol and water mix as OIML
// R 22 has it, and each kg of sucrose adds 0.620 L; the air's lift on the sugar,
// 0.06 %, is left out. Only a distillation gives
// the legal strength of a sweetened product. Range: up to 700 g/L of sugar.
func MakeLiqueur(l LiqueurRecipe) (Liqueur, error) {
	var faults fault.List
	faults.Add("spirit", checkVolumeOrWeight(l.Spirit))
	s, err := StrengthOf(l.Strength)
	faults.Add("strength", err)
	if !l.Water.IsNone() && !(l.Water.Unit().Dimension() == quantity.Volume && l.Water.Float() == 0) && !(l.Water.Unit().Dimension() == quantity.Mass && l.Water.Float() == 0) {
		faults.Add("water", checkVolumeOrWeight(l.Water))
	}
	if !l.Sugar.IsNone() && !(l.Sugar.Unit().Dimension() == quantity.Mass && l.Sugar.Float() == 0) {
		faults.Add("sugar", checkAmount(l.Sugar, quantity.Mass))
	}
	if err := faults.Err(); err != nil {
		return Liqueur{}, err
	}
	in := []quantity.Estimate{estimate(l.Spirit), estimate(l.Strength), estimate(l.Water), {}}
	if !l.Sugar.IsNone() {
		in[3] = l.Sugar.EstimateIn(quantity.Kilogram)
	}
	var y [7]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		p, err := fraction(l.Strength.Unit(), x[1])
		if err != nil {
			return nil, err
		}
		mass := conventionOf(l.Spirit.Unit()).massOf(l.Spirit.Unit(), x[0], p)
		ethanol := mass * p
		if x[2] != 0 {
			mass += conventionOf(l.Water.Unit()).massOf(l.Water.Unit(), x[2], 0)
		}
		volume := metric().litres(mass, ethanol/mass) + sugarVolume*x[3]
		ρ := (mass + x[3]) / volume * 1000
		y = [7]float64{volume, ethanol / scale20.ethanol * 1000 / volume * 100, x[3] / volume * 1000, ρ,
			100 * scale20.share(scale20.fromDensityUnchecked(min(ρ, scale20.water)), scale20.ethanol), mass, ethanol}
		return y[:], nil
	})
	if err != nil {
		return Liqueur{}, err
	}
	doubted := quantity.Doubted(l.Spirit, l.Strength, l.Water, l.Sugar)
	q := Liqueur{
		Volume: quantity.FigureOf(out[0], quantity.Litre, doubted).In(conventionOf(l.Spirit.Unit()).volume),
		ABV20:  quantity.FigureOf(out[1], quantity.ABV20, doubted), Sugar: quantity.FigureOf(out[2], quantity.GramPerLitre, doubted),
		Density: quantity.FigureOf(out[3], quantity.KilogramPerCubicMetre, doubted), Apparent: quantity.FigureOf(out[4], quantity.ABV20, doubted),
	}
	if q.Sugar.Value > maxSugar {
		return Liqueur{}, fault.List{{Code: fault.TooHigh, Field: "sugar", Value: l.Sugar.String(), Limit: "gives " + q.Sugar.Text(0) + ", above 700 g/L", Remedy: "check the weight of the sugar and its unit"}}
	}
	q.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add(l.Spirit.String()+" of "+l.Strength.String()+", "+quantity.Fixed(s.MassPercent(), 3)+" % by mass: its ethanol", quantity.Fixed(out[6].Value, 3)+" kg")
		w.Add("ethanol and all water together", quantity.Fixed(out[5].Value, 3)+" kg")
		w.Add("their volume at 20 °C without the sugar (OIML R 22)", quantity.Fixed(metric().litres(out[5].Value, out[6].Value/out[5].Value), 3)+" L")
		w.Add("the sugar's apparent volume, 0.620 L/kg × "+quantity.Fixed(in[3].Value, 3)+" kg", quantity.Fixed(sugarVolume*in[3].Value, 3)+" L")
		w.Add("volume of the liqueur at 20 °C", q.Volume.Text(places))
		w.Add("pure alcohol, the ethanol over 789.24 kg/m3, in that volume", q.ABV20.Text(places))
		w.Add("sugar in that volume", q.Sugar.Text(1))
		w.Add("density, all masses over the volume", q.Density.Text(2))
		if q.Density.Value > scale20.water {
			w.Add("heavier than water: a spirit hydrometer finds no mark in it", "")
		} else {
			w.Add("what a hydrometer shows under that sugar", q.Apparent.Text(1))
		}
	})
	return q, nil
}

// maxSugar is past any liqueur: a saturated syrup holds about 900 g/L of water's
// own volume, and alcohol lowers that.
const maxSugar = 700

// A Sweetened is what a hydrometer showed in a spirit of known sugar.
type Sweetened struct {
	Apparent quantity.Reading // strength by hydrometer, corrected for temperature
	Sugar    quantity.Reading // sucrose per volume
}

// An Unsweetened answers a Sweetened.
type Unsweetened struct {
	ABV20       quantity.Figure // true % vol at 20 °C
	Obscuration quantity.Figure // % vol hidden
	Strength    Strength        // of True, as that of a spirit without sugar
	quantity.Explained
}

// UnderSugar finds the true strength behind a hydrometer in a spirit sweetened
// with a known weight of sucrose: take the sugar's mass and apparent volume
// (0.620 mL/g) out of a litre and read the strength of what is left (OIML R 22).
// At 40 % vol a gram per litre hides 0.23 % vol (0.24 by Tabarié's relation). An estimate for the bench: the
// law asks for distillation above 600 mg per 100 mL (27 CFR 30.32).
func UnderSugar(q Sweetened) (Unsweetened, error) {
	var faults fault.List
	_, err := StrengthOf(q.Apparent)
	faults.Add("apparent", err)
	switch {
	case q.Sugar.IsNone():
		faults.Add("sugar", fault.Fault{Code: fault.Missing, Limit: "the sugar is needed", Remedy: "give it in g/L"})
	case q.Sugar.Unit().Dimension() != quantity.Concentration:
		faults.Add("sugar", fault.Fault{Code: fault.WrongUnit, Value: q.Sugar.String(), Limit: "is not a concentration", Remedy: "give it in g/L or g/100mL"})
	case q.Sugar.Float() < 0 || q.Sugar.Base() > maxSugar:
		faults.Add("sugar", fault.Fault{Code: fault.NotOneOf, Value: q.Sugar.String(), Limit: "is not between 0 and 700 g/L", Remedy: "check the figure and its unit"})
	}
	if err := faults.Err(); err != nil {
		return Unsweetened{}, err
	}
	in := []quantity.Estimate{estimate(q.Apparent), q.Sugar.EstimateIn(quantity.GramPerLitre)}
	var y [3]float64
	out, err := quantity.Propagate(in, func(x []float64) ([]float64, error) {
		p, err := fraction(q.Apparent.Unit(), x[0])
		if err != nil {
			return nil, err
		}
		ρ, _ := scale20.density(p)
		left := 1 - sugarVolume*x[1]/1000
		free := (ρ - x[1]) / left
		if free < scale20.ethanol {
			return nil, fault.List{{Code: fault.Conflict, Field: "sugar", Value: q.Sugar.String(), Limit: "cannot be in a spirit that shows " + q.Apparent.String() + ": even pure alcohol would show less", Remedy: "check the sugar and the reading"}}
		}
		v := 100 * left * scale20.share(scale20.fromDensityUnchecked(free), scale20.ethanol)
		y = [3]float64{v, v - 100*scale20.share(p, scale20.ethanol), free}
		return y[:], nil
	})
	if err != nil {
		return Unsweetened{}, err
	}
	doubted := quantity.Doubted(q.Apparent, q.Sugar)
	a := Unsweetened{ABV20: quantity.FigureOf(out[0], quantity.ABV20, doubted), Obscuration: quantity.FigureOf(out[1], quantity.ABV20, doubted)}
	if a.Strength, err = FromABV20(math.Min(a.ABV20.Value, 100)); err != nil {
		return Unsweetened{}, err
	}
	a.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("the density that "+q.Apparent.String()+" stands for at 20 °C, less the sugar, over what the sugar's 0.620 mL/g leaves of the litre", quantity.Fixed(out[2].Value, 2)+" kg/m3")
		w.Add("the strength of a spirit of that density, in the whole litre again", a.ABV20.Text(places))
		w.Add("hidden by the sugar", a.Obscuration.Text(places))
	})
	return a, nil
}
