package server

import (
	"compress/gzip"
	"errors"
	"io"
	"mime"
	"net/http"
	"strconv"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// push takes records. The reply leaves after they are on the disk.
func (s *Server) push(c echo.Context) error {
	device := deviceOf(c)
	body, err := readBody(c, exchange.ContentLines, exchange.MaxBytes)
	if err != nil {
		return err
	}
	p, err := exchange.ParsePush(body)
	if err != nil {
		return err
	}
	if p.Device != device.Name {
		return refuse(http.StatusUnauthorized, codeNotJoined, "device", p.Device, "this session is that of "+device.Name,
			"join again with a code from the owner; what the phone holds stays")
	}
	var reply exchange.PushReply
	err = s.book.Update(c.Request().Context(), device.Name, func(l exchange.Ledger) (err error) {
		reply, err = exchange.Receive(p, s.now(), s.rightsOf(device), l)
		return err
	})
	if err != nil {
		return err
	}
	s.bell.ring(reply.Head)
	s.count(device, p, reply)
	if secret := secretOf(c.Request()); c.Request().Header.Get("Authorization") == "" {
		c.SetCookie(sessionCookie(c.Request(), secret))
	}
	return c.JSON(http.StatusOK, reply)
}

// count tells the log what became of a push, and how many new entries the
// trade's rules find fault with. Nobody is refused for that.
func (s *Server) count(device Device, p exchange.Push, reply exchange.PushReply) {
	states := map[exchange.State]int{}
	faulty := 0
	for i, answer := range reply.Entries {
		states[answer.State]++
		isNew := answer.State == exchange.New || answer.State == exchange.Gap
		if isNew && s.checker != nil && len(s.checker.Check(p.Lines[i])) > 0 {
			faulty++
		}
	}
	args := []any{"device", device.Name, "app", p.App, "head", reply.Head.Seq, "faulty", faulty}
	for _, state := range exchange.States() {
		if n := states[state]; n > 0 {
			args = append(args, string(state), n)
		}
	}
	s.log.Info("push", args...)
}

// pull gives a page of records.
func (s *Server) pull(c echo.Context) error {
	q, err := exchange.ParsePullQuery(c.QueryParam)
	if err != nil {
		return err
	}
	var page exchange.Page
	err = s.book.View(c.Request().Context(), func(v exchange.Reader) (err error) {
		page, err = exchange.Deliver(q, s.now(), s.rightsOf(deviceOf(c)), v)
		return err
	})
	if err != nil {
		return err
	}
	return s.lines(c, page.Bytes())
}

// lines replies with records, packed if there are many and the phone takes it.
func (s *Server) lines(c echo.Context, body []byte) error {
	const worthwhile = 2048
	h := c.Response().Header()
	h.Set("Content-Type", exchange.ContentLines)
	h.Set("Vary", "Accept-Encoding")
	if len(body) < worthwhile || !accepts(c.Request().Header.Values("Accept-Encoding"), "gzip") {
		h.Set("Content-Length", strconv.Itoa(len(body)))
		c.Response().WriteHeader(http.StatusOK)
		_, err := c.Response().Write(body)
		return err
	}
	h.Set("Content-Encoding", "gzip")
	c.Response().WriteHeader(http.StatusOK)
	z, ok := s.packers.Get().(*gzip.Writer)
	if !ok {
		var err error
		if z, err = gzip.NewWriterLevel(nil, gzip.BestSpeed); err != nil {
			return err
		}
	}
	defer s.packers.Put(z)
	z.Reset(c.Response())
	_, err := z.Write(body)
	return errors.Join(err, z.Close())
}

// readBody reads a request's body of one type, unpacked, and no more of it
// than most.
func readBody(c echo.Context, want string, most int) ([]byte, error) {
	r := c.Request()
	if got, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || got != want {
		return nil, refuse(http.StatusUnsupportedMediaType, codeMediaType, "content-type", r.Header.Get("Content-Type"),
			"this takes "+want, "send it as that")
	}
	var from io.Reader = http.MaxBytesReader(c.Response(), r.Body, int64(most))
	switch coding := r.Header.Get("Content-Encoding"); coding {
	case "", "identity":
	case "gzip":
		z, err := gzip.NewReader(from)
		if err != nil {
			return nil, badBody(err)
		}
		from = z
	default:
		return nil, refuse(http.StatusUnsupportedMediaType, codeMediaType, "content-encoding", coding, "a body is plain or gzip", "send it as one of these")
	}
	// However small it was packed, no more than a push is unpacked.
	body, err := io.ReadAll(io.LimitReader(from, int64(most)+1))
	if err != nil {
		return nil, badBody(err)
	}
	if len(body) > most {
		return nil, tooLarge("more than "+strconv.Itoa(most)+" bytes", most)
	}
	return body, nil
}

func badBody(err error) error {
	var tooBig *http.MaxBytesError
	if errors.As(err, &tooBig) {
		return err
	}
	return refuse(http.StatusBadRequest, record.Malformed, "body", "", "the body did not arrive whole: "+err.Error(), "send it again")
}
