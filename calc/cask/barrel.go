package cask

import (
	"math"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// The two-component model. Water and ethanol leave a barrel each for itself,
// through a wetted wall that stays about as large as it was:
//
//	dW/dt = −k_w (a_w − h)     dE/dt = −k_e a_e
//
// in kg a year, where a_w and a_e are the activities of water and ethanol in
// the spirit and h the relative humidity of the store; the room's air holds no
// ethanol. So in humid air (h near a_w) water stays, ethanol goes and the
// strength falls; in dry air it rises. Both k are the barrel's own: wood, size,
// warmth and moving air are in them.
//
// Limits: constant humidity and warmth over the years that count (the seasons
// average out in a year and not in a month); no leak, no top-up, no sample
// between two regauges but what is entered as a Change; a wall as wet as it was,
// though the level sinks; above 20 and below 80 % vol. The activities are van Laar's with handbook constants, from memory.
// Break-even humidity is usually quoted as 60 to 70 % for 63 % vol at 15 to
// 22 °C (maturation chapters, from memory): it is what the model expects before
// the first regauge.
type Barrel struct {
	Capacity quantity.Reading // none: taken as the filling
	New      bool             // new wood, which soaks up 2 to 5 % of its capacity in the first year
	Humidity quantity.Reading // % relative humidity of the store; none for 65
	Yearly   quantity.Reading // yearly loss that the house expects, %; none for the typical one of the size
	Gauges   []Gauging        // the filling first
	Weighed  bool             // the volumes of Gauges were worked out from weights, with what the wood soaked up
	Changes  []Change         // in the order of their times, all after the filling
}

// A Gauging is a filling or a regauge.
type Gauging struct {
	On       time.Time
	Amount   quantity.Reading // volume (L at 20 °C, gal at 60 °F) or net weight in air
	Strength quantity.Reading // proof or % vol
}

// A Fitted barrel forecasts itself.
type Fitted struct {
	Barrel      Barrel
	Loss        quantity.Figure // % of the volume a year, at its last gauge
	Drift       quantity.Figure // strength a year at its last gauge, on the scale of the filling
	BreakEven   quantity.Figure // % relative humidity at which the strength would stay
	Water       quantity.Figure // that leaves, kg a year, at its last gauge
	Ethanol     quantity.Figure // likewise
	WaterRate   quantity.Figure // k_w, kg a year
	EthanolRate quantity.Figure // k_e, kg a year
	Suspicious  []Suspicion     // regauges that the barrel's own past does not explain
	Notes       []string        // what the fit rests on
	at          filter
	last        time.Time
	quantity.Explained
}

// A Suspicion is a regauge outside what the barrel was expected to do.
type Suspicion struct {
	Gauge  int     // number in Gauges, from 0
	Off    float64 // in standard deviations; negative for less than expected
	Advice string
}

// A Forecast is what a barrel holds on a day, with its uncertainty: that of the
// gauges, of the rates, and of years that differ.
type Forecast struct {
	On          time.Time
	Volume      quantity.Figure // L at 20 °C, or gal at 60 °F where the filling was in gallons or pounds
	Strength    quantity.Figure // on the scale of the filling
	PureAlcohol quantity.Figure // L at 20 °C
	quantity.Explained
}

// activities of water and ethanol in a mixture, van Laar with A 1.6798 and B
// 0.9227 (DECHEMA's pair for ethanol and water, from memory).
func activities(water, ethanol float64) (aw, ae float64) {
	const a, b = 1.6798, 0.9227
	nw, ne := water/18.015, ethanol/46.069
	x := ne / (nw + ne)
	d := a*x + b*(1-x)
	return (1 - x) * math.Exp(b*(a*x/d)*(a*x/d)), x * math.Exp(a*(b*(1-x)/d)*(b*(1-x)/d))
}

const (
	wildYears  = 0.15    // by how much one year's loss differs from the mean: common practice, no source
	step       = 1 / 12. // of a year, for the integration
	daysInYear = 365.25
)

// A filter is the barrel's state and what is known of it: water and ethanol in
// kg, k_w and k_e, and their covariance (an extended Kalman filter, R. E.
// Kalman, J. Basic Eng. 82 (1960) 35).
type filter struct {
	x        [4]float64
	p        [4][4]float64
	humidity float64
}

// flux is what leaves in kg a year.
func (f *filter) flux(x [4]float64) (water, ethanol float64) {
	aw, ae := activities(max(x[0], 1e-6), max(x[1], 1e-6))
	return x[2] * (aw - f.humidity), x[3] * ae
}

// flow carries a state on by so many years (midpoint rule).
func (f *filter) flow(x [4]float64, years float64) [4]float64 {
	n := max(1, int(math.Ceil(years/step)))
	h := years / float64(n)
	for range n {
		w, e := f.flux(x)
		half := x
		half[0], half[1] = x[0]-w*h/2, x[1]-e*h/2
		w, e = f.flux(half)
		x[0], x[1] = max(x[0]-w*h, 0.01), max(x[1]-e*h, 0.01)
	}
	return x
}

// predict carries the filter on, at most a year at once.
func (f *filter) predict(years float64) {
	for ; years > 1; years-- {
		f.year(1)
	}
	if years > 0 {
		f.year(years)
	}
}

func (f *filter) year(years float64) {
	var slope [4][4]float64
	for j := range 4 {
		d := 1e-4 * max(math.Abs(f.x[j]), 1)
		up, down := f.x, f.x
		up[j], down[j] = f.x[j]+d, f.x[j]-d
		up, down = f.flow(up, years), f.flow(down, years)
		for i := range 4 {
			slope[i][j] = (up[i] - down[i]) / (2 * d)
		}
	}
	w, e := f.flux(f.x)
	f.x = f.flow(f.x, years)
	var half, p [4][4]float64
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				half[i][j] += slope[i][k] * f.p[k][j]
			}
		}
	}
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				p[i][j] += half[i][k] * slope[j][k]
			}
		}
	}
	// A warm year takes more of both: the years' own differences are common to
	// water and ethanol by half.
	qw, qe := wildYears*math.Abs(w)*math.Sqrt(years), wildYears*math.Abs(e)*math.Sqrt(years)
	p[0][0] += qw * qw
	p[1][1] += qe * qe
	p[0][1] += qw * qe / 2
	p[1][0] += qw * qe / 2
	f.p = p
}

