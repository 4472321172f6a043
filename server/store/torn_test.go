package store_test

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A power cut may leave any part of the write-ahead log on the disk. Whatever
// part that is, the book opens, holds the first so many commits whole, and
// goes on.
func TestTornLogs(t *testing.T) {
	const commits, size, tries = 12, 3, 1000
	s := book(t)
	p := &pen{device: "heron41"}
	marks := map[int64]record.Mark{0: {}}
	for range commits {
		add(t, s, p.batch(t, size))
		h := head(t, &s.Reader)
		marks[h.Seq] = h
	}
	next := p.batch(t, 1)
	file, err := os.ReadFile(s.Path()) // while it is open: the log is not folded in
	require.NoError(t, err)
	log, err := os.ReadFile(s.Path() + "-wal")
	require.NoError(t, err)
	require.Greater(t, len(log), commits*4096, "every commit is in the log")

	// The same places every time; all must open, so all are looked at.
	chance := rand.New(rand.NewPCG(2026, 11))
	path := filepath.Join(inMemory(t), "torn.db")
	reached := map[int64]int{}
	for i := range tries {
		torn := append([]byte(nil), log...)
		at := chance.IntN(len(log))
		switch i % 3 {
		case 0: // cut off
			torn = torn[:at]
		case 1: // a sector of something else
			for j := at; j < min(at+512, len(torn)); j++ {
				torn[j] = byte(chance.Uint32())
			}
		case 2: // one bit
			torn[at] ^= 1 << chance.IntN(8)
		}
		for _, suffix := range []string{"-shm", "-lock"} {
			os.Remove(path + suffix)
		}
		require.NoError(t, os.WriteFile(path, file, 0o600))
		require.NoError(t, os.WriteFile(path+"-wal", torn, 0o600))
		s, err := store.Open(t.Context(), path, store.Options{Now: now})
		require.NoError(t, err, "torn at %d of %d, kind %d", at, len(log), i%3)
		h := head(t, &s.Reader)
		require.Equal(t, marks[h.Seq], h, "torn at %d of %d, kind %d: the log ends inside a commit", at, len(log), i%3)
		reached[h.Seq]++
		if i%50 == 0 {
			whole(t, &s.Reader, h)
			if h.Seq == commits*size {
				add(t, s, next)
			}
		}
		require.NoError(t, s.Close())
	}
	assert.Greater(t, len(reached), commits/2, "the tears reached many commits: %v", reached)
}

// inMemory is a folder that syncs at once where there is one: what this test
// tears, it tears by itself, and needs no disk to have lost it.
func inMemory(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "gaugebook-*")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}
