package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostMemory is what the server may take of the office's computer, whoever
// knocks.
const mostMemory = 100 << 20

// Fifty phones come back at the end of a shift, all at once. Each listens,
// sends what it wrote and pulls the book. A third of them is sound; the others
// stop in the middle of a body or of a reply and go on when everyone else has
// finished, hang up in the middle and send again, hang up before they hear the
// answer and send again, or send far more than is taken. The server takes each
// entry once and stays below mostMemory.
func TestFiftyPhonesAtTheEndOfAShift(t *testing.T) {
	const before, phones, each = 3000, 50, 60
	book := t.TempDir() + "/book.db"
	s := serve(t, nil, "--book", book)
	owner := joinWith(t, s.url, s.code)
	lines := owner.write(t, before)
	want := map[string]bool{}
	for _, line := range lines {
		want[string(line)] = true
	}
	for at := 0; at < before; at += 500 {
		_, err := owner.push(s.url, lines[at:at+500])
		require.NoError(t, err)
	}

	sound := make(chan struct{}) // closed when the sound ones have finished
	var soundOnes, all sync.WaitGroup
	failed := make(chan error, 4*phones)
	for i := range phones {
		status, raw, err := owner.do("POST", s.url+"/devices/v1/invite", exchange.ContentJSON, fmt.Appendf(nil, `{"role":"distiller","label":"Phone %d"}`, i))
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status, "%s", raw)
		var inv struct{ Code string }
		require.NoError(t, json.Unmarshal(raw, &inv))
		h := joinFrom(t, s.url, inv.Code, fmt.Sprintf("127.0.0.%d", 2+i))
		lines := h.write(t, each)
		for _, line := range lines {
			want[string(line)] = true
		}
		w := &worker{handset: h, url: s.url, lines: lines, sound: sound}
		play := []func() error{w.isSound, w.isSound, w.stopsInTheBody, w.stopsInTheReply, w.hangsUp, w.sendsTooMuch}[i%6]
		if i%6 < 2 {
			soundOnes.Add(1)
		}
		all.Go(func() {
			if i%6 < 2 {
				defer soundOnes.Done()
			}
			live, err := w.listen()
			if err == nil {
				defer live.Close()
				err = play()
			}
			if err == nil {
				err = w.pullsAll(before + phones/6) // others are still sending; this much there was before them
			}
			if err != nil {
				failed <- fmt.Errorf("phone %d: %w", i, err)
			}
		})
	}
	soundOnes.Wait()
	close(sound)
	all.Wait()
	close(failed)
	for err := range failed {
		t.Error(err)
	}

	most := peakMemory(t, s.cmd.Process.Pid)
	t.Logf("at most %.1f MB of memory for %d phones and %d entries", float64(most)/1e6, phones, len(want))
	assert.Less(t, most, int64(mostMemory), "bytes of resident memory at its peak")

	s.kill()
	r, err := store.OpenReader(t.Context(), book)
	require.NoError(t, err)
	defer r.Close()
	v, err := r.Verify(t.Context())
	require.NoError(t, err)
	require.NoError(t, v.Err())
	assert.EqualValues(t, len(want), v.Entries, "each entry once")
	assert.Empty(t, v.Gaps)
	for e, err := range r.Entries(t.Context(), 0) {
		require.NoError(t, err)
		if !want[string(e.Line)] {
			t.Errorf("nobody wrote %s", e.Line)
		}
		delete(want, string(e.Line))
	}
	assert.Empty(t, want, "what is not in the book")
	asides, err := r.Asides(t.Context())
	require.NoError(t, err)
	assert.Empty(t, asides)
}

// A worker is a phone at the end of its shift.
type worker struct {
	*handset
	url   string
	lines [][]byte
	sound <-chan struct{} // closed when the sound phones have finished
}

func (w *worker) body(lines [][]byte) []byte {
	return exchange.Push{PushHeader: exchange.PushHeader{Proto: exchange.Proto, Epoch: w.epoch, Device: w.chain.Device}, Lines: lines}.Bytes()
}

// sends pushes lines and holds every one to be there afterwards.
func (w *worker) sends(lines [][]byte) error {
	reply, err := w.push(w.url, lines)
	if err != nil {
		return err
	}
	for i, answer := range reply.Entries {
		if answer.State != exchange.New && answer.State != exchange.Duplicate {
			return fmt.Errorf("%s is %s: %v", lines[i], answer.State, answer.Fault)
		}
	}
	if len(reply.Entries) != len(lines) {
		return fmt.Errorf("%d of %d were answered", len(reply.Entries), len(lines))
	}
	return nil
}

// isSound sends in batches, each again as one that missed the answer does.
func (w *worker) isSound() error {
	for at := 0; at < len(w.lines); at += 20 {
		for range 2 {
			if err := w.sends(w.lines[at : at+20]); err != nil {
				return err
			}
		}
	}
	return nil
}

// stopsInTheBody sends half of its body, and the rest when everyone sound has
// finished.
func (w *worker) stopsInTheBody() error {
	body := w.body(w.lines)
	c, err := w.dial("POST", exchange.PathPush, len(body), "")
	if err != nil {
		return err
	}
	defer c.Close()
	if _, err := c.Write(body[:len(body)/2]); err != nil {
		return err
	}
	<-w.sound
	if _, err := c.Write(body[len(body)/2:]); err == nil {
		if res, err := http.ReadResponse(bufio.NewReader(c), nil); err == nil {
			res.Body.Close()
		}
	}
	return w.sends(w.lines) // if the server did not wait that long
}

