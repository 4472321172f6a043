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

	"gaugebook/calc/must"
	"gaugebook/calc/reckon"
)

// answer runs "name key=text key=text" and wants no fault.
func answer(t *testing.T, line string) reckon.Answer {
	t.Helper()
	a := run(line)
	require.Empty(t, a.Faults, line)
	return a
}

func run(line string) reckon.Answer {
	fields := strings.Fields(line)
	var given []reckon.Given
	for _, f := range fields[1:] {
		key, text, _ := strings.Cut(f, "=")
		given = append(given, reckon.Given{Key: key, Text: text})
	}
	return reckon.Run(fields[0], given)
}

func output(t *testing.T, a reckon.Answer, key string) float64 {
	t.Helper()
	i := slices.IndexFunc(a.Outputs, func(v reckon.Value) bool { return v.Key == key })
	require.GreaterOrEqual(t, i, 0, "%s of %s", key, a.Name)
	return decimal.RequireFromString(a.Outputs[i].Text).InexactFloat64()
}

// Each with the source that prints or gives the figure.
func TestMustPublished(t *testing.T) {
	for _, c := range []struct {
		line, key       string
		want, tolerance float64
		source          string
	}{
		{"gravity hydrometer=1.050sg temp=20C", "brix", 12.39, 0.02, "ASBC fit"},
		{"gravity hydrometer=1.040sg temp=20C", "brix", 9.99, 0.02, "ASBC fit"},
		{"gravity hydrometer=15.0 temp=20C", "sg", 1.0611, 0.0002, "NBS Circular 440"},
		{"gravity hydrometer=20.0 temp=20C", "sugar", 216.2, 0.4, "NBS Circular 440"},
		{"gravity hydrometer=20.0 temp=28C", "brix", 20.54, 0.03, "NBS Circular 440 temperature table, from memory"},
		{"gravity hydrometer=10.0 temp=15C", "brix", 9.76, 0.03, "NBS Circular 440 temperature table, from memory"},
		{"extract original=12.39 present=2.56", "abv20", 5.32, 0.05, "Balling, from memory"},
		{"extract original=12.39 present=2.56", "real_extract", 4.34, 0.05, "Balling, from memory"},
		{"extract original=12.39 present=2.56", "apparent_attenuation", 79.3, 0.3, "arithmetic"},
		{"potential rye=1t", "lpa_low", 260, 0.01, "German rate, 26 L from 100 kg of milled grain"},
		{"dilute-wash weight=250kg brix=80 target=18", "water_weight", 861.1, 0.1, "mass balance"},
		{"nutrient volume=1000L brix=20 yan=100mg/L", "missing", 80, 0.001, "9 mg/L per Bx, from memory"},
		{"cooling start=100C now=60C elapsed=30min coolant=20C target=40C", "minutes", 30, 0.5, "Newton's law: 80 K to 40 K is half, 40 K to 20 K is half again"},
		{"enzyme fruit=1500kg per_tonne=40mL temp=18C", "dose", 60, 0.01, "arithmetic"},
		{"enzyme fruit=1500kg per_tonne=40mL temp=50F", "dose", 120, 0.01, "doubled below 15 °C, a fruit-wine society, second-hand"},
		{"strike grain=100kg grain_temp=20C water=300L target=65C", "strike_c", 71.15, 0.3, "0.41 over litres a kg, customary, from memory"},
	} {
		assert.InDelta(t, c.want, output(t, answer(t, c.line), c.key), c.tolerance, "%s: %s", c.line, c.source)
	}
}

