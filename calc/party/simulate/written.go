package simulate

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fill"
	"gaugebook/calc/quantity"
)

// A Book is a party as its phones wrote it down.
type Book struct {
	Book    *book.Book
	Run     book.Address
	Closing book.BottlingClosed // what the run would be closed with
	Away    []*book.Entry       // counts on a phone that has not come back
}

// A writer is the phones of a party with what each has written.
type writer struct {
	b       *book.Book
	chance  *rand.Rand
	seq     map[string]uint64
	now     time.Time
	written []arriving
}

// An arriving is an entry and when it reaches the others: a phone without a
// network keeps what it writes.
type arriving struct {
	entry *book.Entry
	at    time.Time
}

// phones name the devices; the first is the host's, who opens and counts goods.
func phone(i int) string { return fmt.Sprintf("rook%02d", 11+i) }

// tell writes an entry that everybody has at once.
func (w *writer) tell(device string, body book.Body) book.Address {
	e := w.entry(device, w.now, body)
	w.b.Add(e)
	return e.Address()
}

func (w *writer) entry(device string, when time.Time, body book.Body) *book.Entry {
	w.seq[device]++
	w.now = w.now.Add(time.Second)
	k := book.KindOf(body)
	moment := book.MomentAt(when.UnixMilli(), when.Format(time.RFC3339))
	return &book.Entry{ID: fmt.Sprintf("%s-%d", device, w.seq[device]), Device: device, Seq: w.seq[device], Clock: fmt.Sprintf("%012x-%04x", when.UnixMilli(), 0),
		Written: moment, Happened: moment, By: "TV", Kind: k.Name, Version: k.Version, Body: body, Raw: book.Encode(body)}
}

// Write makes a book of a party: a house, a run opened on its tank, dry goods
// issued by lots, the counts of every phone one by one, goods brought back. Each
// phone loses the network for a while; what it counted meanwhile comes late and
// behind what others wrote after it. A count that was never sent is in Away.
func Write(m Made, seed uint64) Book {
	w := &writer{b: book.New(), chance: rand.New(rand.NewPCG(seed, 27)), seq: map[string]uint64{}, now: time.Date(2026, 9, 12, 9, 0, 0, 0, time.UTC)}
	host := phone(0)
	celsius := func(x float64) quantity.Reading { return reading(x, 1, quantity.Celsius) }
	base := celsius(20)
	w.tell(host, &book.BookOpened{Name: "Hollow Alder", Convention: book.Metric})
	half := m.Before.HalfWidth()
	tank := w.tell(host, &book.VesselRegistered{Name: "Bottling tank", Use: book.BottlingTank, Capacity: quantity.MustParse("9000", quantity.Litre), DipHalf: half})
	w.tell(host, &book.TankCalibrated{Vessel: tank, Rows: []book.TankRow{{Dip: quantity.MustParse("0", quantity.Centimetre), Volume: quantity.MustParse("0", quantity.Litre)},
		{Dip: quantity.MustParse("600", quantity.Centimetre), Volume: reading(600*m.PerCM.Base(), 1, quantity.Litre)}}})
	w.tell(host, &book.SpiritReceived{Vessel: tank, Gauge: book.Gauge{Volume: bare(m.Before), VolumeTemp: base, Strength: m.Tank}, Reason: "on hand at opening", Class: book.Brandy, Account: book.Processing})

	// A volume as it was read: brought to the base in the head, or with the
	// temperature of the tank and as much larger as that makes it.
	gauge := book.Gauge{Volume: bare(m.Before), VolumeTemp: base, Temp: celsius(m.warm), Strength: m.Tank}
	if m.Expansion.Value == 0 {
		x, err := fill.Expansion(m.Before, celsius(m.warm), m.Tank, fill.At20C)
		if err != nil {
			panic(err)
		}
		gauge.Volume = reading(m.Before.Base()/(1-x.In(quantity.Litre).Value/m.Before.Base()), 3, quantity.Litre)
		gauge.VolumeTemp = celsius(m.warm)
	}
	run := w.tell(host, &book.BottlingOpened{Tank: tank, Gauge: gauge, Bottle: m.Party.Size, PerCase: m.PerCase, Label: m.Tank, LotCode: "26I12"})
	lots := w.issue(m, host, run)
	for range 5 { // the mean as the checks find it
		w.tell(host, &book.FillChecked{Bottling: run, Bottles: []book.BottleFound{{Volume: bare(m.Filled)}}, Gauge: book.Gauge{Strength: m.Bottled}})
	}
	out := Book{Book: w.b, Run: run}
	out.Away = w.count(m, run)
	for i, g := range m.Goods {
		if g.Returned > 0 {
			w.tell(host, &book.GoodsReturned{Lot: lots[i][0], Amount: book.Amount{Pieces: g.Returned}, Bottling: run})
		}
		if g.Spoiled > 0 {
			w.tell(host, &book.GoodsSpoiled{Lot: lots[i][0], Amount: book.Amount{Pieces: g.Spoiled}, Bottling: run, Reason: "dirty"})
		}
	}
	out.Closing = book.BottlingClosed{Bottling: run, Gauge: book.Gauge{Volume: bare(m.After), VolumeTemp: base}, Samples: reading(1000*m.Samples.Base(), 0, quantity.Millilitre), Spilled: m.Spill}
	if m.After.Base() == 0 {
		out.Closing.Gauge, out.Closing.Empty = book.Gauge{}, true
	}
	return out
}

