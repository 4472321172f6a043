package simulate

import (
	"container/heap"
	"fmt"
	"io"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// Options of a day.
type Options struct {
	Mutation Mutation
	// Open gives the office's storage, an empty one each time, which is
	// closed at the day's end if it is an io.Closer; NewMemory if nil.
	Open func() Storage
	// Fold is what people look at, made from a set of records in book order.
	// It must come out the same wherever the set is. FoldDigest if nil.
	Fold func([]record.Record) string
	// Trace, if not nil, is told everything that happens.
	Trace io.Writer
}

// A Violation is a promise that a day broke.
type Violation struct {
	Oracle string
	Detail string
	AtMS   int64
}

// Coverage counts what happened.
type Coverage struct {
	Faults   [faults]int
	States   map[exchange.State]int
	Statuses map[int]int
	Saved    int
	Sends    int
}

// Add adds a day's counts.
func (c *Coverage) Add(other Coverage) {
	if c.States == nil {
		c.States, c.Statuses = map[exchange.State]int{}, map[int]int{}
	}
	for f, n := range other.Faults {
		c.Faults[f] += n
	}
	for s, n := range other.States {
		c.States[s] += n
	}
	for s, n := range other.Statuses {
		c.Statuses[s] += n
	}
	c.Saved += other.Saved
	c.Sends += other.Sends
}

// A Result is how a day ended.
type Result struct {
	Violation *Violation // nil: every promise was kept
	Coverage  Coverage
}

// Run plays the day of a seed.
func Run(seed uint64, o Options) Result { return play(seed, draw(seed), o) }

// world is one day.
type world struct {
	plan      plan
	options   Options
	mutant    Mutation
	now       int64 // ms since the day began
	events    events
	order     int
	office    *office
	bare      Storage // the office's, without the planted bug
	phones    []*phone
	oracle    *oracle
	rates     [faults]float64
	struck    [faults]int
	streams   [faults]*rand.Rand
	latency   *rand.Rand
	people    *rand.Rand
	identity  *rand.Rand
	jitter    *rand.Rand
	inFlight  int // requests that have not arrived
	pageLimit int
	healed    bool
	coverage  Coverage
}

const (
	settleMS  = 30 * 60_000 // a healed day has to settle within
	mostSends = 600         // … and with no more requests of one phone
	checkMS   = 5_000
)

// day is when a simulated day begins.
var day = time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)

func play(seed uint64, p plan, o Options) Result {
	w := &world{
		plan: p, options: o, mutant: o.Mutation, rates: p.rates,
		latency: stream(seed, streamLatency), people: stream(seed, streamPeople),
		identity: stream(seed, streamIdentity), jitter: stream(seed, streamJitter),
		pageLimit: []int{1, 3, 10, 500}[seed%4],
		coverage:  Coverage{States: map[exchange.State]int{}, Statuses: map[int]int{}},
	}
	for f := range w.streams {
		w.streams[f] = stream(seed, uint64(f))
	}
	if o.Fold == nil {
		w.options.Fold = FoldDigest
	}
	var storage Storage = NewMemory()
	if o.Open != nil {
		storage = o.Open()
	}
	w.oracle = newOracle(w)
	if closer, ok := storage.(io.Closer); ok {
		defer func() { w.must(closer.Close()) }()
	}
	w.bare = storage
	w.office = &office{w: w, storage: o.Mutation.storage(storage), admin: admin{sessions: map[string]session{}, codes: map[string]role{}}}
	for n := range p.phones {
		w.addPhone(n, n%len(roles()), disk{}, "")
	}
	last := int64(0)
	for _, a := range p.actions {
		w.at(a.at, func() { w.act(a) })
		last = a.at
	}
	w.at(last+1, w.heal)
	for w.oracle.violation == nil && len(w.events) > 0 {
		e := heap.Pop(&w.events).(event)
		w.now = e.at
		e.do()
	}
	w.coverage.Saved = len(w.oracle.records)
	return Result{Violation: w.oracle.violation, Coverage: w.coverage}
}

func (w *world) addPhone(n, role int, d disk, cookie string) *phone {
	zones := []*time.Location{time.UTC, time.FixedZone("", -5*3600), time.FixedZone("", 2*3600)}
	p := &phone{w: w, n: n, role: role, disk: d, cookie: cookie, zone: zones[n%len(zones)], old: n == 1}
	w.phones = append(w.phones, p)
	w.after(int64(n)*100, p.open)
	return p
}

// act does one action of the plan.
func (w *world) act(a action) {
	p := w.phones[a.phone]
	switch a.what {
	case save:
		p.save(a.n)
	case look, leave:
		p.visible = a.what == look
		p.step(exchange.Event{Visible: &p.visible})
	case ask:
		p.step(exchange.Event{Online: &struct{}{}})
	case backup:
		if !w.office.down() {
			w.office.backup()
		}
	case fault:
		if !w.plan.without[a.fault] && w.inflict(p, a) {
			w.coverage.Faults[a.fault]++
			w.trace("   fault: %v (%v)", a.fault, p)
		}
	}
}

