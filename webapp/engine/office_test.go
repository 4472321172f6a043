package engine_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/demo"
	"gaugebook/calc/duty"
	"gaugebook/calc/report"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
	"gaugebook/webapp/engine"
)

// An alder is the demo on a phone, and the same records as a book of their own.
type alder struct {
	*phone
	book *book.Book
}

// hollowAlder is a phone that holds the demo's eighteen months, on a day after
// them.
func hollowAlder(t *testing.T) alder {
	t.Helper()
	entries := demo.Eighteen()
	last := entries[len(entries)-1].Happened
	now := last.Add(20 * 24 * time.Hour)
	p := &phone{t: t, chain: exchange.Chain{Device: "plover77"}, engine: engine.New(engine.Outside{Now: func() time.Time { return now }, Random: counting{new(byte)}})}
	chains := map[string]exchange.Chain{}
	own := book.New()
	var all []*book.Entry
	for i, e := range entries {
		chain := chains[e.Device]
		chain.Device = e.Device
		var random [10]byte
		random[8], random[9] = byte(i>>8), byte(i)
		kind := book.KindOf(e.Body)
		line, next, err := exchange.Seal(chain, exchange.Contact{}, exchange.Draft{Kind: kind.Name, V: kind.Version, Body: book.Encode(e.Body),
			Happened: record.StampOf(e.Happened), Written: record.StampOf(e.Written), By: e.By}, record.NewID(e.Written, random))
		require.NoError(t, err)
		chains[e.Device] = next
		p.lines = append(p.lines, string(line))
		entry, err := engine.EntryOf(line)
		require.NoError(t, err)
		all = append(all, entry)
	}
	own.Add(all...)
	p.call("open", strings.Join(p.lines, "\n"))
	return alder{p, own}
}

// into reads a view into what a test looks at.
func (a alder) into(out any, in map[string]any) {
	a.t.Helper()
	raw := a.engine.Call("view", must(a.t, in))
	require.NotContains(a.t, string(raw[:min(len(raw), 12)]), `"faults"`, "%s", raw[:min(len(raw), 400)])
	require.NoError(a.t, json.Unmarshal(raw, out))
}

type seenTable struct {
	Title string
	Rows  []struct {
		Note  string
		Cells []struct{ Text, Entry string }
	}
}

func (t seenTable) column(at int) (out []string) {
	for _, r := range t.Rows {
		out = append(out, r.Cells[at].Text)
	}
	return out
}

type seenMonth struct {
	Month, Unit, Standing, Digest, Worksheet string
	Months, Minds                            []string
	Closed                                   bool
	Problems                                 []struct{ Where, Says, Cause string }
	Forms                                    []struct {
		Title   string
		Columns []string
		Lines   []struct {
			Number, Meaning string
			Nothing         bool
			Cells           []struct{ Text, Figure string }
		}
	}
	Records []seenTable
}

