package must

import (
	"math"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Dilution asks for the water that brings molasses, syrup or honey to a wash.
type Dilution struct {
	Weight  quantity.Reading // of the molasses; or
	Wanted  quantity.Reading // the volume of wash at 20 °C
	Extract quantity.Reading // of the molasses, Bx
	With    quantity.Reading // extract of what it is diluted with, Bx; none for water
	Target  quantity.Reading // of the wash, Bx or SG, up to 40 Bx
}

// A Diluted answers a Dilution.
type Diluted struct {
	Molasses quantity.Figure // kg
	Added    quantity.Figure // kg of water, or of what stands for it
	AddedL   quantity.Figure // L at 20 °C
	Wash     quantity.Figure // L at 20 °C
	WashMass quantity.Figure // kg
	Gravity  quantity.Figure // SG 20/20 of the wash
	Note     string          // where the wash is heavy for a yeast
	quantity.Explained
}

// Dilute balances masses: extract and weight both add, volume follows from the
// density of the wash. The Brix of molasses counts ash too, and a hydrometer in
// the thick liquid lies: dilute a weighed sample 1 + 1, read, and double.
func Dilute(d Dilution) (Diluted, error) {
	var faults fault.List
	switch {
	case d.Weight.IsNone() == d.Wanted.IsNone():
		code, limit := fault.Missing, "the weight of molasses or the volume of wash is needed"
		if !d.Weight.IsNone() {
			code, limit = fault.Conflict, "the weight of molasses and the volume of wash are both given"
		}
		faults.Add("weight", fault.Fault{Code: code, Value: d.Weight.String(), Limit: limit, Remedy: "give one of them"})
	case d.Wanted.IsNone():
		faults.Add("weight", checkAmount(d.Weight, quantity.Mass))
	default:
		faults.Add("wanted", checkAmount(d.Wanted, quantity.Volume))
	}
	faults.Add("extract", checkBetween(d.Extract, brix("5"), brix("100"), "dilute a weighed sample 1 + 1, read it, and double"))
	with := d.With
	if with.IsNone() {
		with = brix("0")
	} else {
		_, err := ExtractOf(with)
		faults.Add("with", err)
	}
	target, err := ExtractOf(d.Target)
	faults.Add("target", err)
	if len(faults) == 0 {
		low, _ := ExtractOf(with)
		if float64(target) >= d.Extract.Float() || target <= low {
			faults.Add("target", fault.Fault{Code: fault.Conflict, Value: d.Target.String(), Limit: "does not lie between " + with.String() + " and " + d.Extract.String(), Remedy: "check the three figures"})
		}
	}
	if err := faults.Err(); err != nil {
		return Diluted{}, err
	}
	amount := quantity.Estimate{}
	if d.Wanted.IsNone() {
		amount = d.Weight.EstimateIn(quantity.Kilogram)
	} else {
		amount = d.Wanted.EstimateIn(quantity.Litre)
	}
	out, err := quantity.PropagateFinite([]quantity.Estimate{amount, d.Extract.EstimateIn(quantity.Brix), estimate(with), estimate(d.Target)}, func(x []float64) ([]float64, error) {
		w, err := extractIn(with, x[2])
		if err != nil {
			return nil, fault.List{named(err, "with")}
		}
		t, err := extractIn(d.Target, x[3])
		if err != nil {
			return nil, fault.List{named(err, "target")}
		}
		density := float64(gravity(t)) * waterDensity20
		share := float64(t-w) / (x[1] - float64(w)) // of molasses in the wash, by mass
		mass := x[0] / share
		if d.Weight.IsNone() {
			mass = x[0] * density
		}
		added := mass * (1 - share)
		return []float64{mass * share, added, added / (float64(gravity(w)) * waterDensity20), mass / density, mass, float64(gravity(t))}, nil
	})
	if err != nil {
		return Diluted{}, err
	}
	doubted := quantity.Doubted(d.Weight, d.Wanted, d.Extract, d.With, d.Target)
	r := Diluted{
		Molasses: quantity.FigureOf(out[0], quantity.Kilogram, doubted), Added: quantity.FigureOf(out[1], quantity.Kilogram, doubted), AddedL: quantity.FigureOf(out[2], quantity.Litre, doubted),
		Wash: quantity.FigureOf(out[3], quantity.Litre, doubted), WashMass: quantity.FigureOf(out[4], quantity.Kilogram, doubted), Gravity: quantity.FigureOf(out[5], quantity.SG, doubted),
	}
	if target > 22 {
		r.Note = "Above 22 to 24 Bx the salts and the sugar of molasses slow the yeast (The Alcohol Textbook, from memory)."
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("share of molasses in the wash by weight, (target - diluent) ÷ (molasses - diluent)", quantity.Fixed(100*out[0].Value/out[4].Value, 2)+" %")
		w.Add("molasses", r.Molasses.Text(1))
		w.Add("to add, by weight", r.Added.Text(1))
		w.Add("to add, by volume at 20 °C", r.AddedL.Text(1))
		w.Add("gravity of the wash (NBS Circular 440)", r.Gravity.Text(4))
		w.Add("volume of the wash, its weight over its density", r.Wash.Text(1))
	})
	return r, nil
}