// update takes a gauge in: mass m and mass fraction q with their standard
// uncertainties. It returns how far off the mass was, in standard deviations.
func (f *filter) update(m, um, q, uq float64) float64 {
	mass := f.x[0] + f.x[1]
	h := [2][4]float64{{1, 1, 0, 0}, {-f.x[1] / (mass * mass), f.x[0] / (mass * mass), 0, 0}}
	var ph [4][2]float64
	for i := range 4 {
		for j := range 2 {
			for k := range 4 {
				ph[i][j] += f.p[i][k] * h[j][k]
			}
		}
	}
	s := [2][2]float64{{um * um, 0}, {0, uq * uq}}
	for i := range 2 {
		for j := range 2 {
			for k := range 4 {
				s[i][j] += h[i][k] * ph[k][j]
			}
		}
	}
	det := s[0][0]*s[1][1] - s[0][1]*s[1][0]
	inv := [2][2]float64{{s[1][1] / det, -s[0][1] / det}, {-s[1][0] / det, s[0][0] / det}}
	r := [2]float64{m - mass, q - f.x[1]/mass}
	var gain [4][2]float64
	for i := range 4 {
		for j := range 2 {
			gain[i][j] = ph[i][0]*inv[0][j] + ph[i][1]*inv[1][j]
		}
	}
	p := f.p
	for i := range 4 {
		f.x[i] += gain[i][0]*r[0] + gain[i][1]*r[1]
		for j := range 4 {
			p[i][j] -= gain[i][0]*ph[j][0] + gain[i][1]*ph[j][1]
		}
	}
	for i := range 4 {
		for j := range 4 {
			f.p[i][j] = (p[i][j] + p[j][i]) / 2
		}
	}
	return r[0] / math.Sqrt(s[0][0])
}