// Every figure on the page is the report's, and opens into entries that add up
// to it.
func TestMonthIsTheReport(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	var months []string
	for m := range s.Closed() {
		months = append(months, m)
	}
	require.NotEmpty(t, months)
	first := s.Postings()[0].On.Month()
	for _, month := range []string{first, months[0], s.Postings()[len(s.Postings())-1].On.Month()} {
		want := report.Of(s, month)
		var got seenMonth
		a.into(&got, map[string]any{"what": "month", "month": month})
		assert.Equal(t, want.Digest, got.Digest, month)
		assert.Equal(t, want.ClosedBy != "", got.Closed, month)
		assert.Contains(t, got.Worksheet, "the proprietor checks and files")
		require.Len(t, got.Forms, len(want.Forms), month)
		require.Len(t, got.Problems, len(want.Problems), month)
		for _, p := range got.Problems {
			assert.NotEmpty(t, p.Says, p.Where)
		}
		opened := 0
		for f, form := range got.Forms {
			for _, line := range form.Lines {
				for c, cell := range line.Cells {
					if cell.Figure == "" {
						assert.Equal(t, "0.0", cell.Text, "%s line %s", form.Title, line.Number)
						continue
					}
					var wf, wl, wc int
					_, err := fmt.Sscanf(cell.Figure, "%d.%d.%d", &wf, &wl, &wc)
					require.NoError(t, err)
					require.Equal(t, f, wf)
					x := want.Forms[wf].Lines[wl].Cells[wc]
					require.Equal(t, x.Printed.String(), cell.Text, "%s line %s %s", form.Title, line.Number, form.Columns[c])
					require.Equal(t, want.Forms[wf].Lines[wl].Meaning, line.Meaning)
					var figure struct {
						Printed, Exact string
						Entries, Lines *seenTable
					}
					a.into(&figure, map[string]any{"what": "figure", "month": month, "figure": cell.Figure})
					require.Equal(t, cell.Text, figure.Printed)
					if figure.Lines != nil {
						require.NotEmpty(t, figure.Lines.Rows, "%s %s", form.Title, line.Meaning)
						continue
					}
					sum := decimal.Zero
					for _, amount := range figure.Entries.column(2) {
						if amount != "later" {
							sum = sum.Add(decimal.RequireFromString(strings.TrimSuffix(amount, " PG")))
						}
					}
					exact := decimal.RequireFromString(strings.TrimSuffix(figure.Exact, " PG"))
					require.Truef(t, exact.Equal(sum.Add(decimal.New(int64(x.Adjusted), -4))), "%s line %s: its entries add up to %s and it is %s, adjusted by %d steps", form.Title, line.Number, sum, exact, x.Adjusted)
					opened++
				}
			}
		}
		assert.Positive(t, opened, "%s: figures opened into entries", month)
		for i, r := range got.Records[len(got.Records)-len(want.Records):] {
			assert.Len(t, r.Rows, len(want.Records[i].Rows), r.Title)
		}

		var files struct{ CSV, JSON string }
		a.into(&files, map[string]any{"what": "month as", "month": month})
		rows, err := csv.NewReader(strings.NewReader(files.CSV)).ReadAll()
		require.NoError(t, err)
		assert.Equal(t, []string{"report", "", "digest of the figures", "", want.Digest, "", "", "", ""}, rows[3])
		var kept struct{ Figures []struct{ Value string } }
		require.NoError(t, json.Unmarshal([]byte(files.JSON), &kept))
		n := 0
		for _, f := range want.Forms {
			for _, l := range f.Lines {
				n += len(l.Cells)
			}
		}
		assert.Len(t, kept.Figures, n, "one figure a cell")
	}
}

// A month is closed on the figures that were looked at, worked out by the book:
// neither other figures nor other digests are taken.
func TestMonthIsClosed(t *testing.T) {
	a := hollowAlder(t)
	var open seenMonth
	a.into(&open, map[string]any{"what": "month"})
	require.False(t, open.Closed, "the first that waits")
	require.Contains(t, open.Months, open.Month)
	form := a.call("form", map[string]any{"kind": "month closed"})
	assert.NotContains(t, fmt.Sprint(form["fields"]), "key:figures", "figures are never asked for")

	out := a.ask("seal", map[string]any{"kind": "month closed", "body": map[string]any{"month": open.Month, "digest": strings.Repeat("0", 64)}, "happened": "2026-11-25T09:00:00-05:00", "written": "2026-11-25T09:00:00-05:00", "by": "JS", "chain": a.chain, "contact": exchange.Contact{}})
	assert.Contains(t, sentences(out["faults"])["digest"], "something was written since", "the digest of other figures closes nothing")

	want := report.Close(a.book.State(), open.Month, "checked")
	a.save("month closed", map[string]any{"month": open.Month, "digest": open.Digest, "note": "checked", "figures": []map[string]any{{"from": "produced", "to": "lost", "kind": "rum", "amount": "9999gal"}}})
	r, err := record.Decode([]byte(a.lines[len(a.lines)-1]))
	require.NoError(t, err)
	assert.JSONEq(t, string(book.Encode(want)), string(r.Body), "the body is report.Close's, whatever was typed")

	var closed seenMonth
	a.into(&closed, map[string]any{"what": "month", "month": open.Month})
	assert.True(t, closed.Closed)
	assert.Contains(t, closed.Standing, "by JS")
	assert.Equal(t, open.Digest, closed.Digest, "closing changes no figure")
	var next seenMonth
	a.into(&next, map[string]any{"what": "month"})
	assert.NotEqual(t, open.Month, next.Month, "another month waits now")
}

