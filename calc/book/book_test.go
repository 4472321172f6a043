package book

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// writer makes entries as a phone would: each a minute after the last, numbered
// without a gap.
type writer struct {
	t      testing.TB
	device string
	seq    uint64
	minute int
}

// opened is when the minutes of a writer are counted from.
var opened = time.Date(2026, 1, 1, 0, 0, 0, 0, time.FixedZone("", -5*60*60))

func moment(minute int) Moment {
	m, err := ParseMoment(opened.Add(time.Duration(minute) * time.Minute).Format(time.RFC3339))
	if err != nil {
		panic(err)
	}
	return m
}

func (w *writer) write(kind, body string) *Entry {
	w.t.Helper()
	b, faults := Compose(kind, US, []byte(body))
	require.Empty(w.t, faults, "%s %s", kind, body)
	return w.seal(b)
}

func (w *writer) seal(b Body) *Entry {
	w.minute++
	w.seq++
	m := moment(w.minute)
	k := KindOf(b)
	return &Entry{ID: fmt.Sprintf("%s/%d", w.device, w.seq), Device: w.device, Seq: w.seq, Clock: fmt.Sprintf("%012x-0000", m.ms),
		Written: m, Happened: m, Kind: k.Name, Version: k.Version, Body: b, Raw: Encode(b)}
}

// house is a small distillery with a run and a bottling.
func house(t testing.TB) (w *writer, entries []*Entry) {
	w = &writer{t: t, device: "heron41"}
	add := func(kind, body string) { entries = append(entries, w.write(kind, body)) }
	add("book opened", `{"name":"Hollow Alder","convention":"us"}`)
	add("vessel registered", `{"name":"Copper","use":"still","capacity":"200 gal"}`)                                                   // 2
	add("vessel registered", `{"name":"R1","use":"receiver","capacity":"60 gal"}`)                                                     // 3
	add("vessel registered", `{"name":"Tank 1","use":"tank","capacity":"250 gal"}`)                                                    // 4
	add("vessel registered", `{"name":"Barrel 7","use":"barrel","capacity":"53 gal","cooperage":"charred new"}`)                       // 5
	add("product registered", `{"name":"Quince brandy","class":"brandy","strength":"80proof","bottle":"750 mL","per_case":"12"}`)      // 6
	add("run started", `{"still":"heron41-2","product":"heron41-6"}`)                                                                  // 7
	add("draw read", `{"run":"heron41-7","indicated":"150","temp":"72","volume":"1"}`)                                                 // 8
	add("receiver changed", `{"run":"heron41-7","fraction":"hearts","receiver":"heron41-3"}`)                                          // 9
	add("draw read", `{"run":"heron41-7","indicated":"145","temp":"70","volume":"20"}`)                                                // 10
	add("receiver gauged", `{"run":"heron41-7","fraction":"hearts","vessel":"heron41-3","volume":"50","indicated":"140","temp":"60"}`) // 11
	add("run ended", `{"run":"heron41-7"}`)                                                                                            // 12
	add("spirit moved", `{"from":"heron41-3","to":"heron41-4","account":"storage"}`)                                                   // 13
	add("spirit moved", `{"from":"heron41-4","to":"heron41-5","volume":"10","temp":"60"}`)                                             // 14
	add("water added", `{"vessel":"heron41-4","water":"30.5"}`)                                                                        // 15
	return w, entries
}

func fold(entries ...*Entry) *Book {
	b := New()
	b.Add(entries...)
	return b
}

// inHouse is the alcohol that vessels and bottles hold, by account.
func inHouse(s *State) map[Account]Alcohol {
	out := map[Account]Alcohol{}
	for _, v := range s.Vessels {
		if v.Content.Material.Accounted() {
			out[v.Content.Account] += v.Content.Alcohol
			var parts int64
			for _, p := range v.Content.Parts {
				parts += p.Amount
			}
			if parts != int64(v.Content.Alcohol) {
				panic(fmt.Sprintf("%s: parts %d, alcohol %d", v.Name, parts, v.Content.Alcohol))
			}
		}
	}
	for _, b := range s.Bottlings {
		out[Finished] += b.Finished - b.Given
	}
	for _, r := range s.Runs {
		if r.Running() {
			out[Distilling] += r.leftToReturn()
		}
	}
	return out
}

