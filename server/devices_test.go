package server_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/role"
	"gaugebook/server"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const run = book.Address("kestrel41-12")

// of joins a phone with a grant, and an end unless it is zero.
func (h *house) of(g role.Grant, ends time.Time) *phone {
	h.t.Helper()
	p := h.browser()
	h.clock.Add(6 * time.Second) // joining is limited
	code, err := h.srv.Invite(server.Invitation{Role: g.Text(), Label: "test", Ends: ends})
	require.NoError(h.t, err)
	reply := p.join(exchange.JoinRequest{Proto: 1, App: "b1", Code: code, Why: exchange.WhyNew})
	require.Equal(h.t, http.StatusOK, reply.status, reply.body)
	return p
}

// say seals one entry of a kind.
func (p *phone) say(kind, body string) []byte {
	p.t.Helper()
	now := record.StampOf(p.clock.Now())
	line, next, err := exchange.Seal(p.chain, exchange.Contact{}, exchange.Draft{Kind: kind, V: 1, Body: json.RawMessage(body), Happened: now, Written: now, By: "JS"},
		record.NewID(p.clock.Now(), [10]byte(randomBytes(p.t, 10))))
	require.NoError(p.t, err)
	p.chain = next
	return line
}

// ask sends JSON, or with no body gets it.
func (p *phone) ask(path string, body, into any) reply {
	p.t.Helper()
	method, raw, kind := "GET", []byte(nil), ""
	if body != nil {
		var err error
		raw, err = json.Marshal(body)
		require.NoError(p.t, err)
		method, kind = "POST", exchange.ContentJSON
	}
	r := p.do(p.request(method, path, kind, raw))
	if into != nil {
		require.Equal(p.t, http.StatusOK, r.status, r.body)
		require.NoError(p.t, json.Unmarshal([]byte(r.body), into))
	}
	return r
}

type list struct {
	Devices []struct {
		Name, Role, Says, Label, Words string
		Ends                           int64 `json:"ends_ms"`
		Over, You                      bool
	}
	Asides []struct{ ID, Address, Kind, Why string }
}

func everyGrant() []role.Grant {
	return []role.Grant{{Role: role.Owner}, {Role: role.Distiller}, {Role: role.CellarHand}, {Role: role.Counter, Run: run, Named: []book.Address{"kestrel41-3"}}, {Role: role.Reader}}
}

// Role × kind on the two routes that carry entries: what is pushed is stored or
// set aside, what is pulled is there or not, for every kind there is. The table
// is held to in calc/role; here the server is held to the table.
func TestRoleByKindOnPushAndPull(t *testing.T) {
	h := newHouse(t)
	owner := h.phone()
	bodies := []string{fmt.Sprintf(`{"bottling":%q,"loose":1}`, run), `{"bottling":"kestrel41-13","loose":1}`}
	var all [][]byte
	for _, k := range book.Kinds() {
		for _, body := range bodies {
			all = append(all, owner.say(k.Name, body))
		}
	}
	for _, a := range owner.push(all).Entries {
		require.Equal(t, exchange.New, a.State)
	}
	for _, g := range everyGrant() {
		p := h.of(g, time.Time{})
		var want []string
		for _, line := range all {
			r, err := record.Decode(line)
			require.NoError(t, err)
			if g.MaySee(book.Address(r.Address()), r.Kind, r.Body) {
				want = append(want, string(line))
			}
		}
		var got []string
		var mark record.Mark
		for more := true; more; { // small pages: the cursor passes over what is not for this role
			page := p.pull(mark, 7)
			for _, line := range page.Lines {
				got = append(got, string(line))
			}
			assert.Equal(t, g.Text(), page.Scope)
			mark, more = page.Next, page.More
		}
		assert.Equal(t, want, got, "%s pulls", g.Role)
		head := p.pull(mark, 7).Head
		assert.Equal(t, head, mark, "%s: the cursor is at the log's end", g.Role)
		assert.Empty(t, p.pull(mark, 7).Lines)

		own := fmt.Sprintf(`{"entry":"%s-1","why":"tapped twice","bottling":%q}`, p.chain.Device, run)
		others := fmt.Sprintf(`{"entry":"kestrel41-1","why":"tapped twice","bottling":%q}`, run)
		for _, k := range book.Kinds() {
			for _, body := range append([]string{own, others}, bodies...) {
				h.clock.Add(time.Second)
				state := p.push([][]byte{p.say(k.Name, body)}).Entries[0].State
				want := exchange.Quarantined
				if g.MayWrite(p.chain.Device, k.Name, []byte(body)) {
					want = exchange.New
				}
				assert.Equal(t, want, state, "%s pushes %s %s", g.Role, k.Name, body)
			}
		}
		all = append(all, linesOf(t, h, len(all))...)
	}
	counter := h.of(everyGrant()[3], time.Time{})
	raw := counter.do(counter.request("GET", exchange.PathPull+"?since=0&limit=500&proto=1", "", nil)).body
	for _, kind := range []string{"cost noted", "customer registered", "recipe registered", "draw read", "kestrel41-13"} {
		assert.NotContains(t, raw, kind, "never on a counter's phone")
	}
}

