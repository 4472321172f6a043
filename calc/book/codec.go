package book

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// Encode writes a body as its entry stores it: a compact JSON object with the
// fields in the order of the kind, figures as typed ("72.10F"), and nothing for
// what was not given.
func Encode(b Body) []byte {
	k := KindOf(b)
	return appendObject(nil, k.Fields, reflect.ValueOf(b).Elem())
}

func appendObject(out []byte, fields []Field, v reflect.Value) []byte {
	out = append(out, '{')
	first := len(out)
	for i := range fields {
		f := &fields[i]
		fv := v.FieldByIndex(f.index)
		if fv.IsZero() || f.Type == Group && fv.Len() == 0 {
			continue
		}
		if len(out) > first {
			out = append(out, ',')
		}
		out = append(out, '"')
		out = append(out, f.Key...)
		out = append(out, '"', ':')
		switch p := fv.Addr().Interface().(type) {
		case *quantity.Reading:
			out = appendString(out, p.Compact())
		case *int64:
			out = strconv.AppendInt(out, *p, 10)
		case *bool:
			out = append(out, "true"...)
		case *Moment:
			out = appendString(out, p.text)
		case *Inner:
			out = append(out, *p...)
		default:
			if f.Type != Group {
				out = appendString(out, fv.String())
				continue
			}
			out = append(out, '[')
			for j := range fv.Len() {
				if j > 0 {
					out = append(out, ',')
				}
				out = appendObject(out, f.Fields, fv.Index(j))
			}
			out = append(out, ']')
		}
	}
	return append(out, '}')
}

// appendString writes a JSON string, letting every character that JSON allows
// stand as it is.
func appendString(out []byte, s string) []byte {
	out = append(out, '"')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			out = append(out, '\\', c)
		case c == '\n':
			out = append(out, '\\', 'n')
		case c == '\t':
			out = append(out, '\\', 't')
		case c < 0x20:
			out = fmt.Appendf(out, `\u%04x`, c)
		default:
			out = append(out, c)
		}
	}
	return append(out, '"')
}

// Inner is the body of another entry, as bytes, inside an amendment.
type Inner []byte

// Decode reads a stored body. It returns nil and no error for a kind or a
// version that this build does not know, and an error for bytes that no build
// of that version can have written.
func Decode(kind string, version int, body []byte) (Body, error) {
	k, ok := KindNamed(kind)
	if !ok || version > k.Version || version < 1 {
		return nil, nil
	}
	b, v := k.newBody()
	r := reader{rest: body, stored: true}
	r.object(k.Fields, v, "")
	r.end()
	if err := r.faults.list.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", kind, err)
	}
	return b, nil
}

// Compose makes a body of what a person typed: a JSON object in which every
// value may be a string, figures with or without a unit. It answers with all
// that is wrong at once, each fault with its field, and with the body as far as
// it could be read.
func Compose(kind string, c Convention, typed []byte) (Body, fault.List) {
	k, ok := KindNamed(kind)
	if !ok {
		return nil, fault.List{{Code: fault.Unknown, Field: "kind", Value: kind, Limit: "is not a kind of entry this build knows",
			Remedy: "update the app, or choose one of the kinds it lists"}}
	}
	b, v := k.newBody()
	r := reader{rest: typed, convention: c}
	r.object(k.Fields, v, "")
	r.end()
	if len(r.faults.list) == 0 {
		r.faults.list = Check(b)
	}
	return b, r.faults.list
}

// reader reads bodies: stored ones strictly, typed ones as people write.
type reader struct {
	rest       []byte
	stored     bool
	convention Convention
	faults     faults
	broken     bool // the JSON itself cannot be read on
}

func (r *reader) fail(what string) {
	if !r.broken {
		r.broken = true
		r.faults.add(Malformed, "body", excerpt(r.rest), "is not the JSON that was expected: "+what, "send the entry as the format describes it")
	}
}

// Malformed is the fault of bytes that cannot be read at all.
const Malformed fault.Code = "malformed"

func excerpt(b []byte) string { return string(b[:min(len(b), 24)]) }

