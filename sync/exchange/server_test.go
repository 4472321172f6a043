package exchange_test

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/sync/simulate"
)

var now = time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC)

// device seals entries as a phone does.
type device struct {
	t     *testing.T
	chain exchange.Chain
	n     byte
}

func newDevice(t *testing.T, name string) *device {
	return &device{t: t, chain: exchange.Chain{Device: name}}
}

func (d *device) write(kind string) []byte {
	d.n++
	draft := exchange.Draft{Kind: kind, V: 1, Body: []byte(`{"n":` + strconv.Itoa(int(d.n)) + `}`), By: "JS",
		Happened: "2026-11-25T09:05:00Z", Written: "2026-11-25T09:09:32Z"}
	random := [10]byte{0: d.n, 3: d.chain.Device[0], 4: d.chain.Device[1]}
	line, next, err := exchange.Seal(d.chain, exchange.Contact{}, draft, record.NewID(now, random))
	require.NoError(d.t, err)
	d.chain = next
	return line
}

// rights are those of one device whose role writes draws and counts and sees
// counts only.
type rights string

func (r rights) MayWrite(h record.Record) bool {
	return h.Device == string(r) && h.Kind != "recipe written"
}
func (r rights) MaySee(h record.Record) bool { return h.Kind == "bottles counted" }
func (r rights) Scope() string               { return "counts" }

// push lets the office receive lines, and gives the answers' states.
func push(t *testing.T, m *simulate.Memory, from string, lines ...[]byte) (reply exchange.PushReply, states []exchange.State) {
	require.NoError(t, m.Update(func(l exchange.Ledger) (err error) {
		reply, err = exchange.Receive(exchange.Push{PushHeader: exchange.PushHeader{Proto: 1, Device: from}, Lines: lines}, now, rights(from), l)
		return err
	}))
	require.Len(t, reply.Entries, len(lines), "one answer for each line")
	for _, e := range reply.Entries {
		states = append(states, e.State)
	}
	return reply, states
}

