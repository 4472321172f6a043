package demo

import (
	"fmt"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// house is what is registered, by address.
type house struct {
	lines       []*line
	products    map[string]book.Address
	suppliers   map[string]book.Address
	goods       map[string]book.Address
	goodsLots   map[string]book.Address // the newest lot of each good
	thermometer book.Address
	hydrometers [3]book.Address // low, middle, high
	refractor   book.Address
	phMeter     book.Address
}

// A line is one still with what belongs to it.
type line struct {
	d           *diary
	name        string // "" for the first
	still       book.Address
	fermenters  []book.Address
	busy        map[book.Address]bool
	receivers   map[book.Fraction]book.Address
	feints      book.Address
	neutral     book.Address
	resting     map[string]book.Address // product -> tank
	barrels     []book.Address
	filled      map[book.Address]string    // barrel -> product
	since       map[book.Address]time.Time // barrel -> when it was filled; zero before the book
	bottling    book.Address
	steeping    book.Address
	stock       []*cased // bottled lots with bottles left
	bottlingNow bool     // the bottling tank is taken
	running     bool     // the still is taken
	waiting     []func() // runs that wait for it
	lots        int      // raw material taken in, for names
}

type cased struct {
	lot     book.Address
	product string
}

// A spirit is a product as the house makes it.
type bottled struct {
	name   string
	class  book.SpiritClass
	label  float64 // proof
	bottle string
	per    int64
}

var spirits = []bottled{
	{"Quince Brandy", book.Brandy, 80, "750mL", 12},
	{"Damson Brandy", book.Brandy, 84, "375mL", 12},
	{"Barrelled Apple Brandy", book.Brandy, 90, "750mL", 6},
	{"Ridge Rye Whisky", book.Whisky, 92, "750mL", 6},
	{"Juniper Gin", book.Gin, 88, "750mL", 12},
	{"Dark Molasses Spirit", book.Rum, 86, "750mL", 12},
	{"Blackcurrant Liqueur", book.Other, 44, "375mL", 12},
	{"Quince Highball", book.Other, 14, "355mL", 24},
}

// furnish registers the house and plans its life.
func (d *diary) furnish(lines int) {
	office := func(b book.Body) book.Address { return d.write(officePhone, owner, b) }
	office(&book.BookOpened{Name: "Hollow Alder", Convention: book.US, Plant: "DSP-XX-99999"})
	for _, p := range []book.PersonRegistered{
		{Name: "Marta Quillby", Initials: owner, Duty: "owner"}, {Name: "Ivo Brackenmoor", Initials: distiller, Duty: "distiller"},
		{Name: "Senna Orchardlow", Initials: hand, Duty: "cellar hand"}, {Name: "Tib Vanewright", Initials: helper, Duty: "counter"},
	} {
		office(&p)
	}
	instrument := func(name, kind, basis, correction, half string) book.Address {
		return office(&book.InstrumentRegistered{Name: name, Type: kind, Basis: basis, Correction: figure(correction), HalfWidth: figure(half),
			Checked: "2025-04-14", CheckEvery: figure("365d"), Certificate: "HA-" + name})
	}
	d.thermometer = instrument("T1", "thermometer", "", "0.05F", "0.25F")
	d.hydrometers = [3]book.Address{instrument("H1, 0 to 100", "hydrometer", "60F", "0.1proof", "0.25proof"),
		instrument("H2, 95 to 155", "hydrometer", "60F", "-0.05proof", "0.1proof"), instrument("H3, 145 to 206", "hydrometer", "60F", "-0.03proof", "0.1proof")}
	d.refractor = instrument("R1", "refractometer", "20C", "", "0.1Bx")
	d.phMeter = instrument("P1", "pH meter", "", "", "0.02pH")
	d.products = map[string]book.Address{}
	for _, s := range spirits {
		d.products[s.name] = office(&book.ProductRegistered{Name: s.name, Class: s.class, Strength: q(s.label, 0, quantity.Proof),
			Bottle: figure(s.bottle), PerCase: s.per, Formula: "", Approval: fmt.Sprintf("HA-%03d", 100+len(d.products))})
	}
	d.suppliers = map[string]book.Address{}
	for _, s := range [][2]string{{"Upper Fold Orchard", "the north slope"}, {"Sallowfield Growers", "the valley"}, {"Millrace Grain", "the plain"},
		{"Harbour Sugar Stores", "the port"}, {"Clearkiln Glass", "the works"}, {"Tallow Lane Print", "the town"}} {
		d.suppliers[s[0]] = office(&book.SupplierRegistered{Name: s[0], Place: s[1]})
	}
	d.furnishGoods(office)
	for i := range lines {
		d.lines = append(d.lines, d.furnishLine(i, office))
	}
	d.pass(60)
	for _, l := range d.lines {
		l.plan()
	}
	d.planOffice()
}

var goodsKept = []book.GoodsRegistered{
	{Name: "Tall 750 clear", Type: "bottle", Measured: book.InPieces, Reorder: 1500, PerUnit: 1260},
	{Name: "Slim 375 clear", Type: "bottle", Measured: book.InPieces, Reorder: 900, PerUnit: 1680},
	{Name: "Can 355", Type: "can", Measured: book.InPieces, Reorder: 2000, PerUnit: 3112},
	{Name: "Bar-top cork", Type: "closure", Measured: book.InPieces, Reorder: 2000, PerUnit: 1000},
	{Name: "Front label", Type: "label", Measured: book.InPieces, Reorder: 1000, PerUnit: 250},
	{Name: "Neck seal", Type: "seal", Measured: book.InPieces, Reorder: 1000, PerUnit: 500},
	{Name: "Carton", Type: "carton", Measured: book.InPieces, Reorder: 150, PerUnit: 25},
	{Name: "Fruit yeast", Type: "yeast", Measured: book.ByWeight, Reorder: 2},
	{Name: "Pectic enzyme", Type: "enzyme", Measured: book.ByWeight, Reorder: 1},
	{Name: "Yeast nutrient", Type: "nutrient", Measured: book.ByWeight, Reorder: 2},
}

func (d *diary) furnishGoods(office func(book.Body) book.Address) {
	d.goods, d.goodsLots = map[string]book.Address{}, map[string]book.Address{}
	for _, g := range goodsKept {
		d.goods[g.Name] = office(&g)
	}
	for _, g := range goodsKept {
		d.restock(g.Name, false)
	}
}

// restock brings a delivery of a good; a short one lacks a layer of the pallet.
func (d *diary) restock(name string, short bool) {
	g := d.b.State().Good(d.goods[name])
	in := &book.GoodsReceived{Good: d.goods[name], Supplier: d.suppliers["Clearkiln Glass"], Document: fmt.Sprintf("N%d", 4000+len(d.entries))}
	switch g.Measured {
	case book.InPieces:
		in.Pieces = 8 * g.PerUnit
		if in.Pieces < 4000 {
			in.Pieces = (4000/g.PerUnit + 1) * g.PerUnit
		}
		if short {
			in.Pieces -= 168
		}
		in.Price = q(float64(in.Pieces)*0.31, 2, quantity.Dollar)
	default:
		in.Weight = figure("10kg")
		in.Price = figure("180USD")
	}
	d.goodsLots[name] = d.write(officePhone, owner, in)
}

func (d *diary) furnishLine(i int, office func(book.Body) book.Address) *line {
	l := &line{d: d, busy: map[book.Address]bool{}, receivers: map[book.Fraction]book.Address{}, resting: map[string]book.Address{}, filled: map[book.Address]string{}, since: map[book.Address]time.Time{}}
	if i > 0 {
		l.name = fmt.Sprintf("%d/", i+1)
	}
	vessel := func(name string, use book.VesselUse, capacity string, more ...func(*book.VesselRegistered)) book.Address {
		v := &book.VesselRegistered{Name: l.name + name, Use: use, Capacity: figure(capacity), DipHalf: q(figure(capacity).Float()/800, 2, quantity.Gallon)}
		for _, m := range more {
			m(v)
		}
		return office(v)
	}
	l.still = vessel("Copper pot", book.Still, "160gal")
	for n := range 6 {
		l.fermenters = append(l.fermenters, vessel(fmt.Sprintf("Fermenter %d", n+1), book.Fermenter, "190gal"))
	}
	l.receivers[book.Heads] = vessel("Heads can", book.Receiver, "10gal")
	l.receivers[book.Hearts] = vessel("Hearts receiver", book.Receiver, "60gal")
	l.receivers[book.Tails] = vessel("Tails receiver", book.Receiver, "60gal")
	l.feints = vessel("Feints tank", book.Tank, "250gal")
	l.neutral = vessel("Neutral spirit tank", book.Tank, "300gal")
	for n, s := range spirits {
		l.resting[s.name] = vessel(fmt.Sprintf("Tank %d", n+1), book.Tank, "320gal")
	}
	l.steeping = vessel("Steeping tank", book.Tank, "120gal")
	l.bottling = vessel("Bottling tank", book.BottlingTank, "320gal")
	office(&book.TankCalibrated{Vessel: l.bottling, Rows: []book.TankRow{{Dip: figure("0cm"), Volume: figure("0gal")}, {Dip: figure("150cm"), Volume: figure("315gal")}}, Source: "filled by meter, ten pails at a time"})
	for n := range 25 {
		l.barrels = append(l.barrels, vessel(fmt.Sprintf("Barrel %02d", n+1), book.Barrel, "15gal", func(v *book.VesselRegistered) {
			v.Cooperage, v.Serial, v.Tare = "charred new", fmt.Sprintf("C%d%03d", i+1, n+1), q(d.about(41, 0.03), 0, quantity.Pound)
			v.Wood, v.Char = "American oak", "char 3"
			if n >= 12 {
				v.Cooperage, v.Wood, v.Char, v.Fills = "reused", "French oak", "medium toast", int64(1+n%2)
			}
			v.Location, v.Row, v.Tier = "Long store", string(rune('A'+n/6)), fmt.Sprint(n%3+1)
		}))
	}
	return l
}

// figure reads a figure written in this package.
func figure(s string) (r quantity.Reading) {
	if err := r.UnmarshalText([]byte(s)); err != nil {
		panic(err)
	}
	return r
}
