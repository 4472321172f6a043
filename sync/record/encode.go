package record

import (
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// Encode writes the one line of a record, without a line end. It refuses,
// with a Fault, what Decode would refuse.
func Encode(r Record) ([]byte, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	if !compactObject(r.Body) {
		return nil, malformed("body", string(r.Body), bodyForm)
	}
	line := make([]byte, 0, 384+len(r.Body))
	line = append(line, `{"id":"`...)
	line = append(line, r.ID.String()...)
	line = append(line, `","device":"`...)
	line = append(line, r.Device...)
	line = append(line, `","seq":`...)
	line = strconv.AppendInt(line, r.Seq, 10)
	line = append(line, `,"prev":"`...)
	line = append(line, r.Prev.String()...)
	line = append(line, `","clock":"`...)
	line = r.Clock.append(line)
	line = append(line, `","written":"`...)
	line = append(line, r.Written...)
	line = append(line, `","happened":"`...)
	line = append(line, r.Happened...)
	line = append(line, `","by":"`...)
	line = append(line, r.By...)
	line = append(line, `","kind":"`...)
	line = append(line, r.Kind...)
	line = append(line, `","v":`...)
	line = strconv.AppendInt(line, int64(r.V), 10)
	line = append(line, `,"seen":`...)
	line = strconv.AppendInt(line, r.Seen, 10)
	line = append(line, `,"body":`...)
	line = append(line, r.Body...)
	line = append(line, '}')
	if len(line) > MaxLine {
		return nil, tooLong(len(line))
	}
	return line, nil
}

// Decode reads a line that Encode wrote. Everything else is refused with a
// Fault that names the first field that is wrong: another order, a space, an
// escape in the header, a leading zero, a missing or further field, a body
// that is not one compact object.
func Decode(line []byte) (Record, error) {
	if len(line) > MaxLine {
		return Record{}, tooLong(len(line))
	}
	// The header is read as one string, so that its fields share one
	// allocation; no header is longer than this.
	const longest = 640
	s := scanner{rest: string(line[:min(len(line), longest)])}
	var r Record
	r.ID = parsed(&s, `{"id":"`, `"`, "id", "an id is a UUID of version 7 in lower case", parseID)
	r.Device = parsed(&s, `,"device":"`, `"`, "device", "a record names its device", verbatim)
	r.Seq = parsed(&s, `,"seq":`, `,`, "seq", numberForm, parseNumber)
	r.Prev = parsed(&s, `"prev":"`, `"`, "prev", digestForm, parseDigest)
	r.Clock = parsed(&s, `,"clock":"`, `"`, "clock", clockForm, parseClock)
	r.Written = Stamp(parsed(&s, `,"written":"`, `"`, "written", stampForm, verbatim))
	r.Happened = Stamp(parsed(&s, `,"happened":"`, `"`, "happened", stampForm, verbatim))
	r.By = parsed(&s, `,"by":"`, `"`, "by", "a record is signed", verbatim)
	r.Kind = parsed(&s, `,"kind":"`, `"`, "kind", "a record has a kind", verbatim)
	r.V = int(parsed(&s, `,"v":`, `,`, "v", numberForm, parseNumber))
	r.Seen = parsed(&s, `"seen":`, `,`, "seen", numberForm, parseNumber)
	s.expect(`"body":`, "body")
	if s.err != nil {
		return Record{}, s.err
	}
	if err := r.check(); err != nil {
		return Record{}, err
	}
	if line[len(line)-1] != '}' {
		return Record{}, malformed("record", string(line[s.read:]), "a record ends with its body and one brace")
	}
	r.Body = line[s.read : len(line)-1 : len(line)-1]
	if !compactObject(r.Body) {
		return Record{}, malformed("body", string(r.Body), bodyForm)
	}
	return r, nil
}

const (
	digestForm = "a digest is 64 lower-case hex digits, or empty"
	numberForm = "a number is plain digits without a leading zero, below 2^53"
	bodyForm   = "a body is one compact JSON object, nested at most 32 deep"
)

func tooLong(n int) error {
	return Fault{Code: TooLong, Field: "record", Value: strconv.Itoa(n) + " bytes", Limit: "an entry has at most 65536 bytes",
		Remedy: "write it as two entries"}
}

// A scanner reads the header's fields in their one order and keeps the first
// fault.
type scanner struct {
	rest string
	read int // bytes read
	err  error
}

func (s *scanner) expect(text, field string) {
	if s.err == nil && !strings.HasPrefix(s.rest, text) {
		s.err = malformed(field, s.rest, "a record's fields stand in one order, without spaces: here "+text)
	}
	if s.err == nil {
		s.rest = s.rest[len(text):]
		s.read += len(text)
	}
}

// parsed reads one field between its key and the byte that ends its value.
func parsed[T any](s *scanner, key, end, field, form string, parse func(string) (T, bool)) (value T) {
	s.expect(key, field)
	if s.err != nil {
		return value
	}
	n := strings.IndexByte(s.rest, end[0])
	if n < 0 {
		s.err = malformed(field, s.rest, form)
		return value
	}
	value, ok := parse(s.rest[:n])
	if !ok {
		s.err = malformed(field, s.rest[:n], form)
		return value
	}
	s.rest = s.rest[n+1:]
	s.read += n + 1
	return value
}

func verbatim(s string) (string, bool) { return s, true }

func parseID(s string) (id uuid.UUID, ok bool) {
	if len(s) != 36 || s[8] != '-' || s[13] != '-' || s[18] != '-' || s[23] != '-' {
		return id, false
	}
	for n, at := range [...]int{0, 2, 4, 6, 9, 11, 14, 16, 19, 21, 24, 26, 28, 30, 32, 34} {
		high, low := nibble(s[at]), nibble(s[at+1])
		if high < 0 || low < 0 {
			return id, false
		}
		id[n] = byte(high<<4 | low)
	}
	return id, true
}

func parseDigest(s string) (d Digest, ok bool) {
	if s == "" {
		return d, true
	}
	if len(s) != 2*len(d) {
		return d, false
	}
	for i := range d {
		high, low := nibble(s[2*i]), nibble(s[2*i+1])
		if high < 0 || low < 0 {
			return d, false
		}
		d[i] = byte(high<<4 | low)
	}
	return d, d != Digest{} // 64 zeros would be a second spelling of 'none'
}

func parseNumber(s string) (n int64, ok bool) {
	if s == "" || len(s) > 16 || s[0] == '0' && s != "0" {
		return 0, false
	}
	for _, b := range []byte(s) {
		if b < '0' || b > '9' {
			return 0, false
		}
		n = n*10 + int64(b-'0')
	}
	return n, n <= MaxSeq
}
