// Package simulate plays bottling parties: several phones at the stations of a
// line, glass and labels that nobody counts to the piece, a tank that is dipped
// to a millimetre or so, and one error of a kind that people make. What is held
// to account is the reconciliation: it should name that error first.
//
//	Make      a party with its error, from one source of chance
//	Write     the same party as entries of its phones in a book, with gaps of the network
//	Play      many of them, through their books to the ranked causes
//	Record    what came of it, as a table
//
// It refuses to know what the reconciliation does with it: it makes parties and
// counts answers.
//
// Neighbours: calc/fill ranks, calc/party reads the book, cmd/gaugebook-sim
// prints.
//
// Its one surprise: an error larger than one bottle in 500 that only the spirit
// can see is counted apart, since a line keeps more than that by nature.
package simulate
