package server

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// Controller is the role of a tank controller: it sends readings and may do
// nothing else. The server seals what it sends, in the controller's own name.
const Controller = "controller"

// Where a controller knocks.
const (
	PathControllerJoin = "/controller/v1/join"
	PathReadings       = "/controller/v1/readings"
	contentCSV         = "text/csv"
)

// Limits of what a controller sends.
const (
	controllerBytes    = 256 << 10
	controllerReadings = 2000                // in one request
	entryReadings      = 200                 // in one entry of the book
	controllerHold     = 15 * time.Minute    // how long readings wait to be one entry
	controllerAhead    = 10 * time.Minute    // how far its clock may be ahead
	controllerMemory   = 40 * 24 * time.Hour // how far back a reading may be, and is known again
)

// A ReadingsReply tells a controller what became of a request. A reading that
// waits is not on the disk yet: a controller that must be sure sends it again
// until it is known and nothing waits, or asks for store=now.
type ReadingsReply struct {
	Taken   int        `json:"taken"`   // new ones of this request
	Known   int        `json:"known"`   // had before: same vessel, same time
	Stored  int        `json:"stored"`  // went into the book just now, earlier ones too
	Waiting int        `json:"waiting"` // to go into the book with the next ones
	Faults  fault.List `json:"faults"`  // of the readings that were not taken
}

// A controller is what the server remembers of one.
type controller struct {
	mu      sync.Mutex
	known   map[readingKey]bool // of the log and of what waits; nil before it was looked up
	waiting []book.ControllerReading
	name    string    // as it calls itself
	since   time.Time // when the first that waits came
}

// A readingKey is what makes a reading of a controller the same.
type readingKey struct {
	vessel book.Address
	ms     int64
}

func keyOf(r *book.ControllerReading) readingKey {
	return readingKey{r.Vessel, r.At.Milliseconds()}
}

type controllers struct {
	mu sync.Mutex
	by map[string]*controller
}

func (cs *controllers) named(device string) *controller {
	cs.mu.Lock()
	defer cs.mu.Unlock()
	c := cs.by[device]
	if c == nil {
		c = &controller{}
		cs.by[device] = c
	}
	return c
}

