package spirit

import (
	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Fill is the weight of spirits to put into a package of 10 wine gallons or
// less (27 CFR 30.44(b)).
type Fill struct {
	Pounds, Ounces int64
	Weight         decimal.Decimal // the same, in hundredths of a pound
	ProofGallons   decimal.Decimal // to the tenth
	quantity.Explained
}

// A PackageFill asks for the weight of wine gallons of a strength.
type PackageFill struct {
	Gallons, Strength quantity.Reading
}

// FillPackage gives the weight by the arithmetic of 30.44(b): gallons over the
// gallons per pound, to two decimals; any part of an ounce a whole ounce. The
// section's table is met in every row; its row of 200 proof and 10 gallons
// prints 66 lb 2 oz as 66.12 lb, where the others' rounding gives 66.13.
func FillPackage(f PackageFill) (Fill, error) {
	var faults fault.List
	faults.Add("gallons", checkAmount(f.Gallons, quantity.Volume))
	s, err := StrengthOf(f.Strength)
	faults.Add("strength", err)
	if len(faults) == 0 && (f.Gallons.Unit() != quantity.Gallon || f.Gallons.Decimal().GreaterThan(decimal.NewFromInt(10))) {
		faults.Add("gallons", fault.Fault{Code: fault.TooHigh, Value: f.Gallons.String(), Limit: "is not 10 gal or less", Remedy: "weigh larger packages in pounds and half pounds (27 CFR 30.43)"})
	}
	if err := faults.Err(); err != nil {
		return Fill{}, err
	}
	perPound := gallonsPerPound(s.SG60InAir())
	lb := quantity.PoundsToHundredth(f.Gallons.Decimal().Div(perPound))
	proof, step := legalProof(f.Strength, s)
	var out Fill
	out.Pounds, out.Ounces = quantity.OuncesUp(lb)
	out.Weight = quantity.PoundsToHundredth(decimal.NewFromInt(out.Pounds).Add(decimal.NewFromInt(out.Ounces).Div(decimal.NewFromInt(16))))
	out.ProofGallons = quantity.ProofGallonsToTenth(f.Gallons.Decimal().Mul(proof).Shift(-2))
	out.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("wine gallons per pound, 0.120074 ÷ specific gravity "+quantity.Fixed(s.SG60InAir(), 5), perPound.StringFixed(5))
		w.Add("pounds, "+f.Gallons.Digits()+" ÷ "+perPound.StringFixed(5)+", to two decimals", lb.StringFixed(2)+" lb")
		w.Add("the part of a pound × 16, any part of an ounce a whole ounce (27 CFR 30.44)", decimal.NewFromInt(out.Pounds).String()+" lb "+decimal.NewFromInt(out.Ounces).String()+" oz")
		w.Add(step, proof.String()+" proof")
		w.Add("proof gallons, to the nearest tenth", out.ProofGallons.StringFixed(1)+" proof gal")
	})
	return out, nil
}

// CasedSpirits are full cases of bottles of one size and strength.
type CasedSpirits struct {
	Cases, Bottles, Size, Strength quantity.Reading // count, count in a case, volume of a bottle
}

// gallonsPerLitre is the regulator's published factor for bottled spirits.
var gallonsPerLitre = decimal.New(264172, -6)

// Cased is what cases hold.
type Cased struct {
	WineGallons  decimal.Decimal // all cases, unrounded: litres × 0.264172
	ProofGallons decimal.Decimal // to the tenth
	PureAlcohol  quantity.Figure // L at 20 °C
	quantity.Explained
}

