package spirit

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

func TestVolumeGaugeOf3051(t *testing.T) {
	inches, perInch := dec("88"), dec("48.96")
	equal(t, "4308.48", inches.Mul(perInch), "27 CFR 30.51")
	g, err := GaugeVolume(VolumeGauge{Volume: quantity.FromDecimal(inches.Mul(perInch), quantity.Gallon), Temp: degF("72"), Strength: proof("86.8")})
	require.NoError(t, err)
	equal(t, "4286.94", g.Legal.WineGallons, "27 CFR 30.51, the factor 0.995 computed")
	equal(t, "3721.1", g.Legal.ProofGallons, "27 CFR 30.51")
	w := g.Working().String()
	for _, s := range []string{"0.995", "4286.94", "3721.06392", "3721.1 proof gal", "litres of pure alcohol"} {
		assert.Contains(t, w, s)
	}
	printed, err := GaugeVolume(VolumeGauge{Volume: gal("4308.48"), Temp: degF("72"), Strength: proof("86.8"), Table7: plain("0.995")})
	require.NoError(t, err)
	assert.Equal(t, g.Legal, printed.Legal)
	assert.Contains(t, printed.Working().String(), "from the printed Table 7")
}

func TestVolumeFactorAgainstTable7(t *testing.T) {
	for _, c := range []struct{ proof, temp, want, source string }{
		{"86.8", "72", "0.995", "27 CFR 30.51"}, {"115", "68", "0.996", "27 CFR 30.25"}, {"115", "60", "1.000", "at 60 °F nothing is corrected"},
	} {
		s := must(StrengthOf(proof(c.proof)))
		equal(t, c.want, quantity.Snap(VolumeFactor(s, FromFahrenheit(num(c.temp)))).Round(3), c.source)
	}
}

func TestGravityOf3025(t *testing.T) {
	sg, err := GravityAt60F(GravityReading{SG: quantity.MustParse("1.1525", quantity.SG), Temp: degF("68"), Strength: proof("115")})
	require.NoError(t, err)
	equal(t, "1.1571", sg, "27 CFR 30.25: 1.1525 ÷ 0.996")
	_, err = GravityAt60F(GravityReading{SG: quantity.MustParse("11525", quantity.SG), Table7: plain("9")})
	var l fault.List
	require.ErrorAs(t, err, &l)
	assert.Len(t, l, 4, "sg, strength, temp, table7: %v", l)
}

func TestWeightGaugeOf3064(t *testing.T) {
	printed, err := GaugeWeight(WeightGauge{Net: lb("81000"), Strength: proof("190"), Table4: plain("0.14718")})
	require.NoError(t, err)
	equal(t, "11921.6", printed.Legal.WineGallons, "27 CFR 30.64, 81,000 × 0.14718")
	// The section multiplies by Table 4's own proof gallons per pound, 0.27964.
	equal(t, "22650.8", quantity.ProofGallonsToTenth(dec("81000").Mul(dec("0.27964"))), "27 CFR 30.64")
	assert.InDelta(t, 22650.8, printed.Legal.ProofGallons.InexactFloat64(), 0.3, "0.14718 × 1.9 is 0.279642")

	computed, err := GaugeWeight(WeightGauge{Net: lb("81000"), Strength: proof("190")})
	require.NoError(t, err)
	assert.InDelta(t, 11921.6, computed.Legal.WineGallons.InexactFloat64(), 1, "27 CFR 30.64; computed from OIML R 22")
	assert.InDelta(t, 22650.8, computed.Legal.ProofGallons.InexactFloat64(), 2, "27 CFR 30.64; computed from OIML R 22")
	assert.InDelta(t, 0.14718, computed.Volume60F.Value/81000, 0.000011, "Table 4, wine gallons per pound at 190 proof")
	assert.InDelta(t, 0.27964, computed.ProofGallons.Value/81000, 0.000025, "Table 4, proof gallons per pound at 190 proof")
	absolute := must(GaugeWeight(WeightGauge{Net: lb("1000"), Strength: proof("200")}))
	assert.InDelta(t, 302.58, absolute.ProofGallons.Value, 0.045, "30.64: 1,000 lb at 200 proof")
}

