package book

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// An Address names an entry: the device that wrote it and its number there,
// "heron41-12". It is also the name of whatever the entry begins: a lot, a run,
// a vessel. Device names are unique in a book, so no two phones, however long
// apart, can give one name to two things, and it can be read aloud.
type Address string

// MakeAddress joins a device and a number.
func MakeAddress(device string, seq uint64) Address {
	return Address(device + "-" + strconv.FormatUint(seq, 10))
}

// Device is the device that wrote the entry.
func (a Address) Device() string {
	return string(a[:max(0, strings.LastIndexByte(string(a), '-'))])
}

// A Moment is an instant with the local time of the place that said it, so that
// a day or a month is the writer's and not the reader's. It is compared by the
// instant. The zero Moment is none.
type Moment struct {
	ms   int64
	text string // RFC 3339, as written
}

// ParseMoment reads an RFC 3339 time with an offset.
func ParseMoment(s string) (Moment, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil || len(s) < len("2006-01-02T15:04:05Z") {
		return Moment{}, fmt.Errorf("%q is not a time such as 2026-11-15T14:05:00-05:00", s)
	}
	return Moment{ms: t.UnixMilli(), text: s}, nil
}

// MomentAt is an instant known by its milliseconds since 1970 and its text,
// for callers that have parsed the text already.
func MomentAt(ms int64, text string) Moment { return Moment{ms: ms, text: text} }

// IsNone reports whether no time was given.
func (m Moment) IsNone() bool { return m.text == "" }

// String is the time as written, RFC 3339.
func (m Moment) String() string { return m.text }

// Day is the writer's date, "2026-11-15"; "" for none.
func (m Moment) Day() string { return m.text[:min(10, len(m.text))] }

// Month is the writer's month, "2026-11"; "" for none.
func (m Moment) Month() string { return m.text[:min(7, len(m.text))] }

// Clock is the writer's time of day, "14:05"; "" for none.
func (m Moment) Clock() string {
	if m.IsNone() {
		return ""
	}
	return m.text[11:16]
}

// Milliseconds since 1970, UTC.
func (m Moment) Milliseconds() int64 { return m.ms }

// Since is the time passed from then to m.
func (m Moment) Since(then Moment) time.Duration {
	return time.Duration(m.ms-then.ms) * time.Millisecond
}

// Before reports whether m is an earlier instant than n.
func (m Moment) Before(n Moment) bool { return m.ms < n.ms }

// An Entry is one fact of the book. It is never changed once made; what a
// correction does to it is worked out by the Book that holds both.
type Entry struct {
	ID       string // UUID, the identity across resends
	Device   string
	Seq      uint64
	Clock    string // hybrid logical clock, fixed-width hexadecimal
	Written  Moment // the device's clock
	Happened Moment // as a person says
	By       string // initials or name of the person; may be empty
	Seen     uint64 // how far the device had read the common log
	Kind     string
	Version  int
	Body     Body   // nil when this build does not know the kind or the version
	Raw      []byte // the body's bytes as sealed
}

// Address is the entry's name.
func (e *Entry) Address() Address { return MakeAddress(e.Device, e.Seq) }

// Known reports whether this build understands the entry.
func (e *Entry) Known() bool { return e.Body != nil }

// place is where an entry stands in the book, and compare is book order:
// when it happened, then when the devices knew of it, then by device and
// number, so that any two entries have one order everywhere.
type place struct {
	ms     int64
	clock  string
	device string
	seq    uint64
}

func (p place) compare(q place) int {
	if c := cmp.Compare(p.ms, q.ms); c != 0 {
		return c
	}
	return p.compareWritten(q)
}

// compareWritten orders corrections: by when they were written, not by when
// what they correct happened.
func (p place) compareWritten(q place) int {
	if c := strings.Compare(p.clock, q.clock); c != 0 {
		return c
	}
	if c := strings.Compare(p.device, q.device); c != 0 {
		return c
	}
	return cmp.Compare(p.seq, q.seq)
}

func (e *Entry) place() place { return place{e.Happened.ms, e.Clock, e.Device, e.Seq} }