// GaugeCases gauges cased spirits by what their labels state (27 CFR 30.52).
func GaugeCases(c CasedSpirits) (Cased, error) {
	var faults fault.List
	count := func(field string, r quantity.Reading) {
		switch {
		case r.IsNone():
			faults.Add(field, fault.Fault{Code: fault.Missing, Limit: "a count is needed", Remedy: "count them"})
		case r.Unit().Dimension() != quantity.Count || !r.Decimal().IsInteger() || !r.Decimal().IsPositive():
			faults.Add(field, fault.Fault{Code: fault.NotOneOf, Value: r.String(), Limit: "is not a whole count above 0", Remedy: "count full cases and the bottles in one"})
		}
	}
	count("cases", c.Cases)
	count("bottles", c.Bottles)
	faults.Add("size", checkAmount(c.Size, quantity.Volume))
	s, err := StrengthOf(c.Strength)
	faults.Add("strength", err)
	if err := faults.Err(); err != nil {
		return Cased{}, err
	}
	litres := c.Size.Decimal()
	switch c.Size.Unit() {
	case quantity.Litre:
	case quantity.Millilitre:
		litres = litres.Shift(-3)
	default:
		litres = quantity.Snap(c.Size.In(quantity.Litre))
	}
	litres = litres.Mul(c.Cases.Decimal()).Mul(c.Bottles.Decimal())
	proof, step := legalProof(c.Strength, s)
	out := Cased{WineGallons: litres.Mul(gallonsPerLitre)}
	pg := out.WineGallons.Mul(proof).Shift(-2)
	out.ProofGallons = quantity.ProofGallonsToTenth(pg)
	out.PureAlcohol = quantity.Figure{Value: litres.InexactFloat64() * s.ABV20() / 100, Unit: quantity.Litre}
	out.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add(c.Cases.Digits()+" cases × "+c.Bottles.Digits()+" × "+c.Size.String(), litres.String()+" L")
		w.Add("× 0.264172 gal per litre", out.WineGallons.String()+" gal")
		w.Add(step, proof.String()+" proof")
		w.Add("proof gallons, "+pg.String()+", to the nearest tenth", out.ProofGallons.StringFixed(1)+" proof gal")
		w.Add("litres of pure alcohol at 20 °C", out.PureAlcohol.Text(places))
	})
	return out, nil
}

// Packages gauges barrels and drums one by one and adds them up: the law rounds
// each package, so a sum of tenths is not the tenth of a sum. A weight in pounds
// counts to the half pound above 10 wine gallons and to the hundredth below
// (27 CFR 30.43 to 30.45). The faults name the package by its number.
func Packages(gs ...WeightGauge) (each []Gauge, sum Legal, err error) {
	var faults fault.List
	for i, g := range gs {
		one, err := GaugeWeight(g)
		if err == nil {
			one, err = GaugeWeight(g.asWeighed(one.Legal.WineGallons.GreaterThan(decimal.NewFromInt(10))))
		}
		for _, f := range asList(err) {
			f.Field = "package " + decimal.NewFromInt(int64(i+1)).String() + " " + f.Field
			faults = append(faults, f)
		}
		each = append(each, one)
		sum.WineGallons = sum.WineGallons.Add(one.Legal.WineGallons)
		sum.ProofGallons = sum.ProofGallons.Add(one.Legal.ProofGallons)
	}
	if err := faults.Err(); err != nil {
		return nil, Legal{}, err
	}
	return each, sum, nil
}

// asWeighed rounds the weights in pounds as the law counts them.
func (g WeightGauge) asWeighed(large bool) WeightGauge {
	round := quantity.PoundsToHundredth
	if large {
		round = quantity.PoundsToHalf
	}
	for _, r := range []*quantity.Reading{&g.Net, &g.Gross, &g.Tare} {
		if r.Unit() == quantity.Pound {
			*r = quantity.FromDecimal(round(r.Decimal()), quantity.Pound).WithHalfWidth(r.HalfWidth())
		}
	}
	return g
}

func asList(err error) fault.List {
	var l fault.List
	l.Add("", err)
	return l
}

// A Table4Reduction is the water to add by weight from a printed Table 4
// (27 CFR 30.64).
type Table4Reduction struct {
	Net          quantity.Reading // lb
	ProofGallons decimal.Decimal  // in it
	PerPound     decimal.Decimal  // proof gallons per pound at the strength to reach
}

// Water is proof gallons ÷ PerPound, to two decimals, less the net weight.
func (t Table4Reduction) Water() (final, water decimal.Decimal, err error) {
	if err := checkAmount(t.Net, quantity.Mass); err != nil {
		return final, water, fault.List{asList(err)[0]}
	}
	if !t.PerPound.IsPositive() {
		return final, water, fault.List{{Code: fault.TooLow, Field: "per_pound", Value: t.PerPound.String(), Limit: "is not above 0", Remedy: "copy it from the printed Table 4"}}
	}
	final = quantity.PoundsToHundredth(t.ProofGallons.Div(t.PerPound))
	return final, final.Sub(t.Net.Decimal()), nil
}

