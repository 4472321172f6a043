package duty

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
)

func published(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/published/26-usc-5001/" + file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func on(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

func firstFault(t require.TestingT, err error) fault.Fault {
	var l fault.List
	l.Add("", err)
	require.NotEmpty(t, l)
	return l[0]
}

func equal(t *testing.T, want string, got decimal.Decimal, about ...any) {
	t.Helper()
	assert.True(t, dec(want).Equal(got), "got %s, want %s %v", got, want, about)
}

func sale(day, product, pg string) Removal {
	return Removal{On: on(day), Product: product, Purpose: Sale, PG: dec(pg)}
}

func year(rs ...Removal) Return {
	return Return{From: on("2026-01-01"), To: on("2026-12-31"), Removals: rs}
}

func TestPublishedTax(t *testing.T) {
	for _, row := range published(t, "tax.csv") {
		a, err := Assess(year(sale("2026-03-02", "rye whisky", row[0])))
		require.NoError(t, err)
		equal(t, row[1], a.Tax, row[0], "proof gallons (26 USC 5001)")
		assert.NotEmpty(t, a.Working())
	}
}

func TestDataIsWholeAndSourced(t *testing.T) {
	for _, s := range Rates() {
		for _, tier := range s.Tiers {
			assert.NotEmpty(t, tier.Source)
			assert.NotEmpty(t, tier.Read)
		}
	}
	for _, key := range []string{"annual", "quarterly", "electronic", "flavour_share"} {
		assert.True(t, LimitOf(key).Value.IsPositive(), key)
		assert.NotEmpty(t, LimitOf(key).Source)
	}
	for _, abv := range []string{"10", "16", "16.1", "21", "23"} {
		l, ok := WineRate(dec(abv))
		require.True(t, ok, abv)
		assert.NotEmpty(t, l.Read)
	}
	_, ok := WineRate(dec("24.1"))
	assert.False(t, ok)
}

// Rates are data: an owner's file takes over, and what is wrong with it is said.
func TestParseRates(t *testing.T) {
	s, err := ParseRates("from,until,up_to_pg,usd_per_pg,source,read\n2018-01-01,2029-12-31,,13.50,law,read\n2030-01-01,,50,1.00,law,read\n2030-01-01,,,20.00,law,read\n")
	require.NoError(t, err)
	r := year(sale("2030-02-01", "gin", "60"))
	r.Rates, r.From, r.To = s, on("2030-01-01"), on("2030-12-31")
	a, err := Assess(r)
	require.NoError(t, err)
	equal(t, "250", a.Tax)
	for bad, words := range map[string]string{
		"2030-01-01,,50,1.00,law,read\n": "last tier of a schedule is open",
		"2030-01-01,,50,1.00,law,read\n2030-01-01,,40,2.00,law,read\n2030-01-01,,,3,law,read\n": "does not rise",
		"2030-13-01,,,1.00,law,read\n":                       "is not a day",
		"2030-01-01,,,x,law,read\n":                          "is not a number",
		"2030-01-01,,,1.00,,read\n":                          "needs its source",
		"2030-01-01,,,1,law,read\n2029-01-01,,,1,law,read\n": "overlaps",
		"": "no rows",
	} {
		_, err := ParseRates("from,until,up_to_pg,usd_per_pg,source,read\n" + bad)
		assert.ErrorContains(t, err, words)
	}
	_, err = Assess(Return{From: on("2010-01-01"), To: on("2010-01-31")})
	assert.ErrorContains(t, err, "no rates are on file")
}

// The tiers fill in the order of removals, so a line may fall into two.
func TestSplit(t *testing.T) {
	a, err := Assess(year(sale("2026-05-02", "gin", "60"), sale("2026-01-10", "quince brandy", "99950"), sale("2026-05-02", "gin", "10")))
	require.NoError(t, err)
	require.Len(t, a.Lines, 2)
	gin := a.Lines[1]
	assert.Equal(t, "gin", gin.Product)
	require.Len(t, gin.Parts, 2)
	equal(t, "50", gin.Parts[0].PG)
	equal(t, "20", gin.Parts[1].PG)
	equal(t, "401.8", gin.Tax, "50 × 2.70 + 20 × 13.34")
	equal(t, "100020", a.Year)

	share := year(sale("2026-05-02", "gin", "60"))
	share.Allowance, share.Before = []decimal.Decimal{dec("40")}, dec("10")
	a, err = Assess(share)
	require.NoError(t, err)
	equal(t, "481.2", a.Tax, "30 × 2.70 + 30 × 13.34: the group left 40, of which 10 are used")
	share.Allowance = []decimal.Decimal{dec("100001")}
	_, err = Assess(share)
	assert.Equal(t, "allowance 1", firstFault(t, err).Field)
	share.Allowance = []decimal.Decimal{dec("1"), dec("1"), dec("1")}
	_, err = Assess(share)
	assert.Equal(t, "allowance 3", firstFault(t, err).Field)
}

// A period counts its own removals; those of the year before it only fill tiers.
func TestPeriodOfAYear(t *testing.T) {
	r := year(sale("2025-12-30", "gin", "500"), sale("2026-01-10", "gin", "99990"), sale("2026-02-01", "gin", "20"), sale("2026-03-01", "gin", "5"))
	r.From, r.To = on("2026-02-01"), on("2026-02-15")
	a, err := Assess(r)
	require.NoError(t, err)
	equal(t, "160.4", a.Tax, "10 × 2.70 + 10 × 13.34")
	equal(t, "20", a.PG)
}

func TestPurposesAndCredits(t *testing.T) {
	r := year(sale("2026-05-02", "gin", "100"))
	for _, p := range []Purpose{TastingRoom, Export, InBond, Sample, Destroyed, Broken, Missing} {
		r.Removals = append(r.Removals, Removal{On: on("2026-05-02"), Product: "gin", Purpose: p, PG: dec("1")})
	}
	r.Credits = []Credit{
		{On: on("2026-06-01"), Why: "came back", PG: dec("2"), Rate: dec("13.34"), Allowed: "claim 3"},
		{On: on("2026-06-01"), Why: "came back", PG: dec("1"), Rate: dec("2.70")},
		{On: on("2027-06-01"), Why: "later", PG: dec("1"), Rate: dec("2.70"), Allowed: "claim 4"},
	}
	a, err := Assess(r)
	require.NoError(t, err)
	equal(t, "102", a.PG, "sale, tasting room and what nobody can explain")
	equal(t, "275.40", a.Gross)
	equal(t, "26.68", a.Credit, "at the rate that was paid")
	equal(t, "2.70", a.Pending)
	equal(t, "248.72", a.Tax)
	assert.Len(t, a.Untaxed, 5)
	r.Credits[0].PG = dec("1000")
	a, err = Assess(r)
	require.NoError(t, err)
	equal(t, "0", a.Tax)
	equal(t, "13064.60", a.Carried)
	_, err = Assess(year(Removal{On: on("2026-01-01"), Purpose: "lost", PG: dec("-1")}))
	var l fault.List
	l.Add("", err)
	assert.Len(t, l, 2)
}

// Cut into two periods anywhere, a year owes what it owes whole; and more
// removals never owe less.
func TestAssessLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r Return
		for range rapid.IntRange(1, 12).Draw(t, "removals") {
			r.Removals = append(r.Removals, Removal{On: on("2026-01-01").AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, "day")), Product: rapid.SampledFrom([]string{"gin", "rye"}).Draw(t, "product"), Purpose: Sale,
				PG: decimal.New(int64(rapid.IntRange(0, 400000).Draw(t, "tenths")), -1)})
		}
		r.From, r.To = on("2026-01-01"), on("2026-12-31")
		whole, err := Assess(r)
		require.NoError(t, err)
		cut := on("2026-01-01").AddDate(0, 0, rapid.IntRange(0, 363).Draw(t, "cut"))
		sum := decimal.Zero
		for _, p := range [][2]time.Time{{r.From, cut}, {cut.AddDate(0, 0, 1), r.To}} {
			q := r
			q.From, q.To = p[0], p[1]
			a, err := Assess(q)
			require.NoError(t, err)
			sum = sum.Add(a.Gross)
		}
		assert.True(t, sum.Sub(whole.Gross).Abs().LessThanOrEqual(dec("0.01")), "%s and %s", sum, whole.Gross)
		pg, tax := decimal.Zero, decimal.Zero
		for _, l := range whole.Lines {
			pg, tax = pg.Add(l.PG), tax.Add(l.Tax)
		}
		assert.True(t, pg.Equal(whole.PG))
		assert.True(t, Cent(tax).Equal(whole.Gross))
		more := r
		more.Removals = append(more.Removals, Removal{On: on("2026-07-01"), Product: "gin", Purpose: Sale, PG: dec("0.1")})
		b, err := Assess(more)
		require.NoError(t, err)
		assert.True(t, b.Gross.GreaterThan(whole.Gross))
	})
}

