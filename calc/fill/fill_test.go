package fill

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

func published(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + path)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

func num(s string) float64            { return decimal.RequireFromString(s).InexactFloat64() }
func litre(s string) quantity.Reading { return quantity.MustParse(s, quantity.Litre) }
func ml(s string) quantity.Reading    { return quantity.MustParse(s, quantity.Millilitre) }
func abv(s string) quantity.Reading   { return quantity.MustParse(s, quantity.ABV20) }
func degC(s string) quantity.Reading  { return quantity.MustParse(s, quantity.Celsius) }

func reading(x float64, places int32, u quantity.Unit) quantity.Reading {
	return quantity.FromDecimal(decimal.NewFromFloat(x).Round(places), u)
}

func faultsOf(t require.TestingT, err error) fault.List {
	var l fault.List
	l.Add("", err)
	require.NotEmpty(t, l)
	return l
}

func TestNetWeight(t *testing.T) {
	for _, row := range published(t, "27-cfr-19-356/weights.csv") {
		strength, base := quantity.MustParse(row[1]+row[2], quantity.ABV20), At20C
		if row[2] == "proof" {
			strength = quantity.MustParse(row[1], quantity.Proof)
		}
		if row[3] == "1" {
			base = At60F
		}
		assert.Equal(t, base, BaseOf(strength))
		w, err := NetWeight(ml(row[0]), Liquid{Strength: strength}, base)
		require.NoError(t, err)
		assert.InDelta(t, num(row[4]), w.Value, num(row[5]), "%v", row)
	}
}

// What is filled by weight is found by weight, on either base, with sugar or not.
func TestWeighIsTheInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := reading(rapid.Float64Range(50, 1750).Draw(t, "size"), 1, quantity.Millilitre)
		l := Liquid{Strength: reading(rapid.Float64Range(0, 96).Draw(t, "abv"), 1, quantity.ABV20)}
		if rapid.Bool().Draw(t, "sweet") {
			l = Liquid{Density: reading(rapid.Float64Range(850, 1200).Draw(t, "density"), 1, quantity.KilogramPerCubicMetre)}
		}
		base := rapid.SampledFrom([]Base{At20C, At60F}).Draw(t, "base")
		w, err := NetWeight(size, l, base)
		require.NoError(t, err)
		c, err := Weigh(Weighing{Empty: grams("412.5"), Full: reading(412.5+w.Value, 6, quantity.Gram), Liquid: l, Base: base})
		require.NoError(t, err)
		assert.InDelta(t, size.Float(), c.Net.Value, 1e-4)
		assert.NotEmpty(t, c.Working())
	})
}

func TestWeighUncertainty(t *testing.T) {
	c, err := Weigh(Weighing{Empty: grams("400±0.5"), Full: grams("1110.2±0.5"), Liquid: Liquid{Strength: abv("40.0")}})
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt2*0.5/math.Sqrt(3)/0.9469, c.Net.U, 0.002)
	assert.InDelta(t, 750, c.Net.Value, 0.1)
}

func TestPour(t *testing.T) {
	c, err := Pour(Pouring{Volume: ml("752.7"), Temp: degC("25"), Strength: abv("40")})
	require.NoError(t, err)
	assert.InDelta(t, 750, c.Net.Value, 0.1, "note 7.2")
	c, err = Pour(Pouring{Volume: ml("747.4"), Temp: degC("15"), Strength: abv("40")})
	require.NoError(t, err)
	assert.InDelta(t, 750, c.Net.Value, 0.1, "note 7.2")
	c, err = Pour(Pouring{Volume: ml("750"), Temp: degC("20"), Strength: abv("40")})
	require.NoError(t, err)
	assert.InDelta(t, 750, c.Net.Value, 1e-9)
}

