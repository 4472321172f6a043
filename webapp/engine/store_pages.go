package engine

import "gaugebook/calc/book"

// storeOf is what the spirit store's pages are asked for.
type storeOf struct {
	Trial  book.Address `json:"trial"`
	Target string       `json:"target"` // how much is wanted, as typed
	Tank   book.Address `json:"tank"`
	About  book.Address `json:"about"`  // a vessel or a lot
	Pasted string       `json:"pasted"` // a tank's table, as it was copied
}

// storePages are the views of the spirit store by name.
func storePages() map[string]viewing {
	return map[string]viewing{
		"trials":        func(e *Engine, _ viewOf) (any, error) { return e.bench(), nil },
		"barrels":       func(e *Engine, in viewOf) (any, error) { return e.barrelStore(in.Barrel), nil },
		"barrel":        func(e *Engine, in viewOf) (any, error) { return e.oneBarrel(in.Vessel, in.Barrel) },
		"barrel labels": func(e *Engine, in viewOf) (any, error) { return e.barrelLabels(in.Barrel), nil },
		"scale":         func(e *Engine, in viewOf) (any, error) { return e.scaleUp(in.storeOf) },
		"laboratory":    func(e *Engine, in viewOf) (any, error) { return e.laboratory(in.About), nil },
		"tanks":         func(e *Engine, in viewOf) (any, error) { return e.tanks(in.Vessel), nil },
		"dip rows":      func(e *Engine, in viewOf) (any, error) { return e.dipRows(in.Pasted) },
	}
}
