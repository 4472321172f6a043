package reckon_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestCaskPublished(t *testing.T) {
	for _, c := range []struct {
		line, key       string
		want, tolerance float64
		source          string
	}{
		{"age volume=200L yearly=2% years=10", "volume", 163.4, 0.1, "check case 55, arithmetic"},
		{"age volume=200L first_year=10% yearly=4% years=4", "volume", 159.3, 0.1, "check case 56, arithmetic"},
		{"macerate spirit=10.0L strength=60% fruit=4.0kg water=85%", "strength", 45.1, 0.05, "note 5.7"},
		{"macerate spirit=10.0L strength=60% fruit=4.0kg water=85%", "liquid", 13.30, 0.005, "note 5.7"},
		{"macerate spirit=10L strength=50% fruit=5kg", "strength", 35.2, 0.05, "note 5.7"},
		{"tank dip=40cm lying=80cm length=120cm", "volume", 301.593, 0.001, "half a cylinder"},
		{"tank dip=30cm row=100L@10cm row=500L@50cm", "volume", 300, 1e-6, "straight line"},
	} {
		assert.InDelta(t, c.want, output(t, answer(t, c.line), c.key), c.tolerance, "%s: %s", c.line, c.source)
	}
	a := answer(t, "age regauge=200L@62.5% day=0d regauge=191L@62.9% day=365d regauge=183L@63.2% day=731d humidity=55% years=6 target=65%")
	assert.Less(t, output(t, a, "volume_low"), output(t, a, "volume"))
	assert.Greater(t, output(t, a, "yearly_drift"), 0.0)
}

func TestCaskFaultsNameTheInput(t *testing.T) {
	for _, c := range []struct{ line, field, words string }{
		{"age volume=200L yearly=2% years=10 drift=1%", "strength", "a drift needs"},
		{"age volume=200L yearly=2% years=10 humidity=60%", "humidity", "regauges"},
		{"age regauge=200L@62% day=0 regauge=190L@62% years=3", "day", "once for each"},
		{"age regauge=200L@62% day=0 regauge=190L@62% day=0 years=3", "day", "gauge 2"},
		{"age regauge=200L@12% day=0 years=3", "regauge", "between 20 and 80"},
		{"age regauge=200L@62% day=800 years=1", "years", "before the last gauge"},
		{"age regauge=?@62% day=0 years=1", "regauge", "no amount"},
		{"tank dip=30cm", "row", "is needed"},
		{"tank dip=90cm lying=80cm length=100cm", "dip", "above 80.0 cm"},
		{"tank dip=30cm row=100L@10cm row=50L@50cm", "row", "does not lie above"},
		{"tank dip=30cm lying=80cm", "length", "is needed"},
		{"macerate spirit=10L strength=60%", "fruit", "is needed"},
	} {
		a := run(c.line)
		require.NotEmpty(t, a.Faults, c.line)
		assert.Equal(t, c.field, a.Faults[0].Field, c.line)
		assert.Contains(t, a.Faults[0].Error(), c.words, c.line)
	}
}

// TestCaskParity holds every build to the same digits, as TestParity does.
func TestCaskParity(t *testing.T) {
	var lines []string
	for i := range 30 {
		x := float64(i)
		lines = append(lines,
			fmt.Sprintf("age volume=%.1f±0.5L yearly=%.1f±0.3%% first_year=%.1f%% strength=%.1f%% drift=%.2f%% years=%.1f", 50+5*x, 1+0.2*x, 5+0.1*x, 55+0.3*x, -0.6+0.05*x, 0.5*x),
			fmt.Sprintf("age regauge=%.1fL@62.5%% day=0 regauge=%.1fL@%.1f%% day=400d regauge=%.1fL@%.1f%% day=800d humidity=%.0f%% years=%.1f target=%.1f%%", 190+x, 182+0.9*x, 62+0.03*x, 175+0.8*x, 61.6+0.06*x, 45+x, 3+0.3*x, 60+0.2*x),
			fmt.Sprintf("age regauge=%.1flb@125proof day=0 years=%.1f", 300+5*x, 1+0.4*x),
			fmt.Sprintf("tank dip=%.1f±0.2cm row=60L@10cm row=400L@50cm row=830L@100cm", 9+3*x),
			fmt.Sprintf("tank dip=%.1f±0.1in lying=%.1fcm length=%.1f±0.3cm", 1+x, 80+x, 120+2*x),
			fmt.Sprintf("tank dip=%.1f±0.2cm upright=%.1fcm", 5+4*x, 60+2*x),
			fmt.Sprintf("macerate spirit=%.1f±0.1L strength=%.1f%% fruit=%.1fkg water=%.0f%%", 10+x, 40+1.5*x, 1+0.4*x, 70+0.5*x),
		)
	}
	golden(t, "cask", lines)
}

// golden holds the answers to lines to testdata/parity/<name>.golden.
func golden(t *testing.T, name string, lines []string) {
	t.Helper()
	var got strings.Builder
	faults := 0
	for _, line := range lines {
		a := run(line)
		if len(a.Faults) > 0 {
			faults++
		}
		got.WriteString(line + ": " + answerLine(a) + "\n")
	}
	sameAsFile(t, "../../testdata/parity/"+name+".golden", got.String())
	assert.Less(t, faults, len(lines)/5, "most cases must have an answer, or nothing is compared")
}
