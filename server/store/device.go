package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// A Device may write to the book.
type Device struct {
	Name   string
	Token  [32]byte // SHA-256 of the secret it shows
	Role   string
	Label  string // what its people call it
	Was    string // the name it had before, if it had to take another
	Joined time.Time
	Ended  time.Time // when its time ends or ended; zero for no end
}

// AddDevice lets a device in; false if its name is a device's already.
func (s *Store) AddDevice(ctx context.Context, d Device) (bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, err := s.writer.ExecContext(ctx, "INSERT INTO device (name, token, role, label, was, joined, ended) VALUES (?,?,?,?,?,?,?)",
		d.Name, d.Token[:], d.Role, d.Label, d.Was, d.Joined.UnixMilli(), endOf(d))
	if isConstraint(err) {
		return false, nil
	}
	return err == nil, full(err)
}

// NameUsed says whether the book knows the name: a device has it, or entries
// bear it, perhaps of a device that a restore forgot.
func (r *Reader) NameUsed(ctx context.Context, name string) (bool, error) {
	var used bool
	err := r.readers.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM device WHERE name = ?1)
		OR EXISTS (SELECT 1 FROM entry WHERE device = ?1) OR EXISTS (SELECT 1 FROM aside WHERE device = ?1)`, name).Scan(&used)
	return used, err
}

// EndDevice ends a device's time at the given moment.
func (s *Store) EndDevice(ctx context.Context, name string, at time.Time) error {
	return s.changeDevice(ctx, name, "UPDATE device SET ended = ? WHERE name = ?", at.UnixMilli(), name)
}

// endOf is a device's end as the table has it.
func endOf(d Device) any {
	if d.Ended.IsZero() {
		return nil
	}
	return d.Ended.UnixMilli()
}

// RenewDevice gives a device another secret, role, label and end.
func (s *Store) RenewDevice(ctx context.Context, d Device) error {
	return s.changeDevice(ctx, d.Name, "UPDATE device SET token = ?, role = ?, label = ?, ended = ? WHERE name = ?",
		d.Token[:], d.Role, d.Label, endOf(d), d.Name)
}

func (s *Store) changeDevice(ctx context.Context, name, statement string, args ...any) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	res, err := s.writer.ExecContext(ctx, statement, args...)
	if err != nil {
		return full(err)
	}
	if n, err := res.RowsAffected(); err != nil {
		return err
	} else if n == 0 {
		return fmt.Errorf("%w: %s", ErrUnknownDevice, name)
	}
	return nil
}

const deviceColumns = "name, token, role, label, was, joined, ended"

func scanDevice(scan func(...any) error) (d Device, err error) {
	var token []byte
	var joined int64
	var ended sql.NullInt64
	if err := scan(&d.Name, &token, &d.Role, &d.Label, &d.Was, &joined, &ended); err != nil {
		return d, err
	}
	d.Token, d.Joined = [32]byte(token), time.UnixMilli(joined)
	if ended.Valid {
		d.Ended = time.UnixMilli(ended.Int64)
	}
	return d, nil
}

// DeviceByToken finds the device whose secret has this hash; false if there is
// none.
func (r *Reader) DeviceByToken(ctx context.Context, token [32]byte) (Device, bool, error) {
	d, err := scanDevice(r.readers.QueryRowContext(ctx, "SELECT "+deviceColumns+" FROM device WHERE token = ?", token[:]).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return d, false, nil
	}
	return d, err == nil, err
}

// Devices are all that ever joined, by name.
func (r *Reader) Devices(ctx context.Context) ([]Device, error) {
	rows, err := r.readers.QueryContext(ctx, "SELECT "+deviceColumns+" FROM device ORDER BY name")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Device
	for rows.Next() {
		d, err := scanDevice(rows.Scan)
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, rows.Err()
}

// Holds says how many of the entries are in the log or kept beside it.
func (r *Reader) Holds(ctx context.Context, ids []uuid.UUID) (n int, err error) {
	raw, err := json.Marshal(ids)
	if err != nil {
		return 0, err
	}
	err = r.readers.QueryRowContext(ctx, `WITH asked(id) AS (SELECT unhex(replace(value, '-', '')) FROM json_each(?))
		SELECT count(DISTINCT id) FROM asked WHERE id IN (SELECT id FROM entry) OR id IN (SELECT id FROM aside)`, string(raw)).Scan(&n)
	return n, err
}
