package report

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestACellIsNoFormula(t *testing.T) {
	for cell, want := range map[string]string{
		"=HYPERLINK(1)": "'=HYPERLINK(1)", "+1+2": "'+1+2", "@x": "'@x", "-2+3": "'-2+3", "\tx": "'\tx",
		"-2.5C": "-2.5C", "-3": "-3", "72.10±0.05F": "72.10±0.05F", "plain": "plain", "": "", "'": "''", "'=x": "''=x",
	} {
		assert.Equal(t, want, Guarded(cell), "%q", cell)
	}
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOfN(rapid.SampledFrom([]rune("='+-@\tab1")), 0, 6, -1).Draw(t, "cell")
		if got := Unguarded(Guarded(cell)); got != cell {
			t.Fatalf("%q came back as %q by %q", cell, got, Guarded(cell))
		}
		if c := Guarded(cell); c != "" && strings.ContainsRune("=@\t\r", rune(c[0])) {
			t.Fatalf("%q stands as %q", cell, c)
		}
	})
}

func TestWrittenRowsReadBackAsTheyWere(t *testing.T) {
	rows, err := csv.NewReader(strings.NewReader(CSV([][]string{{"a", "b"}, {"=1", "two, \"three\"\nfour"}, {"-2.5", "é"}}))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"a", "b"}, {"'=1", "two, \"three\"\nfour"}, {"-2.5", "é"}}, rows)
}
