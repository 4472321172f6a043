package simulate

import (
	"fmt"
	"strings"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// A phone is a browser with the app in it: storage, cookie, a clock, and the
// shipped Client while the app is open.
type phone struct {
	w       *world
	n       int
	disk    disk
	cookie  string
	role    int // the role the office would give it next, an index of roles
	client  *exchange.Client
	life    int // of the app; what an earlier life began does not reach a later one
	era     int // of the chain; a new one begins with a new name, and when the storage loses its end
	wake    int // the last Wake; an earlier one does not ring
	visible bool
	old     bool  // runs an old build
	offset  int64 // its clock minus the true time, ms
	ahead   int64 // the highest it ever was
	jumped  bool
	zone    *time.Location
	cutTo   int64 // partitioned until
	asking  bool  // a person is on the way to the office for a code
	tell    exchange.Tell
	sends   int // since healing
}

func (p *phone) String() string { return fmt.Sprintf("phone %d %s", p.n, p.disk.chain.Device) }

func (p *phone) wall() time.Time {
	return p.w.time().Add(time.Duration(p.offset) * time.Millisecond).In(p.zone)
}

func (p *phone) partitioned() bool { return p.w.now < p.cutTo }

// open starts the app.
func (p *phone) open() {
	if p.client != nil {
		return
	}
	p.life++
	p.visible = true
	build := "new"
	if p.old {
		build = "old"
	}
	p.client = exchange.NewClient(build, p.w.jitter.Float64)
	p.w.trace("%v: app opened, %d unsent", p, len(p.disk.open().Unsent))
	p.step(exchange.Event{Opened: p.disk.open()})
}

// crash kills the app; people open it again after a while.
func (p *phone) crash() {
	p.client = nil
	p.life++
	p.asking = false
	life := p.life
	p.w.after(1_000+p.w.people.Int64N(60_000), func() {
		if p.life == life {
			p.open()
		}
	})
}

// step gives the client an event and does what it asks for.
func (p *phone) step(e exchange.Event) {
	if p.client == nil {
		return
	}
	life := p.life
	for _, effect := range p.client.Step(e) {
		if p.life != life {
			return
		}
		if p.w.strikes(PhoneCrashAtEffect) {
			p.crash()
			return
		}
		switch {
		case effect.Send != nil:
			p.send(*effect.Send)
		case effect.Store != nil:
			p.store(*effect.Store)
		case effect.Load != nil:
			p.later(1, func() { p.step(exchange.Event{Opened: p.disk.open()}) })
		case effect.Wake != nil:
			p.wake++
			wake := p.wake
			if p.w.mutant == RetriesForgotten && p.tell.Doing == exchange.Retrying {
				continue
			}
			p.later(effect.Wake.AfterMS, func() {
				if p.wake == wake {
					p.step(exchange.Event{Timer: &struct{}{}})
				}
			})
		case effect.Tell != nil:
			p.tell = *effect.Tell
			if p.tell.NeedCode && !p.asking {
				p.askForCode()
			}
		}
	}
}

// later does something in this life of the app, if it lasts so long.
func (p *phone) later(ms int64, do func()) {
	life := p.life
	p.w.after(ms, func() {
		if p.life == life {
			do()
		}
	})
}

// askForCode is a person walking to the office.
func (p *phone) askForCode() {
	p.asking = true
	p.later(5_000+p.w.people.Int64N(100_000), func() {
		p.asking = false
		if p.w.office.down() {
			p.askForCode()
			return
		}
		code := p.w.office.code(roles()[p.role])
		p.w.trace("%v: code %s for role %s", p, code, roles()[p.role].name)
		p.step(exchange.Event{Join: &exchange.Join{Code: code}})
	})
}

// send is fetch: one outcome for each request, at the latest after its time.
// A reply may reach a later life of the app, as it may when a worker is
// started anew under a page that lives on.
func (p *phone) send(s exchange.Send) {
	p.sends++
	p.w.coverage.Sends++
	w := p.w
	w.trace("%v: %s %.36s, %d lines", p, s.Method, s.Path, max(0, strings.Count(s.Body, "\n")-1))
	sentMS := w.now
	open := true
	finish := func(e exchange.Event) {
		if open {
			open = false
			p.step(e)
		}
	}
	p.later(s.TimeoutMS, func() {
		if open && w.mutant == TimeoutTakenForReceived {
			markSent(p, s)
		}
		finish(exchange.Event{Failed: &exchange.Failed{ID: s.ID, Reason: "timeout"}})
	})
	arrive := func() {
		if p.partitioned() || w.office.down() {
			p.later(1+w.latency.Int64N(2_000), func() {
				finish(exchange.Event{Failed: &exchange.Failed{ID: s.ID, Reason: "unreachable"}})
			})
			return
		}
		path, query, _ := strings.Cut(s.Path, "?")
		r := w.office.handle(request{cookie: p.cookie, old: p.old, path: path, query: query, body: []byte(s.Body)})
		if r == nil || w.strikes(ReplyLost) || p.partitioned() {
			return
		}
		w.coverage.Statuses[r.status]++
		w.trace("%v: %d to %s", p, r.status, path)
		delay := 1 + w.latency.Int64N(400)
		if w.strikes(ReplyLate) {
			delay += w.latency.Int64N(40_000)
		}
		p.later(delay, func() {
			if !open {
				return // given up, and so is its cookie
			}
			if r.cookie != "" {
				p.cookie = r.cookie
			}
			if r.status == 401 || r.status == 403 {
				w.mutant.refused(p)
			}
			finish(exchange.Event{Replied: p.replied(s.ID, *r, sentMS)})
		})
	}
	if w.mutant == ReceivedWhenSent {
		markSent(p, s)
	}
	if w.strikes(RequestLost) {
		return
	}
	delay := 1 + w.latency.Int64N(400)
	if w.strikes(RequestLate) {
		delay += w.latency.Int64N(60_000)
	}
	w.inFlight++
	w.after(delay, func() {
		w.inFlight--
		arrive()
	})
	if w.strikes(RequestDoubled) {
		w.inFlight++
		w.after(delay+w.latency.Int64N(30_000), func() {
			w.inFlight--
			arrive()
		})
	}
}

func (p *phone) replied(id int64, r reply, sentMS int64) *exchange.Replied {
	return &exchange.Replied{ID: id, Status: r.status, Body: string(r.body), RetryAfterS: r.retryAfterS,
		SentMS: sentMS, ReceivedMS: p.w.now, WallMS: p.wall().UnixMilli()}
}

// store is one transaction that the exchange asked for.
func (p *phone) store(s exchange.Store) {
	p.later(1+p.w.latency.Int64N(20), func() {
		switch {
		case p.w.strikes(PhoneCrashBeforeStore):
			p.crash()
			return
		case p.w.strikes(QuotaAtStore):
			if p.w.mutant == AbortTakenForComplete {
				p.step(exchange.Event{Stored: &struct{}{}})
			} else {
				p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Quota}})
			}
			return
		case s.Chain != nil && s.Chain.From != p.disk.chain && p.w.mutant != ChainSwappedBlindly:
			p.step(exchange.Event{NotStored: &exchange.NotStored{Reason: exchange.Moved}})
			return
		}
		if !p.w.mutant.write(p, s) {
			return
		}
		if s.Chain != nil && s.Chain.From.Device != s.Chain.To.Device {
			p.era++
		}
		p.w.oracle.stored(p, s)
		if p.w.strikes(PhoneCrashAfterStore) {
			p.crash()
			return
		}
		p.step(exchange.Event{Stored: &struct{}{}})
	})
}