func TestTable3Of3063(t *testing.T) {
	sum := decimal.Sum(dec("16778.4"), dec("83.9"), dec("19.6"), dec("2.2"))
	equal(t, "16884.1", quantity.ProofGallonsToTenth(sum), "27 CFR 30.63, 60,378 lb at 190 proof by parts")
	g := must(GaugeWeight(WeightGauge{Net: lb("60378"), Strength: proof("190")}))
	assert.InEpsilon(t, 16884.1, g.ProofGallons.Value, 1e-4, "27 CFR 30.63")
}

// 30.41: with solids, wine gallons per pound are 0.120074 over the product's
// own specific gravity.
func TestWeightGaugeWithSolids(t *testing.T) {
	g, err := GaugeWeight(WeightGauge{Net: lb("1000"), Strength: proof("60"), SG60: quantity.MustParse("1.1", quantity.SG)})
	require.NoError(t, err)
	equal(t, "109.2", g.Legal.WineGallons, "1000 × 0.120074 ÷ 1.1 = 109.158")
	equal(t, "65.5", g.Legal.ProofGallons, "× 0.6 = 65.495")
	assert.InDelta(t, 1000, g.Weight.Value, 1e-9, "the weight returns")
	assert.InEpsilon(t, 1000*0.45359237, g.Mass.Value, 0.0012, "and the mass in vacuo is that, heavier by the air")
	k := must(GaugeWeight(WeightGauge{Net: kg("453.59237"), Strength: proof("60"), SG60: quantity.MustParse("1.1", quantity.SG)}))
	assert.Equal(t, g.Legal, k.Legal, "the same scale in kilograms")
}

func TestGrossTareNet(t *testing.T) {
	net := must(GaugeWeight(WeightGauge{Net: lb("452"), Strength: proof("120")}))
	both := must(GaugeWeight(WeightGauge{Gross: lb("561.5"), Tare: lb("109.5"), Strength: proof("120")}))
	assert.Equal(t, net.Legal, both.Legal)
	assert.InDelta(t, 452, both.Weight.Value, 1e-9)
	assert.InDelta(t, net.Mass.Value, both.Mass.Value, 1e-9)
	assert.InDelta(t, net.Legal.ProofGallons.InexactFloat64(), both.ProofGallons.Value, 0.051, "both accounts of one gauge agree")
	assert.Contains(t, both.Working().String(), "gross 561.5 − tare 109.5 = 452 lb")
}

func TestFillPackageOf3044(t *testing.T) {
	for _, row := range published(t, "27-cfr-30/fill.csv") {
		f, err := FillPackage(PackageFill{Gallons: gal(row[1]), Strength: proof(row[0])})
		require.NoError(t, err)
		where := row[1] + " gal of " + row[0] + " proof (27 CFR 30.44(b))"
		assert.Equal(t, row[2]+" lb "+row[3]+" oz", dec("0").Add(decimal.NewFromInt(f.Pounds)).String()+" lb "+decimal.NewFromInt(f.Ounces).String()+" oz", where)
		weight := row[4]
		if row[0] == "200" && row[1] == "10" {
			require.Equal(t, "66.12", weight, "the print's own inconsistency")
			weight = "66.13"
		}
		equal(t, weight, f.Weight, where)
		equal(t, row[5], f.ProofGallons, where)
	}
	for _, bad := range []quantity.Reading{gal("10.1"), gal("0"), litre("5"), {}} {
		_, err := FillPackage(PackageFill{Gallons: bad, Strength: proof("190")})
		assert.ErrorContains(t, err, "gallons", "%v", bad)
	}
}

func TestCasesAgainstTheConversionPage(t *testing.T) {
	for _, row := range published(t, "27-cfr-30/cases.csv") {
		c, err := GaugeCases(CasedSpirits{Cases: pieces("1"), Bottles: pieces(row[0]), Size: quantity.MustParse(row[1], quantity.Litre), Strength: proof("80")})
		require.NoError(t, err)
		equal(t, row[2], c.WineGallons.Round(6), row[0]+" × "+row[1]+" (regulator's conversion page)")
	}
	c := must(GaugeCases(CasedSpirits{Cases: pieces("210"), Bottles: pieces("6"), Size: litre("750mL"), Strength: abv("40")}))
	equal(t, "199.5", c.ProofGallons, "945 L × 0.264172 × 0.799 = 199.46")
	assert.InDelta(t, 378, c.PureAlcohol.Value, 1e-9, "945 L × 40 %")
	for _, bad := range []CasedSpirits{{}, {Cases: pieces("1.5"), Bottles: pieces("6"), Size: litre("1"), Strength: abv("40")}, {Cases: pieces("0"), Bottles: pieces("6"), Size: litre("1"), Strength: abv("40")}, {Cases: litre("1"), Bottles: pieces("6"), Size: litre("1"), Strength: abv("40")}} {
		_, err := GaugeCases(bad)
		assert.Error(t, err, "%v", bad)
	}
}