func TestEffectiveRate(t *testing.T) {
	for _, row := range published(t, "effective.csv") {
		f := Formula{Spirits: dec(row[0]), Wines: []Wine{{dec(row[1]), dec(row[2]), dec(row[3])}, {dec(row[4]), dec(row[5]), dec(row[6])}}, Flavours: dec(row[7])}
		e, err := f.Rate(dec(row[8]), 2)
		require.NoError(t, err)
		equal(t, row[9], e.ProofGallons, "27 CFR 19.246(c)")
		equal(t, row[10], e.Excess, "27 CFR 19.246(c)")
		equal(t, row[11], e.Tax)
		equal(t, row[12], e.Rate)
		assert.NotEmpty(t, e.Working())
		f.Wines[0].Rate, f.Wines[1].Rate = decimal.Zero, decimal.Zero
		again, err := f.Rate(dec(row[8]), 2)
		require.NoError(t, err)
		equal(t, row[12], again.Rate, "the classes on file give the same rates")
		low, err := f.Rate(dec("2.70"), 4)
		require.NoError(t, err)
		assert.True(t, low.Rate.LessThan(e.Rate), "each tier has its own effective rate")
		r := year(Removal{On: on("2026-05-02"), Product: "liqueur", Purpose: Sale, PG: dec("100"), Formula: &f})
		r.Before = dec("22230000")
		a, err := Assess(r)
		require.NoError(t, err)
		equal(t, "1027.00", a.Tax)
	}
	plain, err := Formula{Spirits: dec("10")}.Rate(dec("13.50"), 2)
	require.NoError(t, err)
	equal(t, "13.5", plain.Rate, "spirits alone bear their own rate")
	free, err := Formula{Spirits: dec("97.5"), Flavours: dec("2.5")}.Rate(dec("13.50"), 4)
	require.NoError(t, err)
	equal(t, "0", free.Excess, "2.5 % is free")
	equal(t, "13.1625", free.Rate)
	highest, err := Standard(dec("13.50"), 2, Formula{Spirits: dec("97"), Flavours: dec("3")}, Formula{Spirits: dec("99"), Flavours: dec("1")})
	require.NoError(t, err)
	equal(t, "13.37", highest.Rate, "the least flavour gives the highest rate")
	for _, f := range []Formula{{}, {Spirits: dec("-1")}, {Spirits: dec("1"), Wines: []Wine{{dec("1"), dec("30"), decimal.Zero}}}} {
		_, err := f.Rate(dec("13.50"), 2)
		assert.Error(t, err)
	}
	_, err = Formula{Spirits: dec("1")}.Rate(dec("13.50"), 1)
	assert.Equal(t, "places", firstFault(t, err).Field)
}

