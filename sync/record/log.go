package record

import (
	"crypto/sha256"
	"strconv"
	"strings"
)

// A Mark is a place in the server's log: the number of the entry that stands
// there and the chain over everything up to it. The zero Mark is the place
// before the first entry. Two logs that agree on a mark agree on all before it,
// so a mark is both a phone's cursor and the head that reports print.
type Mark struct {
	Seq   int64
	Chain Digest
}

const logDomain = "gaugebook log 1\n"

// Next is the mark after a further line:
// chain = SHA-256("gaugebook log 1\n" + previous chain, 32 bytes + line).
func (m Mark) Next(line []byte) Mark {
	h := sha256.New()
	h.Write([]byte(logDomain))
	h.Write(m.Chain[:])
	h.Write(line)
	next := Mark{Seq: m.Seq + 1}
	h.Sum(next.Chain[:0])
	return next
}

// String is "311-" and 64 hex digits, or "0".
func (m Mark) String() string {
	if m.Seq == 0 {
		return "0"
	}
	return strconv.FormatInt(m.Seq, 10) + "-" + m.Chain.String()
}

// MarshalText is String.
func (m Mark) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText wrote, and nothing as the zero Mark.
func (m *Mark) UnmarshalText(text []byte) error {
	if s := string(text); s != "" && s != "0" {
		number, chain, _ := strings.Cut(s, "-")
		seq, okSeq := parseNumber(number)
		digest, okChain := parseDigest(chain)
		if !okSeq || !okChain || seq == 0 || digest == (Digest{}) {
			return malformed("mark", s, "a mark is 0, or a number, a hyphen and 64 hex digits")
		}
		*m = Mark{Seq: seq, Chain: digest}
		return nil
	}
	*m = Mark{}
	return nil
}

// Stored is a line as the server keeps it. Seq is its number in the log; 0
// means it waits in quarantine. No line means there is none.
type Stored struct {
	Line []byte
	Seq  int64
}

// A Tip is what the server holds of one device, log and quarantine together.
type Tip struct {
	Seq     int64  // highest number held; 0 if none
	Digest  Digest // of that entry
	Through int64  // every number from 1 to this one is held
}
