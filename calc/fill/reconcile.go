package fill

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// A Station is a place on the bottling line.
type Station string

// The stations, in the order a bottle passes.
const (
	Filling   Station = "fill"
	Closing   Station = "close"
	Labelling Station = "label"
	NeckLabel Station = "neck label"
	Sealing   Station = "seal"
	Casing    Station = "case"
)

// Stations lists them in that order.
func Stations() []Station {
	return []Station{Filling, Closing, Labelling, NeckLabel, Sealing, Casing}
}

func place(s Station) int { return slices.Index(Stations(), s) }

// A Spoil is bottles that were spoiled at a station and written. What it had on
// it is used: the goods of that station and of those before.
type Spoil struct {
	At         Station
	Bottles    int64
	PouredBack bool // its spirit went back to the tank
}

// A Tally is what a station before casing counted: bottles that left it good.
type Tally struct {
	At      Station
	Bottles int64
}

// A Good is one dry good of a run.
type Good struct {
	Name      string
	At        Station
	PerCase   bool    // one for a case and not for a bottle
	Sets      int64   // cases that it fits: bottles in such a case, 0 for any; with PerCase
	Each      int64   // pieces for one bottle or case, 0 for 1
	Issued    int64   // drawn from the store
	Returned  int64   // brought back
	Spoiled   int64   // written as spoiled
	Pack      int64   // pieces in a roll, box or layer, 0 where there is none
	Tolerance float64 // share that may be missing without a question, two standard deviations; 0 for a good that counts exactly (seals, strips, cartons)
}

// Tolerances: one bottle or closure in 500, from which on this book asks (the
// trade asks from 0.5 %), and 2 % of labels, which are paper (both common
// practice, no source); seals, strips and cartons count exactly.
const (
	GlassTolerance = 0.002
	LabelTolerance = 0.02
)

// A Party is a bottling at its close: what was measured and counted.
type Party struct {
	Size           quantity.Reading // of a bottle
	PerCase        int64
	OtherCase      int64            // bottles in another case on the floor, 0 for none
	OtherCases     int64            // full ones of those, counted
	Cases, Loose   int64            // full cases, and bottles in none
	Before, After  quantity.Reading // the tank at the start and the heel, volumes at the base temperature with the doubt of their measure
	Samples, Spill quantity.Reading // written, none for none
	Filled         quantity.Reading // mean net contents by the fill checks, none for Size ± 0.3 %
	PerCM          quantity.Reading // what a centimetre of dip stands for, none where the tank is not dipped
	Expansion      quantity.Figure  // by how much the start is too large if its volume was never brought to the base temperature (see the function); zero where its temperature is in the entry
	Tank, Bottled  quantity.Reading // strength of the tank at the start and in the bottle, none where either was not read
	UsualLoss      quantity.Reading // % of the run that the line keeps, none for 0.65 ± 0.35
	Spoils         []Spoil
	Tallies        []Tally
	Goods          []Good
	Pallet         int64 // cases on a pallet or in one of its layers, 0 where cases are not stacked
}

// An Account is one of the ways in which the run is counted.
type Account struct {
	Name  string
	Gap   quantity.Figure // more used, counted or gone than the bottles explain; U is its measuring error
	Usual quantity.Figure // what is usual of the gap; zero but for spirit
	Exact bool            // counts without error
	Asked bool            // larger than its measuring error
}

// A Kind is a kind of error that people make at a bottling.
type Kind string

// The kinds.
const (
	Nothing       Kind = "within measurement"
	CaseLess      Kind = "case not counted"
	CaseMore      Kind = "case counted twice"
	PartialMore   Kind = "partial case counted twice"
	PartialLess   Kind = "loose bottles not counted"
	MixedSizes    Kind = "mixed case sizes"
	ReworkMore    Kind = "rework counted twice"
	PalletMore    Kind = "pallet counted twice"
	CountsAway    Kind = "counts not sent yet"
	TallyOff      Kind = "station's own count"
	PackOut       Kind = "pack not returned"
	PackIn        Kind = "pack not written as issued"
	GoodsSpoiled  Kind = "spoiled goods not written"
	BottlesGone   Kind = "bottles gone and not written"
	SpiritGone    Kind = "samples or a spill not written"
	HeelMisread   Kind = "heel misread"
	TankWarm      Kind = "volume not brought to the base temperature"
	StrengthWarm  Kind = "strength at the wrong temperature"
	SomethingElse Kind = "something that is not on the list"
)

