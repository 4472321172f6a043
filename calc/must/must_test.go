package must

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

// faultOf is the fault of that field.
func faultOf(t *testing.T, err error, field string) fault.Fault {
	t.Helper()
	var list fault.List
	require.ErrorAs(t, err, &list)
	for _, f := range list {
		require.NotEmpty(t, f.Limit)
		require.NotEmpty(t, f.Remedy)
		if f.Field == field {
			return f
		}
	}
	require.Failf(t, "no fault of the field", "%s in %v", field, list)
	return fault.Fault{}
}

func typed(x float64, u quantity.Unit) quantity.Reading {
	return quantity.MustParse(strconv.FormatFloat(x, 'f', -1, 64), u)
}

func TestExtractReturnsAndClimbs(t *testing.T) {
	before := Gravity(0)
	for e := minExtract; e < 39.99; e += 0.1 {
		g, err := GravityOf(e)
		require.NoError(t, err)
		back, err := FromGravity(g)
		require.NoError(t, err)
		assert.InDelta(t, float64(e), float64(back), 1e-9)
		assert.Greater(t, g, before)
		before = g
	}
	for _, g := range []Gravity{0.97, 1.2, Gravity(math.NaN())} {
		_, err := FromGravity(g)
		assert.Error(t, err, "%v", g)
	}
	_, err := GravityOf(41)
	assert.Error(t, err)
	_, err = FromIndex(1.30)
	assert.Error(t, err)
	_, err = FromIndex(1.45)
	assert.Error(t, err)
}

func TestIndexClimbs(t *testing.T) {
	before := Extract(-1)
	for n := Index(1.333); n < 1.42; n += 0.001 {
		e, err := FromIndex(n)
		require.NoError(t, err)
		assert.Greater(t, e, before)
		before = e
	}
}

// A hydrometer made for another temperature agrees with one made for 20 °C in
// the same liquid, on both scales.
func TestCalibrationLaw(t *testing.T) {
	// Both read at the calibration of the first: what it shows is true there.
	for _, cal := range []string{"15", "17.5", "15.556"} {
		c, err := Correct(Sample{Reading: brix("12.00"), Temp: celsius(cal), Calibration: celsius(cal)})
		require.NoError(t, err)
		assert.InDelta(t, 12, c.Extract.Value, 0.01, "a Brix hydrometer is right at its own temperature, %s °C", cal)
	}
	c, err := Correct(Sample{Reading: sg("1.0000"), Temp: celsius("15.556"), Calibration: quantity.MustParse("60", quantity.Fahrenheit)})
	require.NoError(t, err)
	assert.InDelta(t, 0, c.Extract.Value, 0.03, "water at 60 °F on a 60 °F stem is water")
	c, err = Correct(Sample{Reading: sg("1.0500"), Temp: celsius("20")})
	require.NoError(t, err)
	assert.InDelta(t, 1.05, c.Gravity.Value, 1e-9, "a 20 °C stem at 20 °C needs no correction")
}

func TestCorrectIsMonotoneAndSigned(t *testing.T) {
	before := 0.0
	for at := 5; at <= 35; at++ {
		c, err := Correct(Sample{Reading: brix("12"), Temp: celsius(strconv.Itoa(at))})
		require.NoError(t, err)
		if at > 5 {
			assert.Greater(t, c.Extract.Value, before, "a warmer sample with the same reading holds more sugar: %d °C", at)
		}
		before = c.Extract.Value
	}
}

func TestCorrectRefuses(t *testing.T) {
	_, err := Correct(Sample{Reading: brix("8"), Temp: celsius("20"), Instrument: Refractometer, Fermenting: true})
	assert.Contains(t, faultOf(t, err, "instrument").Limit, "alcohol as sugar")
	_, err = Correct(Sample{Reading: brix("8"), Temp: celsius("36")})
	assert.Equal(t, fault.TooHigh, faultOf(t, err, "temp").Code)
	_, err = Correct(Sample{Reading: brix("8")})
	assert.Equal(t, fault.Missing, faultOf(t, err, "temp").Code)
	_, err = Correct(Sample{Reading: brix("35"), Temp: celsius("28")})
	assert.Contains(t, faultOf(t, err, "reading").Remedy, "double")
	_, err = Correct(Sample{Reading: sg("1.05"), Instrument: Refractometer})
	assert.Equal(t, fault.WrongUnit, faultOf(t, err, "reading").Code)
	_, err = Correct(Sample{Reading: brix("8"), Temp: celsius("20"), Instrument: "spoon"})
	assert.Equal(t, fault.NotOneOf, faultOf(t, err, "instrument").Code)

	c, err := Correct(Sample{Reading: brix("-1.2"), Temp: celsius("18"), Fermenting: true})
	require.NoError(t, err, "a dry ferment reads below water")
	assert.Contains(t, c.Note, "Apparent")
	assert.Len(t, c.Working(), 4)
	r, err := Correct(Sample{Reading: brix("14.0"), Temp: celsius("25"), Instrument: Refractometer})
	require.NoError(t, err)
	assert.InDelta(t, 14.368, r.Extract.Value, 1e-6)
	assert.Contains(t, r.Note, "Before fermentation only")
}

