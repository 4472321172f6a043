package book

import "slices"

// A Trace is a lot in an ancestry or a descent: how far it is from the start,
// and its share. Going up, the share is how much of the start came from it;
// going down, how much of it came from the start. What gives no alcohol (yeast,
// botanicals, bottles) stands in a trace with no share. The shares of lots that
// came from nothing the book knows more of sum to one, but for what came from
// lots it does not know.
type Trace struct {
	Lot    *Lot
	Depth  int
	Share  float64
	Amount float64 // going up: how much of it is in the start, in the measure of its parts
}

// A Share is a part of something mixed.
type Share struct {
	Lot   Address // "" where the book does not know
	Share float64
}

// Composition is what a vessel holds as shares of lots, the largest first; they
// sum to one. A vessel with nothing or less in it has none.
func (s *State) Composition(vessel Address) []Share {
	v := s.Vessel(vessel)
	if v == nil {
		return nil
	}
	return shares(v.Content.Parts)
}

// shares makes shares of parts that are measured alike.
func shares(parts []Part) []Share {
	var whole int64
	for _, p := range parts {
		whole += max(p.Amount, 0)
	}
	var out []Share
	for _, p := range parts {
		if p.Amount <= 0 {
			continue
		}
		part := float64(p.Amount) / float64(whole)
		if n := len(out); n > 0 && out[n-1].Lot == p.Lot { // parts stand in the order of their lots
			out[n-1].Share += part
		} else {
			out = append(out, Share{p.Lot, part})
		}
	}
	slices.SortStableFunc(out, func(a, b Share) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return 0
	})
	return out
}

// A source is one lot that another was made of.
type source struct {
	lot   Address
	share float64 // of the made lot's alcohol
	per   float64 // amount of the source in one step of the made lot
}

// sources lists what a lot was made of, with shares that sum to one. A run's
// spirit comes from its mash and from the spirit returned to its still; the
// latter's share is the alcohol that was returned, the mash has the rest.
func (s *State) sources(l *Lot) []source {
	whole, mash, spirits := float64(l.Amount), 0.0, 0.0
	fromMash := 1.0
	for _, p := range l.From {
		if p.Amount <= 0 {
			continue
		}
		if parent := s.lots.get(p.Lot); parent != nil && !parent.Material.Accounted() {
			mash += float64(p.Amount)
		} else {
			spirits += float64(p.Amount)
		}
	}
	if run := s.runs.get(l.Run); run != nil {
		whole = 0
		for _, f := range run.Fractions {
			whole += float64(f.Alcohol)
		}
		if spirits > 0 && whole > 0 {
			fromMash = max(0, whole-spirits) / whole
		}
	}
	if mash == 0 {
		fromMash = 0
	}
	if spirits == 0 {
		fromMash = 1
	}
	out := make([]source, 0, len(l.From))
	for _, p := range l.From {
		if p.Amount <= 0 {
			continue
		}
		x := source{lot: p.Lot}
		if parent := s.lots.get(p.Lot); parent != nil && !parent.Material.Accounted() {
			x.share = fromMash * float64(p.Amount) / mash
		} else {
			x.share = (1 - fromMash) * float64(p.Amount) / spirits
		}
		if whole > 0 {
			x.per = float64(p.Amount) / whole
		}
		out = append(out, x)
	}
	return out
}

// Ancestry lists the lots that a lot came from, nearest first, back to the
// fruit. Each lot stands once, at its least depth.
func (s *State) Ancestry(a Address) []Trace {
	out := s.walk(a, func(l *Lot) []Address {
		var next []Address
		for _, p := range l.From {
			next = append(next, p.Lot)
		}
		for _, p := range l.With {
			next = append(next, p.Lot)
		}
		return next
	})
	if len(out) == 0 {
		return out
	}
	share, amount := s.behind(a)
	for i := range out {
		out[i].Share, out[i].Amount = share[out[i].Lot.Address], amount[out[i].Lot.Address]
	}
	return out
}

// behind is how much of each lot is in one lot: as a share of its alcohol, and
// as an amount. Lots stand in the table after what they were made of, so one
// walk back through it meets every lot after all that came of it.
func (s *State) behind(a Address) (share, amount map[Address]float64) {
	share, amount = map[Address]float64{a: 1}, map[Address]float64{}
	if l := s.lots.get(a); l != nil {
		amount[a] = float64(l.Amount)
	}
	for i := slices.Index(s.lots.order, a); i >= 0; i-- {
		at := s.lots.order[i]
		if _, in := share[at]; !in {
			continue
		}
		l := s.lots.get(at)
		for _, x := range s.sources(l) {
			share[x.lot] += share[at] * x.share
			amount[x.lot] += amount[at] * x.per
		}
		if l.Amount > 0 {
			for _, p := range l.With {
				amount[p.Lot] += amount[at] / float64(l.Amount) * float64(p.Amount)
			}
		}
	}
	return share, amount
}