func TestNetFaults(t *testing.T) {
	_, err := Weigh(Weighing{Empty: grams("500"), Full: grams("400"), Liquid: Liquid{Strength: abv("40"), Density: quantity.MustParse("950", quantity.KilogramPerCubicMetre)}})
	l := faultsOf(t, err)
	assert.Equal(t, []string{"full", "density"}, []string{l[0].Field, l[1].Field})
	_, err = Pour(Pouring{Volume: ml("750"), Temp: degC("45"), Strength: abv("40")})
	assert.Equal(t, fault.TooHigh, faultsOf(t, err)[0].Code)
}

func TestLimits(t *testing.T) {
	rules := Published()
	for _, row := range published(t, "27-cfr-19-356/limits.csv") {
		assert.Equal(t, num(row[1]), rules.limit(num(row[0])).Percent, "%s mL", row[0])
	}
	for _, l := range rules.Limits {
		assert.NotEmpty(t, l.Source)
		assert.NotEmpty(t, l.Read)
	}
	assert.Empty(t, rules.Variations, "the table is empty until it is typed from the handbook")
}

func TestSamplingPlan(t *testing.T) {
	rules := Published()
	for _, row := range published(t, "nist-hb133/sampling.csv") {
		n := int(num(row[2]))
		switch first, last, ranged := strings.Cut(row[1], " to "); {
		case ranged:
			assert.Equal(t, int64(n), rules.plan(int64(num(first))).Sample)
			assert.Equal(t, int64(n), rules.plan(int64(num(last))).Sample)
		case strings.HasPrefix(row[1], "more than "):
			assert.Equal(t, int64(n), rules.plan(int64(num(strings.TrimPrefix(row[1], "more than ")))+1).Sample)
		default:
			assert.Equal(t, int64(n), rules.plan(int64(num(row[1]))).Sample)
		}
		if row[3] != "" {
			assert.Equal(t, num(row[3]), rules.factor(n), "%s", row[1])
			assert.InDelta(t, num(row[3]), student975(n-1)/math.Sqrt(float64(n)), 0.0015, "t(0.975, %d)/√n", n-1)
		}
	}
	assert.InDelta(t, 12.706, student975(1), 0.001, "Student's table")
	assert.InDelta(t, 2.228, student975(10), 0.001)
	assert.InDelta(t, 1.980, student975(120), 0.001)
}

func sampleOf(size string, contents ...float64) Sample {
	s := Sample{Size: ml(size)}
	for _, c := range contents {
		s.Bottles = append(s.Bottles, reading(c, 2, quantity.Millilitre))
	}
	return s
}

func TestJudge(t *testing.T) {
	j, err := Judge(sampleOf("750", 751, 749, 750.5, 749.2, 750.8, 749.6))
	require.NoError(t, err)
	assert.True(t, j.Passes, j.Verdict)
	assert.Equal(t, [2]int{3, 3}, [2]int{j.Over, j.Under})
	assert.InDelta(t, 735, j.Low.Value, 1e-9)
	assert.InDelta(t, 765, j.High.Value, 1e-9)
	assert.Contains(t, j.Variation, "has not been typed in")
	assert.Contains(t, j.Working().String(), "19.356")

	edge, err := Judge(sampleOf("750", 735, 765, 750))
	require.NoError(t, err)
	assert.Empty(t, edge.Beyond, "the ends are in")
	out, err := Judge(sampleOf("750", 734.9, 750, 751))
	require.NoError(t, err)
	assert.Equal(t, []int{0}, out.Beyond)
	assert.Contains(t, out.Verdict, "stop and re-set")

	// Short on average by more than the factor times the spread.
	short, err := Judge(sampleOf("750", 747.0, 747.4, 746.8, 747.2, 747.1, 746.9))
	require.NoError(t, err)
	assert.False(t, short.MeanHolds)
	assert.InDelta(t, 1.050*short.Spread.Value, short.MeanLimit.Value, 1e-12, "Handbook 133, n = 6")
	// All over: no law against the mean, but not balanced.
	over, err := Judge(sampleOf("750", 751, 752, 751.5, 751.2, 752.3, 751.1))
	require.NoError(t, err)
	assert.True(t, over.MeanHolds)
	assert.False(t, over.Balanced)
	assert.InDelta(t, 2.0/64, over.Balance, 1e-12, "the sign test of six")

	few := sampleOf("750", 751, 749, 750)
	few.Lot = 2000
	j, err = Judge(few)
	require.NoError(t, err)
	assert.Equal(t, int64(24), j.Wanted)
	assert.Contains(t, j.Verdict, "asks for 24")
	few.Rules = Published()
	few.Rules.Variations = []Variation{{0, 0.5, "an owner's handbook", "read"}}
	j, err = Judge(few)
	require.NoError(t, err)
	assert.Contains(t, j.Variation, "1 short by more than 0.5 mL")

	_, err = Judge(Sample{Size: ml("750"), Bottles: []quantity.Reading{ml("750"), abv("40")}, Lot: 1})
	l := faultsOf(t, err)
	assert.Equal(t, []string{"bottle 2", "lot"}, []string{l[0].Field, l[1].Field})
}

