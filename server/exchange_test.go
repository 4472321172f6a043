package server_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/server"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPushThenPullOnAnotherPhone(t *testing.T) {
	h := newHouse(t)
	ana, ben := h.phone(), h.phone()
	lines := ana.write(3)
	got := ana.push(lines)
	assert.Equal(t, "new new new", states(got.Entries))
	assert.EqualValues(t, 3, got.Through)
	assert.EqualValues(t, 3, got.Head.Seq)
	assert.Equal(t, h.clock.Now().UnixMilli(), got.NowMS)

	page := ben.pull(record.Mark{}, 2)
	assert.Equal(t, lines[:2], page.Lines, "the bytes that were sent, in order")
	assert.True(t, page.More)
	page = ben.pull(page.Next, 2)
	assert.Equal(t, lines[2:], page.Lines)
	assert.False(t, page.More)
	assert.Equal(t, got.Head, page.Next)
	assert.Empty(t, ben.pull(page.Next, 2).Lines, "nothing new")
}

func TestSendingTwiceIsHarmless(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	lines := p.write(2)
	first := p.push(lines)
	again := p.push(lines)
	assert.Equal(t, "duplicate duplicate", states(again.Entries))
	assert.Equal(t, first.Head, again.Head)
	assert.Equal(t, first.Entries[1].Seq, again.Entries[1].Seq, "the place it was given the first time")
	both := p.push(append(lines, p.write(1)...))
	assert.Equal(t, "duplicate duplicate new", states(both.Entries))
}

func TestAGapIsStoredAndTold(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	lines := p.write(4)
	got := p.push([][]byte{lines[0], lines[3]})
	assert.Equal(t, "new gap", states(got.Entries))
	assert.EqualValues(t, 1, got.Through)
	got = p.push(lines[1:3])
	assert.EqualValues(t, 4, got.Through, "what waited behind the gap counts once it is filled")
}

func TestACopiedPhoneIsFound(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	copied := *p
	mine, theirs := p.write(2), copied.write(2)
	assert.Equal(t, "new new", states(p.push(mine).Entries))
	got := p.push(theirs)
	require.Equal(t, "forked forked", states(got.Entries))
	assert.Contains(t, got.Entries[0].Fault.Error(), "this place in the device's chain is another entry's")
	asides, err := h.store.Asides(t.Context())
	require.NoError(t, err)
	require.Len(t, asides, 2, "kept beside the log")
	assert.Equal(t, theirs[0], asides[0].Line)
	assert.Equal(t, p.chain.Device, asides[0].Sender)
}

// One bad line never blocks the good ones behind it, and is kept.
func TestMalformedLinesBecomeDeadLetters(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	good := p.write(2)
	altered := bytes.Replace(good[1], []byte(`"body":{`), []byte(`"body": {`), 1)
	got := p.push([][]byte{[]byte("{nonsense"), good[0], altered, good[1], {}})
	assert.Equal(t, "malformed new malformed new malformed", states(got.Entries))
	assert.NotEmpty(t, got.Entries[0].Fault.Error())
	asides, err := h.store.Asides(t.Context())
	require.NoError(t, err)
	assert.Len(t, asides, 3)
	p.push([][]byte{[]byte("{nonsense")})
	asides, err = h.store.Asides(t.Context())
	require.NoError(t, err)
	assert.Len(t, asides, 3, "the same letter is kept once")
}

func TestAPhoneOfNoRoleIsQuarantined(t *testing.T) {
	h := newHouse(t)
	p := h.browser()
	code, err := h.srv.Invite(server.Invitation{Role: "counter", Label: "till"})
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, p.join(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew}).status)
	got := p.push(p.write(2))
	assert.Equal(t, "quarantined quarantined", states(got.Entries))
	assert.EqualValues(t, 0, got.Head.Seq)
	assert.EqualValues(t, 2, got.Through, "held all the same")
	owner := h.phone()
	owner.push(owner.write(1))
	assert.Empty(t, p.pull(record.Mark{}, 10).Lines, "and may not read")
}

// A quarantined entry that someone brings who may is let in.
func TestQuarantineIsLeft(t *testing.T) {
	h := newHouse(t)
	p, owner := h.browser(), h.phone()
	code, err := h.srv.Invite(server.Invitation{Role: "counter"})
	require.NoError(t, err)
	p.join(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew})
	lines := p.write(2)
	p.push(lines)
	assert.Equal(t, "quarantined quarantined", states(p.push(lines).Entries))
	assert.Equal(t, "new new", states(owner.push(lines).Entries))
	assert.Equal(t, "duplicate duplicate", states(p.push(lines).Entries))
}

func TestAnotherEpochIsTold(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	p.epoch = "an older life of this book"
	r := p.pushRaw(p.write(1))
	assert.Equal(t, http.StatusConflict, r.status)
	assert.Contains(t, r.faults(t)[0].Error(), "this is another log than the one the phone knew")
	epoch, err := h.store.Epoch(t.Context())
	require.NoError(t, err)
	assert.Contains(t, r.body, `"epoch":"`+epoch+`"`)
}

func TestAGzippedPushIsTaken(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	req := p.request("POST", exchange.PathPush, exchange.ContentLines, packed(string(p.pushBody(p.write(100)))))
	req.Header.Set("Content-Encoding", "gzip")
	r := p.do(req)
	assert.Equal(t, http.StatusOK, r.status, r.body)
	head, err := h.store.Head(t.Context())
	require.NoError(t, err)
	assert.EqualValues(t, 100, head.Seq)
}

