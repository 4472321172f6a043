package still

import (
	"math"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// Megajoule is an energy; 3.6 make a kilowatt-hour.
type Megajoule float64

// KilowattHours is the energy in kWh.
func (e Megajoule) KilowattHours() float64 { return float64(e) / 3.6 }

// mashHeat is the specific heat of a mash or low wines, kJ/(kg K): 3.8 to 4.0
// for mashes (common practice, no source).
const mashHeat = 4.0

// A Heating asks how long a charge takes to boil.
type Heating struct {
	Mass     quantity.Reading // of the charge
	From, To quantity.Reading // temperatures; To none for the boiling point of Strength
	Strength quantity.Reading // of the charge, where To is not given
	Pressure Pressure         // for that boiling point
	Power    Kilowatt         // of the heating, 0 where not known
	Losses   float64          // part of the power that misses the charge; 0.15 to 0.3 is usual (common practice, no source)
}

// A Heated answers a Heating.
type Heated struct {
	Energy  Megajoule       // taken up by the charge
	Supply  Megajoule       // that the heating gives for it
	Minutes float64         // 0 where the power is not known
	To      quantity.Figure // °C
	quantity.Explained
}

// HeatUp is mass times 4.0 kJ/(kg K) times the rise, and the time at the power
// left after losses. 500 kg from 20 to 94 °C take 148 MJ, 41.1 kWh.
func HeatUp(h Heating) (Heated, error) {
	var faults fault.List
	faults.Add("mass", checkDimension(h.Mass, quantity.Mass, "give it in kg or lb"))
	if h.Mass.Unit().Dimension() == quantity.Mass && h.Mass.Float() <= 0 {
		faults = append(faults, fault.Fault{Code: fault.TooLow, Field: "mass", Value: h.Mass.String(), Limit: "is not above 0", Remedy: "give the weight of the charge"})
	}
	faults.Add("from", checkDimension(h.From, quantity.Temperature, "give it in °C or °F"))
	if !(h.Losses >= 0 && h.Losses < 0.95) {
		faults.Add("losses", outside(h.Losses, 0.95, "0 to 0.95 of the power", "0.15 to 0.3 is usual"))
	}
	if !(h.Power >= 0) {
		faults = append(faults, fault.Fault{Code: fault.TooLow, Field: "power", Value: quantity.Fixed(float64(h.Power), 1) + " kW", Limit: "is below 0", Remedy: "give the power of the heating, or leave it out"})
	}
	var to quantity.Figure
	if h.To.IsNone() {
		s, err := spirit.StrengthOf(h.Strength)
		faults.Add("strength", err)
		eq, err := NewEquilibrium(NRTL, h.Pressure)
		faults.Add("pressure", err)
		if len(faults) == 0 {
			to = quantity.Figure{Value: float64(eq.Boiling(s)), Unit: quantity.Celsius}
		}
	} else {
		faults.Add("to", checkDimension(h.To, quantity.Temperature, "give it in °C or °F"))
		if len(faults) == 0 {
			to = quantity.Figure{Value: h.To.In(quantity.Celsius), Unit: quantity.Celsius}
		}
	}
	if err := faults.Err(); err != nil {
		return Heated{}, err
	}
	kg, rise := h.Mass.In(quantity.Kilogram), to.Value-h.From.In(quantity.Celsius)
	if rise < 0 {
		return Heated{}, fault.List{{Code: fault.Conflict, Field: "from", Value: h.From.String(), Limit: "is above the temperature to reach, " + to.Text(1), Remedy: "check both temperatures"}}
	}
	out := Heated{To: to, Energy: Megajoule(kg * mashHeat * rise / 1000)}
	out.Supply = out.Energy / Megajoule(1-h.Losses)
	if h.Power > 0 {
		out.Minutes = float64(out.Supply) * 1000 / float64(h.Power) / 60
	}
	out.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add(quantity.Fixed(kg, 1)+" kg × 4.0 kJ/(kg K) × "+quantity.Fixed(rise, 1)+" K", quantity.Fixed(float64(out.Energy), 1)+" MJ")
		w.Add("with "+quantity.Fixed(100*h.Losses, 0)+" % lost on the way", quantity.Fixed(float64(out.Supply), 1)+" MJ, "+quantity.Fixed(out.Supply.KilowattHours(), 1)+" kWh")
		if h.Power > 0 {
			w.Add("at "+quantity.Fixed(float64(h.Power), 1)+" kW", quantity.Fixed(out.Minutes, 0)+" min")
		}
	})
	return out, nil
}

// Evaporation is the heat that turns a liquid into vapour, by its parts of
// ethanol (846 kJ/kg) and water (2257 kJ/kg): 150 kg of 30 % by mass take 275 MJ.
func Evaporation(l Liquid) Megajoule {
	return Megajoule((l.Ethanol*ethanolLatent + l.Water*waterLatent) / 1000)
}

// CoolingWater is how many litres of it take a distillate from vapour to 20 °C
// when the water warms by so many °C (not by less than 1): condensing heat, and
// about 3.6 kJ/(kg K) from 80 °C on. At 40 °C of rise, 6 to 12 L for each litre
// from strong spirit to weak.
func CoolingWater(l Liquid, rise spirit.Celsius) float64 {
	kJ := float64(Evaporation(l))*1000 + l.Mass()*3.6*60
	return kJ / 4.186 / math.Max(float64(rise), 1)
}
