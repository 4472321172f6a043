package server_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/server"
	"gaugebook/server/shelf"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/require"
)

// packed is gzip's form of a text.
func packed(text string) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	z.Write([]byte(text)) // a buffer takes everything
	z.Close()
	return out.Bytes()
}

func brotlied(text string) []byte {
	var out bytes.Buffer
	z := brotli.NewWriter(&out)
	z.Write([]byte(text)) // a buffer takes everything
	z.Close()
	return out.Bytes()
}

// page is a small bundle with every form a file can have.
func page() *webapp.Bundle {
	return &webapp.Bundle{Build: "b1", Files: map[string]webapp.File{
		"/": {Body: []byte("<!doctype html><title>page</title>"), Brotli: []byte("brotli of the page"), Gzip: packed("<!doctype html><title>page</title>"),
			ContentType: "text/html; charset=utf-8", ETag: `"e1"`},
		"/sw.js":              {Body: []byte("worker"), ContentType: "text/javascript; charset=utf-8", ETag: `"e2"`},
		"/app/b1/engine.wasm": {Body: []byte("\x00asm"), Gzip: packed("\x00asm"), ContentType: "application/wasm", ETag: `"e3"`, Immutable: true},
		"/app/b1/large.wasm":  {Brotli: brotlied("large module"), Size: 12, ContentType: "application/wasm", ETag: `"e4"`, Immutable: true},
	}}
}

// A clock that tests set; it stands still by itself.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.now }

func (c *clock) Add(d time.Duration) { c.mu.Lock(); defer c.mu.Unlock(); c.now = c.now.Add(d) }

// lockedBuffer takes the log of all requests.
type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) String() string { b.mu.Lock(); defer b.mu.Unlock(); return b.buf.String() }

// A house is a running server on a real listener with a real book.
type house struct {
	t      *testing.T
	url    string
	store  *store.Store
	srv    *server.Server
	clock  *clock
	log    *lockedBuffer
	stop   context.CancelFunc
	served chan error
}

func newHouse(t *testing.T, change ...func(*server.Config)) *house {
	t.Helper()
	c := &clock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), store.Options{Now: c.Now})
	require.NoError(t, err)
	return newHouseOn(t, s, c, change...)
}

