package exchange

import "gaugebook/sync/record"

// The wire, version 1. Bodies of push and pull are lines: a JSON header, then
// one record a line, each line ended by \n. Everything else is one JSON object.
//
//	POST /sync/v1/join    JoinRequest           → 200 JoinReply
//	POST /sync/v1/push    PushHeader, records   → 200 PushReply
//	GET  /sync/v1/pull?since=MARK&limit=N&proto=1&app=BUILD
//	                                            → 200 PullHeader, records
//
// Any other status carries a Refusal:
//
//	401  not joined, or no longer     join again; entries stay
//	403  the role does not allow it   join again; entries stay
//	409  another log than you knew    its epoch is in the Refusal: offer again what you hold
//	413  too much at once             send half
//	426  this build is too old        for pull only; push is always taken
//	429, 503  later                   Retry-After in seconds
//	507  the server's disk is full    nothing was taken; later
//
// The session travels as a cookie and is no part of these messages.
const (
	Proto    = 1
	PathPush = "/sync/v1/push"
	PathPull = "/sync/v1/pull"
	PathJoin = "/sync/v1/join"

	MaxRecords = 500        // of one push or one page
	MaxBytes   = 512 * 1000 // of one push's body or one page's records

	ContentLines = "application/x-ndjson"
	ContentJSON  = "application/json"
)

// JoinRequest asks for a device name: with a code that a person typed, or on
// the session that the phone still has.
type JoinRequest struct {
	Proto int    `json:"proto"`
	App   string `json:"app"`
	Code  string `json:"code"`
	Was   string `json:"was"` // the device's name so far, or empty
	Why   Why    `json:"why"`
}

// Why a phone joins. For Forked and Lost the server must give a name that no
// device ever had; it may for the others, and always does for a new phone.
type Why string

const (
	WhyNew    Why = "new"    // it has no name
	WhyAgain  Why = "again"  // its session or its role ended
	WhyForked Why = "forked" // another phone writes under its name
	WhyLost   Why = "lost"   // the server holds more under its name than it does
)

// JoinReply gives the phone its name. Relay says that it may bring other
// devices' entries too, which is asked for after the server was restored.
type JoinReply struct {
	Device string `json:"device"`
	Epoch  string `json:"epoch"`
	NowMS  int64  `json:"now_ms"`
	Relay  bool   `json:"relay"`
}

// PushHeader is the first line of a push. Epoch is the log that the phone
// knows, empty if none yet.
type PushHeader struct {
	Proto  int    `json:"proto"`
	App    string `json:"app"`
	Epoch  string `json:"epoch"`
	Device string `json:"device"`
}

// PushReply answers for every line of the push, in the order of the lines.
type PushReply struct {
	Epoch   string      `json:"epoch"`
	NowMS   int64       `json:"now_ms"`
	Head    record.Mark `json:"head"`          // the end of the log after this push
	Through int64       `json:"acked_through"` // every entry of the device up to this number is held
	Entries []Answer    `json:"entries"`
}

// An Answer says what became of one line.
type Answer struct {
	ID    string        `json:"id"` // empty if none could be read
	State State         `json:"state"`
	Seq   int64         `json:"seq"`             // number in the server's log; 0 if it is not there
	Fault *record.Fault `json:"fault,omitempty"` // for quarantined, forked and malformed
}

// A State is what became of one line.
type State string

const (
	New         State = "new"         // stored now
	Duplicate   State = "duplicate"   // was stored already
	Gap         State = "gap"         // stored now; earlier entries of its device are missing
	Quarantined State = "quarantined" // kept apart until someone who may lets it in
	Forked      State = "forked"      // not in the log: its place in the device's chain is another entry's
	Malformed   State = "malformed"   // not in the log: kept as a dead letter
)

// States is every State there is.
func States() []State { return []State{New, Duplicate, Gap, Quarantined, Forked, Malformed} }

// Settled says that the server keeps the line and the phone may stop offering
// it. Only a forked line goes on, sealed anew.
func (s State) Settled() bool { return s != Forked }

// PullQuery asks for the records after a mark.
type PullQuery struct {
	Proto int
	App   string
	Since record.Mark
	Limit int
}

// PullHeader is the first line of a page.
type PullHeader struct {
	Epoch string      `json:"epoch"`
	NowMS int64       `json:"now_ms"`
	Next  record.Mark `json:"next"` // the mark to ask after next
	More  bool        `json:"more"` // there is more behind it
	Head  record.Mark `json:"head"`
}

// A Refusal is the body of every status but 200.
type Refusal struct {
	Status int            `json:"-"`
	Epoch  string         `json:"epoch,omitempty"` // with 409
	Faults []record.Fault `json:"faults"`
}

// Error is the first fault's sentence.
func (r *Refusal) Error() string {
	if len(r.Faults) == 0 {
		return "refused"
	}
	return r.Faults[0].Error()
}
