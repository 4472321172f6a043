package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"unicode"

	"gaugebook/calc/fault"
	"gaugebook/calc/reckon"
	"gaugebook/calc/spirit"
)

// calcRequest is what `gaugebook calc` was asked.
type calcRequest struct {
	name          string
	given         []reckon.Given
	json, working bool
	csv, table    string // file names, "-" for the standard input
	help          bool
}

const calcUsage = `usage: gaugebook calc [NAME [key=value…]] [flags anywhere]

  gaugebook calc                  lists the calculations
  gaugebook calc NAME             prints its inputs, units, ranges and source
  gaugebook calc NAME key=value…  answers; where the answer is a curve (batch), it goes
                                  to the standard output as CSV, the figures to stderr

  --json        one JSON object: every output with its value, unit and standard uncertainty u
  --working     the steps, as a person would do them from the printed tables
  --csv FILE    a header of input names and one case a row; the rows are written with
                the outputs appended, and a bad row with its error ('-' reads stdin)
  --table FILE  an owner's printed Table 1 as CSV (reading, °F, proof), used wherever it covers

A value takes its unit (72.1F, 22.3C, 452lb, 53gal, 200L, 140proof, 70% where % is
% vol at 20 °C) and, where it was measured, the half-width of its instrument, as
temp=72.1±0.2F or temp=72.1F temp.u=0.2. A bare number has the unit that
gaugebook calc NAME lists first.
`

// runCalc is the subcommand calc.
func runCalc(_ context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) error {
	req, err := parseCalc(args)
	if err == nil {
		err = req.answer(stdin, stdout, stderr)
	}
	// --json is looked for in the arguments, because req is not whole when they were at fault
	if err != nil && !errors.Is(err, errAnswered) && slices.Contains(args, "--json") {
		var list fault.List
		list.Add("", err)
		if _, err := stdout.Write(encodeFaults(list)); err != nil {
			return err
		}
		return errAnswered
	}
	return err
}

// parseCalc reads the arguments; flags may stand anywhere among them.
func parseCalc(args []string) (req calcRequest, err error) {
	for i := 0; i < len(args); i++ {
		arg := args[i]
		flag, value, hasValue := strings.Cut(arg, "=")
		switch flag {
		case "--json", "--working", "-h", "--help":
			if hasValue {
				return req, fault.Fault{Code: fault.Conflict, Field: flag, Value: value, Limit: "takes no value", Remedy: "write " + flag + " alone"}
			}
			req.json = req.json || flag == "--json"
			req.working = req.working || flag == "--working"
			req.help = req.help || flag == "-h" || flag == "--help"
		case "--csv", "--table":
			if !hasValue && i+1 < len(args) && (args[i+1] == "-" || !strings.HasPrefix(args[i+1], "-")) {
				i++
				value = args[i]
			}
			if value == "" {
				return req, fault.Fault{Code: fault.Missing, Field: flag, Limit: "the name of a file is needed", Remedy: "write " + flag + " FILE, or " + flag + " - for the standard input"}
			}
			target := &req.csv
			if flag == "--table" {
				target = &req.table
			}
			if *target != "" {
				return req, fault.Fault{Code: fault.Conflict, Field: flag, Value: value, Limit: "is given twice", Remedy: "leave one of them out"}
			}
			*target = value
		default:
			switch {
			case strings.HasPrefix(arg, "-"):
				f := fault.Fault{Code: fault.NotOneOf, Field: flag, Value: value, Limit: "is not a flag of calc", Remedy: "the flags are --json, --working, --csv FILE and --table FILE"}
				if near := reckon.Nearest(flag, []string{"--json", "--working", "--csv", "--table", "--help"}); near != "" {
					f.Remedy = "did you mean " + near + "? " + f.Remedy
				}
				return req, f
			case hasValue:
				req.given = append(req.given, reckon.Given{Key: flag, Text: value})
			case req.name == "":
				req.name = arg
			default:
				return req, fault.Fault{Code: fault.Missing, Field: arg, Limit: "has no value", Remedy: "write it as " + arg + "=…"}
			}
		}
	}
	switch {
	case req.name == "" && (len(req.given) > 0 || req.csv != ""):
		err = fault.Fault{Code: fault.Missing, Field: "calculation", Limit: "the name of a calculation is needed", Remedy: "gaugebook calc lists them"}
	case req.csv != "" && req.json:
		err = fault.Fault{Code: fault.Conflict, Field: "--csv", Value: req.csv, Limit: "answers in CSV, and --json was given too", Remedy: "leave one of them out"}
	case req.csv != "" && req.working:
		err = fault.Fault{Code: fault.Conflict, Field: "--csv", Value: req.csv, Limit: "has no room for the working", Remedy: "ask for one case with --working"}
	case req.csv == "-" && req.table == "-":
		err = fault.Fault{Code: fault.Conflict, Field: "--table", Value: "-", Limit: "the standard input is read by --csv already", Remedy: "put the table in a file"}
	}
	return req, err
}

