package simulate

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"
)

// seeds of the test command; go run ./cmd/gaugebook-sim plays more.
const seeds = 1_000

// Every promise is kept on a thousand days, and on these days everything that
// can happen did: a day that meets no trouble proves nothing.
func TestThousandDays(t *testing.T) {
	var all Coverage
	for seed := range uint64(seeds) {
		r := Run(seed, Options{})
		if r.Violation != nil {
			f := Shorten(seed, Options{}, *r.Violation)
			var trace bytes.Buffer
			f.Trace(&trace)
			t.Fatalf("%s%s\nreplay: go run ./cmd/gaugebook-sim -seed %d -trace", f, &trace, seed)
		}
		all.Add(r.Coverage)
	}
	for _, f := range Faults() {
		assert.GreaterOrEqual(t, all.Faults[f], 20, "times the fault “%v” struck", f)
	}
	for _, s := range exchange.States() {
		assert.GreaterOrEqual(t, all.States[s], 20, "lines answered %s", s)
	}
	for _, status := range []int{200, 401, 403, 409, 413, 426, 429, 503, 507} {
		assert.GreaterOrEqual(t, all.Statuses[status], 20, "replies of status %d", status)
	}
	t.Logf("%d days, %d entries saved, %d requests; lines answered: %v; replies: %v", seeds, all.Saved, all.Sends, all.States, all.Statuses)
}

// MutationTable is where the planted bugs and the days that find them stand.
const mutationTable = "../../testdata/simulation/mutations.md"

// Each planted bug is found on the day the table names. If the exchange has
// changed, the days have too: go run ./cmd/gaugebook-sim -mutations > the table.
func TestPlantedBugsAreFound(t *testing.T) {
	table, err := os.ReadFile(mutationTable)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(Mutations()), 20)
	for _, m := range Mutations() {
		t.Run(m.String(), func(t *testing.T) {
			var seed uint64
			promise := ""
			for row := range strings.SplitSeq(string(table), "\n") {
				if cells := strings.Split(row, " | "); len(cells) == 4 && cells[0] == "| "+m.String() {
					_, err := fmt.Sscan(cells[1], &seed)
					require.NoError(t, err)
					promise = cells[2]
				}
			}
			require.NotEmpty(t, promise, "the table has no row for it")
			require.Less(t, seed, uint64(5_000))
			r := Run(seed, Options{Mutation: m})
			require.NotNil(t, r.Violation, "the day of seed %d no longer finds it: make the table anew", seed)
			assert.Equal(t, promise, r.Violation.Oracle)
			assert.Nil(t, Run(seed, Options{}).Violation, "and it is the bug that breaks it, not the day")
		})
	}
}

// One seed is one day.
func TestReplaysTheSame(t *testing.T) {
	for seed := range uint64(5) {
		var first, second bytes.Buffer
		Run(seed, Options{Trace: &first})
		Run(seed, Options{Trace: &second})
		require.NotEmpty(t, first.String())
		require.Equal(t, first.String(), second.String(), "seed %d", seed)
	}
}

// A failing day gets shorter and goes on failing the same way.
func TestShortens(t *testing.T) {
	o := Options{Mutation: ReceivedWhenSent}
	r := Run(0, o)
	require.NotNil(t, r.Violation)
	f := Shorten(0, o, *r.Violation)
	whole := draw(0)
	assert.Equal(t, r.Violation.Oracle, f.Violation.Oracle)
	assert.Less(t, len(f.plan.actions), len(whole.actions)/4, "actions left of %d", len(whole.actions))
	var trace bytes.Buffer
	f.Trace(&trace)
	assert.Contains(t, trace.String(), "broken: "+r.Violation.Oracle)
	assert.Contains(t, f.String(), "seed 0 broke")
}

// What people read is compared with a fold of theirs; one that depends on
// where it runs is found.
func TestComparesFolds(t *testing.T) {
	runs := 0
	unsteady := func([]record.Record) string {
		runs++
		return fmt.Sprint(runs)
	}
	r := Run(1, Options{Fold: unsteady})
	require.NotNil(t, r.Violation)
	assert.Equal(t, sameFold, r.Violation.Oracle)

	var folded []record.Record
	keep := func(records []record.Record) string {
		folded = slices.Clone(records)
		return ""
	}
	require.Nil(t, Run(1, Options{Fold: keep}).Violation)
	require.NotEmpty(t, folded)
	assert.True(t, slices.IsSortedFunc(folded, func(a, b record.Record) int { return record.Compare(a.Header, b.Header) }))
}

// Each fault and each planted bug has its words.
func TestNames(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range Faults() {
		require.NotEmpty(t, f.String(), "fault %d", int(f))
		require.False(t, seen[f.String()], f.String())
		seen[f.String()] = true
	}
	for _, m := range Mutations() {
		require.NotEmpty(t, m.String(), "mutation %d", int(m))
		require.False(t, seen[m.String()], m.String())
		seen[m.String()] = true
	}
}

func BenchmarkDay(b *testing.B) {
	for i := range b.N {
		Run(uint64(i), Options{})
	}
}
