package exchange

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"

	"gaugebook/sync/record"
)

// The wire, version 1. Bodies of push and pull are lines: a JSON header, then
// one record a line, each line ended by \n. Everything else is one JSON object.
//
//	POST /sync/v1/join    JoinRequest           → 200 JoinReply
//	POST /sync/v1/push    PushHeader, records   → 200 PushReply
//	GET  /sync/v1/pull?since=MARK&limit=N&proto=1
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

// JoinRequest asks for a device name: on the session that the phone still has,
// or else with a code that a person typed. A code stays good for its few
// minutes, so that a lost reply is not a lost code.
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

// JoinReply gives the phone its name.
type JoinReply struct {
	Device string `json:"device"`
	Epoch  string `json:"epoch"`
	NowMS  int64  `json:"now_ms"`
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
	Since record.Mark
	Limit int
}

// PullHeader is the first line of a page.
type PullHeader struct {
	Epoch string      `json:"epoch"`
	Scope string      `json:"scope"` // Rights.Scope: if it changed, ask from the beginning
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
		return "refused with status " + strconv.Itoa(r.Status)
	}
	return r.Faults[0].Error()
}

// A Push is a parsed body of a push.
type Push struct {
	PushHeader
	Lines [][]byte // parts of the body, without line ends
}

// ParsePush takes a push apart. It asks for a header and for the limits of a
// push, and nothing of its lines. Its errors are Refusals.
func ParsePush(body []byte) (Push, error) {
	if len(body) > MaxBytes {
		return Push{}, refuse(413, record.TooLong, "body", strconv.Itoa(len(body))+" bytes", "a push has at most 512,000 bytes", "send half of it")
	}
	head, lines := cutLines(body)
	var p Push
	if err := json.Unmarshal(head, &p.PushHeader); err != nil || p.Proto < 1 {
		return Push{}, refuse(400, record.Malformed, "header", "", "the first line of a push is its header, a JSON object with proto, app, epoch and device", "update the app")
	}
	if len(lines) > MaxRecords {
		return Push{}, refuse(413, record.TooLong, "records", strconv.Itoa(len(lines)), "a push has at most 500 records", "send half of them")
	}
	p.Lines = lines
	return p, nil
}

// Bytes is the body of the push.
func (p Push) Bytes() []byte { return joinLines(p.PushHeader, p.Lines) }

// ParsePullQuery reads the parameters of a pull. Its errors are Refusals.
func ParsePullQuery(parameter func(name string) string) (PullQuery, error) {
	q := PullQuery{Proto: Proto, Limit: MaxRecords}
	if err := q.Since.UnmarshalText([]byte(parameter("since"))); err != nil {
		return q, refuse(400, record.Malformed, "since", parameter("since"), "a mark is 0, or a number, a hyphen and 64 hex digits", "ask from 0")
	}
	for name, into := range map[string]*int{"limit": &q.Limit, "proto": &q.Proto} {
		text := parameter(name)
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return q, refuse(400, record.Malformed, name, text, "a number from 1", "leave it out")
		}
		*into = n
	}
	q.Limit = min(q.Limit, MaxRecords)
	return q, nil
}

// path is the request's path with its query.
func (q PullQuery) path() string {
	return fmt.Sprintf("%s?since=%s&limit=%d&proto=%d", PathPull, q.Since, q.Limit, q.Proto)
}

// A Page is a pull's reply.
type Page struct {
	PullHeader
	Lines [][]byte
}

// ParsePage takes a pull's reply apart; it asks nothing of its lines.
func ParsePage(body []byte) (Page, error) {
	head, lines := cutLines(body)
	p := Page{Lines: lines}
	err := json.Unmarshal(head, &p.PullHeader)
	return p, err
}

// Bytes is the body of the reply.
func (p Page) Bytes() []byte { return joinLines(p.PullHeader, p.Lines) }

// cutLines parts a body into its first line and the others. An empty line is
// a line: an answer's place must be its line's place.
func cutLines(body []byte) (first []byte, lines [][]byte) {
	first, rest, more := bytes.Cut(body, newline)
	if rest = bytes.TrimSuffix(rest, newline); more && len(rest) > 0 {
		lines = bytes.Split(rest, newline)
	}
	return first, lines
}

func joinLines(header any, lines [][]byte) []byte {
	size := 256
	for _, line := range lines {
		size += len(line) + 1
	}
	head, err := json.Marshal(header)
	if err != nil {
		panic(err) // headers are structs of strings and numbers
	}
	body := append(append(make([]byte, 0, size), head...), newline...)
	for _, line := range lines {
		body = append(append(body, line...), newline...)
	}
	return body
}

var newline = []byte{'\n'}

func refuse(status int, code, field, value, limit, remedy string) *Refusal {
	return &Refusal{Status: status, Faults: []record.Fault{{Code: code, Field: field, Value: value, Limit: limit, Remedy: remedy}}}
}
