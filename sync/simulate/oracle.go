package simulate

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// An oracle knows what people were told, and says when it was not so.
type oracle struct {
	w         *world
	records   map[string]record.Record // by id: what a person was told is saved
	received  map[string]bool          // … and later, that the office has it
	lost      map[string]bool          // a storage fault took it from a phone
	undone    map[string]bool          // a restore took it from the office
	expected  map[string]bool          // was somewhere when everything was mended
	numbers   map[number]string        // the entry a phone gave a number to
	violation *Violation
}

func newOracle(w *world) *oracle {
	return &oracle{w: w, records: map[string]record.Record{}, received: map[string]bool{}, lost: map[string]bool{},
		undone: map[string]bool{}, expected: map[string]bool{}, numbers: map[number]string{}}
}

// broke notes the first broken promise; the day ends with it.
func (o *oracle) broke(promise, format string, args ...any) {
	if o.violation == nil {
		o.violation = &Violation{Oracle: promise, Detail: fmt.Sprintf(format, args...), AtMS: o.w.now}
		o.w.trace("   broken: %s: %s", promise, o.violation.Detail)
	}
}

// A number is one that a phone gave; a storage that lost its end counts as
// another phone's.
type number struct {
	phone, era int
	place
}

// The promises, in the words of the table of planted bugs.
const (
	onDisk      = "acknowledged means on disk"
	keptAside   = "what is refused is kept aside"
	survives    = "a restart loses nothing"
	withinRole  = "a role sees and writes only what it may"
	nothingLost = "what was saved is kept"
	once        = "nothing is there twice"
	oneNumber   = "a phone gives no number twice"
	noInvention = "nothing is invented"
	sameSets    = "everyone holds the same"
	sameFold    = "everyone reads the same"
	chainsHold  = "the chains verify"
	clocksHold  = "clocks run forward, and not away"
	itSettles   = "it settles"
)

// sealed is called when an entry is sealed, before its transaction: what the
// exchange stores in between it has not seen.
func (o *oracle) sealed(p *phone, line []byte) {
	r, err := record.Decode(line)
	if err != nil {
		o.broke(noInvention, "%v sealed a line that is no record: %v", p, err)
		return
	}
	ahead := day.Add(time.Duration(o.w.now+p.ahead) * time.Millisecond).Add(record.FarAhead + time.Minute)
	if r.Clock.Time().After(ahead) {
		o.broke(clocksHold, "%v sealed %s at clock %v, beyond any clock it should believe", p, r.Address(), r.Clock.Time())
	}
	if p.jumped {
		return
	}
	for _, id := range p.disk.ids() {
		held := p.disk.rows[id]
		other, err := record.Decode([]byte(held.Line))
		if err == nil && held.State == exchange.Received && other.Clock >= r.Clock &&
			other.Clock.Time().Before(p.wall().Add(record.FarAhead)) {
			o.broke(clocksHold, "%v sealed %s with clock %v, having seen %s with %v", p, r.Address(), r.Clock, other.Address(), other.Clock)
		}
	}
}

// saved is called when a person is told so.
func (o *oracle) saved(p *phone, line []byte) {
	r, err := record.Decode(line)
	o.w.must(err)
	o.records[r.ID.String()] = r
	o.numbered(p, r)
}

// numbered is called when a phone has sealed an entry, or sealed it anew.
func (o *oracle) numbered(p *phone, r record.Record) {
	n := number{p.n, p.era, place{r.Device, r.Seq}}
	if other, given := o.numbers[n]; given && other != r.ID.String() {
		o.broke(oneNumber, "%v sealed two entries as %s", p, r.Address())
	}
	o.numbers[n] = r.ID.String()
}

