package duty

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// A Holiday is a legal holiday of the United States in one year.
type Holiday struct {
	Name     string
	On       time.Time
	Observed time.Time // the Friday before a Saturday, the Monday after a Sunday
	Source   string
}

// Holidays lists the federal holidays of a year (5 USC 6103(a)): those of a
// Saturday are kept on the Friday (6103(b)), those of a Sunday on the Monday
// (Executive Order 11582, from memory). New Year's Day may so be kept on 31
// December of the year before. A city's own holiday is not in it: none of the
// District of Columbia's falls on a day on which a return is due.
func Holidays(year int) []Holiday {
	rows, err := table(holidaysCSV, "name", "month", "day", "since", "source")
	if err != nil {
		panic("duty: holidays.csv: " + err.Error())
	}
	number := func(s string) int {
		n, err := strconv.Atoi(s)
		if err != nil {
			panic("duty: holidays.csv: " + err.Error())
		}
		return n
	}
	var out []Holiday
	for _, row := range rows {
		if year < number(row[3]) {
			continue
		}
		h := Holiday{Name: row[0], Source: row[4]}
		month := time.Month(number(row[1]))
		if weekday, nth, moving := strings.Cut(row[2], " "); moving {
			h.On = nthWeekday(year, month, weekday, nth)
		} else {
			h.On = time.Date(year, month, number(row[2]), 0, 0, 0, 0, time.UTC)
		}
		h.Observed = h.On
		switch h.On.Weekday() {
		case time.Saturday:
			h.Observed = h.On.AddDate(0, 0, -1)
		case time.Sunday:
			h.Observed = h.On.AddDate(0, 0, 1)
		}
		out = append(out, h)
	}
	return out
}

// nthWeekday is the third Monday, or the last, of a month.
func nthWeekday(year int, month time.Month, weekday, nth string) time.Time {
	if nth == "last" {
		t := time.Date(year, month+1, 0, 0, 0, 0, 0, time.UTC)
		for strings.ToLower(t.Weekday().String()) != weekday {
			t = t.AddDate(0, 0, -1)
		}
		return t
	}
	n, err := strconv.Atoi(nth)
	if err != nil {
		panic("duty: holidays.csv: " + err.Error())
	}
	t := time.Date(year, month, 1, 0, 0, 0, 0, time.UTC)
	for strings.ToLower(t.Weekday().String()) != weekday {
		t = t.AddDate(0, 0, 1)
	}
	return t.AddDate(0, 0, 7*(n-1))
}

// IsHoliday reports whether a day is kept as a federal holiday.
func IsHoliday(on time.Time) bool {
	on = day(on)
	for _, year := range []int{on.Year(), on.Year() + 1} {
		if slices.ContainsFunc(Holidays(year), func(h Holiday) bool { return h.Observed.Equal(on) }) {
			return true
		}
	}
	return false
}

func weekend(t time.Time) bool { return t.Weekday() == time.Saturday || t.Weekday() == time.Sunday }

// Before is the day, or the last one before it that is no Saturday, Sunday or
// legal holiday (27 CFR 19.236, read in a copy of 2015).
func Before(on time.Time) time.Time {
	on = day(on)
	for weekend(on) || IsHoliday(on) {
		on = on.AddDate(0, 0, -1)
	}
	return on
}

// Due is when the return of a period is due: the 14th day after its last
// (27 CFR 19.236), moved by Before.
func Due(last time.Time) time.Time { return Before(day(last).AddDate(0, 0, 14)) }

// ReportDue is when a month's report is due: the 15th of the next month (27 CFR
// 19.632). No rule that moves it was found, so it is not moved.
func ReportDue(year int, month time.Month) time.Time {
	return time.Date(year, month+1, 15, 0, 0, 0, 0, time.UTC)
}

// middle moves the second September payment: off a Saturday or holiday to the
// day before, off a Sunday to the day after (27 CFR 19.237, copy of 2015).
func middle(on time.Time) time.Time {
	if on.Weekday() == time.Sunday {
		return on.AddDate(0, 0, 1)
	}
	if on.Weekday() == time.Saturday || IsHoliday(on) {
		return Before(on.AddDate(0, 0, -1))
	}
	return on
}

// A Frequency is how often a return is filed.
type Frequency string

// The frequencies.
const (
	Annual      Frequency = "annual"
	Quarterly   Frequency = "quarterly"
	SemiMonthly Frequency = "semi-monthly"
)

// FrequencyOf is how often an owner of that liability may file (27 CFR 19.235):
// annually where not over 1,000 USD were owed in the year before and no more is
// expected in this, quarterly by the same test with 50,000 USD, and else twice
// a month.
func FrequencyOf(lastYear, expected decimal.Decimal) Frequency {
	most := decimal.Max(lastYear, expected)
	switch {
	case !most.GreaterThan(LimitOf("annual").Value):
		return Annual
	case !most.GreaterThan(LimitOf("quarterly").Value):
		return Quarterly
	}
	return SemiMonthly
}

// MustPayElectronically reports whether last year's liability asks for it (27
// CFR 19.240, from memory).
func MustPayElectronically(lastYear decimal.Decimal) bool {
	return lastYear.GreaterThanOrEqual(LimitOf("electronic").Value)
}

