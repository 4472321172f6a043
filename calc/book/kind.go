package book

import (
	"reflect"

	"gaugebook/calc/fault"
)

// A Room is where an entry is written.
type Room string

// The rooms of the house.
const (
	Yard          Room = "yard"
	MashRoom      Room = "mash room"
	FermentHall   Room = "ferment hall"
	StillRoom     Room = "still room"
	SpiritStore   Room = "spirit store"
	BottlingFloor Room = "bottling floor"
	Office        Room = "office"
)

// Rooms lists them in the order the material walks through.
func Rooms() []Room {
	return []Room{Yard, MashRoom, FermentHall, StillRoom, SpiritStore, BottlingFloor, Office}
}

// A Class is what an address may stand for in a field.
type Class string

// The classes of things that entries begin.
const (
	AnEntry      Class = "entry"
	AVessel      Class = "vessel"
	AnInstrument Class = "instrument"
	AProduct     Class = "product"
	APerson      Class = "person"
	ARun         Class = "run"
	ABottling    Class = "bottling"
	ALot         Class = "lot"
	AGood        Class = "good"
	AGoodsLot    Class = "goods lot"
	ARecipe      Class = "recipe"
	ATrial       Class = "trial"
	ASupplier    Class = "supplier"
	ACustomer    Class = "customer"
	ADevice      Class = "device"
	AnApproval   Class = "approval"
	AGrouping    Class = "grouping"
	AnExpected   Class = "expected delivery"
	APack        Class = "pack"
)

// A Body is what an entry of one kind says. Only this package declares bodies.
type Body interface {
	// apply changes the state by what happened.
	apply(t *turn)
}

// A sound body has rules between its own fields, beyond each field's limits.
type sound interface {
	sound(f *faults)
}

// A timely body has rules against the state it is about to be written into
// (a cut before any reading). They stop a person before saving; a record that
// arrives in spite of them is kept, and asked about by apply.
type timely interface {
	timely(s *State, f *faults)
}

// A Kind describes one kind of entry.
type Kind struct {
	Name    string // past tense: 'spirit gauged'
	Version int    // of the body this build writes
	Room    Room
	Help    string // what it records, for the person writing
	Needs   string // what must be in the book before
	Changes string // what it changes in the book
	Begins  Class  // what its address names, "" for nothing
	Fields  []Field

	body reflect.Type
}

func describe[T any, P interface {
	*T
	Body
}](name string, room Room, begins Class, help, needs, changes string) *Kind {
	t := reflect.TypeFor[T]()
	return &Kind{Name: name, Version: 1, Room: room, Begins: begins, Help: help, Needs: needs, Changes: changes,
		Fields: fieldsOf(t, nil), body: t}
}

func (k *Kind) newBody() (Body, reflect.Value) {
	v := reflect.New(k.body)
	return v.Interface().(Body), v.Elem()
}

// catalogue lists every kind, room by room. It is read and never changed.
var catalogue = concat(yardKinds, mashKinds, fermentKinds, stillKinds, storeKinds, tankKinds, cellarKinds,
	trialKinds, bottlingKinds, reworkKinds, partyKinds, goodsKinds, stocktakeKinds, officeKinds, paperKinds, businessKinds, taxKinds)

var kindByName = func() map[string]*Kind {
	m := make(map[string]*Kind, len(catalogue))
	for _, k := range catalogue {
		if m[k.Name] != nil {
			panic("book: two kinds are called " + k.Name)
		}
		m[k.Name] = k
	}
	return m
}()

var kindByBody = func() map[reflect.Type]*Kind {
	m := make(map[reflect.Type]*Kind, len(catalogue))
	for _, k := range catalogue {
		m[k.body] = k
	}
	return m
}()

func concat(lists ...[]*Kind) []*Kind {
	var out []*Kind
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// Kinds lists every kind this build writes, room by room.
func Kinds() []*Kind { return append([]*Kind(nil), catalogue...) }

// KindNamed finds a kind by name.
func KindNamed(name string) (*Kind, bool) {
	k, ok := kindByName[name]
	return k, ok
}

// KindOf is the kind of a body.
func KindOf(b Body) *Kind { return kindByBody[reflect.TypeOf(b).Elem()] }

// faults collects what is wrong with one body.
type faults struct {
	list fault.List
}

func (f *faults) add(code fault.Code, field, value, limit, remedy string) {
	f.list = append(f.list, fault.Fault{Code: code, Field: field, Value: value, Limit: limit, Remedy: remedy})
}
