package book

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/quantity"
)

// life draws entries of every kind, sensible and impossible, from three devices
// whose clocks run apart: each passes Check, none is held against the state.
type life struct {
	t       testing.TB
	rnd     *rand.Rand
	entries []*Entry
	seq     map[string]uint64
	minute  int
	begun   map[Class][]Address
	never   string // a kind that is not written
}

func (l *life) int(low, high int) int { return low + l.rnd.IntN(high-low+1) }
func (l *life) one(percent int) bool  { return l.int(0, 99) < percent }

func pick[T any](l *life, list []T) T { return list[l.int(0, len(list)-1)] }

// write seals a body by a device, most often a few minutes after the last.
func (l *life) write(b Body) *Entry {
	device := pick(l, []string{"heron41", "alder7", "vole23"})
	l.minute += l.int(0, 600)
	written := moment(l.minute)
	happened := written
	if l.one(15) { // told late
		happened = moment(max(0, l.minute-l.int(0, 40000)))
	}
	l.seq[device]++
	k := KindOf(b)
	e := &Entry{ID: fmt.Sprintf("%s/%d", device, l.seq[device]), Device: device, Seq: l.seq[device], Clock: fmt.Sprintf("%012x-0000", written.ms),
		Written: written, Happened: happened, Kind: k.Name, Version: k.Version, Body: b, Raw: Encode(b)}
	l.entries = append(l.entries, e)
	if k.Begins != "" {
		l.begun[k.Begins] = append(l.begun[k.Begins], e.Address())
	}
	return e
}

func (l *life) must(kind, body string) {
	b, faults := Compose(kind, US, []byte(body))
	require.Empty(l.t, faults)
	l.write(b)
}

// ref names something of a class, now and then something that is not there.
func (l *life) ref(c Class) string {
	all := l.begun[c]
	switch c {
	case AnEntry:
		for _, e := range l.entries {
			all = append(all, e.Address())
		}
	case ALot:
		all = append(slices.Clone(all), l.begun[ABottling]...)
	}
	if len(all) == 0 || l.one(2) {
		return "heron41-99999"
	}
	return string(pick(l, all))
}

// figure draws a figure of the size of a small house within the field's limits.
func (l *life) figure(f *Field) string {
	u := pick(l, f.Units)
	low, high := 0, 400
	switch u.Dimension() {
	case quantity.Temperature:
		if low, high = 5, 30; u == quantity.Fahrenheit {
			low, high = 40, 90
		}
	case quantity.Strength:
		if low, high = 0, 100; u == quantity.Proof {
			high = 200
		}
	case quantity.Gravity:
		return fmt.Sprintf("1.%03dsg", l.int(0, 120))
	case quantity.Acidity:
		return fmt.Sprintf("%d.%dpH", l.int(2, 6), l.int(0, 9))
	case quantity.Volume:
		if u == quantity.Millilitre {
			high = 2000
		}
	case quantity.Share:
		high = 100
	}
	return fmt.Sprintf("%d.%d%s", l.int(low, high-1), l.int(0, 9), u.Symbol())
}

// gauge draws one of the ways to measure spirit.
func (l *life) gauge(m map[string]any) {
	volume := &Field{Units: []quantity.Unit{quantity.Gallon, quantity.Litre}}
	weight := &Field{Units: []quantity.Unit{quantity.Pound, quantity.Kilogram}}
	strength := &Field{Units: []quantity.Unit{quantity.Proof, quantity.ABV20}}
	temp := &Field{Units: []quantity.Unit{quantity.Fahrenheit, quantity.Celsius}}
	switch l.int(0, 4) {
	case 0: // nothing measured
	case 1:
		m["volume"], m["temp"], m["indicated"] = l.figure(volume), l.figure(temp), l.figure(strength)
	case 2:
		m["volume"], m["volume_temp"], m["strength"] = l.figure(volume), l.figure(temp), l.figure(strength)
	case 3:
		m["net"], m["strength"] = l.figure(weight), l.figure(strength)
	case 4:
		m["volume"], m["volume_temp"] = l.figure(volume), l.figure(temp)
	}
}

