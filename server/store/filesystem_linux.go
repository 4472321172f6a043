package store

import (
	"fmt"
	"path/filepath"
	"syscall"
)

// Magic numbers of file systems, from Linux include/uapi/linux/magic.h and
// fs/smb/client. On the refused ones locks and fsync are promises of another
// machine; the doubtful ones may or may not be.
var (
	networkFileSystems = map[uint32]string{
		0x6969:     "NFS",
		0x517B:     "SMB",
		0xFF534D42: "CIFS",
		0xFE534D42: "SMB",
		0x5346414F: "AFS",
		0x73757245: "Coda",
		0x00C36400: "Ceph",
		0x0BD00BD0: "Lustre",
	}
	doubtfulFileSystems = map[uint32]string{
		0x65735546: "FUSE",
		0x01021997: "9P",
	}
)

// fileSystem refuses a directory on a network file system and returns a
// warning for one that may be.
func fileSystem(dir string) (warning string, err error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return "", fmt.Errorf("looking at the file system of %s: %w", dir, err)
	}
	return judgeFileSystem(dir, uint32(st.Type))
}

func judgeFileSystem(dir string, magic uint32) (warning string, err error) {
	if name, ok := networkFileSystems[magic]; ok {
		return "", fmt.Errorf("%w: %s is on %s; put the book on a disk of this machine and copy backups to the share instead",
			ErrNetworkFileSystem, filepath.Clean(dir), name)
	}
	if name, ok := doubtfulFileSystems[magic]; ok {
		return fmt.Sprintf("%s is on %s, which may not keep what it says it wrote; a disk of this machine is safer", filepath.Clean(dir), name), nil
	}
	return "", nil
}
