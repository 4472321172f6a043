package book

import (
	"fmt"
	"reflect"
	"time"
)

// twiceWithin says of which kinds two devices can tell one thing, and how close
// together they then do. Moves and draws have rules of their own.
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
	"bottles counted":    2 * time.Minute,
	"bottles spoiled":    2 * time.Minute,
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