var gaugeKeys = []string{"volume", "volume_temp", "gross", "tare", "net", "indicated", "temp", "hydrometer", "thermometer", "indicated_correction", "temp_correction", "strength"}

func (l *life) object(fields []Field) map[string]any {
	m := map[string]any{}
	gauged := slices.ContainsFunc(fields, func(f Field) bool { return f.Key == "indicated_correction" }) &&
		slices.ContainsFunc(fields, func(f Field) bool { return f.Key == "net" })
	if gauged {
		l.gauge(m)
	}
	for i := range fields {
		f := &fields[i]
		if gauged && slices.Contains(gaugeKeys, f.Key) || !f.Need && !l.one(30) {
			continue
		}
		switch f.Type {
		case Figure:
			m[f.Key] = l.figure(f)
		case Count:
			m[f.Key] = l.int(1, 12)
		case Text:
			m[f.Key] = pick(l, []string{"AB", "CD", "2026-01", "2026-02"})
		case Word:
			m[f.Key] = pick(l, f.Words)
		case Naming:
			m[f.Key] = l.ref(f.RefTo)
		case Flag:
			m[f.Key] = true
		case Time:
			m[f.Key] = moment(l.int(0, max(1, l.minute))).String()
		case Date:
			m[f.Key] = moment(l.int(0, max(1, l.minute))).Day()
		case Group:
			parts := []any{}
			for range l.int(1, 3) {
				parts = append(parts, l.object(f.Fields))
			}
			m[f.Key] = parts
		}
	}
	return m
}

// body draws a body of a kind that passes Check; nil after some tries.
func (l *life) body(k *Kind) Body {
	for range 12 {
		m := l.object(k.Fields)
		if k.Name == "table loaded" {
			m["rows"] = []any{map[string]any{"reading": l.int(100, 110), "from": l.int(50, 60), "proofs": fmt.Sprintf("%d.5 %d.1", l.int(90, 110), l.int(90, 110))}}
		}
		if k.Name == "group share agreed" {
			m["year"] = "2026"
		}
		typed, err := json.Marshal(m)
		require.NoError(l.t, err)
		if b, faults := Compose(k.Name, US, typed); len(faults) == 0 {
			return b
		}
	}
	return nil
}

// correct draws a correction of some entry, perhaps of a correction.
func (l *life) correct() {
	e := pick(l, l.entries)
	k, _ := KindNamed(e.Kind)
	if l.one(40) || k.Name == "entry amended" || k.Name == "entry voided" {
		l.write(&EntryVoided{Entry: e.Address(), Why: "not so"})
		return
	}
	if b := l.body(k); b != nil {
		a := &EntryAmended{Entry: e.Address(), Why: "wrong", Version: int64(k.Version), Body: Encode(b)}
		if l.one(30) {
			a.Happened = moment(l.int(0, l.minute))
		}
		l.write(a)
	}
}

// aLife draws a house, then whatever happens in it.
func aLife(t testing.TB, seed uint64, most int) []*Entry { return lifeOf(t, seed, most).entries }

