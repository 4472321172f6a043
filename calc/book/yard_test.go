package book

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// From the gate to the bottle and back: weights, shares and goods.
func TestFruitIsTracedToTheBottleAndBack(t *testing.T) {
	x := newTale(t, "metric")
	fermenter := x.vessel("F1", "fermenter", "500L", "")
	still := x.vessel("Copper", "still", "600L", "")
	receiver := x.vessel("R1", "receiver", "100L", "")
	tank := x.vessel("T1", "tank", "200L", "")
	supplier := x.tell("supplier registered", `{"name":"Orchard at Stile End"}`)
	product := x.tell("product registered", `{"name":"Quince brandy","class":"brandy","strength":"42%%","bottle":"500mL","per_case":"6"}`)
	yeast := x.tell("goods registered", `{"name":"Yeast K","type":"yeast","counted_in":"weight"}`)
	glass := x.tell("goods registered", `{"name":"Half litre flint","type":"bottle","counted_in":"pieces"}`)
	yeastLot := x.tell("goods received", `{"good":%q,"weight":"500g"}`, yeast)
	glassLot := x.tell("goods received", `{"good":%q,"pieces":"100"}`, glass)

	// 1,480 kg gross, 1,120 tare, 20 crates of 1.5 kg: 330 kg.
	quince := x.tell("delivery received", `{"material":"fruit","variety":"Quince","gross":"1480kg","tare":"1120kg","crates":"20","crate_tare":"1.5kg","supplier":%q,"price":"264EUR","ph":"3.4",
		"samples":[{"sugar":"13.1","temp":"18"},{"sugar":"14.0","temp":"18"},{"sugar":"12.5","temp":"19"}]}`, supplier)
	medlar := x.tell("delivery received", `{"material":"fruit","variety":"Medlar","net":"100kg"}`)
	raw := x.state().RawLot(quince)
	require.Equal(t, Mass(330e6), raw.Net)
	mean, least, most, n := raw.Sweetness()
	assert.InDelta(t, 13.2, mean, 1e-9)
	assert.Equal(t, []float64{12.5, 14.0, 3}, []float64{least, most, float64(n)})

	x.tell("material prepared", `{"lot":%q,"taken":"330kg","prepared":"300kg","culls":"18kg","peel":"12kg","milled":"milled"}`, quince)
	taken, prepared := x.state().RawLot(quince).Preparation()
	assert.InDelta(t, 10.0/11, float64(prepared)/float64(taken), 1e-12, "yield of preparation")

	mash := x.tell("mash made", `{"fermenter":%q,"type":"fruit mash","product":%q,"parts":[{"lot":%q,"weight":"300kg"},{"lot":%q,"weight":"100kg"}],"volume":"380"}`, fermenter, product, quince, medlar)
	assert.Zero(t, x.state().RawLot(quince).OnHand)
	x.tell("addition made", `{"vessel":%q,"what":"yeast","lot":%q,"weight":"90g"}`, fermenter, yeastLot)
	assert.Equal(t, "0.41 kg", ByWeight.Show(x.state().GoodsLot(yeastLot).OnHand()))
	assert.False(t, x.state().Ferment(mash).Pitched.IsNone())
	x.days(3)
	x.tell("ferment checked", `{"vessel":%q,"sugar":"7.2","sample_temp":"19","ph":"3.5","smell":"clean"}`, fermenter)
	x.tell("addition made", `{"vessel":%q,"what":"water","volume":"20L"}`, fermenter)
	x.days(9)
	x.tell("ferment finished", `{"vessel":%q}`, fermenter)
	m := x.state().Ferment(mash)
	assert.Equal(t, 13, m.Days(m.Finished))
	require.Len(t, m.Checks, 1)

	run := x.tell("run started", `{"still":%q,"product":%q,"charge":[{"vessel":%q,"volume":"200"}]}`, still, product, fermenter)
	hearts := x.tell("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":%q,"volume":"9","strength":"80%%","temp":"20","account":"storage"}`, run, receiver)
	tails := x.tell("receiver gauged", `{"run":%q,"fraction":"tails","vessel":%q,"volume":"3","strength":"20%%","temp":"20","account":"storage"}`, run, tank)
	x.tell("run ended", `{"run":%q}`, run)

	// The second run takes the rest of the mash and the tails of the first.
	second := x.tell("run started", `{"still":%q,"product":%q,"charge":[{"vessel":%q},{"vessel":%q}]}`, still, product, fermenter, tank)
	more := x.tell("receiver gauged", `{"run":%q,"fraction":"hearts","vessel":%q,"volume":"9.3","strength":"80%%","temp":"20","account":"storage"}`, second, tank)
	x.tell("run ended", `{"run":%q}`, second)
	x.tell("spirit moved", `{"from":%q,"to":%q}`, receiver, tank)
	x.tell("water added", `{"vessel":%q,"water":"17.3"}`, tank)
	strength := x.state().Vessel(tank).Content.Strength().ABV20()
	assert.InDelta(t, 42, strength, 0.1)
	composition := x.state().Composition(tank)
	require.Len(t, composition, 2)
	assert.Equal(t, more, composition[0].Lot)

	x.tell("goods issued", `{"lot":%q,"pieces":"80"}`, glassLot) // to nothing yet
	x.tell("goods returned", `{"lot":%q,"pieces":"80"}`, glassLot)
	bottling := x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"34.9","temp":"20","strength":"42%%"}`, product, tank)
	x.tell("goods issued", `{"lot":%q,"pieces":"72","bottling":%q}`, glassLot, bottling)
	x.tell("bottles counted", `{"bottling":%q,"cases":"11"}`, bottling)
	x.tell("goods returned", `{"lot":%q,"pieces":"5","bottling":%q}`, glassLot, bottling)
	x.tell("goods spoiled", `{"lot":%q,"pieces":"1","reason":"broken","bottling":%q}`, glassLot, bottling)
	x.tell("bottling closed", `{"bottling":%q,"tank_empty":"yes","cause":"bottling"}`, bottling)
	issued, returned, spoiled := x.state().Bottling(bottling).Line(glass)
	assert.Equal(t, []int64{72, 5, 1}, []int64{issued, returned, spoiled}, "66 bottles are the rest")
	assert.EqualValues(t, 33, x.state().OnHand(glass))

	traces := map[Address]Trace{}
	for _, tr := range x.state().Ancestry(bottling) {
		traces[tr.Lot.Address] = tr
	}
	for name, lot := range map[string]Address{"quince": quince, "medlar": medlar, "mash": mash, "hearts": hearts, "tails": tails, "yeast": yeastLot, "glass": glassLot} {
		assert.Contains(t, traces, lot, name)
	}
	assert.InDelta(t, 0.75, traces[quince].Share, 1e-9, "300 kg of 400")
	assert.InDelta(t, 0.25, traces[medlar].Share, 1e-9)
	assert.InDelta(t, 1, traces[mash].Share, 1e-9, "all of it came from the one mash")
	assert.Zero(t, traces[yeastLot].Share, "yeast gives no alcohol")
	origins := x.state().Origins(bottling)
	require.Len(t, origins, 2)
	assert.Equal(t, quince, origins[0].Lot.Address)
	// All the fruit is in the hearts of the two runs, but for none: the tails went back.
	finished := x.state().Bottling(bottling).Finished
	inTank := x.state().Lot(hearts).Amount + x.state().Lot(more).Amount
	assert.InDelta(t, 300*float64(finished)/float64(inTank), origins[0].Amount/1e6, 0.01, "kg of quince in the bottles")

	reach := map[Address]float64{}
	for _, tr := range x.state().Descent(quince) {
		reach[tr.Lot.Address] = tr.Share
	}
	assert.InDelta(t, 0.75, reach[bottling], 1e-9)
	assert.Contains(t, reach, tails)
	down := x.state().Descent(glassLot)
	require.Len(t, down, 1)
	assert.Equal(t, bottling, down[0].Lot.Address)
	x.quiet()
}

