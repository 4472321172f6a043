package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/reckon"
)

// calc runs `gaugebook calc` with the words of args.
func calc(t *testing.T, stdin, args string) (stdout, stderr string, err error) {
	t.Helper()
	var out, errs bytes.Buffer
	err = run(t.Context(), append([]string{"calc"}, strings.Fields(args)...), strings.NewReader(stdin), &out, &errs)
	return out.String(), errs.String(), err
}

// flat is the one JSON object that args answer with.
func flat(t *testing.T, args string) map[string]json.RawMessage {
	t.Helper()
	out, stderr, err := calc(t, "", args+" --json")
	require.NoError(t, err, "%s\n%s", args, out)
	require.Empty(t, stderr)
	require.Equal(t, 1, strings.Count(out, "\n"), "one object on one line: %q", out)
	var o map[string]json.RawMessage
	require.NoError(t, json.Unmarshal([]byte(out), &o), "%q", out)
	return o
}

// member is one output of flat.
type member struct {
	Value any      `json:"value"`
	Unit  *string  `json:"unit"`
	U     *float64 `json:"u"`
}

func output(t *testing.T, o map[string]json.RawMessage, key string) member {
	t.Helper()
	require.Contains(t, o, key)
	var m member
	require.NoError(t, json.Unmarshal(o[key], &m))
	return m
}

