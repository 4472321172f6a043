package engine

import (
	"encoding/json"
	"errors"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
)

// more is what the whole engine answers beyond the pocket engine.
type more struct {
	calls   map[string]func(*Engine, []byte) (any, error)
	views   map[string]func(*Engine, viewOf) (any, error)
	form    func(*Engine, string) (form, bool)
	preview func(*Engine, typed) (preview, bool, error)
	closing func(*Engine, json.RawMessage) (book.Body, fault.List)
	result  func(*Engine, book.Body) *result
}

var errElsewhere = errors.New("engine: the whole engine answers this")

// elsewhere is the pocket engine's answer to what only the whole engine knows.
type elsewhere struct {
	Elsewhere bool `json:"elsewhere"`
}

// calculator marks a form that is one of package reckon's calculations, keeps
// nothing and shows the same answer as gaugebook calc: "calc strike".
const calculator = "calc "

// beyond is whether only the whole engine knows a kind's form.
func (e *Engine) beyond(kind string) bool {
	return e.more == nil && (kind == monthClosed || strings.HasPrefix(kind, calculator) || strings.HasPrefix(kind, planned))
}

func (e *Engine) farther(name string) (func(*Engine, []byte) (any, error), bool) {
	if e.more == nil {
		return func(*Engine, []byte) (any, error) { return nil, errElsewhere }, true
	}
	call, ok := e.more.calls[name]
	return call, ok
}

// figured is whether only the whole engine works out a body's figure.
func figured(body book.Body) bool {
	switch body.(type) {
	case *book.DeliveryReceived, *book.PriceNoted, *book.MaterialPrepared, *book.MashMade, *book.AdditionMade, *book.LaboratoryResultReceived, *book.InfusionBegun, *book.InfusionDrained, *book.SugarAdded, *book.SolidsMeasured, *book.SpiritFiltered, *book.BottlingOpened, *book.FillChecked:
		return true
	}
	return false
}
