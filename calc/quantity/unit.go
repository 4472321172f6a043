package quantity

import "strings"

// A Dimension says what a figure measures. Figures of different dimensions are
// never compared or converted.
type Dimension uint8

// The dimensions of the distillery. Strength has two units, US proof (at
// 60 °F) and % vol (at 20 °C), that are scales of the same liquid and not
// multiples of each other: package spirit converts them, this one never does.
const (
	NoDimension Dimension = iota
	Volume
	Mass
	Temperature
	Strength
	Density
	Gravity // specific gravity, no unit
	Sugar   // g sucrose per 100 g of solution (Brix, Plato)
	Acidity // pH
	Length
	Pressure
	Duration
	Concentration // g per volume of liquid
	Share         // a part of a whole, %
	Money
	Count
	Energy
)

var dimensionNames = [...]string{"", "volume", "mass", "temperature", "strength", "density", "gravity",
	"sugar", "acidity", "length", "pressure", "duration", "concentration", "share", "money", "count", "energy"}

// String is the dimension's name in lower case, "" for none.
func (d Dimension) String() string { return dimensionNames[d] }

// A Unit is one of the units the book takes. The zero Unit is none.
type Unit uint8

// The units. The first of each dimension is its base, in which Reading.Base
// answers; the gallon is the wine gallon of 231 cubic inches (27 CFR 30.11),
// the pound the avoirdupois pound of 0.45359237 kg and the therm that of the US
// (NIST SP 811, appendix B; the therm from memory).
const (
	NoUnit Unit = iota
	Litre
	Millilitre
	Hectolitre
	Gallon
	Kilogram
	Gram
	Tonne
	Pound
	Ounce
	Celsius
	Fahrenheit
	ABV20 // % vol at 20 °C
	Proof // US degrees of proof: 2 x % vol at 60 °F
	KilogramPerCubicMetre
	GramPerMillilitre
	SG
	Brix
	PH
	Centimetre
	Millimetre
	Metre
	Inch
	Hectopascal
	Kilopascal
	Bar
	PSI
	MillimetreHg
	Minute
	Hour
	Day
	GramPerLitre
	GramPer100ML
	MilligramPerLitre
	Percent
	Dollar
	Euro
	Piece
	KilowattHour
	Megajoule
	Therm // US: 1.054 804e8 J
)

type unitFacts struct {
	symbol  string // as shown and as stored
	dim     Dimension
	scale   float64 // base = (value + offset) * scale
	offset  float64
	aliases []string // other spellings the parser takes, lower case
}

const (
	gallonL = 231 * 0.016387064 // 231 in³ of (0.254 dm)³: 3.785411784 L exactly
	poundKg = 0.45359237
)

