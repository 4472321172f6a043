package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/reckon"
	"gaugebook/calc/report"
	"gaugebook/server/shelf"
	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// runImport takes entries in: the lines of an export, or rows of one kind.
func runImport(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	fs := flags("import", "[--book FILE] [--all-or-nothing] FILE, or --kind KIND [--by NAME] [--device NAME] FILE.csv; - reads what is piped in")
	all := fs.Bool("all-or-nothing", false, "take in nothing if any line is at fault")
	kind := fs.String("kind", "", "the file is CSV, and its rows are entries of this `KIND`")
	by := fs.String("by", "", "who signs rows of a CSV that do not say, by `NAME` or initials")
	device := fs.String("device", "import01", "the `NAME` under which rows of a CSV are written")
	if helped, err := parse(fs, args, stdout, 1, 1); helped || err != nil {
		return err
	}
	in, err := openInput(fs.Arg(0), stdin)
	if err != nil {
		return err
	}
	defer in.Close()
	s, err := store.Open(ctx, bookOf(fs), store.Options{Warn: func(words string) { fmt.Fprintln(stderr, words) }})
	if err != nil {
		return err
	}
	im := &importer{ctx: ctx, file: shelf.Book{Store: s}, all: *all, now: time.Now(), stderr: stderr}
	if *kind == "" {
		err = im.lines(in)
	} else if err = knownKind(*kind); err == nil {
		err = im.rows(in, *kind, *by, *device)
	}
	if err == nil {
		err = im.finish()
	}
	if cause := s.Close(); cause != nil {
		return errors.Join(err, cause)
	}
	if err == nil || len(im.faults) > 0 {
		fmt.Fprintf(stdout, "%d entries taken in, %d were there already, %d left out\n", im.added, im.known, im.left())
	}
	return err
}

// openInput opens a file, or what is piped in for "-".
func openInput(name string, stdin io.Reader) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(stdin), nil
	}
	return os.Open(name)
}

// An importer brings lines into a book by the way every phone's entries take.
type importer struct {
	ctx    context.Context
	file   shelf.Book
	all    bool
	now    time.Time
	stderr io.Writer

	waiting []numbered // sound so far
	faults  map[int]bool
	added   int
	known   int
}

// A numbered line is a record with its line in the file.
type numbered struct {
	number int
	line   []byte
}

// batch is how many lines are stored at once where each may stand alone.
const batch = 500

// left is how many lines were not taken in: with --all-or-nothing every new one
// if any was at fault.
func (im *importer) left() int {
	if im.all && len(im.faults) > 0 {
		return len(im.faults) + len(im.waiting)
	}
	return len(im.faults)
}

// bad names a line at fault.
func (im *importer) bad(number int, err error) {
	if im.faults == nil {
		im.faults = map[int]bool{}
	}
	im.faults[number] = true
	var foreign record.Fault
	if errors.As(err, &foreign) {
		err = fault.Fault{Code: fault.Code(foreign.Code), Field: foreign.Field, Value: foreign.Value, Limit: foreign.Limit, Entry: foreign.Entry,
			Remedy: "a line is taken exactly as it was exported: export it again, or bring it as CSV"}
	}
	fmt.Fprintf(im.stderr, "line %d: %s\n", number, err)
}

// lines reads JSON lines.
func (im *importer) lines(in io.Reader) error {
	r := bufio.NewReaderSize(in, record.MaxLine+2)
	for number := 1; ; number++ {
		line, err := r.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			im.bad(number, record.Fault{Code: record.TooLong, Field: "record", Limit: fmt.Sprintf("a line has at most %d bytes", record.MaxLine)})
			for errors.Is(err, bufio.ErrBufferFull) {
				_, err = r.ReadSlice('\n')
			}
			line = nil
		}
		if err != nil && err != io.EOF {
			return err
		}
		if line = bytes.TrimRight(line, "\r\n"); len(line) > 0 {
			im.line(number, bytes.Clone(line))
		}
		if err == io.EOF {
			return nil
		}
		if !im.all && len(im.waiting) >= batch {
			if err := im.store(); err != nil {
				return err
			}
		}
	}
}