func brix(s string) quantity.Reading { return quantity.MustParse(s, quantity.Brix) }

// A Demand is how much nitrogen a yeast wants, mg of N per litre and Brix.
type Demand float64

// The demands (yeast growers' guidance and winemaking handbooks, from memory).
// At 21 Bx the low one gives 158 mg/L, by the good-practice minimum of 140 to
// 150; what is common to correct up to is 350.
const (
	LowDemand    Demand = 7.5
	MediumDemand Demand = 9
	HighDemand   Demand = 12.5
)

// DAPNitrogen is the share of nitrogen in diammonium phosphate, %, from molar
// masses: 2 × 14.007 ÷ 132.056.
const DAPNitrogen = 100 * 2 * 14.007 / 132.056

const (
	mostNitrogen = 350    // mg/L, to which must is corrected (Fermentation 2022, 8(6), 268)
	mostDAP      = 0.96   // g/L: 8 lb per 1,000 gal of 27 CFR 24.246, from memory
	mostABVFed   = 10.    // % vol, after which nothing is fed (common practice, no source)
	thirdOfSugar = 1. / 3 // share of the sugar gone at the second dose
)

// A Feeding asks for nutrient.
type Feeding struct {
	Volume   quantity.Reading // of mash
	Extract  quantity.Reading // at the start, Bx or SG
	Demand   Demand
	Present  quantity.Reading // yeast-assimilable nitrogen measured in the juice, mg/L; none where it was not measured
	Nutrient string           // name of the nutrient, for its refusal: urea never
	Nitrogen quantity.Reading // share of N in the nutrient by mass, %; none for diammonium phosphate
	ABV      quantity.Reading // alcohol so far; none before the start
}

// A Fed answers a Feeding.
type Fed struct {
	Wanted  quantity.Figure // mg/L of nitrogen
	Missing quantity.Figure // mg/L
	Dose    quantity.Figure // g in all
	Each    quantity.Figure // g, each of two doses
	PerHL   quantity.Figure // g/hL of the whole dose
	When    string
	Advice  []Advice
	quantity.Explained
}

