package quantity

import (
	"math"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func TestSnapTakesOffNoise(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{
		{189.9499999999, "189.95"}, {189.95, "189.95"}, {0.1 + 0.2, "0.3"}, {-0.05, "-0.05"}, {0, "0"},
		{1e-12, "0"}, {4308.48 * 0.995, "4286.9376"}, {22650.84, "22650.84"}, {123456789.123456, "123456789.123"}, {1e13, "10000000000000"},
		{189.949, "189.949"}, {189.9499999, "189.9499999"},
	} {
		got := Snap(c.x)
		assert.True(t, dec(c.want).Equal(got), "Snap(%v): got %s, want %s", c.x, got, c.want)
	}
	assert.Panics(t, func() { Snap(math.NaN()) })
	assert.Panics(t, func() { Snap(math.Inf(1)) })
}

func TestSnapFindsTheDecimalTyped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-99_999_999, 99_999_999).Draw(t, "ten thousandths")
		want := decimal.New(n, -4)
		noise := 1 + 1e-14*float64(rapid.IntRange(-5, 5).Draw(t, "noise"))
		assert.True(t, want.Equal(Snap(want.InexactFloat64()*noise)), "%s", want)
	})
}

func TestLegalRounding(t *testing.T) {
	same := func(want, got decimal.Decimal, source string) {
		t.Helper()
		assert.True(t, dec(want.String()).Equal(got), "got %s, want %s (%s)", got, want, source)
	}
	same(dec("190.0"), ProofToTenth(dec("189.972")), "27 CFR 30.23, its example")
	same(dec("189.9"), ProofToTenth(dec("189.9499999")), "30.23: hundredths below 5 are dropped")
	same(dec("190.0"), ProofToTenth(Snap(189.9499999999)), "what a person would have had as 189.95")
	same(dec("189.9"), ProofToTenth(dec("189.85")), "30.23: 5 and over go up, to odd tenths too")
	same(dec("0.3"), ProofGallonsToTenth(dec("0.25")), "30.63: 0.05 or more goes up")
	same(dec("0.3"), WineGallonsToTenth(dec("0.25")), "30.64: 0.05 or more goes up")
	same(dec("4286.95"), WineGallonsToHundredth(dec("4286.945")), "30.51, two decimals")
	same(dec("3721.1"), ProofGallonsToTenth(dec("3721.06392")), "30.51, its example")
	same(dec("22650.8"), ProofGallonsToTenth(dec("22650.84")), "30.64, its example")
	same(dec("11921.6"), WineGallonsToTenth(dec("11921.58")), "30.64, its example")
	same(dec("4286.94"), WineGallonsToHundredth(dec("4286.9376")), "30.51, its example")
	same(dec("451.5"), PoundsToHalf(dec("451.25")), "30.43: pounds and half pounds")
	same(dec("451"), PoundsToHalf(dec("451.24")), "30.43")
	same(dec("82.03"), PoundsToHundredth(dec("82.0305")), "30.64")
	same(dec("40.1"), ABVToTenth(dec("40.05")), "common practice, no source")
}

func TestOuncesUp(t *testing.T) {
	for _, c := range []struct {
		lb     string
		lbs, o int64
		why    string
	}{
		{"6.79", 6, 13, "30.44(b): 0.79 × 16 = 12.64"},
		{"67.94", 68, 0, "30.44(b): 0.94 × 16 = 15.04, a whole pound"},
		{"33.05", 33, 1, "30.44(b): 0.05 × 16 = 0.8"},
		{"66.098", 66, 2, "to two decimals first"},
		{"7", 7, 0, "no part of an ounce"},
		{"7.0625", 7, 1, "7.06 × 16 = 0.96"},
	} {
		lb, oz := OuncesUp(dec(c.lb))
		assert.Equal(t, [2]int64{c.lbs, c.o}, [2]int64{lb, oz}, "%s lb: %s", c.lb, c.why)
	}
}