// line takes one line that is a record. What its body says is taken as it is:
// the book keeps what happened and asks about what it doubts.
func (im *importer) line(number int, line []byte) {
	e, err := engine.EntryOf(line)
	if err != nil {
		im.bad(number, err)
		return
	}
	im.waiting = append(im.waiting, numbered{number, line})
	switch _, known := book.KindNamed(e.Kind); {
	case e.Body != nil:
		for _, f := range book.Check(e.Body) {
			f.Entry = string(e.Address())
			fmt.Fprintf(im.stderr, "line %d, taken in as it is: %s\n", number, f)
		}
	case known:
		fmt.Fprintf(im.stderr, "line %d, taken in as it is: %s: this build cannot read its %s, so every total may be short\n", number, e.Address(), e.Kind)
	}
}

func (im *importer) finish() error {
	if im.all && len(im.faults) > 0 {
		return fault.Fault{Code: fault.Conflict, Field: "lines", Value: fmt.Sprint(len(im.faults)), Limit: "are at fault, so nothing was taken in", Remedy: "correct them, or leave out --all-or-nothing"}
	}
	if err := im.store(); err != nil {
		return err
	}
	if n := len(im.faults); n > 0 {
		return fault.Fault{Code: fault.Conflict, Field: "lines", Value: fmt.Sprint(n), Limit: "were left out, each for the reason given", Remedy: "correct them and import the file again; what is there already is passed over"}
	}
	return nil
}

// errFaulty rolls a transaction back whose lines are not all sound.
var errFaulty = errors.New("some lines are at fault")

// store writes the waiting lines in one transaction.
func (im *importer) store() error {
	added, known := 0, 0
	var faulty []func()
	err := im.file.Update(im.ctx, "import", func(l exchange.Ledger) error {
		push := exchange.Push{}
		for _, n := range im.waiting {
			push.Lines = append(push.Lines, n.line)
		}
		reply, err := exchange.Receive(push, im.now, everything{}, inside{l})
		if err != nil {
			return err
		}
		for i, a := range reply.Entries {
			switch n := im.waiting[i]; a.State {
			case exchange.New, exchange.Gap:
				added++
			case exchange.Duplicate:
				known++
			default:
				faulty = append(faulty, func() { im.bad(n.number, *a.Fault) })
			}
		}
		if im.all && len(faulty) > 0 {
			return errFaulty
		}
		return nil
	})
	for _, f := range faulty {
		f()
	}
	if errors.Is(err, errFaulty) {
		im.waiting = im.waiting[len(faulty):]
		return fault.Fault{Code: fault.Conflict, Field: "lines", Value: fmt.Sprint(len(faulty)), Limit: "are at fault, so nothing was taken in", Remedy: "correct them, or leave out --all-or-nothing"}
	}
	if err != nil {
		return err
	}
	im.added, im.known, im.waiting = im.added+added, im.known+known, nil
	return nil
}

// inside is a ledger that keeps nothing beside the log: what a file's line is
// at fault with is said to who imports it, and the file stays.
type inside struct{ exchange.Ledger }

func (inside) SetAside(string, record.Record, []byte, record.Fault) error { return nil }