// all lists the controllers heard of, by name.
func (cs *controllers) all() (names []string) {
	cs.mu.Lock()
	defer cs.mu.Unlock()
	for name := range cs.by {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// joinController gives a controller its key for a code, once.
func (s *Server) joinController(c echo.Context) error {
	var req struct {
		Code string `json:"code"`
	}
	if err := s.knock(c, &req, `a code: {"code":"ABCD-1234"}`); err != nil {
		return err
	}
	var err error
	r := c.Request()
	inv := Invitation{Role: Controller, Label: "demo controller"}
	if req.Code != "" || !s.openJoin || !onThisMachine(r) {
		if inv, err = s.invitation(r, exchange.JoinRequest{Code: req.Code}, Device{}, false); err != nil {
			return err
		}
		if inv.Role != Controller {
			if req.Code != "" {
				s.codes.giveBack(req.Code, inv)
			}
			return refuse(http.StatusForbidden, codeWrongCode, "code", "", "this code is for a phone, not for a controller", "ask the owner for a code for a controller")
		}
	}
	device, key, err := s.admit(r.Context(), exchange.JoinRequest{Why: exchange.WhyNew}, Device{}, inv)
	if err != nil {
		if req.Code != "" {
			s.codes.giveBack(req.Code, inv)
		}
		return err
	}
	s.log.Info("a controller joined", "device", device.Name)
	return c.JSON(http.StatusOK, map[string]string{"device": device.Name, "key": key})
}

// readings takes what a controller measured.
func (s *Server) readings(c echo.Context) error {
	device := deviceOf(c)
	if device.Role != Controller {
		return refuse(http.StatusForbidden, "not-allowed", "key", device.Name, "this is not the key of a controller", "join it with a code for a controller, at "+PathControllerJoin)
	}
	name, rows, err := readRows(c)
	if err != nil {
		return err
	}
	if name == "" {
		name = device.Label
	}
	now := s.now()
	var reply ReadingsReply
	var sound []book.ControllerReading
	for i, row := range rows {
		r, faults := soundReading(row, now)
		for _, f := range faults {
			f.Field = fmt.Sprintf("readings[%d].%s", i+1, f.Field)
			reply.Faults = append(reply.Faults, f)
		}
		if len(faults) == 0 {
			sound = append(sound, r)
		}
	}
	if len(sound) == 0 {
		return &exchange.Refusal{Status: http.StatusBadRequest, Faults: carried(reply.Faults)}
	}
	k := s.controllers.named(device.Name)
	k.mu.Lock()
	defer k.mu.Unlock()
	if err := s.remember(c.Request().Context(), device.Name, k); err != nil {
		return err
	}
	k.name = name
	for i := range sound {
		switch key := keyOf(&sound[i]); {
		case k.known[key]:
			reply.Known++
		default:
			if len(k.waiting) == 0 {
				k.since = now
			}
			k.known[key] = true
			k.waiting = append(k.waiting, sound[i])
			reply.Taken++
		}
	}
	if len(k.waiting) >= entryReadings || now.Sub(k.since) >= controllerHold || c.QueryParam("store") == "now" {
		if reply.Stored, err = s.storeReadings(c.Request().Context(), device.Name, k); err != nil {
			return err
		}
	}
	reply.Waiting = len(k.waiting)
	s.log.Info("readings", "device", device.Name, "taken", reply.Taken, "known", reply.Known, "stored", reply.Stored, "waiting", reply.Waiting, "faulty", len(reply.Faults))
	return c.JSON(http.StatusOK, reply)
}

// carried are faults of the trade as a refusal carries them.
func carried(list fault.List) []record.Fault {
	const most = 20 // one sentence for each reading would be no help
	out := make([]record.Fault, 0, most)
	for _, f := range list[:min(len(list), most)] {
		out = append(out, record.Fault{Code: string(f.Code), Field: f.Field, Value: f.Value, Limit: f.Limit, Remedy: f.Remedy})
	}
	return out
}

// A row is one reading as sent: vessel, at, temp, gravity, ph.
type row map[string]string

// columns are what a reading may say.
var columns = []string{"vessel", "at", "temp", "gravity", "ph"}

// readRows reads a request as JSON or as CSV, and the controller's own name.
func readRows(c echo.Context) (name string, rows []row, err error) {
	kind, _, _ := mime.ParseMediaType(c.Request().Header.Get("Content-Type"))
	if kind != contentCSV {
		kind = exchange.ContentJSON
	}
	body, err := readBody(c, kind, controllerBytes)
	if err != nil {
		return "", nil, err
	}
	if kind == contentCSV {
		name = c.QueryParam("controller")
		rows, err = readCSV(body)
	} else {
		var in struct {
			Controller string `json:"controller"`
			Readings   []row  `json:"readings"`
		}
		if err := json.Unmarshal(body, &in); err != nil {
			return "", nil, refuse(http.StatusBadRequest, record.Malformed, "body", string(body), "is not the JSON that is expected: "+err.Error(),
				`send {"controller":"Panel","readings":[{"vessel":"heron41-12","at":"2026-11-25T09:00:00-05:00","temp":"18.4C"}]}, every figure a text with its unit`)
		}
		name, rows = in.Controller, in.Readings
	}
	switch {
	case err != nil:
	case len(rows) == 0:
		err = refuse(http.StatusBadRequest, string(fault.Missing), "readings", "", "there is no reading", "send at least one")
	case len(rows) > controllerReadings:
		err = refuse(http.StatusRequestEntityTooLarge, record.TooLong, "readings", strconv.Itoa(len(rows)), "a request has at most "+strconv.Itoa(controllerReadings)+" readings", "send half of them")
	case len(name) > 64:
		err = refuse(http.StatusBadRequest, record.TooLong, "controller", name, "is longer than 64 bytes", "shorten it")
	}
	return name, rows, err
}

// readCSV reads a table whose first line names its columns.
func readCSV(body []byte) ([]row, error) {
	lines := csv.NewReader(bytes.NewReader(body))
	lines.TrimLeadingSpace = true
	head, err := lines.Read()
	bad := func(err error) error {
		return refuse(http.StatusBadRequest, record.Malformed, "body", "", "is not the CSV that is expected: "+err.Error(), "begin with a line of column names: "+strings.Join(columns, ","))
	}
	if err != nil {
		return nil, bad(err)
	}
	for i := range head {
		head[i] = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(head[i], "\ufeff")))
		if !slices.Contains(columns, head[i]) {
			return nil, bad(fmt.Errorf("%q is no column", head[i]))
		}
	}
	var out []row
	for {
		cells, err := lines.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, bad(err)
		}
		r := row{}
		for i, cell := range cells {
			if cell = strings.TrimSpace(cell); cell != "" {
				r[head[i]] = cell
			}
		}
		out = append(out, r)
	}
}

