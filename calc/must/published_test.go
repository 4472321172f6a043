package must

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// rows reads a table of testdata/published without its heading.
func rows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("../../testdata/published", name))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(all), 1, name)
	return all[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

// asbc is the second published fit, to 20 °P: ASBC Methods of Analysis.
func asbc(sg float64) float64 { return ((135.997*sg-630.272)*sg+1111.14)*sg - 616.868 }

func TestExtractFits(t *testing.T) {
	for _, r := range rows(t, "sugar-gravity/fits.csv") {
		sg := number(t, r[0])
		if sg > 1.17 {
			continue
		}
		e, err := FromGravity(Gravity(sg))
		require.NoError(t, err)
		assert.InDelta(t, number(t, r[2]), float64(e), 0.0006, "SG %v: fit to NBS Circular 440", sg)
		assert.InDelta(t, number(t, r[1]), asbc(sg), 0.0006, "SG %v: fit to the ASBC table", sg)
		if e <= 20 {
			assert.InDelta(t, asbc(sg), float64(e), 0.003, "SG %v: the two fits, of different tables, agree", sg)
		}
		assert.InDelta(t, number(t, r[3]), e.GramsPerLitre(), 0.15, "SG %v: g/L", sg)
	}
}

// Densities in vacuo to the apparent SG in air of the fit: (ρ - a) ÷ (ρw - a).
func TestExtractHandbook(t *testing.T) {
	for _, r := range rows(t, "sugar-gravity/densities.csv") {
		bx, ρ := number(t, r[0]), number(t, r[1])
		const air = 0.0012
		e, err := FromGravity(Gravity((ρ - air) / (waterDensity20 - air)))
		require.NoError(t, err)
		assert.InDelta(t, bx, float64(e), 0.03, "%v Bx, handbook density %v, printed to 0.0001 (0.02 Bx), from memory", bx, ρ)
	}
	for _, r := range rows(t, "sugar-gravity/index.csv") {
		e, err := FromIndex(Index(number(t, r[1])))
		require.NoError(t, err)
		assert.InDelta(t, number(t, r[0]), float64(e), 0.03, "refractive index %s, from memory", r[1])
	}
}

func TestCorrectPrintedTable(t *testing.T) {
	cells := 0
	for _, r := range rows(t, "sugar-temperature/hydrometer.csv") {
		for j := range 7 {
			observed := 5 * j
			c, err := Correct(Sample{Reading: brix(strconv.Itoa(observed)), Temp: celsius(r[0])})
			require.NoError(t, err)
			assert.InDelta(t, number(t, r[1+j]), c.Correction.Value, 1e-9, "%d Bx at %s °C", observed, r[0])
			cells++
		}
	}
	assert.Equal(t, 168, cells)
}

// The table's column for water, held to physics: the density of water (OIML R
// 22) and the expansion of glass.
func TestHydrometerTableAgainstWater(t *testing.T) {
	for _, at := range []float64{5, 10, 15, 25, 30, 35} {
		w, err := waterAt(at)
		require.NoError(t, err)
		shown, err := FromGravity(Gravity(w / (1000 * waterDensity20) * (1 + glass*(at-20))))
		require.NoError(t, err)
		assert.InDelta(t, -float64(shown), hydrometerTable.at(at, 0), 0.03, "water at %v °C", at)
	}
}

func TestRefractometerTableAgainstWater(t *testing.T) {
	at20, err := FromIndex(1.33299)
	require.NoError(t, err)
	slope, err := FromIndex(1.33399)
	require.NoError(t, err)
	perIndex := float64(slope-at20) / 0.001
	for _, r := range rows(t, "sugar-temperature/refractometer_water.csv") {
		at := number(t, r[0])
		want := -(number(t, r[1]) - 1.33299) * perIndex
		assert.InDelta(t, want, refractometerTable.at(at, 0), 0.04, "water at %v °C, index from memory", at)
	}
}

func TestSharedCases(t *testing.T) {
	c, err := Correct(Sample{Reading: brix("20.0"), Temp: celsius("28")})
	require.NoError(t, err)
	assert.InDelta(t, 20.54, c.Extract.Value, 0.03, "NBS Circular 440 temperature table, from memory")
	c, err = Correct(Sample{Reading: brix("10.0"), Temp: celsius("15")})
	require.NoError(t, err)
	assert.InDelta(t, 9.76, c.Extract.Value, 0.03, "the same")
	g, err := GravityOf(15)
	require.NoError(t, err)
	assert.InDelta(t, 1.0611, float64(g), 0.0002, "NBS Circular 440, inverse")
	assert.InDelta(t, 216.2, Extract(20).GramsPerLitre(), 0.4, "20 Bx in g/L")

	// What one kg of hexose becomes; molar masses.
	turned, err := Turn(kg("1"), Hexose)
	require.NoError(t, err)
	assert.InDelta(t, 0.5114, turned.Ethanol.Value, 0.0001)
	assert.InDelta(t, 0.648, turned.PureAlcohol.Value, 0.001)
	assert.InDelta(t, 0.4886, turned.CO2.Value, 0.0001)
	assert.InDelta(t, 267, turned.CO2Gas.Value, 1, "L at 20 °C, 1 atm")
	for sugar, l := range map[Sugar]float64{Sucrose: 0.682, Starch: 0.720} {
		turned, err = Turn(kg("1"), sugar)
		require.NoError(t, err)
		assert.InDelta(t, l, turned.PureAlcohol.Value, 0.0015, "L of pure alcohol from a kg of %s", sugar)
	}
	turned, err = Turn(kg("100"), Hexose)
	require.NoError(t, err)
	assert.InDelta(t, 59.6, 0.92*turned.PureAlcohol.Value, 0.2, "100 kg at 92 %")
	assert.InDelta(t, 26700, turned.CO2Gas.Value, 200)
	turned, err = Turn(kg("21"), Hexose)
	require.NoError(t, err)
	assert.InEpsilon(t, 11.7, turned.HeatMJ, 0.1, "21 kg in a day; winemaking handbook, from memory")
}

func kg(s string) quantity.Reading { return quantity.MustParse(s, quantity.Kilogram) }
func l(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Litre) }
func sg(s string) quantity.Reading { return quantity.MustParse(s, quantity.SG) }