// A Cause is one explanation, with how likely it is.
type Cause struct {
	Kind        Kind
	Subject     string  // the good, the station or the tank; "" where the kind says it all
	Size        float64 // how large, in the kind's own measure
	Explanation string  // 'one case less was counted than was packed'
	Look        string  // what to look at first
	Probability float64
}

// A Reconciled is a party with its gaps and what explains them.
type Reconciled struct {
	Bottles  int64           // good ones, as counted
	Volume   quantity.Figure // L that left the tank
	Share    quantity.Figure // % of the start that is unexplained
	Accounts []Account       // spirit first
	Causes   []Cause         // likeliest first, those of 1 % and more
	Asked    bool            // whether something has to be answered before the run is closed
	quantity.Explained
}

// prior is how often a kind is met among parties of which none was checked yet
// (common practice, no source: a house's own settled gaps are better).
func prior(k Kind) float64 {
	switch k {
	case Nothing:
		return 0.35
	case CaseLess, CaseMore, PartialMore, BottlesGone, HeelMisread, GoodsSpoiled:
		return 0.07
	case TankWarm: // of gauges without their temperature
		return 0.12
	case PackOut, CountsAway, MixedSizes, ReworkMore:
		return 0.04
	case PartialLess, TallyOff, SpiritGone, StrengthWarm, PalletMore:
		return 0.03
	case PackIn:
		return 0.01
	}
	return 0.003
}

// A shift is by how much an error moves one account.
type shift struct {
	account int
	by      float64
}

// A hypothesis is one error of one size.
type hypothesis struct {
	kind    Kind
	subject string
	size    float64
	weight  float64 // prior
	shifts  []shift
	gain    float64 // log likelihood over that of no error
}

// sheet is a party being reconciled.
type sheet struct {
	Party
	fill       float64 // L in a bottle
	gap, sigma []float64
	strength   int // account of the strength, -1 where it was not read; the spirit is account 0
	tallies    []int
	goods      []int
	moved      []float64 // room for gains
	out        Reconciled
}

// exactly is the standard deviation of a count without error: no count is off
// by a part of a bottle.
const exactly = 0.25

// Reconcile holds a bottling's three ways of counting against each other.
// Spirit: before − after − samples − spills − what is in bottles. Bottles: cases
// × size + loose, against every station's own count. Goods: issued − returned −
// spoiled − used, for each. A gap larger than twice its measuring error, or any
// gap of a good that counts exactly, is asked about; and so are a pattern of
// small gaps that some error explains better than none, and a start whose
// temperature is not known.
//
// Causes are ranked by Bayes' rule: how often the kind is met, times how well an
// error of that kind and size explains all gaps at once, each gap normal about
// what the error gives with its measuring error. One error alone and pairs of
// two are weighed; a cause's probability is that of all in which it stands.
func Reconcile(p Party) (Reconciled, error) {
	if err := p.check(); err != nil {
		return Reconciled{}, err
	}
	s := &sheet{Party: p, strength: -1}
	if err := s.account(); err != nil {
		return Reconciled{}, err
	}
	s.rank()
	s.out.Explained = quantity.Explain(s.explain)
	return s.out, nil
}