// Feed is the nitrogen rule: demand × Brix, less what the juice brings. Two
// equal doses: one day in, when the yeast has started, and at one third of the
// sugar gone. Urea is refused: with alcohol it becomes ethyl carbamate, a
// carcinogen (Commission Recommendation (EU) 2016/22, Codex CXC 70-2011).
func Feed(f Feeding) (Fed, error) {
	var faults fault.List
	if isUrea(f.Nutrient) {
		faults.Add("nutrient", fault.Fault{Code: fault.NotOneOf, Value: f.Nutrient, Limit: "turns into ethyl carbamate in the spirit and is never fed", Remedy: "use diammonium phosphate or a yeast-based nutrient"})
	}
	faults.Add("volume", checkAmount(f.Volume, quantity.Volume))
	e, err := ExtractOf(f.Extract)
	faults.Add("extract", err)
	if err == nil && e <= 0 {
		faults.Add("extract", fault.Fault{Code: fault.TooLow, Value: f.Extract.String(), Limit: "is not above 0 Bx", Remedy: "give the extract before the yeast went in"})
	}
	if !(f.Demand >= 5 && f.Demand <= 15) {
		faults.Add("demand", fault.Fault{Code: fault.NotOneOf, Value: strconv.FormatFloat(float64(f.Demand), 'f', -1, 64), Limit: "is not between 5 and 15 mg of N per L and Bx", Remedy: "7.5 for an undemanding yeast, 9 for most, 12.5 for a demanding one: ask its maker"})
	}
	present, nitrogen := quantity.Estimate{}, quantity.Estimate{Value: DAPNitrogen}
	if !f.Present.IsNone() {
		faults.Add("present", checkBetween(f.Present, mgL("0"), mgL("1000"), "check the unit of the laboratory's figure"))
	}
	if !f.Nitrogen.IsNone() {
		faults.Add("nitrogen", checkBetween(f.Nitrogen, percent("1"), percent("25"), "take the nitrogen from the maker's sheet; above 25 % it can only be urea"))
	}
	if !f.ABV.IsNone() {
		faults.Add("abv", checkBetween(f.ABV, quantity.MustParse("0", quantity.ABV20), quantity.MustParse("10", quantity.ABV20), "feed nothing now: yeast no longer takes it up and bacteria do"))
	}
	if err := faults.Err(); err != nil {
		return Fed{}, err
	}
	if !f.Present.IsNone() {
		present = f.Present.EstimateIn(quantity.MilligramPerLitre)
	}
	if !f.Nitrogen.IsNone() {
		nitrogen = f.Nitrogen.EstimateIn(quantity.Percent)
	}
	in := []quantity.Estimate{f.Volume.EstimateIn(quantity.Litre), estimate(f.Extract), present, nitrogen}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		e, err := extractIn(f.Extract, x[1])
		if err != nil {
			return nil, fault.List{named(err, "extract")}
		}
		wanted := float64(f.Demand) * float64(e)
		missing := max(0, min(wanted, mostNitrogen)-x[2])
		dose := missing * x[0] / 1000 / (x[3] / 100)
		return []float64{wanted, missing, dose, dose / 2, 100 * dose / x[0]}, nil
	})
	if err != nil {
		return Fed{}, err
	}
	doubted := quantity.Doubted(f.Volume, f.Extract, f.Present, f.Nitrogen)
	r := Fed{
		Wanted: quantity.FigureOf(out[0], quantity.MilligramPerLitre, doubted), Missing: quantity.FigureOf(out[1], quantity.MilligramPerLitre, doubted),
		Dose: quantity.FigureOf(out[2], quantity.Gram, doubted), Each: quantity.FigureOf(out[3], quantity.Gram, doubted), PerHL: quantity.FigureOf(out[4], quantity.Gram, doubted),
		When: "half one day after the yeast, when it has started; half when a third of the sugar is gone; nothing above 10 % vol",
	}
	if f.Present.IsNone() {
		r.Advice = append(r.Advice, Advice{"nitrogen-unknown", "The juice's own nitrogen was not measured and counts as none.", "Apple and pear bring 50 to 150 mg/L, must 100 to 300, sugar and panela under 30: measure it, or feed the first half and watch.", customary})
	}
	if out[0].Value > mostNitrogen {
		r.Advice = append(r.Advice, Advice{"nitrogen-capped", "The rule asks for more than 350 mg/L; the dose stops there.", "A wash this heavy is better diluted.", "Fermentation 2022, 8(6), 268"})
	}
	if f.Nitrogen.IsNone() && out[4].Value > 100*mostDAP {
		r.Advice = append(r.Advice, Advice{"phosphate-high", "The dose is above 0.96 g/L of diammonium phosphate, the limit for wine.", "Cover a part with a yeast-based nutrient.", "27 CFR 24.246, from memory"})
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("nitrogen wanted, "+strconv.FormatFloat(float64(f.Demand), 'f', -1, 64)+" mg/L per Bx × "+f.Extract.String(), r.Wanted.Text(0))
		w.Add("less what the juice brings, at most up to 350 mg/L", r.Missing.Text(0))
		w.Add("nutrient of "+quantity.Fixed(nitrogen.Value, 1)+" % nitrogen for "+f.Volume.String(), r.Dose.Text(0))
		w.Add("in two doses of", r.Each.Text(0))
	})
	return r, nil
}