func TestDoubtIsCarried(t *testing.T) {
	c, err := Correct(Sample{Reading: quantity.MustParse("12.0±0.1", quantity.Brix), Temp: quantity.MustParse("20±0.5", quantity.Celsius)})
	require.NoError(t, err)
	require.True(t, c.Extract.HasU)
	assert.InDelta(t, 0.1/math.Sqrt(3), c.Extract.U, 0.01)
	a, err := Attenuate(Attenuation{Original: quantity.MustParse("12.0±0.1", quantity.Brix), Present: brix("2.0")})
	require.NoError(t, err)
	assert.Greater(t, a.ABV20.U, 0.02)
	assert.Greater(t, a.High.Value-a.ABV20.Value, ballingDoubt*a.ABV20.Value)
}

// Balling's own balance: the original comes back from alcohol and real extract.
func TestBallingReturns(t *testing.T) {
	for oe := 5.0; oe <= 30; oe += 2.5 {
		for ae := -2.0; ae < oe; ae += 1.5 {
			f := balling(Extract(oe), Extract(ae))
			back := 100 * (ballingExtract*f.mass + f.re) / (100 + ballingYield*f.mass)
			assert.InDelta(t, oe, back, 0.02, "OE %v AE %v", oe, ae)
		}
	}
	dry, err := Attenuate(Attenuation{Original: brix("18"), Present: brix("-1.8")})
	require.NoError(t, err)
	assert.InDelta(t, 110, dry.Apparent.Value, 1e-6, "attenuation is not clamped")
	none, err := Attenuate(Attenuation{Original: brix("12"), Present: brix("12")})
	require.NoError(t, err)
	assert.InDelta(t, 0, none.ABV20.Value, 1e-9)
	_, err = Attenuate(Attenuation{Original: brix("12"), Present: brix("13")})
	faultOf(t, err, "present")
	_, err = Attenuate(Attenuation{Original: brix("-1"), Present: brix("-2")})
	faultOf(t, err, "original")
}

func TestTurnKeepsMass(t *testing.T) {
	turned, err := Turn(kg("100"), Hexose)
	require.NoError(t, err)
	assert.InDelta(t, 100, turned.Ethanol.Value+turned.CO2.Value, 0.01, "ethanol and CO2 weigh what the sugar weighed")
	_, err = Turn(kg("-1"), Hexose)
	faultOf(t, err, "amount")
	_, err = Turn(kg("1"), "lactose")
	faultOf(t, err, "sugar")
}

func TestExpectOrder(t *testing.T) {
	for _, m := range Materials() {
		for _, bx := range []string{"", "2", "9", "15", "24"} {
			b := Batch{Material: m.Name, Prepared: kg("1000")}
			if bx != "" {
				if !m.Fruit() {
					continue
				}
				b.Extract = brix(bx)
			}
			x, err := Expect(b)
			require.NoError(t, err, m.Name)
			assert.LessOrEqual(t, x.Low.Value, x.PureAlcohol.Value, "%s %s", m.Name, bx)
			assert.LessOrEqual(t, x.PureAlcohol.Value, x.High.Value, "%s %s", m.Name, bx)
			if bx != "" {
				assert.LessOrEqual(t, x.High.Value, x.Ceiling.Value+1e-9, "%s %s: no more than the sugar gives", m.Name, bx)
			}
			double, err := Expect(Batch{Material: m.Name, Prepared: kg("2000"), Extract: b.Extract})
			require.NoError(t, err)
			assert.InDelta(t, 2*x.PureAlcohol.Value, double.PureAlcohol.Value, 1e-6)
			for _, mark := range x.Marks {
				assert.NotEmpty(t, mark.Source)
			}
		}
	}
	_, err := Expect(Batch{Material: "turnip", Prepared: kg("1")})
	assert.Contains(t, faultOf(t, err, "material").Remedy, "quince")
	_, err = Expect(Batch{Material: "rye", Prepared: kg("1"), Extract: brix("12")})
	faultOf(t, err, "extract")
}

