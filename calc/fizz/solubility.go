package fizz

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Drink is what the CO2 dissolves in. The zero Drink is water.
type Drink struct {
	ABV   quantity.Reading // % vol, none for none; up to 20
	Sugar quantity.Reading // g/L, none for none; up to 200
}

const (
	molarCO2   = 44.009   // g/mol
	molarWater = 18.015   // g/mol
	atmosphere = 1013.25  // hPa
	gas        = 8.314463 // J/(mol K)
	kelvin     = 273.15

	// volumeGrams is g/L of one volume: 44.01 g in 22.414 L, an ideal gas at
	// 0 °C and 1 atm. By the real gas's 22.263 L it would be 0.7 % more.
	volumeGrams = 1.963
)

// Volumes is g/L as volumes of gas in one volume of liquid.
func Volumes(gramsPerLitre float64) float64 { return gramsPerLitre / volumeGrams }

// GramsPerLitre is volumes as g/L.
func GramsPerLitre(volumes float64) float64 { return volumes * volumeGrams }

// henry is CO2's constant in water, MPa on mole fractions: ln H = −6.8346 +
// 1.2817e4/T − 3.7668e6/T² + 2.997e8/T³, 273 to 433 K, below 1 MPa (J. J.
// Carroll, J. D. Slupsky and A. E. Mather, J. Phys. Chem. Ref. Data 20, 1201
// (1991), from memory).
func henry(celsius float64) float64 {
	t := celsius + kelvin
	return math.Exp(-6.8346 + 1.2817e4/t - 3.7668e6/(t*t) + 2.997e8/(t*t*t))
}

// waterVapour is its pressure, hPa: Antoine, 1 to 100 °C (handbook constants
// 8.07131, 1730.63, 233.426, from memory).
func waterVapour(celsius float64) float64 {
	return math.Pow(10, 8.07131-1730.63/(celsius+233.426)) * 1.333223874
}

// fugacity is the coefficient of CO2 at a partial pressure in hPa: exp(Bp/RT)
// with the second virial coefficient by Pitzer's correlation (Smith and Van
// Ness, from memory). It is 0.995 at 1 atm and 20 °C, and near 0.96 at 8 bar.
func fugacity(celsius, hPa float64) float64 {
	const tc, pc, ω = 304.13, 7.377e6, 0.225
	t := celsius + kelvin
	tr := t / tc
	b := (0.083 - 0.422/math.Pow(tr, 1.6) + ω*(0.139-0.172/math.Pow(tr, 4.2))) * gas * tc / pc
	return math.Exp(b * hPa * 100 / (gas * t))
}

// waterGrams is g of CO2 in a litre of water under a partial pressure in hPa.
func waterGrams(celsius, hPa float64) float64 {
	x := fugacity(celsius, hPa) * hPa / 1e4 / henry(celsius)
	return x / (1 - x) * waterDensity(celsius) / molarWater * molarCO2
}

// waterDensity is g/L; above 40 °C, where OIML R 22 ends, by the handbook's
// 992.2 at 40 °C and 971.8 at 80 °C, from memory.
func waterDensity(celsius float64) float64 {
	if celsius <= 40 {
		var water spirit.Strength
		return float64(water.DensityAt(spirit.Celsius(celsius)))
	}
	return 992.2 - (celsius-40)*(992.2-971.8)/40
}

// The constant of wine of 12.5 % vol: 1.21 g/L at 1 atm and 25 °C, falling
// with 24.8 kJ/mol (G. Liger-Belair's champagne papers, from memory).
const (
	wineABV  = 12.5
	wineAt25 = 1.21
	wineHeat = 24800
)

// inAlcohol is by what alcohol changes the solubility: a straight line from
// water to wine of 12.5 % vol at the same temperature, held at its value at 0 °C
// below and 25 °C above, the ends of the published range. Beyond 15 % vol the
// line is carried on and the answer says so; beyond 20 % vol it is refused, for
// the solubility passes a minimum and rises tenfold towards pure ethanol
// (Postigo and Katz, J. Solution Chem. 16, 1015 (1987), abstract).
func inAlcohol(celsius, abv float64) float64 {
	t := min(max(celsius, 0), 25)
	wine := wineAt25 * math.Exp(wineHeat/gas*(1/(t+kelvin)-1/(25+kelvin)))
	water := waterGrams(t, atmosphere) / fugacity(t, atmosphere)
	return 1 - abv/wineABV*(1-wine/water)
}

