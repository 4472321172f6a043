package book

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"gaugebook/calc/quantity"
)

// A FieldType says what a field holds and how a form asks for it.
type FieldType string

// The field types.
const (
	Figure FieldType = "figure" // a quantity.Reading: digits and unit as typed
	Count  FieldType = "count"  // a whole number of pieces
	Text   FieldType = "text"   // words of a person
	Word   FieldType = "word"   // one of Field.Words
	Naming FieldType = "ref"    // the address of something of class Field.RefTo
	Flag   FieldType = "flag"   // yes, or nothing
	Time   FieldType = "time"   // RFC 3339 with offset
	Date   FieldType = "date"   // 2026-11-15
	Group  FieldType = "group"  // repeated parts, each with Field.Fields
	Nested FieldType = "body"   // the body of another entry, in an amendment
)

// A Field describes one field of a kind. It is read from the tags of the body
// struct:
//
//	Volume Reading `key:"volume,need" label:"Volume as read" unit:"gal|L" min:"0gal" max:"60000gal" help:"…"`
//
// unit holds the bare unit of a US and of a metric book; min and max may hold
// one limit per unit ("206proof|103%") where units do not convert; words and
// ref name what is allowed, maxlen how many bytes of text.
type Field struct {
	Key    string
	Label  string
	Help   string
	Type   FieldType
	Need   bool
	Units  []quantity.Unit // bare unit in a US and in a metric book
	Min    []quantity.Reading
	Max    []quantity.Reading
	Words  []string
	RefTo  Class
	MaxLen int // of a text, in bytes
	Fields []Field

	index []int
	part  reflect.Type // of a Group
}

// Bare is the unit a bare number has in a book of this convention.
func (f *Field) Bare(c Convention) quantity.Unit {
	if len(f.Units) == 0 {
		return quantity.NoUnit
	}
	if c == Metric {
		return f.Units[len(f.Units)-1]
	}
	return f.Units[0]
}

// takes reports whether the field holds figures of a unit's dimension. A field
// whose units are of several dimensions (the correction of an instrument) holds
// any of them.
func (f *Field) takes(u quantity.Unit) bool {
	for _, own := range f.Units {
		if own.Dimension() == u.Dimension() {
			return true
		}
	}
	return len(f.Units) == 0
}

// parse reads a figure as typed, in any of the field's dimensions.
func (f *Field) parse(s string, c Convention) (quantity.Reading, error) {
	bare := f.Bare(c)
	out, err := quantity.Parse(s, bare)
	for _, u := range f.Units {
		if err != nil && u.Dimension() != bare.Dimension() {
			if r, other := quantity.Parse(s, u); other == nil {
				return r, nil
			}
		}
	}
	return out, err
}

// A Ref is the address of an entry that began something: a vessel, a run, a lot.
type Ref = Address

// A Day is a calendar date, "2026-11-15".
type Day string

// defaultMaxLen is how much a text field takes where its tag says nothing.
const defaultMaxLen = 500

// maxCount bounds a count of pieces; a longer line than any hand bottling has.
const maxCount = 10_000_000

// maxParts bounds the parts of a group.
const maxParts = 200

func fieldsOf(t reflect.Type, prefix []int) []Field {
	var out []Field
	for i := range t.NumField() {
		sf := t.Field(i)
		index := append(append([]int(nil), prefix...), i)
		if sf.Anonymous {
			out = append(out, fieldsOf(sf.Type, index)...)
			continue
		}
		out = append(out, fieldOf(sf, index))
	}
	return out
}

func fieldOf(sf reflect.StructField, index []int) Field {
	key, need, _ := strings.Cut(sf.Tag.Get("key"), ",")
	f := Field{Key: key, Label: sf.Tag.Get("label"), Help: sf.Tag.Get("help"), Need: need == "need", index: index}
	if f.Key == "" || f.Label == "" {
		panic(fmt.Sprintf("book: field %s wants a key and a label in its tag", sf.Name))
	}
	switch reflect.New(sf.Type).Interface().(type) {
	case *quantity.Reading:
		f.Type = Figure
		for _, s := range split(sf.Tag.Get("unit")) {
			f.Units = append(f.Units, quantity.MustUnit(s))
		}
		for _, s := range split(sf.Tag.Get("min")) {
			f.Min = append(f.Min, stored(s))
		}
		for _, s := range split(sf.Tag.Get("max")) {
			f.Max = append(f.Max, stored(s))
		}
	case *int64:
		f.Type = Count
	case *bool:
		f.Type = Flag
	case *Moment:
		f.Type = Time
	case *Day:
		f.Type = Date
	case *Ref:
		f.Type, f.RefTo = Naming, Class(sf.Tag.Get("ref"))
	case *Inner:
		f.Type = Nested
	case *string:
		f.Type, f.MaxLen = Text, defaultMaxLen
		if n, err := strconv.Atoi(sf.Tag.Get("maxlen")); err == nil {
			f.MaxLen = n
		}
	default:
		switch sf.Type.Kind() {
		case reflect.String:
			if f.Type = Word; sf.Tag.Get("words") == "" {
				panic(fmt.Sprintf("book: field %s wants the words it takes in its tag", sf.Name))
			}
		case reflect.Slice:
			f.Type, f.part = Group, sf.Type.Elem()
			f.Fields = fieldsOf(f.part, nil)
		default:
			panic(fmt.Sprintf("book: field %s has a type that no entry holds", sf.Name))
		}
	}
	if f.Words = split(sf.Tag.Get("words")); len(f.Words) > 0 {
		f.Type = Word
	}
	return f
}

func split(s string) []string {
	if s == "" {
		return nil
	}
	return strings.Split(s, "|")
}

func stored(s string) quantity.Reading {
	var r quantity.Reading
	if err := r.UnmarshalText([]byte(s)); err != nil {
		panic(err)
	}
	return r
}
