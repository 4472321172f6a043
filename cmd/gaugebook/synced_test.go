package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An event is one system call of the traced server that matters here.
type event struct{ what, line string }

// readTrace reads strace's file into events in order: the write-ahead log
// written (when the call had returned), synced (when it had returned), and the
// reply to a push (when the call began).
func readTrace(t *testing.T, path string) []event {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	// A call that other threads interrupted in the file stands in two lines.
	unfinished := regexp.MustCompile(`^(\d+) +(.*) <unfinished \.\.\.>$`)
	resumed := regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)
	call := regexp.MustCompile(`^\d+ +(\w+)\(\d+<([^>]*)>(.*)$`)
	open := map[string]string{}
	var events []event
	for lines := bufio.NewScanner(f); lines.Scan(); {
		line, began := lines.Text(), false
		if m := unfinished.FindStringSubmatch(line); m != nil {
			open[m[1]] = m[1] + " " + m[2]
			line, began = open[m[1]], true
		} else if m := resumed.FindStringSubmatch(line); m != nil {
			line = open[m[1]] + m[2]
			delete(open, m[1])
			if strings.Contains(line, "HTTP/1.1 200") {
				continue // seen when it began
			}
		}
		m := call.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		name, file, rest := m[1], m[2], m[3]
		wal, ok := strings.HasSuffix(file, "-wal"), strings.HasSuffix(line, "= 0")
		switch {
		case wal && strings.HasPrefix(name, "pwrite") && !began:
			events = append(events, event{"written", line})
		case wal && (name == "fsync" || name == "fdatasync") && !began && ok:
			events = append(events, event{"synced", line})
		case name == "write" && strings.HasPrefix(rest, `, "HTTP/1.1 200`):
			events = append(events, event{"replied", line})
		}
	}
	return events
}

// A reply to a push leaves only after the write-ahead log was written and then
// synced: the order of the system calls themselves, from strace.
func TestSyncPrecedesReply(t *testing.T) {
	strace, err := exec.LookPath("strace")
	require.NoError(t, err, "this test needs strace: apt-get install strace (go run ./cmd/check does)")
	if out, err := exec.Command(strace, "-f", "-o", "/dev/null", "true").CombinedOutput(); err != nil {
		t.Fatalf("strace may not trace on this machine (%v: %s). The promise 'acknowledged means on disk' is NOT checked here: "+
			"allow ptrace (for a container: --cap-add=SYS_PTRACE) and run the test again", err, out)
	}
	dir := t.TempDir()
	trace, book := filepath.Join(dir, "trace"), filepath.Join(dir, "book.db")
	s := serve(t, []string{strace, "-D", "-f", "-y", "-s", "24", "-e", "trace=fsync,fdatasync,write,pwrite64", "-o", trace}, "--book", book)
	h := joinWith(t, s.url, s.code)
	const pushes = 40
	for i := range pushes {
		_, err := h.push(s.url, h.write(t, 1+i%5))
		require.NoError(t, err)
	}
	require.NoError(t, s.cmd.Process.Signal(os.Interrupt)) // with -D this is the server; strace ends with it
	<-s.gone

	events := readTrace(t, trace)
	replies, written, synced := 0, false, false
	for i, e := range events {
		switch e.what {
		case "written":
			written, synced = true, false
		case "synced":
			synced = written
		case "replied":
			if replies++; !written || !synced {
				t.Fatalf("reply %d left before the log was synced; the calls before it:\n%s", replies, tail(events[:i+1]))
			}
			written, synced = false, false
		}
	}
	assert.Equal(t, pushes+1, replies, "every push and the joining were seen in the trace")
}

func tail(events []event) string {
	var b strings.Builder
	for _, e := range events[max(0, len(events)-8):] {
		fmt.Fprintf(&b, "%s: %s\n", e.what, e.line)
	}
	return b.String()
}
