package must

import "math"

// A Model is a curve of the extract left, from the original at day 0 down to
// the finish. Each has four numbers: original, finish, a rate and a delay.
type Model string

// The models. Each is scaled so that nothing is gone at day 0.
const (
	// Logistic is symmetric: the growth and the end mirror each other.
	Logistic Model = "logistic"
	// Gompertz falls late and tails long, as most fruit does (modified Gompertz
	// of Zwietering et al., Appl. Environ. Microbiol. 56, 1875, 1990: from memory).
	Gompertz Model = "Gompertz"
	// FirstOrder is a delay and then a fall in proportion to what is left.
	FirstOrder Model = "first order with lag"
	// HalfOrder is a delay and then a fall in proportion to the square root of
	// what is left: the daily fall shrinks by the same step each day, as that of
	// a full crew of yeast that alcohol slows, and ends on a day.
	HalfOrder Model = "half order with lag"
	// ThreeQuarterOrder lies between the two.
	ThreeQuarterOrder Model = "three-quarter order with lag"
)

const modelCount = 5

func models() [modelCount]Model {
	return [modelCount]Model{Logistic, Gompertz, FirstOrder, HalfOrder, ThreeQuarterOrder}
}

// A curve is a model with its numbers, days and Bx.
type curve struct {
	model Model
	θ     [4]float64 // original, finish, ln of the rate per day, delay in days
}

// onset is how softly a delay ends, days; a kink would stall the fit.
const onset = 0.1

func softened(t float64) float64 {
	if t > 30*onset {
		return t
	}
	return onset * math.Log1p(math.Exp(t/onset))
}

// at is the extract on a day.
func (c *curve) at(day float64) float64 {
	return c.θ[1] + (c.θ[0]-c.θ[1])*c.left(day)
}

// left is the share of the fall still to come, 1 at day 0.
func (c *curve) left(day float64) float64 {
	rate, delay := math.Exp(c.θ[2]), c.θ[3]
	switch c.model {
	case Logistic:
		return (1 + math.Exp(-rate*delay)) / (1 + math.Exp(rate*(day-delay)))
	case Gompertz:
		k := rate * math.E
		return -math.Expm1(-math.Exp(k*(delay-day)+1)) / -math.Expm1(-math.Exp(k*delay+1))
	case FirstOrder:
		return math.Exp(-rate * (softened(day-delay) - softened(-delay)))
	default:
		// A power of a line down to 0, softened there as at the onset.
		line := func(t float64) float64 { return softened(1/rate-t) * rate }
		x := line(softened(day-delay)) / line(softened(-delay))
		x *= x
		if c.model == ThreeQuarterOrder {
			x *= x
		}
		return x
	}
}

// falls is by how much the extract falls in so many days from a day on.
func (c *curve) falls(day, days float64) float64 {
	return (c.θ[0] - c.θ[1]) * (c.left(day) - c.left(day+days))
}

// change is the least fall that a hydrometer shows, Bx.
const change = 0.3