func TestWhatIsNotThereIsRefusedAndAskedAbout(t *testing.T) {
	x := newTale(t, "us")
	fermenter := x.vessel("F1", "fermenter", "120gal", "")
	rye := x.tell("delivery received", `{"material":"grain","variety":"Winter rye","net":"500lb"}`)
	assert.Contains(t, x.refused("mash made", `{"fermenter":%q,"type":"grain mash","parts":[{"lot":%q,"weight":"600lb"}],"volume":"100gal"}`, fermenter, rye), "parts[1].weight “600 lb”: is more than the 500 lb of Winter rye on hand")
	assert.Contains(t, x.refused("mash made", `{"fermenter":%q,"type":"grain mash","parts":[{"lot":%q,"weight":"300lb"}],"volume":"200gal"}`, fermenter, rye), "more than F1 takes")
	assert.Contains(t, x.refused("delivery received", `{"material":"grain","variety":"Rye","gross":"500lb","tare":"520lb"}`), "leaves no net weight")
	assert.Contains(t, x.refused("material prepared", `{"lot":%q,"taken":"100lb","prepared":"95lb","culls":"20lb"}`, rye), "weigh again")
	x.force("mash made", `{"fermenter":%q,"type":"grain mash","parts":[{"lot":%q,"weight":"600lb"}],"volume":"100gal"}`, fermenter, rye)
	require.Len(t, x.asked(Overdrawn), 1)
	assert.Equal(t, "100 lb more were used of Winter rye than the book says there were.", x.asked(Overdrawn)[0])
}