func lifeOf(t testing.TB, seed uint64, most int) *life {
	l := &life{t: t, rnd: rand.New(rand.NewPCG(seed, 7)), seq: map[string]uint64{}, begun: map[Class][]Address{}}
	l.must("book opened", `{"name":"Hollow Alder","convention":"us"}`)
	for _, v := range []string{"fermenter", "fermenter", "still", "receiver", "receiver", "tank", "tank", "bottling tank"} {
		l.must("vessel registered", fmt.Sprintf(`{"name":%q,"use":%q,"capacity":"250gal"}`, v+fmt.Sprint(len(l.entries)), v))
	}
	for range 2 {
		l.must("vessel registered", `{"name":"Barrel","use":"barrel","capacity":"53gal","cooperage":"charred new"}`)
	}
	l.must("product registered", `{"name":"Quince brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":"12"}`)
	l.must("goods registered", `{"name":"Glass","type":"bottle","counted_in":"pieces","reorder":"100"}`)
	l.must("goods registered", `{"name":"Yeast","type":"yeast","counted_in":"weight"}`)
	for _, tank := range l.begun[AVessel][3:8] {
		l.must("spirit received", fmt.Sprintf(`{"vessel":%q,"reason":"bought in","class":"other","account":%q,"volume":"%dgal","volume_temp":"60F","strength":"%dproof"}`,
			tank, pick(l, []string{"production", "storage", "processing"}), l.int(5, 200), l.int(20, 190)))
	}
	for _, m := range []string{"fruit", "grain"} {
		l.must("delivery received", fmt.Sprintf(`{"material":%q,"variety":"Quince","net":"%dkg"}`, m, l.int(200, 3000)))
	}
	for i, lot := range l.begun[ALot][5:7] {
		l.must("mash made", fmt.Sprintf(`{"fermenter":%q,"type":"fruit mash","parts":[{"lot":%q,"weight":"%dkg"}],"volume":"%dgal"}`, l.begun[AVessel][i], lot, l.int(100, 800), l.int(40, 240)))
	}
	l.must("goods received", fmt.Sprintf(`{"good":%q,"pieces":"2000"}`, l.begun[AGood][0]))
	l.must("goods received", fmt.Sprintf(`{"good":%q,"weight":"4kg"}`, l.begun[AGood][1]))
	l.must("run started", fmt.Sprintf(`{"still":%q,"product":%q,"charge":[{"vessel":%q,"volume":"%dgal"},{"vessel":%q}]}`,
		l.begun[AVessel][2], l.begun[AProduct][0], l.begun[AVessel][0], l.int(10, 200), l.begun[AVessel][3]))
	l.must("bottling opened", fmt.Sprintf(`{"product":%q,"tank":%q,"volume":"%dgal","volume_temp":"60F","strength":"80proof"}`, l.begun[AProduct][0], l.begun[AVessel][7], l.int(5, 60)))
	l.live(l.int(5, most))
	return l
}

// live writes so many entries of any kind.
func (l *life) live(n int) {
	weighted := Kinds()
	for _, k := range Kinds() { // what moves alcohol comes more often
		if k.Room == StillRoom || k.Room == SpiritStore || k.Room == BottlingFloor || k.Room == MashRoom {
			weighted = append(weighted, k, k)
		}
	}
	for range n {
		k := pick(l, weighted)
		switch {
		case l.one(8):
			l.correct()
		case k.Name == "entry amended" || k.Name == "entry voided" || k.Name == "book opened" || k.Name == l.never:
		default:
			if b := l.body(k); b != nil {
				l.write(b)
			}
		}
	}
}

// requireSound holds what must be true of every state.
func requireSound(t require.TestingT, s *State) {
	requireConserved(t, s)
	for a, v := range s.Vessels {
		var sum int64
		for _, p := range v.Content.Parts {
			sum += p.Amount
		}
		require.Equal(t, v.Content.amount(), sum, "%s: the parts add up to the content", v.Name)
		if g := &v.Aged; g.Full() && v.Wooden() && v.Content.Material.Accounted() {
			require.Equal(t, v.Content.Alcohol, g.In.Alcohol-g.Lost.Alcohol, "%s: what went into the wood is there or lost", v.Name)
			require.Equal(t, v.Content.Mass, g.In.Mass-g.Lost.Mass, "%s: what went into the wood is there or lost", v.Name)
		}
		if list := s.Composition(a); len(list) > 0 {
			whole := 0.0
			for _, x := range list {
				whole += x.Share
			}
			require.InDelta(t, 1, whole, 1e-9, "%s: the shares sum to one", v.Name)
		}
	}
	for a, l := range s.Lots {
		if len(l.From) == 0 {
			continue
		}
		whole := 0.0
		for _, o := range s.Origins(a) {
			whole += o.Share
		}
		if slices.ContainsFunc(l.From, func(p Part) bool { return p.Amount > 0 }) {
			require.LessOrEqual(t, math.Abs(whole-1), 1e-6, "%s: the shares of its origins sum to one", a)
		}
	}
	for _, g := range s.GoodsLots {
		require.Equal(t, g.Received-g.Issued-g.Used-g.Spoiled+g.Adjusted, g.OnHand())
	}
}

// complaint collects what a check says is wrong, the first thing only.
type complaint struct{ says string }

func (c *complaint) Errorf(format string, args ...any) {
	if c.says == "" {
		c.says = fmt.Sprintf(format, args...)
	}
}

