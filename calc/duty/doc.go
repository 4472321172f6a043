// Package duty is the excise on distilled spirits: what removals owe under
// rates that change in the course of a year, credits, effective rates with wine
// and flavours, return periods and the days they are due.
//
//	Assess             removals by day and product, split over the tiers  26 USC 5001
//	Formula.Rate       effective rate with wine and flavour credit        27 CFR 19.246
//	Standard           the highest of a product's batches                 27 CFR 19.248
//	FrequencyOf, Calendar   periods by liability, their due days          27 CFR 19.235 to 19.237
//	Due, Holidays      the 14th day, moved before weekends and holidays   27 CFR 19.236, 5 USC 6103
//	Group              the same removals by a state's own lines           the owner's data
//
// Rates, limits, wine classes and holidays are data: the CSV files beside this
// code, each row dated, with its source and how far that was read. ParseRates
// takes an owner's newer file; no rate stands in code.
//
// It refuses a day that no row of rates covers, an allowance above the law's,
// and to take a credit that no approval names. Every result is a worksheet: the
// proprietor checks, signs and files, with licensed advice.
//
// Neighbours: calc/book has the removals, spirit gauges cases; reckon names tax
// and due-date. Money is decimal and rounded to the cent once, at the total.
//
// Its one surprise: a rate belongs to the removal and not to the batch, for the
// tiers fill up in the order of removals in a calendar year.
package duty
