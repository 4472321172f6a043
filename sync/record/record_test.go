package record

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// first and second are two lines of one device, as DEVELOPERS.md writes them.
const (
	first  = `{"id":"01934f6e-1a2b-7c3d-8e4f-5a6b7c8d9e0f","device":"heron41","seq":1,"prev":"","clock":"01934f6e1a2b-0000","written":"2026-11-25T09:09:32-05:00","happened":"2026-11-25T09:05:00-05:00","by":"JS","kind":"draw read","v":1,"seen":311,"body":{"reading":"192.85proof","temperature":"72.10F"}}`
	second = `{"id":"01934f6e-1a2c-7c3d-8e4f-5a6b7c8d9e0f","device":"heron41","seq":2,"prev":"%s","clock":"01934f6e1a2b-0001","written":"2026-11-25T14:09:33.250Z","happened":"2026-11-25T14:09:33Z","by":"Jo Sørli","kind":"bottles counted","v":2,"seen":0,"body":{}}`
)

func line2() string { return fmt.Sprintf(second, DigestOf([]byte(first))) }

func TestDecode(t *testing.T) {
	r, err := Decode([]byte(first))
	require.NoError(t, err)
	assert.Equal(t, uuid.MustParse("01934f6e-1a2b-7c3d-8e4f-5a6b7c8d9e0f"), r.ID)
	assert.Equal(t, "heron41-1", r.Address())
	assert.Equal(t, Digest{}, r.Prev)
	assert.Equal(t, "01934f6e1a2b-0000", r.Clock.String())
	assert.Equal(t, time.Date(2026, 11, 25, 14, 9, 32, 0, time.UTC), r.Written.Time().UTC())
	assert.Equal(t, "2026-11-25 09:05:00 -0500", r.Happened.Time().Format("2006-01-02 15:04:05 -0700"), "the offset stays as it was said")
	assert.Equal(t, Header{ID: r.ID, Device: "heron41", Seq: 1, Clock: r.Clock, Written: "2026-11-25T09:09:32-05:00",
		Happened: "2026-11-25T09:05:00-05:00", By: "JS", Kind: "draw read", V: 1, Seen: 311}, r.Header)
	assert.Equal(t, `{"reading":"192.85proof","temperature":"72.10F"}`, string(r.Body))

	next, err := Decode([]byte(line2()))
	require.NoError(t, err)
	assert.Equal(t, DigestOf([]byte(first)), next.Prev)
	assert.EqualValues(t, 250, next.Written.UnixMilli()%1000)
	assert.Negative(t, Compare(r.Header, next.Header))
}

// The digest is what any program would take: sha256sum of the domain and the
// line. The figure is from `printf 'gaugebook record 1\n%s' "$line" | sha256sum`.
func TestDigest(t *testing.T) {
	assert.Equal(t, "896d8000ffa39c33df4fb85a5b2e73b4f12b6dcadf574cea9f450980ae742749", DigestOf([]byte(first)).String())
	assert.Empty(t, Digest{}.String())

	// printf 'gaugebook log 1\n' | cat - <(head -c 32 /dev/zero) <(printf %s "$line") | sha256sum
	assert.Equal(t, "1-f500aa6d2a95a477ff2ca7141f83e175862f654e435e92b9bb51f7d1e549c783", Mark{}.Next([]byte(first)).String())
}

