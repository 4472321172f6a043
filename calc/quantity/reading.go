package quantity

import (
	"math"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
)

// A Reading is one figure as a person typed it: the digits, kept to the last
// zero, the unit, and, where it was given, the half-width of the instrument's
// doubt in the same unit ("72.10 ± 0.05 °F"). The zero Reading means 'none was
// given', which is not a reading of zero.
type Reading struct {
	text string // plain decimal: optional '-', digits, at most one '.', no exponent
	half string // plain decimal without sign, "" when no half-width was given
	unit Unit
}

// maxDigits bounds a typed figure; no instrument in a distillery shows more.
const maxDigits = 15

// plusMinus marks a half-width; asciiMarks are what a keyboard without it types.
const plusMinus = "±"

var asciiMarks = strings.NewReplacer("+/-", plusMinus, "+-", plusMinus, "\u2212", "-")

// Parse reads a figure with an optional unit and an optional half-width of its
// doubt ("72.10F", "72.10 °F", "53 gal", "-0.03", "72.10±0.05F", "72.10F ± 0.05").
// A bare number takes the unit bare. A comma is taken as the decimal mark,
// except where it could part thousands ("1,234"), which is asked back. Faults:
// Missing (empty), NotANumber, TooLong, UnknownUnit, WrongUnit (a unit of
// another dimension than bare's) or Conflict (a half-width in another unit);
// their Field is empty, for the caller to fill.
func Parse(s string, bare Unit) (Reading, error) {
	t := strings.TrimSpace(asciiMarks.Replace(s))
	if t == "" {
		return Reading{}, fault.Fault{Code: fault.Missing, Limit: "a number is needed", Remedy: "type the figure as it was read"}
	}
	figure, doubt, doubted := strings.Cut(t, plusMinus)
	var r Reading
	var err error
	if r.text, r.unit, err = parseFigure(s, figure, bare); err != nil {
		return Reading{}, err
	}
	if !doubted {
		return r, nil
	}
	if _, suffix := splitFigure(figure); suffix != "" {
		bare = r.unit
	}
	var unit Unit
	if r.half, unit, err = parseFigure(s, doubt, bare); err != nil {
		return Reading{}, err
	}
	if _, suffix := splitFigure(figure); suffix != "" && unit != r.unit {
		return Reading{}, fault.Fault{Code: fault.Conflict, Value: s, Limit: "its half-width has another unit than the figure", Remedy: "give both in " + r.unit.Symbol()}
	}
	r.unit = unit
	if r.half[0] == '-' {
		return Reading{}, fault.Fault{Code: fault.TooLow, Value: s, Limit: "a half-width is 0 or more", Remedy: "write it without a sign after ±"}
	}
	return r, nil
}

// splitFigure parts "72.10 °F" into its number and its unit.
func splitFigure(t string) (num, suffix string) {
	t = strings.TrimSpace(t)
	end := 0
	for end < len(t) && (t[end] >= '0' && t[end] <= '9' || t[end] == '.' || t[end] == ',' || (end == 0 && (t[end] == '-' || t[end] == '+'))) {
		end++
	}
	return t[:end], strings.TrimSpace(t[end:])
}

// parseFigure reads one number with its optional unit; typed is the whole
// input, for the fault.
func parseFigure(typed, t string, bare Unit) (string, Unit, error) {
	num, suffix := splitFigure(t)
	text, ok := plainDecimal(num)
	if !ok {
		f := fault.Fault{Code: fault.NotANumber, Value: typed, Limit: "is not a number", Remedy: "use digits and one decimal point"}
		switch whole, frac, _ := strings.Cut(num, ","); {
		case len(num)-strings.Count(num, ".")-strings.Count(num, ",") > maxDigits:
			f.Code, f.Limit, f.Remedy = fault.TooLong, "has more than 15 digits", "type the figure as the instrument shows it"
		case thousands(whole, frac):
			f.Remedy = "write " + whole + frac + " or " + whole + "." + frac + ", so that nobody has to guess"
		}
		return "", NoUnit, f
	}
	if suffix == "" {
		return text, bare, nil
	}
	dim := bare.Dimension()
	if u, found := unitOf(suffix, dim); found {
		return text, u, nil
	}
	for d := NoDimension + 1; int(d) < len(dimensionNames); d++ {
		if _, other := unitOf(suffix, d); other && dim != NoDimension {
			return "", NoUnit, fault.Fault{Code: fault.WrongUnit, Value: typed,
				Limit: "“" + suffix + "” is a unit of " + d.String() + ", and this is a " + dim.String(), Remedy: "use one of " + symbols(dim)}
		}
	}
	f := fault.Fault{Code: fault.UnknownUnit, Value: typed, Limit: "“" + suffix + "” is not a unit of " + dim.String(), Remedy: "use one of " + symbols(dim)}
	if dim == NoDimension {
		f.Limit, f.Remedy = "“"+suffix+"” follows a figure that has no unit", "give the number alone"
	}
	return "", NoUnit, f
}

