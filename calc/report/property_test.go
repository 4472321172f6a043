package report

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/book"
)

var months = []string{"2026-09", "2026-10", "2026-11", "2026-12", "2027-01"}

// A house writes a random life: runs, moves, losses, bottlings and removals in
// any account, entries told late, corrections, months closed on the way.
type house struct {
	*scribe
	r        *rapid.T
	now      time.Time // of writing
	earlier  []*book.Entry
	bottling []book.Address
	closed   int
}

func (h *house) say(kind, body string, args ...any) book.Address {
	h.now = h.now.Add(time.Duration(rapid.IntRange(1, 3000).Draw(h.r, "minutes")) * time.Minute)
	at := h.now
	if rapid.IntRange(0, 9).Draw(h.r, "late") == 0 {
		at = at.AddDate(0, 0, -rapid.IntRange(1, 60).Draw(h.r, "days late"))
	}
	h.ahead = h.now.UnixMilli() - at.UnixMilli()
	e := h.entry(at.Format(time.RFC3339), kind, fmt.Sprintf(body, args...))
	h.b.Add(e)
	h.earlier = append(h.earlier, e)
	return e.Address()
}

func (h *house) pick(what string, from ...string) string {
	return rapid.SampledFrom(from).Draw(h.r, what)
}

func (h *house) tank(what string) string {
	return h.pick(what, "heron41-3", "heron41-4", "heron41-5", "heron41-6")
}

func (h *house) gauge() string {
	return fmt.Sprintf(`"volume":"%d","temp":"60","strength":"%d"`, rapid.IntRange(1, 60).Draw(h.r, "gal"), rapid.IntRange(60, 194).Draw(h.r, "proof"))
}

