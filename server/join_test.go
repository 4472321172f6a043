package server_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"gaugebook/server"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestJoiningWithACode(t *testing.T) {
	h := newHouse(t)
	has, err := h.srv.HasOwner(t.Context())
	require.NoError(t, err)
	assert.False(t, has)
	code, err := h.srv.Invite(server.Invitation{Role: server.Owner, Label: "first"})
	require.NoError(t, err)
	assert.Regexp(t, `^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$`, code)

	p := h.browser()
	typed := strings.ToLower(strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(code, "-", " "), "0", "o"), "1", "l"))
	r := p.join(exchange.JoinRequest{Proto: 1, App: "b1", Code: typed, Why: exchange.WhyNew})
	require.Equal(t, http.StatusOK, r.status, "as a person types it: "+typed)
	assert.Regexp(t, `^[a-z]{2,16}[1-9][0-9]$`, p.chain.Device)
	assert.True(t, record.IsDevice(p.chain.Device))
	epoch, err := h.store.Epoch(t.Context())
	require.NoError(t, err)
	assert.Equal(t, epoch, p.epoch)

	cookie := r.header.Get("Set-Cookie")
	for _, part := range []string{"gaugebook-" + h.url[strings.LastIndex(h.url, ":")+1:] + "=", "Path=/", "HttpOnly", "SameSite=Strict", "Max-Age=34560000"} {
		assert.Contains(t, cookie, part)
	}
	assert.NotContains(t, cookie, "Domain")

	devices, err := h.store.Devices(t.Context())
	require.NoError(t, err)
	require.Len(t, devices, 1)
	assert.Equal(t, server.Owner, devices[0].Role)
	assert.Equal(t, "first", devices[0].Label)
	has, err = h.srv.HasOwner(t.Context())
	require.NoError(t, err)
	assert.True(t, has)

	second := h.browser().join(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew})
	assert.Equal(t, http.StatusForbidden, second.status, "a code is good once")
}

func TestWhyAPhoneJoinsAgain(t *testing.T) {
	h := newHouse(t)
	code := func() string {
		h.clock.Add(6 * time.Second) // joining is limited
		c, err := h.srv.Invite(server.Invitation{Role: server.Owner})
		require.NoError(t, err)
		return c
	}
	t.Run("its storage was copied: the session is enough, the name is new", func(t *testing.T) {
		p := h.phone()
		was := p.chain.Device
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: was, Why: exchange.WhyForked}).status)
		assert.NotEqual(t, was, p.chain.Device)
		assert.Equal(t, "new", states(p.push(p.write(1)).Entries))
		d, ok := find(t, h, p.chain.Device)
		require.True(t, ok)
		assert.Equal(t, was, d.Was)
	})
	t.Run("its storage was lost: the session is enough, the name is new", func(t *testing.T) {
		p := h.phone()
		was := p.chain.Device
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: was, Why: exchange.WhyLost}).status)
		assert.NotEqual(t, was, p.chain.Device)
	})
	t.Run("its time ended: a code gives it its name again", func(t *testing.T) {
		p := h.phone()
		was := p.chain.Device
		p.push(p.write(1))
		require.NoError(t, h.store.EndDevice(t.Context(), was, h.clock.Now()))
		r := p.do(p.request("GET", exchange.PathPull+"?since=0&limit=1&proto=1", "", nil))
		assert.Equal(t, 401, r.status)
		assert.Equal(t, "session “"+was+"”: this phone's time has ended; join with a new code from the owner; what the phone holds stays.", r.faults(t)[0].Error())
		assert.Equal(t, "quarantined", states(p.push(p.write(1)).Entries), "what it wrote is kept aside for the owner")
		assert.Equal(t, 401, p.join(exchange.JoinRequest{Proto: 1, Was: was, Why: exchange.WhyAgain}).status, "its old session alone is not enough")
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: was, Code: code(), Why: exchange.WhyAgain}).status)
		assert.Equal(t, was, p.chain.Device)
		assert.Equal(t, "new", states(p.push(p.write(1)).Entries), "the chain goes on")
	})
	t.Run("the book forgot it: a code gives it its name again", func(t *testing.T) {
		p := h.browser()
		p.chain.Device = "kestrel77"
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: "kestrel77", Code: code(), Why: exchange.WhyAgain}).status)
		assert.Equal(t, "kestrel77", p.chain.Device)
	})
	t.Run("nobody takes another's name with a code", func(t *testing.T) {
		victim, p := h.phone(), h.browser()
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: victim.chain.Device, Code: code(), Why: exchange.WhyAgain}).status)
		assert.NotEqual(t, victim.chain.Device, p.chain.Device)
		assert.Equal(t, "new", states(victim.push(victim.write(1)).Entries), "whose name it is stays in")
	})
	t.Run("a name that is no name is not given", func(t *testing.T) {
		p := h.browser()
		require.Equal(t, 200, p.join(exchange.JoinRequest{Proto: 1, Was: "../../etc", Code: code(), Why: exchange.WhyAgain}).status)
		assert.True(t, record.IsDevice(p.chain.Device))
	})
}

