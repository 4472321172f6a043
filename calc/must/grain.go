package must

import (
	"math"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// grainHeat is the specific heat of milled grain over that of water, 0.38 to
// 0.42 (Briggs et al., Brewing: Science and Practice, from memory).
const (
	grainHeat      = 0.40
	grainHeatDoubt = 0.02
)

// A Strike asks how hot the water must be.
type Strike struct {
	Grain     quantity.Reading // weight of milled grain
	GrainTemp quantity.Reading
	Water     quantity.Reading // weight, or volume as measured cold
	Target    quantity.Reading // temperature of the mash, 25 to 85 °C
	Tun       quantity.Reading // weight of water that the tun warms like; none where it is preheated
	TunTemp   quantity.Reading // none for the grain's
}

// A Struck answers a Strike.
type Struck struct {
	Water     quantity.Figure // °C
	Thickness float64         // kg of water to a kg of grain
	quantity.Explained
}

// StrikeTemperature balances heat: what grain and tun take up is what the water
// gives off, with 0.40 ± 0.02 for grain over water. The heat of wetting dry
// grain, which lifts a mash by up to 1 K (from memory), is left to the next
// batch's own correction. Range: strike water up to 95 °C.
func StrikeTemperature(s Strike) (Struck, error) {
	var faults fault.List
	faults.Add("grain", checkAmount(s.Grain, quantity.Mass))
	faults.Add("grain_temp", checkBetween(s.GrainTemp, celsius("-10"), celsius("50"), "measure the grain as it stands"))
	faults.Add("water", checkWater(s.Water))
	faults.Add("target", checkBetween(s.Target, celsius("25"), celsius("85"), "choose the temperature of the rest"))
	tunTemp := s.TunTemp
	if tunTemp.IsNone() {
		tunTemp = s.GrainTemp
	} else {
		faults.Add("tun_temp", checkBetween(tunTemp, celsius("-10"), celsius("100"), "measure the tun"))
	}
	var tun quantity.Estimate
	if !s.Tun.IsNone() && s.Tun.Float() != 0 {
		faults.Add("tun", checkAmount(s.Tun, quantity.Mass))
	}
	if err := faults.Err(); err != nil {
		return Struck{}, err
	}
	if !s.Tun.IsNone() {
		tun = s.Tun.EstimateIn(quantity.Kilogram)
	}
	in := []quantity.Estimate{s.Grain.EstimateIn(quantity.Kilogram), s.GrainTemp.EstimateIn(quantity.Celsius), water(s.Water),
		s.Target.EstimateIn(quantity.Celsius), tun, tunTemp.EstimateIn(quantity.Celsius), {Value: grainHeat, U: grainHeatDoubt / math.Sqrt(3)}}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		return []float64{x[3] + (x[6]*x[0]*(x[3]-x[1])+x[4]*(x[3]-x[5]))/x[2], x[2] / x[0]}, nil
	})
	if err != nil {
		return Struck{}, err
	}
	r := Struck{Water: quantity.FigureOf(out[0], quantity.Celsius, true), Thickness: out[1].Value}
	if r.Water.Value > 95 {
		return Struck{}, fault.List{{Code: fault.TooHigh, Field: "target", Value: s.Target.String(), Limit: "needs water at " + quantity.Fixed(r.Water.Value, 0) + " °C, above 95 °C", Remedy: "use more water, warm the tun first, or reach the rest in two steps"}}
	}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("water to grain, by weight", quantity.Fixed(r.Thickness, 2)+" kg/kg")
		w.Add("heat for the grain, "+s.Grain.String()+" × 0.40 × (target - "+s.GrainTemp.String()+")", quantity.Fixed(grainHeat*in[0].Value*(in[3].Value-in[1].Value), 1)+" kg·K of water")
		w.Add("heat for the tun", quantity.Fixed(tun.Value*(in[3].Value-in[5].Value), 1)+" kg·K of water")
		w.Add("strike water, target + both over "+quantity.Fixed(in[2].Value, 1)+" kg of water", r.Water.Text(1))
	})
	return r, nil
}

func checkWater(r quantity.Reading) error {
	if r.Unit().Dimension() == quantity.Volume {
		return checkAmount(r, quantity.Volume)
	}
	return checkAmount(r, quantity.Mass)
}

// water is kg of water of a weight, or of a volume at 20 °C.
func water(r quantity.Reading) quantity.Estimate {
	if r.Unit().Dimension() == quantity.Mass {
		return r.EstimateIn(quantity.Kilogram)
	}
	e := r.EstimateIn(quantity.Litre)
	return quantity.Estimate{Value: e.Value * waterDensity20, U: e.U * waterDensity20}
}