// stopsInTheReply asks for the book again and again, more of it than the wire
// holds, and reads only when everyone sound has finished.
func (w *worker) stopsInTheReply() error {
	const asked = 40
	c, err := w.dial("GET", exchange.PathPull+"?since=0&limit=500&proto=1", 0, "")
	if err != nil {
		return err
	}
	defer c.Close()
	for range asked {
		if err := w.head(c, "GET", exchange.PathPull+"?since=0&limit=500&proto=1", 0, ""); err != nil {
			return err
		}
	}
	<-w.sound
	replies := bufio.NewReader(c)
	for range asked {
		res, err := http.ReadResponse(replies, nil)
		if err != nil {
			return err
		}
		if _, err := io.Copy(io.Discard, res.Body); err != nil {
			return err
		}
	}
	return w.sends(w.lines)
}

// hangsUp hangs up in the middle of a body, and before it hears an answer.
func (w *worker) hangsUp() error {
	for at := 10; at <= len(w.lines); at += 10 {
		body := w.body(w.lines[:at])
		for _, sent := range []int{len(body) / 2, len(body)} {
			c, err := w.dial("POST", exchange.PathPush, len(body), "")
			if err != nil {
				return err
			}
			_, err = c.Write(body[:sent])
			c.Close()
			if err != nil {
				return err
			}
		}
	}
	return w.sends(w.lines)
}

// sendsTooMuch sends a body that unpacks to a hundred times what is taken, and
// one that says it is endless.
func (w *worker) sendsTooMuch() error {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(bytes.Repeat([]byte("a"), 100*exchange.MaxBytes)) // a buffer takes everything
	z.Close()
	for _, coding := range []string{"gzip", ""} {
		body, length := packed.Bytes(), packed.Len()
		if coding == "" {
			body, length = bytes.Repeat([]byte("a"), 4*exchange.MaxBytes), 1<<40
		}
		c, err := w.dial("POST", exchange.PathPush, length, coding)
		if err != nil {
			return err
		}
		go c.Write(body) // the server hangs up in the middle of it
		res, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err == nil {
			res.Body.Close()
			if res.StatusCode != http.StatusRequestEntityTooLarge {
				err = fmt.Errorf("too much, %s: %s", coding, res.Status)
			}
		}
		c.Close()
		if err != nil && !strings.Contains(err.Error(), "connection reset") { // it may hang up before its word is read
			return err
		}
	}
	return w.isSound()
}

// pullsAll pulls until nothing more comes; at least so many entries must.
func (w *worker) pullsAll(least int) error {
	for mark := (record.Mark{}); ; {
		status, raw, err := w.do("GET", fmt.Sprintf("%s%s?since=%s&limit=500&proto=1", w.url, exchange.PathPull, mark), "", nil)
		if err != nil {
			return err
		}
		if status != http.StatusOK {
			return fmt.Errorf("pull: %d %s", status, raw)
		}
		page, err := exchange.ParsePage(raw)
		if err != nil {
			return err
		}
		for _, line := range page.Lines {
			mark = mark.Next(line)
		}
		if mark != page.Next {
			return fmt.Errorf("the chain over what was pulled is not the server's: %s, %s", mark, page.Next)
		}
		if !page.More {
			if int(mark.Seq) < least {
				return fmt.Errorf("%d entries were pulled", mark.Seq)
			}
			return nil
		}
	}
}

// listen opens the live connection that a phone in sight keeps.
func (w *worker) listen() (io.Closer, error) {
	c, err := w.dial("GET", "/sync/v1/live", 0, "")
	if err != nil {
		return nil, err
	}
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err == nil && res.StatusCode != http.StatusOK {
		err = fmt.Errorf("live: %s", res.Status)
	}
	return c, err
}

// dial begins a request on a connection of its own.
func (w *worker) dial(method, path string, length int, coding string) (net.Conn, error) {
	c, err := net.Dial("tcp", strings.TrimPrefix(w.url, "http://"))
	if err != nil {
		return nil, err
	}
	return c, w.head(c, method, path, length, coding)
}

// head writes what stands before a request's body.
func (w *worker) head(c net.Conn, method, path string, length int, coding string) error {
	head := fmt.Sprintf("%s %s HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\n", method, path, strings.TrimPrefix(w.url, "http://"), w.session)
	if method == "POST" {
		head += fmt.Sprintf("Content-Type: %s\r\nContent-Length: %d\r\n", exchange.ContentLines, length)
	}
	if coding != "" {
		head += "Content-Encoding: " + coding + "\r\n"
	}
	_, err := io.WriteString(c, head+"\r\n")
	return err
}

// peakMemory is the most resident memory that a process ever had.
func peakMemory(t *testing.T, pid int) int64 {
	t.Helper()
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	require.NoError(t, err)
	found := regexp.MustCompile(`VmHWM:\s*(\d+) kB`).FindSubmatch(raw)
	require.NotNil(t, found, "%s", raw)
	kb, err := strconv.ParseInt(string(found[1]), 10, 64)
	require.NoError(t, err)
	return kb << 10
}