// requireConserved holds the double entry: all accounts sum to zero, and what
// the accounts say is in the house is in its vessels, to the last step.
func requireConserved(t require.TestingT, s *State) {
	var sum Alcohol
	for _, a := range Accounts() {
		sum += s.Balance(a)
	}
	require.Zero(t, sum, "the sum over all accounts")
	held := inHouse(s)
	for _, a := range Accounts() {
		if a.InHouse() {
			require.Equal(t, held[a], s.Balance(a), "%s: in vessels and bottles, and in the account", a)
		}
	}
}

func TestARunIsProducedStoredAndReduced(t *testing.T) {
	_, entries := house(t)
	s := fold(entries...).State()
	require.Empty(t, s.Questions())
	requireConserved(t, s)
	// 50 wine gallons of 140 proof at 60 °F are 70 proof gallons (27 CFR 30.51, factor 1).
	assert.Equal(t, "70.0", fmt.Sprintf("%.1f", -s.Balance(Produced).ProofGallons()))
	assert.Equal(t, s.Balance(Storage), -s.Balance(Produced))
	assert.Equal(t, "14.0", fmt.Sprintf("%.1f", s.Vessel("heron41-5").Content.Alcohol.ProofGallons()))
	// 40 gal of 140 proof with 30.5 gal of water stand near 79 proof.
	assert.InDelta(t, 80, s.Vessel("heron41-4").Content.Strength().Proof(), 2)
	lot := s.Lot("heron41-11")
	require.NotNil(t, lot)
	assert.Equal(t, Brandy, lot.Class)
}

func TestABottlingReconciles(t *testing.T) {
	w, entries := house(t)
	entries = append(entries,
		w.write("bottling opened", `{"product":"heron41-6","tank":"heron41-4","volume":"70","temp":"60","strength":"80"}`),
		w.write("bottles counted", `{"bottling":"heron41-16","cases":"29","loose":"3"}`),
		w.write("bottles spoiled", `{"bottling":"heron41-16","reason":"broken","bottles":"2"}`),
		w.write("bottling closed", `{"bottling":"heron41-16","tank_empty":"yes","cause":"bottling"}`),
		w.write("cases removed", `{"bottling":"heron41-16","cases":"10","purpose":"sale"}`),
		w.write("cases returned", `{"bottling":"heron41-16","cases":"1","why":"wrong label"}`),
	)
	s := fold(entries...).State()
	requireConserved(t, s)
	b := s.Bottling("heron41-16")
	require.NotNil(t, b)
	assert.EqualValues(t, 351, b.Good())
	assert.EqualValues(t, 351-108, b.Left())
	bottles, _ := s.Expected(b)
	// 70 wine gallons over 0.75 L: 264.979 L / 0.75 L.
	assert.InDelta(t, 353.3, bottles, 0.1)
	assert.Equal(t, s.Balance(Finished)+s.Balance(TaxDetermined), b.Finished)
	assert.Contains(t, fmt.Sprint(s.Ancestry("heron41-16")[0].Lot.Address), "heron41-11")
}

func TestCorrectionsActAtTheirOldPlaceAndStayReadable(t *testing.T) {
	w, entries := house(t)
	amend := w.write("entry amended", `{"entry":"heron41-11","why":"typed 140 for 130","v":"1","body":{"run":"heron41-7","fraction":"hearts","vessel":"heron41-3","volume":"50gal","indicated":"130proof","temp":"60F"}}`)
	b := fold(append(entries, amend)...)
	requireConserved(t, b.State())
	assert.Equal(t, "65.0", fmt.Sprintf("%.1f", -b.State().Balance(Produced).ProofGallons()))
	h := b.History("heron41-11")
	require.Len(t, h, 2)
	assert.Equal(t, "typed 140 for 130", h[1].Why)

	b.Add(w.write("entry voided", fmt.Sprintf(`{"entry":%q,"why":"140 was right"}`, amend.Address())))
	assert.Equal(t, "70.0", fmt.Sprintf("%.1f", -b.State().Balance(Produced).ProofGallons()))
	require.Len(t, b.History("heron41-11"), 3)
}