func (c *complaint) FailNow() { panic(c) }

// complain runs a check and gives what it found wrong.
func complain(check func(require.TestingT)) (says string) {
	c := &complaint{}
	defer func() {
		if r := recover(); r != nil && r != any(c) {
			says = fmt.Sprintf("panic: %v\n%s", r, debug.Stack())
		} else {
			says = c.says
		}
	}()
	check(c)
	return ""
}

// holds checks entries, and shows the fewest of them that fail.
func holds(t *rapid.T, entries []*Entry, check func(require.TestingT, []*Entry)) {
	wrong := func(list []*Entry) string { return complain(func(c require.TestingT) { check(c, list) }) }
	if wrong(entries) == "" {
		return
	}
	for again := true; again; {
		again = false
		for i := len(entries) - 1; i >= 0; i-- {
			if fewer := slices.Delete(slices.Clone(entries), i, i+1); wrong(fewer) != "" {
				entries, again = fewer, true
			}
		}
	}
	var b strings.Builder
	for _, e := range entries {
		fmt.Fprintf(&b, "%s %s %s %s\n", e.Address(), e.Happened, e.Kind, e.Raw)
	}
	t.Fatalf("%s\nin the book of\n%s", wrong(entries), b.String())
}

// Property: whatever is told, alcohol is neither made nor unmade, the parts of
// every content add up to it, and the shares of every lot sum to one.
func TestEveryLifeConserves(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		entries := aLife(t, rapid.Uint64().Draw(rt, "life"), 120)
		holds(rt, entries, func(t require.TestingT, list []*Entry) {
			s := fold(list...).State()
			requireSound(t, s)
			s.Overdue(moment(100000))
			for _, e := range list {
				s.Timely(e.Body)
			}
		})
	})
}

// forge spoils an object of a body: leaves fields out, turns figures negative,
// puts words where none of the kind's stand.
func (l *life) forge(fields []Field, m map[string]any) {
	for i := range fields {
		f := &fields[i]
		switch v, ok := m[f.Key]; {
		case ok && l.one(8):
			delete(m, f.Key)
		case ok && l.one(15):
			switch f.Type {
			case Figure:
				m[f.Key] = "-" + strings.TrimPrefix(v.(string), "-")
			case Count:
				m[f.Key] = -l.int(1, 1e9)
			case Word:
				m[f.Key] = pick(l, []string{"", "mash", "spirit", "nonsense", "lost", "finished"})
			case Date:
				m[f.Key] = "2026-99-99"
			case Text:
				m[f.Key] = "\u0000"
			}
		case ok && f.Type == Group:
			for _, part := range v.([]any) {
				l.forge(f.Fields, part.(map[string]any))
			}
		}
	}
}

// Property: an entry that no phone of ours would have saved, well formed and
// senseless, is kept; it ends no fold, and makes and unmakes no alcohol.
func TestSenselessEntriesDoNoHarm(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := lifeOf(t, rapid.Uint64().Draw(rt, "life"), 60)
		for range 80 {
			k := pick(l, Kinds())
			m := l.object(k.Fields)
			l.forge(k.Fields, m)
			stored, err := json.Marshal(m)
			require.NoError(rt, err)
			if b, err := Decode(k.Name, k.Version, stored); err == nil && b != nil {
				l.write(b)
			}
		}
		holds(rt, l.entries, func(t require.TestingT, list []*Entry) {
			s := fold(list...).State()
			requireConserved(t, s)
			s.Overdue(moment(200000))
			for _, e := range list {
				s.Timely(e.Body)
			}
			for a := range s.Lots {
				s.Ancestry(a)
				s.Descent(a)
				s.Origins(a)
			}
		})
	})
}

