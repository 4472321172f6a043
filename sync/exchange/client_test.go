package exchange_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// phone is a Client whose driver is the test itself.
type phone struct {
	t       *testing.T
	client  *exchange.Client
	device  *device
	wall    time.Time
	chance  float64
	effects []exchange.Effect
	tell    exchange.Tell
}

// open is a phone that has a name and n unsent entries.
func open(t *testing.T, n int) *phone {
	p := &phone{t: t, device: newDevice(t, "heron41"), wall: now, chance: 0.5}
	o := exchange.Opened{Contact: exchange.Contact{Epoch: "e"}}
	for range n {
		o.Unsent = append(o.Unsent, p.write())
	}
	o.Chain = p.device.chain
	p.client = exchange.NewClient("b1", func() float64 { return p.chance })
	p.step(exchange.Event{Opened: &o})
	return p
}

func (p *phone) write() exchange.Held {
	line := p.device.write("draw read")
	r, err := record.Decode(line)
	require.NoError(p.t, err)
	return exchange.Held{ID: r.ID.String(), Line: string(line), State: exchange.Unsent}
}

func (p *phone) step(e exchange.Event) {
	p.t.Helper()
	p.effects = p.client.Step(e)
	for _, effect := range p.effects {
		if effect.Tell != nil {
			p.tell = *effect.Tell
		}
	}
}

func (p *phone) send() exchange.Send {
	p.t.Helper()
	for _, e := range p.effects {
		if e.Send != nil {
			return *e.Send
		}
	}
	require.Fail(p.t, "a request was wanted", "%s", effectsJSON(p.t, p.effects))
	return exchange.Send{}
}

func (p *phone) store() exchange.Store {
	p.t.Helper()
	for _, e := range p.effects {
		if e.Store != nil {
			return *e.Store
		}
	}
	require.Fail(p.t, "a transaction was wanted", "%s", effectsJSON(p.t, p.effects))
	return exchange.Store{}
}

// wake is the wait asked for, or -1.
func (p *phone) wake() int64 {
	for _, e := range p.effects {
		if e.Wake != nil {
			return e.Wake.AfterMS
		}
	}
	return -1
}

func (p *phone) reply(status int, body any, retryAfterS int64) {
	p.t.Helper()
	text, ok := body.(string)
	if !ok {
		b, err := json.Marshal(body)
		require.NoError(p.t, err)
		text = string(b)
	}
	p.step(exchange.Event{Replied: &exchange.Replied{ID: p.send().ID, Status: status, Body: text, RetryAfterS: retryAfterS, WallMS: p.wall.UnixMilli()}})
}

func (p *phone) stored() { p.t.Helper(); p.step(exchange.Event{Stored: &struct{}{}}) }
func (p *phone) timer()  { p.t.Helper(); p.step(exchange.Event{Timer: &struct{}{}}) }

// answer is a good reply to the push under way, all lines in one state.
func (p *phone) answer(state exchange.State) exchange.PushReply {
	p.t.Helper()
	reply := exchange.PushReply{Epoch: "e", NowMS: now.UnixMilli(), Head: record.Mark{}.Next(nil)}
	for _, line := range lines(p.send()) {
		r, err := record.Decode([]byte(line))
		require.NoError(p.t, err)
		reply.Entries = append(reply.Entries, exchange.Answer{ID: r.ID.String(), State: state})
		reply.Through = r.Seq
	}
	return reply
}

