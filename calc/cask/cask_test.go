package cask

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func published(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/published/maturation/" + file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

func num(s string) float64            { return decimal.RequireFromString(s).InexactFloat64() }
func litre(s string) quantity.Reading { return quantity.MustParse(s, quantity.Litre) }
func abv(s string) quantity.Reading   { return quantity.MustParse(s, quantity.ABV20) }
func kilo(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Kilogram) }
func cm(s string) quantity.Reading    { return quantity.MustParse(s, quantity.Centimetre) }
func date(y, m, d int) time.Time      { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
func reading(x float64, places int32, u quantity.Unit) quantity.Reading {
	return quantity.FromDecimal(decimal.NewFromFloat(x).Round(places), u)
}

func faultsOf(t *testing.T, err error) fault.List {
	t.Helper()
	require.Error(t, err)
	return listed(err)
}

func TestCompounding(t *testing.T) {
	for _, row := range published(t, "compounding.csv") {
		e, err := Evaporate(Evaporation{Volume: litre(row[0]), FirstYear: pct(row[1]), Yearly: pct(row[2]), Years: plain(row[3])})
		require.NoError(t, err)
		assert.InDelta(t, num(row[4]), e.Volume.Value, num(row[5]), "%v", row)
		assert.Equal(t, quantity.NoUnit, e.Strength.Unit, "a rate tells nothing of the strength")
		assert.NotEmpty(t, e.Working())
	}
}

func TestEvaporateLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		yearly, years := rapid.Float64Range(0, 20).Draw(t, "yearly"), rapid.Float64Range(0, 40).Draw(t, "years")
		e := Evaporation{Volume: litre("200"), Strength: abv("62.5"), Drift: abv("-0.3"), Yearly: reading(yearly, 3, quantity.Percent), Years: reading(years, 3, quantity.NoUnit)}
		a, err := Evaporate(e)
		require.NoError(t, err)
		assert.InDelta(t, 200, a.Volume.Value+a.Lost.Value, 1e-9)
		whole, err := pure(quantity.Litre, 200, quantity.ABV20, 62.5)
		require.NoError(t, err)
		assert.InDelta(t, 125, whole, 1e-4, "200 L of 62.5 %% vol")
		assert.InDelta(t, whole, a.PureAlcohol.Value+a.PureLost.Value, 1e-9)
		e.Years = reading(years+1, 3, quantity.NoUnit)
		b, err := Evaporate(e)
		require.NoError(t, err)
		assert.LessOrEqual(t, b.Volume.Value, a.Volume.Value+1e-9)
		if years > 1 {
			assert.InDelta(t, a.Volume.Value*(1-e.Yearly.Float()/100), b.Volume.Value, 1e-6)
		}
	})
}

func TestEvaporateUncertainty(t *testing.T) {
	e := Evaporation{Volume: litre("200±1"), Yearly: pct("2.0±0.5"), Years: plain("1")}
	a, err := Evaporate(e)
	require.NoError(t, err)
	assert.InDelta(t, math.Hypot(0.98*1, 2*0.5)/math.Sqrt(3), a.Volume.U, 1e-3)
}

func TestEvaporateFaults(t *testing.T) {
	l := faultsOf(t, func() error {
		_, err := Evaporate(Evaporation{Volume: litre("0"), Yearly: pct("50"), Drift: abv("-0.5")})
		return err
	}())
	var fields []string
	for _, f := range l {
		fields = append(fields, f.Field)
	}
	assert.Equal(t, []string{"volume", "yearly", "years", "strength"}, fields)
	_, err := Evaporate(Evaporation{Volume: litre("200"), Strength: abv("62"), Drift: abv("-5"), Yearly: pct("2"), Years: plain("30")})
	assert.Equal(t, "drift", faultsOf(t, err)[0].Field, "no spirit is weaker than water")
	_, err = Evaporate(Evaporation{Volume: litre("200"), Strength: abv("62"), Drift: quantity.MustParse("1", quantity.Proof), Yearly: pct("2"), Years: plain("3")})
	assert.Equal(t, fault.WrongUnit, faultsOf(t, err)[0].Code)
}