// bare is a reading as it was typed, without the doubt that its instrument adds.
func bare(r quantity.Reading) quantity.Reading { return quantity.FromDecimal(r.Decimal(), r.Unit()) }

var kinds = map[string]string{"glass": "bottle", "closures": "closure", "labels": "label", "seals": "seal", "cartons": "carton", "other cartons": "carton"}

// issue draws every good, what needs two packs and more from two deliveries.
func (w *writer) issue(m Made, host string, run book.Address) (lots [][]book.Address) {
	for _, g := range m.Goods {
		good := w.tell(host, &book.GoodsRegistered{Name: g.Name, Type: kinds[g.Name], Measured: book.InPieces, PerUnit: g.Pack, Fits: g.Sets})
		parts := []int64{g.Issued}
		if g.Issued >= 2*g.Pack {
			parts = []int64{g.Issued - g.Pack, g.Pack}
		}
		var of []book.Address
		for _, n := range parts {
			lot := w.tell(host, &book.GoodsReceived{Good: good, Amount: book.Amount{Pieces: n}})
			w.tell(host, &book.GoodsIssued{Lot: lot, Amount: book.Amount{Pieces: n}, Bottling: run})
			of = append(of, lot)
		}
		lots = append(lots, of)
	}
	return lots
}

// count lets every phone count what passes it, through gaps of the network.
func (w *writer) count(m Made, run book.Address) (away []*book.Entry) {
	start := w.now
	for i, t := range m.Tallies {
		device := phone(i + 2)
		for left := t.Bottles; left > 0; {
			n := min(left, int64(20+w.chance.IntN(60)))
			left -= n
			w.later(device, start, &book.BottlesCounted{Bottling: run, Station: book.Station(t.At), Loose: n})
		}
		if string(t.At) == m.Subject && m.away > 0 {
			away = append(away, w.entry(device, start.Add(3*time.Hour), &book.BottlesCounted{Bottling: run, Station: book.Station(t.At), Loose: m.away}))
		}
	}
	casing, second := phone(1), phone(8)
	for left, twice := m.Cases, m.Planted == fill.PalletMore; left > 0; {
		n := int64(1)
		if left >= m.Pallet {
			n = m.Pallet
		}
		left -= n
		device := casing
		if twice && n == m.Pallet { // the pallet beside the door, by a second phone
			device, twice = second, false
		}
		w.later(device, start, &book.BottlesCounted{Bottling: run, Station: "case", Cases: n})
	}
	if m.Loose > 0 {
		w.later(casing, start, &book.BottlesCounted{Bottling: run, Station: "case", Loose: m.Loose})
	}
	if m.away > 0 && len(away) == 0 {
		away = append(away, w.entry(second, start.Add(3*time.Hour), &book.BottlesCounted{Bottling: run, Station: "case", Cases: m.away}))
	}
	for _, x := range m.Spoils {
		w.later(casing, start, &book.BottlesSpoiled{Bottling: run, Station: book.Station(x.At), Reason: "broken", Bottles: x.Bottles, PouredBack: x.PouredBack})
	}
	slices.SortStableFunc(w.written, func(a, b arriving) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.entry.Seq, b.entry.Seq)) })
	for _, a := range w.written {
		w.b.Add(a.entry)
	}
	w.now = start.Add(8 * time.Hour)
	return away
}

// later writes an entry in the course of the party. For a third of the time a
// phone has no network; then it comes at the next half hour.
func (w *writer) later(device string, start time.Time, body book.Body) {
	when := start.Add(time.Duration(w.seq[device]) * 2 * time.Minute)
	at := when
	if w.chance.IntN(3) == 0 {
		at = when.Truncate(30 * time.Minute).Add(30 * time.Minute)
	}
	w.written = append(w.written, arriving{w.entry(device, when, body), at})
}
