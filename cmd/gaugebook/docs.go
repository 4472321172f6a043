package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/sync/record"
)

// runDocs prints the documentation of the entry format.
func runDocs(_ context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("docs", "")
	if helped, err := parse(fs, args, stdout, 0, 0); helped || err != nil {
		return err
	}
	_, err := io.WriteString(stdout, formatDocs(book.Kinds()))
	return err
}

// formatDocs writes the format of entries as Markdown, from the kinds' own
// descriptions.
func formatDocs(kinds []*book.Kind) string {
	var b strings.Builder
	fmt.Fprintf(&b, `# The entries of a book

A book is a file of lines, one record a line, in UTF-8, each ended by a line feed: what 'gaugebook export' writes and
'gaugebook import' reads. A record is one JSON object in exactly one spelling: the fields in this order, without spaces,
none left out. Its bytes are its identity: its digest is SHA-256 of "gaugebook record 1\n" and the line.

    {"id":"…","device":"heron41","seq":12,"prev":"…","clock":"…","written":"…","happened":"…","by":"JS","kind":"draw read","v":1,"seen":311,"body":{…}}

| field | holds |
|---|---|
| id | a UUID of version 7 |
| device | the device that wrote it: a word of 2 to 16 letters and 2 or 3 digits |
| seq | its number on that device: 1, 2, 3 without a gap. heron41-12 is the entry's address, and the name of what it begins |
| prev | the digest of the device's entry before it, 64 hex digits; empty for the first |
| clock | a hybrid logical clock: 12 hex digits of milliseconds, a hyphen, 4 of a counter |
| written | when, by the device's clock: RFC 3339 with the offset |
| happened | when, as a person says |
| by | who, as they sign: 1 to %d bytes |
| kind | one of the kinds below |
| v | the version of the kind |
| seen | how far the device had read the common log |
| body | one JSON object with the fields of the kind, in their order; what was not given is left out |

A line has at most %d bytes.

## Values

A **figure** is text: the digits as typed, ± and half its width where its doubt was given, and the unit without a space:
`+"`\"72.10F\"`, `\"192.85±0.1proof\"`"+`. A **count** is a whole number, a **flag** is true or left out, a **time** is RFC 3339 with
its offset, a **date** is 2026-11-15, a **reference** is the address of an entry, such as "heron41-12". A **group** is a list
of objects. The units:

`, record.MaxBy, record.MaxLine)
	for d := quantity.NoDimension + 1; d.String() != ""; d++ {
		var units []string
		for _, u := range quantity.Units(d) {
			units = append(units, "`"+u.Symbol()+"`")
		}
		fmt.Fprintf(&b, "- %s: %s\n", d, strings.Join(units, ", "))
		if d == quantity.Count {
			break
		}
	}
	b.WriteString(`
## One kind as CSV

'gaugebook export --csv FOLDER' writes a file for each kind, 'gaugebook import --kind KIND FILE.csv' reads rows that are to
become entries. The first row names the fields by their keys (a colon and further words may follow a key), and (happened)
and (by) for the time and the person. A group stands in its cell as JSON. A cell of text that a spreadsheet would take for
a formula has an apostrophe before it, which is taken off again when it is read.
`)
	for _, room := range book.Rooms() {
		fmt.Fprintf(&b, "\n## %s\n", title(string(room)))
		for _, k := range kinds {
			if k.Room == room {
				kindDocs(&b, k)
			}
		}
	}
	return b.String()
}

func title(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func kindDocs(b *strings.Builder, k *book.Kind) {
	fmt.Fprintf(b, "\n### %s\n\n%s\n", k.Name, k.Help)
	for _, line := range [][2]string{{"Needs", k.Needs}, {"Changes", k.Changes}} {
		if line[1] != "" {
			fmt.Fprintf(b, "%s: %s\n", line[0], line[1])
		}
	}
	if k.Begins != "" {
		fmt.Fprintf(b, "Its address names: a %s.\n", k.Begins)
	}
	fmt.Fprintf(b, "Version %d.\n\n| field | label | holds | limits | |\n|---|---|---|---|---|\n", k.Version)
	fieldDocs(b, k.Fields, "")
}

func fieldDocs(b *strings.Builder, fields []book.Field, path string) {
	for _, f := range fields {
		help := f.Help
		if f.Need {
			help = strings.TrimSpace("Needed. " + help)
		}
		fmt.Fprintf(b, "| %s%s | %s | %s | %s | %s |\n", path, f.Key, cellText(f.Label), cellText(holds(&f)), cellText(limits(&f)), cellText(help))
		fieldDocs(b, f.Fields, path+f.Key+"[].")
	}
}

func cellText(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

// holds is what a field takes, in words.
func holds(f *book.Field) string {
	switch f.Type {
	case book.Figure:
		return "figure, " + units(f)
	case book.Word:
		return "one of: " + strings.Join(f.Words, ", ")
	case book.Naming:
		return "reference to a " + string(f.RefTo)
	case book.Nested:
		return "the body of the entry as it should be"
	case book.Text:
		return "text"
	}
	return string(f.Type)
}

// units names the bare unit of each convention.
func units(f *book.Field) string {
	switch us, metric := f.Bare(book.US).Symbol(), f.Bare(book.Metric).Symbol(); {
	case us == "":
		return "no unit"
	case us == metric:
		return us
	default:
		return us + " or " + metric
	}
}

func limits(f *book.Field) string {
	var out []string
	for _, l := range []struct {
		words string
		of    []quantity.Reading
	}{{"from ", f.Min}, {"up to ", f.Max}} {
		var each []string
		for _, r := range l.of {
			each = append(each, r.String())
		}
		if len(each) > 0 {
			out = append(out, l.words+strings.Join(each, ", "))
		}
	}
	if f.Type == book.Text {
		out = append(out, fmt.Sprintf("up to %d bytes", f.MaxLen))
	}
	return strings.Join(out, "; ")
}