func (p *phone) emptyPage() string {
	return string(exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e", NowMS: now.UnixMilli()}}.Bytes())
}

func lines(s exchange.Send) []string {
	all := strings.Split(strings.TrimSuffix(s.Body, "\n"), "\n")
	return all[1:]
}

func effectsJSON(t *testing.T, effects []exchange.Effect) string {
	b, err := json.Marshal(effects)
	require.NoError(t, err)
	return string(b)
}

func TestRound(t *testing.T) {
	p := open(t, 2)
	assert.Equal(t, exchange.PathPush, p.send().Path, "push before pull")
	assert.Equal(t, 2, p.tell.Unsent)
	assert.Equal(t, exchange.Pushing, p.tell.Doing)
	assert.EqualValues(t, 15_000, p.send().TimeoutMS)

	p.reply(200, p.answer(exchange.New), 0)
	require.Len(t, p.store().Put, 2)
	assert.Equal(t, exchange.Received, p.store().Put[0].State)
	assert.Equal(t, 2, p.tell.Unsent, "received is said after it is stored, not before")
	p.stored()
	assert.Zero(t, p.tell.Unsent)

	assert.True(t, strings.HasPrefix(p.send().Path, exchange.PathPull+"?since=0&"))
	theirs := newDevice(t, "otter17").write("draw read")
	mark := record.Mark{}.Next(theirs)
	p.reply(200, string(exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e", NowMS: now.UnixMilli(), Next: mark, Head: mark}, Lines: [][]byte{theirs}}.Bytes()), 0)
	require.Len(t, p.store().Put, 1)
	assert.Equal(t, mark, p.store().Contact.Since, "the mark moves with its records")
	seen, err := record.Decode(theirs)
	require.NoError(t, err)
	assert.Equal(t, seen.Clock, p.store().Contact.Clock)
	p.stored()
	assert.EqualValues(t, 30_000, p.wake())
	assert.Equal(t, exchange.Resting, p.tell.Doing)
	assert.Nil(t, p.tell.Problem)

	visible := false
	p.step(exchange.Event{Visible: &visible})
	p.timer()
	assert.Contains(t, p.send().Path, "since="+mark.String()+"&")
	p.reply(200, string(exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e", Next: mark, Head: mark}}.Bytes()), 0)
	p.stored()
	assert.EqualValues(t, -1, p.wake(), "a page out of sight waits for an event")
}

func TestSaveWhileResting(t *testing.T) {
	p := open(t, 0)
	p.reply(200, p.emptyPage(), 0)
	p.stored()
	held := p.write()
	p.step(exchange.Event{Saved: &exchange.Saved{Chain: p.device.chain, Held: held}})
	assert.EqualValues(t, 1_000, p.wake(), "a moment, for the next save")
	assert.Equal(t, 1, p.tell.Unsent)
	p.timer()
	assert.Equal(t, []string{held.Line}, lines(p.send()))
}

// The waits grow to a minute, jittered over their whole length, and start
// small again when there is reason to hope.
func TestBackoff(t *testing.T) {
	p := open(t, 1)
	p.chance = 0.999999
	for _, most := range []int64{1, 2, 4, 8, 16, 32, 60, 60} {
		p.step(exchange.Event{Failed: &exchange.Failed{ID: p.send().ID, Reason: "unreachable"}})
		assert.GreaterOrEqual(t, p.wake(), most*999)
		assert.LessOrEqual(t, p.wake(), most*1000)
		assert.Equal(t, most >= 4, p.tell.Problem != nil, "no signal is worth a word the third time: %d", most)
		assert.Equal(t, exchange.Retrying, p.tell.Doing)
		p.timer()
	}
	assert.Contains(t, p.tell.Problem.Error(), "safe on this phone")
	p.step(exchange.Event{Failed: &exchange.Failed{ID: p.send().ID}})
	p.chance = 0
	p.step(exchange.Event{Online: &struct{}{}})
	p.step(exchange.Event{Failed: &exchange.Failed{ID: p.send().ID}})
	assert.Zero(t, p.wake(), "full jitter begins at nothing")
}

func TestStatuses(t *testing.T) {
	t.Run("429 and 503 wait as long as they are asked to", func(t *testing.T) {
		for _, status := range []int{429, 503} {
			p := open(t, 1)
			p.reply(status, "", 17)
			assert.Contains(t, p.send().Path, exchange.PathPull, "pulling goes on while pushing fails")
			p.reply(200, p.emptyPage(), 0)
			p.stored()
			assert.EqualValues(t, 17_000, p.wake())
			assert.Equal(t, 1, p.tell.Unsent)
		}
	})
	t.Run("401 and 403 ask for a code and keep the entries", func(t *testing.T) {
		for _, status := range []int{401, 403} {
			p := open(t, 2)
			p.reply(status, exchange.Refusal{}, 0)
			assert.True(t, p.tell.NeedCode)
			assert.Equal(t, 2, p.tell.Unsent)
			assert.Contains(t, p.tell.Problem.Error(), "entries stay on this phone")
			assert.EqualValues(t, -1, p.wake(), "only a person can help")
			p.step(exchange.Event{Join: &exchange.Join{Code: "4711"}})
			assert.Equal(t, exchange.PathJoin, p.send().Path)
			assert.JSONEq(t, `{"proto":1,"app":"b1","code":"4711","was":"heron41","why":"again"}`, p.send().Body)
			p.reply(200, exchange.JoinReply{Device: "otter17", Epoch: "e", NowMS: 1}, 0)
			assert.Equal(t, "otter17", p.store().Chain.To.Device)
			assert.Zero(t, p.store().Chain.To.Seq)
			assert.Empty(t, p.store().Put, "lines keep the name they have")
			p.stored()
			assert.Len(t, lines(p.send()), 2)
			assert.False(t, p.tell.NeedCode)
		}
	})
	t.Run("a wrong code asks again", func(t *testing.T) {
		p := open(t, 1)
		p.reply(401, "", 0)
		p.step(exchange.Event{Join: &exchange.Join{Code: "1"}})
		p.reply(401, "", 0)
		assert.True(t, p.tell.NeedCode)
	})
	t.Run("413 halves, and lets the others pass one that is too much alone", func(t *testing.T) {
		p := open(t, 5)
		first := lines(p.send())[0]
		p.reply(413, "", 0)
		assert.Len(t, lines(p.send()), 2)
		p.reply(413, "", 0)
		assert.Len(t, lines(p.send()), 1)
		p.reply(413, "", 0)
		assert.Contains(t, p.send().Path, exchange.PathPull)
		p.reply(200, p.emptyPage(), 0)
		p.stored()
		assert.Contains(t, p.tell.Problem.Error(), "does not let the entry pass")
		p.timer()
		assert.NotEqual(t, first, lines(p.send())[0])
		p.reply(200, p.answer(exchange.New), 0)
		p.stored()
		assert.Len(t, lines(p.send()), 2, "and grows again")
	})
	t.Run("426 goes on pushing", func(t *testing.T) {
		p := open(t, 0)
		p.reply(426, "", 0)
		assert.Contains(t, p.tell.Problem.Error(), "older than the office's book")
		held := p.write()
		p.step(exchange.Event{Saved: &exchange.Saved{Chain: p.device.chain, Held: held}})
		p.timer()
		assert.Equal(t, exchange.PathPush, p.send().Path)
	})
	t.Run("507 takes nothing for received", func(t *testing.T) {
		p := open(t, 1)
		p.reply(507, "", 0)
		p.reply(200, p.emptyPage(), 0)
		p.stored()
		assert.Equal(t, 1, p.tell.Unsent)
		assert.Contains(t, p.tell.Problem.Error(), "disk is full")
	})
	t.Run("another program's 200 is no answer", func(t *testing.T) {
		for _, body := range []string{"<html>log in</html>", "{}", `{"epoch":"e","entries":[]}`, `{"epoch":"e","entries":[{"id":"other","state":"new"}]}`} {
			p := open(t, 1)
			p.reply(200, body, 0)
			assert.Equal(t, 1, p.tell.Unsent, body)
			assert.Contains(t, p.tell.Problem.Error(), "not the office's book", body)
		}
	})
	t.Run("an unknown status is the server's sentence", func(t *testing.T) {
		p := open(t, 1)
		p.reply(400, exchange.Refusal{Faults: []record.Fault{{Field: "header", Limit: "what is this"}}}, 0)
		assert.Contains(t, p.tell.Problem.Error(), "what is this")
	})
}

func TestAnotherEpoch(t *testing.T) {
	for _, c := range []struct {
		how    string
		unsent int
		tell   func(p *phone)
	}{
		{"409", 1, func(p *phone) { p.reply(409, exchange.Refusal{Epoch: "f"}, 0) }},
		{"in a push's reply", 1, func(p *phone) { r := p.answer(exchange.New); r.Epoch = "f"; p.reply(200, r, 0) }},
		{"in a page", 0, func(p *phone) { p.reply(200, strings.Replace(p.emptyPage(), `"e"`, `"f"`, 1), 0) }},
		{"in a joining's reply", 1, func(p *phone) {
			p.reply(401, "", 0)
			p.step(exchange.Event{Join: &exchange.Join{Code: "4711"}})
			p.reply(200, exchange.JoinReply{Device: "otter17", Epoch: "f"}, 0)
		}},
		{"acked_through runs back", 1, func(p *phone) {
			p.reply(200, p.answer(exchange.New), 0)
			p.stored()
			p.reply(200, p.emptyPage(), 0)
			p.stored()
			p.step(exchange.Event{Saved: &exchange.Saved{Held: p.write(), Chain: p.device.chain}})
			p.timer()
			r := p.answer(exchange.Gap)
			r.Through = 0
			p.reply(200, r, 0)
		}},
	} {
		t.Run(c.how, func(t *testing.T) {
			p := open(t, c.unsent)
			c.tell(p)
			s := p.store()
			assert.True(t, s.Reoffer, "everything held is offered again")
			assert.Equal(t, record.Mark{}, s.Contact.Since)
			p.stored()
			require.NotEmpty(t, p.effects)
			assert.NotNil(t, p.effects[0].Load)
		})
	}
}

// A server that always says 'another log' is not asked without a pause.
func TestAnotherEpochForEver(t *testing.T) {
	p := open(t, 1)
	p.reply(409, exchange.Refusal{Epoch: "f"}, 0)
	p.stored()
	p.step(exchange.Event{Opened: &exchange.Opened{Chain: p.device.chain, Contact: exchange.Contact{Epoch: "f"}}})
	assert.EqualValues(t, 500, p.wake())
}

func TestForked(t *testing.T) {
	p := open(t, 3)
	sent := lines(p.send())
	r := p.answer(exchange.New)
	r.Entries[1].State, r.Entries[2].State, r.Through = exchange.Forked, exchange.Forked, 1
	p.reply(200, r, 0)
	require.Len(t, p.store().Put, 1, "what was settled is stored")
	p.stored()
	assert.JSONEq(t, `{"proto":1,"app":"b1","code":"","was":"heron41","why":"forked"}`, p.send().Body)
	p.reply(200, exchange.JoinReply{Device: "heron41", Epoch: "e"}, 0)
	assert.Contains(t, p.tell.Problem.Error(), "not the office's book", "the old name will not do")
	p.timer()
	p.reply(200, exchange.JoinReply{Device: "otter17", Epoch: "e"}, 0)
	p.stored()
	assert.Equal(t, sent[1:], lines(p.send()), "they are offered once more as they are")
	r = p.answer(exchange.Forked)
	r.Through = 0 // of the new name
	p.reply(200, r, 0)
	s := p.store()
	require.Len(t, s.Put, 2)
	assert.Equal(t, exchange.Chain{Device: "otter17", Seq: 2, Prev: record.DigestOf([]byte(s.Put[1].Line)), Clock: s.Chain.From.Clock}, s.Chain.To)
	for i, held := range s.Put {
		before, err := record.Decode([]byte(sent[1+i]))
		require.NoError(t, err)
		after, err := record.Decode([]byte(held.Line))
		require.NoError(t, err)
		assert.True(t, record.SameContent(before, after))
		assert.EqualValues(t, i+1, after.Seq)
		assert.Equal(t, exchange.Unsent, held.State)
	}
	p.stored()
	assert.Equal(t, []string{s.Put[0].Line, s.Put[1].Line}, lines(p.send()))
}

// Another tab saved while a transaction was made: it is not done, and all is
// read again.
func TestMoved(t *testing.T) {
	p := open(t, 1)
	p.reply(401, "", 0)
	p.step(exchange.Event{Join: &exchange.Join{Code: "4711"}})
	p.reply(200, exchange.JoinReply{Device: "otter17", Epoch: "e"}, 0)
	p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Moved}})
	require.NotEmpty(t, p.effects)
	assert.NotNil(t, p.effects[0].Load)
}

func TestLost(t *testing.T) {
	p := open(t, 1)
	r := p.answer(exchange.New)
	r.Through = 41
	p.reply(200, r, 0)
	p.stored()
	assert.Contains(t, p.send().Body, `"why":"lost"`)
}

func TestFreshPhone(t *testing.T) {
	p := &phone{t: t, wall: now, client: exchange.NewClient("b1", func() float64 { return 0.5 })}
	p.step(exchange.Event{Timer: &struct{}{}})
	assert.Empty(t, p.effects, "nothing happens before the storage is open")
	p.step(exchange.Event{Opened: &exchange.Opened{}})
	assert.True(t, p.tell.NeedCode)
	p.step(exchange.Event{Join: &exchange.Join{Code: "4711"}})
	assert.JSONEq(t, `{"proto":1,"app":"b1","code":"4711","was":"","why":"new"}`, p.send().Body)
	p.step(exchange.Event{Failed: &exchange.Failed{ID: p.send().ID}})
	p.timer()
	assert.Contains(t, p.send().Body, "4711", "a lost reply is not a lost code")
}

func TestPhoneFull(t *testing.T) {
	p := open(t, 1)
	p.reply(200, p.answer(exchange.New), 0)
	p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Quota}})
	assert.EqualValues(t, 60_000, p.wake())
	assert.Equal(t, 1, p.tell.Unsent, "what was not stored is not said")
	assert.Contains(t, p.tell.Problem.Error(), "storage is full")
	p.timer()
	assert.Len(t, lines(p.send()), 1)
	p.reply(200, p.answer(exchange.Duplicate), 0)
	p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Other}})
	assert.Contains(t, p.tell.Problem.Error(), "close other tabs")
}

