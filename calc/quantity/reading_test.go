package quantity

import (
	"errors"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
)

func TestParseKeepsWhatWasTyped(t *testing.T) {
	for _, c := range []struct {
		typed         string
		bare          Unit
		stored, shown string
		why           string
	}{
		{"72.10F", Celsius, "72.10F", "72.10 °F", "the last zero says how closely it was read"},
		{" 72.10 °F ", Celsius, "72.10F", "72.10 °F", "blanks and the degree sign"},
		{"72.10", Fahrenheit, "72.10F", "72.10 °F", "a bare number takes the listed unit"},
		{"-0.03", Proof, "-0.03proof", "-0.03 proof", "a correction is signed"},
		{"\u22120.03", Proof, "-0.03proof", "-0.03 proof", "a typographic minus"},
		{"+0.05", Fahrenheit, "0.05F", "0.05 °F", "a plus sign says nothing"},
		{"53 gal", Litre, "53gal", "53 gal", "gallons in a litre field"},
		{"40%", Proof, "40%", "40 % vol", "% is strength in a strength field"},
		{"40%", Percent, "40pct", "40 %", "and a share in a share field"},
		{"12,5", Litre, "12.5L", "12.5 L", "a decimal comma"},
		{"0,125g", Gram, "0.125g", "0.125 g", "no thousands begin with 0"},
		{"1234,567", Litre, "1234.567L", "1234.567 L", "nor stand after four digits"},
		{".5", Litre, "0.5L", "0.5 L", "no leading zero"},
		{"007", Litre, "7L", "7 L", "leading zeros"},
		{"72.10±0.05F", Celsius, "72.10±0.05F", "72.10 ± 0.05 °F", "a half-width"},
		{"72.10F ± 0.05", Celsius, "72.10±0.05F", "72.10 ± 0.05 °F", "the unit before it"},
		{"193 +/- 0,2", Proof, "193±0.2proof", "193 ± 0.2 proof", "as a keyboard has it"},
		{"193+-0.2", Proof, "193±0.2proof", "193 ± 0.2 proof", "or so"},
		{"5 g/l", GramPerLitre, "5g/L", "5 g/L", "g/l is a concentration in its field"},
		{"950 g/l", KilogramPerCubicMetre, "950kg/m3", "950 kg/m3", "and a density in its own"},
	} {
		r, err := Parse(c.typed, c.bare)
		require.NoError(t, err, "%q: %s", c.typed, c.why)
		assert.Equal(t, c.stored, r.Compact(), "%q: %s", c.typed, c.why)
		assert.Equal(t, c.shown, r.String(), "%q: %s", c.typed, c.why)
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		typed string
		bare  Unit
		code  fault.Code
		says  string
	}{
		{"", Litre, fault.Missing, "a number is needed"},
		{"  ", Litre, fault.Missing, "a number is needed"},
		{"abc", Litre, fault.NotANumber, "is not a number"},
		{"1,234", Litre, fault.NotANumber, "write 1234 or 1.234"},
		{"-1,234", Litre, fault.NotANumber, "write -1234 or -1.234"},
		{"1,234.5", Litre, fault.NotANumber, "one decimal point"},
		{"1.2.3", Litre, fault.NotANumber, "one decimal point"},
		{".", Litre, fault.NotANumber, "one decimal point"},
		{"1-2", Litre, fault.UnknownUnit, "is not a unit of volume"},
		{"1234567890123456", Litre, fault.TooLong, "15 digits"},
		{"1.2.3.4.5.6.7.8.9", Litre, fault.NotANumber, "one decimal point"},
		{"5 furlongs", Litre, fault.UnknownUnit, "use one of L, mL, hL, gal"},
		{"5 kg", Litre, fault.WrongUnit, "is a unit of mass, and this is a volume"},
		{"5 kg", NoUnit, fault.UnknownUnit, "give the number alone"},
		{"72F±0.1C", Celsius, fault.Conflict, "give both in F"},
		{"72F±", Celsius, fault.NotANumber, "is not a number"},
		{"72F±-1", Celsius, fault.TooLow, "0 or more"},
		{"72±1±2", Celsius, fault.UnknownUnit, "is not a unit of temperature"},
		{"1e5", Litre, fault.UnknownUnit, "is not a unit of volume"},
		{"NaN", Litre, fault.NotANumber, "is not a number"},
	} {
		r, err := Parse(c.typed, c.bare)
		var f fault.Fault
		require.True(t, errors.As(err, &f), "%q gave %v", c.typed, r)
		assert.Equal(t, c.code, f.Code, "%q: %v", c.typed, f)
		assert.Contains(t, f.Error(), c.says, "%q", c.typed)
		assert.NotEmpty(t, f.Remedy, "%q", c.typed)
		assert.True(t, r.IsNone(), "%q leaves a reading behind", c.typed)
	}
}

