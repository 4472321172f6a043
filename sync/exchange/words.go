package exchange

import (
	"strconv"

	"gaugebook/sync/record"
)

// What the phone says about trouble, in the words of a person who has wet
// hands and wants to know one thing: is my entry safe?

// A saying is a fault and whether it may wait: no signal is the normal case
// in a still room and worth a word only when it lasts.
type saying struct {
	fault record.Fault
	quiet bool
}

func quietly(f record.Fault) saying { return saying{fault: f, quiet: true} }
func loudly(f record.Fault) saying  { return saying{fault: f} }

func offline(reason string) record.Fault {
	return record.Fault{Code: "offline", Field: "office", Value: reason, Limit: "the office cannot be reached",
		Remedy: "go on writing; the entries are safe on this phone and travel by themselves later"}
}

func unknownReply() record.Fault {
	return record.Fault{Code: "stranger", Field: "office", Limit: "something that is not the office's book answered, such as a network's log-in page",
		Remedy: "check the Wi-Fi; the entries are safe on this phone"}
}

func phoneFull() record.Fault {
	return record.Fault{Code: "phone-full", Field: "storage", Limit: "this phone's storage is full",
		Remedy: "free some space on the phone; nothing that was saved is lost"}
}

func storageFailed() record.Fault {
	return record.Fault{Code: "storage", Field: "storage", Limit: "this phone's storage did not take what the office sent",
		Remedy: "close other tabs of the app and open it again; nothing that was saved is lost"}
}

// refused puts a status into words; where the server gave a better sentence,
// it is the server's.
func refused(r Refusal) saying {
	f := record.Fault{Code: "refused", Field: "office", Value: strconv.Itoa(r.Status), Limit: "the office's book did not take the request",
		Remedy: "tell the owner; the entries are safe on this phone"}
	quiet := false
	switch r.Status {
	case 401:
		f = record.Fault{Code: "not-joined", Field: "phone", Limit: "the office's book does not know this phone, or no longer",
			Remedy: "ask the office for a code and join again; the entries stay on this phone"}
	case 403:
		f = record.Fault{Code: "not-allowed", Field: "phone", Limit: "this phone's role has ended",
			Remedy: "ask the office for a code and join again; the entries stay on this phone"}
		if len(r.Faults) > 0 { // a mistyped code, say
			f = r.Faults[0]
		}
	case 409:
		f = record.Fault{Code: "another-log", Field: "office", Limit: "the office's book was restored from a copy",
			Remedy: "nothing to do; this phone sends again what it holds"}
		quiet = true
	case 413:
		f = record.Fault{Code: record.TooLong, Field: "entry", Limit: "something between this phone and the office does not let the entry pass",
			Remedy: "tell the owner; the entry stays on this phone"}
	case 426:
		f = record.Fault{Code: "too-old", Field: "app", Limit: "this app is older than the office's book",
			Remedy: "close the app and open it again with a network; entries are still sent"}
	case 429, 502, 503, 504:
		f = record.Fault{Code: "busy", Field: "office", Value: strconv.Itoa(r.Status), Limit: "the office's book is busy or starting",
			Remedy: "nothing to do; it is tried again"}
		quiet = true
	case 507:
		f = record.Fault{Code: "office-full", Field: "office", Limit: "the office's disk is full",
			Remedy: "tell the owner; the entries stay on this phone until there is room"}
	default:
		if len(r.Faults) > 0 {
			f = r.Faults[0]
		}
	}
	return saying{fault: f, quiet: quiet}
}
