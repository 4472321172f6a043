package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/quantity"
)

// barrelled fills a barrel with 50 gallons of new rye at 120 proof.
func barrelled(t *testing.T) (x *tale, barrel, tank Address) {
	x = newTale(t, "us")
	tank = x.vessel("T1", "tank", "300gal", "")
	barrel = x.vessel("B1", "barrel", "53gal", `,"cooperage":"charred new","tare":"110lb"`)
	x.tell("spirit received", `{"vessel":%q,"volume":"200gal","volume_temp":"60F","strength":"120proof","reason":"in bond","class":"whisky","account":"storage"}`, tank)
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"50gal","volume_temp":"60F","purpose":"fill a barrel"}`, tank, barrel)
	return x, barrel, tank
}

func TestABarrelsLife(t *testing.T) {
	x, barrel, tank := barrelled(t)
	x.tell("vessel moved", `{"vessel":%q,"location":"Store 1, row 3"}`, barrel)
	x.days(365)
	x.tell("sample taken", `{"vessel":%q,"volume":"200mL","purpose":"tasting"}`, barrel)
	age, ok := x.state().Youngest(barrel, moment(x.minute))
	require.True(t, ok)
	assert.Equal(t, Age{Days: 365, Years: 1}, age, "a sample does not end the time in wood")

	x.tell("spirit gauged", `{"vessel":%q,"volume":"47.5gal","volume_temp":"60F","strength":"121proof","cause":"evaporation"}`, barrel)
	x.tell("loss recorded", `{"vessel":%q,"volume":"2gal","volume_temp":"60F","cause":"leak"}`, barrel)
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"5gal","volume_temp":"60F","purpose":"fill a barrel"}`, tank, barrel) // topped up with new spirit
	age, _ = x.state().Youngest(barrel, moment(x.minute))
	assert.Zero(t, age.Days, "as old as the youngest in it")
	x.days(400)
	v := x.state().Vessel(barrel)
	require.Len(t, v.Content.Parts, 2, "one lot, of two ages")
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"20gal","volume_temp":"60F","purpose":"dump"}`, barrel, tank)
	age, _ = x.state().Youngest(barrel, moment(x.minute))
	assert.Equal(t, 400, age.Days)
	age, _ = x.state().Youngest(tank, moment(x.minute))
	assert.Zero(t, age.Days, "the tank still holds some that was never in wood")
	empty := x.vessel("T2", "tank", "300gal", "")
	x.tell("spirit moved", `{"from":%q,"to":%q,"purpose":"dump"}`, barrel, empty)
	x.days(100)
	age, _ = x.state().Youngest(empty, moment(x.minute))
	assert.Equal(t, Age{Days: 400, Years: 1, Months: 1, Spare: 4}, age, "steel does not age: 4 Feb 2027 to 11 Mar 2028")
	x.tell("vessel recoopered", `{"vessel":%q,"what":"Charred again","cooperage":"recharred","tare":"108lb"}`, barrel)
	x.tell("vessel retired", `{"vessel":%q,"why":"sold"}`, barrel)
	x.quiet()
	assert.Contains(t, x.refused("vessel retired", `{"vessel":%q,"why":"sold"}`, empty), "is not empty")
}

// 19.592: the age of the youngest spirit in years, months and days. From the
// 30th of January to the 1st of March is 30 days and no month: an age may be
// understated, never overstated.
func TestAgesAreCalendarTime(t *testing.T) {
	for on, want := range map[string]map[int]Age{
		"2026-03-01T12:00:00-05:00": {1: {1, 0, 0, 1}, 28: {28, 0, 1, 0}, 30: {30, 0, 0, 30}, 31: {31, 0, 1, 0}, 365: {365, 1, 0, 0}},
		"2028-03-01T12:00:00-05:00": {366: {366, 1, 0, 0}, 1461: {1461, 4, 0, 0}, 0: {}},
	} {
		at, err := ParseMoment(on)
		require.NoError(t, err)
		for days, age := range want {
			assert.Equal(t, age, AgeOf(days, at), "%d days to %s", days, on)
		}
	}
}

// The worked examples of the bench: macerating dilutes by the fruit's own water,
// sugar takes room. 10 L of 60 % with 5 kg of water and 3 kg of sucrose are
// 16.73 L of 35.86 % vol with 179 g/L (worked out by mass and by the apparent
// volume of 0.620 L/kg; common practice, no source).
func TestSugarTakesRoomAndAlcoholStays(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "tank", "50L", "")
	bottles := x.vessel("T2", "bottling tank", "50L", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"10","volume_temp":"20","strength":"60","reason":"bought in","class":"other","account":"processing"}`, tank)
	before := x.state().Vessel(tank).Content.Alcohol
	x.tell("water added", `{"vessel":%q,"water_weight":"5kg"}`, tank)
	sugar := x.tell("delivery received", `{"material":"sugar","variety":"Beet sugar","net":"25kg"}`)
	lot := x.tell("sugar added", `{"vessel":%q,"what":"sugar","weight":"3kg","lot":%q}`, tank, sugar)
	c := &x.state().Vessel(tank).Content
	assert.Equal(t, before, c.Alcohol)
	assert.InDelta(t, 16.73, c.Litres20(), 0.01)
	assert.InDelta(t, 179, c.Solids.Kilograms()/c.Litres20()*1000, 0.5)
	assert.Equal(t, "35.9 % vol", x.state().strong(c).String())
	assert.Equal(t, Mass(22e6), x.state().RawLot(sugar).OnHand)
	assert.Contains(t, x.state().Descent(sugar)[0].Lot.Address, lot)

	// Half of it by volume is half of everything.
	x.tell("spirit moved", `{"from":%q,"to":%q,"volume":"8.365","volume_temp":"20"}`, tank, bottles)
	half := &x.state().Vessel(bottles).Content
	assert.InDelta(t, 0.5, float64(half.Alcohol)/float64(before), 0.002)
	assert.InDelta(t, 1.5, half.Solids.Kilograms(), 0.01)
	x.quiet()
}

