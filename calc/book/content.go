package book

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// An Alcohol is a quantity of ethanol in steps of 0.0001 US proof gallon. A
// proof gallon is a fixed mass of ethanol (half a wine gallon of it at 60 °F),
// so litres of pure alcohol are a constant times it, and whole steps add up
// exactly on every machine.
type Alcohol int64

// A Mass is a quantity of material in milligrams.
type Mass int64

// A Millilitres is a volume of mash or other stuff whose mass is not followed.
type Millilitres int64

// A Part is a share of a content that came from one lot.
type Part struct {
	Lot    Address // "" where the book does not know
	Wood   int32   // days in wood before it came into this vessel
	Amount int64   // Alcohol where it is accounted, Millilitres of fermenting stuff, Mass of raw material
}

// A Material is what kind of stuff a vessel holds.
type Material string

// The materials.
const (
	Nothing  Material = ""
	Juice    Material = "juice"
	Mash     Material = "mash"
	Heads    Material = "heads"
	Hearts   Material = "hearts"
	Tails    Material = "tails"
	LowWines Material = "low wines"
	Spirit   Material = "spirit"
	Sweet    Material = "sweetened spirit"

	Fruit      Material = "fruit"
	Grain      Material = "grain"
	Molasses   Material = "molasses"
	Sugars     Material = "sugar"
	Botanicals Material = "botanicals"
	DryGoods   Material = "dry goods"
)

// Accounted reports whether the alcohol in the material stands in an account:
// raw and fermenting stuff does not, everything that came over the still does.
func (m Material) Accounted() bool {
	switch m {
	case Heads, Hearts, Tails, LowWines, Spirit, Sweet:
		return true
	}
	return false
}

// Fermenting reports whether the material is on its way to the still.
func (m Material) Fermenting() bool { return m == Mash || m == Juice }

// Raw reports whether the material comes through the gate, to be weighed there.
func (m Material) Raw() bool {
	switch m {
	case Fruit, Grain, Molasses, Sugars, Botanicals:
		return true
	}
	return false
}

// A Content is what a vessel holds: exact integers that are only ever divided
// and added, so nothing is lost or made on the way. Volume and strength are
// worked out from mass and alcohol where they are shown.
type Content struct {
	Material Material
	Account  Account // of its alcohol; "" for fermenting stuff
	Mass     Mass
	Alcohol  Alcohol
	Volume   Millilitres // of fermenting stuff
	Solids   Mass        // dissolved: sugar, extract
	Parts    []Part      // in the order of lot and wood; amounts sum to Alcohol, or to Volume
	Since    Moment      // when it last changed: the start of its rest
	Wooded   int64       // up to when, in ms, its time in this vessel's wood stands in its parts
	Doubt    float64     // standard uncertainty of Alcohol, in its steps
}

// Empty reports whether nothing is in it.
func (c *Content) Empty() bool {
	return c.Mass == 0 && c.Alcohol == 0 && c.Volume == 0 && len(c.Parts) == 0
}

// amount is what the parts add up to.
func (c *Content) amount() int64 {
	if c.Material.Accounted() {
		return int64(c.Alcohol)
	}
	return int64(c.Volume)
}

// portion is n of whole parts of amount, to the nearest step (halves away from
// zero), in exact integers.
func portion(amount, n, whole int64) int64 {
	if whole == 0 {
		return 0
	}
	neg := (amount < 0) != (n < 0) != (whole < 0)
	hi, lo := bits.Mul64(abs(amount), abs(n))
	w := abs(whole)
	lo, carry := bits.Add64(lo, w/2, 0)
	hi += carry
	q, _ := bits.Div64(hi%w, lo, w) // amounts of a house keep hi below w; the modulus keeps a forged entry from stopping the fold
	if neg {
		return -int64(q)
	}
	return int64(q)
}

func abs(n int64) uint64 {
	if n < 0 {
		return uint64(-n)
	}
	return uint64(n)
}

// share divides parts so that the taken amounts add up to exactly want: each
// gets its portion, and the steps left by rounding go to the largest parts.
func share(parts []Part, want int64) []Part {
	var whole int64
	for _, p := range parts {
		whole += p.Amount
	}
	if whole == 0 {
		if want == 0 {
			return nil
		}
		return []Part{{Amount: want}}
	}
	out := make([]Part, len(parts))
	left := want
	for i, p := range parts {
		out[i] = p
		out[i].Amount = portion(p.Amount, want, whole)
		left -= out[i].Amount
	}
	for i := 0; left != 0; i = (i + 1) % len(out) {
		step := int64(1)
		if left < 0 {
			step = -1
		}
		out[i].Amount += step
		left -= step
	}
	return slices.DeleteFunc(out, func(p Part) bool { return p.Amount == 0 })
}

func compareParts(a, b Part) int {
	return cmp.Or(cmp.Compare(a.Lot, b.Lot), cmp.Compare(a.Wood, b.Wood))
}

