//go:build !pocket

package engine

import (
	"maps"

	"gaugebook/calc/book"
)

// New is the whole engine with an empty book.
func New(outside Outside) *Engine {
	e := NewPocket(outside)
	maps.Copy(e.calls, map[string]answering{
		"countable": with((*Engine).countable),
		"qr":        with((*Engine).qr),
		"csv":       with((*Engine).csv),
	})
	for _, pages := range []map[string]viewing{roomPages(), officePages(), storePages(), closePages()} {
		maps.Copy(e.views, pages)
	}
	e.more = &more{
		form: func(e *Engine, kind string) (form, bool) {
			if c, ok := calculation(kind); ok {
				return e.calculatorForm(c), true
			}
			if p, ok := plans(kind); ok {
				return e.planForm(kind, p), true
			}
			return form{}, false
		},
		preview: func(e *Engine, in typed) (preview, bool, error) {
			if c, ok := calculation(in.Kind); ok {
				out, err := e.calculate(c, in.Body)
				return out, true, err
			}
			if p, ok := plans(in.Kind); ok {
				var out preview
				p.work(e, in.Body, &out)
				return out, true, nil
			}
			return preview{}, false, nil
		},
		closing: (*Engine).closing,
		result:  (*Engine).workedOut,
	}
	return e
}

// roomPages are the views of the other rooms by name.
func roomPages() map[string]viewing {
	return map[string]viewing{
		"yard":       func(e *Engine, _ viewOf) (any, error) { return e.yard(), nil },
		"mash":       func(e *Engine, _ viewOf) (any, error) { return e.mashRoom(), nil },
		"store":      func(e *Engine, _ viewOf) (any, error) { return e.spiritStore(), nil },
		"reductions": func(e *Engine, _ viewOf) (any, error) { return e.reductions(), nil },
		"sweeten":    func(e *Engine, in viewOf) (any, error) { return e.sweeten(in.Vessel), nil },
		"occupancy":  func(e *Engine, _ viewOf) (any, error) { return e.occupancy(), nil },
		"bottling":   func(e *Engine, in viewOf) (any, error) { return e.bottlingFloor(in.Run), nil },
		"manual":     func(e *Engine, in viewOf) (any, error) { return e.manual(in.Room), nil },
		"fill":       func(e *Engine, in viewOf) (any, error) { return e.fillPage(in.Run), nil },
		"run":        func(e *Engine, in viewOf) (any, error) { return e.runPage(in.Run), nil },
	}
}

// workedOut is the figure that a body of the other rooms is written for, nil where
// there is none (yet).
func (e *Engine) workedOut(body book.Body) *result {
	switch b := body.(type) {
	case *book.DeliveryReceived:
		return e.delivered(b)
	case *book.PriceNoted:
		return e.priced(b)
	case *book.MaterialPrepared:
		return e.prepared(b)
	case *book.MashMade:
		return e.mashed(b)
	case *book.AdditionMade:
		return e.added(b)
	case *book.LaboratoryResultReceived:
		return e.tested(b)
	case *book.InfusionBegun:
		return e.steeped(b)
	case *book.InfusionDrained:
		return e.drained(b)
	case *book.SugarAdded:
		return e.sugared(b)
	case *book.SolidsMeasured:
		return e.dissolved(b)
	case *book.SpiritFiltered:
		return e.filtered(b)
	case *book.BottlingOpened:
		return e.opening(b)
	case *book.FillChecked:
		return e.filled(b)
	}
	return nil
}
