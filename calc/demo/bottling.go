package demo

import (
	"fmt"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
)

// bottleSomething bottles the product that has waited most, every three weeks.
func (l *line) bottleSomething() {
	d := l.d
	defer d.in(d.whole(19, 27), 8, l.bottleSomething)
	if l.bottlingNow {
		return
	}
	var best spiritStock
	for _, s := range spirits {
		if s.name == "Quince Highball" || s.name == "Blackcurrant Liqueur" && d.now.Month() < time.September {
			continue
		}
		held := d.b.State().Vessel(l.resting[s.name]).Content
		pg := held.Alcohol.ProofGallons()
		if s.name == "Ridge Rye Whisky" || s.name == "Barrelled Apple Brandy" {
			pg = l.ripe(s.name)
		}
		if pg > best.pg {
			best = spiritStock{s, pg}
		}
	}
	if best.pg > 6 {
		l.bottle(best.bottled)
	}
}

type spiritStock struct {
	bottled
	pg float64
}

// ripe is what the barrels of a product hold that are old enough.
func (l *line) ripe(product string) float64 {
	var pg float64
	for _, b := range l.old(product) {
		pg += l.d.b.State().Vessel(b).Content.Alcohol.ProofGallons()
	}
	return pg
}

// old lists at most three barrels of a product that were filled before the
// book was opened, or a year ago.
func (l *line) old(product string) (out []book.Address) {
	for _, b := range l.barrels {
		if l.filled[b] == product && len(out) < 3 && l.since[b].Before(l.d.now.AddDate(-1, 0, 0)) {
			out = append(out, b)
		}
	}
	return out
}

func (l *line) bottle(s bottled) {
	d := l.d
	tank := l.bottling
	l.bottlingNow = true
	if barrels := l.old(s.name); len(barrels) > 0 {
		for _, b := range barrels {
			d.write(cellarPhone, hand, &book.SpiritMoved{From: b, To: tank, Purpose: "dump", Account: book.Processing})
			l.filled[b] = ""
			d.pass(15)
		}
	} else {
		d.write(cellarPhone, hand, &book.SpiritMoved{From: l.resting[s.name], To: tank, Purpose: "bottling", Account: book.Processing})
	}
	if s.name != "Blackcurrant Liqueur" {
		l.reduceTo(tank, s.label+10)
		d.pass(600)
		l.reduceTo(tank, s.label)
	}
	d.in(3, 8, func() { l.line(s) })
}

// line is the day on the bottling floor.
func (l *line) line(s bottled) {
	d := l.d
	tank := l.bottling
	g := l.gauge(tank)
	filtered := g
	filtered.Volume = q(g.Volume.Float()*d.about(0.996, 0.001), 1, quantity.Gallon)
	if s.name != "Blackcurrant Liqueur" {
		d.write(cellarPhone, distiller, &book.SpiritFiltered{Vessel: tank, Way: "sheets", Chill: figure("30F"), Gauge: filtered})
	}
	d.pass(45)
	opened := &book.BottlingOpened{Product: d.products[s.name], Tank: tank, Gauge: l.gauge(tank), LotCode: fmt.Sprintf("HA%s%02d", d.now.Format("06002"), len(d.entries)%97)}
	run := d.write(officePhone, distiller, opened)
	state := d.b.State()
	expected, _ := state.Expected(state.Bottling(run))
	bottles := int64(expected * d.about(0.991, 0.004))
	l.drawGoods(s, run, bottles)
	d.write(officePhone, distiller, &book.FillChecked{Bottling: run, Bottles: []book.BottleFound{{Volume: q(figure(s.bottle).Base()*1000*1.001, 1, quantity.Millilitre)}, {Volume: q(figure(s.bottle).Base()*1000*0.999, 1, quantity.Millilitre)}}})
	left := bottles
	for left >= s.per {
		d.pass(d.whole(6, 11))
		device, by := partyPhone, helper
		cases := min(int64(1), left/s.per)
		d.write(device, by, &book.BottlesCounted{Bottling: run, Station: "case", Cases: cases})
		left -= cases * s.per
		if d.rnd.IntN(14) == 0 {
			d.write(device, by, &book.BottlesSpoiled{Bottling: run, Station: pick[book.Station](d, "fill", "close", "label"), Reason: pick(d, "broken", "low fill", "label", "closure"), Bottles: 1, PouredBack: false})
			left--
		}
	}
	if left > 0 {
		d.write(partyPhone, helper, &book.BottlesCounted{Bottling: run, Station: "case", Loose: left})
	}
	d.pass(25)
	d.write(officePhone, distiller, &book.BottlingClosed{Bottling: run, Empty: true, Samples: figure("200mL"), Cause: book.InTheLine})
	l.stock = append(l.stock, &cased{run, s.name})
	l.returnGoods(s, run)
	l.bottlingNow = false
}

