package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// Store is a store of so many barrels, fifty in a row and on three tiers, on
// hand when the book was opened and regauged twice. It is for measuring how a
// large store is looked at.
func Store(barrels int) []Entry {
	d := &diary{b: book.New(), seq: map[string]uint64{}, kept: map[string][]Entry{}, rnd: rand.New(rand.NewPCG(7, 53)), now: time.Date(2025, 5, 1, 7, 0, 0, 0, zone)}
	d.write(officePhone, owner, &book.BookOpened{Name: "Hollow Alder", Convention: book.US, Plant: "DSP-XX-99999"})
	var all []book.Address
	for n := range barrels {
		all = append(all, d.write(officePhone, owner, &book.VesselRegistered{Name: fmt.Sprintf("Barrel %04d", n+1), Use: book.Barrel, Capacity: figure("53gal"), Tare: figure("110lb"), Serial: fmt.Sprintf("C%05d", n+1),
			Wood: "American oak", Char: "char 3", Cooperage: "charred new", Location: "Long store", Row: fmt.Sprint(n/50 + 1), Tier: fmt.Sprint(n%3 + 1)}))
	}
	for n, b := range all {
		product := spirits[2+n%2]
		d.write(cellarPhone, hand, &book.SpiritReceived{Vessel: b, Reason: "on hand at opening", Class: product.class, Account: book.Storage, Name: product.name,
			Gauge: book.Gauge{Net: q(d.about(396, 0.01), 1, quantity.Pound), Strength: figure("124.0proof")}})
	}
	for range 2 {
		d.now = d.now.AddDate(0, 7, 0)
		for _, b := range all {
			c := &d.b.State().Vessel(b).Content
			left := math.Round(2*c.Mass.Kilograms()/0.45359237*d.about(0.975, 0.006)) / 2
			d.write(cellarPhone, hand, &book.SpiritGauged{Vessel: b, Cause: book.Evaporation,
				Gauge: book.Gauge{Net: q(left, 1, quantity.Pound), Strength: q(c.Strength().Proof()+d.about(0.4, 0.5), 1, quantity.Proof)}})
		}
	}
	return d.entries
}
