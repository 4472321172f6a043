package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever a file holds, every line of it is taken in, there already or left
// out and named; what is in the book afterwards are lines of the file, as they
// stand in it; and the same file again takes in nothing.
func FuzzImport(f *testing.F) {
	const started = `{"id":"01987a5c-0000-7000-8000-000000000001","device":"heron41","seq":1,"prev":"","clock":"000000000001-0000","written":"2026-11-25T09:09:32-05:00","happened":"2026-11-25T09:05:00-05:00","by":"JS","kind":"book opened","v":1,"seen":0,"body":{"name":"Hollow Alder"}}`
	for _, text := range []string{"", started, started + "\r\n\n" + started, strings.Replace(started, "book opened", "still sung to", 1), strings.Replace(started, `:1,`, `: 1,`, 1), "nonsense\n" + started + "\n\xff\x00"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		path := filepath.Join(t.TempDir(), "book.db")
		given := map[string]bool{}
		count := 0
		for line := range strings.SplitSeq(text, "\n") {
			if line = strings.TrimRight(line, "\r"); line != "" {
				given[line] = true
				count++
			}
		}
		out, errs, err := asked(t, text, "import", "--book", path, "-")
		var added, known, left int
		_, scan := fmt.Sscanf(out, "%d entries taken in, %d were there already, %d left out", &added, &known, &left)
		require.NoError(t, scan, "%s %v", out, err)
		require.Equal(t, count, added+known+left, "%s%s", out, errs)
		require.Equal(t, left > 0, err != nil, "what is left out is an error: %v", err)
		require.GreaterOrEqual(t, strings.Count(errs, "line "), left, "each is named: %s", errs)

		exported, _, err := asked(t, "", "export", "--book", path)
		require.NoError(t, err)
		held := 0
		for line := range strings.SplitSeq(strings.TrimSuffix(exported, "\n"), "\n") {
			if line != "" {
				assert.True(t, given[line], "in the book and not in the file: %s", line)
				held++
			}
		}
		require.Equal(t, added, held)
		again, _, _ := asked(t, text, "import", "--book", path, "-")
		require.Equal(t, fmt.Sprintf("0 entries taken in, %d were there already, %d left out\n", added+known, left), again)
	})
}

// Whatever a CSV holds, its rows are taken in whole or named, and the same file
// again takes in nothing.
func FuzzImportCSV(f *testing.F) {
	for _, text := range []string{"", gauges, strings.Replace(gauges, "140", "1400", 1), "happened,vessel\n\"", strings.ToUpper(gauges), "\ufeff" + gauges} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		path := filepath.Join(t.TempDir(), "book.db")
		args := []string{"import", "--book", path, "--kind", "spirit gauged", "--by", "IB", "-"}
		out, errs, err := asked(t, text, args...)
		var added, known, left int
		if _, scan := fmt.Sscanf(out, "%d entries taken in, %d were there already, %d left out", &added, &known, &left); scan != nil {
			require.Error(t, err, "a file of which nothing is said is refused: %s", errs)
		}
		exported, _, exportErr := asked(t, "", "export", "--book", path)
		require.NoError(t, exportErr)
		require.Equal(t, added, strings.Count(exported, "\n"))
		asked(t, text, args...)
		twice, _, exportErr := asked(t, "", "export", "--book", path)
		require.NoError(t, exportErr)
		require.Equal(t, exported, twice, "the same file again")
	})
}