func (p Party) check() error {
	var faults fault.List
	litre := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.Litre) }
	faults.Add("size", between(p.Size, "the size of a bottle", millilitres("1"), millilitres("60000")))
	faults.Add("before", between(p.Before, "the tank at the start", litre("0.1"), litre("1000000")))
	faults.Add("after", between(p.After, "the heel, 0 for an empty tank,", litre("0"), litre("1000000")))
	for _, o := range []struct {
		field, what string
		r           quantity.Reading
		low, high   quantity.Reading
	}{
		{"samples", "a volume", p.Samples, litre("0"), litre("1000000")}, {"spill", "a volume", p.Spill, litre("0"), litre("1000000")},
		{"filled", "the mean net contents", p.Filled, millilitres("1"), millilitres("60000")},
		{"per_cm", "a volume", p.PerCM, litre("0.01"), litre("100000")},
		{"usual_loss", "a share", p.UsualLoss, quantity.MustParse("0", quantity.Percent), quantity.MustParse("20", quantity.Percent)},
	} {
		if !o.r.IsNone() {
			faults.Add(o.field, between(o.r, o.what, o.low, o.high))
		}
	}
	if len(faults) == 0 && p.After.Base() > p.Before.Base() {
		faults.Add("after", fault.Fault{Code: fault.TooHigh, Value: p.After.String(), Limit: "is more than the tank held at the start", Remedy: "measure the heel again"})
	}
	count := func(field string, n, low int64) {
		if n < low || n > 10_000_000 {
			faults.Add(field, fault.Fault{Code: fault.NotOneOf, Value: strconv.FormatInt(n, 10), Limit: "is not a count from " + strconv.FormatInt(low, 10) + " to 10 million", Remedy: "count again"})
		}
	}
	count("per_case", p.PerCase, 1)
	count("cases", p.Cases, 0)
	count("loose", p.Loose, 0)
	count("other_case", p.OtherCase, 0)
	count("other_cases", p.OtherCases, 0)
	count("pallet", p.Pallet, 0)
	if p.OtherCases > 0 && p.OtherCase == 0 {
		faults.Add("other_case", fault.Fault{Code: fault.Missing, Limit: "other cases are counted, and not how many bottles are in one", Remedy: "give the bottles in such a case"})
	}
	for i, x := range p.Spoils {
		count("spoil "+strconv.Itoa(i+1), x.Bottles, 0)
		checkStation(&faults, "spoil "+strconv.Itoa(i+1), x.At)
	}
	for i, x := range p.Tallies {
		count("tally "+strconv.Itoa(i+1), x.Bottles, 0)
		checkStation(&faults, "tally "+strconv.Itoa(i+1), x.At)
	}
	for _, g := range p.Goods {
		for _, n := range []int64{g.Sets, g.Each, g.Issued, g.Returned, g.Spoiled, g.Pack} {
			count("goods "+g.Name, n, 0)
		}
		checkStation(&faults, "goods "+g.Name, g.At)
		if g.Tolerance < 0 || g.Tolerance > 0.5 {
			faults.Add("goods "+g.Name, fault.Fault{Code: fault.NotOneOf, Value: quantity.Fixed(g.Tolerance, 3), Limit: "is not a tolerance from 0 to 0.5", Remedy: "give the share that may be missing"})
		}
	}
	if p.Tank.IsNone() != p.Bottled.IsNone() {
		faults.Add("bottled", fault.Fault{Code: fault.Missing, Limit: "one of the two strengths is missing", Remedy: "give the strength of the tank and of a bottle, or neither"})
	} else if !p.Tank.IsNone() {
		_, err := strengthOf(p.Tank)
		faults.Add("tank", err)
		_, err = strengthOf(p.Bottled)
		faults.Add("bottled", err)
	}
	return faults.Err()
}

func checkStation(faults *fault.List, field string, s Station) {
	if place(s) < 0 {
		faults.Add(field, fault.Fault{Code: fault.NotOneOf, Value: string(s), Limit: "is not a station", Remedy: "use fill, close, label, neck label, seal or case"})
	}
}

// Good is how many good bottles were counted.
func (p Party) Good() int64 { return p.Cases*p.PerCase + p.OtherCases*p.OtherCase + p.Loose }

// Used is how many bottles had a station's good put on them.
func (p Party) Used(at Station) int64 {
	n := p.Good()
	for _, s := range p.Spoils {
		if place(s.At) >= place(at) {
			n += s.Bottles
		}
	}
	return n
}

// Passed is how many bottles left a station good.
func (p Party) Passed(at Station) int64 {
	n := p.Good()
	for _, s := range p.Spoils {
		if place(s.At) > place(at) {
			n += s.Bottles
		}
	}
	return n
}

// Expansion is by how much a volume is too large where it was measured at a
// tank's temperature and taken as one at the base: for Party.Expansion.
func Expansion(volume, temp, strength quantity.Reading, b Base) (quantity.Figure, error) {
	c, err := Expect(Run{Tank: volume, Temp: temp, Strength: strength, Base: b, Size: millilitres("1000"), PerCase: 1})
	if err != nil {
		return quantity.Figure{}, err
	}
	return quantity.Figure{Value: volume.In(quantity.Litre) - c.Volume.Value, Unit: quantity.Litre}, nil
}