func TestCalcPublished(t *testing.T) {
	const (
		cfr   = "27 CFR "
		bench = "computed case of the trade's check list, "
	)
	for _, c := range []struct {
		args, key string
		want, tol float64
		source    string
	}{
		{"true-proof indicated=192.85 temp=72.10F indicated_correction=-0.03 temp_correction=0.05", "true_proof", 190.0, 0, cfr + "30.23"},
		{"true-proof indicated=192.85 temp=72.10F indicated_correction=-0.03 temp_correction=0.05", "true_proof_unrounded", 189.972, 0, cfr + "30.23"},
		{"true-proof indicated=193 temp=75F", "true_proof", 189.5, 0, cfr + "30.23, quoted cell"},
		{"true-proof indicated=192 temp=73F", "true_proof", 188.9, 0, cfr + "30.23, quoted cell"},
		{"true-proof indicated=192.9 temp=74.9", "true_proof", 189.4, 0.1, cfr + "30.23, computed beside the cell 193 at 75"},
		{"obscuration residue=0.125g sample=25mL apparent=88", "obscuration", 2.0, 0, cfr + "30.32(b)"},
		{"obscuration residue=0.125 sample=25 apparent=88", "true_proof", 90.0, 0, cfr + "30.32(b)"},
		{"gauge-weight net=500 proof=60 sg60=1.05", "wine_gallons", 57.2, 0.05, cfr + "30.41: 500 × 0.120074 ÷ 1.05 = 57.178"},
		{"gauge-weight net=500 proof=60 sg60=1.05", "proof_gallons", 34.3, 0.05, cfr + "30.41: 57.178 × 0.6 = 34.307"},
		{"fill-package gallons=1 proof=190", "ounces", 13, 0, cfr + "30.44(b)"},
		{"fill-package gallons=2 proof=190", "weight", 13.63, 0, cfr + "30.44(b)"},
		{"fill-package gallons=10 proof=190", "pounds", 68, 0, cfr + "30.44(b)"},
		{"fill-package gallons=1 proof=192", "weight", 6.81, 0, cfr + "30.44(b)"},
		{"fill-package gallons=2 proof=192", "ounces", 9, 0, cfr + "30.44(b)"},
		{"fill-package gallons=5 proof=192", "weight", 33.81, 0, cfr + "30.44(b)"},
		{"fill-package gallons=10 proof=192", "proof_gallons", 19.2, 0, cfr + "30.44(b)"},
		{"fill-package gallons=1 proof=200", "weight", 6.63, 0, cfr + "30.44(b)"},
		{"fill-package gallons=2 proof=200", "ounces", 4, 0, cfr + "30.44(b)"},
		{"fill-package gallons=5 proof=200", "weight", 33.06, 0, cfr + "30.44(b)"},
		{"fill-package gallons=10 proof=200", "weight", 66.13, 0.011, cfr + "30.44(b), printed 66.12 against the other rows' rounding"},
		{"gauge-volume volume=4308.48gal temp=72F proof=86.8", "volume_60f", 4286.94, 0, cfr + "30.51"},
		{"gauge-volume volume=4308.48gal temp=72F proof=86.8", "proof_gallons", 3721.1, 0, cfr + "30.51"},
		{"gauge-volume volume=4308.48 temp=72 proof=86.8 table7=0.995", "proof_gallons", 3721.1, 0, cfr + "30.51, printed factor"},
		{"gauge-weight net=60378lb proof=190", "proof_gallons", 16884.1, 2, cfr + "30.63"},
		{"gauge-weight net=81000lb proof=190", "wine_gallons", 11921.6, 2, cfr + "30.64"},
		{"gauge-weight net=81000lb proof=190", "proof_gallons", 22650.8, 2, cfr + "30.64"},
		{"gauge-weight net=81000lb proof=190 table4=0.14718", "wine_gallons", 11921.6, 0, cfr + "30.64, printed factor"},
		{"water-by-table4 net=1000lb proof_gallons=302.58 per_pound=0.27964", "water_weight", 82.03, 0, cfr + "30.64"},
		{"reduce weight=1000lb from=200 to=190", "water_weight", 82.03, 0.1, cfr + "30.64"},
		{"water-per-100 from=191 to=188", "water_as_printed", 1.84, 0, cfr + "30.66"},
		{"water-per-100 from=191 to=188", "water", 1.89, 0, cfr + "30.66, quotient as it is"},
		{"water-per-100 from=112 to=100", "water", 12.42, 0.01, "Table 6, 1.12 × 53.73 − 47.75"},
		{"reduce volume=100gal from=191proof to=188proof", "water_volume", 1.86, 0.04, cfr + "30.66, 1.82 to 1.90"},
		{"gauge-cases cases=1 bottles=48 size=200mL proof=80", "wine_gallons", 2.536051, 0, "the regulator's conversion page"},
		{"true-strength indicated=40.0 temp=25C", "abv20", 38.0, 0.1, "OIML R 22"},
		{"strength abv20=40", "density", 948.05, 0.02, "OIML R 22"},
		{"strength abv20=40%", "mass_percent", 33.30, 0.01, "OIML R 22"},
		{"strength abv20=40 temp=15C", "density", 951.33, 0.03, "OIML R 22"},
		{"strength mass_percent=100 temp=40", "density", 771.93, 0.02, "OIML R 22"},
		{"reduce volume=100L from=70% to=40%", "water_volume", 77.49, 0.1, bench + "OIML R 22"},
		{"reduce volume=100L from=70% to=40%", "final_volume", 175.00, 0.1, bench + "OIML R 22"},
		{"reduce volume=50L from=72% to=45%", "water_volume", 31.19, 0.05, bench + "OIML R 22"},
		{"blend part=100L@70% part=100L@40%", "volume", 199.39, 0.03, bench + "OIML R 22"},
		{"blend part=100L@70% part=100L@40%", "strength", 55.17, 0.03, bench + "OIML R 22"},
		{"blend part=50mL@100% part=50mL@0%", "volume", 0.09646, 0.00005, bench + "OIML R 22"},
		{"sweetened apparent=37.6% sugar=10g/L", "abv20", 40, 0.2, bench + "Tabarié"},
		{"liqueur spirit=10.0L strength=60% water=5.0kg sugar=3.0kg", "volume", 16.73, 0.05, bench + "mass and apparent volume"},
		{"liqueur spirit=10.0L strength=60% water=5.0kg sugar=3.0kg", "abv20", 35.86, 0.1, bench + "mass and apparent volume"},
		{"liqueur spirit=10.0L strength=60% water=5.0kg sugar=3.0kg", "sugar_g_l", 179, 0.5, bench + "mass and apparent volume"},
		{"liqueur spirit=10.0L strength=60% water=5.0kg sugar=3.0kg", "density", 1021.5, 0.5, bench + "mass and apparent volume"},
	} {
		got, ok := output(t, flat(t, c.args), c.key).Value.(float64)
		require.True(t, ok, "%s: %s is a JSON number", c.args, c.key)
		assert.LessOrEqual(t, math.Abs(got-c.want), c.tol+1e-9, "%s: %s is %v, want %v ± %v (%s)", c.args, c.key, got, c.want, c.tol, c.source)
	}
}

