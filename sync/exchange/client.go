package exchange

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"gaugebook/sync/record"
)

// Times of the phone's side.
const (
	timeoutMS    = 15_000
	debounceMS   = 1_000  // after a save
	pollMS       = 30_000 // while the page is in front
	firstRetryMS = 1_000
	lastRetryMS  = 60_000
	longestMS    = 600_000 // the most a Retry-After is heeded
	suspectMS    = 5 * 60_000
	quietTries   = 3 // failures before a lost network is worth a word
)

// A Client is the phone's side of the exchange. It works in rounds: push what
// is unsent, then pull what is new, then rest until something happens. It has
// at most one request or one transaction under way, so what it knows is what
// the storage holds. Only while a page is being stored is the next one asked
// for already; its reply is read and put by until the storage has the page
// before it, and thrown away if it never does.
type Client struct {
	app    string
	chance func() float64

	// As in the storage, since Opened.
	chain   Chain
	contact Contact
	unsent  []pending // by device and number

	visible  bool
	phase    phase
	flight   flight // while sending
	storing  Store  // while storing
	ahead    bool   // while storing: the next page is asked for
	early    *end   // … and this came of it
	sends    int64  // the last request's ID
	batch    int    // most records of the next push
	pushing  bool   // this round still has to push
	pulling  bool   // this round still has to pull
	another  bool   // something came during the round: have one more
	reload   bool   // the storage moved on without us
	why      Why    // a new name is needed
	code     string // typed by a person, to join with
	needCode bool   // nothing goes on until one is typed

	failures int           // rounds in a row that failed
	failed   bool          // this round did
	waitMS   int64         // the least to wait after it
	problem  *record.Fault // what went wrong last, until a round goes well
	quiet    bool          // … but is not worth a word at once
	told     Tell
}

type phase int

const (
	closed phase = iota
	idle
	sending
	storing
	loading
)

// A flight is a request under way.
type flight struct {
	path  string
	lines []pending // of a push, in order
}

// pending is an unsent record with its place, for the order of pushing.
type pending struct {
	Held
	late   bool // after all others
	device string
	seq    int64
}

// NewClient is a phone that knows nothing until its storage is Opened. App is
// the build it runs; chance gives numbers in [0,1) for the jitter of retries.
//
// Requests are numbered from a random start: when a worker is started anew
// under a page that lives on, the reply to a request of its former life must
// not fit one of this life.
func NewClient(app string, chance func() float64) *Client {
	return &Client{app: app, chance: chance, batch: MaxRecords, visible: true, sends: int64(chance() * (1 << 40))}
}

// Step takes one event and gives what to do about it. An event that does not
// fit, such as the reply to a request long given up, does nothing.
func (c *Client) Step(e Event) []Effect {
	var effects []Effect
	switch {
	case e.Opened != nil:
		effects = c.opened(*e.Opened)
	case c.phase == closed:
		return nil
	case e.Saved != nil:
		effects = c.saved(*e.Saved)
	case e.Timer != nil, e.Hint != nil:
		effects = c.round()
	case e.Online != nil:
		c.failures = 0
		effects = c.round()
	case e.Visible != nil:
		if c.visible = *e.Visible; c.visible {
			c.failures = 0
			effects = c.round()
		}
	case e.Join != nil:
		c.code, c.needCode, c.failures = e.Join.Code, false, 0
		c.why = cmp.Or(c.why, WhyAgain)
		effects = c.round()
	case e.Replied != nil && e.Replied.ID == c.sends:
		effects = c.ended(end{replied: *e.Replied, page: c.pageOf(*e.Replied)})
	case e.Failed != nil && e.Failed.ID == c.sends:
		effects = c.ended(end{failed: e.Failed})
	case e.Stored != nil && c.phase == storing:
		effects = c.stored()
	case e.NotStored != nil && c.phase == storing:
		effects = c.notStored(e.NotStored.Reason)
	}
	if tell := c.tell(); !sameTell(tell, c.told) {
		c.told = tell
		effects = append(effects, Effect{Tell: &tell})
	}
	return effects
}

