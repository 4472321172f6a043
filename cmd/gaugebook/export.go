package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/reckon"
	"gaugebook/calc/report"
	"gaugebook/server/store"
	"gaugebook/sync/record"
)

// runExport writes the book out: its lines as they are, or a CSV file for each
// kind.
func runExport(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) error {
	fs := flags("export", "[--book FILE] [--kind KIND] [--jsonl | --csv FOLDER | --format]")
	kind := fs.String("kind", "", "only entries of this `KIND`")
	lines := fs.Bool("jsonl", false, "JSON lines, one record a line (what it does unless told otherwise)")
	folder := fs.String("csv", "", "write one CSV file for each kind into `FOLDER`")
	format := fs.Bool("format", false, "print the documentation of the format")
	if helped, err := parse(fs, args, stdout, 0, 0); helped || err != nil {
		return err
	}
	switch {
	case *lines && *folder != "":
		return fault.Fault{Code: fault.Conflict, Field: "csv", Value: *folder, Limit: "stands beside --jsonl", Remedy: "ask for one of the two"}
	case *format:
		return runDocs(ctx, nil, nil, stdout, stderr)
	}
	if *kind != "" {
		if err := knownKind(*kind); err != nil {
			return err
		}
	}
	if *folder != "" {
		return exportCSV(ctx, bookOf(fs), *kind, *folder, stdout, stderr)
	}
	return exportLines(ctx, bookOf(fs), *kind, stdout, stderr)
}

func knownKind(name string) error {
	if _, ok := book.KindNamed(name); ok {
		return nil
	}
	var names []string
	for _, k := range book.Kinds() {
		names = append(names, k.Name)
	}
	remedy := "gaugebook docs lists the kinds"
	if near := reckon.Nearest(name, names); near != "" {
		remedy = "did you mean " + near + "? " + remedy
	}
	return fault.Fault{Code: fault.NotOneOf, Field: "kind", Value: name, Limit: "is no kind of entry", Remedy: remedy}
}

// exportLines writes the log as it is, in the order in which it arrived. What
// is kept beside the log is not of the book.
func exportLines(ctx context.Context, path, kind string, stdout, stderr io.Writer) error {
	r, err := store.OpenReader(ctx, path)
	if err != nil {
		return err
	}
	defer r.Close()
	out := bufio.NewWriter(stdout)
	for e, err := range r.Entries(ctx, 0) {
		if err != nil {
			return err
		}
		if kind != "" {
			if h, err := record.Decode(e.Line); err != nil || h.Kind != kind {
				continue
			}
		}
		out.Write(e.Line)
		out.WriteByte('\n')
	}
	if err := out.Flush(); err != nil {
		return err
	}
	asides, err := r.Asides(ctx)
	if err == nil && len(asides) > 0 {
		fmt.Fprintf(stderr, "%d lines are kept beside the book, not in it, and are not exported\n", len(asides))
	}
	return err
}

// The columns of an exported CSV that are of the entry and not of its kind.
// Keys of fields have no parentheses.
const (
	columnEntry    = "(entry)"
	columnHappened = "(happened)"
	columnWritten  = "(written)"
	columnBy       = "(by)"
	columnStands   = "(stands)"
)

// exportCSV writes a file for each kind that the book has entries of. It
// overwrites none.
func exportCSV(ctx context.Context, path, only, folder string, stdout, stderr io.Writer) error {
	b, err := readBook(ctx, path)
	if err != nil {
		return err
	}
	rows := map[string][][]string{}
	unknown, blind := 0, 0
	for e := range b.All {
		k, ok := book.KindNamed(e.Kind)
		switch {
		case !ok || e.Body == nil:
			unknown++
		case b.State().Blind(e.Body):
			blind++
		case only == "" || only == e.Kind:
			rows[e.Kind] = append(rows[e.Kind], csvRow(b.Book, k, e))
		}
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	for _, k := range book.Kinds() {
		if len(rows[k.Name]) == 0 {
			continue
		}
		file := filepath.Join(folder, strings.ReplaceAll(k.Name, " ", "-")+".csv")
		if err := writeCSV(file, csvHeader(k), rows[k.Name]); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "%s: %d entries\n", file, len(rows[k.Name]))
	}
	if blind > 0 {
		fmt.Fprintf(stderr, "%d entries with marks of trials that not everybody has tasted are left out: only the JSON lines have them\n", blind)
	}
	if unknown+b.unread > 0 {
		fmt.Fprintf(stderr, "%d entries are of kinds or versions this build does not know: only the JSON lines have them\n", unknown+b.unread)
	}
	return nil
}

func writeCSV(file string, header []string, rows [][]string) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if os.IsExist(err) {
		return fault.Fault{Code: fault.Conflict, Field: "csv", Value: file, Limit: "is there already, and is not overwritten", Remedy: "name another folder, or move the file away"}
	}
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	w.Write(header)
	w.WriteAll(rows)
	if err := w.Error(); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// csvHeader names each field by its key, its label and its units: "volume:
// Volume as read [gal or L]".
func csvHeader(k *book.Kind) []string {
	out := []string{columnEntry, columnHappened, columnBy, columnWritten, columnStands}
	for i := range k.Fields {
		f := &k.Fields[i]
		head := f.Key + ": " + f.Label
		if f.Type == book.Figure {
			head += " [" + units(f) + "]"
		}
		out = append(out, head)
	}
	return out
}

// csvRow is an entry as it was sealed, and whether it still stands so.
func csvRow(b *book.Book, k *book.Kind, e *book.Entry) []string {
	stands := "as written"
	if _, _, void, by := b.Effective(e); by != nil {
		stands = "amended by " + string(by.Address())
		if void {
			stands = "voided by " + string(by.Address())
		}
	}
	out := []string{string(e.Address()), e.Happened.String(), report.Guarded(e.By), e.Written.String(), stands}
	var values map[string]json.RawMessage
	if err := json.Unmarshal(e.Raw, &values); err != nil {
		panic(err) // a record's body is one JSON object
	}
	for _, f := range k.Fields {
		raw := values[f.Key]
		var text string
		switch {
		case raw == nil:
		case json.Unmarshal(raw, &text) == nil:
		case f.Type == book.Flag:
			text = "yes"
		default:
			text = string(raw)
		}
		out = append(out, report.Guarded(text))
	}
	return out
}
