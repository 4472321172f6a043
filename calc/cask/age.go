package cask

import (
	"strconv"
	"time"
)

// An Age is a time in wood as the records state it: whole years, whole months
// and days (27 CFR 19.592, 19.620).
type Age struct {
	Years, Months, Days int
	Total               int // all of it in days
}

// day strips a time of everything but its date.
func day(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// monthsAfter is the same day so many months on, or the last day of that month
// where it has no such day: what was filled on 31 January is a month old at the
// end of February.
func monthsAfter(t time.Time, months int) time.Time {
	first := time.Date(t.Year(), t.Month()+time.Month(months), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return first.AddDate(0, 0, min(t.Day(), last)-1)
}

// Between is the age on a day of what was filled on another; the zero Age where
// it was not filled yet. A month is full when the same day of it has come; where
// it has no such day, as many days into the next month as are missing: from the
// 30th of January to the 1st of March is no month yet. A stated age may be under-,
// never overstated (27 CFR 5.74, at third hand).
func Between(filled, on time.Time) Age {
	from, to := day(filled), day(on)
	if to.Before(from) {
		return Age{}
	}
	years, months := 0, 0
	for !from.AddDate(years+1, 0, 0).After(to) {
		years++
	}
	for !from.AddDate(years, months+1, 0).After(to) {
		months++
	}
	return Age{years, months, days(from.AddDate(years, months, 0), to), days(from, to)}
}

func days(from, to time.Time) int { return int(to.Sub(from) / (24 * time.Hour)) }

// OfAge is the day on which what was filled on a day is so many years and
// months old.
func OfAge(filled time.Time, years, months int) time.Time {
	return day(filled).AddDate(years, months, 0)
}

// A Stay is a time in one barrel; a zero Out means it is still there.
type Stay struct{ In, Out time.Time }

// InWood adds up stays up to a day. Time in glass or steel between them does not
// count, and what counts for a label (charred new oak only, for some types) is
// for the caller to choose: give those stays alone (27 CFR 5.1, "age").
func InWood(on time.Time, stays ...Stay) Age {
	total := 0
	for _, s := range stays {
		out := day(on)
		if !s.Out.IsZero() && day(s.Out).Before(out) {
			out = day(s.Out)
		}
		if in := day(s.In); out.After(in) {
			total += days(in, out)
		}
	}
	return Between(day(on).AddDate(0, 0, -total), on)
}

// String is the age in words: "4 years, 2 months, 11 days".
func (a Age) String() string {
	s := ""
	for _, p := range []struct {
		n    int
		name string
	}{{a.Years, "year"}, {a.Months, "month"}, {a.Days, "day"}} {
		if p.n == 0 && (p.name != "day" || s != "") {
			continue
		}
		if s != "" {
			s += ", "
		}
		s += strconv.Itoa(p.n) + " " + p.name
		if p.n != 1 {
			s += "s"
		}
	}
	return s
}
