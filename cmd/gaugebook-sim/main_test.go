package main

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/sync/simulate"
)

// The real storage keeps every promise that the model of it keeps.
func TestRealStorage(t *testing.T) {
	dir := t.TempDir()
	o := simulate.Options{Open: func() simulate.Storage { return openSQLite(dir) }}
	var all simulate.Coverage
	for seed := range uint64(40) {
		r := simulate.Run(seed, o)
		require.Nil(t, r.Violation, "replay: go run ./cmd/gaugebook-sim -sqlite -seed %d -trace", seed)
		all.Add(r.Coverage)
	}
	for _, f := range []simulate.Fault{simulate.Restore, simulate.ServerCrash, simulate.ServerCrashBeforeCommit, simulate.ServerCrashAfterCommit} {
		assert.Positive(t, all.Faults[f], "times the fault “%v” struck", f)
	}
}

func TestCommand(t *testing.T) {
	for _, c := range []struct {
		args       string
		out, fault string // parts of them
	}{
		{args: "-seeds 20 -first 5", out: "20 days from seed 5"},
		{args: "-seed 3", out: "seed 3: every promise was kept"},
		{args: "-seed 3 -trace", out: "everything is mended"},
		{args: "-seed 3 -trace -mutation 1", out: "it takes", fault: "acknowledged means on disk"},
		{args: "-seed 3 -mutation 99", fault: "the planted bugs are 1 to"},
		{args: "-parties 30", out: "30 parties with one error each"},
		{args: "-nonsense", fault: "not defined"},
	} {
		t.Run(c.args, func(t *testing.T) {
			var out, complaints bytes.Buffer
			err := run(context.Background(), strings.Fields(c.args), &out, &complaints)
			assert.Contains(t, out.String(), c.out)
			if c.fault == "" {
				require.NoError(t, err)
			} else {
				require.ErrorContains(t, err, c.fault)
			}
		})
	}
}