// While a page is being stored the next one is asked for; what comes of it has
// to wait until the page is stored, and is forgotten if it is not.
func TestNextPageWhileStoring(t *testing.T) {
	theirs := newDevice(t, "otter17")
	var log []exchange.Page
	var mark record.Mark
	for range 3 {
		line := theirs.write("draw read")
		mark = mark.Next(line)
		log = append(log, exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e", Next: mark, More: true}, Lines: [][]byte{line}})
	}
	log[2].More = false
	reply := func(id int64, page int) exchange.Event {
		return exchange.Event{Replied: &exchange.Replied{ID: id, Status: 200, Body: string(log[page].Bytes())}}
	}
	first := func(t *testing.T) (p *phone, next int64) {
		p = open(t, 0)
		p.step(reply(p.send().ID, 0))
		assert.NotNil(t, p.effects[0].Send, "the request leaves before the storing begins")
		assert.Contains(t, p.send().Path, "since="+log[0].Next.String()+"&")
		assert.Equal(t, log[0].Next, p.store().Contact.Since)
		assert.Equal(t, exchange.Pulling, p.tell.Doing)
		return p, p.send().ID
	}
	ends := func(t *testing.T, p *phone) {
		t.Helper()
		assert.Equal(t, string(log[1].Lines[0]), p.store().Put[0].Line)
		assert.Equal(t, log[1].Next, p.store().Contact.Since)
		p.step(reply(p.send().ID, 2))
		assert.Empty(t, p.effects)
		p.stored()
		assert.Equal(t, log[2].Next, p.store().Contact.Since)
		p.stored()
		assert.EqualValues(t, 30_000, p.wake())
	}
	t.Run("its reply comes first", func(t *testing.T) {
		p, next := first(t)
		p.step(reply(next, 1))
		assert.Empty(t, p.effects, "nothing counts before the page is stored")
		p.step(reply(next, 2))
		assert.Empty(t, p.effects, "nor a second reply")
		p.stored()
		ends(t, p)
	})
	t.Run("the storing ends first", func(t *testing.T) {
		p, next := first(t)
		p.stored()
		assert.Empty(t, p.effects, "it is asked for already")
		p.step(reply(next, 1))
		ends(t, p)
	})
	t.Run("the page is not stored", func(t *testing.T) {
		for _, early := range []bool{true, false} {
			p, next := first(t)
			if early {
				p.step(reply(next, 1))
			}
			p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Quota}})
			assert.EqualValues(t, 60_000, p.wake())
			p.step(reply(next, 1))
			assert.Empty(t, p.effects)
			p.timer()
			assert.Contains(t, p.send().Path, "since=0&", "from the mark that the storage has")
			again := p.send().ID
			p.step(reply(next, 1))
			assert.Empty(t, p.effects, "a reply to the request that no longer counts")
			p.step(reply(again, 0))
			assert.Equal(t, log[0].Next, p.store().Contact.Since)
		}
	})
	t.Run("the network goes", func(t *testing.T) {
		p, next := first(t)
		p.step(exchange.Event{Failed: &exchange.Failed{ID: next}})
		assert.Empty(t, p.effects)
		p.stored()
		assert.EqualValues(t, 500, p.wake(), "the page is stored and the round has failed")
		p.timer()
		assert.Contains(t, p.send().Path, "since="+log[0].Next.String()+"&")
	})
	t.Run("the session ends", func(t *testing.T) {
		p, next := first(t)
		p.step(exchange.Event{Replied: &exchange.Replied{ID: next, Status: 401}})
		assert.False(t, p.tell.NeedCode)
		p.stored()
		assert.True(t, p.tell.NeedCode)
	})
	t.Run("the page is opened anew", func(t *testing.T) {
		p, next := first(t)
		p.step(reply(next, 1))
		p.step(exchange.Event{Opened: &exchange.Opened{Chain: p.device.chain, Contact: exchange.Contact{Epoch: "e"}}})
		assert.Contains(t, p.send().Path, "since=0&")
		p.stored()
		assert.Empty(t, p.effects)
	})
	t.Run("something else must come first", func(t *testing.T) {
		p := open(t, 0)
		asked := p.send().ID
		p.step(exchange.Event{Saved: &exchange.Saved{Chain: exchange.Chain{Device: "otter17"}, Held: p.write()}})
		p.step(reply(asked, 0))
		require.Len(t, p.effects, 2, "it stores and tells, and asks for nothing")
		assert.NotNil(t, p.store().Contact)
		p.stored()
		assert.NotNil(t, p.effects[0].Load)
	})
}

