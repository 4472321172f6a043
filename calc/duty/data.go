package duty

import (
	_ "embed" // the data beside the code
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"gaugebook/calc/fault"
)

//go:embed rates.csv
var ratesCSV string

//go:embed limits.csv
var limitsCSV string

//go:embed wines.csv
var winesCSV string

//go:embed holidays.csv
var holidaysCSV string

// A Tier is a part of a year's removals with its rate.
type Tier struct {
	UpTo         decimal.Decimal // proof gallons in the calendar year; zero for the last, which is open
	Rate         decimal.Decimal // USD per proof gallon
	Source, Read string
}

// A Schedule is the tiers in force from a day on.
type Schedule struct {
	From, Until time.Time // a zero Until: still in force
	Tiers       []Tier
}

// Rates is the built-in data.
func Rates() []Schedule {
	s, err := ParseRates(ratesCSV)
	if err != nil {
		panic("duty: rates.csv: " + err.Error()) // held by a test
	}
	return s
}

// ParseRates reads rates as CSV with the heading from,until,up_to_pg,
// usd_per_pg,source,read: the tiers of one schedule share their days and stand
// in rising order, the last with an empty up_to_pg.
func ParseRates(text string) ([]Schedule, error) {
	rows, err := table(text, "from", "until", "up_to_pg", "usd_per_pg", "source", "read")
	if err != nil {
		return nil, err
	}
	var out []Schedule
	var faults fault.List
	for i, row := range rows {
		line := "line " + strconv.Itoa(i+2)
		from, err := date(row[0])
		faults.Add(line, err)
		until := time.Time{}
		if row[1] != "" {
			until, err = date(row[1])
			faults.Add(line, err)
		}
		rate, err := amount(row[3])
		faults.Add(line, err)
		t := Tier{Rate: rate, Source: row[4], Read: row[5]}
		if row[2] != "" {
			t.UpTo, err = amount(row[2])
			faults.Add(line, err)
		}
		if row[4] == "" {
			faults.Add(line, fault.Fault{Code: fault.Missing, Limit: "a rate needs its source", Remedy: "name the law and its section"})
		}
		n := len(out)
		if n == 0 || !out[n-1].From.Equal(from) {
			out = append(out, Schedule{From: from, Until: until})
			n++
		}
		s := &out[n-1]
		if k := len(s.Tiers); k > 0 {
			last := s.Tiers[k-1]
			if last.UpTo.IsZero() || !t.UpTo.IsZero() && !t.UpTo.GreaterThan(last.UpTo) {
				faults.Add(line, fault.Fault{Code: fault.Conflict, Value: row[2], Limit: "does not rise above the tier before it", Remedy: "list the tiers from the first proof gallon on, the open one last"})
			}
		}
		s.Tiers = append(s.Tiers, t)
	}
	for _, s := range out {
		if !s.Tiers[len(s.Tiers)-1].UpTo.IsZero() {
			faults.Add("up_to_pg", fault.Fault{Code: fault.Missing, Limit: "the last tier of a schedule is open", Remedy: "leave its up_to_pg empty"})
		}
	}
	for i := range out[:max(len(out)-1, 0)] {
		if !out[i+1].From.After(out[i].From) || !out[i].Until.IsZero() && !out[i].Until.Before(out[i+1].From) {
			faults.Add("from", fault.Fault{Code: fault.Conflict, Value: out[i+1].From.Format(time.DateOnly), Limit: "overlaps the schedule before it", Remedy: "list the schedules by day and end one before the next"})
		}
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return out, nil
}

// inForce is the schedule of a day.
func inForce(all []Schedule, on time.Time) (Schedule, error) {
	on = day(on)
	for i := len(all) - 1; i >= 0; i-- {
		if s := all[i]; !on.Before(s.From) && (s.Until.IsZero() || !on.After(s.Until)) {
			return s, nil
		}
	}
	return Schedule{}, fault.Fault{Code: fault.TooLow, Value: on.Format(time.DateOnly), Limit: "is a day for which no rates are on file", Remedy: "add the rates of that year with their source"}
}

// during are the schedules in force from one day to another, in their order.
func during(all []Schedule, from, to time.Time) ([]Schedule, error) {
	var out []Schedule
	for on := from; !on.After(to); on = on.AddDate(0, 0, 1) {
		s, err := inForce(all, on)
		if err != nil {
			return nil, err
		}
		if n := len(out); n == 0 || !same(out[n-1], s) {
			s.From = on
			out = append(out, s)
		}
	}
	return out, nil
}

// same reports whether two schedules are one.
func same(a, b Schedule) bool {
	return a.Until.Equal(b.Until) && slices.EqualFunc(a.Tiers, b.Tiers, func(x, y Tier) bool {
		return x.UpTo.Equal(y.UpTo) && x.Rate.Equal(y.Rate) && x.Source == y.Source && x.Read == y.Read
	})
}

// inLaw is the place of the schedule of a day among those of during.
func inLaw(laws []Schedule, on time.Time) int {
	at := 0
	for i, s := range laws {
		if !on.Before(s.From) {
			at = i
		}
	}
	return at
}

// Limit is one of the law's limits by its key, with where it stands.
type Limit struct {
	Value        decimal.Decimal
	Source, Read string
}

// LimitOf is a limit by its key: annual, quarterly, electronic (USD a year),
// flavour_share.
func LimitOf(key string) Limit {
	rows, err := table(limitsCSV, "from", "key", "value", "source", "read")
	if err != nil {
		panic("duty: limits.csv: " + err.Error())
	}
	for _, row := range rows {
		if row[1] == key {
			return Limit{decimal.RequireFromString(row[2]), row[3], row[4]}
		}
	}
	panic("duty: limits.csv has no " + key)
}

// WineRate is the rate of still wine of a strength, USD per wine gallon; ok is
// false above the last class.
func WineRate(abv decimal.Decimal) (l Limit, ok bool) {
	rows, err := table(winesCSV, "from", "class", "over_abv", "up_to_abv", "usd_per_gallon", "source", "read")
	if err != nil {
		panic("duty: wines.csv: " + err.Error())
	}
	for _, row := range rows {
		if abv.GreaterThan(decimal.RequireFromString(row[2])) && !abv.GreaterThan(decimal.RequireFromString(row[3])) {
			return Limit{decimal.RequireFromString(row[4]), row[5], row[6]}, true
		}
	}
	return Limit{}, false
}

// table reads CSV under its heading.
func table(text string, heading ...string) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.FieldsPerRecord = len(heading)
	rows, err := r.ReadAll()
	if err != nil {
		return nil, fault.Fault{Code: fault.NotANumber, Limit: err.Error(), Remedy: "write CSV with the heading " + strings.Join(heading, ",")}
	}
	if len(rows) < 2 || strings.Join(rows[0], ",") != strings.Join(heading, ",") {
		return nil, fault.Fault{Code: fault.Missing, Limit: "has no rows under the heading " + strings.Join(heading, ","), Remedy: "write the heading and the rows"}
	}
	return rows[1:], nil
}

func date(s string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return t, fault.Fault{Code: fault.NotANumber, Value: s, Limit: "is not a day", Remedy: "write it as 2026-11-25"}
	}
	return t, nil
}

func amount(s string) (decimal.Decimal, error) {
	d, err := decimal.NewFromString(s)
	switch {
	case err != nil:
		return d, fault.Fault{Code: fault.NotANumber, Value: s, Limit: "is not a number", Remedy: "use digits and one decimal point"}
	case d.IsNegative():
		return d, fault.Fault{Code: fault.TooLow, Value: s, Limit: "is below 0", Remedy: "check the figure"}
	}
	return d, nil
}

// day strips a time of everything but its date.
func day(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}