func TestAnyOrderOfArrivalGivesTheSameBook(t *testing.T) {
	w, entries := house(t)
	entries = append(entries,
		w.write("entry amended", `{"entry":"heron41-8","why":"the clock","v":"1","happened":"2026-01-01T00:30:00-05:00","body":{"run":"heron41-7","indicated":"150proof","temp":"72F"}}`),
		w.write("entry voided", `{"entry":"heron41-14","why":"not done"}`),
		w.write("entry voided", `{"entry":"heron41-17","why":"it was done"}`),
		w.write("spirit moved", `{"from":"heron41-4","to":"heron41-5","volume":"80","temp":"60"}`))
	want := digest(fold(entries...).State())
	require.Contains(t, want, "more were drawn from Tank 1")
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		shuffled := append([]*Entry(nil), entries...)
		rnd.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		b := New()
		for len(shuffled) > 0 {
			n := 1 + rnd.IntN(len(shuffled))
			b.Add(shuffled[:n]...)
			b.Add(shuffled[0])
			shuffled = shuffled[n:]
		}
		require.Equal(t, want, digest(b.State()))
	}
}

// digest writes what a state says, to compare two.
func digest(s *State) string {
	var b strings.Builder
	for _, p := range s.Postings() {
		fmt.Fprintln(&b, p)
	}
	for _, v := range s.Vessels {
		fmt.Fprintln(&b, v.Name, v.Content, v.History, v.Location, v.Cooperage, v.Rest, v.Infused, v.Found, v.Retired)
	}
	for _, l := range s.Lots {
		fmt.Fprintln(&b, *l)
	}
	for _, r := range s.RawLots {
		fmt.Fprintln(&b, r.Address, r.Net, r.OnHand, r.Prepared)
	}
	for _, g := range s.GoodsLots {
		fmt.Fprintln(&b, g.Address, g.Received, g.Issued, g.Used, g.Spoiled, g.Adjusted, g.Count, g.CountedBy)
	}
	for _, m := range s.Ferments {
		fmt.Fprintln(&b, m.Address, m.Pitched, m.Vessel, m.Finished, len(m.Additions), len(m.Readings))
		for _, c := range m.Checks {
			fmt.Fprintln(&b, c.Entry, c.On)
		}
	}
	for _, x := range s.Trials {
		fmt.Fprintln(&b, x.Address, x.In(), x.Complete(), x.Children)
	}
	for _, x := range s.Bottlings {
		fmt.Fprintln(&b, x.Address, x.Good(), x.Gone, x.Given, x.Finished, x.Missing, x.Goods, x.Counted, len(x.Fills), x.From)
	}
	for a, r := range s.registers.all {
		fmt.Fprintln(&b, a, r.Name, r.Retired)
	}
	for _, x := range s.Tastings() {
		fmt.Fprintln(&b, x.Entry, x.Lots)
	}
	for _, x := range s.Inventories() {
		fmt.Fprintln(&b, x.Entry, x.Book)
	}
	fmt.Fprintln(&b, len(s.Results()), len(s.Costs()), len(s.Filings()), len(s.Returns()), len(s.Recalls()), s.Table().Len(), s.Overdue(moment(90000)))
	for _, r := range s.Runs {
		for _, l := range r.Lines {
			fmt.Fprintln(&b, l.Entry, l.Fraction, l.On)
		}
	}
	for _, q := range s.Questions() {
		fmt.Fprintln(&b, q.ID, q.Says, q.Answer, q.Seen)
	}
	return b.String()
}

func TestBodiesReadBackAsWritten(t *testing.T) {
	w, entries := house(t)
	entries = append(entries, w.write("run started", `{"still":"heron41-2","charge":[{"vessel":"heron41-3","volume":"5 gal","temp":"60"},{"vessel":"heron41-4"}],"note":"a \"quote\", a \\ and\na line"}`))
	for _, e := range entries {
		b, err := Decode(e.Kind, e.Version, e.Raw)
		require.NoError(t, err, "%s", e.Raw)
		require.Equal(t, e.Body, b)
		require.Equal(t, string(e.Raw), string(Encode(b)))
	}
}

func (e *Entry) minute() int { return int((e.Happened.ms - opened.UnixMilli()) / 60_000) }