func TestTypicalLossesAreDatedAndSourced(t *testing.T) {
	for _, r := range TypicalLosses() {
		assert.NotEmpty(t, r.Place)
		assert.NotEmpty(t, r.Source)
		assert.NotEmpty(t, r.Read)
		assert.Regexp(t, `^\d{4}-\d{2}$`, r.As)
		assert.LessOrEqual(t, r.Low.Float(), r.High.Float(), r.Place)
	}
}

func TestAge(t *testing.T) {
	for _, c := range []struct {
		from, to time.Time
		want     Age
		words    string
	}{
		{date(2022, 3, 15), date(2026, 3, 14), Age{3, 11, 27, 1460}, "3 years, 11 months, 27 days"},
		{date(2022, 3, 15), date(2026, 3, 15), Age{4, 0, 0, 1461}, "4 years"},
		{date(2024, 2, 29), date(2025, 2, 28), Age{0, 11, 30, 365}, "11 months, 30 days"},
		{date(2024, 2, 29), date(2025, 3, 1), Age{1, 0, 0, 366}, "1 year"},
		{date(2024, 1, 31), date(2024, 2, 29), Age{0, 0, 29, 29}, "29 days"},
		{date(2024, 1, 31), date(2024, 3, 1), Age{0, 0, 30, 30}, "30 days"},
		{date(2024, 1, 31), date(2024, 3, 2), Age{0, 1, 0, 31}, "1 month"},
		{date(2026, 5, 1), date(2026, 5, 1), Age{}, "0 days"},
		{date(2026, 5, 2), date(2026, 5, 1), Age{}, "0 days"},
	} {
		got := Between(c.from, c.to)
		assert.Equal(t, c.want, got, "%v to %v", c.from, c.to)
		assert.Equal(t, c.words, got.String())
	}
}

// The day on which an age is reached is the first on which it is that age.
func TestOfAgeIsTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := date(2000, 1, 1).AddDate(0, 0, rapid.IntRange(0, 9000).Draw(t, "day"))
		years, months := rapid.IntRange(0, 30).Draw(t, "years"), rapid.IntRange(0, 11).Draw(t, "months")
		on := OfAge(from, years, months)
		a := Between(from, on)
		assert.Equal(t, [2]int{years, months}, [2]int{a.Years, a.Months})
		assert.Zero(t, a.Days)
		if on.After(from) {
			b := Between(from, on.AddDate(0, 0, -1))
			assert.Less(t, b.Years*12+b.Months, years*12+months)
		}
	})
}

func TestInWood(t *testing.T) {
	a := InWood(date(2026, 6, 1), Stay{date(2022, 1, 1), date(2024, 1, 1)}, Stay{In: date(2025, 6, 1)})
	assert.Equal(t, 730+365, a.Total)
	assert.Equal(t, 2, a.Years, "two of the three years and a day short")
	assert.Equal(t, Age{}, InWood(date(2020, 1, 1), Stay{In: date(2025, 6, 1)}))
}

func TestTank(t *testing.T) {
	table, err := NewTable([]Strapping{{cm("50"), litre("400")}, {cm("10"), litre("60")}, {cm("100"), litre("830")}})
	require.NoError(t, err)
	d, err := table.Volume(cm("75±0.2"))
	require.NoError(t, err)
	assert.InDelta(t, 615, d.Volume.Value, 1e-9)
	assert.InDelta(t, 8.6, d.PerCM.Value, 1e-9)
	assert.InDelta(t, 8.6*0.2/math.Sqrt(3), d.Volume.U, 1e-6)
	assert.NotEmpty(t, d.Working())
	for _, r := range []struct {
		dip  quantity.Reading
		want float64
	}{{cm("10"), 60}, {cm("50"), 400}, {cm("100"), 830}, {quantity.MustParse("19.685039370079", quantity.Inch), 400}} {
		d, err := table.Volume(r.dip)
		require.NoError(t, err)
		assert.InDelta(t, r.want, d.Volume.Value, 1e-6)
	}
	for dip, code := range map[string]fault.Code{"9": fault.TooLow, "101": fault.TooHigh, "-1": fault.TooLow} {
		_, err := table.Volume(cm(dip))
		assert.Equal(t, code, faultsOf(t, err)[0].Code)
	}
	_, err = NewTable([]Strapping{{cm("10"), litre("60")}, {cm("50"), litre("50")}})
	assert.Equal(t, fault.Conflict, faultsOf(t, err)[0].Code)
	_, err = NewTable(nil)
	assert.Equal(t, fault.Missing, faultsOf(t, err)[0].Code)
}

