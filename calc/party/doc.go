// Package party joins a bottling of the book with the reconciliation of package
// fill: what the phones of a party wrote becomes the three ways of counting,
// spirit, bottles and dry goods, that are held against each other at the close.
//
//	Of         a bottling, with its heel or without, as package fill takes it
//	Sheet.Reconcile   the gaps, and what would explain them, ranked
//	Closing    what closed a run, as it stands after corrections
//
// It refuses to fill a gap, and to guess what nobody measured: a heel that was
// not read yet says nothing of the spirit, a tank without its table
// of dips nothing of a misread one, and Sheet.Wanting says so.
//
// Neighbours: calc/book has the counts, calc/fill the arithmetic; neither knows
// the other. webapp/engine shows it; calc/party/simulate plays parties against
// it.
//
// Its one surprise: a volume that is said to have been at exactly the base
// temperature, while the hydrometer stood in spirit of another, is doubted: it
// is the sign of a volume that nobody brought to the base.
package party