// soundReading reads one reading by the book's own description of it. Units
// are not guessed: a controller does not know the book's convention.
func soundReading(r row, now time.Time) (book.ControllerReading, fault.List) {
	raw, err := json.Marshal(map[string]any{"readings": []row{r}})
	if err != nil {
		panic(err) // a map of texts
	}
	body, faults := book.Compose("readings arrived", book.US, raw)
	for i := range faults {
		faults[i].Field = strings.TrimPrefix(faults[i].Field, "readings[1].")
	}
	said := 0
	for _, key := range columns[2:] {
		if text := r[key]; text != "" {
			if said++; key == "temp" && strings.ContainsAny(text[len(text)-1:], "0123456789.") {
				faults = append(faults, fault.Fault{Code: fault.UnknownUnit, Field: key, Value: text, Limit: "has no unit", Remedy: "write 18.4C or 65.1F"})
			}
		}
	}
	arrived, ok := body.(*book.ReadingsArrived)
	if len(faults) > 0 || !ok || len(arrived.Readings) != 1 {
		return book.ControllerReading{}, faults
	}
	out := arrived.Readings[0]
	at := time.UnixMilli(out.At.Milliseconds())
	switch {
	case said == 0:
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "temp", Limit: "a temperature, a gravity or a pH is needed", Remedy: "send what was measured"})
	case at.After(now.Add(controllerAhead)):
		faults = append(faults, fault.Fault{Code: fault.TooHigh, Field: "at", Value: r["at"], Limit: "is in the future; here it is " + now.Format(time.RFC3339), Remedy: "set the controller's clock"})
	case at.Before(now.Add(-controllerMemory)):
		faults = append(faults, fault.Fault{Code: fault.TooLow, Field: "at", Value: r["at"], Limit: "is more than 40 days ago; whether the book has it is not looked up that far", Remedy: "check the controller's clock"})
	}
	return out, faults
}

// remember looks up once what the book has of a controller, as far back as
// readings are taken.
func (s *Server) remember(ctx context.Context, device string, k *controller) error {
	if k.known != nil {
		return nil
	}
	known := map[readingKey]bool{}
	oldest := s.now().Add(-controllerMemory)
	err := s.book.Update(ctx, device, func(l exchange.Ledger) error {
		tip, err := l.Tip(device)
		for seq := tip.Seq; err == nil && seq > 0; seq-- {
			var stored record.Stored
			if stored, err = l.At(device, seq); err != nil || stored.Line == nil {
				continue
			}
			r, err := record.Decode(stored.Line)
			if err != nil {
				return err
			}
			if r.Written.Time().Before(oldest) {
				return nil // a reading was never written before it was taken
			}
			body, err := book.Decode(r.Kind, r.V, r.Body)
			if err != nil {
				return err
			}
			if b, ok := body.(*book.ReadingsArrived); ok {
				for i := range b.Readings {
					known[keyOf(&b.Readings[i])] = true
				}
			}
		}
		return err
	})
	if err == nil {
		k.known = known
	}
	return err
}

