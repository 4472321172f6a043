// Package simulate plays whole days of phones and an office against each
// other, with every fault it can think of, from one number.
//
// The phones are the shipped ones: exchange.Client, driven here by a model of
// a browser (transactions, two tabs, a cookie, a clock that is wrong) instead
// of by a browser. The office judges with exchange.Receive and answers with
// exchange.Deliver on any Storage: the model in this package, or the real one.
// Between them lies a network that loses, doubles, delays and reorders. When
// the day is over everything is mended and left to settle; then the oracles in
// oracle.go compare what every phone and the office hold with what people were
// told.
//
// One seed is one day, always the same one: time is a counter, chance comes
// from streams that the seed begins, one stream for each fault, and nothing
// runs beside anything else. A failing day is shortened by leaving out
// actions and faults as long as it goes on failing the same way.
//
// To show that the oracles see, a Mutation plants one bug, always in the
// surroundings here and never in the code under test; testdata/simulation
// holds the table of how soon each is found.
//
// The package refuses to wait, to read a clock, and to know a kind's meaning.
//
// Neighbours: sync/exchange and sync/record are what it tests;
// cmd/gaugebook-sim runs it for long.
//
// Its one surprise: a fault that changes nothing is still a fault that
// happened. Coverage counts strikes, not harm.
package simulate
