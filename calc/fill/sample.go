package fill

import (
	"math"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Limit is how far one bottle may be from its stated quantity.
type Limit struct {
	From         float64 // mL stated, from this size on
	Percent      float64 // to both sides
	Source, Read string
}

// A Plan is a row of Handbook 133's sampling plan.
type Plan struct {
	MaxLot       int64   // lots up to this; 0 for any larger
	Sample       int64   // packages to take
	Factor       float64 // sample correction factor
	Source, Read string
}

// A Variation is a row of Handbook 133's maximum allowable variations.
type Variation struct {
	From, Allowed float64 // mL stated from which on it holds, mL that a package may be short
	Source, Read  string
}

// Rules are what a sample is held to: dated data, not code.
type Rules struct {
	As         string // month in which the rows were typed
	Limits     []Limit
	Plan       []Plan
	Variations []Variation
}

// Published is what was at hand: the limits of 27 CFR 19.356 bind; the sampling
// plan of NIST Handbook 133, category A, from memory; its table of maximum
// allowable variations is empty until somebody types it from the handbook.
func Published() Rules {
	const cfr, hb, memory = "27 CFR 19.356", "NIST Handbook 133, table 2-1, category A", "from memory; agrees with t(0.975, n − 1)/√n to 0.001"
	r := Rules{As: "2026-11", Limits: []Limit{
		{0, 4.5, cfr, "copy of October 2022"}, {101, 3.0, cfr, "copy of October 2022"},
		{376, 2.0, cfr, "copy of October 2022"}, {1000, 1.5, cfr, "copy of October 2022"},
	}}
	for n, f := range []float64{0, 8.985, 2.484, 1.591, 1.241, 1.050, 0.925, 0.836, 0.769, 0.715, 0.672} {
		r.Plan = append(r.Plan, Plan{int64(n + 1), int64(n + 1), f, hb, memory})
	}
	r.Plan = append(r.Plan, Plan{250, 12, 0.635, hb, memory}, Plan{3200, 24, 0.422, hb, memory}, Plan{0, 48, 0.291, hb, memory})
	return r
}

// limit is the row of a size; sizes are whole millilitres.
func (r Rules) limit(ml float64) Limit {
	out := r.Limits[0]
	for _, l := range r.Limits {
		if math.Ceil(ml-1e-9) >= l.From {
			out = l
		}
	}
	return out
}

// plan is the row of a lot.
func (r Rules) plan(lot int64) Plan {
	for _, p := range r.Plan {
		if lot <= p.MaxLot || p.MaxLot == 0 {
			return p
		}
	}
	return r.Plan[len(r.Plan)-1]
}

// factor is the sample correction factor of so many packages, the printed one
// where there is one and else t(0.975, n − 1)/√n.
func (r Rules) factor(n int) float64 {
	for _, p := range r.Plan {
		if p.Sample == int64(n) && p.Factor > 0 {
			return p.Factor
		}
	}
	return student975(n-1) / math.Sqrt(float64(n))
}

// student975 is Student's t at 0.975, by bisection of its distribution.
func student975(df int) float64 {
	low, high := 0.0, 1000.0
	for range 80 {
		if mid := (low + high) / 2; studentUpper(mid, float64(df)) > 0.025 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// studentUpper is P(T > t), half the incomplete beta function at ν/(ν + t²), by
// its continued fraction (Abramowitz and Stegun, 26.5.8 and 26.7.1).
func studentUpper(t, ν float64) float64 {
	a, b, x := ν/2, 0.5, ν/(ν+t*t)
	if x >= 1 {
		return 0.5
	}
	lga, _ := math.Lgamma(a)
	lgb, _ := math.Lgamma(b)
	lgab, _ := math.Lgamma(a + b)
	front := math.Exp(lgab - lga - lgb + a*math.Log(x) + b*math.Log1p(-x))
	if x > (a+1)/(a+b+2) { // the fraction converges on the other side
		return 0.5 * (1 - front/b*betaFraction(b, a, 1-x))
	}
	return 0.5 * front / a * betaFraction(a, b, x)
}

func betaFraction(a, b, x float64) float64 {
	const tiny = 1e-300
	c, d := 1.0, 1-(a+b)*x/(a+1)
	if math.Abs(d) < tiny {
		d = tiny
	}
	d = 1 / d
	h := d
	for m := 1.0; m < 300; m++ {
		for _, k := range [2]float64{m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m)), -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))} {
			if d = 1 + k*d; math.Abs(d) < tiny {
				d = tiny
			}
			if c = 1 + k/c; math.Abs(c) < tiny {
				c = tiny
			}
			d = 1 / d
			h *= d * c
		}
		if math.Abs(d*c-1) < 1e-14 {
			break
		}
	}
	return h
}

