package server

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// What a browser may do with the page. Trusted Types stand only on documents:
// a worker under that directive needs a policy of its own before it may load
// a script.
const (
	policy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data:; " +
		"connect-src 'self'; manifest-src 'self'; worker-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	documentPolicy = policy + "; require-trusted-types-for 'script'; trusted-types gaugebook"
	dataPolicy     = "default-src 'none'; frame-ancestors 'none'"
)

// guard wraps the whole server: headers on every reply, the Host and the
// origin checked before anything is read.
func (s *Server) guard(next http.Handler) http.Handler {
	var cross http.CrossOriginProtection
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.refuseEarly(w, r, refuse(http.StatusForbidden, codeCrossOrigin, "origin", r.Header.Get("Origin"),
			"another site's page sent this", "open Gaugebook itself and do it there"))
	}))
	next = cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r = s.forwarded(r)
		h := w.Header()
		h.Set("Content-Security-Policy", dataPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=(), payment=(), usb=()")
		if !s.isOurs(r) {
			s.refuseEarly(w, r, refuse(http.StatusMisdirectedRequest, codeWrongHost, "host", r.Host,
				"this server does not go by that name", "use an address that gaugebook serve printed, or add the name with --host"))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// forwarded is the request as it reached a reverse proxy that this server was
// told of. From anyone else these headers are words of a stranger.
func (s *Server) forwarded(r *http.Request) *http.Request {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !slices.ContainsFunc(s.proxies, func(p netip.Prefix) bool { return p.Contains(from.Addr().Unmap()) }) {
		return r
	}
	r = r.Clone(r.Context())
	if host := r.Header.Get("X-Forwarded-Host"); host != "" {
		r.Host = host
	}
	chain := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	if addr, err := netip.ParseAddr(strings.TrimSpace(chain[len(chain)-1])); err == nil { // the one the proxy itself saw
		r.RemoteAddr = netip.AddrPortFrom(addr, 0).String()
	}
	if r.TLS == nil && r.Header.Get("X-Forwarded-Proto") == "https" {
		r.TLS = &tls.ConnectionState{}
	}
	return r
}

func (s *Server) refuseEarly(w http.ResponseWriter, r *http.Request, err error) {
	s.handleError(err, s.echo.NewContext(r, w))
}

// isOurs says whether the Host header names this server: a loopback name, the
// very address that the connection came in on, or a name it was told. A page
// elsewhere that points its own name here (DNS rebinding) has none of these.
func (s *Server) isOurs(r *http.Request) bool {
	host := hostOf(r.Host)
	if host == "localhost" || slices.Contains(s.hosts, host) {
		return true
	}
	addr, err := netip.ParseAddr(host)
	if err != nil {
		return false
	}
	if addr.IsLoopback() {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	return ok && local.AddrPort().Addr().Unmap() == addr.Unmap()
}

// hostOf is a Host header without its port, its brackets and a final dot.
func hostOf(hostport string) string {
	host, _, err := net.SplitHostPort(hostport)
	if err != nil {
		host = hostport
	}
	host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	return strings.ToLower(strings.TrimSuffix(host, "."))
}

// portOf is a Host header's port, or that of its scheme.
func portOf(r *http.Request) string {
	if _, port, err := net.SplitHostPort(r.Host); err == nil {
		return port
	}
	if r.TLS != nil {
		return "443"
	}
	return "80"
}

// onThisMachine says whether both ends of the request are this computer.
func onThisMachine(r *http.Request) bool {
	remote, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !remote.Addr().Unmap().IsLoopback() {
		return false
	}
	host := hostOf(r.Host)
	addr, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && addr.IsLoopback()
}