// linesOf are the log's lines after the first n.
func linesOf(t *testing.T, h *house, n int) (out [][]byte) {
	for e, err := range h.store.Entries(t.Context(), int64(n)) {
		require.NoError(t, err)
		out = append(out, e.Line)
	}
	return out
}

// Who a route lets through.
type access string

const (
	anyone      access = "anyone"
	withACode   access = "who has a code"
	phones      access = "phones in their time"
	latePhones  access = "phones, also after their end"
	owners      access = "owners"
	runners     access = "owners and distillers"
	controllers access = "controllers"
)

// Role × route, every route of the router: who is let through by each, after
// its end too, and a stranger by none that is not for anyone. A route added
// later stands here, or this fails.
func TestRoleByRoute(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.Beat = time.Hour })
	require.NoError(t, h.srv.ShowSheet(server.Sheet{App: "https://book.test", Join: "https://book.test/join"}))
	none := map[string]any{}
	table := map[string]struct {
		access
		body any
	}{
		"GET /": {anyone, nil}, "HEAD /": {anyone, nil}, "GET /sw.js": {anyone, nil}, "HEAD /sw.js": {anyone, nil},
		"GET /app/b1/engine.wasm": {anyone, nil}, "GET /app/b1/large.wasm": {anyone, nil}, "HEAD /app/b1/large.wasm": {anyone, nil}, "HEAD /app/b1/engine.wasm": {anyone, nil}, "GET /healthz": {anyone, nil}, "GET /trusted": {anyone, nil},
		"GET /join": {anyone, nil}, "GET /join/sheet.css": {anyone, nil}, "GET /join/sheet.js": {anyone, nil},
		"POST /sync/v1/join": {withACode, map[string]any{"proto": 1}}, "POST /controller/v1/join": {withACode, none},
		"POST /sync/v1/push": {latePhones, nil}, "GET /sync/v1/pull": {phones, nil}, "GET /sync/v1/live": {phones, nil},
		"GET /phone/v1/me": {latePhones, nil}, "POST /phone/v1/held": {latePhones, map[string]any{"ids": []string{}}}, "POST /phone/v1/leave": {latePhones, none},
		"GET /devices/v1": {runners, nil}, "POST /devices/v1/invite": {owners, map[string]any{"role": "reader", "label": "Inspector"}},
		"POST /devices/v1/end": {runners, map[string]any{"device": "nobody10"}}, "POST /devices/v1/accept": {owners, map[string]any{"ids": []string{}}},
		"POST /controller/v1/readings": {controllers, map[string]any{"readings": []any{}}},
	}
	assert.Equal(t, slices.Sorted(maps.Keys(table)), server.Routes(h.srv), "the router's routes")

	// let says whether a route let the phone through: what a let-in request is
	// answered by its content is no business of this test.
	let := func(p *phone, route string) bool {
		method, path, _ := strings.Cut(route, " ")
		var raw []byte
		kind := ""
		if b := table[route].body; b != nil {
			var err error
			raw, err = json.Marshal(b)
			require.NoError(t, err)
			kind = exchange.ContentJSON
		} else if path == exchange.PathPush {
			raw, kind = p.pushBody(nil), exchange.ContentLines
		}
		res, err := p.client.Do(p.request(method, path, kind, raw))
		require.NoError(t, err)
		defer res.Body.Close() // of a live connection too, which goes on
		return res.StatusCode != http.StatusUnauthorized && res.StatusCode != http.StatusForbidden
	}
	who := map[string]*phone{"a stranger": h.browser(), "a controller": h.of(role.Grant{Role: server.Controller}, time.Time{})}
	may := map[string][]access{"a stranger": {anyone}, "a controller": {anyone, phones, latePhones, controllers}}
	ends := h.clock.Now().Add(time.Hour)
	for _, g := range everyGrant() {
		in, over := "a phone of the "+string(g.Role), "one of the "+string(g.Role)+" after its end"
		who[in], who[over] = h.of(g, time.Time{}), h.of(g, ends)
		may[in], may[over] = []access{anyone, phones, latePhones}, []access{anyone, latePhones}
		if g.Role == role.Owner {
			may[in] = append(may[in], owners, runners)
		}
		if g.Role == role.Distiller {
			may[in] = append(may[in], runners)
		}
	}
	h.clock.Add(time.Hour)
	var seen struct {
		Sheet *struct {
			Join string
			QR   []string
		}
	}
	who["a phone of the owner"].ask("/devices/v1", nil, &seen)
	require.NotNil(t, seen.Sheet, "the office shows the sheet's square")
	assert.Equal(t, "https://book.test/join", seen.Sheet.Join)
	assert.Greater(t, len(seen.Sheet.QR), 20)
	for name, p := range who {
		for _, route := range server.Routes(h.srv) {
			if access := table[route].access; route != "POST /phone/v1/leave" && access != withACode { // who has a session joins again by it; codes have tests of their own
				assert.Equal(t, slices.Contains(may[name], access), let(p, route), "%s: %s", name, route)
			}
		}
	}
	for name, p := range who {
		assert.Equal(t, name != "a stranger", let(p, "POST /phone/v1/leave"), name)
		for route, of := range table { // it has left: it is a stranger
			h.clock.Add(6 * time.Second)
			assert.Equal(t, of.access == anyone, let(p, route), "%s that has left: %s", name, route)
		}
	}
}