// answer does what was asked.
func (req calcRequest) answer(stdin io.Reader, stdout, stderr io.Writer) error {
	if req.help {
		_, err := io.WriteString(stdout, calcUsage)
		return err
	}
	if req.name == "" {
		return listCalculations(stdout, req.json)
	}
	c, ok := reckon.Find(req.name)
	if !ok {
		return reckon.Run(req.name, nil).Faults.Err()
	}
	var desk reckon.Desk
	if req.table != "" {
		var err error
		if desk, err = readTable(c, req.table, stdin, stderr); err != nil {
			return err
		}
	}
	switch {
	case req.csv != "":
		return answerCSV(c, desk, req, stdin, stdout)
	case len(req.given) == 0:
		return describe(stdout, c, req.json)
	}
	a := desk.Run(c.Name, req.given)
	if err := a.Faults.Err(); err != nil {
		return err
	}
	if req.json {
		_, err := stdout.Write(encodeAnswer(a, req.working))
		return err
	}
	if a.Table == nil {
		return printAnswer(stdout, a, req.working)
	}
	// The curve is what another program reads on; what is said of it stands beside.
	if err := printAnswer(stderr, a, req.working); err != nil {
		return err
	}
	return writeTable(stdout, a.Table)
}

// writeTable writes a curve as CSV under the keys of its columns.
func writeTable(w io.Writer, t *reckon.Table) error {
	out := csv.NewWriter(w)
	header := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		header[i] = c.Key
	}
	return out.WriteAll(append([][]string{header}, t.Rows...))
}

// readFile reads a named file, or the standard input for "-".
func readFile(field, name string, stdin io.Reader) ([]byte, error) {
	var b []byte
	var err error
	if name == "-" {
		b, err = io.ReadAll(stdin)
	} else {
		b, err = os.ReadFile(name)
	}
	if err != nil {
		return nil, fault.Fault{Code: fault.Unknown, Field: field, Value: name, Limit: "cannot be read: " + err.Error(), Remedy: "check the name of the file"}
	}
	return bytes.TrimPrefix(b, []byte("\ufeff")), nil
}

// readTable puts an owner's printed Table 1 on the desk, and lists the cells
// that look mistyped.
func readTable(c reckon.Calculation, name string, stdin io.Reader, stderr io.Writer) (reckon.Desk, error) {
	if !c.Table1 {
		return reckon.Desk{}, fault.Fault{Code: fault.Conflict, Field: "--table", Value: name, Limit: c.Name + " does not look into Table 1", Remedy: "leave it out"}
	}
	data, err := readFile("--table", name, stdin)
	if err != nil {
		return reckon.Desk{}, err
	}
	table, err := spirit.ParseTable(bytes.NewReader(data))
	if err != nil {
		return reckon.Desk{}, err
	}
	for _, s := range table.Suspicious() {
		if _, err := fmt.Fprintf(stderr, "%s: reading %d at %d °F, printed %s: %s; compare it with the print.\n", name, s.Reading, s.Fahrenheit, s.Printed, s.Why); err != nil {
			return reckon.Desk{}, err
		}
	}
	return reckon.Desk{Table1: table}, nil
}

// printAnswer writes an answer for people.
func printAnswer(w io.Writer, a reckon.Answer, working bool) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, v := range a.Outputs {
		fmt.Fprintf(tw, "%s\t%s", v.Label, strings.TrimSpace(v.Shown+" "+v.UnitLabel))
		if v.U != nil {
			fmt.Fprintf(tw, "\t± %s (k = 2)", twoDigits(2**v.U))
		}
		fmt.Fprintln(tw)
	}
	fmt.Fprintf(tw, "method\t%s\n", a.Method)
	if err := tw.Flush(); err != nil {
		return err
	}
	if working {
		fmt.Fprintf(w, "\n%s", a.Working())
	}
	if a.Caution != "" {
		fmt.Fprintf(w, "\n%s\n", a.Caution)
	}
	return nil
}

