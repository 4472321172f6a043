package engine

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"gaugebook/calc/book"
)

// officeOf is what the office's pages are asked for.
type officeOf struct {
	Month  string       `json:"month"`
	Year   string       `json:"year"`
	Lot    book.Address `json:"lot"`    // or a vessel
	Figure string       `json:"figure"` // of a month: form.line.column
	Hour   string       `json:"hour"`   // what an hour costs, as typed
	Before string       `json:"before"` // proof gallons of the controlled group earlier in the year, as typed
}

// officePages are the views of the office by name.
func officePages() map[string]viewing {
	return map[string]viewing{
		"office":      func(e *Engine, in viewOf) (any, error) { return e.office(in.Day), nil },
		"month":       func(e *Engine, in viewOf) (any, error) { return e.month(in.Month) },
		"figure":      func(e *Engine, in viewOf) (any, error) { return e.figure(in.Month, in.Figure) },
		"month as":    func(e *Engine, in viewOf) (any, error) { return e.monthFiles(in.Month) },
		"tax":         func(e *Engine, in viewOf) (any, error) { return e.tax(in.Year, in.Before) },
		"trace":       func(e *Engine, in viewOf) (any, error) { return e.trace(in.Lot, in.Year) },
		"yield":       func(e *Engine, in viewOf) (any, error) { return e.yields(in.Year, in.Hour) },
		"registers":   func(e *Engine, _ viewOf) (any, error) { return e.registers(), nil },
		"seasons":     func(e *Engine, in viewOf) (any, error) { return e.seasons(in.Year) },
		"count":       func(e *Engine, _ viewOf) (any, error) { return e.countSheet(), nil },
		"vessel":      func(e *Engine, in viewOf) (any, error) { return e.vesselPage(in.Vessel) },
		"calendar":    func(e *Engine, _ viewOf) (any, error) { return e.calendar() },
		"asides":      func(e *Engine, in viewOf) (any, error) { return e.asides(in.Asides), nil },
		"instruments": func(e *Engine, _ viewOf) (any, error) { return e.instrumentRegister(), nil },
	}
}

// worksheet stands beside every report.
const worksheet = "Worksheet: the proprietor checks and files. Local codes and licensed practice rule."

type officeView struct {
	Wants   []roomWants `json:"wants"`
	Entries []block     `json:"entries"`
	Blocks  []block     `json:"blocks"`
	Before  string      `json:"before"` // the day before, and after
	After   string      `json:"after"`
}

// roomWants is what one room wants today.
type roomWants struct {
	Room  string `json:"room"`
	Wants []want `json:"wants"`
}

type want struct {
	Kind string `json:"kind"`
	Says string `json:"says"`
	On   string `json:"on"`
	Late bool   `json:"late"`
	Go   where  `json:"go"`
	Act  string `json:"act"` // what the button that goes there says
}

// A where is the place at which something is settled; what is not there is "".
type where struct {
	Room   string       `json:"room,omitempty"` // key of a room, with what it is to show
	About  string       `json:"about,omitempty"`
	Lot    book.Address `json:"lot,omitempty"`
	At     string       `json:"at,omitempty"`   // the page of a room that has pages
	Page   string       `json:"page,omitempty"` // of the office
	Month  string       `json:"month,omitempty"`
	Vessel book.Address `json:"vessel,omitempty"`
	Entry  book.Address `json:"entry,omitempty"`
}

func (e *Engine) office(day string) officeView {
	blocks := e.asked()
	if n := e.book.State().Incomplete() + e.unread; n > 0 {
		blocks = append(blocks, block{Questions: []question{{Kind: "newer entries", Text: fmt.Sprintf("%d entries are not understood by this build: every total may be short. They are kept; update the app.", n)}}})
	}
	out := officeView{Wants: e.wanted(), Entries: []block{{Table: e.dayTable(day)}}, Blocks: append(blocks, block{Table: e.vesselsTable(false)}, block{Facts: e.house()}), Before: day, After: day}
	if on, err := time.Parse(time.DateOnly, day); err == nil {
		out.Before, out.After = on.AddDate(0, 0, -1).Format(time.DateOnly), on.AddDate(0, 0, 1).Format(time.DateOnly)
	}
	return out
}