func TestScopeChanged(t *testing.T) {
	p := open(t, 0)
	page := exchange.Page{PullHeader: exchange.PullHeader{Epoch: "e", Scope: "counter", Next: record.Mark{}.Next(nil), Head: record.Mark{}.Next(nil)}}
	p.reply(200, string(page.Bytes()), 0)
	p.stored()
	p.timer()
	page.Scope = "owner"
	p.reply(200, string(page.Bytes()), 0)
	assert.Equal(t, record.Mark{}, p.store().Contact.Since, "what was not given before is asked for")
	p.stored()
	assert.Contains(t, p.send().Path, "since=0")
}

func TestClockOffset(t *testing.T) {
	p := open(t, 0)
	p.wall = now.Add(6 * time.Minute)
	p.step(exchange.Event{Replied: &exchange.Replied{ID: p.send().ID, Status: 200, Body: p.emptyPage(), SentMS: 1000, ReceivedMS: 3000, WallMS: p.wall.UnixMilli()}})
	p.stored()
	assert.EqualValues(t, -(6*60_000 - 1000), p.tell.OffsetMS, "half of the way there and back belongs to the reply")
	assert.True(t, p.tell.Suspect)
	assert.Equal(t, p.wall.UnixMilli(), p.tell.LastMS)
}

