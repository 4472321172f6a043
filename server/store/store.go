package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"gaugebook/sync/record"

	"github.com/google/uuid"
	_ "modernc.org/sqlite" // the driver
)

// Options say how a book is opened. The zero value is good.
type Options struct {
	Now  func() time.Time // the clock; time.Now if nil
	Warn func(string)     // where a sentence of doubt goes; nowhere if nil

	// MaxPages bounds the file, so that a test can fill the disk; 0 is no bound.
	MaxPages int

	migrations []migration // for tests of the mechanism
}

// A Store is the one writer of a book and a pool of readers. It is safe for
// concurrent use.
type Store struct {
	Reader
	now     func() time.Time
	release func() error

	mu     sync.Mutex // held through every write transaction
	writer *sql.DB    // exactly one connection
	stmts  statements
	head   record.Mark
	tips   map[string]record.Tip // of the devices met since the book was opened
	stale  bool                  // a commit failed half-way: read what is above again
}

// A Reader reads a book and cannot write to it.
type Reader struct {
	path       string
	readers    *sql.DB
	migrations []migration
}

// Every connection gets these, because SQLite keeps them per connection.
// recursive_triggers makes REPLACE fire delete triggers; defensive and
// trusted_schema harden against a prepared file.
var pragmas = url.Values{
	"_pragma": {
		"busy_timeout(5000)", "synchronous(FULL)", "foreign_keys(1)", "recursive_triggers(1)",
		"trusted_schema(0)", "cell_size_check(1)",
	},
	"_defensive": {"1"},
	"_dqs":       {"0"},
	"_error_rc":  {"1"},
}

func dsn(path, mode string, more url.Values) string {
	q := url.Values{"mode": {mode}}
	for _, set := range []url.Values{pragmas, more} {
		for k, v := range set {
			q[k] = append(q[k], v...)
		}
	}
	return (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}).String()
}

// Open opens the book for writing, and begins it if the file is new or empty.
func Open(ctx context.Context, path string, o Options) (_ *Store, err error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Warn == nil {
		o.Warn = func(string) {}
	}
	if o.migrations == nil {
		if o.migrations, err = migrations(); err != nil {
			return nil, err
		}
	}
	if path, err = filepath.Abs(path); err != nil {
		return nil, err
	}
	warning, err := fileSystem(filepath.Dir(path))
	if err != nil {
		return nil, err
	}
	if warning != "" {
		o.Warn(warning)
	}
	release, err := lock(path)
	if err != nil {
		return nil, err
	}
	s := &Store{now: o.Now, release: release, Reader: Reader{path: path, migrations: o.migrations}}
	defer func() {
		if err != nil {
			s.Close()
		}
	}()
	if err := create(path); err != nil {
		return nil, fmt.Errorf("opening the book: %w", err)
	}

	more := url.Values{"_txlock": {"immediate"}}
	if o.MaxPages > 0 {
		more.Add("_pragma", fmt.Sprintf("max_page_count(%d)", o.MaxPages))
	}
	if s.writer, err = sql.Open("sqlite", dsn(path, "rw", more)); err != nil {
		return nil, err
	}
	s.writer.SetMaxOpenConns(1)
	st, err := readStanding(ctx, s.writer)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrNotABook, path, full(err))
	}
	if err := st.check(path, len(o.migrations)); err != nil {
		return nil, err
	}
	var mode string
	if err := s.writer.QueryRowContext(ctx, "PRAGMA journal_mode = WAL").Scan(&mode); err != nil || mode != "wal" {
		return nil, fmt.Errorf("the book %s cannot use a write-ahead log (journal mode %q): is its folder writable? %w", path, mode, full(err))
	}
	copied, err := migrate(ctx, s.writer, path, st, o.migrations, o.Now())
	if err != nil {
		return nil, err
	}
	if copied != "" {
		o.Warn("the book has a new format; as it was before it is kept in " + copied)
	}
	if err := s.begin(ctx); err != nil {
		return nil, err
	}
	if broken, err := schemaBreak(ctx, s.writer, o.migrations); err != nil {
		return nil, err
	} else if broken != "" {
		return nil, fmt.Errorf("%w: %s: %s; run gaugebook verify, and restore a backup", ErrTampered, path, broken)
	}
	if err := s.refusesRewriting(ctx); err != nil {
		return nil, err
	}
	if err := s.load(ctx); err != nil {
		return nil, err
	}
	if s.stmts, err = prepare(ctx, s.writer); err != nil {
		return nil, err
	}
	if s.readers, err = openReaders(path); err != nil {
		return nil, err
	}
	return s, nil
}

