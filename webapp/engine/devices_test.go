package engine

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The page offers what the role writes, and seals nothing else: the office's
// table, asked on the phone.
func TestThePhoneHoldsItselfToItsRole(t *testing.T) {
	e := New(Outside{Now: func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }, Random: strings.NewReader(strings.Repeat("noise", 100))})
	ask := func(name, in string) string { return string(e.Call(name, []byte(in))) }
	var lines []byte
	chain := exchange.Chain{Device: "heron41"}
	for _, tank := range []string{"Tank 1", "Tank 2"} {
		for _, d := range []exchange.Draft{
			{Kind: "vessel registered", V: 1, Body: json.RawMessage(`{"name":"` + tank + `","use":"tank","capacity":"100gal"}`)},
			{Kind: "bottling opened", V: 1, Body: json.RawMessage(`{"tank":"heron41-` + strconv.FormatInt(chain.Seq+1, 10) + `","volume":"20gal","indicated":"80proof","temp":"60F"}`)},
		} {
			d.Written, d.Happened, d.By = record.StampOf(e.outside.Now()), record.StampOf(e.outside.Now()), "JS"
			line, next, err := exchange.Seal(chain, exchange.Contact{}, d, record.NewID(e.outside.Now(), [10]byte{byte(chain.Seq)}))
			require.NoError(t, err)
			lines, chain = append(append(lines, line...), '\n'), next
		}
	}
	e.Call("open", lines)
	var v roleView
	require.NoError(t, json.Unmarshal([]byte(ask("role", `{"role":"counter heron41-2"}`)), &v))
	assert.Equal(t, []string{"bottles counted", "bottles spoiled", "entry voided", "clock doubted"}, v.Kinds)
	assert.Equal(t, []string{"bottling"}, v.Rooms)

	seal := `{"kind":"bottles counted","body":{"bottling":"RUN","loose":"3"},"written":"2026-11-25T09:00:00Z","happened":"2026-11-25T09:00:00Z","by":"JS","chain":{"device":"otter22","seq":0,"prev":"","clock":"000000000000-0000"}}`
	assert.Contains(t, ask("seal", strings.Replace(seal, "RUN", "heron41-2", 1)), `"address":"otter22-1"`)
	assert.Contains(t, ask("seal", strings.Replace(seal, "RUN", "heron41-4", 1)), "is not what a phone of the role counter writes", "another run")
	require.NoError(t, json.Unmarshal([]byte(ask("role", `{"role":"reader"}`)), &v))
	assert.Empty(t, v.Kinds)
	assert.Len(t, v.Rooms, 7)
	assert.Contains(t, ask("seal", strings.Replace(seal, "RUN", "heron41-2", 1)), "role reader")
	assert.Contains(t, ask("role", `{"role":"boss"}`), "is none of owner")
	require.NoError(t, json.Unmarshal([]byte(ask("role", `{"role":""}`)), &v))
	assert.Contains(t, ask("seal", strings.Replace(seal, "RUN", "heron41-4", 1)), `"address":"otter22-1"`, "before the office's first word")
	assert.JSONEq(t, `{"runs":[{"run":"heron41-2","title":"heron41-2","named":["heron41-1"]},{"run":"heron41-4","title":"heron41-4","named":["heron41-3"]}]}`, ask("countable", `{}`))
}

// The mark of a wrong clock says how far it was off, in the unit that reads
// best, and stands at the office's time; the entries it names say so.
func TestAWrongClockIsMarked(t *testing.T) {
	now := time.Date(2036, 11, 25, 9, 0, 0, 0, time.UTC)
	e := New(Outside{Now: func() time.Time { return now }, Random: strings.NewReader(strings.Repeat("noise", 100))})
	for off, want := range map[time.Duration]string{
		-3652 * 24 * time.Hour: `{"kind":"clock doubted","body":{"first":3,"last":5,"off":"3652d","way":"ahead"},"happened":"2026-11-26T09:00:00Z"}`,
		90 * time.Minute:       `{"kind":"clock doubted","body":{"first":3,"last":5,"off":"90min","way":"behind"},"happened":"2036-11-25T10:30:00Z"}`,
		-30 * time.Hour:        `{"kind":"clock doubted","body":{"first":3,"last":5,"off":"30.0h","way":"ahead"},"happened":"2036-11-24T03:00:00Z"}`,
	} {
		in := fmt.Sprintf(`{"chain":{"device":"heron41","seq":5},"after":2,"offset_ms":%d,"written":"2036-11-25T09:00:00Z"}`, off.Milliseconds())
		assert.JSONEq(t, want, string(e.Call("clock", []byte(in))))
	}
	var lines []byte
	chain := exchange.Chain{Device: "heron41"}
	for i, d := range []exchange.Draft{
		{Kind: "supplier registered", V: 1, Body: json.RawMessage(`{"name":"Orchard"}`)},
		{Kind: "supplier registered", V: 1, Body: json.RawMessage(`{"name":"Mill"}`)},
		{Kind: "clock doubted", V: 1, Body: json.RawMessage(`{"off":"3652d","way":"ahead","first":2,"last":2}`)},
	} {
		d.Written, d.Happened = record.StampOf(now), record.StampOf(now)
		d.By = "JS"
		line, next, err := exchange.Seal(chain, exchange.Contact{}, d, record.NewID(now, [10]byte{byte(i)}))
		require.NoError(t, err)
		lines, chain = append(append(lines, line...), '\n'), next
	}
	e.Call("open", lines)
	facts := func(a string) string { return string(e.Call("view", []byte(`{"what":"entry","address":"`+a+`"}`))) }
	assert.Contains(t, facts("heron41-2"), "The clock of heron41 was 3652 days ahead then")
	assert.NotContains(t, facts("heron41-1"), "The clock of")
}

// What the office keeps aside is told in labels and words; what the owner left
// out says who, when and why.
func TestAsidesAreToldInWords(t *testing.T) {
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	e := New(Outside{Now: func() time.Time { return now }, Random: strings.NewReader("")})
	list := `{"what":"asides","asides":[
		{"address":"otter22-1","kind":"bottles counted","v":1,"body":{"bottling":"heron41-2","loose":3}},
		{"address":"otter22-2","kind":"moon phase noted","v":1,"body":{"phase":"full"}}]}`
	var got []shownAside
	ask := func() {
		raw := e.Call("view", []byte(list))
		require.NoError(t, json.Unmarshal(raw, &got), "%s", raw)
	}
	ask()
	require.Len(t, got, 2)
	assert.Contains(t, got[0].Says, pair{"Loose bottles", "3"})
	assert.Equal(t, []pair{{"Content", `{"phase":"full"}`}}, got[1].Says, "a kind of a later build")
	assert.Empty(t, got[0].Left)
	stamp := record.StampOf(now)
	line, _, err := exchange.Seal(exchange.Chain{Device: "heron41"}, exchange.Contact{}, exchange.Draft{Kind: "entry declined", V: 1,
		Body: json.RawMessage(`{"entry":"otter22-1","why":"counted again by the next shift"}`), Happened: stamp, Written: stamp, By: "MQ"}, record.NewID(now, [10]byte{1}))
	require.NoError(t, err)
	e.Call("open", line)
	ask()
	assert.Equal(t, "Left out by MQ on 2026-11-25 at 09:00: counted again by the next shift", got[0].Left)
	assert.Empty(t, got[1].Left)
}
