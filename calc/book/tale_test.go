package book

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// A tale is a book written in order by one device, with names for addresses.
type tale struct {
	*writer
	book *Book
}

func newTale(t testing.TB, convention string) *tale {
	x := &tale{writer: &writer{t: t, device: "heron41"}, book: New()}
	x.tell("book opened", `{"name":"Hollow Alder","convention":%q}`, convention)
	return x
}

// tell writes an entry after holding it against the book, as a phone does.
func (x *tale) tell(kind, body string, args ...any) Address {
	x.t.Helper()
	b, faults := Compose(kind, x.book.State().Convention(), fmt.Appendf(nil, body, args...))
	require.Empty(x.t, faults, "%s %s", kind, body)
	require.Empty(x.t, x.book.State().Timely(b), "%s %s", kind, body)
	e := x.seal(b)
	x.book.Add(e)
	return e.Address()
}

// refused is what the book says against an entry before it is saved.
func (x *tale) refused(kind, body string, args ...any) string {
	x.t.Helper()
	b, faults := Compose(kind, x.book.State().Convention(), fmt.Appendf(nil, body, args...))
	if len(faults) == 0 {
		faults = x.book.State().Timely(b)
	}
	require.NotEmpty(x.t, faults, "%s %s", kind, body)
	return faults.Error()
}

// force writes an entry that a phone would have stopped.
func (x *tale) force(kind, body string, args ...any) Address {
	x.t.Helper()
	e := x.write(kind, fmt.Sprintf(body, args...))
	x.book.Add(e)
	return e.Address()
}

func (x *tale) vessel(name, use, capacity, more string) Address {
	return x.tell("vessel registered", `{"name":%q,"use":%q,"capacity":%q%s}`, name, use, capacity, more)
}

func (x *tale) state() *State { return x.book.State() }

// quiet holds that the book asks nothing and alcohol is conserved.
func (x *tale) quiet() {
	x.t.Helper()
	require.Empty(x.t, x.state().Questions())
	requireSound(x.t, x.state())
}

// asked is what the book asks of a kind.
func (x *tale) asked(k QuestionKind) (says []string) {
	for _, q := range x.state().Questions() {
		if q.Kind == k {
			says = append(says, q.Says)
		}
	}
	return says
}

// days lets time pass.
func (x *tale) days(n int) { x.minute += n * 1440 }