func TestBallingCases(t *testing.T) {
	for _, r := range rows(t, "balling/cases.csv") {
		a, err := Attenuate(Attenuation{Original: brix(r[0]), Present: brix(r[1])})
		require.NoError(t, err)
		assert.InDelta(t, number(t, r[2]), a.RealExtract.Value, 0.05)
		assert.InDelta(t, number(t, r[3]), a.AlcoholByMass.Value, 0.05)
		assert.InDelta(t, number(t, r[4]), a.ABV20.Value, 0.05)
		assert.InDelta(t, number(t, r[5]), a.Apparent.Value, 0.3)
	}
}

// The excise factors for beer, from memory, are an independent way; they agree
// with Balling within 3 %, the doubt that Attenuate states.
func TestBallingAgainstExciseFactors(t *testing.T) {
	tested := 0
	for _, r := range rows(t, "balling/factors.csv") {
		lost := (number(t, r[0]) + number(t, r[1])) / 2
		if lost < 20 {
			continue // small beer: the factors are rounded to 1 %
		}
		// Beer ends at about a quarter of its degrees.
		original := 1 + lost*4/3/1000
		present := original - lost/1000
		a, err := Attenuate(Attenuation{Original: sg(strconv.FormatFloat(original, 'f', 5, 64)), Present: sg(strconv.FormatFloat(present, 'f', 5, 64))})
		require.NoError(t, err)
		want := number(t, r[2]) * lost
		assert.InEpsilon(t, want, a.ABV20.Value, ballingDoubt, "%v degrees lost: %.2f by factor, %s by Balling", lost, want, a.ABV20.Text(2))
		tested++
	}
	assert.Equal(t, 8, tested)
}