// TestCalcWorking holds the steps of 30.23's example to those the section prints.
func TestCalcWorking(t *testing.T) {
	const args = "true-proof indicated=192.85 temp=72.10 indicated_correction=-0.03 temp_correction=0.05 --working"
	o := flat(t, args)
	var steps []string
	require.NoError(t, json.Unmarshal(o["working"], &steps))
	text := strings.Join(steps, "\n")
	out, _, err := calc(t, "", args)
	require.NoError(t, err)
	for _, printed := range []string{"192.82", "72.15", "1.1 × 0.82 = 0.902", "-0.2 × 0.15 = -0.03", "189.972", "190.0"} {
		assert.Contains(t, text, printed)
		assert.Contains(t, out, printed)
	}
	assert.JSONEq(t, `"from the printed table"`, string(o["method"]))
	assert.NotContains(t, flat(t, strings.TrimSuffix(args, " --working")), "working")

	cold := "true-proof indicated=100 temp=40F"
	out, _, err = calc(t, "", cold)
	require.NoError(t, err)
	assert.Contains(t, out, "Below 45 °F", "a caution stands under the answer")
	require.NoError(t, json.Unmarshal(flat(t, cold+" --working")["working"], &steps))
	assert.Contains(t, steps[len(steps)-1], "Below 45 °F", "and at the end of the working")
}

// TestCalcEveryCalculation answers each example of the catalogue in every form.
func TestCalcEveryCalculation(t *testing.T) {
	list, _, err := calc(t, "", "")
	require.NoError(t, err)
	contract := map[string]string{
		"true-proof":    "true_proof true_proof_unrounded u",
		"true-strength": "abv20 abv20_unrounded u",
		"strength":      "proof abv20 abv15 abv60f mass_percent density sg60",
		"gauge-weight":  "wine_gallons proof_gallons litres20 lpa",
		"gauge-volume":  "volume_60f volume_20c proof_gallons lpa",
		"reduce":        "water_volume water_weight final_volume final_weight contraction",
		"blend":         "volume weight strength",
		"obscuration":   "obscuration true_proof rule",
		"liqueur":       "volume abv20 sugar_g_l density",
	}
	for _, c := range reckon.All() {
		assert.Contains(t, list, c.Name)
		about, _, err := calc(t, "", c.Name)
		require.NoError(t, err)
		assert.Contains(t, about, c.Source)
		for _, in := range c.Inputs {
			assert.Contains(t, about, "  "+in.Key+" ")
			assert.Contains(t, about, in.Ranges())
			for _, unit := range in.Units() {
				assert.Contains(t, about, unit)
			}
		}
		o := flat(t, c.Name+exampleArgs(c)+" --working")
		for key, raw := range o {
			switch key {
			case "method":
				var s string
				require.NoError(t, json.Unmarshal(raw, &s))
				assert.NotEmpty(t, s, c.Name)
			case "curve":
				var curve struct {
					Columns []map[string]string
					Rows    [][]float64
				}
				require.NoError(t, json.Unmarshal(raw, &curve))
				require.NotEmpty(t, curve.Rows, c.Name)
				assert.Len(t, curve.Rows[0], len(curve.Columns), c.Name)
			case "working":
				var steps []string
				require.NoError(t, json.Unmarshal(raw, &steps))
				assert.NotEmpty(t, steps, c.Name)
			default:
				m := output(t, o, key)
				assert.NotNil(t, m.Value, "%s %s", c.Name, key)
				assert.NotNil(t, m.Unit, "%s %s", c.Name, key)
				assert.Contains(t, string(raw), `"u":`, "%s %s", c.Name, key)
			}
		}
		for _, key := range strings.Fields(contract[c.Name]) {
			assert.Contains(t, o, key, c.Name)
		}
		delete(contract, c.Name)
		out, notes, err := calc(t, "", c.Name+exampleArgs(c))
		require.NoError(t, err)
		assert.Contains(t, out+notes, "method")
		var described map[string]any
		text, _, err := calc(t, "", c.Name+" --json")
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal([]byte(text), &described))
		assert.Equal(t, c.Name, described["name"])
	}
	assert.Empty(t, contract, "calculations of the contract that are not listed")
	var all map[string][]map[string]any
	text, _, err := calc(t, "", "--json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal([]byte(text), &all))
	assert.Len(t, all["calculations"], len(reckon.All()))
}