// thousands reports whether the comma between whole and frac could be a
// thousands mark, so that "1,234" is asked back and "0,125" is not.
func thousands(whole, frac string) bool {
	whole = strings.TrimLeft(whole, "+-")
	return len(frac) == 3 && whole != "" && len(whole) <= 3 && whole[0] != '0'
}

func symbols(d Dimension) string {
	var out []string
	for _, u := range Units(d) {
		out = append(out, u.Symbol())
	}
	return strings.Join(out, ", ")
}

// plainDecimal checks and tidies the digits of a typed number.
func plainDecimal(s string) (string, bool) {
	sign := ""
	switch {
	case strings.HasPrefix(s, "-"):
		sign, s = "-", s[1:]
	case strings.HasPrefix(s, "+"):
		s = s[1:]
	}
	if whole, frac, comma := strings.Cut(s, ","); comma {
		if strings.ContainsAny(frac, ",.") || strings.Contains(whole, ".") || thousands(whole, frac) {
			return "", false
		}
		s = whole + "." + frac
	}
	whole, frac, _ := strings.Cut(s, ".")
	if whole+frac == "" || strings.Trim(whole+frac, "0123456789") != "" {
		return "", false
	}
	if whole = strings.TrimLeft(whole, "0"); whole == "" {
		whole = "0"
	}
	if len(whole)+len(frac) > maxDigits {
		return "", false
	}
	if frac != "" {
		frac = "." + frac
	}
	return sign + whole + frac, true
}

// MustParse is Parse for figures written in Go source; it panics on a fault.
func MustParse(s string, bare Unit) Reading {
	r, err := Parse(s, bare)
	if err != nil {
		panic(err)
	}
	return r
}

// FromDecimal makes a reading of a figure worked out elsewhere; round it first,
// for a figure of more than 15 digits cannot be read back from its stored form.
func FromDecimal(d decimal.Decimal, u Unit) Reading { return Reading{text: d.String(), unit: u} }

// IsNone reports whether no figure was given.
func (r Reading) IsNone() bool { return r.text == "" }

// Unit is the unit as typed, NoUnit for none.
func (r Reading) Unit() Unit { return r.unit }

// Digits is the figure as typed, without its unit.
func (r Reading) Digits() string { return r.text }

// WithHalfWidth is the reading with the half-width of its instrument's doubt,
// a reading of the same dimension taken as a difference and written in r's unit
// to four significant digits, unless r carries one already.
func (r Reading) WithHalfWidth(h Reading) Reading {
	if r.IsNone() || r.half != "" || h.IsNone() {
		return r
	}
	r.half = h.Decimal().Abs().String()
	if h.unit != r.unit {
		r.half = significant(math.Abs(h.DeltaIn(r.unit)), 4).String()
	}
	return r
}

// HasHalfWidth reports whether the doubt of the reading was given; "±0" is.
func (r Reading) HasHalfWidth() bool { return r.half != "" }

// HalfWidth is the doubt as given, as a reading in r's unit; none if not given.
func (r Reading) HalfWidth() Reading {
	if r.half == "" {
		return Reading{}
	}
	return Reading{text: r.half, unit: r.unit}
}

// UncertaintyIn is the standard uncertainty in u of a figure known to lie
// evenly anywhere within its half-width a: a/√3 (JCGM 100:2008, 4.3.7); 0 when
// no half-width was given.
func (r Reading) UncertaintyIn(u Unit) float64 {
	return math.Abs(r.HalfWidth().DeltaIn(u)) / math.Sqrt(3)
}

