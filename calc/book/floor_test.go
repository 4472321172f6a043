package book

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

// The worked reconciliation of a bottling (common practice, no source): 1,520 L
// at 40 %, a heel of 18 L, 165 cases of 12 bottles of 0.75 L, samples of 1.5 L
// and a spill of 4 L leave 11.5 L, 0.76 %, unexplained.
func TestTheWorkedReconciliation(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "bottling tank", "2000L", "")
	product := x.tell("product registered", `{"name":"Quince brandy","class":"brandy","strength":"40%%","bottle":"750mL","per_case":"12"}`)
	x.tell("spirit received", `{"vessel":%q,"volume":"1520","volume_temp":"20","strength":"40","reason":"in bond","class":"brandy","account":"processing"}`, tank)
	bottling := x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"1520","volume_temp":"20","strength":"40","lot_code":"Q26-4"}`, product, tank)
	x.tell("bottles counted", `{"bottling":%q,"cases":"165"}`, bottling)
	x.tell("bottling closed", `{"bottling":%q,"volume":"18","volume_temp":"20","samples":"1500mL","spilled":"4L"}`, bottling)
	b := x.state().Bottling(bottling)
	assert.InDelta(t, 11.5*0.4, b.Missing.LitresPureAlcohol(), 0.005)
	assert.InDelta(t, 0.0076, float64(b.Missing)/float64(b.Tanked.Alcohol), 0.0001)
	requireSound(t, x.state())
}

// 27 CFR 19.356: ±1.5 % from 1 L, 2 % to 376 mL, 3 % to 101 mL, 4.5 % below.
func TestFillLimitsAreTheRegulations(t *testing.T) {
	for ml, want := range map[string]float64{"1750": 0.015, "1000": 0.015, "999": 0.02, "750": 0.02, "376": 0.02, "375": 0.03, "101": 0.03, "100": 0.045, "50": 0.045} {
		assert.InDelta(t, want, FillLimit(quantity.MustParse(ml, quantity.Millilitre)), 0, "%s mL", ml)
	}
}

// What a full bottle weighs: 750 mL of 40.0 % vol are 710.2 g in air at 20 °C;
// of 80 proof, 712.3 g at 60 °F (worked out from OIML R 22; in practice 712 g
// is quoted).
func TestABottleIsFilledByWeight(t *testing.T) {
	abv, err := spirit.FromABV20(40)
	require.NoError(t, err)
	proof, err := spirit.FromProof(80)
	require.NoError(t, err)
	grams := func(s string) quantity.Reading { return quantity.MustParse(s, quantity.Gram) }
	metric := BottleFound{Empty: grams("400"), Full: grams("1110.2")}
	us := BottleFound{Empty: grams("400"), Full: grams("1112.3")}
	assert.InDelta(t, 750, metric.net(Metric, abv), 0.1)
	assert.InDelta(t, 750, us.net(US, proof), 0.1)
}

func TestFillChecksAreHeldAgainstTheLabel(t *testing.T) {
	x, bottling, _ := bottled(t)
	x.tell("fill checked", `{"bottling":%q,"bottles":[{"head":"1","empty":"400g","full":"1112g"},{"head":"2","empty":"401.5g","full":"1124g"}],"indicated":"80.2proof","temp":"60F"}`, bottling)
	x.quiet()
	require.Len(t, x.state().Bottling(bottling).Fills, 1)
	x.tell("fill checked", `{"bottling":%q,"bottles":[{"empty":"400g","full":"1090g"},{"volume":"766mL"}],"strength":"78proof"}`, bottling)
	assert.Len(t, x.asked(OffFill), 1)
	require.Len(t, x.asked(OffLabel), 1)
	assert.Equal(t, "The bottle is -1 % vol off the label, and ±0.3 is allowed (27 CFR 19.356).", x.asked(OffLabel)[0])
	assert.Contains(t, x.refused("fill checked", `{"bottling":%q,"bottles":[{"empty":"400g","full":"390g"}]}`, bottling), "is not more than the empty bottle")
}

// bottled closes a run of 120 bottles of 80 proof.
func bottled(t *testing.T) (x *tale, bottling, tank Address) {
	x = newTale(t, "us")
	tank = x.vessel("T1", "bottling tank", "60gal", "")
	product := x.tell("product registered", `{"name":"Damson brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":"12"}`)
	x.tell("spirit received", `{"vessel":%q,"volume":"23.8gal","volume_temp":"60F","strength":"80proof","reason":"in bond","class":"brandy","account":"storage"}`, tank)
	bottling = x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"23.8gal","volume_temp":"60F","strength":"80proof"}`, product, tank)
	x.tell("bottles counted", `{"bottling":%q,"cases":"10"}`, bottling)
	x.tell("bottling closed", `{"bottling":%q,"tank_empty":"yes"}`, bottling)
	x.quiet()
	return x, bottling, tank
}