// Stored bytes name the unit by its symbol alone, without the field's
// dimension, so no two units may share one.
func TestSymbolsAreUnique(t *testing.T) {
	seen := map[string]Unit{}
	for u := NoUnit + 1; int(u) < len(units); u++ {
		other, twice := seen[u.Symbol()]
		assert.False(t, twice, "units %d and %d are both %q", u, other, u.Symbol())
		assert.NotEmpty(t, u.Symbol(), "unit %d", u)
		assert.NotContains(t, "0123456789.-±", u.Symbol()[:1], "unit %d could be read as digits", u)
		seen[u.Symbol()] = u
		got, ok := unitOf(u.Symbol(), u.Dimension())
		assert.True(t, ok && got == u, "%q is read back as %q", u.Symbol(), got.Symbol())
	}
	assert.Len(t, seen, len(units)-1)
}

// Within one dimension a spelling means one unit.
func TestSpellingsAreUnique(t *testing.T) {
	for d := NoDimension + 1; int(d) < len(dimensionNames); d++ {
		seen := map[string]Unit{}
		for _, u := range Units(d) {
			for _, s := range append([]string{strings.ToLower(u.Symbol())}, units[u].aliases...) {
				other, twice := seen[s]
				assert.False(t, twice && other != u, "%q is both %q and %q", s, other.Symbol(), u.Symbol())
				assert.Equal(t, strings.ToLower(s), s, "aliases are lower case")
				seen[s] = u
			}
		}
	}
}

func anyReading(t *rapid.T) Reading {
	u := Unit(rapid.IntRange(1, len(units)-1).Draw(t, "unit"))
	text := rapid.StringMatching(`-?(0|[1-9][0-9]{0,6})(\.[0-9]{1,5})?`).Draw(t, "digits")
	if rapid.Bool().Draw(t, "doubted") {
		text += "±" + rapid.StringMatching(`(0|[1-9][0-9]{0,2})(\.[0-9]{1,3})?`).Draw(t, "half")
	}
	return MustParse(text, u)
}

func TestStoredFormRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := anyReading(t)
		b, err := r.MarshalText()
		require.NoError(t, err)
		var back Reading
		require.NoError(t, back.UnmarshalText(b), "%s", b)
		assert.Equal(t, r, back)
		typed, err := Parse(r.String(), r.Unit())
		require.NoError(t, err, "%s", r)
		assert.Equal(t, r, typed, "what is shown can be typed")
	})
}

func TestStoredFormHasOneSpelling(t *testing.T) {
	for _, s := range []string{"72.10 F", "72.10°F", "+1L", "01L", ".5L", "5.L", "1,5L", "1-2L", "-L", "L", "1±L", "1±-2L", "1±2±3L", "±1L", "1..2L", "1\xc2L"} {
		var r Reading
		assert.Error(t, r.UnmarshalText([]byte(s)), "%q was taken as %v", s, r)
	}
	var r Reading
	require.NoError(t, r.UnmarshalText(nil))
	assert.True(t, r.IsNone())
}

