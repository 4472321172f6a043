package must

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Forecast is when a ferment will be ready: the first day from which its
// extract does not change by 0.3 Bx any more in three days (fruit; one day for
// grain and washes). Days count from the yeast. The interval holds about 80 %
// of ferments; measured on simulated ferments by TestForecastCalibration.
type Forecast struct {
	Model             Model   // that fits best
	Weight            float64 // its share of belief among the models, 0 to 1
	Ready, Low, High  float64 // day: median and 10 and 90 %
	Finish            float64 // Bx, median
	FinishLow         float64
	FinishHigh        float64
	Attenuation       float64 // share of the expected fall that is done, 0 to 1
	Linear            float64 // day by the last three readings on a straight line, for comparison; 0 where they do not fall
	Curve             []BandPoint
	Readings, Samples int // hydrometer readings used, with the original; bootstrap samples drawn
}

// A BandPoint is one day of the forecast's chart, Bx.
type BandPoint struct{ Day, Median, Low, High float64 }

// ReadyIn is the time from now to the median, negative once past.
func (f Forecast) ReadyIn(now time.Duration) time.Duration {
	return time.Duration(f.Ready*24*float64(time.Hour)) - now
}

// HalfWidth is the interval as '± days', rounded up to half a day: the larger
// side counts.
func (f Forecast) HalfWidth() float64 {
	return math.Ceil(2*max(f.High-f.Ready, f.Ready-f.Low)-1e-6) / 2
}

const (
	forecastReadings = 4   // fewer say nothing
	forecastDrop     = 0.2 // share of the expected fall
	forecastSamples  = 300
	forecastSigma    = 0.2 // Bx: a hydrometer in strained mash
	forecastFreedom  = 5   // how many readings' worth of belief stands behind it
	earlyAttenuation = 0.6 // before which the interval is at least ±1 day
	// The interval is widened for what no curve of four numbers can follow: a
	// yeast that finishes with a will ends earlier than any of them. Both were set
	// on other simulated ferments than those of the test.
	spreadLow, spreadHigh = 1.3, 1.0
)

// Forecast fits the models to the corrected extracts, with what is
// usual for the style as one more, weak, reading of each number, weighs the
// models by AICc and draws the interval by a parametric bootstrap: readings
// and expectations are shaken by their doubts, a model is drawn by its weight
// and fitted anew. The same source gives the same forecast on every machine
// after rounding to the tenth of a day.
//
// It refuses fewer than four readings with the original, a fall of less than a
// fifth of what is expected, and a ferment that stands still above its finish.
func (f Ferment) Forecast(src rand.Source) (Forecast, error) {
	points, err := f.points()
	if err != nil {
		return Forecast{}, err
	}
	days, extract := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		days[i], extract[i] = p.Day, p.Extract.Value
	}
	n := len(days)
	original := extract[0]
	finish, finishSD := f.Style.Finish(original)
	refuse := func(code fault.Code, value, limit, remedy string) (Forecast, error) {
		return Forecast{}, fault.List{{Code: code, Field: "checks", Value: value, Limit: limit, Remedy: remedy}}
	}
	if n < forecastReadings {
		return refuse(fault.Missing, strconv.Itoa(n), "a forecast needs four hydrometer readings, the original among them", "check again tomorrow")
	}
	if original <= finish+change {
		return refuse(fault.TooLow, f.Original.String(), "is the original extract, and such a mash ends at about "+quantity.Fixed(finish, 1)+" Bx", "check the original extract")
	}
	last := extract[n-1]
	done := (original - last) / (original - finish)
	if done < forecastDrop {
		return refuse(fault.TooLow, quantity.Fixed(last, 1)+" Bx", "has fallen by less than a fifth of what is expected", "wait until the ferment is under way")
	}
	if span(points) >= 1.9 && fall(points).Value*span(points) <= 0.3 && last > finish+max(2, 2*finishSD) {
		return refuse(fault.Conflict, quantity.Fixed(last, 1)+" Bx", "stands still above where such a mash ends", "see why it is stuck; the forecast returns when it falls again")
	}

	var beliefs [modelCount]belief
	var fits [modelCount]curve
	var weights [modelCount]float64
	least := math.Inf(1)
	best := 0
	for i, m := range models() {
		beliefs[i] = believe(m, f.Style, original, 2*forecastSigma)
		fits[i] = curve{m, beliefs[i].mean}
		sum := fits[i].fit(days, extract, forecastSigma, &beliefs[i])
		weights[i] = aicc(sum, n+len(beliefs[i].mean), len(beliefs[i].mean))
		if weights[i] < least {
			least, best = weights[i], i
		}
	}
	total := 0.0
	for i := range weights {
		weights[i] = math.Exp((least - weights[i]) / 2)
		total += weights[i]
	}
	for i := range weights {
		weights[i] /= total
	}

	r := rand.New(src)
	sample := make([]curve, forecastSamples)
	shaken := make([]float64, n)
	squares := 0.0
	for i := range days {
		e := extract[i] - fits[best].at(days[i])
		squares += e * e
	}
	for i := range sample {
		k := draw(weights, r.Float64())
		σ := shakenSigma(squares, n, r)
		// Readings are shaken about themselves and the expectations about
		// theirs: to first order the refitted numbers then scatter as what is
		// known of them does.
		for j := range shaken {
			shaken[j] = extract[j] + σ*r.NormFloat64()
		}
		b := beliefs[k]
		for j := range b.mean {
			b.mean[j] += b.sd[j] * r.NormFloat64()
		}
		sample[i] = fits[k]
		sample[i].fit(days, shaken, σ, &b)
	}

	ready, ends := make([]float64, len(sample)), make([]float64, len(sample))
	for i := range sample {
		ready[i], ends[i] = sample[i].ready(f.Style.quiet), sample[i].θ[1]
	}
	out := Forecast{Model: fits[best].model, Weight: weights[best], Readings: n, Samples: len(sample)}
	out.Low, out.Ready, out.High = quantiles(ready)
	out.FinishLow, out.Finish, out.FinishHigh = quantiles(ends)
	out.Attenuation = (original - last) / (original - out.Finish)
	out.Low = out.Ready - spreadLow*(out.Ready-out.Low)
	out.High = out.Ready + spreadHigh*(out.High-out.Ready)
	if out.Attenuation < earlyAttenuation {
		out.Low, out.High = min(out.Low, out.Ready-1), max(out.High, out.Ready+1)
	}
	out.Low = max(0, out.Low)
	out.Linear = straight(points, out.Finish+change)
	out.Curve = band(sample, max(out.High, days[n-1]))
	return out, nil
}