// The cylinders against geometry: a full one is π d² L/4, half full half of it,
// and a table made of a cylinder reads as the cylinder does.
func TestCylinders(t *testing.T) {
	full := math.Pi / 4 * 80 * 80 * 120 / 1000
	up, err := Upright{cm("80")}.Volume(cm("120"))
	require.NoError(t, err)
	assert.InDelta(t, full, up.Volume.Value, 1e-9)
	for dip, want := range map[string]float64{"0": 0, "40": full / 2, "80": full, "20": full * (math.Pi/3 - math.Sqrt(3)/4) / math.Pi} {
		d, err := Lying{cm("80"), cm("120")}.Volume(cm(dip))
		require.NoError(t, err)
		assert.InDelta(t, want, d.Volume.Value, 1e-6, dip)
	}
	last := -1.0
	for h := 0.0; h <= 80; h++ {
		d, err := Lying{cm("80"), cm("120")}.Volume(reading(h, 0, quantity.Centimetre))
		require.NoError(t, err)
		assert.Greater(t, d.Volume.Value, last)
		last = d.Volume.Value
	}
	_, err = Lying{cm("80"), cm("120")}.Volume(cm("81"))
	assert.Equal(t, fault.TooHigh, faultsOf(t, err)[0].Code)
}

func TestMaceration(t *testing.T) {
	for _, row := range published(t, "maceration.csv") {
		m, err := Macerate(Maceration{Spirit: litre(row[0]), Strength: abv(row[1]), Fruit: kilo(row[2]), Water: pct(row[3])})
		require.NoError(t, err)
		assert.InDelta(t, num(row[4]), m.Strength.Value, 0.05, "%v", row)
		if row[5] != "" {
			assert.InDelta(t, num(row[5]), m.Liquid.Value, 0.005, "%v", row)
		}
		// Alcohol is conserved: what drains and what stays are what went in.
		in, err := pure(quantity.Litre, num(row[0]), quantity.ABV20, num(row[1]))
		require.NoError(t, err)
		drained, err := pure(quantity.Litre, m.DrainedTop.Value, quantity.ABV20, m.Strength.Value)
		require.NoError(t, err)
		assert.InDelta(t, in, drained+m.LeftLow.Value, 1e-4)
	}
	m, err := Macerate(Maceration{Spirit: litre("10"), Strength: abv("40"), Fruit: kilo("12")})
	require.NoError(t, err)
	assert.Contains(t, m.Advice, "Below 25 % vol")
	dry, err := Macerate(Maceration{Spirit: litre("10"), Strength: abv("60"), Fruit: kilo("0.4"), Water: pct("0")})
	require.NoError(t, err)
	assert.InDelta(t, 60, dry.Strength.Value, 1e-6, "peel without water leaves the strength")
	_, err = Macerate(Maceration{Spirit: abv("10")})
	assert.Len(t, faultsOf(t, err), 3)
}

