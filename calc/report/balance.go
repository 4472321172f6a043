package report

import (
	"fmt"

	"gaugebook/calc/book"
)

// Balances holds the accounts of a book against its postings, and against what
// stands in its vessels, stills and bottles. It finds nothing in any book this
// program folded rightly: what it finds is a fault of the program.
func Balances(s *book.State) []Problem {
	var out []Problem
	posted := map[book.Account]book.Alcohol{}
	for i, p := range s.Postings() {
		if p.Amount <= 0 || p.From == p.To {
			out = append(out, Problem{Where: fmt.Sprintf("posting %d", i+1), Says: fmt.Sprintf("moves %s proof gallons from %s to %s", Steps(p.Amount), p.From, p.To),
				Cause: "a fault of this program: please report it", Entries: []book.Address{p.Entry}})
		}
		posted[p.From] -= p.Amount
		posted[p.To] += p.Amount
	}
	held := held(s)
	var sum book.Alcohol
	differ := func(a book.Account, says string, got book.Alcohol) {
		if want := s.Balance(a); got != want {
			out = append(out, Problem{Where: "account " + string(a), Says: fmt.Sprintf("%s %s proof gallons, and the account %s", says, Steps(got), Steps(want)),
				Cause: "a fault of this program: please report it"})
		}
	}
	for _, a := range book.Accounts() {
		sum += s.Balance(a)
		differ(a, "its movements come to", posted[a])
		if a.InHouse() {
			differ(a, "vessels, stills and bottles hold", held[a])
		}
	}
	if sum != 0 {
		out = append(out, Problem{Where: "all accounts", Says: "add up to " + Steps(sum) + " proof gallons, and to nothing they should", Cause: "a fault of this program: please report it"})
	}
	return out
}

// held is the alcohol that vessels, stills and bottles hold, by account.
func held(s *book.State) map[book.Account]book.Alcohol {
	out := map[book.Account]book.Alcohol{}
	for _, v := range s.Vessels {
		if v.Content.Material.Accounted() {
			out[v.Content.Account] += v.Content.Alcohol
		}
	}
	for _, b := range s.Bottlings {
		out[book.Finished] += b.Finished - b.Given
	}
	for _, r := range s.Runs {
		if !r.Running() {
			continue
		}
		for _, p := range r.Again {
			out[book.Distilling] += book.Alcohol(p.Amount)
		}
	}
	return out
}
