package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp"

	"github.com/labstack/echo/v4"
)

// Config is what a server is made of. Book, Page, Now, Random and Log are
// needed.
type Config struct {
	Book   Book
	Page   *webapp.Bundle
	Now    func() time.Time
	Random io.Reader
	Log    *slog.Logger

	Hosts    []string       // names it goes by, besides loopback and the addresses it listens on
	Rights   Authoriser     // by the roles of calc/role, if nil
	Checker  Checker        // nothing is counted, if nil
	Proxies  []netip.Prefix // of reverse proxies whose X-Forwarded headers are believed
	OpenJoin bool           // a browser on this machine joins as the owner's phone by itself: the demo
	Beat     time.Duration  // between signs of life on a live connection; 20 s if 0
}

// A Server serves one book.
type Server struct {
	book     Book
	now      func() time.Time
	random   io.Reader
	log      *slog.Logger
	hosts    []string
	rights   Authoriser
	checker  Checker
	openJoin bool
	proxies  []netip.Prefix
	beat     time.Duration
	timeout  time.Duration // for writing a reply

	echo      *echo.Echo
	handler   http.Handler
	codes     codes
	bell      *bell
	listeners listeners
	joins     *limiter // by address
	allJoins  *limiter
	wrongs    *limiter // codes that were none, by address
	exchanges *limiter // by device
	stopping  chan struct{}
	packers   sync.Pool // of *gzip.Writer, each larger than what it packs

	controllers controllers
	sheet       *sheetView // nil where the book is answered on this machine alone
}

// Limits of time on a connection.
const (
	headerTimeout = 5 * time.Second
	readTimeout   = 30 * time.Second
	writeTimeout  = 60 * time.Second
	idleTimeout   = 120 * time.Second
	stopTimeout   = 10 * time.Second
)

// New makes a server of a book.
func New(ctx context.Context, c Config) (*Server, error) {
	s := &Server{
		book: c.Book, now: c.Now, random: c.Random, log: c.Log,
		rights: c.Rights, checker: c.Checker, openJoin: c.OpenJoin, proxies: c.Proxies, beat: c.Beat,
		timeout:   writeTimeout,
		listeners: listeners{by: map[string]int{}, perName: 8, inAll: 512},
		joins:     newLimiter(10, 6*time.Second, c.Now),
		wrongs:    newLimiter(5, 2*time.Minute, c.Now),
		allJoins:  newLimiter(60, time.Second, c.Now),
		exchanges: newLimiter(600, 50*time.Millisecond, c.Now),
		stopping:  make(chan struct{}),

		controllers: controllers{by: map[string]*controller{}},
	}
	for _, host := range c.Hosts {
		s.hosts = append(s.hosts, hostOf(host))
	}
	if s.rights == nil {
		s.rights = roles{}
	}
	if s.beat == 0 {
		s.beat = 20 * time.Second
	}
	var head record.Mark
	if err := s.book.View(ctx, func(v exchange.Reader) (err error) { head, err = v.Head(); return err }); err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	s.bell = newBell(head)

	e := echo.New()
	e.HTTPErrorHandler = s.handleError
	e.Logger.SetOutput(io.Discard)
	e.Use(s.observe)
	for path, file := range c.Page.Files {
		e.Match([]string{http.MethodGet, http.MethodHead}, path, asset(file))
	}
	e.GET("/healthz", s.health)
	e.GET(pathTrusted, trusted)
	e.POST(exchange.PathJoin, s.join, noStore)
	e.POST(exchange.PathPush, s.push, noStore, s.joined)
	e.GET(exchange.PathPull, s.pull, noStore, s.joined)
	e.GET("/sync/v1/live", s.live, noStore, s.joined)
	e.GET(pathMe, s.me, noStore, s.joined)
	e.POST(pathHeld, s.held, noStore, s.joined)
	e.POST(pathLeave, s.leave, noStore, s.joined)
	e.GET("/devices/v1", s.devices, noStore, s.joined, s.runnersOnly)
	e.POST("/devices/v1/invite", s.invite, noStore, s.joined, s.runnersOnly)
	e.POST("/devices/v1/end", s.end, noStore, s.joined, s.runnersOnly)
	e.POST("/devices/v1/accept", s.accept, noStore, s.joined, s.ownersOnly)
	e.POST(PathControllerJoin, s.joinController, noStore)
	e.POST(PathReadings, s.readings, noStore, s.joined)
	s.echo, s.handler = e, s.guard(e)
	return s, nil
}

// Handler is the whole server, for any listener.
func (s *Server) Handler() http.Handler { return s.handler }

// Serve answers on a listener until the context ends, then finishes what it
// was at. It returns nil after such a stop.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	hs := &http.Server{
		Handler: s.handler, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout,
		WriteTimeout: s.timeout, IdleTimeout: idleTimeout, MaxHeaderBytes: 16 << 10,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		close(s.stopping) // live connections end by themselves
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
		defer cancel()
		stopped <- errors.Join(hs.Shutdown(grace), s.storeWaiting(grace, 0))
	}()
	go s.keepReadings(ctx)
	if err := hs.Serve(ln); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return <-stopped
}

// observe turns a panic into an error and writes a line about the request.
// Neither the query of a request nor any of its headers is in it.
func (s *Server) observe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		began := s.now()
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
			}
			if err != nil {
				s.handleError(err, c)
				err = nil
			}
			r := c.Request()
			level := slog.LevelDebug
			if strings.HasPrefix(r.URL.Path, "/sync/") {
				level = slog.LevelInfo
			}
			s.log.Log(r.Context(), level, "request", "method", r.Method, "path", r.URL.Path, "status", c.Response().Status,
				"device", deviceOf(c).Name, "bytes", c.Response().Size, "took", s.now().Sub(began))
		}()
		return next(c)
	}
}

func noStore(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		c.Response().Header().Set("Cache-Control", "no-store")
		return next(c)
	}
}

// health says whether the book can be read.
func (s *Server) health(c echo.Context) error {
	var head record.Mark
	if err := s.book.View(c.Request().Context(), func(v exchange.Reader) (err error) { head, err = v.Head(); return err }); err != nil {
		return err
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, map[string]any{"ok": true, "entries": head.Seq})
}