// inSugar is by what sugar changes it: 0.85 % less for each 10 g/L (0.7 to 1 %
// near 100 g/L: common practice, no source).
func inSugar(gramsPerLitre float64) float64 { return 1 - 0.00085*gramsPerLitre }

// drinkGrams is g/L in a drink under a partial pressure in hPa.
func drinkGrams(celsius, hPa, abv, sugar float64) float64 {
	return waterGrams(celsius, hPa) * inAlcohol(celsius, abv) * inSugar(sugar)
}

// The ranges of what is answered.
var (
	coldest  = quantity.MustParse("0", quantity.Celsius)
	warmest  = quantity.MustParse("50", quantity.Celsius)
	strong   = quantity.MustParse("20", quantity.ABV20)
	sweetest = quantity.MustParse("200", quantity.GramPerLitre)
)

const highest = 10000 // hPa in all, the range of the constant in water

func (d Drink) check(faults *fault.List) {
	if !d.ABV.IsNone() {
		faults.Add("abv", between(d.ABV, "a strength in % vol", quantity.MustParse("0", quantity.ABV20), strong,
			"above 20 % vol the solubility turns and no relation at hand holds"))
	}
	if !d.Sugar.IsNone() {
		faults.Add("sugar", between(d.Sugar, "a concentration", quantity.MustParse("0", quantity.GramPerLitre), sweetest, "check the figure and its unit"))
	}
}

// estimates are the drink's strength and sugar, exact zeros where none.
func (d Drink) estimates() (abv, sugar quantity.Estimate) {
	if !d.ABV.IsNone() {
		abv = d.ABV.EstimateIn(quantity.ABV20)
	}
	if !d.Sugar.IsNone() {
		sugar = d.Sugar.EstimateIn(quantity.GramPerLitre)
	}
	return abv, sugar
}

// notes say where the drink leaves the published range.
func (d Drink) notes() []string {
	var out []string
	if d.ABV.Float() > 15 {
		out = append(out, "Above 15 % vol the effect of alcohol is carried on past the published wine of 12.5 %: take the figure as a guide.")
	}
	if d.Sugar.Float() > 0 {
		out = append(out, "The effect of sugar, 0.7 to 1 % for each 10 g/L, is common practice without a source.")
	}
	return out
}

// between holds a needed figure between two others of its dimension.
func between(r quantity.Reading, what string, low, high quantity.Reading, remedy string) error {
	return quantity.Between(r, what, low, high, "the range is "+low.Digits()+" to "+high.String(), remedy)
}

// ambient is the air pressure in hPa, a standard atmosphere where none is given.
func ambient(r quantity.Reading) quantity.Estimate {
	if r.IsNone() {
		return quantity.Estimate{Value: atmosphere}
	}
	return r.EstimateIn(quantity.Hectopascal)
}

func checkAmbient(faults *fault.List, r quantity.Reading) {
	if !r.IsNone() {
		faults.Add("ambient", between(r, "an air pressure", quantity.MustParse("550", quantity.Hectopascal), quantity.MustParse("1100", quantity.Hectopascal), "give the air pressure at the tank, not reduced to sea level"))
	}
}

// A Saturation asks how much CO2 a drink holds at rest with its gas.
type Saturation struct {
	Drink    Drink
	Temp     quantity.Reading // 0 to 50 °C
	Pressure quantity.Reading // of the gauge, above the air's
	Ambient  quantity.Reading // air pressure, none for 1013.25 hPa
}

// A Dissolved answers a Saturation.
type Dissolved struct {
	CO2     quantity.Figure // g/L
	Volumes quantity.Figure
	Chart   quantity.Figure // volumes by the brewers' chart, to compare; NoUnit value 0 below its range
	Partial quantity.Figure // hPa, of the CO2 alone
	Notes   []string
	quantity.Explained
}

