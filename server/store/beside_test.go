package store_test

import (
	"database/sql"
	"path/filepath"
	"testing"

	"gaugebook/server/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a replicator does to a book that is in use (REPLICATION.md): tables of
// its own, a reading transaction that is held, writes and checkpoints between
// those of the server. Nothing is refused, nothing missing, and Verify takes
// the tables for what they are; a trigger of its own would be a break. The
// replicator itself is in the test of cmd/gaugebook with the tag replica.
func TestAReplicatorBesideTheServer(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := open(t, path, store.Options{})
	p := &pen{device: "heron41"}
	add(t, s, p.batch(t, 10))

	beside, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)&_pragma=wal_autocheckpoint(0)")
	require.NoError(t, err)
	defer beside.Close()
	for _, own := range []string{"CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)", "CREATE TABLE _litestream_lock (id INTEGER)"} {
		_, err := beside.Exec(own)
		require.NoError(t, err)
	}
	hold := func() *sql.Tx {
		tx, err := beside.BeginTx(t.Context(), &sql.TxOptions{ReadOnly: true})
		require.NoError(t, err)
		var n int
		require.NoError(t, tx.QueryRow("SELECT count(*) FROM _litestream_seq").Scan(&n))
		return tx
	}
	for range 5 {
		held := hold()
		for range 20 {
			add(t, s, p.batch(t, 100)) // more than one checkpoint's worth
		}
		_, err := beside.Exec("INSERT INTO _litestream_seq VALUES (1, 1) ON CONFLICT (id) DO UPDATE SET seq = seq + 1")
		require.NoError(t, err)
		require.NoError(t, held.Rollback())
		_, err = beside.Exec("PRAGMA wal_checkpoint(PASSIVE)")
		require.NoError(t, err)
	}
	require.NoError(t, s.Close())

	again := open(t, path, store.Options{})
	add(t, again, p.batch(t, 1))
	assert.EqualValues(t, 10+5*20*100+1, whole(t, &again.Reader).Entries)

	_, err = beside.Exec("CREATE TRIGGER _more AFTER INSERT ON _litestream_lock BEGIN SELECT 1; END")
	require.NoError(t, err)
	v, err := again.Verify(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "the trigger _more is none of Gaugebook's", v.Break)
}
