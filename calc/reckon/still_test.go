package reckon_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/fault"
	"gaugebook/calc/reckon"
)

func asked(t *testing.T, line string) reckon.Answer {
	t.Helper()
	name, rest, _ := strings.Cut(line, " ")
	var given []reckon.Given
	for _, arg := range strings.Fields(rest) {
		key, text, _ := strings.Cut(arg, "=")
		given = append(given, reckon.Given{Key: key, Text: text})
	}
	return reckon.Run(name, given)
}

func valueOf(t *testing.T, a reckon.Answer, key string) float64 {
	t.Helper()
	require.Empty(t, a.Faults)
	i := slices.IndexFunc(a.Outputs, func(v reckon.Value) bool { return v.Key == key })
	require.GreaterOrEqual(t, i, 0, key)
	return decimal.RequireFromString(a.Outputs[i].Text).InexactFloat64()
}

func TestBoilAndBatch(t *testing.T) {
	for _, c := range []struct {
		line, key       string
		want, tolerance float64
		source          string
	}{
		{"boil liquid=40% pressure=760mmHg", "boiling", 83.9, 0.4, "check case 28"},
		{"boil liquid=40% pressure=760mmHg", "vapour_strength", 79.5, 1.2, "check case 28"},
		{"boil temp=78.15C pressure=1013.25hPa", "vapour_mole", 0.8943, 0.0001, "the azeotrope (Carey and Lewis)"},
		{"boil temp=84.1C pressure=1013.25hPa", "liquid_mole", 0.1661, 0.02, "Carey and Lewis"},
		{"boil temp=84.1C pressure=1013.25hPa", "vapour_mole", 0.5089, 0.015, "Carey and Lewis"},
		{"boil liquid=0% pressure=760mmHg", "water", 100, 0.01, "water"},
		{"boil liquid=80proof pressure=760mmHg", "vapour_strength", 159, 2.4, "check case 28"},
		{"boil liquid=0% altitude=300m", "boiling", 99, 0.1, "1 °C in 300 m (shared note 3.3)"},
		{"batch charge=1000L strength=8% end_still=0.1% pressure=1013.25hPa", "volume", 400, 20, "check case 29"},
		{"batch charge=1000L strength=8% end_still=0.1% pressure=1013.25hPa", "drawn_strength", 19.9, 1.2, "check case 29"},
		{"batch charge=1000L strength=8% end_still=0.1% pressure=1013.25hPa", "recovery", 99.25, 0.3, "check case 29"},
	} {
		assert.InDelta(t, c.want, valueOf(t, asked(t, c.line), c.key), c.tolerance, "%s: %s (%s)", c.line, c.key, c.source)
	}
	for line, code := range map[string]fault.Code{
		"boil liquid=98%":                          fault.TooHigh,
		"boil temp=70C":                            fault.TooLow,
		"boil liquid=40% temp=84C":                 fault.Conflict,
		"boil liquid=40% pressure=1000 altitude=3": fault.Conflict,
		"batch charge=300L strength=25%":           fault.Missing,
		"batch charge=300L strength=25% end=90%":   fault.Conflict,
		"batch charge=300L strength=99% end=60%":   fault.TooHigh,
		"batch charge=0L strength=25% end=60%":     fault.TooLow,
		"batch charge=300L strength=0% end=60%":    fault.TooLow,
	} {
		a := asked(t, line)
		require.NotEmpty(t, a.Faults, line)
		assert.Equal(t, code, a.Faults[0].Code, "%s: %v", line, a.Faults)
	}
}

// The last row of the curve is the answer.
func TestCurveEndsInTheAnswer(t *testing.T) {
	for _, line := range []string{
		"batch charge=300L strength=25% plates=0.4 end=60% heat_kw=12",
		"batch charge=53gal strength=50proof plates=2.4 reflux=1.5 end=120proof pressure=980hPa",
	} {
		a := asked(t, line)
		require.Empty(t, a.Faults)
		for _, row := range a.Table.Rows {
			require.Len(t, row, len(a.Table.Columns))
		}
		last := a.Table.Rows[len(a.Table.Rows)-1]
		at := func(prefix string) float64 {
			i := slices.IndexFunc(a.Table.Columns, func(o reckon.Output) bool { return strings.HasPrefix(o.Key, prefix) })
			require.GreaterOrEqual(t, i, 0, prefix)
			return decimal.RequireFromString(last[i]).InexactFloat64()
		}
		assert.InDelta(t, valueOf(t, a, "drawn_strength"), at("collected_"+map[bool]string{true: "proof", false: "abv"}[strings.Contains(line, "proof")]), 0.001)
		assert.InDelta(t, valueOf(t, a, "left_strength"), at("still_"), 0.001)
		if !strings.Contains(line, "gal") {
			assert.InDelta(t, valueOf(t, a, "lpa"), at("collected_lpa"), 0.001)
			continue
		}
		assert.InDelta(t, valueOf(t, a, "volume")*valueOf(t, a, "drawn_strength")/100, at("collected_pg"), 0.001, "gallons × proof ÷ 100 (27 CFR 30.51)")
	}
}

const stillGolden = "../../testdata/parity/still.golden"

// TestStillParity holds every build to the same digits, as TestParity does.
func TestStillParity(t *testing.T) {
	var golden strings.Builder
	for _, p := range []string{"700", "851.3", "955", "1013.25", "1042.7"} {
		var lines []string
		for _, abv := range []string{"0", "0.3", "4.7", "8", "23.5", "40", "61.2", "88.8", "96.9"} {
			lines = append(lines, fmt.Sprintf("boil liquid=%s±0.2%% pressure=%s±1hPa", abv, p), fmt.Sprintf("boil vapour=%s%% pressure=%shPa", abv, p))
		}
		for _, temp := range []string{"79.1±0.2C", "84.4C", "190.3F", "93.7±0.3C"} {
			lines = append(lines, fmt.Sprintf("boil temp=%s pressure=%shPa", temp, p))
		}
		for _, way := range []string{"", "plates=0.45", "plates=2.4 reflux=1.5", "plates=5 reflux=3"} {
			for _, charge := range []string{"charge=312±2L strength=8.3±0.1%", "charge=80gal strength=53proof"} {
				lines = append(lines, fmt.Sprintf("batch %s %s pressure=%shPa end_still=0.7%% heat_kw=14", charge, way, p))
			}
		}
		for _, line := range lines {
			a := asked(t, line)
			golden.WriteString(line + ": " + answerLine(a))
			if a.Table != nil {
				for _, i := range []int{0, len(a.Table.Rows) / 3, len(a.Table.Rows) - 1} {
					golden.WriteString(" | " + strings.Join(a.Table.Rows[i], ","))
				}
			}
			golden.WriteString("\n")
		}
	}
	if *update {
		require.NoError(t, os.WriteFile(stillGolden, []byte(golden.String()), 0o644))
	}
	want, err := os.ReadFile(stillGolden)
	require.NoError(t, err)
	wantLines, gotLines := strings.Split(string(want), "\n"), strings.Split(golden.String(), "\n")
	require.Len(t, gotLines, len(wantLines))
	for i := range wantLines {
		require.Equal(t, wantLines[i], gotLines[i])
	}
	require.Less(t, strings.Count(golden.String(), "fault:"), len(gotLines)/5, "most cases must have an answer, or nothing is compared")
}
