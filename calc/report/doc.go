// Package report turns a book into the figures and lists a month is closed on:
// the monthly operations reports of a distilled spirits plant (27 CFR 19.632;
// TTB F 5110.40, 5110.11 and 5110.28, by their line numbers) and the record
// lists of 27 CFR part 19, as rows whose every figure names the entries behind
// it. For a metric book the same figures stand in litres of pure alcohol under
// neutral headings.
//
//	lines.go     which movements of alcohol stand on which line: data, not code
//	month.go     the forms of a month, every column footing
//	flow.go      what moved between two accounts in a month; adjustments
//	schedule.go  the parts of the forms that divide a line by kind or material
//	records.go   gauge, transfer, dump, bottling, removal, loss and destruction lists
//	problem.go   what does not balance or is not settled, with its probable cause
//	balance.go   the accounts against the postings, the vessels and the bottles
//	asof.go      the book as it stood earlier; closed months against what was signed
//	trace.go     what a lot came of and what became of it, with shares
//	journal.go   the movements as a plain-text journal of double-entry accounting
//	cost.go      what bottles cost, and the alcohol that was lost, by the expense
//	csv.go       rows for a spreadsheet, no cell of which is taken for a formula
//
// It only reads a book; templates, files and dates of today are for others. A
// report is a worksheet: the proprietor checks it and files.
//
// Not here: wine (5110.28 column b, lines 5, 10 and 15), denaturing (line 11),
// imports, and the tax itself, whose rates are dated data. Lines whose number
// was not read on a form say so in Source.
//
// Its one surprise: what is on hand at the end of a month is printed as the
// opening figure plus and minus the printed lines, and can be some tenths off
// the exact balance (Cell.Off says by how much). The law rounds each line to
// 0.1 proof gallon; rounding the balance by itself too would leave columns that
// do not add up.
package report