func (r *reader) space() {
	for len(r.rest) > 0 && (r.rest[0] == ' ' || r.rest[0] == '\n' || r.rest[0] == '\t' || r.rest[0] == '\r') {
		r.rest = r.rest[1:]
	}
}

func (r *reader) take(c byte) bool {
	r.space()
	if len(r.rest) > 0 && r.rest[0] == c {
		r.rest = r.rest[1:]
		return true
	}
	return false
}

func (r *reader) end() {
	r.space()
	if !r.broken && len(r.rest) > 0 {
		r.fail("something follows the closing brace")
	}
}

// text reads a JSON string; the common one without escapes costs no copy.
func (r *reader) text() []byte {
	if !r.take('"') {
		r.fail("a string should stand here")
		return nil
	}
	for i, c := range r.rest {
		switch {
		case c == '"':
			s := r.rest[:i]
			r.rest = r.rest[i+1:]
			return s
		case c == '\\':
			return r.escaped(i)
		case c < 0x20:
			r.fail("a control character stands in a string")
			return nil
		}
	}
	r.fail("a string does not end")
	return nil
}

func (r *reader) escaped(from int) []byte {
	for i := from; i < len(r.rest); i++ {
		switch r.rest[i] {
		case '\\':
			i++
		case '"':
			var s string
			whole := append(append([]byte{'"'}, r.rest[:i]...), '"')
			if err := json.Unmarshal(whole, &s); err != nil {
				r.fail("a string holds a wrong escape")
				return nil
			}
			r.rest = r.rest[i+1:]
			return []byte(s)
		}
	}
	r.fail("a string does not end")
	return nil
}

func (r *reader) object(fields []Field, v reflect.Value, path string) {
	if !r.take('{') {
		r.fail("an object should stand here")
		return
	}
	next := 0
	var seen uint64
	defer r.needed(fields, v, path)
	if r.take('}') {
		return
	}
	for !r.broken {
		key := r.text()
		if !r.take(':') {
			r.fail("a colon should follow the key")
			return
		}
		at := find(fields, key, &next)
		switch {
		case at < 0:
			r.unknown(path, string(key), fields)
		case seen&(1<<at) != 0:
			r.faults.add(fault.Conflict, path+string(key), "", "is given twice", "give it once")
			r.skip()
		default:
			seen |= 1 << at
			r.value(&fields[at], v.FieldByIndex(fields[at].index), path)
		}
		if r.take('}') {
			return
		}
		if !r.take(',') {
			r.fail("a comma or a closing brace should stand here")
		}
	}
}

// needed says which needed fields a stored body lacks: no build saved it so.
func (r *reader) needed(fields []Field, v reflect.Value, path string) {
	for i := range fields {
		if f := &fields[i]; r.stored && f.Need && v.FieldByIndex(f.index).IsZero() {
			r.faults.add(fault.Missing, path+f.Key, "", f.Label+" is needed", "")
		}
	}
}

// find looks for a key where the stored order would have it, then anywhere.
func find(fields []Field, key []byte, next *int) int {
	for i := range fields {
		at := (*next + i) % len(fields)
		if string(key) == fields[at].Key {
			*next = at + 1
			return at
		}
	}
	return -1
}

func (r *reader) unknown(path, key string, fields []Field) {
	keys := make([]string, len(fields))
	for i := range fields {
		keys[i] = fields[i].Key
	}
	r.faults.add(fault.Unknown, path+key, "", "is not a field of this kind", "its fields are "+strings.Join(keys, ", "))
	r.skip()
}

// raw reads one JSON value of any shape and returns its bytes.
func (r *reader) raw() []byte {
	r.space()
	d := json.NewDecoder(bytes.NewReader(r.rest))
	var m json.RawMessage
	if err := d.Decode(&m); err != nil {
		r.fail("a value cannot be read")
		return nil
	}
	r.rest = r.rest[d.InputOffset():]
	return m
}

func (r *reader) skip() { r.raw() }

