package server

import (
	"fmt"
	"net/http"
	"sync"
	"time"

	"gaugebook/sync/record"

	"github.com/labstack/echo/v4"
)

// A bell tells everyone who listens that the log has a new end. It keeps only
// the newest: a listener that was slow misses the ones between.
type bell struct {
	mu   sync.Mutex
	mark record.Mark
	next chan struct{} // closed when mark changes
}

func newBell(mark record.Mark) *bell { return &bell{mark: mark, next: make(chan struct{})} }

func (b *bell) ring(mark record.Mark) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if mark.Seq > b.mark.Seq {
		b.mark = mark
		close(b.next)
		b.next = make(chan struct{})
	}
}

// hear is the newest mark, and a channel that is closed when it is no longer.
func (b *bell) hear() (record.Mark, <-chan struct{}) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.mark, b.next
}

// live sends the log's end at once and whenever it moves, as server-sent
// events, with a comment now and then so that nothing in between hangs up.
func (s *Server) live(c echo.Context) error {
	device := deviceOf(c)
	if !s.listeners.enter(device.Name) {
		return tooOften(10 * time.Second)
	}
	defer s.listeners.leave(device.Name)
	w, ctl := c.Response(), http.NewResponseController(c.Response())
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store, no-transform")
	h.Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	say := func(text string) error {
		// The server's write timeout is for replies that end; this one ends with its reader.
		if err := ctl.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
			return err
		}
		if _, err := w.Write([]byte(text)); err != nil {
			return err
		}
		return ctl.Flush()
	}
	beat := time.NewTicker(s.beat)
	defer beat.Stop()
	text := "retry: 3000\n\n"
	for {
		mark, moved := s.bell.hear()
		if err := say(text + fmt.Sprintf("event: head\ndata: %s\n\n", mark)); err != nil {
			return nil // it hung up
		}
		text = ""
		for quiet := true; quiet; {
			select {
			case <-moved:
				quiet = false
			case <-beat.C:
				if again, ok, err := s.book.DeviceByToken(c.Request().Context(), device.Token); err != nil || !ok || again.Over(s.now()) {
					return nil // its time has ended; the next request says so
				}
				if err := say(": still here\n\n"); err != nil {
					return nil
				}
			case <-c.Request().Context().Done():
				return nil
			case <-s.stopping:
				return nil
			}
		}
	}
}

// listeners counts who listens, so that one phone cannot take every connection.
type listeners struct {
	mu      sync.Mutex
	by      map[string]int
	all     int
	perName int
	inAll   int
}

func (l *listeners) enter(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.by[name] >= l.perName || l.all >= l.inAll {
		return false
	}
	l.by[name]++
	l.all++
	return true
}

func (l *listeners) leave(name string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.by[name]--; l.by[name] == 0 {
		delete(l.by, name)
	}
	l.all--
}
