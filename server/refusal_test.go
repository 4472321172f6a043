package server_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaugebook/server"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every refusal is JSON with a sentence that names field, value, limit and
// remedy.
func TestRefusals(t *testing.T) {
	h := newHouse(t)
	p, stranger := h.phone(), h.browser()
	line := p.write(1)
	lines := exchange.ContentLines
	for name, c := range map[string]struct {
		by                 *phone
		method, path, kind string
		body               []byte
		header             [2]string
		status             int
		sentence           string
	}{
		"an unknown path": {by: stranger, method: "GET", path: "/sync/v2/push", status: 404,
			sentence: "path “/sync/v2/push”: nothing of the book is there; open / instead."},
		"a method that is not taken": {by: p, method: "GET", path: exchange.PathPush, status: 405,
			sentence: "method “GET”: /sync/v1/push does not take it; use the page, or read the interface in DEVELOPERS.md."},
		"pushing without a session": {by: stranger, method: "POST", path: exchange.PathPush, kind: lines, status: 401,
			sentence: "session: this phone has not joined the book, or the book was restored from before it did; join with a code from the owner; what the phone holds stays."},
		"pulling without a session": {by: stranger, method: "GET", path: exchange.PathPull, status: 401,
			sentence: "session: this phone has not joined the book, or the book was restored from before it did; join with a code from the owner; what the phone holds stays."},
		"listening without a session": {by: stranger, method: "GET", path: "/sync/v1/live", status: 401,
			sentence: "session: this phone has not joined the book, or the book was restored from before it did; join with a code from the owner; what the phone holds stays."},
		"an invented session": {by: stranger, method: "GET", path: exchange.PathPull, header: [2]string{"Authorization", "Bearer abc"}, status: 401,
			sentence: "session: this phone has not joined the book, or the book was restored from before it did; join with a code from the owner; what the phone holds stays."},
		"a wrong content type": {by: p, method: "POST", path: exchange.PathPush, kind: "text/plain", body: p.pushBody(line), status: 415,
			sentence: "content-type “text/plain”: this takes application/x-ndjson; send it as that."},
		"no content type": {by: p, method: "POST", path: exchange.PathPush, body: p.pushBody(line), status: 415,
			sentence: "content-type: this takes application/x-ndjson; send it as that."},
		"an unknown coding": {by: p, method: "POST", path: exchange.PathPush, kind: lines, header: [2]string{"Content-Encoding", "zstd"}, body: p.pushBody(line), status: 415,
			sentence: "content-encoding “zstd”: a body is plain or gzip; send it as one of these."},
		"gzip that is none": {by: p, method: "POST", path: exchange.PathPush, kind: lines, header: [2]string{"Content-Encoding", "gzip"}, body: []byte("plain words, no gzip"), status: 400,
			sentence: "body: the body did not arrive whole: gzip: invalid header; send it again."},
		"a push without a header": {by: p, method: "POST", path: exchange.PathPush, kind: lines, body: []byte("hello\n"), status: 400,
			sentence: "header: the first line of a push is its header, a JSON object with proto, app, epoch and device; update the app."},
		"too many records": {by: p, method: "POST", path: exchange.PathPush, kind: lines, body: p.pushBody(bytes.Split(bytes.Repeat([]byte("x\n"), 500), []byte("\n"))), status: 413,
			sentence: "records “501”: a push has at most 500 records; send half of them."},
		"too large a body": {by: p, method: "POST", path: exchange.PathPush, kind: lines, body: bytes.Repeat([]byte("x"), exchange.MaxBytes+1), status: 413,
			sentence: "body “more than 512000 bytes”: a request has at most 512000 bytes, unpacked; send half of it."},
		"another device's push": {by: p, method: "POST", path: exchange.PathPush, kind: lines, body: []byte(`{"proto":1,"device":"adder10"}` + "\n"), status: 401,
			sentence: "device “adder10”: this session is that of " + p.chain.Device + "; join again with a code from the owner; what the phone holds stays."},
		"a mark that is none": {by: p, method: "GET", path: exchange.PathPull + "?since=yesterday", status: 400,
			sentence: "since “yesterday”: a mark is 0, or a number, a hyphen and 64 hex digits; ask from 0."},
		"a mark of another log": {by: p, method: "GET", path: exchange.PathPull + "?since=7-" + strings.Repeat("ab", 32), status: 409,
			sentence: "epoch “7-" + strings.Repeat("ab", 32) + "”: this is another log than the one the phone knew; the phone asks from the beginning and offers again what it holds."},
		"joining with a form": {by: stranger, method: "POST", path: exchange.PathJoin, kind: "application/x-www-form-urlencoded", body: []byte("code=1"), status: 415,
			sentence: "content-type “application/x-www-form-urlencoded”: this takes application/json; send it as that."},
		"joining with nonsense": {by: stranger, method: "POST", path: exchange.PathJoin, kind: exchange.ContentJSON, body: []byte(`[1]`), status: 400,
			sentence: "body “[1]”: joining takes a JSON object with proto, app, code, was and why; update the app."},
		"joining with a book's worth": {by: stranger, method: "POST", path: exchange.PathJoin, kind: exchange.ContentJSON, body: bytes.Repeat([]byte(" "), 5000), status: 413,
			sentence: "body “more than 4096 bytes”: a request has at most 4096 bytes, unpacked; send less."},
		"joining without a code": {by: stranger, method: "POST", path: exchange.PathJoin, kind: exchange.ContentJSON, body: []byte(`{"proto":1,"why":"new"}`), status: 401,
			sentence: "code: a phone joins with a code of eight letters and digits; the first owner's code is on the console of gaugebook serve; later ones come from the owner."},
		"joining with a wrong code": {by: stranger, method: "POST", path: exchange.PathJoin, kind: exchange.ContentJSON, body: []byte(`{"proto":1,"code":"ABCD-EFGH","why":"new"}`), status: 403,
			sentence: "code: this code is not open: it was mistyped, used, too old, or never given; type it again, or ask the owner for a new one."},
	} {
		t.Run(name, func(t *testing.T) {
			req := c.by.request(c.method, c.path, c.kind, c.body)
			if c.header[0] != "" {
				req.Header.Set(c.header[0], c.header[1])
			}
			r := c.by.do(req)
			assert.Equal(t, c.status, r.status)
			assert.Equal(t, "application/json", r.header.Get("Content-Type"))
			assert.Equal(t, "no-store", r.header.Get("Cache-Control"))
			assert.Equal(t, c.sentence, r.faults(t)[0].Error())
		})
	}
	head, err := h.store.Head(t.Context())
	require.NoError(t, err)
	assert.Zero(t, head.Seq, "nothing was written by any of them")
}