// A Sample is bottles of one lot, net contents at the base temperature.
type Sample struct {
	Size    quantity.Reading   // stated on the label
	Bottles []quantity.Reading // net contents of each
	Lot     int64              // bottles in the lot, 0 where it is not known
	Rules   Rules              // zero for Published
}

// A Judged answers a Sample.
type Judged struct {
	Mean      quantity.Figure // mL; U is the standard error of the mean
	Spread    quantity.Figure // mL, standard deviation of the bottles
	Error     quantity.Figure // % of the size, of the mean
	Over      int             // bottles above the size
	Under     int             // bottles below
	Low, High quantity.Figure // mL that one bottle may hold (27 CFR 19.356)
	Beyond    []int           // numbers of the bottles outside, from 0
	Balance   float64         // chance of so uneven a count of over and under where both are as likely
	Balanced  bool            // Balance at least 1 in 20
	MeanLimit quantity.Figure // mL that the mean may be short (Handbook 133): factor × spread
	MeanHolds bool
	Wanted    int64  // bottles to take by the sampling plan, 0 where the lot is not known
	Variation string // what the maximum allowable variation says
	Passes    bool   // none outside, the mean holds, balanced
	Verdict   string
	quantity.Explained
}

// Judge holds a sample to the law and the handbook. 27 CFR 19.356: no bottle
// outside its limit, and about as many over as under. Handbook 133: the mean
// may not be short by more than its sample correction factor times the spread.
// The handbook's maximum allowable variation is not judged while its table is
// empty, and the answer says so.
func Judge(s Sample) (Judged, error) {
	var faults fault.List
	faults.Add("size", between(s.Size, "the stated size", millilitres("1"), millilitres("60000")))
	if len(s.Bottles) < 2 {
		faults.Add("bottles", fault.Fault{Code: fault.Missing, Limit: "a sample needs at least two bottles", Remedy: "weigh three to six off the line, or as many as the sampling plan asks for"})
	}
	for i, b := range s.Bottles {
		if err := between(b, "a volume", millilitres("0.1"), millilitres("60000")); err != nil {
			faults.Add("bottle "+strconv.Itoa(i+1), err)
		}
	}
	if s.Lot < 0 || s.Lot > 0 && s.Lot < int64(len(s.Bottles)) {
		faults.Add("lot", fault.Fault{Code: fault.TooLow, Value: strconv.FormatInt(s.Lot, 10), Limit: "is fewer than the bottles in the sample", Remedy: "give the bottles in the lot"})
	}
	if err := faults.Err(); err != nil {
		return Judged{}, err
	}
	rules := s.Rules
	if rules.Limits == nil {
		rules = Published()
	}
	size := s.Size.In(quantity.Millilitre)
	limit := rules.limit(size)
	n := len(s.Bottles)
	var j Judged
	ml := func(x float64) quantity.Figure { return quantity.Figure{Value: x, Unit: quantity.Millilitre} }
	j.Low, j.High = ml(size*(1-limit.Percent/100)), ml(size*(1+limit.Percent/100))
	mean, own := 0.0, 0.0
	x := make([]float64, n)
	for i, b := range s.Bottles {
		e := b.EstimateIn(quantity.Millilitre)
		x[i] = e.Value
		mean += x[i] / float64(n)
		own += e.U * e.U
		// A figure at the limit, ends included, is in it whatever binary says.
		if x[i] < j.Low.Value-1e-9*size || x[i] > j.High.Value+1e-9*size {
			j.Beyond = append(j.Beyond, i)
		}
		switch {
		case x[i] > size+1e-9*size:
			j.Over++
		case x[i] < size-1e-9*size:
			j.Under++
		}
	}
	squares := 0.0
	for _, v := range x {
		squares += (v - mean) * (v - mean)
	}
	spread := math.Sqrt(squares / float64(n-1))
	j.Mean = quantity.Figure{Value: mean, Unit: quantity.Millilitre, U: math.Sqrt(spread*spread/float64(n) + own/float64(n*n)), HasU: true}
	j.Spread = ml(spread)
	j.Error = quantity.Figure{Value: 100 * (mean/size - 1), Unit: quantity.Percent, U: 100 * j.Mean.U / size, HasU: true}
	factor := rules.factor(n)
	j.MeanLimit = ml(factor * spread)
	j.MeanHolds = mean >= size-j.MeanLimit.Value-1e-9*size
	j.Balance = sign(j.Over, j.Under)
	j.Balanced = j.Balance >= 0.05
	if s.Lot > 0 {
		j.Wanted = rules.plan(s.Lot).Sample
	}
	j.Variation = rules.vary(size, x)
	j.Passes = len(j.Beyond) == 0 && j.MeanHolds && j.Balanced
	switch {
	case len(j.Beyond) > 0:
		j.Verdict = "stop and re-set: " + strconv.Itoa(len(j.Beyond)) + " of " + strconv.Itoa(n) + " outside ±" + quantity.Fixed(limit.Percent, 1) + " % (" + limit.Source + "); set aside what was filled since the last good check"
	case !j.MeanHolds:
		j.Verdict = "re-set: the mean is short by more than its own doubt (Handbook 133)"
	case !j.Balanced && j.Under > j.Over:
		j.Verdict = "re-set: more under than over than chance allows; the law wants about as many over as under"
	case !j.Balanced:
		j.Verdict = "re-set: more over than under than chance allows; spirit is given away, and the law wants about as many over as under"
	case j.Wanted > int64(n):
		j.Verdict = "holds, so far: the sampling plan asks for " + strconv.FormatInt(j.Wanted, 10) + " of this lot"
	default:
		j.Verdict = "holds"
	}
	j.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("limit of one bottle of "+s.Size.String()+", ±"+quantity.Fixed(limit.Percent, 1)+" % ("+limit.Source+", "+limit.Read+")", quantity.Fixed(j.Low.Value, 1)+" to "+j.High.Text(1))
		w.Add("mean of "+strconv.Itoa(n), j.Mean.Text(2))
		w.Add("spread, the standard deviation", j.Spread.Text(2))
		w.Add("over and under", strconv.Itoa(j.Over)+" and "+strconv.Itoa(j.Under))
		w.Add("chance of so uneven a count", quantity.Fixed(j.Balance, 3))
		w.Add("the mean may be short by "+quantity.Fixed(factor, 3)+" × spread (NIST Handbook 133)", j.MeanLimit.Text(2))
		w.Add("maximum allowable variation: "+j.Variation, "")
		w.Add("judgement: "+j.Verdict, "")
	})
	return j, nil
}

