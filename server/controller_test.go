package server_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaugebook/calc/book"
	"gaugebook/server"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A panel is a tank controller with its key.
type panel struct {
	*phone
	device, key string
}

// panel joins a controller with a code of its own.
func (h *house) panel() *panel {
	h.t.Helper()
	h.clock.Add(6 * time.Second)
	code, err := h.srv.Invite(server.Invitation{Role: server.Controller, Label: "Panel"})
	require.NoError(h.t, err)
	p := &panel{phone: h.browser()}
	r := p.do(p.request("POST", server.PathControllerJoin, exchange.ContentJSON, fmt.Appendf(nil, `{"code":%q}`, code)))
	require.Equal(h.t, http.StatusOK, r.status, r.body)
	var joined struct{ Device, Key string }
	require.NoError(h.t, json.Unmarshal([]byte(r.body), &joined))
	require.Empty(h.t, r.header.Get("Set-Cookie"), "a controller has its key and no cookie")
	p.device, p.key = joined.Device, joined.Key
	return p
}

func (p *panel) raw(query, contentType, body string) reply {
	p.t.Helper()
	req := p.request("POST", server.PathReadings+query, contentType, []byte(body))
	req.Header.Set("Authorization", "Bearer "+p.key)
	return p.do(req)
}

func (p *panel) send(query, contentType, body string) (out server.ReadingsReply) {
	p.t.Helper()
	r := p.raw(query, contentType, body)
	require.Equal(p.t, http.StatusOK, r.status, r.body)
	require.NoError(p.t, json.Unmarshal([]byte(r.body), &out))
	return out
}

// minutes is JSON of n readings of one vessel, a minute apart, up to a time.
func minutes(vessel string, last time.Time, n int) string {
	var rows []string
	for i := range n {
		at := last.Add(time.Duration(i-n+1) * time.Minute)
		rows = append(rows, fmt.Sprintf(`{"vessel":%q,"at":%q,"temp":"%.1fC"}`, vessel, at.Format(time.RFC3339), 18+float64(i%10)/10))
	}
	return `{"controller":"Panel 2","readings":[` + strings.Join(rows, ",") + `]}`
}

// arrivals are the readings in the log, entry by entry.
func (h *house) arrivals() (all []*book.ReadingsArrived, records []record.Record) {
	h.t.Helper()
	for e, err := range h.store.Entries(h.t.Context(), 0) {
		require.NoError(h.t, err)
		r, err := record.Decode(e.Line)
		require.NoError(h.t, err)
		body, err := book.Decode(r.Kind, r.V, r.Body)
		require.NoError(h.t, err)
		if b, ok := body.(*book.ReadingsArrived); ok {
			require.Empty(h.t, book.Check(b), "what the server seals is sound")
			all, records = append(all, b), append(records, r)
		}
	}
	return all, records
}

func TestReadingsWaitAndAreSealedOnce(t *testing.T) {
	h := newHouse(t)
	p := h.panel()
	now := h.clock.Now()
	first := p.send("", exchange.ContentJSON, minutes("heron41-12", now, 10))
	assert.Equal(t, server.ReadingsReply{Taken: 10, Waiting: 10}, first)
	all, _ := h.arrivals()
	require.Empty(t, all, "ten minutes of readings are no entry yet")

	again := p.send("", exchange.ContentJSON, minutes("heron41-12", now, 10))
	assert.Equal(t, server.ReadingsReply{Known: 10, Waiting: 10}, again, "the same again is taken once")

	h.clock.Add(16 * time.Minute)
	later := p.send("", exchange.ContentJSON, minutes("heron41-12", h.clock.Now(), 5))
	assert.Equal(t, server.ReadingsReply{Taken: 5, Stored: 15}, later)
	all, records := h.arrivals()
	require.Len(t, all, 1)
	require.Len(t, all[0].Readings, 15)
	assert.Equal(t, "Panel 2", all[0].Controller)
	assert.Equal(t, "18.3C", all[0].Readings[3].Temp.Compact(), "kept as sent")
	assert.Equal(t, p.device+"-1", records[0].Address())
	assert.Equal(t, h.clock.Now().UnixMilli(), records[0].Happened.UnixMilli(), "it happened when the last was taken")

	known := p.send("?store=now", exchange.ContentJSON, minutes("heron41-12", h.clock.Now(), 5))
	assert.Equal(t, server.ReadingsReply{Known: 5}, known)
}

