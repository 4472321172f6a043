package demo

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/report"
)

func TestEighteenMonthsAreTheScenario(t *testing.T) {
	entries := Eighteen()
	count := map[string]int{}
	for _, e := range entries {
		count[kindName(e)]++
	}
	t.Log(len(entries), "entries:", count)
	assert.InDelta(t, 4000, len(entries), 500)
	assert.InDelta(t, 40, count["delivery received"], 10, "lots at the gate")
	assert.InDelta(t, 35, count["run started"], 10, "runs")
	assert.InDelta(t, 20, count["bottling closed"], 5, "bottlings")
	assert.Equal(t, 17, count["month closed"], "the eighteenth is still open")
	s := fold(entries).State()
	barrels := 0
	for _, v := range s.Vessels {
		if v.Use == book.Barrel && !v.Content.Empty() {
			barrels++
		}
	}
	assert.GreaterOrEqual(t, barrels, 10, "barrels with spirit in them")
}

func TestTheMessIsAskedAbout(t *testing.T) {
	entries := Eighteen()
	s := fold(entries).State()
	asked := map[book.QuestionKind]int{}
	for _, q := range s.Questions() {
		asked[q.Kind]++
		t.Log(q.On.Day(), q.Kind, "|", q.Says, "|", q.Answer)
	}
	for kind, what := range map[book.QuestionKind]string{
		book.CountDisagrees: "the short pallet of glass", book.Twice: "two phones logging one move",
		book.GaugeDisagrees: "the leaking barrel", book.OverFull: "the over-filled receiver",
	} {
		assert.Equal(t, 1, asked[kind], what)
	}
	assert.Contains(t, kinds(entries), "entry amended", "the mistyped proof")
	notes := ""
	for _, e := range entries {
		if c, ok := e.Body.(*book.FermentChecked); ok {
			notes += c.Note
		}
	}
	assert.Contains(t, notes, "no gas since yesterday", "the stuck ferment")
}

func kinds(entries []Entry) (out []string) {
	for _, e := range entries {
		out = append(out, kindName(e))
	}
	return out
}

// A phone that was away for nine days hands in what it wrote meanwhile behind
// what others wrote later.
func TestAPhoneComesBackAfterNineDays(t *testing.T) {
	var latest time.Time
	var longest time.Duration
	for _, e := range Eighteen() {
		if behind := latest.Sub(e.Written); behind > longest {
			longest = behind
			assert.Equal(t, cellarPhone, e.Device)
		}
		if e.Written.After(latest) {
			latest = e.Written
		}
	}
	assert.Greater(t, longest, 8*24*time.Hour)
	assert.Less(t, longest, 10*24*time.Hour)
}

func TestEveryAccountAddsUp(t *testing.T) {
	s := fold(Eighteen()).State()
	held := map[book.Account]book.Alcohol{}
	for _, v := range s.Vessels {
		if v.Content.Material.Accounted() {
			held[v.Content.Account] += v.Content.Alcohol
		}
	}
	for _, b := range s.Bottlings {
		held[book.Finished] += b.Finished - b.Given
	}
	var sum book.Alcohol
	for _, a := range book.Accounts() {
		sum += s.Balance(a)
		if a.InHouse() {
			assert.Equal(t, held[a], s.Balance(a), "%s: in vessels and bottles, and in the account", a)
		}
	}
	assert.Zero(t, sum)
}

func TestEveryClosedMonthBalances(t *testing.T) {
	s := fold(Eighteen()).State()
	require.Len(t, s.Closed(), 17)
	for month := range s.Closed() {
		for _, p := range report.Of(s, month).Problems {
			if len(p.Where) > 8 && p.Where[:8] == "question" {
				continue
			}
			t.Errorf("%s: %+v", month, p)
		}
	}
}

func TestTheSameLifeEveryTime(t *testing.T) {
	a, b := Eighteen(), Eighteen()
	require.Equal(t, len(a), len(b))
	for i := range a {
		require.Equal(t, string(book.Encode(a[i].Body)), string(book.Encode(b[i].Body)), "entry %d", i)
		require.Equal(t, a[i].Written, b[i].Written)
	}
}

func TestTheLifeOfSeveralLines(t *testing.T) {
	one, three := len(Life(12, 1)), len(Life(12, 3))
	assert.Greater(t, three, 2*one)
}

func BenchmarkLife(b *testing.B) {
	for b.Loop() {
		b.ReportMetric(float64(len(Life(120, 8))), "entries")
	}
}

// What is on hand is printed within a tenth of what it is, and an account that
// is empty prints nothing, though every line is rounded for itself.
func TestWhatIsOnHandIsPrintedAsItIs(t *testing.T) {
	s := fold(Eighteen()).State()
	looked := 0
	for month := range s.Closed() {
		for _, f := range report.Of(s, month).Forms {
			for _, l := range f.Lines {
				if !l.OnHand() || len(f.Columns) < 3 { // a form with one column sums the kinds
					continue
				}
				for _, c := range l.Cells[:len(l.Cells)-1] {
					looked++
					off := c.Off(book.US)
					assert.True(t, off >= -1 && off <= 1, "%s %s %s: printed %s of %v", month, f.Form, c.Column, c.Printed, c.Amount.ProofGallons())
					if c.Amount == 0 {
						assert.Zero(t, c.Printed, "%s %s %s", month, f.Form, c.Column)
					}
				}
			}
		}
	}
	assert.Greater(t, looked, 100)
}
