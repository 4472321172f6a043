// Package record is one sealed entry as bytes: its header, its identity, and
// its place in the chain of the device that wrote it.
//
// A record is one line of JSON in one fixed form. Encode writes that form and
// Decode reads nothing else, so a record has exactly one spelling: its bytes
// are its identity, its digest and its line in an exported file, and a digest
// taken by any program in any year agrees with ours.
//
//	{"id":"…","device":"heron41","seq":12,"prev":"…","clock":"…","written":"…","happened":"…","by":"JS","kind":"draw read","v":1,"seen":311,"body":{…}}
//
// The header says who wrote the entry where and when; the body is the book's
// and stays closed here: it must be one compact JSON object and nothing more
// is asked of it. Two clocks stand in a header. Written and Happened are what
// a phone and a person said; Clock is a hybrid logical clock, which never runs
// backwards on one device and never stands before what that device had seen.
//
// The package refuses to repair: a line with a space too many is no record.
// It reads no clock, draws no random number, and knows no kind.
//
// Neighbours: sync/exchange moves records, server/store keeps them.
//
// Its one surprise: Body, as Decode returns it, is a part of the line that was
// passed in. Whoever reuses the line's memory copies the body first.
package record
