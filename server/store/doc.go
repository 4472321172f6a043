// Package store keeps the log of one book in one SQLite file: append and
// read, nothing else.
//
// It is for one promise: what Append has answered is on the disk, once, in
// arrival order, and stays as it came. So a reply means a committed
// transaction with synchronous=FULL; identity is the record's id and its
// device and number; sending again is harmless; and arrival numbers are given
// inside the one writer's transaction, so a reader that asks for 'everything
// after n' never misses an entry that commits later.
//
// Append-only is held in three layers: triggers refuse UPDATE and DELETE, a
// guard in the schema refuses INSERT OR REPLACE from any connection whatever
// its settings, and each row carries a hash over the one before it, so that a
// person who drops the triggers is found by Verify. The chain proves
// tampering, not truth: it cannot tell whether a reading was right, and who
// rewrites the whole file must be found by a head that was printed or that a
// phone remembers.
//
// The package refuses to know what an entry says: no kinds, no trade, no
// roles. It refuses a file on a network file system, a file that a newer
// Gaugebook wrote, a file that is no book, and a second writer. Entries are
// never migrated; migrations are forward only and each takes a copy first.
//
// Neighbours: sync/record below, nothing else of ours; package server declares
// the interface it needs of a log, and cmd/gaugebook joins the two.
//
// Its one surprise: a full disk is an ordinary answer. Append returns ErrFull,
// nothing of the batch is stored, reading goes on, and the next Append after
// space returned succeeds without a restart.
package store
