package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"slices"

	"gaugebook/sync/record"
)

// A Verdict is what Verify found.
type Verdict struct {
	Entries int64
	Devices int
	Gaps    []string // devices whose records are not all there, in words; no break
	Head    record.Mark
	Break   string // the first thing that is not as it was written, in words; empty if none
}

// Err is the break as an error.
func (v Verdict) Err() error {
	if v.Break == "" {
		return nil
	}
	return errors.New(v.Break)
}

// Verify reads the whole book and names the first thing in it that is not as
// it was written: SQLite's own check of the file, the schema with its
// triggers, each entry's bytes against its digest and its columns, the chain
// of each device, and the chain of the log. Each of the given heads, printed
// on a report or remembered by a phone, must lie in the log; without one, a
// log that was cut off at its end or rewritten as a whole looks sound.
//
// It proves that the log was not tampered with after it was written, not that
// what was written is true.
func (r *Reader) Verify(ctx context.Context, heads ...record.Mark) (Verdict, error) {
	damaged := make(chan string, 1)
	go func() { damaged <- integrity(ctx, r.readers) }() // on another core, and on a view of its own
	v, err := r.verifyLog(ctx, heads)
	if words := <-damaged; words != "" {
		return Verdict{Break: words}, ctx.Err()
	}
	return v, err
}

// verifyLog looks at the schema and the entries, in one transaction, so that a
// server that goes on writing changes nothing.
func (r *Reader) verifyLog(ctx context.Context, heads []record.Mark) (v Verdict, err error) {
	tx, err := r.readers.BeginTx(ctx, nil)
	if err != nil {
		return v, err
	}
	defer tx.Rollback()
	if v.Break, err = schemaBreak(ctx, tx, r.migrations); err != nil || v.Break != "" {
		return v, err
	}
	err = v.readLog(ctx, tx, heads)
	return v, err
}

// integrity is SQLite's own check of the file, in words if it finds something.
func integrity(ctx context.Context, q queryer) string {
	var answer string
	if err := q.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&answer); err != nil {
		return "the file is damaged: " + err.Error()
	}
	if answer != "ok" {
		return "the file is damaged: " + answer
	}
	return ""
}

// schemaBreak compares the schema with the one the migrations make.
func schemaBreak(ctx context.Context, q queryer, ms []migration) (string, error) {
	fresh, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return "", err
	}
	defer fresh.Close()
	fresh.SetMaxOpenConns(1)
	var version int
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return "", err
	}
	for _, m := range ms[:version] {
		if err := applyMigration(ctx, fresh, m); err != nil {
			return "", err
		}
	}
	want, err := schema(ctx, fresh)
	if err != nil {
		return "", err
	}
	got, err := schema(ctx, q)
	if err != nil {
		return "", err
	}
	for _, o := range want {
		if found, ok := find(got, o.name); !ok {
			return fmt.Sprintf("the %s %s is gone from the file: someone could have rewritten entries", o.kind, o.name), nil
		} else if found != o {
			return fmt.Sprintf("the %s %s is not the one Gaugebook made: someone could have rewritten entries", found.kind, o.name), nil
		}
	}
	for _, o := range got {
		if _, ok := find(want, o.name); !ok && o.kind == "trigger" {
			return fmt.Sprintf("the trigger %s is none of Gaugebook's", o.name), nil
		}
	}
	return "", nil
}

type object struct{ kind, name, sql string }

func find(in []object, name string) (object, bool) {
	for _, o := range in {
		if o.name == name {
			return o, true
		}
	}
	return object{}, false
}