// account works the gaps out.
func (s *sheet) account() error {
	in := func(r quantity.Reading) quantity.Estimate {
		if r.IsNone() {
			return quantity.Estimate{}
		}
		return r.EstimateIn(quantity.Litre)
	}
	s.fill = s.Size.In(quantity.Litre)
	filled := quantity.Estimate{Value: s.fill, U: 0.003 * s.fill / math.Sqrt(3)}
	if !s.Filled.IsNone() {
		filled = s.Filled.EstimateIn(quantity.Litre)
	}
	loss := s.UsualLoss
	if loss.IsNone() {
		loss = usualLoss
	}
	bottles := s.Good()
	for _, x := range s.Spoils {
		if !x.PouredBack {
			bottles += x.Bottles
		}
	}
	keeps := loss.EstimateIn(quantity.Percent)
	out, err := quantity.PropagateFinite([]quantity.Estimate{in(s.Before), in(s.After), in(s.Samples), in(s.Spill), filled, keeps}, func(x []float64) ([]float64, error) {
		gone := x[0] - x[1]
		return []float64{gone - x[2] - x[3] - float64(bottles)*x[4], gone, gone * x[5] / 100, gone - x[2] - x[3] - float64(bottles)*x[4] - gone*x[5]/100}, nil
	})
	if err != nil {
		return err
	}
	r := &s.out
	r.Bottles = s.Good()
	r.Volume = quantity.FigureOf(out[1], quantity.Litre, true)
	share := 100 / s.Before.Base()
	r.Share = quantity.FigureOf(quantity.Estimate{Value: out[0].Value * share, U: out[0].U * share}, quantity.Percent, true)
	spirit := Account{Name: "spirit", Gap: quantity.FigureOf(out[0], quantity.Litre, true), Usual: quantity.FigureOf(out[2], quantity.Litre, true)}
	s.add(spirit, out[3].Value, max(out[3].U, 1e-3))
	if !s.Tank.IsNone() {
		a, _ := strengthOf(s.Tank)
		b, _ := strengthOf(s.Bottled)
		u := 0.1 / math.Sqrt(3) * math.Sqrt2 // a tenth on either side where no half-width was given
		if s.Tank.HasHalfWidth() && s.Bottled.HasHalfWidth() {
			of := func(r quantity.Reading) float64 {
				u := r.UncertaintyIn(r.Unit())
				if r.Unit() == quantity.Proof {
					u /= 2
				}
				return u
			}
			u = max(math.Hypot(of(s.Tank), of(s.Bottled)), 0.02)
		}
		s.strength = len(s.gap)
		gap := b.ABV20() - a.ABV20()
		s.add(Account{Name: "strength", Gap: quantity.FigureOf(quantity.Estimate{Value: gap, U: u}, quantity.ABV20, true)}, gap, u)
	}
	for _, t := range s.Tallies {
		s.tallies = append(s.tallies, len(s.gap))
		gap := float64(t.Bottles - s.Passed(t.At))
		s.add(Account{Name: "count at " + string(t.At), Exact: true, Gap: pieces(gap, exactly)}, gap, exactly)
	}
	for _, g := range s.Goods {
		used := s.Used(g.At)
		if g.PerCase {
			used = s.CasesOf(g)
		}
		s.goods = append(s.goods, len(s.gap))
		gap := float64(g.Issued - g.Returned - g.Spoiled - used*max(1, g.Each))
		u := exactly
		if g.Tolerance > 0 {
			u = max(exactly, g.Tolerance*float64(s.Good()*max(1, g.Each))/2)
		}
		s.add(Account{Name: g.Name, Exact: g.Tolerance == 0, Gap: pieces(gap, u)}, gap, u)
	}
	return nil
}

// CasesOf is how many cases a case good is used for.
func (p Party) CasesOf(g Good) int64 {
	n := int64(0)
	if g.Sets == 0 || g.Sets == p.PerCase {
		n += p.Cases
	}
	if g.Sets == 0 || g.Sets == p.OtherCase {
		n += p.OtherCases
	}
	return n
}

func pieces(gap, u float64) quantity.Figure {
	return quantity.Figure{Value: gap, Unit: quantity.Piece, U: u, HasU: true}
}

