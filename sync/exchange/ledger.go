package exchange

import (
	"github.com/google/uuid"

	"gaugebook/sync/record"
)

// A Reader is one consistent view of the server's log.
type Reader interface {
	// Epoch is the random name of this log, new at each restore.
	Epoch() (string, error)
	// Head is the log's end.
	Head() (record.Mark, error)
	// MarkAt is the mark of an entry of the log, from 1; false beyond its end.
	MarkAt(seq int64) (record.Mark, bool, error)
	// After calls yield for each entry after seq, in order, until it says no.
	After(seq int64, yield func(seq int64, line []byte) bool) error
}

// A Ledger is one write transaction on the server's store. What Append and
// SetAside did is seen by the methods after them. An error leaves the caller
// nothing to do but to roll back.
type Ledger interface {
	Reader
	// ByID finds an entry by its identity, in the log or in quarantine.
	ByID(id uuid.UUID) (record.Stored, error)
	// At finds an entry by its device and number, in the log or in quarantine.
	At(device string, seq int64) (record.Stored, error)
	// Tip is what is held of one device.
	Tip(device string) (record.Tip, error)
	// Append puts an entry at the log's end and gives its number. If the
	// entry waited in quarantine it leaves it.
	Append(r record.Record, line []byte) (seq int64, err error)
	// SetAside keeps a line out of the log: quarantined (r is its record),
	// forked or malformed. A line that lies there already is not kept twice.
	SetAside(state string, r record.Record, line []byte, fault record.Fault) error
}

// Rights are what the bringer's role allows.
type Rights interface {
	// MayWrite: may they bring this entry? Its device is theirs, or was, or
	// they may speak for all; and its kind is one their role writes.
	MayWrite(r record.Record) bool
	// MaySee: may they be given this entry?
	MaySee(r record.Record) bool
	// Scope is a name for what MaySee admits, such as the role's: where it
	// admits other entries it has another name.
	Scope() string
}
