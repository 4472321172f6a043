package simulate

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// A Failure is a day that broke a promise, with everything left out that it
// did not need to.
type Failure struct {
	Seed      uint64
	Violation Violation
	plan      plan
	options   Options
}

// mostReplays bounds the search for a shorter day.
const mostReplays = 600

// Shorten plays a failing day again and again with less in it, and keeps what
// goes on breaking the same promise.
func Shorten(seed uint64, o Options, v Violation) Failure {
	o.Trace = nil
	f := Failure{Seed: seed, Violation: v, plan: draw(seed), options: o}
	replays := 0
	fails := func(p plan) bool {
		if replays++; replays > mostReplays {
			return false
		}
		r := play(seed, p, o)
		if r.Violation == nil || r.Violation.Oracle != v.Oracle {
			return false
		}
		f.plan, f.Violation = p, *r.Violation
		return true
	}
	for _, kind := range Faults() {
		p := f.plan
		p.without[kind] = true
		fails(p)
	}
	for size := (len(f.plan.actions) + 1) / 2; size > 0; size /= 2 {
		for from := 0; from < len(f.plan.actions); {
			p := f.plan
			p.actions = slices.Delete(slices.Clone(p.actions), from, min(from+size, len(p.actions)))
			if !fails(p) {
				from += size
			}
		}
	}
	for kind := range firstAction {
		for n := 64; n > 0 && !f.plan.without[kind]; n /= 2 {
			p := f.plan
			p.skip[kind] += n
			fails(p)
		}
	}
	for f.plan.phones > 1 && !slices.ContainsFunc(f.plan.actions, func(a action) bool { return a.phone == f.plan.phones-1 }) {
		p := f.plan
		p.phones--
		if !fails(p) {
			break
		}
	}
	return f
}

// String is the failure in a few lines: what broke, and what it takes.
func (f Failure) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "seed %d broke “%s” at %.3fs: %s\n", f.Seed, f.Violation.Oracle, float64(f.Violation.AtMS)/1000, f.Violation.Detail)
	fmt.Fprintf(&b, "it takes %d phones, %d actions", f.plan.phones, len(f.plan.actions))
	struck := play(f.Seed, f.plan, f.options).Coverage.Faults
	for kind, n := range struck {
		if n > 0 {
			fmt.Fprintf(&b, ", %s ×%d", Fault(kind), n)
		}
	}
	b.WriteString("\n")
	return b.String()
}

// Trace plays the shortened day and writes what happens.
func (f Failure) Trace(w io.Writer) {
	o := f.options
	o.Trace = w
	play(f.Seed, f.plan, o)
}