// A distiller stands at the line: its phone adds, sees and ends counters, and
// no other phone.
func TestADistillerAddsCounters(t *testing.T) {
	h := newHouse(t)
	owner, distiller := h.phone(), h.of(role.Grant{Role: role.Distiller}, time.Time{})
	ends := h.clock.Now().Add(8 * time.Hour).UnixMilli()
	for _, in := range []map[string]any{{"role": "owner", "label": "x"}, {"role": "distiller", "label": "x"}, {"role": "reader", "label": "x"}} {
		r := distiller.ask("/devices/v1/invite", in, nil)
		assert.Equal(t, 403, r.status, "%v", in)
		assert.Contains(t, r.body, "adds phones that count a bottling")
	}
	var inv struct{ Code string }
	distiller.ask("/devices/v1/invite", map[string]any{"role": "counter", "run": run, "label": "Station ‘label’", "ends_ms": ends}, &inv)
	p := h.browser()
	require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Code: inv.Code, Why: exchange.WhyNew}).status)
	var seen list
	distiller.ask("/devices/v1", nil, &seen)
	require.Len(t, seen.Devices, 1, "neither the owner nor itself")
	assert.Equal(t, p.chain.Device, seen.Devices[0].Name)
	assert.Empty(t, seen.Asides)
	assert.Equal(t, 404, distiller.ask("/devices/v1/end", map[string]any{"device": owner.chain.Device}, nil).status, "as if it were not there")
	assert.Equal(t, 200, distiller.ask("/devices/v1/end", map[string]any{"device": p.chain.Device}, nil).status)
	assert.Equal(t, 401, p.do(p.request("GET", exchange.PathPull+"?since=0&proto=1", "", nil)).status)
}

