package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/server/shelf"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// prompt runs gaugebook in this process.
func prompt(t *testing.T, args ...string) (stdout string, err error) {
	t.Helper()
	var out, errs bytes.Buffer
	err = run(t.Context(), args, strings.NewReader(""), &out, &errs)
	return out.String(), err
}

func TestServeThenStopThenServe(t *testing.T) {
	book := filepath.Join(t.TempDir(), "book.db")
	s := serve(t, nil, "--book", book)
	assert.Regexp(t, `^the book is `+book+`, with 0 entries
an owner's phone joins with the code [0-9A-Z]{4}-[0-9A-Z]{4}, good once
listening on http://127\.0\.0\.1:\d+
$`, s.words.String())
	h := joinWith(t, s.url, s.code)
	lines := h.write(t, 3)
	_, err := h.push(s.url, lines)
	require.NoError(t, err)

	second := gaugebook(t.Context(), nil, "serve", "--listen", "127.0.0.1:0", "--book", book)
	out, err := second.CombinedOutput()
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	assert.Equal(t, "gaugebook: another Gaugebook has this book open: "+book+"; stop the other one first\n", string(out))

	require.NoError(t, s.cmd.Process.Signal(os.Interrupt))
	<-s.gone
	assert.Zero(t, s.cmd.ProcessState.ExitCode(), "%s", s.errs)
	_, err = os.Stat(book + "-wal")
	assert.ErrorIs(t, err, fs.ErrNotExist, "the log is folded into the book")

	s = serve(t, nil, "--book", book)
	assert.NotContains(t, s.words.String(), "code", "the book has its owner")
	assert.Contains(t, s.words.String(), "with 3 entries")
	assert.Equal(t, lines, h.pull(t, s.url, record.Mark{}).Lines, "the same session, the same entries")
	reply, err := h.push(s.url, lines)
	require.NoError(t, err)
	assert.Equal(t, exchange.Duplicate, reply.Entries[2].State)
	s.kill()
	s = serve(t, nil, "--book", book, "--invite")
	joinWith(t, s.url, s.code)
	assert.NotContains(t, s.errs.String(), s.code, "a code is never in the log")
	assert.NotContains(t, s.errs.String(), h.session)
}

func TestServeRefuses(t *testing.T) {
	dir := t.TempDir()
	book := filepath.Join(dir, "book.db")
	for name, c := range map[string]struct {
		args  []string
		words string
	}{
		"the demo for all": {[]string{"serve", "--demo", "--book", book, "--listen", "0.0.0.0:0"},
			"listen “0.0.0.0:0”: the demo lets a browser join by itself, so it is answered on this machine alone, such as 127.0.0.1:8021; leave --demo out for a book of your own."},
		"a key without a certificate": {[]string{"serve", "--book", book, "--tls-key", "own.key"},
			"tls-key: a certificate and its key come together; give both --tls-cert and --tls-key."},
		"an address that is none": {[]string{"serve", "--book", book, "--listen", "here"},
			"listen “here”: listen tcp: address here: missing port in address; name another address with --listen."},
		"an unknown flag": {[]string{"serve", "--port", "80"},
			"flag: flag provided but not defined: -port; usage: gaugebook serve [flags]."},
		"a word too many": {[]string{"serve", "--book", book, "now"},
			"argument “now”: is one too many; usage: gaugebook serve [flags]."},
		"a backup to nowhere": {[]string{"backup", "--book", book},
			"argument: something is missing after the flags; usage: gaugebook backup [--book FILE] NEWFILE."},
		"no book to back up": {[]string{"backup", "--book", filepath.Join(dir, "none.db"), "x.db"},
			"opening the book: stat " + filepath.Join(dir, "none.db") + ": no such file or directory"},
		"a head that is none": {[]string{"verify", "--book", book, "yesterday"},
			"mark “yesterday”: a mark is 0, or a number, a hyphen and 64 hex digits; "},
	} {
		_, err := prompt(t, c.args...)
		require.Error(t, err, name)
		assert.Contains(t, err.Error(), c.words, name)
	}
	out, err := prompt(t, "serve", "-h")
	require.NoError(t, err)
	assert.Contains(t, out, "usage: gaugebook serve [flags]")
	assert.Contains(t, out, "-invite")
}