// save is a person saving an entry in one of the phone's tabs.
func (p *phone) save(n uint64) {
	if p.client == nil || p.disk.chain.Device == "" {
		return // the app is shut, or the phone never joined
	}
	kind := p.kind(n)
	draft := exchange.Draft{
		Kind: kind, V: 1, By: "JS", Written: record.StampOf(p.wall().Truncate(time.Second)),
		Body:     fmt.Appendf(nil, `{"reading":"%d.%dproof","note":"%x"}`, 80+n%120, n%10, n>>40),
		Happened: record.StampOf(p.wall().Add(-time.Duration(n%7200) * time.Second).Truncate(time.Second)),
	}
	if kind == fillChecked {
		draft.V = 2
	}
	var random [10]byte
	for i := range random {
		random[i] = byte(p.w.identity.Uint32())
	}
	p.seal(draft, record.NewID(p.wall(), random))
}

// seal tries until no other tab came between.
func (p *phone) seal(draft exchange.Draft, id [16]byte) {
	from, contact := p.disk.chain, p.disk.contact
	if p.w.mutant == ClockNotWitnessed {
		contact.Clock = 0
	}
	line, next, err := exchange.Seal(from, contact, draft, id)
	p.w.must(err)
	p.w.oracle.sealed(p, line)
	held := exchange.Held{ID: uuidOf(id), Line: string(line), State: exchange.Unsent}
	if p.w.mutant == SavedSaidTooSoon {
		p.w.oracle.saved(p, line)
	}
	p.later(p.w.latency.Int64N(6), func() {
		if p.w.strikes(QuotaAtSave) {
			return // the form stays open with its text; nothing was said
		}
		if p.disk.chain != from && p.w.mutant != SequenceOutsideTransaction {
			p.seal(draft, id)
			return
		}
		p.disk.write(&next, nil, []exchange.Held{held}, false)
		p.w.trace("%v: saved %s-%d", p, next.Device, next.Seq)
		p.w.oracle.saved(p, line)
		p.later(p.w.latency.Int64N(60), func() {
			p.step(exchange.Event{Saved: &exchange.Saved{Chain: next, Held: held}})
		})
	})
}

// kind is mostly one that the phone's role writes.
func (p *phone) kind(n uint64) string {
	all := kinds()
	if n%20 != 0 {
		all = roles()[p.role].writes
	}
	return all[n/20%uint64(len(all))]
}