// acknowledged is called when a push's reply leaves the office.
func (o *oracle) acknowledged(p exchange.Push, reply exchange.PushReply, s session) {
	asides := map[exchange.State][][]byte{}
	for _, state := range []exchange.State{exchange.Forked, exchange.Malformed} {
		lines, err := o.w.bare.Aside(state)
		o.w.must(err)
		asides[state] = lines
	}
	err := o.w.bare.Update(func(l exchange.Ledger) error {
		for i, answer := range reply.Entries {
			if kept, aside := asides[answer.State]; aside {
				if !slices.ContainsFunc(kept, func(line []byte) bool { return bytes.Equal(line, p.Lines[i]) }) {
					o.broke(keptAside, "a line was answered %s and lies nowhere", answer.State)
				}
				continue
			}
			r, err := record.Decode(p.Lines[i])
			if err != nil {
				o.broke(noInvention, "a line that is no record was answered %s", answer.State)
				continue
			}
			held, err := l.ByID(r.ID)
			if err != nil {
				return err
			}
			fresh := answer.State == exchange.New || answer.State == exchange.Gap
			switch {
			case held.Line == nil:
				o.broke(onDisk, "%s was answered %s and is not in the office's storage", r.Address(), answer.State)
			case fresh && !s.MayWrite(r):
				o.broke(withinRole, "a %s wrote %s, a “%s” of %s", s.role.name, r.Address(), r.Kind, r.Device)
			}
		}
		return errUndone
	})
	if !errors.Is(err, errUndone) {
		o.w.must(err)
	}
}

// delivered is called when a page leaves the office.
func (o *oracle) delivered(page exchange.Page, s session) {
	for _, line := range page.Lines {
		r, err := record.Decode(line)
		if err != nil {
			o.broke(noInvention, "a page holds a line that is no record: %v", err)
		} else if s.revoked || !s.MaySee(r) {
			o.broke(withinRole, "a %s (revoked: %v) was given %s, a “%s”", s.role.name, s.revoked, r.Address(), r.Kind)
		}
	}
}

// stored is called after each of the exchange's transactions.
func (o *oracle) stored(p *phone, s exchange.Store) {
	for _, held := range s.Put {
		if r, err := record.Decode([]byte(held.Line)); err == nil && held.State == exchange.Unsent {
			o.numbered(p, r)
		}
	}
	for id, held := range p.disk.rows {
		if held.State == exchange.Received || held.State == exchange.Waiting {
			o.received[id] = true
		}
	}
}

// restarted is called after the office's process died.
func (o *oracle) restarted(before, after contents) {
	for _, id := range sorted(missing(before, after)) {
		o.broke(survives, "%s was in the office's storage before it was killed", id)
	}
}

// restored is called after an older backup was put back.
func (o *oracle) restored(before, after contents) {
	for id := range missing(before, after) {
		o.undone[id] = true
	}
}

func missing(before, after contents) map[string]bool {
	ids := before.ids()
	for id := range after.ids() {
		delete(ids, id)
	}
	return ids
}

func (c contents) ids() map[string]bool {
	ids := map[string]bool{}
	for _, line := range slices.Concat(c.log, c.quarantine) {
		if r, err := record.Decode(line); err == nil {
			ids[r.ID.String()] = true
		}
	}
	return ids
}

// vanished is called when a storage fault took rows from a phone.
func (o *oracle) vanished(before, after disk) {
	for id := range before.rows {
		if !readable(after.rows[id]) {
			o.lost[id] = true
		}
	}
}

func readable(held exchange.Held) bool {
	_, err := record.Decode([]byte(held.Line))
	return err == nil
}

// healed notes what is anywhere when everything is mended: from here on
// nothing may get lost for any reason.
func (o *oracle) healed() {
	o.expected = o.w.office.contents().ids()
	for _, p := range o.w.phones {
		for id, held := range p.disk.rows {
			if readable(held) {
				o.expected[id] = true
			}
		}
	}
}