// aicc is Akaike's criterion corrected for few observations, for residuals of
// known doubt (Burnham and Anderson, Model Selection and Multimodel Inference,
// 2002, 2.4: from memory). The beliefs are observations too.
func aicc(sum float64, n, p int) float64 {
	k := float64(p)
	return sum + 2*k + 2*k*(k+1)/(float64(n)-k-1)
}

// draw picks a model by its weight.
func draw(weights [modelCount]float64, u float64) int {
	for i, w := range weights {
		if u < w {
			return i
		}
		u -= w
	}
	return len(weights) - 1
}

// shakenSigma draws the readings' doubt from what is believed of hydrometers
// and what the residuals of this lot say: a scaled inverse χ² (Gelman et al.,
// Bayesian Data Analysis, 2.6: from memory), its χ² a sum of squared normals.
func shakenSigma(squares float64, n int, r *rand.Rand) float64 {
	freedom := forecastFreedom + max(0, n-3)
	χ2 := 0.0
	for range freedom {
		z := r.NormFloat64()
		χ2 += z * z
	}
	σ := math.Sqrt((forecastFreedom*forecastSigma*forecastSigma + squares) / χ2)
	return min(max(σ, forecastSigma/3), 6*forecastSigma)
}

// quantiles are 10, 50 and 90 % of xs, which it sorts.
func quantiles(xs []float64) (low, median, high float64) {
	slices.Sort(xs)
	at := func(q float64) float64 {
		x := q * float64(len(xs)-1)
		i := min(int(x), len(xs)-2)
		return xs[i] + (x-float64(i))*(xs[i+1]-xs[i])
	}
	return at(0.1), at(0.5), at(0.9)
}

// straight is the day on which a line through the last three readings reaches
// an extract.
func straight(points []Point, to float64) float64 {
	p := points[len(points)-3:]
	var day, e float64
	for _, q := range p {
		day += q.Day / 3
		e += q.Extract.Value / 3
	}
	var sxy, sxx float64
	for _, q := range p {
		sxy += (q.Day - day) * (q.Extract.Value - e)
		sxx += (q.Day - day) * (q.Day - day)
	}
	if sxx == 0 || sxy >= 0 {
		return 0
	}
	return max(0, day+(to-e)*sxx/sxy)
}

// band is the chart: 25 days evenly from the start to the end.
func band(sample []curve, end float64) []BandPoint {
	out := make([]BandPoint, 25)
	at := make([]float64, len(sample))
	for i := range out {
		p := &out[i]
		p.Day = end * float64(i) / float64(len(out)-1)
		for j := range sample {
			at[j] = sample[j].at(p.Day)
		}
		p.Low, p.Median, p.High = quantiles(at)
	}
	return out
}
