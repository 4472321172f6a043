package reckon_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDutyPublished(t *testing.T) {
	for _, c := range []struct {
		line, key, want, source string
	}{
		{"tax proof_gallons=100000", "tax", "270000.00", "26 USC 5001"},
		{"tax proof_gallons=100001", "tax", "270013.34", "26 USC 5001"},
		{"tax proof_gallons=22230000", "tax", "295484200.00", "26 USC 5001"},
		{"tax proof_gallons=1 before=100000 year=2026", "tax", "13.34", "26 USC 5001"},
		{"effective-rate spirits=2249.1 wine=2265.0gal@14% wine=1020.0gal@19% flavours=100.9 rate=13.50USD", "rate", "10.27", "27 CFR 19.246(c)"},
		{"effective-rate spirits=2249.1 wine=2265.0gal@14% wine=1020.0gal@19% flavours=100.9 rate=13.50USD", "excess", "16.6", "27 CFR 19.246(c)"},
		{"due-date year=2026 month=9 day=20 electronic=1", "due", "2026-09-29", "27 CFR 19.237"},
		{"due-date year=2026 month=9 day=20", "due", "2026-09-28", "27 CFR 19.237"},
		{"due-date year=2026 month=2 day=3", "due", "2026-02-27", "27 CFR 19.236, 1 March is a Sunday"},
		{"due-date year=2026 month=2 day=3 owed=50000", "due", "2026-04-14", "27 CFR 19.235"},
	} {
		a := answer(t, c.line)
		found := ""
		for _, v := range a.Outputs {
			if v.Key == c.key {
				found = v.Text
			}
		}
		assert.Equal(t, c.want, found, "%s (%s)", c.line, c.source)
	}
}

func TestDutyFaultsNameTheInput(t *testing.T) {
	for _, c := range []struct{ line, field, words string }{
		{"tax", "proof_gallons", "is needed"},
		{"tax proof_gallons=1 allowance=100001", "allowance", "controlled group"},
		{"tax proof_gallons=1 year=2026.5", "year", "whole"},
		{"tax proof_gallons=1 year=2010", "year", "below 2018"},
		{"effective-rate spirits=0 rate=13.50USD", "spirits", "nothing with alcohol"},
		{"effective-rate spirits=1 wine=?@12% rate=13.50USD", "wine", "no amount"},
		{"due-date year=2026 month=2 day=30", "day", "not a day"},
	} {
		a := run(c.line)
		require.NotEmpty(t, a.Faults, c.line)
		assert.Equal(t, c.field, a.Faults[0].Field, c.line)
		assert.Contains(t, a.Faults[0].Error(), c.words, c.line)
	}
}

// TestDutyParity holds every build to the same digits, as TestParity does.
func TestDutyParity(t *testing.T) {
	var lines []string
	for i := range 24 {
		lines = append(lines,
			fmt.Sprintf("tax proof_gallons=%d.%d before=%d", 17+31*i, i%10, 99000+60*i),
			fmt.Sprintf("effective-rate spirits=%d.%d wine=%d.5gal@%d%% flavours=%d rate=13.34USD", 100+7*i, i%10, 30+i, 8+i/2, i),
			fmt.Sprintf("due-date year=%d month=%d day=%d electronic=%d", 2020+i, 1+i%12, 1+i, i%2),
		)
	}
	golden(t, "duty", lines)
}
