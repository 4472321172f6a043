package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"

	"gaugebook/server/store"

	"github.com/stretchr/testify/require"
)

// The sizes of a batch that matter: a tap, a shift, a full push.
var sizes = []int{1, 100, 500}

// BenchmarkRawSQLite is the floor: the same rows into a STRICT table with the
// same two unique indexes, synchronous=FULL, and nothing else: no triggers, no
// digest, no chain, no look-up.
func BenchmarkRawSQLite(b *testing.B) {
	for _, size := range sizes {
		b.Run(fmt.Sprintf("batch=%d", size), func(b *testing.B) {
			db, err := sql.Open("sqlite", "file:"+filepath.Join(b.TempDir(), "raw.db")+"?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
			require.NoError(b, err)
			db.SetMaxOpenConns(1)
			defer db.Close()
			_, err = db.Exec(`CREATE TABLE entry (seq INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, device TEXT NOT NULL, device_seq INTEGER NOT NULL,
				digest BLOB NOT NULL, received INTEGER NOT NULL, chain BLOB NOT NULL, line BLOB NOT NULL, UNIQUE (device, device_seq)) STRICT`)
			require.NoError(b, err)
			insert, err := db.Prepare("INSERT INTO entry (seq, id, device, device_seq, digest, received, chain, line) VALUES (?,?,?,?,?,?,?,?)")
			require.NoError(b, err)
			p := &pen{device: "heron41"}
			seq := int64(0)
			for b.Loop() {
				b.StopTimer()
				batch := p.batch(b, size)
				digest := make([]byte, 32)
				b.StartTimer()
				tx, err := db.Begin()
				require.NoError(b, err)
				st := tx.Stmt(insert)
				for _, r := range batch {
					seq++
					if _, err := st.Exec(seq, r.ID[:], r.Device, r.Seq, digest, int64(1), digest, r.line); err != nil {
						b.Fatal(err)
					}
				}
				require.NoError(b, tx.Commit())
			}
			b.ReportMetric(float64(b.N*size)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// BenchmarkAppend is the log with everything on.
func BenchmarkAppend(b *testing.B) {
	for _, size := range sizes {
		b.Run(fmt.Sprintf("batch=%d", size), func(b *testing.B) {
			s := book(b)
			p := &pen{device: "heron41"}
			for b.Loop() {
				b.StopTimer()
				batch := p.batch(b, size)
				b.StartTimer()
				add(b, s, batch)
			}
			b.ReportMetric(float64(b.N*size)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}

// BenchmarkVerify reads 100,000 entries, every byte and both chains.
func BenchmarkVerify(b *testing.B) {
	const n = 100_000
	s := book(b)
	p := &pen{device: "heron41"}
	for range n / 1000 {
		add(b, s, p.batch(b, 1000))
	}
	for b.Loop() {
		whole(b, &s.Reader)
	}
	b.ReportMetric(float64(b.N*n)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkBackup copies and verifies 100,000 entries.
func BenchmarkBackup(b *testing.B) {
	s := book(b)
	p := &pen{device: "heron41"}
	for range 100 {
		add(b, s, p.batch(b, 1000))
	}
	dir, i := b.TempDir(), 0
	for b.Loop() {
		i++
		_, err := s.Backup(b.Context(), filepath.Join(dir, fmt.Sprint(i)))
		require.NoError(b, err)
	}
}

// BenchmarkPull reads pages of 500 from a log of 100,000.
func BenchmarkPull(b *testing.B) {
	s := book(b)
	p := &pen{device: "heron41"}
	for range 100 {
		add(b, s, p.batch(b, 1000))
	}
	after := int64(0)
	for b.Loop() {
		n := 0
		require.NoError(b, s.View(b.Context(), func(v *store.View) error {
			return v.After(after, func(seq int64, _ []byte) bool { n++; after = seq; return n < 500 })
		}))
		if n < 500 {
			after = 0
		}
	}
	b.ReportMetric(float64(b.N*500)/b.Elapsed().Seconds(), "entries/s")
}
