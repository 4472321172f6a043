package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/server"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
)

// defaultBook is the book's file where no --book names another.
const defaultBook = "gaugebook.db"

// A bookFile is a store as the server wants it: the two know nothing of each
// other, and their devices have the same fields.
type bookFile struct{ *store.Store }

func (b bookFile) Update(ctx context.Context, sender string, f func(exchange.Ledger) error) error {
	return b.Store.Update(ctx, sender, func(l *store.Ledger) error { return f(l) })
}

func (b bookFile) View(ctx context.Context, f func(exchange.Reader) error) error {
	return b.Store.View(ctx, func(v *store.View) error { return f(v) })
}

func (b bookFile) DeviceByToken(ctx context.Context, token [32]byte) (server.Device, bool, error) {
	d, ok, err := b.Store.DeviceByToken(ctx, token)
	return server.Device(d), ok, err
}

func (b bookFile) Devices(ctx context.Context) ([]server.Device, error) {
	ds, err := b.Store.Devices(ctx)
	out := make([]server.Device, len(ds))
	for i, d := range ds {
		out[i] = server.Device(d)
	}
	return out, err
}

func (b bookFile) Asides(ctx context.Context) ([]server.Aside, error) {
	all, err := b.Store.Asides(ctx)
	out := make([]server.Aside, len(all))
	for i, a := range all {
		out[i] = server.Aside(a)
	}
	return out, err
}

func (b bookFile) AddDevice(ctx context.Context, d server.Device) (bool, error) {
	return b.Store.AddDevice(ctx, store.Device(d))
}

func (b bookFile) RenewDevice(ctx context.Context, d server.Device) error {
	return b.Store.RenewDevice(ctx, store.Device(d))
}

// flags makes a subcommand's flag set; parse reads the arguments with it and
// leaves exactly the named positional ones.
func flags(name, usage string) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Usage = func() {}
	fs.String("book", defaultBook, "the book's `FILE`")
	fs.Init("gaugebook "+name+" "+usage, flag.ContinueOnError)
	return fs
}

// parse reads args, in which flags may stand before, between and after the
// others. With -h it prints the usage and says so.
func parse(fs *flag.FlagSet, args []string, out io.Writer, least, most int) (helped bool, err error) {
	var plain []string
	for err = fs.Parse(args); err == nil && fs.NArg() > 0; err = fs.Parse(args) {
		plain, args = append(plain, fs.Arg(0)), fs.Args()[1:]
	}
	if err == nil {
		err = fs.Parse(append([]string{"--"}, plain...))
	}
	if err == flag.ErrHelp {
		fmt.Fprintln(out, "usage:", fs.Name())
		fs.SetOutput(out)
		fs.PrintDefaults()
		return true, nil
	}
	remedy := "usage: " + fs.Name()
	if err != nil {
		return false, fault.Fault{Code: fault.Unknown, Field: "flag", Limit: err.Error(), Remedy: remedy}
	}
	switch n := fs.NArg(); {
	case n < least:
		return false, fault.Fault{Code: fault.Missing, Field: "argument", Limit: "something is missing after the flags", Remedy: remedy}
	case n > most:
		return false, fault.Fault{Code: fault.Conflict, Field: "argument", Value: strings.Join(fs.Args()[most:], " "), Limit: "is one too many", Remedy: remedy}
	}
	return false, nil
}

// bookOf is the value of --book.
func bookOf(fs *flag.FlagSet) string { return fs.Lookup("book").Value.String() }
