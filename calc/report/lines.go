package report

import (
	"slices"

	"gaugebook/calc/book"
)

// A rule says what a line of a form holds.
type rule struct {
	number  string // "" for a movement the form has no line for; it is kept in the records
	meaning string
	what    figure
	from    []book.Account // of a flow: any of these to any of to
	to      []book.Account
	source  string // where the number and meaning were read; "from memory" where they were not
}

// A figure is what kind of number a line is.
type figure uint8

const (
	flowIn figure = iota // into the account the form is about
	flowOut
	opening
	closing
	totalIn  // of opening and flows in
	totalOut // of flows out and closing
	apart    // shown, and in no total
)

const (
	read       = "form and help pages, read"
	memory     = "from memory: check on the blank form"
	secondHand = "trade article, second-hand: check on the blank form"
)

// A form is one part of a monthly report: its accounts and its lines.
type form struct {
	form     string
	part     string
	title    string
	accounts []book.Account
	only     Column // its one column, "" where each kind of spirits has one
	lines    []rule
}

func accounts(a ...book.Account) []book.Account { return a }

// Groups of accounts that lines name together. Where an adjustment turns a
// movement round, what came of an account goes back to it: so sources stand
// beside ways out, and ways out beside sources.
var (
	still    = accounts(book.Production, book.Distilling)
	outside  = accounts(book.TaxDetermined, book.InBond, book.Exported, book.FreeOfTax)
	inBond   = accounts(book.InBond, book.Received)
	regained = accounts(book.Gained, book.Lost, book.Shortage, book.Destroyed, book.Research)
	gone     = accounts(book.Lost, book.Shortage, book.Gained)
	made     = accounts(book.Production, book.Distilling, book.Produced)
)

