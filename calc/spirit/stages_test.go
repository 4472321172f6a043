package spirit

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"gaugebook/calc/quantity"
)

func TestStagesOfThePracticesExample(t *testing.T) {
	from, err := FromABV20(70)
	require.NoError(t, err)
	got, err := StageStrengths(from, quantity.MustParse("40", quantity.ABV20), 4)
	require.NoError(t, err)
	for i, want := range []string{"51.1 % vol", "44.1 % vol", "41.5 % vol", "40 % vol"} {
		assert.Equal(t, want, got[i].String(), "stage %d", i+1)
	}
}

// Property: however a reduction is staged, each stage is weaker than the one
// before it, the end is met, and all stages together take the water of one.
func TestStagesTogetherAreOneReduction(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		start := quantity.FromDecimal(quantity.Snap(float64(rapid.IntRange(550, 960).Draw(rt, "from"))/10), quantity.ABV20)
		to := quantity.FromDecimal(quantity.Snap(float64(rapid.IntRange(370, 500).Draw(rt, "to"))/10), quantity.ABV20)
		n := rapid.IntRange(1, MostStages).Draw(rt, "stages")
		s, err := StrengthOf(start)
		require.NoError(rt, err)
		list, err := StageStrengths(s, to, n)
		require.NoError(rt, err)
		require.Len(rt, list, n)
		require.Equal(rt, to, list[n-1])
		before := start
		for _, stage := range list {
			require.Less(rt, stage.Float(), before.Float())
			before = stage
		}
		r := Reduction{Volume: quantity.MustParse("100", quantity.Litre), From: start, To: to}
		stages, err := Stages(r, list[:n-1]...)
		require.NoError(rt, err)
		one, err := Reduce(r)
		require.NoError(rt, err)
		sum := 0.0
		for _, stage := range stages {
			sum += stage.AddedWeight.Value
		}
		require.InDelta(rt, one.AddedWeight.Value, sum, 1e-9)
		require.InDelta(rt, one.FinalVolume.Value, stages[n-1].FinalVolume.Value, 1e-9)
	})
}

func TestStagesThatCannotBe(t *testing.T) {
	from, err := FromABV20(40)
	require.NoError(t, err)
	_, err = StageStrengths(from, quantity.MustParse("45", quantity.ABV20), 2)
	assert.ErrorContains(t, err, "water only lowers")
	_, err = StageStrengths(from, quantity.MustParse("38", quantity.ABV20), 0)
	assert.ErrorContains(t, err, "one stage at least")
	_, err = StageStrengths(from, quantity.MustParse("38", quantity.ABV20), 13)
	assert.ErrorContains(t, err, "twelve stages")
}