func TestReceive(t *testing.T) {
	d := Delivery{
		Material: "damson", Gross: kg("1240"), Tare: kg("40"), Prepared: kg("1080"),
		Samples: []quantity.Reading{brix("14.8"), brix("15.4"), brix("15.1")},
		Price:   quantity.MustParse("0.9", quantity.Dollar), PriceOf: quantity.Kilogram,
		Fermenters: []quantity.Reading{l("500"), l("1000")},
	}
	r, err := Receive(d)
	require.NoError(t, err)
	assert.InDelta(t, 1200, r.Net.Value, 1e-6)
	assert.InDelta(t, 90, r.Preparation.Value, 1e-6)
	assert.InDelta(t, 15.1, r.Brix.Value, 1e-6)
	assert.InDelta(t, 0.3, r.Spread.Value, 1e-6)
	assert.InDelta(t, 0.3/math.Sqrt(3), r.Brix.U, 1e-6, "scatter of the mean, JCGM 100:2008 4.2.3")
	assert.InDelta(t, 1.0, r.CostPerKg.Value, 1e-9)
	assert.InDelta(t, 1019, r.Mash.Value, 2)
	assert.Equal(t, 2, r.Fermenters, "1000 L to 80 % is too little for 1019 L")
	assert.Zero(t, r.Unplaced.Value)
	d.Fermenters = d.Fermenters[:1]
	r, err = Receive(d)
	require.NoError(t, err)
	assert.InDelta(t, r.Mash.Value-400, r.Unplaced.Value, 1e-6, "said at the gate")
	assert.NotEmpty(t, r.Working())

	bad := d
	bad.Prepared = kg("1300")
	_, err = Receive(bad)
	faultOf(t, err, "prepared")
	bad = d
	bad.Tare = kg("1300")
	_, err = Receive(bad)
	faultOf(t, err, "tare")
	bad = d
	bad.Net = kg("1200")
	_, err = Receive(bad)
	faultOf(t, err, "net")
	_, err = Receive(Delivery{Material: "damson", Net: kg("10"), Samples: []quantity.Reading{kg("3")}})
	faultOf(t, err, "sample 1")
}

// The heat that the water gives is the heat that grain and tun take.
func TestStrikeBalances(t *testing.T) {
	for _, tun := range []string{"0", "60"} {
		s := Strike{Grain: kg("180"), GrainTemp: celsius("18"), Water: kg("540"), Target: celsius("64"), Tun: kg(tun), TunTemp: celsius("15")}
		r, err := StrikeTemperature(s)
		require.NoError(t, err)
		gives := 540 * (r.Water.Value - 64)
		takes := 0.40*180*(64-18) + s.Tun.Float()*(64-15)
		assert.InDelta(t, takes, gives, 1e-6)
		assert.True(t, r.Water.HasU, "the doubt of the grain's heat is always there")
	}
	// The customary rule of 0.41 over litres a kg, from memory.
	r, err := StrikeTemperature(Strike{Grain: kg("100"), GrainTemp: celsius("20"), Water: l("300"), Target: celsius("65")})
	require.NoError(t, err)
	assert.InDelta(t, 0.41/3*(65-20)+65, r.Water.Value, 0.3)
	_, err = StrikeTemperature(Strike{Grain: kg("300"), GrainTemp: celsius("5"), Water: l("300"), Target: celsius("80")})
	assert.Contains(t, faultOf(t, err, "target").Limit, "above 95 °C")
	_, err = StrikeTemperature(Strike{})
	faultOf(t, err, "grain")
	faultOf(t, err, "water")
}

func TestInfuseBalances(t *testing.T) {
	add, err := Infuse(Infusion{Grain: kg("100"), Water: kg("300"), Mash: celsius("42"), Target: celsius("63"), HotWater: celsius("95")})
	require.NoError(t, err)
	assert.InDelta(t, (0.40*100+300)*(63-42), add.Value*(95-63), 1e-6)
	_, err = Infuse(Infusion{Grain: kg("100"), Water: kg("300"), Mash: celsius("42"), Target: celsius("99"), HotWater: celsius("95")})
	faultOf(t, err, "target")
}

