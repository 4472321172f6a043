package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/require"
)

// asMain in the environment makes the test's binary be gaugebook itself, so
// that tests start, kill and trace the very program that is shipped.
const asMain = "GAUGEBOOK_TEST_AS_MAIN"

func TestMain(m *testing.M) {
	if os.Getenv(asMain) != "" {
		main()
		return
	}
	os.Exit(m.Run())
}

// gaugebook is the command line of gaugebook, or of a tracer that starts it.
func gaugebook(ctx context.Context, tracer []string, args ...string) *exec.Cmd {
	line := append(append(append([]string{}, tracer...), os.Args[0]), args...)
	cmd := exec.CommandContext(ctx, line[0], line[1:]...)
	cmd.Env = append(os.Environ(), asMain+"=1")
	return cmd
}

// A served is a running gaugebook serve.
type served struct {
	cmd   *exec.Cmd
	url   string
	code  string // that lets an owner's phone in, if it printed one
	words *bytes.Buffer
	errs  *journal
	gone  chan struct{}
}

// serve starts gaugebook serve on a free port and waits for its address.
func serve(t testing.TB, tracer []string, args ...string) *served {
	t.Helper()
	cmd := gaugebook(t.Context(), tracer, append([]string{"serve", "--listen", "127.0.0.1:0", "--backups", "none"}, args...)...)
	s := &served{cmd: cmd, words: &bytes.Buffer{}, errs: newJournal(), gone: make(chan struct{})}
	cmd.Stderr = s.errs
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	for s.url == "" && lines.Scan() {
		s.words.WriteString(lines.Text() + "\n")
		if _, code, ok := strings.Cut(lines.Text(), "joins with the code "); ok {
			s.code = code[:9]
		}
		if url, ok := strings.CutPrefix(lines.Text(), "listening on "); ok {
			s.url = url
		}
	}
	go func() {
		io.Copy(io.Discard, out)
		cmd.Wait()
		close(s.gone)
	}()
	require.NotEmpty(t, s.url, "gaugebook serve did not start: %s%s", s.words, s.errs)
	t.Cleanup(func() { s.kill() })
	return s
}

// kill ends it as a power cut does: without a word.
func (s *served) kill() {
	s.cmd.Process.Kill()
	<-s.gone
}

// A journal takes what a process says while a test reads it.
type journal struct {
	mu   sync.Mutex
	more *sync.Cond
	buf  bytes.Buffer
}

func newJournal() *journal {
	j := &journal{}
	j.more = sync.NewCond(&j.mu)
	return j
}

func (j *journal) Write(p []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	defer j.more.Broadcast()
	return j.buf.Write(p)
}

func (j *journal) String() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.buf.String()
}

// waitFor returns once the words were said.
func (j *journal) waitFor(words string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for !strings.Contains(j.buf.String(), words) {
		j.more.Wait()
	}
}

// A handset is a phone at the level of the wire: a session and a chain.
type handset struct {
	client  *http.Client
	session string
	epoch   string
	chain   exchange.Chain
	n       int
}

// joinWith lets a handset in with a code; an empty one does in the demo.
func joinWith(t testing.TB, url, code string) *handset {
	t.Helper()
	return joinFrom(t, url, code, "127.0.0.1")
}

// joinFrom is joinWith from one of this machine's addresses: a server hears
// only so many joinings from one.
func joinFrom(t testing.TB, url, code, address string) *handset {
	t.Helper()
	body, err := json.Marshal(exchange.JoinRequest{Proto: exchange.Proto, Code: code, Why: exchange.WhyNew})
	require.NoError(t, err)
	from := &net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(address)}}
	h := &handset{client: &http.Client{Transport: &http.Transport{DialContext: from.DialContext}}}
	res, err := h.client.Post(url+exchange.PathJoin, exchange.ContentJSON, bytes.NewReader(body))
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)
	var reply exchange.JoinReply
	require.NoError(t, json.NewDecoder(res.Body).Decode(&reply))
	require.NotEmpty(t, res.Cookies())
	// A server that starts again has another port and so another cookie; the session is the same.
	h.session, h.epoch, h.chain = res.Cookies()[0].Value, reply.Epoch, exchange.Chain{Device: reply.Device}
	return h
}

// write seals n entries.
func (h *handset) write(t testing.TB, n int) [][]byte {
	t.Helper()
	lines := make([][]byte, n)
	for i := range lines {
		h.n++
		now := time.Date(2026, 11, 25, 9, 0, h.n%60, 0, time.UTC)
		noise := sha256.Sum256(fmt.Appendf(nil, "%s %d", h.chain.Device, h.n))
		line, next, err := exchange.Seal(h.chain, exchange.Contact{}, exchange.Draft{
			Kind: "draw read", V: 1, Body: fmt.Appendf(nil, `{"run":"heron41-7","reading":"%d.85proof","temp":"72.10F"}`, 100+h.n%90),
			Happened: record.StampOf(now), Written: record.StampOf(now), By: "JS",
		}, record.NewID(now, [10]byte(noise[:10])))
		require.NoError(t, err)
		lines[i], h.chain = line, next
	}
	return lines
}

func (h *handset) do(method, url, contentType string, body []byte) (status int, reply []byte, err error) {
	req, err := http.NewRequest(method, url, bytes.NewReader(body))
	if err != nil {
		return 0, nil, err
	}
	req.Header.Set("Authorization", "Bearer "+h.session)
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	res, err := h.client.Do(req)
	if err != nil {
		return 0, nil, err
	}
	defer res.Body.Close()
	reply, err = io.ReadAll(res.Body)
	return res.StatusCode, reply, err
}

// push sends lines; an error means that no whole answer came.
func (h *handset) push(url string, lines [][]byte) (reply exchange.PushReply, err error) {
	body := exchange.Push{PushHeader: exchange.PushHeader{Proto: exchange.Proto, Epoch: h.epoch, Device: h.chain.Device}, Lines: lines}.Bytes()
	status, raw, err := h.do(http.MethodPost, url+exchange.PathPush, exchange.ContentLines, body)
	if err != nil {
		return reply, err
	}
	if status != http.StatusOK {
		return reply, fmt.Errorf("status %d: %s", status, raw)
	}
	return reply, json.Unmarshal(raw, &reply)
}

func (h *handset) pull(t testing.TB, url string, since record.Mark) exchange.Page {
	t.Helper()
	status, raw, err := h.do(http.MethodGet, url+exchange.PathPull+"?since="+since.String(), "", nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status, "%s", raw)
	page, err := exchange.ParsePage(raw)
	require.NoError(t, err)
	return page
}
