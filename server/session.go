package server

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
)

// cookieLife is the longest a browser keeps a cookie (RFC 6265bis §5.5); every
// push begins it anew.
const cookieLife = 400 * 24 * time.Hour

// cookieName tells the sessions of two ports apart. The prefix makes a browser
// hold it to this host and to TLS, which plain http on loopback cannot have.
func cookieName(r *http.Request) string {
	if r.TLS != nil {
		return "__Host-gaugebook-" + portOf(r)
	}
	return "gaugebook-" + portOf(r)
}

func sessionCookie(r *http.Request, secret string) *http.Cookie {
	return &http.Cookie{
		Name: cookieName(r), Value: secret, Path: "/", MaxAge: int(cookieLife.Seconds()),
		Secure: r.TLS != nil, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	}
}

// secretOf is the session a request shows, or nothing.
func secretOf(r *http.Request) string {
	if scheme, secret, ok := strings.Cut(r.Header.Get("Authorization"), " "); ok && strings.EqualFold(scheme, "Bearer") {
		return secret
	}
	if c, err := r.Cookie(cookieName(r)); err == nil {
		return c.Value
	}
	return ""
}

// tokenOf is what is kept of a secret. It has 256 random bits, so a plain hash
// is enough, and finding it by its hash tells nothing by its timing.
func tokenOf(secret string) [32]byte { return sha256.Sum256([]byte(secret)) }

func newSecret(random io.Reader) (string, error) {
	var b [32]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", err
	}
	return base64.RawURLEncoding.EncodeToString(b[:]), nil
}

const deviceKey = "device"

// deviceOf is the device that the session middleware found.
func deviceOf(c echo.Context) Device {
	d, _ := c.Get(deviceKey).(Device)
	return d
}

// known finds the device of the request's session; false if there is none.
func (s *Server) known(r *http.Request) (Device, bool, error) {
	secret := secretOf(r)
	if secret == "" {
		return Device{}, false, nil
	}
	return s.book.DeviceByToken(r.Context(), tokenOf(secret))
}

// joined lets only devices through that may write, and not too often.
func (s *Server) joined(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		d, ok, err := s.known(c.Request())
		switch {
		case err != nil:
			return err
		case !ok:
			return refuse(http.StatusUnauthorized, codeNotJoined, "session", "", "this phone has not joined the book, or the book was restored from before it did",
				"join with a code from the owner; what the phone holds stays")
		case d.Over(s.now()) && !(late[c.Path()] && s.now().Before(d.Ended.Add(lateFor))):
			return refuse(http.StatusUnauthorized, codeEnded, "session", d.Name, "this phone's time has ended",
				"join with a new code from the owner; what the phone holds stays")
		}
		if wait := s.exchanges.take(d.Name); wait > 0 {
			return tooOften(wait)
		}
		c.Set(deviceKey, d)
		return next(c)
	}
}

// An Invitation is what a code stands for.
type Invitation struct {
	Role  string
	Label string
	Ends  time.Time // of the phone's time; zero for no end
	Until time.Time // how long the code is good
}

// codes are the invitations that nobody took yet, by the code's hash.
type codes struct {
	mu   sync.Mutex
	open []invited
}

type invited struct {
	hash [32]byte
	Invitation
}

// alphabet is Crockford's base 32: no I, L, O, U.
const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// issue makes a code of eight symbols, 40 bits, good once. Five wrong ones from
// an address, then one in two minutes, make guessing it hopeless.
func (cs *codes) issue(random io.Reader, inv Invitation) (string, error) {
	var b [8]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", err
	}
	for i := range b {
		b[i] = alphabet[b[i]%byte(len(alphabet))]
	}
	cs.giveBack(string(b[:]), inv)
	return string(b[:4]) + "-" + string(b[4:]), nil
}

// codeHash reads a code as people type it: without regard to case, spaces and
// hyphens, and with the look-alikes that the alphabet leaves out.
func codeHash(typed string) [32]byte {
	return sha256.Sum256([]byte(strings.NewReplacer(" ", "", "-", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(typed))))
}

// take takes an invitation off the list, and with it all that are too old. It
// looks at every one, each in the same time.
func (cs *codes) take(typed string, now time.Time) (inv Invitation, ok bool) {
	cs.mu.Lock()
	defer cs.mu.Unlock()
	hash := codeHash(typed)
	kept := cs.open[:0]
	for _, one := range cs.open {
		switch same := subtle.ConstantTimeCompare(one.hash[:], hash[:]) == 1; {
		case !now.Before(one.Until):
		case same:
			inv, ok = one.Invitation, true
		default:
			kept = append(kept, one)
		}
	}
	cs.open = kept
	return inv, ok
}

// giveBack puts it back: the joining it was taken for did not happen.
func (cs *codes) giveBack(typed string, inv Invitation) {
	cs.mu.Lock()
	defer cs.mu.Unlock()
	cs.open = append(cs.open, invited{codeHash(typed), inv})
}

// NewDevice makes a device of its own for a program: its secret is thrown
// away, so that nothing ever writes by its session.
func NewDevice(name, role, label string, now time.Time) (Device, error) {
	secret, err := newSecret(rand.Reader)
	return Device{Name: name, Token: tokenOf(secret), Role: role, Label: label, Joined: now}, err
}
