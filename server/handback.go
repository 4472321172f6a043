package server

import (
	"net/http"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/role"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
)

// What a phone asks of itself.
const (
	pathMe    = "/phone/v1/me"
	pathHeld  = "/phone/v1/held"
	pathLeave = "/phone/v1/leave"
)

// me tells a phone what it is here: its role, its end, its two words, and
// the names under which it wrote.
func (s *Server) me(c echo.Context) error {
	d := deviceOf(c)
	all, err := s.book.Devices(c.Request().Context())
	if err != nil {
		return err
	}
	before := map[string]string{}
	for _, one := range all {
		before[one.Name] = one.Was
	}
	names := []string{d.Name} // under which it may have written
	for was := d.Was; was != "" && len(names) <= len(all); was = before[was] {
		names = append(names, was)
	}
	out := struct {
		deviceView
		Grant string       `json:"grant"` // the role with its bounds
		Names []string     `json:"names"`
		Run   book.Address `json:"run"`
		NowMS int64        `json:"now_ms"`
	}{deviceView: s.viewOf(d, d.Name), Grant: d.Role, Names: names, NowMS: s.now().UnixMilli()}
	if g, err := role.Parse(d.Role); err == nil {
		out.Run = g.Run
	}
	return c.JSON(http.StatusOK, out)
}

// held says how many of the entries that a phone names are here. The phone
// asks before it wipes itself: what it was told while sending it does not take
// for the last word.
func (s *Server) held(c echo.Context) error {
	var in struct {
		IDs []uuid.UUID `json:"ids"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	n, err := s.book.Holds(c.Request().Context(), in.IDs)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, map[string]int{"held": n})
}

// leave ends the phone's own time and has the browser forget what it kept.
func (s *Server) leave(c echo.Context) error {
	d := deviceOf(c)
	if !d.Over(s.now()) {
		if err := s.book.EndDevice(c.Request().Context(), d.Name, s.now()); err != nil {
			return err
		}
	}
	s.log.Info("a phone was handed back", "device", d.Name)
	c.Response().Header().Set("Clear-Site-Data", `"cache", "cookies", "storage"`)
	gone := sessionCookie(c.Request(), "")
	gone.MaxAge, gone.Expires = -1, time.Unix(0, 0)
	c.SetCookie(gone)
	return c.JSON(http.StatusOK, struct{}{})
}
