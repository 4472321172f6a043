package engine

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/book"
)

// A pick says whether a form's list offers an address, and in which words.
type pick func(e *Engine, a book.Address) (label string, offered bool)

// picks narrows the lists of a kind's form to what can sensibly be named there:
// what is on hand, what holds mash. A dot leads into the parts of a group.
var picks = map[string]map[string]pick{
	"delivery received":  {"samples.instrument": sugarInstrument},
	"material prepared":  {"lot": rawOnHand},
	"material discarded": {"lot": rawOnHand},
	"mash made":          {"fermenter": roomForMash, "parts.lot": rawOnHand, "instrument": sugarInstrument},
	"addition made":      {"vessel": holdsMash, "lot": forMashing},
	"mash measured":      {"vessel": holdsMash},
	"mash moved":         {"from": holdsMash, "to": roomForMash},
	"mash discarded":     {"vessel": holdsMash},
	"ferment checked":    {"vessel": holdsMash, "instrument": sugarInstrument},
	"packs made":         {"parts.bottling": packable, "goods.lot": countedGoods},
	"run started":        {"still": isStill, "charge.vessel": holdsCharge, "receiver": receives},
	"receiver changed":   {"receiver": receives},
	"receiver gauged":    {"vessel": receives},
	"spirit moved":       {"from": holdsAnything},
	"ferment finished":   {"vessel": holdsMash, "instrument": sugarInstrument},
	"price noted":        {"lot": wasBought},
	"tank calibrated":    {"vessel": isTank},
	"rest begun":         {"vessel": holdsSpirit},
	"trial made":         {"parts.vessel": holdsSpirit, "parts.lot": forTheGlass},
	"trial scored":       {"trial": waits},
	"trial opened":       {"trial": waits},

	planned + "blend":   {"parts.vessel": holdsSpirit, "into": takesSpirit},
	planned + "reduce":  {"vessel": holdsSpirit, "into": takesSpirit, "with": holdsSpirit},
	"reduction planned": {"vessel": holdsSpirit},
	"infusion begun":    {"vessel": holdsSpirit},
	"infusion drained":  {"vessel": holdsSpirit, "to": takesSpirit},
	"sugar added":       {"vessel": holdsSpirit},
	"solids measured":   {"vessel": holdsSpirit},
	"spirit filtered":   {"vessel": holdsSpirit, "to": takesSpirit},
}

// pricedApart are the kinds that came with a price before it was a kind of its own.
// Their forms no longer ask for it: it would reach phones that see no costs.
var pricedApart = []string{"delivery received", "goods received"}

// narrow applies the picks of a kind to its described fields.
func (e *Engine) narrow(kind string, fields []described) []described {
	if kind == "spirit gauged" && e.manyBarrels() > 0 { // thousands in one list help nobody
		for i := range fields {
			if f := &fields[i]; f.Key == "vessel" {
				f.Help = "Barrels are gauged on the page ‘Barrels’."
				f.Choices = e.picked(f.Choices, notABarrel)
			}
		}
	}
	if slices.Contains(pricedApart, kind) {
		fields = slices.DeleteFunc(fields, func(d described) bool { return d.Key == "price" })
	}
	for path, offers := range picks[kind] {
		key, inner, _ := strings.Cut(path, ".")
		for i := range fields {
			switch {
			case fields[i].Key != key:
			case inner == "":
				fields[i].Choices = e.picked(fields[i].Choices, offers)
			default:
				for j := range fields[i].Fields {
					if f := &fields[i].Fields[j]; f.Key == inner {
						f.Choices = e.picked(f.Choices, offers)
					}
				}
			}
		}
	}
	return withMarks(kind, fields)
}

func (e *Engine) picked(all []choice, offers pick) []choice {
	out := []choice{}
	for _, c := range all {
		if label, offered := offers(e, book.Address(c.Value)); offered {
			out = append(out, choice{c.Value, label})
		}
	}
	return out
}

// rawOnHand offers lots of raw material of which something is left.
func rawOnHand(e *Engine, a book.Address) (string, bool) {
	r := e.book.State().RawLot(a)
	if r == nil || r.OnHand <= 0 {
		return "", false
	}
	return capital(r.Variety) + ", " + e.massText(r.OnHand.Kilograms()) + ", came " + r.Came.Day(), true
}

// wasBought offers deliveries and lots of goods, those without a price said so.
func wasBought(e *Engine, a book.Address) (string, bool) {
	s := e.book.State()
	unpriced := func(none bool) string {
		if none {
			return ", no price yet"
		}
		return ""
	}
	if r := s.RawLot(a); r != nil {
		return capital(r.Variety) + ", " + e.massText(r.Net.Kilograms()) + ", came " + r.Came.Day() + unpriced(r.Price.IsNone()), true
	}
	if g := s.GoodsLot(a); g != nil {
		return g.Name + ", " + g.Measured.Show(g.Received) + ", came " + g.Came.Day() + unpriced(g.Price.IsNone()), true
	}
	return "", false
}