func find(t *testing.T, h *house, name string) (server.Device, bool) {
	t.Helper()
	devices, err := h.store.Devices(t.Context())
	require.NoError(t, err)
	for _, d := range devices {
		if d.Name == name {
			return server.Device(d), true
		}
	}
	return server.Device{}, false
}

func TestADemoLetsABrowserOnThisMachineIn(t *testing.T) {
	h := newHouse(t, func(c *server.Config) { c.OpenJoin = true })
	p := h.browser()
	require.Equal(t, http.StatusOK, p.join(exchange.JoinRequest{Proto: 1, Why: exchange.WhyNew}).status)
	d, ok := find(t, h, p.chain.Device)
	require.True(t, ok)
	assert.Equal(t, server.Owner, d.Role)

	body := []byte(`{"proto":1,"why":"new"}`)
	req := h.browser().request("POST", exchange.PathJoin, exchange.ContentJSON, body)
	req.Host = "book.test"
	assert.Equal(t, http.StatusUnauthorized, h.browser().do(req).status, "by a name that is not this machine's alone it needs a code")
}

func TestAToolShowsItsSessionInAHeader(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	req := p.request("GET", exchange.PathPull, "", nil)
	cookies := p.client.Jar.Cookies(req.URL)
	require.Len(t, cookies, 1)
	req.Header.Set("Authorization", "Bearer "+cookies[0].Value)
	assert.Equal(t, http.StatusOK, h.browser().do(req).status)
}

// The cookie begins anew with every push, so a phone in use is never put out.
func TestAPushRenewsTheCookie(t *testing.T) {
	h := newHouse(t)
	p := h.phone()
	r := p.pushRaw(p.write(1))
	assert.Contains(t, r.header.Get("Set-Cookie"), "Max-Age=34560000")
}

// Many phones, more than there are words, each have a name of their own.
func TestEveryPhoneHasItsOwnName(t *testing.T) {
	h := newHouse(t)
	seen := map[string]bool{}
	for range 300 {
		p := h.phone()
		require.False(t, seen[p.chain.Device], "%s was given twice", p.chain.Device)
		seen[p.chain.Device] = true
	}
}

// Neither a code nor a session is ever in the log, whatever happens to them.
func TestNoSecretInTheLog(t *testing.T) {
	h := newHouse(t)
	p := h.browser()
	code, err := h.srv.Invite(server.Invitation{Role: server.Owner})
	require.NoError(t, err)
	p.join(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew})
	p.join(exchange.JoinRequest{Proto: 1, Code: code, Why: exchange.WhyNew})
	p.push(p.write(1))
	p.pull(record.Mark{}, 1)
	secret := p.client.Jar.Cookies(p.request("GET", "/", "", nil).URL)[0].Value
	p.do(p.request("GET", fmt.Sprintf("/?c=%s", code), "", nil))
	log := h.log.String()
	assert.Contains(t, log, "a phone joined")
	assert.Contains(t, log, "a wrong code was typed")
	for _, word := range []string{code, strings.ReplaceAll(code, "-", ""), secret} {
		assert.NotContains(t, log, word)
	}
}

// Over TLS the cookie is held to this host and to TLS by its name.
func TestTheCookieOverTLS(t *testing.T) {
	h := newHouse(t)
	tls := httptest.NewTLSServer(h.srv.Handler())
	defer tls.Close()
	code, err := h.srv.Invite(server.Invitation{Role: server.Owner})
	require.NoError(t, err)
	res, err := tls.Client().Post(tls.URL+exchange.PathJoin, exchange.ContentJSON, strings.NewReader(`{"proto":1,"why":"new","code":"`+code+`"}`))
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)
	cookie := res.Header.Get("Set-Cookie")
	assert.True(t, strings.HasPrefix(cookie, "__Host-gaugebook-"), cookie)
	assert.Contains(t, cookie, "Secure")
}
