package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"time"

	"gaugebook/sync/record"

	"github.com/google/uuid"
)

// An Entry is one row of the log.
type Entry struct {
	Seq       int64
	ID        uuid.UUID
	Device    string
	DeviceSeq int64
	Digest    record.Digest
	Received  time.Time
	Chain     record.Digest
	Line      []byte
}

const entryColumns = "seq, id, device, device_seq, digest, received, chain, line"

func scanEntry(rows *sql.Rows) (e Entry, err error) {
	var id, digest, chain sql.RawBytes
	var received int64
	if err := rows.Scan(&e.Seq, &id, &e.Device, &e.DeviceSeq, &digest, &received, &chain, &e.Line); err != nil {
		return e, err
	}
	if len(id) != len(e.ID) || len(digest) != len(e.Digest) || len(chain) != len(e.Chain) {
		return e, fmt.Errorf("entry %d: a hash or id of the wrong length", e.Seq)
	}
	copy(e.ID[:], id)
	copy(e.Digest[:], digest)
	copy(e.Chain[:], chain)
	e.Received = time.UnixMilli(received)
	return e, nil
}

// Entries yields the log after seq, in arrival order, from one moment's view
// of it. It stops after the first error.
func (r *Reader) Entries(ctx context.Context, after int64) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		rows, err := r.readers.QueryContext(ctx, "SELECT "+entryColumns+" FROM entry WHERE seq > ? ORDER BY seq", after)
		if err != nil {
			yield(Entry{}, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			e, err := scanEntry(rows)
			if !yield(e, err) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Entry{}, err)
		}
	}
}

// Head is the end of the log as readers see it.
func (r *Reader) Head(ctx context.Context) (record.Mark, error) { return readHead(ctx, r.readers) }

// Epoch names this life of the book: it changes when the book is restored.
func (r *Reader) Epoch(ctx context.Context) (string, error) { return readEpoch(ctx, r.readers) }

func readHead(ctx context.Context, q queryer) (record.Mark, error) {
	m, _, err := markOf(q.QueryRowContext(ctx, "SELECT seq, chain FROM entry ORDER BY seq DESC LIMIT 1"))
	return m, err
}

// markOf reads a row of seq and chain; false if there is none.
func markOf(row *sql.Row) (m record.Mark, ok bool, err error) {
	var chain []byte
	switch err := row.Scan(&m.Seq, &chain); {
	case errors.Is(err, sql.ErrNoRows):
		return m, false, nil
	case err != nil:
		return m, false, err
	}
	m.Chain = record.Digest(chain)
	return m, true, nil
}

func readEpoch(ctx context.Context, q queryer) (epoch string, err error) {
	err = q.QueryRowContext(ctx, "SELECT epoch FROM epoch ORDER BY n DESC LIMIT 1").Scan(&epoch)
	return epoch, err
}

// Aside is one thing kept beside the log.
type Aside struct {
	State    string // quarantined, forked or malformed
	Sender   string
	Received time.Time
	Fault    record.Fault
	Line     []byte
}

// Asides are the things kept beside the log, in the order in which they came.
func (r *Reader) Asides(ctx context.Context) ([]Aside, error) {
	rows, err := r.readers.QueryContext(ctx, "SELECT state, sender, received, fault, line FROM aside ORDER BY n")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Aside
	for rows.Next() {
		var a Aside
		var received int64
		var fault []byte
		if err := rows.Scan(&a.State, &a.Sender, &received, &fault, &a.Line); err != nil {
			return nil, err
		}
		if err := json.Unmarshal(fault, &a.Fault); err != nil {
			return nil, err
		}
		a.Received = time.UnixMilli(received)
		out = append(out, a)
	}
	return out, rows.Err()
}

// queryer is a pool or a transaction.
type queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// A View is one consistent view of the log.
type View struct {
	ctx context.Context
	q   queryer
}

// View calls f with a view of the log as it is at that moment, whatever is
// written meanwhile.
func (r *Reader) View(ctx context.Context, f func(*View) error) error {
	tx, err := r.readers.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return f(&View{ctx, tx})
}

// Epoch is the log's name.
func (v *View) Epoch() (string, error) { return readEpoch(v.ctx, v.q) }

// Head is the log's end.
func (v *View) Head() (record.Mark, error) { return readHead(v.ctx, v.q) }

// MarkAt is the mark of an entry; false beyond the log's end.
func (v *View) MarkAt(seq int64) (record.Mark, bool, error) {
	if seq == 0 {
		return record.Mark{}, true, nil
	}
	return markOf(v.q.QueryRowContext(v.ctx, "SELECT seq, chain FROM entry WHERE seq = ?", seq))
}

// After calls yield for each entry after seq, in order, until it says no.
func (v *View) After(seq int64, yield func(seq int64, line []byte) bool) error {
	rows, err := v.q.QueryContext(v.ctx, "SELECT seq, line FROM entry WHERE seq > ? ORDER BY seq", seq)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var line []byte
		if err := rows.Scan(&seq, &line); err != nil {
			return err
		}
		if !yield(seq, line) {
			return nil
		}
	}
	return rows.Err()
}
