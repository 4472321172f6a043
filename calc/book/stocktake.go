package book

import (
	"fmt"

	"gaugebook/calc/fault"
)

var stocktakeKinds = []*Kind{
	describe[CasesCounted]("cases counted", Office, "",
		"Somebody counted the cases and bottles of one lot in the store.", "A closed bottling.", "Nothing but a question, where the count is not what the book has."),
	describe[CasesFound]("cases found", Office, "",
		"More bottles of a lot are there than the book has, and nothing explains it.", "A closed bottling.", "They stand in finished goods, as an inventory overage."),
	describe[InventoryTaken]("inventory taken", Office, "",
		"The physical count of an account is done and signed for (27 CFR 19.333, 19.623).", "The gauges and counts it rests on.", "Stands in the inventory record."),
}

// CasesCounted asserts how many bottles of a lot there are.
type CasesCounted struct {
	Bottling Ref    `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Cases    int64  `key:"cases" label:"Cases"`
	Loose    int64  `key:"loose" label:"Loose bottles"`
	None     bool   `key:"none" label:"None is left"`
	Where    string `key:"where" label:"Where" help:"If the lot stands in one place only, leave it empty."`
	Note     string `key:"note" label:"Note"`
}

func (b *CasesCounted) sound(f *faults) {
	switch given := b.Cases != 0 || b.Loose != 0; {
	case !given && !b.None:
		f.add(fault.Missing, "cases", "", "a count is needed", "give cases and loose bottles, or say that none is left")
	case given && b.None:
		f.add(fault.Conflict, "none", "yes", "stands beside a count", "give one of the two")
	}
}

func (b *CasesCounted) timely(s *State, f *faults) { s.closedBottling(f, b.Bottling) }

// closedBottling says why there are no finished bottles of a lot.
func (s *State) closedBottling(f *faults, a Address) {
	switch r := s.Bottling(a); {
	case r == nil:
		unknownRef(f, "bottling", a, "lot of bottles")
	case r.Open():
		f.add(fault.Conflict, "bottling", string(a), "is not closed, so its bottles are not finished goods yet", "close the bottling first")
	}
}

func (b *CasesCounted) apply(t *turn) {
	r := t.state.bottlings.edit(b.Bottling)
	if r == nil {
		t.dangling("bottling", b.Bottling)
		return
	}
	n := b.Cases*r.PerCase + b.Loose
	r.Counted = BottleCount{Entry: t.entry.address, On: t.now(), Bottles: n}
	switch off := n - r.Left(); {
	case off < 0:
		t.ask(CountDisagrees, fmt.Sprintf("The count of %s is %d bottles less than the book has.", r.Name, -off),
			&Proposal{Kind: "cases removed", Body: Encode(&CasesRemoved{Bottling: b.Bottling, Loose: -off, Purpose: "missing"})}, b.Bottling)
	case off > 0:
		t.ask(CountDisagrees, fmt.Sprintf("The count of %s is %d bottles more than the book has.", r.Name, off),
			&Proposal{Kind: "cases found", Body: Encode(&CasesFound{Bottling: b.Bottling, Loose: off, Why: "counted"})}, b.Bottling)
	}
}

// A BottleCount is the last physical count of a lot of bottles.
type BottleCount struct {
	Entry   Address
	On      Moment
	Bottles int64
}

// CasesFound is bottles that nothing explains.
type CasesFound struct {
	Bottling Ref    `key:"bottling,need" label:"Lot of bottles" ref:"bottling"`
	Cases    int64  `key:"cases" label:"Cases"`
	Loose    int64  `key:"loose" label:"Loose bottles"`
	Why      string `key:"why,need" label:"Why" help:"How they came to light."`
}

func (b *CasesFound) sound(f *faults) { soundCases(f, b.Cases, b.Loose) }

func (b *CasesFound) timely(s *State, f *faults) { s.closedBottling(f, b.Bottling) }

func (b *CasesFound) apply(t *turn) {
	t.bottles(b.Bottling, b.Cases, b.Loose, -1, Gained, Unexplained)
}

// InventoryTaken signs for a physical count.
type InventoryTaken struct {
	Account Account `key:"account,need" label:"Of the account" words:"production|storage|processing|finished"`
	Taken   Day     `key:"taken,need" label:"Taken on"`
	By      string  `key:"by,need" label:"Who took it"`
	Title   string  `key:"title" label:"Title"`
	Signed  bool    `key:"signed" label:"Signed under the penalties of perjury" help:"On the printed sheet; the book keeps that it was."`
	Note    string  `key:"note" label:"Note"`
}

// An Inventory is a physical count that was signed for.
type Inventory struct {
	Entry Address
	On    Moment
	Book  Alcohol // what the book had in the account
	*InventoryTaken
}

// Inventories lists the physical counts in book order.
func (s *State) Inventories() []Inventory { return s.notes.inventories }

func (b *InventoryTaken) apply(t *turn) {
	n := &t.state.notes
	n.inventories = append(n.inventories, Inventory{t.entry.address, t.now(), t.state.Balance(b.Account), b})
}