func TestAPageIsGzippedForWhoTakesIt(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	lines := p.write(50)
	p.push(lines)
	req := p.request("GET", exchange.PathPull, "", nil)
	req.Header.Set("Accept-Encoding", "gzip") // by hand, so the client does not unpack
	r := p.do(req)
	require.Equal(t, "gzip", r.header.Get("Content-Encoding"))
	assert.Equal(t, "Accept-Encoding", r.header.Get("Vary"))
	z, err := gzip.NewReader(strings.NewReader(r.body))
	require.NoError(t, err)
	var plain bytes.Buffer
	_, err = plain.ReadFrom(z)
	require.NoError(t, err)
	page, err := exchange.ParsePage(plain.Bytes())
	require.NoError(t, err)
	assert.Equal(t, lines, page.Lines)
}

// grumbler finds fault with every entry.
type grumbler struct{}

func (grumbler) Check([]byte) fault.List { return fault.List{{Code: fault.TooHigh, Field: "reading"}} }

func TestTradeFaultsAreCountedNotRefused(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.Checker = grumbler{} })
	p := h.phone()
	lines := p.write(3)
	assert.Equal(t, "new new new", states(p.push(lines).Entries))
	assert.Contains(t, h.log.String(), "faulty=3")
	p.push(lines)
	assert.Contains(t, h.log.String(), "faulty=0", "what was there before is not counted again")
}

// Fifty phones push and push again at once: everything is there once, and
// no reader misses a number.
func TestManyPhonesAtOnce(t *testing.T) {
	h := newHouse(t)
	const phones, each, batch = 50, 20, 5
	reader := h.phone()
	var all sync.WaitGroup
	stop := make(chan struct{})
	read := make(chan int64)
	go func() {
		var mark record.Mark
		for {
			select {
			case <-stop:
				for page := reader.pull(mark, 500); len(page.Lines) > 0; page = reader.pull(mark, 500) {
					mark = page.Next
				}
				read <- mark.Seq
				return
			default:
				page := reader.pull(mark, 500)
				if page.Next.Seq-mark.Seq != int64(len(page.Lines)) {
					t.Errorf("from %d to %d came %d entries", mark.Seq, page.Next.Seq, len(page.Lines))
				}
				mark = page.Next
				h.clock.Add(time.Second) // the reader asks far more often than a phone may
			}
		}
	}()
	for range phones {
		p := h.phone()
		lines := p.write(each)
		all.Go(func() {
			for i := 0; i < each; i += batch {
				p.push(lines[i : i+batch])
				p.push(lines[:i+batch])
			}
		})
	}
	all.Wait()
	close(stop)
	assert.EqualValues(t, phones*each, <-read)
	v, err := h.store.Verify(t.Context())
	require.NoError(t, err)
	require.NoError(t, v.Err())
	assert.EqualValues(t, phones*each, v.Entries)
	assert.Empty(t, v.Gaps)
}

func TestLiveTellsOfANewHead(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.Beat = 10 * time.Millisecond })
	p, other := h.phone(), h.phone()
	res, err := p.client.Do(p.request("GET", "/sync/v1/live", "", nil))
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)
	assert.Equal(t, "text/event-stream", res.Header.Get("Content-Type"))
	assert.Equal(t, "no-store, no-transform", res.Header.Get("Cache-Control"))
	assert.Equal(t, "no", res.Header.Get("X-Accel-Buffering"))
	events := bufio.NewScanner(res.Body)
	next := func(prefix string) string {
		for events.Scan() {
			if text, ok := strings.CutPrefix(events.Text(), prefix); ok {
				return text
			}
		}
		t.Fatalf("the stream ended before a line with %q: %v", prefix, events.Err())
		return ""
	}
	assert.Equal(t, "0", next("data: "), "the end of the log at once")
	head := other.push(other.write(2)).Head
	assert.Equal(t, head.String(), next("data: "))
	for range 100 { // far longer than any other reply may take
		next(": still here")
	}

	require.NoError(t, h.store.EndDevice(t.Context(), p.chain.Device, h.clock.Now()))
	for events.Scan() { // ends by itself once the phone's time has
	}
	assert.NoError(t, events.Err())
}

func TestALiveConnectionDoesNotHoldUpStopping(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	res, err := p.client.Do(p.request("GET", "/sync/v1/live", "", nil))
	require.NoError(t, err)
	defer res.Body.Close()
	h.stop()
	err = <-h.served
	h.served <- err
	assert.NoError(t, err)
}

func TestOnePhoneCannotTakeEveryLiveConnection(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	for range 8 {
		res, err := p.client.Do(p.request("GET", "/sync/v1/live", "", nil))
		require.NoError(t, err)
		defer res.Body.Close()
		require.Equal(t, http.StatusOK, res.StatusCode)
	}
	r := p.do(p.request("GET", "/sync/v1/live", "", nil))
	assert.Equal(t, http.StatusTooManyRequests, r.status)
	assert.Equal(t, "10", r.header.Get("Retry-After"))
	assert.Equal(t, "request: too many of these in a short time; try again in 10 s.", r.faults(t)[0].Error())
}