// inflict says whether the fault could happen.
func (w *world) inflict(p *phone, a action) bool {
	span := int64(a.n % 200_000)
	switch a.fault {
	case Partition:
		p.cutTo = w.now + span
	case ServerCrash:
		w.office.crash()
	case ServerFull:
		w.office.fullTo = w.now + span
		return false // counted when a push meets it
	case PhoneCrash:
		p.crash()
	case TornTransactions:
		return p.tear(1 + int(a.n%3))
	case Eviction:
		return p.evict(a.n%2 == 0)
	case StorageRot:
		return p.rot(a.n)
	case ClockJump:
		p.jump(a.n)
	case Clone:
		if len(w.phones) >= maxPhones || p.disk.chain.Device == "" {
			return false
		}
		clone := w.addPhone(len(w.phones), p.role, p.disk.copy(), p.cookie)
		clone.offset, clone.ahead, clone.jumped = p.offset, p.ahead, true
	case Restore:
		return !w.office.down() && w.office.restore(a.n)
	case Revoke:
		p.role = int(a.n % uint64(len(roles())))
		w.office.revoke(p.cookie)
	case OldBuild:
		w.office.newTo = true
		return false // counted when a pull meets it
	}
	return true
}

func (p *phone) tear(n int) bool {
	torn := false
	for range n {
		held := p.disk.copy()
		if !p.disk.tear() {
			break
		}
		p.w.oracle.vanished(held, p.disk)
		torn = true
	}
	if torn {
		p.era++
		p.crash()
	}
	return torn
}

// evict takes all of the storage, and the cookie or not.
func (p *phone) evict(cookie bool) bool {
	p.w.oracle.vanished(p.disk, disk{})
	p.disk = disk{}
	p.era++
	if cookie {
		p.cookie = ""
	}
	p.crash()
	return true
}

// rot makes an unsent line unreadable.
func (p *phone) rot(n uint64) bool {
	unsent := p.disk.open().Unsent
	if len(unsent) == 0 {
		return false
	}
	before := p.disk.copy()
	held := unsent[n%uint64(len(unsent))]
	held.Line = held.Line[:len(held.Line)/2]
	p.disk.rows[held.ID] = held
	p.disk.history = nil // what was before the rot does not come back
	p.w.oracle.vanished(before, p.disk)
	p.crash()
	return true
}

func (p *phone) jump(n uint64) {
	const year = 365 * 86_400_000
	p.offset = []int64{10 * year, -10 * year, 3_600_000, -3_600_000, 0, 25 * 3_600_000, -40_000}[n%7]
	p.ahead = max(p.ahead, p.offset)
	p.jumped = true
}

// heal ends every fault, and lets the day settle.
func (w *world) heal() {
	w.trace("   everything is mended")
	w.healed = true
	w.office.downTo, w.office.fullTo = 0, 0
	for _, p := range w.phones {
		p.cutTo, p.sends = 0, 0
		if p.old { // it is updated and opened anew
			p.old, p.client = false, nil
		}
		if p.client == nil {
			p.life++
			p.asking = false
			p.open()
		}
		p.visible = true
		p.step(exchange.Event{Visible: &p.visible})
	}
	w.oracle.healed()
	w.watch(w.now + settleMS)
}

// watch looks now and then whether the day has settled.
func (w *world) watch(until int64) {
	unsettled := w.unsettled()
	switch {
	case unsettled == "":
		w.oracle.settled()
		w.events = nil
	case w.now >= until:
		w.oracle.broke(itSettles, "%s", unsettled)
	default:
		w.after(checkMS, func() { w.watch(until) })
	}
}

// unsettled is what is still under way, in words.
func (w *world) unsettled() string {
	if w.inFlight > 0 {
		return "requests under way"
	}
	head := w.office.contents().head
	for _, p := range w.phones {
		switch {
		case p.sends > mostSends:
			w.oracle.broke(itSettles, "%v sent %d requests", p, p.sends)
		case p.tell.NeedCode || p.disk.chain.Device == "":
			return fmt.Sprintf("%v is not joined", p)
		case len(p.disk.open().Unsent) > 0:
			return fmt.Sprintf("%v has unsent entries", p)
		case p.tell.Doing != exchange.Resting:
			return fmt.Sprintf("%v is %s", p, p.tell.Doing)
		case p.disk.contact.Since != head:
			return fmt.Sprintf("%v has seen up to %d of %d", p, p.disk.contact.Since.Seq, head.Seq)
		}
	}
	return ""
}

func (w *world) time() time.Time { return day.Add(time.Duration(w.now) * time.Millisecond) }

func (w *world) trace(format string, args ...any) {
	if w.options.Trace != nil {
		fmt.Fprintf(w.options.Trace, "%9.3fs  %s\n", float64(w.now)/1000, fmt.Sprintf(format, args...))
	}
}

// must stops at what no fault explains: a mistake in the simulator, or a
// storage that fails by itself.
func (w *world) must(err error) {
	if err != nil {
		panic(fmt.Sprintf("at %d ms: %v", w.now, err))
	}
}

// events is the day's agenda: by time, and at one time in the order given.
type events []event

type event struct {
	at    int64
	order int
	do    func()
}

func (w *world) at(ms int64, do func()) {
	w.order++
	heap.Push(&w.events, event{at: ms, order: w.order, do: do})
}

func (w *world) after(ms int64, do func()) { w.at(w.now+ms, do) }

func (e events) Len() int { return len(e) }
func (e events) Less(i, j int) bool {
	return e[i].at < e[j].at || e[i].at == e[j].at && e[i].order < e[j].order
}
func (e events) Swap(i, j int) { e[i], e[j] = e[j], e[i] }
func (e *events) Push(x any)   { *e = append(*e, x.(event)) }
func (e *events) Pop() any {
	last := len(*e) - 1
	x := (*e)[last]
	*e = (*e)[:last]
	return x
}

func uuidOf(id [16]byte) string { return uuid.UUID(id).String() }
