//go:build !linux

package store

// fileSystem cannot tell a network file system here, so it says so once.
func fileSystem(dir string) (warning string, err error) {
	return "this system does not tell whether " + dir + " is on a network file system: keep the book on a disk of this machine", nil
}
