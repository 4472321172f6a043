package store_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/server/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func files(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// A backup taken while phones push is one moment of the book.
func TestBackupOfABookInUse(t *testing.T) {
	s := book(t)
	p := &pen{device: "heron41"}
	add(t, s, p.batch(t, 300))
	var pushing sync.WaitGroup
	stop := make(chan struct{})
	all := p.batch(t, 4000)
	pushing.Go(func() {
		for i := 0; i < len(all); i += 4 {
			select {
			case <-stop:
				return
			default:
			}
			if err := s.Update(t.Context(), "heron41", func(l *store.Ledger) error { return appendAll(l, all[i:i+4]) }); err != nil {
				t.Error(err)
			}
		}
	})
	dir := t.TempDir()
	target := filepath.Join(dir, "copy.db")
	v, err := s.Backup(t.Context(), target)
	close(stop)
	pushing.Wait()
	require.NoError(t, err)
	assert.Zero(t, v.Entries%4, "no half batch")
	assert.GreaterOrEqual(t, v.Entries, int64(300))
	assert.Equal(t, []string{"copy.db"}, files(t, dir), "nothing else is left lying about")
	info, err := os.Stat(target)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	whole(t, &s.Reader, v.Head)

	copied := open(t, target, store.Options{})
	assert.Equal(t, v.Head, head(t, &copied.Reader), "the copy is a book")
	_, err = s.Backup(t.Context(), target)
	assert.ErrorIs(t, err, store.ErrExists)
	assert.ErrorContains(t, err, "a backup never writes over one")
	_, err = s.Backup(t.Context(), filepath.Join(dir, "no", "folder", "copy.db"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestDailiesAreKeptInRotation(t *testing.T) {
	s := book(t)
	add(t, s, (&pen{device: "heron41"}).batch(t, 2))
	dir := filepath.Join(t.TempDir(), "backups")
	day := time.Date(2026, 2, 27, 23, 0, 0, 0, time.UTC)
	for i := range 6 {
		path, made, err := s.Daily(t.Context(), dir, day.AddDate(0, 0, i), 3)
		require.NoError(t, err)
		assert.True(t, made)
		_, made, err = s.Daily(t.Context(), dir, day.AddDate(0, 0, i).Add(time.Minute), 3)
		require.NoError(t, err)
		assert.False(t, made, "once a day")
		_, err = os.Stat(path)
		assert.NoError(t, err)
		if i == 0 {
			for _, mine := range []string{"book-2020-01-01-before-the-move.db", "book-notes.db", "other-2020-01-01.db"} {
				require.NoError(t, os.WriteFile(filepath.Join(dir, mine), []byte("a person's own"), 0o600))
			}
		}
	}
	got := files(t, dir)
	slices.Sort(got)
	assert.Equal(t, []string{
		"book-2020-01-01-before-the-move.db", "book-2026-03-02.db", "book-2026-03-03.db", "book-2026-03-04.db", "book-notes.db", "other-2020-01-01.db",
	}, got, "the newest three days, and what is not ours")
}

func TestRestore(t *testing.T) {
	dir := t.TempDir()
	path, backup := filepath.Join(dir, "book.db"), filepath.Join(dir, "backup.db")
	s := open(t, path, store.Options{})
	p := &pen{device: "heron41"}
	add(t, s, p.batch(t, 3))
	_, err := s.Backup(t.Context(), backup)
	require.NoError(t, err)
	old := head(t, &s.Reader)
	epoch, err := s.Epoch(t.Context())
	require.NoError(t, err)
	later := p.batch(t, 2)
	add(t, s, later)

	_, _, err = store.Restore(t.Context(), backup, path, morning)
	assert.ErrorIs(t, err, store.ErrInUse, "not under a running server")
	newest := head(t, &s.Reader)
	require.NoError(t, s.Close())

	kept, v, err := store.Restore(t.Context(), backup, path, morning)
	require.NoError(t, err)
	assert.EqualValues(t, 3, v.Entries)
	assert.Equal(t, path+".before-restore-20261125T090000Z", kept)
	was, err := store.OpenReader(t.Context(), kept)
	require.NoError(t, err)
	defer was.Close()
	assert.Equal(t, newest, head(t, was), "the book that was there is kept as it was")

	s = open(t, path, store.Options{})
	assert.Equal(t, old, head(t, &s.Reader))
	fresh, err := s.Epoch(t.Context())
	require.NoError(t, err)
	assert.NotEqual(t, epoch, fresh, "a restored book is another life of it")
	add(t, s, later)
	assert.Equal(t, newest, head(t, &s.Reader), "what phones still hold comes again, byte for byte")
	require.NoError(t, s.Close())

	_, _, err = store.Restore(t.Context(), backup, path, morning)
	assert.ErrorIs(t, err, store.ErrExists, "what is kept is never written over")
	_, _, err = store.Restore(t.Context(), backup, path, morning.Add(time.Second))
	require.NoError(t, err)
	for _, name := range files(t, dir) {
		assert.NotContains(t, name, ".part-")
	}
}

// The book that is to be replaced may be damaged, killed with its log unread,
// or gone: that is when one restores.
func TestRestoreOverWhateverIsThere(t *testing.T) {
	source := book(t)
	add(t, source, (&pen{device: "heron41"}).batch(t, 3))
	backup := filepath.Join(t.TempDir(), "backup.db")
	_, err := source.Backup(t.Context(), backup)
	require.NoError(t, err)
	for name, prepare := range map[string]func(path string){
		"nothing": func(string) {},
		"garbage": func(path string) {
			require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("mould ", 1000)), 0o600))
			require.NoError(t, os.WriteFile(path+"-wal", []byte("more mould"), 0o600))
		},
		"a log without its book": func(path string) { require.NoError(t, os.WriteFile(path+"-wal", []byte("mould"), 0o600)) },
		"a killed book": func(path string) {
			other := book(t)
			add(t, other, (&pen{device: "otter22"}).batch(t, 5))
			for _, suffix := range []string{"", "-wal"} {
				raw, err := os.ReadFile(other.Path() + suffix)
				require.NoError(t, err)
				require.NotEmpty(t, raw, suffix)
				require.NoError(t, os.WriteFile(path+suffix, raw, 0o600))
			}
		},
	} {
		path := filepath.Join(t.TempDir(), "book.db")
		prepare(path)
		kept, _, err := store.Restore(t.Context(), backup, path, morning)
		require.NoError(t, err, name)
		s := open(t, path, store.Options{})
		assert.Equal(t, head(t, &source.Reader), head(t, &s.Reader), name)
		if name == "a killed book" {
			was, err := store.OpenReader(t.Context(), kept)
			require.NoError(t, err)
			defer was.Close()
			assert.EqualValues(t, 5, head(t, was).Seq, "what only its log held is kept, too")
		}
	}
}

func TestRestoreRefusesABackupThatIsNotWhole(t *testing.T) {
	s := book(t)
	add(t, s, (&pen{device: "heron41"}).batch(t, 3))
	dir := t.TempDir()
	backup := filepath.Join(dir, "backup.db")
	_, err := s.Backup(t.Context(), backup)
	require.NoError(t, err)
	tamper(t, backup, "DROP TRIGGER entry_no_update", "UPDATE entry SET received = 0 WHERE seq = 1")
	before := head(t, &s.Reader)
	path := s.Path()
	require.NoError(t, s.Close())
	_, _, err = store.Restore(t.Context(), backup, path, morning)
	assert.ErrorContains(t, err, "is not whole; nothing was changed: the trigger entry_no_update is gone")
	_, _, err = store.Restore(t.Context(), filepath.Join(dir, "none.db"), path, morning)
	assert.ErrorIs(t, err, os.ErrNotExist)
	again := open(t, path, store.Options{})
	assert.Equal(t, before, head(t, &again.Reader))
}
