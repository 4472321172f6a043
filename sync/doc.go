// Package sync is prose only: how entries travel from a wet hand to the
// office's book, and what is promised on the way. Its code is in the folders
// below, because the name is the standard library's.
//
// # The shape
//
// Every phone owns an append-only chain of records. The server appends what it
// receives, in the order it arrives, to one log. Nobody edits a record; the
// state of a vessel is a fold over the set of records, in book order, by the
// same code everywhere. To converge is therefore to hold the same set.
//
//	record     one entry as bytes: canonical line, digest, clocks, the log's chain
//	exchange   the phone's and the server's decisions, pure
//	simulate   phones, a server and every fault from one seed
//
// # The phone
//
// Saving is one transaction: the record and the chain's new end together, or
// neither. 'Saved' is shown after it completed. The exchange then offers the
// record until the server has answered for it by name, and marks it received
// in a transaction of its own. It pushes before it pulls; it pulls also when a
// push is refused. A failure is tried again after a random part of 1, 2, 4 …
// 60 seconds.
//
// # The server
//
// One transaction judges and stores a push; the reply leaves after its commit.
// A line is judged by its form, its identity, its place in its device's chain
// and the bringer's role, never by what it says about the trade:
//
//	known by its id                    duplicate, however often it comes
//	its place is another entry's       forked: told, kept aside, out of the log
//	the bringer's role may not         quarantined: kept whole until let in
//	no record, or its id is another's  malformed: kept as a dead letter
//	an earlier number is missing       gap: stored, and told
//	otherwise                          new
//
// # Marks and epochs
//
// The log's chain makes each of its places a mark: a number and a digest over
// everything up to it. A phone pulls from the mark it holds; a server that has
// not this mark is another log, for example one restored from an older copy,
// and says so (409). So does a push that names another epoch. The phone then
// forgets its mark and offers again everything it holds, its own entries and
// those it had from others; identities make that harmless. What it may not
// bring for others waits in quarantine until its author brings it or the owner
// lets it in.
//
// # Two phones with one name
//
// A phone's storage copied to a second phone gives two chains with one name.
// The first to bring a number keeps it; the other's entry is forked. That
// phone joins for a new name and seals the entry anew, under its old identity.
// A phone that has lost its storage finds that the server holds more under its
// name than it does, and takes a new name likewise.
//
// # Versions
//
// Every phone is given every record its role may see, also of kinds it does
// not know: it stores them, the fold leaves them out and says that its totals
// are incomplete, and after an update they are there. The wire's version is
// separate; a build too old for it may still push.
//
// # What it proves
//
// The chains show tampering and loss: a changed, dropped or moved record
// breaks the device's chain, the log's, or both, at a place that can be named.
// They do not show that an entry was true.
package sync
