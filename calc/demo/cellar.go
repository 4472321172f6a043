package demo

import (
	"math"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/cask"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// fillBarrel puts whisky and apple brandy into wood as soon as there is enough
// of it, at no more than 120 proof.
func (l *line) fillBarrel(product string) {
	d := l.d
	if product != "Ridge Rye Whisky" && product != "Barrelled Apple Brandy" {
		return
	}
	tank := l.resting[product]
	for _, b := range l.barrels {
		if l.filled[b] != "" {
			continue
		}
		l.reduceTo(tank, 120)
		if d.b.State().Vessel(tank).Content.Litres20() < 14.6*3.785 {
			return
		}
		d.pass(25)
		c, tare := &d.b.State().Vessel(tank).Content, d.b.State().Vessel(b).Tare
		pounds := c.Mass.Kilograms() * 14.45 * 3.785411784 / c.Litres20() / 0.45359237
		d.write(cellarPhone, hand, &book.SpiritMoved{From: tank, To: b, Purpose: "fill a barrel", Gauge: book.Gauge{Gross: q(math.Round(2*(pounds+tare.Float()))/2, 1, quantity.Pound), Tare: tare}})
		l.filled[b], l.since[b] = product, d.now
	}
}

// reduceTo adds the water that brings a vessel down to a strength, where it is
// above it; it is left a shade strong, as a careful hand does.
func (l *line) reduceTo(vessel book.Address, proof float64) {
	d := l.d
	c := &d.b.State().Vessel(vessel).Content
	is := c.Strength().Proof()
	if c.Mass <= 0 || is <= proof+0.3 {
		return
	}
	// The water that would take the strength down by weight, from the ratio of
	// the fractions, found by the same state the entry will be folded into.
	kilos := c.Mass.Kilograms() * (fraction(is)/fraction(proof) - 1)
	d.pass(30)
	d.write(cellarPhone, hand, &book.WaterAdded{Vessel: vessel, Weight: q(kilos, 2, quantity.Kilogram)})
}

// fraction is the mass fraction of a proof.
func fraction(proof float64) float64 {
	s, err := spirit.FromProof(proof)
	if err != nil {
		panic(err)
	}
	return float64(s.MassFraction())
}

// gauge gauges a vessel as its own content would read, within the marks. What
// is sweetened has the strength that a distillation tells: alcohol in volume.
func (l *line) gauge(vessel book.Address) book.Gauge {
	c := &l.d.b.State().Vessel(vessel).Content
	if c.Material == book.Sweet {
		gallons := c.Litres20() / 3.785411784
		return book.Gauge{Volume: q(gallons, 1, quantity.Gallon), VolumeTemp: figure("60F"), Strength: q(c.Alcohol.ProofGallons()/gallons*100, 1, quantity.Proof)}
	}
	return book.Gauge{Volume: q(c.Litres20()/3.785411784, 1, quantity.Gallon), VolumeTemp: figure("68F"), Strength: q(c.Strength().Proof(), 1, quantity.Proof)}
}

// regauge weighs the barrels every quarter: what is gone went through the wood,
// water and ethanol each for itself as package cask has it.
func (l *line) regauge() {
	d := l.d
	for n, b := range l.barrels {
		v := d.b.State().Vessel(b)
		if v.Content.Empty() || v.Content.Alcohol <= 0 {
			continue
		}
		years := float64(d.now.UnixMilli()-v.Aged.Gauged.Milliseconds()) / 86_400_000 / 365.25
		water, ethanol := l.evaporates(n, v)
		season := d.about(1, 0.25) * (1 - 0.3*math.Cos(2*math.Pi*float64(d.now.YearDay()-65)/365)) // of the quarter before: least after the winter
		liquid := v.Content.Mass.Kilograms()
		alcohol := liquid * fraction(v.Content.Strength().Proof())
		left, pure := liquid-(water+ethanol)*years*season, alcohol-ethanol*years*season
		leaking := b == l.barrels[4] && d.now.Year() == 2026 && d.now.Month() < time.June
		if leaking {
			left, pure = 0.82*left, 0.82*pure
		}
		s, err := spirit.FromMassFraction(spirit.MassFraction(pure / left))
		if err != nil {
			panic(err)
		}
		g := &book.SpiritGauged{Vessel: b, Gauge: book.Gauge{Gross: q(math.Round(2*(left/0.45359237+v.Tare.Float()))/2, 1, quantity.Pound), Strength: q(s.Proof(), 1, quantity.Proof)}, Cause: book.Evaporation}
		if leaking {
			g.Cause, g.Note = "", "wet under the head: it leaks"
		}
		address := d.write(cellarPhone, hand, g)
		if leaking {
			l.leaks(b, address)
		}
		d.pass(4)
	}
	d.in(91, 10, l.regauge)
}

// evaporates is what leaves a barrel in a year, in kg: more on the high tiers,
// which are warm and dry, and each barrel has a wood of its own.
func (l *line) evaporates(n int, v *book.Vessel) (water, ethanol float64) {
	tier := float64(n % 3)
	f, err := cask.Barrel{Capacity: v.Capacity, Humidity: q(62-5*tier, 0, quantity.Percent), Yearly: q(5.5+tier+0.3*float64(n*7%5), 1, quantity.Percent),
		Gauges: []cask.Gauging{{On: l.d.now, Amount: q(v.Content.Litres20(), 2, quantity.Litre), Strength: q(v.Content.Strength().ABV20(), 2, quantity.ABV20)}}}.Fit()
	if err != nil {
		panic(err)
	}
	return f.Water.Value, f.Ethanol.Value
}

// leaks settles the leaking barrel: the loss is recorded, what is left moved.
func (l *line) leaks(b, _ book.Address) {
	d := l.d
	d.pass(20)
	d.write(cellarPhone, distiller, &book.LossRecorded{Vessel: b, ToGauge: true, Cause: book.Leak, Note: "stave cracked at the croze"})
	for _, to := range l.barrels {
		if l.filled[to] == "" {
			d.write(cellarPhone, distiller, &book.SpiritMoved{From: b, To: to, Purpose: "fill a barrel"})
			l.filled[to], l.since[to], l.filled[b] = l.filled[b], l.since[b], "retired"
			break
		}
	}
	d.write(cellarPhone, distiller, &book.VesselRetired{Vessel: b, Why: "leaks"})
}

// receiveNeutral takes in neutral spirit in bond, and makes gin of it.
func (l *line) receiveNeutral() {
	d := l.d
	d.write(officePhone, owner, &book.SpiritReceived{Vessel: l.neutral, Reason: "in bond", From: "Stillwater Bonded Stores", Class: book.Neutral, Account: book.Storage, Name: "neutral spirit",
		Distil: figure("192proof"), Gauge: book.Gauge{Net: q(d.about(372, 0.01), 1, quantity.Pound), Strength: figure("190.2proof")}})
	for n := range 2 {
		d.in(6+20*n, 8, func() { l.queue(l.gin) })
	}
}

func (l *line) gin() {
	d := l.d
	if d.b.State().Vessel(l.neutral).Content.Litres20() < 90 {
		l.free() // too little is left for a charge
		return
	}
	l.lots++
	d.write(officePhone, hand, &book.DeliveryReceived{Material: book.Botanicals, Variety: "Juniper and peel", Weighing: book.Weighing{Net: figure("4.2kg")}, Supplier: d.suppliers["Sallowfield Growers"]})
	start := &book.RunStarted{Still: l.still, Product: d.products["Juniper Gin"], Way: "pot", Receiver: l.receivers[book.Heads],
		Charge: []book.Charge{{Vessel: l.neutral, Gauge: book.Gauge{Volume: figure("22gal"), VolumeTemp: figure("68F")}}}, Note: "22 gal of water go in with it"}
	run := d.write(stillPhone, distiller, start)
	l.distil(run, 44, 22*3.785*0.95, "Juniper Gin")
}

// steep makes the blackcurrant liqueur: fruit in neutral spirit, drained after
// six weeks, sweetened, and its strength told by distillation.
func (l *line) steep() {
	d := l.d
	if d.b.State().Vessel(l.neutral).Content.Litres20() < 60 {
		return
	}
	l.lots++
	fruit := d.write(officePhone, hand, &book.DeliveryReceived{Material: book.Fruit, Variety: "Blackcurrant", Weighing: book.Weighing{Net: figure("46kg")}, Supplier: d.suppliers["Sallowfield Growers"],
		Price: figure("276USD"), PH: figure("2.9pH"), Samples: []book.SweetnessSample{{Sugar: figure("14.8Bx"), Temp: figure("64F"), Instrument: d.refractor}}})
	d.write(cellarPhone, hand, &book.SpiritMoved{From: l.neutral, To: l.steeping, Purpose: "move", Account: book.Processing, Gauge: book.Gauge{Volume: figure("14gal"), VolumeTemp: figure("68F")}})
	l.reduceTo(l.steeping, 120)
	d.pass(15)
	d.write(cellarPhone, hand, &book.InfusionBegun{Vessel: l.steeping, Parts: []book.InfusedPart{{What: "blackcurrant", Lot: fruit, Weight: figure("46kg")}}, Name: "Blackcurrant in spirit"})
	d.in(42, 9, func() {
		c := &d.b.State().Vessel(l.steeping).Content
		gallons := (c.Litres20() + 34) / 3.785 * 0.9
		d.write(cellarPhone, hand, &book.InfusionDrained{Vessel: l.steeping, To: l.resting["Blackcurrant Liqueur"], Keeps: "thrown away", Fruit: figure("31kg"),
			Gauge: book.Gauge{Volume: q(gallons, 1, quantity.Gallon), VolumeTemp: figure("68F"), Strength: q(c.Alcohol.ProofGallons()*0.93/gallons*100, 1, quantity.Proof)}})
		d.pass(40)
		tank := l.resting["Blackcurrant Liqueur"]
		d.write(cellarPhone, hand, &book.SugarAdded{Vessel: tank, What: "sugar", Weight: figure("24kg")})
		d.pass(50)
		held := &d.b.State().Vessel(tank).Content
		d.write(cellarPhone, hand, &book.WaterAdded{Vessel: tank, Water: q(held.Alcohol.ProofGallons()/0.44-held.Litres20()/3.785411784, 1, quantity.Gallon)})
	})
}

// highball takes a little quince brandy for the cans.
func (l *line) highball() {
	d := l.d
	from, tank := l.resting["Quince Brandy"], l.resting["Quince Highball"]
	if l.bottlingNow {
		d.in(5, 8, l.highball)
		return
	}
	if d.b.State().Vessel(from).Content.Litres20() < 30 {
		return
	}
	d.write(cellarPhone, hand, &book.SpiritMoved{From: from, To: tank, Purpose: "blend", Gauge: book.Gauge{Volume: figure("6.5gal"), VolumeTemp: figure("68F")}})
	l.bottle(spirits[7])
}