var bottleOf = map[string]string{"750mL": "Tall 750 clear", "375mL": "Slim 375 clear", "355mL": "Can 355"}

// drawGoods issues what the run needs, a little more than it will use.
func (l *line) drawGoods(s bottled, run book.Address, bottles int64) {
	d := l.d
	for _, name := range []string{bottleOf[s.bottle], "Bar-top cork", "Front label", "Neck seal", "Carton"} {
		n := bottles + 24
		if name == "Carton" {
			n = bottles/s.per + 2
		}
		if d.b.State().GoodsLot(d.goodsLots[name]).OnHand() < n {
			d.restock(name, false)
		}
		d.write(officePhone, hand, &book.GoodsIssued{Lot: d.goodsLots[name], Amount: book.Amount{Pieces: n}, Bottling: run})
	}
}

// returnGoods brings back what was not used.
func (l *line) returnGoods(s bottled, run book.Address) {
	d := l.d
	b := d.b.State().Bottling(run)
	spoiled, _ := b.Spoiled()
	for _, name := range []string{bottleOf[s.bottle], "Front label"} {
		d.write(officePhone, hand, &book.GoodsReturned{Lot: d.goodsLots[name], Amount: book.Amount{Pieces: 24 - min(spoiled, 20)}, Bottling: run})
	}
}

// planOffice plans sales, samples and the closing of months.
func (d *diary) planOffice() {
	d.in(2, 11, d.sell)
	d.at(time.Date(d.now.Year(), d.now.Month()+1, 12, 16, 0, 0, 0, zone), d.closeMonth)
	d.planMess()
}

// sell is a day of sales: cases to shops, bottles in the tasting room.
func (d *diary) sell() {
	defer d.in(d.whole(1, 3), 11+d.rnd.IntN(5), d.sell)
	l := d.lines[d.rnd.IntN(len(d.lines))]
	for n, c := range l.stock {
		lot := d.b.State().Bottling(c.lot)
		if lot.Left() < 3 {
			l.stock = append(l.stock[:n:n], l.stock[n+1:]...)
			return
		}
	}
	if len(l.stock) == 0 {
		return
	}
	c := l.stock[d.rnd.IntN(len(l.stock))]
	lot := d.b.State().Bottling(c.lot)
	out := &book.CasesRemoved{Bottling: c.lot, Purpose: "tasting room", Loose: min(int64(d.whole(1, 5)), lot.Left())}
	switch r := d.rnd.IntN(20); {
	case r < 9 && lot.Left() >= 2*lot.PerCase:
		out.Purpose, out.Loose, out.Cases = "sale", 0, int64(d.whole(1, int(min(4, lot.Left()/lot.PerCase))))
		out.To, out.Document = pick(d, "Larkfield Stores", "The Long Room", "Aldergate Wines", "Hollin & Sedge"), fmt.Sprintf("INV-%d", 2000+len(d.entries))
	case r == 9:
		out.Purpose, out.Loose = "sample", 1
	case r == 10:
		out.Purpose, out.Loose = "broken", 1
	}
	d.write(officePhone, owner, out)
}

// closeMonth closes the month before.
func (d *diary) closeMonth() {
	month := d.now.AddDate(0, -1, 0).Format("2006-01")
	d.write(officePhone, owner, report.Close(d.b.State(), month, "checked against the sheets"))
	for _, form := range []string{"5110.40", "5110.11", "5110.28"} {
		d.write(officePhone, owner, &book.ReportFiled{Form: form, Month: month, Way: "online"})
	}
	if m := d.now.Month(); m == time.January || m == time.April || m == time.July || m == time.October {
		for _, a := range []book.Account{book.Production, book.Storage, book.Processing} {
			d.write(officePhone, owner, &book.InventoryTaken{Account: a, Taken: book.Day(d.now.AddDate(0, 0, -11).Format(time.DateOnly)), By: "M. Quillby", Title: "owner", Signed: true})
		}
	}
	d.at(time.Date(d.now.Year(), d.now.Month()+1, 12, 16, 0, 0, 0, zone), d.closeMonth)
}