func TestYieldIsTheShare(t *testing.T) {
	q := Wort{Volume: l("500"), Extract: brix("16"), Bill: []BillPart{{kg("100"), percent("78")}, {kg("40"), percent("70")}}}
	y, err := Yield(q)
	require.NoError(t, err)
	assert.InDelta(t, 5*Extract(16).GramsPerLitre()/10, y.InWort.Value, 1e-6)
	assert.InDelta(t, 106, y.InBill.Value, 1e-9)
	assert.InDelta(t, 100*y.InWort.Value/106, y.Efficiency.Value, 1e-6)
	q.Volume = l("800")
	_, err = Yield(q)
	assert.Contains(t, faultOf(t, err, "extract").Limit, "more than the bill")
	_, err = Yield(Wort{Volume: l("500"), Extract: brix("16")})
	faultOf(t, err, "bill")
}

func TestCoolingLaw(t *testing.T) {
	c := Cooling{Start: celsius("70"), Now: celsius("50"), Coolant: celsius("10"), Target: celsius("10.1"), Elapsed: quantity.MustParse("30", quantity.Minute)}
	total := func(target string) float64 {
		c.Target = celsius(target)
		m, err := CoolingTime(c)
		require.NoError(t, err)
		return m.Value
	}
	// The gap of 40 K to the coolant halves in the same time again and again.
	half := total("30")
	assert.InDelta(t, 2*half, total("20"), 1e-6)
	assert.InDelta(t, 3*half, total("15"), 1e-6)
	assert.InDelta(t, 30*math.Log(2)/math.Log(60.0/40), half, 1e-6)
	c.Target = celsius("9")
	_, err := CoolingTime(c)
	faultOf(t, err, "target")
	c.Now = celsius("71")
	_, err = CoolingTime(c)
	faultOf(t, err, "now")
}

// Mass and extract both add up, and the two questions are one.
func TestDiluteBalances(t *testing.T) {
	for _, with := range []string{"0", "3"} {
		d := Dilution{Weight: kg("250"), Extract: brix("80"), With: brix(with), Target: brix("18")}
		r, err := Dilute(d)
		require.NoError(t, err)
		assert.InDelta(t, r.WashMass.Value, r.Molasses.Value+r.Added.Value, 1e-6)
		assert.InDelta(t, 18*r.WashMass.Value, 80*r.Molasses.Value+number(t, with)*r.Added.Value, 1e-4)
		back, err := Dilute(Dilution{Wanted: typed(math.Round(r.Wash.Value*1e6)/1e6, quantity.Litre), Extract: d.Extract, With: d.With, Target: d.Target})
		require.NoError(t, err)
		assert.InDelta(t, 250, back.Molasses.Value, 1e-4)
	}
	r, err := Dilute(Dilution{Weight: kg("250"), Extract: brix("80"), Target: brix("24")})
	require.NoError(t, err)
	assert.NotEmpty(t, r.Note, "a heavy wash is said")
	_, err = Dilute(Dilution{Weight: kg("250"), Extract: brix("18"), Target: brix("20")})
	faultOf(t, err, "target")
	_, err = Dilute(Dilution{Extract: brix("80"), Target: brix("20")})
	faultOf(t, err, "weight")
	_, err = Dilute(Dilution{Weight: kg("1"), Wanted: l("1"), Extract: brix("80"), Target: brix("20")})
	assert.Equal(t, fault.Conflict, faultOf(t, err, "weight").Code)
}

