package record

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"
)

// Limits of a record.
const (
	MaxLine = 64 << 10 // bytes of one line
	MaxBy   = 64       // bytes of By
	MaxKind = 48       // bytes of Kind
	MaxV    = 9999
	MaxSeq  = 1<<53 - 1 // what every JSON reader holds exactly
)

// A Digest is the SHA-256 of a record; the zero Digest is 'no record'.
type Digest [sha256.Size]byte

// domain keeps a record's digest from ever being the digest of something else.
const domain = "gaugebook record 1\n"

// DigestOf is the digest of a record's line (without a line end).
func DigestOf(line []byte) Digest {
	h := sha256.New()
	h.Write([]byte(domain))
	h.Write(line)
	var d Digest
	h.Sum(d[:0])
	return d
}

// String is 64 hex digits, and nothing for the zero Digest.
func (d Digest) String() string {
	if d == (Digest{}) {
		return ""
	}
	return hex.EncodeToString(d[:])
}

// MarshalText is String.
func (d Digest) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Digest) UnmarshalText(text []byte) error {
	v, ok := parseDigest(string(text))
	if !ok {
		return malformed("digest", string(text), digestForm)
	}
	*d = v
	return nil
}

// A Header is everything of a record that sync may know.
type Header struct {
	ID       uuid.UUID // version 7; identity only, never an order
	Device   string    // name of the device that sealed it, a word and two or three digits
	Seq      int64     // number on that device: 1, 2, 3 without a gap
	Prev     Digest    // the device's record before this one; zero for Seq 1
	Clock    Clock
	Written  Stamp  // when, by the device's clock
	Happened Stamp  // when, as a person says
	By       string // who, as they sign
	Kind     string // what kind of entry, in words
	V        int    // version of that kind
	Seen     int64  // the server's number up to which the device had seen the book
}

// Address is the name people read aloud: heron41-12.
func (h Header) Address() string { return h.Device + "-" + strconv.FormatInt(h.Seq, 10) }

// A Record is a header and the body it seals, one compact JSON object.
type Record struct {
	Header
	Body []byte
}

// Compare is book order: when it happened, the logical clock, the device, its
// number. Arrival never counts. No two records of one book compare equal.
func Compare(a, b Header) int {
	return cmp.Or(
		cmp.Compare(a.Happened.UnixMilli(), b.Happened.UnixMilli()),
		cmp.Compare(a.Clock, b.Clock),
		cmp.Compare(a.Device, b.Device),
		cmp.Compare(a.Seq, b.Seq),
	)
}

// SameContent says whether two records say the same thing under one identity,
// wherever they stand in a chain: a re-numbered entry is still that entry.
func SameContent(a, b Record) bool {
	a.Device, a.Seq, a.Prev = b.Device, b.Seq, b.Prev
	return a.Header == b.Header && string(a.Body) == string(b.Body)
}

// NewID makes a UUID version 7 (RFC 9562 §5.7) from a time and ten random
// bytes.
func NewID(now time.Time, random [10]byte) uuid.UUID {
	var id uuid.UUID
	ms := uint64(at(now) >> counterBits)
	for i := range 6 {
		id[i] = byte(ms >> (40 - 8*i))
	}
	copy(id[6:], random[:])
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// check finds the first field that has not its form.
func (h Header) check() error {
	_, written := h.Written.millis()
	_, happened := h.Happened.millis()
	switch {
	case h.ID.Version() != 7 || h.ID.Variant() != uuid.RFC4122:
		return malformed("id", h.ID.String(), "an id is a UUID of version 7")
	case !IsDevice(h.Device):
		return malformed("device", h.Device, "a device is a word of 2 to 16 letters a-z and 2 or 3 digits, like heron41")
	case h.Seq < 1 || h.Seq > MaxSeq:
		return malformed("seq", strconv.FormatInt(h.Seq, 10), "a device numbers its entries 1, 2, 3")
	case (h.Seq == 1) != (h.Prev == Digest{}):
		return malformed("prev", h.Prev.String(), "the first entry of a device has no predecessor and every other has one")
	case !written:
		return malformed("written", string(h.Written), stampForm)
	case !happened:
		return malformed("happened", string(h.Happened), stampForm)
	case !isSignature(h.By):
		return malformed("by", h.By, "a signature is 1 to 64 bytes of plain text without quotes, backslashes or control characters")
	case !isKind(h.Kind):
		return malformed("kind", h.Kind, "a kind is words of a-z joined by one space or hyphen, at most 48 bytes")
	case h.V < 1 || h.V > MaxV:
		return malformed("v", strconv.Itoa(h.V), "a version is 1 to 9999")
	case h.Seen < 0 || h.Seen > MaxSeq:
		return malformed("seen", strconv.FormatInt(h.Seen, 10), "what was seen is a number of the server's log, from 0")
	}
	return nil
}

// IsDevice says whether a name may name a device.
func IsDevice(name string) bool {
	letters := 0
	for letters < len(name) && 'a' <= name[letters] && name[letters] <= 'z' {
		letters++
	}
	digits := name[letters:]
	for _, b := range []byte(digits) {
		if b < '0' || b > '9' {
			return false
		}
	}
	return 2 <= letters && letters <= 16 && 2 <= len(digits) && len(digits) <= 3
}

func isKind(kind string) bool {
	word := false
	for _, b := range []byte(kind) {
		switch {
		case 'a' <= b && b <= 'z':
			word = true
		case (b == ' ' || b == '-') && word:
			word = false
		default:
			return false
		}
	}
	return word && len(kind) <= MaxKind
}

// isSignature admits only text that JSON writes without an escape, so that it
// has one spelling.
func isSignature(by string) bool {
	for _, b := range []byte(by) {
		if b < ' ' || b == '"' || b == '\\' || b == 0x7f {
			return false
		}
	}
	return 1 <= len(by) && len(by) <= MaxBy && utf8.ValidString(by)
}
