package engine

import (
	"gaugebook/calc/book"
)

// isStill offers stills, and says which one is running.
func isStill(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Use != book.Still || v.Retired != "" {
		return "", false
	}
	label := v.Name + ", takes " + e.litresText(v.Capacity.Base())
	for _, r := range e.book.State().Runs {
		if r.Running() && r.Still == a {
			return label + ", a run goes on in it", true
		}
	}
	return label, true
}

// holdsCharge offers what can be charged: mash, and spirit to be distilled
// again.
func holdsCharge(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Content.Empty() {
		return "", false
	}
	c := &v.Content
	if c.Material.Fermenting() {
		label := v.Name + ", " + e.litresText(c.Litres20()) + " of " + string(c.Material)
		if mashes := e.book.State().Fermenting(a); len(mashes) > 0 {
			label += ", " + e.lotsIn(mashes)
		}
		return label, true
	}
	if !c.Material.Accounted() || c.Alcohol <= 0 || c.Material == book.Sweet {
		return "", false
	}
	return v.Name + ", " + e.volumeText(c) + " of " + string(c.Material) + ", " + e.strengthText(c.Strength()), true
}

// receives offers what spirit may run into.
func receives(e *Engine, a book.Address) (string, bool) {
	v := e.book.State().Vessel(a)
	if v == nil || v.Retired != "" || v.Use == book.Still || v.Use == book.Fermenter || v.Content.Material.Fermenting() {
		return "", false
	}
	if v.Content.Empty() {
		return v.Name + ", empty, takes " + e.litresText(v.Capacity.Base()), true
	}
	return v.Name + ", holds " + e.volumeText(&v.Content) + " of " + string(v.Content.Material), true
}