// A small body must not unpack to a large one.
func TestAGzipBombIsRefused(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	req := p.request("POST", exchange.PathPush, exchange.ContentLines, packed(strings.Repeat("a", 50<<20)))
	req.Header.Set("Content-Encoding", "gzip")
	r := p.do(req)
	assert.Equal(t, http.StatusRequestEntityTooLarge, r.status)
	assert.Equal(t, "body “more than 512000 bytes”: a request has at most 512000 bytes, unpacked; send half of it.", r.faults(t)[0].Error())
}

// troubled is a book whose writes fail.
type troubled struct {
	server.Book
	err error
}

func (b troubled) Update(context.Context, string, func(exchange.Ledger) error) error {
	if b.err == nil {
		panic("a loose wire")
	}
	return b.err
}

type noRoom struct{ error }

func (noRoom) NoRoom() bool { return true }

func TestTroubleOnTheServer(t *testing.T) {
	for name, c := range map[string]struct {
		err      error
		status   int
		sentence string
		logged   string
	}{
		"disk full": {noRoom{errors.New("no space left")}, 507,
			"disk: the disk of the office's computer is full; nothing of this was stored; make room there; the phone keeps its entries and tries again.", "no space left"},
		"an error nobody expected": {io.ErrUnexpectedEOF, 500,
			"server: something went wrong in Gaugebook; nothing of this was stored; try again; if it stays so, the server's log names the cause.", "unexpected EOF"},
		"a panic": {nil, 500,
			"server: something went wrong in Gaugebook; nothing of this was stored; try again; if it stays so, the server's log names the cause.", "a loose wire"},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHouse(t, func(config *server.Config) { config.Book = troubled{config.Book, c.err} })
			p := h.phone()
			r := p.pushRaw(p.write(1))
			assert.Equal(t, c.status, r.status)
			assert.Equal(t, c.sentence, r.faults(t)[0].Error())
			assert.Contains(t, h.log.String(), c.logged)
			assert.NotContains(t, r.body, c.logged, "what went wrong inside is for the log")
			assert.Empty(t, p.pull(record.Mark{}, 10).Lines, "reading goes on")
		})
	}
}

func TestJoiningTooOften(t *testing.T) {
	h := newHouse(t)
	p := h.browser()
	wrong := exchange.JoinRequest{Proto: 1, Code: "00000000", Why: exchange.WhyNew}
	for range 5 {
		require.Equal(t, http.StatusForbidden, p.join(wrong).status)
	}
	r := p.join(wrong)
	assert.Equal(t, http.StatusTooManyRequests, r.status)
	assert.Equal(t, "120", r.header.Get("Retry-After"))
	assert.Equal(t, "request: too many of these in a short time; try again in 120 s.", r.faults(t)[0].Error())
	h.clock.Add(2 * time.Minute)
	assert.Equal(t, http.StatusForbidden, p.join(wrong).status, "after the wait it is heard again")
	assert.Equal(t, http.StatusTooManyRequests, p.join(wrong).status)
}

func TestExchangingTooOften(t *testing.T) {
	h := newHouse(t)
	p, other := h.phone(), h.phone()
	for range 600 {
		p.pull(record.Mark{}, 1)
	}
	r := p.do(p.request("GET", exchange.PathPull, "", nil))
	assert.Equal(t, http.StatusTooManyRequests, r.status)
	assert.Equal(t, "1", r.header.Get("Retry-After"))
	other.pull(record.Mark{}, 1) // one phone does not use up another's share
}

