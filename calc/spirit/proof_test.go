package spirit

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// cited is the table of the cells that 27 CFR 30.23 quotes.
func cited(t *testing.T) *Table {
	csv := "reading,fahrenheit,proof\n"
	for _, row := range published(t, "27-cfr-30/table1.csv") {
		csv += strings.Join(row, ",") + "\n"
	}
	table, err := ParseTable(strings.NewReader(csv))
	require.NoError(t, err)
	return table
}

func example3023(table *Table) HydrometerReading {
	return HydrometerReading{Indicated: proof("192.85"), Temp: degF("72.10"), IndicatedCorrection: proof("-0.03"), TempCorrection: degF("0.05"), Table: table}
}

func TestTrueProofOf3023(t *testing.T) {
	computed, err := TrueProof(example3023(nil))
	require.NoError(t, err)
	equal(t, "190.0", computed.Rounded, "27 CFR 30.23, computed")
	assert.Equal(t, Computed, computed.Method)
	assert.InDelta(t, 189.972, computed.True.Value, 0.01, "30.23 has 189.972 before rounding")

	printed, err := TrueProof(example3023(cited(t)))
	require.NoError(t, err)
	assert.Equal(t, PrintedTable, printed.Method)
	equal(t, "189.972", printed.True.Decimal(), "27 CFR 30.23: 189.1 + 0.902 − 0.03")
	equal(t, "190.0", printed.Rounded, "27 CFR 30.23")
	w := printed.Working().String()
	for _, line := range []string{"192.82 proof", "72.15 °F", "1.1 × 0.82 = 0.902", "-0.2 × 0.15 = -0.03", "189.972", "190.0 proof"} {
		assert.Contains(t, w, line, "the section's own steps")
	}
}

func TestComputedAgainstTable1(t *testing.T) {
	worst := 0.0
	for _, row := range published(t, "27-cfr-30/table1.csv") {
		c, err := TrueProof(HydrometerReading{Indicated: proof(row[0]), Temp: degF(row[1])})
		require.NoError(t, err)
		assert.InDelta(t, num(row[2]), c.True.Value, 0.05, "%s at %s °F: 27 CFR 30.23 prints %s", row[0], row[1], row[2])
		worst = max(worst, math.Abs(num(row[2])-c.True.Value))
	}
	assert.Greater(t, worst, 0.04, "the package doc states 0.05 as the largest difference")
}

func TestTrueStrength(t *testing.T) {
	for _, c := range []struct {
		read, temp string
		scale      Scale
		want, tol  float64
		source     string
	}{
		{"40.0", "25", Scale20C, 38.0, 0.1, "OIML R 22, computed elsewhere"},
		{"65", "28", Scale20C, 62.25, 0.05, "OIML R 22, computed elsewhere"},
		{"40", "20", Scale20C, 40, 1e-9, "nothing to correct"},
		{"0", "20", Scale20C, 0, 1e-9, "water"},
		{"100", "20", Scale20C, 100, 1e-9, "ethanol"},
		{"40", "15", Scale15C, 40.08, 0.01, "40.00 at 20 °C is 39.92 at 15 °C (OIML R 22)"},
	} {
		got, err := TrueStrength(HydrometerReading{Indicated: abv(c.read), Temp: degC(c.temp), Scale: c.scale})
		require.NoError(t, err)
		assert.InDelta(t, c.want, got.True.Value, c.tol, "%s %% vol read at %s °C on a %s scale (%s)", c.read, c.temp, c.scale, c.source)
	}
}

func TestTheTwoHydrometersAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		read := rapid.IntRange(200, 950).Draw(t, "tenths of % vol")
		temp := rapid.IntRange(320, 950).Draw(t, "tenths of °F")
		half := quantity.FromDecimal(dec(fmt.Sprint(read)).Shift(-1), quantity.ABV20)
		whole := quantity.FromDecimal(half.Decimal().Add(half.Decimal()), quantity.Proof)
		warm := quantity.FromDecimal(dec(fmt.Sprint(temp)).Shift(-1), quantity.Fahrenheit)
		us, err := TrueProof(HydrometerReading{Indicated: whole, Temp: warm})
		require.NoError(t, err)
		metric, err := TrueStrength(HydrometerReading{Indicated: half, Temp: warm, Scale: Scale60F})
		require.NoError(t, err)
		assert.InDelta(t, us.Strength.ABV20(), metric.True.Value, 1e-9, "a proof is twice a % vol at 60 °F")
	})
}

func TestTrueProofLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		read := rapid.Float64Range(0, 1.02).Draw(t, "share")
		c := Celsius(rapid.Float64Range(-17, 37).Draw(t, "t"))
		v := scale60F.correct(read, c, &scale60F)
		if v <= 0 || v >= 1 || math.IsNaN(v) && read > 1 {
			return
		}
		assert.Greater(t, scale60F.correct(read+1e-4, c, &scale60F), v, "rises with the reading")
		if c > 4 && read > 0.02 {
			assert.Less(t, scale60F.correct(read, c+0.5, &scale60F), v, "falls with the temperature")
		}
		assert.InDelta(t, read, scale60F.correct(read, At60F, &scale60F), 1e-9, "at 60 °F nothing is corrected")
	})
}

func TestAbsoluteAlcoholAt100F(t *testing.T) {
	ρ := float64(must(FromProof(200)).DensityAt(FromFahrenheit(100)))
	mark := ρ * (1 + glass*float64(FromFahrenheit(100)-At60F))
	shows := 200 * scale60F.share(scale60F.fromDensityUnchecked(mark), scale60F.ethanol)
	assert.InDelta(t, 205.7, shows, 0.05, "stated in the comment of TrueProof, and just below 206, the top of the printed table")
}

func TestHydrometerFaults(t *testing.T) {
	all := func(h HydrometerReading, f func(HydrometerReading) (Corrected, error)) fault.List {
		_, err := f(h)
		require.Error(t, err)
		var l fault.List
		l.Add("", err)
		return l
	}
	for _, c := range []struct {
		h     HydrometerReading
		f     func(HydrometerReading) (Corrected, error)
		field string
		says  string
	}{
		{HydrometerReading{Indicated: proof("212"), Temp: degF("60")}, TrueProof, "indicated", "is above 206 proof, the top of the table; check the hydrometer"},
		{HydrometerReading{Indicated: proof("-0.1"), Temp: degF("60")}, TrueProof, "indicated", "is below 0 proof"},
		{HydrometerReading{Indicated: proof("205"), Temp: degF("60")}, TrueProof, "indicated", "more than pure alcohol"},
		{HydrometerReading{Indicated: proof("206"), Temp: degF("0")}, TrueProof, "indicated", "cannot stand in any spirit at 0 °F"},
		{HydrometerReading{Indicated: proof("1"), Temp: degF("95")}, TrueProof, "indicated", "less than water shows"},
		{HydrometerReading{Temp: degF("60")}, TrueProof, "indicated", "the hydrometer's reading is needed"},
		{HydrometerReading{Indicated: abv("40"), Temp: degF("60")}, TrueProof, "indicated", "use true-strength"},
		{HydrometerReading{Indicated: proof("80"), Temp: degC("20")}, TrueStrength, "indicated", "use true-proof"},
		{HydrometerReading{Indicated: abv("104"), Temp: degC("20")}, TrueStrength, "indicated", "above 103 % vol"},
		{HydrometerReading{Indicated: proof("80")}, TrueProof, "temp", "is read at a temperature"},
		{HydrometerReading{Indicated: proof("80"), Temp: degF("100.1")}, TrueProof, "temp", "above 100 °F"},
		{HydrometerReading{Indicated: proof("80"), Temp: degF("-0.1")}, TrueProof, "temp", "below 0 °F"},
		{HydrometerReading{Indicated: proof("80"), Temp: degC("38")}, TrueProof, "temp", "above 100 °F"},
		{HydrometerReading{Indicated: abv("40"), Temp: degC("40.5")}, TrueStrength, "temp", "above 40 °C"},
		{HydrometerReading{Indicated: proof("80"), Temp: litre("3")}, TrueProof, "temp", "is not a temperature"},
		{HydrometerReading{Indicated: proof("80"), Temp: degF("60"), IndicatedCorrection: degF("1")}, TrueProof, "indicated_correction", "is not in proof"},
		{HydrometerReading{Indicated: proof("80"), Temp: degF("60"), TempCorrection: proof("1")}, TrueProof, "temp_correction", "is not a difference of temperature"},
	} {
		l := all(c.h, c.f)
		assert.Len(t, l, 1, "%v", l)
		assert.Equal(t, c.field, l[0].Field)
		assert.ErrorContains(t, l, c.says)
		assert.NotEmpty(t, l[0].Remedy)
	}
	assert.Len(t, all(HydrometerReading{Indicated: proof("212"), Temp: degF("120")}, TrueProof), 2, "all at once")
}