func (s *sheet) add(a Account, gap, sigma float64) {
	a.Asked = math.Abs(gap) > 2*sigma
	s.out.Asked = s.out.Asked || a.Asked
	s.out.Accounts = append(s.out.Accounts, a)
	s.gap, s.sigma = append(s.gap, gap), append(s.sigma, sigma)
}

// suppose adds hypotheses of one kind, given their sizes with weights that are
// brought to the kind's prior.
func (s *sheet) suppose(all []hypothesis, kind Kind, subject string, sizes []float64, weights []float64, shifts func(size float64) []shift) []hypothesis {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	for i, size := range sizes {
		all = append(all, hypothesis{kind: kind, subject: subject, size: size, weight: prior(kind) * weights[i] / total, shifts: shifts(size)})
	}
	return all
}

// more is what it does to the accounts that n more good bottles were made than
// counted, and packed in so many more cases of a size.
func (s *sheet) more(n float64, cases float64, set int64) []shift {
	out := []shift{{0, n * s.fill}}
	for _, i := range s.tallies {
		out = append(out, shift{i, n})
	}
	for i, g := range s.Goods {
		each := float64(max(1, g.Each))
		switch {
		case !g.PerCase:
			out = append(out, shift{s.goods[i], n * each})
		case g.Sets == 0 || g.Sets == set:
			out = append(out, shift{s.goods[i], cases * each})
		}
	}
	return out
}

// numbers is 1 … n with weights that fall by a ratio.
func numbers(n int, ratio float64) (sizes, weights []float64) {
	w := 1.0
	for i := 1; i <= n; i++ {
		sizes, weights = append(sizes, float64(i)), append(weights, w)
		w *= ratio
	}
	return sizes, weights
}