// create makes the file if it is not there: for its owner's eyes, which SQLite
// keeps to for the log beside it, and with its name on the disk.
func create(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return errors.Join(f.Close(), syncPath(filepath.Dir(path)))
}

// OpenReader opens an existing book for reading, beside a running server or
// without one.
func OpenReader(ctx context.Context, path string) (*Reader, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("opening the book: %w", err)
	}
	ms, err := migrations()
	if err != nil {
		return nil, err
	}
	db, err := openReaders(path)
	if err != nil {
		return nil, err
	}
	st, err := readStanding(ctx, db)
	switch {
	case err != nil:
		err = fmt.Errorf("%w: %s: %w", ErrNotABook, path, err)
	case st.fresh():
		err = fmt.Errorf("%w: %s is empty", ErrNotABook, path)
	default:
		err = st.check(path, len(ms))
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return &Reader{path: path, readers: db, migrations: ms}, nil
}

func openReaders(path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, "ro", url.Values{"_query_only": {"1"}}))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	db.SetMaxIdleConns(4)
	return db, nil
}

// Path is the book's file.
func (r *Reader) Path() string { return r.path }

// Close ends reading.
func (r *Reader) Close() error {
	if r.readers == nil {
		return nil
	}
	return r.readers.Close()
}

// Close folds the write-ahead log into the book and lets go of it.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	errs := []error{s.Reader.Close()}
	if s.writer != nil {
		if s.readers != nil { // it was opened whole
			_, err := s.writer.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
			errs = append(errs, err)
		}
		errs = append(errs, s.writer.Close())
	}
	return errors.Join(append(errs, s.release())...)
}

// begin gives a new book its first epoch.
func (s *Store) begin(ctx context.Context) error {
	_, err := s.writer.ExecContext(ctx,
		`INSERT INTO epoch (n, epoch, began, reason) SELECT 1, ?, ?, 'begun' WHERE NOT EXISTS (SELECT 1 FROM epoch)`,
		uuid.NewString(), s.now().UnixMilli())
	return full(err)
}

// refusesRewriting tries, on an entry that is rolled back afterwards, each
// statement that must fail, and fails if one works: better no server than one
// whose log can be rewritten.
func (s *Store) refusesRewriting(ctx context.Context) error {
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	const row = `INTO entry (seq, id, device, device_seq, digest, received, chain, line)
		SELECT coalesce(max(seq), 0) + %d, zeroblob(16), 'probe', 1, %s, 0, zeroblob(32), x'00' FROM entry`
	if _, err := tx.ExecContext(ctx, "INSERT "+fmt.Sprintf(row, 1, "zeroblob(32)")); err != nil {
		return fmt.Errorf("trying the log: %w", full(err))
	}
	other := fmt.Sprintf("x'%064d'", 1)
	for _, forbidden := range []string{
		"UPDATE entry SET line = x'01' WHERE device = 'probe'",
		"DELETE FROM entry WHERE device = 'probe'",
		"INSERT OR REPLACE " + fmt.Sprintf(row, 0, other),
		"INSERT " + fmt.Sprintf(row, 1, other) + " WHERE true ON CONFLICT (id) DO UPDATE SET line = x'01'",
	} {
		if _, err := tx.ExecContext(ctx, forbidden); !isConstraint(err) {
			return fmt.Errorf("%w: %s: its log does not refuse to be rewritten (%s: %v)", ErrTampered, s.path, forbidden, err)
		}
	}
	return nil
}
