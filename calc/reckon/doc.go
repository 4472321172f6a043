// Package reckon holds the named calculations that need no book: the ones
// `gaugebook calc` answers at a prompt and the phone answers in the still room.
//
// A Calculation is data: its inputs with units and ranges, its outputs, its
// source, and the function of package spirit (or another formula package) that
// does the work. Run takes what was typed, as text, and gives back an Answer:
// outputs in order, the method, the working, or every fault at once. The
// command line, the CSV reader and the phone's forms are three ways of filling
// and showing the same two values.
//
// It refuses to hold a formula, to read a file, to encode anything and to guess:
// two inputs that answer the same question are a fault, and so is a key that
// is not known, with the nearest known key as the remedy.
//
// Its one surprise: a bare reading of a hydrometer or thermometer is not taken
// as exact. In true-proof and true-strength a reading without a half-width
// counts half a step of its last digit, so 193 is less certain than 193.0;
// everywhere else an answer has an uncertainty only if some input was given one.
package reckon
