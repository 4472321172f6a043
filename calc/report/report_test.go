package report

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/book"
)

// scribe writes entries of one device, each at a stated time.
type scribe struct {
	t    require.TestingT
	seq  uint64
	late bool // what follows is written in the next year
	b    *book.Book
}

func (w *scribe) write(at, kind, body string) book.Address {
	b, faults := book.Compose(kind, book.US, []byte(body))
	require.Empty(w.t, faults, "%s %s", kind, body)
	w.seq++
	m, err := book.ParseMoment(at)
	require.NoError(w.t, err)
	written := m.Milliseconds()
	if w.late {
		written += 365 * 86_400_000
	}
	w.b.Add(&book.Entry{ID: fmt.Sprint(w.seq), Device: "heron41", Seq: w.seq, Clock: fmt.Sprintf("%012x-%04x", written, w.seq),
		Written: m, Happened: m, Kind: kind, Version: 1, Body: b, Raw: book.Encode(b)})
	return book.MakeAddress("heron41", w.seq)
}

// autumn is a quince brandy from the still in September to the sale in October.
func autumn(t require.TestingT) *scribe {
	w := &scribe{t: t, b: book.New()}
	const sep, oct = "2026-09-20T10:%02d:00-04:00", "2026-10-05T10:%02d:00-04:00"
	n := 0
	at := func(layout string) string { n++; return fmt.Sprintf(layout, n) }
	w.write(at(sep), "book opened", `{"name":"Hollow Alder","convention":"us","plant":"DSP-XX-1"}`)
	w.write(at(sep), "vessel registered", `{"name":"Copper","use":"still","capacity":"200 gal"}`)                                                  // 2
	w.write(at(sep), "vessel registered", `{"name":"R1","use":"receiver","capacity":"60 gal"}`)                                                    // 3
	w.write(at(sep), "vessel registered", `{"name":"Tank 1","use":"tank","capacity":"250 gal"}`)                                                   // 4
	w.write(at(sep), "product registered", `{"name":"Quince brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":"12"}`)      // 5
	w.write(at(sep), "run started", `{"still":"heron41-2","product":"heron41-5"}`)                                                                 // 6
	w.write(at(sep), "receiver gauged", `{"run":"heron41-6","fraction":"hearts","vessel":"heron41-3","volume":"50","temp":"60","strength":"140"}`) // 7: 70 PG
	w.write(at(sep), "run ended", `{"run":"heron41-6"}`)
	w.write(at(sep), "spirit moved", `{"from":"heron41-3","to":"heron41-4","account":"storage","purpose":"deposit"}`) // 9
	w.write(at(oct), "water added", `{"vessel":"heron41-4","water":"38.96"}`)                                         // 10
	w.write(at(oct), "bottling opened", `{"product":"heron41-5","tank":"heron41-4","volume":"87.5","temp":"60","strength":"80"}`)
	w.write(at(oct), "bottles counted", `{"bottling":"heron41-11","cases":"36","loose":"2"}`)
	w.write(at(oct), "bottling closed", `{"bottling":"heron41-11","tank_empty":"yes","cause":"bottling"}`)
	w.write(at(oct), "cases removed", `{"bottling":"heron41-11","cases":"20","purpose":"sale"}`)
	w.write(at(oct), "cases removed", `{"bottling":"heron41-11","loose":"2","purpose":"broken"}`)
	return w
}

func printed(t *testing.T, m Month, form, part, line string, c Column) string {
	t.Helper()
	for i := range m.Forms {
		if f := &m.Forms[i]; f.Form == form && f.Part == part {
			l := f.Line(line)
			require.NotNil(t, l, "%s line %s", form, line)
			for _, cell := range l.Cells {
				if cell.Column == c {
					return cell.Printed.String()
				}
			}
		}
	}
	t.Fatalf("no %s %s line %s column %s", form, part, line, c)
	return ""
}

func TestAMonthOfThePlant(t *testing.T) {
	w := autumn(t)
	sep, oct := Of(w.b.State(), "2026-09"), Of(w.b.State(), "2026-10")
	require.Empty(t, sep.Problems)
	require.Empty(t, oct.Problems)

	assert.Equal(t, "70.0", printed(t, sep, "TTB F 5110.40", "I", "11", Brandy170), "entered in storage")
	assert.Equal(t, "70.0", printed(t, sep, "TTB F 5110.40", "I", "14", Total), "produced")
	assert.Equal(t, "0.0", printed(t, sep, "TTB F 5110.40", "I", "17(b)", Brandy170), "September ends a quarter; nothing is unfinished")
	assert.Equal(t, "70.0", printed(t, sep, "TTB F 5110.11", "", "2", Brandy170))
	assert.Equal(t, "70.0", printed(t, sep, "TTB F 5110.11", "", "23", Brandy170))
	assert.Equal(t, "70.0", printed(t, oct, "TTB F 5110.11", "", "1", Brandy170), "line 1 is last month's line 23")
	assert.Equal(t, "70.0", printed(t, oct, "TTB F 5110.11", "", "17", Total))
	assert.Equal(t, "70.0", printed(t, oct, "TTB F 5110.28", "I", "2", AllSpirits))
	// 434 bottles of 0.75 L at 80 proof: 434 x 0.198129 gal x 0.8 = 68.8 (case gallons of the regulator's page, 2.377548 a dozen).
	assert.Equal(t, "68.8", printed(t, oct, "TTB F 5110.28", "I", "9", AllSpirits))
	assert.Equal(t, "1.2", printed(t, oct, "TTB F 5110.28", "I", "24", AllSpirits))
	assert.Equal(t, "68.8", printed(t, oct, "TTB F 5110.28", "II", "28", AllSpirits))
	// 20 cases: 20 x 2.377548 x 0.8 = 38.04.
	assert.Equal(t, "38.0", printed(t, oct, "TTB F 5110.28", "II", "33", AllSpirits))
	assert.Equal(t, "38.0", oct.Removed.String())
}

