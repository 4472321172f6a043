// Package report turns a book into the figures and lists a month is closed on:
// the monthly operations reports of a distilled spirits plant (27 CFR 19.632;
// TTB F 5110.40, 5110.11 and 5110.28, by their line numbers) and the record
// lists of 27 CFR part 19, as rows whose every cell names the entries behind it.
//
//	lines.go    which movements of alcohol stand on which line: data, not code
//	month.go    the forms of a month, every column footing
//	records.go  gauge, transfer, dump, bottling, removal, loss and destruction lists
//	problem.go  what does not balance or is not settled, with its probable cause
//
// It only reads a State; templates, files and dates of today are for others. A
// report is a worksheet: the proprietor checks it and files.
//
// Its one surprise: what is on hand at the end of a month is printed as the
// opening figure plus and minus the printed lines, and can be some tenths off
// the exact balance (Cell.Carried says by how much). The law rounds each line to
// 0.1 proof gallon; rounding the balance by itself too would leave columns that
// do not add up.
package report