func TestHolidays(t *testing.T) {
	for _, row := range published(t, "holidays.csv") {
		var got []string
		for _, h := range Holidays(on(row[0] + "-01-01").Year()) {
			got = append(got, h.Observed.Format(time.DateOnly))
			assert.NotEmpty(t, h.Source)
			assert.True(t, IsHoliday(h.Observed))
		}
		assert.Equal(t, row[1], strings.Join(got, " "))
	}
	assert.Len(t, Holidays(2020), 10, "Juneteenth is kept since 2021")
	assert.True(t, IsHoliday(on("2021-12-31")), "New Year's Day of 2022 was a Saturday")
}

func TestDueDays(t *testing.T) {
	for _, row := range published(t, "due.csv") {
		from := on(row[2])
		var found bool
		for _, p := range Periods(from.Year(), Frequency(row[0]), row[1] == "yes") {
			if p.From.Equal(from) {
				found = true
				assert.Equal(t, row[3], p.To.Format(time.DateOnly), "%v", row)
				assert.Equal(t, row[4], p.Due.Format(time.DateOnly), "%v", row)
				assert.NotEmpty(t, p.Rule)
			}
		}
		assert.True(t, found, "%v", row)
	}
	assert.Equal(t, "2026-12-15", ReportDue(2026, time.November).Format(time.DateOnly))
	assert.Equal(t, "2027-01-15", ReportDue(2026, time.December).Format(time.DateOnly))
}

