package store_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/require"
)

var morning = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

func now() time.Time { return morning }

// open opens a book and closes it when the test ends.
func open(t testing.TB, path string, o store.Options) *store.Store {
	t.Helper()
	if o.Now == nil {
		o.Now = now
	}
	s, err := store.Open(t.Context(), path, o)
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

func book(t testing.TB) *store.Store {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "book.db"), store.Options{})
}

// A pen writes the records of one device.
type pen struct {
	device string
	seq    int64
	prev   record.Digest
}

// A sealed record and its line.
type sealed struct {
	record.Record
	line []byte
}

func (p *pen) write(t testing.TB, body string) sealed {
	t.Helper()
	p.seq++
	var noise [10]byte
	copy(noise[:], fmt.Sprintf("%s%d", p.device, p.seq))
	r := record.Record{Header: record.Header{
		ID: record.NewID(morning.Add(time.Duration(p.seq)*time.Second), noise), Device: p.device, Seq: p.seq, Prev: p.prev,
		Clock: record.Clock(p.seq) << 16, Written: record.StampOf(morning), Happened: record.StampOf(morning), By: "JS", Kind: "draw read", V: 1,
	}, Body: []byte(body)}
	line, err := record.Encode(r)
	require.NoError(t, err)
	p.prev = record.DigestOf(line)
	return sealed{r, line}
}

// batch writes n records of about the size of a draw.
func (p *pen) batch(t testing.TB, n int) []sealed {
	t.Helper()
	out := make([]sealed, n)
	for i := range out {
		out[i] = p.write(t, fmt.Sprintf(`{"run":"heron41-7","reading":"%d.85proof","temp":"72.10F","vapor":"78.4C","column":"77.9C","volume":"5.3L","receiver":"carboy 3","note":""}`, 100+p.seq%90))
	}
	return out
}

func appendAll(l *store.Ledger, batch []sealed) error {
	for _, r := range batch {
		if _, err := l.Append(r.Record, r.line); err != nil {
			return err
		}
	}
	return nil
}

func add(t testing.TB, s *store.Store, batch []sealed) {
	t.Helper()
	require.NoError(t, s.Update(t.Context(), "test", func(l *store.Ledger) error { return appendAll(l, batch) }))
}

func lines(t testing.TB, r *store.Reader, after int64) [][]byte {
	t.Helper()
	var out [][]byte
	for e, err := range r.Entries(t.Context(), after) {
		require.NoError(t, err)
		out = append(out, e.Line)
	}
	return out
}

func head(t testing.TB, r *store.Reader) record.Mark {
	t.Helper()
	h, err := r.Head(t.Context())
	require.NoError(t, err)
	return h
}

func whole(t testing.TB, r *store.Reader, heads ...record.Mark) store.Verdict {
	t.Helper()
	v, err := r.Verify(t.Context(), heads...)
	require.NoError(t, err)
	require.NoError(t, v.Err())
	return v
}
