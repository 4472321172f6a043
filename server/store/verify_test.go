package store_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A person with the file can drop the triggers. Whatever they do then, verify
// names the first place where it shows.
func TestVerifyNamesTheFirstBreak(t *testing.T) {
	p, q := &pen{device: "heron41"}, &pen{device: "otter22"}
	mine, theirs := p.batch(t, 10), q.batch(t, 5)
	forged := bytes.Replace(mine[4].line, []byte(`"note":""`), []byte(`"note":"x"`), 1)

	// reforge gives entries from seq on a chain that fits, as a person who
	// knows how it is made would.
	reforge := func(db *sql.DB, line []byte) {
		rows, err := db.Query("SELECT seq, line FROM entry ORDER BY seq")
		require.NoError(t, err)
		var all [][]byte
		for rows.Next() {
			var seq int64
			var l []byte
			require.NoError(t, rows.Scan(&seq, &l))
			if seq == 5 {
				l = line
			}
			all = append(all, l)
		}
		require.NoError(t, rows.Err())
		mark := record.Mark{}
		for _, l := range all {
			mark = mark.Next(l)
			digest := record.DigestOf(l)
			_, err := db.Exec("UPDATE entry SET line = ?, digest = ?, chain = ? WHERE seq = ?", l, digest[:], mark.Chain[:], mark.Seq)
			require.NoError(t, err)
		}
	}
	const dropUpdate, dropDelete = "DROP TRIGGER entry_no_update", "DROP TRIGGER entry_no_delete"
	for name, c := range map[string]struct {
		drop   []string
		tamper string
		by     func(*sql.DB)
		heads  bool
		breaks string
	}{
		"nothing": {heads: true},
		"a trigger dropped": {drop: []string{dropUpdate},
			breaks: "the trigger entry_no_update is gone from the file: someone could have rewritten entries"},
		"a trigger weakened": {drop: []string{dropUpdate, "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry WHEN NEW.seq = 99 BEGIN SELECT RAISE(ABORT, 'x'); END"},
			breaks: "the trigger entry_no_update is not the one Gaugebook made: someone could have rewritten entries"},
		"a trigger of another's": {drop: []string{"CREATE TRIGGER quiet AFTER INSERT ON entry BEGIN SELECT 1; END"},
			breaks: "the trigger quiet is none of Gaugebook's"},
		"a line altered": {drop: []string{dropUpdate}, tamper: fmt.Sprintf("UPDATE entry SET line = x'%x' WHERE seq = 5", forged),
			breaks: "entry 5 (heron41-5): its bytes are not those it was stored with"},
		"a line and its digest altered": {drop: []string{dropUpdate}, tamper: fmt.Sprintf("UPDATE entry SET line = x'%x', digest = x'%s' WHERE seq = 5", forged, record.DigestOf(forged)),
			breaks: "entry 5 (heron41-5): the log's chain breaks here: this entry or one before it was changed, taken out or put in"},
		"the log's whole chain made anew": {drop: []string{dropUpdate}, by: func(db *sql.DB) { reforge(db, forged) },
			breaks: "entry 6 (heron41-6): the chain of its device breaks here: its neighbour is not the record it was written after"},
		"bytes that are no record": {drop: []string{dropUpdate}, tamper: fmt.Sprintf("UPDATE entry SET line = x'00', digest = x'%s' WHERE seq = 5", record.DigestOf([]byte{0})),
			breaks: "entry 5 (heron41-5): it is no record: "},
		"a column altered": {drop: []string{dropUpdate}, tamper: "UPDATE entry SET device_seq = 77 WHERE seq = 5",
			breaks: "entry 5 (heron41-77): its row bears another name than its bytes, heron41-5"},
		"a chain altered": {drop: []string{dropUpdate}, tamper: "UPDATE entry SET chain = zeroblob(32) WHERE seq = 5",
			breaks: "entry 5 (heron41-5): the log's chain breaks here"},
		"two entries exchanged": {drop: []string{dropUpdate}, tamper: "UPDATE entry SET seq = 999 WHERE seq = 5; UPDATE entry SET seq = 5 WHERE seq = 6; UPDATE entry SET seq = 6 WHERE seq = 999",
			breaks: "entry 5 (heron41-6): the log's chain breaks here"},
		"an entry taken out": {drop: []string{dropDelete}, tamper: "DELETE FROM entry WHERE seq = 5",
			breaks: "entry 5 is missing: after it comes entry 6 (heron41-6)"},
		"an entry taken out and the numbers closed up": {drop: []string{dropDelete, dropUpdate}, tamper: "DELETE FROM entry WHERE seq = 5; UPDATE entry SET seq = -seq WHERE seq > 5; UPDATE entry SET seq = -seq - 1 WHERE seq < 0",
			breaks: "entry 5 (heron41-6): the log's chain breaks here"},
		"entries cut off the end, and a head was printed": {drop: []string{dropDelete}, tamper: "DELETE FROM entry WHERE seq > 12", heads: true,
			breaks: "the log ends at entry 12, but the head 15-"},
	} {
		t.Run(name, func(t *testing.T) {
			s := book(t)
			add(t, s, mine)
			add(t, s, theirs)
			printed := head(t, &s.Reader)
			var triggers []string
			for _, trigger := range []string{"entry_no_update", "entry_no_delete", "entry_guard"} {
				triggers = append(triggers, triggerSQL(t, s.Path(), trigger))
			}
			require.NoError(t, s.Close())
			tamper(t, s.Path(), c.drop...)
			db, err := sql.Open("sqlite", "file:"+s.Path())
			require.NoError(t, err)
			db.SetMaxOpenConns(1)
			// A clever hand takes every check away and puts it back afterwards.
			_, err = db.Exec("PRAGMA ignore_check_constraints = on")
			require.NoError(t, err)
			if c.tamper != "" {
				_, err = db.Exec(c.tamper)
				require.NoError(t, err)
			}
			if c.by != nil {
				c.by(db)
			}
			if c.tamper != "" || c.by != nil {
				for i, trigger := range []string{"entry_no_update", "entry_no_delete", "entry_guard"} {
					_, err = db.Exec("DROP TRIGGER IF EXISTS " + trigger)
					require.NoError(t, err)
					_, err = db.Exec(triggers[i])
					require.NoError(t, err)
				}
			}
			require.NoError(t, db.Close())

			r, err := store.OpenReader(t.Context(), s.Path())
			require.NoError(t, err)
			defer r.Close()
			var heads []record.Mark
			if c.heads {
				heads = append(heads, printed)
			}
			v, err := r.Verify(t.Context(), heads...)
			require.NoError(t, err)
			if c.breaks == "" {
				assert.Empty(t, v.Break)
				assert.Equal(t, printed, v.Head)
				return
			}
			assert.Contains(t, v.Break, c.breaks)
			assert.EqualError(t, v.Err(), v.Break)
		})
	}
}

