package simulate

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// A Mutation is one planted bug. All of them are planted in what the simulator
// puts around the code under test: in the office's HTTP, in its storage, in
// the model of the browser. That is also where they would be written.
type Mutation int

// The planted bugs.
const (
	None Mutation = iota

	// In the office.
	AcknowledgedBeforeCommit
	FullAcknowledged
	CommitNotSynced
	NotDeduplicated
	ForksUnnoticed
	ForkTakenForDuplicate
	OnlyHalfProcessed
	AnswersOutOfOrder
	PoisonRefusesPush
	DeadLetterDropped
	QuarantineDropped
	RoleIgnoredOnPush
	RoleIgnoredOnPull
	RevocationIgnored
	EpochIgnored
	MarkPassesLateCommit
	MarkIsHead
	NameGivenAgain

	// On the phone.
	SavedSaidTooSoon
	SequenceOutsideTransaction
	ChainSwappedBlindly
	MarkBeforeRecords
	AbortTakenForComplete
	ReceivedWhenSent
	TimeoutTakenForReceived
	DroppedOnRefusal
	ReofferIgnored
	NewIdentityOnReseal
	ScopeIgnored
	RetriesForgotten
	ClockNotWitnessed
	ClockGuardMissing
	mutations
)

var mutationWords = [mutations]string{
	None:                       "none",
	AcknowledgedBeforeCommit:   "the office replies before it commits",
	FullAcknowledged:           "the office acknowledges with its disk full",
	CommitNotSynced:            "a commit is not on disk yet when the office replies",
	NotDeduplicated:            "the office does not look for a known id",
	ForksUnnoticed:             "the office does not look at a device's chain",
	ForkTakenForDuplicate:      "the office answers duplicate where it should say forked",
	OnlyHalfProcessed:          "the office stores half of a push and answers for all of it",
	AnswersOutOfOrder:          "the office's answers stand in another order than the lines",
	PoisonRefusesPush:          "one bad line refuses the whole push",
	DeadLetterDropped:          "a bad line is answered malformed and thrown away",
	QuarantineDropped:          "an entry is answered quarantined and thrown away",
	RoleIgnoredOnPush:          "anyone writes anything",
	RoleIgnoredOnPull:          "anyone is given everything",
	RevocationIgnored:          "a revoked session goes on",
	EpochIgnored:               "after a restore the office says it is the same log",
	MarkPassesLateCommit:       "the mark passes an entry that commits late (a cursor by time)",
	MarkIsHead:                 "the mark is the log's head though the page was shorter",
	NameGivenAgain:             "a phone that joins gets its old name",
	SavedSaidTooSoon:           "saved is said before the transaction completed",
	SequenceOutsideTransaction: "the number is taken outside the saving transaction",
	ChainSwappedBlindly:        "a new name overwrites the chain without comparing",
	MarkBeforeRecords:          "the mark is stored before the records, in a transaction of its own",
	AbortTakenForComplete:      "an aborted transaction is taken for a complete one",
	ReceivedWhenSent:           "an entry counts as received once it is sent",
	TimeoutTakenForReceived:    "no reply counts as received",
	DroppedOnRefusal:           "unsent entries are dropped when the session ends",
	ReofferIgnored:             "after a restore the phone does not offer again what it holds",
	NewIdentityOnReseal:        "an entry sealed anew gets a new identity",
	ScopeIgnored:               "the mark is kept when the role sees more than before",
	RetriesForgotten:           "a failed round is not tried again",
	ClockNotWitnessed:          "the clock does not follow what was seen",
	ClockGuardMissing:          "any clock is believed, however far ahead",
}

func (m Mutation) String() string { return mutationWords[m] }

// Mutations is every planted bug there is.
func Mutations() []Mutation {
	var all []Mutation
	for m := None + 1; m < mutations; m++ {
		all = append(all, m)
	}
	return all
}

// receive is exchange.Receive with the bug.
func (m Mutation) receive(p exchange.Push, now time.Time, s session, l exchange.Ledger) (exchange.PushReply, error) {
	var rights exchange.Rights = s
	whole := p.Lines
	switch m {
	case NotDeduplicated, ForksUnnoticed, DeadLetterDropped, QuarantineDropped:
		l = forgetful{l, m}
	case RoleIgnoredOnPush:
		rights = anything{}
	case EpochIgnored:
		p.Epoch = ""
	case OnlyHalfProcessed:
		p.Lines = p.Lines[:(len(p.Lines)+1)/2]
	}
	reply, err := exchange.Receive(p, now, rights, l)
	if err != nil {
		return reply, err
	}
	for _, line := range whole[len(p.Lines):] {
		if r, err := record.Decode(line); err == nil {
			reply.Entries = append(reply.Entries, exchange.Answer{ID: r.ID.String(), State: exchange.New})
		}
	}
	reply.Epoch = m.epoch(reply.Epoch)
	for i := range reply.Entries {
		switch state := &reply.Entries[i].State; {
		case m == ForkTakenForDuplicate && *state == exchange.Forked:
			*state = exchange.Duplicate
		case m == PoisonRefusesPush && *state == exchange.Malformed:
			return reply, &exchange.Refusal{Status: 400}
		}
	}
	if m == AnswersOutOfOrder {
		slices.Reverse(reply.Entries)
	}
	return reply, nil
}

