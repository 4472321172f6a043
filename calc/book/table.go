package book

import "maps"

// A table holds rows by address, in the order they were added, and can be
// copied at the cost of its index alone: a copied row is shared until one side
// edits it. Checkpoints of the fold rest on this.
type table[T any, P interface {
	*T
	copied() T
}] struct {
	rows  map[Address]*T
	order []Address
	own   map[Address]bool // rows no copy shares
}

func (t *table[T, P]) get(a Address) *T { return t.rows[a] }

// edit gives a row that may be changed, nil where there is none.
func (t *table[T, P]) edit(a Address) *T {
	row := t.rows[a]
	if row == nil || t.own[a] {
		return row
	}
	fresh := P(row).copied()
	t.put(a, &fresh)
	return &fresh
}

func (t *table[T, P]) put(a Address, row *T) {
	if t.rows == nil {
		t.rows = map[Address]*T{}
	}
	if t.own == nil {
		t.own = map[Address]bool{}
	}
	if _, old := t.rows[a]; !old {
		t.order = append(t.order, a)
	}
	t.rows[a] = row
	t.own[a] = true
}

// copy gives a second table with the same rows; from here on neither changes
// a row the other sees.
func (t *table[T, P]) copy() table[T, P] {
	t.own = nil
	return table[T, P]{rows: maps.Clone(t.rows), order: t.order[:len(t.order):len(t.order)]}
}

// all ranges over the rows in the order they were added.
func (t *table[T, P]) all(yield func(Address, *T) bool) {
	for _, a := range t.order {
		if !yield(a, t.rows[a]) {
			return
		}
	}
}