func TestOwnerInvitesSeesAndEnds(t *testing.T) {
	h := newHouse(t)
	owner := h.phone()
	ends := h.clock.Now().Add(8 * time.Hour)
	var inv struct {
		Code, Link string
		Until      int64 `json:"until_ms"`
		QR         []string
	}
	owner.ask("/devices/v1/invite", map[string]any{"role": "counter", "run": run, "named": []string{"kestrel41-3"}, "label": "Ana, till", "ends_ms": ends.UnixMilli()}, &inv)
	assert.Equal(t, h.clock.Now().Add(10*time.Minute).UnixMilli(), inv.Until)
	assert.Equal(t, h.url+"/#join="+inv.Code, inv.Link, "the code is behind the number sign, so no server logs it")
	require.Greater(t, len(inv.QR), 20)
	assert.Len(t, inv.QR[0], len(inv.QR), "square")
	assert.NotContains(t, h.log.String(), inv.Code)

	p := h.browser()
	h.clock.Add(10*time.Minute + time.Second)
	assert.Equal(t, 403, p.join(exchange.JoinRequest{Proto: 1, Code: inv.Code, Why: exchange.WhyNew}).status, "too old")
	owner.ask("/devices/v1/invite", map[string]any{"role": "counter", "run": run, "label": "Ana, till", "ends_ms": ends.UnixMilli()}, &inv)
	require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Code: inv.Code, Why: exchange.WhyNew}).status)

	var me struct {
		Name, Role, Words, Grant string
		Run                      book.Address
		Names                    []string
		Ends                     int64 `json:"ends_ms"`
	}
	p.ask("/phone/v1/me", nil, &me)
	assert.Equal(t, "counter", me.Role)
	assert.Equal(t, run, me.Run)
	assert.Equal(t, "counter kestrel41-12", me.Grant)
	assert.Equal(t, ends.UnixMilli(), me.Ends)
	assert.Equal(t, []string{p.chain.Device}, me.Names)
	var seen list
	owner.ask("/devices/v1", nil, &seen)
	require.Len(t, seen.Devices, 2)
	newest := seen.Devices[0]
	assert.Equal(t, p.chain.Device, newest.Name, "the newest first")
	assert.Equal(t, "Ana, till", newest.Label)
	assert.Equal(t, "counts the bottles of kestrel41-12", newest.Says)
	assert.Regexp(t, `^[a-z]+ [a-z]+$`, newest.Words)
	assert.Equal(t, me.Words, newest.Words, "both screens show the same two words")
	assert.NotEqual(t, newest.Words, seen.Devices[1].Words)
	assert.True(t, seen.Devices[1].You)

	owner.ask("/devices/v1/end", map[string]any{"device": p.chain.Device}, &struct{}{})
	assert.Equal(t, 401, p.do(p.request("GET", exchange.PathPull+"?since=0&proto=1", "", nil)).status)
	assert.Equal(t, 422, owner.ask("/devices/v1/end", map[string]any{"device": owner.chain.Device}, nil).status, "not the phone in the hand")

	for words, in := range map[string]map[string]any{
		"is none of owner, distiller": {"role": "boss", "label": "x"},
		"a counter counts one":        {"role": "counter", "label": "x", "ends_ms": ends.UnixMilli()},
		"a phone needs a name":        {"role": "reader", "label": " "},
		"the end is past":             {"role": "reader", "label": "x", "ends_ms": 5},
		"its time has an end":         {"role": "counter", "run": run, "label": "x"},
	} {
		r := owner.ask("/devices/v1/invite", in, nil)
		assert.Equal(t, 422, r.status, words)
		assert.Contains(t, r.body, words)
	}
}

// At its end a phone locks by itself and the server lets it no further; what
// it wrote is set aside, none of it lost, until the owner lets it in.
func TestAfterTheEndEntriesWaitForTheOwner(t *testing.T) {
	h := newHouse(t)
	owner := h.phone()
	p := h.of(role.Grant{Role: role.Counter, Run: run}, h.clock.Now().Add(time.Hour))
	body := fmt.Sprintf(`{"bottling":%q,"loose":3}`, run)
	assert.Equal(t, "new", states(p.push([][]byte{p.say("bottles counted", body)}).Entries))
	late := [][]byte{p.say("bottles counted", body), p.say("bottles counted", body)}
	h.clock.Add(time.Hour)
	assert.Equal(t, 401, p.do(p.request("GET", exchange.PathPull+"?since=0&proto=1", "", nil)).status)
	assert.Equal(t, "quarantined quarantined", states(p.push(late).Entries))
	assert.Equal(t, "quarantined quarantined", states(p.push(late).Entries), "sent again, kept once")
	assert.Len(t, owner.pull(record.Mark{}, 10).Lines, 1)

	var seen list
	owner.ask("/devices/v1", nil, &seen)
	require.Len(t, seen.Asides, 2)
	assert.Equal(t, p.chain.Device+"-2", seen.Asides[0].Address)
	assert.True(t, seen.Devices[0].Over)
	var took struct{ Accepted int }
	owner.ask("/devices/v1/accept", map[string]any{"ids": []string{seen.Asides[0].ID}}, &took)
	assert.Equal(t, 1, took.Accepted)
	owner.ask("/devices/v1", nil, &seen)
	assert.Len(t, seen.Asides, 1, "the other still waits")
	page := owner.pull(record.Mark{}, 10)
	require.Len(t, page.Lines, 2)
	assert.Equal(t, string(late[0]), string(page.Lines[1]), "the very bytes it wrote")

	h.clock.Add(31 * 24 * time.Hour)
	assert.Equal(t, 401, p.pushRaw(late).status, "not for ever")
}