func TestFruitSteepsAndKeepsSome(t *testing.T) {
	for _, keeps := range []string{"thrown away", "kept to distil"} {
		x := newTale(t, "metric")
		jar, tank := x.vessel("M1", "tank", "100L", ""), x.vessel("T1", "tank", "100L", "")
		berries := x.tell("delivery received", `{"material":"fruit","variety":"Blackcurrants","net":"20kg"}`)
		base := x.tell("spirit received", `{"vessel":%q,"volume":"40","volume_temp":"20","strength":"60","reason":"bought in","class":"other","account":"processing"}`, jar)
		lot := x.tell("infusion begun", `{"vessel":%q,"parts":[{"what":"Blackcurrants","lot":%q,"weight":"16kg"}],"until":"2026-03-01"}`, jar, berries)
		assert.Equal(t, Mass(4e6), x.state().RawLot(berries).OnHand)
		assert.Equal(t, lot, x.state().Composition(jar)[0].Lot)
		x.days(40)
		// 53 L in all at 45.1 % by the worked example of the bench; 80 % of it is drained.
		x.tell("infusion drained", `{"vessel":%q,"to":%q,"volume":"42.5","volume_temp":"20","strength":"45.1","fruit":"14kg","fruit_goes":%q}`, jar, tank, keeps)
		s := x.state()
		x.quiet()
		assert.InDelta(t, 42.5*0.451, s.Vessel(tank).Content.Alcohol.LitresPureAlcohol(), 0.01)
		left := 40*0.6 - 42.5*0.451
		if keeps == "kept to distil" {
			assert.InDelta(t, left, s.Vessel(jar).Content.Alcohol.LitresPureAlcohol(), 0.02)
			assert.Zero(t, s.Balance(Lost))
		} else {
			assert.InDelta(t, left, s.Balance(Lost).LitresPureAlcohol(), 0.02)
			assert.True(t, s.Vessel(jar).Content.Empty())
		}
		up := s.Ancestry(lot)
		require.Len(t, up, 2)
		assert.Equal(t, []float64{1, 0}, []float64{up[0].Share, up[1].Share})
		assert.Equal(t, base, up[0].Lot.Address)
		assert.InDelta(t, 16, up[1].Amount/1e6, 1e-9, "kg of fruit")
	}
}

func TestAFilterTakesTheDifference(t *testing.T) {
	x, _, tank := barrelled(t)
	to := x.vessel("T2", "tank", "300gal", "")
	sheets := x.tell("goods received", `{"good":%q,"pieces":"40"}`, x.tell("goods registered", `{"name":"Sheets K7","type":"filter sheet","counted_in":"pieces"}`))
	x.tell("spirit filtered", `{"vessel":%q,"to":%q,"volume":"149gal","volume_temp":"60F","strength":"120proof","way":"sheets","lot":%q,"pieces":"12"}`, tank, to, sheets)
	x.quiet()
	assert.Equal(t, "1.2 proof gallons", x.state().Shown(x.state().Balance(Lost)))
	assert.EqualValues(t, 28, x.state().GoodsLot(sheets).OnHand())
	x.tell("spirit filtered", `{"vessel":%q,"volume":"148gal","volume_temp":"60F","strength":"120proof"}`, to)
	assert.Equal(t, "2.4 proof gallons", x.state().Shown(x.state().Balance(Lost)))
	x.quiet()
	assert.Contains(t, x.refused("spirit filtered", `{"vessel":%q,"volume":"160gal","volume_temp":"60F","strength":"120proof"}`, to), "more than the")
}