// forms are the parts this package fills, in the order they are filed. A flow
// stands on the first line that takes it.
var forms = []form{
	{"TTB F 5110.40", "I", "Production", still, "", []rule{
		{"1", "Withdrawn for tax payment", flowOut, still, accounts(book.TaxDetermined), read},
		{"2", "Withdrawn for use of the United States, hospitals, science and education (lines 2 and 3)", flowOut, still, accounts(book.FreeOfTax), read},
		{"4", "Withdrawn for export", flowOut, still, accounts(book.Exported), read},
		{"9", "Entered in the processing account", flowOut, still, accounts(book.Processing, book.Finished), read},
		{"10", "Entered for transfer in bond", flowOut, still, inBond, read},
		{"11", "Entered in the storage account", flowOut, still, accounts(book.Storage), read},
		{"12", "Withdrawn for research, development or testing", flowOut, still, accounts(book.Research), read},
		{"14", "Produced: the sum of lines 1 to 13", totalOut, nil, nil, read},
		{"15", "Received for redistillation", apart, slices.Concat(accounts(book.Storage, book.Processing, book.Finished, book.Received), outside), still, read},
		{"17(a)", "At the end of a quarter, on hand: received for redistillation", apart, nil, accounts(book.Distilling), read},
		{"17(b)", "At the end of a quarter, on hand: unfinished spirits", apart, nil, accounts(book.Production), read},
		{"", "Gauged out of the still", apart, accounts(book.Produced), still, records},
		{"", "Of that, spirit that was returned to the still and is produced anew", apart, still, accounts(book.Produced), records},
		{"", "Returned to the still, and taken back", apart, accounts(book.Distilling), accounts(book.Production), records},
		{"", "Returned to the still before it was entered elsewhere", apart, accounts(book.Production), accounts(book.Distilling), records},
		{"", "Gains before it was entered elsewhere", apart, regained, still, records},
		{"", "Lost in distilling, or before it was entered elsewhere", apart, still, gone, records},
		{"", "Destroyed before it was entered elsewhere", apart, still, accounts(book.Destroyed), records},
	}},
	{"TTB F 5110.11", "", "Storage", accounts(book.Storage), "", []rule{
		{"1", "On hand first of month", opening, nil, nil, read},
		{"2", "Deposited in bulk storage", flowIn, slices.Concat(accounts(book.Received), made), accounts(book.Storage), read},
		{"4", "Returned to bulk storage", flowIn, slices.Concat(accounts(book.Processing, book.Finished), outside), accounts(book.Storage), read},
		{"5", "Gains (explained in the record of losses and gains)", flowIn, regained, accounts(book.Storage), read},
		{"6", "Total of lines 1 to 5", totalIn, nil, nil, read},
		{"7", "Withdrawn tax paid", flowOut, accounts(book.Storage), accounts(book.TaxDetermined), memory},
		{"8", "Withdrawn for use of the United States, hospitals, science and education (lines 8 and 9)", flowOut, accounts(book.Storage), accounts(book.FreeOfTax), memory},
		{"10", "Withdrawn for export", flowOut, accounts(book.Storage), accounts(book.Exported), memory},
		{"16", "Withdrawn for research, development or testing", flowOut, accounts(book.Storage), accounts(book.Research), memory},
		{"17", "Transferred to the processing account", flowOut, accounts(book.Storage), accounts(book.Processing, book.Finished), memory},
		{"18", "Transferred to the production account", flowOut, accounts(book.Storage), made, memory},
		{"19", "Transferred in bond", flowOut, accounts(book.Storage), inBond, memory},
		{"20", "Destroyed", flowOut, accounts(book.Storage), accounts(book.Destroyed), memory},
		{"22", "Other losses", flowOut, accounts(book.Storage), gone, memory},
		{"23", "On hand end of month", closing, nil, nil, read},
		{"24", "Total of lines 7 to 23", totalOut, nil, nil, read},
	}},
	{"TTB F 5110.28", "I", "Processing: bulk ingredients", accounts(book.Processing), Bulk, []rule{
		{"1", "On hand first of month", opening, nil, nil, read},
		{"2", "Received", flowIn, slices.Concat(accounts(book.Storage, book.Received), made, outside), accounts(book.Processing), read},
		{"6", "Dumped for further processing", flowIn, accounts(book.Finished), accounts(book.Processing), read},
		{"7", "Gains", flowIn, regained, accounts(book.Processing), read},
		{"8", "Total of lines 1 to 7", totalIn, nil, nil, read},
		{"9", "Bottled or packaged", flowOut, accounts(book.Processing), accounts(book.Finished), read},
		{"12", "Transferred in bond", flowOut, accounts(book.Processing), inBond, read},
		{"13", "Withdrawn tax determined", flowOut, accounts(book.Processing), accounts(book.TaxDetermined), read},
		{"14", "Withdrawn free of tax", flowOut, accounts(book.Processing), accounts(book.FreeOfTax), read},
		{"16", "Withdrawn for export", flowOut, accounts(book.Processing), accounts(book.Exported), read},
		{"17", "To the production account for redistillation", flowOut, accounts(book.Processing), made, read},
		{"18", "Research, development, testing and government samples", flowOut, accounts(book.Processing), accounts(book.Research), read},
		{"19", "Destroyed", flowOut, accounts(book.Processing), accounts(book.Destroyed), read},
		{"21", "Returned to bulk storage (a blank line of the form: explain it)", flowOut, accounts(book.Processing), accounts(book.Storage), read},
		{"24", "Losses", flowOut, accounts(book.Processing), gone, read},
		{"25", "On hand end of month", closing, nil, nil, read},
		{"26", "Total of lines 9 to 25", totalOut, nil, nil, read},
	}},
	{"TTB F 5110.28", "II", "Processing: finished goods", accounts(book.Finished), Bottled, []rule{
		{"27", "On hand first of month", opening, nil, nil, read},
		{"28", "Bottled or packaged", flowIn, accounts(book.Processing), accounts(book.Finished), read},
		{"29", "Received", flowIn, slices.Concat(accounts(book.Received, book.Storage), made, outside), accounts(book.Finished), read},
		{"30", "Inventory overages", flowIn, regained, accounts(book.Finished), read},
		{"31", "Total of lines 27 to 30", totalIn, nil, nil, read},
		{"32", "Transferred in bond", flowOut, accounts(book.Finished), inBond, read},
		{"33", "Withdrawn tax determined", flowOut, accounts(book.Finished), accounts(book.TaxDetermined), read},
		{"34", "Withdrawn free of tax", flowOut, accounts(book.Finished), accounts(book.FreeOfTax), read},
		{"36", "Withdrawn for export", flowOut, accounts(book.Finished), accounts(book.Exported), read},
		{"37", "To the production account for redistillation", flowOut, accounts(book.Finished), made, memory},
		{"38", "Research, development, testing and government samples", flowOut, accounts(book.Finished), accounts(book.Research), memory},
		{"39", "Destroyed", flowOut, accounts(book.Finished), accounts(book.Destroyed), memory},
		{"40", "Dumped for further processing", flowOut, accounts(book.Finished), accounts(book.Processing, book.Storage), memory},
		{"44", "Recorded losses", flowOut, accounts(book.Finished), accounts(book.Lost, book.Gained), secondHand},
		{"45", "Inventory shortages", flowOut, accounts(book.Finished), accounts(book.Shortage), secondHand},
		{"46", "On hand end of month", closing, nil, nil, secondHand},
		{"47", "Total of lines 32 to 46", totalOut, nil, nil, secondHand},
	}},
}