func schema(ctx context.Context, q queryer) ([]object, error) {
	rows, err := q.QueryContext(ctx, "SELECT type, name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite_stat%' ORDER BY rowid")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []object
	for rows.Next() {
		var o object
		if err := rows.Scan(&o.kind, &o.name, &o.sql); err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, rows.Err()
}

// A stretch is a part of the log on its way through Verify: the rows as they
// were read, and what is wrong with each by itself.
type stretch struct {
	rows    []Entry
	headers []record.Header
	breaks  []string
	done    chan struct{}
}

// examine hashes and decodes the rows.
func (s *stretch) examine() {
	defer close(s.done)
	s.headers = make([]record.Header, len(s.rows))
	s.breaks = make([]string, len(s.rows))
	for i, e := range s.rows {
		r, err := record.Decode(e.Line)
		switch {
		case record.DigestOf(e.Line) != e.Digest:
			s.breaks[i] = "its bytes are not those it was stored with"
		case err != nil:
			s.breaks[i] = "it is no record: " + err.Error()
		case r.ID != e.ID || r.Device != e.Device || r.Seq != e.DeviceSeq:
			s.breaks[i] = "its row bears another name than its bytes, " + r.Address()
		}
		s.headers[i] = r.Header
	}
}

// readLog reads the log in stretches, which other goroutines examine, and
// follows the chains through them in order.
func (v *Verdict) readLog(ctx context.Context, tx *sql.Tx, heads []record.Mark) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stretches := make(chan *stretch, 2*runtime.GOMAXPROCS(0))
	var failed error // written before stretches is closed
	go func() {
		defer close(stretches)
		failed = cut(ctx, tx, stretches)
	}()
	f := follower{v: v, devices: map[string]*ends{}, heads: heads}
	for s := range stretches {
		<-s.done
		for i := range s.rows {
			if v.Break == "" {
				v.Break = f.follow(&s.rows[i], s.headers[i], s.breaks[i])
			}
		}
		if v.Break != "" {
			cancel()
		}
	}
	if v.Break == "" && failed == nil {
		f.finish()
	}
	if v.Break != "" {
		return nil
	}
	return failed
}

// cut reads the log into stretches.
func cut(ctx context.Context, tx *sql.Tx, to chan<- *stretch) error {
	const length = 1024
	rows, err := tx.QueryContext(ctx, "SELECT "+entryColumns+" FROM entry ORDER BY seq")
	if err != nil {
		return err
	}
	defer rows.Close()
	for more := true; more; {
		s := &stretch{rows: make([]Entry, 0, length), done: make(chan struct{})}
		for len(s.rows) < length {
			if more = rows.Next(); !more {
				break
			}
			e, err := scanEntry(rows)
			if err != nil {
				return err
			}
			s.rows = append(s.rows, e)
		}
		select {
		case to <- s:
			go s.examine()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return rows.Err()
}

// A follower walks the log and the chain of every device in it.
type follower struct {
	v       *Verdict
	devices map[string]*ends
	heads   []record.Mark
}

// ends are the loose ends of a device's chain: records may arrive out of order.
type ends struct {
	digests map[int64]record.Digest // of records whose successor has not come
	prevs   map[int64]record.Digest // what the successor says of a record that has not come
}

func (f *follower) follow(e *Entry, h record.Header, wrong string) string {
	name := fmt.Sprintf("entry %d (%s-%d)", e.Seq, e.Device, e.DeviceSeq)
	if e.Seq != f.v.Head.Seq+1 {
		return fmt.Sprintf("entry %d is missing: after it comes %s", f.v.Head.Seq+1, name)
	}
	if wrong != "" {
		return name + ": " + wrong
	}
	next := f.v.Head.Next(e.Line)
	if e.Chain != next.Chain {
		return name + ": the log's chain breaks here: this entry or one before it was changed, taken out or put in"
	}
	d := f.devices[e.Device]
	if d == nil {
		d = &ends{map[int64]record.Digest{}, map[int64]record.Digest{}}
		f.devices[e.Device] = d
		f.v.Devices++
	}
	if !meet(d.digests, d.prevs, h.Seq-1, h.Prev) || !meet(d.prevs, d.digests, h.Seq, e.Digest) {
		return name + ": the chain of its device breaks here: its neighbour is not the record it was written after"
	}
	f.v.Entries++
	f.v.Head = next
	for _, head := range f.heads {
		if head.Seq == e.Seq && head.Chain != e.Chain {
			return name + ": the head " + head.String() + " was printed when another entry stood here"
		}
	}
	return ""
}

// meet joins two loose ends at seq, or leaves one in mine for the other to find.
func meet(theirs, mine map[int64]record.Digest, seq int64, digest record.Digest) bool {
	if seq == 0 {
		return true // nothing comes before a device's first record
	}
	if other, ok := theirs[seq]; ok {
		delete(theirs, seq)
		return other == digest
	}
	mine[seq] = digest
	return true
}

// finish looks at what is left over at the end of the log.
func (f *follower) finish() {
	for _, head := range f.heads {
		if head.Seq > f.v.Head.Seq {
			f.v.Break = fmt.Sprintf("the log ends at entry %d, but the head %s was printed from it: entries were cut off its end", f.v.Head.Seq, head)
			return
		}
	}
	for _, device := range slices.Sorted(maps.Keys(f.devices)) {
		for _, seq := range slices.Sorted(maps.Keys(f.devices[device].prevs)) {
			f.v.Gaps = append(f.v.Gaps, fmt.Sprintf("%s-%d has not come yet: the book has entries written after it", device, seq))
		}
	}
}
