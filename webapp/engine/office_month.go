package engine

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/fault"
	"gaugebook/calc/report"
)

type monthView struct {
	Month     string      `json:"month"`
	Months    []string    `json:"months"` // the newest first
	Title     string      `json:"title"`
	Unit      string      `json:"unit"`
	Standing  string      `json:"standing"`
	Closed    bool        `json:"closed"`
	Digest    string      `json:"digest"`
	Worksheet string      `json:"worksheet"`
	Minds     []string    `json:"minds"` // before it is closed
	Summary   *facts      `json:"summary"`
	Problems  []problem   `json:"problems"`
	Forms     []monthForm `json:"forms"`
	Records   []*table    `json:"records"`
}

type problem struct {
	Where   string         `json:"where"`
	Says    string         `json:"says"`
	Cause   string         `json:"cause"`
	Entries []book.Address `json:"entries"`
}

type monthForm struct {
	Title   string     `json:"title"`
	Columns []string   `json:"columns"`
	Lines   []formLine `json:"lines"`
	Notes   []string   `json:"notes"`
}

type formLine struct {
	Number  string       `json:"number"`
	Meaning string       `json:"meaning"`
	Nothing bool         `json:"nothing"` // no figure in any column
	Sum     bool         `json:"sum"`
	Cells   []formFigure `json:"cells"`
}

type formFigure struct {
	Text   string `json:"text"`
	Figure string `json:"figure"` // "" where there is nothing to open
}

// monthBefore is the month before one.
func monthBefore(month string) string {
	t, err := time.Parse("2006-01", month)
	if err != nil {
		return month
	}
	return t.AddDate(0, -1, 0).Format("2006-01")
}

// months are those from the book's first movement to the present, newest first.
func (e *Engine) months() []string {
	now := e.now().Month()
	first := now
	if p := e.book.State().Postings(); len(p) > 0 {
		first = min(first, p[0].On.Month())
	}
	out := []string{}
	for m := now; m >= first && len(out) < 600; m = monthBefore(m) {
		out = append(out, m)
	}
	return out
}

// monthOf is the report of a month that the book may have.
func (e *Engine) monthOf(month string) (report.Month, error) {
	if _, err := time.Parse("2006-01", month); err != nil {
		return report.Month{}, fault.Fault{Code: fault.NotOneOf, Field: "month", Value: month, Limit: "is not a month such as 2026-10", Remedy: "choose a month"}
	}
	return report.Of(e.book.State(), month), nil
}

// month is everything a month is closed on. Without one it is the first that
// waits to be closed, or the present one.
func (e *Engine) month(month string) (any, error) {
	months := e.months()
	if month == "" {
		month = months[0]
		for _, m := range slices.Backward(months) {
			if e.book.State().ClosedBy(m) == "" {
				month = m
				break
			}
		}
	}
	m, err := e.monthOf(month)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(months, month) {
		months = append(months, month)
	}
	out := monthView{Month: month, Months: months, Title: joinedWords(m.House.Name, m.House.Plant), Unit: m.Unit(), Digest: m.Digest, Worksheet: worksheet,
		Closed: m.ClosedBy != "", Minds: []string{}, Problems: []problem{}, Forms: []monthForm{}, Records: []*table{}, Summary: monthSummary(&m)}
	out.Standing = "The month is open."
	if out.Closed {
		out.Standing = "Closed and signed for: " + e.signed(m.ClosedBy) + ". What was signed for stands here; what came later counts in the first open month."
	} else {
		out.Minds = e.minds(&m, months)
	}
	for _, p := range m.Problems {
		out.Problems = append(out.Problems, problem{p.Where, p.Says, p.Cause, append([]book.Address{}, p.Entries...)})
	}
	for i := range m.Forms {
		out.Forms = append(out.Forms, shownForm(&m.Forms[i], i))
	}
	if len(m.Adjustments) > 0 {
		out.Records = append(out.Records, recordTable("Adjustments: told or corrected after their month was closed", "", []string{"date", "entry", "what"}, m.Adjustments))
	}
	for _, r := range m.Records {
		out.Records = append(out.Records, recordTable(r.Title, r.Section, r.Columns, r.Rows))
	}
	return out, nil
}

