package simulate

import (
	"maps"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// A Storage is what the office keeps the log in. Memory is one; the tests of
// the server bring the real one.
type Storage interface {
	// Update runs one write transaction. What f did is on disk when Update
	// returns nil, and undone if f returns an error.
	Update(f func(exchange.Ledger) error) error
	// View runs f on one consistent view.
	View(f func(exchange.Reader) error) error
	// Restart is the process killed and started again.
	Restart() error
	// Backup makes a copy, and gives the function that puts it back, at any
	// later time and more than once. A log put back has a new epoch.
	Backup() (restore func() error, err error)
	// Aside is every line that lies aside in a state, in any order; of the
	// quarantined those that still wait.
	Aside(state exchange.State) ([][]byte, error)
}

// Memory is a Storage without a disk: the shortest program that has the
// properties of one.
type Memory struct {
	epochs int // so far, over all restores
	book   book
}

// NewMemory is an empty one.
func NewMemory() *Memory {
	return &Memory{epochs: 1, book: book{
		epoch: "epoch-1", held: map[uuid.UUID]record.Stored{}, places: map[place]uuid.UUID{},
		tips: map[string]record.Tip{}, aside: map[string]string{},
	}}
}

type book struct {
	epoch  string
	lines  [][]byte
	marks  []record.Mark
	held   map[uuid.UUID]record.Stored // log and quarantine
	places map[place]uuid.UUID
	tips   map[string]record.Tip
	aside  map[string]string // line: state
}

type place struct {
	device string
	seq    int64
}

func (b book) clone() book {
	b.lines, b.marks = slices.Clone(b.lines), slices.Clone(b.marks)
	b.held, b.places, b.tips, b.aside = maps.Clone(b.held), maps.Clone(b.places), maps.Clone(b.tips), maps.Clone(b.aside)
	return b
}

// Update runs f on a ledger whose changes are undone if it fails.
func (m *Memory) Update(f func(exchange.Ledger) error) error {
	l := &ledger{book: &m.book}
	err := f(l)
	if err != nil {
		for _, undo := range slices.Backward(l.undo) {
			undo()
		}
	}
	return err
}

// View runs f on the book.
func (m *Memory) View(f func(exchange.Reader) error) error { return f(&ledger{book: &m.book}) }

// Restart loses nothing.
func (m *Memory) Restart() error { return nil }

// Backup copies the book.
func (m *Memory) Backup() (func() error, error) {
	copied := m.book.clone()
	return func() error {
		m.epochs++
		m.book = copied.clone()
		m.book.epoch = "epoch-" + strconv.Itoa(m.epochs)
		return nil
	}, nil
}

// Aside is every line that lies aside in a state.
func (m *Memory) Aside(state exchange.State) (lines [][]byte, err error) {
	if state == exchange.Quarantined {
		for _, held := range m.book.held {
			if held.Seq == 0 {
				lines = append(lines, held.Line)
			}
		}
	}
	for line, why := range m.book.aside {
		if exchange.State(why) == state {
			lines = append(lines, []byte(line))
		}
	}
	return lines, nil
}

// A ledger is one transaction on a book.
type ledger struct {
	*book
	undo []func()
}

func (l *ledger) Epoch() (string, error) { return l.epoch, nil }

func (l *ledger) Head() (record.Mark, error) {
	if len(l.marks) == 0 {
		return record.Mark{}, nil
	}
	return l.marks[len(l.marks)-1], nil
}

func (l *ledger) MarkAt(seq int64) (record.Mark, bool, error) {
	if seq < 1 || seq > int64(len(l.marks)) {
		return record.Mark{}, false, nil
	}
	return l.marks[seq-1], true, nil
}

func (l *ledger) After(seq int64, yield func(int64, []byte) bool) error {
	for ; seq < int64(len(l.lines)) && yield(seq+1, l.lines[seq]); seq++ {
	}
	return nil
}

func (l *ledger) ByID(id uuid.UUID) (record.Stored, error) { return l.held[id], nil }

func (l *ledger) At(device string, seq int64) (record.Stored, error) {
	id, ok := l.places[place{device, seq}]
	if !ok {
		return record.Stored{}, nil
	}
	return l.held[id], nil
}

func (l *ledger) Tip(device string) (record.Tip, error) { return l.tips[device], nil }

func (l *ledger) Append(r record.Record, line []byte) (int64, error) {
	head, err := l.Head()
	if err != nil {
		return 0, err
	}
	b := l.book
	b.lines, b.marks = append(b.lines, line), append(b.marks, head.Next(line))
	l.undo = append(l.undo, func() { b.lines, b.marks = b.lines[:head.Seq], b.marks[:head.Seq] })
	l.hold(r, record.Stored{Line: line, Seq: head.Seq + 1})
	return head.Seq + 1, nil
}

func (l *ledger) SetAside(state string, r record.Record, line []byte, _ record.Fault) error {
	if exchange.State(state) == exchange.Quarantined {
		l.hold(r, record.Stored{Line: line})
		return nil
	}
	b, key := l.book, string(line)
	if _, there := b.aside[key]; !there {
		b.aside[key] = state
		l.undo = append(l.undo, func() { delete(b.aside, key) })
	}
	return nil
}

// hold keeps a line under its id and its place.
func (l *ledger) hold(r record.Record, s record.Stored) {
	b, at := l.book, place{r.Device, r.Seq}
	held, wasHeld := b.held[r.ID]
	id, wasAt := b.places[at]
	before := b.tips[r.Device]
	l.undo = append(l.undo, func() {
		put(b.held, r.ID, held, wasHeld)
		put(b.places, at, id, wasAt)
		b.tips[r.Device] = before
	})
	b.held[r.ID], b.places[at] = s, r.ID
	tip := before
	if r.Seq > tip.Seq {
		tip.Seq, tip.Digest = r.Seq, record.DigestOf(s.Line)
	}
	for {
		if _, ok := b.places[place{r.Device, tip.Through + 1}]; !ok {
			break
		}
		tip.Through++
	}
	b.tips[r.Device] = tip
}

func put[K comparable, V any](m map[K]V, key K, value V, there bool) {
	if there {
		m[key] = value
	} else {
		delete(m, key)
	}
}
