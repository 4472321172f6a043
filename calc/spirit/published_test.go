package spirit

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/quantity"
)

// published reads the rows of testdata/published/<path> below its heading.
func published(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("../../testdata/published", filepath.FromSlash(path)))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1, "%s holds no rows", path)
	return rows[1:]
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func num(s string) float64 { return dec(s).InexactFloat64() }

func proof(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Proof) }
func abv(s string) quantity.Reading    { return quantity.MustParse(s, quantity.ABV20) }
func degF(s string) quantity.Reading   { return quantity.MustParse(s, quantity.Fahrenheit) }
func degC(s string) quantity.Reading   { return quantity.MustParse(s, quantity.Celsius) }
func gal(s string) quantity.Reading    { return quantity.MustParse(s, quantity.Gallon) }
func litre(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Litre) }
func lb(s string) quantity.Reading     { return quantity.MustParse(s, quantity.Pound) }
func kg(s string) quantity.Reading     { return quantity.MustParse(s, quantity.Kilogram) }
func grams(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Gram) }
func plain(s string) quantity.Reading  { return quantity.MustParse(s, quantity.NoUnit) }
func perL(s string) quantity.Reading   { return quantity.MustParse(s, quantity.GramPerLitre) }
func perDL(s string) quantity.Reading  { return quantity.MustParse(s, quantity.GramPer100ML) }
func pieces(s string) quantity.Reading { return quantity.MustParse(s, quantity.Piece) }

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// equal holds a decimal to a printed one, at its digits.
func equal(t *testing.T, printed string, got decimal.Decimal, source string) {
	t.Helper()
	require.True(t, dec(printed).Equal(got), "got %s, want %s (%s)", got, printed, source)
}