func TestHostAndOrigin(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.OpenJoin = true })
	p := h.browser()
	for host, status := range map[string]int{
		"book.test": 200, "BOOK.test.:8021": 200, "localhost:8021": 200, "127.0.0.1": 200, "[::1]:8021": 200,
		"evil.test": 421, "127.0.0.1.evil.test": 421, "192.168.1.20": 421, "localhost.evil.test:8021": 421,
	} {
		req := p.request("GET", "/", "", nil)
		req.Host = host
		r := p.do(req)
		assert.Equal(t, status, r.status, host)
		if status == 421 {
			assert.Equal(t, "host “"+host+"”: this server does not go by that name; use an address that gaugebook serve printed, or add the name with --host.", r.faults(t)[0].Error())
		}
	}
	for name, c := range map[string]struct {
		header, value string
		status        int
	}{
		"another site's page":   {"Sec-Fetch-Site", "cross-site", 403},
		"a sibling site's page": {"Sec-Fetch-Site", "same-site", 403},
		"an older browser":      {"Origin", "https://evil.test", 403},
		"our own page":          {"Sec-Fetch-Site", "same-origin", 200},
		"a tool":                {"User-Agent", "a tool", 200},
	} {
		req := p.request("POST", exchange.PathJoin, exchange.ContentJSON, []byte(`{"proto":1,"why":"new"}`))
		req.Header.Set(c.header, c.value)
		r := p.do(req)
		assert.Equal(t, c.status, r.status, name)
		if c.status == 403 {
			assert.Contains(t, r.faults(t)[0].Error(), "another site's page sent this; open Gaugebook itself and do it there", name)
		}
	}
}

func TestHeadersOnEveryReply(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	const common = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
		"manifest-src 'self'; worker-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	for path, csp := range map[string]string{
		"/":                   common + "; require-trusted-types-for 'script'; trusted-types gaugebook",
		"/sw.js":              common,
		"/app/b1/engine.wasm": common,
		"/nothing":            "default-src 'none'; frame-ancestors 'none'",
		exchange.PathPull:     "default-src 'none'; frame-ancestors 'none'",
		"/healthz":            "default-src 'none'; frame-ancestors 'none'",
	} {
		r := p.do(p.request("GET", path, "", nil))
		assert.Equal(t, csp, r.header.Get("Content-Security-Policy"), path)
		for name, value := range map[string]string{
			"X-Content-Type-Options":       "nosniff",
			"Cross-Origin-Opener-Policy":   "same-origin",
			"Cross-Origin-Resource-Policy": "same-origin",
			"Referrer-Policy":              "no-referrer",
			"Permissions-Policy":           "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
		} {
			assert.Equal(t, value, r.header.Get(name), path+" "+name)
		}
		assert.Empty(t, r.header.Get("Access-Control-Allow-Origin"), path)
	}
}

func TestHealth(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	p.push(p.write(2))
	r := h.browser().do(p.request("GET", "/healthz", "", nil))
	assert.Equal(t, http.StatusOK, r.status)
	assert.JSONEq(t, `{"ok":true,"entries":2}`, r.body)
}

// The real store on a full disk: 507, nothing acknowledged, reading goes on,
// and the same push is taken once there is room.
func TestAFullDisk(t *testing.T) {
	c := &clock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
	path := filepath.Join(t.TempDir(), "book.db")
	small, err := store.Open(t.Context(), path, store.Options{Now: c.Now, MaxPages: 60})
	require.NoError(t, err)
	h := newHouseOn(t, small, c)
	p := h.phone()
	var refused [][]byte
	taken := int64(0)
	for refused == nil {
		lines := p.write(20)
		r := p.pushRaw(lines)
		if r.status == http.StatusOK {
			taken += 20
			require.Less(t, taken, int64(10_000), "the disk never became full")
			continue
		}
		require.Equal(t, http.StatusInsufficientStorage, r.status, r.body)
		assert.Equal(t, "disk: the disk of the office's computer is full; nothing of this was stored; make room there; the phone keeps its entries and tries again.", r.faults(t)[0].Error())
		refused = lines
	}
	assert.Equal(t, taken, p.pull(record.Mark{}, 500).Head.Seq, "reading goes on, and nothing of the refused push is there")
	h.stop()
	h.served <- <-h.served
	require.NoError(t, small.Close())

	roomy, err := store.Open(t.Context(), path, store.Options{Now: c.Now})
	require.NoError(t, err)
	again := newHouseOn(t, roomy, c)
	p.house = again
	old, err := url.Parse(h.url)
	require.NoError(t, err)
	req := p.request("POST", exchange.PathPush, exchange.ContentLines, p.pushBody(refused))
	req.Header.Set("Authorization", "Bearer "+p.client.Jar.Cookies(old)[0].Value)
	r := p.do(req)
	require.Equal(t, http.StatusOK, r.status, r.body)
	assert.Contains(t, r.body, `"head":"`+strconv.FormatInt(taken+20, 10)+"-")
}