// hypotheses lists what may have gone wrong, of every size that people manage.
func (s *sheet) hypotheses() []hypothesis {
	var all []hypothesis
	per := float64(s.PerCase)
	sizes, weights := numbers(2, 0.2)
	all = s.suppose(all, CaseLess, "", sizes, weights, func(k float64) []shift { return s.more(k*per, k, s.PerCase) })
	all = s.suppose(all, CaseMore, "", sizes, weights, func(k float64) []shift { return s.more(-k*per, -k, s.PerCase) })
	if s.PerCase > 1 {
		sizes, weights = numbers(int(s.PerCase)-1, 1)
		all = s.suppose(all, PartialMore, "", sizes, weights, func(n float64) []shift { return s.more(-n, 0, 0) })
		all = s.suppose(all, PartialLess, "", sizes, weights, func(n float64) []shift { return s.more(n, 0, 0) })
	}
	sizes, weights = numbers(12, 0.8)
	all = s.suppose(all, ReworkMore, "", sizes, weights, func(n float64) []shift {
		out := s.more(-n, 0, 0)
		for i, g := range s.Goods {
			if g.At == Labelling {
				out = append(out, shift{s.goods[i], n * float64(max(1, g.Each))}) // the second label
			}
		}
		return out
	})
	if s.OtherCase > 0 && s.OtherCase != s.PerCase {
		sizes, weights = numbers(12, 0.8)
		all = s.suppose(all, MixedSizes, "", sizes, weights, func(n float64) []shift {
			out := s.more(n*float64(s.OtherCase-s.PerCase), 0, 0)
			for i, g := range s.Goods {
				each := float64(max(1, g.Each))
				switch {
				case !g.PerCase || g.Sets == 0:
				case g.Sets == s.PerCase:
					out = append(out, shift{s.goods[i], -n * each})
				case g.Sets == s.OtherCase:
					out = append(out, shift{s.goods[i], n * each})
				}
			}
			return out
		})
	}
	if s.Pallet > 2 {
		sizes, weights = numbers(2, 0.2)
		all = s.suppose(all, PalletMore, "", sizes, weights, func(k float64) []shift {
			n := k * float64(s.Pallet)
			return s.more(-n*per, -n, s.PerCase)
		})
	}
	// A phone that has not sent its counts: three cases and more at casing, any
	// number at another station; fewer are slips of counting.
	if most := int(max(s.Cases, 10)); most >= 3 {
		sizes, weights = numbers(min(most, 400), 1)
		all = s.suppose(all, CountsAway, string(Casing), sizes[2:], weights[2:], func(k float64) []shift { return s.more(k*per, k, s.PerCase) })
	}
	for i, t := range s.Tallies {
		at := s.tallies[i]
		slip := []float64{-per, per, -2 * per, 2 * per}
		weights := []float64{1, 1, 0.2, 0.2}
		for n := 1.0; n < per; n++ {
			slip, weights = append(slip, n, -n), append(weights, 1/per, 1/per)
		}
		all = s.suppose(all, TallyOff, string(t.At), slip, weights, func(n float64) []shift { return []shift{{at, n}} })
		away := max(s.Passed(t.At)-t.Bottles, int64(0)) // what is missing there is what may be away
		if n := float64(away); n >= 3*per {
			all = s.suppose(all, CountsAway, string(t.At), []float64{n}, []float64{1 / per}, func(n float64) []shift { return []shift{{at, -n}} })
			all[len(all)-1].weight = prior(CountsAway) / float64(max(s.Passed(t.At), 1)) // any number is as likely
		}
	}
	for i, g := range s.Goods {
		at := s.goods[i]
		if g.Pack > 1 {
			sizes, weights = numbers(2, 0.2)
			all = s.suppose(all, PackOut, g.Name, sizes, weights, func(k float64) []shift { return []shift{{at, k * float64(g.Pack)}} })
			all = s.suppose(all, PackIn, g.Name, sizes, weights, func(k float64) []shift { return []shift{{at, -k * float64(g.Pack)}} })
		}
		if g.PerCase {
			sizes, weights = numbers(6, 0.6)
		} else {
			sizes, weights = numbers(60, 0.95)
		}
		all = s.suppose(all, GoodsSpoiled, g.Name, sizes, weights, func(n float64) []shift { return []shift{{at, n}} })
	}
	// Bottles that left the line after a station: samples, or breakage.
	for k, station := range Stations()[:5] {
		sizes, weights = numbers(12, 0.8)
		first := len(all)
		all = s.suppose(all, BottlesGone, string(station), sizes, weights, func(n float64) []shift {
			out := []shift{{0, n * s.fill}}
			for i, t := range s.Tallies {
				if place(t.At) <= k {
					out = append(out, shift{s.tallies[i], n})
				}
			}
			for i, g := range s.Goods {
				if !g.PerCase && place(g.At) <= k {
					out = append(out, shift{s.goods[i], n * float64(max(1, g.Each))})
				}
			}
			return out
		})
		for i := first; i < len(all); i++ {
			all[i].weight *= vanish[k]
		}
	}
	// Volumes: on a grid finer than the tank is read.
	grid := func(unit, most float64) (sizes, weights []float64) {
		for x := unit; x <= most; x += unit {
			sizes, weights = append(sizes, x), append(weights, math.Exp(-2*x/most))
		}
		return sizes, weights
	}
	sizes, weights = grid(max(0.1, s.sigma[0]/4), max(6, 2*s.fill))
	all = s.suppose(all, SpiritGone, "", sizes, weights, func(l float64) []shift { return []shift{{0, l}} })
	if cm := s.PerCM; !cm.IsNone() {
		sizes, weights = grid(0.25, 5)
		n := len(sizes)
		for i := range n {
			sizes, weights = append(sizes, -sizes[i]), append(weights, weights[i])
		}
		// Read too high, the heel was less and more spirit is gone than thought.
		all = s.suppose(all, HeelMisread, "", sizes, weights, func(h float64) []shift { return []shift{{0, -h * cm.In(quantity.Litre)}} })
	}
	if e := s.Expansion.Value; e != 0 {
		all = s.suppose(all, TankWarm, "", []float64{s.Expansion.In(quantity.Litre).Value}, []float64{1}, func(l float64) []shift { return []shift{{0, l}} })
	}
	if s.strength >= 0 {
		sizes, weights = grid(0.1, 6)
		for i := range sizes {
			sizes, weights = append(sizes, -sizes[i]), append(weights, weights[i])
		}
		all = s.suppose(all, StrengthWarm, "", sizes, weights, func(x float64) []shift { return []shift{{s.strength, x}} })
	}
	// What is on no list: any account alone, anywhere within a tenth of the run.
	for i, a := range s.out.Accounts {
		width := 0.1 * max(float64(s.Good()), 100)
		if i == 0 {
			width *= s.fill
		}
		density := math.Min(1, s.sigma[i]*math.Sqrt(2*math.Pi)/(2*width))
		all = append(all, hypothesis{kind: SomethingElse, subject: a.Name, size: s.gap[i], weight: prior(SomethingElse) * density, shifts: []shift{{i, s.gap[i]}}})
	}
	return all
}