// measured is a gauging as mass and mass fraction. Without a half-width an
// amount counts as known to 0.3 % and a strength to 0.1 % vol (common practice,
// no source).
func (g Gauging) measured() (m, um, q, uq float64, err error) {
	var faults fault.List
	amount, strength := g.Amount, g.Strength
	if amount.Unit().Dimension() == quantity.Mass {
		faults.Add("amount", checkAbove(amount, "an amount", quantity.Mass))
	} else {
		faults.Add("amount", checkAbove(amount, "an amount", quantity.Volume))
	}
	s, err := spirit.StrengthOf(strength)
	faults.Add("strength", err)
	if err == nil && (s.ABV20() < 20 || s.ABV20() > 80) {
		faults.Add("strength", fault.Fault{Code: fault.NotOneOf, Value: strength.String(), Limit: "is not between 20 and 80 % vol, for which the model is made", Remedy: "check the strength and its unit"})
	}
	if err := faults.Err(); err != nil {
		return 0, 0, 0, 0, err
	}
	a := amount.EstimateIn(amount.Unit())
	if !amount.HasHalfWidth() {
		a.U = 0.003 * a.Value
	}
	p := strength.EstimateIn(strength.Unit())
	if !strength.HasHalfWidth() {
		p.U = 0.1
		if strength.Unit() == quantity.Proof {
			p.U = 0.2
		}
	}
	out, err := quantity.PropagateFinite([]quantity.Estimate{a, p}, func(x []float64) ([]float64, error) {
		s, err := strengthIn(strength.Unit(), x[1])
		if err != nil {
			return nil, err
		}
		ρ := float64(s.DensityAt(baseOf(amount.Unit())))
		if amount.Unit().Dimension() == quantity.Mass {
			weight := quantity.Figure{Value: x[0], Unit: amount.Unit()}.In(quantity.Kilogram).Value
			return []float64{weight * (1 - float64(spirit.AirDensity/spirit.WeightDensity)) / (1 - float64(spirit.AirDensity)/ρ), float64(s.MassFraction())}, nil
		}
		l := quantity.Figure{Value: x[0], Unit: amount.Unit()}.In(quantity.Litre).Value
		return []float64{l / 1000 * ρ, float64(s.MassFraction())}, nil
	})
	if err != nil {
		return 0, 0, 0, 0, err
	}
	return out[0].Value, out[0].U, out[1].Value, out[1].U, nil
}

// us reports whether the barrel is kept in gallons or pounds.
func (b Barrel) us() bool {
	u := b.Gauges[0].Amount.Unit()
	return u == quantity.Gallon || u == quantity.Pound || u == quantity.Ounce
}

// Fit learns a barrel's two rates from its gauges. One filling alone gives the
// expected rates with a wide band; each regauge narrows it.
func (b Barrel) Fit() (Fitted, error) {
	var faults fault.List
	if len(b.Gauges) == 0 {
		return Fitted{}, fault.List{{Code: fault.Missing, Field: "gauges", Limit: "a barrel needs its filling", Remedy: "give the day, the amount and the strength it was filled with"}}
	}
	type found struct{ m, um, q, uq float64 }
	gs := make([]found, len(b.Gauges))
	for i, g := range b.Gauges {
		var err error
		gs[i].m, gs[i].um, gs[i].q, gs[i].uq, err = g.measured()
		for _, f := range listed(err) {
			f.Field = "gauge " + strconv.Itoa(i+1) + " " + f.Field
			faults = append(faults, f)
		}
		switch {
		case i > 0 && !day(g.On).After(day(b.Gauges[i-1].On)):
			faults.Add("gauge "+strconv.Itoa(i+1)+" day", fault.Fault{Code: fault.Conflict, Value: g.On.Format(time.DateOnly), Limit: "is not after the gauge before it", Remedy: "list the gauges in the order of their days"})
		case (g.Amount.Unit().Dimension() == quantity.Mass) != (b.Gauges[0].Amount.Unit().Dimension() == quantity.Mass):
			faults.Add("gauge "+strconv.Itoa(i+1)+" amount", fault.Fault{Code: fault.Conflict, Value: g.Amount.String(), Limit: "is not gauged as the filling was, and spirit in the wood weighs but has no volume", Remedy: "give all by weight or all by volume"})
		}
	}
	humidity := b.Humidity
	if humidity.IsNone() {
		humidity = pct("65")
	}
	faults.Add("humidity", checkBetween(humidity, "a relative humidity", pct("10"), pct("99")))
	if !b.Yearly.IsNone() {
		faults.Add("yearly", checkBetween(b.Yearly, "a yearly loss", pct("0.1"), pct("30")))
	}
	if !b.Capacity.IsNone() {
		faults.Add("capacity", checkAbove(b.Capacity, "a capacity", quantity.Volume))
	}
	if err := faults.Err(); err != nil {
		return Fitted{}, err
	}
	f := Fitted{Barrel: b, at: b.expect(gs[0].m, gs[0].q, humidity.Float()/100)}
	f.Barrel.Gauges = slices.Clone(b.Gauges)
	soak := b.New && !b.weighed()
	at, changes := b.Gauges[0].On, b.Changes
	for i, g := range gs {
		if i == 0 {
			f.at.x[0], f.at.x[1] = g.m*(1-g.q), g.m*g.q
			f.at.doubt([2]float64{1 - g.q, -g.m}, [2]float64{g.q, g.m}, g.um, g.uq) // as mass and fraction
			continue
		}
		var err error
		if at, changes, err = f.at.changes(changes, at, b.Gauges[i].On, len(b.Changes)); err != nil {
			return Fitted{}, err
		}
		f.at.predict(float64(days(day(at), day(b.Gauges[i].On))) / daysInYear)
		at = b.Gauges[i].On
		if i == 1 && soak {
			f.at.soak(gs[0].m)
		}
		if off := f.at.update(g.m, g.um, g.q, g.uq); math.Abs(off) > 3 {
			s := Suspicion{Gauge: i, Off: off, Advice: "more is in it than before can explain: look for a top-up that was not entered, or weigh it again"}
			if off < 0 {
				s.Advice = "less is in it than evaporation explains: look for a leak, a sample that was not entered, or a wet or dry tare"
			}
			f.Suspicious = append(f.Suspicious, s)
		}
	}
	if len(gs) == 1 && soak {
		f.at.soak(gs[0].m)
	}
	var err error
	if f.last, _, err = f.at.changes(changes, at, time.Time{}, len(b.Changes)); err != nil {
		return Fitted{}, err
	}
	f.describe(humidity)
	return f, nil
}

