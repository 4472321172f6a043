package exchange

import (
	"encoding/json"

	"github.com/google/uuid"

	"gaugebook/sync/record"
)

// A Draft is an entry before it has an identity and a place.
type Draft struct {
	Kind     string          `json:"kind"`
	V        int             `json:"v"`
	Body     json.RawMessage `json:"body"` // one compact object
	Happened record.Stamp    `json:"happened"`
	Written  record.Stamp    `json:"written"` // the phone's clock now
	By       string          `json:"by"`
}

// Seal makes the next record of a chain from a draft, and the chain after it.
// It stands after everything the phone has seen of others: contact gives the
// server's number and the highest clock.
func Seal(chain Chain, contact Contact, draft Draft, id uuid.UUID) (line []byte, next Chain, err error) {
	r := record.Record{
		Header: record.Header{
			ID: id, Kind: draft.Kind, V: draft.V, Happened: draft.Happened, Written: draft.Written, By: draft.By,
			Clock: max(chain.Clock, contact.Clock).Tick(draft.Written.Time()), Seen: contact.Since.Seq,
		},
		Body: draft.Body,
	}
	if line, next, err = chain.link(r); err == nil {
		next.Clock = r.Clock
	}
	return line, next, err
}

// link gives a record the chain's next place. The record keeps its clock and
// the chain its own: a record sealed anew may be another device's, with a
// clock that nobody here should believe.
func (c Chain) link(r record.Record) (line []byte, next Chain, err error) {
	r.Device, r.Seq, r.Prev = c.Device, c.Seq+1, c.Prev
	if line, err = record.Encode(r); err != nil {
		return nil, c, err
	}
	return line, Chain{Device: c.Device, Seq: r.Seq, Prev: record.DigestOf(line), Clock: c.Clock}, nil
}
