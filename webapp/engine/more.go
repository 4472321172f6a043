package engine

import (
	"encoding/json"
	"errors"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
)

// more is what the whole engine answers beyond the pocket engine, but for its
// calls and views, which stand among the others.
type more struct {
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

// figured is whether only the whole engine works out a body's figure.
func figured(body book.Body) bool {
	switch body.(type) {
	case *book.DeliveryReceived, *book.PriceNoted, *book.MaterialPrepared, *book.MashMade, *book.AdditionMade, *book.LaboratoryResultReceived, *book.InfusionBegun, *book.InfusionDrained, *book.SugarAdded, *book.SolidsMeasured, *book.SpiritFiltered, *book.BottlingOpened, *book.FillChecked:
		return true
	}
	return false
}