// opened begins from what the storage holds.
func (c *Client) opened(o Opened) []Effect {
	c.chain, c.contact, c.reload, c.ahead, c.early = o.Chain, o.Contact, false, false, nil
	c.unsent = c.unsent[:0]
	for _, held := range o.Unsent {
		c.unsent = append(c.unsent, place(held))
	}
	slices.SortFunc(c.unsent, inOrder)
	c.why = ""
	if c.chain.Device == "" {
		c.why, c.needCode = WhyNew, c.code == ""
	}
	c.phase = idle
	if c.failures > 0 && !c.needCode {
		return []Effect{wake(c.backoff())}
	}
	return c.round()
}

func place(held Held) pending {
	r, err := record.Decode([]byte(held.Line))
	if err != nil { // storage gone bad: the server keeps it as a dead letter
		held.Line = strings.ReplaceAll(held.Line, "\n", " ")
	}
	return pending{Held: held, device: r.Device, seq: r.Seq}
}

// postpone lets all others pass a record that is too much even alone.
func (c *Client) postpone(id string) {
	for i := range c.unsent {
		if c.unsent[i].ID == id {
			c.unsent[i].late = true
		}
	}
	slices.SortFunc(c.unsent, inOrder)
}

func inOrder(a, b pending) int {
	if a.late != b.late {
		if a.late {
			return 1
		}
		return -1
	}
	return cmp.Or(cmp.Compare(a.device, b.device), cmp.Compare(a.seq, b.seq), cmp.Compare(a.ID, b.ID))
}

// saved takes a new entry into account.
func (c *Client) saved(s Saved) []Effect {
	if s.Chain.Device != c.chain.Device { // news from before, or from after, a change of name
		c.reload = true
		return c.round()
	}
	if s.Chain.Seq > c.chain.Seq {
		c.chain = s.Chain
	}
	fresh := place(s.Held)
	at, there := slices.BinarySearchFunc(c.unsent, fresh, inOrder)
	if !there {
		c.unsent = slices.Insert(c.unsent, at, fresh)
	}
	if c.phase == idle && c.failures == 0 && !c.needCode {
		return []Effect{wake(debounceMS)}
	}
	c.another = true
	return nil
}

// round begins a round, or notes that another is wanted.
func (c *Client) round() []Effect {
	if c.phase != idle {
		c.another = true
		return nil
	}
	c.pushing, c.pulling, c.another, c.failed, c.waitMS = true, true, false, false, 0
	return c.next()
}

// next is the next thing of a round.
func (c *Client) next() []Effect {
	c.phase = idle
	switch {
	case c.reload:
		c.phase = loading
		return []Effect{{Load: &Load{}}}
	case c.needCode:
		return c.rest()
	case c.why != "" && (c.pushing || c.pulling):
		return c.sendJoin()
	case c.pushing && len(c.unsent) > 0:
		return c.sendPush()
	case c.pulling:
		return c.sendPull(c.contact.Since)
	}
	return c.rest()
}

// rest ends a round and says when the next one is due.
func (c *Client) rest() []Effect {
	switch {
	case c.needCode:
		return nil
	case c.failed:
		c.failed = false
		c.failures++
		return []Effect{wake(max(c.backoff(), c.waitMS))}
	}
	c.failures, c.problem = 0, nil
	switch {
	case c.another || len(c.unsent) > 0:
		return []Effect{wake(debounceMS)}
	case c.visible:
		return []Effect{wake(pollMS)}
	}
	return nil
}

// backoff is full jitter: anything up to 1, 2, 4 … 60 seconds.
func (c *Client) backoff() int64 {
	most := min(int64(firstRetryMS)<<min(c.failures-1, 6), lastRetryMS)
	return int64(c.chance() * float64(most))
}

func wake(afterMS int64) Effect { return Effect{Wake: &Wake{AfterMS: afterMS}} }

// trouble notes that something of the round failed, and goes on with the rest
// of it.
func (c *Client) trouble(say saying, waitMS int64) []Effect {
	if !c.failed || c.quiet {
		c.problem, c.quiet = &say.fault, say.quiet
	}
	c.failed = true
	c.waitMS = max(c.waitMS, min(waitMS, longestMS))
	return c.next()
}

