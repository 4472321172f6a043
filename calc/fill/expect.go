package fill

import (
	"math"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func strengthOf(r quantity.Reading) (spirit.Strength, error) { return spirit.StrengthOf(r) }

// usualLoss is what a line keeps of a run: 0.3 to 1.0 % (common practice, no
// source); a house with its own figure gives that.
var usualLoss = quantity.MustParse("0.65±0.35", quantity.Percent)

// A Stock is a dry good at hand for a run.
type Stock struct {
	Name    string
	PerCase bool  // one for a case and not for a bottle
	Each    int64 // pieces for one bottle or case, 0 for 1
	OnHand  int64
}

// A Run is a bottling before its first bottle.
type Run struct {
	Tank     quantity.Reading // volume in the tank
	Temp     quantity.Reading // its temperature, none where the volume is at the base already
	Strength quantity.Reading
	Base     Base
	Heel     quantity.Reading // what will stay in the tank, none for none
	Loss     quantity.Reading // % of the run that the line keeps, none for 0.65 ± 0.35
	Size     quantity.Reading // of a bottle
	PerCase  int64
	Goods    []Stock
}

// A Shortage is a good that ends before the tank does.
type Shortage struct {
	Name           string
	Needed, OnHand int64
	Enough         int64 // bottles that it is enough for
}

// An Expected answers a Run.
type Expected struct {
	Volume       quantity.Figure // L in the tank at the base temperature
	Bottles      quantity.Figure // without unit, with its doubt
	Cases, Loose int64           // of the bottles expected
	Least, Most  int64           // bottles, two standard uncertainties about
	Short        []Shortage
	quantity.Explained
}

// Expect works out what a tank fills, and which good ends first.
func Expect(r Run) (Expected, error) {
	var faults fault.List
	litre := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.Litre) }
	faults.Add("tank", between(r.Tank, "the volume in the tank", litre("0"), litre("1000000")))
	_, err := spirit.StrengthOf(r.Strength)
	faults.Add("strength", err)
	if !r.Temp.IsNone() {
		faults.Add("temp", between(r.Temp, "a temperature", quantity.MustParse("-20", quantity.Celsius), quantity.MustParse("40", quantity.Celsius)))
	}
	heel := r.Heel
	if heel.IsNone() {
		heel = litre("0")
	}
	faults.Add("heel", between(heel, "the heel", litre("0"), litre("1000000")))
	loss := r.Loss
	if loss.IsNone() {
		loss = usualLoss
	}
	faults.Add("loss", between(loss, "a loss", quantity.MustParse("0", quantity.Percent), quantity.MustParse("20", quantity.Percent)))
	faults.Add("size", between(r.Size, "the size of a bottle", millilitres("1"), millilitres("60000")))
	if r.PerCase < 1 || r.PerCase > 1000 {
		faults.Add("per_case", fault.Fault{Code: fault.NotOneOf, Value: strconv.FormatInt(r.PerCase, 10), Limit: "is not between 1 and 1000 bottles in a case", Remedy: "give the bottles in a full case"})
	}
	if len(faults) == 0 && heel.Base() > r.Tank.Base() {
		faults.Add("heel", fault.Fault{Code: fault.TooHigh, Value: heel.String(), Limit: "is more than the tank holds", Remedy: "check both"})
	}
	if err := faults.Err(); err != nil {
		return Expected{}, err
	}
	in := []quantity.Estimate{r.Tank.EstimateIn(quantity.Litre), {}, r.Strength.EstimateIn(r.Strength.Unit()), heel.EstimateIn(quantity.Litre), loss.EstimateIn(quantity.Percent)}
	if !r.Temp.IsNone() {
		in[1] = r.Temp.EstimateIn(quantity.Celsius)
	}
	size := r.Size.In(quantity.Litre)
	var y [2]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		volume := x[0]
		if !r.Temp.IsNone() {
			s, err := strengthIn(r.Strength.Unit(), x[2])
			if err != nil {
				return nil, err
			}
			volume *= float64(s.DensityAt(spirit.Celsius(x[1]))) / float64(s.DensityAt(r.Base.celsius()))
		}
		y = [2]float64{volume, math.Max(volume-x[3], 0) * (1 - x[4]/100) / size}
		return y[:], nil
	})
	if err != nil {
		return Expected{}, err
	}
	e := Expected{Volume: quantity.FigureOf(out[0], quantity.Litre, quantity.Doubted(r.Tank, r.Temp, r.Strength)), Bottles: quantity.FigureOf(out[1], quantity.NoUnit, quantity.Doubted(r.Tank, r.Temp, r.Strength, r.Heel, loss))}
	// A whole number of bottles as far as rounding can tell.
	whole := int64(math.Floor(e.Bottles.Value + 1e-6))
	e.Cases, e.Loose = whole/r.PerCase, whole%r.PerCase
	e.Least = max(0, int64(math.Floor(e.Bottles.Value-e.Bottles.Expanded()+1e-6)))
	e.Most = int64(math.Floor(e.Bottles.Value + e.Bottles.Expanded() + 1e-6))
	for _, g := range r.Goods {
		each := max(1, g.Each)
		needed, enough := e.Most*each, g.OnHand/each
		if g.PerCase {
			needed, enough = (e.Most+r.PerCase-1)/r.PerCase*each, g.OnHand/each*r.PerCase
		}
		if g.OnHand < needed {
			e.Short = append(e.Short, Shortage{g.Name, needed, g.OnHand, enough})
		}
	}
	e.Explained = quantity.Explain(func(w *quantity.Working) {
		if r.Temp.IsNone() {
			w.Add("in the tank, at "+r.Base.String()+" as given", e.Volume.Text(2))
		} else {
			w.Add("in the tank, "+r.Tank.String()+" at "+r.Temp.String()+" brought to "+r.Base.String()+" (OIML R 22)", e.Volume.Text(2))
		}
		w.Add("less the heel", heel.String())
		w.Add("less what the line keeps", loss.String())
		w.Add("in bottles of "+r.Size.String(), e.Bottles.Text(0))
		w.Add("cases of "+strconv.FormatInt(r.PerCase, 10)+" and loose bottles", strconv.FormatInt(e.Cases, 10)+" and "+strconv.FormatInt(e.Loose, 10))
		for _, s := range e.Short {
			w.Add(s.Name+": "+strconv.FormatInt(s.Needed, 10)+" needed, "+strconv.FormatInt(s.OnHand, 10)+" at hand; enough for", strconv.FormatInt(s.Enough, 10)+" bottles")
		}
	})
	return e, nil
}
