//go:build !unix

package store

import (
	"fmt"
	"os"
)

// lock takes the book for one writing process: without flock, by a file that
// must not exist, which a killed process leaves behind.
func lock(path string) (release func() error, err error) {
	f, err := os.OpenFile(path+"-lock", os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("%w: %s; stop the other one first, or delete %s-lock if it was killed", ErrInUse, path, path)
	}
	return func() error {
		f.Close()
		return os.Remove(path + "-lock")
	}, nil
}