func mgL(s string) quantity.Reading { return quantity.MustParse(s, quantity.MilligramPerLitre) }

// A Titration is an acid tried on the bench on a sample of the mash.
type Titration struct {
	Mash   quantity.Reading // volume, or weight
	Sample quantity.Reading // of the same dimension
	Steps  []AcidStep       // in the order they were added, the first without acid
	Target quantity.Reading // pH
}

// An AcidStep is the acid in the sample so far and the pH it gave.
type AcidStep struct {
	Acid quantity.Reading // volume or weight in all, 0 for the first
	PH   quantity.Reading
}

// An Acidified answers a Titration.
type Acidified struct {
	Sample quantity.Figure // acid for the sample, in the unit of the steps
	Dose   quantity.Figure // for the mash, in the same unit
	First  quantity.Figure // three quarters of it, to add and mix before the pH is read again
	Advice []Advice
	quantity.Explained
}

// Acidify scales a bench titration up: between the two readings about the
// target the pH is taken as straight, and the acid grows with the amount of
// mash. Fruit buffers as it will, so no dose is worked out from a recipe, and
// none beyond the last reading. Target: pH 2.8 to 5.5; fruit mash wants 3.0 to
// 3.2 (garden and fruit growers' association, Saarland).
func Acidify(q Titration) (Acidified, error) {
	var faults fault.List
	faults.Add("mash", checkWater(q.Mash))
	faults.Add("sample", checkWater(q.Sample))
	faults.Add("target", checkBetween(q.Target, acidity("2.8"), acidity("5.5"), "choose a pH at which the yeast still works"))
	if !q.Mash.IsNone() && !q.Sample.IsNone() && q.Mash.Unit().Dimension() != q.Sample.Unit().Dimension() {
		faults.Add("sample", fault.Fault{Code: fault.Conflict, Value: q.Sample.String(), Limit: "is not measured like the mash, " + q.Mash.String(), Remedy: "give both as volume or both as weight"})
	}
	faults = append(faults, q.checkSteps()...)
	if err := faults.Err(); err != nil {
		return Acidified{}, err
	}
	i := 0
	for i < len(q.Steps)-2 && q.Steps[i+1].PH.Float() > q.Target.Float() {
		i++
	}
	a, b := q.Steps[i], q.Steps[i+1]
	unit := b.Acid.Unit()
	base := quantity.Units(q.Mash.Unit().Dimension())[0]
	in := []quantity.Estimate{q.Mash.EstimateIn(base), q.Sample.EstimateIn(base), a.Acid.EstimateIn(unit), b.Acid.EstimateIn(unit), estimate(a.PH), estimate(b.PH)}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		if x[4] <= x[5] {
			return nil, fault.List{{Code: fault.Conflict, Field: "steps", Value: b.PH.String(), Limit: "cannot be told from " + a.PH.String() + " with this meter", Remedy: "add more acid between the readings"}}
		}
		s := x[2] + (x[3]-x[2])*(x[4]-q.Target.Float())/(x[4]-x[5])
		d := s * x[0] / x[1]
		return []float64{s, d, 0.75 * d}, nil
	})
	if err != nil {
		return Acidified{}, err
	}
	doubted := quantity.Doubted(q.Mash, q.Sample, a.Acid, b.Acid, a.PH, b.PH)
	r := Acidified{Sample: quantity.FigureOf(out[0], unit, doubted), Dose: quantity.FigureOf(out[1], unit, doubted), First: quantity.FigureOf(out[2], unit, doubted)}
	r.Advice = []Advice{{"acid-in-steps", "The bench sample stands for the mash only if both were mixed.", "Add three quarters, mix well, wait a quarter of an hour, read the pH, and only then the rest.", customary}}
	if gap := a.PH.Float() - b.PH.Float(); gap > 0.4 {
		r.Advice = append(r.Advice, Advice{"titration-coarse", "The readings about the target are more than 0.4 pH apart, where the curve bends.", "Titrate again with smaller steps near the target.", customary})
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("the target, "+q.Target.String()+", lies between "+a.PH.String()+" at "+a.Acid.String()+" and "+b.PH.String()+" at "+b.Acid.String()+": acid for the sample", r.Sample.Text(2))
		w.Add("scaled from "+q.Sample.String()+" to "+q.Mash.String(), r.Dose.Text(1))
		w.Add("three quarters of it first, then measure", r.First.Text(1))
	})
	return r, nil
}