// Humid air lets the strength fall, dry air lets it rise, and between the two
// lies the break-even humidity (60 to 70 % quoted for 63 % vol).
func TestHumidityDecidesTheDirection(t *testing.T) {
	for _, row := range published(t, "humidity.csv") {
		f, err := Barrel{Humidity: pct(row[0]), Yearly: pct(row[4]), Gauges: []Gauging{{date(2024, 1, 1), litre("200"), abv("63")}}}.Fit()
		require.NoError(t, err)
		assert.GreaterOrEqual(t, f.Drift.Value, num(row[1]), row[3])
		assert.LessOrEqual(t, f.Drift.Value, num(row[2]), row[3])
	}
	f, err := Barrel{Gauges: []Gauging{{date(2024, 1, 1), litre("200"), abv("63")}}}.Fit()
	require.NoError(t, err)
	assert.InDelta(t, 65, f.BreakEven.Value, 5, "quoted as 60 to 70 %%")
	at, err := Barrel{Humidity: reading(f.BreakEven.Value, 4, quantity.Percent), Gauges: []Gauging{{date(2024, 1, 1), litre("200"), abv("63")}}}.Fit()
	require.NoError(t, err)
	assert.InDelta(t, 0, at.Drift.Value, 0.01)
	last := math.Inf(1)
	for _, h := range []string{"40", "50", "60", "70", "80", "90"} {
		f, err := Barrel{Humidity: pct(h), Gauges: []Gauging{{date(2024, 1, 1), litre("200"), abv("63")}}}.Fit()
		require.NoError(t, err)
		assert.Less(t, f.Drift.Value, last, h)
		last = f.Drift.Value
	}
}

// nature is a barrel that follows the model with rates of its own, years that
// differ and gauges that err.
type nature struct {
	filter
	chance *rand.Rand
}

func (n *nature) age(years float64) {
	for range int(math.Round(years * 12)) {
		w, e := n.flux(n.x)
		common := n.chance.NormFloat64()
		own := func() float64 {
			return 1 + 0.15*math.Sqrt(12)*(common+n.chance.NormFloat64())/math.Sqrt2
		}
		n.x[0] -= w / 12 * own()
		n.x[1] -= e / 12 * own()
	}
}

func (n *nature) gauge(on time.Time) Gauging {
	m := n.x[0] + n.x[1]
	s, _ := spirit.FromMassFraction(spirit.MassFraction(n.x[1] / m))
	v := litres(m, s, spirit.At20C) * (1 + 0.003*n.chance.NormFloat64())
	return Gauging{on, reading(v, 4, quantity.Litre), reading(s.ABV20()+0.1*n.chance.NormFloat64(), 4, quantity.ABV20)}
}

// TestFitRecoversAndCovers raises barrels of known rates and counts how often
// the truth lies in the band of two standard uncertainties.
func TestFitRecoversAndCovers(t *testing.T) {
	chance := rand.New(rand.NewPCG(9, 4))
	const barrels = 400
	var volumes, strengths, recovered int
	var widths float64
	for range barrels {
		humidity := 0.55 + 0.3*chance.Float64()
		b := Barrel{Humidity: reading(100*humidity, 3, quantity.Percent)}
		start := Gauging{date(2015, 1, 1), litre("200"), abv("62.5")}
		m, _, q, _, err := start.measured()
		require.NoError(t, err)
		n := nature{Barrel{}.expect(m, q, humidity), chance}
		both := 1 + n.spreadOfRates()*chance.NormFloat64()
		n.x[2] *= max(both+0.25*chance.NormFloat64(), 0.1)
		n.x[3] *= max(both+0.15*chance.NormFloat64(), 0.1)
		kw, ke := n.x[2], n.x[3]
		b.Gauges = []Gauging{n.gauge(start.On)}
		for year := 1; year <= 4; year++ {
			n.age(1)
			b.Gauges = append(b.Gauges, n.gauge(date(2015+year, 1, 1)))
		}
		f, err := b.Fit()
		require.NoError(t, err)
		if math.Abs(f.EthanolRate.Value-ke) < 2*f.EthanolRate.U && math.Abs(f.WaterRate.Value-kw) < 2*f.WaterRate.U {
			recovered++
		}
		n.age(3)
		on := date(2022, 1, 1)
		forecast, err := f.At(on)
		require.NoError(t, err)
		s, _ := spirit.FromMassFraction(spirit.MassFraction(n.x[1] / (n.x[0] + n.x[1])))
		if math.Abs(litres(n.x[0]+n.x[1], s, spirit.At20C)-forecast.Volume.Value) < forecast.Volume.Expanded() {
			volumes++
		}
		if math.Abs(s.ABV20()-forecast.Strength.Value) < forecast.Strength.Expanded() {
			strengths++
		}
		widths += forecast.Volume.Expanded()
	}
	t.Logf("of %d barrels, seven years on and three past the last regauge: volume in the band %.1f %%, strength %.1f %%, both rates %.1f %%; the band is ±%.1f L", barrels,
		100*float64(volumes)/barrels, 100*float64(strengths)/barrels, 100*float64(recovered)/barrels, widths/barrels)
	for name, n := range map[string]int{"volume": volumes, "strength": strengths} {
		assert.GreaterOrEqual(t, n, barrels*90/100, "%s: a band of two standard uncertainties covers 95 %%", name)
		assert.Less(t, n, barrels, "%s: a band that never misses is too wide", name)
	}
	assert.GreaterOrEqual(t, recovered, barrels*85/100)
	assert.Less(t, widths/barrels, 6.0)
}