// A batch's curve is a CSV file that another program reads.
func TestCalcCurve(t *testing.T) {
	out, notes, err := calc(t, "", "batch charge=300L strength=25% plates=0.4 end=60%")
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 50)
	assert.Equal(t, []string{"collected_lpa", "collected_l", "spirit_abv", "collected_abv", "still_abv", "still_l", "vapour_c", "still_c"}, rows[0])
	assert.Equal(t, "60.000", rows[len(rows)-1][2], "it ends where it was to end")
	assert.Contains(t, notes, "litres of pure alcohol")
	assert.Contains(t, notes, "does not remove methanol")
}

func TestCalcUnits(t *testing.T) {
	for _, c := range []struct{ args, key, unit string }{
		{"gauge-volume volume=53gal temp=72.1F proof=140proof", "volume_20c", "gal"},
		{"gauge-volume volume=200L temp=22.3C proof=70%", "volume_60f", "L"},
		{"gauge-volume volume=53 temp=72 proof=140", "volume_60f", "gal"},
		{"reduce weight=452lb from=140 to=80", "water_volume", "gal"},
		{"reduce weight=200kg from=70% to=40%", "final_weight", "kg"},
		{"blend part=100lb@140 part=20L@0%", "weight", "lb"},
		{"blend part=100kg@70% part=20gal@0", "volume", "L"},
		{"blend part=100kg@70% part=20gal@0", "strength", "%"},
		{"true-strength indicated=40 temp=77F", "abv20", "%"},
	} {
		m := output(t, flat(t, c.args), c.key)
		assert.Equal(t, c.unit, *m.Unit, "%s: %s", c.args, c.key)
	}
	assert.Equal(t, flat(t, "gauge-weight net=452lb proof=79.856%"), flat(t, "gauge-weight net=452 proof=79.856%"), "a bare weight is in the unit listed first")
	a, b := flat(t, "strength proof=40%"), flat(t, "strength abv20=40")
	assert.Equal(t, a, b, "a proof given in % vol is converted")
}

func TestCalcUncertainty(t *testing.T) {
	half := flat(t, "true-proof indicated=193.00 temp=80.00F indicated.u=0.1 temp.u=0.2")
	assert.Equal(t, half, flat(t, "true-proof indicated=193.00±0.1 temp=80.00±0.2F"), "two ways of giving a half-width")
	u := output(t, half, "u")
	require.IsType(t, 0.0, u.Value)
	assert.InDelta(t, 0.1*1.02/math.Sqrt(3), u.Value.(float64), 0.025, "mostly the hydrometer's half-width over √3 (JCGM 100, 4.3.7)")
	assert.Nil(t, u.U)
	assert.Equal(t, "proof", *u.Unit)
	assert.InDelta(t, u.Value.(float64), *output(t, half, "true_proof").U, 1e-12)
	assert.Greater(t, output(t, flat(t, "true-proof indicated=193 temp=80"), "u").Value.(float64), output(t, flat(t, "true-proof indicated=193.0 temp=80.0"), "u").Value.(float64),
		"a reading without a half-width counts half of its last digit")
	assert.Nil(t, output(t, flat(t, "reduce volume=100L from=70% to=40%"), "water_volume").U, "no half-width, no uncertainty")
	out, _, err := calc(t, "", "reduce volume=1000000L from=70% to=40% volume.u=5000L")
	require.NoError(t, err)
	assert.Contains(t, out, "± 4500 (k = 2)", "2 × 0.7749 × 5000/√3 = 4474")
}

func TestCalcFlagsAnywhere(t *testing.T) {
	want, _, err := calc(t, "", "true-strength indicated=40 temp=25 --json --working")
	require.NoError(t, err)
	for _, args := range []string{
		"--json --working true-strength indicated=40 temp=25",
		"--working true-strength --json indicated=40 temp=25",
		"true-strength indicated=40 --json temp=25 --working",
		"indicated=40 temp=25 true-strength --working --json",
	} {
		got, _, err := calc(t, "", args)
		require.NoError(t, err, args)
		assert.Equal(t, want, got, args)
	}
}