// What the office wants is what the book has overdue, each with somewhere to
// settle it.
func TestTodayIsTheBooks(t *testing.T) {
	a := hollowAlder(t)
	var got struct {
		Wants []struct {
			Room  string
			Wants []struct {
				Says, Act string
				Go        map[string]string
			}
		}
	}
	a.into(&got, map[string]any{"what": "office", "day": "2026-01-01"})
	now := demo.Eighteen()[len(demo.Eighteen())-1].Happened.Add(20 * 24 * time.Hour)
	due := a.book.State().Overdue(book.MomentAt(now.UnixMilli(), now.Format(time.RFC3339)))
	n := 0
	for _, room := range got.Wants {
		for _, w := range room.Wants {
			n += strings.Count(w.Says+" ", ". ") // what one month wants stands together, a sentence each
			assert.NotEmpty(t, w.Act, w.Says)
			assert.NotEmpty(t, w.Go, w.Says)
		}
	}
	assert.NotEmpty(t, due)
	assert.Len(t, due, n)
}

// The tax is that of calc/duty on the bottles that left, and its proof gallons
// are the ledger's.
func TestTaxIsDuty(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	for _, year := range []int{2025, 2026} {
		var r duty.Return
		r.From, r.To = time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(year, 12, 31, 0, 0, 0, 0, time.UTC)
		var steps book.Alcohol
		for _, p := range s.Postings() {
			if p.From == book.Finished && (p.To == book.TaxDetermined || p.To == book.Shortage) && p.On.Day()[:4] == fmt.Sprint(year) {
				steps += p.Amount
				on, err := time.Parse(time.DateOnly, p.On.Day())
				require.NoError(t, err)
				r.Removals = append(r.Removals, duty.Removal{On: on, Purpose: duty.Sale, PG: decimal.New(int64(p.Amount), -4)})
			}
		}
		want, err := duty.Assess(r)
		require.NoError(t, err)
		require.True(t, want.PG.Equal(decimal.New(int64(steps), -4)))
		var got struct {
			Says    []string
			Result  struct{ Figure string }
			Periods []struct{ Title, Due, Tax string }
			Blocks  []struct{ Table seenTable }
		}
		a.into(&got, map[string]any{"what": "tax", "year": fmt.Sprint(year)})
		assert.Equal(t, want.Gross.StringFixed(2), got.Result.Figure, "%d", year)
		sum := decimal.Zero
		for _, pg := range got.Blocks[1].Table.column(1) {
			sum = sum.Add(decimal.RequireFromString(pg))
		}
		assert.True(t, want.PG.Equal(sum), "%d: by product %s, in all %s", year, sum, want.PG)
		taxes := decimal.Zero
		for _, p := range got.Periods {
			taxes = taxes.Add(decimal.RequireFromString(strings.TrimSuffix(p.Tax, " USD")))
			assert.NotEmpty(t, p.Due)
		}
		// Each return is rounded to the cent by itself.
		assert.LessOrEqual(t, taxes.Sub(want.Gross).Abs().InexactFloat64(), 0.005*float64(len(got.Periods))+0.005, "%d: the returns add up to the year", year)
		assert.Contains(t, fmt.Sprint(got.Blocks), "26 USC 5001", "rates with their source")
	}
	out := a.ask("view", map[string]any{"what": "tax", "year": "2026", "before": "some"})
	assert.Contains(t, sentences(out["faults"])["before"], "is not a number of proof gallons")
}

// A lot of bottles is traced as the book traces it; its recall sheet accounts
// for every bottle that left.
func TestTraceAndRecall(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	traced := 0
	for address, b := range s.Bottlings {
		if b.Open() || b.Gone == 0 {
			continue
		}
		traced++
		var got struct {
			Picture struct {
				Boxes []struct{ X, Wide int }
				Lines []struct{ Y1, Y2 int }
			}
			Blocks, Recall []struct{ Table seenTable }
		}
		a.into(&got, map[string]any{"what": "trace", "lot": address})
		assert.Len(t, got.Blocks[0].Table.Rows, len(s.Ancestry(address)))
		assert.Len(t, got.Blocks[1].Table.Rows, len(s.Descent(address)))
		require.NotEmpty(t, got.Picture.Lines, "something leads to %s", address)
		for _, l := range got.Picture.Lines {
			assert.Less(t, l.Y1, l.Y2, "lines lead down")
		}
		for _, box := range got.Picture.Boxes {
			assert.LessOrEqual(t, box.X+box.Wide, 360, "boxes stand on the paper")
		}
		var left int64
		for _, r := range got.Recall[1].Table.Rows {
			if !strings.Contains(r.Note, string(address)) {
				continue // another lot's, of its spirit
			}
			var cases, loose int64
			fmt.Sscan(r.Cells[2].Text, &cases)
			fmt.Sscan(r.Cells[3].Text, &loose)
			left += cases*b.PerCase + loose
			assert.NotEmpty(t, r.Cells[1].Text)
		}
		var found int64
		for e := range a.book.All {
			body, _, void, _ := a.book.Effective(e)
			if x, ok := body.(*book.CasesFound); ok && !void && x.Bottling == address {
				found += x.Cases*b.PerCase + x.Loose
			}
		}
		assert.Equal(t, b.Gone, left-found, "bottles of %s that left, less those found again", address)
	}
	assert.Positive(t, traced)
}

