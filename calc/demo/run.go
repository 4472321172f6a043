package demo

import (
	"sort"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
	"gaugebook/calc/still"
)

// queue starts a run on the next day that the still is free.
func (l *line) queue(run func()) {
	if l.running {
		l.waiting = append(l.waiting, run)
		return
	}
	l.running = true
	l.d.in(1, 6, run)
}

func (l *line) free() {
	l.running = false
	if len(l.waiting) > 0 {
		next := l.waiting[0]
		l.waiting = l.waiting[1:]
		l.queue(next)
	}
}

// run distils what a fermenter holds, with some feints when there are enough.
func (l *line) run(c *crop, f book.Address, litres float64) {
	d := l.d
	start := &book.RunStarted{Still: l.still, Product: d.products[c.product], Way: "pot and column", Receiver: l.receivers[book.Heads], Charge: []book.Charge{{Vessel: f}}}
	feints := &d.b.State().Vessel(l.feints).Content
	if feints.Litres20() > 190 {
		start.Charge = append(start.Charge, book.Charge{Vessel: l.feints, Gauge: book.Gauge{Volume: figure("12gal"), VolumeTemp: figure("68F")}})
		litres += 12 * 3.785 * feints.Strength().ABV20() / 100
	}
	gallons := d.b.State().Vessel(f).Content.Volume.Litres() / 3.785411784
	if len(start.Charge) > 1 {
		gallons += 12
	}
	run := d.write(stillPhone, distiller, start)
	l.busy[f] = false
	l.distil(run, gallons, litres, c.product)
}

// A stretch is the part of a run that one receiver collects.
type stretch struct {
	fraction book.Fraction
	from, to float64 // of the pure alcohol that comes over
	readings int
}

var stretches = []stretch{{book.Heads, 0, 0.035, 3}, {book.Hearts, 0.035, 0.84, 19}, {book.Tails, 0.84, 1, 9}}

// The still works as about one plate, and is run until so little
// comes over that it is not worth the steam.
var (
	way    = still.Way{Plates: 0.9, Reflux: still.TotalReflux()}
	runEnd = still.End{Spirit: mustProof(38)}
)

func mustProof(proof float64) spirit.Strength {
	s, err := spirit.FromProof(proof)
	if err != nil {
		panic(err)
	}
	return s
}

// over is what comes over from 100 gallons of a charge: its curve is worked out
// once for each tenth of a proof, and is the same for any amount.
func (d *diary) over(proof float64) still.Curve {
	proof = toTenth(proof)
	if c, ok := d.curves[proof]; ok {
		return c
	}
	charge, err := still.ChargeOf(figure("100gal"), q(proof, 1, quantity.Proof))
	if err != nil {
		panic(err)
	}
	c, err := still.Distil(still.Run{Charge: charge, Way: way, Pressure: still.StandardAtmosphere, End: runEnd})
	if err != nil {
		panic(err)
	}
	if d.curves == nil {
		d.curves = map[float64]still.Curve{}
	}
	d.curves[proof] = c
	return c
}

// at is the moment of a curve at which a part of its pure alcohol is over.
func at(c still.Curve, share float64) still.Point {
	whole := c.Last().Drawn.PureAlcohol()
	i := sort.Search(len(c.Points), func(i int) bool { return c.Points[i].Drawn.PureAlcohol() >= share*whole })
	return c.Points[min(i, len(c.Points)-1)]
}