// monthSummary sets what came in beside what went out, from the forms' own
// lines: opening, in, out and on hand of each part that foots.
func monthSummary(m *report.Month) *facts {
	f := &facts{Title: "Tax determined, less returned: " + m.Removed.String() + " " + m.Unit(), Lines: []pair{}}
	for i := range m.Forms {
		form := &m.Forms[i]
		last := len(form.Columns) - 1
		var opening, closing report.Tenths
		foots := false
		for j := range form.Lines {
			l := &form.Lines[j]
			switch {
			case l.OnHand():
				closing, foots = l.Cells[last].Printed, true
			case isOpening(l):
				opening = l.Cells[last].Printed
			}
		}
		if !foots {
			continue
		}
		in, out := turnover(form, last)
		f.Lines = append(f.Lines, pair{form.Heading(), fmt.Sprintf("%s + %s − %s = %s", opening, in, out, closing)})
	}
	return f
}

func isOpening(l *report.Line) bool { return strings.HasPrefix(l.Meaning, "On hand first") }

// isStanding reports whether a line says what an account holds: it names no
// entries, those of all months are behind it.
func isStanding(l *report.Line) bool {
	return l.OnHand() || isOpening(l) || strings.HasPrefix(l.Meaning, "At the end of a quarter")
}

// isSum reports whether a line adds up others, by the words of every total.
func isSum(l *report.Line) bool {
	return strings.HasPrefix(l.Meaning, "Total") || strings.HasPrefix(l.Meaning, "Produced:")
}

// turnover is what came into and went out of a part that foots, in one column:
// the lines between its first line and its first total, and those after.
func turnover(f *report.Form, column int) (in, out report.Tenths) {
	ins := true
	for i := range f.Lines {
		l := &f.Lines[i]
		switch {
		case l.Memo || isStanding(l):
		case isSum(l):
			ins = false
		case ins:
			in += l.Cells[column].Printed
		default:
			out += l.Cells[column].Printed
		}
	}
	return in, out
}

// signed says who closed a month, by what and when.
func (e *Engine) signed(by book.Address) string {
	entry := e.book.Entry(by)
	return fmt.Sprintf("%s, by %s on %s", by, entry.By, spaced(entry.Happened.String()))
}

// minds are what to think of before a month is closed.
func (e *Engine) minds(m *report.Month, months []string) []string {
	out := []string{}
	if m.Month >= e.now().Month() {
		out = append(out, "The month is not over yet.")
	}
	var before []string
	for _, x := range slices.Backward(months) {
		if x < m.Month && e.book.State().ClosedBy(x) == "" {
			before = append(before, x)
		}
	}
	if n := len(before); n > 0 {
		said := strings.Join(before[:min(n, 3)], ", ")
		if n > 3 {
			said += fmt.Sprintf(" and %d more", n-3)
		}
		out = append(out, "Not closed before it: "+said+".")
	}
	if n := len(m.Problems); n > 0 {
		out = append(out, fmt.Sprintf("%d things below are not settled.", n))
	}
	return out
}

func joinedWords(words ...string) string {
	return strings.Join(slices.DeleteFunc(words, func(s string) bool { return s == "" }), ", ")
}

func shownForm(f *report.Form, at int) monthForm {
	out := monthForm{Title: f.Heading(), Columns: []string{}, Lines: []formLine{}, Notes: []string{}}
	var shown []int
	for i, c := range f.Columns {
		if i == len(f.Columns)-1 || slices.ContainsFunc(f.Lines, func(l report.Line) bool { return !empty(&l.Cells[i]) }) {
			shown, out.Columns = append(shown, i), append(out.Columns, string(c))
		}
	}
	for i := range f.Lines {
		l := &f.Lines[i]
		line := formLine{Number: l.Number, Meaning: l.Meaning, Nothing: true, Sum: isSum(l) || isStanding(l), Cells: []formFigure{}}
		for _, c := range shown {
			x := formFigure{Text: l.Cells[c].Printed.String()}
			if !empty(&l.Cells[c]) {
				x.Figure, line.Nothing = fmt.Sprintf("%d.%d.%d", at, i, c), false
			}
			line.Cells = append(line.Cells, x)
		}
		if l.Memo && line.Nothing {
			continue
		}
		if strings.Contains(l.Source, "check") || strings.Contains(l.Source, "proprietor") {
			note := slices.Index(out.Notes, l.Source)
			if note < 0 {
				note, out.Notes = len(out.Notes), append(out.Notes, l.Source)
			}
			line.Number += strings.Repeat("*", note+1)
		}
		out.Lines = append(out.Lines, line)
	}
	for i, note := range out.Notes {
		out.Notes[i] = strings.Repeat("*", i+1) + " " + note
	}
	return out
}

