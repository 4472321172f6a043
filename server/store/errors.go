package store

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What the store can refuse. Each is wrapped with the words for the case.
var (
	ErrFull              = error(noRoom{})
	ErrNetworkFileSystem = errors.New("a book cannot live on a network file system")
	ErrInUse             = errors.New("another Gaugebook has this book open")
	ErrNewer             = errors.New("a newer Gaugebook wrote this book")
	ErrNotABook          = errors.New("this file is not a book of Gaugebook")
	ErrTampered          = errors.New("this book was tampered with")
	ErrUnknownDevice     = errors.New("no device has this name")
	ErrExists            = errors.New("the file exists already")
)

// noRoom is the type of ErrFull, for a neighbour that may not import this package.
type noRoom struct{}

func (noRoom) Error() string { return "the disk is full: nothing of this was stored" }

// NoRoom says that space on the disk would help.
func (noRoom) NoRoom() bool { return true }

// full turns SQLite's several ways of saying 'no more room' into ErrFull. A
// write that failed for a quota or a size limit is the same to a phone: it
// keeps its entries and tries again.
func full(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code() {
	case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_SHMSIZE, sqlite3.SQLITE_IOERR_TRUNCATE:
		return fmt.Errorf("%w (%v)", ErrFull, err)
	}
	return err
}

// isConstraint says whether the schema refused the row.
func isConstraint(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == sqlite3.SQLITE_CONSTRAINT
}
