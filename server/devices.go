package server

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/role"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
)

// codeLife is how long a code for a phone that stands beside is good.
const codeLife = 10 * time.Minute

// A deviceView is a device as the owner's phone shows it.
type deviceView struct {
	Name   string `json:"name"`
	Role   string `json:"role"`
	Says   string `json:"says"`
	Label  string `json:"label"`
	Words  string `json:"words"` // both screens show them
	Joined int64  `json:"joined_ms"`
	Ends   int64  `json:"ends_ms"` // 0 for no end
	Over   bool   `json:"over"`
	You    bool   `json:"you"`
}

// An asideView is an entry that waits for the owner.
type asideView struct {
	ID       string `json:"id"`
	Address  string `json:"address"`
	Kind     string `json:"kind"`
	V        int    `json:"v"`
	By       string `json:"by"`
	Happened string `json:"happened"`
	Written  string `json:"written"`
	Body     string `json:"body"`
	Why      string `json:"why"`
}

// devices lists who may write, the role that may be given, and what waits.
func (s *Server) devices(c echo.Context) error {
	ctx := c.Request().Context()
	all, err := s.book.Devices(ctx)
	if err != nil {
		return err
	}
	out := struct {
		Devices []deviceView        `json:"devices"`
		Asides  []asideView         `json:"asides"`
		Roles   []map[string]string `json:"roles"`
		Sheet   *sheetView          `json:"sheet"`
	}{Devices: []deviceView{}, Asides: []asideView{}, Sheet: s.sheet}
	for _, d := range all {
		if overSees(deviceOf(c), d.Role) {
			out.Devices = append(out.Devices, s.viewOf(d, deviceOf(c).Name))
		}
	}
	slices.SortStableFunc(out.Devices, func(a, b deviceView) int { return cmp.Compare(b.Joined, a.Joined) })
	var waiting []waiting
	if deviceOf(c).Role == Owner {
		if waiting, err = s.waiting(ctx); err != nil {
			return err
		}
	}
	for _, w := range waiting {
		out.Asides = append(out.Asides, asideView{w.ID.String(), w.Address(), w.Kind, w.V, w.By, string(w.Happened), string(w.Written), string(w.Body), w.why})
	}
	for _, r := range role.Roles() {
		out.Roles = append(out.Roles, map[string]string{"name": string(r), "says": r.Says()})
	}
	return c.JSON(http.StatusOK, out)
}

func (s *Server) viewOf(d Device, you string) deviceView {
	v := deviceView{Name: d.Name, Role: d.Role, Label: d.Label, Words: twoWords(d), Joined: d.Joined.UnixMilli(), Over: d.Over(s.now()), You: d.Name == you}
	if d.Label == openLabel { // nobody gave it a code, so nobody compares
		v.Words = ""
	}
	if g, err := role.Parse(d.Role); err == nil {
		v.Role, v.Says = string(g.Role), g.Role.Says()
		if g.Run != "" {
			v.Says = "counts the bottles of " + string(g.Run)
		}
	}
	if !d.Ended.IsZero() {
		v.Ends = d.Ended.UnixMilli()
	}
	return v
}

// twoWords are said aloud across the room: the owner's screen and the phone's
// show the same two, so another phone that took the code is found out. They
// come of the session, which only that phone has.
func twoWords(d Device) string {
	sum := sha256.Sum256(append([]byte("gaugebook two words\n"+d.Name+"\n"), d.Token[:]...))
	word := func(from int) string { return words[binary.BigEndian.Uint32(sum[from:])%uint32(len(words))] }
	return word(0) + " " + word(4)
}

type waiting struct {
	record.Record
	line []byte
	why  string
}

// waiting are the entries that were set aside and are not in the log yet.
func (s *Server) waiting(ctx context.Context) (out []waiting, err error) {
	asides, err := s.book.Asides(ctx)
	if err != nil {
		return nil, err
	}
	err = s.book.Update(ctx, "owner", func(l exchange.Ledger) error {
		for _, a := range asides {
			if a.State != string(exchange.Quarantined) {
				continue
			}
			r, err := record.Decode(a.Line)
			if err != nil {
				return err
			}
			if known, err := l.ByID(r.ID); err != nil {
				return err
			} else if known.Seq == 0 {
				out = append(out, waiting{r, a.Line, a.Fault.Limit})
			}
		}
		return nil
	})
	return out, err
}