// Every way of writing the same record otherwise is refused, and the fault
// names the field.
func TestRefusesOtherSpellings(t *testing.T) {
	for _, c := range []struct{ why, from, to, field string }{
		{"a space after a colon", `"seq":1`, `"seq": 1`, "seq"},
		{"a space at the end", `"}}`, `"}} `, "record"},
		{"a line end", `"}}`, "\"}}\n", "record"},
		{"a space in the body", `":"192`, `": "192`, "body"},
		{"another order", `"device":"heron41","seq":1`, `"seq":1,"device":"heron41"`, "device"},
		{"a missing field", `"by":"JS",`, ``, "by"},
		{"a further field", `"by":"JS",`, `"by":"JS","too":1,`, "kind"},
		{"an escape in the header", `"by":"JS"`, `"by":"J\u0053"`, "by"},
		{"a quote in the signature", `"by":"JS"`, `"by":"J\"S"`, "kind"},
		{"a control character", `"by":"JS"`, "\"by\":\"J\x01S\"", "by"},
		{"no signature", `"by":"JS"`, `"by":""`, "by"},
		{"text that is not UTF-8", `"by":"JS"`, "\"by\":\"\xff\"", "by"},
		{"an id in upper case", `01934f6e-1a2b-7c3d`, `01934F6E-1a2b-7c3d`, "id"},
		{"an id of another version", `-7c3d-8e4f`, `-4c3d-8e4f`, "id"},
		{"an id of another variant", `-7c3d-8e4f`, `-7c3d-0e4f`, "id"},
		{"an id too short", `5a6b7c8d9e0f"`, `5a6b7c8d9e0"`, "id"},
		{"a device without a number", `heron41`, `heron`, "device"},
		{"a device of one letter", `heron41`, `h41`, "device"},
		{"a device in upper case", `heron41`, `Heron41`, "device"},
		{"a device with four digits", `heron41`, `heron4141`, "device"},
		{"number 0", `"seq":1`, `"seq":0`, "seq"},
		{"a leading zero", `"seq":1`, `"seq":01`, "seq"},
		{"a sign", `"seq":1`, `"seq":+1`, "seq"},
		{"a number beyond 2^53", `"seq":1`, `"seq":9007199254740992`, "seq"},
		{"a second entry without a predecessor", `"seq":1`, `"seq":2`, "prev"},
		{"a predecessor of 64 zeros", `"prev":""`, `"prev":"` + strings.Repeat("0", 64) + `"`, "prev"},
		{"a digest in upper case", `"prev":""`, `"prev":"` + strings.Repeat("A", 64) + `"`, "prev"},
		{"a first entry with a predecessor", `"prev":""`, `"prev":"` + strings.Repeat("a", 64) + `"`, "prev"},
		{"a clock without a hyphen", `01934f6e1a2b-0000`, `01934f6e1a2b00000`, "clock"},
		{"a clock in upper case", `01934f6e1a2b-0000`, `01934F6E1A2B-0000`, "clock"},
		{"no offset", `09:09:32-05:00`, `09:09:32`, "written"},
		{"an unknown offset", `09:09:32-05:00`, `09:09:32-00:00`, "written"},
		{"an offset of 24 hours", `09:09:32-05:00`, `09:09:32-24:00`, "written"},
		{"tenths of a second", `09:09:32-05:00`, `09:09:32.5-05:00`, "written"},
		{"microseconds", `09:09:32-05:00`, `09:09:32.500000-05:00`, "written"},
		{"a leap second", `09:09:32-05:00`, `09:09:60-05:00`, "written"},
		{"a lower-case t", `25T09:09:32`, `25t09:09:32`, "written"},
		{"the 31st of November", `"happened":"2026-11-25`, `"happened":"2026-11-31`, "happened"},
		{"the 29th of February in a common year", `"happened":"2026-11-25`, `"happened":"2026-02-29`, "happened"},
		{"year 0", `"happened":"2026`, `"happened":"0000`, "happened"},
		{"a kind in upper case", `draw read`, `Draw read`, "kind"},
		{"a kind with two spaces", `draw read`, `draw  read`, "kind"},
		{"a kind that ends in a space", `draw read`, `draw `, "kind"},
		{"version 0", `"v":1`, `"v":0`, "v"},
		{"version 10000", `"v":1`, `"v":10000`, "v"},
		{"a fraction", `"v":1`, `"v":1.0`, "v"},
		{"a negative mark", `"seen":311`, `"seen":-1`, "seen"},
		{"a body that is a list", `{"reading":"192.85proof","temperature":"72.10F"}`, `[]`, "body"},
		{"a body that is no JSON", `"192.85proof"`, `192.85proof`, "body"},
		{"a body with a comma too many", `"72.10F"}`, `"72.10F",}`, "body"},
		{"a body and something after it", `"72.10F"}`, `"72.10F"}{}`, "body"},
		{"a body with a bare control character", `192.85proof`, "192.85\tproof", "body"},
		{"a body with a bad escape", `192.85proof`, `192.85\xproof`, "body"},
		{"a body with a number in another base", `"192.85proof"`, `0x1`, "body"},
		{"no body", first, `{"id":"01934f6e-1a2b-7c3d-8e4f-5a6b7c8d9e0f"}`, "device"},
		{"nothing", first, ``, "id"},
	} {
		t.Run(c.why, func(t *testing.T) {
			require.Contains(t, first, c.from)
			_, err := Decode([]byte(strings.Replace(first, c.from, c.to, 1)))
			var fault Fault
			require.ErrorAs(t, err, &fault)
			assert.Equal(t, c.field, fault.Field, "%v", err)
			assert.NotEmpty(t, fault.Remedy)
		})
	}
}

