// Package shelf puts the store at the server's hand: a Book is a
// server/store.Store as package server wants it.
//
// The two know nothing of each other, so that the store keeps bytes and the
// server can be asked what it needs of a book; here their devices, asides and
// transactions, which have the same fields and methods, are made one.
//
// The package refuses to decide anything: what it is given it hands on.
//
// Neighbours: server declares Book, server/store fills it in; cmd/gaugebook
// and the server's own tests take theirs from here.
//
// Its one surprise: the conversions are of whole structs, so a field added to
// one side alone does not compile.
package shelf
