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
// Its one surprise: the standard uncertainty of an answer is found by running
// the calculation again with each reading moved by its own uncertainty, so it
// passes through every rounding-free step of the actual formulas and not
// through a second set of derivatives.
package reckon