// Dissolve is Henry's law with the drink's own constant: the gauge's pressure
// and the air's, less the vapour's, over the constant of water and by what
// alcohol and sugar change it. Water at 20 °C and 1 atm in all holds 1.71 g/L.
// It needs rest: a tank that was not moved or a stone may be far from it.
func Dissolve(s Saturation) (Dissolved, error) {
	var faults fault.List
	s.Drink.check(&faults)
	faults.Add("temp", between(s.Temp, "a temperature", coldest, warmest, "read the drink's own temperature, not the room's"))
	checkAmbient(&faults, s.Ambient)
	faults.Add("pressure", between(s.Pressure, "a pressure", quantity.MustParse("0", quantity.Hectopascal), quantity.MustParse("9000", quantity.Hectopascal), "give the gauge's pressure, up to 9 bar"))
	if err := faults.Err(); err != nil {
		return Dissolved{}, err
	}
	abv, sugar := s.Drink.estimates()
	var y [4]float64
	out, err := quantity.Propagate([]quantity.Estimate{s.Temp.EstimateIn(quantity.Celsius), s.Pressure.EstimateIn(quantity.Hectopascal), ambient(s.Ambient), abv, sugar}, func(x []float64) ([]float64, error) {
		partial := x[1] + x[2] - waterVapour(x[0])
		g := drinkGrams(x[0], partial, x[3], x[4])
		y = [4]float64{g, Volumes(g), ChartVolumes(x[0], x[1]), partial}
		return y[:], nil
	})
	if err != nil {
		return Dissolved{}, err
	}
	doubted := quantity.Doubted(s.Temp, s.Pressure, s.Ambient, s.Drink.ABV, s.Drink.Sugar)
	d := Dissolved{CO2: quantity.FigureOf(out[0], quantity.GramPerLitre, doubted), Volumes: quantity.FigureOf(out[1], quantity.NoUnit, doubted),
		Chart: quantity.FigureOf(out[2], quantity.NoUnit, doubted), Partial: quantity.FigureOf(out[3], quantity.Hectopascal, doubted), Notes: s.Drink.notes()}
	t := s.Temp.In(quantity.Celsius)
	d.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("pressure in all, gauge and air, less the vapour of water at "+s.Temp.String()+", "+quantity.Fixed(waterVapour(t), 1)+" hPa", d.Partial.Text(1))
		w.Add("Henry's constant of CO2 in water there (Carroll, Slupsky and Mather 1991)", quantity.Fixed(henry(t), 2)+" MPa")
		w.Add("the gas is not ideal, a factor of", quantity.Fixed(fugacity(t, d.Partial.Value), 4))
		w.Add("in water that dissolves", quantity.Fixed(waterGrams(t, d.Partial.Value), 3)+" g/L")
		s.Drink.explain(w, t)
		w.Add("CO2", d.CO2.Text(2))
		w.Add("volumes, ÷ 1.963 g/L", d.Volumes.Text(2))
		w.Add("by the brewers' chart, made for beer", d.Chart.Text(2))
	})
	return d, nil
}

func (d Drink) explain(w *quantity.Working, celsius float64) {
	abv, sugar := d.estimates()
	if abv.Value > 0 {
		w.Add("by its alcohol, on the line from water to wine of 12.5 % vol, a factor of", quantity.Fixed(inAlcohol(celsius, abv.Value), 4))
	}
	if sugar.Value > 0 {
		w.Add("by its sugar, 0.85 % for each 10 g/L, a factor of", quantity.Fixed(inSugar(sugar.Value), 4))
	}
}

// A Target asks for the pressure that gives a carbonation.
type Target struct {
	Drink   Drink
	Temp    quantity.Reading
	Volumes quantity.Reading // without unit, or CO2 in g/L
	Ambient quantity.Reading
}

// A Setting answers a Target.
type Setting struct {
	Pressure quantity.Figure // of the gauge, hPa
	Chart    quantity.Figure // by the brewers' chart, hPa
	CO2      quantity.Figure // g/L
	Notes    []string
	quantity.Explained
}

