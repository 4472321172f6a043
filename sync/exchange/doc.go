// Package exchange moves records between phones and the server: what to offer,
// ask for, accept and set aside, as pure functions of what each side holds.
//
// Nothing here reads a clock, opens a connection or stores a byte. The phone's
// side is Client: an event goes in, effects come out (send this, store that in
// one transaction, wake me later, tell the person), and whoever drives it, a
// browser or the simulator, reports back what became of them. The server's
// side is Receive, Deliver and the interface Ledger, which the server's store
// fills in with one transaction. Seal makes a record from a draft. The wire's
// messages are in wire.go.
//
// What holds, whatever is lost, doubled, delayed or restarted on the way:
//
//   - 'received' is said only after the server's reply was stored here, and the
//     server replies only after its commit;
//   - an entry that a phone holds is offered until the server has answered for
//     it by name, and offering it again is harmless;
//   - a phone's mark moves only together with the records up to it;
//   - nothing is refused for what it says: a line that is no record, or an
//     entry that may not be written by who brings it, is kept aside and told.
//
// The package refuses to look into a body, to merge, and to decide which of
// two entries is right; it says that there are two.
//
// Neighbours: sync/record below; server and webapp/engine above; sync/simulate
// proves it.
//
// Its one surprise: a phone that must take a new name does not re-number what
// it has. Lines keep their old name, because the server may hold them already;
// only a line that the server has answered 'forked' is sealed anew.
package exchange