func TestFeed(t *testing.T) {
	f := Feeding{Volume: l("1000"), Extract: brix("20"), Demand: MediumDemand, Present: mgL("100")}
	r, err := Feed(f)
	require.NoError(t, err)
	assert.InDelta(t, 180, r.Wanted.Value, 1e-9)
	assert.InDelta(t, 80, r.Missing.Value, 1e-9)
	// The dose brings exactly the nitrogen that is missing.
	assert.InDelta(t, 80*1000, r.Dose.Value*DAPNitrogen/100*1000, 1e-6)
	assert.InDelta(t, r.Dose.Value, 2*r.Each.Value, 1e-9)
	assert.Empty(t, r.Advice)

	f.Present = mgL("300")
	r, err = Feed(f)
	require.NoError(t, err)
	assert.Zero(t, r.Dose.Value, "enough is enough")

	f.Present, f.Demand, f.Extract = quantity.Reading{}, HighDemand, brix("30")
	r, err = Feed(f)
	require.NoError(t, err)
	assert.InDelta(t, mostNitrogen, r.Missing.Value, 1e-9)
	var codes []string
	for _, a := range r.Advice {
		codes = append(codes, a.Code)
	}
	assert.Equal(t, []string{"nitrogen-unknown", "nitrogen-capped", "phosphate-high"}, codes)

	for _, name := range []string{"urea", "Urea 46-0-0", "carbamide"} {
		f.Nutrient = name
		_, err = Feed(f)
		assert.Contains(t, faultOf(t, err, "nutrient").Limit, "ethyl carbamate", name)
	}
	f.Nutrient, f.Nitrogen = "", percent("46")
	_, err = Feed(f)
	assert.Contains(t, faultOf(t, err, "nitrogen").Remedy, "urea")
	f.Nitrogen, f.ABV = quantity.Reading{}, quantity.MustParse("10.5", quantity.ABV20)
	_, err = Feed(f)
	faultOf(t, err, "abv")
}

func TestAcidify(t *testing.T) {
	step := func(ml, ph string) AcidStep {
		return AcidStep{quantity.MustParse(ml, quantity.Millilitre), acidity(ph)}
	}
	q := Titration{Mash: l("800"), Sample: l("1"), Target: acidity("3.2"),
		Steps: []AcidStep{step("0", "3.80"), step("1.0", "3.40"), step("2.0", "3.10"), step("3.0", "2.90")}}
	r, err := Acidify(q)
	require.NoError(t, err)
	assert.InDelta(t, 1+0.2/0.3, r.Sample.Value, 1e-9)
	assert.InDelta(t, 800*r.Sample.Value, r.Dose.Value, 1e-6)
	assert.InDelta(t, 0.75*r.Dose.Value, r.First.Value, 1e-6)
	assert.Equal(t, "acid-in-steps", r.Advice[0].Code)
	// A reading met exactly gives its own acid; a lower target takes more.
	before := 0.0
	for _, target := range []string{"3.5", "3.4", "3.3", "3.1", "2.95", "2.9"} {
		q.Target = acidity(target)
		r, err := Acidify(q)
		require.NoError(t, err, target)
		assert.Greater(t, r.Dose.Value, before, target)
		before = r.Dose.Value
		if target == "3.1" {
			assert.InDelta(t, 2, r.Sample.Value, 1e-9)
		}
	}
	q.Target = acidity("2.85")
	_, err = Acidify(q)
	assert.Contains(t, faultOf(t, err, "target").Remedy, "no dose is guessed")
	q.Target = acidity("3.9")
	_, err = Acidify(q)
	faultOf(t, err, "target")
	q.Target = acidity("3.2")
	for name, steps := range map[string][]AcidStep{
		"one reading":   {step("0", "3.8")},
		"no zero":       {step("1", "3.8"), step("2", "3.1")},
		"pH rises":      {step("0", "3.8"), step("1", "3.9"), step("2", "3.1")},
		"acid falls":    {step("0", "3.8"), step("2", "3.4"), step("1", "3.1")},
		"another unit":  {step("0", "3.8"), {kg("1"), acidity("3.1")}},
		"pH is missing": {step("0", "3.8"), {Acid: quantity.MustParse("1", quantity.Millilitre)}},
	} {
		q.Steps = steps
		_, err = Acidify(q)
		require.Error(t, err, name)
		faultOf(t, err, "steps")
	}
}

func TestEnzymeAndPitch(t *testing.T) {
	e, err := Enzyme(EnzymeDose{Prepared: kg("1500"), PerTonne: quantity.MustParse("40", quantity.Millilitre), Temp: celsius("18")})
	require.NoError(t, err)
	assert.InDelta(t, 60, e.Dose.Value, 1e-9)
	cold, err := Enzyme(EnzymeDose{Prepared: kg("1500"), PerTonne: quantity.MustParse("40", quantity.Millilitre), Temp: celsius("11")})
	require.NoError(t, err)
	assert.True(t, cold.Doubled)
	assert.InDelta(t, 120, cold.Dose.Value, 1e-9)
	_, err = Enzyme(EnzymeDose{Prepared: kg("1500"), PerTonne: quantity.MustParse("40", quantity.Millilitre), Temp: celsius("55")})
	faultOf(t, err, "temp")
	p, err := Pitch(l("800"))
	require.NoError(t, err)
	assert.InDelta(t, 80, p.Low.Value, 1e-9)
	assert.InDelta(t, 240, p.High.Value, 1e-9)
}