func TestColdIsCautioned(t *testing.T) {
	for temp, cautioned := range map[string]bool{"44.9": true, "45": false, "60": false} {
		c := must(TrueProof(HydrometerReading{Indicated: proof("100"), Temp: degF(temp)}))
		assert.Equal(t, cautioned, c.Caution != "", "%s °F", temp)
	}
}

func TestTrueProofUncertainty(t *testing.T) {
	none, err := TrueProof(example3023(nil))
	require.NoError(t, err)
	assert.False(t, none.True.HasU, "no half-width, no uncertainty")
	h := example3023(nil)
	h.Indicated, h.Temp = proof("192.85±0.1"), degF("72.10±0.3")
	computed, err := TrueProof(h)
	require.NoError(t, err)
	// 1.07 proof per proof and 0.25 per °F there, by the cells of 30.23.
	want := math.Hypot(1.07*0.1, 0.25*0.3) / math.Sqrt(3)
	assert.InEpsilon(t, want, computed.True.U, 0.05)
	h.Table = cited(t)
	printed, err := TrueProof(h)
	require.NoError(t, err)
	assert.Equal(t, PrintedTable, printed.Method)
	assert.InEpsilon(t, want, printed.True.U, 0.25, "through the table's own interpolation, one-sided where it ends")
}

func TestTableParses(t *testing.T) {
	table := cited(t)
	assert.Equal(t, 4, table.Len())
	assert.Empty(t, table.Suspicious(), "printed by the regulation")
	for _, c := range []struct {
		csv, says string
	}{
		{"", "holds no cells"},
		{"reading,F,proof\n", "holds no cells"},
		{"192,72\n", "has not three columns"},
		{"192.5,72,189\n", "not a whole proof"},
		{"207,72,189\n", "from 0 to 206"},
		{"192,101,189\n", "from 0 to 100"},
		{"192,72,1891\n", "not a proof from 0 to 200"},
		{"192,72,x\n", "not a proof"},
		{"192,72,189.1\n192,72,189.2\n", "table line 2"},
		{"192,72,\"189\n", "is not CSV"},
		{"l92,72,189.1\n193,72,190.2\n", "table line 1"},
	} {
		got, err := ParseTable(strings.NewReader(c.csv))
		assert.ErrorContains(t, err, c.says, "%q", c.csv)
		assert.Nil(t, got)
	}
	_, err := ParseTable(strings.NewReader("reading,F,proof\n192,72\nx,y,z\n193,72,190.2\n"))
	var l fault.List
	require.ErrorAs(t, err, &l)
	assert.Len(t, l, 2, "every faulty line at once: %v", l)
	again, err := ParseTable(strings.NewReader("192,72,189.1\n192,72,189.10\n"))
	require.NoError(t, err, "the same cell twice, the same figure")
	assert.Equal(t, 1, again.Len())
	marked, err := ParseTable(strings.NewReader("\ufeff192,72,189.1\n"))
	require.NoError(t, err)
	assert.Equal(t, 1, marked.Len(), "a spreadsheet's mark does not swallow the first cell")
}

// computedTable is a table as a careful owner would have typed it, rounded.
func computedTable(t *testing.T, edit func(reading, fahrenheit int, v string) string) *Table {
	var b strings.Builder
	for n := 120; n <= 130; n++ {
		for f := 50; f <= 80; f++ {
			v := quantity.Fixed(200*scale60F.correct(float64(n)/200, FromFahrenheit(float64(f)), &scale60F), 1)
			fmt.Fprintf(&b, "%d,%d,%s\n", n, f, edit(n, f, v))
		}
	}
	table, err := ParseTable(strings.NewReader(b.String()))
	require.NoError(t, err)
	return table
}

