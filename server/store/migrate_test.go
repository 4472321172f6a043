package store_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestMigrationTakesACopyFirst(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "book.db")
	s := open(t, path, store.Options{})
	p := &pen{device: "heron41"}
	add(t, s, p.batch(t, 3))
	was := head(t, &s.Reader)
	require.NoError(t, s.Close())

	var told []string
	newer := store.WithMigrations(t, store.Options{Now: now, Warn: func(words string) { told = append(told, words) }},
		"CREATE TABLE cellar (shelf TEXT) STRICT")
	s = open(t, path, newer)
	assert.Equal(t, "2", store.Pragma(t, s, "user_version")["writer"])
	assert.Equal(t, was, head(t, &s.Reader), "entries are never migrated")
	add(t, s, p.batch(t, 1))
	require.NoError(t, s.Close())
	copied := path + ".format-1-20261125T090000Z"
	require.Len(t, told, 1)
	assert.Equal(t, "the book has a new format; as it was before it is kept in "+copied, told[0])

	before, err := store.OpenReader(t.Context(), copied)
	require.NoError(t, err, "the copy has the old format")
	defer before.Close()
	whole(t, before, was)

	open(t, path, newer) // once is enough
	assert.Len(t, told, 1)
	_, err = store.Open(t.Context(), copied, store.Options{})
	require.NoError(t, err)

	_, err = store.OpenReader(t.Context(), path)
	assert.ErrorIs(t, err, store.ErrNewer)
	assert.ErrorContains(t, err, "a newer Gaugebook wrote this book: "+path+" has format 2, this program knows up to 1; update Gaugebook")
}

func TestANewerBookIsRefusedUntouched(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := open(t, path, store.WithMigrations(t, store.Options{}, "CREATE TABLE cellar (shelf TEXT) STRICT"))
	require.NoError(t, s.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = store.Open(t.Context(), path, store.Options{})
	assert.ErrorIs(t, err, store.ErrNewer)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// A migration that fails leaves the book as it was.
func TestAFailedMigrationChangesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := open(t, path, store.Options{})
	add(t, s, (&pen{device: "heron41"}).batch(t, 3))
	was := head(t, &s.Reader)
	require.NoError(t, s.Close())
	_, err := store.Open(t.Context(), path, store.WithMigrations(t, store.Options{Now: now}, "CREATE TABLE cellar (shelf TEXT) STRICT; INSERT INTO nowhere VALUES (1)"))
	assert.ErrorContains(t, err, "changing the book to format 2: ")
	s = open(t, path, store.Options{})
	assert.Equal(t, "1", store.Pragma(t, s, "user_version")["writer"])
	whole(t, &s.Reader, was)
}

var golden = flag.Bool("golden", false, "write testdata/format-N.db, the book that this format writes")

// Books that every released format wrote must open for ever.
func TestBooksOfEveryFormatOpen(t *testing.T) {
	batch := (&pen{device: "heron41"}).batch(t, 3)
	if *golden {
		s := book(t)
		add(t, s, batch)
		_, err := s.AddDevice(t.Context(), store.Device{Name: "heron41", Token: [32]byte{1}, Role: "owner", Label: "Still", Joined: morning})
		require.NoError(t, err)
		target := "testdata/format-" + store.Pragma(t, s, "user_version")["writer"] + ".db"
		require.NoError(t, os.RemoveAll(target))
		_, err = s.Backup(t.Context(), target)
		require.NoError(t, err)
	}
	books, err := filepath.Glob("testdata/format-*.db")
	require.NoError(t, err)
	require.NotEmpty(t, books)
	want := record.Mark{}.Next(batch[0].line).Next(batch[1].line).Next(batch[2].line)
	for _, from := range books {
		raw, err := os.ReadFile(from)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, os.WriteFile(path, raw, 0o600))
		s := open(t, path, store.Options{})
		assert.Equal(t, want, whole(t, &s.Reader, want).Head, from)
		d, ok, err := s.DeviceByToken(t.Context(), [32]byte{1})
		require.NoError(t, err)
		assert.True(t, ok, from)
		assert.Equal(t, "Still", d.Label, from)
	}
}