func TestPackagesRoundOneByOne(t *testing.T) {
	one := WeightGauge{Net: lb("100"), Strength: proof("120")}
	each, sum, err := Packages(one, one, one)
	require.NoError(t, err)
	require.Len(t, each, 3)
	equal(t, each[0].Legal.ProofGallons.Mul(dec("3")).String(), sum.ProofGallons, "a sum of tenths")
	drum := WeightGauge{Net: lb("400.3"), Strength: proof("120")}
	each, _, err = Packages(drum, WeightGauge{Net: lb("20.304"), Strength: proof("120")})
	require.NoError(t, err)
	assert.InDelta(t, 400.5, each[0].Weight.Value, 1e-9, "pounds and half pounds above 10 gallons (27 CFR 30.43)")
	assert.InDelta(t, 20.30, each[1].Weight.Value, 1e-9, "hundredths below (27 CFR 30.44)")
	_, _, err = Packages(one, WeightGauge{Strength: proof("120")})
	assert.ErrorContains(t, err, "package 2 gross")
}

func TestGaugesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		strength := quantity.FromDecimal(decimal.New(rapid.Int64Range(1, 2000).Draw(t, "tenths of proof"), -1), quantity.Proof)
		volume := quantity.FromDecimal(decimal.New(rapid.Int64Range(10, 1_000_000).Draw(t, "tenths of a litre"), -1), quantity.Litre)
		temp := quantity.FromDecimal(decimal.New(rapid.Int64Range(-50, 400).Draw(t, "tenths of °C"), -1), quantity.Celsius)
		byVolume, err := GaugeVolume(VolumeGauge{Volume: volume, Temp: temp, Strength: strength})
		require.NoError(t, err)
		byWeight, err := GaugeWeight(WeightGauge{Net: byVolume.Weight.Reading(8), Strength: strength})
		require.NoError(t, err)
		assert.InEpsilon(t, byVolume.Mass.Value, byWeight.Mass.Value, 1e-7, "kilograms return")
		assert.InEpsilon(t, byVolume.PureAlcohol.Value, byWeight.PureAlcohol.Value, 1e-7)
		us, err := GaugeVolume(VolumeGauge{Volume: quantity.Figure{Value: volume.In(quantity.Gallon), Unit: quantity.Gallon}.Reading(8), Temp: temp, Strength: strength})
		require.NoError(t, err)
		assert.InEpsilon(t, byVolume.Mass.Value, us.Mass.Value, 1e-6, "gallons return")
		pounds, err := GaugeWeight(WeightGauge{Net: us.Weight.Reading(8), Strength: strength})
		require.NoError(t, err)
		assert.InEpsilon(t, us.Mass.Value, pounds.Mass.Value, 1e-6, "pounds return")
		// A proof gallon is a fixed volume of ethanol, and so of litres of pure alcohol.
		perPG := 0.5 * litresPerGallon * scale60F.ethanol / scale20.ethanol
		assert.InEpsilon(t, perPG, byVolume.PureAlcohol.Value/byVolume.ProofGallons.Value, 1e-9)
	})
}

// Pounds go by the regulation's factor and kilograms by OIML D 28; the two part
// by 1.8e-5 and must not part by more.
func TestPoundsAgainstKilograms(t *testing.T) {
	for _, s := range []string{"20", "80", "125", "190"} {
		p := must(GaugeWeight(WeightGauge{Net: lb("1000"), Strength: proof(s)}))
		k := must(GaugeWeight(WeightGauge{Net: kg("453.59237"), Strength: proof(s)}))
		assert.InEpsilon(t, p.Volume60F.Value, k.Volume60F.Value, 2.5e-5, "%s proof", s)
	}
}

