package main

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"path/filepath"
	"strings"
	"time"

	"gaugebook/calc/fault"
	"gaugebook/server"
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
		fs.StringVar(&o.listen, "listen", "127.0.0.1:8021", "`ADDRESS` to answer on; port 0 takes a free one")
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
	file := bookFile{s}
	if o.demo {
		if err := fill(ctx, file, demo); err != nil {
			return fmt.Errorf("writing the demo: %w", err)
		}
	}
	srv, err := server.New(ctx, server.Config{
		Book: file, Page: page, Now: time.Now, Random: rand.Reader, Log: log,
		Hosts: o.hosts, OpenJoin: o.demo, Checker: tradeRules{},
	})
	if err != nil {
		return err
	}
	ln, err := listen(o.listen)
	if err != nil {
		return err
	}
	if err := o.greet(ctx, srv, s, ln.Addr(), stdout); err != nil {
		return errors.Join(err, ln.Close())
	}
	ctx, stop := context.WithCancel(ctx)
	backups := make(chan struct{})
	go func() {
		defer close(backups)
		o.daily(ctx, s, log)
	}()
	err = srv.Serve(ctx, ln)
	stop()
	<-backups
	return err
}

// listen takes the address. Plain http is for this machine alone: on a network
// it would give the sessions away, and phones could not work offline.
func listen(address string) (net.Listener, error) {
	ln, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fault.Fault{Code: fault.Conflict, Field: "listen", Value: address, Limit: err.Error(), Remedy: "name another address with --listen"}
	}
	if tcp, ok := ln.Addr().(*net.TCPAddr); !ok || !tcp.IP.IsLoopback() {
		return nil, errors.Join(fault.Fault{Code: fault.NotOneOf, Field: "listen", Value: address,
			Limit: "plain http is answered on this machine alone, such as 127.0.0.1:8021", Remedy: "put a server with a certificate in front, and name it with --host"}, ln.Close())
	}
	return ln, nil
}

// greet says where the book is, where to open it, and how the first phone joins.
func (o serveOptions) greet(ctx context.Context, srv *server.Server, s *store.Store, addr net.Addr, out io.Writer) error {
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
	fmt.Fprintf(&words, "listening on http://%s\n", addr)
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
func fill(ctx context.Context, b bookFile, demo func() ([]demoEntry, error)) error {
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