// Rework: 5110.28 takes it out of finished goods on line 40 and into bulk on 6.
func TestBottlesArePouredBackAndBottledAgain(t *testing.T) {
	x, bottling, tank := bottled(t)
	finished := x.state().Balance(Finished)
	x.tell("cases removed", `{"bottling":%q,"cases":"4","purpose":"sale"}`, bottling)
	x.tell("cases returned", `{"bottling":%q,"cases":"2","why":"Haze"}`, bottling)
	x.tell("bottles dumped", `{"bottling":%q,"cases":"2","to":%q,"why":"haze"}`, bottling, tank)
	x.quiet()
	s := x.state()
	assert.EqualValues(t, 72, s.Bottling(bottling).Left())
	assert.Equal(t, finished-s.Balance(TaxDetermined)-s.Balance(Processing), s.Balance(Finished))
	assert.InDelta(t, 80, s.Vessel(tank).Content.Strength().Proof(), 0.01)
	again := x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"4.755gal","volume_temp":"60F"}`, s.Bottling(bottling).Product, tank)
	x.tell("bottles counted", `{"bottling":%q,"cases":"2"}`, again)
	x.tell("bottling closed", `{"bottling":%q,"tank_empty":"yes","cause":"bottling"}`, again)
	x.quiet()
	assert.Equal(t, bottling, x.state().Ancestry(again)[0].Lot.Address)
	assert.Contains(t, x.refused("bottles dumped", `{"bottling":%q,"cases":"7","to":%q,"why":"haze"}`, bottling, tank), "is more than the 72 bottles left")

	// Less comes back than was in the bottles: the rest was spilled.
	x.tell("bottles dumped", `{"bottling":%q,"cases":"1","to":%q,"volume":"2.2gal","volume_temp":"60F","why":"label"}`, bottling, tank)
	requireSound(t, x.state())
	assert.Positive(t, x.state().Balance(Lost))
}

// A stocktake asserts: it asks, proposes, and changes nothing by itself.
func TestACountNeverPads(t *testing.T) {
	x, bottling, _ := bottled(t)
	before := digestAccounts(x.state())
	x.tell("cases counted", `{"bottling":%q,"cases":"9","loose":"7"}`, bottling)
	assert.Equal(t, before, digestAccounts(x.state()))
	require.Equal(t, []string{"The count of Damson brandy is 5 bottles less than the book has."}, x.asked(CountDisagrees))
	p := x.state().Questions()[0].Proposal
	b, faults := Compose(p.Kind, US, p.Body)
	require.Empty(t, faults)
	x.book.Add(x.seal(b))
	assert.EqualValues(t, 115, x.state().Bottling(bottling).Left())
	assert.Positive(t, x.state().Balance(Shortage))
	x.tell("cases counted", `{"bottling":%q,"cases":"10"}`, bottling)
	p = x.state().Questions()[1].Proposal
	require.Equal(t, "cases found", p.Kind)
	b, faults = Compose(p.Kind, US, p.Body)
	require.Empty(t, faults)
	x.book.Add(x.seal(b))
	assert.EqualValues(t, 120, x.state().Bottling(bottling).Left())
	assert.Equal(t, x.state().Balance(Shortage), -x.state().Balance(Gained))
	x.tell("inventory taken", `{"account":"finished","taken":"2026-01-31","by":"R. Vane","signed":"yes"}`)
	assert.Equal(t, x.state().Balance(Finished), x.state().Inventories()[0].Book)
	requireSound(t, x.state())

	glass := x.tell("goods registered", `{"name":"Flint","type":"bottle","counted_in":"pieces"}`)
	lot := x.tell("goods received", `{"good":%q,"pieces":"1000"}`, glass)
	x.tell("goods spoiled", `{"lot":%q,"pieces":"4","reason":"broken"}`, lot)
	x.tell("goods counted", `{"lot":%q,"pieces":"990"}`, lot)
	assert.EqualValues(t, 996, x.state().OnHand(glass), "the count alone changes nothing")
	x.tell("goods adjusted", `{"lot":%q,"why":"A layer was short"}`, lot)
	assert.EqualValues(t, 990, x.state().OnHand(glass))
	x.tell("goods counted", `{"lot":%q,"pieces":"990"}`, lot)
	assert.Contains(t, x.refused("goods issued", `{"lot":%q,"pieces":"991"}`, lot), "is more than the 990 pieces")
	assert.Contains(t, x.refused("goods issued", `{"lot":%q,"weight":"3kg"}`, lot), "is counted in pieces")
}

func digestAccounts(s *State) map[Account]Alcohol {
	out := map[Account]Alcohol{}
	for _, a := range Accounts() {
		out[a] = s.Balance(a)
	}
	return out
}

func TestMarksAreBlindUntilAllAreIn(t *testing.T) {
	x := newTale(t, "us")
	trial := x.tell("trial made", `{"name":"K3","parts":[{"what":"Quince hearts","weight":"50g"},{"what":"Water","weight":"38.2g"}],"tasters":"2"}`)
	x.tell("trial scored", `{"trial":%q,"taster":"RV","whole":"6"}`, trial)
	assert.Nil(t, x.state().Trial(trial).Scores())
	_, ok := x.state().Trial(trial).Mean()
	assert.False(t, ok)
	assert.Contains(t, x.refused("trial scored", `{"trial":%q,"taster":" rv","whole":"9"}`, trial), "has given marks")
	x.force("trial scored", `{"trial":%q,"taster":"rv","whole":"9"}`, trial)
	assert.Len(t, x.asked(Twice), 1)
	assert.Equal(t, 1, x.state().Trial(trial).In(), "the first marks count")
	x.tell("trial scored", `{"trial":%q,"taster":"AM","whole":"9"}`, trial)
	mean, ok := x.state().Trial(trial).Mean()
	assert.True(t, ok)
	assert.InDelta(t, 7.5, mean, 0)
	child := x.tell("trial made", `{"name":"K4","from":%q,"parts":[{"what":"Quince hearts","weight":"50g"}],"tasters":"3"}`, trial)
	assert.Equal(t, []Address{child}, x.state().Trial(trial).Children)
	x.tell("trial scored", `{"trial":%q,"taster":"AM","whole":"4"}`, child)
	x.tell("trial opened", `{"trial":%q,"why":"One is ill"}`, child)
	assert.Len(t, x.state().Trial(child).Scores(), 1)
}

func TestTheLastWordOnAnApprovalCounts(t *testing.T) {
	x := newTale(t, "us")
	product := x.tell("product registered", `{"name":"Gin","class":"gin"}`)
	x.tell("approval recorded", `{"product":%q,"of":"label","number":"26001","status":"applied for"}`, product)
	x.tell("approval recorded", `{"product":%q,"of":"formula","number":"F9","status":"approved","until":"2026-01-20"}`, product)
	x.tell("approval recorded", `{"product":%q,"of":"label","number":"26001","status":"approved"}`, product)
	list := x.state().Approvals(product)
	require.Len(t, list, 2)
	assert.Equal(t, "formula", list[0].Body.(*ApprovalRecorded).Of)
	assert.Equal(t, "approved", list[1].Body.(*ApprovalRecorded).Status)
	assert.Contains(t, kinds(x.state().Overdue(moment(x.minute))), ApprovalEnding)
}

// A check of an instrument acts from then on; what was read before keeps the
// correction it was read with, and an unfit one is offered no more.
func TestACorrectionActsFromItsCheckOn(t *testing.T) {
	x := newTale(t, "us")
	tank := x.vessel("T1", "tank", "60gal", "")
	h := x.tell("instrument registered", `{"name":"H2","type":"hydrometer","correction":"0.0proof","half_width":"0.1proof","checked":"2025-12-01","check_every":"60d"}`)
	gauge := `{"vessel":%q,"volume":"10gal","indicated":"120proof","temp":"60F","hydrometer":%q,"reason":"bought in","class":"other","account":"storage"}`
	x.tell("spirit received", gauge, tank, h)
	assert.InDelta(t, 12, x.state().Vessel(tank).Content.Alcohol.ProofGallons(), 0.001)
	x.days(35)
	assert.Contains(t, kinds(x.state().Overdue(moment(x.minute))), InstrumentDue)
	x.tell("instrument checked", `{"instrument":%q,"found":"fit with a new correction","correction":"-1.0proof"}`, h)
	assert.NotContains(t, kinds(x.state().Overdue(moment(x.minute))), InstrumentDue)
	x.tell("spirit received", gauge, tank, h)
	assert.InDelta(t, 23.9, x.state().Vessel(tank).Content.Alcohol.ProofGallons(), 0.001)
	x.tell("instrument checked", `{"instrument":%q,"found":"not fit"}`, h)
	assert.True(t, x.state().Registered(AnInstrument, h).Retired)
	assert.Contains(t, x.refused("instrument checked", `{"instrument":%q,"found":"fit"}`, h), "no longer in use")

	// A thermometer's correction has its own unit.
	x.tell("instrument registered", `{"name":"Th1","type":"thermometer","correction":"-0.3F","half_width":"0.2F"}`)
}

// A printed table is typed in over several entries; 30.23's own example,
// 192.85 at 72.10, falls in its four printed cells.
func TestAPrintedTableComesInParts(t *testing.T) {
	x := newTale(t, "us")
	x.tell("table loaded", `{"source":"Gauging manual, table 1","rows":[{"reading":"192","from":"72","proofs":"189.1 188.9"}]}`)
	x.tell("table loaded", `{"rows":[{"reading":"193","from":"72","proofs":"190.2"}]}`)
	assert.Equal(t, 3, x.state().Table().Len())
	g := Gauge{Indicated: quantity.MustParse("192.85", quantity.Proof), Temp: quantity.MustParse("72.10", quantity.Fahrenheit)}
	c, ok, err := g.TrueStrength(x.state())
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, "190.0", c.True.Text(1)[:5])
	assert.Contains(t, x.refused("table loaded", `{"rows":[{"reading":"193","from":"72","proofs":"191.2"}]}`), "was 190.2 on an earlier line")
	x.force("table loaded", `{"rows":[{"reading":"193","from":"72","proofs":"191.2"}]}`)
	assert.Equal(t, 3, x.state().Table().Len())
	assert.Len(t, x.asked(Dangling), 1)
}

// One entry of the largest part of the table stays within a record of 64 KiB.
func TestAPartOfTheTableFitsARecord(t *testing.T) {
	proofs := strings.TrimSpace(strings.Repeat("189.1 ", 101))
	rows := make([]TableRow, 90)
	for i := range rows {
		rows[i] = TableRow{Reading: int64(i), Proofs: proofs}
	}
	b := &TableLoaded{Rows: rows}
	assert.Empty(t, Check(b))
	assert.Less(t, len(Encode(b)), 64<<10-640)
}

func TestTwoDevicesTellOneThing(t *testing.T) {
	x := newTale(t, "us")
	other := &writer{t: t, device: "alder7"}
	tell := func(minute int, kind, body string) {
		other.minute = minute
		x.book.Add(other.write(kind, body))
	}
	x.tell("delivery received", `{"material":"fruit","variety":"Quince","net":"400kg","note":"from the gate"}`)
	tell(300, "delivery received", `{"material":"fruit","variety":"Quince","net":"400kg"}`)
	require.Equal(t, []string{"Two devices wrote ‘delivery received’ with the same figures within 24 hours."}, x.asked(Twice))
	p := x.state().Questions()[0].Proposal
	require.Equal(t, "entry voided", p.Kind)
	tell(301, "delivery received", `{"material":"fruit","variety":"Quince","net":"410kg"}`) // another one
	tell(4000, "delivery received", `{"material":"fruit","variety":"Quince","net":"400kg"}`)
	assert.Len(t, x.asked(Twice), 1, "three days later it is another delivery")
}

// What a station's phones tell: a pallet with its mark is counted once whoever
// counts it, several cases by two phones are asked about, and of single taps
// that meet by chance only the first, the second, the fourth of a pair.
func TestTheSamePalletIsAskedAbout(t *testing.T) {
	x, bottling, _ := openRun(t)
	other := &writer{t: t, device: "otter22"}
	at := func(phone *writer, minute int, body string) {
		phone.minute = minute
		e := phone.write("bottles counted", fmt.Sprintf(body, bottling))
		x.book.Add(e)
	}
	at(x.writer, 100, `{"bottling":%q,"cases":4,"pallet":"3"}`)
	at(x.writer, 300, `{"bottling":%q,"cases":5,"pallet":"3"}`)
	require.Equal(t, []string{"Pallet 3 was counted at the station ‘case’ before: 48 bottles then, 60 now."}, x.asked(Twice), "even by the same phone, hours later")
	at(x.writer, 310, `{"bottling":%q,"cases":4,"pallet":"4"}`)
	at(other, 311, `{"bottling":%q,"cases":4,"pallet":"5"}`)
	require.Len(t, x.asked(Twice), 1, "two marks are two pallets")

	at(x.writer, 400, `{"bottling":%q,"cases":6}`)
	at(other, 429, `{"bottling":%q,"cases":6}`)
	require.Len(t, x.asked(Twice), 2)
	assert.Equal(t, "Two phones counted 6 cases at the station ‘case’ within 30 minutes: it may be one pallet.", x.asked(Twice)[1])
	at(x.writer, 500, `{"bottling":%q,"cases":6}`)
	at(other, 531, `{"bottling":%q,"cases":6}`)
	at(other, 532, `{"bottling":%q,"cases":6,"station":"label"}`)
	at(other, 533, `{"bottling":%q,"cases":6}`)
	require.Len(t, x.asked(Twice), 2, "later, elsewhere, or the same phone again")

	for i := range 9 { // two packers, side by side, tap within the same two minutes
		at(x.writer, 600+10*i, `{"bottling":%q,"cases":1}`)
		at(other, 601+10*i, `{"bottling":%q,"cases":1}`)
	}
	require.Len(t, x.asked(Twice), 6, "the first, the second, the fourth and the eighth time")
	assert.Contains(t, x.asked(Twice)[5], "8 times by now")
	assert.EqualValues(t, 12*(4+5+4+4+6+6+6+6+6+18), x.state().Bottling(bottling).At("case"), "a question changes no count")

	settle := x.state().Questions()[0].Proposal
	require.NotNil(t, settle)
	x.tell(settle.Kind, "%s", settle.Body)
	assert.NotContains(t, strings.Join(x.asked(Twice), ""), "Pallet 3", "the entry that settles it takes the second count out")
	requireSound(t, x.state())
}

// What two phones wrote offline meets in any order to the same questions and
// the same numbers, and undoing is undone everywhere.
func TestCountsMeetInAnyOrder(t *testing.T) {
	rapid.Check(t, func(draw *rapid.T) {
		x, bottling, _ := openRun(t)
		opening := x.book.Len()
		var all []*Entry
		for e := range x.book.All {
			all = append(all, e)
		}
		phones := []*writer{{t: t, device: "otter22"}, {t: t, device: "plover55"}, {t: t, device: "wren18"}}
		good := map[Station]int64{}
		var spoiled int64
		for range rapid.IntRange(1, 25).Draw(draw, "taps") {
			p := phones[rapid.IntRange(0, 2).Draw(draw, "phone")]
			p.minute = max(p.minute, 60) + rapid.IntRange(0, 5).Draw(draw, "later")
			station := rapid.SampledFrom(Stations()).Draw(draw, "station")
			bottles := int64(1)
			var e *Entry
			if spoils := rapid.IntRange(0, 4).Draw(draw, "what") == 0; spoils {
				e = p.write("bottles spoiled", fmt.Sprintf(`{"bottling":%q,"station":%q,"reason":"broken","bottles":1}`, bottling, station))
				spoiled++
			} else {
				cases := rapid.Int64Range(1, 3).Draw(draw, "cases")
				bottles = 12 * cases
				e = p.write("bottles counted", fmt.Sprintf(`{"bottling":%q,"station":%q,"cases":%d}`, bottling, station, cases))
				good[station] += bottles
			}
			all = append(all, e)
			if rapid.IntRange(0, 3).Draw(draw, "undo") == 0 {
				all = append(all, p.write("entry voided", fmt.Sprintf(`{"entry":%q,"why":"tapped too often","bottling":%q}`, e.Address(), bottling)))
				if e.Kind == "bottles spoiled" {
					spoiled--
				} else {
					good[station] -= bottles
				}
			}
		}
		here, there := New(), New()
		here.Add(all...)
		order := rapid.Permutation(all[opening:]).Draw(draw, "order")
		there.Add(all[:opening]...)
		for _, e := range order {
			there.Add(e)
		}
		for _, b := range []*Book{here, there} {
			r := b.State().Bottling(bottling)
			for _, s := range Stations() {
				require.Equal(draw, good[s], r.At(s), "%s", s)
			}
			n, _ := r.Spoiled()
			require.Equal(draw, spoiled, n)
		}
		require.Equal(draw, here.State().Questions(), there.State().Questions())
	})
}

// openRun opens a run of 12 × 750 mL of 80 proof.
func openRun(t *testing.T) (x *tale, bottling, tank Address) {
	x = newTale(t, "us")
	tank = x.vessel("T1", "bottling tank", "600gal", "")
	product := x.tell("product registered", `{"name":"Damson brandy","class":"brandy","strength":"80proof","bottle":"750mL","per_case":"12"}`)
	x.tell("spirit received", `{"vessel":%q,"volume":"400gal","volume_temp":"60F","strength":"80proof","reason":"in bond","class":"brandy","account":"processing"}`, tank)
	bottling = x.tell("bottling opened", `{"product":%q,"tank":%q,"volume":"400gal","volume_temp":"60F","strength":"80proof"}`, product, tank)
	return x, bottling, tank
}

// 27 CFR 19.485(a) gives the example: the third lot filled on 2 January 2002 is
// 02A02B. 19.490(b): cases run from 1 to 1,000,000 and begin again with 1.
func TestALotAndACaseAreNumbered(t *testing.T) {
	assert.Equal(t, "02A02B", DayLot("2002-01-02", 2))
	assert.Equal(t, "02A02", DayLot("2002-01-02", 0))
	assert.Equal(t, "26L31A", DayLot("2026-12-31", 1))
	assert.Empty(t, DayLot("", 0))
	x, bottling, tank := openRun(t)
	assert.EqualValues(t, 1, x.state().NextCase())
	x.tell("bottles counted", `{"bottling":%q,"cases":"7","loose":"5"}`, bottling)
	assert.EqualValues(t, 8, x.state().NextCase(), "a rest of a case bears the number of the last full one")
	again := x.tell("bottling opened", `{"tank":%q,"volume":"400gal","volume_temp":"60F","strength":"80proof","bottle":"750mL","per_case":"6","first_case":"999999"}`, tank)
	x.tell("bottles counted", `{"bottling":%q,"cases":"1"}`, again)
	assert.EqualValues(t, 1_000_000, x.state().NextCase())
	x.tell("bottles counted", `{"bottling":%q,"cases":"1"}`, again)
	assert.EqualValues(t, 1, x.state().NextCase())
}

func TestAProductSaysWhatItsBottleTakes(t *testing.T) {
	x := newTale(t, "us")
	glass := x.tell("goods registered", `{"name":"Tall 750","type":"bottle","counted_in":"pieces"}`)
	band := x.tell("goods registered", `{"name":"Band","type":"neck label","counted_in":"pieces"}`)
	carton := x.tell("goods registered", `{"name":"Carton","type":"carton","counted_in":"pieces"}`)
	product := x.tell("product registered", `{"name":"Gin","class":"gin","goods":[{"good":%q},{"good":%q,"each":"2"},{"good":%q}]}`, glass, band, carton)
	needs, learned := x.state().Needs(product)
	assert.False(t, learned)
	require.Equal(t, []GoodNeed{{glass, "Tall 750", 1, false}, {band, "Band", 2, false}, {carton, "Carton", 1, true}}, needs)
	for i, want := range []int64{25, 50, 3} { // 25 bottles are two cases of 12 and a rest that takes a third carton
		assert.Equal(t, want, needs[i].For(25, 12), needs[i].Name)
	}
	assert.Contains(t, x.refused("product registered", `{"name":"Gin","class":"gin","goods":[{"good":"heron41-999"}]}`), "good")
	needs, _ = x.state().Needs("")
	assert.Empty(t, needs)
}

// 752.7 mL of 40 % vol at 25 °C are 750 mL at 20 °C (trade note, worked out from
// OIML R 22). A liqueur's density stands in for what its strength does not say:
// 780.8 g in air of 1,042.19 kg/m³ in vacuo, which weigh 1,041.15 in air, are
// 750 mL.
func TestWhatWasPouredOutAndWhatIsSweet(t *testing.T) {
	x, _, _ := openRun(t)
	x.book, x.writer = New(), &writer{t: t, device: "heron41"}
	x.tell("book opened", `{"name":"Hollow Alder","convention":"metric"}`)
	tank := x.vessel("T1", "bottling tank", "2000L", "")
	bottling := x.tell("bottling opened", `{"tank":%q,"volume":"1520L","volume_temp":"20C","strength":"40%%","bottle":"750mL"}`, tank)
	x.tell("fill checked", `{"bottling":%q,"bottles":[{"volume":"752.7mL","volume_temp":"25C"},{"volume":"750mL"}]}`, bottling)
	x.tell("fill checked", `{"bottling":%q,"density":"1042.19kg/m3","bottles":[{"empty":"400g","full":"1180.86g"}]}`, bottling)
	fills := x.state().Bottling(bottling).Fills
	require.Len(t, fills, 2)
	assert.InDelta(t, 750, fills[0].Millis[0], 0.1, "OIML R 22")
	assert.InDelta(t, 750, fills[0].Millis[1], 0)
	assert.InDelta(t, 750, fills[1].Millis[0], 0.05)
}
