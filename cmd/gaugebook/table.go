package main

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

const gap = 2 // between columns

// A column of a printed table.
type column struct {
	width int  // of its widest cell
	least int  // of its longest word
	right bool // figures stand to the right
}

var decimalText = regexp.MustCompile(`^(-?\d+(\.\d+)?)?$`)

// printTable writes rows under their headings in columns that together are no
// wider than width: the widest give way, and their words go on in a further
// line. Where even single words are too wide together, each row is written as
// its headings with their cells. Figures stand to the right: from column figures
// on or, where that is below zero, in columns of nothing but numbers.
func printTable(w io.Writer, indent string, width, figures int, head []string, rows [][]string) {
	columns := make([]column, len(head))
	least, whole := 0, 0
	for i := range head {
		c := &columns[i]
		c.right = figures >= 0 && i >= figures || figures < 0 && len(rows) > 0 && !slices.ContainsFunc(rows, func(r []string) bool { return !decimalText.MatchString(r[i]) })
		for _, word := range strings.Fields(head[i]) {
			c.least = max(c.least, utf8.RuneCountInString(word))
		}
		c.width = max(c.least, min(utf8.RuneCountInString(head[i]), 12))
		for _, r := range rows {
			c.width = max(c.width, utf8.RuneCountInString(r[i]))
			for _, word := range strings.Fields(r[i]) {
				c.least = max(c.least, utf8.RuneCountInString(word))
			}
		}
		least, whole = least+c.least, whole+c.width
	}
	room := width - utf8.RuneCountInString(indent) - gap*(len(head)-1)
	if least > room {
		printStacked(w, indent, width, head, rows)
		return
	}
	for ; whole > room; whole-- {
		widest := -1
		for i, c := range columns {
			if c.width > c.least && (widest < 0 || c.width > columns[widest].width) {
				widest = i
			}
		}
		columns[widest].width--
	}
	if strings.Join(head, "") != "" {
		printRow(w, indent, columns, head)
		rule := make([]string, len(columns))
		for i, c := range columns {
			rule[i] = strings.Repeat("-", c.width)
		}
		printRow(w, indent, columns, rule)
	}
	for _, r := range rows {
		printRow(w, indent, columns, r)
	}
}

func printRow(w io.Writer, indent string, columns []column, cells []string) {
	wrapped, high := make([][]string, len(cells)), 1
	for i, c := range cells {
		wrapped[i] = wrap(c, columns[i].width)
		high = max(high, len(wrapped[i]))
	}
	for n := range high {
		line := indent
		for i, c := range columns {
			text := ""
			if n < len(wrapped[i]) {
				text = wrapped[i][n]
			}
			pad := strings.Repeat(" ", max(0, c.width-utf8.RuneCountInString(text)))
			if c.right {
				text = pad + text
			} else {
				text += pad
			}
			if i > 0 {
				line += strings.Repeat(" ", gap)
			}
			line += text
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
}

// printStacked writes each row as its headings with their cells.
func printStacked(w io.Writer, indent string, width int, head []string, rows [][]string) {
	for _, r := range rows {
		var words []string
		for i, cell := range r {
			if cell != "" {
				words = append(words, head[i]+" "+cell)
			}
		}
		for i, line := range wrap(strings.Join(words, "; "), width-utf8.RuneCountInString(indent)-4) {
			if i > 0 {
				line = "    " + line
			}
			fmt.Fprintln(w, indent+line)
		}
	}
}

// wrap breaks text between words into lines of at most width letters, keeps
// what it is indented by in front of each, and breaks words that are longer.
func wrap(text string, width int) []string {
	front := text[:len(text)-len(strings.TrimLeft(text, " "))]
	width = max(1, width-len(front))
	var out []string
	line := ""
	for _, word := range strings.Fields(text) {
		for utf8.RuneCountInString(word) > width {
			if line != "" {
				out, line = append(out, front+line), ""
			}
			cut := []rune(word)
			out, word = append(out, front+string(cut[:width])), string(cut[width:])
		}
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) <= width:
			line += " " + word
		default:
			out, line = append(out, front+line), word
		}
	}
	return append(out, front+line)
}
