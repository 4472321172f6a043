package book

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/quantity"
)

// glass makes a trial of two parts and gives it these marks.
func (x *tale) glass(name string, marks ...int) *Trial {
	a := x.tell("trial made", `{"name":%q,"tasters":%d,"parts":[{"what":"Hearts","weight":"60g"},{"what":"Water","weight":"40g"}]}`, name, len(marks))
	for i, m := range marks {
		x.tell("trial scored", `{"trial":%q,"taster":"T%d","whole":%d}`, a, i+1, m)
	}
	return x.state().Trial(a)
}

// Marks of 8, 8, 9 against 5, 5, 6: the means lie 3 apart, each with a standard
// deviation of 0.577, so the difference has 2 × √(2 × 0.333 ÷ 3) = 0.94: told
// apart. 8, 4, 9 against 9, 8, 9 is 1.67 apart with 2 × √(7 ÷ 3 + 0.333 ÷ 3) =
// 3.13: not told apart. By hand.
func TestRankingSaysWhatTheTastersCanTell(t *testing.T) {
	x := newTale(t, "metric")
	list := []*Trial{x.glass("P", 5, 5, 6), x.glass("Q", 8, 8, 9)}
	waiting := x.tell("trial made", `{"name":"R","tasters":2,"parts":[{"what":"Hearts","weight":"60g"}]}`)
	x.tell("trial scored", `{"trial":%q,"taster":"T1","whole":10}`, waiting)
	ranks := Ranking(append(list, x.state().Trial(waiting)))
	require.Len(t, ranks, 2, "what is not all in is not ranked")
	assert.Equal(t, "Q", ranks[0].Name)
	assert.InDelta(t, 8.333, ranks[0].Mean, 0.001)
	assert.InDelta(t, 0.577, ranks[0].Deviation, 0.001)
	assert.Equal(t, [2]int64{8, 9}, [2]int64{ranks[0].Low, ranks[0].High})
	assert.True(t, ranks[1].Apart)
	assert.False(t, ranks[0].Apart, "the first is not told apart from itself")

	near := Ranking([]*Trial{x.glass("S", 8, 4, 9), x.glass("U", 9, 8, 9)})
	assert.Equal(t, "U", near[0].Name)
	assert.False(t, near[1].Apart)
	alone := Ranking([]*Trial{x.glass("V", 9), x.glass("W", 1)})
	assert.False(t, alone[1].Apart, "one taster has no spread")
}

// A batch of 250 kg of 60 : 30 : 10 is 150, 75 and 25 kg.
func TestScaleUpAgainstTheStore(t *testing.T) {
	x := newTale(t, "metric")
	tank := x.vessel("T1", "tank", "1000L", "")
	x.tell("spirit received", `{"vessel":%q,"volume":"100L","volume_temp":"20C","strength":"60%%","reason":"in bond","class":"gin","account":"processing"}`, tank)
	good := x.tell("goods registered", `{"name":"Cane sugar","type":"sugar","counted_in":"weight"}`)
	x.tell("goods received", `{"good":%q,"weight":"20kg"}`, good)
	lot := x.tell("goods received", `{"good":%q,"weight":"10kg"}`, good)
	syrup := x.tell("goods registered", `{"name":"Syrup","type":"sugar","counted_in":"volume"}`)
	a := x.tell("trial made", `{"name":"K1","tasters":1,"parts":[{"what":"Gin","vessel":%q,"weight":"40g"},{"what":"sugar","lot":%q,"weight":"20g"},{"what":"Sugar","lot":%q,"weight":"10g"},{"what":"Spring water","weight":"20g"},{"what":"syrup","weight":"5g"},{"what":"Alder bark","weight":"5g"}]}`, tank, lot, lot)
	needs := x.state().ScaleUp(x.state().Trial(a), massOf(250))
	require.Len(t, needs, 5, "two parts of one good are bought once")
	kg := func(m Mass) string { return fmt.Sprintf("%.2f", m.Kilograms()) }
	assert.Equal(t, "100.00", kg(needs[0].Weight))
	assert.Equal(t, tank, needs[0].From)
	assert.Equal(t, kg(x.state().Vessel(tank).Content.Mass), kg(needs[0].OnHand))
	assert.Equal(t, [3]string{"75.00", "30.00", "45.00"}, [3]string{kg(needs[1].Weight), kg(needs[1].OnHand), kg(needs[1].Buy())})
	assert.Equal(t, good, needs[1].From, "all lots of the good count")
	assert.True(t, needs[2].Tap)
	assert.Zero(t, needs[2].Buy())
	assert.Equal(t, syrup, needs[3].From, "called the same")
	assert.False(t, needs[3].Counted, "counted in litres: no weight is made up")
	assert.Empty(t, needs[4].From)
	assert.Equal(t, "12.50", kg(needs[4].Buy()))
}

// The parts of a batch add up to exactly the batch, and more of it needs no less
// of anything.
func TestScaleUpConserves(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		trial := &Trial{}
		for i := range rapid.IntRange(1, 12).Draw(r, "parts") {
			trial.Parts = append(trial.Parts, TrialPart{What: fmt.Sprint("part ", i), Weight: quantity.MustParse(fmt.Sprintf("%d.%dg", rapid.IntRange(0, 900).Draw(r, "g"), rapid.IntRange(1, 9).Draw(r, "tenth")), quantity.Gram)})
		}
		small := Mass(rapid.Int64Range(1, 1e12).Draw(r, "batch"))
		large := small + Mass(rapid.Int64Range(0, 1e12).Draw(r, "more"))
		s := New().State()
		sum := func(needs []Need) (sum Mass) {
			for _, n := range needs {
				sum += n.Weight
			}
			return sum
		}
		a, b := s.ScaleUp(trial, small), s.ScaleUp(trial, large)
		require.Equal(t, small, sum(a))
		require.Equal(t, large, sum(b))
		for i := range a {
			require.GreaterOrEqual(t, b[i].Weight, a[i].Weight-Mass(len(a)), "to the rounding of a milligram")
		}
	})
}

// Who holds the log holds every mark; what the book shows of it is another
// matter, for the mark and for each correction of it.
func TestMarksAreBlind(t *testing.T) {
	x := newTale(t, "metric")
	a := x.tell("trial made", `{"name":"K","tasters":2,"parts":[{"what":"Hearts","weight":"60g"}]}`)
	score := x.tell("trial scored", `{"trial":%q,"taster":"JS","whole":7}`, a)
	amended := x.tell("entry amended", `{"entry":%q,"why":"slip","v":1,"body":{"trial":%q,"taster":"JS","whole":8}}`, score, a)
	blind := func(a Address) bool { return x.state().Blind(x.state().book.Entry(a).Body) }
	assert.True(t, blind(score))
	assert.True(t, blind(amended))
	assert.False(t, blind(a), "that there is a glass is no secret")
	x.tell("trial scored", `{"trial":%q,"taster":"MK","whole":7}`, a)
	assert.False(t, blind(score))
	assert.False(t, blind(amended))
	mean, ok := x.state().Trial(a).Mean()
	assert.True(t, ok)
	assert.Equal(t, 7.5, mean, "as corrected")
}