// weighed reports whether the gauges count what the wood soaked up.
func (b Barrel) weighed() bool {
	return b.Weighed || b.Gauges[0].Amount.Unit().Dimension() == quantity.Mass
}

func square(x float64) float64 { return x * x }

func listed(err error) fault.List {
	var l fault.List
	l.Add("", err)
	return l
}

// soak takes what new wood drinks of the filling: 3.5 ± 1.5 % of it (2 to 5 %
// of the capacity in the first year: common practice, no source).
func (f *filter) soak(filling float64) {
	const share, doubt = 0.035, 0.015
	q := f.x[1] / (f.x[0] + f.x[1])
	d := [2]float64{(1 - q) * filling, q * filling}
	for i := range 2 {
		f.x[i] -= share * d[i]
		for j := range 2 {
			f.p[i][j] += doubt * doubt * d[i] * d[j]
		}
	}
}

// expect is what is known of a barrel's rates before its first regauge: the
// yearly loss and the break-even humidity of 65 ± 5 %, at the filling.
func (b Barrel) expect(m, q, humidity float64) filter {
	f := filter{humidity: humidity}
	s, _ := spirit.FromMassFraction(spirit.MassFraction(q))
	v := litres(m, s, spirit.At20C)
	capacity := v
	if !b.Capacity.IsNone() {
		capacity = b.Capacity.In(quantity.Litre)
	}
	loss, doubt := typical(capacity)
	if !b.Yearly.IsNone() {
		loss = b.Yearly.Float()
		doubt = 0.3 * loss
	}
	w, e := m*(1-q), m*q
	aw, ae := activities(w, e)
	const breakEven = 0.65
	// At the break-even humidity water and ethanol leave in proportion, and the
	// yearly loss is quoted of stores that are not far from it.
	f.x = [4]float64{w, e, loss / 100 * w / max(aw-breakEven, 0.05), loss / 100 * e / ae}
	// The doubt of the loss is common to both; that of the humidity, ±5 % of
	// a_w − 65 %, is the water's alone.
	both := doubt / loss
	own := 0.05 / max(aw-breakEven, 0.05)
	f.p[2][2] = square(f.x[2]) * (square(both) + square(own))
	f.p[3][3] = square(f.x[3]) * (square(both) + square(0.15))
	f.p[2][3] = f.x[2] * f.x[3] * square(both)
	f.p[3][2] = f.p[2][3]
	return f
}