// addParts merges parts, subtracting where sign is -1; what comes to zero goes.
func addParts(into, parts []Part, sign int64) []Part {
	out := slices.Clone(into)
	for _, p := range parts {
		p.Amount *= sign
		i, found := slices.BinarySearchFunc(out, p, compareParts)
		if !found {
			out = slices.Insert(out, i, p)
			continue
		}
		out[i].Amount += p.Amount
	}
	return slices.DeleteFunc(out, func(p Part) bool { return p.Amount == 0 })
}

// A Measure is an amount of liquid, as gauged or as divided off.
type Measure struct {
	Mass    Mass
	Alcohol Alcohol
	Volume  Millilitres // of fermenting stuff
	Solids  Mass
	Doubt   float64 // standard uncertainty of Alcohol
}

// all is everything the content holds.
func (c *Content) all() Measure {
	return Measure{c.Mass, c.Alcohol, c.Volume, c.Solids, c.Doubt}
}

// fraction is the part of the content that has this mass.
func (c *Content) fraction(m Mass) Measure {
	return Measure{
		Mass:    m,
		Alcohol: Alcohol(portion(int64(c.Alcohol), int64(m), int64(c.Mass))),
		Solids:  Mass(portion(int64(c.Solids), int64(m), int64(c.Mass))),
		Doubt:   c.Doubt * float64(m) / float64(max(c.Mass, 1)),
	}
}

// account makes an accounted content of whatever it is, in account a where it
// stood in none. Fermenting stuff that meets spirit only thins it, at the weight
// of water, for its own alcohol was never gauged.
func (c *Content) account(a Account) {
	if c.Material.Accounted() {
		return
	}
	c.Mass += Mass(c.Volume) * 1000
	c.Material, c.Account, c.Volume, c.Parts = Spirit, a, 0, nil
}

// draw takes a measure out of the content and returns it as a content of its
// own. What the content cannot cover is taken all the same and comes from a lot
// the book does not know, leaving the content below zero by as much.
func (c *Content) draw(m Measure, at Moment) Content {
	if m.Alcohol != 0 {
		c.account(Storage)
	}
	want := int64(m.Alcohol)
	if !c.Material.Accounted() {
		want = int64(m.Volume)
	}
	covered := min(want, max(c.amount(), 0))
	if covered > 0 && !c.overdrawn(m) {
		covered = want // a little more than the book has, within the measuring error: of the same lots
	}
	taken := share(c.Parts, covered)
	if over := want - covered; over > 0 {
		taken = addParts(taken, []Part{{Amount: over}}, 1)
	}
	out := Content{Material: c.Material, Account: c.Account, Mass: m.Mass, Alcohol: m.Alcohol, Volume: m.Volume, Solids: m.Solids,
		Parts: taken, Since: at, Doubt: m.Doubt}
	c.Mass -= m.Mass
	c.Alcohol -= m.Alcohol
	c.Volume -= m.Volume
	c.Solids -= m.Solids
	c.Parts = addParts(c.Parts, taken, -1)
	c.Since = at
	if c.Empty() {
		*c = Content{}
	}
	return out
}

// overdrawn reports whether a measure is more than the content holds, by more
// than the measuring error of both.
func (c *Content) overdrawn(m Measure) bool {
	if c.Material.Accounted() {
		return m.Alcohol > 0 && float64(m.Alcohol-c.Alcohol) > 2*math.Hypot(m.Doubt, c.Doubt)+halfLegalStep
	}
	return m.Volume > 0 && m.Volume > c.Volume+c.Volume/50
}

// halfLegalStep is half of 0.1 proof gallon: what the legal rounding hides.
const halfLegalStep = 500

// pour adds what was drawn elsewhere. A content takes the material and the
// account of what comes into an empty vessel; mixing hearts into spirit makes
// spirit.
func (c *Content) pour(in Content, at Moment) {
	if c.Empty() {
		in.Since = at
		*c = in
		return
	}
	if c.Material.Accounted() != in.Material.Accounted() {
		in.account(c.Account)
		c.account(in.Account)
	}
	if c.Material != in.Material {
		c.Material = mixed(c.Material, in.Material)
	}
	c.Mass += in.Mass
	c.Alcohol += in.Alcohol
	c.Volume += in.Volume
	c.Solids += in.Solids
	c.Parts = addParts(c.Parts, in.Parts, 1)
	c.Doubt = math.Hypot(c.Doubt, in.Doubt)
	c.Since = at
	if c.Empty() {
		*c = Content{}
	}
}

func mixed(a, b Material) Material {
	switch {
	case a == Sweet || b == Sweet:
		return Sweet
	case a == Mash || b == Mash || a == Juice || b == Juice:
		return Mash
	case a == Heads && b == Tails || a == Tails && b == Heads:
		return LowWines
	}
	return Spirit
}