// A Table6Row holds the parts of alcohol and of water in 100 of a strength, as
// Table 6 prints them.
type Table6Row struct{ Alcohol, Water decimal.Decimal }

// Table6 computes a row of Table 6: volumes of pure alcohol and of water at
// 60 °F that make 100 volumes. Of the four rows at hand three are met to the
// hundredth; at 100 proof the water is 53.74 for a printed 53.73.
func Table6(s Strength) Table6Row {
	ρ, _ := scale60F.density(float64(s.p))
	return Table6Row{
		Alcohol: quantity.Snap(s.ABV60F()).Round(2),
		Water:   quantity.Snap((1 - float64(s.p)) * ρ / scale60F.water * 100).Round(2),
	}
}

// WaterPer100 is the water to add to 100 wine gallons by Table 6 (27 CFR
// 30.66): (A1 ÷ A2) × W2 − W1. The section's own example cuts the quotient to
// two decimals, which for 191 proof to 188 gives 1.84; the quotient as it is
// gives 1.89. Both are returned, unrounded is the better.
func WaterPer100(from, to Table6Row) (unrounded, asPrinted decimal.Decimal, err error) {
	if !to.Alcohol.IsPositive() || from.Alcohol.LessThan(to.Alcohol) {
		return unrounded, asPrinted, fault.List{{Code: fault.Conflict, Field: "to", Value: to.Alcohol.String(), Limit: "is not a strength below " + from.Alcohol.String(), Remedy: "water only lowers a strength"}}
	}
	quotient := from.Alcohol.Div(to.Alcohol)
	water := func(q decimal.Decimal) decimal.Decimal { return q.Mul(to.Water).Sub(from.Water) }
	return water(quotient), water(quotient.Truncate(2)), nil
}

// A GravityReading is a specific-gravity hydrometer's reading in a product with
// solids, whose true proof is known by distillation.
type GravityReading struct {
	SG, Temp, Strength quantity.Reading
	Table7             quantity.Reading // the printed volume factor, where the owner has the table; none to compute it
}

// GravityAt60F brings the reading to 60 °F by the volume factor of the product's
// true proof, to four decimals (27 CFR 30.25); for WeightGauge.SG60.
func GravityAt60F(g GravityReading) (decimal.Decimal, error) {
	var faults fault.List
	if sg := g.SG.Float(); !(sg >= 0.7 && sg <= 1.6) {
		faults.Add("sg", fault.Fault{Code: fault.NotOneOf, Value: g.SG.String(), Limit: "is not a specific gravity between 0.7 and 1.6", Remedy: "check the hydrometer"})
	}
	s, err := StrengthOf(g.Strength)
	faults.Add("strength", err)
	faults.Add("temp", checkTypedTemperature(g.Temp, "the sample"))
	faults.Add("table7", checkTable7(g.Table7))
	if err := faults.Err(); err != nil {
		return decimal.Decimal{}, err
	}
	return g.SG.Decimal().Div(table7(g.Table7, s, TemperatureOf(g.Temp))).Round(4), nil
}

// table7 is the factor as the law counts with it, to three decimals.
func table7(printed quantity.Reading, s Strength, t Celsius) decimal.Decimal {
	if !printed.IsNone() {
		return printed.Decimal()
	}
	return quantity.Snap(VolumeFactor(s, t)).Round(3)
}

func checkTable7(r quantity.Reading) error {
	if f := r.Float(); r.IsNone() || f >= 0.9 && f <= 1.1 {
		return nil
	}
	return fault.Fault{Code: fault.NotOneOf, Value: r.String(), Limit: "is not a factor between 0.9 and 1.1", Remedy: "copy it from the printed Table 7"}
}

// checkTypedTemperature holds a needed temperature to the density formula.
func checkTypedTemperature(r quantity.Reading, where string) error {
	switch {
	case r.IsNone():
		return fault.Fault{Code: fault.Missing, Limit: "the temperature is needed", Remedy: "read the thermometer in " + where}
	case r.Unit().Dimension() != quantity.Temperature:
		return fault.Fault{Code: fault.WrongUnit, Value: r.String(), Limit: "is not a temperature", Remedy: "give it in °F or °C"}
	}
	return as(checkTemperature(TemperatureOf(r)), r)
}
