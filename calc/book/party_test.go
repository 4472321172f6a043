package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/fizz"
	"gaugebook/calc/quantity"
)

// A run of two days ends its first with the line clear, and closes as if it had
// been one.
func TestARunOfTwoDays(t *testing.T) {
	x, first, tank := bottled(t)
	whole := x.state().Bottling(first).Finished
	x.tell("spirit received", `{"vessel":%q,"volume":"23.8gal","volume_temp":"60F","strength":"80proof","reason":"in bond","class":"brandy","account":"storage"}`, tank)
	run := x.tell("bottling opened", `{"tank":%q,"volume":"23.8gal","volume_temp":"60F","strength":"80proof","bottle":"750mL","per_case":"12"}`, tank)
	x.tell("bottles counted", `{"bottling":%q,"cases":"6"}`, run)
	x.tell("line cleared", `{"bottling":%q,"volume":"9.5gal","volume_temp":"60F","note":"glass is short"}`, run)
	x.days(2)
	x.tell("bottles counted", `{"bottling":%q,"cases":"4"}`, run)
	x.tell("bottling closed", `{"bottling":%q,"tank_empty":"yes"}`, run)
	x.quiet()
	r := x.state().Bottling(run)
	require.Len(t, r.Days, 1)
	assert.EqualValues(t, 72, r.Days[0].Good)
	assert.EqualValues(t, 76000, r.Days[0].Tank.Alcohol, "9.5 gallons of 80 proof")
	assert.Equal(t, whole, r.Finished)
	assert.Contains(t, x.refused("line cleared", `{"bottling":%q}`, run), "was closed")
	requireSound(t, x.state())
}