// settled compares everything with everything.
func (o *oracle) settled() {
	c := o.w.office.contents()
	log := o.examine(c)
	office := c.ids()
	for _, id := range sorted(o.expected) {
		if !office[id] {
			o.broke(nothingLost, "%s was held somewhere and is not in the office", o.address(id))
		}
	}
	for _, id := range sorted(o.records) {
		excused := o.lost[id] && (!o.received[id] || o.undone[id])
		if !office[id] && !excused {
			o.broke(nothingLost, "%s was told to be saved (received: %v) and is not in the office", o.address(id), o.received[id])
		}
	}
	for _, p := range o.w.phones {
		o.compare(p, log)
	}
}

func (o *oracle) address(id string) string {
	if r, ok := o.records[id]; ok {
		return r.Address() + " " + id
	}
	return id
}

// examine looks at the office's storage by itself.
func (o *oracle) examine(c contents) (log map[string][]byte) {
	log = map[string][]byte{}
	var mark record.Mark
	byID, digests := map[string]record.Record{}, map[place]record.Digest{}
	for i, line := range slices.Concat(c.log, c.quarantine) {
		r, err := record.Decode(line)
		if err != nil {
			o.broke(noInvention, "the office holds a line that is no record: %v", err)
			continue
		}
		id, at := r.ID.String(), place{r.Device, r.Seq}
		if i < len(c.log) {
			mark = mark.Next(line)
			log[id] = line
		}
		known, saved := o.records[id]
		_, twice := byID[id]
		_, taken := digests[at]
		switch {
		case twice:
			o.broke(once, "%s is in the office twice", o.address(id))
		case taken:
			o.broke(once, "two entries are %s", r.Address())
		case !saved || !record.SameContent(known, r):
			o.broke(noInvention, "nobody saved %s as the office holds it", o.address(id))
		}
		byID[id], digests[at] = r, record.DigestOf(line)
	}
	if mark != c.head {
		o.broke(chainsHold, "the log's head is %v and its lines give %v", c.head, mark)
	}
	for _, id := range sorted(byID) {
		r := byID[id]
		if before, ok := digests[place{r.Device, r.Seq - 1}]; ok && before != r.Prev {
			o.broke(chainsHold, "%s does not follow its device's entry before it", r.Address())
		}
	}
	return log
}

// compare looks at a phone beside the log.
func (o *oracle) compare(p *phone, log map[string][]byte) {
	s := o.w.office.admin.sessions[p.cookie]
	var theirs, ours []record.Record
	for _, id := range sorted(log) {
		line := log[id]
		r, err := record.Decode(line)
		if err != nil || !s.MaySee(r) {
			continue
		}
		ours = append(ours, r)
		if held := p.disk.rows[r.ID.String()]; held.Line != string(line) {
			o.broke(sameSets, "%v, a %s, has %q as %s, and the log %q", p, s.role.name, held.Line, held.State, line)
		}
	}
	for _, id := range p.disk.ids() {
		held := p.disk.rows[id]
		r, err := record.Decode([]byte(held.Line))
		switch _, logged := log[id]; {
		case err != nil && !o.lost[id], err == nil && held.State == exchange.Dead:
			o.broke(nothingLost, "%v holds %s as %s without a storage fault", p, o.address(id), held.State)
		case err != nil:
		case held.State == exchange.Received && !logged:
			o.broke(sameSets, "%v holds %s as received and it is not in the log", p, o.address(id))
		case held.State == exchange.Received && s.MaySee(r):
			theirs = append(theirs, r)
		}
	}
	if a, b := o.fold(theirs), o.fold(ours); a != b {
		o.broke(sameFold, "%v reads %s, the office %s", p, a, b)
	}
}

func (o *oracle) fold(records []record.Record) string {
	slices.SortFunc(records, func(a, b record.Record) int { return record.Compare(a.Header, b.Header) })
	return o.w.options.Fold(records)
}

// FoldDigest is the digest of a set of records in book order.
func FoldDigest(records []record.Record) string {
	var m record.Mark
	for _, r := range records {
		line, err := record.Encode(r)
		if err != nil {
			return err.Error()
		}
		m = m.Next(line)
	}
	return hex.EncodeToString(m.Chain[:8])
}

// sorted is the keys of a map: a broken promise is told the same way each time.
func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