// plain says in general words what a line says in the words of a US form, by
// form and number.
var plain = map[string]map[string]string{
	"TTB F 5110.40I": {
		"1": "Withdrawn on determination of duty", "2": "Withdrawn free of duty", "10": "Entered for transfer under duty suspension",
		"14": "Produced: all that was entered or withdrawn", "17(a)": "At the end of a quarter, on hand in stills",
	},
	"TTB F 5110.11": {
		"6": "Total in", "7": "Withdrawn on determination of duty", "8": "Withdrawn free of duty", "19": "Transferred under duty suspension", "24": "Total out and on hand",
	},
	"TTB F 5110.28I": {
		"8": "Total in", "12": "Transferred under duty suspension", "13": "Withdrawn on determination of duty", "14": "Withdrawn free of duty",
		"18": "Research, development, testing and official samples", "21": "Returned to bulk storage", "26": "Total out and on hand",
	},
	"TTB F 5110.28II": {
		"31": "Total in", "32": "Transferred under duty suspension", "33": "Withdrawn on determination of duty", "34": "Withdrawn free of duty",
		"38": "Research, development, testing and official samples", "47": "Total out and on hand",
	},
}

// records is the source of a row that is on no form.
const records = "no line of the form: kept in the records (27 CFR 19.584, 19.585)"

// A Column is a column of a form: a kind of spirits.
type Column string

// The columns of the production and storage reports, in the order of the forms
// (5110.40 read; 5110.11 from memory). The parts of the processing report have
// one column each.
const (
	Whisky160   Column = "whisky, 160 proof and under"
	WhiskyOver  Column = "whisky, over 160 proof"
	Brandy170   Column = "brandy, 170 proof and under"
	BrandyOver  Column = "brandy, over 170 proof"
	Rum         Column = "rum"
	Gin         Column = "gin"
	Vodka       Column = "vodka"
	Under190    Column = "alcohol and spirits, under 190 proof"
	From190     Column = "alcohol and spirits, 190 proof and over"
	OtherSpirit Column = "other"
	Bulk        Column = "spirits"
	Bottled     Column = "bottled"
	Total       Column = "total"
)

var byKind = []Column{Whisky160, WhiskyOver, Brandy170, BrandyOver, Rum, Gin, Vodka, Under190, From190, OtherSpirit}

// The columns of a metric book, which knows no proof of distillation.
var byClass = []Column{Column(book.Whisky), Column(book.Brandy), Rum, Gin, Vodka, Column(book.Neutral), OtherSpirit}

// columns of a form.
func (f *form) columns(c book.Convention) []Column {
	switch {
	case f.only != "":
		return []Column{f.only}
	case c == book.Metric:
		return byClass
	}
	return byKind
}

// index is the position of a kind's column: its own, or the only one.
func (f *form) index(columns []Column, kind Column) int {
	if f.only != "" {
		return 0
	}
	return slices.Index(columns, kind)
}

// kindOf is the column of a movement: its class of spirits, divided by the
// proof of distillation of its lot where the production report divides it.
func kindOf(s *book.State, p *book.Posting, c book.Convention) Column {
	if c == book.Metric {
		if slices.Contains(byClass, Column(p.Class)) {
			return Column(p.Class)
		}
		return OtherSpirit
	}
	var proof float64
	if l := s.Lot(p.Lot); l != nil {
		proof = l.Proof
	}
	over := func(limit float64, low, high Column) Column {
		if proof > limit {
			return high
		}
		return low
	}
	switch p.Class {
	case book.Whisky:
		return over(160, Whisky160, WhiskyOver)
	case book.Brandy:
		return over(170, Brandy170, BrandyOver)
	case book.Rum:
		return Rum
	case book.Gin:
		return Gin
	case book.Vodka:
		return Vodka
	case book.Neutral:
		if proof >= 190 {
			return From190
		}
		return Under190
	}
	return OtherSpirit
}

// classOf is the class of spirits a column belongs to.
func classOf(kind Column) book.SpiritClass {
	switch kind {
	case Whisky160, WhiskyOver:
		return book.Whisky
	case Brandy170, BrandyOver:
		return book.Brandy
	case Under190, From190:
		return book.Neutral
	}
	return book.SpiritClass(kind)
}
