package role

import (
	"encoding/json"
	"slices"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
)

// A Role is what a phone is for.
type Role string

// The roles.
const (
	Owner      Role = "owner"
	Distiller  Role = "distiller"
	CellarHand Role = "cellar hand"
	Counter    Role = "counter"
	Reader     Role = "reader"
)

// Roles lists them, from the one who may most.
func Roles() []Role { return []Role{Owner, Distiller, CellarHand, Counter, Reader} }

// Says what the role is, for the person who gives it.
func (r Role) Says() string { return table[r].says }

// duties are what a role may do in whole rooms, and the kinds beside them.
type duties struct {
	says   string
	all    bool // sees every kind, also those of a later build
	writes []book.Room
	also   []string // kinds of other rooms that it writes
	sees   []book.Room
	hidden []string // kinds that it does not see, wherever they are written
}

var (
	atWork = []book.Room{book.Yard, book.MashRoom, book.FermentHall, book.StillRoom, book.SpiritStore, book.BottlingFloor}
	cellar = []book.Room{book.Yard, book.MashRoom, book.FermentHall, book.SpiritStore, book.BottlingFloor}
	// Money, the people outside and the papers to the government.
	business = []string{"cost noted", "price noted", "customer registered", "recall tried", "return filed", "report filed", "group share agreed", "grouping defined"}
	// What a counter writes of its run.
	counts = []string{"bottles counted", "bottles spoiled"}
	// What a phone writes of itself, whoever has it in hand.
	ofItself = []string{"clock doubted"}
)

// voided is how a counter takes back a count of its own.
const voided = "entry voided"

// table is read and never changed.
var table = map[Role]duties{
	Owner: {says: "everything", all: true, writes: book.Rooms()},
	Distiller: {says: "every room; no prices, costs, customers and returns", writes: atWork, sees: book.Rooms(), hidden: business,
		also: []string{"vessel registered", "instrument registered", "instrument checked", "entry amended", "entry voided", "question settled",
			"goods counted", "cases counted", "inventory taken"}},
	CellarHand: {says: "yard, mash, ferment, store and bottling; sees the still, no prices and costs", writes: cellar, sees: book.Rooms(), hidden: append([]string{"cases removed", "cases returned"}, business...),
		also: []string{"instrument checked", "entry amended", "entry voided"}},
	Counter: {says: "counts the bottles of one run and sees nothing else"},
	Reader:  {says: "reads, exports and verifies; writes nothing", all: true},
}

// A Grant is a role with its bounds.
type Grant struct {
	Role  Role
	Run   book.Address   // the counter's bottling run
	Named []book.Address // what names that run: its product, its tank
}

// Parse reads a grant as Text writes it.
func Parse(text string) (Grant, error) {
	g := Grant{Role: Role(text)}
	if rest, ok := strings.CutPrefix(text, string(Counter)+" "); ok {
		g.Role = Counter
		for i, word := range strings.Fields(rest) {
			if i == 0 {
				g.Run = book.Address(word)
			} else {
				g.Named = append(g.Named, book.Address(word))
			}
		}
	}
	if _, known := table[g.Role]; !known {
		var names []string
		for _, r := range Roles() {
			names = append(names, string(r))
		}
		return Grant{}, fault.Fault{Code: fault.NotOneOf, Field: "role", Value: text, Limit: "is none of " + strings.Join(names, ", "), Remedy: "choose one of these"}
	}
	if g.Role == Counter && g.Run == "" {
		return Grant{}, fault.Fault{Code: fault.Missing, Field: "run", Limit: "a counter counts one bottling run, which must be named", Remedy: "open the run first, then choose it"}
	}
	return g, nil
}

// Text is the grant as the register of devices keeps it.
func (g Grant) Text() string {
	words := []string{string(g.Role)}
	if g.Role == Counter {
		words = append(words, string(g.Run))
		for _, a := range g.Named {
			words = append(words, string(a))
		}
	}
	return strings.Join(words, " ")
}

// WritesKind says whether the role writes this kind at all.
func (g Grant) WritesKind(kind string) bool {
	if g.Role == Owner {
		return true
	}
	if g.Role == Counter {
		return slices.Contains(counts, kind) || kind == voided || slices.Contains(ofItself, kind)
	}
	d := table[g.Role]
	k, ok := book.KindNamed(kind)
	return ok && len(d.writes) > 0 && (slices.Contains(d.writes, k.Room) || slices.Contains(d.also, kind) || slices.Contains(ofItself, kind))
}

// MayWrite says whether the role writes this entry, sealed by that device; for
// whom it may bring what others sealed is the caller's to ask. A counter takes
// back what its own device wrote.
func (g Grant) MayWrite(device, kind string, body []byte) bool {
	if !g.WritesKind(kind) {
		return false
	}
	if g.Role != Counter || slices.Contains(ofItself, kind) {
		return true
	}
	return runOf(body) == g.Run && (kind != voided || device != "" && strings.HasPrefix(string(targetOf(body)), device+"-"))
}

// MaySee says whether the entry may be on a phone of this role.
func (g Grant) MaySee(address book.Address, kind string, body []byte) bool {
	d := table[g.Role]
	if g.Role != Counter {
		k, ok := book.KindNamed(kind)
		return d.all || ok && slices.Contains(d.sees, k.Room) && !slices.Contains(d.hidden, kind) && !g.corrects(kind, body)
	}
	switch kind {
	case "bottling opened":
		return address == g.Run
	case "product registered", "vessel registered":
		return slices.Contains(g.Named, address)
	case "entry amended":
		var c correction
		return json.Unmarshal(body, &c) == nil && runOf(c.Body) == g.Run && onlyACount(c.Body)
	}
	return g.WritesKind(kind) && runOf(body) == g.Run
}

// corrects says whether an amendment says anew what is hidden from the role:
// its new body has the form of a hidden kind and of no other. The target is an
// address, which says no kind.
func (g Grant) corrects(kind string, body []byte) bool {
	if kind != "entry amended" {
		return false
	}
	var c correction
	if json.Unmarshal(body, &c) != nil {
		return true
	}
	hidden := false
	for _, k := range book.Kinds() {
		if fits(k, c.Body) {
			if !slices.Contains(table[g.Role].hidden, k.Name) {
				return false
			}
			hidden = true
		}
	}
	return hidden
}

// onlyACount says whether a body is one of the kinds that a counter writes.
func onlyACount(body []byte) bool {
	return slices.ContainsFunc(counts, func(name string) bool { k, ok := book.KindNamed(name); return ok && fits(k, body) })
}

// fits says whether a body could be of the kind: it has what the kind needs
// and nothing that the kind has not.
func fits(k *book.Kind, body []byte) bool {
	var has map[string]json.RawMessage
	if json.Unmarshal(body, &has) != nil {
		return false
	}
	known := 0
	for _, f := range k.Fields {
		_, ok := has[f.Key]
		if ok {
			known++
		} else if f.Need {
			return false
		}
	}
	return known == len(has)
}

type correction struct {
	Entry book.Address    `json:"entry"`
	Body  json.RawMessage `json:"body"`
}

// targetOf is the entry that a correction is of, or nothing.
func targetOf(body []byte) book.Address {
	var c correction
	if json.Unmarshal(body, &c) != nil {
		return ""
	}
	return c.Entry
}

// runOf is the bottling that a body is of, or nothing.
func runOf(body []byte) book.Address {
	var of struct {
		Bottling book.Address `json:"bottling"`
	}
	if json.Unmarshal(body, &of) != nil {
		return ""
	}
	return of.Bottling
}