// gains is the log likelihood that shifts add to that of no error.
func (s *sheet) gains(shifts ...[]shift) float64 {
	clear(s.moved)
	for _, list := range shifts {
		for _, x := range list {
			s.moved[x.account] += x.by
		}
	}
	sum := 0.0
	for i, by := range s.moved {
		if by != 0 {
			before, after := s.gap[i]/s.sigma[i], (s.gap[i]-by)/s.sigma[i]
			sum += (before*before - after*after) / 2
		}
	}
	return sum
}

// vanish is where bottles vanish, by the station they passed last: most are
// broken under the filler or taken as samples once they are closed (common
// practice, no source).
var vanish = [5]float64{0.4, 0.4, 0.1, 0.05, 0.05}

// pairs is how many of the best single errors are tried with every other.
const pairs = 40

// rank weighs the hypotheses.
func (s *sheet) rank() {
	all := s.hypotheses()
	s.moved = make([]float64, len(s.gap))
	type key struct {
		kind    Kind
		subject string
	}
	// Everything is relative to no error at all, whose gain is 0; the largest
	// exponent is taken out before any is raised.
	best := math.Log(prior(Nothing))
	score := make([]float64, len(all))
	for i := range all {
		all[i].gain = s.gains(all[i].shifts)
		score[i] = math.Log(all[i].weight) + all[i].gain
		best = max(best, score[i])
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(score[b], score[a]) })
	type pair struct {
		a, b  int
		score float64
	}
	var two []pair
	for n, i := range order[:min(pairs, len(order))] {
		for m, j := range order {
			if m < pairs && m <= n || all[i].kind == all[j].kind && all[i].subject == all[j].subject {
				continue
			}
			v := math.Log(all[i].weight) + math.Log(all[j].weight) + s.gains(all[i].shifts, all[j].shifts)
			if v > best-12 {
				two = append(two, pair{i, j, v})
				best = max(best, v)
			}
		}
	}
	weight := map[key]float64{}
	largest := map[key]int{}
	at := map[key]float64{}
	total := math.Exp(math.Log(prior(Nothing)) - best)
	weight[key{kind: Nothing}] = total
	give := func(i int, w float64) {
		k := key{all[i].kind, all[i].subject}
		weight[k] += w
		if w > at[k] {
			at[k], largest[k] = w, i
		}
	}
	for i := range all {
		w := math.Exp(score[i] - best)
		total += w
		give(i, w)
	}
	for _, p := range two {
		w := math.Exp(p.score - best)
		total += w
		give(p.a, w)
		give(p.b, w)
	}
	var causes []Cause
	for k, w := range weight {
		// Nine places, so that two builds rank alike.
		c := Cause{Kind: k.kind, Subject: k.subject, Probability: math.Round(w/total*1e9) / 1e9}
		if k.kind != Nothing {
			c.Size = all[largest[k]].size
		}
		c.Explanation, c.Look = s.words(c)
		causes = append(causes, c)
	}
	// The map's order is chance; the sheet's is not.
	slices.SortFunc(causes, func(a, b Cause) int {
		return cmp.Or(cmp.Compare(b.Probability, a.Probability), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Subject, b.Subject))
	})
	for _, c := range causes {
		if c.Probability >= 0.01 || len(s.out.Causes) == 0 {
			s.out.Causes = append(s.out.Causes, c)
		}
	}
	// A start without its temperature is asked about, whatever the gaps say, once
	// it can be worth a bottle in 500.
	warm := math.Abs(s.Expansion.Value) > s.fill*float64(s.Good())/500
	s.out.Asked = s.out.Asked || warm || s.out.Causes[0].Kind != Nothing
}

