package exchange

import "gaugebook/sync/record"

// A Chain is a device's own place in its chain. The phone stores it beside its
// records and changes it only in the transaction that stores a record, after
// comparing: if another tab moved it, the record is sealed again.
type Chain struct {
	Device string        `json:"device"` // empty: not joined
	Seq    int64         `json:"seq"`
	Prev   record.Digest `json:"prev"`
	Clock  record.Clock  `json:"clock"`
}

// Contact is what the phone knows of the server. Only the exchange changes it.
type Contact struct {
	Epoch    string       `json:"epoch"`
	Since    record.Mark  `json:"since"`     // everything up to here is held
	Scope    string       `json:"scope"`     // what the pulls up to Since might see
	Through  int64        `json:"through"`   // acked_through of the present device, the highest heard
	Clock    record.Clock `json:"clock"`     // highest clock seen and believed
	LastMS   int64        `json:"last_ms"`   // phone's clock at the last reply
	OffsetMS int64        `json:"offset_ms"` // server's clock minus the phone's
	Why      Why          `json:"why"`       // a new name is needed, and why; empty if not
}

// Held is one record as the phone keeps it, under its id.
type Held struct {
	ID    string `json:"id"`
	Line  string `json:"line,omitempty"`
	State Keep   `json:"state"`
}

// Keep is what the phone knows of a record's whereabouts.
type Keep string

const (
	Unsent   Keep = "unsent"      // on this phone only, as far as it knows
	Received Keep = "received"    // in the server's log
	Waiting  Keep = "quarantined" // at the server, waiting to be let in
	Dead     Keep = "malformed"   // at the server, among its dead letters
)

// An Event is what happened to the phone; exactly one field is set.
type Event struct {
	Opened    *Opened    `json:"opened,omitempty"`     // at start, and as the answer to Load
	Saved     *Saved     `json:"saved,omitempty"`      // an entry's transaction completed, in any tab
	Timer     *struct{}  `json:"timer,omitempty"`      // the time of the last Wake has come
	Online    *struct{}  `json:"online,omitempty"`     // the network may be back, or a person asks
	Hint      *struct{}  `json:"hint,omitempty"`       // the server says there is something new
	Visible   *bool      `json:"visible,omitempty"`    // the page came to the front, or left it
	Join      *Join      `json:"join,omitempty"`       // a person typed a code
	Replied   *Replied   `json:"replied,omitempty"`    // a Send was answered
	Failed    *Failed    `json:"failed,omitempty"`     // a Send was not
	Stored    *struct{}  `json:"stored,omitempty"`     // the last Store's transaction completed
	NotStored *NotStored `json:"not_stored,omitempty"` // it did not, and nothing of it happened
}

// Opened is what the phone's storage holds: its chain, its contact and every
// record in state Unsent.
type Opened struct {
	Chain   Chain   `json:"chain"`
	Contact Contact `json:"contact"`
	Unsent  []Held  `json:"unsent"`
}

// Saved is an entry just stored, and the chain as it is after it.
type Saved struct {
	Chain Chain `json:"chain"`
	Held  Held  `json:"held"`
}

// Join is a person's wish to join with a code.
type Join struct {
	Code string `json:"code"`
}

// Replied is a whole reply. SentMS and ReceivedMS are on a clock that only
// runs forward (performance.now()); WallMS is the phone's clock at receipt.
type Replied struct {
	ID          int64  `json:"id"` // of the Send
	Status      int    `json:"status"`
	Body        string `json:"body"`
	RetryAfterS int64  `json:"retry_after_s"` // 0 if the reply has none
	SentMS      int64  `json:"sent_ms"`
	ReceivedMS  int64  `json:"received_ms"`
	WallMS      int64  `json:"wall_ms"`
}

// Failed is a request without a whole reply: no network, or too slow.
type Failed struct {
	ID     int64  `json:"id"`
	Reason string `json:"reason"`
}

// NotStored says why a Store did not happen.
type NotStored struct {
	Reason Reason `json:"reason"`
}

// Reason why a Store did not happen.
type Reason string

const (
	Moved Reason = "moved" // the chain is no longer the one the Store was made for
	Quota Reason = "quota" // the phone's storage is full
	Other Reason = "other"
)

// An Effect is what the phone has to do; exactly one field is set. Effects are
// done in order. At most one Send and one Store are ever under way, but for a
// Send whose reply will not count, because the Store before it did not happen.
type Effect struct {
	Send  *Send  `json:"send,omitempty"`
	Store *Store `json:"store,omitempty"`
	Load  *Load  `json:"load,omitempty"`
	Wake  *Wake  `json:"wake,omitempty"`
	Tell  *Tell  `json:"tell,omitempty"`
}

// Send is a request; it ends in one Replied or Failed with its ID.
type Send struct {
	ID        int64  `json:"id"`
	Method    string `json:"method"`
	Path      string `json:"path"` // with its query
	Type      string `json:"type"` // of the body, if there is one
	Body      string `json:"body,omitempty"`
	TimeoutMS int64  `json:"timeout_ms"`
}

// Store is one transaction on the phone's storage, done whole or not at all.
// It ends in Stored or NotStored.
type Store struct {
	Chain   *Swap    `json:"chain,omitempty"`   // if the chain is not From: NotStored{Moved}
	Contact *Contact `json:"contact,omitempty"` // replaces the contact
	Put     []Held   `json:"put,omitempty"`     // each replaces the record of its id
	Pulled  bool     `json:"pulled,omitempty"`  // and is likely new: a storage may try to add it first
	Reoffer bool     `json:"reoffer,omitempty"` // sets every record's state to Unsent

	Records []record.Record `json:"-"` // Put, read, if Pulled; for who folds them once they are stored
}

// Swap replaces the chain.
type Swap struct {
	From Chain `json:"from"`
	To   Chain `json:"to"`
}

// Load asks for the storage to be read again and told as Opened.
type Load struct{}

// Wake asks for a Timer; it replaces the Wake before it.
type Wake struct {
	AfterMS int64 `json:"after_ms"`
}

// Tell is what the badge shows.
type Tell struct {
	Unsent   int           `json:"unsent"`
	Device   string        `json:"device"`
	LastMS   int64         `json:"last_ms"`   // phone's clock at the last reply, 0 for never
	OffsetMS int64         `json:"offset_ms"` // server's clock minus the phone's
	Doing    Doing         `json:"doing"`
	NeedCode bool          `json:"need_code"` // a person has to join this phone (again)
	Suspect  bool          `json:"suspect"`   // the phone's clock is more than five minutes off
	Problem  *record.Fault `json:"problem,omitempty"`
}

// Doing is what the exchange is at.
type Doing string

const (
	Resting  Doing = "resting" // all that could be done is done
	Pushing  Doing = "pushing"
	Pulling  Doing = "pulling"
	Joining  Doing = "joining"
	Retrying Doing = "retrying" // it failed, and will try again
)
