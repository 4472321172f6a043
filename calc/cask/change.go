package cask

import (
	"strconv"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// A Change is what a person put into a barrel or took out of it between two
// gauges: a sample, a part dumped, a top-up, a leak that was told. What is taken
// out has the barrel's own strength.
type Change struct {
	On       time.Time        // after a gauge of the same instant
	Out      bool             // taken out; else put in
	Amount   quantity.Reading // as a Gauging's
	Strength quantity.Reading // of what was put in
}

// change brings the filter to the day of a change, from a day, and applies it.
// Water and ethanol are conserved: the sum of both grows or shrinks by what was
// put in or taken out. Its own doubt is that of a gauge.
func (f *filter) change(c Change, from time.Time) error {
	f.predict(float64(days(day(from), day(c.On))) / daysInYear)
	mass := f.x[0] + f.x[1]
	g := Gauging{c.On, c.Amount, c.Strength}
	if c.Out {
		s, err := spirit.FromMassFraction(spirit.MassFraction(f.x[1] / mass))
		if err != nil {
			return err
		}
		g.Strength = quantity.FromDecimal(quantity.Snap(min(max(s.ABV20(), 20), 80)), quantity.ABV20)
	}
	m, um, q, uq, err := g.measured()
	if err != nil {
		return err
	}
	if !c.Out {
		f.x[0], f.x[1] = f.x[0]+m*(1-q), f.x[1]+m*q
		w, e := [2]float64{1 - q, -m}, [2]float64{q, m}
		f.doubt(w, e, um, uq)
		return nil
	}
	share := m / mass
	if share > 0.98 {
		return fault.Fault{Code: fault.TooHigh, Field: "amount", Value: c.Amount.String(), Limit: "is all that is in it", Remedy: "end the filling there: what is filled after it begins anew"}
	}
	left := 1 - share
	q = f.x[1] / mass
	f.x[0], f.x[1] = left*f.x[0], left*f.x[1]
	for i := range 4 {
		for j := range 4 {
			if i < 2 {
				f.p[i][j] *= left
			}
			if j < 2 {
				f.p[i][j] *= left
			}
		}
	}
	f.doubt([2]float64{1 - q, 0}, [2]float64{q, 0}, um, 0)
	return nil
}

// doubt adds the doubt of a mass and of a mass fraction to that of water and
// ethanol, which move by w and e with each.
func (f *filter) doubt(w, e [2]float64, um, uq float64) {
	f.p[0][0] += square(w[0]*um) + square(w[1]*uq)
	f.p[1][1] += square(e[0]*um) + square(e[1]*uq)
	both := w[0]*e[0]*square(um) + w[1]*e[1]*square(uq)
	f.p[0][1] += both
	f.p[1][0] += both
}

// changes applies those that come before an instant, or all where it is zero,
// and gives the day the filter stands at and what is left of them.
func (f *filter) changes(list []Change, from, before time.Time, n int) (time.Time, []Change, error) {
	for len(list) > 0 && (before.IsZero() || list[0].On.Before(before)) {
		if err := f.change(list[0], from); err != nil {
			var l fault.List
			for _, one := range listed(err) {
				one.Field = "change " + strconv.Itoa(n-len(list)+1) + " " + one.Field
				l = append(l, one)
			}
			return from, nil, l
		}
		if list[0].On.After(from) {
			from = list[0].On
		}
		list = list[1:]
	}
	return from, list, nil
}
