package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"sort"
	"time"
)

// applicationID is written into the file's header, where file(1) finds it: "GgBk".
const applicationID = 0x4767426B

//go:embed migrations/*.sql
var migrationFiles embed.FS

// A migration brings a book from version-1 to version. It may add tables and
// triggers; it never rewrites an entry.
type migration struct {
	version int
	sql     string
}

// migrations reads the numbered files: their order is their version.
func migrations() ([]migration, error) {
	names, err := fs.Glob(migrationFiles, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	sort.Strings(names)
	var ms []migration
	for i, name := range names {
		text, err := fs.ReadFile(migrationFiles, name)
		if err != nil {
			return nil, err
		}
		var version int
		if _, err := fmt.Sscanf(name, "migrations/%04d_", &version); err != nil || version != i+1 {
			return nil, fmt.Errorf("migration %s: the %d. file must be numbered %04d", name, i+1, i+1)
		}
		ms = append(ms, migration{version, string(text)})
	}
	return ms, nil
}

// standing is what a file says about itself.
type standing struct {
	application, version int64
	objects              int64 // tables, indexes and triggers
}

func readStanding(ctx context.Context, db *sql.DB) (s standing, err error) {
	for _, q := range []struct {
		query string
		to    *int64
	}{
		{"PRAGMA application_id", &s.application},
		{"PRAGMA user_version", &s.version},
		{"SELECT count(*) FROM sqlite_schema", &s.objects},
	} {
		if err := db.QueryRowContext(ctx, q.query).Scan(q.to); err != nil {
			return s, err
		}
	}
	return s, nil
}

// fresh says whether nothing was ever written to the file.
func (s standing) fresh() bool { return s == standing{} }

// check refuses a file this program must not touch.
func (s standing) check(path string, newest int) error {
	switch {
	case s.fresh():
		return nil
	case s.application != applicationID:
		return fmt.Errorf("%w: %s holds another program's tables; name another file", ErrNotABook, path)
	case s.version > int64(newest):
		return fmt.Errorf("%w: %s has format %d, this program knows up to %d; update Gaugebook", ErrNewer, path, s.version, newest)
	}
	return nil
}

// migrate brings the file up to the newest migration, one transaction each,
// after a copy of what was there. It returns the path of the copy, if one was
// made.
func migrate(ctx context.Context, db *sql.DB, path string, from standing, ms []migration, now time.Time) (copied string, err error) {
	if from.version == int64(len(ms)) {
		return "", nil
	}
	if !from.fresh() {
		copied = fmt.Sprintf("%s.format-%d-%s", path, from.version, now.UTC().Format("20060102T150405Z"))
		if err := copyTo(ctx, path, copied); err != nil {
			return "", fmt.Errorf("copying the book before its format changes: %w", err)
		}
	}
	for _, m := range ms[from.version:] {
		if err := applyMigration(ctx, db, m); err != nil {
			return copied, fmt.Errorf("changing the book to format %d: %w", m.version, full(err))
		}
	}
	return copied, nil
}

func applyMigration(ctx context.Context, db *sql.DB, m migration) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for _, q := range []string{
		m.sql,
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", m.version),
	} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return tx.Commit()
}