// storeReadings seals what waits, in the order it was measured. What could not
// be stored goes on waiting.
func (s *Server) storeReadings(ctx context.Context, device string, k *controller) (stored int, err error) {
	if len(k.waiting) == 0 {
		return 0, nil
	}
	slices.SortStableFunc(k.waiting, func(a, b book.ControllerReading) int {
		return int(max(-1, min(1, a.At.Milliseconds()-b.At.Milliseconds())))
	})
	var head record.Mark
	err = s.book.Update(ctx, device, func(l exchange.Ledger) error {
		chain, contact, err := chainOf(l, device)
		if err != nil {
			return err
		}
		push := exchange.Push{PushHeader: exchange.PushHeader{Proto: exchange.Proto, Device: device}}
		for part := range slices.Chunk(k.waiting, entryReadings) {
			line, next, err := s.sealReadings(chain, contact, &book.ReadingsArrived{Controller: k.name, Readings: part})
			if err != nil {
				return err
			}
			push.Lines, chain = append(push.Lines, line), next
		}
		reply, err := exchange.Receive(push, s.now(), sealedFor(device), l)
		if err != nil {
			return err
		}
		for _, answer := range reply.Entries {
			if answer.State != exchange.New {
				return fmt.Errorf("readings of %s are %s: %v", device, answer.State, answer.Fault)
			}
		}
		head = reply.Head
		return nil
	})
	if err != nil {
		return 0, err
	}
	stored, k.waiting = len(k.waiting), nil
	s.bell.ring(head)
	return stored, nil
}

// chainOf is where a device's chain ends, for the server that seals for it.
func chainOf(l exchange.Ledger, device string) (exchange.Chain, exchange.Contact, error) {
	tip, err := l.Tip(device)
	if err != nil {
		return exchange.Chain{}, exchange.Contact{}, err
	}
	head, err := l.Head()
	if err != nil {
		return exchange.Chain{}, exchange.Contact{}, err
	}
	chain := exchange.Chain{Device: device, Seq: tip.Seq, Prev: tip.Digest}
	if tip.Seq > 0 {
		last, err := l.At(device, tip.Seq)
		if err != nil {
			return chain, exchange.Contact{}, err
		}
		r, err := record.Decode(last.Line)
		if err != nil {
			return chain, exchange.Contact{}, err
		}
		chain.Clock = r.Clock
	}
	return chain, exchange.Contact{Since: head}, nil
}

// sealReadings makes the record of some readings; it happened when the last of
// them was taken.
func (s *Server) sealReadings(chain exchange.Chain, contact exchange.Contact, b *book.ReadingsArrived) ([]byte, exchange.Chain, error) {
	var noise [10]byte
	if _, err := io.ReadFull(s.random, noise[:]); err != nil {
		return nil, chain, err
	}
	last, err := time.Parse(time.RFC3339, b.Readings[len(b.Readings)-1].At.String())
	if err != nil {
		return nil, chain, err
	}
	kind := book.KindOf(b)
	return exchange.Seal(chain, contact, exchange.Draft{Kind: kind.Name, V: kind.Version, Body: book.Encode(b),
		Happened: record.StampOf(last), Written: record.StampOf(s.now()), By: Controller}, record.NewID(s.now(), noise))
}

// sealedFor is the right of the server to bring what it sealed for a
// controller: its readings, and nothing else.
type sealedFor string

func (device sealedFor) MayWrite(h record.Record) bool {
	return h.Device == string(device) && h.Kind == "readings arrived"
}
func (device sealedFor) MaySee(record.Record) bool { return false }
func (device sealedFor) Scope() string             { return string(device) }

// keepReadings stores what has waited long enough, until the context ends.
func (s *Server) keepReadings(ctx context.Context) {
	often := time.NewTicker(controllerHold / 5)
	defer often.Stop()
	for {
		select {
		case <-often.C:
			if err := s.storeWaiting(ctx, controllerHold); err != nil {
				s.log.Error("readings of a controller were not stored; they wait", "error", err)
			}
		case <-ctx.Done():
			return
		}
	}
}

// storeWaiting stores what came at least so long ago.
func (s *Server) storeWaiting(ctx context.Context, ago time.Duration) (err error) {
	for _, name := range s.controllers.all() {
		k := s.controllers.named(name)
		k.mu.Lock()
		if len(k.waiting) > 0 && s.now().Sub(k.since) >= ago {
			_, failed := s.storeReadings(ctx, name, k)
			err = errors.Join(err, failed)
		}
		k.mu.Unlock()
	}
	return err
}
