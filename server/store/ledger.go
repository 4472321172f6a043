package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"time"

	"gaugebook/sync/record"

	"github.com/google/uuid"
)

// A Ledger is one write transaction. Its methods see what it did before.
type Ledger struct {
	View
	tx       *sql.Tx
	stmts    statements
	sender   string
	received time.Time
	head     record.Mark
	was      map[string]record.Tip // before this transaction
	tips     map[string]record.Tip // of the devices it met
}

// statements are prepared once for the writer's connection.
type statements struct {
	insert, byID, setAside *sql.Stmt
}

func prepare(ctx context.Context, db *sql.DB) (st statements, err error) {
	for _, p := range []struct {
		to  **sql.Stmt
		sql string
	}{
		{&st.insert, "INSERT INTO entry (seq, id, device, device_seq, digest, received, chain, line) VALUES (?,?,?,?,?,?,?,?)"},
		{&st.byID, `SELECT seq, line FROM entry WHERE id = ?1
			UNION ALL SELECT 0, line FROM aside WHERE state = 'quarantined' AND id = ?1 LIMIT 1`},
		{&st.setAside, `INSERT INTO aside (state, digest, id, device, device_seq, sender, received, fault, line)
			VALUES (?,?,?,?,?,?,?,?,?)`},
	} {
		if *p.to, err = db.PrepareContext(ctx, p.sql); err != nil {
			return st, err
		}
	}
	return st, nil
}

// Update calls f with a write transaction and commits what it did; it returns
// after that is on the disk. On an error, f's or its own, nothing is stored.
// Sender is who brings the lines, for what is set aside. The caller's context
// does not interrupt it: a reply that cannot be sent does no harm, a commit
// cut short would leave the phone in doubt.
func (s *Store) Update(ctx context.Context, sender string, f func(*Ledger) error) error {
	ctx = context.WithoutCancel(ctx)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.stale {
		if err := s.load(ctx); err != nil {
			return full(err)
		}
	}
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return full(err)
	}
	l := &Ledger{
		View: View{ctx, tx}, tx: tx, sender: sender, received: s.now(),
		head: s.head, was: s.tips, tips: map[string]record.Tip{},
		stmts: statements{
			insert:   tx.StmtContext(ctx, s.stmts.insert),
			byID:     tx.StmtContext(ctx, s.stmts.byID),
			setAside: tx.StmtContext(ctx, s.stmts.setAside),
		},
	}
	if err := f(l); err != nil {
		return errors.Join(full(err), rollback(tx))
	}
	if err := tx.Commit(); err != nil {
		s.stale = true // whether it is on the disk, the file must tell
		return errors.Join(full(err), rollback(tx))
	}
	s.head = l.head
	maps.Copy(s.tips, l.tips)
	return nil
}

// load forgets what is remembered of the file and reads the head again.
func (s *Store) load(ctx context.Context) (err error) {
	if s.head, err = readHead(ctx, s.writer); err != nil {
		return err
	}
	s.tips, s.stale = map[string]record.Tip{}, false
	return nil
}

// rollback undoes a transaction; SQLite may have undone it by itself.
func rollback(tx *sql.Tx) error {
	if err := tx.Rollback(); err != nil && !errors.Is(err, sql.ErrTxDone) {
		return fmt.Errorf("rolling back: %w", err)
	}
	return nil
}

// Head is the log's end.
func (l *Ledger) Head() (record.Mark, error) { return l.head, nil }

// ByID finds an entry by its identity, in the log or in quarantine.
func (l *Ledger) ByID(id uuid.UUID) (record.Stored, error) {
	return stored(l.stmts.byID.QueryRowContext(l.ctx, id[:]))
}

// At finds an entry by its device and number, in the log or in quarantine.
func (l *Ledger) At(device string, seq int64) (record.Stored, error) {
	if tip, err := l.Tip(device); err != nil || seq > tip.Seq {
		return record.Stored{}, err
	}
	return stored(l.tx.QueryRowContext(l.ctx, `SELECT seq, line FROM entry WHERE device = ?1 AND device_seq = ?2
		UNION ALL SELECT 0, line FROM aside WHERE state = 'quarantined' AND device = ?1 AND device_seq = ?2 LIMIT 1`, device, seq))
}

