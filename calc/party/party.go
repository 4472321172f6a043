package party

import (
	"math"
	"slices"

	"gaugebook/calc/book"
	"gaugebook/calc/cask"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

// A Sheet is a bottling at its close, or before it.
type Sheet struct {
	fill.Party
	Run      *book.Bottling
	HeelRead bool     // whether the tank was measured at the end; without it the spirit says nothing
	Lots     []LotAt  // of dry goods at the line, as they came there
	Shared   []string // lot codes or addresses of other runs on the tank at the same time
	Wanting  []string // what was not measured, and what it would be good for
}

// A LotAt is a lot of dry goods at the line.
type LotAt struct {
	Lot, Good                 book.Address
	Name, Type                string
	Issued, Returned, Spoiled int64
}

// Used is how many of the lot are neither back nor written as spoiled.
func (l LotAt) Used() int64 { return l.Issued - l.Returned - l.Spoiled }

// Closing is what closed a run, as it stands after corrections; nil while it is
// open.
func Closing(b *book.Book, r *book.Bottling) *book.BottlingClosed {
	if r.Open() {
		return nil
	}
	entry := b.Entry(r.ClosedBy)
	if entry == nil {
		return nil
	}
	body, _, _, _ := b.Effective(entry)
	c, _ := body.(*book.BottlingClosed)
	return c
}

// Of is a bottling as package fill reconciles it. closing is what the run is
// closed with; nil, or without a heel, while that is not measured.
func Of(b *book.Book, r *book.Bottling, closing *book.BottlingClosed) (Sheet, error) {
	s := Sheet{Run: r}
	if closing == nil {
		closing = &book.BottlingClosed{}
	}
	s.Size, s.PerCase = r.Bottle, max(1, r.PerCase)
	s.counted()
	s.goods(b.State())
	s.checked()
	return s, s.spirit(b, closing)
}

// Reconcile holds the three ways against each other.
func (s *Sheet) Reconcile() (fill.Reconciled, error) { return fill.Reconcile(s.Party) }

// stationOf is where a spoil happened, by its reason where nobody said.
func stationOf(x book.BottlesSpoiled) fill.Station {
	switch {
	case x.Station != "":
		return fill.Station(x.Station)
	case x.Reason == "label":
		return fill.Labelling
	case x.Reason == "closure":
		return fill.Closing
	}
	return fill.Filling
}

// counted takes the counts and spoils. The run has what its last station has;
// the stations before it are tallies.
func (s *Sheet) counted() {
	last := s.Run.LastStation()
	often := map[int64]int{}
	for _, c := range s.Run.Counts {
		if at := c.Station; at != last && (at != "" || last != "case") {
			continue
		}
		switch {
		case c.PerCase == 0 || c.PerCase == s.Run.PerCase:
			s.Cases += c.Cases
		case s.OtherCase == 0 || s.OtherCase == c.PerCase:
			s.OtherCase, s.OtherCases = c.PerCase, s.OtherCases+c.Cases
		default:
			s.Loose += c.Cases * c.PerCase // a third size of case
		}
		s.Loose += c.Loose
		if c.Cases > 2 {
			often[c.Cases]++
		}
	}
	if last != "case" { // nothing is in cases yet
		s.Cases, s.OtherCases, s.Loose = 0, 0, s.Run.Good()
	}
	for n, times := range often { // what is counted at once again and again is a pallet or a layer
		if times > 1 && (times > often[s.Pallet] || times == often[s.Pallet] && n > s.Pallet) {
			s.Pallet = n
		}
	}
	for _, at := range book.Stations() {
		if at == last {
			break
		}
		if n := s.Run.At(at); n > 0 {
			s.Tallies = append(s.Tallies, fill.Tally{At: fill.Station(at), Bottles: n})
		}
	}
	for _, x := range s.Run.Spoils {
		s.Spoils = append(s.Spoils, fill.Spoil{At: stationOf(x), Bottles: x.Bottles, PouredBack: x.PouredBack})
	}
}

// use is where a type of good goes, false for what no bottle takes.
func use(kind string) (fill.Good, bool) {
	switch kind {
	case "bottle", "can":
		return fill.Good{At: fill.Filling, Tolerance: fill.GlassTolerance}, true
	case "closure", "can end":
		return fill.Good{At: fill.Closing, Tolerance: fill.GlassTolerance}, true
	case "label", "back label":
		return fill.Good{At: fill.Labelling, Tolerance: fill.LabelTolerance}, true
	case "neck label":
		return fill.Good{At: fill.NeckLabel, Tolerance: fill.LabelTolerance}, true
	case "seal":
		return fill.Good{At: fill.Sealing}, true
	case "carton", "divider":
		return fill.Good{At: fill.Casing, PerCase: true}, true
	}
	return fill.Good{}, false
}

// goods takes what was issued to the line, good by good.
func (s *Sheet) goods(state *book.State) {
	for _, m := range s.Run.Goods {
		g := state.Good(m.Good)
		if g == nil {
			continue
		}
		i := slices.IndexFunc(s.Lots, func(l LotAt) bool { return l.Lot == m.Lot })
		if i < 0 {
			i, s.Lots = len(s.Lots), append(s.Lots, LotAt{Lot: m.Lot, Good: m.Good, Name: g.Name, Type: g.Type})
		}
		switch l := &s.Lots[i]; m.Way {
		case "issued":
			l.Issued += m.Amount
		case "returned":
			l.Returned += m.Amount
		default:
			l.Spoiled += m.Amount
		}
	}
	var seen []book.Address
	for _, l := range s.Lots {
		if slices.Contains(seen, l.Good) {
			continue
		}
		seen = append(seen, l.Good)
		g := state.Good(l.Good)
		to, counts := use(g.Type)
		if !counts || g.Measured != book.InPieces {
			continue
		}
		to.Name, to.Pack = g.Name, g.PerUnit
		to.Issued, to.Returned, to.Spoiled = s.Run.Line(l.Good)
		if to.PerCase {
			to.Sets = g.Fits
			if g.Fits != 0 && g.Fits != s.PerCase && s.OtherCase == 0 {
				s.OtherCase = g.Fits
			}
		}
		s.Goods = append(s.Goods, to)
	}
}

// checked takes what the fill checks found: the mean contents, and the strength
// in the bottle.
func (s *Sheet) checked() {
	var sum, squares, strengths, read float64
	var n int
	for _, f := range s.Run.Fills {
		for _, ml := range f.Millis {
			n++
			sum += ml
			squares += ml * ml
		}
		if !f.Strength.IsNone() && f.Strength.Unit() == s.Run.Tanked.Shown.Unit() {
			strengths += f.Strength.Float()
			read++
		}
	}
	if n > 0 {
		mean := sum / float64(n)
		// The mean's own scatter, and a scale that is right to a part in 2,000.
		u := math.Max(math.Sqrt(math.Max(squares/float64(n)-mean*mean, 0)/float64(n)), 0.0005*s.Size.In(quantity.Millilitre)/math.Sqrt(3))
		s.Filled = doubted(mean, u, quantity.Millilitre, 2)
	} else {
		s.Wanting = append(s.Wanting, "No bottle was weighed: each is taken to hold what its label says, within 0.3 %.")
	}
	if read > 0 {
		s.Tank = s.Run.Tanked.Shown
		s.Bottled = quantity.FromDecimal(quantity.Snap(strengths/read).Round(1), s.Tank.Unit())
	}
}

// doubted is a figure as a reading, its half-width from a standard uncertainty.
func doubted(value, u float64, unit quantity.Unit, places int32) quantity.Reading {
	return quantity.FromDecimal(quantity.Snap(value).Round(places), unit).WithHalfWidth(quantity.FromDecimal(quantity.Snap(u*math.Sqrt(3)).Round(places+1), unit))
}

// baseOf is where the book's contents count, and its temperature as typed.
func baseOf(s *book.State) (fill.Base, quantity.Reading) {
	if s.Convention() == book.Metric {
		return fill.At20C, quantity.MustParse("20", quantity.Celsius)
	}
	return fill.At60F, quantity.MustParse("60", quantity.Fahrenheit)
}

// litres is the volume of a gauge at the base temperature.
func litres(g book.Gauged, base fill.Base) quantity.Reading {
	f := g.Figures.Volume20C
	if base == fill.At60F {
		f = g.Figures.Volume60F
	}
	if f = f.In(quantity.Litre); !f.HasU {
		return quantity.FromDecimal(quantity.Snap(f.Value).Round(3), quantity.Litre)
	}
	return doubted(f.Value, f.U, quantity.Litre, 3)
}

// spirit takes the tank at both ends, and what is known to have left it
// otherwise.
func (s *Sheet) spirit(b *book.Book, closing *book.BottlingClosed) error {
	state, r := b.State(), s.Run
	base, at := baseOf(state)
	s.Before = litres(r.Tanked, base)
	known := func(x quantity.Reading) float64 {
		if x.IsNone() {
			return 0
		}
		return x.In(quantity.Litre)
	}
	samples, spilled := known(closing.Samples), known(closing.Spilled)
	tank := state.Vessel(r.Tank)
	if tank == nil {
		tank = &book.Vessel{}
	}
	for _, a := range tank.History {
		body, happened, void, _ := b.Effective(b.Entry(a))
		if void || happened.Before(r.Opened) || !r.Open() && !happened.Before(r.Closed) {
			continue
		}
		switch x := body.(type) {
		case *book.SampleTaken:
			samples += known(x.Volume)
		case *book.LossRecorded:
			spilled += known(x.Volume)
		}
	}
	for a, other := range state.Bottlings { // another run on the same tank
		if a == r.Address || other.Tank != r.Tank || other.Opened.Before(r.Opened) || !r.Open() && !other.Opened.Before(r.Closed) {
			continue
		}
		name := other.LotCode
		if name == "" {
			name = string(a)
		}
		s.Shared = append(s.Shared, name)
		_, kept := other.Spoiled()
		spilled += float64(other.Good()+kept) * known(other.Bottle)
	}
	s.Samples = quantity.FromDecimal(quantity.Snap(samples).Round(3), quantity.Litre)
	s.Spill = quantity.FromDecimal(quantity.Snap(spilled).Round(3), quantity.Litre)

	heel := quantity.Reading{}
	s.HeelRead = true
	switch {
	case closing.Empty:
		s.After = quantity.MustParse("0", quantity.Litre)
	case !closing.Volume.IsNone() || closing.Weighed():
		g := closing.Gauge
		if g.Strength.IsNone() && g.Indicated.IsNone() {
			g.Strength = r.Tanked.Shown
		}
		found, _, faults := g.Measure(state, tank)
		if err := faults.Err(); err != nil {
			return err
		}
		s.After, heel = litres(found, base), closing.VolumeTemp
	default:
		s.HeelRead = false
		// As much as would be left if all went as usual, and anything besides.
		left := math.Max(0, s.Before.Base()*0.9935-samples-spilled-float64(r.Good())*known(r.Bottle))
		s.After = doubted(math.Min(left, s.Before.Base()), s.Before.Base(), quantity.Litre, 2)
		s.Wanting = append(s.Wanting, "The heel was not measured yet: bottles and dry goods are held against each other, the spirit is not.")
	}
	switch {
	case !s.HeelRead:
	case tank.Table == nil:
		s.Wanting = append(s.Wanting, "The tank has no table of dips, so nobody can say by how far its heel would be misread. Put one in at the store: two rows will do.")
	default:
		s.PerCM = perCM(tank.Table, s.After)
	}
	if warm := s.warm(at, heel); s.HeelRead && !warm.IsNone() {
		x, err := fill.Expansion(s.Before, warm, r.Tanked.Shown, base)
		if err != nil {
			return err
		}
		s.Expansion = x
	}
	return nil
}

// perCM is what a centimetre of dip stands for where the heel is.
func perCM(t *cask.Table, heel quantity.Reading) quantity.Reading {
	for _, r := range t.Rows() {
		if r.Volume.Base() < heel.Base() || r == t.Rows()[0] {
			continue
		}
		if d, err := t.Volume(r.Dip); err == nil {
			return quantity.FromDecimal(quantity.Snap(d.PerCM.In(quantity.Litre).Value).Round(3), quantity.Litre)
		}
	}
	return quantity.Reading{}
}

// warm is another temperature of the tank than the base that its volume was
// said to have, none where nothing speaks for one: the spirit at the hydrometer
// then, or the heel's.
func (s *Sheet) warm(at, heel quantity.Reading) quantity.Reading {
	said := s.Run.VolumeTemp
	off := func(t quantity.Reading) bool {
		return !t.IsNone() && math.Abs(t.In(quantity.Celsius)-at.In(quantity.Celsius)) >= 1
	}
	switch {
	case said.IsNone() || off(said):
		return quantity.Reading{}
	case off(s.Run.Temp):
		return s.Run.Temp
	case s.Run.Temp.IsNone() && off(heel):
		return heel
	}
	return quantity.Reading{}
}