// wanted is what the building wants today, room by room as the material walks.
func (e *Engine) wanted() []roomWants {
	now := e.now()
	due := e.book.State().Overdue(now)
	out := []roomWants{}
	for _, room := range book.Rooms() {
		in := roomWants{Room: capital(string(room))}
		for _, d := range due {
			if d.Room == room {
				w := want{Kind: string(d.Kind), Says: d.Says, On: string(d.On), Late: string(d.On) < now.Day()}
				v := e.book.State().Vessel(d.About)
				w.Go, w.Act = settledAt(d, v != nil && v.Wooden())
				if i := slices.IndexFunc(in.Wants, func(x want) bool { return x.Go == w.Go && x.On == w.On && w.Go.Month != "" }); i >= 0 { // what one month wants stands together
					in.Wants[i].Says += " " + w.Says
					continue
				}
				in.Wants = append(in.Wants, w)
			}
		}
		if len(in.Wants) > 0 {
			out = append(out, in)
		}
	}
	return out
}

// settledAt is where a person does what is due.
func settledAt(d book.Due, wooden bool) (where, string) {
	switch d.Kind {
	case book.NotChecked:
		return where{Room: "ferment", About: "vessel", Lot: d.About}, "Check it"
	case book.RunOpen:
		return where{Room: "still", About: "run", Lot: d.About}, "Go to the run"
	case book.BottlingOpen:
		return where{Room: "bottling", About: "bottling", Lot: d.About}, "Go to the bottling"
	case book.RestOver:
		if wooden {
			return where{Room: "store", At: "barrels", About: "barrel", Lot: d.About}, "Taste it"
		}
		return where{Room: "store", At: "tanks", About: "tank", Lot: d.About}, "Taste it"
	case book.InfusionDue:
		return where{Room: "store", At: "sweeten"}, "Drain it"
	case book.StageDue:
		return where{Room: "store", At: "reduce"}, "Go on with it"
	case book.GoodsLow:
		return where{Room: "yard"}, "See the goods"
	case book.MonthOpen, book.ReportDue:
		return where{Page: "month", Month: monthBefore(string(d.On)[:7])}, "Open the month"
	case book.InventoryDue:
		return where{Page: "count"}, "Open the sheet"
	case book.InstrumentDue:
		return where{Page: "instruments", Entry: d.About}, "Write the check"
	}
	return where{Entry: d.About}, "Open the entry"
}

func (e *Engine) dayTable(day string) *table {
	t := &table{Title: "Entries of " + day, Empty: "Nothing was written for this day.", Rows: []row{}, Columns: []column{{Label: "Time"}, {Label: "What"}, {Label: "By"}}}
	for entry := range e.book.All {
		body, happened, void, by := e.book.Effective(entry)
		if happened.Day() != day {
			continue
		}
		r := row{Cells: []cell{{happened.Clock(), entry.Address()}, text(entry.Kind), text(entry.By)}, Struck: void, Note: string(entry.Address()) + ": " + e.gist(body)}
		switch {
		case !entry.Known():
			r.Note = string(entry.Address()) + ": written by a newer Gaugebook; this one keeps it and does not understand it"
		case void:
			r.Note = string(entry.Address()) + ": voided by " + string(by.Address())
		case by != nil:
			r.Note += "; amended by " + string(by.Address())
		}
		t.Rows = append(t.Rows, r)
	}
	slices.Reverse(t.Rows)
	return t
}

func (e *Engine) house() *facts {
	s := e.book.State()
	h := s.House()
	name := h.Name
	if name == "" {
		name = "not named yet"
	}
	convention := "US: proof at 60 °F, gallons, pounds"
	if e.metric() {
		convention = "metric: % vol at 20 °C, litres, kilograms"
	}
	return &facts{Title: "The house", Lines: []pair{{"Name", name}, {"Convention", convention},
		{"In production", alcoholBoth(s.Balance(book.Production))}, {"In storage", alcoholBoth(s.Balance(book.Storage))},
		{"In processing", alcoholBoth(s.Balance(book.Processing))}, {"Bottled", alcoholBoth(s.Balance(book.Finished))},
		{"Entries in the book", strconv.Itoa(s.Entries())}}}
}