// String is the figure with its unit as a person reads it: "72.10 °F",
// "193 ± 0.2 proof", "40 % vol"; "" for none.
func (r Reading) String() string {
	text := r.text
	if r.half != "" {
		text += " " + plusMinus + " " + r.half
	}
	if label := r.unit.Label(); label != "" {
		text += " " + label
	}
	return text
}

// Compact is the stored form, digits, half-width and symbol without a space:
// "72.10F", "72.10±0.05F".
func (r Reading) Compact() string {
	if r.half != "" {
		return r.text + plusMinus + r.half + r.unit.Symbol()
	}
	return r.text + r.unit.Symbol()
}

// Decimal is the figure in its own unit; zero for none.
func (r Reading) Decimal() decimal.Decimal {
	if r.text == "" {
		return decimal.Zero
	}
	return decimal.RequireFromString(r.text)
}

// Float is the figure in its own unit; zero for none.
func (r Reading) Float() float64 {
	if r.text == "" {
		return 0
	}
	f, err := strconv.ParseFloat(r.text, 64)
	if err != nil {
		panic("quantity: a reading holds unparsed text " + strconv.Quote(r.text)) // Parse is the only maker
	}
	return f
}

// In is the figure converted to u, a unit of the same dimension. It panics on
// a unit of another dimension, and on proof against % vol, which only package
// spirit can convert: both are mistakes of the program, not of the typist.
func (r Reading) In(u Unit) float64 {
	if r.unit == u {
		return r.Float()
	}
	from, to := units[r.unit], units[u]
	if from.dim != to.dim || from.dim == Strength {
		panic("quantity: " + r.unit.Symbol() + " cannot be given in " + u.Symbol())
	}
	return (r.Float()+from.offset)*from.scale/to.scale - to.offset
}

// DeltaIn is the figure as a difference (an instrument's correction, a
// half-width) in u: scaled, never shifted, so 1 °F of correction is 5/9 °C. It
// panics as In does; none is a difference of zero in any unit.
func (r Reading) DeltaIn(u Unit) float64 {
	if r.unit == u || r.IsNone() {
		return r.Float()
	}
	if units[r.unit].dim != units[u].dim || units[u].dim == Strength {
		panic("quantity: a difference in " + r.unit.Symbol() + " cannot be given in " + u.Symbol())
	}
	return r.Float() * units[r.unit].scale / units[u].scale
}

// Base is the figure in its dimension's base unit (L, kg, °C, hPa, …); zero for
// none and for a figure without a unit.
func (r Reading) Base() float64 {
	for u := range units {
		if d := r.unit.Dimension(); d != NoDimension && units[u].dim == d {
			return r.In(Unit(u)) // the first of its dimension
		}
	}
	return 0
}

// MarshalText is the stored form, Compact.
func (r Reading) MarshalText() ([]byte, error) { return []byte(r.Compact()), nil }

// UnmarshalText takes exactly what MarshalText writes and refuses any other
// spelling: stored bytes have one form. What a person types goes through Parse.
func (r *Reading) UnmarshalText(b []byte) error {
	s := string(b)
	if s == "" {
		*r = Reading{}
		return nil
	}
	end := len(s) - len(strings.TrimLeft(s, "-.0123456789"+plusMinus))
	u := NoUnit
	if end < len(s) {
		var ok bool
		if u, ok = bySymbol(s[end:]); !ok {
			return fault.Fault{Code: fault.UnknownUnit, Value: s, Limit: "“" + s[end:] + "” is not a stored unit", Remedy: "write the unit as the book lists it"}
		}
	}
	text, half, doubted := strings.Cut(s[:end], plusMinus)
	plain := func(t string) bool { p, ok := plainDecimal(t); return ok && p == t }
	if !plain(text) || doubted && (!plain(half) || half[0] == '-') {
		return fault.Fault{Code: fault.NotANumber, Value: s, Limit: "is not a stored figure", Remedy: "use digits and one decimal point"}
	}
	*r = Reading{text: text, half: half, unit: u}
	return nil
}
