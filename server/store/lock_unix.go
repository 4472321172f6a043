//go:build unix

package store

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// lock takes the book for one writing process. The lock lies on a file beside
// the book, because closing a second descriptor of the book itself would drop
// SQLite's own locks; it vanishes with the process, however that dies.
func lock(path string) (release func() error, err error) {
	f, err := os.OpenFile(path+"-lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("locking the book: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fmt.Errorf("%w: %s; stop the other one first", ErrInUse, path)
		}
		return nil, fmt.Errorf("locking the book %s: %w", path, err)
	}
	return f.Close, nil
}
