package book

import (
	"reflect"

	"gaugebook/calc/fault"
)

// A Sheet is a form that is worked out and kept nowhere: a plan before it is
// done. Its fields are read from the tags of T, as those of a kind are.
type Sheet[T any] struct{ Fields []Field }

// SheetOf describes the form of T.
func SheetOf[T any]() Sheet[T] { return Sheet[T]{fieldsOf(reflect.TypeFor[T](), nil)} }

// Read reads what was typed into it, as Compose reads a body.
func (s Sheet[T]) Read(c Convention, typed []byte) (T, fault.List) {
	var out T
	v := reflect.ValueOf(&out).Elem()
	r := reader{rest: typed, convention: c}
	r.object(s.Fields, v, "")
	r.end()
	if len(r.faults.list) == 0 {
		checkFields(&r.faults, s.Fields, v, "")
	}
	return out, r.faults.list
}
