package reckon_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFillPublished(t *testing.T) {
	for _, c := range []struct {
		line, key       string
		want, tolerance float64
		source          string
	}{
		{"net-contents empty=0g full=710.2g strength=40.0%", "net_ml", 750, 0.06, "note 7.2"},
		{"net-contents empty=0g full=712.3g strength=80.0proof", "net_ml", 750, 0.1, "note 7.2, 60 °F"},
		{"net-contents empty=0g full=712.3g strength=80.0proof", "net_g", 712.3, 1e-9, "arithmetic"},
		{"net-contents volume=752.7mL temp=25C strength=40%", "net_ml", 750, 0.1, "note 7.2"},
		{"net-contents empty=500g full=1210.2g strength=40% size=750mL", "target_g", 710.2, 0.05, "note 7.2"},
		{"net-contents empty=500g full=1210.2g strength=40% size=750mL", "least_ml", 735, 1e-9, "27 CFR 19.356"},
		{"fill-sample size=375mL bottle=375 bottle=376", "least_ml", 363.75, 1e-9, "27 CFR 19.356"},
		{"fill-sample size=1L bottle=1000 bottle=1001 lot=3201", "wanted", 48, 0, "NIST Handbook 133, from memory"},
		{"bottles tank=1520L strength=40% heel=18L loss=0% size=750mL per_case=12", "cases", 166, 0, "arithmetic"},
	} {
		assert.InDelta(t, c.want, output(t, answer(t, c.line), c.key), c.tolerance, "%s: %s", c.line, c.source)
	}
}

func TestFillFaultsNameTheInput(t *testing.T) {
	for _, c := range []struct{ line, field, words string }{
		{"net-contents empty=500g full=400g strength=40%", "full", "not more than the empty"},
		{"net-contents empty=500g strength=40%", "full", "is needed"},
		{"net-contents empty=500g full=1200g", "strength", "is needed"},
		{"net-contents empty=500g full=1200g strength=40% base=18C", "base", "60 °F or 20 °C"},
		{"net-contents volume=750mL temp=20C density=950kg/m3", "density", "grows with warmth"},
		{"fill-sample size=750mL bottle=750", "bottle", "at least two"},
		{"fill-sample size=750mL bottle=750 bottle=751 lot=1", "lot", "fewer than"},
		{"bottles tank=10L strength=40% heel=11L size=750mL", "heel", "more than the tank"},
		{"bottles tank=10L strength=40% size=750mL per_case=2.5", "per_case", "whole"},
	} {
		a := run(c.line)
		require.NotEmpty(t, a.Faults, c.line)
		assert.Equal(t, c.field, a.Faults[0].Field, c.line)
		assert.Contains(t, a.Faults[0].Error(), c.words, c.line)
	}
}

// TestFillParity holds every build to the same digits, as TestParity does.
func TestFillParity(t *testing.T) {
	var lines []string
	for i := range 24 {
		x := float64(i)
		lines = append(lines,
			fmt.Sprintf("net-contents empty=%.1f±0.5g full=%.1f±0.5g strength=%.1f±0.1%% size=750mL", 400+7*x, 1108+7.1*x, 35+0.5*x),
			fmt.Sprintf("net-contents volume=%.1f±1mL temp=%.1fF strength=%.1fproof size=750mL", 740+0.9*x, 50+1.5*x, 70+x),
			fmt.Sprintf("net-contents empty=%.1fg full=%.1fg density=%.1fkg/m3 base=60F", 300+x, 1000+x, 1000+3*x),
			fmt.Sprintf("fill-sample size=750mL bottle=%.1f±0.5 bottle=%.1f bottle=%.1f bottle=%.1f bottle=%.1f lot=%d", 748+0.2*x, 749+0.1*x, 751.3-0.15*x, 750+0.05*x, 745+0.2*x, 100+200*i),
			fmt.Sprintf("bottles tank=%.1f±2L temp=%.1f±0.3C strength=%.1f%% heel=%.1fL size=700mL per_case=6 glass=%d cartons=%d", 300+37*x, 8+x, 38+x, 5+x, 500+50*i, 80+8*i),
		)
	}
	golden(t, "fill", lines)
}