// distil logs a run from the first drop to the gauges; gallons and litres are
// the charge and the pure alcohol in it.
func (l *line) distil(run book.Address, gallons, litres float64, product string) {
	d := l.d
	curve := d.over(200 * litres / (gallons * 3.785411784))
	scale := gallons / 100
	collected := func(a, b still.Point) (in, proof float64) {
		got := still.Liquid{Ethanol: b.Drawn.Ethanol - a.Drawn.Ethanol, Water: b.Drawn.Water - a.Drawn.Water}
		return scale * got.VolumeAt(spirit.At60F) / 3.785411784, got.Strength().Proof()
	}
	d.pass(95)
	for i, s := range stretches {
		if i > 0 {
			d.write(stillPhone, distiller, &book.ReceiverChanged{Run: run, Fraction: s.fraction, Receiver: l.receivers[s.fraction],
				Nose: pick(d, "sharp gone, fruit comes", "round, clean", "wet cardboard, oily")})
		}
		for n := range s.readings {
			now := at(curve, s.from+(s.to-s.from)*(float64(n)+0.8)/float64(s.readings))
			in, _ := collected(at(curve, s.from), now)
			d.draw(run, now.Spirit.Proof(), float64(now.Vapour)*1.8+32, in)
			d.pass(9 + d.rnd.IntN(5))
		}
	}
	if d.now.Format("2006-01") == "2026-04" && !d.overfilled { // a receiver said to hold more than it takes
		d.overfilled = true
		d.tell(stillPhone, distiller, d.now, &book.DrawRead{Run: run, Indicated: figure("44.2proof"), Temp: figure("67.1F"), Volume: figure("66gal")})
	}
	d.pass(20)
	for _, s := range stretches {
		in, proof := collected(at(curve, s.from), at(curve, s.to))
		gauge := &book.ReceiverGauged{Run: run, Fraction: s.fraction, Vessel: l.receivers[s.fraction], Gauge: d.gauged(in, proof)}
		if s.fraction == book.Hearts {
			gauge.Name = product + " hearts"
		}
		d.write(stillPhone, distiller, gauge)
	}
	left := curve.Last().Left
	d.write(stillPhone, distiller, &book.RunEnded{Run: run, Stillage: q(d.about(scale*left.VolumeAt(spirit.At60F)/3.785411784, 0.01), 0, quantity.Gallon), StillageStrength: q(left.Strength().ABV20(), 1, quantity.ABV20)})
	d.write(stillPhone, distiller, &book.CostNoted{What: "hours", Hours: q(d.about(8.5, 0.1), 1, quantity.Hour), Into: run})
	d.pass(15)
	l.putAway(product)
	d.in(1, 5, l.free)
}

// draw logs one reading. What the instrument shows is the strength shifted by
// its own correction and by the warmth of the sample, about a third of a degree
// of proof for each °F in the middle of the scale.
func (d *diary) draw(run book.Address, proof, vapour, gallons float64) {
	temp := toTenth(d.about(66, 0.06))
	shown := proof + 0.33*(temp-60)
	h := d.hydrometers[0]
	switch {
	case shown > 150:
		h = d.hydrometers[2]
	case shown > 98:
		h = d.hydrometers[1]
	}
	line := &book.DrawRead{Run: run, Indicated: q(d.about(shown, 0.004), 1, quantity.Proof), Temp: q(temp, 1, quantity.Fahrenheit), Hydrometer: h, Thermometer: d.thermometer,
		Vapour: q(vapour, 1, quantity.Fahrenheit), Volume: q(gallons, 2, quantity.Gallon)}
	if d.rnd.IntN(9) == 0 {
		line.Nose = pick(d, "pear drop", "skin, almond", "honey", "green", "soft", "a little hot")
	}
	d.write(stillPhone, distiller, line)
}

// gauged is a gauge by volume at a warm receiver, read with instruments.
func (d *diary) gauged(gallons, proof float64) book.Gauge {
	h := d.hydrometers[1]
	if proof < 98 {
		h = d.hydrometers[0]
	} else if proof > 150 {
		h = d.hydrometers[2]
	}
	return book.Gauge{Volume: q(gallons, 1, quantity.Gallon), VolumeTemp: figure("68F"), Indicated: q(proof+2.6, 1, quantity.Proof), Temp: figure("68.0F"), Hydrometer: h, Thermometer: d.thermometer}
}

// putAway empties the receivers: hearts to rest, tails to the feints, heads
// destroyed once there are enough.
func (l *line) putAway(product string) {
	d := l.d
	d.write(cellarPhone, hand, &book.SpiritMoved{From: l.receivers[book.Hearts], To: l.resting[product], Account: book.Storage, Purpose: "deposit"})
	d.write(cellarPhone, hand, &book.SpiritMoved{From: l.receivers[book.Tails], To: l.feints, Purpose: "redistilling"})
	if d.b.State().Vessel(l.receivers[book.Heads]).Content.Litres20() > 18 {
		d.write(cellarPhone, distiller, &book.SpiritDestroyed{Vessel: l.receivers[book.Heads], Manner: "diluted and run to the treatment tank, in the yard", Witness: "M. Quillby, owner"})
	}
	tank := l.resting[product]
	d.write(cellarPhone, hand, &book.RestBegun{Vessel: tank, Until: book.Day(d.now.AddDate(0, 4, 0).Format(time.DateOnly)), For: "to marry"})
	d.in(30, 16, func() {
		if !d.b.State().Vessel(tank).Content.Empty() {
			d.write(officePhone, pick(d, owner, distiller), &book.SpiritTasted{Vessel: tank, Nose: int64(d.whole(5, 9)), Palate: int64(d.whole(4, 9)), Finish: int64(d.whole(4, 8)), Whole: int64(d.whole(5, 9)), Words: pick(d, "fruit in front, a little hot", "round, short", "clear, needs time", "lovely"), Next: "wait"})
		}
	})
	l.fillBarrel(product)
}
