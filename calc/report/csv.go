package report

import (
	"encoding/csv"
	"strconv"
	"strings"

	"gaugebook/calc/book"
)

// plainFigure is what a spreadsheet can only take for a number or a word: a
// figure, with its half-width and its unit where it has them.
func plainFigure(cell string) bool {
	const digits = "0123456789"
	if strings.ContainsRune("+-", rune(cell[0])) {
		cell = cell[1:]
	}
	rest := strings.TrimLeft(cell, digits+".")
	if rest == cell {
		return false
	}
	if half, ok := strings.CutPrefix(rest, "±"); ok {
		if rest = strings.TrimLeft(half, digits+"."); rest == half {
			return false
		}
	}
	return strings.Trim(rest, digits+"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ%/") == ""
}

// Guarded keeps a spreadsheet from taking a cell for a formula: an apostrophe
// goes before it, and before one that has an apostrophe there already.
// Unguarded takes it off.
func Guarded(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r'", rune(cell[0])) && !plainFigure(cell) {
		return "'" + cell
	}
	return cell
}

// Unguarded takes off what Guarded put before a cell.
func Unguarded(cell string) string {
	if len(cell) > 1 && cell[0] == '\'' && Guarded(cell[1:]) != cell[1:] {
		return cell[1:]
	}
	return cell
}

// CSV writes rows (RFC 4180), every cell guarded.
func CSV(rows [][]string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	for _, cells := range rows {
		guarded := make([]string, len(cells))
		for i, c := range cells {
			guarded[i] = Guarded(c)
		}
		w.Write(guarded) //nolint:errcheck // a strings.Builder takes everything
	}
	w.Flush()
	return b.String()
}

// Rows are the month one figure a row under their heading, so that one table
// holds every form and list: of a form its line and column, of a list its row
// and column. The facts, as (name, value), stand before the figures.
func (m *Month) Rows(facts ...[2]string) [][]string {
	rows := [][]string{{"section", "line", "meaning", "column", "value", "unit", "exact_pg", "entries", "source"}}
	facts = append([][2]string{{"month", m.Month}, {"closed by", string(m.ClosedBy)}, {"digest of the figures", m.Digest}}, facts...)
	for _, f := range facts {
		rows = append(rows, []string{"report", "", f[0], "", f[1], "", "", "", ""})
	}
	for i := range m.Forms {
		f := &m.Forms[i]
		for _, l := range f.Lines {
			for _, x := range l.Cells {
				rows = append(rows, []string{f.Heading(), l.Number, l.Meaning, string(x.Column), x.Printed.String(), m.Unit(), Steps(x.Amount), joined(x.Behind()), l.Source})
			}
		}
	}
	list := func(title, section string, columns []string, of []Row) {
		for i, r := range of {
			for j, cell := range r.Cells {
				rows = append(rows, []string{title, strconv.Itoa(i + 1), "", columns[j], cell, "", "", string(r.Entry), section})
			}
		}
	}
	for _, r := range m.Records {
		list(r.Title, r.Section, r.Columns, r.Rows)
	}
	list("Adjustments", "", []string{"date", "entry", "what"}, m.Adjustments)
	for i, p := range m.Problems {
		rows = append(rows, []string{"Problems", strconv.Itoa(i + 1), p.Where, "", p.Says, "", "", joined(p.Entries), p.Cause})
	}
	return rows
}

// Heading is a form's name, part and title.
func (f *Form) Heading() string {
	var words []string
	for _, s := range []string{f.Form, f.Part, f.Title} {
		if s == "" {
			continue
		}
		if s == f.Part {
			s = "part " + s
		}
		words = append(words, s)
	}
	return strings.Join(words, ", ")
}

// Behind are the entries that a figure is made of, and those told later.
func (c *Cell) Behind() []book.Address {
	out := []book.Address{}
	for _, share := range c.Entries {
		out = append(out, share.Entry)
	}
	return append(out, c.Late...)
}

func joined(list []book.Address) string {
	words := make([]string, len(list))
	for i, a := range list {
		words[i] = string(a)
	}
	return strings.Join(words, " ")
}