func TestCalcFaults(t *testing.T) {
	for _, c := range []struct{ args, field, value, limit, remedy string }{
		{"true-prof", "calculation", "true-prof", "is not a calculation", "did you mean true-proof?"},
		{"indicated=193", "calculation", "", "name of a calculation", "lists them"},
		{"true-proof indicated=193", "temp", "", "is needed", "temp=72.10F"},
		{"true-proof indicated=193 temp=", "temp", "", "a number is needed", "as it was read"},
		{"true-proof indicated=193 tmp=75 temp=75", "tmp", "75", "no input of this name", "did you mean temp?"},
		{"true-proof indicated=193 temp=75 temp=76", "temp", "76", "given twice", "leave one"},
		{"true-proof indicated=212 temp=75", "indicated", "212", "above 206 proof", "0 to 206 proof"},
		{"true-proof indicated=80% temp=75", "indicated", "80%", "is read in proof", "instrument"},
		{"true-proof indicated=193 temp=140F", "temp", "140F", "above 100 °F", "0 to 100 °F"},
		{"true-proof indicated=193 temp=-40C", "temp", "-40C", "below -17.7 °C", "°C"},
		{"true-proof indicated=abc temp=75", "indicated", "abc", "is not a number", "digits"},
		{"true-proof indicated=193 temp=75gal", "temp", "75gal", "is a unit of volume", "F, C"},
		{"true-proof indicated=193 temp=75furlongs", "temp", "75furlongs", "is not a unit", "F, C"},
		{"true-proof indicated=193 temp=75 temp.u=-1", "temp.u", "-1", "0 or more", "without a sign"},
		{"true-proof indicated=193 temp=75±1 temp.u=1", "temp.u", "1", "a half-width already", "leave one"},
		{"true-proof indicated=193 temp.u=1", "temp", "", "its half-width is given", "give temp"},
		{"true-proof indicated=193 temp=75 indicated.u=1%", "indicated.u", "1%", "its reading is in proof", "same unit"},
		{"true-proof indicated=200 temp=20", "indicated", "200", "more than pure alcohol", "again"},
		{"true-strength indicated=40 temp=25 calibration=17C", "calibration", "17C", "20C, 15C, 60F", "stem"},
		{"strength temp=20", "proof", "", "is needed", "measured"},
		{"strength proof=80 abv20=40", "abv20", "40", "same question as proof", "only one"},
		{"strength density=948", "temp", "", "is needed", "temp=20C"},
		{"strength density=1010kg/m3 temp=20", "density", "1010kg/m3", "no mixture of ethanol and water", "distil"},
		{"gauge-weight gross=452 proof=120", "tare", "", "is needed", "tare=92.5lb"},
		{"gauge-weight net=400 tare=52 proof=120", "tare", "52", "same question as net", "only one"},
		{"gauge-weight gross=52 tare=452 proof=120", "gross", "52", "not above the tare", "check"},
		{"gauge-weight net=400 proof=120 table4.u=1", "table4.u", "1", "no half-width", "leave it out"},
		{"gauge-volume volume=0 temp=60 proof=120", "volume", "0", "not above 0", "check"},
		{"reduce from=70% to=40%", "volume", "", "an amount is needed", "volume or weight"},
		{"reduce volume=3L weight=3kg from=70% to=40%", "weight", "3kg", "same question as volume", "only one"},
		{"reduce volume=100L from=40% to=70%", "to", "70%", "does not lie between", "stronger spirit"},
		{"reduce volume=100L from=70% to=40% stage=30%", "stage", "30%", "does not lie between", "order"},
		{"blend part=100L", "part", "100L", "has no strength", "100L@70%"},
		{"blend part=100L@70% part=5L@170%", "part", "5L@170%", "above 100 % vol", "0 to 100 % vol"},
		{"blend part=100L@70% part=0L@40%", "part", "0L@40%", "not above 0", "check"},
		{"blend part=?@70% part=?@40% target=50%", "part", "?@40%", "second part", "leave one amount open"},
		{"blend part=?@70% target=50%", "part", "?@70%", "stands alone", "another part"},
		{"blend part=100L@70% part=?@0", "target", "", "is needed", "give target"},
		{"blend part=100L@70% target=50%", "target", "50%", "one amount open", "leave it out"},
		{"blend part=100L@70% part=?@0% target=80%", "target", "80%", "does not lie between", "stronger or weaker"},
		{"blend part=100L@70% part.u=1", "part.u", "1", "stands with the figure", "±0.5L@70±0.1%"},
		{"obscuration apparent=90", "solids", "", "is needed", "measured"},
		{"obscuration solids=0.1 residue=0.1 sample=25 apparent=90", "residue", "0.1", "same question as solids", "only one"},
		{"liqueur spirit=1L strength=60 sugar=9kg", "sugar", "9kg", "above 700 g/L", "check"},
		{"water-per-100 from=80 to=100", "to", "100", "not a strength below", "water only lowers"},
		{"fill-package gallons=11 proof=100", "gallons", "11", "above 10 gal", "0 to 10 gal"},
		{"gauge-cases cases=1.5 bottles=12 size=750 proof=80", "cases", "1.5", "whole count", "count"},
		{"true-proof stray", "stray", "", "has no value", "stray=…"},
		{"--workings true-proof", "--workings", "", "is not a flag", "did you mean --working?"},
		{"true-proof --csv", "--csv", "", "name of a file", "--csv FILE"},
		{"true-proof --csv nowhere.csv --csv nowhere.csv", "--csv", "nowhere.csv", "given twice", "leave one"},
		{"reduce --table nowhere.csv", "--table", "nowhere.csv", "does not look into Table 1", "leave it out"},
		{"true-proof --table nowhere.csv indicated=193 temp=75", "--table", "nowhere.csv", "cannot be read", "name of the file"},
		{"true-proof --csv - --table -", "--table", "-", "read by --csv already", "file"},
		{"true-proof --csv - --working", "--csv", "-", "no room for the working", "one case"},
	} {
		out, _, err := calc(t, "", c.args)
		require.Error(t, err, c.args)
		assert.Empty(t, out, "%s: a fault is told on stderr and nothing half-answered", c.args)
		for _, words := range []string{c.field, c.value, c.limit, c.remedy} {
			assert.Contains(t, err.Error(), words, c.args)
		}

		out, stderr, err := calc(t, "", c.args+" --json")
		require.ErrorIs(t, err, errAnswered, c.args)
		assert.Empty(t, stderr, c.args)
		var o struct {
			Error map[string]string `json:"error"`
		}
		require.NoError(t, json.Unmarshal([]byte(out), &o), "%s: %q", c.args, out)
		if strings.Contains(c.args, "--csv - ") || strings.HasSuffix(c.args, "--csv") {
			continue // --json is then a fault of its own, or the file's name
		}
		assert.Equal(t, []string{c.field, c.value}, []string{o.Error["field"], o.Error["value"]}, c.args)
		assert.Contains(t, o.Error["limit"], c.limit, c.args)
		assert.Contains(t, o.Error["remedy"], c.remedy, c.args)
		assert.Len(t, o.Error, 4, c.args)
	}
}

