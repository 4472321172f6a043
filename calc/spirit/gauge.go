package spirit

import (
	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Gauge is what was in a vessel, by every account. The figures are worked
// out from density without rounding; Legal holds what the regulation's own
// arithmetic, with its roundings at each step, makes of the same readings.
type Gauge struct {
	Strength     Strength
	Mass         quantity.Figure // kg, in vacuo
	Weight       quantity.Figure // lb or kg, in air
	Volume60F    quantity.Figure // gal
	Volume20C    quantity.Figure // L
	ProofGallons quantity.Figure // gal, unrounded
	PureAlcohol  quantity.Figure // L of ethanol at 20 °C
	Legal        Legal
	quantity.Explained
}

// Legal holds a gauge as 27 CFR part 30 rounds it.
type Legal struct {
	WineGallons  decimal.Decimal // to the hundredth by volume, to the tenth by weight
	ProofGallons decimal.Decimal // to the tenth
}

// A VolumeGauge is a vessel's contents measured by volume at a temperature.
type VolumeGauge struct {
	Volume, Temp, Strength quantity.Reading
	Table7                 quantity.Reading // the printed volume factor, where the owner has the table; none to compute it
}

// A WeightGauge is a vessel's contents measured on a scale: net, or gross and
// tare.
type WeightGauge struct {
	Net, Gross, Tare, Strength quantity.Reading
	SG60                       quantity.Reading // specific gravity 60/60 °F of a product with more than 600 mg solids per 100 mL (30.41); none for plain spirit. Volume20C then takes the plain spirit's expansion
	Table4                     quantity.Reading // the printed wine gallons per pound, where the owner has the table; none to compute it
}

// VolumeFactor brings a volume at t to 60 °F, as Table 7 of the gauging manual
// does: the density at t over the density at 60 °F. The printed table has
// three decimals; the factors that 30.25 and 30.51 quote are met in all three.
func VolumeFactor(s Strength, t Celsius) float64 {
	return float64(s.DensityAt(t)) / float64(s.DensityAt(At60F))
}

// GaugeVolume gauges by volume (27 CFR 30.51): the volume is brought to 60 °F
// with the factor of Table 7, kept to two decimals, and multiplied by the proof
// over 100, to the nearest tenth. The factor is computed and kept to the
// table's three decimals for the Legal figures only; a factor is a ratio of
// densities (OIML R 22), −20 to 40 °C. The vessel's own expansion is not in it.
func GaugeVolume(g VolumeGauge) (Gauge, error) {
	var faults fault.List
	faults.Add("volume", checkAmount(g.Volume, quantity.Volume))
	s, err := StrengthOf(g.Strength)
	faults.Add("strength", err)
	faults.Add("temp", checkTypedTemperature(g.Temp, "the vessel"))
	faults.Add("table7", checkTable7(g.Table7))
	if err := faults.Err(); err != nil {
		return Gauge{}, err
	}
	in := []quantity.Estimate{g.Volume.EstimateIn(quantity.Litre), g.Temp.EstimateIn(quantity.Celsius), estimate(g.Strength)}
	out, err := measure(in, quantity.Doubted(g.Volume, g.Temp, g.Strength), conventionOf(g.Volume.Unit()), func(x []float64) (contents, error) {
		if err := checkTemperature(Celsius(x[1])); err != nil {
			return contents{}, err
		}
		p, err := fraction(g.Strength.Unit(), x[2])
		iso := at(Celsius(x[1]))
		ρ, _ := iso.density(p)
		return contents{mass: x[0] / 1000 * ρ, p: p}, err
	})
	if err != nil {
		return Gauge{}, err
	}
	out.Strength = s
	factor := table7(g.Table7, s, TemperatureOf(g.Temp))
	gallons := g.Volume.Decimal()
	if g.Volume.Unit() != quantity.Gallon {
		gallons = quantity.Snap(g.Volume.In(quantity.Gallon))
	}
	proof, proofStep := legalProof(g.Strength, s)
	out.Legal.WineGallons = quantity.WineGallonsToHundredth(gallons.Mul(factor))
	unrounded := out.Legal.WineGallons.Mul(proof).Shift(-2)
	out.Legal.ProofGallons = quantity.ProofGallonsToTenth(unrounded)
	exact := out
	out.Explained = quantity.Explain(func(w *quantity.Working) {
		if g.Volume.Unit() != quantity.Gallon {
			w.Add("the volume "+g.Volume.String()+" in gallons of 231 cubic inches", gallons.StringFixed(3)+" gal")
		}
		if g.Table7.IsNone() {
			w.Add("the factor to 60 °F at "+g.Temp.String()+": density there over density at 60 °F (OIML R 22), to three decimals as Table 7 prints it", factor.StringFixed(3))
		} else {
			w.Add("the factor to 60 °F from the printed Table 7", factor.String())
		}
		w.Add("wine gallons at 60 °F, "+gallons.Round(3).String()+" × "+factor.String()+", to two decimals (27 CFR 30.51)", out.Legal.WineGallons.StringFixed(2)+" gal")
		w.Add(proofStep, proof.String()+" proof")
		w.Add("proof gallons, "+out.Legal.WineGallons.StringFixed(2)+" × "+proof.Shift(-2).String()+" = "+unrounded.String()+", to the nearest tenth", out.Legal.ProofGallons.StringFixed(1)+" proof gal")
		exact.explainMetric(w)
	})
	return out, nil
}

// GaugeWeight gauges by weight (27 CFR 30.41, 30.64): a pound holds 0.120074
// over the specific gravity wine gallons, kept to the five decimals of Table 4
// for the Legal figures only, and that times the proof over 100 proof gallons,
// both to the nearest tenth. The specific gravity is 60/60 °F in
// air, computed from the strength (OIML R 22), or the product's own where it
// holds sugar or much extract. A weight in kilograms is a scale's reading in
// air and goes through density in vacuo instead.
//
// The wine gallons per pound of Table 4 that 30.64 quotes, 0.14718 at 190
// proof, are computed as 0.14719; its proof gallons per pound, 0.27964 and at
// 200 proof 0.30258, as 0.27966 and 0.30262.
func GaugeWeight(g WeightGauge) (Gauge, error) {
	var faults fault.List
	net := []quantity.Reading{g.Net}
	if g.Net.IsNone() {
		net = []quantity.Reading{g.Gross, g.Tare}
		faults.Add("gross", checkAmount(g.Gross, quantity.Mass))
		switch {
		case g.Tare.IsNone():
			faults.Add("tare", fault.Fault{Code: fault.Missing, Limit: "a gross weight needs its tare", Remedy: "weigh the empty vessel, or give the net weight"})
		case g.Tare.Unit() != g.Gross.Unit():
			faults.Add("tare", fault.Fault{Code: fault.WrongUnit, Value: g.Tare.String(), Limit: "is not in the unit of the gross weight", Remedy: "give both in " + g.Gross.Unit().Symbol()})
		case g.Tare.Decimal().IsNegative():
			faults.Add("tare", fault.Fault{Code: fault.TooLow, Value: g.Tare.String(), Limit: "is below 0", Remedy: "check the figure"})
		case !g.Gross.IsNone() && g.Gross.Decimal().LessThanOrEqual(g.Tare.Decimal()):
			faults.Add("gross", fault.Fault{Code: fault.Conflict, Value: g.Gross.String(), Limit: "is not above the tare, " + g.Tare.String(), Remedy: "check which weight is which"})
		}
	} else {
		faults.Add("net", checkAmount(g.Net, quantity.Mass))
		if !g.Gross.IsNone() || !g.Tare.IsNone() {
			faults.Add("net", fault.Fault{Code: fault.Conflict, Value: g.Net.String(), Limit: "stands beside a gross or tare weight", Remedy: "give net alone, or gross and tare"})
		}
	}
	s, err := StrengthOf(g.Strength)
	faults.Add("strength", err)
	if !g.SG60.IsNone() && !(g.SG60.Float() >= 0.7 && g.SG60.Float() <= 1.6) {
		faults.Add("sg60", fault.Fault{Code: fault.NotOneOf, Value: g.SG60.String(), Limit: "is not a specific gravity between 0.7 and 1.6", Remedy: "check the hydrometer or pycnometer"})
	}
	if !g.Table4.IsNone() && !(g.Table4.Float() >= 0.11 && g.Table4.Float() <= 0.16) {
		faults.Add("table4", fault.Fault{Code: fault.NotOneOf, Value: g.Table4.String(), Limit: "is not between 0.11 and 0.16 wine gallons per pound", Remedy: "copy it from the printed Table 4"})
	}
	if err := faults.Err(); err != nil {
		return Gauge{}, err
	}
	unit := net[0].Unit()
	c := conventionOf(unit)
	in := []quantity.Estimate{estimate(g.Strength)}
	for _, r := range net {
		in = append(in, estimate(r))
	}
	if !g.SG60.IsNone() {
		in = append(in, estimate(g.SG60))
	}
	out, err := measure(in, quantity.Doubted(append(net, g.Strength, g.SG60)...), c, func(x []float64) (contents, error) {
		weight := x[1]
		if len(net) == 2 {
			weight -= x[2]
		}
		p, err := fraction(g.Strength.Unit(), x[0])
		if g.SG60.IsNone() {
			return contents{mass: c.massOf(unit, weight, p), p: p}, err
		}
		lb := quantity.Figure{Value: weight, Unit: unit}.In(quantity.Pound).Value
		return contents{p: p, gallons: lb * gallonsPerPoundOfWater / x[len(x)-1], sg: x[len(x)-1]}, err
	})
	if err != nil {
		return Gauge{}, err
	}
	out.Strength = s
	pounds := net[0].Decimal()
	if len(net) == 2 {
		pounds = pounds.Sub(net[1].Decimal())
	}
	netText := pounds.String() + " " + unit.Label()
	if unit != quantity.Pound {
		pounds = quantity.Snap(quantity.Figure{Value: pounds.InexactFloat64(), Unit: unit}.In(quantity.Pound).Value)
	}
	var perPound decimal.Decimal
	switch {
	case !g.Table4.IsNone():
		perPound = g.Table4.Decimal()
	case unit != quantity.Pound && g.SG60.IsNone():
		perPound = quantity.Snap(us().volumeOf(c.massOf(quantity.Pound, 1, float64(s.p)), float64(s.p))).Round(5) // of one pound, so that next to nothing can be weighed
	default:
		perPound = gallonsPerPound(g.specificGravity(s))
	}
	proof, proofStep := legalProof(g.Strength, s)
	wine, pg := pounds.Mul(perPound), pounds.Mul(perPound).Mul(proof).Shift(-2)
	out.Legal = Legal{WineGallons: quantity.WineGallonsToTenth(wine), ProofGallons: quantity.ProofGallonsToTenth(pg)}
	exact := out
	out.Explained = quantity.Explain(func(w *quantity.Working) {
		if len(net) == 2 {
			w.Add("net weight, gross "+g.Gross.Digits()+" − tare "+g.Tare.Digits(), netText)
		}
		if unit != quantity.Pound {
			w.Add("the weight "+netText+" in pounds", pounds.StringFixed(3)+" lb")
		}
		w.Add(proofStep, proof.String()+" proof")
		switch {
		case !g.Table4.IsNone():
			w.Add("wine gallons per pound from the printed Table 4", perPound.String())
		case unit != quantity.Pound && g.SG60.IsNone():
			w.Add("wine gallons per pound, from the density in vacuo at 60 °F, "+quantity.Fixed(float64(s.DensityAt(At60F)), 2)+" kg/m3 (OIML R 22), and the air's buoyancy", perPound.StringFixed(5))
		default:
			text := "specific gravity 60/60 °F in air, computed (OIML R 22)"
			if !g.SG60.IsNone() {
				text = "specific gravity 60/60 °F as measured"
			}
			w.Add(text, quantity.Fixed(g.specificGravity(s), 5))
			w.Add("wine gallons per pound, 0.120074 ÷ specific gravity (27 CFR 30.41), to five decimals as Table 4 prints it", perPound.StringFixed(5))
		}
		w.Add("wine gallons, "+pounds.Round(3).String()+" × "+perPound.StringFixed(5)+", to the nearest tenth", out.Legal.WineGallons.StringFixed(1)+" gal")
		w.Add("proof gallons, that × "+proof.Shift(-2).String()+" = "+pg.StringFixed(3)+", to the nearest tenth", out.Legal.ProofGallons.StringFixed(1)+" proof gal")
		exact.explainMetric(w)
	})
	return out, nil
}

func (g WeightGauge) specificGravity(s Strength) float64 {
	if g.SG60.IsNone() {
		return s.SG60InAir()
	}
	return g.SG60.Float()
}

// gallonsPerPound is 0.120074 over the specific gravity (27 CFR 30.41), to the
// five decimals of Table 4.
func gallonsPerPound(sg float64) decimal.Decimal {
	return quantity.Snap(gallonsPerPoundOfWater).Div(quantity.Snap(sg)).Round(5)
}

// legalProof is the proof as the law counts with it, to the nearest tenth.
func legalProof(r quantity.Reading, s Strength) (decimal.Decimal, string) {
	if r.Unit() == quantity.Proof {
		return quantity.ProofToTenth(r.Decimal()), "the true proof, to the nearest tenth (27 CFR 30.31)"
	}
	return quantity.ProofToTenth(quantity.Snap(s.Proof())), "the proof of " + r.String() + " at 20 °C, to the nearest tenth (27 CFR 30.31)"
}

// contents is what one evaluation of a gauge found: a mass of ethanol and
// water, or, where solids are in it, gallons at 60 °F of a known gravity.
type contents struct {
	mass, p     float64
	gallons, sg float64
}

// measure turns contents into a Gauge, with the uncertainty of its inputs.
func measure(in []quantity.Estimate, doubted bool, c convention, f func(x []float64) (contents, error)) (Gauge, error) {
	var y [6]float64
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		v, err := f(x)
		ρ60, _ := scale60F.density(v.p)
		ρ20, _ := scale20.density(v.p)
		proof := scale60F.share(v.p, scale60F.ethanol)
		var weight float64
		if v.gallons != 0 {
			v.mass = v.gallons * litresPerGallon / 1000 * ρ60 // of the spirit alone, as if without solids, for its volumes
			weight = v.gallons * v.sg / gallonsPerPoundOfWater
			if c.weight == quantity.Kilogram {
				weight = quantity.Figure{Value: weight, Unit: quantity.Pound}.In(quantity.Kilogram).Value
			}
		} else {
			weight = v.mass * c.heft(v.p)
		}
		gallons := v.mass / ρ60 * 1000 / litresPerGallon
		y = [6]float64{v.mass, weight, gallons, v.mass / ρ20 * 1000, gallons * proof * 2, gallons * litresPerGallon * proof * scale60F.ethanol / scale20.ethanol}
		if v.gallons != 0 {
			y[0] = v.gallons * litresPerGallon / 1000 * v.sg * scale60F.water
		}
		return y[:], err
	})
	if err != nil {
		return Gauge{}, err
	}
	fig := func(i int, u quantity.Unit) quantity.Figure { return quantity.FigureOf(out[i], u, doubted) }
	return Gauge{
		Mass: fig(0, quantity.Kilogram), Weight: fig(1, c.weight),
		Volume60F: fig(2, quantity.Gallon), Volume20C: fig(3, quantity.Litre),
		ProofGallons: fig(4, quantity.Gallon), PureAlcohol: fig(5, quantity.Litre),
	}, nil
}

func (g Gauge) explainMetric(w *quantity.Working) {
	w.Add("mass in vacuo, from the density (OIML R 22)", g.Mass.Text(places))
	w.Add("volume at 20 °C", g.Volume20C.Text(places))
	w.Add("litres of pure alcohol at 20 °C", g.PureAlcohol.Text(places))
}
