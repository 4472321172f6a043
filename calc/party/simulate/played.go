package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gaugebook/calc/fill"
	"gaugebook/calc/party"
	"gaugebook/calc/quantity"
)

// answered lets the phones write a party down, each in its own time and some
// without a network, and reconciles what the book makes of their entries.
func answered(m Made, seed uint64) (fill.Reconciled, error) {
	w := Write(m, seed)
	s, err := party.Of(w.Book, w.Book.State().Bottling(w.Run), &w.Closing)
	if err != nil {
		return fill.Reconciled{}, err
	}
	return s.Reconcile()
}

// A Record is what became of many parties.
type Record struct {
	parties, first, secondOrBetter int
	kinds                          map[fill.Kind][3]int // parties, first, unasked and larger than one bottle in 500
	larger                         int                  // errors larger than one bottle in 500
	unasked                        []string             // those of them that passed unasked, but for spirit alone
	spiritLarger, spiritUnasked    int                  // of those that only the spirit knows of
	worst                          float64              // the largest of these unasked, in measuring errors
	clean, wasted, falseAsked      int                  // parties without an error; of these with glass or closures wasted unwritten; of the others, asked about something
}

// Play makes up so many parties with one error each, and half as many without.
func Play(seed uint64, parties int) (Record, error) {
	chance := rand.New(rand.NewPCG(seed, 500))
	r := Record{parties: parties, kinds: map[fill.Kind][3]int{}}
	for i := range parties {
		s := Make(chance, Plantable()[i%len(Plantable())])
		got, err := answered(s, seed+uint64(i))
		if err != nil {
			return r, fmt.Errorf("party %d, %s: %w", i, s.Planted, err)
		}
		k := r.kinds[s.Planted]
		k[0]++
		if got.Causes[0].Kind == s.Planted {
			r.first++
			k[1]++
		}
		if slices.ContainsFunc(got.Causes[:min(2, len(got.Causes))], func(c fill.Cause) bool { return c.Kind == s.Planted }) {
			r.secondOrBetter++
		}
		if s.Off > float64(got.Bottles)/500 {
			if s.Spirit {
				r.spiritLarger++
			} else {
				r.larger++
			}
			if !got.Asked {
				k[2]++
				if s.Spirit {
					r.spiritUnasked++
					r.worst = math.Max(r.worst, s.Off*s.Size.In(quantity.Litre)/math.Hypot(got.Accounts[0].Gap.U, got.Accounts[0].Usual.U))
				} else {
					r.unasked = append(r.unasked, fmt.Sprintf("party %d: %s, %.1f bottles of %d", i, s.Planted, s.Off, got.Bottles))
				}
			}
		}
		r.kinds[s.Planted] = k
	}
	for i := range parties / 2 {
		s := Make(chance, fill.Nothing)
		s.Expansion = quantity.Figure{} // its temperature is written, or that is what is asked about
		got, err := answered(s, seed+uint64(i))
		if err != nil {
			return r, fmt.Errorf("party %d, %s: %w", i, s.Planted, err)
		}
		r.clean++
		switch {
		case s.Wasted:
			r.wasted++
			if !got.Asked {
				r.unasked = append(r.unasked, fmt.Sprintf("party %d without an error: wasted and not asked", i))
			}
		case got.Asked:
			r.falseAsked++
		}
	}
	return r, nil
}

// String is the record as a table.
func (r Record) String() string {
	var b strings.Builder
	share := func(n, of int) float64 { return 100 * float64(n) / float64(max(of, 1)) }
	fmt.Fprintf(&b, "%d parties with one error each: the error is the first-ranked cause in %.1f %%, among the first two in %.1f %%\n", r.parties, share(r.first, r.parties), share(r.secondOrBetter, r.parties))
	for _, k := range Plantable() {
		c := r.kinds[k]
		fmt.Fprintf(&b, "  %-45s %4d parties, first in %5.1f %%, larger than 1 in 500 and unasked %d\n", k, c[0], share(c[1], c[0]), c[2])
	}
	fmt.Fprintf(&b, "errors larger than one bottle in 500, seen by bottles, goods or strength: %d, unasked %d\n", r.larger, len(r.unasked))
	fmt.Fprintf(&b, "errors larger than one bottle in 500 that only the spirit sees: %d, unasked %d, the largest of these %.1f measuring errors\n", r.spiritLarger, r.spiritUnasked, r.worst)
	fmt.Fprintf(&b, "parties without an error: %d; %d of them lost a bottle or closure in 500 unwritten and were asked; of the others %.1f %% were asked about something", r.clean, r.wasted, share(r.falseAsked, r.clean-r.wasted))
	return b.String()
}

// Broken is what was promised and not kept: 80 % ranked first, nothing larger
// than one bottle in 500 unasked that bottles, goods or strength can see, less
// than 2 % of what only the spirit sees, and few asked about for nothing.
func (r Record) Broken() []string {
	out := slices.Clone(r.unasked)
	if 5*r.first < 4*r.parties {
		out = append(out, "the planted error is first in less than 80 %")
	}
	if 50*r.spiritUnasked > r.spiritLarger {
		out = append(out, "2 % and more of what only the spirit sees passed unasked")
	}
	if 100*r.falseAsked > 15*(r.clean-r.wasted) {
		out = append(out, "more than 15 % of the parties without an error were asked about something")
	}
	return out
}
