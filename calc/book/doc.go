// Package book is the production book of a distillery: entries, each written
// once, folded to the state of the house.
//
// An Entry is one fact with its address (device and number), three times, and
// a Body, one Go struct per kind. A kind is described once, by the tags of its
// struct: Check, the codec, forms, the command line and the documentation of
// the format are all read from there (see Kinds). A Book holds entries in book
// order and keeps the State that follows from them; adding an entry in any
// order of arrival gives the same State.
//
//	entry.go     addresses, times, order        ledger.go    accounts and postings
//	field.go     a field, from a struct tag      content.go   what a vessel holds
//	kind.go      the catalogue of kinds          lot.go       lots and their ancestry
//	codec.go     bodies as bytes, and as typed   question.go  what the book asks
//	fold.go      order, corrections, refolding   state.go     the folded house
//	table.go     rows that copies share           trace.go     shares, up and down
//	gauge.go     spirit as it is measured         age.go       time in wood and at rest
//	twice.go     one thing, told by two devices   overdue.go   what the house wants today
//
// and the kinds, with what they change, room by room: yard.go; mash.go;
// ferment.go; still.go; store.go, cellar.go and laboratory.go for the spirit
// store; trial.go; bottling.go and rework.go; goods.go, stocktake.go, office.go
// and papers.go for what is counted and signed. testdata/book/kinds holds the
// smallest example of each, testdata/problems of each thing the book can say
// against an entry.
//
// The package refuses to read a clock, to draw a random number, to know how
// entries travel, and to change or forget one. What cannot be (more drawn than
// a vessel holds) is not refused either, since it may have happened: it becomes
// a Question that a person settles with a further entry.
//
// Neighbours: quantity and spirit below, report and demo above; the phone's
// engine and the server turn records into entries.
//
// Its one surprise: vessels may hold less than nothing. A draw that the book
// cannot cover leaves the vessel negative and a question open, because alcohol
// is never made or unmade to please a balance.
package book