// A Period is a return period.
type Period struct {
	From, To, Due time.Time
	Frequency     Frequency
	Rule          string // the section, and how far it was read
}

const (
	ruleDue       = "27 CFR 19.236: the 14th day after the period, before a weekend or holiday (copy of 2015)"
	ruleAnnual    = "27 CFR 19.235(b): 14 January (from memory), before a weekend or holiday"
	ruleSeptember = "27 CFR 19.237, the special rule of September (copy of 2015: check before use)"
	ruleQuarter   = "27 CFR 19.235(c): over 50,000 USD the rest of the year is semi-monthly (from memory)"
	ruleAnnualEnd = "27 CFR 19.235(b): over 1,000 USD the annual period ends; due 14 days after the end of the period in which it happened (copy of October 2022)"
)

func ymd(year int, month time.Month, d int) time.Time {
	return time.Date(year, month, d, 0, 0, 0, 0, time.UTC)
}

// Periods lists the return periods of a year with the days they are due.
// electronic says whether tax is paid by transfer, which matters in September.
func Periods(year int, f Frequency, electronic bool) []Period {
	var out []Period
	switch f {
	case Annual:
		last := ymd(year, 12, 31)
		out = append(out, Period{ymd(year, 1, 1), last, Due(last), f, ruleAnnual})
	case Quarterly:
		for m := time.Month(1); m <= 12; m += 3 {
			last := ymd(year, m+3, 0)
			out = append(out, Period{ymd(year, m, 1), last, Due(last), f, ruleDue})
		}
	default:
		for m := time.January; m <= time.December; m++ {
			half := ymd(year, m, 15)
			out = append(out, Period{ymd(year, m, 1), half, Due(half), f, ruleDue})
			if m == time.September {
				out = append(out, september(year, electronic)...)
				continue
			}
			last := ymd(year, m+1, 0)
			out = append(out, Period{ymd(year, m, 16), last, Due(last), f, ruleDue})
		}
	}
	return out
}

// september parts the second half of September: to the 26th, or the 25th for
// payers by cheque, due at the month's end, and the rest, due in October.
func september(year int, electronic bool) []Period {
	end, due := 26, 29
	if !electronic {
		end, due = 25, 28
	}
	last := ymd(year, 9, 30)
	return []Period{
		{ymd(year, 9, 16), ymd(year, 9, end), middle(ymd(year, 9, due)), SemiMonthly, ruleSeptember},
		{ymd(year, 9, end+1), last, Due(last), SemiMonthly, ruleSeptember},
	}
}

// SafeHarbour is the least payment for the middle September period that the law
// takes as enough, the rest being paid by 14 October: 11/15 of the tax of 1 to
// 15 September, or 2/3 for payers by cheque (27 CFR 19.237, copy of 2015).
func SafeHarbour(first, second decimal.Decimal, electronic bool) decimal.Decimal {
	num, den := decimal.NewFromInt(11), decimal.NewFromInt(15)
	if !electronic {
		num, den = decimal.NewFromInt(2), decimal.NewFromInt(3)
	}
	// A payment a cent short of the fraction is no safe harbour.
	return decimal.Min(second, first.Mul(num).Div(den).RoundUp(2))
}

// A DayTax is the tax determined on a day.
type DayTax struct {
	On  time.Time
	Tax decimal.Decimal
}

// Calendar is Periods for a year of which the tax so far is known: where the
// year's total passes the limit of the frequency, the period in which that
// happens ends with the shorter one around that day, and the rest of the year
// goes on by the shorter ones.
func Calendar(year int, f Frequency, electronic bool, tax []DayTax) []Period {
	var out []Period
	for start := ymd(year, 1, 1); start.Year() == year; start = out[len(out)-1].To.AddDate(0, 0, 1) {
		p := containing(year, f, electronic, start)
		p.From = start
		for _, s := range []struct {
			from, to    Frequency
			limit, rule string
		}{{Annual, Quarterly, "annual", ruleAnnualEnd}, {Quarterly, SemiMonthly, "quarterly", ruleQuarter}} {
			at, passed := passes(year, LimitOf(s.limit).Value, tax)
			if f != s.from || !passed || at.After(p.To) {
				continue
			}
			f = s.to
			q := containing(year, f, electronic, at)
			p.To, p.Due, p.Rule = q.To, q.Due, s.rule
		}
		out = append(out, p)
	}
	return out
}

// passes is the first day on which a year's tax is above a limit.
func passes(year int, limit decimal.Decimal, tax []DayTax) (time.Time, bool) {
	days := slices.Clone(tax)
	slices.SortStableFunc(days, func(a, b DayTax) int { return day(a.On).Compare(day(b.On)) })
	total := decimal.Zero
	for _, d := range days {
		if day(d.On).Year() != year {
			continue
		}
		if total = total.Add(d.Tax); total.GreaterThan(limit) {
			return day(d.On), true
		}
	}
	return time.Time{}, false
}

// containing is the period of a frequency that a day falls into.
func containing(year int, f Frequency, electronic bool, on time.Time) Period {
	all := Periods(year, f, electronic)
	return all[slices.IndexFunc(all, func(p Period) bool { return !p.To.Before(on) })]
}
