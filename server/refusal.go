package server

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// Codes of the server's own faults.
const (
	codeNotFound    = "not-found"
	codeMethod      = "method"
	codeMediaType   = "media-type"
	codeNotJoined   = "not-joined"
	codeEnded       = "ended"
	codeWrongCode   = "wrong-code"
	codeWrongHost   = "wrong-host"
	codeCrossOrigin = "cross-origin"
	codeTooOften    = "too-often"
	codeDiskFull    = "disk-full"
	codeInternal    = "internal"
)

func refuse(status int, code, field, value, limit, remedy string) *exchange.Refusal {
	const most = 80 // a sentence is for a person
	if len(value) > most {
		value = value[:most] + "…"
	}
	value = strings.ToValidUTF8(value, "�")
	return &exchange.Refusal{Status: status, Faults: []record.Fault{{Code: code, Field: field, Value: value, Limit: limit, Remedy: remedy}}}
}

func tooLarge(size string, most int) *exchange.Refusal {
	remedy := "send half of it"
	if most < exchange.MaxBytes {
		remedy = "send less"
	}
	return refuse(http.StatusRequestEntityTooLarge, record.TooLong, "body", size,
		"a request has at most "+strconv.Itoa(most)+" bytes, unpacked", remedy)
}

// later is a refusal that says when to come back.
type later struct {
	*exchange.Refusal
	after time.Duration
}

func (l later) Unwrap() error { return l.Refusal }

func tooOften(after time.Duration) error {
	seconds := strconv.Itoa(int(max(after, time.Second).Round(time.Second).Seconds()))
	return later{refuse(http.StatusTooManyRequests, codeTooOften, "request", "",
		"too many of these in a short time", "try again in "+seconds+" s"), after}
}

// refusalOf is the refusal that any error becomes. Only the unexpected ones
// are worth more than a line in the log, and the second result says so.
func refusalOf(r *http.Request, err error) (refusal *exchange.Refusal, unexpected bool) {
	if errors.As(err, &refusal) {
		return refusal, false
	}
	var noRoom interface{ NoRoom() bool }
	if errors.As(err, &noRoom) && noRoom.NoRoom() {
		return refuse(http.StatusInsufficientStorage, codeDiskFull, "disk", "",
			"the disk of the office's computer is full; nothing of this was stored", "make room there; the phone keeps its entries and tries again"), true
	}
	var tooBig *http.MaxBytesError
	if errors.As(err, &tooBig) {
		return tooLarge("more than "+strconv.FormatInt(tooBig.Limit, 10)+" bytes", int(tooBig.Limit)), false
	}
	var he *echo.HTTPError
	if errors.As(err, &he) {
		switch he.Code {
		case http.StatusNotFound:
			return refuse(he.Code, codeNotFound, "path", r.URL.Path, "nothing of the book is there", "open / instead"), false
		case http.StatusMethodNotAllowed:
			return refuse(he.Code, codeMethod, "method", r.Method, r.URL.Path+" does not take it", "use the page, or read the interface in DEVELOPERS.md"), false
		}
	}
	return refuse(http.StatusInternalServerError, codeInternal, "server", "",
		"something went wrong in Gaugebook; nothing of this was stored", "try again; if it stays so, the server's log names the cause"), true
}

// handleError is the one place where an error becomes a reply.
func (s *Server) handleError(err error, c echo.Context) {
	refusal, unexpected := refusalOf(c.Request(), err)
	if unexpected {
		s.log.Error("request failed", "method", c.Request().Method, "path", c.Request().URL.Path, "error", err)
	}
	if c.Response().Committed {
		return
	}
	var l later
	if errors.As(err, &l) {
		c.Response().Header().Set("Retry-After", strconv.Itoa(int(max(l.after, time.Second).Round(time.Second).Seconds())))
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	if err := c.JSON(refusal.Status, refusal); err != nil {
		s.log.Warn("a refusal was not sent", "error", fmt.Sprint(err))
	}
}
