package main

import (
	"encoding/csv"
	"encoding/json"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func cutColumns(t *testing.T, text string, drop ...int) string {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	require.NoError(t, err)
	var out strings.Builder
	w := csv.NewWriter(&out)
	for _, r := range rows {
		var kept []string
		for i, c := range r {
			keep := true
			for _, d := range drop {
				keep = keep && i != d
			}
			if keep {
				kept = append(kept, c)
			}
		}
		require.NoError(t, w.Write(kept))
	}
	w.Flush()
	return out.String()
}

func TestTheReportOfAMonth(t *testing.T) {
	path := bookOfThreeMonths(t)
	after, _, err := asked(t, "", "report", "2025-06", "--book", path)
	require.NoError(t, err, "flags may follow the month")
	out, errs, err := asked(t, "", "report", "--book", path, "2025-06")
	assert.Equal(t, out, after)
	require.NoError(t, err, errs)
	assert.Contains(t, out, "Month 2025-06, in proof gallons\nworksheet: the proprietor checks and files\n")
	assert.Contains(t, out, "The month was closed by heron41-")
	assert.Contains(t, strings.ReplaceAll(out, "\n", " "), "That proves that the entries were not tampered with, not that what they say is true.")
	for _, want := range []string{"TTB F 5110.40, part I, Production", "TTB F 5110.11, Storage", "TTB F 5110.28, part II, Processing: finished goods",
		"* from memory: check on the blank form", "Tax determined, less returned: ", "Gauges (27 CFR 19.618)", "Destroyed (27 CFR 19.617)\n  none\n"} {
		assert.Contains(t, out, want)
	}
	for _, width := range []string{"80", "100", "120"} {
		out, _, err := asked(t, "", "report", "--book", path, "--width", width, "--entries", "2025-07")
		require.NoError(t, err)
		for _, line := range strings.Split(out, "\n") {
			if strings.HasPrefix(line, "head ") { // must stay in one piece
				continue
			}
			assert.LessOrEqual(t, utf8.RuneCountInString(line), map[string]int{"80": 80, "100": 100, "120": 120}[width], line)
		}
	}

	head := regexp.MustCompile(`(?m)^head    (\S+)$`).FindStringSubmatch(out)
	require.NotNil(t, head)
	verified, errs, err := asked(t, "", "verify", "--book", path, head[1])
	require.NoError(t, err, errs)
	assert.Contains(t, verified, "the 1 given heads lie in it")
}

func TestALineOpensIntoItsEntries(t *testing.T) {
	path := bookOfThreeMonths(t)
	out, _, err := asked(t, "", "report", "--book", path, "--entries", "2025-07")
	require.NoError(t, err)
	assert.Regexp(t, `(?m)^  33 .*\n(\s+heron41-\d+ 2025-07-\d\d cases removed\s+\d+\.\d{4}\n)+`, out)
}

func TestTheReportAsJSONAndCSV(t *testing.T) {
	path := bookOfThreeMonths(t)
	out, _, err := asked(t, "", "report", "--book", path, "--json", "2025-07")
	require.NoError(t, err)
	var m monthJSON
	require.NoError(t, json.Unmarshal([]byte(out), &m))
	require.Equal(t, "proof gallons", m.Unit)
	require.Equal(t, "worksheet: the proprietor checks and files", m.Note)
	require.Regexp(t, `^664-[0-9a-f]{64}$`, m.Head)
	printed := map[string]string{}
	for _, f := range m.Forms {
		for _, l := range f.Lines {
			for _, c := range l.Cells {
				if l.Line != "" {
					printed[f.Form+"/"+f.Part+"/"+l.Line+"/"+c.Column] = c.Printed
				}
			}
		}
	}
	require.NotEqual(t, "0.0", printed["TTB F 5110.28/II/33/bottled"])
	require.Equal(t, printed["TTB F 5110.28/II/33/bottled"], m.Removed)

	out, _, err = asked(t, "", "report", "--book", path, "--csv", "2025-07")
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"section", "line", "meaning", "column", "value", "unit", "exact_pg", "entries", "source"}, rows[0])
	found := 0
	for _, r := range rows[1:] {
		for _, form := range []struct{ section, key string }{{"TTB F 5110.28, part II, Processing: finished goods", "TTB F 5110.28/II/"}, {"TTB F 5110.11, Storage", "TTB F 5110.11//"}} {
			if want, ok := printed[form.key+r[1]+"/"+r[3]]; ok && r[0] == form.section {
				require.Equal(t, want, r[4])
				found++
			}
		}
	}
	require.Greater(t, found, 100, "the CSV has every figure of the JSON")
}

func TestAMetricReportNamesNoForm(t *testing.T) {
	path := filepath.Join(t.TempDir(), "metric.db")
	_, errs, err := asked(t, "", "import", "--book", path, "../../testdata/promise/1-metric.jsonl")
	require.NoError(t, err, errs)
	out, _, err := asked(t, "", "report", "--book", path, "2026-03")
	require.NoError(t, err)
	assert.Contains(t, out, "in litres of pure alcohol")
	assert.Contains(t, out, "\nStorage\n")
	assert.NotContains(t, out, "TTB")
	assert.NotContains(t, out, "CFR 19.6", "questions may name a limit; headings name none")
	assert.NotContains(t, out, "proof gallons\n")
}

func TestWhatAReportCannotBeAsked(t *testing.T) {
	path := bookOfThreeMonths(t)
	for args, want := range map[string]string{
		"2026-13":               "month “2026-13”: is not a month; write it as 2026-10.",
		"October":               "month “October”: is not a month; write it as 2026-10.",
		"--json --csv 2025-06":  "csv: stands beside --json; ask for one of the two.",
		"--width 200 2025-06":   "width “200”: a report is 80 to 120 columns wide; give a width between them.",
		"":                      "argument: something is missing after the flags; usage: gaugebook report [--book FILE] [--json|--csv] [--entries] [--width N] MONTH.",
		"--wide 2025-06":        "flag: flag provided but not defined: -wide; usage: gaugebook report [--book FILE] [--json|--csv] [--entries] [--width N] MONTH.",
		"2025-06 2025-07":       "argument “2025-07”: is one too many; usage: gaugebook report [--book FILE] [--json|--csv] [--entries] [--width N] MONTH.",
		"--book none.db 2025-6": "month “2025-6”: is not a month; write it as 2026-10.",
	} {
		_, _, err := asked(t, "", append([]string{"report", "--book", path}, strings.Fields(args)...)...)
		assert.EqualError(t, err, want, args)
	}
}
