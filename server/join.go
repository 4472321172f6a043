package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// Invite makes a code that lets one phone in. Without another Until it is good
// for a day: the first one is read off a screen by who must still find a phone.
func (s *Server) Invite(inv Invitation) (code string, err error) {
	if inv.Until.IsZero() {
		inv.Until = s.now().Add(24 * time.Hour)
	}
	return s.codes.issue(s.random, inv)
}

// HasOwner says whether an owner's phone may write to the book.
func (s *Server) HasOwner(ctx context.Context) (bool, error) {
	devices, err := s.book.Devices(ctx)
	for _, d := range devices {
		if d.Role == Owner && !d.Over(s.now()) {
			return true, err
		}
	}
	return false, err
}

// knock reads what someone says who asks to be let in, and keeps them from
// asking too often.
func (s *Server) knock(c echo.Context, into any, says string) error {
	address, _, _ := net.SplitHostPort(c.Request().RemoteAddr)
	if wait := max(s.joins.take(address), s.allJoins.take("")); wait > 0 {
		return tooOften(wait)
	}
	body, err := readBody(c, exchange.ContentJSON, 4096)
	if err != nil {
		return err
	}
	if json.Unmarshal(body, into) != nil {
		return refuse(http.StatusBadRequest, record.Malformed, "body", string(body), "joining takes a JSON object with "+says, "update the app")
	}
	return nil
}

// join lets a phone in and names it.
func (s *Server) join(c echo.Context) error {
	const says = "proto, app, code, was and why"
	var req exchange.JoinRequest
	if err := s.knock(c, &req, says); err != nil {
		return err
	}
	r := c.Request()
	if req.Proto < 1 {
		return refuse(http.StatusBadRequest, record.Malformed, "proto", fmt.Sprint(req.Proto), "joining takes a JSON object with "+says, "update the app")
	}
	session, ok, err := s.known(r)
	if err != nil {
		return err
	}
	inv, err := s.invitation(r, req, session, ok)
	if err != nil {
		return err
	}
	device, secret, err := s.admit(r.Context(), req, session, inv)
	if err != nil {
		if req.Code != "" {
			s.codes.giveBack(req.Code, inv)
		}
		return err
	}
	var epoch string
	if err := s.book.View(r.Context(), func(v exchange.Reader) (err error) { epoch, err = v.Epoch(); return err }); err != nil {
		return err
	}
	s.log.Info("a phone joined", "device", device.Name, "role", device.Role, "was", req.Was, "why", req.Why)
	c.SetCookie(sessionCookie(r, secret))
	return c.JSON(http.StatusOK, exchange.JoinReply{
		Device: device.Name, Epoch: epoch, NowMS: s.now().UnixMilli(),
	})
}

// openLabel is the label of a browser that joined the demo without a code.
const openLabel = "this machine"

// invitation is what lets the phone in: a code, the session it has, or that
// this is a demo and the browser runs on this machine.
func (s *Server) invitation(r *http.Request, req exchange.JoinRequest, session Device, known bool) (Invitation, error) {
	switch {
	case req.Code != "":
		address, _, _ := net.SplitHostPort(r.RemoteAddr)
		if wait := s.wrongs.full(address); wait > 0 {
			return Invitation{}, tooOften(wait)
		}
		inv, ok := s.codes.take(req.Code, s.now())
		if !ok {
			s.wrongs.take(address)
			s.log.Warn("a wrong code was typed", "address", r.RemoteAddr)
			return inv, refuse(http.StatusForbidden, codeWrongCode, "code", "", "this code is not open: it was mistyped, used, too old, or never given",
				"type it again, or ask the owner for a new one")
		}
		return inv, nil
	case known && !session.Over(s.now()):
		return Invitation{Role: session.Role, Label: session.Label, Ends: session.Ended}, nil
	case s.openJoin && onThisMachine(r):
		return Invitation{Role: Owner, Label: openLabel}, nil
	}
	return Invitation{}, refuse(http.StatusUnauthorized, codeNotJoined, "code", "", "a phone joins with a code of eight letters and digits",
		"the first owner's code is on the console of gaugebook serve; later ones come from the owner")
}

// admit gives the phone its name and its secret.
func (s *Server) admit(ctx context.Context, req exchange.JoinRequest, session Device, inv Invitation) (Device, string, error) {
	secret, err := newSecret(s.random)
	if err != nil {
		return Device{}, "", err
	}
	d := Device{Name: req.Was, Token: tokenOf(secret), Role: inv.Role, Label: inv.Label, Was: session.Name, Joined: s.now(), Ended: inv.Ends}
	if req.Why == exchange.WhyAgain && record.IsDevice(req.Was) {
		if session.Name == req.Was { // the very phone, by its session
			d.Was, d.Joined = session.Was, session.Joined
			return d, secret, s.book.RenewDevice(ctx, d)
		}
		// After a restore the book may have forgotten the phone; then its name is still its own.
		if added, err := s.book.AddDevice(ctx, d); err != nil || added {
			return d, secret, err
		}
	}
	const tries = 8 // two phones may draw one name at once
	for range tries {
		if d.Name, err = s.chooseName(ctx); err != nil {
			return d, "", err
		}
		if added, err := s.book.AddDevice(ctx, d); err != nil || added {
			return d, secret, err
		}
	}
	return d, "", fmt.Errorf("every name drawn was taken meanwhile")
}