func acidity(s string) quantity.Reading { return quantity.MustParse(s, quantity.PH) }

func (q Titration) checkSteps() (faults fault.List) {
	add := func(f fault.Fault) { faults.Add("steps", f) }
	if len(q.Steps) < 2 {
		add(fault.Fault{Code: fault.Missing, Limit: "a bench titration of at least two readings is needed", Remedy: "read a sample without acid, then after each addition until it passes the target; a dose by recipe is not worked out"})
		return faults
	}
	for i, s := range q.Steps {
		name := "step " + strconv.Itoa(i+1)
		switch d := s.Acid.Unit().Dimension(); {
		case s.Acid.IsNone() || d != quantity.Volume && d != quantity.Mass || d != q.Steps[0].Acid.Unit().Dimension():
			add(fault.Fault{Code: fault.WrongUnit, Value: s.Acid.String(), Limit: name + " has no acid, or not in the unit of the first", Remedy: "give mL or g in all, 0 for the first"})
		case s.Acid.Float() < 0:
			add(fault.Fault{Code: fault.TooLow, Value: s.Acid.String(), Limit: name + " has less than no acid", Remedy: "give the acid added in all"})
		}
		if err := checkBetween(s.PH, acidity("1"), acidity("9"), "calibrate the meter and read again"); err != nil {
			add(named(err, "steps"))
		}
	}
	if len(faults) > 0 {
		return faults
	}
	if q.Steps[0].Acid.Float() != 0 {
		add(fault.Fault{Code: fault.Missing, Value: q.Steps[0].Acid.String(), Limit: "the first reading is without acid", Remedy: "read the sample as it is and list it first with 0"})
	}
	for i := 1; i < len(q.Steps); i++ {
		a, b := q.Steps[i-1], q.Steps[i]
		if b.Acid.Base() <= a.Acid.Base() || b.PH.Float() >= a.PH.Float() {
			add(fault.Fault{Code: fault.Conflict, Value: b.Acid.String() + " at " + b.PH.String(), Limit: "does not follow " + a.Acid.String() + " at " + a.PH.String() + " with more acid and a lower pH", Remedy: "list the acid in all, in the order it was added, and stir before reading"})
		}
	}
	first, last := q.Steps[0].PH, q.Steps[len(q.Steps)-1].PH
	if q.Target.Unit() == quantity.PH {
		switch t := q.Target.Float(); {
		case t >= first.Float():
			faults.Add("target", fault.Fault{Code: fault.TooHigh, Value: q.Target.String(), Limit: "is not below the mash, " + first.String(), Remedy: "no acid is needed"})
		case t < last.Float():
			faults.Add("target", fault.Fault{Code: fault.TooLow, Value: q.Target.String(), Limit: "is below the last reading, " + last.String(), Remedy: "titrate the sample further; no dose is guessed beyond its readings"})
		}
	}
	return faults
}