func stored(row *sql.Row) (s record.Stored, err error) {
	if err := row.Scan(&s.Seq, &s.Line); err != nil && !errors.Is(err, sql.ErrNoRows) {
		return record.Stored{}, err
	}
	return s, nil
}

// Tip is what is held of one device.
func (l *Ledger) Tip(device string) (record.Tip, error) {
	if tip, ok := l.tips[device]; ok {
		return tip, nil
	}
	tip, ok := l.was[device]
	if !ok {
		var err error
		if tip, err = readTip(l.ctx, l.tx, device, record.Tip{}); err != nil {
			return record.Tip{}, err
		}
	}
	l.tips[device] = tip
	return tip, nil
}

// readTip reads on from a tip whose Through is known.
func readTip(ctx context.Context, q queryer, device string, tip record.Tip) (record.Tip, error) {
	rows, err := q.QueryContext(ctx, `SELECT device_seq, digest FROM entry WHERE device = ?1 AND device_seq > ?2
		UNION SELECT device_seq, digest FROM aside WHERE state = 'quarantined' AND device = ?1 AND device_seq > ?2
		ORDER BY device_seq`, device, tip.Through)
	if err != nil {
		return tip, err
	}
	defer rows.Close()
	for rows.Next() {
		var digest sql.RawBytes
		if err := rows.Scan(&tip.Seq, &digest); err != nil {
			return tip, err
		}
		tip.Digest = record.Digest(digest)
		if tip.Seq == tip.Through+1 {
			tip.Through = tip.Seq
		}
	}
	return tip, rows.Err()
}

// hold moves a device's tip over one more record.
func (l *Ledger) hold(h record.Header, digest record.Digest) error {
	tip, err := l.Tip(h.Device)
	if err != nil {
		return err
	}
	if h.Seq > tip.Seq {
		tip.Seq, tip.Digest = h.Seq, digest
	}
	if h.Seq == tip.Through+1 {
		tip.Through = h.Seq
		if tip.Through < tip.Seq { // it filled a gap: others may have waited behind it
			if tip, err = readTip(l.ctx, l.tx, h.Device, tip); err != nil {
				return err
			}
		}
	}
	l.tips[h.Device] = tip
	return nil
}

// Append puts an entry at the log's end and gives its number. The caller has
// looked first: a record that is there already, or whose name is another's, is
// an error here.
func (l *Ledger) Append(r record.Record, line []byte) (seq int64, err error) {
	digest, next := record.DigestOf(line), l.head.Next(line)
	if err := l.hold(r.Header, digest); err != nil {
		return 0, err
	}
	res, err := l.stmts.insert.ExecContext(l.ctx, next.Seq, r.ID[:], r.Device, r.Seq, digest[:], l.received.UnixMilli(), next.Chain[:], line)
	if err != nil {
		return 0, fmt.Errorf("appending %s: %w", r.Address(), err)
	}
	if n, err := res.RowsAffected(); err != nil || n != 1 {
		return 0, errors.Join(fmt.Errorf("appending %s: the log has it already", r.Address()), err)
	}
	l.head = next
	return next.Seq, nil
}

// SetAside keeps a line out of the log: quarantined, forked or malformed. The
// same line in the same state is kept once.
func (l *Ledger) SetAside(state string, r record.Record, line []byte, fault record.Fault) error {
	digest := record.DigestOf(line)
	var id, device, seq any
	if r.Device != "" {
		id, device, seq = r.ID[:], r.Device, r.Seq
	}
	if state == "quarantined" {
		if err := l.hold(r.Header, digest); err != nil {
			return err
		}
	}
	words, err := json.Marshal(fault)
	if err != nil {
		return err
	}
	_, err = l.stmts.setAside.ExecContext(l.ctx, state, digest[:], id, device, seq, l.sender, l.received.UnixMilli(), string(words), line)
	if err != nil {
		return fmt.Errorf("setting a line aside: %w", err)
	}
	return nil
}
