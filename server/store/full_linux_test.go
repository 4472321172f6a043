package store_test

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"gaugebook/server/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A disk is full in three ways here: SQLite may not grow the file, the kernel
// refuses a write (a limit on file size, which needs no rights), and, in a
// process of its own with a small file system, there is no space left. The
// third needs a mount; where the machine refuses it, the test says so and the
// second has already shown a refused write.
func TestFullDisk(t *testing.T) {
	t.Run("SQLite's own bound", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "book.db")
		p := &pen{device: "heron41"}
		s := open(t, path, store.Options{MaxPages: 60})
		left := fill(t, s, p)
		require.NoError(t, s.Close())
		s = open(t, path, store.Options{})
		add(t, s, left)
		whole(t, &s.Reader)
	})
	for _, way := range []string{"limit", "mount"} {
		t.Run(way, func(t *testing.T) {
			cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestFullDiskChild$", "-test.v")
			cmd.Env = append(os.Environ(), "STORE_FULL="+way, "STORE_DIR="+t.TempDir())
			if way == "mount" {
				cmd.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
				if os.Getuid() != 0 {
					cmd.SysProcAttr.Cloneflags |= syscall.CLONE_NEWUSER
					cmd.SysProcAttr.UidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}}
					cmd.SysProcAttr.GidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}}
				}
			}
			out, err := cmd.CombinedOutput()
			if way == "mount" && (errors.Is(err, syscall.EPERM) || errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOSPC) || strings.Contains(string(out), "MOUNT REFUSED")) {
				t.Logf("NOT DONE: this machine lets no process mount a file system of its own (%v), so a full one was not tried; the limit on file size was", err)
				return
			}
			require.NoError(t, err, "%s", out)
			require.Contains(t, string(out), "FILLED AND EMPTIED", "the child did its work:\n%s", out)
		})
	}
}

// fill appends until the disk is full and checks everything that must hold
// then. It returns the batch that was refused.
func fill(t *testing.T, s *store.Store, p *pen) []sealed {
	t.Helper()
	for range 100_000 {
		before := head(t, &s.Reader)
		batch := p.batch(t, 7)
		err := s.Update(t.Context(), "heron41", func(l *store.Ledger) error { return appendAll(l, batch) })
		if err == nil {
			continue
		}
		require.ErrorIs(t, err, store.ErrFull)
		var room interface{ NoRoom() bool }
		require.True(t, errors.As(err, &room) && room.NoRoom())
		require.Equal(t, before, head(t, &s.Reader), "nothing of the batch is stored")
		require.NotZero(t, before.Seq)
		assert.Len(t, lines(t, &s.Reader, 0), int(before.Seq), "reading goes on")
		err = s.Update(t.Context(), "heron41", func(l *store.Ledger) error { return appendAll(l, batch) })
		require.ErrorIs(t, err, store.ErrFull, "and again")
		return batch
	}
	t.Fatal("the disk never became full")
	return nil
}

// TestFullDiskChild is the process that TestFullDisk starts.
func TestFullDiskChild(t *testing.T) {
	way := os.Getenv("STORE_FULL")
	if way == "" {
		return // it is a part of TestFullDisk
	}
	dir := os.Getenv("STORE_DIR")
	var empty func()
	switch way {
	case "limit":
		signal.Ignore(syscall.SIGXFSZ) // then the write fails instead of the process
		var limit syscall.Rlimit
		require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &limit))
		require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 512 << 10, Max: limit.Max}))
		empty = func() { require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit)) }
	case "mount":
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
			fmt.Println("MOUNT REFUSED", err)
			return
		}
		ballast := filepath.Join(dir, "ballast")
		require.NoError(t, os.WriteFile(ballast, make([]byte, 1<<20), 0o600))
		empty = func() { require.NoError(t, os.Remove(ballast)) }
	}
	s := open(t, filepath.Join(dir, "book.db"), store.Options{})
	p := &pen{device: "heron41"}
	left := fill(t, s, p)
	empty()
	add(t, s, left) // without a restart
	add(t, s, p.batch(t, 50))
	v := whole(t, &s.Reader)
	require.NoError(t, s.Close())
	fmt.Println("FILLED AND EMPTIED", strconv.FormatInt(v.Entries, 10))
}
