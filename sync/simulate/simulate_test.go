package simulate

import (
	"testing"
)

func TestMut(t *testing.T) {
	for _, m := range Mutations() {
		var hits, seen int
		promises := map[string]int{}
		first := -1
		for seed := range 300 {
			r := Run(uint64(seed), Options{Mutation: m})
			seen++
			if r.Violation != nil {
				hits++
				promises[r.Violation.Oracle]++
				if first < 0 { first = seed }
			}
		}
		t.Logf("%-70v first %3d, %d of %d %v", m, first, hits, seen, promises)
	}
}
