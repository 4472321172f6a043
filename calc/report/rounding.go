package report

import (
	"math"
	"slices"

	"gaugebook/calc/book"
)

// walk lists the accounts whose forms balance, in the order spirit goes through
// them. The production report has no opening and closing figures.
var walk = []book.Account{book.Storage, book.Processing, book.Finished}

// A holding is what is on hand in an account of one kind of spirits.
type holding struct {
	account book.Account
	kind    Column
}

// round prints every flow to the nearest tenth. Balances are sums of printed
// flows, so what is on hand drifts from the exact balance as months pass, and an
// account that is empty could print a tenth, or less than nothing, which the
// forms do not take. Where that would happen, or the drift would reach two
// tenths, a flow of the month is turned to the next tenth on the other side of
// its amount: the one that loses least by it, never the determination of tax,
// and one that leaves the other account's balance to be put right after it.
func round(all []*flow, in book.Convention) {
	exact, shown := map[holding]book.Alcohol{}, map[holding]Tenths{}
	for len(all) > 0 {
		n := slices.IndexFunc(all, func(f *flow) bool { return f.month != all[0].month })
		if n < 0 {
			n = len(all)
		}
		var touched []holding
		for _, f := range all[:n] {
			f.printed = tenth(f.amount, in)
			for _, h := range []holding{{f.from, f.kind}, {f.to, f.kind}} {
				exact[h] += book.Alcohol(change(h.account, f.way)) * f.amount
				shown[h] += Tenths(change(h.account, f.way)) * f.printed
				touched = append(touched, h)
			}
		}
		for i, a := range walk {
			for _, h := range touched {
				if h.account == a {
					settle(all[:n], h, walk[:i], exact[h], shown, in)
				}
			}
		}
		all = all[n:]
	}
}

// settle turns flows of a month until what is on hand may be printed. done are
// the accounts that were put right before this one.
func settle(month []*flow, h holding, done []book.Account, exact book.Alcohol, shown map[holding]Tenths, in book.Convention) {
	want := tenth(exact, in)
	for off := shown[h] - want; off < -1 || off > 1 || want == 0 && off != 0; off = shown[h] - want {
		step := Tenths(1)
		if off > 0 {
			step = -1
		}
		var best *flow
		least, by := math.Inf(1), Tenths(0)
		for _, f := range month {
			sign := Tenths(change(h.account, f.way))
			if sign == 0 || f.kind != h.kind || f.to == book.TaxDetermined || f.from == book.TaxDetermined ||
				slices.Contains(done, f.from) || slices.Contains(done, f.to) {
				continue
			}
			turned := f.printed + sign*step
			if cost := math.Abs(float64(turned) - tenths(f.amount, in)); turned >= 0 && cost < 1 && cost < least {
				best, least, by = f, cost, sign*step
			}
		}
		if best == nil {
			return // it is printed as it comes to, and Cell.Off says by how much
		}
		best.printed += by
		best.evened = best.printed != tenth(best.amount, in)
		for _, a := range []book.Account{best.from, best.to} {
			shown[holding{a, h.kind}] += Tenths(change(a, best.way)) * by
		}
	}
}

// tenths is an amount in tenths, unrounded.
func tenths(a book.Alcohol, c book.Convention) float64 {
	if c == book.Metric {
		return a.LitresPureAlcohol() * 10
	}
	return float64(a) / stepsPerTenth
}
