package reckon_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gaugebook/calc/reckon"
)

var update = flag.Bool("update", false, "write testdata/parity anew")

const (
	parityCases  = "../../testdata/parity/reckon.csv"
	parityGolden = "../../testdata/parity/reckon.golden"
)

// templates are the shapes of the parity cases; {a..b} is a figure from a to b
// with as many places as a has.
var templates = []string{
	"true-proof,indicated={60.0..195.0},temp={32.0..95.0}F",
	"true-proof,indicated={60.00..195.00}proof,temp={5.0..34.0}C,indicated.u=0.1,temp.u=0.2",
	"true-proof,indicated={190.0..206.0},temp={0..100},indicated_correction={-0.20..0.20},temp_correction={-0.50..0.50}",
	"true-strength,indicated={0.0..103.0},temp={-20.0..40.0}",
	"true-strength,indicated={20.0..95.0}%,temp={5.0..35.0}C,calibration=15C,indicated.u=0.1",
	"strength,proof={0.0..200.0}",
	"strength,abv20={0.00..100.00},abv20.u=0.05,temp={-20.0..40.0}C",
	"strength,abv15={0.00..100.00}%",
	"strength,abv60f={0.00..100.00}",
	"strength,mass_percent={0.00..100.00},mass_percent.u=0.02",
	"strength,density={770.00..1005.00},temp={0.0..40.0}C",
	"strength,sg60={0.79000..1.00000}",
	"gauge-weight,net={1.0..2000.0}lb,proof={0.0..200.0},net.u=0.5",
	"gauge-weight,gross={200.0..300.0}kg,tare={20.0..60.0}kg,proof={30.0..96.0}%,gross.u=0.1,tare.u=0.1,proof.u=0.1",
	"gauge-volume,volume={1.00..6000.00}gal,temp={30.0..100.0}F,proof={0.0..200.0}",
	"gauge-volume,volume={1.0..9000.0}L,temp={0.0..40.0}C,proof={0.0..100.0}%,volume.u=2,temp.u=0.3",
	"gauge-cases,cases={1..900},bottles=12,size={200..1750}mL,proof={60.0..130.0}",
	"fill-package,gallons={0.5..10.0},proof={60.0..200.0}",
	"reduce,volume={1.0..900.0}L,from={60.0..96.0}%,to={10.0..59.0}%",
	"reduce,weight={10.0..5000.0}lb,from={120.0..200.0},to={20.0..119.0},weight.u=1,from.u=0.2",
	"reduce,final_volume={1.0..900.0}gal,from={120.0..200.0},to={20.0..119.0}",
	"reduce,volume=100L,from={60.0..96.0}%,final_volume={100.0..400.0}L",
	"reduce,volume={1.0..900.0}L,from={70.0..96.0}%,to=40%,stage=60%,stage=45%",
	"reduce,volume={1.0..900.0}L,from={30.0..39.9}%,to=40%,with={50.0..96.0}%",
	"water-per-100,from={100.0..200.0},to={40.0..99.0}",
	"water-by-table4,net={100..5000},proof_gallons={300..900},per_pound={0.1000..0.3000}",
	"blend,part={1.0..900.0}L@{0.0..96.0}%,part={1.0..900.0}kg@{0.0..96.0}%,part={1.0..90.0}gal@{0.0..190.0}proof",
	"blend,part={1.0..900.0}±0.5lb@{0.0..190.0}±0.1,part={1.0..900.0}L@{0.0..96.0}%",
	"blend,part={1.0..900.0}L@{50.0..96.0}%,part=?@{0.0..30.0}%,target={31.0..49.0}%",
	"obscuration,solids={0.000..0.900},apparent={75.0..105.0}",
	"obscuration,residue={0.000..0.200},sample=25,apparent={38.0..52.0}%,residue.u=0.0005",
	"sweetened,apparent={5.0..45.0},sugar={1..50}g/L",
	"liqueur,spirit={1.0..900.0}L,strength={40.0..96.0}%,water={0.0..90.0}kg,sugar={0.0..90.0}kg",
	"liqueur,spirit={1.0..90.0}gal,strength={80.0..190.0}proof,sugar={0.0..90.0}lb,spirit.u=0.1",
	"true-proof,indicated={100..400},temp={-90..190}",
}

var interval = regexp.MustCompile(`\{(-?[0-9.]+?)\.\.(-?[0-9.]+?)\}`)

// generate writes out the parity cases, the same ones each time.
func generate(t *testing.T) string {
	random := rand.New(rand.NewPCG(1975, 22))
	var b strings.Builder
	for _, template := range templates {
		for range 12 {
			b.WriteString(interval.ReplaceAllStringFunc(template, func(s string) string {
				m := interval.FindStringSubmatch(s)
				low, err := strconv.ParseFloat(m[1], 64)
				require.NoError(t, err)
				high, err := strconv.ParseFloat(m[2], 64)
				require.NoError(t, err)
				_, digits, _ := strings.Cut(m[1], ".")
				return strconv.FormatFloat(low+(high-low)*random.Float64(), 'f', len(digits), 64)
			}) + "\n")
		}
	}
	return b.String()
}

// answerLine is everything an answer says, on one line.
func answerLine(a reckon.Answer) string {
	if len(a.Faults) > 0 {
		return "fault: " + a.Faults.Error()
	}
	var b strings.Builder
	for _, v := range a.Outputs {
		fmt.Fprintf(&b, "%s=%s%s (%s)", v.Key, v.Text, v.Unit, v.Shown)
		if v.U != nil {
			fmt.Fprintf(&b, " ±%v", *v.U)
		}
		b.WriteString("; ")
	}
	b.WriteString(a.Method)
	for _, s := range a.Working() {
		b.WriteString(" | " + s.Text + " = " + s.Value)
	}
	return b.String()
}

// TestParity holds every build of the calculations to the same digits. Run
// natively and as GOOS=js GOARCH=wasm it compares both with one file; -update
// writes the file natively.
func TestParity(t *testing.T) {
	cases := generate(t)
	var golden strings.Builder
	answered := 0
	for line := range strings.Lines(cases) {
		name, rest, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ",")
		var given []reckon.Given
		for arg := range strings.SplitSeq(rest, ",") {
			key, text, _ := strings.Cut(arg, "=")
			given = append(given, reckon.Given{Key: key, Text: text})
		}
		a := reckon.Run(name, given)
		if len(a.Faults) == 0 {
			answered++
		}
		golden.WriteString(answerLine(a) + "\n")
	}
	if *update {
		require.NoError(t, os.WriteFile(parityCases, []byte(cases), 0o644))
		require.NoError(t, os.WriteFile(parityGolden, []byte(golden.String()), 0o644))
	}
	wantCases, err := os.ReadFile(parityCases)
	require.NoError(t, err)
	require.Equal(t, string(wantCases), cases, "the cases are generated with a fixed seed and must be those of the file")
	want, err := os.ReadFile(parityGolden)
	require.NoError(t, err)
	wantLines, gotLines := strings.Split(string(want), "\n"), strings.Split(golden.String(), "\n")
	require.Len(t, gotLines, len(wantLines))
	caseLines := strings.Split(cases, "\n")
	for i := range wantLines {
		require.Equal(t, wantLines[i], gotLines[i], "%s", caseLines[i])
	}
	require.Greater(t, answered, len(gotLines)*8/10, "most cases must have an answer, or nothing is compared")
}