// Requests.

func (c *Client) send(method, path, kind string, body []byte, lines []pending) []Effect {
	c.phase = sending
	c.sends++
	c.flight = flight{path: path, lines: lines}
	return []Effect{{Send: &Send{ID: c.sends, Method: method, Path: path, Type: kind, Body: string(body), TimeoutMS: timeoutMS}}}
}

func (c *Client) sendJoin() []Effect {
	body, err := json.Marshal(JoinRequest{Proto: Proto, App: c.app, Code: c.code, Was: c.chain.Device, Why: c.why})
	if err != nil {
		panic(err) // strings and a number
	}
	return c.send("POST", PathJoin, ContentJSON, body, nil)
}

func (c *Client) sendPush() []Effect {
	const headerRoom = 1024
	p := Push{PushHeader: PushHeader{Proto: Proto, App: c.app, Epoch: c.contact.Epoch, Device: c.chain.Device}}
	size := headerRoom
	for _, one := range c.unsent {
		if size += len(one.Line) + 1; len(p.Lines) == c.batch || len(p.Lines) > 0 && size > MaxBytes {
			break
		}
		p.Lines = append(p.Lines, []byte(one.Line))
	}
	return c.send("POST", PathPush, ContentLines, p.Bytes(), slices.Clone(c.unsent[:len(p.Lines)]))
}

func (c *Client) sendPull(since record.Mark) []Effect {
	q := PullQuery{Proto: Proto, Since: since, Limit: MaxRecords}
	return c.send("GET", q.path(), "", nil, nil)
}

// Replies.

// An end is what came of a request.
type end struct {
	replied Replied
	page    *page   // of a good reply to a pull, nil if it has none
	failed  *Failed // instead of a reply
}

// A page is a pull's reply with its records read.
type page struct {
	Page
	records []record.Record // of its lines
}

// pageOf reads what it can of a reply, whose turn may not have come.
func (c *Client) pageOf(r Replied) *page {
	if r.Status != 200 || c.flight.path == PathPush || c.flight.path == PathJoin {
		return nil
	}
	read, err := ParsePage([]byte(r.Body))
	if err != nil {
		return nil
	}
	p := &page{read, make([]record.Record, len(read.Lines))}
	for i, line := range read.Lines {
		if p.records[i], err = record.Decode(line); err != nil {
			return nil
		}
	}
	return p
}

// ended takes the end of the request under way, or puts it by.
func (c *Client) ended(e end) []Effect {
	switch {
	case c.phase == storing && c.ahead:
		c.early = cmp.Or(c.early, &e)
		return nil
	case c.phase != sending:
		return nil
	case e.failed != nil:
		c.pushing, c.pulling = false, false
		return c.trouble(quietly(offline(e.failed.Reason)), 0)
	}
	return c.replied(e.replied, e.page)
}

func (c *Client) replied(r Replied, p *page) []Effect {
	c.phase = idle
	push, join := c.flight.path == PathPush, c.flight.path == PathJoin
	if r.Status == 200 {
		switch {
		case join:
			return c.joined(r)
		case push:
			return c.pushed(r)
		}
		return c.pulled(r, p)
	}
	var refusal Refusal
	if json.Unmarshal([]byte(r.Body), &refusal) != nil {
		refusal = Refusal{} // a status is enough
	}
	refusal.Status = r.Status
	if push {
		c.pushing = false // whatever stands in the way of pushing, pulling may still go on
	} else {
		c.pulling = false
	}
	switch r.Status {
	case 401, 403:
		if join {
			c.code = ""
		}
		c.why, c.needCode = cmp.Or(c.why, WhyAgain), c.code == ""
	case 409:
		c.failures++ // a server that always says so must not be asked at once
		if !join && refusal.Epoch != "" {
			return c.store(startOver(c.contact, refusal.Epoch))
		}
	case 413:
		if push && len(c.flight.lines) > 1 {
			c.batch, c.pushing = len(c.flight.lines)/2, true
			return c.next()
		}
		if push { // one record alone: let the others pass
			c.postpone(c.flight.lines[0].ID)
		}
	}
	if join {
		c.pushing = false
	}
	return c.trouble(refused(refusal), r.RetryAfterS*1000)
}