// twoDigits is x to two significant digits, without an exponent.
func twoDigits(x float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 1, 64), 64)
	if err != nil {
		panic("calc: " + err.Error()) // FormatFloat wrote it
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// object writes one JSON object with its members in the order they are put;
// encoding/json has no ordered object.
type object struct{ b bytes.Buffer }

func (o *object) put(key string, value any) {
	if o.b.Len() > 0 {
		o.b.WriteByte(',')
	}
	o.b.Write(mustJSON(key))
	o.b.WriteByte(':')
	o.b.Write(mustJSON(value))
}

func (o *object) MarshalJSON() ([]byte, error) {
	return slices.Concat([]byte{'{'}, o.b.Bytes(), []byte{'}'}), nil
}

func (o *object) line() []byte { return append(mustJSON(o), '\n') }

// mustJSON encodes what this file builds: strings, numbers and objects of them.
func mustJSON(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic("calc: " + err.Error())
	}
	return b
}

// encodeAnswer is an answer as one line of flat JSON.
func encodeAnswer(a reckon.Answer, working bool) []byte {
	var o object
	for _, v := range a.Outputs {
		var figure object
		if v.IsNumber {
			figure.put("value", json.RawMessage(v.Text))
		} else {
			figure.put("value", v.Text)
		}
		figure.put("unit", v.Unit)
		figure.put("u", v.U)
		o.put(v.Key, &figure)
	}
	o.put("method", a.Method)
	if a.Table != nil {
		o.put("curve", encodeTable(a.Table))
	}
	if working {
		steps := []string{}
		for _, s := range a.Working() {
			step := s.Text
			if s.Value != "" {
				step += " = " + s.Value
			}
			steps = append(steps, step)
		}
		if a.Caution != "" {
			steps = append(steps, a.Caution)
		}
		o.put("working", steps)
	}
	return o.line()
}

// encodeTable is a curve as columns and rows of numbers.
func encodeTable(t *reckon.Table) *object {
	columns := make([]*object, len(t.Columns))
	for i, c := range t.Columns {
		columns[i] = &object{}
		columns[i].put("key", c.Key)
		columns[i].put("label", c.Label)
		columns[i].put("unit", c.Units)
	}
	rows := make([][]json.RawMessage, len(t.Rows))
	for i, row := range t.Rows {
		for _, cell := range row {
			rows[i] = append(rows[i], json.RawMessage(cell))
		}
	}
	var o object
	o.put("columns", columns)
	o.put("rows", rows)
	return &o
}

// encodeFaults is what was wrong as one line of JSON: the first fault, and all
// of them where there are more.
func encodeFaults(list fault.List) []byte {
	objects := make([]*object, len(list))
	for i, f := range list {
		objects[i] = &object{}
		objects[i].put("field", f.Field)
		objects[i].put("value", f.Value)
		objects[i].put("limit", f.Limit)
		objects[i].put("remedy", f.Remedy)
	}
	var o object
	o.put("error", objects[0])
	if len(objects) > 1 {
		o.put("errors", objects)
	}
	return o.line()
}