// A line that is set right is told to go on, one that drifts is found.
func TestWatch(t *testing.T) {
	for _, row := range published(t, "27-cfr-19-356/constants.csv") {
		assert.InDelta(t, num(row[1]), a3(int(num(row[0]))), 0.0006, "A3 of %s", row[0])
	}
	c, err := ChartOf(ml("750"), Rules{})
	require.NoError(t, err)
	assert.InDelta(t, 742.5, c.WarnLow.Value, 1e-9)
	chance := rand.New(rand.NewPCG(3, 56))
	check := func(mean float64) []float64 {
		x := make([]float64, 6)
		for i := range x {
			x[i] = mean + 1.5*chance.NormFloat64()
		}
		return x
	}
	var steady, checks [][]float64
	for range 400 {
		steady = append(steady, check(750))
	}
	wrong := 0
	for _, w := range c.Watch(steady) {
		if w.Action != GoOn {
			wrong++
		}
	}
	assert.Less(t, wrong, 12, "of 400 checks of a line that is right")
	for i := range 12 {
		checks = append(checks, check(750-math.Max(0, float64(i-5))*1.2))
	}
	at := -1
	for i, w := range c.Watch(checks) {
		if w.Action != GoOn && at < 0 {
			at = i
		}
	}
	assert.GreaterOrEqual(t, at, 5)
	assert.Less(t, at, 11, "a drift of 1.2 mL a check is found before six of them")
	w := c.Watch([][]float64{{750, 734, 751}, {742, 742, 750, 750, 750, 750}, {740, 750, 732.4 + 5}, {757, 758, 759}})
	assert.Equal(t, Stop, w[0].Action)
	assert.Equal(t, Stop, w[1].Action)
	assert.Equal(t, Stop, w[2].Action)
	assert.Equal(t, SetAgain, w[3].Action)
}

func TestStrong(t *testing.T) {
	for found, within := range map[string]bool{"39.7": true, "40.3": true, "39.6": false, "40.4": false, "40.34": true} {
		s, err := Strong(abv("40"), abv(found), At20C)
		require.NoError(t, err)
		assert.Equal(t, within, s.Within, "%s (the regulator's own example: 39.7 to 40.3, ends included)", found)
	}
	s, err := Strong(quantity.MustParse("80", quantity.Proof), quantity.MustParse("80.6", quantity.Proof), At60F)
	require.NoError(t, err)
	assert.True(t, s.Within)
	_, err = Strong(quantity.Reading{}, abv("40"), At20C)
	assert.Equal(t, "label", faultsOf(t, err)[0].Field)
}