// Every figure of Materials stands in a table of testdata/published/fruit-yields.
func TestMaterialsAreTheTables(t *testing.T) {
	official := map[string]string{}
	for _, r := range rows(t, "fruit-yields/official.csv") {
		official[r[2]+"|"+r[0]] = r[1]
	}
	country := map[string]string{de2004: "DE 2004", de2018: "DE 2018", at95: "AT"}
	handbookOf := map[string][]string{}
	for _, r := range rows(t, "fruit-yields/handbook.csv") {
		handbookOf[r[0]] = r
	}
	brixOf := map[string][]string{}
	for _, r := range rows(t, "fruit-yields/brix_ph.csv") {
		brixOf[r[0]] = r
	}
	alias := map[string]string{"pear": "pear (Williams)", "damson": "Zwetschge", "rowan": "rowan berry", "black currant": "currants", "red currant": "currants", "grape marc": "grape marc (unpressed sugar varies)"}
	brixAlias := map[string]string{"sweet cherry": "cherry", "sour cherry": "cherry", "damson": "plum", "raspberry": "raspberry_red", "black currant": "black_currant", "red currant": "red_currant", "grape": "grape_vinifera"}
	rates, books, brixes := 0, 0, 0
	for _, m := range Materials() {
		for _, rate := range m.Official {
			want, ok := official[country[rate.Source]+"|"+rate.Row]
			require.True(t, ok, "%s: %s has no line %q", m.Name, rate.Source, rate.Row)
			want, _, _ = strings.Cut(want, " or ")
			assert.Equal(t, number(t, want), rate.Litres, "%s, %s", m.Name, rate.Row)
			rates++
		}
		if m.YieldBy == handbook {
			name := m.Name
			if a, ok := alias[name]; ok {
				name = a
			}
			r := handbookOf[name]
			require.NotNil(t, r, name)
			assert.Equal(t, r[1], span2(m.Sugar), m.Name)
			assert.Equal(t, number(t, r[2]), m.Sugar.Mean, m.Name)
			assert.Equal(t, r[3], span2(m.Yield), m.Name)
			assert.Equal(t, number(t, r[4]), m.Yield.Mean, m.Name)
			books++
		}
		if m.Brix != 0 {
			name := m.Name
			if a, ok := brixAlias[name]; ok {
				name = a
			}
			require.NotNil(t, brixOf[name], name)
			assert.Equal(t, number(t, brixOf[name][1]), m.Brix, m.Name)
			brixes++
		}
		_, ok := MaterialNamed(m.Name)
		assert.True(t, ok)
	}
	assert.Greater(t, rates, 45)
	assert.Greater(t, books, 15)
	assert.Greater(t, brixes, 15)
}

func span2(s Span) string {
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	return f(s.Low) + "-" + f(s.High)
}

// 1000 L of cherry mash by the German rate, 50 L; of plum by the Austrian, 55;
// the same as litres of mash of the weight that fills them.
func TestExpectOfficialRates(t *testing.T) {
	for _, c := range []struct {
		material, source string
		want             float64
	}{{"sweet cherry", de2004, 50}, {"plum", at95, 55}, {"damson", de2004, 46}} {
		weight := strconv.FormatFloat(1000*float64(gravity(14.3))*waterDensity20, 'f', 6, 64)
		x, err := Expect(Batch{Material: c.material, Prepared: kg(weight), Extract: brix("14.3")})
		require.NoError(t, err)
		assert.InDelta(t, 1000, x.Mash.Value, 1e-3)
		found := 0.0
		for _, m := range x.Marks {
			if strings.HasPrefix(m.Source, c.source) {
				found = m.Litres.Value
			}
		}
		assert.InDelta(t, c.want, found, 0.01, "%s by %s", c.material, c.source)
	}
}

// Molasses: the theory of its sugars brackets what the handbook says it gives.
func TestMolassesAgainstTheory(t *testing.T) {
	m, ok := MaterialNamed("cane molasses")
	require.True(t, ok)
	per100 := ethanolPerHexose / ethanolDensity
	assert.Less(t, m.Yield.High, m.Sugar.High*0.95*per100)
	assert.Greater(t, m.Yield.Low, 0.7*m.Sugar.Low*per100)
}

func TestDAPNitrogen(t *testing.T) {
	assert.InDelta(t, 21.2, DAPNitrogen, 0.05, "1 g/L gives 210 mg/L of nitrogen (winemaking handbooks, from memory)")
}

// Water from the strength package is what the constant says.
func TestWaterDensity(t *testing.T) {
	w, err := spirit.FromMassPercent(0)
	require.NoError(t, err)
	assert.InDelta(t, waterDensity20*1000, float64(w.DensityAt(20)), 0.002, "OIML R 22")
	e, err := spirit.FromMassPercent(100)
	require.NoError(t, err)
	assert.InDelta(t, ethanolDensity*1000, float64(e.DensityAt(20)), 0.02, "OIML R 22")
}
