package must

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func always(n int) func(int) int { return func(int) int { return n } }

// Three harvests whose bottleneck can be worked out by hand.
func TestWhereAHarvestStops(t *testing.T) {
	tanks := []HarvestTank{{Name: "A", Room: 400}, {Name: "B", Room: 400}}
	load := func(day int) HarvestLoad { return HarvestLoad{"Quince", day, 400, 14} }

	slow := Harvest{Days: 40, Tanks: tanks, Loads: []HarvestLoad{load(0), load(1), load(5)}, Batch: 400, Batches: always(5)}.Plan()
	assert.Equal(t, TheTanks, slow.Bottleneck)
	assert.Equal(t, 5, slow.On, "the third load comes to two full fermenters")
	assert.Equal(t, 400.0, slow.Waits)
	assert.Equal(t, 0.0, slow.Days[14].Waits, "on the 14th day the first is distilled in the morning and filled in the evening")
	assert.Equal(t, []int{28, 15}, slow.Free)

	still := Harvest{Days: 40, Tanks: tanks, Loads: []HarvestLoad{load(0), load(1), load(16)}, Batch: 100, Batches: always(1)}.Plan()
	assert.Equal(t, TheStill, still.Bottleneck, "the load of day 16 waits while finished mash stands in both")
	assert.Equal(t, 16, still.On)
	assert.Equal(t, 0.0, still.Days[17].Waits, "four batches of 100 L empty the first by day 17")

	late := Harvest{Days: 40, Tanks: tanks[:1], Loads: []HarvestLoad{load(0)}, Batch: 100, Batches: always(0)}.Plan()
	assert.Equal(t, TheStill, late.Bottleneck, "nothing waits for a tank, and the mash waits too long")
	assert.Equal(t, 14+MostWait+1, late.On)

	easy := Harvest{Days: 40, Tanks: tanks, Loads: []HarvestLoad{load(0), load(20)}, Batch: 400, Batches: RunningDays(2, 5, 1)}.Plan()
	assert.Equal(t, NoBottleneck, easy.Bottleneck)
	assert.Equal(t, 0, easy.Days[3].Batches, "day 0 a Wednesday: day 3 is a Saturday")
}

// Property: whatever comes, every litre is in the yard, in a tank or through the
// still; no tank holds more than its room and the still takes no more than its
// batches; and a bottleneck is named exactly where something waits.
func TestAHarvestConservesItsMash(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := Harvest{Days: rapid.IntRange(1, 60).Draw(rt, "days"), Batch: float64(rapid.IntRange(50, 500).Draw(rt, "batch"))}
		n := rapid.IntRange(0, 3).Draw(rt, "batches")
		h.Batches = RunningDays(rapid.IntRange(0, 6).Draw(rt, "first"), rapid.IntRange(0, 7).Draw(rt, "days a week"), n)
		held, room := 0.0, 0.0
		for i := range rapid.IntRange(0, 6).Draw(rt, "tanks") {
			tank := HarvestTank{Name: fmt.Sprint(i), Room: float64(rapid.IntRange(50, 2000).Draw(rt, "room")), Ready: rapid.IntRange(-5, 20).Draw(rt, "ready")}
			tank.Holds = tank.Room * float64(rapid.IntRange(0, 2).Draw(rt, "held")) / 2
			h.Tanks, held, room = append(h.Tanks, tank), held+tank.Holds, room+tank.Room
		}
		for range rapid.IntRange(0, 12).Draw(rt, "loads") {
			h.Loads = append(h.Loads, HarvestLoad{"x", rapid.IntRange(0, h.Days).Draw(rt, "day"), float64(rapid.IntRange(1, 3000).Draw(rt, "litres")), rapid.IntRange(1, 30).Draw(rt, "takes")})
		}
		p := h.Plan()
		require.Len(rt, p.Days, h.Days)
		came, distilled := 0.0, 0.0
		waited := false
		for i, d := range p.Days {
			came, distilled = came+d.Came, distilled+d.Distilled
			require.InDelta(rt, held+came, d.Waits+d.Ferments+d.Ready+distilled, 1e-6, "day %d", i)
			require.LessOrEqual(rt, d.Ferments+d.Ready, room+1e-6)
			require.LessOrEqual(rt, d.Distilled, float64(h.Batches(i))*h.Batch+1e-6)
			require.LessOrEqual(rt, d.Batches, h.Batches(i))
			require.LessOrEqual(rt, d.InUse, len(h.Tanks))
			if d.Waits > 0 && !waited {
				waited = true
				require.NotEqual(rt, NoBottleneck, p.Bottleneck)
				require.LessOrEqual(rt, p.On, i, "it is named no later than the first wait")
			}
		}
		require.Equal(rt, p, h.Plan(), "the same season gives the same plan")
		// As many tanks as loads of as much room leave nothing waiting.
		for i, l := range h.Loads {
			h.Tanks = append(h.Tanks, HarvestTank{Name: fmt.Sprint("more ", i), Room: l.Litres})
		}
		for i, d := range h.Plan().Days {
			require.Zero(rt, d.Waits, "day %d with a tank for each load", i)
		}
	})
}