// 0.23 m3 of CO2 an hour wants 51 m3 of air, by balance of the room.
func TestVentilation(t *testing.T) {
	perDay := quantity.Figure{Value: 0.233 * 24 / co2Volume, Unit: quantity.Kilogram}
	air := Ventilation(perDay)
	assert.InDelta(t, 51, air, 0.5)
	assert.InDelta(t, 5000e-6, 420e-6+0.233/air, 1e-9, "what goes out is what comes in")
}

func TestCautions(t *testing.T) {
	for _, c := range Cautions() {
		assert.True(t, strings.HasSuffix(c.Text, localCode), c.Hazard)
		assert.NotEmpty(t, c.Source)
	}
	for room, hazards := range map[string][]string{"ferment hall": {"carbon dioxide", "confined space"}, "mash room": {"acids", "caustics"}} {
		for _, h := range hazards {
			found := false
			for _, c := range CautionsIn(room) {
				found = found || c.Hazard == h
			}
			assert.True(t, found, "%s: %s", room, h)
		}
	}
	for _, r := range Rests() {
		assert.Less(t, r.Low, r.High)
		assert.NotEmpty(t, r.Source)
	}
	assert.Contains(t, Iodine, "blue")
}

func check(day float64, bx string) Check {
	c := Check{At: time.Duration(day * 24 * float64(time.Hour)), MashTemp: celsius("18")}
	if bx != "" {
		c.Sample = Sample{Reading: brix(bx), Temp: celsius("20")}
	}
	return c
}

func ferment(checks ...Check) Ferment {
	return Ferment{Style: FruitMash(), Original: brix("14.0"), Volume: l("1000"), Checks: checks, Now: checks[len(checks)-1].At}
}

func TestAssess(t *testing.T) {
	a, err := ferment(check(1, "13.2"), check(2, "11.2"), check(3, "9.2")).Assess()
	require.NoError(t, err)
	require.Len(t, a.Points, 4)
	assert.InDelta(t, 2, a.Fall.Value, 1e-9)
	assert.Empty(t, a.Advice, "all is well")
	// Balling balances: sugar gone is alcohol, CO2 and yeast.
	assert.InDelta(t, a.Sugar.Value, a.Alcohol.Value*ethanolDensity*ballingExtract, 1e-6)
	// A fall of 2 apparent Bx is 1.64 real ones: about 17 kg of extract in 1000
	// L, by stoichiometry 8.1 kg of CO2 and 9.5 MJ.
	assert.InDelta(t, 8.1, a.CO2.Value, 0.4)
	assert.InEpsilon(t, 9.5e6/86400, a.HeatW, 0.06)
	assert.InEpsilon(t, 9.5/(1057*0.004), a.RiseK, 0.06)
	assert.InDelta(t, a.CO2.Value*546, a.CO2Gas.Value, 5)
	assert.Greater(t, a.Air, 30.0)
	assert.Greater(t, a.Attenuated.ABV20.Value, 2.0)
}

