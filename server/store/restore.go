package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/google/uuid"
)

// Restore puts a backup in the place of the book at path, which no server may
// have open. The backup is verified first; the book that was there is kept,
// and its new name returned; the restored book begins a new epoch, so that
// phones send again what they hold.
func Restore(ctx context.Context, backup, path string, now time.Time) (kept string, v Verdict, err error) {
	if path, err = filepath.Abs(path); err != nil {
		return "", v, err
	}
	if _, err := fileSystem(filepath.Dir(path)); err != nil {
		return "", v, err
	}
	from, err := OpenReader(ctx, backup)
	if err != nil {
		return "", v, err
	}
	defer from.Close()
	if v, err = from.Verify(ctx); err == nil {
		err = v.Err()
	}
	if err != nil {
		return "", v, fmt.Errorf("the backup %s is not whole; nothing was changed: %w", backup, err)
	}
	release, err := lock(path)
	if err != nil {
		return "", v, err
	}
	defer func() { err = errors.Join(err, release()) }()

	tmp, err := temporary(path)
	if err != nil {
		return "", v, err
	}
	defer removeDatabase(tmp)
	if err := copyInto(ctx, backup, tmp); err != nil {
		return "", v, fmt.Errorf("copying the backup; nothing was changed: %w", err)
	}
	if err := beginEpoch(ctx, tmp, now); err != nil {
		return "", v, fmt.Errorf("preparing the restored book; nothing was changed: %w", err)
	}
	if kept, err = setAside(path, now); err != nil {
		return "", v, err
	}
	return kept, v, place(tmp, path)
}

// beginEpoch opens the copy as a server would, which brings it to the newest
// format, and writes its new epoch.
func beginEpoch(ctx context.Context, path string, now time.Time) error {
	s, err := Open(ctx, path, Options{Now: func() time.Time { return now }})
	if err != nil {
		return err
	}
	_, err = s.writer.ExecContext(ctx, "INSERT INTO epoch (epoch, began, reason) VALUES (?, ?, 'restored')", uuid.NewString(), now.UnixMilli())
	return errors.Join(full(err), s.Close())
}

// setAside renames the book that is there. Its write-ahead log is folded in
// first and must not stay behind: SQLite would apply it to the restored book.
func setAside(path string, now time.Time) (kept string, err error) {
	kept = path + ".before-restore-" + now.UTC().Format("20060102T150405Z")
	if _, err := os.Lstat(kept); err == nil {
		return "", fmt.Errorf("%w: %s", ErrExists, kept)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		kept = "" // nothing to keep but, perhaps, what an earlier restore left
	} else if db, err := sql.Open("sqlite", dsn(path, "rw", nil)); err == nil {
		// A damaged book cannot be folded; then its log is kept beside it as it is.
		db.ExecContext(context.Background(), "PRAGMA wal_checkpoint(TRUNCATE)")
		db.Close()
	}
	for _, suffix := range []string{"", "-wal", "-shm"} {
		move := func() error { return os.Rename(path+suffix, kept+suffix) }
		if kept == "" {
			move = func() error { return os.Remove(path + suffix) }
		}
		if err := move(); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("keeping the book that is there: %w", err)
		}
	}
	return kept, nil
}