// Origins lists the lots at the beginning of what a lot is made of, the fruit
// and grain, and spirit that came from elsewhere: with shares that sum to one,
// and how much of each is in it. A lot the book does not know has a nil Lot.
func (s *State) Origins(a Address) []Trace {
	share, amount := s.behind(a)
	var out []Trace
	for at, part := range share {
		if l := s.lots.get(at); part > 0 && (l == nil || len(s.sources(l)) == 0) {
			out = append(out, Trace{Lot: l, Share: part, Amount: amount[at]})
		}
	}
	slices.SortFunc(out, func(x, y Trace) int {
		switch {
		case x.Share > y.Share:
			return -1
		case x.Share < y.Share:
			return 1
		case x.Lot == nil || y.Lot == nil:
			return boolCompare(x.Lot == nil, y.Lot == nil)
		}
		return compareParts(Part{Lot: x.Lot.Address}, Part{Lot: y.Lot.Address})
	})
	return out
}

// Descent lists the lots that came of a lot, nearest first, on to the bottle.
func (s *State) Descent(a Address) []Trace {
	out := s.walk(a, func(l *Lot) []Address { return l.Into })
	if len(out) == 0 {
		return out
	}
	reach := map[Address]float64{a: 1}
	came := make(map[Address]bool, len(out))
	for _, x := range out {
		came[x.Lot.Address] = true
	}
	for _, at := range s.lots.order[slices.Index(s.lots.order, a)+1:] {
		if !came[at] {
			continue
		}
		for _, x := range s.sources(s.lots.get(at)) {
			if from, in := reach[x.lot]; in {
				reach[at] += from * x.share
			}
		}
	}
	for i := range out {
		out[i].Share = reach[out[i].Lot.Address]
	}
	return out
}

// LaidBack lays figures of lots at the door of all they were made of, by the
// shares of a trace: what stands at a lot is its own and its part of that of all
// that came of it. of gives the figures of a lot, n of them, nil for none. One
// walk answers for every lot what Descent answers for one.
func (s *State) LaidBack(n int, of func(*Lot) []float64) map[Address][]float64 {
	out := make(map[Address][]float64, len(s.lots.order))
	for _, a := range slices.Backward(s.lots.order) {
		l := s.lots.get(a)
		sum := added(n, out[a], of(l), 1)
		if sum == nil {
			continue
		}
		out[a] = sum
		for _, x := range s.sources(l) {
			out[x.lot] = added(n, out[x.lot], sum, x.share)
		}
	}
	return out
}

// added is a with so many times b in it; nil stands for nothing.
func added(n int, a, b []float64, times float64) []float64 {
	if b == nil {
		return a
	}
	if a == nil {
		a = make([]float64, n)
	}
	for i, x := range b {
		a[i] += x * times
	}
	return a
}

// Carried says what of figures that belong to whole lots is in one step of each
// lot: its own, and that of all that went into it, by amount. own gives the
// figures of a lot, n of them, nil for none; those of a run's spirits are in one
// step of its own fractions together. One walk answers for every lot what
// Ancestry answers for one.
func (s *State) Carried(n int, own func(*Lot) []float64) map[Address][]float64 {
	out := make(map[Address][]float64, len(s.lots.order))
	for _, a := range s.lots.order {
		l := s.lots.get(a)
		if l.Amount <= 0 {
			continue
		}
		sum := added(n, nil, own(l), 1/float64(l.Amount))
		for _, x := range s.sources(l) {
			sum = added(n, sum, out[x.lot], x.per)
		}
		for _, p := range l.With {
			sum = added(n, sum, out[p.Lot], float64(p.Amount)/float64(l.Amount))
		}
		if sum != nil {
			out[a] = sum
		}
	}
	return out
}

func (s *State) walk(a Address, next func(*Lot) []Address) []Trace {
	start := s.lots.get(a)
	if start == nil {
		return nil
	}
	seen := map[Address]bool{a: true}
	out := []Trace{{Lot: start}}
	for i := 0; i < len(out); i++ {
		for _, n := range next(out[i].Lot) {
			if l := s.lots.get(n); l != nil && !seen[n] {
				seen[n] = true
				out = append(out, Trace{Lot: l, Depth: out[i].Depth + 1})
			}
		}
	}
	return out[1:]
}