func (h *house) life(steps int) {
	h.now = time.Date(2026, 9, 1, 8, 0, 0, 0, time.UTC)
	h.write("2026-09-01T08:00:00Z", "book opened", `{"name":"Hollow Alder","convention":"us"}`)
	for _, v := range []string{`"Copper","use":"still"`, `"Tank 1","use":"tank"`, `"Tank 2","use":"tank"`, `"Barrel 1","use":"barrel","cooperage":"charred new"`, `"R1","use":"receiver"`} {
		h.write("2026-09-01T08:00:00Z", "vessel registered", `{"name":`+v+`,"capacity":"900gal"}`)
	}
	for _, c := range []string{"brandy", "whisky", "alcohol and neutral spirits", "other"} {
		h.write("2026-09-01T08:00:00Z", "product registered", fmt.Sprintf(`{"name":%q,"class":%q,"strength":"80proof","bottle":"750mL","per_case":"12"}`, c, c)) // 7 to 10
	}
	product := func() string { return h.pick("product", "heron41-7", "heron41-8", "heron41-9", "heron41-10") }
	account := func() string { return h.pick("account", "production", "storage", "processing") }
	does := []func(){
		func() {
			run := h.say("run started", `{"still":"heron41-2","product":%q,"charge":[{"vessel":%q,%s}]}`, product(), h.tank("charge"), h.gauge())
			h.say("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":%q,"account":%q,%s}`, run, h.tank("into"), account(), h.gauge())
			h.say("run ended", `{"run":%q}`, run)
		},
		func() {
			h.say("spirit received", `{"vessel":%q,"reason":"in bond","class":%q,"account":%q,%s}`, h.tank("into"), h.pick("class", "brandy", "rum", "gin", "vodka", "whisky"), account(), h.gauge())
		},
		func() {
			h.say("spirit moved", `{"from":"heron41-3","to":%q,"account":%q}`, h.pick("to", "heron41-4", "heron41-5"), account())
		},
		func() {
			h.say("spirit moved", `{"from":%q,"to":"heron41-3",%s}`, h.pick("from", "heron41-4", "heron41-6"), h.gauge())
		},
		func() { h.say("loss recorded", `{"vessel":%q,"cause":"leak",%s}`, h.tank("of"), h.gauge()) },
		func() { h.say("gain recorded", `{"vessel":%q,"cause":"measurement",%s}`, h.tank("of"), h.gauge()) },
		func() { h.say("spirit gauged", `{"vessel":%q,"cause":"evaporation",%s}`, h.tank("of"), h.gauge()) },
		func() { h.say("sample taken", `{"vessel":%q,"volume":"750","purpose":"laboratory"}`, h.tank("of")) },
		func() {
			h.say("spirit destroyed", `{"vessel":%q,"manner":"drain","witness":"J. S.",%s}`, h.tank("of"), h.gauge())
		},
		func() {
			b := h.say("bottling opened", `{"product":%q,"tank":%q,%s}`, product(), h.tank("of"), h.gauge())
			h.say("bottles counted", `{"bottling":%q,"cases":"%d","loose":"3"}`, b, rapid.IntRange(1, 20).Draw(h.r, "cases"))
			h.say("bottling closed", `{"bottling":%q,"tank_empty":"yes","cause":"bottling"}`, b)
			h.bottling = append(h.bottling, b)
		},
		func() {
			if len(h.bottling) > 0 {
				b := rapid.SampledFrom(h.bottling).Draw(h.r, "bottling")
				h.say("cases removed", `{"bottling":%q,"loose":"%d","purpose":%q}`, b, rapid.IntRange(1, 40).Draw(h.r, "bottles"), h.pick("purpose", "sale", "tasting room", "export", "in bond", "sample", "destroyed", "broken", "missing"))
			}
		},
		func() {
			if len(h.bottling) > 0 {
				b := rapid.SampledFrom(h.bottling).Draw(h.r, "bottling")
				switch h.pick("back", "returned", "found", "dumped") {
				case "returned":
					h.say("cases returned", `{"bottling":%q,"loose":"2","why":"label"}`, b)
				case "found":
					h.say("cases found", `{"bottling":%q,"loose":"1","why":"behind the pallet"}`, b)
				default:
					h.say("bottles dumped", `{"bottling":%q,"loose":"5","to":%q,"why":"haze"}`, b, h.tank("into"))
				}
			}
		},
		func() {
			if len(h.earlier) == 0 {
				return
			}
			e := rapid.SampledFrom(h.earlier).Draw(h.r, "voided")
			h.say("entry voided", `{"entry":%q,"why":"it did not happen"}`, e.Address())
		},
		func() {
			if len(h.earlier) == 0 {
				return
			}
			e := rapid.SampledFrom(h.earlier).Draw(h.r, "amended")
			body := strings.NewReplacer(`60F`, `61F`, `"loose":3`, `"loose":4`, `"cases":1`, `"cases":2`).Replace(string(e.Raw))
			h.say("entry amended", `{"entry":%q,"why":"read again","v":"1","body":%s}`, e.Address(), body)
		},
		func() {
			if month := months[h.closed]; month < h.now.Format("2006-01") && h.closed < len(months)-1 {
				h.say("month closed", "%s", book.Encode(Close(h.b.State(), month, "")))
				h.closed++
			}
		},
	}
	for range steps {
		does[rapid.IntRange(0, len(does)-1).Draw(h.r, "does")]()
	}
}

func randomHouse(t *rapid.T) *house {
	h := &house{scribe: newScribe(t, book.US), r: t}
	h.life(rapid.IntRange(1, 40).Draw(t, "steps"))
	return h
}

func TestEveryMonthOfARandomHouse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := randomHouse(t)
		s := h.b.State()
		require.Empty(t, Balances(s), "accounts, postings and vessels")
		closed := s.Closed()
		open := firstOpen(closed)
		var last *Month
		for _, month := range months {
			m := Of(s, month)
			holdsEquations(t, m, last)
			last = &m
			cellsAreTheirEntries(t, &m, closed[month] == nil && month != open)
			everyPostingStandsOnOneLine(t, s, &m, closed[month] == nil && month != open)
			require.Equal(t, m.Digest, Close(s, month, "").Digest)
			if c := closed[month]; c != nil {
				require.Equal(t, c.Digest, m.Digest, "%s is not rewritten", month)
			}
		}
		for _, c := range Closings(h.b) {
			require.True(t, c.Intact, c.Month)
			require.Empty(t, c.Differs, "%s, closed by %s", c.Month, c.By.Address())
		}
	})
}

// cellsAreTheirEntries holds each figure against what it opens into.
func cellsAreTheirEntries(t require.TestingT, m *Month, plain bool) {
	for _, f := range m.Forms {
		for _, l := range f.Lines {
			if l.what == opening || l.what == closing || l.what == totalIn || l.what == totalOut || strings.HasPrefix(l.Number, "17(") {
				continue
			}
			for _, c := range l.Cells {
				sum := c.Adjusted
				for _, e := range c.Entries {
					sum += e.Amount
				}
				require.Equal(t, c.Amount, sum, "%s %s: %s, line %q %s", m.Month, f.Form, f.Part, l.Number, c.Column)
				if plain {
					require.Zero(t, c.Adjusted, "%s has nothing to adjust", m.Month)
				}
			}
		}
	}
}

// everyPostingStandsOnOneLine adds up the postings of a month by themselves and
// holds each figure of the forms against them: what touches an account stands
// on one line of its form, by its entry and with its whole amount.
func everyPostingStandsOnOneLine(t require.TestingT, s *book.State, m *Month, plain bool) {
	type place struct {
		form, line int
		column     Column
		entry      book.Address
	}
	want := map[place]book.Alcohol{}
	asked := 0
	postings := s.Postings()
	for i := range postings {
		p := &postings[i]
		if p.On.Month() != m.Month {
			continue
		}
		for n, f := range forms {
			if !slices.Contains(f.accounts, p.From) && !slices.Contains(f.accounts, p.To) {
				continue
			}
			on := 0
			for j, r := range f.lines {
				if slices.Contains(r.from, p.From) && slices.Contains(r.to, p.To) {
					on++
					column := f.only
					if column == "" {
						column = kindOf(s, p, book.US)
					}
					want[place{n, j, column, p.Entry}] += p.Amount
				}
			}
			require.LessOrEqual(t, on, 1, "%+v stands on two lines of %s %s", p, f.form, f.part)
			asked += 1 - on
		}
	}
	if asked > 0 {
		require.True(t, slices.ContainsFunc(m.Problems, func(p Problem) bool { return strings.Contains(p.Says, "no line takes that") }), "a posting without a line is a problem")
	}
	if !plain {
		return
	}
	got := map[place]book.Alcohol{}
	for n := range forms {
		for j, l := range m.Forms[n].Lines {
			if l.what == totalIn || l.what == totalOut {
				continue
			}
			for _, c := range l.Cells {
				if c.Column == Total {
					continue
				}
				for _, e := range c.Entries {
					got[place{n, j, c.Column, e.Entry}] += e.Amount
				}
			}
		}
	}
	require.Equal(t, want, got)
}

// TestTheJournalBalancesAsTheBook asks hledger, a general-purpose accounting
// program from Debian, for the balance of every account by class of spirit, in
// a journal of the same movements: it is the book's, to the last unit.
func TestTheJournalBalancesAsTheBook(t *testing.T) {
	_, err := exec.LookPath("hledger")
	require.NoError(t, err, "go run ./cmd/check installs hledger")
	seen := map[book.Account]bool{}
	for seed := range 3 {
		h := rapid.Custom(func(t *rapid.T) *house {
			h := &house{scribe: newScribe(t, book.US), r: t}
			h.life(400)
			return h
		}).Example(seed)
		var journal bytes.Buffer
		require.NoError(t, Journal(&journal, h.b))
		s := h.b.State()
		want := map[string]string{}
		classes := []book.SpiritClass{book.Whisky, book.Brandy, book.Rum, book.Gin, book.Vodka, book.Neutral, book.Other}
		for _, a := range book.Accounts() {
			for _, c := range classes {
				if n := s.BalanceOf(a, c); n != 0 {
					want[JournalAccount(a, c)] = decimal.New(int64(n), -4).String()
					seen[a] = true
				}
			}
		}
		require.Equal(t, want, hledgerBalances(t, journal.Bytes()))
	}
	require.Greater(t, len(seen), 12, "accounts that alcohol went through")
}

func hledgerBalances(t *testing.T, journal []byte) map[string]string {
	cmd := exec.Command("hledger", "-f", "-", "--strict", "balance", "--flat", "--no-total", "-O", "csv")
	cmd.Env = append(cmd.Environ(), "LANG=C.UTF-8")
	cmd.Stdin = bytes.NewReader(journal)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, stderr.String())
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	require.NoError(t, err)
	got := map[string]string{}
	for _, r := range rows[1:] {
		amount, ok := strings.CutSuffix(r[1], " PG")
		require.True(t, ok, "%q", r)
		got[r[0]] = decimal.RequireFromString(amount).String()
	}
	return got
}