// The demo is filled once, by the way every entry takes, and is the same bytes
// whenever and wherever it is made.
func TestDemo(t *testing.T) {
	demo := func() ([]demoEntry, error) {
		var all []demoEntry
		began := time.Date(2025, 5, 1, 8, 0, 0, 0, time.FixedZone("", -5*3600))
		for i := range 1203 {
			now := record.StampOf(began.Add(time.Duration(i) * time.Hour))
			all = append(all, demoEntry{[]string{"heron41", "otter22"}[i%2], exchange.Draft{
				Kind: "draw read", V: 1, Body: json.RawMessage(`{"reading":"140.5proof"}`), Happened: now, Written: now, By: "JS"}})
		}
		return all, nil
	}
	var heads []record.Mark
	for range 2 {
		s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "demo.db"), store.Options{})
		require.NoError(t, err)
		defer s.Close()
		for range 2 {
			require.NoError(t, fill(t.Context(), shelf.Book{Store: s}, demo))
		}
		v, err := s.Verify(t.Context())
		require.NoError(t, err)
		require.NoError(t, v.Err())
		assert.EqualValues(t, 1203, v.Entries)
		assert.Equal(t, 2, v.Devices)
		heads = append(heads, v.Head)
	}
	assert.Equal(t, heads[0], heads[1])

	t.Run("an entry that is none is told, and nothing of its batch is kept", func(t *testing.T) {
		s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "demo.db"), store.Options{})
		require.NoError(t, err)
		defer s.Close()
		err = fill(t.Context(), shelf.Book{Store: s}, func() ([]demoEntry, error) {
			all, err := demo()
			all[2].By = ""
			return all, err
		})
		assert.ErrorContains(t, err, "entry 3: by: a signature is 1 to 64 bytes")
		head, err := s.Head(context.Background())
		require.NoError(t, err)
		assert.Zero(t, head.Seq)
	})
}

func TestServeDemoLetsABrowserIn(t *testing.T) {
	s := serve(t, nil, "--demo", "--book", filepath.Join(t.TempDir(), "demo.db"))
	assert.Contains(t, s.words.String(), "this is the demo: every name and figure in it is invented")
	h := joinWith(t, s.url, "")
	_, err := h.push(s.url, h.write(t, 1))
	require.NoError(t, err)
	res, err := http.Get(s.url + "/")
	require.NoError(t, err)
	defer res.Body.Close()
	assert.Equal(t, http.StatusOK, res.StatusCode)
	assert.Contains(t, res.Header.Get("Content-Type"), "text/html")
}

func TestBackupVerifyRestore(t *testing.T) {
	dir := t.TempDir()
	book, copied := filepath.Join(dir, "book.db"), filepath.Join(dir, "copy.db")
	s := serve(t, nil, "--book", book)
	h := joinWith(t, s.url, s.code)
	first, err := h.push(s.url, h.write(t, 3))
	require.NoError(t, err)

	out, err := prompt(t, "backup", "--book", book, copied)
	require.NoError(t, err, "while it is served")
	assert.Equal(t, copied+" holds 3 entries, read back and whole\nhead "+first.Head.String()+"\n", out)
	_, err = prompt(t, "backup", "--book", book, copied)
	assert.ErrorContains(t, err, "the file exists already: "+copied+"; a backup never writes over one")

	later := h.write(t, 2)
	second, err := h.push(s.url, later)
	require.NoError(t, err)
	out, err = prompt(t, "verify", "--book", book, first.Head.String(), second.Head.String())
	require.NoError(t, err, "while it is served")
	assert.Contains(t, out, book+": 5 entries of 1 devices, every one as it was written\nhead "+second.Head.String()+"\nthe 2 given heads lie in it\n")
	assert.Contains(t, out, "not that it was true")
	_, err = prompt(t, "verify", "--book", copied, second.Head.String())
	assert.ErrorContains(t, err, "the log ends at entry 3, but the head "+second.Head.String()+" was printed from it: entries were cut off its end")

	_, err = prompt(t, "restore", "--book", book, copied)
	assert.ErrorContains(t, err, "another Gaugebook has this book open")
	s.kill()
	out, err = prompt(t, "restore", "--book", book, copied)
	require.NoError(t, err)
	assert.Contains(t, out, book+" is restored from "+copied+": 3 entries\nhead "+first.Head.String()+"\nthe book that was there is kept as "+book+".before-restore-")

	// The phone is told that this is another life of the book, and sends again.
	s = serve(t, nil, "--book", book)
	_, err = h.push(s.url, later)
	require.ErrorContains(t, err, "status 409")
	var refusal exchange.Refusal
	_, raw, _ := strings.Cut(err.Error(), ": ")
	require.NoError(t, json.Unmarshal([]byte(raw), &refusal))
	h.epoch = refusal.Epoch
	reply, err := h.push(s.url, later)
	require.NoError(t, err)
	assert.Equal(t, second.Head, reply.Head)
}

// A day's backup is made when the server starts, and named by the day.
func TestServeMakesTheDaysBackup(t *testing.T) {
	dir := t.TempDir()
	s := serve(t, nil, "--book", filepath.Join(dir, "book.db"), "--backups", filepath.Join(dir, "kept"))
	s.errs.waitFor("the day's backup is made and verified")
	made, err := filepath.Glob(filepath.Join(dir, "kept", "book-????-??-??.db"))
	require.NoError(t, err)
	require.Len(t, made, 1)
	_, err = prompt(t, "verify", "--book", made[0])
	require.NoError(t, err)
}
