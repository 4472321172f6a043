package fizz

import (
	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Can is a drink closed in and stored.
type Can struct {
	Drink    Drink
	Volumes  quantity.Reading // without unit, or g/L
	Hottest  quantity.Reading // hottest storage or pasteuriser, 0 to 65 °C
	Rating   quantity.Reading // pressure the supplier of the can certifies; none for 85 psi, marked
	Filled   quantity.Reading // contents, none where the headspace is not asked
	Capacity quantity.Reading // brimful to the lid
	FillTemp quantity.Reading // temperature at filling; none for 4 °C
	Ambient  quantity.Reading
}

// A Sealed answers a Can.
type Sealed struct {
	Pressure  quantity.Figure // hPa of the gauge, the higher of the two below
	Chart     quantity.Figure // by the brewers' chart
	Computed  quantity.Figure // by Henry's law with alcohol and sugar
	Rating    quantity.Figure
	Margin    quantity.Figure // rating less pressure
	Headspace quantity.Figure // % of the capacity left at the hottest; NoUnit where not asked
	Within    bool            // whether the rating holds, with two standard uncertainties
	Verdict   string
	Notes     []string
	quantity.Explained
}

// customaryRating is what is taken without a certificate: 85 psi. Beverage can
// ends are usually told to hold 90 psi (common practice, no source).
var customaryRating = quantity.MustParse("85", quantity.PSI)

// Seal works out the pressure in a can at its hottest, with all the gas in the
// drink: what the headspace takes up, a few per cent, is left as a margin. Two
// ways are worked, the brewers' chart and Henry's law with the drink's alcohol
// and sugar, and the higher counts. Above 50 °C both are carried on past their
// range and the answer is indicative. The headspace shrinks as the drink
// expands (OIML R 22, from 40 °C on carried on by its last slope): a can that
// fills up bursts whatever its gas.
func Seal(c Can) (Sealed, error) {
	var faults fault.List
	c.Drink.check(&faults)
	faults.Add("hottest", between(c.Hottest, "a temperature", coldest, quantity.MustParse("65", quantity.Celsius), "no can is for hotter places: a car in the sun reaches 60 °C"))
	checkAmbient(&faults, c.Ambient)
	wanted, err := carbonation(c.Volumes)
	faults.Add("volumes", err)
	rating := c.Rating
	if rating.IsNone() {
		rating = customaryRating
	} else {
		faults.Add("rating", between(rating, "a pressure", quantity.MustParse("500", quantity.Hectopascal), quantity.MustParse("20000", quantity.Hectopascal), "copy it from the supplier's certificate"))
	}
	fillTemp := c.FillTemp
	if fillTemp.IsNone() {
		fillTemp = quantity.MustParse("4", quantity.Celsius)
	} else {
		faults.Add("fill_temp", between(fillTemp, "a temperature", coldest, quantity.MustParse("40", quantity.Celsius), "read the drink as it is filled"))
	}
	headspace := !c.Filled.IsNone() || !c.Capacity.IsNone()
	if headspace {
		ml := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.Millilitre) }
		faults.Add("filled", between(c.Filled, "a volume", ml("10"), ml("60000"), "give what is filled in"))
		faults.Add("capacity", between(c.Capacity, "a volume", ml("10"), ml("60000"), "give the can's brimful volume"))
		if len(faults) == 0 && c.Filled.Base() >= c.Capacity.Base() {
			faults.Add("filled", fault.Fault{Code: fault.TooHigh, Value: c.Filled.String(), Limit: "leaves no headspace in " + c.Capacity.String(), Remedy: "a can needs 4 to 6 % of headspace"})
		}
	}
	if err := faults.Err(); err != nil {
		return Sealed{}, err
	}
	abv, sugar := c.Drink.estimates()
	var y [4]float64
	out, err := quantity.Propagate([]quantity.Estimate{c.Hottest.EstimateIn(quantity.Celsius), wanted, ambient(c.Ambient), abv, sugar, rating.EstimateIn(quantity.Hectopascal)}, func(x []float64) ([]float64, error) {
		partial, err := partialFor(x[0], x[1], x[3], x[4])
		if err != nil {
			return nil, err
		}
		chart, computed := ChartPressure(x[0], Volumes(x[1])), partial+waterVapour(x[0])-x[2]
		y = [4]float64{max(chart, computed), chart, computed, x[5] - max(chart, computed)}
		return y[:], nil
	})
	if err != nil {
		return Sealed{}, err
	}
	doubted := quantity.Doubted(c.Hottest, c.Volumes, c.Ambient, c.Drink.ABV, c.Drink.Sugar, rating)
	s := Sealed{Pressure: quantity.FigureOf(out[0], quantity.Hectopascal, doubted), Chart: quantity.FigureOf(out[1], quantity.Hectopascal, doubted),
		Computed: quantity.FigureOf(out[2], quantity.Hectopascal, doubted), Margin: quantity.FigureOf(out[3], quantity.Hectopascal, doubted),
		Rating: quantity.FigureOf(rating.EstimateIn(quantity.Hectopascal), quantity.Hectopascal, rating.HasHalfWidth()), Notes: c.Drink.notes()}
	s.Within = s.Margin.Value-s.Margin.Expanded() >= 0
	bar := func(f quantity.Figure) string { return quantity.Fixed(f.In(quantity.PSI).Value, 0) + " psi" }
	switch {
	case !s.Within && s.Margin.Value >= 0:
		s.Verdict = "too close: " + bar(s.Pressure) + " at " + c.Hottest.String() + " is within its own doubt of the rating of " + bar(s.Rating)
	case !s.Within:
		s.Verdict = "exceeds the rating: " + bar(s.Pressure) + " at " + c.Hottest.String() + " against " + bar(s.Rating)
	default:
		s.Verdict = "below the rating: " + bar(s.Pressure) + " at " + c.Hottest.String() + " against " + bar(s.Rating)
	}
	if c.Rating.IsNone() {
		s.Notes = append(s.Notes, "No rating was given: 85 psi is taken, which is custom and no certificate. Ask the can's supplier.")
	}
	if c.Hottest.In(quantity.Celsius) > 50 {
		s.Notes = append(s.Notes, "Above 50 °C both ways are carried past their range: indicative only.")
	}
	if headspace {
		grown := expansion(abv.Value, fillTemp.In(quantity.Celsius), c.Hottest.In(quantity.Celsius))
		left := 100 * (1 - c.Filled.Base()*grown/c.Capacity.Base())
		s.Headspace = quantity.Figure{Value: left, Unit: quantity.Percent}
		switch {
		case left <= 0:
			s.Within = false
			s.Verdict = "fills up: the drink expands to more than the can at " + c.Hottest.String()
		case left < 2:
			s.Notes = append(s.Notes, "Under 2 % of headspace is left at the hottest: the pressure rises steeply. 4 to 6 % at filling is common practice, no source.")
		}
	}
	s.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("CO2 in the drink", quantity.Fixed(wanted.Value, 2)+" g/L, "+quantity.Fixed(Volumes(wanted.Value), 2)+" volumes")
		w.Add("by the brewers' chart at "+c.Hottest.String(), s.Chart.In(quantity.PSI).Text(1))
		w.Add("by Henry's law with alcohol and sugar at "+c.Hottest.String(), s.Computed.In(quantity.PSI).Text(1))
		c.Drink.explain(w, c.Hottest.In(quantity.Celsius))
		w.Add("the higher of the two", s.Pressure.In(quantity.PSI).Text(1))
		w.Add("rating less that", s.Margin.In(quantity.PSI).Text(1))
		if headspace {
			w.Add("the drink grows from "+fillTemp.String()+" to "+c.Hottest.String()+" by a factor of", quantity.Fixed(expansion(abv.Value, fillTemp.In(quantity.Celsius), c.Hottest.In(quantity.Celsius)), 4))
			w.Add("headspace left", s.Headspace.Text(1))
		}
	})
	return s, nil
}

