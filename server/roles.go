package server

import (
	"net/http"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/role"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// roles is the Authoriser of the roles of calc/role. A role it cannot read has
// no rights: what such a phone brings is set aside, and it is given nothing.
type roles struct{}

func (roles) Rights(d Device) exchange.Rights {
	g, err := role.Parse(d.Role)
	if err != nil {
		return none(d.Role)
	}
	return granted{g, d}
}

// granted are the rights of a phone: of its role, over what it sealed itself.
// The owner speaks for all, and lets in what was set aside.
type granted struct {
	grant  role.Grant
	device Device
}

func (g granted) MayWrite(r record.Record) bool {
	own := r.Device == g.device.Name || r.Device == g.device.Was
	return (own || g.grant.Role == role.Owner) && g.grant.MayWrite(r.Device, r.Kind, r.Body)
}

func (g granted) MaySee(r record.Record) bool {
	return g.grant.MaySee(book.Address(r.Address()), r.Kind, r.Body)
}

func (g granted) Scope() string { return g.grant.Text() }

// none is no right at all: of a role that is none, or of a time that is over.
type none string

func (none) MayWrite(record.Record) bool { return false }
func (none) MaySee(record.Record) bool   { return false }
func (n none) Scope() string             { return string(n) }

// rightsOf are a device's rights now. After its end it may still bring what it
// wrote, for the owner to accept.
func (s *Server) rightsOf(d Device) exchange.Rights {
	if d.Over(s.now()) {
		return none("over")
	}
	return s.rights.Rights(d)
}

// lateFor is how long after its end a phone may still bring what it wrote.
const lateFor = 30 * 24 * time.Hour

// late are the requests that a phone may make after its end: to bring what it
// wrote, to be told so, and to leave. It is read and never changed.
var late = map[string]bool{exchange.PathPush: true, pathMe: true, pathHeld: true, pathLeave: true}

// runnersOnly lets the phones through that run a bottling: the owner's, and a
// distiller's, which adds, sees and ends counters' phones and no others.
func (s *Server) runnersOnly(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if deviceOf(c).Role == string(role.Distiller) {
			return next(c)
		}
		return s.ownersOnly(next)(c)
	}
}

// overSees says whether the asking phone may add, see and end the phones of a role.
func overSees(asking Device, grant string) bool {
	if asking.Role == Owner {
		return true
	}
	g, err := role.Parse(grant)
	return err == nil && asking.Role == string(role.Distiller) && g.Role == role.Counter
}

// ownersOnly lets only the owner's phones through.
func (s *Server) ownersOnly(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if d := deviceOf(c); d.Role != Owner {
			return refuse(http.StatusForbidden, "not-allowed", "role", d.Role, "only an owner's phone does this", "ask the owner")
		}
		return next(c)
	}
}