// invite makes a code for a phone that stands beside the owner's.
func (s *Server) invite(c echo.Context) error {
	var in struct {
		Role  string         `json:"role"`
		Run   book.Address   `json:"run"`
		Named []book.Address `json:"named"`
		Label string         `json:"label"`
		Ends  int64          `json:"ends_ms"` // 0 for no end
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	now := s.now()
	g := role.Grant{Role: role.Role(in.Role), Run: in.Run, Named: in.Named}
	g, err := role.Parse(g.Text())
	switch label := strings.TrimSpace(in.Label); {
	case err != nil:
		return refuse(http.StatusUnprocessableEntity, "not-one-of", "role", in.Role, err.Error(), "choose again")
	case !overSees(deviceOf(c), g.Text()):
		return refuse(http.StatusForbidden, "not-allowed", "role", in.Role, "a distiller’s phone adds phones that count a bottling, and no others", "ask the owner")
	case label == "" || len(label) > 64:
		return refuse(http.StatusUnprocessableEntity, "missing", "label", label, "a phone needs a name of 1 to 64 letters by which its people know it", "type whose phone it is")
	case in.Ends != 0 && !time.UnixMilli(in.Ends).After(now):
		return refuse(http.StatusUnprocessableEntity, "too-small", "ends", time.UnixMilli(in.Ends).Format(time.RFC3339), "the end is past", "choose a later one")
	case in.Ends == 0 && g.Role == role.Counter:
		return refuse(http.StatusUnprocessableEntity, "missing", "ends", "", "a counter's phone is borrowed, so its time has an end", "choose one")
	}
	inv := Invitation{Role: g.Text(), Label: strings.TrimSpace(in.Label), Until: now.Add(codeLife)}
	if in.Ends != 0 {
		inv.Ends = time.UnixMilli(in.Ends)
	}
	code, err := s.Invite(inv)
	if err != nil {
		return err
	}
	s.log.Info("a phone is invited", "by", deviceOf(c).Name, "role", inv.Role, "label", inv.Label)
	// After the number sign: it is sent to nobody, and in no log.
	link := origin(c.Request()) + "/#join=" + code
	rows, err := engine.Squares(link)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, map[string]any{"code": code, "until_ms": inv.Until.UnixMilli(), "link": link, "qr": rows})
}

func origin(r *http.Request) string {
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// end ends a phone's time now: a lost one, or one that is done.
func (s *Server) end(c echo.Context) error {
	var in struct {
		Device string `json:"device"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	all, err := s.book.Devices(c.Request().Context())
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(all, func(d Device) bool { return d.Name == in.Device && overSees(deviceOf(c), d.Role) }) {
		return refuse(http.StatusNotFound, codeNotFound, "device", in.Device, "no phone has this name", "choose one of the list")
	}
	if in.Device == deviceOf(c).Name {
		return refuse(http.StatusUnprocessableEntity, record.Conflict, "device", in.Device, "this is the phone in your hand", "hand it back, or end it from another owner's phone")
	}
	if err := s.book.EndDevice(c.Request().Context(), in.Device, s.now()); err != nil {
		return err
	}
	s.log.Info("a phone's time was ended", "device", in.Device, "by", deviceOf(c).Name)
	return c.JSON(http.StatusOK, struct{}{})
}

// accept lets entries in that were set aside.
func (s *Server) accept(c echo.Context) error {
	var in struct {
		IDs []uuid.UUID `json:"ids"`
	}
	if err := readJSON(c, &in); err != nil {
		return err
	}
	ctx, owner := c.Request().Context(), deviceOf(c)
	all, err := s.waiting(ctx)
	if err != nil {
		return err
	}
	p := exchange.Push{PushHeader: exchange.PushHeader{Proto: exchange.Proto, Device: owner.Name}}
	for _, w := range all {
		if slices.Contains(in.IDs, w.ID) {
			p.Lines = append(p.Lines, w.line)
		}
	}
	var reply exchange.PushReply
	if err := s.book.Update(ctx, owner.Name, func(l exchange.Ledger) (err error) {
		reply, err = exchange.Receive(p, s.now(), s.rightsOf(owner), l)
		return err
	}); err != nil {
		return err
	}
	s.bell.ring(reply.Head)
	s.count(owner, p, reply)
	return c.JSON(http.StatusOK, map[string]int{"accepted": len(p.Lines)})
}

// readJSON reads a small body.
func readJSON(c echo.Context, into any) error {
	const most = 64 << 10
	body, err := readBody(c, exchange.ContentJSON, most)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(body, into); err != nil {
		return refuse(http.StatusBadRequest, record.Malformed, "body", "", fmt.Sprintf("is not what was expected: %v", err), "load the page again")
	}
	return nil
}