func (f *filter) spreadOfRates() float64 { return math.Sqrt(f.p[2][3] / (f.x[2] * f.x[3])) }

// TestFitWithoutNoise finds the very rates.
func TestFitWithoutNoise(t *testing.T) {
	m, _, q, _, err := Gauging{date(2015, 1, 1), litre("200"), abv("62.5")}.measured()
	require.NoError(t, err)
	n := nature{filter: Barrel{}.expect(m, q, 0.6)}
	n.x[2], n.x[3] = 12, 5
	b := Barrel{Humidity: pct("60")}
	for year := range 7 {
		if year > 0 {
			n.x = n.flow(n.x, float64(days(date(2014+year, 1, 1), date(2015+year, 1, 1)))/daysInYear)
		}
		s, _ := spirit.FromMassFraction(spirit.MassFraction(n.x[1] / (n.x[0] + n.x[1])))
		b.Gauges = append(b.Gauges, Gauging{date(2015+year, 1, 1), reading(litres(n.x[0]+n.x[1], s, spirit.At20C), 6, quantity.Litre), reading(s.ABV20(), 6, quantity.ABV20)})
	}
	f, err := b.Fit()
	require.NoError(t, err)
	assert.InDelta(t, 12, f.WaterRate.Value, 0.6)
	assert.InDelta(t, 5, f.EthanolRate.Value, 0.2)
	assert.Empty(t, f.Suspicious)
	at, err := f.At(date(2021, 1, 1))
	require.NoError(t, err)
	assert.InDelta(t, b.Gauges[6].Amount.Float(), at.Volume.Value, 0.3)
	later, err := f.At(date(2027, 1, 1))
	require.NoError(t, err)
	reached, err := f.Reaches(reading(later.Strength.Value, 4, quantity.ABV20))
	require.NoError(t, err)
	assert.InDelta(t, 0, days(date(2027, 1, 1), reached.On), 35, "the day of a strength is the inverse of the strength of a day")
	assert.False(t, reached.Earliest.After(reached.On))
	never, err := f.Reaches(abv("30"))
	require.NoError(t, err)
	assert.True(t, never.On.IsZero(), "dry air does not weaken it")
	assert.NotEmpty(t, f.Working())
}

func TestALeakIsSuspicious(t *testing.T) {
	b := Barrel{Humidity: pct("65"), Gauges: []Gauging{
		{date(2020, 1, 1), litre("200"), abv("62.5")}, {date(2021, 1, 1), litre("192"), abv("62.6")},
		{date(2022, 1, 1), litre("184.5"), abv("62.6")}, {date(2023, 1, 1), litre("150"), abv("62.7")},
	}}
	f, err := b.Fit()
	require.NoError(t, err)
	require.Len(t, f.Suspicious, 1)
	assert.Equal(t, 3, f.Suspicious[0].Gauge)
	assert.Contains(t, f.Suspicious[0].Advice, "leak")
}