// words says a cause as one person says it to another.
func (s *sheet) words(c Cause) (explanation, look string) {
	n := quantity.Fixed(math.Abs(c.Size), 0)
	some := func(one, many string) string {
		if n == "1" {
			return "one " + one
		}
		return n + " " + many
	}
	size := s.Size.String()
	switch c.Kind {
	case Nothing:
		return "every gap is within its measuring error and what the line usually keeps", "nothing"
	case CaseLess:
		return some("case", "cases") + " of " + strconv.FormatInt(s.PerCase, 10) + " less counted than packed", "recount the pallets, and the case cartons"
	case CaseMore:
		return some("case", "cases") + " of " + strconv.FormatInt(s.PerCase, 10) + " more counted than packed", "recount the pallets, and the case cartons"
	case PartialMore:
		return some("loose bottle", "loose bottles") + " counted twice, as a partial case and again", "look for a partial case that was filled up later"
	case PartialLess:
		return some("loose bottle", "loose bottles") + " not counted", "look for a partial case"
	case MixedSizes:
		return some("case", "cases") + " of " + strconv.FormatInt(s.OtherCase, 10) + " counted as cases of " + strconv.FormatInt(s.PerCase, 10), "count each size of carton by itself"
	case ReworkMore:
		return some("bottle", "bottles") + " labelled anew and counted a second time", "ask who took back bottles from the crate for rework"
	case PalletMore:
		return some("pallet or layer", "pallets or layers") + " of " + strconv.FormatInt(s.Pallet, 10) + " cases counted by two phones", "compare the times of the two phones' counts"
	case CountsAway:
		if c.Subject == string(Casing) {
			return "a phone at casing has not sent the counts of " + n + " cases", "bring every phone of the party into the network before closing"
		}
		return "a phone at the station " + c.Subject + " has not sent the counts of " + n + " bottles", "bring every phone of the party into the network before closing"
	case TallyOff:
		way := "less"
		if c.Size > 0 {
			way = "more"
		}
		return "the station " + c.Subject + " counted " + some("bottle", "bottles") + " " + way + " than passed", "believe the cases, and settle the station's count"
	case PackOut:
		return some("pack", "packs") + " of " + c.Subject + " not returned", "look under the table and in the waste for a started pack"
	case PackIn:
		return some("pack", "packs") + " of " + c.Subject + " taken and not written", "look at the shelf's own count"
	case GoodsSpoiled:
		return n + " of " + c.Subject + " spoiled and not written", "count the waste at that station"
	case BottlesGone:
		return some("bottle", "bottles") + " of " + size + " left the line after the station " + c.Subject + " unwritten: samples, or broken and thrown away", "ask for the samples kept, look into the glass bin"
	case SpiritGone:
		return quantity.Fixed(math.Abs(c.Size), 1) + " L of samples or a spill not written", "ask who took a sample or emptied a hose"
	case HeelMisread:
		way := "high"
		if c.Size < 0 {
			way = "low"
		}
		return "the heel read " + quantity.Fixed(math.Abs(c.Size), 1) + " cm too " + way, "dip the tank again"
	case TankWarm:
		return "the volume at the start taken at the tank's own temperature and not at the base's", "work the first gauge again with its temperature"
	case StrengthWarm:
		return "a strength off by " + quantity.Fixed(math.Abs(c.Size), 1) + " % vol: read at another temperature than it was corrected for", "read tank and bottle again, each with its temperature"
	}
	return "something at " + c.Subject + " that is on no list", "go through the entries of that account"
}

func (s *sheet) explain(w *quantity.Working) {
	litres := func(r quantity.Reading) string {
		if r.IsNone() {
			return "0"
		}
		return r.String()
	}
	w.Add("good bottles, cases × size + loose", strconv.FormatInt(s.out.Bottles, 10))
	w.Add("spirit gone from the tank, "+s.Before.String()+" − "+s.After.String(), s.out.Volume.Text(2))
	w.Add("less samples "+litres(s.Samples)+", spills "+litres(s.Spill)+" and what is in bottles: unexplained", s.out.Accounts[0].Gap.Text(2)+", "+s.out.Share.Text(2)+" of the start")
	w.Add("of which the line usually keeps", s.out.Accounts[0].Usual.Text(2))
	for _, a := range s.out.Accounts[1:] {
		w.Add(a.Name+": gap", a.Gap.Text(1))
	}
	for _, c := range s.out.Causes {
		w.Add(c.Explanation, quantity.Fixed(100*c.Probability, 0)+" %")
	}
}
