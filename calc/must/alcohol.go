package must

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// Molar masses, g/mol (IUPAC conventional atomic weights), and what follows of
// C6H12O6 -> 2 C2H5OH + 2 CO2.
const (
	molarHexose  = 180.156
	molarEthanol = 46.069
	molarCO2     = 44.009

	ethanolPerHexose = 2 * molarEthanol / molarHexose // kg/kg, 0.5114
	co2PerHexose     = 2 * molarCO2 / molarHexose     // kg/kg, 0.4886
	heatPerHexose    = 0.555                          // MJ/kg: 100 kJ/mol (from memory; design figures run from 0.546 to 0.590)

	// ethanolDensity is kg/L at 20 °C (OIML R 22).
	ethanolDensity = 0.78924
	// co2Volume is m3/kg at 20 °C and 1 atm, an ideal gas.
	co2Volume = 0.082057366 * 293.15 / molarCO2
)

// A Sugar is what ferments; starch and sucrose take up water on the way.
type Sugar string

// The sugars.
const (
	Hexose  Sugar = "hexose"  // glucose, fructose, invert sugar
	Sucrose Sugar = "sucrose" // C12H22O11 + H2O -> 2 C6H12O6
	Starch  Sugar = "starch"  // (C6H10O5)n + n H2O -> n C6H12O6
)

// hexose is kg of hexose from 1 kg.
func (s Sugar) hexose() (float64, bool) {
	switch s {
	case Hexose:
		return 1, true
	case Sucrose:
		return 2 * molarHexose / (2*molarHexose - 18.015), true
	case Starch:
		return molarHexose / (molarHexose - 18.015), true
	}
	return 0, false
}

// A Turnover is what an amount of fermented sugar becomes.
type Turnover struct {
	Ethanol     quantity.Figure // kg
	PureAlcohol quantity.Figure // L at 20 °C
	CO2         quantity.Figure // kg
	CO2Gas      quantity.Figure // L at 20 °C and 1 atm
	HeatMJ      float64
}

// Turn is the stoichiometry of Gay-Lussac: all the sugar to ethanol and carbon
// dioxide. Yeast growth and glycerol keep a real ferment at 90 to 95 % of the
// ethanol (handbooks, from memory).
func Turn(amount quantity.Reading, s Sugar) (Turnover, error) {
	var faults fault.List
	faults.Add("amount", checkAmount(amount, quantity.Mass))
	k, ok := s.hexose()
	if !ok {
		faults.Add("sugar", fault.Fault{Code: fault.NotOneOf, Value: string(s), Limit: "is not hexose, sucrose or starch", Remedy: "choose the one that was weighed"})
	}
	if err := faults.Err(); err != nil {
		return Turnover{}, err
	}
	in := amount.EstimateIn(quantity.Kilogram)
	of := func(c float64, u quantity.Unit) quantity.Figure {
		return quantity.FigureOf(quantity.Estimate{Value: in.Value * k * c, U: in.U * k * c}, u, amount.HasHalfWidth())
	}
	return Turnover{
		Ethanol: of(ethanolPerHexose, quantity.Kilogram), PureAlcohol: of(ethanolPerHexose/ethanolDensity, quantity.Litre),
		CO2: of(co2PerHexose, quantity.Kilogram), CO2Gas: of(co2PerHexose*co2Volume*1000, quantity.Litre),
		HeatMJ: in.Value * k * heatPerHexose,
	}, nil
}

// Balling's relations (De Clerck; Briggs et al.; Cutaia, Reid and Speers, J.
// Inst. Brew. 115(4) 318, 2009: all from memory): 2.0665 g of extract give 1 g
// of alcohol, 0.9565 g of carbon dioxide and 0.11 g of yeast.
const (
	ballingExtract = 2.0665
	ballingCO2     = 0.9565
	ballingYield   = 1.0665 // CO2 and yeast, which leave
	realOfOriginal = 0.1808 // real extract = 0.1808 OE + 0.8192 AE

	// ethanolGravity is the SG 20/20 of pure ethanol.
	ethanolGravity = ethanolDensity / waterDensity20

	// ballingDoubt: fitted to beer, the relations hold for fruit and molasses
	// within ±3 % of the alcohol.
	ballingDoubt = 0.03
)

// A fermented is one state of a ferment by Balling.
type fermented struct{ re, mass, abv float64 } // % by mass, % by mass, % vol

func balling(original, apparent Extract) fermented {
	oe, ae := float64(original), float64(apparent)
	re := realOfOriginal*oe + (1-realOfOriginal)*ae
	a := (oe - re) / (ballingExtract - ballingYield*oe/100)
	return fermented{re, a, a * float64(gravity(apparent)) / ethanolGravity}
}

