package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/google/uuid"

	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/sync/simulate"
)

// sqlite is the real storage as the simulator's office uses it.
type sqlite struct {
	*store.Store
	dir     string // its own
	backups int
	now     time.Time // a restore names what it replaces by the second
}

// openSQLite begins an empty book in a folder of its own. The simulator takes
// no errors from an office that has no fault, so neither does this.
func openSQLite(under string) simulate.Storage {
	dir, err := os.MkdirTemp(under, "day-")
	if err != nil {
		panic(err)
	}
	s := &sqlite{dir: dir}
	if err := s.open(); err != nil {
		panic(err)
	}
	return s
}

func (s *sqlite) path() string { return filepath.Join(s.dir, "book.db") }

func (s *sqlite) open() (err error) {
	s.Store, err = store.Open(context.Background(), s.path(), store.Options{})
	return err
}

func (s *sqlite) Update(f func(exchange.Ledger) error) error {
	return s.Store.Update(context.Background(), "simulated", func(l *store.Ledger) error { return f(l) })
}

func (s *sqlite) View(f func(exchange.Reader) error) error {
	return s.Store.View(context.Background(), func(v *store.View) error { return f(v) })
}

// Restart closes and opens the book. What a kill leaves behind is tested on
// real processes beside the server.
func (s *sqlite) Restart() error { return errors.Join(s.Store.Close(), s.open()) }

func (s *sqlite) Backup() (func() error, error) {
	s.backups++
	backup := filepath.Join(s.dir, "backup-"+strconv.Itoa(s.backups)+".db")
	if _, err := s.Store.Backup(context.Background(), backup); err != nil {
		return nil, err
	}
	return func() error {
		if err := s.Store.Close(); err != nil {
			return err
		}
		s.now = s.now.Add(time.Minute)
		_, _, err := store.Restore(context.Background(), backup, s.path(), s.now)
		return errors.Join(err, s.open())
	}, nil
}

func (s *sqlite) Aside(state exchange.State) (lines [][]byte, err error) {
	asides, err := s.Store.Asides(context.Background())
	if err != nil {
		return nil, err
	}
	logged := map[uuid.UUID]bool{}
	err = s.View(func(r exchange.Reader) error {
		return r.After(0, func(_ int64, line []byte) bool {
			if r, err := record.Decode(line); err == nil {
				logged[r.ID] = true
			}
			return true
		})
	})
	for _, a := range asides {
		r, decodeErr := record.Decode(a.Line)
		letIn := state == exchange.Quarantined && decodeErr == nil && logged[r.ID]
		if exchange.State(a.State) == state && !letIn {
			lines = append(lines, a.Line)
		}
	}
	return lines, err
}

// Close also takes the folder away.
func (s *sqlite) Close() error { return errors.Join(s.Store.Close(), os.RemoveAll(s.dir)) }
