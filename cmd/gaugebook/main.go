// Command gaugebook is the one binary: the book on the office's computer and
// the calculations at a prompt. This file is wiring; each subcommand is one
// file beside it with one line in commands.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"gaugebook/calc/fault"
	"gaugebook/calc/reckon"
)

// A command is one subcommand.
type command struct {
	name string
	help string // one line, for the listing
	run  func(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error
}

// commands lists the subcommands in the order in which help shows them.
func commands() []command {
	return []command{
		{"serve", "serve the book to phones and browsers", runServe(hollowAlder)},
		{"calc", "answer one calculation of spirit: strength, gauge, reduction, blend", runCalc},
		{"report", "a month's figures for the government's forms, with every list", runReport},
		{"trace", "a lot both ways: to the fruit it came of, to the bottles it became", runTrace},
		{"export", "the entries, as JSON lines or as CSV", runExport},
		{"import", "entries from JSON lines, or from a CSV of one kind", runImport},
		{"journal", "the movements of alcohol as a journal of plain-text accounting", runJournal},
		{"controller", "stand in for a tank controller that sends readings", runController},
		{"docs", "the format of the entries, written from their kinds", runDocs},
		{"backup", "copy the book to a new file while it is in use", runBackup},
		{"restore", "put a backup in the place of the book", runRestore},
		{"doctor", "say in words what a phone would refuse of this book's address, and why", runDoctor},
		{"verify", "find the first thing in the book that is not as it was written", runVerify},
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	if err != nil {
		if !errors.Is(err, errAnswered) {
			fmt.Fprintln(os.Stderr, "gaugebook:", err)
		}
		os.Exit(1)
	}
}

// errAnswered is the error of a command that has already told its fault on its
// own output: the exit status is 1 and nothing more is printed.
var errAnswered = errors.New("the fault is in the answer")

// run does what the arguments ask.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	if len(args) == 0 {
		usage(stderr)
		return fault.Fault{Code: fault.Missing, Field: "command", Limit: "one of the commands above is needed", Remedy: "for example: gaugebook calc"}
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		usage(stdout)
		return nil
	}
	var names []string
	for _, c := range commands() {
		if c.name == args[0] {
			return c.run(ctx, args[1:], stdin, stdout, stderr)
		}
		names = append(names, c.name)
	}
	remedy := "gaugebook help lists the commands"
	if near := reckon.Nearest(args[0], names); near != "" {
		remedy = "did you mean " + near + "? " + remedy
	}
	return fault.Fault{Code: fault.NotOneOf, Field: "command", Value: args[0], Limit: "is not a command", Remedy: remedy}
}

func usage(w io.Writer) {
	fmt.Fprintln(w, "gaugebook: the book of a small distillery")
	fmt.Fprintln(w)
	for _, c := range commands() {
		fmt.Fprintf(w, "  gaugebook %-10s %s\n", c.name, c.help)
	}
}