// 27 CFR 30.32: 0.125 g left of 25 mL are 0.5 g in 100 mL.
func TestSolidsAreFoundAsTheRegulationHasIt(t *testing.T) {
	x, _, tank := barrelled(t)
	x.tell("solids measured", `{"vessel":%q,"way":"evaporation","sample":"25mL","residue":"0.125g"}`, tank)
	assert.Equal(t, "0.5 g/100mL", x.state().Vessel(tank).Found.Solids.String())
}

func TestRestsAreTasted(t *testing.T) {
	x, _, tank := barrelled(t)
	x.tell("rest begun", `{"vessel":%q,"until":"2026-02-01","for":"to marry"}`, tank)
	assert.Empty(t, x.state().Overdue(moment(x.minute)))
	x.days(40)
	require.Contains(t, kinds(x.state().Overdue(moment(x.minute))), RestOver)
	x.tell("spirit tasted", `{"vessel":%q,"whole":"8","next":"wait"}`, tank)
	require.Contains(t, kinds(x.state().Overdue(moment(x.minute))), RestOver)
	x.tell("spirit tasted", `{"vessel":%q,"whole":"9","next":"ready"}`, tank)
	assert.NotContains(t, kinds(x.state().Overdue(moment(x.minute))), RestOver)
	require.Len(t, x.state().Tastings(), 2)
	assert.Equal(t, x.state().Composition(tank)[0].Lot, x.state().Tastings()[0].Lots[0])
	assert.Contains(t, x.refused("spirit tasted", `{"vessel":%q,"whole":"11"}`, tank), "above 10")
}

func kinds(list []Due) (out []QuestionKind) {
	for _, d := range list {
		out = append(out, d.Kind)
	}
	return out
}

// The limits: European ones of fruit spirit from memory (Regulation (EU)
// 2019/787, annex I), the American from FDA CPG 510.200: 0.35 % by volume of a
// spirit at 40 % vol is 693 g per hectolitre of pure alcohol.
func TestLaboratoryResultsAreHeldAgainstLimits(t *testing.T) {
	for _, c := range []struct {
		convention, result string
		asks               int
	}{
		{"metric", `"made_of":"quince","methanol":"13.5"`, 0},
		{"metric", `"made_of":"quince","methanol":"13.6"`, 1},
		{"metric", `"made_of":"apple","methanol":"12.1"`, 1},
		{"metric", `"made_of":"grain","methanol":"30"`, 0},
		{"metric", `"made_of":"plum","hydrocyanic_acid":"69"`, 0},
		{"metric", `"made_of":"plum","hydrocyanic_acid":"71"`, 1},
		{"metric", `"made_of":"cherry","ethyl_carbamate":"1.2"`, 1},
		{"metric", `"made_of":"apple","ethyl_carbamate":"1.2"`, 0},
		{"us", `"made_of":"apple","strength":"40%","methanol":"6.9"`, 0},
		{"us", `"made_of":"apple","strength":"40%","methanol":"7"`, 1},
	} {
		x := newTale(t, c.convention)
		tank := x.vessel("T1", "tank", "100L", "")
		x.tell("spirit received", `{"vessel":%q,"volume":"40L","volume_temp":"20C","strength":"40%%","reason":"bought in","class":"brandy","account":"processing"}`, tank)
		b, faults := Compose("laboratory result received", x.state().Convention(), []byte(`{"vessel":"`+string(tank)+`",`+c.result+`}`))
		require.Empty(t, faults)
		x.book.Add(x.seal(b))
		assert.Len(t, x.asked(AboveLimit), c.asks, "%s %s", c.convention, c.result)
		assert.Len(t, x.state().Results(), 1)
	}
	limit, ok := MethanolLimit(US, "", quantity.MustParse("40%", quantity.ABV20))
	require.True(t, ok)
	assert.InDelta(t, 6.93, limit.Most.Float(), 0.005)
}
