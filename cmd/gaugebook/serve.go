package main

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/netip"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"gaugebook/server"
	"gaugebook/server/shelf"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp"
)

// A demoEntry is one entry of the demo book and the device it was written on.
type demoEntry struct {
	Device string
	exchange.Draft
}

// runServe is the subcommand serve; demo gives the entries of the demo book in
// the order in which they were written.
func runServe(demo func() ([]demoEntry, error)) func(context.Context, []string, io.Reader, io.Writer, io.Writer) error {
	return func(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) error {
		fs := flags("serve", "[flags]")
		var o serveOptions
		fs.BoolVar(&o.demo, "demo", false, "serve the demo book; a browser on this machine joins by itself")
		fs.BoolVar(&o.invite, "invite", false, "print a code for one more owner's phone")
		fs.BoolVar(&o.controller, "controller", false, "print a code for a tank controller")
		fs.StringVar(&o.listen, "listen", "", "`ADDRESS` to answer on; port 0 takes a free one (default: :8021 with https; 127.0.0.1:8021 for the demo)")
		fs.StringVar(&o.sheet, "join-listen", ":8020", "`ADDRESS` that gives the join sheet without encryption; 'none' for none")
		fs.StringVar(&o.name, "name", "", "the one `NAME` or address by which phones open the book (default: this machine's name with .local)")
		fs.StringVar(&o.cert, "tls-cert", "", "a certificate of your own, a `FILE` in PEM that is read again when it changes")
		fs.StringVar(&o.key, "tls-key", "", "its key, a `FILE` in PEM")
		fs.BoolVar(&o.https, "https", false, "https also on an address of this machine alone")
		fs.Func("proxy", "`ADDRESS` or range of a reverse proxy whose X-Forwarded headers are believed; may be given again", o.believe)
		fs.Func("host", "a further `NAME` this server goes by; may be given again", func(name string) error {
			o.hosts = append(o.hosts, name)
			return nil
		})
		fs.StringVar(&o.backups, "backups", "", "`FOLDER` of the daily backups; 'none' for none (default: backups beside the book; none for the demo)")
		fs.IntVar(&o.keep, "keep", 14, "how many daily backups are kept")
		fs.BoolVar(&o.verbose, "verbose", false, "log every request")
		if helped, err := parse(fs, args, stdout, 0, 0); helped || err != nil {
			return err
		}
		o.book = bookOf(fs)
		if o.demo && o.book == defaultBook {
			o.book = "gaugebook-demo.db"
		}
		if o.listen == "" {
			o.listen = map[bool]string{true: "127.0.0.1:8021", false: ":8021"}[o.demo]
		}
		if o.backups == "" && !o.demo {
			o.backups = filepath.Join(filepath.Dir(o.book), "backups")
		}
		return o.serve(ctx, demo, stdout, stderr)
	}
}

type serveOptions struct {
	book, listen, backups string
	hosts                 []string
	demo, invite, verbose bool
	controller            bool
	https                 bool
	name, cert, key       string // of the certificate
	sheet                 string // where the join sheet is given without encryption
	proxies               []netip.Prefix
	keep                  int
}

func (o serveOptions) serve(ctx context.Context, demo func() ([]demoEntry, error), stdout, stderr io.Writer) (err error) {
	level := slog.LevelInfo
	if o.verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: level}))
	page, err := webapp.Assets()
	if err != nil {
		return err
	}
	s, err := store.Open(ctx, o.book, store.Options{Warn: func(words string) { log.Warn(words) }})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	file := shelf.Book{Store: s}
	if o.demo {
		if err := fill(ctx, file, demo); err != nil {
			return fmt.Errorf("writing the demo: %w", err)
		}
	}
	door, err := o.open(log)
	if err != nil {
		return err
	}
	srv, err := server.New(ctx, server.Config{
		Book: file, Page: page, Now: time.Now, Random: rand.Reader, Log: log,
		Hosts: append(o.hosts, door.hosts...), Proxies: o.proxies, OpenJoin: o.demo, Checker: tradeRules{},
	})
	if err != nil {
		return errors.Join(err, door.close())
	}
	if door.sheet.App != "" {
		if err := srv.ShowSheet(door.sheet); err != nil {
			return errors.Join(err, door.close())
		}
	}
	if err := o.greet(ctx, srv, s, door, stdout); err != nil {
		return errors.Join(err, door.close())
	}
	if os.Getenv("GOGC") == "" { // on a small computer memory is scarcer than the collector's time
		defer debug.SetGCPercent(debug.SetGCPercent(50))
	}
	ctx, stop := context.WithCancel(ctx)
	handed := make(chan error, 1)
	go func() { handed <- door.handOut(ctx) }()
	backups := make(chan struct{})
	go func() {
		defer close(backups)
		o.daily(ctx, s, log)
	}()
	err = srv.Serve(ctx, door.book)
	stop()
	err = errors.Join(err, <-handed)
	<-backups
	return err
}