// heard is the contact after a good reply.
func (c *Client) heard(r Replied, nowMS int64) Contact {
	contact := c.contact
	contact.LastMS = r.WallMS
	contact.OffsetMS = nowMS - (r.WallMS - (r.ReceivedMS-r.SentMS)/2)
	return contact
}

// startOver is the contact with a log that is not the one known so far, and
// the wish to offer again all that is held: what this phone had from others may
// be nowhere else by now.
func startOver(contact Contact, epoch string) Store {
	contact.Epoch, contact.Since, contact.Through = epoch, record.Mark{}, 0
	return Store{Contact: &contact, Reoffer: true}
}

func (c *Client) joined(r Replied) []Effect {
	var reply JoinReply
	mustRename := c.why == WhyForked || c.why == WhyLost
	if json.Unmarshal([]byte(r.Body), &reply) != nil || !record.IsDevice(reply.Device) || reply.Epoch == "" ||
		mustRename && reply.Device == c.chain.Device {
		return c.stranger()
	}
	contact := c.heard(r, reply.NowMS)
	store := Store{Contact: &contact}
	if contact.Epoch != "" && contact.Epoch != reply.Epoch {
		store = startOver(contact, reply.Epoch)
		contact = *store.Contact
	}
	contact.Epoch = reply.Epoch
	if reply.Device != c.chain.Device {
		contact.Through = 0
		store.Chain = &Swap{From: c.chain, To: Chain{Device: reply.Device, Clock: c.chain.Clock}}
	}
	store.Contact = &contact
	return c.store(store)
}

func (c *Client) pushed(r Replied) []Effect {
	var reply PushReply
	if json.Unmarshal([]byte(r.Body), &reply) != nil || reply.Epoch == "" || len(reply.Entries) != len(c.flight.lines) {
		return c.stranger()
	}
	contact := c.heard(r, reply.NowMS)
	if known := contact.Epoch; known != "" && known != reply.Epoch || reply.Through < contact.Through {
		c.failures++
		return c.store(startOver(contact, reply.Epoch)) // the server went back
	}
	contact.Epoch, contact.Through = reply.Epoch, reply.Through
	store := Store{Contact: &contact}
	chain := c.chain
	for i, answer := range reply.Entries {
		sent := c.flight.lines[i]
		switch {
		case answer.ID != "" && answer.ID != sent.ID:
			return c.stranger()
		case answer.State == Forked && sent.device == c.chain.Device:
			c.why = WhyForked
		case answer.State == Forked:
			held, next, err := reseal(chain, sent.Held)
			if err != nil {
				return c.stranger()
			}
			store.Put, chain = append(store.Put, held), next
		default:
			sent.State = kept(answer.State)
			store.Put = append(store.Put, sent.Held)
		}
	}
	if chain != c.chain {
		store.Chain = &Swap{From: c.chain, To: chain}
	}
	if reply.Through > chain.Seq {
		c.why = WhyLost
	}
	c.batch = min(2*c.batch, MaxRecords)
	return c.store(store)
}

// reseal gives a forked entry a place in the present chain, under its own id.
func reseal(chain Chain, held Held) (Held, Chain, error) {
	r, err := record.Decode([]byte(held.Line))
	if err != nil {
		return held, chain, err
	}
	line, next, err := chain.link(r)
	held.Line = string(line)
	return held, next, err
}

func kept(s State) Keep {
	switch s {
	case Quarantined:
		return Waiting
	case Malformed:
		return Dead
	}
	return Received
}