var units = [...]unitFacts{
	NoUnit:                {},
	Litre:                 {"L", Volume, 1, 0, []string{"l", "litre", "litres", "liter", "liters"}},
	Millilitre:            {"mL", Volume, 1e-3, 0, []string{"ml"}},
	Hectolitre:            {"hL", Volume, 100, 0, []string{"hl"}},
	Gallon:                {"gal", Volume, gallonL, 0, []string{"gallon", "gallons", "wg"}},
	Kilogram:              {"kg", Mass, 1, 0, nil},
	Gram:                  {"g", Mass, 1e-3, 0, nil},
	Tonne:                 {"t", Mass, 1e3, 0, nil},
	Pound:                 {"lb", Mass, poundKg, 0, []string{"lbs", "pound", "pounds"}},
	Ounce:                 {"oz", Mass, poundKg / 16, 0, nil},
	Celsius:               {"C", Temperature, 1, 0, []string{"°c", "degc"}},
	Fahrenheit:            {"F", Temperature, 5.0 / 9, -32, []string{"°f", "degf"}},
	ABV20:                 {"%", Strength, 1, 0, []string{"%vol", "abv", "% vol"}},
	Proof:                 {"proof", Strength, 1, 0, []string{"pf"}},
	KilogramPerCubicMetre: {"kg/m3", Density, 1, 0, []string{"kg/m³", "g/l"}},
	GramPerMillilitre:     {"g/mL", Density, 1e3, 0, []string{"g/ml", "kg/l"}},
	SG:                    {"sg", Gravity, 1, 0, nil},
	Brix:                  {"Bx", Sugar, 1, 0, []string{"brix", "°bx", "plato", "°p", "p"}},
	PH:                    {"pH", Acidity, 1, 0, []string{"ph"}},
	Centimetre:            {"cm", Length, 1, 0, nil},
	Millimetre:            {"mm", Length, 0.1, 0, nil},
	Metre:                 {"m", Length, 100, 0, nil},
	Inch:                  {"in", Length, 2.54, 0, []string{"inch", "inches"}},
	Hectopascal:           {"hPa", Pressure, 1, 0, []string{"mbar"}},
	Kilopascal:            {"kPa", Pressure, 10, 0, nil},
	Bar:                   {"bar", Pressure, 1000, 0, nil},
	PSI:                   {"psi", Pressure, 68.94757293168, 0, nil},
	MillimetreHg:          {"mmHg", Pressure, 1.333223874, 0, []string{"torr"}},
	Minute:                {"min", Duration, 1, 0, nil},
	Hour:                  {"h", Duration, 60, 0, []string{"hour", "hours"}},
	Day:                   {"d", Duration, 1440, 0, []string{"day", "days"}},
	GramPerLitre:          {"g/L", Concentration, 1, 0, nil},
	GramPer100ML:          {"g/100mL", Concentration, 10, 0, nil},
	MilligramPerLitre:     {"mg/L", Concentration, 1e-3, 0, nil},
	Percent:               {"pct", Share, 1, 0, []string{"%"}},
	Dollar:                {"USD", Money, 1, 0, []string{"$"}},
	Euro:                  {"EUR", Money, 1, 0, []string{"€"}},
	Piece:                 {"pc", Count, 1, 0, []string{"pcs"}},
	KilowattHour:          {"kWh", Energy, 1, 0, []string{"kwh"}},
	Megajoule:             {"MJ", Energy, 1 / 3.6, 0, []string{"mj"}},
	Therm:                 {"therm", Energy, 105.4804 / 3.6, 0, []string{"therms", "thm"}},
}

// Symbol is the unit as stored and shown, "" for none.
func (u Unit) Symbol() string { return units[u].symbol }

// Label is the unit as a person reads it after a figure: "°F", "% vol", "gal".
func (u Unit) Label() string {
	switch u {
	case Celsius, Fahrenheit:
		return "°" + u.Symbol()
	case ABV20:
		return "% vol"
	case Percent:
		return "%"
	}
	return u.Symbol()
}

// Dimension is what the unit measures.
func (u Unit) Dimension() Dimension { return units[u].dim }

// Units lists a dimension's units, its base first.
func Units(d Dimension) []Unit {
	var out []Unit
	for u := range units {
		if Unit(u) != NoUnit && units[u].dim == d {
			out = append(out, Unit(u))
		}
	}
	return out
}

// unitOf finds the unit of dimension d that s spells. The same sign can mean
// different things in different dimensions ('%' is strength or share, 'g/L'
// density or concentration), so the dimension decides.
func unitOf(s string, d Dimension) (Unit, bool) {
	low := strings.ToLower(s)
	for u := 1; u < len(units); u++ {
		f := &units[u]
		if f.dim != d {
			continue
		}
		if s == f.symbol || low == strings.ToLower(f.symbol) {
			return Unit(u), true
		}
		for _, a := range f.aliases {
			if low == a {
				return Unit(u), true
			}
		}
	}
	return NoUnit, false
}

// bySymbol finds the unit with exactly this stored symbol; symbols, unlike
// aliases, are unique across dimensions (held by a test).
func bySymbol(s string) (Unit, bool) {
	for u := 1; u < len(units); u++ {
		if units[u].symbol == s {
			return Unit(u), true
		}
	}
	return NoUnit, false
}

// MustUnit finds a unit by its stored symbol, for symbols written in Go source;
// it panics where there is none.
func MustUnit(symbol string) Unit {
	u, ok := bySymbol(symbol)
	if !ok {
		panic("quantity: no unit has the symbol " + symbol)
	}
	return u
}