func TestAdvice(t *testing.T) {
	with := func(c Check, f func(*Check)) Check { f(&c); return c }
	temp := func(s string) func(*Check) { return func(c *Check) { c.MashTemp = celsius(s) } }
	ph := func(s string) func(*Check) { return func(c *Check) { c.PH = acidity(s) } }
	smell := func(s Smell) func(*Check) { return func(c *Check) { c.Smell = s } }
	refractometer := func(c *Check) { c.Sample.Instrument = Refractometer }
	at := func(f Ferment, day float64) Ferment {
		f.Now = time.Duration(day * 24 * float64(time.Hour))
		return f
	}
	fine := []Check{check(1, "13.2"), check(2, "11.2"), check(3, "9.2")}
	stone := ferment(append(fine[:3:3], check(6, "4"), check(9, "2"), check(12, "1.9"))...)
	stone.Stone = true
	for _, c := range []struct {
		name string
		f    Ferment
		want []string
	}{
		{"a ferment as it should be", ferment(fine...), nil},
		{"nothing after two days at 18 °C", ferment(check(1, "14.0"), check(2, "13.9")), []string{"not-started"}},
		{"nothing after two days, but cold", ferment(check(1, "14.0"), with(check(2, "13.9"), temp("12"))), nil},
		{"nothing after three days, cold", ferment(check(1, "14.0"), with(check(3.1, "13.9"), temp("12"))), []string{"not-started"}},
		{"stands still half way", ferment(check(1, "13"), check(2, "10"), check(3, "8"), check(4, "7.9"), check(5, "7.8")), []string{"stuck"}},
		{"crawls half way", ferment(check(1, "13"), check(2, "10"), check(3, "8"), check(4, "7.6"), check(5, "7.3")), []string{"sluggish"}},
		{"slows at its end", ferment(check(1, "13"), check(2, "10"), check(4, "5"), check(6, "3"), check(8, "2.6")), nil},
		{"rose", ferment(append(fine[:2:2], check(3, "12.0"))...), []string{"extract-rose"}},
		{"cold", ferment(append(fine[:2:2], with(check(3, "9.2"), temp("11")))...), []string{"too-cold"}},
		{"warm", ferment(append(fine[:2:2], with(check(3, "9.2"), temp("29")))...), []string{"too-warm"}},
		{"pH high", ferment(append(fine[:2:2], with(check(3, "9.2"), ph("3.7")))...), []string{"ph-high"}},
		{"pH low", ferment(append(fine[:2:2], with(check(3, "9.2"), ph("2.6")))...), []string{"ph-low"}},
		{"pH moves", ferment(fine[0], with(fine[1], ph("3.1")), with(fine[2], ph("3.45"))), []string{"ph-moving"}},
		{"vinegar", ferment(append(fine[:2:2], with(check(3, "9.2"), smell(SmellVinegar)))...), []string{"vinegar"}},
		{"solvent", ferment(append(fine[:2:2], with(check(3, "9.2"), smell(SmellSolvent)))...), []string{"solvent"}},
		{"rotten egg", ferment(append(fine[:2:2], with(check(3, "9.2"), smell(SmellSulphide)))...), []string{"sulphide"}},
		{"vinegar, then fine", ferment(fine[0], with(fine[1], smell(SmellVinegar)), with(fine[2], smell(SmellFine))), nil},
		{"not checked", at(ferment(fine...), 4.5), []string{"not-checked"}},
		{"sugar left late", ferment(append(fine[:3:3], check(6, "7"), check(9, "6.1"), check(12, "5"), check(14, "4.3"))...), []string{"sluggish", "residual-high"}},
		{"past its days", at(ferment(append(fine[:3:3], check(9, "3"), check(12, "2.5"), check(29, "2.4"))...), 29), []string{"past-its-days"}},
		{"done on its stones", stone, []string{"stone-fruit-done"}},
		{"a refractometer's trend is left out", ferment(append(fine[:3:3], with(check(4, "11"), refractometer))...), nil},
	} {
		a, err := c.f.Assess()
		require.NoError(t, err, c.name)
		var codes []string
		for _, advice := range a.Advice {
			codes = append(codes, advice.Code)
			assert.NotEmpty(t, advice.Finding)
			assert.NotEmpty(t, advice.LookFirst)
			assert.NotEmpty(t, advice.Source)
		}
		assert.Equal(t, c.want, codes, c.name)
	}
}

// A grain mash falls from pH 5.4 to 4 as it should.
func TestGrainPHFalls(t *testing.T) {
	f := Ferment{Style: GrainMash(), Original: brix("16"), Now: 40 * time.Hour, Checks: []Check{
		{At: 2 * time.Hour, PH: acidity("5.4"), MashTemp: celsius("28")}, {At: 40 * time.Hour, PH: acidity("4.1"), MashTemp: celsius("30")}}}
	a, err := f.Assess()
	require.NoError(t, err)
	assert.Empty(t, a.Advice)
}

func TestAssessRefuses(t *testing.T) {
	f := ferment(check(2, "11"), check(1, "12"))
	_, err := f.Assess()
	faultOf(t, err, "check 2")
	f = ferment(check(1, "12"))
	f.Original = quantity.Reading{}
	_, err = f.Assess()
	faultOf(t, err, "original")
	f = ferment(check(1, "12"))
	f.Checks[0].Sample.Temp = celsius("50")
	_, err = f.Assess()
	assert.Error(t, err)
}