// rows reads a CSV whose rows are to become entries of one kind, written by the
// importer's own device.
func (im *importer) rows(in io.Reader, kind, by, device string) error {
	if !record.IsDevice(device) {
		return fault.Fault{Code: fault.NotOneOf, Field: "device", Value: device, Limit: "is no name of a device", Remedy: "use a word and two or three digits, such as import01"}
	}
	devices, err := im.file.Devices(im.ctx)
	if err != nil {
		return err
	}
	for _, d := range devices {
		if d.Name == device {
			return fault.Fault{Code: fault.Conflict, Field: "device", Value: device, Limit: "is a phone's name", Remedy: "name another, such as import01"}
		}
	}
	b, err := foldLog(im.ctx, &im.file.Reader)
	if err != nil {
		return err
	}
	r := csv.NewReader(in)
	r.FieldsPerRecord = -1
	head, err := r.Read()
	if err != nil {
		return fault.Fault{Code: fault.Missing, Field: "header", Limit: "the first row names the fields: " + csvFault(err), Remedy: "gaugebook docs lists the fields of every kind"}
	}
	k, _ := book.KindNamed(kind)
	columns, err := csvColumns(k, head)
	if err != nil {
		return err
	}
	w := &rowWriter{kind: k, columns: columns, by: by, convention: b.State().Convention(), location: im.now.Location(), told: map[string]int{}}
	held := map[string]bool{}
	for e := range b.All {
		held[e.ID] = true
	}
	chain, contact, err := im.chain(device, b)
	if err != nil {
		return err
	}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fault.Fault{Code: book.Malformed, Field: "csv", Limit: csvFault(err), Remedy: "correct the file; nothing of it was taken in"}
		}
		number, _ := r.FieldPos(0)
		draft, id, faults := w.draft(cells)
		if len(faults) > 0 {
			for _, f := range faults {
				im.bad(number, f)
			}
			continue
		}
		draft.Written = record.StampOf(im.now)
		uid := record.NewID(draft.Happened.Time(), [10]byte(id[:10]))
		if held[uid.String()] {
			im.known++
			continue
		}
		line, next, err := exchange.Seal(chain, contact, draft, uid)
		if err != nil {
			im.bad(number, err)
			continue
		}
		chain = next
		im.waiting = append(im.waiting, numbered{number, line})
	}
}

// csvFault is what is wrong with the CSV itself.
func csvFault(err error) string {
	var at *csv.ParseError
	if errors.As(err, &at) {
		return fmt.Sprintf("line %d: %s", at.Line, at.Err)
	}
	if err == io.EOF {
		return "the file is empty"
	}
	return err.Error()
}

// chain is where the importer's device goes on.
func (im *importer) chain(device string, b *folded) (chain exchange.Chain, contact exchange.Contact, err error) {
	clock, _ := record.Clock(0).Witness(b.clock, im.now)
	contact = exchange.Contact{Since: b.head, Clock: clock}
	err = im.file.Update(im.ctx, "import", func(l exchange.Ledger) error {
		tip, err := l.Tip(device)
		chain = exchange.Chain{Device: device, Seq: tip.Seq, Prev: tip.Digest}
		return err
	})
	return chain, contact, err
}

// csvColumns finds what each column is: a field, or one of the entry's own.
func csvColumns(k *book.Kind, head []string) ([]string, error) {
	var faults fault.List
	var keys []string
	for _, f := range k.Fields {
		keys = append(keys, f.Key)
	}
	out := make([]string, len(head))
	for i, h := range head {
		name := strings.TrimPrefix(h, "\ufeff")
		name, _, _ = strings.Cut(name, ":")
		name = strings.TrimSpace(name)
		if !slices.Contains(keys, name) && (name == "happened" || name == "by") {
			name = "(" + name + ")"
		}
		switch {
		case slices.Contains(out[:i], name):
			faults = append(faults, fault.Fault{Code: fault.Conflict, Field: "header", Value: h, Limit: "stands there twice", Remedy: "leave one of the two columns out"})
		case name == columnHappened || name == columnBy || slices.Contains(keys, name):
		case name == columnEntry || name == columnWritten || name == columnStands:
			faults = append(faults, fault.Fault{Code: fault.Conflict, Field: "header", Value: h, Limit: "is a column of entries that are written already",
				Remedy: "to bring entries over as they are, import JSON lines; to write the rows anew, leave the column out"})
		default:
			remedy := "its fields are " + strings.Join(keys, ", ")
			if near := reckon.Nearest(name, keys); near != "" {
				remedy = "did you mean " + near + "? " + remedy
			}
			faults = append(faults, fault.Fault{Code: fault.Unknown, Field: "header", Value: h, Limit: "is no field of ‘" + k.Name + "’", Remedy: remedy})
		}
		out[i] = name
	}
	if !slices.Contains(out, columnHappened) {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "header", Value: "happened", Limit: "a column says when each row happened", Remedy: "add it, with times such as 2026-11-15 14:05"})
	}
	return out, faults.Err()
}

