package quantity

import (
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
)

// A Reading is one figure as a person typed it: the digits, kept to the last
// zero, and the unit. The zero Reading means 'none was given', which is not a
// reading of zero.
type Reading struct {
	text string // plain decimal: optional '-', digits, at most one '.', no exponent
	unit Unit
}

// maxDigits bounds a typed figure; no instrument in a distillery shows more.
const maxDigits = 15

// Parse reads a figure with an optional unit ("72.10F", "72.10 °F", "53 gal",
// "-0.03"). A bare number takes the unit bare. A comma is taken as the decimal
// mark, except where exactly three digits follow it, which could be thousands
// and is asked back. Faults: Missing (empty), NotANumber, UnknownUnit or
// WrongUnit (a unit of another dimension than bare's); their Field is empty,
// for the caller to fill.
func Parse(s string, bare Unit) (Reading, error) {
	t := strings.TrimSpace(s)
	t = strings.ReplaceAll(t, "\u2212", "-") // a typographic minus
	if t == "" {
		return Reading{}, fault.Fault{Code: fault.Missing, Limit: "a number is needed", Remedy: "type the figure as it was read"}
	}
	end := 0
	for end < len(t) && (t[end] >= '0' && t[end] <= '9' || t[end] == '.' || t[end] == ',' || (end == 0 && (t[end] == '-' || t[end] == '+'))) {
		end++
	}
	num, suffix := t[:end], strings.TrimSpace(t[end:])
	text, ok := plainDecimal(num)
	if !ok {
		rem := "use digits and one decimal point"
		if i := strings.IndexByte(num, ','); i >= 0 && !strings.Contains(num, ".") && len(num)-i-1 == 3 {
			rem = "write " + num[:i] + num[i+1:] + " or " + num[:i] + "." + num[i+1:] + ", so that nobody has to guess"
		}
		return Reading{}, fault.Fault{Code: fault.NotANumber, Value: s, Limit: "is not a number", Remedy: rem}
	}
	u := bare
	if suffix != "" {
		var found bool
		if u, found = unitOf(suffix, bare.Dimension()); !found {
			for d := NoDimension + 1; int(d) < len(dimensionNames); d++ {
				if _, other := unitOf(suffix, d); other {
					return Reading{}, fault.Fault{Code: fault.WrongUnit, Value: s,
						Limit: "“" + suffix + "” is a unit of " + d.String() + ", and this is a " + bare.Dimension().String(), Remedy: "use one of " + symbols(bare.Dimension())}
				}
			}
			return Reading{}, fault.Fault{Code: fault.UnknownUnit, Value: s, Limit: "“" + suffix + "” is not a unit of " + bare.Dimension().String(), Remedy: "use one of " + symbols(bare.Dimension())}
		}
	}
	return Reading{text: text, unit: u}, nil
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
	neg := false
	switch {
	case strings.HasPrefix(s, "-"):
		neg, s = true, s[1:]
	case strings.HasPrefix(s, "+"):
		s = s[1:]
	}
	if i := strings.IndexByte(s, ','); i >= 0 {
		if strings.ContainsAny(s[i+1:], ",.") || strings.Contains(s[:i], ".") || len(s)-i-1 == 3 {
			return "", false
		}
		s = s[:i] + "." + s[i+1:]
	}
	if strings.Count(s, ".") > 1 {
		return "", false
	}
	whole, frac, dotted := strings.Cut(s, ".")
	if whole == "" && frac == "" || len(whole)+len(frac) > maxDigits {
		return "", false
	}
	if whole == "" {
		whole = "0"
	}
	for len(whole) > 1 && whole[0] == '0' {
		whole = whole[1:]
	}
	s = whole
	if dotted && frac != "" {
		s += "." + frac
	}
	if neg {
		s = "-" + s
	}
	return s, true
}

// MustParse is Parse for figures written in Go source; it panics on a fault.
func MustParse(s string, bare Unit) Reading {
	r, err := Parse(s, bare)
	if err != nil {
		panic(err)
	}
	return r
}

// FromDecimal makes a reading of a figure worked out elsewhere.
func FromDecimal(d decimal.Decimal, u Unit) Reading { return Reading{text: d.String(), unit: u} }

// IsNone reports whether no figure was given.
func (r Reading) IsNone() bool { return r.text == "" }

// Unit is the unit as typed, NoUnit for none.
func (r Reading) Unit() Unit { return r.unit }

// Digits is the figure as typed, without its unit.
func (r Reading) Digits() string { return r.text }

// String is the figure with its unit as a person reads it: "72.10 °F",
// "193 proof", "40 % vol"; "" for none.
func (r Reading) String() string {
	switch r.unit {
	case NoUnit:
		return r.text
	case Celsius, Fahrenheit:
		return r.text + " °" + r.unit.Symbol()
	case ABV20:
		return r.text + " % vol"
	case Percent:
		return r.text + " %"
	}
	return r.text + " " + r.unit.Symbol()
}

// Compact is the stored form, digits and symbol without a space: "72.10F".
func (r Reading) Compact() string { return r.text + r.unit.Symbol() }

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
// half-width) in u: scaled, never shifted, so 1 °F of correction is 5/9 °C.
func (r Reading) DeltaIn(u Unit) float64 {
	if r.unit == u {
		return r.Float()
	}
	return r.Float() * units[r.unit].scale / units[u].scale
}

// Base is the figure in its dimension's base unit (L, kg, °C, hPa, …).
func (r Reading) Base() float64 { return r.In(Units(r.unit.Dimension())[0]) }

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
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || s[end] == '.' || s[end] == '-') {
		end++
	}
	u := NoUnit
	if end < len(s) {
		var ok bool
		if u, ok = bySymbol(s[end:]); !ok {
			return fault.Fault{Code: fault.UnknownUnit, Value: s, Limit: "“" + s[end:] + "” is not a stored unit", Remedy: "write the unit as the book lists it"}
		}
	}
	text, ok := plainDecimal(s[:end])
	if !ok || text != s[:end] {
		return fault.Fault{Code: fault.NotANumber, Value: s, Limit: "is not a stored figure", Remedy: "use digits and one decimal point"}
	}
	*r = Reading{text: text, unit: u}
	return nil
}