// listCalculations names every calculation.
func listCalculations(w io.Writer, asJSON bool) error {
	if asJSON {
		var o object
		var list []*object
		for _, c := range reckon.All() {
			list = append(list, describeJSON(c))
		}
		o.put("calculations", list)
		_, err := w.Write(o.line())
		return err
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range reckon.All() {
		fmt.Fprintf(tw, "%s\t%s\n", c.Name, c.Help)
	}
	fmt.Fprintln(tw, "\ngaugebook calc NAME prints its inputs; gaugebook calc --help the flags.")
	return tw.Flush()
}

// describe prints what one calculation takes and gives.
func describe(w io.Writer, c reckon.Calculation, asJSON bool) error {
	if asJSON {
		_, err := w.Write(describeJSON(c).line())
		return err
	}
	fmt.Fprintf(w, "%s: %s\n\nsource: %s\n\ninputs\n", c.Name, c.Help, c.Source)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, in := range c.Inputs {
		fmt.Fprintf(tw, "  %s\t%s\n", in.Key, strings.Join(inputFacts(in), "; "))
	}
	if c.Choices != nil {
		var sets []string
		for _, set := range c.Choices {
			sets = append(sets, strings.Join(set, " with "))
		}
		fmt.Fprintf(tw, "  one of:\t%s\n", strings.Join(sets, " | "))
	}
	fmt.Fprint(tw, "\noutputs\n")
	for _, o := range c.Outputs {
		text := o.Label
		if o.Help != "" {
			text += ": " + o.Help
		}
		fmt.Fprintf(tw, "  %s\t%s\t%s\n", o.Key, o.Units, text)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nexample: gaugebook calc %s%s\n", c.Name, exampleArgs(c))
	fmt.Fprintln(w, "A measured input KEY takes the half-width of its instrument, as KEY=100±0.5 or as KEY.u=0.5.")
	if c.Caution != "" {
		fmt.Fprintln(w, c.Caution)
	}
	return nil
}

func exampleArgs(c reckon.Calculation) (args string) {
	for _, g := range c.Example {
		args += " " + g.Key + "=" + g.Text
	}
	return args
}

// inputFacts is one input in words.
func inputFacts(in reckon.Input) []string {
	facts := []string{in.Help, in.Ranges()}
	if bare := in.Units()[0]; bare != "" {
		units := "a bare number is in " + bare
		if others := in.Units()[1:]; len(others) > 0 {
			units += ", also " + strings.Join(others, ", ")
		}
		facts = append(facts, units)
	}
	if in.Required {
		facts = append(facts, "needed")
	}
	if in.Repeatable {
		facts = append(facts, "may be repeated")
	}
	if !in.Measured() {
		facts = append(facts, "no half-width")
	}
	return facts
}

func describeJSON(c reckon.Calculation) *object {
	var o object
	o.put("name", c.Name)
	o.put("help", c.Help)
	o.put("source", c.Source)
	var inputs, outputs []*object
	for _, in := range c.Inputs {
		var i object
		i.put("key", in.Key)
		i.put("help", in.Help)
		i.put("bare_unit", in.Units()[0])
		i.put("units", in.Units())
		i.put("range", in.Ranges())
		i.put("required", in.Required)
		i.put("repeatable", in.Repeatable)
		i.put("half_width", in.Measured())
		inputs = append(inputs, &i)
	}
	for _, out := range c.Outputs {
		var x object
		x.put("key", out.Key)
		x.put("label", out.Label)
		x.put("unit", out.Units)
		outputs = append(outputs, &x)
	}
	o.put("inputs", inputs)
	o.put("one_of", append([][]string{}, c.Choices...))
	o.put("outputs", outputs)
	o.put("example", "gaugebook calc "+c.Name+exampleArgs(c))
	return &o
}

// answerCSV answers every row of a file, each with its own error.
func answerCSV(c reckon.Calculation, desk reckon.Desk, req calcRequest, stdin io.Reader, stdout io.Writer) error {
	data, err := readFile("--csv", req.csv, stdin)
	if err != nil {
		return err
	}
	comma := ','
	if first, _, _ := bytes.Cut(data, []byte("\n")); !bytes.ContainsRune(first, ',') && bytes.ContainsRune(first, ';') {
		comma = ';' // what spreadsheets write where the comma is the decimal mark
	}
	rows := csvRows{data: data, comma: comma}
	header, ok, err := rows.next()
	if !ok || err != nil {
		return fault.Fault{Code: fault.Missing, Field: "--csv", Value: req.csv, Limit: "a header of input names is needed in its first row", Remedy: "begin with " + strings.Join(c.Keys(), ",")}
	}
	columns, err := readHeader(c, header, req.given)
	if err != nil {
		return err
	}
	w := csv.NewWriter(stdout)
	w.Comma = comma
	if err := w.Write(append(slices.Clone(header), answerColumns(c, header)...)); err != nil {
		return err
	}
	bad := false
	for {
		row, ok, err := rows.next()
		if !ok {
			break
		}
		for len(row) > len(header) && strings.TrimSpace(row[len(row)-1]) == "" {
			row = row[:len(row)-1] // spreadsheets pad their rows
		}
		var a reckon.Answer
		switch {
		case err != nil:
			a.Faults.Add("row", err)
		case len(row) > len(header):
			a.Faults.Add("row", fault.Fault{Code: fault.Conflict, Value: strings.Join(row[len(header):], string(comma)),
				Limit: fmt.Sprintf("has %d cells under a header of %d", len(row), len(header)), Remedy: "quote a cell that holds the separator"})
			row = append(slices.Clone(row[:len(header)-1]), strings.Join(row[len(header)-1:], string(comma)))
		default:
			given := slices.Clone(req.given)
			for i, cell := range row {
				if cell = strings.TrimSpace(cell); columns[i] != "" && cell != "" {
					given = append(given, reckon.Given{Key: columns[i], Text: cell})
				}
			}
			a = desk.Run(c.Name, given)
		}
		bad = bad || len(a.Faults) > 0
		for len(row) < len(header) {
			row = append(row, "")
		}
		if err := w.Write(append(row, answerCells(c, a)...)); err != nil {
			return err
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	if bad {
		return errAnswered
	}
	return nil
}

// readHeader finds the input key of each column. A column that no input is
// named after (a date, a lot) is carried along with key ""; one that looks like
// a mistyped input, or that an answer would be taken for, is refused.
func readHeader(c reckon.Calculation, header []string, given []reckon.Given) ([]string, error) {
	var faults fault.List
	keys := make([]string, len(header))
	var seen []string
	for _, g := range given {
		seen = append(seen, g.Key)
	}
	for i, name := range header {
		name = strings.TrimSpace(name)
		switch {
		case slices.Contains(c.Keys(), name):
			repeatable := slices.ContainsFunc(c.Inputs, func(in reckon.Input) bool { return in.Key == name && in.Repeatable })
			if slices.Contains(seen, name) && !repeatable {
				faults = append(faults, fault.Fault{Code: fault.Conflict, Field: name, Limit: "is given twice", Remedy: "keep one column of this name"})
			}
			keys[i] = name
			seen = append(seen, name)
		case slices.Contains(answerColumns(c, nil), name):
			faults = append(faults, fault.Fault{Code: fault.Conflict, Field: name, Limit: "is a column that the answer writes", Remedy: "rename or leave out the column"})
		default:
			letter := func(r rune) bool { return unicode.IsLetter(r) }
			if near := reckon.Nearest(name, c.Keys()); near != "" && strings.IndexFunc(name, letter) >= 0 && len(name) > 4 {
				faults = append(faults, fault.Fault{Code: fault.Unknown, Field: name, Limit: c.Name + " has no input of this name",
					Remedy: "did you mean " + near + "? Rename the column, so that it is not passed over unread"})
			}
		}
	}
	if len(faults) == 0 && !slices.ContainsFunc(keys, func(k string) bool { return k != "" }) {
		faults = append(faults, fault.Fault{Code: fault.Missing, Field: "--csv", Value: strings.Join(header, ","),
			Limit: "no column is named after an input of " + c.Name, Remedy: "begin with a row of " + strings.Join(c.Keys(), ",")})
	}
	return keys, faults.Err()
}

// answerColumns names what is appended to a row. An output named as an input
// column (strength gives every scale, that of the input too) is told apart.
func answerColumns(c reckon.Calculation, header []string) []string {
	var out []string
	for _, o := range c.Outputs {
		key := o.Key
		if slices.Contains(header, key) {
			key += "_out"
		}
		out = append(out, key)
		if doubted(o) {
			out = append(out, key+"_unit", key+"_u")
		}
	}
	return append(out, "method", "error")
}

// doubted reports whether an output has a unit and an uncertainty of its own;
// the uncertainty u has neither, and a word has none.
func doubted(o reckon.Output) bool { return o.Units != "" && o.Key != "u" }

// answerCells is an answer under answerColumns.
func answerCells(c reckon.Calculation, a reckon.Answer) []string {
	var out []string
	for _, o := range c.Outputs {
		var v reckon.Value
		if i := slices.IndexFunc(a.Outputs, func(v reckon.Value) bool { return v.Key == o.Key }); i >= 0 {
			v = a.Outputs[i]
		}
		out = append(out, v.Text)
		if doubted(o) {
			u := ""
			if v.U != nil {
				u = strconv.FormatFloat(*v.U, 'f', -1, 64)
			}
			out = append(out, v.Unit, u)
		}
	}
	problem := ""
	if err := a.Faults.Err(); err != nil {
		problem = err.Error()
	}
	return append(out, a.Method, problem)
}

// csvRows reads rows one by one, and after a row that is not CSV goes on at the
// next line: one stray quote in a logbook must not hide the rest of it.
type csvRows struct {
	data  []byte
	comma rune
	r     *csv.Reader
	base  int64 // offset in data at which r began
}

// next is the next row; a broken line comes as one cell, with its error.
func (c *csvRows) next() (row []string, ok bool, err error) {
	if c.r == nil {
		c.r = csv.NewReader(bytes.NewReader(c.data[c.base:]))
		c.r.Comma = c.comma
		c.r.FieldsPerRecord = -1
	}
	start := c.base + c.r.InputOffset()
	row, err = c.r.Read()
	if err == nil {
		return row, true, nil
	}
	if errors.Is(err, io.EOF) {
		return nil, false, nil
	}
	rest := bytes.TrimLeft(c.data[start:], "\r\n")
	line, _, _ := bytes.Cut(rest, []byte("\n"))
	c.base = int64(len(c.data)-len(rest)) + int64(len(line))
	c.r = nil
	return []string{strings.TrimRight(string(line), "\r")}, true,
		fault.Fault{Code: fault.Conflict, Field: "row", Value: string(line), Limit: "is not a row of CSV: " + errors.Unwrap(err).Error(), Remedy: "put a cell that holds a quote in quotes, and double the quote"}
}