func TestReceive(t *testing.T) {
	type states = []exchange.State
	const (
		fresh, again, gap        = exchange.New, exchange.Duplicate, exchange.Gap
		waits, forked, malformed = exchange.Quarantined, exchange.Forked, exchange.Malformed
	)
	t.Run("in order, and again", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		a, b, c := d.write("draw read"), d.write("draw read"), d.write("draw read")
		reply, got := push(t, m, "heron41", a, b)
		assert.Equal(t, states{fresh, fresh}, got)
		assert.Equal(t, []int64{1, 2}, []int64{reply.Entries[0].Seq, reply.Entries[1].Seq})
		assert.EqualValues(t, 2, reply.Through)
		assert.Equal(t, record.Mark{}.Next(a).Next(b), reply.Head)
		reply, got = push(t, m, "heron41", a, b, c, c)
		assert.Equal(t, states{again, again, fresh, again}, got, "twice in one push, too")
		assert.EqualValues(t, 3, reply.Entries[3].Seq)
		assert.EqualValues(t, 3, reply.Through)
	})
	t.Run("a gap, told, and filled", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		a, b, c, e := d.write("draw read"), d.write("draw read"), d.write("draw read"), d.write("draw read")
		reply, got := push(t, m, "heron41", c)
		assert.Equal(t, states{gap}, got)
		assert.Zero(t, reply.Through)
		_, got = push(t, m, "heron41", e, a)
		assert.Equal(t, states{fresh, fresh}, got)
		reply, got = push(t, m, "heron41", b)
		assert.Equal(t, states{fresh}, got)
		assert.EqualValues(t, 4, reply.Through)
	})
	t.Run("two chains of one name", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		shared := d.write("draw read")
		clone := *d
		clone.n = 100
		mine, mine2, theirs, theirs2, theirs3 := d.write("draw read"), d.write("draw read"), clone.write("draw read"), clone.write("draw read"), clone.write("draw read")
		_, got := push(t, m, "heron41", shared, mine)
		assert.Equal(t, states{fresh, fresh}, got)
		reply, got := push(t, m, "heron41", shared, theirs, theirs2)
		assert.Equal(t, states{again, forked, forked}, got, "what follows a forked entry is forked, though its number is free")
		require.NotNil(t, reply.Entries[1].Fault)
		assert.Contains(t, reply.Entries[1].Fault.Error(), "heron41-2")
		_, got = push(t, m, "heron41", mine2)
		assert.Equal(t, states{fresh}, got, "the first chain goes on")
		_, got = push(t, m, "heron41", theirs3)
		assert.Equal(t, states{forked}, got)
		kept, err := m.Aside(forked)
		require.NoError(t, err)
		assert.ElementsMatch(t, [][]byte{theirs, theirs2, theirs3}, kept)

		// The second phone has a new name; its entry keeps its identity.
		renamed := newDevice(t, "otter17")
		moved, err := record.Decode(theirs)
		require.NoError(t, err)
		moved.Device, moved.Seq, moved.Prev = "otter17", 1, record.Digest{}
		line, err := record.Encode(moved)
		require.NoError(t, err)
		_, got = push(t, m, renamed.chain.Device, line)
		assert.Equal(t, states{fresh}, got)
		moved.Device = "otter18"
		line, err = record.Encode(moved)
		require.NoError(t, err)
		_, got = push(t, m, "otter18", line)
		assert.Equal(t, states{again}, got, "re-numbered once more it is known by what it says")
	})
	t.Run("a gap that another chain would fill", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		d.write("draw read")
		_, got := push(t, m, "heron41", d.write("draw read"))
		assert.Equal(t, states{gap}, got)
		other := newDevice(t, "heron41")
		other.n = 100
		_, got = push(t, m, "heron41", other.write("draw read"))
		assert.Equal(t, states{forked}, got)
	})
	t.Run("a poisoned line blocks nothing", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		a, b := d.write("draw read"), d.write("draw read")
		reply, got := push(t, m, "heron41", a, []byte(`{"not":"a record"}`), nil, b[:len(b)-1], b)
		assert.Equal(t, states{fresh, malformed, malformed, malformed, fresh}, got)
		assert.Empty(t, reply.Entries[1].ID)
		assert.NotEmpty(t, reply.Entries[1].Fault.Remedy)
		kept, err := m.Aside(malformed)
		require.NoError(t, err)
		assert.Len(t, kept, 3)
	})
	t.Run("an altered record", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		a := d.write("draw read")
		_, _ = push(t, m, "heron41", a)
		altered := []byte(strings.Replace(string(a), `{"n":1}`, `{"n":9}`, 1))
		reply, got := push(t, m, "heron41", altered)
		assert.Equal(t, states{malformed}, got)
		assert.Contains(t, reply.Entries[0].Fault.Error(), "says something else")
		assert.Contains(t, reply.Entries[0].Fault.Error(), "heron41-1")
	})
	t.Run("the role decides", func(t *testing.T) {
		m, d := simulate.NewMemory(), newDevice(t, "heron41")
		a, b := d.write("recipe written"), d.write("draw read")
		reply, got := push(t, m, "heron41", a, b)
		assert.Equal(t, states{waits, fresh}, got, "a quarantined entry keeps its place in the chain")
		assert.Zero(t, reply.Entries[0].Seq)
		assert.EqualValues(t, 2, reply.Through)
		_, got = push(t, m, "heron41", a)
		assert.Equal(t, states{waits}, got)

		foreign := newDevice(t, "otter17").write("draw read")
		_, got = push(t, m, "heron41", foreign)
		assert.Equal(t, states{waits}, got, "another device's entry waits")
		_, got = push(t, m, "otter17", foreign)
		assert.Equal(t, states{fresh}, got, "until its author brings it")
		waiting, err := m.Aside(waits)
		require.NoError(t, err)
		assert.Equal(t, [][]byte{a}, waiting)
	})
	t.Run("nothing", func(t *testing.T) {
		reply, _ := push(t, simulate.NewMemory(), "heron41")
		assert.Equal(t, now.UnixMilli(), reply.NowMS)
		assert.Equal(t, record.Mark{}, reply.Head)
	})
}

func TestReceiveAnotherEpoch(t *testing.T) {
	m, d := simulate.NewMemory(), newDevice(t, "heron41")
	err := m.Update(func(l exchange.Ledger) error {
		_, err := exchange.Receive(exchange.Push{PushHeader: exchange.PushHeader{Proto: 1, Device: "heron41", Epoch: "before"}, Lines: [][]byte{d.write("draw read")}}, now, rights("heron41"), l)
		return err
	})
	var refusal *exchange.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Equal(t, 409, refusal.Status)
	assert.Equal(t, "epoch-1", refusal.Epoch)
	assert.NotEmpty(t, refusal.Faults)
}

// failing is a ledger whose disk gives out.
type failing struct {
	exchange.Ledger
	in string
}

var errDisk = errors.New("disk")