func (r *reader) value(f *Field, fv reflect.Value, path string) {
	r.space()
	if !r.stored && bytes.HasPrefix(r.rest, []byte("null")) {
		r.rest = r.rest[4:]
		return
	}
	key := path + f.Key
	switch p := fv.Addr().Interface().(type) {
	case *quantity.Reading:
		r.figure(f, p, key)
	case *int64:
		r.count(p, key)
	case *bool:
		r.flag(p, key)
	case *Moment:
		s := string(r.text())
		if s == "" {
			return
		}
		m, err := ParseMoment(s)
		if err != nil {
			r.faults.add(fault.NotOneOf, key, s, "is not a time with its offset, such as 2026-11-15T14:05:00-05:00", "choose a date and a time")
		}
		*p = m
	case *Inner:
		*p = append(Inner(nil), r.raw()...)
	default:
		if f.Type == Group {
			r.group(f, fv, key)
			return
		}
		s := string(r.text())
		switch {
		case !r.stored:
			s = strings.TrimSpace(s)
		case f.Type == Word && s != "" && !slices.Contains(f.Words, s):
			r.faults.add(fault.NotOneOf, key, s, "is a word this field never holds", "")
		}
		fv.SetString(s)
	}
}

func (r *reader) figure(f *Field, p *quantity.Reading, key string) {
	var s string
	if !r.stored && len(r.rest) > 0 && r.rest[0] != '"' {
		s = string(r.raw()) // a JSON number stands for itself
	} else {
		s = string(r.text())
	}
	if r.broken || s == "" || !r.stored && strings.TrimSpace(s) == "" {
		return
	}
	var err error
	if r.stored {
		if err = p.UnmarshalText([]byte(s)); err == nil && !f.takes(p.Unit()) {
			err = fault.Fault{Code: fault.WrongUnit, Value: s, Limit: "is a " + p.Unit().Dimension().String() + ", which this field never holds"}
		}
	} else {
		*p, err = f.parse(s, r.convention)
	}
	r.faults.list.Add(key, err)
}

