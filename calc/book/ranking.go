package book

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// A Rank is an opened trial among others, by its marks 'all in all'.
type Rank struct {
	*Trial
	Mean      float64
	Deviation float64 // of the marks, with n − 1; 0 where one taster gave them
	Low, High int64
	Apart     bool // told apart from the first by more than the tasters differ
}

// Ranking sets the trials whose marks may be read in order, the best first. A
// trial is told apart from the first where their means differ by more than
// twice the standard uncertainty of that difference, from the spread of both
// (JCGM 100, 4.2.3 and 5.1.2); one taster alone has no spread, and tells nothing
// apart.
func Ranking(trials []*Trial) []Rank {
	var out []Rank
	for _, t := range trials {
		mean, ok := t.Mean()
		if !ok {
			continue
		}
		r := Rank{Trial: t, Mean: mean, Low: t.scores[0].Whole, High: t.scores[0].Whole}
		var squares float64
		for _, s := range t.scores {
			r.Low, r.High = min(r.Low, s.Whole), max(r.High, s.Whole)
			squares += (float64(s.Whole) - mean) * (float64(s.Whole) - mean)
		}
		if n := len(t.scores); n > 1 {
			r.Deviation = math.Sqrt(squares / float64(n-1))
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b Rank) int { return cmp.Compare(b.Mean, a.Mean) })
	for i := range out {
		first, r := &out[0], &out[i]
		n0, n := len(first.scores), len(r.scores)
		if n0 > 1 && n > 1 {
			r.Apart = first.Mean-r.Mean > 2*math.Sqrt(first.Deviation*first.Deviation/float64(n0)+r.Deviation*r.Deviation/float64(n))
		}
	}
	return out
}

// A Need is a part of a trial at the size of a tank, held against what the house
// has of it.
type Need struct {
	What    string
	Weight  Mass
	From    Address // the vessel, the lot or the good that has it; "" where the book knows none
	OnHand  Mass
	Counted bool // what is on hand is known by weight
	Tap     bool // it is water
}

// Buy is how much of it the house does not have.
func (n *Need) Buy() Mass {
	if n.Tap {
		return 0
	}
	return max(0, n.Weight-max(0, n.OnHand))
}

// ScaleUp makes a batch of so much weight out of a trial: its parts in the same
// shares, which add up to exactly the batch, each beside what is on hand. A part
// that named a vessel or a lot is held against it; any other against the good or
// the raw material that is called the same.
func (s *State) ScaleUp(r *Trial, batch Mass) []Need {
	var out []Need
	var whole, left int64
	for _, p := range r.Parts {
		n := s.onHandOf(p)
		weight := weightOf(p.Weight)
		whole += int64(weight)
		at := slices.IndexFunc(out, func(o Need) bool { return o.From == n.From && strings.EqualFold(o.What, n.What) })
		if at < 0 {
			out, at = append(out, n), len(out)
		}
		out[at].Weight += weight
	}
	if whole <= 0 {
		return nil
	}
	left = int64(batch)
	largest := 0
	for i := range out {
		if out[i].Weight > out[largest].Weight {
			largest = i
		}
	}
	for i := range out {
		out[i].Weight = Mass(portion(int64(out[i].Weight), int64(batch), whole))
		left -= int64(out[i].Weight)
	}
	out[largest].Weight += Mass(left)
	return out
}

// onHandOf finds what a part of a trial is taken from, and how much there is.
func (s *State) onHandOf(p TrialPart) Need {
	n := Need{What: p.What}
	name := strings.TrimSpace(p.What)
	if v := s.Vessel(p.Vessel); v != nil {
		n.From, n.OnHand, n.Counted = v.Address, v.Content.Mass, v.Content.Material.Accounted() || v.Content.Empty()
		return n
	}
	var good Address
	if g := s.GoodsLot(p.Lot); g != nil {
		good = g.Good
	} else if r := s.RawLot(p.Lot); r != nil {
		name = r.Variety
	} else if strings.HasSuffix(strings.ToLower(name), "water") {
		n.Tap = true
		return n
	}
	for _, r := range s.Register(AGood) {
		if good == "" && !r.Retired && strings.EqualFold(r.Name, name) {
			good = r.Address
		}
	}
	if g := s.Good(good); g != nil {
		n.From, n.Counted = good, g.Measured == ByWeight
		if n.Counted {
			n.OnHand = Mass(s.OnHand(good))
		}
		return n
	}
	for a, r := range s.raws.all {
		if strings.EqualFold(strings.TrimSpace(r.Variety), name) {
			n.From, n.Counted = a, true
			n.OnHand += max(0, r.OnHand)
		}
	}
	return n
}
