package main

import (
	"flag"
	"fmt"
	"io"
	"strings"

	"gaugebook/calc/fault"
)

// defaultBook is the book's file where no --book names another.
const defaultBook = "gaugebook.db"

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