func TestReadingsAreKnownAfterARestart(t *testing.T) {
	c := &clock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
	path := filepath.Join(t.TempDir(), "book.db")
	open := func() *store.Store {
		s, err := store.Open(t.Context(), path, store.Options{Now: c.Now})
		require.NoError(t, err)
		return s
	}
	h := newHouseOn(t, open(), c)
	p := h.panel()
	body := minutes("heron41-12", c.Now(), 250)
	assert.Equal(t, server.ReadingsReply{Taken: 250, Stored: 250}, p.send("", exchange.ContentJSON, body), "200 are an entry at once")
	waits := minutes("heron41-13", c.Now(), 3)
	assert.Equal(t, 3, p.send("", exchange.ContentJSON, waits).Waiting)
	h.stop()
	require.NoError(t, <-h.served, "a stop stores what waits")
	h.served <- nil
	require.NoError(t, h.store.Close())

	next := newHouseOn(t, open(), c)
	p.phone.house = next
	p.client = next.browser().client
	assert.Equal(t, 250, p.send("", exchange.ContentJSON, body).Known)
	assert.Equal(t, server.ReadingsReply{Known: 3}, p.send("", exchange.ContentJSON, waits))
	all, records := next.arrivals()
	require.Len(t, all, 3)
	assert.Len(t, all[0].Readings, 200)
	for i, r := range records {
		assert.Equal(t, int64(i+1), int64(r.Seq), "one chain, unbroken")
		if i > 0 {
			assert.Greater(t, r.Clock.String(), records[i-1].Clock.String())
		}
	}
}

func TestReadingsAsCSV(t *testing.T) {
	h := newHouse(t)
	p := h.panel()
	out := p.send("?store=now&controller=Panel+9", "text/csv; charset=utf-8",
		"Vessel, at, temp, gravity, ph\nheron41-12,2026-11-25T08:00:00Z,64.9F,1.042sg,\nheron41-12,2026-11-25T08:15:00Z,65.1F,,3.41pH\n")
	assert.Equal(t, server.ReadingsReply{Taken: 2, Stored: 2}, out)
	all, _ := h.arrivals()
	require.Len(t, all, 1)
	assert.Equal(t, "Panel 9", all[0].Controller)
	assert.Equal(t, "1.042sg", all[0].Readings[0].Gravity.Compact())
	assert.Equal(t, "3.41pH", all[0].Readings[1].PH.Compact())
}

// What a reading cannot be is said for each, and the others are taken.
func TestReadingsAtFault(t *testing.T) {
	h := newHouse(t)
	p := h.panel()
	reading := func(more string) string {
		return `{"readings":[{"vessel":"heron41-12","at":"2026-11-25T08:00:00Z","temp":"18C"},` + more + `]}`
	}
	for _, row := range []struct{ why, reading, field, words string }{
		{"no unit", `{"vessel":"heron41-12","at":"2026-11-25T08:01:00Z","temp":"18.4"}`, "readings[2].temp", "unit"},
		{"too hot", `{"vessel":"heron41-12","at":"2026-11-25T08:01:00Z","temp":"184C"}`, "readings[2].temp", "120"},
		{"no vessel", `{"at":"2026-11-25T08:01:00Z","temp":"18C"}`, "readings[2].vessel", "needed"},
		{"no time", `{"vessel":"heron41-12","temp":"18C"}`, "readings[2].at", "needed"},
		{"nothing measured", `{"vessel":"heron41-12","at":"2026-11-25T08:01:00Z"}`, "readings[2].temp", "needed"},
		{"tomorrow", `{"vessel":"heron41-12","at":"2026-11-26T08:01:00Z","temp":"18C"}`, "readings[2].at", "future"},
		{"last summer", `{"vessel":"heron41-12","at":"2026-07-26T08:01:00Z","temp":"18C"}`, "readings[2].at", "40 days"},
	} {
		out := p.send("", exchange.ContentJSON, reading(row.reading))
		require.Len(t, out.Faults, 1, row.why)
		assert.Equal(t, row.field, out.Faults[0].Field, row.why)
		assert.Contains(t, out.Faults[0].Error(), row.words, row.why)
	}
	assert.Equal(t, server.ReadingsReply{Known: 1, Waiting: 1}, p.send("", exchange.ContentJSON, `{"readings":[{"vessel":"heron41-12","at":"2026-11-25T08:00:00Z","temp":"18C"}]}`),
		"the sound one was taken the first time, and once")

	for _, row := range []struct {
		why, contentType, body string
		status                 int
		words                  string
	}{
		{"not a reading among them", exchange.ContentJSON, `{"readings":[{"vessel":"heron41-12","at":"2026-11-25T08:00:00Z","temp":"18"}]}`, 400, "unit"},
		{"none", exchange.ContentJSON, `{"readings":[]}`, 400, "no reading"},
		{"numbers", exchange.ContentJSON, `{"readings":[{"vessel":"heron41-12","temp":18}]}`, 400, "text with its unit"},
		{"no JSON", exchange.ContentJSON, `temp=18`, 400, "JSON"},
		{"an unknown column", "text/csv", "vessel,at,celsius\n", 400, "no column"},
		{"ragged", "text/csv", "vessel,at,temp\nheron41-12\n", 400, "CSV"},
		{"too many", exchange.ContentJSON, `{"readings":[` + strings.Repeat(`{},`, 2000) + `{}]}`, 413, "at most 2000"},
		{"too big", exchange.ContentJSON, `{"controller":"` + strings.Repeat("x", 300<<10) + `"}`, 413, "at most"},
		{"another type", "text/plain", "18", 415, "application/json"},
	} {
		r := p.raw("", row.contentType, row.body)
		assert.Equal(t, row.status, r.status, row.why)
		assert.Contains(t, fmt.Sprint(r.faults(t)), row.words, row.why)
	}
}