// SetPressure is the inverse of Dissolve: the gauge pressure under which a
// drink at rest takes up so much.
func SetPressure(q Target) (Setting, error) {
	var faults fault.List
	q.Drink.check(&faults)
	faults.Add("temp", between(q.Temp, "a temperature", coldest, warmest, "read the drink's own temperature, not the room's"))
	checkAmbient(&faults, q.Ambient)
	wanted, err := carbonation(q.Volumes)
	faults.Add("volumes", err)
	if err := faults.Err(); err != nil {
		return Setting{}, err
	}
	abv, sugar := q.Drink.estimates()
	var y [3]float64
	out, err := quantity.Propagate([]quantity.Estimate{q.Temp.EstimateIn(quantity.Celsius), wanted, ambient(q.Ambient), abv, sugar}, func(x []float64) ([]float64, error) {
		partial, err := partialFor(x[0], x[1], x[3], x[4])
		if err != nil {
			return nil, err
		}
		y = [3]float64{partial + waterVapour(x[0]) - x[2], ChartPressure(x[0], Volumes(x[1])), x[1]}
		return y[:], nil
	})
	if err != nil {
		return Setting{}, err
	}
	doubted := quantity.Doubted(q.Temp, q.Volumes, q.Ambient, q.Drink.ABV, q.Drink.Sugar)
	r := Setting{Pressure: quantity.FigureOf(out[0], quantity.Hectopascal, doubted), Chart: quantity.FigureOf(out[1], quantity.Hectopascal, doubted),
		CO2: quantity.FigureOf(out[2], quantity.GramPerLitre, doubted), Notes: q.Drink.notes()}
	if r.Pressure.Value < 0 {
		r.Notes = append(r.Notes, "Below 0: at this temperature the drink already holds that much under the air's own pressure of pure CO2.")
	}
	t := q.Temp.In(quantity.Celsius)
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("wanted", r.CO2.Text(2)+", "+quantity.Fixed(Volumes(r.CO2.Value), 2)+" volumes")
		w.Add("one atmosphere of CO2 gives in water at "+q.Temp.String(), quantity.Fixed(waterGrams(t, atmosphere), 3)+" g/L")
		q.Drink.explain(w, t)
		w.Add("gauge pressure, with the vapour of water and less the air's pressure", r.Pressure.Text(0))
		w.Add("by the brewers' chart, made for beer", r.Chart.Text(0))
	})
	return r, nil
}

// carbonation is volumes or g/L, as g/L.
func carbonation(r quantity.Reading) (quantity.Estimate, error) {
	switch {
	case r.IsNone():
		return quantity.Estimate{}, fault.Fault{Code: fault.Missing, Limit: "a carbonation is needed", Remedy: "give it in volumes, or in g/L"}
	case r.Unit() == quantity.NoUnit:
		if err := between(r, "a carbonation", quantity.MustParse("0.1", quantity.NoUnit), quantity.MustParse("6", quantity.NoUnit), "give volumes, 0.1 to 6"); err != nil {
			return quantity.Estimate{}, err
		}
		e := r.EstimateIn(quantity.NoUnit)
		return quantity.Estimate{Value: GramsPerLitre(e.Value), U: GramsPerLitre(e.U)}, nil
	}
	if err := between(r, "a carbonation", quantity.MustParse("0.2", quantity.GramPerLitre), quantity.MustParse("12", quantity.GramPerLitre), "give g/L, 0.2 to 12, or volumes"); err != nil {
		return quantity.Estimate{}, err
	}
	return r.EstimateIn(quantity.GramPerLitre), nil
}

// partialFor is the partial pressure, hPa, under which a drink takes up so many
// g/L: the solubility rises with it throughout.
func partialFor(celsius, grams, abv, sugar float64) (float64, error) {
	low, high := 0.0, 4.0*highest
	if drinkGrams(celsius, high, abv, sugar) < grams {
		return 0, fault.List{{Code: fault.TooHigh, Field: "volumes", Value: quantity.Fixed(Volumes(grams), 2), Limit: "needs more than 40 bar at this temperature, far outside the relation", Remedy: "take less, or a colder drink"}}
	}
	for range 60 {
		if mid := (low + high) / 2; drinkGrams(celsius, mid, abv, sugar) < grams {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}

// The brewers' chart (ASBC and Zahm and Nagel, for beer of about 3.8 % by mass
// and SG 1.010) by its usual fit, from memory: V = (p + 14.695) (0.01821 +
// 0.090115 exp(−(F − 32)/43.11)) − 0.003342, p in psi of the gauge. The chart
// ends near 65 °F; beyond, the fit is carried on.

// ChartVolumes is the carbonation by the chart.
func ChartVolumes(celsius, gaugeHPa float64) float64 {
	return (gaugeHPa/psi+14.695)*chartSlope(celsius) - 0.003342
}

// ChartPressure is its inverse, hPa of the gauge.
func ChartPressure(celsius, volumes float64) float64 {
	return ((volumes+0.003342)/chartSlope(celsius) - 14.695) * psi
}

const psi = 68.94757293168 // hPa

func chartSlope(celsius float64) float64 {
	return 0.01821 + 0.090115*math.Exp(-celsius*1.8/43.11)
}