func TestExpect(t *testing.T) {
	e, err := Expect(Run{Tank: litre("1520±2"), Strength: abv("40"), Heel: litre("18"), Loss: quantity.MustParse("0", quantity.Percent), Size: ml("750"), PerCase: 12,
		Goods: []Stock{{Name: "glass", OnHand: 2000}, {Name: "labels", Each: 2, OnHand: 4100}, {Name: "cartons", PerCase: true, OnHand: 166}}})
	require.NoError(t, err)
	assert.InDelta(t, 1502/0.75, e.Bottles.Value, 1e-9)
	assert.Equal(t, [2]int64{166, 10}, [2]int64{e.Cases, e.Loose})
	assert.InDelta(t, 2/0.75/math.Sqrt(3), e.Bottles.U, 1e-6)
	require.Len(t, e.Short, 2)
	assert.Equal(t, Shortage{"glass", 2005, 2000, 2000}, e.Short[0])
	assert.Equal(t, Shortage{"cartons", 168, 166, 1992}, e.Short[1])
	warm, err := Expect(Run{Tank: litre("1520"), Temp: degC("30"), Strength: abv("70"), Size: ml("750"), PerCase: 12})
	require.NoError(t, err)
	assert.InDelta(t, 0.95, 100*(1520/warm.Volume.Value-1), 0.02, "70 %% vol, 10 K warm: 0.95 %% too many (note 4.4)")
	assert.True(t, warm.Bottles.HasU, "what the line keeps is not known")
	exact, err := Expect(Run{Tank: litre("9"), Strength: abv("40"), Loss: quantity.MustParse("0", quantity.Percent), Size: ml("750"), PerCase: 12})
	require.NoError(t, err)
	assert.Equal(t, int64(1), exact.Cases, "9 L are twelve bottles of 750 mL")
	_, err = Expect(Run{Tank: litre("10"), Strength: abv("40"), Heel: litre("11"), Size: ml("750"), PerCase: 12})
	assert.Equal(t, "heel", faultsOf(t, err)[0].Field)
	_, err = Expect(Run{})
	assert.Len(t, faultsOf(t, err), 4)
	x, err := Expansion(litre("1000"), degC("30"), abv("40"), At20C)
	require.NoError(t, err)
	s, _ := spirit.FromABV20(40)
	assert.InDelta(t, 1000*(1-float64(s.DensityAt(30)/s.DensityAt(20))), x.Value, 1e-9)
}

func TestWorkedReconciliation(t *testing.T) {
	for _, row := range published(t, "27-cfr-19-356/party.csv") {
		r, err := Reconcile(Party{Size: ml(row[6]), PerCase: int64(num(row[5])), Cases: int64(num(row[4])),
			Before: litre(row[0]), After: litre(row[1]), Samples: litre(row[2]), Spill: litre(row[3])})
		require.NoError(t, err)
		assert.InDelta(t, num(row[7]), r.Accounts[0].Gap.Value, 1e-9, "note 7.4")
		assert.InDelta(t, num(row[8]), r.Share.Value, 0.005, "note 7.4")
		assert.Equal(t, int64(1980), r.Bottles)
		assert.Equal(t, Nothing, r.Causes[0].Kind, "0.3 to 1.0 %% is what a line keeps")
		assert.False(t, r.Asked)
		assert.Contains(t, r.Working().String(), "11.5")
	}
}

func TestReconcileFaults(t *testing.T) {
	_, err := Reconcile(Party{Size: ml("750"), Before: litre("10"), After: litre("11"), Cases: -1, OtherCases: 1, Tank: abv("40"), Tallies: []Tally{{"wipe", 3}}, Goods: []Good{{Name: "seals", At: Sealing, Tolerance: 2}}})
	var fields []string
	for _, f := range faultsOf(t, err) {
		fields = append(fields, f.Field)
	}
	assert.Equal(t, []string{"after", "per_case", "cases", "other_case", "tally 1", "goods seals", "bottled"}, fields)
}

func TestCautionsDeferToTheCode(t *testing.T) {
	for _, c := range Cautions() {
		assert.Contains(t, c.Text, "local code", c.Hazard)
		assert.NotEmpty(t, c.Source)
	}
}
