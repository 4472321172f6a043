package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

// A gaugeSheet is a gauge as a paper of its own.
type gaugeSheet struct {
	Title string  `json:"title"`
	House string  `json:"house"`
	Facts *facts  `json:"facts"`
	Steps *result `json:"steps"`
}

// cooperageCodes are the marks for how a package is made (27 CFR 19.618).
var cooperageCodes = map[string]string{"charred new": "C", "recharred": "REC", "plain new": "P", "reused": "R", "paraffined": "PAR"}

// gaugeSheet is the gauge record of an entry (27 CFR 19.618), nil where it
// gauged nothing: what the section asks for, as far as the book knows it, with
// the working of its figures.
func (e *Engine) gaugeSheet(a book.Address, body book.Body) *gaugeSheet {
	s := e.book.State()
	gauges := s.Gauges()
	at := slices.IndexFunc(gauges, func(g book.GaugeLine) bool { return g.Entry == a })
	if at < 0 {
		return nil
	}
	g := gauges[at]
	house := s.House()
	out := &gaugeSheet{Title: "Gauge record " + string(a), House: joinedWords(house.Name, house.Plant), Facts: &facts{Title: "Gauge record (27 CFR 19.618)", Lines: []pair{}}}
	add := func(label, value string) {
		if value != "" {
			out.Facts.Lines = append(out.Facts.Lines, pair{label, value})
		}
	}
	add("Serial", string(a))
	add("Date", g.On.Day()+" "+g.On.Clock())
	reason, related := e.gaugeReason(body)
	add("Reason", reason)
	add("Related record", related)
	v := s.Vessel(g.Vessel)
	lots := e.gaugedLots(a, v)
	var kinds, proofs, names []string
	for _, l := range lots {
		if k := string(l.Class); k != "" && !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
		if l.Proof > 0 {
			if p := quantity.Fixed(l.Proof, 1); !slices.Contains(proofs, p) {
				proofs = append(proofs, p)
			}
		}
		names = append(names, string(l.Address))
	}
	add("Kind of spirits", strings.Join(kinds, ", "))
	add("Proof of distillation", fewOf(proofs))
	add("Lots", fewOf(names))
	if v != nil {
		container := joinedWords(string(v.Use)+" "+v.Name, v.Serial)
		if code := cooperageCodes[v.Cooperage]; code != "" {
			container += ", cooperage " + code
		}
		add("Container", container)
		if v.Gauge.Entry == a {
			if age, ok := s.Youngest(g.Vessel, g.On); ok {
				add("Age in wood, of the youngest", fmt.Sprintf("%d y %d m %d d", age.Years, age.Months, age.Spare))
			}
		}
	}
	add("Proprietor", out.House)
	f := g.Figures
	for _, p := range e.says(body) {
		switch p.Label {
		case "Volume as read", "Temperature of the volume", "Gross weight", "Tare", "Net weight", "Hydrometer reads", "at a temperature of", "Hydrometer", "Thermometer", "True strength":
			add("Read: "+strings.ToLower(p.Label[:1])+p.Label[1:], p.Value)
		}
	}
	add("Proof", proofText(f.Strength))
	add("% vol at 20 °C", abvText(f.Strength))
	add("Wine gallons at 60 °F", f.Legal.WineGallons.StringFixed(2))
	add("Litres at 20 °C", quantity.Fixed(f.Volume20C.Value, 2))
	add("Proof gallons", f.Legal.ProofGallons.StringFixed(1))
	add("Litres of pure alcohol", quantity.Fixed(f.PureAlcohol.Value, 2))
	out.Steps = &result{Label: "Proof gallons", Figure: f.Legal.ProofGallons.StringFixed(1), Unit: "PG", Steps: f.Working(), Beside: []pair{}}
	if e.metric() {
		out.Facts.Title = "Gauge record"
		out.Steps.Label, out.Steps.Figure, out.Steps.Unit = "Pure alcohol", quantity.Fixed(f.PureAlcohol.Value, 2), "L"
	}
	return out
}

// fewOf are words on a line, and how many more there are.
func fewOf(words []string) string {
	const few = 6
	if more := len(words) - few; more > 0 {
		return strings.Join(words[:few], ", ") + fmt.Sprintf(" and %d more", more)
	}
	return strings.Join(words, ", ")
}

// gaugeReason is why something was gauged, in the section's words where the
// entry is one of its cases, and what it belongs to.
func (e *Engine) gaugeReason(body book.Body) (reason, related string) {
	switch b := body.(type) {
	case *book.ReceiverGauged:
		return "production gauge, and entry in " + cmp.Or(string(b.Account), "production"), "run " + string(b.Run)
	case *book.SpiritMoved:
		from := "from " + string(b.From)
		if v := e.book.State().Vessel(b.From); v != nil {
			from = "from " + v.Name
		}
		switch b.Purpose {
		case "redistilling":
			return "back to production for redistilling", from
		case "fill a barrel":
			return "packages filled from a storage tank", from
		}
		return "moved: " + cmp.Or(b.Purpose, "from one container to another"), from
	case *book.SpiritReceived:
		return "received: " + b.Reason, ""
	case *book.BottlingOpened:
		return "bottling tank gauge", "this bottling"
	case *book.BottlingClosed:
		return "bottling tank, at the end", "bottling " + string(b.Bottling)
	}
	return book.KindOf(body).Name, ""
}

// gaugedLots are the lots that an entry gauged: the one it began, those it
// moved, or those the vessel holds since.
func (e *Engine) gaugedLots(a book.Address, v *book.Vessel) []*book.Lot {
	s := e.book.State()
	var out []*book.Lot
	add := func(lot book.Address) {
		if l := s.Lot(lot); l != nil && !slices.Contains(out, l) {
			out = append(out, l)
		}
	}
	if add(a); len(out) > 0 {
		return out
	}
	postings := s.Postings()
	for i := range postings {
		if postings[i].Entry == a {
			add(postings[i].Lot)
		}
	}
	if len(out) == 0 && v != nil && v.Gauge.Entry == a {
		for _, x := range s.Composition(v.Address) {
			add(x.Lot)
		}
	}
	return out
}