func TestMustFaultsNameTheInput(t *testing.T) {
	for _, c := range []struct{ line, field, words string }{
		{"gravity hydrometer=8", "temp", "is needed"},
		{"gravity refractometer=14 calibration=20C", "calibration", "refractometer"},
		{"gravity hydrometer=35 temp=28C", "hydrometer", "30 Bx"},
		{"gravity hydrometer=12 refractometer=12 temp=20C", "refractometer", "same question"},
		{"extract original=10 present=12", "present", "above the original"},
		{"potential damson=100kg plum=100kg", "plum", "same question"},
		{"potential rye=100kg brix=12", "brix", "no juice"},
		{"strike grain=300kg grain_temp=5C water=300L target=80C", "target", "above 95 °C"},
		{"dilute-wash weight=100kg brix=18 target=20", "target", "does not lie"},
		{"nutrient volume=100L brix=20 abv=10.5%", "abv", "above 10"},
		{"nutrient volume=100L brix=20 nitrogen=46%", "nitrogen", "above 25"},
		{"cooling start=60C now=65C elapsed=30min coolant=20C target=30C", "now", "does not lie"},
		{"cooling start=65C now=45C elapsed=30min coolant=20C target=18C", "target", "cannot be reached"},
		{"enzyme fruit=100kg per_tonne=40mL temp=60C", "temp", "above 50 °C"},
		{"acid mash=800L sample=1L step=0mL@3.8pH target=3.2", "step", "at least two"},
		{"acid mash=800L sample=1kg step=0mL@3.8pH step=1mL@3.1pH target=3.2", "sample", "not measured like"},
		{"acid mash=800L sample=1L step=0mL@3.8pH step=?@3.1pH target=3.2", "step", "no amount"},
		{"acid mash=800L sample=1L step=0mL@3.8pH step=1mL@3.5pH target=3.2", "target", "below the last reading"},
	} {
		a := run(c.line)
		require.NotEmpty(t, a.Faults, c.line)
		assert.Equal(t, c.field, a.Faults[0].Field, c.line)
		assert.Contains(t, a.Faults[0].Error(), c.words, c.line)
	}
}

// Every material of the tables can be asked for.
func TestPotentialKnowsEveryMaterial(t *testing.T) {
	for _, m := range must.Materials() {
		a := answer(t, "potential "+strings.ReplaceAll(m.Name, " ", "_")+"=100kg")
		assert.Positive(t, output(t, a, "lpa"), m.Name)
	}
}

const mustGolden = "../../testdata/parity/must.golden"

// TestMustParity holds every build to the same digits, as TestParity does.
func TestMustParity(t *testing.T) {
	var got strings.Builder
	for i := range 40 {
		x := float64(i)
		for _, line := range []string{
			fmt.Sprintf("gravity hydrometer=%.1f±0.2 temp=%.1fC", -3+0.8*x, 1+0.85*x),
			fmt.Sprintf("gravity hydrometer=%.4fsg temp=%.1fF calibration=60F", 0.99+0.003*x, 40+1.2*x),
			fmt.Sprintf("gravity refractometer=%.1f temp=%.1fC", 0.7*x, 10+0.5*x),
			fmt.Sprintf("extract original=%.1f present=%.2fsg", 5+0.8*x, 0.99+0.0005*x),
			fmt.Sprintf("potential damson=%.1fkg brix=%.1f", 10+37*x, 5+0.5*x),
			fmt.Sprintf("strike grain=%.1fkg grain_temp=%.1fC water=%.1fL target=%.1fC", 50+x, 0.5*x, 200+3*x, 38+0.7*x),
			fmt.Sprintf("cooling start=%.1fC now=%.1fC elapsed=%.0fmin coolant=%.1fC target=%.1fC", 60+0.5*x, 40+0.4*x, 10+x, 8+0.3*x, 22+0.2*x),
			fmt.Sprintf("enzyme fruit=%.1fkg per_tonne=%.1fmL temp=%.1fC", 50+37*x, 20+x, 5+x),
			fmt.Sprintf("dilute-wash wash=%.1fL brix=%.1f target=%.1f", 100+11*x, 60+0.7*x, 10+0.4*x),
			fmt.Sprintf("nutrient volume=%.1fL brix=%.1f yan=%.0fmg/L", 50+13*x, 8+0.5*x, 5*x),
			fmt.Sprintf("acid mash=%.1fL sample=1L step=0mL@3.9pH step=1mL@3.5±0.02pH step=2.5±0.1mL@2.9pH target=%.2f", 50+13*x, 3+0.02*x),
		} {
			got.WriteString(line + ": " + answerLine(run(line)) + "\n")
		}
	}
	if *update {
		require.NoError(t, os.WriteFile(mustGolden, []byte(got.String()), 0o644))
	}
	want, err := os.ReadFile(mustGolden)
	require.NoError(t, err)
	wantLines, gotLines := strings.Split(string(want), "\n"), strings.Split(got.String(), "\n")
	require.Len(t, gotLines, len(wantLines))
	faults := 0
	for i := range wantLines {
		require.Equal(t, wantLines[i], gotLines[i])
		if strings.Contains(gotLines[i], ": fault: ") {
			faults++
		}
	}
	assert.Less(t, faults, len(gotLines)/5, "most cases must have an answer, or nothing is compared")
}