func newHouseOn(t *testing.T, s *store.Store, c *clock, change ...func(*server.Config)) *house {
	t.Helper()
	h := &house{t: t, store: s, clock: c, log: &lockedBuffer{}, served: make(chan error, 1)}
	config := server.Config{
		Book: shelf.Book{Store: s}, Page: page(), Now: c.Now, Random: rand.Reader, Hosts: []string{"book.test"},
		Log: slog.New(slog.NewTextHandler(h.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
	}
	for _, f := range change {
		f(&config)
	}
	var err error
	h.srv, err = server.New(t.Context(), config)
	require.NoError(t, err)
	if config.Beat > 0 { // a test of long connections: let them be long in comparison
		server.SetWriteTimeout(h.srv, 50*config.Beat)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	h.url = "http://" + ln.Addr().String()
	ctx, stop := context.WithCancel(context.Background())
	h.stop = stop
	go func() { h.served <- h.srv.Serve(ctx, ln) }()
	t.Cleanup(func() {
		stop()
		<-h.served
		s.Close()
	})
	return h
}

// A phone is a browser: cookies, a name, a chain.
type phone struct {
	*house
	client *http.Client
	chain  exchange.Chain
	epoch  string
	n      int
}

func (h *house) browser() *phone {
	jar, err := cookiejar.New(nil)
	require.NoError(h.t, err)
	return &phone{house: h, client: &http.Client{Jar: jar}}
}

// phone joins with a code of its own.
func (h *house) phone() *phone {
	h.t.Helper()
	p := h.browser()
	h.clock.Add(6 * time.Second) // joining is limited
	code, err := h.srv.Invite(server.Invitation{Role: server.Owner, Label: "test"})
	require.NoError(h.t, err)
	reply := p.join(exchange.JoinRequest{Proto: 1, App: "b1", Code: code, Why: exchange.WhyNew})
	require.Equal(h.t, http.StatusOK, reply.status, reply.body)
	return p
}

type reply struct {
	status int
	header http.Header
	body   string
}

// faults are the faults of a refusal.
func (r reply) faults(t *testing.T) fault.List {
	t.Helper()
	var refusal struct {
		Faults fault.List `json:"faults"`
	}
	require.NoError(t, json.Unmarshal([]byte(r.body), &refusal), "status %d, body %q", r.status, r.body)
	require.NotEmpty(t, refusal.Faults, r.body)
	return refusal.Faults
}

func (p *phone) do(req *http.Request) reply {
	p.t.Helper()
	res, err := p.client.Do(req)
	require.NoError(p.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(p.t, err)
	return reply{res.StatusCode, res.Header, string(body)}
}

func (p *phone) request(method, path, contentType string, body []byte) *http.Request {
	p.t.Helper()
	req, err := http.NewRequestWithContext(p.t.Context(), method, p.url+path, bytes.NewReader(body))
	require.NoError(p.t, err)
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	return req
}

func (p *phone) join(j exchange.JoinRequest) reply {
	p.t.Helper()
	body, err := json.Marshal(j)
	require.NoError(p.t, err)
	r := p.do(p.request("POST", exchange.PathJoin, exchange.ContentJSON, body))
	if r.status == http.StatusOK {
		var reply exchange.JoinReply
		require.NoError(p.t, json.Unmarshal([]byte(r.body), &reply))
		if reply.Device != p.chain.Device {
			p.chain = exchange.Chain{Device: reply.Device}
		}
		p.epoch = reply.Epoch
	}
	return r
}

// write seals n entries and returns their lines.
func (p *phone) write(n int) [][]byte {
	p.t.Helper()
	lines := make([][]byte, n)
	for i := range lines {
		p.n++
		now := record.StampOf(p.clock.Now())
		line, next, err := exchange.Seal(p.chain, exchange.Contact{}, exchange.Draft{
			Kind: "draw read", V: 1, Body: fmt.Appendf(nil, `{"run":"quince 4","reading":"%d.5proof","temp":"72.1F"}`, 100+p.n%90),
			Happened: now, Written: now, By: "JS",
		}, record.NewID(p.clock.Now(), [10]byte(randomBytes(p.t, 10))))
		require.NoError(p.t, err)
		lines[i], p.chain = line, next
	}
	return lines
}

func randomBytes(t testing.TB, n int) []byte {
	b := make([]byte, n)
	_, err := rand.Read(b)
	require.NoError(t, err)
	return b
}

func (p *phone) pushBody(lines [][]byte) []byte {
	return exchange.Push{PushHeader: exchange.PushHeader{Proto: 1, App: "b1", Epoch: p.epoch, Device: p.chain.Device}, Lines: lines}.Bytes()
}

func (p *phone) pushRaw(lines [][]byte) reply {
	return p.do(p.request("POST", exchange.PathPush, exchange.ContentLines, p.pushBody(lines)))
}

func (p *phone) push(lines [][]byte) exchange.PushReply {
	p.t.Helper()
	r := p.pushRaw(lines)
	require.Equal(p.t, http.StatusOK, r.status, r.body)
	var out exchange.PushReply
	require.NoError(p.t, json.Unmarshal([]byte(r.body), &out))
	require.Len(p.t, out.Entries, len(lines))
	return out
}

func (p *phone) pull(since record.Mark, limit int) exchange.Page {
	p.t.Helper()
	r := p.do(p.request("GET", fmt.Sprintf("%s?since=%s&limit=%d&proto=1&app=b1", exchange.PathPull, since, limit), "", nil))
	require.Equal(p.t, http.StatusOK, r.status, r.body)
	page, err := exchange.ParsePage([]byte(r.body))
	require.NoError(p.t, err)
	return page
}

func states(answers []exchange.Answer) string {
	var all []string
	for _, a := range answers {
		all = append(all, string(a.State))
	}
	return strings.Join(all, " ")
}
