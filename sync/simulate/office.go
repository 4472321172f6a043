package simulate

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// A role says which kinds its holder writes and sees.
type role struct {
	name         string
	writes, sees []string
	speaksForAll bool
}

const (
	drawRead       = "draw read"
	bottlesCounted = "bottles counted"
	trialScored    = "trial scored"
	fillChecked    = "fill checked" // newer than an old build
)

func kinds() []string { return []string{drawRead, bottlesCounted, trialScored, fillChecked} }

func roles() []role {
	hand := []string{drawRead, bottlesCounted, fillChecked}
	return []role{
		{name: "owner", writes: kinds(), sees: kinds(), speaksForAll: true},
		{name: "hand", writes: hand, sees: hand},
		{name: "counter", writes: []string{bottlesCounted}, sees: []string{bottlesCounted}},
	}
}

// A session is what a cookie stands for.
type session struct {
	device  string
	names   []string // every name the phone is known to have had
	role    role
	revoked bool
}

// MayWrite is exchange.Rights.
func (s session) MayWrite(h record.Record) bool {
	return slices.Contains(s.role.writes, h.Kind) && (s.role.speaksForAll || slices.Contains(s.names, h.Device))
}

// MaySee is exchange.Rights.
func (s session) MaySee(h record.Record) bool { return slices.Contains(s.role.sees, h.Kind) }

// Scope is exchange.Rights.
func (s session) Scope() string { return s.role.name }

// admin is what the office keeps beside the log, in the same backups.
type admin struct {
	sessions map[string]session // by cookie
	codes    map[string]role
	names    int // given so far
}

func (a admin) clone() admin {
	return admin{sessions: maps.Clone(a.sessions), codes: maps.Clone(a.codes), names: a.names}
}

// An office is the server: HTTP without HTTP.
type office struct {
	w       *world
	storage Storage
	admin   admin
	backups []backedUp
	cookies int // ever given: a random number in life
	downTo  int64
	fullTo  int64
	newTo   bool // pulls of old builds are refused
}

type backedUp struct {
	restore func() error
	admin   admin
}

// A request is what reaches the office; a reply what leaves it.
type request struct {
	cookie string
	old    bool // from an old build
	path   string
	query  string
	body   []byte
}

type reply struct {
	status      int
	body        []byte
	retryAfterS int64
	cookie      string // set by the reply
}

var (
	errFull   = errors.New("no space left")
	errCrash  = errors.New("killed")
	errUndone = errors.New("only looking")
)

func (o *office) down() bool { return o.w.now < o.downTo }

// crash kills the server; it is back after a while.
func (o *office) crash() {
	o.downTo = o.w.now + 500 + o.w.latency.Int64N(20_000)
	before := o.contents()
	o.w.must(o.storage.Restart())
	o.w.oracle.restarted(before, o.contents())
}

// handle gives no reply if the server died over it.
func (o *office) handle(q request) *reply {
	switch {
	case o.w.strikes(TooMany):
		return o.refuse(429, 1+o.w.latency.Int64N(20))
	case o.w.strikes(Busy):
		return o.refuse(503, o.w.latency.Int64N(10))
	case o.w.strikes(Stranger):
		return &reply{status: 200, body: []byte("<html>Welcome to the guest network</html>")}
	}
	if q.path == exchange.PathJoin {
		return o.join(q)
	}
	s, known := o.admin.sessions[q.cookie]
	switch {
	case !known:
		return o.refuse(401, 0)
	case s.revoked && o.w.mutant != RevocationIgnored:
		return o.refuse(403, 0)
	case q.path == exchange.PathPush:
		return o.push(q, s)
	}
	return o.pull(q, s)
}

func (o *office) refuse(status int, afterS int64) *reply {
	return o.refusal(&exchange.Refusal{Status: status, Faults: []record.Fault{{Code: "refused", Field: "request", Limit: strconv.Itoa(status)}}}, afterS)
}

func (o *office) refusal(r *exchange.Refusal, afterS int64) *reply {
	body, err := json.Marshal(r)
	o.w.must(err)
	return &reply{status: r.Status, body: body, retryAfterS: afterS}
}

func (o *office) push(q request, s session) *reply {
	p, err := exchange.ParsePush(q.body)
	var refusal *exchange.Refusal
	if errors.As(err, &refusal) {
		return o.refusal(refusal, 0)
	}
	if o.w.strikes(TooMuch) {
		return o.refuse(413, 0)
	}
	before, after := o.w.strikes(ServerCrashBeforeCommit), o.w.strikes(ServerCrashAfterCommit)
	var answer exchange.PushReply
	err = o.storage.Update(func(l exchange.Ledger) (err error) {
		answer, err = o.w.mutant.receive(p, o.w.time(), s, l)
		switch {
		case err != nil:
			return err
		case o.w.now < o.fullTo:
			return errFull
		case before:
			return errCrash
		}
		return nil
	})
	mutant := o.w.mutant
	switch {
	case errors.As(err, &refusal):
		return o.refusal(refusal, 0)
	case errors.Is(err, errFull) && mutant != FullAcknowledged:
		o.w.coverage.Faults[ServerFull]++
		return o.refuse(507, 0)
	case errors.Is(err, errCrash):
		o.crash()
		if mutant != AcknowledgedBeforeCommit {
			return nil
		}
	case err != nil && !errors.Is(err, errFull):
		o.w.must(err)
	}
	if after {
		o.crash()
		return nil
	}
	for _, entry := range answer.Entries {
		o.w.coverage.States[entry.State]++
	}
	o.w.oracle.acknowledged(p, answer, s)
	o.hint()
	body, err := json.Marshal(answer)
	o.w.must(err)
	return &reply{status: 200, body: body}
}