// sees is what a filter's state looks like: volume, strength, pure alcohol,
// yearly loss in %, drift, break-even humidity in %, water and ethanol that
// leave in kg a year.
func (f *Fitted) sees(x [4]float64, humidity float64) ([]float64, error) {
	mass := x[0] + x[1]
	s, err := spirit.FromMassFraction(spirit.MassFraction(x[1] / mass))
	if err != nil {
		return nil, err
	}
	unit, base, scale := quantity.Litre, spirit.At20C, f.Barrel.Gauges[0].Strength.Unit()
	if f.Barrel.us() {
		unit, base = quantity.Gallon, spirit.At60F
	}
	v := litres(mass, s, base)
	aw, ae := activities(x[0], x[1])
	w, e := x[2]*(aw-humidity), x[3]*ae
	const year = 0.05
	after, err := spirit.FromMassFraction(spirit.MassFraction((x[1] - e*year) / (mass - (w+e)*year)))
	if err != nil {
		return nil, err
	}
	return []float64{
		quantity.Figure{Value: v, Unit: quantity.Litre}.In(unit).Value, s.In(scale), x[1] / ethanolDensity,
		100 * (1 - litres(mass-(w+e)*year, after, base)/v) / year, (after.In(scale) - s.In(scale)) / year,
		100 * (aw - x[0]/x[1]*x[3]*ae/max(x[2], 1e-6)), w, e,
	}, nil
}

// spread is sees with the uncertainty of a filter.
func (f *Fitted) spread(k filter) ([]quantity.Estimate, error) {
	y, err := f.sees(k.x, k.humidity)
	if err != nil {
		return nil, err
	}
	var slope [8][4]float64
	for j := range 4 {
		d := 1e-4 * max(math.Abs(k.x[j]), 1e-3)
		up, down := k.x, k.x
		up[j], down[j] = up[j]+d, down[j]-d
		a, err := f.sees(up, k.humidity)
		if err != nil {
			return nil, err
		}
		b, err := f.sees(down, k.humidity)
		if err != nil {
			return nil, err
		}
		for i := range y {
			slope[i][j] = (a[i] - b[i]) / (2 * d)
		}
	}
	out := make([]quantity.Estimate, len(y))
	for i := range y {
		variance := 0.0
		for a := range 4 {
			for b := range 4 {
				variance += slope[i][a] * k.p[a][b] * slope[i][b]
			}
		}
		out[i] = quantity.Estimate{Value: y[i], U: math.Sqrt(max(variance, 0))}
	}
	return out, nil
}

func (f *Fitted) volumeUnit() quantity.Unit {
	if f.Barrel.us() {
		return quantity.Gallon
	}
	return quantity.Litre
}

func (f *Fitted) describe(humidity quantity.Reading) {
	scale := f.Barrel.Gauges[0].Strength.Unit()
	now, err := f.spread(f.at)
	if err == nil {
		f.Loss, f.Drift = quantity.FigureOf(now[3], quantity.Percent, true), quantity.FigureOf(now[4], scale, true)
		f.BreakEven = quantity.FigureOf(now[5], quantity.Percent, true)
		f.Water, f.Ethanol = quantity.FigureOf(now[6], quantity.Kilogram, true), quantity.FigureOf(now[7], quantity.Kilogram, true)
	}
	f.WaterRate = quantity.FigureOf(quantity.Estimate{Value: f.at.x[2], U: math.Sqrt(max(f.at.p[2][2], 0))}, quantity.Kilogram, true)
	f.EthanolRate = quantity.FigureOf(quantity.Estimate{Value: f.at.x[3], U: math.Sqrt(max(f.at.p[3][3], 0))}, quantity.Kilogram, true)
	if f.Barrel.Humidity.IsNone() {
		f.Notes = append(f.Notes, "No humidity was given: 65 % is taken, and the water's rate makes up for the difference.")
	}
	if n := len(f.Barrel.Gauges); n < 3 {
		f.Notes = append(f.Notes, "Two regauges and more part water from ethanol; until then the band is mostly what is usual for such barrels.")
	}
	g := f.Barrel.Gauges
	if f.Barrel.New && f.Barrel.weighed() {
		f.Notes = append(f.Notes, "By weight, what the new wood soaked up counts as contents: 2 to 5 % of the capacity will not run out of it.")
	}
	f.Explained = quantity.Explain(func(w *quantity.Working) {
		w.Add("filled with "+g[0].Amount.String()+" of "+g[0].Strength.String()+"; regauges", strconv.Itoa(len(g)-1))
		w.Add("water's rate k_w, kg a year for each 1 of activity above the air's "+humidity.String()+", from all gauges", f.WaterRate.Text(2))
		w.Add("ethanol's rate k_e, kg a year for each 1 of activity", f.EthanolRate.Text(2))
		w.Add("loss of volume a year, now", f.Loss.Text(2))
		w.Add("drift of the strength a year, now", f.Drift.Text(2))
		w.Add("humidity at which the strength would stay: above it the strength falls, below it rises", f.BreakEven.Text(0))
	})
}