// An Infusion asks how much hot water lifts a mash to its next rest.
type Infusion struct {
	Grain, Water           quantity.Reading // in the mash
	Mash, Target, HotWater quantity.Reading // temperatures
}

// Infuse is the hot water to add, kg, by the same balance as StrikeTemperature.
func Infuse(i Infusion) (quantity.Figure, error) {
	var faults fault.List
	faults.Add("grain", checkAmount(i.Grain, quantity.Mass))
	faults.Add("water", checkWater(i.Water))
	faults.Add("mash", checkBetween(i.Mash, celsius("0"), celsius("95"), "measure the mash"))
	faults.Add("target", checkBetween(i.Target, celsius("0"), celsius("95"), "choose the temperature of the rest"))
	faults.Add("hot_water", checkBetween(i.HotWater, celsius("0"), celsius("100"), "measure the water"))
	if len(faults) == 0 {
		m, t, h := i.Mash.In(quantity.Celsius), i.Target.In(quantity.Celsius), i.HotWater.In(quantity.Celsius)
		if (t-m)*(h-t) <= 0 {
			faults.Add("target", fault.Fault{Code: fault.Conflict, Value: i.Target.String(), Limit: "does not lie between the mash, " + i.Mash.String() + ", and the water, " + i.HotWater.String(), Remedy: "check the three temperatures"})
		}
	}
	if err := faults.Err(); err != nil {
		return quantity.Figure{}, err
	}
	in := []quantity.Estimate{i.Grain.EstimateIn(quantity.Kilogram), water(i.Water), i.Mash.EstimateIn(quantity.Celsius), i.Target.EstimateIn(quantity.Celsius), i.HotWater.EstimateIn(quantity.Celsius), {Value: grainHeat, U: grainHeatDoubt / math.Sqrt(3)}}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		return []float64{(x[5]*x[0] + x[1]) * (x[3] - x[2]) / (x[4] - x[3])}, nil
	})
	if err != nil {
		return quantity.Figure{}, err
	}
	return quantity.FigureOf(out[0], quantity.Kilogram, true), nil
}

// A Rest is a temperature at which a mash is held.
type Rest struct {
	Name      string
	Low, High int // °C
	Minutes   int
	For       string
	Source    string
}

// Rests lists the rests of a grain mash.
func Rests() []Rest {
	const briggs = "Briggs et al., Brewing: Science and Practice, from memory"
	return []Rest{
		{"gum", 38, 45, 20, "loosens the gums of rye and wheat, which would make the mash a glue", briggs},
		{"cereal cook", 85, 95, 45, "opens maize and other unmalted grain, whose starch swells above the malt's range; cool before the malt goes in", briggs},
		{"saccharification", 62, 65, 60, "malt turns starch to sugar; above 67 °C the part of it that makes fermentable sugar is lost", "Russell, Stewart and Kellershohn, Whisky and Other Spirits, from memory"},
		{"dextrin", 70, 73, 20, "finishes the starch where iodine still shows blue", briggs},
	}
}

// Iodine says how the starch test is read.
const Iodine = "A drop of cooled mash and a drop of iodine on white porcelain: blue or black, starch is left, hold the rest; red-brown or yellow, done. Throw the test away, it never goes back into the mash."

// A BillPart is one grain of a bill.
type BillPart struct {
	Weight  quantity.Reading
	Extract quantity.Reading // % by mass as is, from the maltster's sheet
}

// A Wort is what a mash gave.
type Wort struct {
	Volume  quantity.Reading // of liquid, brought to 20 °C
	Extract quantity.Reading // corrected, Bx or SG
	Bill    []BillPart
}

// A Yielded answers a Wort.
type Yielded struct {
	InWort     quantity.Figure // kg of extract
	InBill     quantity.Figure // kg of extract
	Efficiency quantity.Figure // %
	quantity.Explained
}

