package fill

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ordinary is a party in which everything agrees but for what is set.
func ordinary() Party {
	return Party{
		Size: ml("750"), PerCase: 12, Cases: 100, Loose: 4, OtherCase: 6,
		Before: litre("930.0±1.5"), After: litre("20.0±1.5"), PerCM: litre("9"), Samples: litre("1.1"), Filled: ml("750±0.5"), Pallet: 10,
		Tallies: []Tally{{Closing, 1204}},
		Goods: []Good{
			{Name: "glass", At: Filling, Issued: 1300, Returned: 96, Pack: 100, Tolerance: GlassTolerance},
			{Name: "closures", At: Closing, Issued: 1300, Returned: 96, Pack: 100, Tolerance: GlassTolerance},
			{Name: "labels", At: Labelling, Issued: 1500, Returned: 296, Pack: 250, Tolerance: LabelTolerance},
			{Name: "seals", At: Sealing, Issued: 1500, Returned: 296, Pack: 500},
			{Name: "cartons", At: Casing, PerCase: true, Sets: 12, Issued: 120, Returned: 20, Pack: 20},
		},
	}
}

func TestCausesInWords(t *testing.T) {
	for _, c := range []struct {
		change func(*Party)
		kind   Kind
		words  string
		asked  bool
	}{
		{func(*Party) {}, Nothing, "within its measuring error", false},
		{func(p *Party) { p.Cases = 99 }, CaseLess, "one case of 12 less counted", true},
		{func(p *Party) { p.Cases = 101 }, CaseMore, "one case of 12 more counted", true},
		{func(p *Party) { p.Loose = 8 }, PartialMore, "4 loose bottles counted twice", true},
		{func(p *Party) { p.After = litre("2.0±1.5") }, HeelMisread, "the heel read 2.0 cm too low", true},
		{func(p *Party) { p.Goods[2].Returned -= 250 }, PackOut, "one pack of labels not returned", true},
		{func(p *Party) { p.Cases = 110 }, PalletMore, "one pallet or layer of 10 cases counted by two phones", true},
		{func(p *Party) { p.Cases = 93 }, CountsAway, "not sent the counts of 7 cases", true},
		{func(p *Party) { p.Tallies[0].Bottles = 1192 }, TallyOff, "the station close counted 12 bottles less", true},
		{func(p *Party) {
			p.Goods[0].Returned -= 3
			p.Goods[1].Returned -= 3
			p.Tallies[0].Bottles += 3
			p.Before = litre("932.2±1.5")
		}, BottlesGone, "3 bottles of 750 mL left the line after the station close", true},
		{func(p *Party) { p.Goods[3].Returned -= 7 }, GoodsSpoiled, "7 of seals spoiled", true},
		{func(p *Party) { p.Tank, p.Bottled = abv("40.0"), abv("38.5") }, StrengthWarm, "off by 1.5 % vol", true},
		{func(p *Party) { p.Goods[2].Returned -= 10 }, Nothing, "", false},
	} {
		p := ordinary()
		c.change(&p)
		r, err := Reconcile(p)
		require.NoError(t, err)
		assert.Equal(t, c.kind, r.Causes[0].Kind, "%+v", r.Causes)
		assert.Contains(t, r.Causes[0].Explanation, c.words)
		assert.NotEmpty(t, r.Causes[0].Look)
		assert.Equal(t, c.asked, r.Asked, "%s", c.words)
	}
	// Two errors at once are both found.
	p := ordinary()
	p.Cases, p.Goods[2].Returned = 99, p.Goods[2].Returned-250
	r, err := Reconcile(p)
	require.NoError(t, err)
	kinds := []Kind{r.Causes[0].Kind, r.Causes[1].Kind}
	assert.ElementsMatch(t, []Kind{CaseLess, PackOut}, kinds)
	assert.Greater(t, r.Causes[1].Probability, 0.9)
	// A party that is a stranger to the list still has an answer.
	p = ordinary()
	p.Goods[3].Returned -= 111
	r, err = Reconcile(p)
	require.NoError(t, err)
	assert.Equal(t, SomethingElse, r.Causes[0].Kind)
	assert.Equal(t, "seals", r.Causes[0].Subject)
}

// A bottle spoiled at a station had its goods and those before on it, left only
// the stations before it, and took its spirit along unless it was poured back.
func TestSpoilsUseGoods(t *testing.T) {
	clean, err := Reconcile(ordinary())
	require.NoError(t, err)
	p := ordinary()
	p.Spoils = []Spoil{{Labelling, 2, false}, {Filling, 3, true}}
	spoiled, err := Reconcile(p)
	require.NoError(t, err)
	for name, moved := range map[string]float64{"spirit": -1.5, "count at close": -2, "glass": -5, "closures": -2, "labels": -2, "seals": 0, "cartons": 0} {
		at := func(r Reconciled) float64 {
			i := slices.IndexFunc(r.Accounts, func(a Account) bool { return a.Name == name })
			require.GreaterOrEqual(t, i, 0, name)
			return r.Accounts[i].Gap.Value
		}
		assert.InDelta(t, moved, at(spoiled)-at(clean), 1e-9, name)
	}
}