// A reply that nobody waits for changes nothing.
func TestStaleReplies(t *testing.T) {
	p := open(t, 1)
	reply := p.answer(exchange.New)
	body, err := json.Marshal(reply)
	require.NoError(t, err)
	first := p.send().ID
	p.step(exchange.Event{Failed: &exchange.Failed{ID: first}})
	for _, e := range []exchange.Event{
		{Replied: &exchange.Replied{ID: first, Status: 200, Body: string(body)}}, {Failed: &exchange.Failed{ID: first}},
		{Stored: &struct{}{}}, {NotStored: &exchange.NotStored{Reason: exchange.Quota}}, {},
	} {
		p.step(e)
		assert.Empty(t, p.effects)
	}
	p.timer()
	p.step(exchange.Event{Replied: &exchange.Replied{ID: first, Status: 200, Body: string(body)}})
	assert.Empty(t, p.effects)
	assert.NotEqual(t, first, exchange.NewClient("b1", func() float64 { return 0.7 }).Step(exchange.Event{Opened: &exchange.Opened{Chain: p.device.chain}})[0].Send.ID,
		"an earlier life's replies do not fit")
}

// Two tabs may write the same number after a torn storage; both are offered.
func TestSavedByAnotherTab(t *testing.T) {
	p := open(t, 0)
	p.reply(200, p.emptyPage(), 0)
	p.stored()
	earlier := p.device.chain
	one := p.write()
	p.device.chain = earlier
	two := p.write()
	for _, held := range []exchange.Held{one, two, two} {
		p.step(exchange.Event{Saved: &exchange.Saved{Chain: p.device.chain, Held: held}})
	}
	p.timer()
	assert.ElementsMatch(t, []string{one.Line, two.Line}, lines(p.send()))

	p.reply(200, p.answer(exchange.New), 0)
	p.stored()
	p.reply(200, p.emptyPage(), 0)
	p.stored()
	p.step(exchange.Event{Saved: &exchange.Saved{Chain: exchange.Chain{Device: "otter17"}, Held: two}})
	require.NotEmpty(t, p.effects)
	assert.NotNil(t, p.effects[0].Load, "news under another name: the storage knows better")
}