func TestConversions(t *testing.T) {
	near := func(want, got float64, why string) { t.Helper(); assert.InDelta(t, want, got, 1e-9, why) }
	near(3.785411784, MustParse("1gal", Litre).In(Litre), "27 CFR 30.11: 231 cubic inches")
	near(0.45359237, MustParse("1lb", Kilogram).In(Kilogram), "NIST SP 811, appendix B")
	near(100, MustParse("212F", Celsius).In(Celsius), "boiling")
	near(-40, MustParse("-40F", Celsius).In(Celsius), "where the scales meet")
	near(68, MustParse("20C", Celsius).In(Fahrenheit), "")
	near(5.0/9, MustParse("1F", Celsius).DeltaIn(Celsius), "a correction is scaled, not shifted")
	near(0.2/1.7320508075688772, MustParse("72±0.2F", Celsius).UncertaintyIn(Fahrenheit), "JCGM 100, 4.3.7: a/√3")
	near(0.5, MustParse("500mg/L", GramPerLitre).Base(), "")
	assert.Panics(t, func() { MustParse("1kg", Kilogram).In(Litre) }, "another dimension")
	assert.Panics(t, func() { MustParse("80proof", Proof).In(ABV20) }, "only spirit knows the liquid")
	assert.Panics(t, func() { MustParse("1proof", Proof).DeltaIn(ABV20) })
	assert.Zero(t, Reading{}.DeltaIn(Celsius), "no correction is a correction of nothing")
}

func TestHalfWidthFromAnInstrument(t *testing.T) {
	typed := MustParse("22.3C", Celsius)
	assert.Equal(t, "22.3±0.1111C", typed.WithHalfWidth(MustParse("0.2F", Fahrenheit)).Compact())
	assert.Equal(t, "22.3±0.5C", typed.WithHalfWidth(MustParse("0.5C", Celsius)).Compact())
	own := MustParse("22.3±0.1C", Celsius)
	assert.Equal(t, own, own.WithHalfWidth(MustParse("0.5C", Celsius)), "the person's own comes first")
	assert.True(t, Reading{}.WithHalfWidth(MustParse("0.5C", Celsius)).IsNone())
	assert.Equal(t, MustParse("0.1C", Celsius), own.HalfWidth())
	assert.True(t, typed.HalfWidth().IsNone())
	assert.True(t, MustParse("1±0", Litre).HasHalfWidth(), "±0 was given")
}

func TestFigure(t *testing.T) {
	f := Figure{Value: 100, Unit: Celsius, U: 5, HasU: true}
	assert.Equal(t, Figure{Value: 212, Unit: Fahrenheit, U: 9, HasU: true}, f.In(Fahrenheit))
	assert.Equal(t, "100.0 ± 10.0 °C", f.Text(1), "the expanded uncertainty, k = 2")
	assert.Equal(t, "100 °C", Figure{Value: 100, Unit: Celsius}.Text(0))
	r := Figure{Value: 189.97251, Unit: Proof, U: 0.06745, HasU: true}.Reading(2)
	assert.Equal(t, "189.97±0.1168proof", r.Compact())
	assert.InEpsilon(t, 0.06745, r.UncertaintyIn(Proof), 1e-3, "u returns")
	assert.Panics(t, func() { Figure{Unit: Proof}.In(ABV20) })
}

func TestWorkingIsWrittenWhenAsked(t *testing.T) {
	asked := 0
	e := Explain(func(w *Working) { asked++; w.Add("one and one", "2"); w.Add("so it is", "") })
	assert.Zero(t, asked)
	assert.Equal(t, "1. one and one = 2\n2. so it is\n", e.Working().String())
	assert.Empty(t, Explained{}.Working())
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"72.10F", "-0.03", "1,234", "12,5 gal", "40% vol", "193±0.2proof", "1 +/- 2", "", "±", "°", "1e9", "00.0", "\u22121", "5g/100mL"} {
		f.Add(s, uint8(Proof))
	}
	f.Add("72.10°F", uint8(Celsius))
	f.Add("5$", uint8(Dollar))
	f.Fuzz(func(t *testing.T, s string, unit uint8) {
		r, err := Parse(s, Unit(int(unit)%len(units)))
		if err != nil {
			var one fault.Fault
			if !errors.As(err, &one) || one.Limit == "" || one.Remedy == "" {
				t.Fatalf("Parse(%q) fails without a limit and a remedy: %v", s, err)
			}
			return
		}
		b, _ := r.MarshalText()
		var back Reading
		if err := back.UnmarshalText(b); err != nil || back != r {
			t.Fatalf("Parse(%q) = %q, read back as %q: %v", s, b, back.Compact(), err)
		}
		if _, err := decimal.NewFromString(r.Digits()); err != nil {
			t.Fatalf("Parse(%q) holds digits %q", s, r.Digits())
		}
		r.Float()
		r.UncertaintyIn(r.Unit())
	})
}
