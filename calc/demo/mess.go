package demo

import (
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// planMess plans what went wrong in the eighteen months; the leak and the stuck
// ferment are told where they happen.
func (d *diary) planMess() {
	when := func(year int, m time.Month, day, hour int, do func()) {
		if at := time.Date(year, m, day, hour, 7, 0, 0, zone); at.After(d.now) {
			d.at(at, do)
		}
	}
	when(2025, time.June, 18, 9, d.mistypedProof)
	when(2025, time.August, 6, 9, func() { d.restock("Tall 750 clear", true); d.countGlass() })
	when(2025, time.October, 2, 14, d.trial)
	when(2026, time.January, 29, 11, d.laboratory)
	when(2026, time.May, 5, 13, d.recall)
	when(2025, time.December, 3, 10, d.oneMoveTwice)
	when(2025, time.October, 10, 6, func() { d.leave(cellarPhone) })
	when(2025, time.October, 19, 6, d.comeBack)
	when(2026, time.June, 9, 16, d.checkInstruments)
}

// mistypedProof is a gauge typed wrong, and amended the next day.
func (d *diary) mistypedProof() {
	l := d.lines[0]
	tank := l.neutral
	if d.b.State().Vessel(tank).Content.Empty() {
		return
	}
	right := l.gauge(tank)
	wrong := right
	wrong.Strength = q(right.Strength.Float()-9, 1, quantity.Proof)
	gauge := &book.SpiritGauged{Vessel: tank, Gauge: wrong}
	address := d.write(cellarPhone, hand, gauge)
	d.in(1, 8, func() {
		d.write(officePhone, owner, &book.EntryAmended{Entry: address, Why: "the proof was typed nine too low; the slip at the tank has it right", Version: 1,
			Body: book.Inner(book.Encode(&book.SpiritGauged{Vessel: tank, Gauge: right}))})
	})
}

// countGlass finds the short pallet.
func (d *diary) countGlass() {
	d.pass(180)
	lot := d.goodsLots["Tall 750 clear"]
	d.write(cellarPhone, hand, &book.GoodsCounted{Lot: lot, Amount: book.Amount{Pieces: d.b.State().GoodsLot(lot).OnHand() - 168}, Note: "two layers are missing from the last pallet"})
	d.in(2, 10, func() {
		for _, q := range d.b.State().Questions() {
			if q.Kind == book.CountDisagrees && q.Answer == "" {
				d.write(officePhone, owner, &book.GoodsAdjusted{Lot: lot, Why: "the works shipped two layers short and credits them"})
				d.write(officePhone, owner, &book.QuestionSettled{Question: q.ID, Answer: "corrected", Why: "the works shipped two layers short and credits them"})
			}
		}
	})
}

// trial is a bench trial of the gin, tasted blind by three.
func (d *diary) trial() {
	l := d.lines[0]
	for i, peel := range []string{"4g", "9g"} {
		trial := d.write(officePhone, distiller, &book.TrialMade{Name: []string{"Glass north", "Glass south"}[i], Product: d.products["Juniper Gin"], Tasters: 3,
			Parts: []book.TrialPart{{What: "gin", Vessel: l.resting["Juniper Gin"], Weight: figure("400g")}, {What: "peel", Weight: figure(peel)}}})
		for _, who := range []string{owner, distiller, hand} {
			d.pass(5)
			d.write(officePhone, who, &book.TrialScored{Trial: trial, Taster: who, Nose: int64(d.whole(4, 9)), Palate: int64(d.whole(4, 9)), Whole: int64(d.whole(4, 9))})
		}
	}
}

// laboratory is a result for the damson brandy, and a sample kept of it.
func (d *diary) laboratory() {
	tank := d.lines[0].resting["Damson Brandy"]
	if d.b.State().Vessel(tank).Content.Empty() {
		return
	}
	d.write(cellarPhone, hand, &book.SampleTaken{Vessel: tank, Volume: figure("250mL"), Purpose: "laboratory", Where: "Bellweather Assay"})
	d.in(9, 10, func() {
		d.write(officePhone, owner, &book.LaboratoryResultReceived{Vessel: tank, MadeOf: "plum", Laboratory: "Bellweather Assay", Document: "BA-311", Methanol: figure("8.4g/L"), EthylCarbamate: figure("0.31mg/L"), Copper: figure("1.9mg/L")})
	})
}

// recall is a mock recall of the first bottling.
func (d *diary) recall() {
	for lot := range d.b.State().Bottlings {
		d.write(officePhone, owner, &book.RecallTried{Lot: lot, Took: figure("11min"), Outcome: "every case found on paper"})
		return
	}
}

// oneMoveTwice is a move that two phones logged.
func (d *diary) oneMoveTwice() {
	l := d.lines[0]
	from, to := l.feints, l.resting["Quince Highball"]
	if d.b.State().Vessel(from).Content.Litres20() < 60 {
		return
	}
	move := &book.SpiritMoved{From: from, To: to, Purpose: "move", Gauge: book.Gauge{Volume: figure("9gal"), VolumeTemp: figure("62F")}}
	d.write(cellarPhone, hand, move)
	d.pass(6)
	d.tell(stillPhone, distiller, d.now, move)
	d.in(2, 9, func() { d.write(cellarPhone, hand, &book.SpiritMoved{From: to, To: from, Purpose: "move"}) })
}

func (d *diary) checkInstruments() {
	d.write(officePhone, owner, &book.InstrumentChecked{Instrument: d.thermometer, Found: "fit", Against: "ice water and the certified one"})
}