func TestWhoMaySendReadings(t *testing.T) {
	h := newHouse(t)
	owner, panel := h.phone(), h.panel()
	body := minutes("heron41-12", h.clock.Now(), 1)

	r := owner.do(owner.request("POST", server.PathReadings, exchange.ContentJSON, []byte(body)))
	assert.Equal(t, http.StatusForbidden, r.status, "an owner's phone is no controller")
	stranger := *panel
	stranger.key = "not-a-key"
	assert.Equal(t, http.StatusUnauthorized, stranger.raw("", exchange.ContentJSON, body).status)

	h.clock.Add(6 * time.Second)
	code, err := h.srv.Invite(server.Invitation{Role: server.Owner})
	require.NoError(t, err)
	r = owner.do(owner.request("POST", server.PathControllerJoin, exchange.ContentJSON, fmt.Appendf(nil, `{"code":%q}`, code)))
	assert.Equal(t, http.StatusForbidden, r.status, "a phone's code makes no controller")
	assert.Equal(t, http.StatusOK, h.browser().join(exchange.JoinRequest{Proto: 1, App: "b1", Code: code, Why: exchange.WhyNew}).status, "and is still good for a phone")
	assert.Equal(t, http.StatusUnauthorized, owner.do(owner.request("POST", server.PathControllerJoin, exchange.ContentJSON, []byte(`{}`))).status, "without a code only in the demo")

	// A controller sees nothing of the book and brings nothing into it by itself.
	owner.push(owner.write(2))
	req := panel.request("GET", exchange.PathPull+"?since=0&limit=10&proto=1&app=b1", "", nil)
	req.Header.Set("Authorization", "Bearer "+panel.key)
	if r := panel.do(req); r.status == http.StatusOK {
		page, err := exchange.ParsePage([]byte(r.body))
		require.NoError(t, err)
		assert.Empty(t, page.Lines)
	}
	devices, err := h.store.Devices(t.Context())
	require.NoError(t, err)
	for _, d := range devices {
		assert.NotContains(t, string(d.Token[:]), panel.key, "the key is kept as its hash alone")
	}
	assert.NotContains(t, h.log.String(), panel.key)

	require.NoError(t, h.store.EndDevice(t.Context(), panel.device, h.clock.Now()))
	assert.Equal(t, http.StatusUnauthorized, panel.raw("", exchange.ContentJSON, body).status, "its time was ended")
}

func TestADemoLetsAControllerInByItself(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.OpenJoin = true })
	p := h.browser()
	r := p.do(p.request("POST", server.PathControllerJoin, exchange.ContentJSON, []byte(`{}`)))
	require.Equal(t, http.StatusOK, r.status, r.body)
	devices, err := h.store.Devices(t.Context())
	require.NoError(t, err)
	require.Len(t, devices, 1)
	assert.Equal(t, server.Controller, devices[0].Role)
}