func (r *reader) count(p *int64, key string) {
	s := ""
	if len(r.rest) > 0 && r.rest[0] == '"' && !r.stored {
		s = strings.TrimSpace(string(r.text()))
		if s == "" {
			return
		}
	} else {
		end := 0
		for end < len(r.rest) && (r.rest[end] == '-' || r.rest[end] >= '0' && r.rest[end] <= '9' || r.rest[end] == '.' || r.rest[end] == 'e' || r.rest[end] == 'E' || r.rest[end] == '+') {
			end++
		}
		s, r.rest = string(r.rest[:end]), r.rest[end:]
		if s == "" {
			r.fail("a whole number should stand here")
			return
		}
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil {
		r.faults.add(fault.NotANumber, key, s, "is not a whole number", "count whole pieces")
		return
	}
	*p = n
}

func (r *reader) flag(p *bool, key string) {
	if !r.stored && len(r.rest) > 0 && r.rest[0] == '"' {
		s := string(r.text())
		*p = s == "yes" || s == "true" || s == "on"
		if !*p && s != "" && s != "no" && s != "false" {
			r.faults.add(fault.NotOneOf, key, s, "is neither yes nor no", "answer yes or no")
		}
		return
	}
	switch {
	case bytes.HasPrefix(r.rest, []byte("true")):
		*p, r.rest = true, r.rest[4:]
	case bytes.HasPrefix(r.rest, []byte("false")):
		r.rest = r.rest[5:]
	default:
		r.fail("true or false should stand here")
	}
}

func (r *reader) group(f *Field, fv reflect.Value, key string) {
	if !r.take('[') {
		r.fail("a list should stand here")
		return
	}
	if r.take(']') {
		return
	}
	for !r.broken {
		if fv.Len() == maxParts {
			r.fail(fmt.Sprintf("%s has more than %d parts", key, maxParts))
			return
		}
		part := reflect.New(f.part).Elem()
		r.object(f.Fields, part, fmt.Sprintf("%s[%d].", key, fv.Len()+1))
		fv.Set(reflect.Append(fv, part))
		if r.take(']') {
			return
		}
		if !r.take(',') {
			r.fail("a comma or a closing bracket should stand here")
		}
	}
}

// Check says what is wrong with a body by itself: fields that are needed, each
// field's limits, and the rules between its fields. The phone asks it before
// saving, the server and the import on arrival.
func Check(b Body) fault.List {
	var f faults
	checkFields(&f, KindOf(b).Fields, reflect.ValueOf(b).Elem(), "")
	if s, ok := b.(sound); ok && len(f.list) == 0 {
		s.sound(&f)
	}
	return f.list
}

// Timely says why a body should not be written into the book as it stands now:
// it names what is not there, draws what is not held, or comes before what it
// needs. It stops a person before saving, with Check; an entry that arrives all
// the same is kept, and asked about.
func (s *State) Timely(b Body) fault.List {
	var f faults
	if t, ok := b.(timely); ok {
		t.timely(s, &f)
	}
	return f.list
}

func checkFields(out *faults, fields []Field, v reflect.Value, path string) {
	for i := range fields {
		f := &fields[i]
		fv := v.FieldByIndex(f.index)
		key := path + f.Key
		if fv.IsZero() {
			if f.Need {
				out.add(fault.Missing, key, "", f.Label+" is needed", "fill it in")
			}
			continue
		}
		switch p := fv.Addr().Interface().(type) {
		case *quantity.Reading:
			checkFigure(out, f, key, *p)
		case *int64:
			if *p < 0 || *p > maxCount {
				code := fault.TooLow
				if *p > 0 {
					code = fault.TooHigh
				}
				out.add(code, key, strconv.FormatInt(*p, 10), fmt.Sprintf("a count lies between 0 and %d", maxCount), "count again")
			}
		case *Day:
			if _, err := time.Parse(time.DateOnly, string(*p)); err != nil {
				out.add(fault.NotOneOf, key, string(*p), "is not a date such as 2026-11-15", "choose a date")
			}
		case *Ref:
			if !addressLike(string(*p)) {
				out.add(fault.Unknown, key, string(*p), "is not the address of an entry, such as heron41-12", "choose one of the "+string(f.RefTo)+"s listed")
			}
		default:
			checkWords(out, f, key, fv, path)
		}
	}
}

func checkWords(out *faults, f *Field, key string, fv reflect.Value, path string) {
	switch f.Type {
	case Word:
		s := fv.String()
		for _, w := range f.Words {
			if s == w {
				return
			}
		}
		out.add(fault.NotOneOf, key, s, "is none of the words this field takes", "choose "+strings.Join(f.Words, ", "))
	case Text:
		if n := fv.Len(); n > f.MaxLen {
			out.add(fault.TooLong, key, excerpt([]byte(fv.String()))+"…", fmt.Sprintf("%d letters are more than the %d this field keeps", n, f.MaxLen), "shorten it, or write a second entry")
		}
	case Group:
		for j := range fv.Len() {
			checkFields(out, f.Fields, fv.Index(j), fmt.Sprintf("%s[%d].", path+f.Key, j+1))
		}
	}
}

func addressLike(s string) bool {
	device, n, ok := strings.Cut(s, "-")
	if !ok || device == "" || n == "" || n[0] == '0' {
		return false
	}
	for _, c := range device {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	for _, c := range n {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func checkFigure(out *faults, f *Field, key string, r quantity.Reading) {
	if !f.takes(r.Unit()) {
		out.add(fault.WrongUnit, key, r.String(), "is a "+r.Unit().Dimension().String()+", and this is a "+f.Units[0].Dimension().String(), "use "+f.Units[0].Symbol())
		return
	}
	if limit, ok := limitFor(f.Min, r); ok && r.In(limit.Unit()) < limit.Float() {
		out.add(fault.TooLow, key, r.String(), "is below "+limit.String()+", the least this field takes", "read the instrument again")
	}
	if limit, ok := limitFor(f.Max, r); ok && r.In(limit.Unit()) > limit.Float() {
		out.add(fault.TooHigh, key, r.String(), "is above "+limit.String()+", the most this field takes", "read the instrument again")
	}
}

// limitFor picks the limit in the reading's own unit, or one it converts to.
func limitFor(limits []quantity.Reading, r quantity.Reading) (quantity.Reading, bool) {
	for _, l := range limits {
		if l.Unit() == r.Unit() {
			return l, true
		}
	}
	for _, l := range limits {
		if l.Unit().Dimension() == r.Unit().Dimension() && l.Unit().Dimension() != quantity.Strength {
			return l, true
		}
	}
	return quantity.Reading{}, false
}
