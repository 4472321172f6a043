package demo

import (
	"fmt"
	"math"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// A crop is a raw material and what the house makes of it.
type crop struct {
	variety  string
	material book.Material
	product  string
	supplier string
	mash     string
	months   []time.Month // of its deliveries
	kilos    float64
	brix     float64
	yield    float64 // litres of pure alcohol from 100 kg as delivered
	price    float64 // per kg
	days     int     // of fermentation
}

var crops = []crop{
	{"Quince", book.Fruit, "Quince Brandy", "Upper Fold Orchard", "fruit mash", []time.Month{time.October, time.October, time.November, time.November, time.November}, 520, 12.6, 4.1, 1.10, 16},
	{"Damson", book.Fruit, "Damson Brandy", "Sallowfield Growers", "fruit mash", []time.Month{time.September, time.September, time.September}, 480, 15.2, 5.3, 1.35, 14},
	{"Cider apple", book.Fruit, "Barrelled Apple Brandy", "Upper Fold Orchard", "fruit mash", []time.Month{time.September, time.October, time.October, time.November}, 560, 13.1, 5.0, 0.42, 12},
	{"Winter rye", book.Grain, "Ridge Rye Whisky", "Millrace Grain", "grain mash", []time.Month{time.January, time.March, time.May, time.June, time.August, time.December}, 130, 0, 33, 0.55, 4},
	{"Dark molasses", book.Molasses, "Dark Molasses Spirit", "Harbour Sugar Stores", "molasses wash", []time.Month{time.February, time.April, time.May, time.July, time.November}, 140, 78, 29, 0.60, 6},
}

// plan sows the line's year: every delivery of every crop, the neutral spirit,
// the gin, the liqueur, and the barrels that were there when the book began.
func (l *line) plan() {
	d := l.d
	l.openingStock()
	for year := d.now.Year(); year <= d.end.Year(); year++ {
		for i := range crops {
			c := &crops[i]
			for n, m := range c.months {
				when := time.Date(year, m, 3+(n*11+i*5)%24, 8+d.rnd.IntN(3), d.rnd.IntN(60), 0, 0, zone)
				if when.After(d.now) {
					d.at(when, func() { l.deliver(c) })
				}
			}
		}
		for _, m := range []time.Month{time.May, time.November} {
			if when := time.Date(year, m, 20, 9, 15, 0, 0, zone); when.After(d.now) {
				d.at(when, l.receiveNeutral)
			}
		}
		if when := time.Date(year, time.July, 14, 8, 40, 0, 0, zone); when.After(d.now) {
			d.at(when, l.steep)
		}
		if when := time.Date(year, time.May, 27, 8, 5, 0, 0, zone); when.After(d.now) {
			d.at(when, l.highball)
		}
	}
	d.in(40, 9, l.bottleSomething)
	d.in(75, 10, l.regauge)
}

// openingStock is what stood in the house when the book was opened.
func (l *line) openingStock() {
	d := l.d
	for i, b := range l.barrels[:9] {
		class, name := book.Whisky, "Ridge Rye Whisky"
		if i%3 == 2 {
			class, name = book.Brandy, "Barrelled Apple Brandy"
		}
		d.write(officePhone, owner, &book.SpiritReceived{Vessel: b, Reason: "on hand at opening", Class: class, Account: book.Storage, Name: fmt.Sprintf("%s of %d", name, 2022+i%2),
			Distil: figure("142proof"), Gauge: book.Gauge{Net: q(d.about(104, 0.03), 1, quantity.Pound), Strength: q(toTenth(d.about(118, 0.02)), 1, quantity.Proof)}})
		l.filled[b] = name // in wood since before the book
	}
}

// deliver takes a lot in at the gate.
func (l *line) deliver(c *crop) {
	d := l.d
	l.lots++
	in := &book.DeliveryReceived{Material: c.material, Variety: c.variety, Supplier: d.suppliers[c.supplier], SupplierLot: fmt.Sprintf("%c%d", c.variety[0], 300+l.lots),
		Price: q(d.about(c.kilos*c.price, 0.1), 2, quantity.Dollar), Grown: pick(d, "north slope", "valley floor", "old orchard", "river field")}
	kilos := math.Round(d.about(c.kilos, 0.12))
	switch c.material {
	case book.Fruit:
		crates := int64(math.Ceil(kilos / 290))
		in.Gross, in.Crates, in.CrateTare = q(kilos+float64(crates)*38, 1, quantity.Kilogram), crates, figure("38kg")
		for range 3 {
			in.Samples = append(in.Samples, book.SweetnessSample{Sugar: q(d.about(c.brix, 0.07), 1, quantity.Brix), Temp: q(d.about(61, 0.08), 0, quantity.Fahrenheit), Instrument: d.refractor})
		}
		in.PH = q(d.about(3.4, 0.06), 2, quantity.PH)
		in.Condition = pick(d, "ripe, even", "ripe, some leaf", "a few soft ones", "firm, kept two days in the cool")
	default:
		in.Net = q(kilos, 1, quantity.Kilogram)
	}
	lot := d.write(officePhone, hand, in)
	if c.material == book.Fruit {
		d.in(1, 8, func() { l.prepare(c, lot, kilos) })
		return
	}
	d.in(1, 8, func() { l.mash(c, lot, kilos, kilos) })
}

func (l *line) prepare(c *crop, lot book.Address, kilos float64) {
	d := l.d
	culls, peel := kilos*d.about(0.02, 0.6), 0.0
	pits := 0.0
	if c.variety == "Damson" {
		pits = kilos * d.about(0.05, 0.3)
	}
	if c.variety == "Quince" {
		peel = kilos * d.about(0.03, 0.3)
	}
	ready := math.Floor(kilos - culls - pits - peel - 1)
	p := &book.MaterialPrepared{Lot: lot, Prepared: q(ready, 0, quantity.Kilogram), Culls: q(culls, 1, quantity.Kilogram), Washed: true, Milled: "milled"}
	if pits > 0 {
		p.Pits, p.Milled = q(pits, 1, quantity.Kilogram), "pitted"
	}
	if peel > 0 {
		p.Peel = q(peel, 1, quantity.Kilogram)
	}
	d.write(cellarPhone, hand, p)
	l.mash(c, lot, ready, kilos)
}

// mash fills a free fermenter, or waits a day for one.
func (l *line) mash(c *crop, lot book.Address, kilos, delivered float64) {
	d := l.d
	var f book.Address
	for _, v := range l.fermenters {
		if !l.busy[v] {
			f = v
			break
		}
	}
	if f == "" {
		d.in(1, 8, func() { l.mash(c, lot, kilos, delivered) })
		return
	}
	l.busy[f] = true
	d.pass(50)
	gallons := math.Min(d.about(150, 0.04), 165)
	m := &book.MashMade{Fermenter: f, Type: c.mash, Product: d.products[c.product], Parts: []book.MashPart{{Lot: lot, Weight: q(kilos, 1, quantity.Kilogram)}},
		Volume: q(gallons, 1, quantity.Gallon), Temp: q(d.about(68, 0.05), 0, quantity.Fahrenheit), PH: q(d.about(3.6, 0.05), 2, quantity.PH)}
	brix := c.brix
	switch c.material {
	case book.Grain:
		m.Strike, m.Iodine, m.Cooling = figure("162F"), "clear", figure("95min")
		m.Rests = []book.MashRest{{Temp: figure("150F"), Time: figure("60min")}, {Temp: figure("162F"), Time: figure("20min")}}
		m.Water, brix = q(gallons*0.9, 0, quantity.Gallon), 14.5
		m.PH = q(d.about(5.4, 0.02), 2, quantity.PH)
	case book.Molasses:
		m.Water, brix = q(gallons*0.85, 0, quantity.Gallon), 18.2
		m.PH = q(d.about(5.0, 0.03), 2, quantity.PH)
	}
	m.Sweetness = book.Sweetness{Sugar: q(d.about(brix, 0.03), 1, quantity.Brix), SampleTemp: m.Temp, Instrument: d.refractor}
	mash := d.write(cellarPhone, hand, m)
	d.pass(20)
	for _, add := range [][2]string{{"yeast", "Fruit yeast"}, {"nutrient", "Yeast nutrient"}, {"enzyme", "Pectic enzyme"}} {
		if add[0] == "enzyme" && c.material != book.Fruit {
			continue
		}
		grams := d.about(120, 0.2)
		if d.b.State().GoodsLot(d.goodsLots[add[1]]).OnHand() < milligrams(2*grams) {
			d.restock(add[1], false)
		}
		d.write(cellarPhone, hand, &book.AdditionMade{Vessel: f, What: add[0], Lot: d.goodsLots[add[1]], Weight: q(grams, 0, quantity.Gram)})
	}
	l.check(c, f, mash, brix, 1, delivered)
}

// check is the daily look into a fermenter, until it is done.
func (l *line) check(c *crop, f, mash book.Address, start float64, day int, delivered float64) {
	d := l.d
	d.in(1, 7, func() {
		stuck := d.stuckNow(c) && day > 6
		rate := 4.5 / float64(c.days)
		left := start * math.Exp(-rate*math.Max(0, float64(day)-0.8))
		if stuck {
			left = start * 0.42
		}
		now := left - start*0.12*(1-left/start) // alcohol lightens what is left
		check := &book.FermentChecked{Vessel: f, PH: q(d.about(3.5, 0.03), 2, quantity.PH), Temp: q(d.about(69, 0.04), 0, quantity.Fahrenheit),
			Smell: "clean", Activity: "steady", Sweetness: book.Sweetness{Gravity: q(1+0.004*now+0.0008*(d.rnd.Float64()-0.5), 3, quantity.SG)}}
		if day <= 2 {
			check.Activity = "strong"
		}
		if stuck {
			check.Activity, check.Note = "none", "no gas since yesterday; warmed it and fed it"
		}
		d.write(cellarPhone, pick(d, hand, hand, distiller), check)
		if day < c.days && !(stuck && day > c.days-3) || stuck && day < c.days+6 {
			l.check(c, f, mash, start, day+1, delivered)
			return
		}
		d.write(cellarPhone, distiller, &book.FermentFinished{Vessel: f, PH: check.PH, Temp: check.Temp, Sweetness: check.Sweetness})
		l.queue(func() { l.run(c, f, delivered*c.yield/100) })
	})
}

// stuckNow reports whether this is the autumn's stuck ferment.
func (d *diary) stuckNow(c *crop) bool {
	return c.variety == "Quince" && d.now.Year() == 2025 && d.now.Month() == time.November && d.now.Day() > 12
}

// milligrams is a weight in grams as the stock counts it.
func milligrams(grams float64) int64 { return int64(grams * 1000) }
