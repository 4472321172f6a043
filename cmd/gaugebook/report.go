package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/report"
)

// worksheet stands on every report.
const worksheet = "worksheet: the proprietor checks and files"

// tamperEvidence says what the printed head is worth.
const tamperEvidence = "Keep this head. If 'gaugebook verify HEAD' finds it later, nothing up to it was altered since this was printed. " +
	"That proves that the entries were not tampered with, not that what they say is true."

// runReport prints a month's figures and lists.
func runReport(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("report", "[--book FILE] [--json|--csv] [--entries] [--width N] MONTH")
	asJSON := fs.Bool("json", false, "write it as JSON")
	asCSV := fs.Bool("csv", false, "write it as CSV, one figure a row")
	entries := fs.Bool("entries", false, "open every line into its entries")
	width := fs.Int("width", 100, "`COLUMNS` of the terminal, 80 to 120")
	if helped, err := parse(fs, args, stdout, 1, 1); helped || err != nil {
		return err
	}
	switch {
	case *asJSON && *asCSV:
		return fault.Fault{Code: fault.Conflict, Field: "csv", Limit: "stands beside --json", Remedy: "ask for one of the two"}
	case *width < 80 || *width > 120:
		return fault.Fault{Code: fault.NotOneOf, Field: "width", Value: fmt.Sprint(*width), Limit: "a report is 80 to 120 columns wide", Remedy: "give a width between them"}
	}
	month := fs.Arg(0)
	if err := monthArgument(month); err != nil {
		return err
	}
	b, err := readBook(ctx, bookOf(fs))
	if err != nil {
		return err
	}
	m := report.Of(b.State(), month)
	p := printedMonth{Month: m, book: b, width: *width, entries: *entries}
	switch {
	case *asJSON:
		enc := json.NewEncoder(stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(p.json())
	case *asCSV:
		_, err := io.WriteString(stdout, report.CSV(m.Rows([2]string{"worksheet", worksheet}, [2]string{"head of the log", b.head.String()})))
		return err
	}
	return p.text(stdout)
}

// A printedMonth is a month on its way to paper.
type printedMonth struct {
	report.Month
	book    *folded
	width   int
	entries bool
}

func (p *printedMonth) text(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", strings.Join(filled(p.House.Name, p.House.Plant), ", "))
	fmt.Fprintf(&b, "Month %s, in %s\n%s\n\n", p.Month.Month, p.Unit(), worksheet)
	standing := "The month is open."
	if p.ClosedBy != "" {
		standing = fmt.Sprintf("The month was closed by %s. What was signed for stands here; what came later counts in the first open month.", p.ClosedBy)
	}
	p.paragraph(&b, standing)
	fmt.Fprintf(&b, "figures %s\nhead    %s\n", p.Digest, p.book.head)
	p.paragraph(&b, tamperEvidence)
	p.problems(&b)
	for i := range p.Forms {
		p.form(&b, &p.Forms[i])
	}
	fmt.Fprintf(&b, "\nTax determined, less returned: %s %s\n", p.Removed, p.Unit())
	for _, r := range p.Records {
		p.record(&b, r.Title, r.Section, r.Columns, r.Rows)
	}
	if len(p.Adjustments) > 0 {
		p.record(&b, "Adjustments: told or corrected after their month was closed", "", []string{"date", "entry", "what"}, p.Adjustments)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (p *printedMonth) paragraph(w io.Writer, text string) {
	fmt.Fprintln(w, strings.Join(wrap(text, p.width), "\n"))
}

// filled are the words that are not empty.
func filled(words ...string) []string {
	var out []string
	for _, s := range words {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

func (p *printedMonth) problems(w io.Writer) {
	if len(p.Problems) == 0 {
		fmt.Fprint(w, "\nEvery column foots, and nothing waits for an answer.\n")
		return
	}
	fmt.Fprintf(w, "\nBefore signing: %d\n", len(p.Problems))
	for _, q := range p.Problems {
		text := q.Where + ": " + q.Says
		if q.Cause != "" {
			text += " [" + q.Cause + "]"
		}
		text += " " + joined(q.Entries)
		for i, line := range wrap(text, p.width-4) {
			fmt.Fprintf(w, "%s%s\n", []string{"  * ", "    "}[min(i, 1)], line)
		}
	}
}

func joined(entries []book.Address) string {
	const most = 8
	words := make([]string, 0, len(entries))
	for i, e := range entries {
		if i == most {
			words = append(words, fmt.Sprintf("and %d more", len(entries)-most))
			break
		}
		words = append(words, string(e))
	}
	return strings.Join(words, ", ")
}

// form prints one part; of many columns only those that hold anything.
func (p *printedMonth) form(w io.Writer, f *report.Form) {
	fmt.Fprintf(w, "\n%s\n", f.Heading())
	shown := shownColumns(f)
	head := []string{"line", ""}
	for _, i := range shown {
		head = append(head, string(f.Columns[i]))
	}
	var rows [][]string
	notes := map[string]string{}
	for _, l := range f.Lines {
		number := l.Number
		if note := l.Source; strings.Contains(note, "check") || strings.Contains(note, "not read") || strings.Contains(note, "proprietor") {
			if notes[note] == "" {
				notes[note] = strings.Repeat("*", len(notes)+1)
			}
			number += notes[note]
		}
		row := []string{number, l.Meaning}
		for _, i := range shown {
			row = append(row, l.Cells[i].Printed.String())
		}
		if l.Memo && strings.Trim(strings.Join(row[2:], ""), "0.") == "" {
			continue
		}
		rows = append(rows, row)
		if p.entries {
			rows = append(rows, p.behind(&l, shown)...)
		}
	}
	printTable(w, "  ", p.width, 2, head, rows)
	p.carried(w, f, shown)
	for n := 1; n <= len(notes); n++ {
		for note, stars := range notes {
			if len(stars) == n {
				fmt.Fprintf(w, "  %s %s\n", stars, note)
			}
		}
	}
}

// carried says what a figure is exactly, where the printed one is not its
// rounding.
func (p *printedMonth) carried(w io.Writer, f *report.Form, shown []int) {
	for _, l := range f.Lines {
		var exact []string
		for _, i := range shown {
			if c := l.Cells[i]; (l.OnHand() || c.Evened && l.Flow()) && c.Off(p.House.Convention) != 0 {
				exact = append(exact, fmt.Sprintf("%s %s", c.Column, p.exact(c.Amount)))
			}
		}
		if len(exact) == 0 {
			continue
		}
		why := "printed as the lines above it come to, each rounded by itself"
		if l.Flow() {
			why = "a tenth off its own rounding, so that what is on hand can be printed"
		}
		text := l.Meaning + ": " + why + "; exactly " + strings.Join(exact, "; ")
		for _, line := range wrap(text, p.width-4) {
			fmt.Fprintln(w, "    "+line)
		}
	}
}

// shownColumns are the columns of a form that hold anything, or its last one.
func shownColumns(f *report.Form) []int {
	var out []int
	for i := range f.Columns {
		for _, l := range f.Lines {
			if c := l.Cells[i]; c.Printed != 0 || c.Amount != 0 || len(c.Entries) > 0 || i == len(f.Columns)-1 {
				out = append(out, i)
				break
			}
		}
	}
	return out
}

// behind lists the entries of a line, each with the exact amount it adds, in
// the line's last column.
func (p *printedMonth) behind(l *report.Line, shown []int) [][]string {
	if strings.HasPrefix(l.Meaning, "Total") || strings.HasPrefix(l.Meaning, "Produced:") {
		return nil
	}
	c := l.Cells[shown[len(shown)-1]]
	row := func(what string, a book.Alcohol) []string {
		out := []string{"", "  " + what}
		for range shown[1:] {
			out = append(out, "")
		}
		return append(out, p.exact(a))
	}
	var rows [][]string
	for _, e := range c.Entries {
		rows = append(rows, row(p.entry(e.Entry), e.Amount))
	}
	if c.Adjusted != 0 {
		what := "adjustments to closed months: " + joined(c.Late)
		if p.ClosedBy != "" {
			what = "signed for, and told otherwise since: " + joined(c.Late)
		}
		rows = append(rows, row(what, c.Adjusted))
	}
	return rows
}

// entry is an entry's address with its day and kind.
func (p *printedMonth) entry(a book.Address) string {
	e := p.book.Entry(a)
	if e == nil {
		return string(a)
	}
	return fmt.Sprintf("%s %s %s", a, e.Happened.Day(), e.Kind)
}

// exact is an amount to its last digit in the unit of the report.
func (p *printedMonth) exact(a book.Alcohol) string { return exactIn(p.House.Convention, a) }

func exactIn(c book.Convention, a book.Alcohol) string {
	if c == book.Metric {
		return fmt.Sprintf("%.4f", a.LitresPureAlcohol())
	}
	return report.Steps(a)
}

func (p *printedMonth) record(w io.Writer, title, section string, columns []string, rows []report.Row) {
	if section != "" {
		title += " (27 CFR " + section + ")"
	}
	fmt.Fprintf(w, "\n%s\n", title)
	if len(rows) == 0 {
		fmt.Fprintln(w, "  none")
		return
	}
	cells := make([][]string, len(rows))
	for i, r := range rows {
		cells[i] = r.Cells
	}
	printTable(w, "  ", p.width, -1, columns, cells)
}

// The JSON of a report. Printed figures are decimal text as on paper, in the
// unit that "unit" names; exact ones are proof gallons to the ledger's step.
type (
	monthJSON struct {
		Month       string        `json:"month"`
		Name        string        `json:"name"`
		Plant       string        `json:"plant,omitempty"`
		Convention  string        `json:"convention"`
		Unit        string        `json:"unit"`
		Note        string        `json:"note"`
		ClosedBy    string        `json:"closed_by,omitempty"`
		Digest      string        `json:"digest"`
		Head        string        `json:"head"`
		Forms       []formJSON    `json:"forms"`
		Removed     string        `json:"tax_determined"`
		Records     []recordJSON  `json:"records"`
		Adjustments [][]string    `json:"adjustments"`
		Problems    []problemJSON `json:"problems"`
	}
	formJSON struct {
		Form  string     `json:"form,omitempty"`
		Part  string     `json:"part,omitempty"`
		Title string     `json:"title"`
		Lines []lineJSON `json:"lines"`
	}
	lineJSON struct {
		Line    string     `json:"line,omitempty"`
		Meaning string     `json:"meaning"`
		Source  string     `json:"source,omitempty"`
		Cells   []cellJSON `json:"cells"`
	}
	cellJSON struct {
		Column   string      `json:"column"`
		Printed  string      `json:"printed"`
		Exact    string      `json:"exact_pg"`
		Entries  []shareJSON `json:"entries,omitempty"`
		Adjusted string      `json:"adjusted_pg,omitempty"`
		Late     []string    `json:"late,omitempty"`
	}
	shareJSON struct {
		Entry string `json:"entry"`
		Exact string `json:"exact_pg"`
	}
	recordJSON struct {
		Title   string     `json:"title"`
		Section string     `json:"section,omitempty"`
		Columns []string   `json:"columns"`
		Rows    [][]string `json:"rows"`
	}
	problemJSON struct {
		Where   string   `json:"where"`
		Says    string   `json:"says"`
		Cause   string   `json:"cause,omitempty"`
		Entries []string `json:"entries,omitempty"`
	}
)

func (p *printedMonth) json() monthJSON {
	out := monthJSON{Month: p.Month.Month, Name: p.House.Name, Plant: p.House.Plant, Convention: string(p.book.State().Convention()), Unit: p.Unit(), Note: worksheet,
		ClosedBy: string(p.ClosedBy), Digest: p.Digest, Head: p.book.head.String(), Removed: p.Removed.String(),
		Records: []recordJSON{}, Adjustments: cellsOf(p.Adjustments), Problems: []problemJSON{}}
	for _, f := range p.Forms {
		form := formJSON{Form: f.Form, Part: f.Part, Title: f.Title}
		for _, l := range f.Lines {
			line := lineJSON{Line: l.Number, Meaning: l.Meaning, Source: l.Source}
			for _, c := range l.Cells {
				cell := cellJSON{Column: string(c.Column), Printed: c.Printed.String(), Exact: report.Steps(c.Amount), Late: words(c.Late)}
				if c.Adjusted != 0 {
					cell.Adjusted = report.Steps(c.Adjusted)
				}
				for _, e := range c.Entries {
					cell.Entries = append(cell.Entries, shareJSON{string(e.Entry), report.Steps(e.Amount)})
				}
				line.Cells = append(line.Cells, cell)
			}
			form.Lines = append(form.Lines, line)
		}
		out.Forms = append(out.Forms, form)
	}
	for _, r := range p.Records {
		out.Records = append(out.Records, recordJSON{r.Title, r.Section, r.Columns, cellsOf(r.Rows)})
	}
	for _, q := range p.Problems {
		out.Problems = append(out.Problems, problemJSON{q.Where, q.Says, q.Cause, words(q.Entries)})
	}
	return out
}

func cellsOf(rows []report.Row) [][]string {
	out := make([][]string, len(rows))
	for i, r := range rows {
		out[i] = r.Cells
	}
	return out
}

func words(entries []book.Address) []string {
	var out []string
	for _, e := range entries {
		out = append(out, string(e))
	}
	return out
}
