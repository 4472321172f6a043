// Package quantity holds what was read off an instrument and how exactly.
//
// A Reading keeps the digits and the unit as they were typed; conversions
// inside one dimension are here, conversions that need to know what the liquid
// is (proof to % vol, weight to volume) are in package spirit. The package also
// holds the rounding rules of the regulations, each in one named function, and
// the propagation of measuring uncertainty.
//
// It refuses to know a clock, a vessel or a trade rule, and to guess: a number
// that two people could read differently is asked back.
//
// Its one surprise: the zero Reading is 'none was given', which is not zero.
package quantity