// ahead is the filter on a day.
func (f *Fitted) ahead(on time.Time) filter {
	k := f.at
	k.predict(float64(days(day(f.last), day(on))) / daysInYear)
	return k
}

// horizon is how far a forecast goes, in years.
const horizon = 60

// At forecasts a day after the last gauge.
func (f Fitted) At(on time.Time) (Forecast, error) {
	switch {
	case day(on).Before(day(f.last)):
		return Forecast{}, fault.List{{Code: fault.TooLow, Field: "day", Value: on.Format(time.DateOnly), Limit: "is before the last gauge or change, " + f.last.Format(time.DateOnly), Remedy: "ask for a later day; what was is in the gauges"}}
	case days(day(f.last), day(on)) > horizon*366:
		return Forecast{}, fault.List{{Code: fault.TooHigh, Field: "day", Value: on.Format(time.DateOnly), Limit: "is more than 60 years after the last gauge", Remedy: "check the day"}}
	}
	k := f.ahead(on)
	out, err := f.spread(k)
	if err != nil {
		return Forecast{}, err
	}
	if k.x[0]+k.x[1] < 0.05*(f.at.x[0]+f.at.x[1]) {
		return Forecast{}, fault.List{{Code: fault.TooHigh, Field: "day", Value: on.Format(time.DateOnly), Limit: "is past the day on which the barrel is nearly empty", Remedy: "ask for an earlier day"}}
	}
	r := Forecast{On: on, Volume: quantity.FigureOf(out[0], f.volumeUnit(), true), Strength: quantity.FigureOf(out[1], f.Barrel.Gauges[0].Strength.Unit(), true), PureAlcohol: quantity.FigureOf(out[2], quantity.Litre, true)}
	r.Explained = quantity.Explain(func(w *quantity.Working) {
		*w = append(*w, f.Working()...)
		w.Add("years from the last gauge", quantity.Fixed(float64(days(day(f.last), day(on)))/daysInYear, 2))
		w.Add("volume then, both rates carried on month by month", r.Volume.Text(1))
		w.Add("strength then", r.Strength.Text(1))
		w.Add("pure alcohol then, at 20 °C", r.PureAlcohol.Text(1))
	})
	return r, nil
}

// A Reached is when a barrel comes to a strength. The zero days mean not within
// 60 years.
type Reached struct {
	On               time.Time
	Earliest, Latest time.Time // of the band of two standard uncertainties; a zero Latest: perhaps never
}

// Reaches finds the day on which a barrel comes to a strength by itself, by
// evaporation alone.
func (f Fitted) Reaches(target quantity.Reading) (Reached, error) {
	s, err := spirit.StrengthOf(target)
	if err != nil {
		var l fault.List
		l.Add("target", err)
		return Reached{}, l
	}
	scale := f.Barrel.Gauges[0].Strength.Unit()
	want := s.In(scale)
	start, err := f.spread(f.at)
	if err != nil {
		return Reached{}, err
	}
	up := want > start[1].Value
	var r Reached
	k := f.at
	for month := 1; month <= horizon*12 && (r.Latest.IsZero() || r.On.IsZero()); month++ {
		on := monthsAfter(day(f.last), month)
		k.predict(step)
		if k.x[0]+k.x[1] < 0.05*(f.at.x[0]+f.at.x[1]) {
			break
		}
		now, err := f.spread(k)
		if err != nil {
			return Reached{}, err
		}
		passed := func(v float64) bool { return v >= want == up || v == want }
		u := 2 * now[1].U
		if !up {
			u = -u
		}
		for _, p := range []struct {
			t *time.Time
			v float64
		}{{&r.Earliest, now[1].Value + u}, {&r.On, now[1].Value}, {&r.Latest, now[1].Value - u}} {
			if p.t.IsZero() && passed(p.v) {
				*p.t = on
			}
		}
	}
	return r, nil
}
