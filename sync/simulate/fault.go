package simulate

import "math/rand/v2"

// A Fault is one way for things to go wrong.
type Fault int

// Faults that may strike at any moment of their kind, and faults that the day
// has as actions at a time of their own.
const (
	RequestLost Fault = iota
	RequestDoubled
	RequestLate // so late that the phone has given it up
	ReplyLost
	ReplyLate
	ServerCrashBeforeCommit
	ServerCrashAfterCommit
	TooMuch  // 413
	TooMany  // 429
	Busy     // 503
	Stranger // another program answers, 200
	PhoneCrashAtEffect
	PhoneCrashBeforeStore
	PhoneCrashAfterStore
	QuotaAtStore
	QuotaAtSave
	HintLost
	firstAction
)

// The day's actions that are faults.
const (
	Partition Fault = firstAction + iota
	ServerCrash
	ServerFull // 507
	PhoneCrash
	TornTransactions
	Eviction
	StorageRot
	ClockJump
	Clone
	Restore
	Revoke
	OldBuild // 426
	faults
)

var faultNames = [faults]string{
	RequestLost: "request lost", RequestDoubled: "request doubled", RequestLate: "request late",
	ReplyLost: "reply lost", ReplyLate: "reply late",
	ServerCrashBeforeCommit: "server crash before commit", ServerCrashAfterCommit: "server crash after commit",
	TooMuch: "413 too much", TooMany: "429 too many", Busy: "503 busy", Stranger: "stranger answers",
	PhoneCrashAtEffect: "phone crash at an effect", PhoneCrashBeforeStore: "phone crash before a transaction",
	PhoneCrashAfterStore: "phone crash after a transaction", QuotaAtStore: "quota at an exchange", QuotaAtSave: "quota at a save",
	HintLost: "hint lost", Partition: "partition", ServerCrash: "server crash", ServerFull: "507 server full", PhoneCrash: "phone crash",
	TornTransactions: "torn transactions", Eviction: "storage evicted", StorageRot: "storage rot", ClockJump: "clock jump",
	Clone: "phone cloned", Restore: "older backup restored", Revoke: "role revoked", OldBuild: "426 old build",
}

func (f Fault) String() string { return faultNames[f] }

// Faults is every Fault there is.
func Faults() []Fault {
	all := make([]Fault, faults)
	for i := range all {
		all[i] = Fault(i)
	}
	return all
}

// streams of chance that are no fault's.
const (
	streamPlan = uint64(faults) + iota
	streamLatency
	streamPeople
	streamIdentity
	streamJitter
)

func stream(seed, which uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, which)) }

// strikes draws whether a fault happens now. Each fault has a stream of its
// own, so that leaving one out does not move the others.
func (w *world) strikes(f Fault) bool {
	if w.healed || w.rates[f] == 0 || w.streams[f].Float64() >= w.rates[f] {
		return false
	}
	w.struck[f]++
	if w.plan.without[f] || w.struck[f] <= w.plan.skip[f] {
		return false
	}
	w.coverage.Faults[f]++
	w.trace("   fault: %v", f)
	return true
}
