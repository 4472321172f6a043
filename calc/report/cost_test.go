package report

import (
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
)

func always(book.Moment) bool { return true }

// Sums done by hand: 1,000 USD of fruit and 280 USD of work and steam make 100
// proof gallons. Ten are heads and are destroyed, of eighty in hearts ten go to
// the angels, and seventy are bottled with 36 USD of glass.
func TestMoneyFollowsTheAlcohol(t *testing.T) {
	w := newScribe(t, book.US)
	n := 0
	tell := func(kind, body string) book.Address {
		n++
		return w.write("2026-09-20T10:"+string([]byte{'0' + byte(n/10), '0' + byte(n%10)})+":00-04:00", kind, body)
	}
	tell("book opened", `{"name":"Hollow Alder","convention":"us"}`)
	still, fermenter := tell("vessel registered", `{"name":"Copper","use":"still","capacity":"500gal"}`), tell("vessel registered", `{"name":"F1","use":"fermenter","capacity":"500gal"}`)
	r1, r2, r3 := tell("vessel registered", `{"name":"R1","use":"receiver","capacity":"90gal"}`), tell("vessel registered", `{"name":"R2","use":"receiver","capacity":"90gal"}`), tell("vessel registered", `{"name":"R3","use":"receiver","capacity":"90gal"}`)
	product := tell("product registered", `{"name":"Quince brandy","class":"brandy","strength":"100proof","bottle":"750mL","per_case":"12"}`)
	good := tell("goods registered", `{"name":"Tall 750","type":"bottle","counted_in":"pieces"}`)
	glass := tell("goods received", `{"good":"`+string(good)+`","pieces":"1000","price":"100USD"}`)
	fruit := tell("delivery received", `{"material":"fruit","variety":"quince","net":"1000kg","price":"1000USD"}`)
	tell("material prepared", `{"lot":"`+string(fruit)+`","taken":"1000kg","prepared":"900kg","pits":"100kg"}`)
	tell("mash made", `{"fermenter":"`+string(fermenter)+`","type":"fruit mash","parts":[{"lot":"`+string(fruit)+`","weight":"900kg"}],"volume":"250gal"}`)
	run := tell("run started", `{"still":"`+string(still)+`","product":"`+string(product)+`","charge":[{"vessel":"`+string(fermenter)+`"}]}`)
	for _, f := range [][3]string{{"heads", string(r1), "10"}, {"hearts", string(r2), "80"}, {"tails", string(r3), "10"}} {
		tell("receiver gauged", `{"run":"`+string(run)+`","fraction":"`+f[0]+`","vessel":"`+f[1]+`","volume":"`+f[2]+`gal","temp":"60F","strength":"100proof"}`)
	}
	tell("run ended", `{"run":"`+string(run)+`"}`)
	tell("cost noted", `{"what":"hours","hours":"10h","each":"25USD","into":"`+string(run)+`"}`)
	tell("cost noted", `{"what":"energy","energy":"60kWh","each":"0.50USD","into":"`+string(run)+`"}`)
	tell("cost noted", `{"what":"fees","money":"12.34USD"}`)
	tell("spirit destroyed", `{"vessel":"`+string(r1)+`","manner":"diluted, to the drain","witness":"M. Quillby, owner"}`)
	tell("loss recorded", `{"vessel":"`+string(r2)+`","volume":"10gal","temp":"60F","strength":"100proof","cause":"evaporation"}`)
	bottling := tell("bottling opened", `{"product":"`+string(product)+`","tank":"`+string(r2)+`","volume":"70gal","temp":"60F","strength":"100proof"}`)
	tell("goods issued", `{"lot":"`+string(glass)+`","pieces":"360","bottling":"`+string(bottling)+`"}`)
	tell("bottles counted", `{"bottling":"`+string(bottling)+`","cases":"29","loose":"5"}`)
	tell("bottling closed", `{"bottling":"`+string(bottling)+`","tank_empty":"yes","cause":"bottling"}`)

	s := w.b.State()
	require.Equal(t, []quantity.Unit{quantity.Dollar}, Currencies(s))
	c := Costs(s, quantity.Dollar, decimal.Zero, always)
	require.Len(t, c.Bottled, 1)
	got := c.Bottled[0]
	lost := map[string]decimal.Decimal{}
	for _, l := range c.Lost {
		lost[l.What] = l.Money
	}
	// What the line lost at the end is a small part of the seventy.
	line := lost["bottling"].Add(lost["measurement"])
	within := func(want string, got decimal.Decimal, what string) {
		assert.LessOrEqual(t, got.Sub(decimal.RequireFromString(want)).Abs().InexactFloat64(), 0.35, "%s: %s, by hand %s", what, got, want)
	}
	within("128", lost["heads"], "the heads: a tenth of 1,280 USD")
	within("128", lost["the angels"], "the angels: as much")
	within("896", got.Spent.Total().Sub(got.Spent[Goods]).Add(line), "the bottles: seven tenths, with what the line lost")
	assert.Equal(t, "36", got.Spent[Goods].String(), "360 of 1,000 bottles for 100 USD")
	assert.InDelta(t, 25./3, got.Spent[Hours].Div(got.Spent[Energy]).InexactFloat64(), 0.001, "10 h at 25 USD to 60 kWh at 0.50")
	assert.Equal(t, "12.34", c.Loose.String())
	assert.False(t, got.Unpriced)

	// Nothing is paid twice: bottles, losses and what stands in the house are the whole.
	whole := got.Spent.Total().Sub(got.Spent[Goods])
	for _, m := range lost {
		whole = whole.Add(m)
	}
	within("1152", whole, "all but the tails, which are still in the house")
}

// An hour without a price stays an hour until somebody says what one costs.
func TestHoursWithoutAPrice(t *testing.T) {
	w := autumn(t)
	w.write("2026-10-06T10:00:00-04:00", "cost noted", `{"what":"hours","hours":"8h","into":"heron41-9"}`)
	c := Costs(w.b.State(), quantity.Dollar, decimal.Zero, always)
	assert.InDelta(t, 8, c.Bottled[0].Hours, 0.2)
	assert.True(t, c.Bottled[0].Unpriced, "the quinces have no price")
	c = Costs(w.b.State(), quantity.Dollar, decimal.NewFromInt(20), always)
	assert.Zero(t, c.Bottled[0].Hours)
	assert.InDelta(t, 160, c.Bottled[0].Spent[Hours].InexactFloat64(), 3)
}