func (m Mutation) epoch(epoch string) string {
	if m == EpochIgnored {
		return "the same as ever"
	}
	return epoch
}

// deliver is exchange.Deliver with the bug.
func (m Mutation) deliver(q exchange.PullQuery, now time.Time, s session, r exchange.Reader) (exchange.Page, error) {
	var rights exchange.Rights = s
	switch m {
	case RoleIgnoredOnPull:
		rights = anything{}
	case EpochIgnored:
		r = agreeable{r, q.Since}
	}
	page, err := exchange.Deliver(q, now, rights, r)
	if err != nil {
		return page, err
	}
	page.Epoch = m.epoch(page.Epoch)
	switch {
	case m == MarkPassesLateCommit && len(page.Lines) > 0 && now.UnixMilli()%7 == 0:
		page.Lines = page.Lines[:len(page.Lines)-1]
	case m == MarkIsHead:
		page.Next, page.More = page.Head, false
	}
	return page, nil
}

// storage is the office's storage with the bug.
func (m Mutation) storage(s Storage) Storage {
	if memory, ok := s.(*Memory); ok && m == CommitNotSynced {
		return &unsynced{Memory: memory, disk: memory.book.clone()}
	}
	return s
}

// write is the transaction of a Store with the bug; false if the phone
// crashed over it.
func (m Mutation) write(p *phone, s exchange.Store) bool {
	contact := *s.Contact
	put, reoffer := s.Put, s.Reoffer
	var to *exchange.Chain
	if s.Chain != nil {
		to = &s.Chain.To
	}
	switch {
	case m == ReofferIgnored:
		reoffer = false
	case m == ScopeIgnored && contact.Since.Seq == 0 && contact.Epoch == p.disk.contact.Epoch:
		contact.Since = p.disk.contact.Since
	case m == MarkBeforeRecords && len(put) > 0:
		p.disk.write(nil, &contact, nil, false)
		if p.w.latency.IntN(20) == 0 && !p.w.healed {
			p.crash()
			return false
		}
	case m == NewIdentityOnReseal && to != nil:
		put = slices.Clone(put)
		for i, held := range put {
			if r, err := record.Decode([]byte(held.Line)); err == nil && held.State == exchange.Unsent {
				r.ID[15]++
				put[i] = relabelled(r)
				delete(p.disk.rows, held.ID)
			}
		}
	case m == ClockGuardMissing:
		for _, held := range put {
			if r, err := record.Decode([]byte(held.Line)); err == nil {
				contact.Clock = max(contact.Clock, r.Clock)
			}
		}
	}
	p.disk.write(to, &contact, put, reoffer)
	return true
}

func relabelled(r record.Record) exchange.Held {
	line, err := record.Encode(r)
	if err != nil {
		panic(err)
	}
	return exchange.Held{ID: r.ID.String(), Line: string(line), State: exchange.Unsent}
}

// refused is a phone told that its session has ended.
func (m Mutation) refused(p *phone) {
	if m == DroppedOnRefusal {
		for _, held := range p.disk.open().Unsent {
			delete(p.disk.rows, held.ID)
		}
	}
}

// markSent takes what a push carries for received.
func markSent(p *phone, s exchange.Send) {
	if s.Path != exchange.PathPush {
		return
	}
	for id, held := range p.disk.rows {
		if strings.Contains(s.Body, id) {
			held.State = exchange.Received
			p.disk.rows[id] = held
		}
	}
}

// anything is a role without limits.
type anything struct{}

func (anything) MayWrite(record.Record) bool { return true }
func (anything) MaySee(record.Record) bool   { return true }
func (anything) Scope() string               { return "anything" }

// forgetful is a ledger that does not look, or does not keep.
type forgetful struct {
	exchange.Ledger
	m Mutation
}

func (f forgetful) ByID(id uuid.UUID) (record.Stored, error) {
	if f.m == NotDeduplicated {
		return record.Stored{}, nil
	}
	return f.Ledger.ByID(id)
}

func (f forgetful) At(device string, seq int64) (record.Stored, error) {
	if f.m == ForksUnnoticed {
		return record.Stored{}, nil
	}
	return f.Ledger.At(device, seq)
}

func (f forgetful) Tip(device string) (record.Tip, error) {
	tip, err := f.Ledger.Tip(device)
	if f.m == ForksUnnoticed {
		tip.Seq, tip.Digest = 0, record.Digest{}
	}
	return tip, err
}

func (f forgetful) SetAside(state string, r record.Record, line []byte, fault record.Fault) error {
	if f.m == QuarantineDropped && state == string(exchange.Quarantined) || f.m == DeadLetterDropped && state == string(exchange.Malformed) {
		return nil
	}
	return f.Ledger.SetAside(state, r, line, fault)
}

// agreeable is a log that has any mark.
type agreeable struct {
	exchange.Reader
	mark record.Mark
}

func (a agreeable) MarkAt(seq int64) (record.Mark, bool, error) {
	if seq == a.mark.Seq {
		return a.mark, true, nil
	}
	return a.Reader.MarkAt(seq)
}

// unsynced is a storage whose last commit is not on disk yet.
type unsynced struct {
	*Memory
	disk book
}

func (u *unsynced) Update(f func(exchange.Ledger) error) error {
	u.disk = u.book.clone()
	return u.Memory.Update(f)
}

func (u *unsynced) Restart() error {
	u.book = u.disk.clone()
	return nil
}