// A push keeps to its limits however many entries wait.
func TestPushLimits(t *testing.T) {
	p := open(t, 1200)
	assert.Len(t, lines(p.send()), exchange.MaxRecords)
	push, err := exchange.ParsePush([]byte(p.send().Body))
	require.NoError(t, err)
	assert.Equal(t, exchange.PushHeader{Proto: 1, App: "b1", Epoch: "e", Device: "heron41"}, push.PushHeader)

	p = &phone{t: t, client: exchange.NewClient("b1", func() float64 { return 0 })}
	var unsent []exchange.Held
	for range 20 {
		unsent = append(unsent, exchange.Held{ID: "x", Line: strings.Repeat("x", 60_000)})
	}
	p.step(exchange.Event{Opened: &exchange.Opened{Chain: exchange.Chain{Device: "heron41"}, Unsent: unsent}})
	assert.Len(t, lines(p.send()), 8)
	assert.LessOrEqual(t, len(p.send().Body), exchange.MaxBytes)
}

func TestRottenStorage(t *testing.T) {
	p := &phone{t: t, wall: now, client: exchange.NewClient("b1", func() float64 { return 0 })}
	p.step(exchange.Event{Opened: &exchange.Opened{Chain: exchange.Chain{Device: "heron41"}, Unsent: []exchange.Held{{ID: "x", Line: "no\nrecord"}}}})
	assert.Equal(t, []string{"no record"}, lines(p.send()), "one line stays one line")
	p.reply(200, exchange.PushReply{Epoch: "e", Entries: []exchange.Answer{{State: exchange.Malformed}}}, 0)
	assert.Equal(t, exchange.Dead, p.store().Put[0].State)
	p.stored()
	assert.Zero(t, p.tell.Unsent)
}

