package engine

import (
	"cmp"
	"encoding/json"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/role"
)

type standing struct {
	Role string `json:"role"` // as the office's register has it; empty before the first word from there
}

// The role of a phone decides what its page offers and what it seals, by the
// same table that the office holds it to.
type roleView struct {
	Kinds []string `json:"kinds"` // that it may write
	Rooms []string `json:"rooms"` // that it has a door to, by the page's keys
}

// doors are the page's keys of the rooms.
var doors = map[book.Room]string{
	book.Yard: "yard", book.MashRoom: "mash", book.FermentHall: "ferment", book.StillRoom: "still",
	book.SpiritStore: "store", book.BottlingFloor: "bottling", book.Office: "office",
}

// roleIs takes what the office says this phone is. Until it has said so the
// phone is taken for its owner's: what it writes is judged there in any case.
func (e *Engine) roleIs(in standing) (any, error) {
	if in.Role == "" {
		in.Role = string(role.Owner)
	}
	g, err := role.Parse(in.Role)
	if err != nil {
		return nil, err
	}
	e.grant = g
	out := roleView{Kinds: []string{}, Rooms: []string{}}
	for _, k := range book.Kinds() {
		if g.WritesKind(k.Name) {
			out.Kinds = append(out.Kinds, k.Name)
		}
	}
	for _, r := range book.Rooms() {
		if g.Role != role.Counter || r == book.BottlingFloor {
			out.Rooms = append(out.Rooms, doors[r])
		}
	}
	return out, nil
}

// withinRole is the fault of an entry that the phone's role does not cover. It
// is told before it is sealed; what was sealed is never refused.
func (e *Engine) withinRole(device string, kind *book.Kind, body []byte) error {
	if e.grant.Role == "" || e.grant.MayWrite(device, kind.Name, body) {
		return nil
	}
	return fault.Fault{Code: fault.Conflict, Field: "kind", Value: kind.Name, Limit: "is not what a phone of the role " + string(e.grant.Role) + " writes",
		Remedy: "have it written on a phone that may, or ask the owner for another role"}
}

// A countable run is one that a counter's phone may be given.
type countable struct {
	Run   book.Address   `json:"run"`
	Title string         `json:"title"`
	Named []book.Address `json:"named"` // what names it, which that phone sees as well
}

type countables struct {
	Runs []countable `json:"runs"`
}

// countable lists the bottlings that are open.
func (e *Engine) countable(struct{}) (any, error) {
	out := countables{Runs: []countable{}}
	for address, b := range e.book.State().Bottlings {
		if b.ClosedBy != "" {
			continue
		}
		c := countable{Run: address, Title: strings.TrimPrefix(b.Name+", "+string(address), ", "), Named: []book.Address{}}
		for _, a := range []book.Address{b.Product, b.Tank} {
			if a != "" {
				c.Named = append(c.Named, a)
			}
		}
		out.Runs = append(out.Runs, c)
	}
	return out, nil
}

// An aside is an entry that the office keeps aside, as its list gives it.
type aside struct {
	Address string          `json:"address"`
	Kind    string          `json:"kind"`
	V       int             `json:"v"`
	Body    json.RawMessage `json:"body"`
}

type shownAside struct {
	Says []pair `json:"says"` // what it says, in labels and words
	Left string `json:"left"` // who left it out, when and why; "" while it waits
}

// asides tells the owner what the entries kept aside say, in their order, and
// which of them the owner left out.
func (e *Engine) asides(list []aside) []shownAside {
	left := map[string]book.Declined{}
	for _, l := range e.book.State().Declined() {
		left[l.Entry] = l
	}
	out := make([]shownAside, len(list))
	for i, a := range list {
		if body, err := book.Decode(a.Kind, a.V, a.Body); err == nil && body != nil {
			out[i].Says = e.says(body)
		} else {
			out[i].Says = []pair{{"Content", string(a.Body)}} // of a later build
		}
		if l, ok := left[a.Address]; ok {
			out[i].Left = "Left out by " + cmp.Or(l.Sign, l.By.Device()) + " on " + l.On.Day() + " at " + l.On.Clock() + ": " + l.Why
		}
	}
	return out
}
