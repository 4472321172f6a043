package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

// asked runs a subcommand with what is piped in.
func asked(t *testing.T, stdin string, args ...string) (stdout, stderr string, err error) {
	t.Helper()
	var out, errs bytes.Buffer
	err = run(t.Context(), args, strings.NewReader(stdin), &out, &errs)
	return out.String(), errs.String(), err
}

const threeMonths = "../../testdata/promise/1-us.jsonl"

// bookOfThreeMonths is a book file with the three months of testdata/promise.
func bookOfThreeMonths(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	out, errs, err := asked(t, "", "import", "--book", path, threeMonths)
	require.NoError(t, err, errs)
	require.Equal(t, "664 entries taken in, 0 were there already, 0 left out\n", out)
	return path
}

func TestExportImportExportIsByteIdentical(t *testing.T) {
	first := bookOfThreeMonths(t)
	want, err := os.ReadFile(threeMonths)
	require.NoError(t, err)
	out, errs, err := asked(t, "", "export", "--book", first)
	require.NoError(t, err)
	require.Empty(t, errs)
	require.Equal(t, string(want), out)

	second := filepath.Join(t.TempDir(), "again.db")
	said, _, err := asked(t, out, "import", "--book", second, "-")
	require.NoError(t, err)
	require.Equal(t, "664 entries taken in, 0 were there already, 0 left out\n", said)
	again, _, err := asked(t, "", "export", "--book", second, "--jsonl")
	require.NoError(t, err)
	require.Equal(t, out, again)

	said, _, err = asked(t, out, "import", "--book", second, "--all-or-nothing", "-")
	require.NoError(t, err)
	require.Equal(t, "0 entries taken in, 664 were there already, 0 left out\n", said, "twice is once")
}

func TestExportOfOneKind(t *testing.T) {
	path := bookOfThreeMonths(t)
	out, _, err := asked(t, "", "export", "--book", path, "--kind", "month closed")
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(out, "\n"))
	require.Equal(t, 2, strings.Count(out, `"kind":"month closed"`))

	for args, want := range map[string]string{
		"--kind moth":          "kind “moth”: is no kind of entry; gaugebook docs lists the kinds.",
		"--kind spirit-guaged": "kind “spirit-guaged”: is no kind of entry; did you mean spirit gauged? gaugebook docs lists the kinds.",
		"--jsonl --csv x":      "csv “x”: stands beside --jsonl; ask for one of the two.",
	} {
		_, _, err := asked(t, "", append([]string{"export", "--book", path}, strings.Fields(args)...)...)
		assert.EqualError(t, err, want)
	}
	_, _, err = asked(t, "", "export", "--book", filepath.Join(t.TempDir(), "none.db"))
	assert.ErrorContains(t, err, "opening the book")
}

func TestExportAsCSV(t *testing.T) {
	path, folder := bookOfThreeMonths(t), filepath.Join(t.TempDir(), "csv")
	out, errs, err := asked(t, "", "export", "--book", path, "--csv", folder)
	require.NoError(t, err)
	require.Empty(t, errs)
	log, err := os.ReadFile(threeMonths)
	require.NoError(t, err)
	told := map[string]bool{}
	for _, found := range regexp.MustCompile(`"kind":"([^"]+)","v"`).FindAllSubmatch(log, -1) {
		told[string(found[1])] = true
	}
	require.Greater(t, len(told), 70)
	require.Equal(t, len(told), strings.Count(out, "\n"), "a file for every kind the book has an entry of")

	f, err := os.Open(filepath.Join(folder, "spirit-gauged.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"(entry)", "(happened)", "(by)", "(written)", "(stands)", "vessel: Vessel", "volume: Volume as read [gal or L]"}, rows[0][:7])
	require.Equal(t, "amended by heron41-126", rows[1][4])

	_, _, err = asked(t, "", "export", "--book", path, "--csv", folder, "--kind", "spirit gauged")
	require.EqualError(t, err, "csv “"+filepath.Join(folder, "spirit-gauged.csv")+"”: is there already, and is not overwritten; name another folder, or move the file away.")
}

func TestTheFormatIsDocumentedFromTheKinds(t *testing.T) {
	out, _, err := asked(t, "", "docs")
	require.NoError(t, err)
	same, _, err := asked(t, "", "export", "--format")
	require.NoError(t, err)
	require.Equal(t, out, same)
	for _, k := range book.Kinds() {
		require.Contains(t, out, "\n### "+k.Name+"\n\n"+k.Help+"\n")
		for _, f := range k.Fields {
			require.Contains(t, out, "\n| "+f.Key+" | ", k.Name)
		}
	}
	require.Contains(t, out, "| volume | Volume as read | figure, gal or L | from 0 L; up to 200000 L |")
	require.Contains(t, out, "- temperature: `C`, `F`\n")
	for _, line := range strings.Split(out, "\n") {
		if strings.HasPrefix(line, "| ") && !strings.HasPrefix(line, "| field | holds") {
			cells := strings.Count(strings.ReplaceAll(line, `\|`, ""), "|")
			require.Contains(t, []int{3, 6}, cells, "a row of a table has the table's cells: %s", line)
		}
	}
}