// The office's count is of the entries themselves, not of what was answered.
func TestHandBackCountsWhatIsHeld(t *testing.T) {
	h := newHouse(t)
	p := h.of(role.Grant{Role: role.Counter, Run: run}, h.clock.Now().Add(time.Hour))
	body := fmt.Sprintf(`{"bottling":%q,"loose":3}`, run)
	var lines [][]byte
	var ids []string
	for range 37 {
		line := p.say("bottles counted", body)
		r, err := record.Decode(line)
		require.NoError(t, err)
		lines, ids = append(lines, line), append(ids, r.ID.String())
	}
	aside := p.say("cost noted", `{}`)
	r, err := record.Decode(aside)
	require.NoError(t, err)
	var got struct{ Held int }
	held := func() int {
		p.ask("/phone/v1/held", map[string]any{"ids": append(ids, r.ID.String(), ids[0])}, &got)
		return got.Held
	}
	assert.Equal(t, 0, held())
	p.push(lines[:36])
	assert.Equal(t, 36, held(), "one is missing, and it is told")
	p.push([][]byte{lines[36], aside})
	assert.Equal(t, 38, held(), "what waits for the owner is received, too; one named twice counts once")

	out := p.ask("/phone/v1/leave", map[string]any{}, &struct{}{})
	assert.Equal(t, `"cache", "cookies", "storage"`, out.header.Get("Clear-Site-Data"))
	assert.True(t, strings.Contains(out.header.Get("Set-Cookie"), "Max-Age=0"), out.header.Get("Set-Cookie"))
	assert.Equal(t, 401, p.ask("/phone/v1/me", nil, nil).status)
	d, ok := find(t, h, p.chain.Device)
	require.True(t, ok)
	assert.True(t, d.Over(h.clock.Now()))
}

// What a proxy says of a phone is believed from the proxy that was named, and
// from nobody else.
func TestProxiesAreBelievedOnlyIfTold(t *testing.T) {
	for _, told := range []bool{true, false} {
		h := newHouse(t, func(c *server.Config) {
			c.Hosts = []string{"book.test"}
			if told {
				c.Proxies = []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}
			}
		})
		code, err := h.srv.Invite(server.Invitation{Role: server.Owner, Label: "far"})
		require.NoError(t, err)
		p := h.browser()
		body, err := json.Marshal(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew})
		require.NoError(t, err)
		req := p.request("POST", exchange.PathJoin, exchange.ContentJSON, body)
		req.Header.Set("X-Forwarded-Proto", "https")
		req.Header.Set("X-Forwarded-Host", "book.test")
		req.Header.Set("X-Forwarded-For", "198.51.100.9, 192.168.7.33")
		r := p.do(req)
		require.Equal(t, 200, r.status, r.body)
		cookie := r.header.Get("Set-Cookie")
		assert.Equal(t, told, strings.HasPrefix(cookie, "__Host-gaugebook-443="), cookie)
		assert.Equal(t, told, strings.Contains(cookie, "Secure"), cookie)

		req = p.request("GET", "/healthz", "", nil)
		req.Header.Set("X-Forwarded-Host", "bank.example")
		assert.Equal(t, map[bool]int{true: 421, false: 200}[told], p.do(req).status, "the host that the proxy tells is checked as well")
	}
}