// A life long enough for the fold to keep marks and go back to them: what one
// mark holds is not touched by what is folded after it.
func TestALongLifeArrivesLateAndTheBookIsTheSame(t *testing.T) {
	for seed := range uint64(3) {
		l := lifeOf(t, seed, 6)
		l.never = "month closed" // which sends the fold back to the month's beginning
		l.live(3500)
		plain := New()
		plain.marks = []mark{{n: math.MaxInt}} // so that it never copies its state
		plain.Add(l.entries...)
		want := digest(plain.State())
		b := New()
		late := slices.Clone(l.entries)
		slices.SortFunc(late, func(x, y *Entry) int { return x.place().compare(y.place()) })
		for n := 400; len(late) > 0; n = 1 + l.rnd.IntN(400) {
			n = min(n, len(late))
			b.Add(late[:n]...)
			late = late[n:]
			if len(late) > 30 { // one from far ahead, and its neighbours when their turn comes
				b.Add(late[l.rnd.IntN(len(late))])
			}
		}
		require.Equal(t, want, digest(b.State()), "seed %d", seed)
		b = New()
		shuffled := slices.Clone(l.entries)
		l.rnd.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		for batch := range slices.Chunk(shuffled, 250) {
			b.Add(batch...)
		}
		require.Equal(t, want, digest(b.State()), "seed %d", seed)
		requireSound(t, b.State())
	}
}

// Property: an entry that Timely lets pass, written now, is one the book can
// take in: it names what is there and takes what is held.
func TestWhatIsTimelyIsNotAskedAbout(t *testing.T) {
	passed := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		l := lifeOf(t, rapid.Uint64().Draw(rt, "life"), 40)
		k := pick(l, Kinds())
		body := l.body(k)
		if body == nil || k.Name == "question settled" {
			return
		}
		before := slices.Clone(l.entries)
		l.minute += 50000
		next := l.write(body)
		next.Happened = next.Written
		b := fold(before...)
		if len(b.State().Timely(body)) > 0 {
			return
		}
		passed[k.Name]++
		holds(rt, before, func(t require.TestingT, list []*Entry) {
			b := fold(list...)
			if len(b.State().Timely(body)) > 0 {
				return
			}
			b.Add(next)
			for _, q := range b.State().Questions() {
				if q.Entries[0] == next.Address() && slices.Contains([]QuestionKind{Dangling, NothingThere, Overdrawn, BeforeReading, AddressTaken}, q.Kind) {
					require.Fail(t, "asked about a timely entry", "%s: %s\n%s %s", q.Kind, q.Says, next.Kind, next.Raw)
				}
			}
		})
	})
	t.Log("kinds that passed:", len(passed))
}

// Property: the book depends on the set of its entries, not on how they came:
// shuffled, in parts, twice, one at a time.
func TestEveryArrivalGivesTheSameBook(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		entries := aLife(t, rapid.Uint64().Draw(rt, "life"), 80)
		arrival := rapid.Uint64().Draw(rt, "arrival")
		holds(rt, entries, func(t require.TestingT, list []*Entry) {
			rnd := rand.New(rand.NewPCG(arrival, 1))
			shuffled := slices.Clone(list)
			rnd.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
			b := New()
			for len(shuffled) > 0 {
				n := 1 + rnd.IntN(min(7, len(shuffled)))
				b.Add(shuffled[:n]...)
				b.Add(shuffled[n-1], list[0])
				shuffled = shuffled[n:]
				b.State().Questions() // looking changes nothing
			}
			require.Equal(t, digest(fold(list...).State()), digest(b.State()))
			requireSound(t, b.State())
		})
	})
}

// The properties are worth what the lives contain: every kind of entry, and
// most of what the book can ask.
func TestTheLivesHoldEveryKind(t *testing.T) {
	kinds, asked := map[string]int{}, map[QuestionKind]int{}
	for seed := range uint64(150) {
		b := fold(aLife(t, seed, 120)...)
		for e := range b.All {
			kinds[e.Kind]++
		}
		for _, q := range b.State().Questions() {
			asked[q.Kind]++
		}
	}
	for _, k := range Kinds() {
		assert.Greater(t, kinds[k.Name], 5, "entries of the kind %q in 150 lives", k.Name)
	}
	for _, k := range []QuestionKind{Overdrawn, OverFull, Twice, GaugeDisagrees, ClosedMonth, OffLabel, Dangling, BeforeReading, CountDisagrees, Mixing, NothingThere, AboveLimit, OffFill} {
		assert.Positive(t, asked[k], "questions %q in 150 lives", k)
	}
}