// One controller's batch, sent twice and out of turn, gives each point once.
func TestControllerReadingsAreThinnedAndTakenOnce(t *testing.T) {
	x := newTale(t, "us")
	fermenter := x.vessel("F1", "fermenter", "120gal", "")
	lot := x.tell("delivery received", `{"material":"fruit","variety":"Damson","net":"400kg"}`)
	mash := x.tell("mash made", `{"fermenter":%q,"type":"fruit mash","parts":[{"lot":%q,"weight":"400kg"}],"volume":"100gal"}`, fermenter, lot)
	at := func(minute int) string { return moment(x.minute + minute).String() }
	batch := `{"controller":"cellar","readings":[{"vessel":%[1]q,"at":%[2]q,"temp":"18.1C"},{"vessel":%[1]q,"at":%[3]q,"temp":"18.2C"},{"vessel":%[1]q,"at":%[4]q,"temp":"18.9C"},{"vessel":%[1]q,"at":%[5]q,"temp":"17C"}]}`
	args := []any{fermenter, at(5), at(10), at(25), at(-9000)}
	x.tell("readings arrived", batch, args...)
	x.tell("readings arrived", batch, args...)
	m := x.state().Ferment(mash)
	require.Len(t, m.Readings, 2, "one in a quarter of an hour, and none from before the mash was there")
	assert.Equal(t, "18.9 °C", m.Readings[1].Temp.String())
}

func TestMashGoesWhereItIsMoved(t *testing.T) {
	x := newTale(t, "metric")
	one, two := x.vessel("F1", "fermenter", "500L", ""), x.vessel("F2", "fermenter", "500L", "")
	lot := x.tell("delivery received", `{"material":"fruit","variety":"Apple","net":"800kg"}`)
	a := x.tell("mash made", `{"fermenter":%q,"type":"fruit mash","parts":[{"lot":%q,"weight":"400kg"}],"volume":"300"}`, one, lot)
	b := x.tell("mash made", `{"fermenter":%q,"type":"fruit mash","parts":[{"lot":%q,"weight":"100kg"}],"volume":"100"}`, two, lot)
	x.tell("mash moved", `{"from":%q,"to":%q,"arrived":"270","way":"pressed"}`, one, two)
	v := x.state().Vessel(two)
	assert.EqualValues(t, 370_000, v.Content.Volume)
	assert.True(t, x.state().Vessel(one).Content.Empty())
	assert.Equal(t, two, x.state().Ferment(a).Vessel)
	require.Len(t, x.state().Fermenting(two), 2)
	assert.Equal(t, a, x.state().Fermenting(two)[0].Address, "the larger share first")
	x.tell("mash measured", `{"vessel":%q,"volume":"360"}`, two)
	assert.EqualValues(t, 360_000, x.state().Vessel(two).Content.Volume)
	x.tell("ferment checked", `{"vessel":%q,"smell":"bread"}`, two)
	assert.Len(t, x.state().Ferment(b).Checks, 1, "a check is of all that ferments in the vessel")
	x.tell("mash discarded", `{"vessel":%q,"why":"vinegar"}`, two)
	assert.True(t, x.state().Vessel(two).Content.Empty())
	x.quiet()
	assert.Contains(t, x.refused("ferment checked", `{"vessel":%q,"smell":"bread"}`, two), "holds no mash")
}