// The periods of a year follow each other without a gap, and nothing is due on
// a day on which nothing can be paid, nor before its period ends.
func TestPeriodsCoverTheYear(t *testing.T) {
	for y := 2018; y < 2050; y++ {
		for _, f := range []Frequency{Annual, Quarterly, SemiMonthly} {
			for _, electronic := range []bool{true, false} {
				covers(t, y, Periods(y, f, electronic))
			}
		}
	}
}

func covers(t require.TestingT, y int, ps []Period) {
	require.NotEmpty(t, ps)
	next := ymd(y, 1, 1)
	for _, p := range ps {
		assert.True(t, p.From.Equal(next), "%s begins on %s", p.From, next)
		assert.False(t, p.To.Before(p.From))
		assert.True(t, p.Due.After(p.To))
		assert.False(t, weekend(p.Due) || IsHoliday(p.Due), "%s", p.Due)
		next = p.To.AddDate(0, 0, 1)
	}
	assert.True(t, next.Equal(ymd(y+1, 1, 1)))
}

func TestSeptemberExample(t *testing.T) {
	for _, row := range published(t, "september.csv") {
		equal(t, row[5], SafeHarbour(dec(row[1]), dec(row[2]), row[0] == "yes"), "27 CFR 19.237(d)")
	}
	equal(t, "66.67", SafeHarbour(dec("100"), dec("1000"), false), "2/3, and no cent less")
	equal(t, "10", SafeHarbour(dec("100"), dec("10"), true), "never more than is owed")
}

func TestFrequency(t *testing.T) {
	for _, c := range []struct {
		last, expected string
		want           Frequency
	}{{"0", "1000", Annual}, {"1000.01", "0", Quarterly}, {"20000", "50000", Quarterly}, {"0", "50000.01", SemiMonthly}} {
		assert.Equal(t, c.want, FrequencyOf(dec(c.last), dec(c.expected)), "%v", c)
	}
	assert.True(t, MustPayElectronically(dec("5000000")))
	assert.False(t, MustPayElectronically(dec("4999999")))
}