func TestALateEntryForAClosedMonthIsAnAdjustment(t *testing.T) {
	w := autumn(t)
	before := Of(w.b.State(), "2026-09")
	w.write("2026-10-14T09:00:00-04:00", "month closed", string(book.Encode(Close(w.b.State(), "2026-09", ""))))
	w.late = true
	late := w.write("2026-09-25T09:00:00-04:00", "loss recorded", `{"vessel":"heron41-4","volume":"1","temp":"60","cause":"leak"}`)
	after, oct := Of(w.b.State(), "2026-09"), Of(w.b.State(), "2026-10")
	assert.Equal(t, figures(before), figures(after), "a closed month is never rewritten")
	require.Len(t, oct.Adjustments, 1)
	assert.Equal(t, late, oct.Adjustments[0].Entry)
	assert.Equal(t, "1.4", printed(t, oct, "TTB F 5110.11", "", "22", Total))
}

func TestACorrectionOfAClosedMonthIsAnAdjustment(t *testing.T) {
	w := autumn(t)
	w.write("2026-10-14T09:00:00-04:00", "month closed", string(book.Encode(Close(w.b.State(), "2026-09", ""))))
	sep := Of(w.b.State(), "2026-09")
	w.late = true
	w.write("2026-10-20T09:00:00-04:00", "entry amended", `{"entry":"heron41-7","why":"it was 141","v":"1","body":{"run":"heron41-6","fraction":"hearts","vessel":"heron41-3","volume":"50gal","temp":"60F","strength":"141proof"}}`)
	after, oct := Of(w.b.State(), "2026-09"), Of(w.b.State(), "2026-10")
	assert.Equal(t, figures(sep), figures(after))
	assert.Equal(t, "0.5", printed(t, oct, "TTB F 5110.11", "", "2", Total), "70.5 deposited, 70.0 signed for")
	assert.Equal(t, "0.5", printed(t, oct, "TTB F 5110.40", "I", "14", Total))
	balanced(t, oct, &after)
}

// figures writes every figure of a month that is not zero, with its entries.
func figures(m Month) string {
	var b strings.Builder
	for _, f := range m.Forms {
		for _, l := range f.Lines {
			for _, c := range l.Cells {
				if c.Amount != 0 || c.Printed != 0 {
					fmt.Fprintln(&b, f.Form, f.Part, l.Number, c.Column, int64(c.Amount), c.Printed, c.Entries)
				}
			}
		}
	}
	return b.String()
}

// balanced holds every equation between the printed figures of the forms
// (published in the regulator's help pages: forms.md lists them).
func balanced(t require.TestingT, m Month, last *Month) {
	cells := func(m *Month, form, part, number string) []Cell {
		for i := range m.Forms {
			if f := &m.Forms[i]; f.Form == form && f.Part == part {
				return f.Line(number).Cells
			}
		}
		return nil
	}
	same := func(what string, a, b []Cell) {
		require.Equal(t, len(a), len(b), what)
		for i := range a {
			require.Equal(t, a[i].Printed.String(), b[i].Printed.String(), "%s, %s %s", m.Month, what, a[i].Column)
		}
	}
	const p40, p11, p28 = "TTB F 5110.40", "TTB F 5110.11", "TTB F 5110.28"
	same("storage lines 6 and 24", cells(&m, p11, "", "6"), cells(&m, p11, "", "24"))
	same("processing lines 8 and 26", cells(&m, p28, "I", "8"), cells(&m, p28, "I", "26"))
	same("finished lines 31 and 47", cells(&m, p28, "II", "31"), cells(&m, p28, "II", "47"))
	same("bottled: lines 9 and 28", cells(&m, p28, "I", "9"), cells(&m, p28, "II", "28"))
	same("production line 11 and storage line 2", cells(&m, p40, "I", "11"), cells(&m, p11, "", "2"))
	if last != nil {
		same("storage line 1 and last 23", cells(&m, p11, "", "1"), cells(last, p11, "", "23"))
		same("processing line 1 and last 25", cells(&m, p28, "I", "1"), cells(last, p28, "I", "25"))
		same("finished line 27 and last 46", cells(&m, p28, "II", "27"), cells(last, p28, "II", "46"))
	}
}

func TestEveryColumnFootsWhateverWasSold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := autumn(t)
		for i, n := range rapid.SliceOfN(rapid.IntRange(1, 9), 1, 20).Draw(t, "bottles") {
			purpose := rapid.SampledFrom([]string{"sale", "tasting room", "sample", "broken", "export"}).Draw(t, "purpose")
			w.write(fmt.Sprintf("2026-%02d-12T12:%02d:00-04:00", 10+i%3, i), "cases removed", fmt.Sprintf(`{"bottling":"heron41-11","loose":"%d","purpose":%q}`, n, purpose))
		}
		var last *Month
		for _, month := range []string{"2026-09", "2026-10", "2026-11", "2026-12"} {
			m := Of(w.b.State(), month)
			if len(m.Problems) > 0 {
				t.Fatalf("%s: %+v", month, m.Problems)
			}
			balanced(t, m, last)
			last = &m
		}
	})
}
