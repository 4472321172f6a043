// Package spirit is the arithmetic of ethanol and water: density and strength
// on every scale, true proof, gauging by volume and weight, reduction, blends,
// obscuration and liqueurs, each with its working and its uncertainty.
//
// A Strength is a mass fraction, which no temperature touches; % vol at 20 °C,
// at 15 °C and at 60 °F, proof, density and specific gravity are ways to see it.
// Density is that of the general formula of OIML R 22, −20 to 40 °C, in vacuo;
// what is weighed in air says so. Inverses return within 1e-9.
//
// The largest differences found from printed values (the tests name them):
//
//	density, handbook table, 98 cells, 10 to 40 °C     0.09 kg/m³
//	density, OIML R 22 (from memory), 7 values         0.005 kg/m³
//	Table 1, the four cells of 27 CFR 30.23            0.05 proof
//	Table 4, wine gallons per pound at 190 proof       0.00001
//	Table 4, proof gallons per pound, 190, 200 proof   0.00002, 0.00004
//	Table 6, four rows                                 0.01 in 100 parts
//	Table 7, the factors of 30.25 and 30.51            none in three decimals
//	weight of a gallon of water, 21.161                0.00015 lb
//	30.44(b), packages up to 10 gallons, 11 rows       none (one row is misprinted)
//
// Table 1 itself is not printed in the CFR: a true proof is 'computed', or 'from
// the printed table' where an owner's Table covers the reading. Below 45 °F the
// printed table is known to part from the density formula by tenths of a proof
// (from memory): warm the sample, or type in that corner of the table.
//
// It refuses readings outside the tables' ranges, to guess a temperature, and
// to call an estimate under sugar or much extract a lawful strength. It knows
// calc/fault and calc/quantity; calc/reckon and calc/book call it.
//
// Its one surprise: Gauge carries two answers. The Figures follow density
// unrounded; Legal follows the regulation, with its factor of three decimals
// and its tenths, and the two part by up to 5 in 10,000.
package spirit