// A vessel is traced too, and its shares of fruit are no more than all of it.
func TestVesselsAndCounts(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	shown := 0
	for address, v := range s.Vessels {
		if len(s.Composition(address)) == 0 {
			continue
		}
		shown++
		var got struct{ Blocks []struct{ Table *seenTable } }
		a.into(&got, map[string]any{"what": "vessel", "vessel": address})
		assert.Len(t, got.Blocks[1].Table.Rows, len(s.Composition(address)), v.Name)
		a.into(&got, map[string]any{"what": "trace", "lot": address})
	}
	assert.Positive(t, shown)
	var sheet struct {
		Blocks []struct{ Table seenTable }
		CSV    string
	}
	a.into(&sheet, map[string]any{"what": "count"})
	var left int64
	for _, b := range s.Bottlings {
		if !b.Open() {
			left += b.Left()
		}
	}
	var listed int64
	for _, n := range sheet.Blocks[3].Table.column(1) {
		var x int64
		fmt.Sscan(n, &x)
		listed += x
	}
	assert.Equal(t, left, listed, "every bottle in the house stands on the sheet")
}

func TestYieldAndCost(t *testing.T) {
	a := hollowAlder(t)
	s := a.book.State()
	var got struct{ Blocks []struct{ Table seenTable } }
	a.into(&got, map[string]any{"what": "yield"})
	var lost, shown float64
	for _, p := range s.Postings() {
		switch {
		case p.To == book.Lost || p.To == book.Shortage || p.To == book.Destroyed:
			lost += p.Amount.ProofGallons()
		case p.From == book.Gained:
			lost -= p.Amount.ProofGallons()
		}
	}
	before := 1e9
	for _, n := range got.Blocks[0].Table.column(1) {
		x := decimal.RequireFromString(n).InexactFloat64()
		assert.LessOrEqual(t, x, before, "the worst first")
		before, shown = x, shown+x
	}
	assert.InDelta(t, lost, shown, 0.05*float64(len(got.Blocks[0].Table.Rows)), "the steps add up to all that was lost, each rounded to 0.1")
	assert.NotEmpty(t, got.Blocks[2].Table.Rows, "fruit to bottle")
	assert.NotEmpty(t, got.Blocks[3].Table.Rows, "costs")
}

// The calendar's file keeps the rules of RFC 5545: CRLF, lines of 75 octets at
// most, one event a thing that is due, each with an identity of its own.
func TestCalendar(t *testing.T) {
	a := hollowAlder(t)
	var got struct {
		Table seenTable
		ICS   string
	}
	a.into(&got, map[string]any{"what": "calendar"})
	lines := strings.Split(strings.TrimSuffix(got.ICS, "\r\n"), "\r\n")
	assert.Equal(t, "BEGIN:VCALENDAR", lines[0])
	assert.Equal(t, "END:VCALENDAR", lines[len(lines)-1])
	seen := map[string]bool{}
	for _, l := range lines {
		assert.LessOrEqual(t, len(l), 75, l)
		assert.NotContains(t, l, "\n")
	}
	for l := range strings.SplitSeq(strings.ReplaceAll(got.ICS, "\r\n ", ""), "\r\n") {
		if strings.HasPrefix(l, "UID:") {
			assert.False(t, seen[l], "%s stands once", l)
			seen[l] = true
		}
	}
	assert.Len(t, seen, len(got.Table.Rows))
	assert.Contains(t, got.ICS, "27 CFR 19.632")
	assert.Contains(t, got.ICS, "Tax return of")
}