func triggerSQL(t *testing.T, path, name string) string {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	var text string
	require.NoError(t, db.QueryRow("SELECT sql FROM sqlite_schema WHERE name = ?", name).Scan(&text))
	return text
}

// A head that was printed of other entries than those that stand there now.
func TestVerifyFindsAWholeRewrittenBook(t *testing.T) {
	a, b := book(t), book(t)
	p, q := &pen{device: "heron41"}, &pen{device: "heron41"}
	add(t, a, p.batch(t, 3))
	add(t, b, []sealed{q.write(t, `{"note":"another story"}`)})
	add(t, b, q.batch(t, 2))
	whole(t, &b.Reader)
	v, err := b.Verify(t.Context(), head(t, &a.Reader))
	require.NoError(t, err)
	assert.Contains(t, v.Break, "entry 3 (heron41-3): the head "+head(t, &a.Reader).String()+" was printed when another entry stood here")
}

// A record that has not come yet is no break, but it is told.
func TestVerifyTellsOfGaps(t *testing.T) {
	s := book(t)
	b := (&pen{device: "heron41"}).batch(t, 6)
	add(t, s, []sealed{b[0], b[3], b[2], b[5]})
	v := whole(t, &s.Reader)
	assert.Equal(t, []string{
		"heron41-2 has not come yet: the book has entries written after it",
		"heron41-5 has not come yet: the book has entries written after it",
	}, v.Gaps)
	add(t, s, []sealed{b[1], b[4]})
	assert.Empty(t, whole(t, &s.Reader).Gaps)
}

func TestVerifyFindsADamagedFile(t *testing.T) {
	s := book(t)
	add(t, s, (&pen{device: "heron41"}).batch(t, 500))
	require.NoError(t, s.Close())
	raw, err := os.ReadFile(s.Path())
	require.NoError(t, err)
	page := 4096
	for i := range 200 { // the middle of the file's pages
		raw[len(raw)/page/2*page+i] ^= 0xff
	}
	bad := filepath.Join(t.TempDir(), "bad.db")
	require.NoError(t, os.WriteFile(bad, raw, 0o600))
	r, err := store.OpenReader(t.Context(), bad)
	require.NoError(t, err)
	defer r.Close()
	v, err := r.Verify(t.Context())
	require.NoError(t, err)
	assert.Contains(t, v.Break, "the file is damaged: ")
	_, err = r.Backup(t.Context(), filepath.Join(t.TempDir(), "copy.db"))
	assert.Error(t, err, "a damaged book gives no backup")
}