// greet says where the book is, where to open it, and how the first phone joins.
func (o serveOptions) greet(ctx context.Context, srv *server.Server, s *store.Store, door door, out io.Writer) error {
	head, err := s.Head(ctx)
	if err != nil {
		return err
	}
	owned, err := srv.HasOwner(ctx)
	if err != nil {
		return err
	}
	var words strings.Builder
	fmt.Fprintf(&words, "the book is %s, with %d entries\n", s.Path(), head.Seq)
	if o.demo {
		words.WriteString("this is the demo: every name and figure in it is invented, and a browser on this machine joins by itself\n")
	} else if !owned || o.invite {
		code, err := srv.Invite(server.Invitation{Role: server.Owner, Label: "owner"})
		if err != nil {
			return err
		}
		fmt.Fprintf(&words, "an owner's phone joins with the code %s, good once\n", code)
	}
	if o.controller {
		code, err := srv.Invite(server.Invitation{Role: server.Controller, Label: "tank controller"})
		if err != nil {
			return err
		}
		fmt.Fprintf(&words, "a tank controller joins with the code %s, good once\n", code)
	}
	words.WriteString(door.words())
	_, err = io.WriteString(out, words.String())
	return err
}

// daily makes the day's backup, now and whenever a new day has begun.
func (o serveOptions) daily(ctx context.Context, s *store.Store, log *slog.Logger) {
	if o.backups == "" || o.backups == "none" {
		return
	}
	hourly := time.NewTicker(time.Hour)
	defer hourly.Stop()
	for {
		path, made, err := s.Daily(ctx, o.backups, time.Now(), o.keep)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			log.Error("the day's backup failed", "error", err)
		case made:
			log.Info("the day's backup is made and verified", "file", path)
		}
		select {
		case <-hourly.C:
		case <-ctx.Done():
			return
		}
	}
}

// everything is the rights of the demo's own devices.
type everything struct{}

func (everything) MayWrite(record.Record) bool { return true }
func (everything) MaySee(record.Record) bool   { return true }
func (everything) Scope() string               { return "everything" }

// fill writes the demo into an empty book, by the way every phone's entries
// take. Sealed twice it is the same bytes, so a phone that holds an earlier
// demo agrees with a later one.
func fill(ctx context.Context, b shelf.Book, demo func() ([]demoEntry, error)) error {
	if head, err := b.Head(ctx); err != nil || head.Seq > 0 {
		return err
	}
	entries, err := demo()
	if err != nil {
		return err
	}
	chains := map[string]exchange.Chain{}
	var push exchange.Push
	for i, e := range entries {
		chain, ok := chains[e.Device]
		if !ok {
			chain.Device = e.Device
			d, err := server.NewDevice(e.Device, server.Owner, "demo", e.Written.Time())
			if err != nil {
				return err
			}
			if _, err := b.AddDevice(ctx, d); err != nil {
				return err
			}
		}
		noise := sha256.Sum256(fmt.Appendf(nil, "gaugebook demo %d", i))
		line, next, err := exchange.Seal(chain, exchange.Contact{}, e.Draft, record.NewID(e.Written.Time(), [10]byte(noise[:10])))
		if err != nil {
			return fmt.Errorf("entry %d: %w", i+1, err)
		}
		chains[e.Device] = next
		push.Lines = append(push.Lines, line)
	}
	return b.Update(ctx, "demo", func(l exchange.Ledger) error { // the whole of it, or nothing
		reply, err := exchange.Receive(push, time.Now(), everything{}, l)
		for i, answer := range reply.Entries {
			if answer.State != exchange.New {
				err = errors.Join(err, fmt.Errorf("%s is %s: %v", push.Lines[i], answer.State, answer.Fault))
			}
		}
		return err
	})
}