func (f failing) fails(in string) error {
	if f.in == in {
		return errDisk
	}
	return nil
}
func (f failing) Epoch() (string, error)     { return "epoch-1", f.fails("epoch") }
func (f failing) Head() (record.Mark, error) { return record.Mark{}, f.fails("head") }
func (f failing) ByID(id uuid.UUID) (record.Stored, error) {
	return record.Stored{}, f.fails("id")
}
func (f failing) Tip(string) (record.Tip, error) { return record.Tip{}, f.fails("tip") }
func (f failing) Append(record.Record, []byte) (int64, error) {
	return 0, f.fails("append")
}
func (f failing) SetAside(string, record.Record, []byte, record.Fault) error {
	return f.fails("aside")
}

// A store that fails answers for nothing.
func TestReceiveStorageFails(t *testing.T) {
	d := newDevice(t, "heron41")
	lines := [][]byte{d.write("draw read"), []byte("rubbish")}
	for _, in := range []string{"epoch", "head", "id", "tip", "append", "aside"} {
		reply, err := exchange.Receive(exchange.Push{PushHeader: exchange.PushHeader{Device: "heron41"}, Lines: lines}, now, rights("heron41"), failing{in: in})
		require.ErrorIs(t, err, errDisk, in)
		assert.Empty(t, reply.Entries, in)
	}
}

func TestDeliver(t *testing.T) {
	m, d := simulate.NewMemory(), newDevice(t, "heron41")
	var lines [][]byte
	for i := range 10 {
		lines = append(lines, d.write([]string{"draw read", "bottles counted"}[i%2]))
	}
	push(t, m, "heron41", lines...)
	pull := func(since record.Mark, limit int) (page exchange.Page, err error) {
		err = m.View(func(r exchange.Reader) (err error) {
			page, err = exchange.Deliver(exchange.PullQuery{Proto: 1, Since: since, Limit: limit}, now, rights("heron41"), r)
			return err
		})
		return page, err
	}
	var got [][]byte
	var since record.Mark
	for pages := 1; ; pages++ {
		page, err := pull(since, 2)
		require.NoError(t, err)
		require.LessOrEqual(t, len(page.Lines), 2)
		require.Equal(t, "counts", page.Scope)
		got = append(got, page.Lines...)
		since = page.Next
		if !page.More {
			assert.Equal(t, page.Head, page.Next)
			assert.Equal(t, 3, pages)
			break
		}
	}
	assert.Equal(t, [][]byte{lines[1], lines[3], lines[5], lines[7], lines[9]}, got, "only what the role may see, and all of it")

	page, err := pull(since, 2)
	require.NoError(t, err)
	assert.Equal(t, since, page.Next, "nothing new")
	assert.Empty(t, page.Lines)

	for name, mark := range map[string]record.Mark{"beyond the end": {Seq: 11, Chain: since.Chain}, "another chain": {Seq: 10, Chain: record.DigestOf(nil)}} {
		_, err := pull(mark, 2)
		var refusal *exchange.Refusal
		require.ErrorAs(t, err, &refusal, name)
		assert.Equal(t, 409, refusal.Status, name)
		assert.Equal(t, "epoch-1", refusal.Epoch, name)
	}
}

// A page ends before it grows too big, and one entry is never too big for one.
func TestDeliverBytes(t *testing.T) {
	m, d := simulate.NewMemory(), newDevice(t, "heron41")
	for range 12 {
		draft := exchange.Draft{Kind: "bottles counted", V: 1, By: "JS", Happened: "2026-11-25T09:05:00Z", Written: "2026-11-25T09:09:32Z",
			Body: fmt.Appendf(nil, `{"note":"%060000d"}`, 0)}
		d.n++
		line, next, err := exchange.Seal(d.chain, exchange.Contact{}, draft, record.NewID(now, [10]byte{d.n}))
		require.NoError(t, err)
		d.chain = next
		push(t, m, "heron41", line)
	}
	require.NoError(t, m.View(func(r exchange.Reader) error {
		page, err := exchange.Deliver(exchange.PullQuery{Proto: 1, Limit: 500}, now, rights("heron41"), r)
		require.NoError(t, err)
		assert.Len(t, page.Lines, 8)
		assert.EqualValues(t, 8, page.Next.Seq)
		assert.True(t, page.More)
		return nil
	}))
}

func TestDeliverToOldBuild(t *testing.T) {
	require.NoError(t, simulate.NewMemory().View(func(r exchange.Reader) error {
		_, err := exchange.Deliver(exchange.PullQuery{Proto: 0, Limit: 500}, now, rights("heron41"), r)
		var refusal *exchange.Refusal
		require.ErrorAs(t, err, &refusal)
		assert.Equal(t, 426, refusal.Status)
		assert.Contains(t, refusal.Error(), "can still be sent")
		return nil
	}))
}