// An EnzymeDose asks for pectinase.
type EnzymeDose struct {
	Prepared quantity.Reading // weight of fruit
	PerTonne quantity.Reading // the maker's dose for a tonne of fruit, mL or g
	Temp     quantity.Reading // of the mash
}

// An Enzymed answers an EnzymeDose.
type Enzymed struct {
	Dose    quantity.Figure // in the unit of the maker's dose
	Doubled bool            // for a mash below 15 °C
	Advice  []Advice
}

// Enzyme is the maker's dose, doubled below 15 °C; pectinase works from 15 to
// 50 °C (page of a fruit-wine society, second-hand). Above 50 °C it is refused.
func Enzyme(q EnzymeDose) (Enzymed, error) {
	var faults fault.List
	faults.Add("prepared", checkAmount(q.Prepared, quantity.Mass))
	faults.Add("per_tonne", checkWater(q.PerTonne))
	faults.Add("temp", checkBetween(q.Temp, celsius("0"), celsius("50"), "cool the mash first: heat destroys the enzyme"))
	if err := faults.Err(); err != nil {
		return Enzymed{}, err
	}
	times := 1.0
	r := Enzymed{Doubled: q.Temp.In(quantity.Celsius) < 15}
	if r.Doubled {
		times = 2
	}
	in := []quantity.Estimate{q.Prepared.EstimateIn(quantity.Tonne), estimate(q.PerTonne)}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) { return []float64{times * x[0] * x[1]}, nil })
	if err != nil {
		return Enzymed{}, err
	}
	r.Dose = quantity.FigureOf(out[0], q.PerTonne.Unit(), quantity.Doubted(q.Prepared, q.PerTonne))
	r.Advice = []Advice{{"methanol", "Pectinase sets methanol free from pectin.", "Use the maker's dose and no more, and cut heads as for a fruit rich in pectin.", "distillers' handbooks, from memory"}}
	return r, nil
}

// A Pitched answers Pitch.
type Pitched struct {
	Low, High quantity.Figure // g of dry yeast
	How       string
}

// Pitch is the dry yeast for a mash: 10 to 30 g in 100 L (yeast growers'
// guidance, from memory).
func Pitch(volume quantity.Reading) (Pitched, error) {
	var faults fault.List
	faults.Add("volume", checkAmount(volume, quantity.Volume))
	if err := faults.Err(); err != nil {
		return Pitched{}, err
	}
	e := volume.EstimateIn(quantity.Hectolitre)
	of := func(g float64) quantity.Figure {
		return quantity.FigureOf(quantity.Estimate{Value: g * e.Value, U: g * e.U}, quantity.Gram, volume.HasHalfWidth())
	}
	return Pitched{Low: of(10), High: of(30), How: "stir into ten times its weight of water at 35 to 40 °C, wait 20 minutes, bring it within 10 K of the mash before it goes in"}, nil
}

// Ventilation is the outside air, m3/h, that keeps a room in which so much CO2
// is set free below 5,000 ppm, the 8-hour limit (29 CFR 1910.1000, Table Z-1),
// from 420 ppm outside. It is an average over a well-mixed room: pits and tanks
// are never well mixed.
func Ventilation(co2PerDay quantity.Figure) float64 {
	perHour := co2PerDay.In(quantity.Kilogram).Value * co2Volume / 24
	return math.Max(0, perHour) / (5000e-6 - 420e-6)
}