func TestNewWoodSoaks(t *testing.T) {
	fill := []Gauging{{date(2020, 1, 1), litre("200"), abv("62.5")}}
	used, err := Barrel{Gauges: fill}.Fit()
	require.NoError(t, err)
	fresh, err := Barrel{New: true, Gauges: fill}.Fit()
	require.NoError(t, err)
	a, err := used.At(date(2021, 1, 1))
	require.NoError(t, err)
	b, err := fresh.At(date(2021, 1, 1))
	require.NoError(t, err)
	assert.InDelta(t, 7, a.Volume.Value-b.Volume.Value, 0.5, "2 to 5 %% of 200 L")
	assert.Greater(t, b.Volume.U, a.Volume.U)
	weighed, err := Barrel{New: true, Gauges: []Gauging{{date(2020, 1, 1), kilo("180"), abv("62.5")}}}.Fit()
	require.NoError(t, err)
	assert.Contains(t, strings.Join(weighed.Notes, " "), "By weight")
}

func TestUSBarrel(t *testing.T) {
	f, err := Barrel{Gauges: []Gauging{{date(2024, 1, 1), quantity.MustParse("400", quantity.Pound), quantity.MustParse("125", quantity.Proof)}}}.Fit()
	require.NoError(t, err)
	at, err := f.At(date(2024, 1, 1))
	require.NoError(t, err)
	assert.Equal(t, "gal", at.Volume.Unit.Label())
	assert.InDelta(t, 52.91, at.Volume.Value, 0.01, "400 lb at 125 proof (shared note 4.4, by Table 4)")
	assert.InDelta(t, 66.14, at.Volume.Value*at.Strength.Value/100, 0.02, "its proof gallons")
}

func TestFitFaults(t *testing.T) {
	for _, c := range []struct {
		b     Barrel
		field string
	}{
		{Barrel{}, "gauges"},
		{Barrel{Gauges: []Gauging{{date(2020, 1, 1), litre("200"), abv("10")}}}, "gauge 1 strength"},
		{Barrel{Gauges: []Gauging{{date(2020, 1, 1), litre("200"), abv("60")}, {date(2020, 1, 1), litre("190"), abv("60")}}}, "gauge 2 day"},
		{Barrel{Gauges: []Gauging{{date(2020, 1, 1), litre("200"), abv("60")}, {date(2021, 1, 1), kilo("170"), abv("60")}}}, "gauge 2 amount"},
		{Barrel{Humidity: pct("120"), Gauges: []Gauging{{date(2020, 1, 1), litre("200"), abv("60")}}}, "humidity"},
	} {
		_, err := c.b.Fit()
		assert.Equal(t, c.field, faultsOf(t, err)[0].Field)
	}
	f, err := Barrel{Gauges: []Gauging{{date(2020, 1, 1), litre("200"), abv("60")}}}.Fit()
	require.NoError(t, err)
	_, err = f.At(date(2019, 1, 1))
	assert.Equal(t, fault.TooLow, faultsOf(t, err)[0].Code)
	_, err = f.At(date(2099, 1, 1))
	assert.Equal(t, fault.TooHigh, faultsOf(t, err)[0].Code)
}

func TestCautionsDeferToTheCode(t *testing.T) {
	for _, c := range Cautions() {
		assert.Contains(t, c.Text, "local code", c.Hazard)
		assert.NotEmpty(t, c.Source)
	}
}

func BenchmarkFit(b *testing.B) {
	barrel := Barrel{Humidity: pct("60")}
	for year := range 6 {
		barrel.Gauges = append(barrel.Gauges, Gauging{date(2015+year, 1, 1), reading(200-7*float64(year), 1, quantity.Litre), reading(62.5+0.2*float64(year), 1, quantity.ABV20)})
	}
	for b.Loop() {
		f, err := barrel.Fit()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.Reaches(abv("64")); err != nil {
			b.Fatal(err)
		}
	}
}