// A rowWriter makes entries of rows.
type rowWriter struct {
	kind       *book.Kind
	columns    []string
	by         string
	convention book.Convention
	location   *time.Location
	told       map[string]int // how often a row of these words stood in the file
}

// draft makes an entry of one row, and the part of its identity that its words
// decide: the same file imported again is the same entries.
func (w *rowWriter) draft(cells []string) (d exchange.Draft, id [32]byte, faults fault.List) {
	if len(cells) > len(w.columns) {
		return d, id, fault.List{{Code: fault.Conflict, Field: "row", Value: cells[len(w.columns)], Limit: fmt.Sprintf("is a cell more than the %d columns", len(w.columns)), Remedy: "put text with a comma in quotation marks"}}
	}
	typed := map[string]json.RawMessage{}
	d = exchange.Draft{Kind: w.kind.Name, V: w.kind.Version, By: w.by}
	for i, cell := range cells {
		cell = strings.TrimSpace(report.Unguarded(cell))
		switch name := w.columns[i]; {
		case cell == "":
		case name == columnBy:
			d.By = cell
		case name == columnHappened:
			at, ok := w.time(cell)
			if !ok {
				faults = append(faults, fault.Fault{Code: fault.NotOneOf, Field: "happened", Value: cell, Limit: "is not a time", Remedy: "write it as 2026-11-15 14:05, or with its offset as 2026-11-15T14:05:00-05:00"})
				continue
			}
			d.Happened = at
		default:
			raw, f := w.value(name, cell)
			faults = append(faults, f...)
			typed[name] = raw
		}
	}
	if d.Happened == "" && len(faults) == 0 {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "happened", Limit: "the row does not say when", Remedy: "write it as 2026-11-15 14:05"})
	}
	if d.By == "" {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "by", Limit: "the row does not say who", Remedy: "add a column by, or give --by"})
	}
	if len(faults) > 0 {
		return d, id, faults
	}
	raw, err := json.Marshal(typed)
	if err != nil {
		return d, id, fault.List{{Code: book.Malformed, Field: "row", Limit: err.Error()}}
	}
	body, faults := book.Compose(w.kind.Name, w.convention, raw)
	if len(faults) > 0 {
		return d, id, faults
	}
	d.Body = book.Encode(body)
	words := fmt.Sprintf("gaugebook csv 1\n%s\n%s\n%s\n%s\n", d.Kind, d.Happened, d.By, d.Body)
	w.told[words]++
	return d, sha256.Sum256(fmt.Appendf(nil, "%s%d", words, w.told[words])), nil
}

// value is a cell as the JSON that a typed body holds: groups and bodies are
// JSON already.
func (w *rowWriter) value(key, cell string) (json.RawMessage, fault.List) {
	at := slices.IndexFunc(w.kind.Fields, func(f book.Field) bool { return f.Key == key })
	if t := w.kind.Fields[at].Type; t == book.Group || t == book.Nested {
		if !json.Valid([]byte(cell)) {
			return nil, fault.List{{Code: book.Malformed, Field: key, Value: cell, Limit: "is not JSON, which a cell of several parts holds", Remedy: "write it as an export of this kind shows it"}}
		}
		return json.RawMessage(cell), nil
	}
	raw, err := json.Marshal(cell)
	if err != nil {
		return nil, fault.List{{Code: book.Malformed, Field: key, Limit: err.Error()}}
	}
	return raw, nil
}

// time reads when a row happened; a time without an offset is this machine's.
func (w *rowWriter) time(s string) (record.Stamp, bool) {
	if at := record.Stamp(s); !at.Time().IsZero() {
		return at, true
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, s, w.location); err == nil {
			return record.StampOf(t), true
		}
	}
	return "", false
}
