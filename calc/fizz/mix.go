package fizz

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Recipe asks for a batch of a mixed drink.
type Recipe struct {
	Batch  quantity.Reading // volume wanted, at 20 °C
	ABV    quantity.Reading // % vol of the drink
	Sugar  quantity.Reading // g/L of sucrose, none for none
	Spirit quantity.Reading // strength of the spirit, proof or % vol
}

// A Mixed answers a Recipe. Weights are on a scale in air.
type Mixed struct {
	Spirit, Water, Sugar quantity.Figure // kg
	SpiritVolume         quantity.Figure // L at 20 °C
	Weight               quantity.Figure // kg, of the whole batch
	Density              quantity.Figure // kg/m3 at 20 °C in vacuo
	Caution              string
	quantity.Explained
}

// sugarVolume is the apparent volume of dissolved sucrose, L/kg (common
// practice from 25 to 40 % vol; in water it is 0.62 too).
const sugarVolume = 0.620

// Mix balances mass: the alcohol wanted from the spirit, the sugar by weight,
// and water for what is missing, with the contraction (OIML R 22). Juice and
// acid are entered as water and sugar. Range: up to 20 % vol and 200 g/L.
func Mix(r Recipe) (Mixed, error) {
	var faults fault.List
	Drink{r.ABV, r.Sugar}.check(&faults)
	if r.ABV.IsNone() {
		faults.Add("abv", fault.Fault{Code: fault.Missing, Limit: "the strength of the drink is needed", Remedy: "give it in % vol"})
	}
	faults.Add("batch", between(r.Batch, "a volume", quantity.MustParse("0.001", quantity.Litre), quantity.MustParse("1000000", quantity.Litre), "check the figure and its unit"))
	s, err := spirit.StrengthOf(r.Spirit)
	faults.Add("spirit", err)
	if err == nil && len(faults) == 0 && s.ABV20() <= r.ABV.Float() {
		faults.Add("spirit", fault.Fault{Code: fault.Conflict, Value: r.Spirit.String(), Limit: "is not stronger than the drink, " + r.ABV.String(), Remedy: "take a stronger spirit"})
	}
	if err := faults.Err(); err != nil {
		return Mixed{}, err
	}
	_, sugar := Drink{Sugar: r.Sugar}.estimates()
	pure, err := spirit.FromMassFraction(1)
	if err != nil {
		return Mixed{}, err
	}
	ethanolDensity := float64(pure.DensityAt(spirit.At20C)) / 1000
	inAir := func(mass, density float64) float64 {
		return mass * (1 - float64(spirit.AirDensity)/density) / (1 - float64(spirit.AirDensity/spirit.WeightDensity))
	}
	var y [6]float64
	out, err := quantity.Propagate([]quantity.Estimate{r.Batch.EstimateIn(quantity.Litre), r.ABV.EstimateIn(quantity.ABV20), sugar, r.Spirit.EstimateIn(r.Spirit.Unit())}, func(x []float64) ([]float64, error) {
		strong, err := spirit.FromABV20(x[3])
		if r.Spirit.Unit() == quantity.Proof {
			strong, err = spirit.FromProof(x[3])
		}
		if err != nil {
			return nil, err
		}
		ethanol := x[0] * x[1] / 100 * ethanolDensity
		sugarKg := x[0] * x[2] / 1000
		free := x[0] - sugarVolume*sugarKg // litres that alcohol and water fill
		mixture, err := spirit.FromABV20(100 * ethanol / ethanolDensity / free)
		if err != nil {
			return nil, err
		}
		liquid := free * float64(mixture.DensityAt(spirit.At20C)) / 1000
		spiritKg := ethanol / float64(strong.MassFraction())
		water := liquid - spiritKg
		if water < 0 {
			return nil, fault.List{{Code: fault.Conflict, Field: "sugar", Value: r.Sugar.String(), Limit: "leaves no room for the spirit's own water", Remedy: "take a stronger spirit or less sugar"}}
		}
		var pureWater spirit.Strength
		ρs, ρw := float64(strong.DensityAt(spirit.At20C)), float64(pureWater.DensityAt(spirit.At20C))
		density := (liquid + sugarKg) / x[0] * 1000
		y = [6]float64{inAir(spiritKg, ρs), inAir(water, ρw), inAir(sugarKg, 1587), spiritKg / ρs * 1000, inAir(liquid+sugarKg, density), density}
		return y[:], nil
	})
	if err != nil {
		return Mixed{}, err
	}
	doubted := quantity.Doubted(r.Batch, r.ABV, r.Sugar, r.Spirit)
	kg := func(i int) quantity.Figure { return quantity.FigureOf(out[i], quantity.Kilogram, doubted) }
	m := Mixed{Spirit: kg(0), Water: kg(1), Sugar: kg(2), SpiritVolume: quantity.FigureOf(out[3], quantity.Litre, doubted), Weight: kg(4), Density: quantity.FigureOf(out[5], quantity.KilogramPerCubicMetre, doubted),
		Caution: "Read the strength of every tank before a lid goes on: a concentrate that is diluted once too little or too much leaves the label's tolerance, and perhaps its tax class." + localCode}
	m.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("spirit of "+r.Spirit.String()+" that holds the alcohol of "+r.Batch.String()+" at "+r.ABV.String(), m.Spirit.Text(3)+", "+m.SpiritVolume.Text(3))
		w.Add("sugar", m.Sugar.Text(3))
		w.Add("water, from the density of what is left of the volume beside the sugar's 0.620 L/kg (OIML R 22)", m.Water.Text(3))
		w.Add("weight of the batch", m.Weight.Text(3))
		w.Add("density at 20 °C", m.Density.Text(1))
	})
	return m, nil
}