func TestCalcAllFaultsAtOnce(t *testing.T) {
	out, _, err := calc(t, "", "gauge-volume volume=-1 temp=300 proof=abc --json")
	require.ErrorIs(t, err, errAnswered)
	var o struct {
		Error  map[string]string   `json:"error"`
		Errors []map[string]string `json:"errors"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &o))
	require.Len(t, o.Errors, 3)
	assert.Equal(t, o.Errors[0], o.Error)
}

func TestCalcCSV(t *testing.T) {
	const in = "date,indicated,temp\n2026-03-02,193,75\n2026-03-03,250,75\n2026-03-04,\"192,9\",23.5C\n\"stray, 193,75\n2026-03-05,193,\n2026-03-06,193,75,,\n"
	const want = `date,indicated,temp,true_proof,true_proof_unit,true_proof_u,true_proof_unrounded,true_proof_unrounded_unit,true_proof_unrounded_u,u,method,error
2026-03-02,193,75,189.5,proof,0.321,189.5,proof,0.321,0.321,from the printed table,
2026-03-03,250,75,,,,,,,,,indicated “250”: is above 206 proof; the range is 0 to 206 proof: check the figure and its unit.
2026-03-04,"192,9",23.5C,189.5,proof,0.0337,189.521642,proof,0.0337,0.0337,computed,
"""stray, 193,75",,,,,,,,,,,"row “""stray, 193,75”: is not a row of CSV: extraneous or missing "" in quoted-field; put a cell that holds a quote in quotes, and double the quote."
2026-03-05,193,,,,,,,,,,"temp: the temperature of the sample as it was read is needed; give temp, for example temp=72.10F."
2026-03-06,193,75,189.5,proof,0.321,189.5,proof,0.321,0.321,from the printed table,
`
	got, stderr, err := calc(t, in, "true-proof --csv -")
	require.ErrorIs(t, err, errAnswered, "a bad row makes the exit status 1")
	assert.Empty(t, stderr)
	assert.Equal(t, want, got)

	file := filepath.Join(t.TempDir(), "log.csv")
	require.NoError(t, os.WriteFile(file, []byte("\ufeffvolume;from;to\r\n100L;70%;40%\r\n200,5L;63,5%;40%\r\n"), 0o600))
	got, _, err = calc(t, "", "--csv="+file+" reduce")
	require.NoError(t, err, "all rows answer")
	lines := strings.Split(strings.TrimSpace(got), "\n")
	require.Len(t, lines, 3)
	assert.True(t, strings.HasPrefix(lines[0], "volume;from;to;water_volume;water_volume_unit;"), lines[0])
	assert.True(t, strings.HasPrefix(lines[2], "200,5L;63,5%;40%;121."), lines[2])

	got, _, err = calc(t, "part,part\n100L@70%,100L@40%\n100L@70%,\n", "blend --csv -")
	require.NoError(t, err, "a repeatable input may have several columns, and an empty cell gives nothing")
	assert.Contains(t, got, ",199.389989,")
	assert.Contains(t, got, ",70,")

	got, _, err = calc(t, "abv20\n40\n", "strength --csv -")
	require.NoError(t, err)
	assert.Contains(t, got, "abv20_out,", "an output named as a column of the file is told apart")

	got, _, err = calc(t, "indicated\n193\n", "true-proof temp=75 --csv -")
	require.NoError(t, err, "an input given beside the file counts for every row")
	assert.Contains(t, got, "189.5")
}

func TestCalcCSVHeader(t *testing.T) {
	for _, c := range []struct{ stdin, args, words string }{
		{"", "true-proof --csv -", "a header of input names is needed"},
		{"date,lot\n1,2\n", "true-proof --csv -", "no column is named after an input"},
		{"indicated,temp,temp\n1,2,3\n", "true-proof --csv -", "temp: is given twice"},
		{"indicated,temp\n1,2\n", "true-proof temp=60 --csv -", "temp: is given twice"},
		{"indicated,temp,temp_corection\n1,2,3\n", "true-proof --csv -", "did you mean temp_correction?"},
		{"indicated,temp,error\n1,2,3\n", "true-proof --csv -", "the answer writes"},
		{"indicated,temp\n193,75\n", "true-proof --json --csv -", "error"},
	} {
		out, _, err := calc(t, c.stdin, c.args)
		require.Error(t, err, c.args)
		assert.Contains(t, out+err.Error(), c.words, c.args)
		assert.NotContains(t, out, "true_proof_unit", "%s: nothing is half-written", c.args)
	}
}

func TestCalcTable(t *testing.T) {
	file := filepath.Join(t.TempDir(), "table1.csv")
	require.NoError(t, os.WriteFile(file, []byte("reading,F,proof\n180,70,177.2\n181,70,178.2\n180,71,176.9\n150,70,164.1\n"), 0o600))
	out, stderr, err := calc(t, "", "--table "+file+" true-proof indicated=180.5 temp=70.5F --json")
	require.NoError(t, err)
	assert.Contains(t, out, `"true_proof_unrounded":{"value":177.55,`, "177.2 + 1.0·0.5 − 0.3·0.5")
	assert.Contains(t, out, `"method":"from the printed table"`)
	assert.Contains(t, stderr, "reading 150 at 70 °F, printed 164.1", "the mistyped cell is listed")
	assert.NotContains(t, stderr, "reading 180 ", "and no sound one")

	out, _, err = calc(t, "", "true-proof --table "+file+" indicated=170.5 temp=70.5F --json")
	require.NoError(t, err)
	assert.Contains(t, out, `"method":"computed"`, "where the table has no cell")

	require.NoError(t, os.WriteFile(file, []byte("180,70\n"), 0o600))
	_, _, err = calc(t, "", "true-proof --table "+file+" indicated=170.5 temp=70.5F")
	require.ErrorContains(t, err, "three columns")
}

func TestRunCommands(t *testing.T) {
	var out, errs bytes.Buffer
	require.NoError(t, run(t.Context(), []string{"help"}, nil, &out, &errs))
	for _, c := range commands() {
		assert.Contains(t, out.String(), "gaugebook "+c.name)
		assert.Contains(t, out.String(), c.help)
	}
	require.ErrorContains(t, run(t.Context(), []string{"clac"}, nil, &out, &errs), "did you mean calc?")
	require.ErrorContains(t, run(t.Context(), nil, nil, &out, &errs), "command")
	assert.Contains(t, errs.String(), "gaugebook calc")
	help, _, err := calc(t, "", "--help")
	require.NoError(t, err)
	assert.Contains(t, help, "--csv FILE")
}
