// Package trust makes and keeps what a phone on the house's Wi-Fi needs to take
// the office for a secure context: a local root certificate and, under it, a
// certificate for the office's name and addresses.
//
// The root is made once and lives ten years. It is under critical name
// constraints (RFC 5280 §4.2.1.10): the office's own names and the private
// address ranges, and nothing else. Whoever puts it on a phone need not trust
// this house with a bank's name. Its key stands beside the book with mode 0600
// and is in no backup of the book; who loses it prints a new join sheet.
//
// The leaf lives 397 days and is made anew, while serving, when a third of its
// life is left or the machine's names or addresses are others. A pair of files
// that the owner brings instead is read again when it changes.
//
// Examine says in words what Apple's and Android's published rules would refuse
// of a certificate; the tests hold what is issued here to it.
//
//	Open     the root of a folder, made if there is none
//	Root     its certificate, fingerprint, profile for an iPhone
//	Keeper   gives a TLS server the leaf of the hour
//	Pair     gives it the owner's own certificate
//
// The package refuses to make a root for a name that is not the house's to give
// (constraints are its only names) and to overwrite a root that is there.
//
// Neighbours: cmd/gaugebook serves with it and examines with it; server shows
// the join sheet.
//
// Its one surprise: the address ranges of the constraints are all private ones,
// not those of today, because a router is replaced more often than a root.
package trust
