package store_test

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatIsAppendedStays(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := open(t, path, store.Options{})
	p := &pen{device: "heron41"}
	batch := p.batch(t, 5)
	add(t, s, batch[:3])
	add(t, s, batch[3:])
	epoch, err := s.Epoch(t.Context())
	require.NoError(t, err)
	want := record.Mark{}
	for _, r := range batch {
		want = want.Next(r.line)
	}
	assert.Equal(t, want, head(t, &s.Reader), "the chain over the lines")
	require.NoError(t, s.Close())

	s = open(t, path, store.Options{})
	assert.Equal(t, want, head(t, &s.Reader))
	again, err := s.Epoch(t.Context())
	require.NoError(t, err)
	assert.Equal(t, epoch, again, "opening is not restoring")
	i := 0
	for e, err := range s.Entries(t.Context(), 0) {
		require.NoError(t, err)
		assert.EqualValues(t, i+1, e.Seq)
		assert.Equal(t, batch[i].line, e.Line)
		assert.Equal(t, batch[i].ID, e.ID)
		assert.Equal(t, record.DigestOf(batch[i].line), e.Digest)
		assert.Equal(t, "heron41", e.Device)
		assert.EqualValues(t, i+1, e.DeviceSeq)
		assert.True(t, morning.Equal(e.Received))
		i++
	}
	assert.Equal(t, 5, i)
	assert.Equal(t, [][]byte{batch[3].line, batch[4].line}, lines(t, &s.Reader, 3))
}

func TestALedgerSeesWhatItDid(t *testing.T) {
	s := book(t)
	p := &pen{device: "heron41"}
	b := p.batch(t, 6)
	var seen []int64
	require.NoError(t, s.Update(t.Context(), "heron41", func(l *store.Ledger) error {
		tip, err := l.Tip("heron41")
		require.NoError(t, err)
		assert.Equal(t, record.Tip{}, tip)
		nothing, err := l.ByID(b[0].ID)
		require.NoError(t, err)
		assert.Nil(t, nothing.Line)

		for _, i := range []int{0, 2, 5} {
			_, err := l.Append(b[i].Record, b[i].line)
			require.NoError(t, err)
		}
		require.NoError(t, l.SetAside("quarantined", b[3].Record, b[3].line, record.Fault{Code: "not-allowed"}))
		tip, err = l.Tip("heron41")
		require.NoError(t, err)
		assert.Equal(t, record.Tip{Seq: 6, Digest: record.DigestOf(b[5].line), Through: 1}, tip, "1, 3, 4 and 6 are held")

		_, err = l.Append(b[1].Record, b[1].line)
		require.NoError(t, err)
		tip, err = l.Tip("heron41")
		require.NoError(t, err)
		assert.EqualValues(t, 4, tip.Through, "the gap at 2 is filled; 3 and 4 had waited behind it")
		assert.Equal(t, record.DigestOf(b[5].line), tip.Digest)

		waiting, err := l.ByID(b[3].ID)
		require.NoError(t, err)
		assert.Equal(t, record.Stored{Line: b[3].line, Seq: 0}, waiting, "in quarantine")
		at, err := l.At("heron41", 4)
		require.NoError(t, err)
		assert.Equal(t, waiting, at)
		seq, err := l.Append(b[3].Record, b[3].line)
		require.NoError(t, err)
		let, err := l.ByID(b[3].ID)
		require.NoError(t, err)
		assert.Equal(t, record.Stored{Line: b[3].line, Seq: seq}, let, "let in")

		at, err = l.At("heron41", 5)
		require.NoError(t, err)
		assert.Nil(t, at.Line)
		at, err = l.At("heron41", 6)
		require.NoError(t, err)
		assert.Equal(t, b[5].line, at.Line)
		mark, ok, err := l.MarkAt(2)
		require.NoError(t, err)
		assert.True(t, ok)
		assert.Equal(t, record.Mark{}.Next(b[0].line).Next(b[2].line), mark)
		_, ok, err = l.MarkAt(99)
		require.NoError(t, err)
		assert.False(t, ok)
		h, err := l.Head()
		require.NoError(t, err)
		assert.EqualValues(t, 5, h.Seq)
		return l.After(2, func(seq int64, _ []byte) bool { seen = append(seen, seq); return seq < 4 })
	}))
	assert.Equal(t, []int64{3, 4}, seen)
	var tip record.Tip
	reopened := reopen(t, s)
	require.NoError(t, reopened.Update(t.Context(), "", func(l *store.Ledger) (err error) { tip, err = l.Tip("heron41"); return err }))
	assert.Equal(t, record.Tip{Seq: 6, Digest: record.DigestOf(b[5].line), Through: 4}, tip, "the same from the file")
}

