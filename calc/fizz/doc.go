// Package fizz is the arithmetic of carbonated drinks in cans and kegs: carbon
// dioxide from temperature and pressure, the pressure to set, the pressure in
// the can at the hottest storage, the recipe by mass, and what sugar can do.
//
//	Dissolve      CO2 at a temperature and pressure     Carroll, Slupsky and Mather 1991
//	SetPressure   the gauge pressure for a target       its inverse
//	Chart         the brewers' chart, by its usual fit  ASBC and Zahm, from memory
//	Seal          pressure in a closed can when warm    the higher of both
//	Volumes, GramsPerLitre                              one volume is 1.963 g/L
//	Mix           spirit, sugar and water by mass       OIML R 22
//	Ferment       CO2 that sugar can still make         Gay-Lussac
//	Targets, Cautions                                   data
//
// It refuses alcohol above 20 % vol, where the solubility turns and rises, and
// to call a can safe: it compares a pressure with the rating of the can's
// supplier and says which of the two is larger.
//
// Neighbours: spirit has densities; calc/book keeps the tank and the run;
// reckon names the calculations.
//
// Its one surprise: two ways to the same pressure are worked and the higher one
// is the answer of Seal, because a can that is stronger than it needs to be
// costs a cent, and one that is weaker bursts.
package fizz