func TestRefusesTooMuch(t *testing.T) {
	r, err := Decode([]byte(first))
	require.NoError(t, err)
	room := MaxLine - len(first) + len(r.Body)
	r.Body = []byte(`{"note":"` + strings.Repeat("x", room-len(`{"note":""}`)) + `"}`)
	line, err := Encode(r)
	require.NoError(t, err)
	require.Len(t, line, MaxLine)
	_, err = Decode(line)
	require.NoError(t, err)

	r.Body = []byte(strings.Replace(string(r.Body), "xx", "xxx", 1))
	_, err = Encode(r)
	require.ErrorContains(t, err, "an entry has at most 65536 bytes")
	_, err = Decode(append(line, ' '))
	require.ErrorContains(t, err, "an entry has at most 65536 bytes")

	r.Body = []byte(`{"a":` + strings.Repeat("[", deepest) + strings.Repeat("]", deepest) + `}`)
	_, err = Encode(r)
	require.ErrorContains(t, err, "nested at most 32 deep")
}

// Our scan and encoding/json agree on what is compact JSON.
func TestBodyAgreesWithJSON(t *testing.T) {
	for _, body := range []string{`{}`, `{"a":1}`, `{"a":-0}`, `{"a":01}`, `{"a":1.}`, `{"a":.5}`, `{"a":1e5}`, `{"a":1E+5}`, `{"a":1e}`, `{"a":-}`,
		`{"a":true,"b":false,"c":null}`, `{"a":tru}`, `{"a":[1,[],{}]}`, `{"a":[1,]}`, `{"a"}`, `{"a":}`, `{,}`, `{"a":"\u00e4\n\/"}`,
		`{"a":"\u00g0"}`, "{\"a\":\"\\u00\x100\"}", `{"a":"ä"}`, "{\"a\":\"\xff\"}", `{"a":1 }`, `{ }`, `{`, `}`, ``, `{"a":"`, `{"a":"\`} {
		assert.Equal(t, compactByJSON([]byte(body)), compactObject([]byte(body)), "%q", body)
	}
}

// compactByJSON asks the standard library. It repairs what is not UTF-8; a
// record must not.
func compactByJSON(body []byte) bool {
	var b bytes.Buffer
	return json.Compact(&b, body) == nil && b.String() == string(body) && strings.HasPrefix(b.String(), "{") &&
		strings.ToValidUTF8(string(body), "") == string(body)
}

func TestSameContent(t *testing.T) {
	a, err := Decode([]byte(first))
	require.NoError(t, err)
	moved := a
	moved.Device, moved.Seq, moved.Prev = "otter17", 9, DigestOf(nil)
	assert.True(t, SameContent(a, moved), "a re-numbered entry is still that entry")
	for name, change := range map[string]func(*Record){
		"body": func(r *Record) { r.Body = []byte(`{}`) }, "by": func(r *Record) { r.By = "XX" }, "kind": func(r *Record) { r.Kind = "note" },
		"happened": func(r *Record) { r.Happened = "2026-11-25T09:05:01-05:00" }, "id": func(r *Record) { r.ID[15]++ }, "clock": func(r *Record) { r.Clock++ },
	} {
		changed := moved
		change(&changed)
		assert.False(t, SameContent(a, changed), name)
	}
}

// Generators for the properties.

func stamps() *rapid.Generator[Stamp] {
	return rapid.Custom(func(t *rapid.T) Stamp {
		ms := rapid.Int64Range(-62135510400000, 253402214400000).Draw(t, "ms")
		zone := time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "offset"))
		return StampOf(time.UnixMilli(ms).In(zone))
	})
}

func records() *rapid.Generator[Record] {
	return rapid.Custom(func(t *rapid.T) Record {
		r := Record{Header: Header{
			ID:       NewID(time.UnixMilli(rapid.Int64Range(0, 1<<48-1).Draw(t, "id")), [10]byte(rapid.SliceOfN(rapid.Byte(), 10, 10).Draw(t, "random"))),
			Device:   rapid.StringMatching(`[a-z]{2,16}[0-9]{2,3}`).Draw(t, "device"),
			Seq:      rapid.Int64Range(1, MaxSeq).Draw(t, "seq"),
			Clock:    Clock(rapid.Uint64().Draw(t, "clock")),
			Written:  stamps().Draw(t, "written"),
			Happened: stamps().Draw(t, "happened"),
			By:       rapid.StringMatching(`[A-Za-zäöüß ]{1,16}`).Draw(t, "by"),
			Kind:     rapid.StringMatching(`[a-z]{1,9}([ -][a-z]{1,9}){0,3}`).Draw(t, "kind"),
			V:        rapid.IntRange(1, MaxV).Draw(t, "v"),
			Seen:     rapid.Int64Range(0, MaxSeq).Draw(t, "seen"),
		}}
		if r.Seq > 1 {
			r.Prev = DigestOf([]byte(rapid.String().Draw(t, "prev")))
		}
		body, err := json.Marshal(rapid.MapOf(rapid.String(), rapid.OneOf(
			rapid.Map(rapid.String(), func(s string) any { return s }), rapid.Map(rapid.Float64(), func(f float64) any { return f }),
			rapid.Map(rapid.SliceOf(rapid.Bool()), func(b []bool) any { return b }))).Draw(t, "body"))
		if err != nil {
			t.Fatal(err)
		}
		r.Body = body
		return r
	})
}

// A record comes back from its line, and its line from the record.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := records().Draw(t, "record")
		line, err := Encode(r)
		require.NoError(t, err)
		require.NotContains(t, string(line), "\n")
		require.True(t, json.Valid(line), "%s", line)
		back, err := Decode(line)
		require.NoError(t, err, "%s", line)
		require.Equal(t, r, back)
		again, err := Encode(back)
		require.NoError(t, err)
		require.Equal(t, string(line), string(again))
	})
}

// A stamp means what the standard library reads in it.
func TestStampAgreesWithTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := stamps().Draw(t, "stamp")
		want, err := time.Parse(time.RFC3339, string(s))
		require.NoError(t, err)
		ms, ok := s.millis()
		require.True(t, ok, s)
		require.Equal(t, want.UnixMilli(), ms, s)
		require.True(t, want.Equal(s.Time()), s)
	})
	assert.True(t, Stamp("yesterday").Time().IsZero())
}

func TestOrder(t *testing.T) {
	base, err := Decode([]byte(first))
	require.NoError(t, err)
	later := func(change func(*Header)) Header {
		h := base.Header
		change(&h)
		return h
	}
	inOrder := []Header{
		later(func(h *Header) { h.Happened, h.Clock = "2026-11-25T09:04:59-05:00", h.Clock+9 }),
		base.Header,
		later(func(h *Header) { h.Happened, h.Device = "2026-11-25T14:05:00Z", "ibis11" }), // the same moment in another zone
		later(func(h *Header) { h.Seq, h.Device = 2, "ibis11" }),
		later(func(h *Header) { h.Clock++ }),
		later(func(h *Header) { h.Happened, h.Clock = "2026-11-25T09:05:01-05:00", 0 }),
	}
	for i := range inOrder {
		for j := range inOrder {
			want := 0
			if i != j {
				want = map[bool]int{true: -1, false: 1}[i < j]
			}
			assert.Equal(t, want, Compare(inOrder[i], inOrder[j]), "%d and %d", i, j)
		}
	}
}

func TestNewID(t *testing.T) {
	now := time.UnixMilli(0x0193_4f6e_1a2b)
	id := NewID(now, [10]byte{0xff, 0xff, 0xff, 0xff})
	assert.Equal(t, "01934f6e-1a2b-7fff-bfff-000000000000", id.String())
	assert.Equal(t, uuid.Version(7), id.Version())
	assert.Equal(t, uuid.RFC4122, id.Variant())
}

func BenchmarkDecode(b *testing.B) {
	line := []byte(line2())
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(line); err != nil {
			b.Fatal(err)
		}
	}
}

// The book of a phone that has 200,000 entries.
func BenchmarkDecode200000(b *testing.B) {
	var book [][]byte
	for i := range 200_000 {
		r, err := Decode([]byte(first))
		if err != nil {
			b.Fatal(err)
		}
		r.ID[15], r.ID[14], r.ID[13], r.Seen = byte(i), byte(i>>8), byte(i>>16), int64(i)
		line, err := Encode(r)
		if err != nil {
			b.Fatal(err)
		}
		book = append(book, line)
	}
	for b.Loop() {
		for _, line := range book {
			if _, err := Decode(line); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	r, err := Decode([]byte(line2()))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Encode(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDigest(b *testing.B) {
	line := []byte(line2())
	for b.Loop() {
		DigestOf(line)
	}
}

// FuzzDecode holds that Decode takes what Encode writes and nothing else, and
// agrees with the standard library's JSON about it.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(first))
	f.Add([]byte(line2()))
	f.Add([]byte(strings.Replace(first, `"body":{`, `"body":{"a":[1.5e-3,true,null,"\u00e4\\"],`, 1)))
	f.Add([]byte(strings.Replace(first, `"by":"JS"`, `"by":"J\"S"`, 1)))
	f.Add([]byte(first[:len(first)/2]))
	f.Fuzz(func(t *testing.T, line []byte) {
		r, err := Decode(line)
		if err != nil {
			var fault Fault
			require.ErrorAs(t, err, &fault)
			return
		}
		require.True(t, json.Valid(line), "%q", line)
		require.True(t, compactByJSON(line), "%q", line)
		again, err := Encode(r)
		require.NoError(t, err)
		require.Equal(t, string(line), string(again))
	})
}
