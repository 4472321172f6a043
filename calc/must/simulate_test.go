package must

import (
	"math"
	"math/rand/v2"
	"time"

	"gaugebook/calc/quantity"
)

// A simulated ferment shares no formula with the forecast: yeast grows on
// nitrogen (Monod), takes up sugar (Monod) ever slower as alcohol rises, loses
// viability, and does all that faster when warm (Q10 of 2). After the models of
// Coleman, Fish and Block (Appl. Environ. Microbiol. 73, 5875, 2007) and Boulton
// (1980); constants within their published spans, from memory.
type simulated struct {
	hours   []float64
	extract []float64 // apparent, Bx, true
	finish  float64
	ready   float64 // day within nearEnd of the finish
	style   Style
}

// world is a population of ferments.
type world struct {
	style                 Style
	tempLow, tempHigh     float64
	oeLow, oeHigh         float64
	finishLow, finishOE   float64
	finishHigh            float64
	yanLow, yanHigh       float64
	pitchLow, pitchHigh   float64 // g/L of yeast
	uptakeLow, uptakeHigh float64 // g of sugar per g of yeast and hour at 20 °C
	pmLow, pmHigh         float64 // g/L of ethanol at which the yeast stops
	noise                 float64 // Bx
	every, jitter, skips  float64 // hours, hours, share
}

func fruitWorld() world {
	return world{FruitMash(), 13, 22, 9, 18, 0, 0, 3.8, 70, 200, 0.02, 0.25, 0.25, 0.55, 95, 130, 0.2, 24, 4, 0.15}
}

func grainWorld() world {
	return world{GrainMash(), 24, 32, 13, 19, -1, 0, 1, 150, 280, 0.3, 1, 0.5, 0.9, 120, 150, 0.2, 10, 2, 0.1}
}

func molassesWorld() world {
	return world{MolassesWash(), 26, 33, 15, 21, -1.4, 0.25, 1.4, 150, 280, 0.3, 1, 0.5, 0.9, 110, 140, 0.25, 10, 2, 0.1}
}

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func (w world) ferment(r *rand.Rand) simulated {
	temp := between(r, w.tempLow, w.tempHigh)
	oe := between(r, w.oeLow, w.oeHigh)
	s := simulated{style: w.style, finish: w.finishOE*oe + between(r, w.finishLow, w.finishHigh)}
	warm := math.Pow(2, (temp-20)/10)
	var (
		sugar0 = 9.5 * (oe - s.finish)    // g/L
		grow   = between(r, 0.12, 0.25)   // 1/h at 20 °C
		kn     = between(r, 5, 20)        // mg/L
		perN   = between(r, 0.012, 0.022) // g of yeast per mg of N
		uptake = between(r, 0.25, 0.55)   // g of sugar per g of yeast and hour at 20 °C
		ks     = between(r, 2, 12)        // g/L
		pm     = between(r, 95, 130)      // g/L of ethanol
		power  = between(r, 0.6, 1.6)     //
		death  = between(r, 0.0, 0.00004) // 1/h per g/L of ethanol
		lag    = between(r, 4, 24) / warm // h
		n      = between(r, w.yanLow, w.yanHigh)
		x      = between(r, w.pitchLow, w.pitchHigh)
		drift  = between(r, -0.15, 0.35) // K per day of the cellar
	)
	sugar := sugar0
	const step = 0.25
	s.ready = math.NaN()
	for h := 0.0; h < 24*90; h += step {
		e := s.finish + (oe-s.finish)*sugar/sugar0
		if len(s.hours) == 0 || h >= s.hours[len(s.hours)-1]+1 {
			s.hours, s.extract = append(s.hours, h), append(s.extract, e)
		}
		if h < lag {
			continue
		}
		q := warm * math.Pow(2, drift*min(h/24, 10)/10)
		ethanol := 0.47 * (sugar0 - sugar)
		inhibited := math.Pow(max(0, 1-ethanol/pm), power)
		growth := grow * q * n / (kn + n) * inhibited * x
		n = max(0, n-step*growth/perN)
		x += step * (growth - death*q*ethanol*x)
		sugar = max(0, sugar-step*uptake*q*sugar/(ks+sugar)*inhibited*x)
	}
	for i := 24; i+int(24*w.style.quiet) < len(s.extract); i++ {
		if s.extract[i] < oe-1 && s.extract[i]-s.extract[i+int(24*w.style.quiet)] <= change {
			s.ready = s.hours[i] / 24
			break
		}
	}
	return s
}

func (s simulated) at(hour float64) float64 {
	i := min(int(hour), len(s.extract)-1)
	return s.extract[i]
}

// log reads the ferment as a person does: not quite every day, not quite at the
// same hour, a hydrometer read to the tenth.
func (s simulated) log(w world, r *rand.Rand) Ferment {
	reading := func(hour float64) quantity.Reading {
		return quantity.FromDecimal(quantity.Snap(s.at(hour)+w.noise*r.NormFloat64()).Round(1), quantity.Brix)
	}
	f := Ferment{Style: s.style, Original: reading(0)}
	for h := w.every; h/24 < s.ready+4; h += w.every {
		if r.Float64() < w.skips {
			continue
		}
		at := h + between(r, -w.jitter, w.jitter)
		f.Checks = append(f.Checks, Check{At: time.Duration(at * float64(time.Hour)),
			Sample: Sample{Reading: reading(at), Temp: celsius("20")}})
	}
	return f
}

// until is the log as it stood after n checks.
func (f Ferment) until(n int) Ferment {
	f.Checks = f.Checks[:n]
	f.Now = f.Checks[n-1].At
	return f
}