// vary says what the table of maximum allowable variations makes of a sample.
func (r Rules) vary(size float64, bottles []float64) string {
	if len(r.Variations) == 0 {
		return "not judged: the table of Handbook 133 has not been typed in; 27 CFR 19.356 binds meanwhile"
	}
	row := r.Variations[0]
	for _, v := range r.Variations {
		if size >= v.From {
			row = v
		}
	}
	short := 0
	for _, x := range bottles {
		if size-x > row.Allowed {
			short++
		}
	}
	if short == 0 {
		return "none is short by more than " + quantity.Fixed(row.Allowed, 1) + " mL (" + row.Source + ")"
	}
	return strconv.Itoa(short) + " short by more than " + quantity.Fixed(row.Allowed, 1) + " mL (" + row.Source + "): the lot fails"
}

// sign is the two-sided sign test: the chance that so many more fall to one
// side where both are as likely.
func sign(over, under int) float64 {
	n, most := over+under, max(over, under)
	if n == 0 {
		return 1
	}
	p, c := 0.0, math.Pow(0.5, float64(n))
	for k := 0; k <= n; k++ {
		if k >= most {
			p += c
		}
		c *= float64(n-k) / float64(k+1)
	}
	return math.Min(1, 2*p)
}

// A Chart is the control chart of a run.
type Chart struct {
	Size             quantity.Figure // mL, the middle
	Low, High        quantity.Figure // the law's, for one bottle
	WarnLow, WarnTop quantity.Figure // half the law's band (common practice, no source)
}

// ChartOf is the chart of a size.
func ChartOf(size quantity.Reading, r Rules) (Chart, error) {
	var faults fault.List
	faults.Add("size", between(size, "the stated size", millilitres("1"), millilitres("60000")))
	if err := faults.Err(); err != nil {
		return Chart{}, err
	}
	if r.Limits == nil {
		r = Published()
	}
	ml := size.In(quantity.Millilitre)
	band := r.limit(ml).Percent / 100
	at := func(f float64) quantity.Figure { return quantity.Figure{Value: ml * f, Unit: quantity.Millilitre} }
	return Chart{at(1), at(1 - band), at(1 + band), at(1 - band/2), at(1 + band/2)}, nil
}

// An Action is what the filler is told.
type Action string

// The actions.
const (
	GoOn     Action = "go on"
	SetAgain Action = "set again"
	Stop     Action = "stop and re-set"
)

// A Watched is one check on the chart.
type Watched struct {
	Mean, Spread quantity.Figure // mL
	Lower, Upper quantity.Figure // limits of the mean by the checks before, NoUnit before the fourth
	Action       Action
	Why          string
}

