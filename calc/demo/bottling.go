package demo

import (
	"fmt"
	"slices"
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
	opened := &book.BottlingOpened{Product: d.products[s.name], Tank: tank, Gauge: l.gauge(tank), LotCode: d.lotCode()}
	run := d.write(officePhone, distiller, opened)
	state := d.b.State()
	expected, _ := state.Expected(state.Bottling(run))
	bottles := int64(expected * d.about(0.991, 0.004))
	drawn := l.drawGoods(s, run, bottles)
	l.checkFill(s, run)
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
	l.checkFill(s, run)
	d.pass(25)
	closing := l.lineClear(run, drawn)
	d.write(officePhone, distiller, closing)
	l.stock = append(l.stock, &cased{run, s.name})
	l.bottlingNow = false
}

// lotCode is the regulator's for a lot filled on one day: the year, a letter
// for the month, the day, and a letter from the second lot of the day on (27 CFR
// 19.485, read in a copy of June 2026).
func (d *diary) lotCode() string {
	day := fmt.Sprintf("%s%c%02d", d.now.Format("06"), 'A'+int(d.now.Month())-1, d.now.Day())
	d.filled[day]++
	if n := d.filled[day]; n > 1 {
		day += string(rune('A' + n - 2))
	}
	return day
}

// checkFill weighs four bottles off the line and reads their strength.
func (l *line) checkFill(s bottled, run book.Address) {
	d := l.d
	check := &book.FillChecked{Bottling: run, Gauge: book.Gauge{Strength: q(s.label, 1, quantity.Proof)}}
	for range 4 {
		check.Bottles = append(check.Bottles, book.BottleFound{Volume: q(figure(s.bottle).Base()*1000*(1.0008+0.0015*d.party.NormFloat64()), 1, quantity.Millilitre)})
	}
	d.write(officePhone, distiller, check)
}

var bottleOf = map[string]string{"750mL": "Tall 750 clear", "375mL": "Slim 375 clear", "355mL": "Can 355"}

// A draw is a good at the line: the lot it was drawn from, and the station that
// uses it.
type draw struct {
	name string
	lot  book.Address
	n    int64
	at   book.Station
}

// drawGoods issues what the run needs, a little more than it will use.
func (l *line) drawGoods(s bottled, run book.Address, bottles int64) (out []draw) {
	d := l.d
	for _, g := range []draw{{name: bottleOf[s.bottle], at: "fill"}, {name: "Bar-top cork", at: "close"}, {name: "Front label", at: "label"}, {name: "Neck seal", at: "seal"}, {name: "Carton", at: "case"}} {
		g.n = bottles + 24
		if g.name == "Carton" {
			g.n = bottles/s.per + 2
		}
		if wrong := mishaps[d.bottlings+1]; wrong.good == g.name && wrong.gone > 24 { // it was there to be lost
			g.n += wrong.gone
		}
		if d.b.State().GoodsLot(d.goodsLots[g.name]).OnHand() < g.n {
			d.restock(g.name, false)
		}
		g.lot = d.goodsLots[g.name]
		d.write(officePhone, hand, &book.GoodsIssued{Lot: g.lot, Amount: book.Amount{Pieces: g.n}, Bottling: run})
		out = append(out, g)
	}
	return out
}

// mishaps are what was wrong at the close of some runs and what was accepted as
// the reason; the others agree.
var mishaps = map[int]struct {
	good  string // of which so many pieces are gone
	gone  int64
	cause book.Cause
	note  string
}{
	3:  {"Neck seal", 3, book.InTheLine, "Three seals torn at the shrinker were swept up before anybody wrote them."},
	7:  {"Front label", 250, book.InTheLine, "A started roll was carried off with the waste: written off, the seals and corks agree."},
	9:  {"", 0, book.Measurement, "The heel read in poor light; dipped again with the lamp, and taken so."},
	12: {"Bar-top cork", 2, book.Unexplained, "Two bottles of the first dozen were tasted and not written."},
	15: {"Carton", 1, book.InTheLine, "One carton went out with the samples."},
}

// lineClear counts what is left at the line and measures the heel: what bottles
// took at their station or before is used, a few labels are spoiled, the rest
// comes back.
func (l *line) lineClear(run book.Address, drawn []draw) *book.BottlingClosed {
	d := l.d
	r := d.b.State().Bottling(run)
	d.bottlings++
	wrong, any := mishaps[d.bottlings]
	closing := &book.BottlingClosed{Bottling: run, Empty: true, Samples: figure("200mL"), Cause: book.InTheLine}
	if any {
		closing.Cause, closing.Note = wrong.cause, wrong.note
	}
	for _, g := range drawn {
		used := usedAt(r, g.at)
		if g.at == "case" {
			used = r.Good() / r.PerCase // loose bottles take no carton
		}
		back := g.n - used
		if g.name == wrong.good {
			back -= wrong.gone
		}
		if spoiled := min(int64(d.party.IntN(5)), back); g.at == "label" && spoiled > 0 {
			d.write(officePhone, hand, &book.GoodsSpoiled{Lot: g.lot, Amount: book.Amount{Pieces: spoiled}, Bottling: run, Reason: "misprinted"})
			back -= spoiled
		}
		if back > 0 {
			d.write(officePhone, hand, &book.GoodsReturned{Lot: g.lot, Amount: book.Amount{Pieces: back}, Bottling: run})
		}
	}
	return closing
}

// usedAt is how many bottles had a station's good put on them.
func usedAt(r *book.Bottling, at book.Station) int64 {
	n := r.Good()
	stations := book.Stations()
	for _, s := range r.Spoils {
		if slices.Index(stations, s.Station) >= slices.Index(stations, at) {
			n += s.Bottles
		}
	}
	return n
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