func reopen(t *testing.T, s *store.Store) *store.Store {
	t.Helper()
	require.NoError(t, s.Close())
	return open(t, s.Path(), store.Options{})
}

// After an error the book, and what is remembered of it, are as before.
func TestAnErrorStoresNothing(t *testing.T) {
	s := book(t)
	p := &pen{device: "heron41"}
	b := p.batch(t, 4)
	add(t, s, b[:1])
	before := head(t, &s.Reader)
	boom := errors.New("boom")
	err := s.Update(t.Context(), "heron41", func(l *store.Ledger) error {
		require.NoError(t, appendAll(l, b[1:3]))
		require.NoError(t, l.SetAside("malformed", record.Record{}, []byte("x"), record.Fault{}))
		return boom
	})
	assert.ErrorIs(t, err, boom)
	assert.Equal(t, before, head(t, &s.Reader))
	asides, err := s.Asides(t.Context())
	require.NoError(t, err)
	assert.Empty(t, asides)
	add(t, s, b[1:])
	assert.EqualValues(t, 4, whole(t, &s.Reader).Entries)
}

// Whoever appends without having looked is stopped.
func TestAppendRefusesATakenName(t *testing.T) {
	s := book(t)
	p := &pen{device: "heron41"}
	b := p.batch(t, 2)
	add(t, s, b)
	other := &pen{device: "heron41"}
	sameNumber := other.write(t, `{"x":1}`)
	sameID := (&pen{device: "otter22"}).write(t, `{"x":1}`)
	sameID.ID = b[1].ID
	line, err := record.Encode(sameID.Record)
	require.NoError(t, err)
	sameNumber.ID = uuid.MustParse("019ac000-0000-7000-8000-000000000001")
	line2, err := record.Encode(sameNumber.Record)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		r     record.Record
		line  []byte
		words string
	}{
		"the very same record": {b[0].Record, b[0].line, "appending heron41-1: the log has it already"},
		"another with its id":  {sameID.Record, line, "another record has this id"},
		"another at its place": {sameNumber.Record, line2, "another record has this device and number"},
	} {
		err := s.Update(t.Context(), "x", func(l *store.Ledger) error { _, err := l.Append(c.r, c.line); return err })
		assert.ErrorContains(t, err, c.words, name)
	}
	assert.EqualValues(t, 2, head(t, &s.Reader).Seq)
}

// Three layers: the table of everything that must not work, from inside and
// from a connection that knows nothing of our settings.
func TestTheLogRefusesToBeRewritten(t *testing.T) {
	s := book(t)
	p := &pen{device: "heron41"}
	add(t, s, p.batch(t, 3))
	require.NoError(t, s.Update(t.Context(), "x", func(l *store.Ledger) error {
		return l.SetAside("malformed", record.Record{}, []byte("x"), record.Fault{})
	}))
	_, err := s.AddDevice(t.Context(), store.Device{Name: "heron41", Token: [32]byte{1}, Role: "owner", Joined: morning})
	require.NoError(t, err)
	before := head(t, &s.Reader)

	const columns = "(seq, id, device, device_seq, digest, received, chain, line)"
	const copied = " INTO entry " + columns + " SELECT %seq, %id, %device, %number, %digest, received, chain, x'00' FROM entry WHERE seq = 2"
	row := func(set ...string) string {
		all := append(set, "%seq", "4", "%id", "x'019ac00000007000800000000000ffff'", "%device", "'otter22'", "%number", "1", "%digest", "zeroblob(32)")
		return strings.NewReplacer(all...).Replace(copied)
	}
	for _, recursive := range []string{"on", "off"} {
		outside, err := sql.Open("sqlite", "file:"+s.Path()+"?_txlock=immediate&_pragma=busy_timeout(5000)&_pragma=recursive_triggers("+recursive+")")
		require.NoError(t, err)
		defer outside.Close()
		for name, statement := range map[string]string{
			"update":                        "UPDATE entry SET line = x'00' WHERE seq = 2",
			"update of nothing that counts": "UPDATE entry SET received = 0",
			"update or replace":             "UPDATE OR REPLACE entry SET seq = 1 WHERE seq = 2",
			"delete":                        "DELETE FROM entry WHERE seq = 2",
			"delete everything":             "DELETE FROM entry",
			"replace by id":                 "INSERT OR REPLACE" + row("%id", "id"),
			"replace by device and number":  "INSERT OR REPLACE" + row("%device", "device", "%number", "device_seq"),
			"replace by arrival":            "INSERT OR REPLACE" + row("%seq", "2"),
			"replace the last by arrival":   "INSERT OR REPLACE" + row("%seq", "3"),
			"REPLACE INTO":                  "REPLACE" + row("%id", "id", "%seq", "2"),
			"upsert":                        "INSERT" + row("%id", "id") + " ON CONFLICT (id) DO UPDATE SET line = x'00'",
			"upsert by arrival":             "INSERT" + row("%seq", "2") + " ON CONFLICT (seq) DO UPDATE SET line = x'00'",
			"ignore a conflict by arrival":  "INSERT OR IGNORE" + row("%seq", "2", "%id", "x'019ac00000007000800000000000fffe'"),
			"leave a gap":                   "INSERT" + row("%seq", "9"),
			"before the first":              "INSERT" + row("%seq", "-1"),
			"a short id":                    "INSERT" + row("%id", "x'00'"),
			"a text for a line":             "INSERT" + strings.Replace(row(), "x'00'", "'text'", 1),
			"update an aside":               "UPDATE aside SET line = x'00'",
			"delete an aside":               "DELETE FROM aside",
			"replace an aside":              "INSERT OR REPLACE INTO aside (n, state, digest, sender, received, fault, line) SELECT n, state, zeroblob(32), sender, received, fault, x'00' FROM aside",
			"update the epoch":              "UPDATE epoch SET epoch = 'x'",
			"delete the epoch":              "DELETE FROM epoch",
			"replace the epoch":             "INSERT OR REPLACE INTO epoch (n, epoch, began, reason) VALUES (1, 'x', 0, 'begun')",
			"rename a device":               "UPDATE device SET name = 'otter22'",
			"delete a device":               "DELETE FROM device",
			"replace a device":              "INSERT OR REPLACE INTO device SELECT name, zeroblob(32), role, label, was, joined, ended FROM device",
		} {
			_, err := outside.ExecContext(t.Context(), statement)
			assert.Error(t, err, "%s (recursive_triggers %s): %s", name, recursive, statement)
		}
		// The same record again, as a resend brings it, is no error and no change.
		for _, verb := range []string{"INSERT", "INSERT OR IGNORE", "INSERT OR REPLACE"} {
			res, err := outside.ExecContext(t.Context(), verb+row("%id", "id", "%digest", "digest"))
			require.NoError(t, err)
			n, err := res.RowsAffected()
			require.NoError(t, err)
			assert.Zero(t, n, verb)
		}
	}
	assert.Equal(t, before, head(t, &s.Reader))
	assert.EqualValues(t, 3, whole(t, &s.Reader, before).Entries)
}