// alcoholPerOriginal is kg of ethanol made from 1 kg of the original mash: 100 g
// of fermented mash come from 100 + 1.0665 A g.
func (f fermented) alcoholPerOriginal() float64 { return f.mass / (100 + ballingYield*f.mass) }

// An Attenuation is an extract before and now, both corrected to 20 °C.
type Attenuation struct {
	Original, Present quantity.Reading // Bx or SG 20/20
}

// An Attenuated answers an Attenuation.
type Attenuated struct {
	OriginalExtract quantity.Figure // Bx
	ApparentExtract quantity.Figure // Bx
	RealExtract     quantity.Figure // % by mass
	AlcoholByMass   quantity.Figure // % by mass
	ABV20           quantity.Figure // % vol at 20 °C
	Low, High       quantity.Figure // ABV20's range: ±3 % for the relation and two standard uncertainties of the readings
	Apparent        quantity.Figure // apparent attenuation, %; above 100 where the ferment ended below water
	Real            quantity.Figure // real attenuation, %
	quantity.Explained
}

// Attenuate works out the alcohol made between two extracts by Balling. The
// distilled sample and a hydrometer are the reference; this is the estimate of
// the ferment hall. Range: original extract above 0 and up to 40 Bx.
func Attenuate(a Attenuation) (Attenuated, error) {
	var faults fault.List
	oe, err := ExtractOf(a.Original)
	faults.Add("original", err)
	if err == nil && oe <= 0 {
		faults.Add("original", fault.Fault{Code: fault.TooLow, Value: a.Original.String(), Limit: "is not above 0 Bx: there was nothing to ferment", Remedy: "give the extract before the yeast went in"})
	}
	ae, err := ExtractOf(a.Present)
	faults.Add("present", err)
	if len(faults) == 0 && ae > oe {
		faults.Add("present", fault.Fault{Code: fault.Conflict, Value: a.Present.String(), Limit: "is above the original extract, " + a.Original.String(), Remedy: "check both readings; sugar added on the way belongs to the original extract"})
	}
	if err := faults.Err(); err != nil {
		return Attenuated{}, err
	}
	var y [7]float64
	out, err := quantity.PropagateFinite([]quantity.Estimate{estimate(a.Original), estimate(a.Present)}, func(x []float64) ([]float64, error) {
		oe, err := extractIn(a.Original, x[0])
		if err != nil {
			return nil, fault.List{named(err, "original")}
		}
		ae, err := extractIn(a.Present, x[1])
		if err != nil {
			return nil, fault.List{named(err, "present")}
		}
		f := balling(oe, ae)
		y = [7]float64{float64(oe), float64(ae), f.re, f.mass, f.abv, 100 * float64((oe-ae)/oe), 100 * (float64(oe) - f.re) / float64(oe)}
		return y[:], nil
	})
	if err != nil {
		return Attenuated{}, err
	}
	doubted := quantity.Doubted(a.Original, a.Present)
	r := Attenuated{
		OriginalExtract: quantity.FigureOf(out[0], quantity.Brix, doubted), ApparentExtract: quantity.FigureOf(out[1], quantity.Brix, doubted),
		RealExtract: quantity.FigureOf(out[2], quantity.Percent, doubted), AlcoholByMass: quantity.FigureOf(out[3], quantity.Percent, doubted),
		ABV20: quantity.FigureOf(out[4], quantity.ABV20, doubted), Apparent: quantity.FigureOf(out[5], quantity.Percent, doubted), Real: quantity.FigureOf(out[6], quantity.Percent, doubted),
	}
	r.Low, r.High = around(r.ABV20)
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("original extract of "+a.Original.String(), r.OriginalExtract.Text(2))
		w.Add("apparent extract of "+a.Present.String(), r.ApparentExtract.Text(2))
		w.Add("real extract, 0.1808 × original + 0.8192 × apparent (Balling)", r.RealExtract.Text(2))
		w.Add("alcohol by mass, (original - real) ÷ (2.0665 - 0.010665 × original) (Balling)", r.AlcoholByMass.Text(2))
		w.Add("alcohol by volume, × gravity "+quantity.Fixed(float64(gravity(Extract(out[1].Value))), 4)+" ÷ 0.7907", r.ABV20.Text(2))
		w.Add("within ±3 %, to which the relation holds for fruit and molasses, and the doubt of the readings", quantity.Fixed(r.Low.Value, 1)+" to "+r.High.Text(1))
		w.Add("apparent attenuation, (original - apparent) ÷ original", r.Apparent.Text(1))
	})
	return r, nil
}

// around is the range of an alcohol found by Balling.
func around(abv quantity.Figure) (low, high quantity.Figure) {
	half := math.Hypot(ballingDoubt*abv.Value, abv.Expanded())
	return quantity.Figure{Value: max(0, abv.Value-half), Unit: abv.Unit}, quantity.Figure{Value: abv.Value + half, Unit: abv.Unit}
}
