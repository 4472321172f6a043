package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestFileSystems(t *testing.T) {
	for magic, c := range map[uint32]struct {
		refused bool
		words   string
	}{
		0x6969:     {true, "a book cannot live on a network file system: /srv/share is on NFS; put the book on a disk of this machine and copy backups to the share instead"},
		0xFF534D42: {true, "a book cannot live on a network file system: /srv/share is on CIFS; put the book on a disk of this machine and copy backups to the share instead"},
		0xFE534D42: {true, "a book cannot live on a network file system: /srv/share is on SMB; put the book on a disk of this machine and copy backups to the share instead"},
		0x65735546: {false, "/srv/share is on FUSE, which may not keep what it says it wrote; a disk of this machine is safer"},
		0xEF53:     {false, ""}, // ext4
		0x9123683E: {false, ""}, // btrfs
		0x58465342: {false, ""}, // xfs
		0x01021994: {false, ""}, // tmpfs
		0x794C7630: {false, ""}, // overlayfs
	} {
		warning, err := judgeFileSystem("/srv/share/", magic)
		if c.refused {
			assert.ErrorIs(t, err, ErrNetworkFileSystem)
			assert.EqualError(t, err, c.words)
			continue
		}
		assert.NoError(t, err)
		assert.Equal(t, c.words, warning)
	}
	_, err := fileSystem("/no/such/folder")
	assert.ErrorContains(t, err, "/no/such/folder")
}