func TestSeal(t *testing.T) {
	draft := exchange.Draft{Kind: "draw read", V: 1, Body: []byte(`{}`), By: "JS", Happened: "2026-11-25T09:05:00Z", Written: "2026-11-25T09:09:32Z"}
	seen, _ := record.Clock(0).Witness(record.Clock(0).Tick(now.Add(time.Hour)), now)
	contact := exchange.Contact{Since: record.Mark{Seq: 311}, Clock: seen}
	line, next, err := exchange.Seal(exchange.Chain{Device: "heron41"}, contact, draft, record.NewID(now, [10]byte{}))
	require.NoError(t, err)
	r, err := record.Decode(line)
	require.NoError(t, err)
	assert.Greater(t, r.Clock, seen, "after all that was seen")
	assert.EqualValues(t, 311, r.Seen)
	assert.Equal(t, exchange.Chain{Device: "heron41", Seq: 1, Prev: record.DigestOf(line), Clock: r.Clock}, next)

	draft.Body = []byte(`{ }`)
	_, same, err := exchange.Seal(next, contact, draft, record.NewID(now, [10]byte{}))
	var fault record.Fault
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, "body", fault.Field)
	assert.Equal(t, next, same, "nothing moves")
}

// What JavaScript sees: one key for each thing, and nothing else.
func TestEffectsAsJSON(t *testing.T) {
	p := open(t, 1)
	var effects []map[string]any
	require.NoError(t, json.Unmarshal([]byte(effectsJSON(t, p.effects)), &effects))
	require.NotEmpty(t, effects)
	for _, e := range effects {
		assert.Len(t, e, 1, "%v", e)
	}
	var e exchange.Event
	require.NoError(t, json.Unmarshal([]byte(`{"timer":{}}`), &e))
	assert.NotNil(t, e.Timer)
}
