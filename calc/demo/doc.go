// Package demo is the invented life of Hollow Alder, a hillside farm
// distillery, as entries: fruit in autumn, runs in winter, barrels, bottlings,
// sales, months closed, and the ordinary mess of a real book. Nobody and nothing
// in it exists.
//
//	life.go     the diary: who writes what, when, on which phone
//	setting.go  the house: vessels, instruments, people, products, goods
//	season.go   from the gate to the still
//	run.go      the still room
//	cellar.go   tanks, barrels, reduction, the liqueur
//	bottling.go the bottling floor, sales, and the office's month
//	mess.go     what went wrong
//
// Life gives any number of months of it, on any number of production lines, so
// that the same life can be measured at any size. It draws every chance from a
// fixed seed: the same call gives the same entries for ever.
//
// It refuses to write what the book itself would not accept: every entry is
// checked against the house as it stands at that moment, except for the mess,
// which is there to be asked about.
package demo