func empty(c *report.Cell) bool { return c.Printed == 0 && c.Amount == 0 && len(c.Entries) == 0 }

func recordTable(title, section string, columns []string, rows []report.Row) *table {
	if section != "" {
		title += " (27 CFR " + section + ")"
	}
	t := &table{Title: title, Rows: []row{}, Columns: []column{}, Empty: title + ": none."}
	for _, c := range columns {
		t.Columns = append(t.Columns, column{Label: c})
	}
	for _, r := range rows {
		out := row{Cells: []cell{}}
		for i, c := range r.Cells {
			if i < len(t.Columns) && strings.Trim(c, "-0123456789.") == "" && c != "" {
				t.Columns[i].Figure = i > 0
			}
			x := text(c)
			if i == 1 { // every list begins with the day and the entry
				x.Entry = r.Entry
			}
			out.Cells = append(out.Cells, x)
		}
		t.Rows = append(t.Rows, out)
	}
	return t
}

type figureView struct {
	Title   string `json:"title"`
	Printed string `json:"printed"`
	Unit    string `json:"unit"`
	Exact   string `json:"exact"`
	Entries *table `json:"entries,omitempty"`
	Lines   *table `json:"lines,omitempty"` // what it adds up, where it is a sum or on hand
	Says    string `json:"says"`
}

// figure opens one figure of a month into what made it.
func (e *Engine) figure(month, at string) (any, error) {
	m, err := e.monthOf(month)
	if err != nil {
		return nil, err
	}
	var f, l, c int
	if n, _ := fmt.Sscanf(at, "%d.%d.%d", &f, &l, &c); n != 3 || f < 0 || f >= len(m.Forms) || l < 0 || l >= len(m.Forms[f].Lines) || c < 0 || c >= len(m.Forms[f].Columns) {
		return nil, fault.Fault{Code: fault.Unknown, Field: "figure", Value: at, Limit: "is no figure of this month", Remedy: "open the month again"}
	}
	form := &m.Forms[f]
	line := &form.Lines[l]
	x := &line.Cells[c]
	number := ""
	if line.Number != "" {
		number = "line " + line.Number
	}
	out := figureView{Title: joinedWords(form.Heading(), number, line.Meaning, string(form.Columns[c])), Printed: x.Printed.String(), Unit: m.Unit(), Exact: e.exact(x.Amount)}
	if isStanding(line) || isSum(line) {
		out.Lines = columnTable(form, c)
		out.Says = "It follows from the other lines of its column, each rounded by itself (27 CFR 30.64)."
		if isOpening(line) {
			out.Says = "It is what " + monthBefore(month) + " ended with. Below stands the column it begins."
		}
		if off := x.Off(m.House.Convention); off != 0 {
			out.Says += " Exactly it is " + out.Exact + "; an inventory settles the difference."
		}
		return out, nil
	}
	out.Entries = e.sharesTable(x)
	if x.Evened {
		out.Says = "It is printed a tenth off its own rounding, so that what is on hand can be printed; exactly it is " + out.Exact + "."
		return out, nil
	}
	switch {
	case x.Adjusted != 0 && m.ClosedBy != "":
		out.Says = "Signed for, and told otherwise since: " + e.exact(x.Adjusted) + "."
	case x.Adjusted != 0:
		out.Says = "Adjustments to closed months: " + e.exact(x.Adjusted) + "."
	}
	return out, nil
}

func (e *Engine) sharesTable(x *report.Cell) *table {
	t := &table{Title: "The entries behind it", Empty: "No entry of this month stands behind it.", Rows: []row{}, Columns: []column{{Label: "Entry"}, {Label: "What"}, {Label: e.alcoholLabel(), Figure: true}}}
	add := func(a book.Address, amount string) {
		r := row{Cells: []cell{{string(a), a}, text(""), text(amount)}}
		if entry := e.book.Entry(a); entry != nil {
			body, happened, _, _ := e.book.Effective(entry)
			r.Cells[1].Text, r.Note = entry.Kind, happened.Day()+", "+e.gist(body)
		}
		t.Rows = append(t.Rows, r)
	}
	for _, share := range x.Entries {
		add(share.Entry, e.exact(share.Amount))
	}
	for _, a := range x.Late {
		add(a, "later")
	}
	return t
}

