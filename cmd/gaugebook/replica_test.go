//go:build replica

package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/sync/exchange"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The recipe of server/store/REPLICATION.md with its own settings: the book is
// replicated while it is served and pushed to; the replicator is cut off, two
// more entries are acknowledged, the server is killed and its disk is lost. The
// copy is whole and has the head that was printed; the phone notices that it
// was restored and brings back what the copy lacks.
func TestReplica(t *testing.T) {
	litestream, err := exec.LookPath("litestream")
	require.NoError(t, err, "this test needs the replicator that server/store/REPLICATION.md names, on the PATH")
	recipe, err := os.ReadFile("../../server/store/REPLICATION.md")
	require.NoError(t, err)
	_, yaml, ok := strings.Cut(string(recipe), "```yaml\n")
	require.True(t, ok)
	yaml, _, ok = strings.Cut(yaml, "```")
	require.True(t, ok)

	home, away := t.TempDir(), t.TempDir()
	book, config, found := filepath.Join(home, "gaugebook.db"), filepath.Join(away, "litestream.yml"), filepath.Join(away, "found.db")
	require.Contains(t, yaml, "/srv/gaugebook/gaugebook.db")
	require.Contains(t, yaml, "/mnt/second-disk/gaugebook")
	yaml = strings.NewReplacer("/srv/gaugebook", home, "/mnt/second-disk", away).Replace(yaml)
	require.NoError(t, os.WriteFile(config, []byte(yaml), 0o600))

	s := serve(t, nil, "--book", book)
	h := joinWith(t, s.url, s.code)
	var said bytes.Buffer
	replicator := exec.CommandContext(t.Context(), litestream, "replicate", "-config", config)
	replicator.Stdout, replicator.Stderr = &said, &said
	require.NoError(t, replicator.Start())
	gone := make(chan struct{})
	go func() { replicator.Wait(); close(gone) }()

	var head string
	var lines [][]byte
	for range 120 { // of which many meet a checkpoint of either program
		more := h.write(t, 100)
		reply, err := h.push(s.url, more)
		require.NoError(t, err)
		head, lines = reply.Head.String(), append(lines, more...)
	}

	// The server stops and starts beside the replicator, as in an update.
	began := time.Now()
	require.NoError(t, s.cmd.Process.Signal(os.Interrupt))
	<-s.gone
	assert.Zero(t, s.cmd.ProcessState.ExitCode(), "%s", s.errs)
	t.Logf("stopping took %v beside the replicator", time.Since(began).Round(time.Millisecond))
	s = serve(t, nil, "--book", book)
	more := h.write(t, 50)
	reply, err := h.push(s.url, more)
	require.NoError(t, err)
	head, lines = reply.Head.String(), append(lines, more...)

	// Until the copy has the head.
	restore := func() (string, error) {
		os.Remove(found)
		if out, err := exec.CommandContext(t.Context(), litestream, "restore", "-config", config, "-o", found, book).CombinedOutput(); err != nil {
			return string(out), err
		}
		return prompt(t, "verify", "--book", found, head)
	}
	pushed := time.Now()
	for {
		out, err := restore()
		if err == nil {
			break
		}
		select {
		case <-gone:
			t.Fatalf("the replicator ended: %s", &said)
		default:
		}
		require.Less(t, time.Since(pushed), time.Minute, "the copy does not reach the head %s: %v: %s\n%s", head, err, out, &said)
	}
	t.Logf("%d entries; the copy had the head, restored and verified, %v after it was printed", len(lines), time.Since(pushed).Round(time.Millisecond))

	require.NoError(t, replicator.Process.Kill())
	<-gone
	late := h.write(t, 2)
	last, err := h.push(s.url, late)
	require.NoError(t, err)
	s.kill()
	require.NoError(t, os.RemoveAll(home))
	require.NoError(t, os.Mkdir(home, 0o700))

	out, err := restore()
	require.NoError(t, err, "%s", out)
	assert.Contains(t, out, "the 1 given heads lie in it")
	_, err = prompt(t, "verify", "--book", found, last.Head.String())
	assert.ErrorContains(t, err, "entries were cut off its end", "the two late ones are not in the copy")
	out, err = prompt(t, "restore", "--book", book, found)
	require.NoError(t, err)
	assert.Contains(t, out, "head "+head)

	s = serve(t, nil, "--book", book)
	_, err = h.push(s.url, late)
	require.ErrorContains(t, err, "status 409", "the phone is told that this is another life of the book")
	var refusal exchange.Refusal
	_, raw, _ := strings.Cut(err.Error(), ": ")
	require.NoError(t, json.Unmarshal([]byte(raw), &refusal))
	h.epoch = refusal.Epoch
	again, err := h.push(s.url, append(lines[len(lines)-50:len(lines):len(lines)], late...))
	require.NoError(t, err)
	assert.Equal(t, last.Head, again.Head, "nothing acknowledged is lost")
	for i, answer := range again.Entries {
		want := exchange.Duplicate
		if i >= 50 {
			want = exchange.New
		}
		assert.Equal(t, want, answer.State, "line %d", i)
	}
}
