// Package role says what each of the crew may write in the book and see of it.
//
// It is one table over the rooms of book.Kinds and the few kinds that are an
// exception to their room. The office holds every push and every pull to it;
// the page asks it what to offer, so that nobody writes a page full that is
// then set aside. A kind that this build does not know is the owner's and the
// reader's alone.
//
//	owner        everything
//	distiller    every room; of the office what belongs to the work, and no costs and customers
//	cellar hand  every room but the still's and the office's; sees the still
//	counter      the bottles of one run, written and seen, and nothing else
//	reader       sees everything, writes nothing
//
// A Grant is what a device's role in the server's register says, as text: the
// role's name and, for a counter, the address of the run and of the registered
// things that name it (its product, its tank).
//
// The package refuses to decide what is true, and to look at who a person is:
// a phone has a role, not a name.
//
// Neighbours: calc/book has the kinds; server and webapp/engine ask.
//
// Its one surprise: a counter sees a correction only if what it says, or what
// it corrects, is of the run; a mere address tells nobody which run it is of.
package role