func TestGaugeFaults(t *testing.T) {
	for _, c := range []struct {
		err   error
		field string
		says  string
	}{
		{second(GaugeVolume(VolumeGauge{Temp: degF("60"), Strength: proof("80")})), "volume", "a volume is needed"},
		{second(GaugeVolume(VolumeGauge{Volume: gal("-3"), Temp: degF("60"), Strength: proof("80")})), "volume", "is not above 0"},
		{second(GaugeVolume(VolumeGauge{Volume: lb("3"), Temp: degF("60"), Strength: proof("80")})), "volume", "is not a volume"},
		{second(GaugeVolume(VolumeGauge{Volume: gal("3"), Strength: proof("80")})), "temp", "in the vessel"},
		{second(GaugeVolume(VolumeGauge{Volume: gal("3"), Temp: degF("140"), Strength: proof("80")})), "temp", "“140 °F”: is outside −20 to 40 °C"},
		{second(GaugeVolume(VolumeGauge{Volume: gal("3"), Temp: degF("60"), Strength: proof("201")})), "strength", "above 200 proof"},
		{second(GaugeVolume(VolumeGauge{Volume: gal("3"), Temp: degF("60"), Strength: proof("80"), Table7: plain("995")})), "table7", "between 0.9 and 1.1"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Tare: lb("3")})), "gross", "a mass is needed"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Gross: lb("3")})), "tare", "weigh the empty vessel"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Gross: lb("3"), Tare: lb("3")})), "gross", "is not above the tare"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Gross: lb("3"), Tare: kg("1")})), "tare", "give both in lb"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Gross: lb("3"), Tare: lb("-1")})), "tare", "is below 0"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Net: lb("3"), Tare: lb("1")})), "net", "beside a gross or tare"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Net: lb("3"), SG60: quantity.MustParse("11", quantity.SG)})), "sg60", "between 0.7 and 1.6"},
		{second(GaugeWeight(WeightGauge{Strength: proof("80"), Net: lb("3"), Table4: plain("14718")})), "table4", "between 0.11 and 0.16"},
	} {
		var l fault.List
		require.ErrorAs(t, c.err, &l, c.says)
		assert.Equal(t, c.field, l[0].Field, "%v", l)
		assert.ErrorContains(t, l, c.says)
	}
	_, err := GaugeVolume(VolumeGauge{})
	assert.Equal(t, 3, strings.Count(err.Error(), "is needed"), "all at once: %v", err)
}

func second[T any](_ T, err error) error { return err }

func TestGaugeUncertainty(t *testing.T) {
	g := must(GaugeVolume(VolumeGauge{Volume: gal("100±0.5"), Temp: degF("72"), Strength: proof("120")}))
	assert.InEpsilon(t, 0.5/1.7320508, g.Volume60F.U/VolumeFactor(g.Strength, FromFahrenheit(72)), 1e-6, "a volume's doubt goes through in proportion")
	assert.InEpsilon(t, g.Volume60F.U*1.2, g.ProofGallons.U, 1e-6)
	assert.False(t, must(GaugeVolume(VolumeGauge{Volume: gal("100"), Temp: degF("72"), Strength: proof("120")})).Mass.HasU)
	w := must(GaugeWeight(WeightGauge{Gross: lb("500±0.5"), Tare: lb("100±0.5"), Strength: proof("120")}))
	assert.InEpsilon(t, 0.5*1.4142136/1.7320508, w.Weight.U, 1e-6, "gross and tare add in squares")
}

// Next to nothing on the scale is a small gauge and not the end of the program:
// found by fuzzing gross and tare in kilograms.
func TestGaugeWeightOfNextToNothing(t *testing.T) {
	g, err := GaugeWeight(WeightGauge{Gross: quantity.MustParse("1.0000000000001kg", quantity.Kilogram), Tare: quantity.MustParse("1kg", quantity.Kilogram), Strength: quantity.MustParse("100proof", quantity.Proof)})
	if err != nil {
		t.Fatal(err)
	}
	if !g.Legal.ProofGallons.IsZero() || g.Mass.Value <= 0 {
		t.Errorf("got %s proof gallons and %g kg, want 0.0 and a little above 0", g.Legal.ProofGallons, g.Mass.Value)
	}
}