func TestSuspiciousCells(t *testing.T) {
	assert.Empty(t, computedTable(t, func(_, _ int, v string) string { return v }).Suspicious())
	table := computedTable(t, func(n, f int, v string) string {
		switch {
		case n == 123 && f == 60:
			return "132.0" // two digits changed places
		case n == 126 && f == 71:
			return dec(v).Add(dec("0.2")).String() // one step slip
		}
		return v
	})
	got := table.Suspicious()
	require.NotEmpty(t, got)
	assert.Equal(t, [2]int{123, 60}, [2]int{got[0].Reading, got[0].Fahrenheit})
	assert.Contains(t, got[0].Why, "9.00 from the computed 123.0")
	last := got[len(got)-1]
	assert.Equal(t, [2]int{126, 71}, [2]int{last.Reading, last.Fahrenheit})
	assert.Len(t, got, 2)
	var none *Table
	assert.Empty(t, none.Suspicious())
	assert.Zero(t, none.Len())
}

func TestTableIsUsedOnlyWhereItCovers(t *testing.T) {
	table := cited(t)
	for _, c := range []struct {
		read, temp string
		want       Method
	}{
		{"192", "72", PrintedTable}, {"193", "75", PrintedTable}, {"192.5", "72", PrintedTable}, {"192", "72.5", PrintedTable},
		{"193", "75.5", Computed}, {"193.5", "72", Computed}, {"191", "72", Computed}, {"192", "73.5", Computed},
	} {
		got, err := TrueProof(HydrometerReading{Indicated: proof(c.read), Temp: degF(c.temp), Table: table})
		require.NoError(t, err)
		assert.Equal(t, c.want, got.Method, "%s at %s °F", c.read, c.temp)
	}
	c := must(TrueProof(HydrometerReading{Indicated: proof("193"), Temp: degC("22.2222222222222"), Table: table}))
	assert.Equal(t, Computed, c.Method, "71.99… °F is not 72 °F")
}

// The interpolated table and the formula it came from agree.
func TestInterpolationFollowsTheFormula(t *testing.T) {
	table := computedTable(t, func(_, _ int, v string) string { return v })
	rapid.Check(t, func(t *rapid.T) {
		h := HydrometerReading{
			Indicated: quantity.FromDecimal(dec(fmt.Sprint(rapid.IntRange(12000, 12999).Draw(t, "reading"))).Shift(-2), quantity.Proof),
			Temp:      quantity.FromDecimal(dec(fmt.Sprint(rapid.IntRange(500, 799).Draw(t, "°F"))).Shift(-1), quantity.Fahrenheit),
		}
		computed, err := TrueProof(h)
		require.NoError(t, err)
		h.Table = table
		printed, err := TrueProof(h)
		require.NoError(t, err)
		assert.Equal(t, PrintedTable, printed.Method)
		assert.InDelta(t, computed.True.Value, printed.True.Value, 0.16, "three cells of ±0.05")
	})
}

func BenchmarkTrueProof(b *testing.B) {
	h := HydrometerReading{Indicated: proof("140.2"), Temp: degF("72.10")}
	for b.Loop() {
		if _, err := TrueProof(h); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "corrections/s")
}

func BenchmarkTrueProofWithUncertainty(b *testing.B) {
	h := HydrometerReading{Indicated: proof("140.2±0.1"), Temp: degF("72.10±0.3"), IndicatedCorrection: proof("-0.03"), TempCorrection: degF("0.05")}
	for b.Loop() {
		if _, err := TrueProof(h); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "corrections/s")
}

// A reading at the edge of the cells at hand carries its doubt all the same.
func TestTrueProofAtTheEdgeOfATable(t *testing.T) {
	cells, err := ParseTable(strings.NewReader("193,75,189.5\n"))
	require.NoError(t, err)
	c, err := TrueProof(HydrometerReading{Indicated: quantity.MustParse("193±0.2proof", quantity.Proof), Temp: quantity.MustParse("75±0.2F", quantity.Fahrenheit), Table: cells})
	require.NoError(t, err)
	assert.Equal(t, PrintedTable, c.Method)
	assert.Equal(t, "189.5", c.Rounded.StringFixed(1), "27 CFR 30.23 prints 189.5 for 193 at 75 °F")
	assert.Greater(t, c.True.U, 0.1)
}