// A book whose triggers were taken away is not served.
func TestABookWithoutItsTriggersIsNotOpened(t *testing.T) {
	for _, trigger := range []string{"entry_no_update", "entry_no_delete", "entry_guard"} {
		s := book(t)
		require.NoError(t, s.Close())
		tamper(t, s.Path(), "DROP TRIGGER "+trigger)
		_, err := store.Open(t.Context(), s.Path(), store.Options{})
		assert.ErrorContains(t, err, "the trigger "+trigger+" is gone from the file", trigger)
		assert.ErrorContains(t, err, "run gaugebook verify", trigger)
	}
}

func tamper(t testing.TB, path string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=recursive_triggers(0)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	defer db.Close()
	for _, statement := range statements {
		_, err := db.ExecContext(t.Context(), statement)
		require.NoError(t, err, statement)
	}
}

func TestSettingsOfEveryConnection(t *testing.T) {
	s := book(t)
	for pragma, want := range map[string]string{
		"journal_mode": "wal", "synchronous": "2", "recursive_triggers": "1", "trusted_schema": "0",
		"cell_size_check": "1", "foreign_keys": "1", "busy_timeout": "5000", "application_id": "1197949547", "user_version": "1",
	} {
		for name, got := range store.Pragma(t, s, pragma) {
			assert.Equal(t, want, got, "%s of the %s", pragma, name)
		}
	}
	for name, got := range store.Pragma(t, s, "query_only") {
		assert.Equal(t, map[string]string{"writer": "0", "readers": "1"}[name], got, name)
	}
	info, err := os.Stat(s.Path())
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

func TestASecondWriterIsRefused(t *testing.T) {
	s := book(t)
	_, err := store.Open(t.Context(), s.Path(), store.Options{})
	assert.ErrorIs(t, err, store.ErrInUse)
	assert.ErrorContains(t, err, "another Gaugebook has this book open: "+s.Path()+"; stop the other one first")
	r, err := store.OpenReader(t.Context(), s.Path())
	require.NoError(t, err, "reading is for everybody")
	defer r.Close()
	add(t, s, (&pen{device: "heron41"}).batch(t, 2))
	assert.EqualValues(t, 2, head(t, r).Seq)
	require.NoError(t, s.Close())
	open(t, s.Path(), store.Options{})
}

func TestFilesThatAreNoBook(t *testing.T) {
	dir := t.TempDir()
	garbage, foreign, empty := filepath.Join(dir, "garbage.db"), filepath.Join(dir, "foreign.db"), filepath.Join(dir, "empty.db")
	require.NoError(t, os.WriteFile(garbage, []byte(strings.Repeat("a letter to my aunt\n", 100)), 0o600))
	tamper(t, foreign, "CREATE TABLE guests (name TEXT)")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))
	for path, words := range map[string]string{
		garbage: "this file is not a book of Gaugebook: " + garbage,
		foreign: "this file is not a book of Gaugebook: " + foreign + " holds another program's tables; name another file",
	} {
		before, err := os.ReadFile(path)
		require.NoError(t, err)
		_, err = store.Open(t.Context(), path, store.Options{})
		assert.ErrorIs(t, err, store.ErrNotABook)
		assert.ErrorContains(t, err, words)
		_, err = store.OpenReader(t.Context(), path)
		assert.ErrorIs(t, err, store.ErrNotABook)
		after, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, before, after, "it is not touched")
	}
	_, err := store.OpenReader(t.Context(), empty)
	assert.ErrorContains(t, err, "is empty")
	_, err = store.OpenReader(t.Context(), filepath.Join(dir, "none.db"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	open(t, empty, store.Options{}) // an empty file is a book that has not begun
	_, err = store.Open(t.Context(), filepath.Join(dir, "no", "such", "folder.db"), store.Options{})
	assert.Error(t, err)
}

func TestDevices(t *testing.T) {
	s := book(t)
	ctx := t.Context()
	d := store.Device{Name: "heron41", Token: [32]byte{1}, Role: "owner", Label: "Still", Was: "otter22", Joined: morning}
	ok, err := s.AddDevice(ctx, d)
	require.NoError(t, err)
	assert.True(t, ok)
	ok, err = s.AddDevice(ctx, store.Device{Name: "heron41", Token: [32]byte{2}, Role: "owner", Joined: morning})
	require.NoError(t, err)
	assert.False(t, ok, "the name is taken")

	got, ok, err := s.DeviceByToken(ctx, [32]byte{1})
	require.NoError(t, err)
	require.True(t, ok)
	assert.True(t, got.Joined.Equal(d.Joined))
	got.Joined = d.Joined
	assert.Equal(t, d, got)
	_, ok, err = s.DeviceByToken(ctx, [32]byte{2})
	require.NoError(t, err)
	assert.False(t, ok)

	require.NoError(t, s.EndDevice(ctx, "heron41", morning))
	got, _, err = s.DeviceByToken(ctx, [32]byte{1})
	require.NoError(t, err)
	assert.False(t, got.Ended.IsZero())
	d.Token, d.Role = [32]byte{3}, "counter"
	require.NoError(t, s.RenewDevice(ctx, d))
	got, ok, err = s.DeviceByToken(ctx, [32]byte{3})
	require.NoError(t, err)
	assert.True(t, ok && got.Ended.IsZero() && got.Role == "counter")
	assert.ErrorIs(t, s.EndDevice(ctx, "stork10", morning), store.ErrUnknownDevice)
	all, err := s.Devices(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 1)

	add(t, s, (&pen{device: "raven12"}).batch(t, 1))
	for name, want := range map[string]bool{"heron41": true, "raven12": true, "stork10": false} {
		used, err := s.NameUsed(ctx, name)
		require.NoError(t, err)
		assert.Equal(t, want, used, name)
	}
}

// One writer, many readers: a reader that goes on from where it was misses
// nothing, because arrival numbers are given inside the transaction.
func TestAReaderNeverMissesAnEntry(t *testing.T) {
	s := book(t)
	const writers, batches, size = 8, 25, 4
	var writing, reading sync.WaitGroup
	stop := make(chan struct{})
	for range 3 {
		reading.Go(func() {
			var at record.Mark
			for done := false; !done; {
				select {
				case <-stop:
					done = true
				default:
				}
				err := s.View(t.Context(), func(v *store.View) error {
					return v.After(at.Seq, func(seq int64, line []byte) bool {
						if at = at.Next(line); at.Seq != seq {
							t.Errorf("after %d came %d", at.Seq-1, seq)
							return false
						}
						return true
					})
				})
				if err != nil {
					t.Error(err)
				}
			}
			if want := int64(writers * batches * size); at.Seq != want {
				t.Errorf("read %d of %d", at.Seq, want)
			}
		})
	}
	for w := range writers {
		p := &pen{device: "heron" + string(rune('1'+w)) + "0"}
		all := p.batch(t, batches*size)
		writing.Go(func() {
			for i := 0; i < len(all); i += size {
				if err := s.Update(t.Context(), p.device, func(l *store.Ledger) error { return appendAll(l, all[i:i+size]) }); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()
	close(stop)
	reading.Wait()
	v := whole(t, &s.Reader)
	assert.Equal(t, writers, v.Devices)
}