// columnTable is a column of a form from its opening figure to its last.
func columnTable(f *report.Form, c int) *table {
	t := &table{Title: "The column", Empty: "Nothing stands in the column.", Rows: []row{}, Columns: []column{{Label: "Line"}, {Label: "What"}, {Label: string(f.Columns[c]), Figure: true}}}
	for i := range f.Lines {
		if l := &f.Lines[i]; !empty(&l.Cells[c]) && !l.Memo {
			t.Rows = append(t.Rows, row{Cells: []cell{text(l.Number), text(l.Meaning), text(l.Cells[c].Printed.String())}})
		}
	}
	return t
}

// exact is an amount of alcohol to the ledger's last step, with its unit.
func (e *Engine) exact(a book.Alcohol) string {
	if e.metric() {
		return strconv.FormatFloat(a.LitresPureAlcohol(), 'f', 4, 64) + " L"
	}
	return report.Steps(a) + " PG"
}

type monthFiles struct {
	CSV  string `json:"csv"`
	JSON string `json:"json"`
}

// monthFiles are the month as files to keep: one figure a row, and as JSON.
func (e *Engine) monthFiles(month string) (any, error) {
	m, err := e.monthOf(month)
	if err != nil {
		return nil, err
	}
	type figure struct {
		Form    string         `json:"form"`
		Line    string         `json:"line"`
		Meaning string         `json:"meaning"`
		Column  string         `json:"column"`
		Value   string         `json:"value"`
		Unit    string         `json:"unit"`
		Exact   string         `json:"exact_pg"`
		Entries []book.Address `json:"entries"`
		Source  string         `json:"source,omitempty"`
	}
	type list struct {
		Title   string     `json:"title"`
		Section string     `json:"section,omitempty"`
		Columns []string   `json:"columns"`
		Rows    [][]string `json:"rows"`
	}
	out := struct {
		Month    string    `json:"month"`
		Name     string    `json:"name"`
		Note     string    `json:"note"`
		Digest   string    `json:"digest"`
		ClosedBy string    `json:"closed_by"`
		Figures  []figure  `json:"figures"`
		Records  []list    `json:"records"`
		Problems []problem `json:"problems"`
	}{Month: month, Name: m.House.Name, Note: worksheet, Digest: m.Digest, ClosedBy: string(m.ClosedBy), Figures: []figure{}, Records: []list{}, Problems: []problem{}}
	for i := range m.Forms {
		f := &m.Forms[i]
		for _, l := range f.Lines {
			for _, c := range l.Cells {
				out.Figures = append(out.Figures, figure{f.Heading(), l.Number, l.Meaning, string(c.Column), c.Printed.String(), m.Unit(), report.Steps(c.Amount), c.Behind(), l.Source})
			}
		}
	}
	records := append(slices.Clone(m.Records), report.Record{Title: "Adjustments", Columns: []string{"date", "entry", "what"}, Rows: m.Adjustments})
	for _, r := range records {
		rows := [][]string{}
		for _, x := range r.Rows {
			rows = append(rows, x.Cells)
		}
		out.Records = append(out.Records, list{r.Title, r.Section, r.Columns, rows})
	}
	for _, p := range m.Problems {
		out.Problems = append(out.Problems, problem{p.Where, p.Says, p.Cause, append([]book.Address{}, p.Entries...)})
	}
	raw, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		return nil, err
	}
	return monthFiles{report.CSV(m.Rows([2]string{"worksheet", worksheet})), string(raw)}, nil
}

// monthClosed is the kind that closes a month.
const monthClosed = "month closed"

// closing fills in what closes a month: its figures and their digest are worked
// out here and never typed. What is typed is the digest of the figures that the
// person saw; where the book has come to say something else since, nothing is
// closed.
func (e *Engine) closing(raw json.RawMessage) (book.Body, fault.List) {
	var in struct {
		Month  string `json:"month"`
		Digest string `json:"digest"`
		Note   string `json:"note"`
	}
	if err := json.Unmarshal(raw, &in); err != nil {
		return nil, fault.List{{Code: book.Malformed, Field: "body", Limit: "is not the JSON that was expected: " + err.Error(), Remedy: "load the page again"}}
	}
	if _, err := e.monthOf(in.Month); err != nil {
		var list fault.List
		list.Add("", err)
		return nil, list
	}
	body := report.Close(e.book.State(), in.Month, in.Note)
	if body.Digest != in.Digest {
		return nil, fault.List{{Code: fault.Conflict, Field: "digest", Value: in.Digest, Limit: "is not the digest of the month as the book has it now: something was written since it was looked at",
			Remedy: "look at the figures again, then close the month"}}
	}
	return body, e.book.State().Timely(body)
}