// hint tells the phones in front of people that there may be something new.
func (o *office) hint() {
	for _, p := range o.w.phones {
		if p.visible && !o.w.strikes(HintLost) && !p.partitioned() {
			life := p.life
			o.w.after(10+o.w.latency.Int64N(300), func() {
				if p.life == life {
					p.step(exchange.Event{Hint: &struct{}{}})
				}
			})
		}
	}
}

func (o *office) pull(q request, s session) *reply {
	if q.old && o.newTo {
		o.w.coverage.Faults[OldBuild]++
		return o.refuse(426, 0)
	}
	query, err := exchange.ParsePullQuery(parameters(q.query))
	var refusal *exchange.Refusal
	if errors.As(err, &refusal) {
		return o.refusal(refusal, 0)
	}
	query.Limit = min(query.Limit, o.w.pageLimit)
	var page exchange.Page
	err = o.storage.View(func(r exchange.Reader) (err error) {
		page, err = o.w.mutant.deliver(query, o.w.time(), s, r)
		return err
	})
	if errors.As(err, &refusal) {
		return o.refusal(refusal, 0)
	}
	o.w.must(err)
	o.w.oracle.delivered(page, s)
	return &reply{status: 200, body: page.Bytes()}
}

func (o *office) join(q request) *reply {
	var j exchange.JoinRequest
	o.w.must(json.Unmarshal(q.body, &j))
	was, known := o.admin.sessions[q.cookie]
	s := session{role: was.role}
	if !known || was.revoked {
		r, good := o.admin.codes[j.Code]
		if !good {
			return o.refuse(401, 0)
		}
		s.role = r
	}
	if s.device = o.name(); o.w.mutant == NameGivenAgain && known {
		s.device = was.device
	}
	s.names = append(slices.Clone(was.names), s.device) // names that only a code's holder claims are not believed
	o.cookies++
	cookie := "cookie-" + strconv.Itoa(o.cookies)
	o.admin.sessions[cookie] = s
	var epoch string
	o.w.must(o.storage.View(func(r exchange.Reader) (err error) {
		epoch, err = r.Epoch()
		return err
	}))
	epoch = o.w.mutant.epoch(epoch)
	body, err := json.Marshal(exchange.JoinReply{Device: s.device, Epoch: epoch, NowMS: o.w.time().UnixMilli()})
	o.w.must(err)
	return &reply{status: 200, body: body, cookie: cookie}
}

// name is a name that no device had, as far as this office remembers: put
// back to an older backup it gives names again, which must do no harm.
func (o *office) name() string {
	words := []string{"alder", "birch", "cedar", "damson", "elm", "fir", "gorse", "hazel"}
	o.admin.names++
	return fmt.Sprintf("%s%02d", words[o.admin.names%len(words)], 10+o.admin.names)
}

// code is a code for a person who asks for one.
func (o *office) code(r role) string {
	code := strconv.Itoa(1000 + o.w.people.IntN(9000))
	o.admin.codes[code] = r
	return code
}

// revoke ends a phone's session.
func (o *office) revoke(cookie string) {
	if s, ok := o.admin.sessions[cookie]; ok {
		s.revoked = true
		o.admin.sessions[cookie] = s
	}
}

func (o *office) backup() {
	restore, err := o.storage.Backup()
	o.w.must(err)
	o.backups = append(o.backups, backedUp{restore: restore, admin: o.admin.clone()})
}

// restore puts a backup back.
func (o *office) restore(n uint64) bool {
	if len(o.backups) == 0 {
		return false
	}
	b := o.backups[n%uint64(len(o.backups))]
	before := o.contents()
	o.w.must(b.restore())
	o.admin = b.admin.clone()
	o.w.oracle.restored(before, o.contents())
	return true
}

// contents is everything the office holds: the log's lines and the quarantine.
type contents struct {
	log, quarantine [][]byte
	head            record.Mark
}

func (o *office) contents() (c contents) {
	o.w.must(o.storage.View(func(r exchange.Reader) (err error) {
		if c.head, err = r.Head(); err != nil {
			return err
		}
		return r.After(0, func(_ int64, line []byte) bool {
			c.log = append(c.log, line)
			return true
		})
	}))
	var err error
	c.quarantine, err = o.storage.Aside(exchange.Quarantined)
	o.w.must(err)
	return c
}

// parameters reads a query that needs no unescaping.
func parameters(query string) func(string) string {
	values := map[string]string{}
	for pair := range strings.SplitSeq(query, "&") {
		name, value, _ := strings.Cut(pair, "=")
		values[name] = value
	}
	return func(name string) string { return values[name] }
}
