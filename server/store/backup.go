package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// copyInto writes one moment's view of the database at path to the empty file
// tmp. It takes a connection of its own: on the readers' VACUUM is refused.
func copyInto(ctx context.Context, path, tmp string) error {
	db, err := sql.Open("sqlite", dsn(path, "ro", nil))
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", tmp)
	return errors.Join(full(err), db.Close())
}

// copyTo is copyInto, and the copy gets its name only when it is whole and on
// the disk.
func copyTo(ctx context.Context, path, target string) error {
	tmp, err := temporary(target)
	if err != nil {
		return err
	}
	defer removeDatabase(tmp)
	if err := copyInto(ctx, path, tmp); err != nil {
		return err
	}
	return place(tmp, target)
}

// temporary names a file beside target that does not exist yet, empty and for
// its owner's eyes, since VACUUM INTO fills an empty file.
func temporary(target string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(target), filepath.Base(target)+".part-*")
	if err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

// place gives a finished file its name and makes both last.
func place(tmp, target string) error {
	if err := syncPath(tmp); err != nil {
		return err
	}
	if err := os.Rename(tmp, target); err != nil {
		return err
	}
	return syncPath(filepath.Dir(target))
}

func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// removeDatabase takes away a temporary database with all that stands beside
// it under its name.
func removeDatabase(tmp string) {
	files, _ := os.ReadDir(filepath.Dir(tmp)) // what cannot be listed stays, to no harm
	for _, f := range files {
		if strings.HasPrefix(f.Name(), filepath.Base(tmp)) {
			os.Remove(filepath.Join(filepath.Dir(tmp), f.Name()))
		}
	}
}

// Backup writes a copy of the book to a new file while the book is in use,
// and then reads the copy: the file gets its name only after SQLite's own
// check and Verify have passed.
func (r *Reader) Backup(ctx context.Context, target string) (Verdict, error) {
	if _, err := os.Lstat(target); err == nil {
		return Verdict{}, fmt.Errorf("%w: %s; a backup never writes over one", ErrExists, target)
	}
	tmp, err := temporary(target)
	if err != nil {
		return Verdict{}, fmt.Errorf("writing the backup: %w", err)
	}
	defer removeDatabase(tmp)
	if err := copyInto(ctx, r.path, tmp); err != nil {
		return Verdict{}, fmt.Errorf("writing the backup: %w", err)
	}
	v, err := verifyFile(ctx, tmp)
	if err == nil {
		err = v.Err()
	}
	if err != nil {
		return v, fmt.Errorf("the backup is not whole and was thrown away: %w", err)
	}
	if err := place(tmp, target); err != nil {
		return v, fmt.Errorf("writing the backup: %w", err)
	}
	return v, nil
}

// verifyFile verifies a database that nobody else has open.
func verifyFile(ctx context.Context, path string) (Verdict, error) {
	r, err := OpenReader(ctx, path)
	if err != nil {
		return Verdict{}, err
	}
	v, err := r.Verify(ctx)
	return v, errors.Join(err, r.Close())
}

// Daily makes the day's backup in dir unless it is there, and takes away all
// but the newest keep. It returns the path, and whether it was made now.
func (r *Reader) Daily(ctx context.Context, dir string, day time.Time, keep int) (path string, made bool, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", false, fmt.Errorf("making the folder of backups: %w", err)
	}
	stem := strings.TrimSuffix(filepath.Base(r.path), filepath.Ext(r.path)) + "-"
	path = filepath.Join(dir, stem+day.Format(time.DateOnly)+".db")
	if _, err := os.Stat(path); err == nil {
		return path, false, nil
	}
	if _, err := r.Backup(ctx, path); err != nil {
		return "", false, err
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		return path, true, err
	}
	var dailies []string
	for _, f := range files {
		day, ok := strings.CutPrefix(f.Name(), stem)
		if day, ok2 := strings.CutSuffix(day, ".db"); ok && ok2 {
			if _, err := time.Parse(time.DateOnly, day); err == nil {
				dailies = append(dailies, f.Name())
			}
		}
	}
	sort.Strings(dailies)
	for len(dailies) > max(keep, 1) {
		if err := os.Remove(filepath.Join(dir, dailies[0])); err != nil {
			return path, true, err
		}
		dailies = dailies[1:]
	}
	return path, true, nil
}
