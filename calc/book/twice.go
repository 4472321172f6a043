package book

import (
	"fmt"
	"reflect"
	"slices"
	"time"
)

// twiceWithin says of which kinds two devices can tell one thing, and how close
// together they then do. Moves, draws and a bottling's counts have rules of their own.
var twiceWithin = map[string]time.Duration{
	"delivery received":  24 * time.Hour,
	"material prepared":  24 * time.Hour,
	"goods received":     24 * time.Hour,
	"mash made":          24 * time.Hour,
	"addition made":      2 * time.Hour,
	"mash moved":         24 * time.Hour,
	"mash discarded":     24 * time.Hour,
	"run started":        2 * time.Hour,
	"water added":        2 * time.Hour,
	"sugar added":        2 * time.Hour,
	"infusion begun":     24 * time.Hour,
	"infusion drained":   24 * time.Hour,
	"spirit received":    24 * time.Hour,
	"loss recorded":      24 * time.Hour,
	"sample taken":       2 * time.Hour,
	"spirit destroyed":   24 * time.Hour,
	"goods issued":       2 * time.Hour,
	"goods returned":     2 * time.Hour,
	"bottling opened":    2 * time.Hour,
	"bottles dumped":     24 * time.Hour,
	"cases removed":      2 * time.Hour,
	"cases returned":     2 * time.Hour,
	"ferment checked":    10 * time.Minute,
	"vessel registered":  7 * 24 * time.Hour,
	"product registered": 7 * 24 * time.Hour,
	"goods registered":   7 * 24 * time.Hour,
}

// recent is the last entries of such kinds, in book order.
type recent struct {
	ring [64]telling
	n    int
}

type telling struct {
	leaf *leaf
	body Body
	ms   int64
}

// twice asks where another device has just told the same thing.
func (t *turn) twice(body Body) {
	within, ok := twiceWithin[t.entry.Kind]
	if !ok {
		return
	}
	r := &t.state.notes.told
	now := t.now().ms
	for i := 1; i <= min(r.n, len(r.ring)); i++ {
		was := &r.ring[(r.n-i)%len(r.ring)]
		if now-was.ms > within.Milliseconds() {
			break
		}
		if was.leaf.Kind == t.entry.Kind && was.leaf.Device != t.entry.Device && sameThing(was.body, body) {
			t.ask(Twice, fmt.Sprintf("Two devices wrote ‘%s’ with the same figures within %s.", t.entry.Kind, roughly(within)),
				proposeVoid(t.entry.address, "one thing, told by two devices"), was.leaf.address)
			break
		}
	}
	r.ring[r.n%len(r.ring)] = telling{t.entry, body, now}
	r.n++
}

func roughly(d time.Duration) string {
	switch {
	case d >= 48*time.Hour:
		return fmt.Sprintf("%d days", d/(24*time.Hour))
	case d >= 2*time.Hour:
		return fmt.Sprintf("%d hours", d/time.Hour)
	}
	return fmt.Sprintf("%d minutes", d/time.Minute)
}

// sameThing reports whether two bodies of one kind say the same but for words
// that each writer chooses.
func sameThing(a, b Body) bool {
	k := KindOf(a)
	av, bv := reflect.ValueOf(a).Elem(), reflect.ValueOf(b).Elem()
	for i := range k.Fields {
		f := &k.Fields[i]
		if f.Key == "note" || f.Key == "name" && k.Begins == ALot {
			continue
		}
		if !reflect.DeepEqual(av.FieldByIndex(f.index).Interface(), bv.FieldByIndex(f.index).Interface()) {
			return false
		}
	}
	return true
}

// A twin is two phones that wrote the same at one station, and how often.
type twin struct {
	station Station
	a, b    string
	times   int
}

// At a station two phones are not thought to count as many cases each within
// palletWithin by chance, nor the same tap within tapWithin every time (common
// practice, no source).
const (
	palletWithin = 30 * time.Minute
	tapWithin    = 2 * time.Minute
)

// tally adds to a run what a phone told of it, and asks where it looks counted
// already: a pallet by its mark, several cases by their number. Two phones at
// one station that tap single cases at the same moments may be right, so they
// are asked about the first time, the second, the fourth and so on, and nobody
// answers eighty questions.
func (t *turn) tally(r *Bottling, now Tallied) {
	now.Entry, now.Device, now.On = t.entry.address, t.entry.Device, t.now()
	for i := len(r.Tally) - 1; i >= 0; i-- {
		was := &r.Tally[i]
		apart := now.On.Since(was.On)
		same := was.Station == now.Station && was.Spoiled == now.Spoiled
		switch {
		case !same || now.Pallet != was.Pallet && now.Pallet != "" && was.Pallet != "":
			continue
		case now.Pallet != "" && now.Pallet == was.Pallet:
			t.ask(Twice, fmt.Sprintf("Pallet %s was counted at the station ‘%s’ before: %d bottles then, %d now.", now.Pallet, now.Station, was.Bottles, now.Bottles),
				proposeVoid(now.Entry, "the same pallet, counted twice"), was.Entry)
		case was.Device == now.Device || was.Cases != now.Cases || was.Bottles != now.Bottles:
			continue
		case now.Cases > 1 && apart <= palletWithin:
			t.ask(Twice, fmt.Sprintf("Two phones counted %d cases at the station ‘%s’ within %s: it may be one pallet.", now.Cases, now.Station, roughly(palletWithin)),
				proposeVoid(now.Entry, "the same pallet, counted by two phones"), was.Entry)
		case apart <= tapWithin:
			if n := r.twinned(now.Station, was.Device, now.Device); n&(n-1) == 0 {
				t.ask(Twice, fmt.Sprintf("Two phones wrote the same of the station ‘%s’ within %s, %d times by now: do they count the same bottles?", now.Station, roughly(tapWithin), n),
					proposeVoid(now.Entry, "counted by two phones"), was.Entry)
			}
		default:
			continue
		}
		break
	}
	r.Tally = append(r.Tally, now)
}

// twinned counts one more time that two phones wrote the same.
func (r *Bottling) twinned(at Station, a, b string) int {
	if a > b {
		a, b = b, a
	}
	twins := slices.Clone(r.twins)
	defer func() { r.twins = twins }()
	for i := range twins {
		if w := &twins[i]; w.station == at && w.a == a && w.b == b {
			w.times++
			return w.times
		}
	}
	twins = append(twins, twin{at, a, b, 1})
	return 1
}