func (c *Client) pulled(r Replied, p *page) []Effect {
	if p == nil || p.Epoch == "" || p.Next.Seq < c.contact.Since.Seq {
		return c.stranger()
	}
	contact := c.heard(r, p.NowMS)
	if known := contact.Epoch; known != "" && known != p.Epoch {
		c.failures++
		return c.store(startOver(contact, p.Epoch))
	}
	contact.Epoch = p.Epoch
	if contact.Scope != p.Scope && contact.Since.Seq > 0 { // it may see now what it was not given
		contact.Scope, contact.Since = p.Scope, record.Mark{}
		return c.store(Store{Contact: &contact})
	}
	contact.Scope, contact.Since = p.Scope, p.Next
	store := Store{Contact: &contact, Put: make([]Held, len(p.records)), Pulled: true, Records: p.records}
	now := time.UnixMilli(r.WallMS)
	for i, r := range p.records {
		contact.Clock, _ = contact.Clock.Witness(r.Clock, now)
		store.Put[i] = Held{ID: r.ID.String(), Line: string(p.Lines[i]), State: Received}
	}
	c.pulling = p.More
	var effects []Effect
	if p.More && c.why == "" && !c.reload {
		effects, c.ahead = c.sendPull(p.Next), true
	}
	return append(effects, c.store(store)...)
}

// stranger is a reply that our server does not give: a hotel's log-in page, a
// broken proxy, another program on that address.
func (c *Client) stranger() []Effect {
	c.pushing, c.pulling = false, false
	return c.trouble(loudly(unknownReply()), 0)
}

// Storage.

func (c *Client) store(s Store) []Effect {
	c.phase, c.storing = storing, s
	return []Effect{{Store: &s}}
}

// stored takes what is now in the storage for what is known.
func (c *Client) stored() []Effect {
	s := c.storing
	c.contact = *s.Contact
	if c.flight.path == PathJoin {
		c.why, c.code, c.pushing, c.pulling = "", "", true, true
	}
	if s.Chain != nil && s.Chain.From == c.chain { // else an entry was saved since, and told before this
		c.chain = s.Chain.To
	}
	settled := make(map[string]Held, len(s.Put))
	for _, held := range s.Put {
		settled[held.ID] = held
	}
	c.unsent = slices.DeleteFunc(c.unsent, func(p pending) bool {
		held, ok := settled[p.ID]
		return ok && held.State != Unsent
	})
	for i, p := range c.unsent { // sealed anew
		if held, ok := settled[p.ID]; ok {
			c.unsent[i] = place(held)
		}
	}
	slices.SortFunc(c.unsent, inOrder)
	if s.Reoffer {
		c.reload = true
	}
	if c.ahead {
		early := c.early
		c.phase, c.ahead, c.early = sending, false, nil
		if early != nil {
			return c.ended(*early)
		}
		return nil
	}
	return c.next()
}

func (c *Client) notStored(reason Reason) []Effect {
	c.ahead, c.early = false, nil // what comes after a page that is not held must not be held
	switch reason {
	case Moved:
		c.reload = true
		return c.next()
	case Quota:
		c.pushing, c.pulling = false, false
		return c.trouble(loudly(phoneFull()), lastRetryMS)
	}
	c.pushing, c.pulling = false, false
	return c.trouble(loudly(storageFailed()), 0)
}

// tell is what the badge shows now.
func (c *Client) tell() Tell {
	t := Tell{Unsent: len(c.unsent), Device: c.chain.Device, LastMS: c.contact.LastMS, OffsetMS: c.contact.OffsetMS,
		NeedCode: c.needCode, Doing: Resting}
	t.Suspect = max(t.OffsetMS, -t.OffsetMS) > suspectMS
	switch {
	case c.phase == sending && c.flight.path == PathPush:
		t.Doing = Pushing
	case c.phase == sending && c.flight.path == PathJoin:
		t.Doing = Joining
	case c.phase == sending || c.ahead:
		t.Doing = Pulling
	case c.failures > 0:
		t.Doing = Retrying
	}
	if c.problem != nil && (!c.quiet || c.failures >= quietTries) {
		t.Problem = c.problem
	}
	return t
}

func sameTell(a, b Tell) bool {
	same := a.Problem == b.Problem || a.Problem != nil && b.Problem != nil && *a.Problem == *b.Problem
	a.Problem, b.Problem = nil, nil
	return same && a == b
}
