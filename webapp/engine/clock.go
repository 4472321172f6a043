package engine

import (
	"fmt"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

type clockOff struct {
	Chain    exchange.Chain `json:"chain"`
	After    int64          `json:"after"`     // the last entry that is known to bear the right time, or marked
	OffsetMS int64          `json:"offset_ms"` // the office's clock minus the phone's
	Written  record.Stamp   `json:"written"`   // the phone's clock now
}

type marking struct {
	Kind     string         `json:"kind"`
	Body     map[string]any `json:"body"`
	Happened record.Stamp   `json:"happened"` // by the office's clock
}

// clock makes the entry that marks what a phone wrote while its clock was not
// the office's. It is sealed and saved like any other.
func (e *Engine) clock(in clockOff) (any, error) {
	off, way := time.Duration(in.OffsetMS)*time.Millisecond, "behind"
	if off < 0 {
		off, way = -off, "ahead"
	}
	figure := fmt.Sprintf("%.0fd", off.Hours()/24)
	switch {
	case off < 2*time.Hour:
		figure = fmt.Sprintf("%.0fmin", off.Minutes())
	case off < 48*time.Hour:
		figure = fmt.Sprintf("%.1fh", off.Hours())
	}
	return marking{"clock doubted", map[string]any{"off": figure, "way": way, "first": in.After + 1, "last": in.Chain.Seq},
		record.StampOf(in.Written.Time().Add(time.Duration(in.OffsetMS) * time.Millisecond))}, nil
}
