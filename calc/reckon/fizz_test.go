package reckon_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFizzPublished(t *testing.T) {
	for _, c := range []struct {
		line, key       string
		want, tolerance float64
		source          string
	}{
		{"co2 temp=20C pressure=0bar", "co2", 1.71, 0.05, "check case 59"},
		{"co2 temp=10C pressure=0bar", "co2", 2.34, 0.05, "note 6.1"},
		{"can-pressure volumes=2.7 temp=100F rating=90psi", "pressure_psi", 58.7, 1, "check case 58"},
		{"can-pressure volumes=3.5 temp=100F rating=90psi", "pressure_psi", 80.5, 1, "check case 58"},
		{"can-pressure volumes=4.0 temp=100F rating=90psi", "pressure_psi", 94.0, 1, "check case 58"},
		{"can-pressure volumes=2.5 temp=38F fermentable=4g/L", "refermented", 1, 0.01, "note 6.2"},
	} {
		assert.InDelta(t, c.want, output(t, answer(t, c.line), c.key), c.tolerance, "%s: %s", c.line, c.source)
	}
	// Mass is conserved, and spirit of 80 % gives the alcohol of the batch: 400 L
	// at 7 % are 28 L of ethanol at 20 °C, 35 L of the spirit.
	assert.InDelta(t, 35, output(t, answer(t, "mixed-drink batch=400L abv=7% sugar=60g/L spirit=80%"), "spirit_l"), 0.001)
	mixed := answer(t, "mixed-drink batch=400L abv=7% sugar=60g/L spirit=160proof")
	assert.InDelta(t, output(t, mixed, "batch_kg"), output(t, mixed, "spirit_kg")+output(t, mixed, "sugar_kg")+output(t, mixed, "water_kg"), 0.4)
	assert.InDelta(t, 24, output(t, mixed, "sugar_kg"), 0.02)
	set := answer(t, "co2 temp=4C volumes=2.6 abv=7% sugar=60g/L")
	back := answer(t, fmt.Sprintf("co2 temp=4C pressure=%fbar abv=7%% sugar=60g/L", output(t, set, "pressure_bar")))
	assert.InDelta(t, 2.6, output(t, back, "volumes"), 1e-5, "the inverse")
}

func TestFizzFaultsNameTheInput(t *testing.T) {
	for _, c := range []struct{ line, field, words string }{
		{"co2 temp=4C", "pressure", "is needed"},
		{"co2 temp=4C pressure=1bar volumes=2", "volumes", "same question"},
		{"co2 temp=4C pressure=1bar abv=25%", "abv", "above 20"},
		{"co2 temp=60C pressure=1bar", "temp", "above 50"},
		{"can-pressure volumes=2.5 temp=70C", "temp", "above 65"},
		{"mixed-drink batch=400L abv=7% spirit=5%", "spirit", "not stronger"},
		{"can-pressure volumes=2.5 temp=40C filled=355mL", "capacity", "give both"},
		{"can-pressure volumes=2.5 temp=40C filled=380mL capacity=372mL", "filled", "no headspace"},
	} {
		a := run(c.line)
		require.NotEmpty(t, a.Faults, c.line)
		assert.Equal(t, c.field, a.Faults[0].Field, c.line)
		assert.Contains(t, a.Faults[0].Error(), c.words, c.line)
	}
}

// TestFizzParity holds every build to the same digits, as TestParity does.
func TestFizzParity(t *testing.T) {
	var lines []string
	for i := range 30 {
		x := float64(i)
		lines = append(lines,
			fmt.Sprintf("co2 temp=%.1f±0.2C pressure=%.2f±0.05bar abv=%.1f%% sugar=%.0fg/L ambient=%.0fhPa", 0.5+1.5*x, 0.1*x, 0.5*x, 3*x, 1030-6*x),
			fmt.Sprintf("co2 temp=%.1fF volumes=%.2f±0.05 abv=%.1f%%", 33+1.5*x, 1+0.1*x, 0.6*x),
			fmt.Sprintf("co2 temp=%.1fC dissolved=%.1fg/L", 1.2*x, 2+0.2*x),
			fmt.Sprintf("mixed-drink batch=%.0f±0.5L abv=%.1f±0.1%% sugar=%.0fg/L spirit=%.1f%%", 20+13*x, 3+0.3*x, 4*x, 60+x),
			fmt.Sprintf("can-pressure volumes=%.1f temp=%.1f±2C abv=%.1f%% sugar=%.0fg/L filled=355mL capacity=%.0fmL fermentable=%.0fg/L", 1.5+0.08*x, 10+1.7*x, 0.4*x, 3*x, 365+0.5*x, 3*x),
		)
	}
	golden(t, "fizz", lines)
}
