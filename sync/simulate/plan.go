package simulate

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// A plan is the part of a day that is drawn before it begins: how many
// phones, who does what when, and how often each fault strikes.
type plan struct {
	phones  int
	actions []action
	rates   [faults]float64
	without [faults]bool // left out while shortening
	skip    [faults]int  // so many strikes left out, while shortening
}

// An action happens at a time of the day whatever else happens.
type action struct {
	at    int64 // ms
	what  doing
	fault Fault // with doing fault
	phone int
	n     uint64 // what the action draws from
}

type doing int

const (
	save doing = iota
	look       // the page comes to the front
	leave
	ask // a person asks for an exchange
	backup
	fault
)

const maxPhones = 8 // clones included

func draw(seed uint64) plan {
	r := stream(seed, streamPlan)
	p := plan{phones: 2 + r.IntN(4)}
	length := int64(60_000 + r.IntN(1_200_000))
	at := func() int64 { return r.Int64N(length) }
	add := func(what doing, f Fault) {
		p.actions = append(p.actions, action{at: at(), what: what, fault: f, phone: r.IntN(p.phones), n: r.Uint64()})
	}
	for range 20 + r.IntN(100) {
		add(save, 0)
	}
	// A hurried hand: saves in two tabs within the same second.
	for range r.IntN(5) {
		from, phone := at(), r.IntN(p.phones)
		for range 2 + r.IntN(8) {
			p.actions = append(p.actions, action{at: from + r.Int64N(40), what: save, phone: phone, n: r.Uint64()})
		}
	}
	for range r.IntN(30) {
		add([]doing{look, leave, ask}[r.IntN(3)], 0)
	}
	for range 1 + r.IntN(3) {
		add(backup, 0)
	}
	for f := firstAction; f < faults; f++ {
		if r.Float64() < 0.6 {
			continue // most days most things go well
		}
		for range 1 + r.IntN(often(f)) {
			add(fault, f)
		}
	}
	slices.SortStableFunc(p.actions, func(a, b action) int { return cmp.Compare(a.at, b.at) })
	for f := range firstAction {
		p.rates[f] = rate(r, f)
	}
	return p
}

func often(f Fault) int {
	switch f {
	case Restore, Clone, OldBuild, Eviction:
		return 2
	case Revoke, StorageRot, ServerFull:
		return 3
	}
	return 8
}

func rate(r *rand.Rand, f Fault) float64 {
	if r.Float64() < 0.5 {
		return 0
	}
	most := 0.3
	switch f {
	case PhoneCrashAtEffect, PhoneCrashBeforeStore, PhoneCrashAfterStore, ServerCrashBeforeCommit, ServerCrashAfterCommit:
		most = 0.08
	case TooMuch, TooMany, Busy, Stranger, QuotaAtStore, QuotaAtSave:
		most = 0.15
	}
	return r.Float64() * most
}