func TestCalendarGoesOver(t *testing.T) {
	tax := func(pairs ...string) []DayTax {
		var out []DayTax
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, DayTax{on(pairs[i]), dec(pairs[i+1])})
		}
		return out
	}
	show := func(ps []Period) []string {
		covers(t, 2026, ps)
		var out []string
		for _, p := range ps[:min(3, len(ps))] {
			out = append(out, p.From.Format("01-02")+"/"+p.To.Format("01-02"))
		}
		return out
	}
	assert.Equal(t, []string{"01-01/12-31"}, show(Calendar(2026, Annual, false, tax("2026-05-10", "1000"))))
	assert.Equal(t, []string{"01-01/06-30", "07-01/09-30", "10-01/12-31"}, show(Calendar(2026, Annual, false, tax("2026-05-10", "1000", "2026-05-11", "0.01"))))
	assert.Equal(t, []string{"01-01/03-31", "04-01/05-15", "05-16/05-31"}, show(Calendar(2026, Quarterly, false, tax("2026-05-10", "50001"))))
	assert.Equal(t, []string{"01-01/05-31", "06-01/06-15", "06-16/06-30"}, show(Calendar(2026, Annual, false, tax("2026-05-10", "1001", "2026-05-20", "60000"))))
	assert.Equal(t, []string{"01-01/06-30", "07-01/08-31", "09-01/09-15"}, show(Calendar(2026, Annual, true, tax("2026-05-10", "1001", "2026-08-20", "60000"))))
	rapid.Check(t, func(t *rapid.T) {
		var days []DayTax
		for range rapid.IntRange(0, 8).Draw(t, "n") {
			days = append(days, DayTax{on("2026-01-01").AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, "day")), decimal.NewFromInt(int64(rapid.IntRange(0, 30000).Draw(t, "tax")))})
		}
		covers(t, 2026, Calendar(2026, rapid.SampledFrom([]Frequency{Annual, Quarterly, SemiMonthly}).Draw(t, "frequency"), rapid.Bool().Draw(t, "electronic"), days))
	})
}

func TestGroup(t *testing.T) {
	rs := []Removal{
		{On: on("2026-05-02"), Product: "gin", Purpose: Sale, PG: dec("2.0"), Litres: dec("9"), Bottles: 12, Destination: "in state"},
		{On: on("2026-05-03"), Product: "gin", Purpose: TastingRoom, PG: dec("0.2"), Litres: dec("0.75"), Bottles: 1, Destination: "in state"},
		{On: on("2026-05-03"), Product: "rye", Purpose: Sale, PG: dec("2.0"), Litres: dec("9"), Bottles: 12, Destination: "elsewhere"},
		{On: on("2026-06-03"), Product: "rye", Purpose: Sale, PG: dec("2.0"), Litres: dec("9"), Bottles: 12, Destination: "in state"},
	}
	got, err := Group(rs, on("2026-05-01"), on("2026-05-31"),
		Grouping{Name: "spirits sold in the state", Destinations: []string{"in state"}, Purposes: []Purpose{Sale, TastingRoom}, Per: WineGallons, Rate: dec("6.00"), Source: "invented"},
		Grouping{Name: "bottles of gin", Products: []string{"gin"}, Per: Bottles})
	require.NoError(t, err)
	equal(t, "15.45", got[0].Tax, "9.75 L are 2.57568 gal")
	assert.Equal(t, 2, got[0].Count)
	equal(t, "13", got[1].Amount)
	_, err = Group(rs, on("2026-05-01"), on("2026-05-31"), Grouping{Name: "x", Per: "barrels"})
	assert.Equal(t, fault.NotOneOf, firstFault(t, err).Code)
}

// Rates that change within a year: each removal bears the law of its day, and
// the tiers go on filling. Sums by hand.
func TestALawThatChangesWithinTheYear(t *testing.T) {
	rates := append(Rates(), Schedule{From: on("2026-07-01"), Tiers: []Tier{{UpTo: dec("100"), Rate: dec("3"), Source: "invented"}, {Rate: dec("14"), Source: "invented"}}})
	a, err := Assess(Return{From: on("2026-01-01"), To: on("2026-12-31"), Rates: rates, Removals: []Removal{
		{On: on("2026-06-30"), Product: "rye", Purpose: Sale, PG: dec("60")}, {On: on("2026-07-01"), Product: "rye", Purpose: Sale, PG: dec("60")}}})
	require.NoError(t, err)
	assert.Equal(t, "562", a.Gross.String(), "60 × 2.70 + 40 × 3 + 20 × 14 = 162 + 120 + 280")
}