// expansion is by what a drink's volume grows; its sugar's part is left out.
func expansion(abv, from, to float64) float64 {
	s, err := spirit.FromABV20(abv)
	if err != nil {
		return 1
	}
	at := func(t float64) float64 { return float64(s.DensityAt(spirit.Celsius(t))) }
	hot := at(min(to, 40))
	if to > 40 {
		hot += (to - 40) * (at(40) - at(35)) / 5
	}
	return at(from) / hot
}

// A Ferment asks what sugar can still become in a closed can.
type Ferment struct {
	Sugar quantity.Reading // g/L that yeast can ferment
	ABV   quantity.Reading // none for none
}

// A Fermented answers a Ferment.
type Fermented struct {
	CO2     quantity.Figure // g/L if all of it ferments
	Volumes quantity.Figure // added to what is in it
	Caution string
	quantity.Explained
}

// co2PerSugar is kg of CO2 from 1 kg of hexose: 2 × 44.009 ÷ 180.156.
const co2PerSugar = 2 * molarCO2 / 180.156

// Referment is Gay-Lussac's 0.489 g of CO2 from 1 g of hexose: 4 g/L of sugar
// make one volume. Yeast works below about 15 % vol (common practice, no
// source), so a drink with sugar is made safe by what is done to it and not by
// its strength.
func Referment(f Ferment) (Fermented, error) {
	var faults fault.List
	faults.Add("sugar", between(f.Sugar, "a concentration", quantity.MustParse("0", quantity.GramPerLitre), sweetest, "check the figure and its unit"))
	if !f.ABV.IsNone() {
		faults.Add("abv", between(f.ABV, "a strength in % vol", quantity.MustParse("0", quantity.ABV20), quantity.MustParse("100", quantity.ABV20), "check the figure"))
	}
	if err := faults.Err(); err != nil {
		return Fermented{}, err
	}
	e := f.Sugar.EstimateIn(quantity.GramPerLitre)
	g := quantity.Estimate{Value: e.Value * co2PerSugar, U: e.U * co2PerSugar}
	r := Fermented{CO2: quantity.FigureOf(g, quantity.GramPerLitre, f.Sugar.HasHalfWidth()),
		Volumes: quantity.FigureOf(quantity.Estimate{Value: Volumes(g.Value), U: Volumes(g.U)}, quantity.NoUnit, f.Sugar.HasHalfWidth())}
	if r.Volumes.Value >= 0.25 && f.ABV.Float() < 15 {
		r.Caution = "If yeast gets in, this sugar adds " + quantity.Fixed(r.Volumes.Value, 1) + " volumes in the closed can: sterile filtration, a preservative within its limit, or pasteurising that was worked out for this can. Keep samples warm for two weeks and feel them." + localCode
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("0.489 g of CO2 from each g of "+f.Sugar.String(), r.CO2.Text(2))
		w.Add("volumes, ÷ 1.963 g/L", r.Volumes.Text(2))
	})
	return r, nil
}