// Yield is the extract in the wort over that of the bill. A mash fermented on
// the grain has less liquid than its volume: give the strained liquid's.
func Yield(q Wort) (Yielded, error) {
	var faults fault.List
	faults.Add("volume", checkAmount(q.Volume, quantity.Volume))
	_, err := ExtractOf(q.Extract)
	faults.Add("extract", err)
	if len(q.Bill) == 0 {
		faults.Add("bill", fault.Fault{Code: fault.Missing, Limit: "the grain bill is needed", Remedy: "give each grain's weight and extract"})
	}
	readings := []quantity.Reading{q.Volume, q.Extract}
	for i, p := range q.Bill {
		name := "grain " + strconv.Itoa(i+1)
		faults.Add(name, checkAmount(p.Weight, quantity.Mass))
		faults.Add(name, checkBetween(p.Extract, percent("1"), percent("100"), "take the extract as is from the maltster's sheet"))
		readings = append(readings, p.Weight, p.Extract)
	}
	if err := faults.Err(); err != nil {
		return Yielded{}, err
	}
	in := []quantity.Estimate{q.Volume.EstimateIn(quantity.Litre), estimate(q.Extract)}
	for _, p := range q.Bill {
		in = append(in, p.Weight.EstimateIn(quantity.Kilogram), p.Extract.EstimateIn(quantity.Percent))
	}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		e, err := extractIn(q.Extract, x[1])
		if err != nil {
			return nil, fault.List{named(err, "extract")}
		}
		wort, bill := x[0]*e.GramsPerLitre()/1000, 0.0
		for i := 2; i < len(x); i += 2 {
			bill += x[i] * x[i+1] / 100
		}
		return []float64{wort, bill, 100 * wort / bill}, nil
	})
	if err != nil {
		return Yielded{}, err
	}
	doubted := quantity.Doubted(readings...)
	y := Yielded{InWort: quantity.FigureOf(out[0], quantity.Kilogram, doubted), InBill: quantity.FigureOf(out[1], quantity.Kilogram, doubted), Efficiency: quantity.FigureOf(out[2], quantity.Percent, doubted)}
	if y.Efficiency.Value > 103 {
		return Yielded{}, fault.List{{Code: fault.Conflict, Field: "extract", Value: q.Extract.String(), Limit: "puts " + y.InWort.Text(1) + " into the wort, more than the bill's " + y.InBill.Text(1), Remedy: "check the volume of liquid, the reading's temperature and the weights"}}
	}
	y.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("extract in "+q.Volume.String()+" of wort", y.InWort.Text(2))
		w.Add("extract in the bill, weights × extract as is", y.InBill.Text(2))
		w.Add("efficiency", y.Efficiency.Text(1))
	})
	return y, nil
}

// A Cooling is two readings of a cooling mash.
type Cooling struct {
	Start, Now, Coolant, Target quantity.Reading
	Elapsed                     quantity.Reading // between Start and Now
}

// CoolingTime is how long the mash still needs, min: the gap to the coolant
// shrinks by the same share in the same time (Newton's law of cooling), while
// flow and stirring stay as they are.
func CoolingTime(c Cooling) (quantity.Figure, error) {
	var faults fault.List
	for _, f := range []struct {
		name string
		r    quantity.Reading
	}{{"start", c.Start}, {"now", c.Now}, {"coolant", c.Coolant}, {"target", c.Target}} {
		faults.Add(f.name, checkBetween(f.r, celsius("-10"), celsius("100"), "check the thermometer"))
	}
	faults.Add("elapsed", checkAmount(c.Elapsed, quantity.Duration))
	if len(faults) == 0 {
		start, now, coolant, target := c.Start.In(quantity.Celsius), c.Now.In(quantity.Celsius), c.Coolant.In(quantity.Celsius), c.Target.In(quantity.Celsius)
		switch {
		case !(start > now && now > coolant):
			faults.Add("now", fault.Fault{Code: fault.Conflict, Value: c.Now.String(), Limit: "does not lie between the start, " + c.Start.String() + ", and the coolant, " + c.Coolant.String(), Remedy: "check the readings and the flow of the coolant"})
		case target <= coolant:
			faults.Add("target", fault.Fault{Code: fault.TooLow, Value: c.Target.String(), Limit: "cannot be reached with a coolant at " + c.Coolant.String(), Remedy: "use colder water"})
		}
	}
	if err := faults.Err(); err != nil {
		return quantity.Figure{}, err
	}
	in := []quantity.Estimate{c.Start.EstimateIn(quantity.Celsius), c.Now.EstimateIn(quantity.Celsius), c.Coolant.EstimateIn(quantity.Celsius), c.Target.EstimateIn(quantity.Celsius), c.Elapsed.EstimateIn(quantity.Minute)}
	out, err := quantity.PropagateFinite(in, func(x []float64) ([]float64, error) {
		if x[0] <= x[1] || x[1] <= x[2] || x[3] <= x[2] {
			return nil, fault.List{{Code: fault.Conflict, Field: "now", Value: c.Now.String(), Limit: "is too close to its neighbours for its doubt", Remedy: "wait and read again"}}
		}
		return []float64{max(0, x[4]*math.Log((x[1]-x[2])/(x[3]-x[2]))/math.Log((x[0]-x[2])/(x[1]-x[2])))}, nil
	})
	if err != nil {
		return quantity.Figure{}, err
	}
	return quantity.FigureOf(out[0], quantity.Minute, quantity.Doubted(c.Start, c.Now, c.Coolant, c.Target, c.Elapsed)), nil
}
