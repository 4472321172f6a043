// Package fill is the arithmetic of the bottling floor: what is in a bottle,
// whether a sample holds, how many bottles a tank fills, and what explains it
// when spirit, bottles and dry goods do not agree at the end.
//
//	Weigh, Pour      net contents at the base temperature   OIML R 22, weighing in air
//	NetWeight        the weight to fill                     the same
//	Judge            limits, average, balance of a sample   27 CFR 19.356; NIST Handbook 133
//	Chart.Watch      go on, set again, stop                 Shewhart; common practice
//	Strong           strength against the label             27 CFR 19.356
//	Expect           bottles and cases, shortages           arithmetic, with its doubt
//	Reconcile        three ways, ranked causes              Bayes' rule
//
// It refuses to judge by the maximum allowable variation of Handbook 133 while
// that table is empty, and says so; and to settle a gap: it ranks what would
// explain all gaps at once, a person recounts and decides.
//
// Neighbours: spirit has densities; calc/book keeps the counts; reckon names
// net-contents, fill-sample and bottles.
//
// Its one surprise: a cause is ranked by how well it explains every account
// together, so 'one case less' needs no look at the spirit to be told from 'heel
// misread': the closures and the seals know it too.
package fill