// ready is the first day after the fastest fall from which the extract does not
// change any more in so many days, as a person finds out who waits for it.
func (c *curve) ready(quiet float64) float64 {
	low := c.fastest(quiet)
	if c.falls(low, quiet) <= change {
		return low
	}
	high := low + 1
	for c.falls(high, quiet) > change && high < 400 {
		low, high = high, high+2*(high-low)
	}
	for range 30 {
		if mid := (low + high) / 2; c.falls(mid, quiet) > change {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// fastest is the day from which so many days bring the largest fall.
func (c *curve) fastest(days float64) float64 {
	t := c.θ[3]
	switch c.model {
	case Logistic:
		t -= days / 2
	case Gompertz:
		t += math.Exp(-c.θ[2])/math.E - days/2
	}
	return max(0, t)
}

// A belief is what is expected of a curve's numbers before a reading: means
// and standard deviations.
type belief struct{ mean, sd [4]float64 }

// believe spells out a style for a model: the rate and the delay follow from how
// long such mashes take, the rate within a factor of two (common practice, no
// source).
func believe(m Model, s Style, original, originalSD float64) belief {
	finish, finishSD := s.Finish(original)
	b := belief{mean: [4]float64{original, finish}, sd: [4]float64{originalSD, finishSD, 0.7, 0}}
	b.mean[3], b.sd[3] = 0.08*s.Days, 0.10*s.Days
	switch m {
	case Logistic: // 0.7 a day at 18 to 20 °C for fruit; the delay is to the middle
		b.mean[2], b.mean[3], b.sd[3] = math.Log(9.5/s.Days), 0.30*s.Days, 0.20*s.Days
	case Gompertz:
		b.mean[2] = math.Log(2.4 / s.Days)
	case FirstOrder:
		b.mean[2] = math.Log(4 / s.Days)
	case ThreeQuarterOrder:
		b.mean[2] = math.Log(0.8 / s.Days)
	default:
		b.mean[2] = math.Log(1.2 / s.Days)
	}
	return b
}

// sum is the sum of squares that fit makes small: residuals over the reading's
// doubt and numbers off their belief over its width.
func (c *curve) sum(days, extract []float64, σ float64, b *belief) float64 {
	s := 0.0
	for i, d := range days {
		r := (extract[i] - c.at(d)) / σ
		s += r * r
	}
	for j := range c.θ {
		r := (c.θ[j] - b.mean[j]) / b.sd[j]
		s += r * r
	}
	return s
}

// fit finds the numbers by Levenberg and Marquardt's method from where c stands
// and gives the sum of squares.
func (c *curve) fit(days, extract []float64, σ float64, b *belief) float64 {
	const p = len(c.θ)
	λ := 1e-2
	sum := c.sum(days, extract, σ, b)
	for range 60 {
		var a [p][p + 1]float64 // normal equations
		for i, d := range days {
			at := c.at(d)
			var slope [p]float64
			left := (at - c.θ[1]) / nonzero(c.θ[0]-c.θ[1])
			slope[0], slope[1] = left, 1-left
			for j := 2; j < p; j++ {
				const h = 1e-5
				moved := *c
				moved.θ[j] += h
				slope[j] = (moved.at(d) - at) / h
			}
			for j := range p {
				for k := range p {
					a[j][k] += slope[j] * slope[k] / (σ * σ)
				}
				a[j][p] += slope[j] * (extract[i] - at) / (σ * σ)
			}
		}
		for j := range p {
			w := 1 / (b.sd[j] * b.sd[j])
			a[j][j] += w
			a[j][p] += w * (b.mean[j] - c.θ[j])
		}
		improved := false
		for range 12 {
			damped := a
			for j := range p {
				damped[j][j] *= 1 + λ
			}
			step := solve(damped)
			next := *c
			for j := range p {
				next.θ[j] += step[j]
			}
			if s := next.sum(days, extract, σ, b); s < sum {
				improved = sum-s > 1e-9*(1+s)
				*c, sum = next, s
				λ = max(λ/5, 1e-9)
				break
			}
			λ *= 5
		}
		if !improved {
			break
		}
	}
	return sum
}

func nonzero(x float64) float64 {
	if math.Abs(x) < 1e-9 {
		return 1e-9
	}
	return x
}

// solve eliminates a symmetric positive system; the beliefs keep it regular.
func solve(a [4][5]float64) (x [4]float64) {
	for i := range a {
		for r := i + 1; r < len(a); r++ {
			m := a[r][i] / a[i][i]
			for k := i; k < len(a[r]); k++ {
				a[r][k] -= m * a[i][k]
			}
		}
	}
	for i := len(a) - 1; i >= 0; i-- {
		x[i] = a[i][len(a)]
		for k := i + 1; k < len(a); k++ {
			x[i] -= a[i][k] * x[k]
		}
		x[i] /= a[i][i]
	}
	return x
}
