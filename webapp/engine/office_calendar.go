package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/book"
	"gaugebook/calc/duty"
)

type calendarView struct {
	Table *table `json:"table"`
	ICS   string `json:"ics"`
}

// A dated thing is something that is due on a day.
type dated struct {
	on, what, key string
	about         book.Address
}

// ahead is how far the calendar looks forward.
const monthsAhead = 12

// calendar lists what is overdue and what comes due in the months ahead, and
// gives it as an iCalendar file too.
func (e *Engine) calendar() (any, error) {
	s, now := e.book.State(), e.now()
	today, err := time.Parse(time.DateOnly, now.Day())
	if err != nil {
		return nil, err
	}
	until := today.AddDate(0, monthsAhead, 0).Format(time.DateOnly)
	var list []dated
	for _, d := range s.Overdue(now) {
		list = append(list, dated{string(d.On), d.Says, string(d.Kind) + "-" + string(d.About) + string(d.On) + d.Says, d.About})
	}
	add := func(on, what, key string, about book.Address) {
		if on > now.Day() && on <= until {
			list = append(list, dated{on, what, key, about})
		}
	}
	for a, v := range s.Vessels {
		if !v.Content.Empty() {
			add(string(v.Rest.Until), v.Name+" has rested.", "rest-"+string(a), a)
			add(string(v.Infused.Until), v.Name+" has steeped: drain it.", "steep-"+string(a), a)
		}
	}
	for _, r := range s.Register(book.AnInstrument) {
		b := r.Body.(*book.InstrumentRegistered)
		if due, dated := b.Due(); dated && !r.Retired {
			add(string(due), "Check "+b.Name+".", "instrument-"+string(r.Address), r.Address)
		}
	}
	for _, r := range s.Register(book.AnApproval) {
		if b := r.Body.(*book.ApprovalRecorded); !r.Retired && b.Status == "approved" {
			add(string(b.Until), "The approval of the "+b.Of+" "+b.Number+" ends.", "approval-"+string(r.Address), r.Address)
		}
	}
	month := today.AddDate(0, 0, 1-today.Day())
	for i := range monthsAhead {
		m := month.AddDate(0, i, 0)
		due := duty.ReportDue(m.Year(), m.Month()).Format(time.DateOnly)
		if e.metric() {
			add(due, "Close "+m.Format("2006-01")+".", "month-"+m.Format("2006-01"), "")
			continue
		}
		add(due, "Reports of "+m.Format("2006-01")+" are due (27 CFR 19.632).", "report-"+m.Format("2006-01"), "")
		if m.Month()%3 == 0 {
			add(m.AddDate(0, 1, -1).Format(time.DateOnly), "Count the storage tanks at the end of the quarter (27 CFR 19.333).", "count-"+m.Format("2006-01"), "")
		}
	}
	if !e.metric() {
		list = append(list, e.returnsDue(today, until)...)
	}
	slices.SortStableFunc(list, func(a, b dated) int { return cmp.Compare(a.on, b.on) })
	t := &table{Title: "What is due", Empty: "Nothing is due.", Rows: []row{}, Columns: []column{{Label: "Day"}, {Label: "What"}}}
	for _, d := range list {
		r := row{Cells: []cell{{d.on, d.about}, text(d.what)}}
		if d.on < now.Day() {
			r.Note = "overdue"
		}
		t.Rows = append(t.Rows, r)
	}
	return calendarView{t, ics(list, e.outside.Now())}, nil
}

// returnsDue are the tax returns due from today until a day, by the frequency
// that last year's tax allows.
func (e *Engine) returnsDue(today time.Time, until string) []dated {
	var out []dated
	d := e.departures()
	for _, year := range []int{today.Year() - 1, today.Year(), today.Year() + 1} {
		last, err := e.assessed(d, year-1)
		if err != nil {
			continue
		}
		this, err := e.assessed(d, year)
		if err != nil {
			continue
		}
		f := duty.FrequencyOf(last.Gross, decimal.Max(last.Gross, this.Gross))
		for _, p := range duty.Periods(year, f, duty.MustPayElectronically(last.Gross)) {
			due := p.Due.Format(time.DateOnly)
			if due < today.Format(time.DateOnly) || due > until {
				continue
			}
			what := fmt.Sprintf("Tax return of %s to %s is due.", p.From.Format(time.DateOnly), p.To.Format(time.DateOnly))
			out = append(out, dated{due, what, "return-" + p.From.Format(time.DateOnly), ""})
		}
	}
	return out
}

// ics writes days as an iCalendar object (RFC 5545): whole-day events, lines
// folded at 75 octets and ended with CRLF, commas and semicolons escaped.
func ics(list []dated, stamp time.Time) string {
	var b strings.Builder
	line := func(s string) {
		for len(s) > 75 {
			cut := 75
			for s[cut]&0xC0 == 0x80 { // not inside a letter
				cut--
			}
			b.WriteString(s[:cut] + "\r\n")
			s = " " + s[cut:]
		}
		b.WriteString(s + "\r\n")
	}
	escape := strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`)
	line("BEGIN:VCALENDAR")
	line("VERSION:2.0")
	line("PRODID:-//Gaugebook//due dates//EN")
	for _, d := range list {
		day, err := time.Parse(time.DateOnly, d.on)
		if err != nil {
			continue
		}
		line("BEGIN:VEVENT")
		line("UID:" + escape.Replace(strings.Join(strings.Fields(d.key), "-")) + "@gaugebook")
		line("DTSTAMP:" + stamp.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE:" + day.Format("20060102"))
		line("DTEND;VALUE=DATE:" + day.AddDate(0, 0, 1).Format("20060102"))
		line("SUMMARY:" + escape.Replace(d.what))
		line("TRANSP:TRANSPARENT")
		line("END:VEVENT")
	}
	line("END:VCALENDAR")
	return b.String()
}
