// Package quantity holds what was read off an instrument and how exactly.
//
// A Reading keeps the digits and the unit as they were typed, and the half-width
// of the instrument's doubt where one was given ("72.10±0.05F"); conversions
// inside one dimension are here, conversions that need to know what the liquid
// is (proof to % vol, weight to volume) are in package spirit. A Figure is what
// was worked out, with its standard uncertainty; Propagate finds that through
// the calculation itself (JCGM 100:2008, 5.1). A Working lists the steps of a
// result in words and numbers. The rounding rules of the regulations are here
// too, each one named function on decimals that cites its section.
//
// It refuses to know a clock, a vessel or a trade rule, and to guess: a number
// that two people could read differently is asked back.
//
// Its one surprise: the zero Reading is 'none was given', which is not zero; and
// a reading without a half-width is not an exact one, so a Figure made of such
// readings alone has no uncertainty (HasU false) and not an uncertainty of zero.
package quantity
