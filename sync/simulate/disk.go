package simulate

import (
	"maps"
	"slices"

	"gaugebook/sync/exchange"
)

// A disk is a phone's storage: rows and two single values, changed by
// transactions that happen whole or not at all.
type disk struct {
	chain   exchange.Chain
	contact exchange.Contact
	rows    map[string]exchange.Held
	history []snapshot // before each of the last transactions
}

// snapshot is what a transaction replaced.
type snapshot struct {
	chain   exchange.Chain
	contact exchange.Contact
	rows    map[string]*exchange.Held // nil: was not there
}

const remembered = 4 // transactions that a torn storage may lose

// write is one transaction.
func (d *disk) write(chain *exchange.Chain, contact *exchange.Contact, put []exchange.Held, reoffer bool) {
	before := snapshot{chain: d.chain, contact: d.contact, rows: map[string]*exchange.Held{}}
	if reoffer {
		for _, id := range d.ids() {
			held := d.rows[id]
			held.State = exchange.Unsent
			put = append(put, held)
		}
	}
	if d.rows == nil {
		d.rows = map[string]exchange.Held{}
	}
	for _, held := range put {
		if _, noted := before.rows[held.ID]; !noted {
			before.rows[held.ID] = nil
			if old, was := d.rows[held.ID]; was {
				before.rows[held.ID] = &old
			}
		}
		d.rows[held.ID] = held
	}
	if chain != nil {
		d.chain = *chain
	}
	if contact != nil {
		d.contact = *contact
	}
	d.history = append(d.history, before)
	if len(d.history) > remembered {
		d.history = slices.Delete(d.history, 0, 1)
	}
}

// tear takes back the last transaction that was said to be complete.
func (d *disk) tear() bool {
	if len(d.history) == 0 {
		return false
	}
	before := d.history[len(d.history)-1]
	d.history = d.history[:len(d.history)-1]
	d.chain, d.contact = before.chain, before.contact
	for id, held := range before.rows {
		if held == nil {
			delete(d.rows, id)
		} else {
			d.rows[id] = *held
		}
	}
	return true
}

// copy is another phone's storage, restored from this one's.
func (d *disk) copy() disk {
	return disk{chain: d.chain, contact: d.contact, rows: maps.Clone(d.rows)}
}

// ids are the keys of the rows, in order.
func (d *disk) ids() []string { return slices.Sorted(maps.Keys(d.rows)) }

// open reads what the exchange begins from.
func (d *disk) open() *exchange.Opened {
	o := exchange.Opened{Chain: d.chain, Contact: d.contact}
	for _, id := range d.ids() {
		if held := d.rows[id]; held.State == exchange.Unsent {
			o.Unsent = append(o.Unsent, held)
		}
	}
	return &o
}
