package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// 10 g of methanol per hectolitre of pure alcohol for vodka and 30 for neutral
// alcohol: Regulation (EU) 2019/787, annex I, from memory. 0.1 and 0.3 g/L here.
func TestMethanolOfVodkaAndNeutralAlcohol(t *testing.T) {
	for _, c := range []struct {
		class, result string
		asks          int
	}{
		{"vodka", `"made_of":"grain","methanol":"0.10"`, 0},
		{"vodka", `"made_of":"grain","methanol":"0.11"`, 1},
		{"alcohol and neutral spirits", `"methanol":"0.29"`, 0},
		{"alcohol and neutral spirits", `"methanol":"0.31"`, 1},
		{"whisky", `"made_of":"grain","methanol":"0.31"`, 0},
	} {
		x := newTale(t, "metric")
		tank := x.vessel("T1", "tank", "100L", "")
		x.tell("spirit received", `{"vessel":%q,"volume":"40L","volume_temp":"20C","strength":"40%%","reason":"bought in","class":"`+c.class+`","account":"processing"}`, tank)
		x.tell("laboratory result received", `{"vessel":%q,`+c.result+`}`, tank)
		assert.Len(t, x.asked(AboveLimit), c.asks, "%s %s", c.class, c.result)
	}
}

// What has no limit of its own is not asked about, and says why.
func TestFindingsWithoutALimit(t *testing.T) {
	x := newTale(t, "us")
	tank := x.vessel("T1", "tank", "100L", "")
	x.tell("laboratory result received", `{"vessel":%q,"made_of":"plum","methanol":"9","hydrocyanic_acid":"40","ethyl_carbamate":"0.4","copper":"3","volatile_acid":"0.5"}`, tank)
	found := x.state().Results()[0].Findings
	require.Len(t, found, 5)
	assert.True(t, found[0].Limit.Most.IsNone())
	assert.Contains(t, found[0].Note, "goes by the strength", "an American limit needs the strength, and the tank is empty")
	assert.Contains(t, found[1].Note, "no American one is at hand")
	assert.Equal(t, "1.3 mg/L", found[3].Limit.Most.String())
	assert.False(t, found[3].Above(), "drinking water's limit is no limit of spirits")
	assert.True(t, found[4].Limit.Most.IsNone())
	assert.Empty(t, x.asked(AboveLimit))
	x.tell("laboratory result received", `{"vessel":%q,"made_of":"plum","ethyl_carbamate":"1.4"}`, tank)
	require.Len(t, x.asked(AboveLimit), 1)
	assert.Contains(t, x.asked(AboveLimit)[0], "a European figure")
}

// A bottle that the laboratory finds weaker than its label by more than 0.3 %
// vol (27 CFR 19.356) is asked about.
func TestALaboratorysStrengthAgainstTheLabel(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "bottling tank", "100L", "")
	product := x.tell("product registered", `{"name":"Quince","class":"brandy","strength":"40%%","bottle":"500mL","per_case":6}`)
	x.tell("spirit received", `{"vessel":%q,"volume":"40L","volume_temp":"20C","strength":"40%%","reason":"bought in","class":"brandy","account":"processing"}`, tank)
	run := x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"40L","volume_temp":"20C","strength":"40%%"}`, product, tank)
	x.tell("bottles counted", `{"bottling":%q,"loose":79}`, run)
	x.tell("bottling closed", `{"bottling":%q,"tank_empty":true}`, run)
	x.tell("laboratory result received", `{"lot":%q,"strength":"39.8%%"}`, run)
	assert.Empty(t, x.asked(OffLabel))
	x.tell("laboratory result received", `{"lot":%q,"strength":"39.6%%"}`, run)
	require.Len(t, x.asked(OffLabel), 1)
	assert.Contains(t, x.asked(OffLabel)[0], "By the laboratory the bottle is -0.4 % vol off the label")
}
