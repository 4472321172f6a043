package book

import "maps"

// An Account is where alcohol stands. The first three are sources and run
// negative: what they lack is what came into the house. The next five are the
// house, after 27 CFR 19.571 (production, storage, processing). The rest are
// the ways out. The sum over all is zero, always.
type Account string

// The accounts.
const (
	Produced Account = "produced"
	Received Account = "received" // in bond, or on hand when the book was opened
	Gained   Account = "gained"

	Distilling Account = "distilling" // returned to a still, not yet gauged again
	Production Account = "production"
	Storage    Account = "storage"
	Processing Account = "processing" // bulk
	Finished   Account = "finished"   // bottled

	TaxDetermined Account = "tax determined"
	InBond        Account = "transferred in bond"
	Exported      Account = "exported"
	FreeOfTax     Account = "free of tax"
	Research      Account = "research and samples"
	Destroyed     Account = "destroyed"
	Lost          Account = "lost"
	Shortage      Account = "shortage" // bottled goods missing and not explained: presumed taxable
)

// Accounts lists them: sources, house, ways out.
func Accounts() []Account {
	return []Account{Produced, Received, Gained, Distilling, Production, Storage, Processing, Finished,
		TaxDetermined, InBond, Exported, FreeOfTax, Research, Destroyed, Lost, Shortage}
}

// InHouse reports whether alcohol in the account is on the premises.
func (a Account) InHouse() bool {
	switch a {
	case Distilling, Production, Storage, Processing, Finished:
		return true
	}
	return false
}

// Source reports whether alcohol comes into the house from the account.
func (a Account) Source() bool { return a == Produced || a == Received || a == Gained }

// A Cause says why alcohol moved, where the accounts alone do not.
type Cause string

// The causes of losses and gains.
const (
	Evaporation Cause = "evaporation"
	Leak        Cause = "leak"
	Spill       Cause = "spill"
	Breakage    Cause = "breakage"
	Filtration  Cause = "filtration"
	InTheStill  Cause = "distilling"
	Redistilled Cause = "redistilled"
	InTheLine   Cause = "bottling"
	Theft       Cause = "theft"
	Measurement Cause = "measurement"
	Unexplained Cause = "unexplained"
)

// A Posting is one movement of alcohol between two accounts: both sides of the
// double entry in one row.
type Posting struct {
	Entry  Address // the entry that made it
	On     Moment
	From   Account
	To     Account
	Cause  Cause
	Class  SpiritClass
	Lot    Address // of spirit or of bottles
	Amount Alcohol // always above zero
}

// column is one balance: an account for one class of spirit.
type column struct {
	account Account
	class   SpiritClass
}

// A ledger is the postings in book order and the balances they add up to.
type ledger struct {
	postings []Posting
	balances map[column]Alcohol
}

func (l *ledger) post(p Posting) {
	switch {
	case p.Amount == 0 || p.From == p.To:
		return
	case p.Amount < 0:
		p.From, p.To, p.Amount = p.To, p.From, -p.Amount
	}
	if l.balances == nil {
		l.balances = map[column]Alcohol{}
	}
	l.postings = append(l.postings, p)
	l.balances[column{p.From, p.Class}] -= p.Amount
	l.balances[column{p.To, p.Class}] += p.Amount
}

func (l *ledger) copy() ledger {
	return ledger{postings: l.postings[:len(l.postings):len(l.postings)], balances: maps.Clone(l.balances)}
}

// Balance is what an account holds, over all classes of spirit.
func (s *State) Balance(a Account) Alcohol {
	var sum Alcohol
	for c, n := range s.ledger.balances {
		if c.account == a {
			sum += n
		}
	}
	return sum
}

// BalanceOf is what an account holds of one class of spirit.
func (s *State) BalanceOf(a Account, c SpiritClass) Alcohol { return s.ledger.balances[column{a, c}] }

// Postings are all movements, in book order. The slice must not be changed.
func (s *State) Postings() []Posting { return s.ledger.postings }

// post moves the alcohol of parts from one account to another, class by class.
func (t *turn) post(from, to Account, cause Cause, parts []Part) {
	for _, p := range parts {
		t.state.ledger.post(Posting{Entry: t.entry.address, On: t.now(), From: from, To: to,
			Cause: cause, Class: t.state.classOf(p.Lot), Lot: p.Lot, Amount: Alcohol(p.Amount)})
	}
}
