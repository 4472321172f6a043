package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

// Made is a party that was made up, with the one thing that went wrong.
type Made struct {
	fill.Party
	Planted fill.Kind
	Subject string
	Off     float64 // how large the error is, in bottles
	Spirit  bool    // whether only the spirit knows of it
	Phones  int
	Wasted  bool // glass or closures were wasted unwritten, more than one in 500

	warm float64 // °C of the tank
	away int64   // cases, or bottles of a station before casing, that a phone has not sent
}

// Plantable lists the errors that people make at a bottling.
func Plantable() []fill.Kind {
	return []fill.Kind{fill.CaseLess, fill.CaseMore, fill.PartialMore, fill.PartialLess, fill.MixedSizes, fill.ReworkMore, fill.PalletMore, fill.CountsAway, fill.TallyOff,
		fill.PackOut, fill.GoodsSpoiled, fill.BottlesGone, fill.HeelMisread, fill.TankWarm, fill.StrengthWarm}
}

func place(s fill.Station) int { return slices.Index(fill.Stations(), s) }

func reading(x float64, places int32, u quantity.Unit) quantity.Reading {
	return quantity.FromDecimal(quantity.Snap(x).Round(places), u)
}

// Make makes up a party: N phones at as many stations, glass and closures
// that are not counted to the piece, labels wasted unwritten, a tank dipped to a
// millimetre or so, a line that keeps 0.3 to 1.0 %; and one error of a kind.
func Make(chance *rand.Rand, kind fill.Kind) Made {
	between := func(low, high int) int { return low + chance.IntN(high-low+1) }
	binomial := func(n int, p float64) int64 { // Poisson's, for small p
		mean, k, prob := float64(n)*p, int64(0), chance.Float64()
		term := math.Exp(-mean)
		for sum := term; sum < prob && k < int64(n); {
			k++
			term *= mean / float64(k)
			sum += term
		}
		return k
	}
	sizeML := []int{375, 500, 700, 750}[chance.IntN(4)]
	per := []int{6, 12}[chance.IntN(2)]
	s := Made{Planted: kind, Phones: between(1, 6)}
	p := &s.Party
	p.Size, p.PerCase = reading(float64(sizeML), 0, quantity.Millilitre), int64(per)
	p.OtherCase = int64(18 - per)
	cases, loose := between(25, 180), between(0, per-1)
	p.Pallet = int64(between(5, 12)) // a layer
	if kind == fill.PartialLess {
		loose = between(1, per-1)
	}
	good := cases*per + loose

	// Who counts where: casing always, other stations by the other phones.
	stations := fill.Stations()[:5]
	chance.Shuffle(len(stations), func(i, j int) { stations[i], stations[j] = stations[j], stations[i] })
	counting := stations[:s.Phones-1]
	switch kind {
	case fill.TallyOff:
		if len(counting) == 0 {
			counting = stations[:1]
			s.Phones = 2
		}
	}
	slices.SortFunc(counting, func(a, b fill.Station) int { return place(a) - place(b) })

	for _, at := range fill.Stations()[:5] {
		if n := binomial(good, 0.001); n > 0 {
			p.Spoils = append(p.Spoils, fill.Spoil{At: at, Bottles: n, PouredBack: chance.IntN(2) == 0})
		}
	}
	p.Cases, p.Loose = int64(cases), int64(loose)

	// What happened, before anybody misses anything.
	type use struct {
		fill.Good
		waste float64 // share wasted and not written, the noise of the good
	}
	goods := []use{
		{fill.Good{Name: "glass", At: fill.Filling, Pack: int64(between(60, 120)), Tolerance: fill.GlassTolerance}, 0.0005},
		{fill.Good{Name: "closures", At: fill.Closing, Pack: 100, Tolerance: fill.GlassTolerance}, 0.0005},
		{fill.Good{Name: "labels", At: fill.Labelling, Pack: 250, Tolerance: fill.LabelTolerance}, 0.003},
		{fill.Good{Name: "seals", At: fill.Sealing, Pack: 500}, 0},
		{fill.Good{Name: "cartons", At: fill.Casing, PerCase: true, Sets: int64(per), Pack: 20}, 0},
		{fill.Good{Name: "other cartons", At: fill.Casing, PerCase: true, Sets: p.OtherCase, Pack: 20}, 0},
	}
	used := make([]int64, len(goods))
	for i, g := range goods {
		used[i] = p.Used(g.At)
		if g.PerCase {
			used[i] = p.CasesOf(g.Good)
		}
		waste := binomial(good, g.waste)
		used[i] += waste
		s.Wasted = s.Wasted || g.Tolerance == fill.GlassTolerance && 500*waste > int64(good)
		goods[i].Spoiled = binomial(good, 0.002)
	}
	tallies := make([]int64, len(counting))
	for i, at := range counting {
		tallies[i] = p.Passed(at)
	}
	bottles := float64(p.Good())
	for _, x := range p.Spoils {
		if !x.PouredBack {
			bottles += float64(x.Bottles)
		}
	}
	bottle := float64(sizeML) / 1000
	filled := bottle * (1 + 0.0007*chance.NormFloat64())
	spirit := bottles * filled
	samples, spill := 0.1*float64(between(0, 20)), 0.1*float64(between(0, 30))
	loss := 0.0065 + 0.0035/math.Sqrt(3)*chance.NormFloat64() // as wide as the note's 0.3 to 1.0 %
	perCM := float64(between(5, 14))
	heel := perCM * (2 + 3*chance.Float64())
	gone := (spirit + samples + spill) / (1 - loss)
	start := heel + gone
	strength := 40 + 0.05*chance.NormFloat64()
	bottled := strength + 0.05*chance.NormFloat64()
	temp := 20 + 12*chance.Float64()
	if kind == fill.TankWarm {
		temp = 27 + 5*chance.Float64()
	}
	s.warm = temp

	// The one error.
	n := 0.0
	withAll := func(delta float64, cartons int64) { // so many more bottles were made than counted
		s.Off = math.Abs(delta)
		p.Cases -= cartons
		p.Loose -= int64(delta) - cartons*int64(per)
	}
	switch kind {
	case fill.CaseLess:
		withAll(float64(per), 1)
	case fill.CaseMore:
		withAll(-float64(per), -1)
	case fill.PartialMore:
		withAll(-float64(between(1, per-1)), 0)
	case fill.PartialLess:
		n = float64(between(1, loose))
		withAll(n, 0)
	case fill.MixedSizes:
		m := int64(between(1, 6))
		// m cases of the other size were packed; they are counted as the run's own.
		if p.OtherCase > p.PerCase && m > p.Cases/3 {
			m = p.Cases / 3
		}
		s.Off = float64(m) * math.Abs(float64(p.OtherCase-p.PerCase))
		actual := m * p.OtherCase
		cut := actual / p.PerCase // the bottles come out of full cases of the run
		rest := actual - cut*p.PerCase
		full := p.Cases - cut
		left := p.Loose - rest
		if left < 0 {
			full, left = full-1, left+p.PerCase
		}
		used[4] += full - p.Cases
		used[5] += m
		p.Cases, p.Loose = full+m, left
	case fill.ReworkMore:
		n = float64(between(1, 8))
		withAll(-n, 0)
		used[2] += int64(n)
	case fill.PalletMore:
		withAll(-float64(p.Pallet)*float64(per), -p.Pallet)
	case fill.CountsAway:
		k := between(3, 20)
		s.away = int64(k)
		if len(counting) == 0 || chance.IntN(2) == 0 {
			s.Subject = string(fill.Casing)
			withAll(float64(k*per), int64(k))
		} else {
			i := chance.IntN(len(counting))
			s.Subject = string(counting[i])
			tallies[i] -= int64(k * per)
			s.away = int64(k * per)
			s.Off = float64(k * per)
		}
	case fill.TallyOff:
		i := chance.IntN(len(counting))
		s.Subject = string(counting[i])
		d := int64(per)
		if chance.IntN(2) == 0 {
			d = -d
		}
		if chance.IntN(3) == 0 {
			d = int64(between(1, per-1))
		}
		tallies[i] += d
		s.Off = math.Abs(float64(d))
	case fill.PackOut:
		i := chance.IntN(4)
		s.Subject = goods[i].Name
		goods[i].Returned -= goods[i].Pack
		s.Off = float64(goods[i].Pack)
	case fill.GoodsSpoiled:
		i := []int{0, 1, 2, 3}[chance.IntN(4)]
		s.Subject = goods[i].Name
		n = float64(between(1, 15))
		if goods[i].Name == "labels" {
			n = float64(between(1, good*6/100)) // a wrong back label, found late
		}
		used[i] += int64(n)
		if s.Off = n; n <= goods[i].Tolerance*float64(good) && goods[i].Name == "labels" {
			s.Off = 0 // paper within its tolerance
		}
	case fill.BottlesGone:
		n = float64(between(1, 6))
		k := []int{0, 0, 0, 1, 1, 1, 2, 2, 3, 4}[chance.IntN(10)]
		for i, g := range goods {
			if !g.PerCase && place(g.At) <= k {
				used[i] += int64(n)
			}
		}
		for i, at := range counting {
			if place(at) <= k {
				tallies[i] += int64(n)
			}
		}
		start += n * filled
		s.Subject, s.Off = string(fill.Stations()[k]), n
	case fill.HeelMisread:
		n = []float64{-3, -2, -1, 1, 2, 3}[chance.IntN(6)]
		s.Off, s.Spirit = math.Abs(n)*perCM/bottle, true
	}
	for i := range goods {
		g := goods[i].Good
		packs := (used[i]+g.Spoiled)/g.Pack + 2
		g.Issued = packs * g.Pack
		g.Returned += g.Issued - used[i] - g.Spoiled
		p.Goods = append(p.Goods, g)
	}
	for i, at := range counting {
		p.Tallies = append(p.Tallies, fill.Tally{At: at, Bottles: tallies[i]})
	}
	// The dip errs by a millimetre or so; its half-width is told as 0.2 cm.
	half := quantity.FromDecimal(quantity.Snap(0.2*perCM).Round(2), quantity.Litre)
	dip := func(v float64) float64 { return math.Max(0, v+0.2/math.Sqrt(3)*perCM*chance.NormFloat64()) }
	before, after := dip(start), dip(heel)
	if kind == fill.HeelMisread {
		after = math.Max(0, after+n*perCM)
		n = 0
	}
	p.Tank, p.Bottled = reading(strength, 1, quantity.ABV20), reading(bottled, 1, quantity.ABV20)
	x, err := fill.Expansion(reading(before, 2, quantity.Litre), reading(temp, 1, quantity.Celsius), p.Tank, fill.At20C)
	if err != nil {
		panic(err)
	}
	if kind == fill.TankWarm || chance.IntN(4) == 0 { // a gauge without its temperature
		p.Expansion = x
	}
	if kind == fill.TankWarm {
		before += x.Value
		s.Off, s.Spirit = x.Value/bottle, true
	}
	if kind == fill.StrengthWarm {
		d := 0.3 * (3 + 7*chance.Float64())
		p.Bottled = reading(bottled-d, 1, quantity.ABV20)
		s.Off = d / 40 * float64(good) // its alcohol in bottles' worth
	}
	p.Before, p.After = reading(before, 2, quantity.Litre).WithHalfWidth(half), reading(after, 2, quantity.Litre).WithHalfWidth(half)
	p.Samples, p.Spill = reading(samples, 1, quantity.Litre), reading(spill, 1, quantity.Litre)
	p.PerCM = reading(perCM, 1, quantity.Litre)
	p.Filled = reading(1000*filled, 2, quantity.Millilitre).WithHalfWidth(reading(0.0005*1000*bottle, 3, quantity.Millilitre))
	return s
}