// forMashing offers lots of goods that go into a mash.
func forMashing(e *Engine, a book.Address) (string, bool) {
	s := e.book.State()
	g := s.GoodsLot(a)
	if g == nil || g.OnHand() <= 0 {
		return "", false
	}
	if good := s.Good(g.Good); good != nil && !slices.Contains([]string{"yeast", "enzyme", "acid", "nutrient", "sugar", "other"}, good.Type) {
		return "", false
	}
	return g.Name + ", " + g.Measured.Show(g.OnHand()) + ", came " + g.Came.Day(), true
}

// holdsMash offers vessels with something fermenting in them.
func holdsMash(e *Engine, a book.Address) (string, bool) {
	s := e.book.State()
	v, mashes := s.Vessel(a), s.Fermenting(a)
	if v == nil || len(mashes) == 0 {
		return "", false
	}
	return v.Name + ", " + e.mashName(mashes[0]), true
}

// notABarrel offers the vessels that are not listed with the barrels.
func notABarrel(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || isBarrel(v) {
		return "", false
	}
	return v.Name + ", " + string(v.Use), true
}

// holdsAnything offers vessels that something can be drawn from.
func holdsAnything(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Content.Empty() {
		return "", false
	}
	return v.Name + ", " + string(v.Content.Material), true
}

// roomForMash offers the vessels that mash may go into.
func roomForMash(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || !forMash(v) {
		return "", false
	}
	if v.Content.Empty() {
		return v.Name + ", empty, takes " + e.litresText(v.Capacity.Base()), true
	}
	return v.Name + ", room for " + e.litresText(max(0, v.Capacity.Base()-v.Content.Litres20())) + " more", true
}

// forMash reports whether mash may be put into a vessel.
func forMash(v *book.Vessel) bool {
	return v.Retired == "" && (v.Use == book.Fermenter || v.Use == book.PortableTotes) && !v.Content.Material.Accounted()
}

// sugarInstrument offers what reads sugar.
func sugarInstrument(e *Engine, a book.Address) (string, bool) {
	r := e.book.State().Registered(book.AnInstrument, a)
	if r == nil {
		return "", false
	}
	of := r.Body.(*book.InstrumentRegistered).Type
	return e.instrumentLabel(r) + ", " + of, of == "hydrometer" || of == "refractometer"
}

func (e *Engine) instrument(a book.Address) *book.InstrumentRegistered {
	if r := e.book.State().Registered(book.AnInstrument, a); r != nil {
		return r.Body.(*book.InstrumentRegistered)
	}
	return nil
}

// forTheGlass offers what may be mixed with spirit: raw material, and goods
// that are not counted in pieces.
func forTheGlass(e *Engine, a book.Address) (string, bool) {
	if g := e.book.State().GoodsLot(a); g != nil {
		return g.Name + ", came " + g.Came.Day(), g.OnHand() > 0 && g.Measured != book.InPieces
	}
	return rawOnHand(e, a)
}

// waits offers the trials that are not open yet.
func waits(e *Engine, a book.Address) (string, bool) {
	t := e.book.State().Trial(a)
	if t == nil || t.Complete() {
		return "", false
	}
	return t.Name + ", " + waitingFor(t), true
}

// isTank offers vessels that spirit stands in and that are no wood.
func isTank(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Retired != "" {
		return "", false
	}
	switch v.Use {
	case book.Tank, book.BottlingTank, book.Receiver, book.PortableTotes:
		return v.Name + ", takes " + v.Capacity.String(), true
	}
	return "", false
}

// marked are the kinds with marks from 1 to 10, which are tapped.
var marked = []string{"trial scored", "spirit tasted"}

// withMarks gives the fields of marks their words.
func withMarks(kind string, fields []described) []described {
	if !slices.Contains(marked, kind) {
		return fields
	}
	for i := range fields {
		if fields[i].Type == string(book.Count) {
			fields[i].Words = []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "10"}
		}
	}
	return fields
}

// packable offers lots of bottles of which some are in no pack.
func packable(e *Engine, a book.Address) (string, bool) {
	b := e.book.State().Bottling(a)
	if b == nil || b.Open() || b.Left() <= b.Packed {
		return "", false
	}
	return fmt.Sprintf("%s, %d bottles", joinedWords(b.Name, b.LotCode), b.Left()-b.Packed), true
}

// countedGoods offers lots of goods that are counted in pieces.
func countedGoods(e *Engine, a book.Address) (string, bool) {
	g := e.book.State().GoodsLot(a)
	if g == nil || g.OnHand() <= 0 || g.Measured != book.InPieces {
		return "", false
	}
	return g.Name + ", " + g.Measured.Show(g.OnHand()) + ", came " + g.Came.Day(), true
}