// Two sizes from one tank at the same time: whichever run closes first leaves in
// the book what the other has in bottles, and both together lose what one alone
// would.
func TestTwoSizesFromOneTank(t *testing.T) {
	x := newTale(t, "us")
	tank := x.vessel("T1", "bottling tank", "60gal", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"50gal","volume_temp":"60F","strength":"80proof","reason":"in bond","class":"brandy","account":"storage"}`, tank)
	open := func(bottle, gallons string) Address {
		return x.tell("bottling opened", `{"tank":%q,"volume":%q,"volume_temp":"60F","strength":"80proof","bottle":%q,"per_case":"12"}`, tank, gallons, bottle)
	}
	large := open("750mL", "50gal")
	x.tell("bottles counted", `{"bottling":%q,"cases":"5"}`, large) // 60 × 750 mL are 11.89 gal
	small := open("375mL", "38.11gal")
	x.tell("bottles counted", `{"bottling":%q,"cases":"10"}`, small) // 120 × 375 mL are 11.89 gal
	x.tell("bottling closed", `{"bottling":%q,"volume":"26.2gal","volume_temp":"60F"}`, small)
	s := x.state()
	assert.InDelta(t, 0, s.Bottling(small).Missing.ProofGallons(), 0.05, "what the large ones hold is not missing")
	assert.InDelta(t, 0.8*(26.2+11.89), s.Vessel(tank).Content.Alcohol.ProofGallons(), 0.05)
	x.tell("bottling closed", `{"bottling":%q,"volume":"26.0gal","volume_temp":"60F"}`, large)
	s = x.state()
	assert.InDelta(t, 0.8*0.2, s.Bottling(large).Missing.ProofGallons(), 0.05)
	assert.InDelta(t, 0.8*26, s.Vessel(tank).Content.Alcohol.ProofGallons(), 1e-6)
	assert.Empty(t, x.asked(GaugeDisagrees))
	requireSound(t, s)
}

// Packs hold bottles of several lots; what leaves in them leaves the lots, by
// its purpose, and what is in a pack is not sold beside it.
func TestGiftPacks(t *testing.T) {
	x, bottling, _ := bottled(t)
	good := x.tell("goods registered", `{"name":"Gift box","type":"carton","counted_in":"pieces"}`)
	boxes := x.tell("goods received", `{"good":%q,"pieces":"40"}`, good)
	pack := x.tell("packs made", `{"name":"Two of the hill","packs":"30","parts":[{"bottling":%q,"each":"2"}],"goods":[{"lot":%q,"pieces":"31"}]}`, bottling, boxes)
	r := func() *Bottling { return x.state().Bottling(bottling) }
	assert.EqualValues(t, 60, r().Packed)
	assert.EqualValues(t, 120, r().Left(), "they are still here")
	assert.EqualValues(t, 9, x.state().GoodsLot(boxes).OnHand())
	assert.Contains(t, x.refused("packs made", `{"name":"More","packs":"31","parts":[{"bottling":%q,"each":"2"}]}`, bottling), "more than the 60 bottles")
	assert.Contains(t, x.refused("cases removed", `{"bottling":%q,"loose":"61","purpose":"sale"}`, bottling), "in no gift pack")
	finished := x.state().Balance(Finished)
	x.tell("cases removed", `{"bottling":%q,"loose":"5","purpose":"sale","pack":%q}`, bottling, pack)
	x.quiet()
	assert.EqualValues(t, 27, x.state().Pack(pack).Left(), "two and a half packs are gone")
	assert.EqualValues(t, 55, r().Packed)
	assert.EqualValues(t, 115, r().Left())
	assert.InDelta(t, 5.0/120, float64(finished-x.state().Balance(Finished))/float64(finished), 1e-4)
	x.force("cases removed", `{"bottling":%q,"loose":"56","purpose":"sale","pack":%q}`, bottling, pack)
	assert.Len(t, x.asked(Overdrawn), 1)
	requireSound(t, x.state())
}

// The gas of a drink is what package fizz says of it; a can above its rating and
// a strength off the label are asked about.
func TestCarbonationIsChecked(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("Brite tank", "tank", "400L", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"300L","volume_temp":"20C","strength":"7%%","reason":"in bond","class":"other","account":"storage"}`, tank)
	run := x.tell("bottling opened", `{"tank":%q,"volume":"300L","volume_temp":"20C","strength":"7%%","label_strength":"7%%","bottle":"355mL","per_case":"24"}`, tank)
	x.tell("carbonation checked", `{"tank":%q,"temp":"4C","pressure":"1.2bar","strength":"7%%","sugar":"60g/L"}`, tank)
	x.tell("carbonation checked", `{"bottling":%q,"temp":"4C","pressure":"1.2bar","strength":"7%%","sugar":"60g/L","hottest":"38C","rating":"90psi"}`, run)
	x.quiet()
	all := x.state().Carbonations()
	require.Len(t, all, 2)
	want, err := fizz.Dissolve(fizz.Saturation{Drink: fizz.Drink{ABV: quantity.MustParse("7", quantity.ABV20), Sugar: quantity.MustParse("60", quantity.GramPerLitre)},
		Temp: quantity.MustParse("4", quantity.Celsius), Pressure: quantity.MustParse("1.2", quantity.Bar)})
	require.NoError(t, err)
	assert.InDelta(t, want.Volumes.Value, all[1].Volumes, 1e-9)
	assert.True(t, all[1].Within)
	x.tell("carbonation checked", `{"bottling":%q,"temp":"4C","pressure":"2.4bar","strength":"6.5%%","hottest":"60C","rating":"90psi"}`, run)
	assert.Len(t, x.asked(OverPressure), 1)
	assert.Len(t, x.asked(OffLabel), 1)
	assert.Contains(t, x.refused("carbonation checked", `{"temp":"4C","pressure":"1.2bar"}`), "belongs to a bottling or a tank")
	assert.Contains(t, x.refused("carbonation checked", `{"bottling":%q,"tank":%q,"temp":"4C","pressure":"1.2bar"}`, run, tank), "stands beside a bottling")
}
