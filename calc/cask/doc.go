// Package cask is the arithmetic of rest and maturation: what evaporates, how
// volume and strength go on from a barrel's own regauges, how old the spirit
// is, what stands in a tank by its dip, and what fruit makes of a spirit.
//
//	Evaporate          yearly rates, compounded               arithmetic
//	Barrel.Fit         water and ethanol apart, learned from  minimal two-component
//	                   the barrel's regauges, with a band     model, see barrel.go
//	Fitted.At, Reaches the forecast at a day, the day of a strength
//	Between, Age       age in years, months and days          27 CFR 19.592, 19.620
//	Table.Volume, …    dip to volume                          linear interpolation; cylinder
//	Macerate           fruit water into spirit                mass balance (OIML R 22)
//	TypicalLosses      rates by place and size, dated         as each row says
//
// It refuses to derive a drift of strength from a rate of loss, to read a dip
// outside a tank's own table, and to call a forecast a gauge: only a regauge
// by weight and proof, or by volume, says what is in a barrel.
//
// Neighbours: spirit has densities and strengths; calc/book keeps the barrels;
// reckon names the calculations.
//
// Its one surprise: spirit soaked into the wood still weighs. A net weight with
// the dry tare counts it as contents, a volume does not, so soaking is expected
// of volumes only.
package cask
