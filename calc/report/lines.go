package report

import (
	"slices"

	"gaugebook/calc/book"
)

// A rule says what a line of a form holds.
type rule struct {
	number  string
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
	read   = "form and help pages, read"
	memory = "from memory: check on the blank form"
)

// A form is one part of a monthly report: an account and its lines.
type form struct {
	form    string
	part    string
	title   string
	account book.Account
	lines   []rule
}

func accounts(a ...book.Account) []book.Account { return a }

// forms are the parts this package fills, in the order they are filed. A flow
// stands on the first line that takes it.
var forms = []form{
	{"TTB F 5110.40", "I", "Production", book.Production, []rule{
		{"1", "Withdrawn for tax payment", flowOut, accounts(book.Production), accounts(book.TaxDetermined), read},
		{"2", "Withdrawn for use of the United States, hospitals, science and education (lines 2 and 3)", flowOut, accounts(book.Production), accounts(book.FreeOfTax), read},
		{"4", "Withdrawn for export", flowOut, accounts(book.Production), accounts(book.Exported), read},
		{"9", "Entered in the processing account", flowOut, accounts(book.Production), accounts(book.Processing), read},
		{"10", "Entered for transfer in bond", flowOut, accounts(book.Production), accounts(book.InBond), read},
		{"11", "Entered in the storage account", flowOut, accounts(book.Production), accounts(book.Storage), read},
		{"12", "Withdrawn for research, development or testing", flowOut, accounts(book.Production), accounts(book.Research), read},
		{"14", "Produced: the sum of lines 1 to 13", totalOut, nil, nil, read},
		{"15", "Received for redistillation", apart, accounts(book.Storage, book.Processing, book.Finished, book.Received), accounts(book.Distilling, book.Production), read},
		{"17(a)", "At the end of a quarter, on hand: received for redistillation", apart, nil, accounts(book.Distilling), read},
		{"17(b)", "At the end of a quarter, on hand: unfinished spirits", apart, nil, accounts(book.Production), read},
	}},
	{"TTB F 5110.11", "", "Storage", book.Storage, []rule{
		{"1", "On hand first of month", opening, nil, nil, read},
		{"2", "Deposited in bulk storage", flowIn, accounts(book.Production, book.Produced, book.Received, book.Distilling), accounts(book.Storage), read},
		{"4", "Returned to bulk storage", flowIn, accounts(book.Processing, book.Finished, book.TaxDetermined, book.InBond, book.Exported, book.FreeOfTax), accounts(book.Storage), read},
		{"5", "Gains (explained in the record of losses and gains)", flowIn, accounts(book.Gained), accounts(book.Storage), read},
		{"6", "Total of lines 1 to 5", totalIn, nil, nil, read},
		{"7", "Withdrawn tax paid", flowOut, accounts(book.Storage), accounts(book.TaxDetermined), memory},
		{"8", "Withdrawn for use of the United States, hospitals, science and education (lines 8 and 9)", flowOut, accounts(book.Storage), accounts(book.FreeOfTax), memory},
		{"10", "Withdrawn for export", flowOut, accounts(book.Storage), accounts(book.Exported), memory},
		{"16", "Withdrawn for research, development or testing", flowOut, accounts(book.Storage), accounts(book.Research), memory},
		{"17", "Transferred to the processing account", flowOut, accounts(book.Storage), accounts(book.Processing), memory},
		{"18", "Transferred to the production account", flowOut, accounts(book.Storage), accounts(book.Production, book.Distilling), memory},
		{"19", "Transferred in bond", flowOut, accounts(book.Storage), accounts(book.InBond), memory},
		{"20", "Destroyed", flowOut, accounts(book.Storage), accounts(book.Destroyed), memory},
		{"22", "Other losses", flowOut, accounts(book.Storage), accounts(book.Lost, book.Shortage), memory},
		{"23", "On hand end of month", closing, nil, nil, read},
		{"24", "Total of lines 7 to 23", totalOut, nil, nil, read},
	}},
	{"TTB F 5110.28", "I", "Processing: bulk ingredients", book.Processing, []rule{
		{"1", "On hand first of month", opening, nil, nil, read},
		{"2", "Received", flowIn, accounts(book.Production, book.Storage, book.Received, book.Distilling, book.Produced), accounts(book.Processing), read},
		{"6", "Dumped for further processing", flowIn, accounts(book.Finished), accounts(book.Processing), read},
		{"7", "Gains", flowIn, accounts(book.Gained), accounts(book.Processing), read},
		{"8", "Total of lines 1 to 7", totalIn, nil, nil, read},
		{"9", "Bottled or packaged", flowOut, accounts(book.Processing), accounts(book.Finished), read},
		{"12", "Transferred in bond", flowOut, accounts(book.Processing), accounts(book.InBond), read},
		{"13", "Withdrawn tax determined", flowOut, accounts(book.Processing), accounts(book.TaxDetermined), read},
		{"14", "Withdrawn free of tax", flowOut, accounts(book.Processing), accounts(book.FreeOfTax), read},
		{"16", "Withdrawn for export", flowOut, accounts(book.Processing), accounts(book.Exported), read},
		{"17", "To the production account, or returned to storage (explained)", flowOut, accounts(book.Processing), accounts(book.Production, book.Distilling, book.Storage), read},
		{"18", "Research, development, testing and government samples", flowOut, accounts(book.Processing), accounts(book.Research), read},
		{"19", "Destroyed", flowOut, accounts(book.Processing), accounts(book.Destroyed), read},
		{"24", "Losses", flowOut, accounts(book.Processing), accounts(book.Lost, book.Shortage), read},
		{"25", "On hand end of month", closing, nil, nil, read},
		{"26", "Total of lines 9 to 25", totalOut, nil, nil, read},
	}},
	{"TTB F 5110.28", "II", "Processing: finished goods", book.Finished, []rule{
		{"27", "On hand first of month", opening, nil, nil, read},
		{"28", "Bottled or packaged", flowIn, accounts(book.Processing), accounts(book.Finished), read},
		{"29", "Received", flowIn, accounts(book.Received, book.TaxDetermined, book.InBond, book.Exported, book.FreeOfTax, book.Storage, book.Production), accounts(book.Finished), read},
		{"30", "Inventory overages", flowIn, accounts(book.Gained, book.Shortage, book.Lost), accounts(book.Finished), read},
		{"31", "Total of lines 27 to 30", totalIn, nil, nil, read},
		{"32", "Transferred in bond", flowOut, accounts(book.Finished), accounts(book.InBond), read},
		{"33", "Withdrawn tax determined", flowOut, accounts(book.Finished), accounts(book.TaxDetermined), read},
		{"34", "Withdrawn free of tax", flowOut, accounts(book.Finished), accounts(book.FreeOfTax), read},
		{"36", "Withdrawn for export", flowOut, accounts(book.Finished), accounts(book.Exported), read},
		{"37", "To the production account for redistillation", flowOut, accounts(book.Finished), accounts(book.Production, book.Distilling), memory},
		{"38", "Research, development, testing and government samples", flowOut, accounts(book.Finished), accounts(book.Research), memory},
		{"39", "Destroyed", flowOut, accounts(book.Finished), accounts(book.Destroyed), memory},
		{"40", "Dumped for further processing", flowOut, accounts(book.Finished), accounts(book.Processing, book.Storage), memory},
		{"44", "Recorded losses", flowOut, accounts(book.Finished), accounts(book.Lost), "trade article, second-hand: check on the blank form"},
		{"45", "Inventory shortages", flowOut, accounts(book.Finished), accounts(book.Shortage), "trade article, second-hand: check on the blank form"},
		{"46", "On hand end of month", closing, nil, nil, "trade article, second-hand: check on the blank form"},
		{"47", "Total of lines 32 to 46", totalOut, nil, nil, "trade article, second-hand: check on the blank form"},
	}},
}

// A Column is a column of a form: a kind of spirits.
type Column string

// The columns of the production and storage reports, in the order of the forms
// (5110.40 read; 5110.11 from memory). The processing report has one column,
// spirits.
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
	AllSpirits  Column = "spirits"
	Total       Column = "total"
)

var byKind = []Column{Whisky160, WhiskyOver, Brandy170, BrandyOver, Rum, Gin, Vodka, Under190, From190, OtherSpirit}

// columns of a form.
func (f *form) columns() []Column {
	switch f.account {
	case book.Production, book.Storage:
		return byKind
	}
	return []Column{AllSpirits}
}

// index is the position of a kind's column: its own, or the only one.
func (f *form) index(kind Column) int { return max(0, slices.Index(f.columns(), kind)) }

// kindOf is the column of a movement: its class of spirits, divided by the
// proof of distillation of its lot where the production report divides it.
func kindOf(s *book.State, p *book.Posting) Column {
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