// Watch goes through the checks of a run in their order, each the net contents
// in mL of a few bottles of one filling head. Stop: a bottle outside the law's
// limit, or two in one check below the warning line (common practice, no
// source). Set again: the mean past a warning line, past the limits that the
// checks before it give (Shewhart's mean ± 3 standard errors, with the constant
// A3 = 3/(c4 √n)), or eight means in a row on one side of the size.
func (c Chart) Watch(checks [][]float64) []Watched {
	out := make([]Watched, len(checks))
	means := make([]float64, len(checks))
	side, row := 0, 0
	var sumMean, sumSpread float64
	steady := 0
	for i, x := range checks {
		w := &out[i]
		n := float64(len(x))
		m, beyond, low := 0.0, 0, 0
		for _, v := range x {
			m += v / n
			if v < c.Low.Value-1e-9 || v > c.High.Value+1e-9 {
				beyond++
			}
			if v < c.WarnLow.Value-1e-9 {
				low++
			}
		}
		s := 0.0
		for _, v := range x {
			s += (v - m) * (v - m)
		}
		if n > 1 {
			s = math.Sqrt(s / (n - 1))
		}
		means[i] = m
		w.Mean, w.Spread = quantity.Figure{Value: m, Unit: quantity.Millilitre}, quantity.Figure{Value: s, Unit: quantity.Millilitre}
		now := 0
		switch {
		case m > c.Size.Value+1e-9:
			now = 1
		case m < c.Size.Value-1e-9:
			now = -1
		}
		if now == side && now != 0 {
			row++
		} else {
			side, row = now, 1
		}
		w.Action = GoOn
		var drifts bool
		if steady >= 3 && n > 1 {
			centre, half := sumMean/float64(steady), a3(int(n))*sumSpread/float64(steady)
			w.Lower, w.Upper = quantity.Figure{Value: centre - half, Unit: quantity.Millilitre}, quantity.Figure{Value: centre + half, Unit: quantity.Millilitre}
			drifts = m < w.Lower.Value || m > w.Upper.Value
		}
		switch {
		case beyond > 0:
			w.Action, w.Why = Stop, "a bottle is outside the law's limit: set aside what was filled since the last good check"
		case low >= 2:
			w.Action, w.Why = Stop, strconv.Itoa(low)+" of "+strconv.Itoa(len(x))+" are below the warning line"
		case m < c.WarnLow.Value || m > c.WarnTop.Value:
			w.Action, w.Why = SetAgain, "the mean is past the warning line"
		case drifts:
			w.Action, w.Why = SetAgain, "the mean has moved from that of the checks before it by more than chance"
		case row >= 8:
			w.Action, w.Why = SetAgain, "eight means in a row on one side: about as many over as under are wanted"
		}
		if w.Action == GoOn {
			sumMean, sumSpread, steady = sumMean+m, sumSpread+s, steady+1
		} else { // what was set again begins anew
			sumMean, sumSpread, steady, row, side = 0, 0, 0, 0, 0
		}
	}
	return out
}

// a3 is 3/(c4 √n), c4 = √(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2).
func a3(n int) float64 {
	a, _ := math.Lgamma(float64(n) / 2)
	b, _ := math.Lgamma(float64(n-1) / 2)
	return 3 / (math.Sqrt(2/float64(n-1)) * math.Exp(a-b) * math.Sqrt(float64(n)))
}

// Tolerance is how far the strength may be from the label, % vol, both ends
// included (27 CFR 19.356; 5.65 since 2020).
var Tolerance = quantity.MustParse("0.3", quantity.ABV20)

// A Strength is a found strength against the label's.
type Strength struct {
	Off     quantity.Figure // % vol at the base temperature, to the tenth as strengths are declared
	Within  bool
	Verdict string
}

// Strong compares a strength with the label's, both in % vol at the base
// temperature, to the tenth: 40 on the label accepts 39.7 to 40.3.
func Strong(label, found quantity.Reading, b Base) (Strength, error) {
	var faults fault.List
	l, err := strengthOf(label)
	faults.Add("label", err)
	f, err := strengthOf(found)
	faults.Add("found", err)
	if err := faults.Err(); err != nil {
		return Strength{}, err
	}
	off := quantity.ABVToTenth(quantity.Snap(f.ABV20() - l.ABV20()))
	if b == At60F {
		off = quantity.ABVToTenth(quantity.Snap(f.ABV60F() - l.ABV60F()))
	}
	s := Strength{Off: quantity.Figure{Value: off.InexactFloat64(), Unit: quantity.ABV20}, Within: !off.Abs().GreaterThan(Tolerance.Decimal())}
	s.Verdict = "within ±0.3 % vol of the label (27 CFR 19.356)"
	if !s.Within {
		s.Verdict = "off the label by " + off.String() + " % vol, and ±0.3 is allowed (27 CFR 19.356): stop, and bring the tank to strength"
	}
	return s, nil
}
