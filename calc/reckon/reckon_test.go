package reckon_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
	"gaugebook/calc/reckon"
)

func TestCatalogueIsWhole(t *testing.T) {
	var names []string
	for _, c := range reckon.All() {
		assert.NotContains(t, names, c.Name)
		names = append(names, c.Name)
		assert.NotEmpty(t, c.Help, c.Name)
		assert.NotEmpty(t, c.Source, c.Name)
		var keys []string
		for _, in := range c.Inputs {
			assert.NotContains(t, keys, in.Key, c.Name)
			keys = append(keys, in.Key)
			assert.NotEmpty(t, in.Label, "%s %s", c.Name, in.Key)
			assert.NotEmpty(t, in.Help, "%s %s", c.Name, in.Key)
			require.NotEmpty(t, in.Scales, "%s %s", c.Name, in.Key)
			for _, s := range slices.Concat(in.Scales, in.At) {
				low, high := decimal.RequireFromString(s.Low), decimal.RequireFromString(s.High)
				assert.True(t, low.LessThanOrEqual(high), "%s %s: %s", c.Name, in.Key, s)
			}
		}
		for _, set := range c.Choices {
			for _, key := range set {
				assert.Contains(t, keys, key, c.Name)
			}
		}
		a := reckon.Run(c.Name, c.Example)
		require.Empty(t, a.Faults, c.Name)
		var order []string
		for _, o := range c.Outputs {
			order = append(order, o.Key)
		}
		at := -1
		for _, v := range a.Outputs {
			i := slices.Index(order, v.Key)
			assert.Greater(t, i, at, "%s: %s stands in the order of the catalogue", c.Name, v.Key)
			at = i
			if v.IsNumber {
				_, err := decimal.NewFromString(v.Text)
				assert.NoError(t, err, "%s %s", c.Name, v.Key)
			}
		}
		assert.NotEmpty(t, a.Method, c.Name)
		assert.NotEmpty(t, a.Working(), c.Name)
	}
}

// TestScalesAreMutuallyConsistent holds every strength scale to every other:
// what one gives, taken back, gives the first again to the digits shown.
func TestScalesReturn(t *testing.T) {
	for _, abv := range []string{"0.5", "12", "40", "63.5", "96", "99.9"} {
		first := reckon.Run("strength", []reckon.Given{{Key: "abv20", Text: abv}})
		require.Empty(t, first.Faults)
		for _, v := range first.Outputs {
			given := []reckon.Given{{Key: v.Key, Text: v.Text}}
			if v.Key == "density" {
				given = append(given, reckon.Given{Key: "temp", Text: "20C"})
			}
			back := reckon.Run("strength", given)
			require.Empty(t, back.Faults, "%s=%s", v.Key, v.Text)
			got := decimal.RequireFromString(back.Outputs[1].Text)
			assert.InDelta(t, decimal.RequireFromString(abv).InexactFloat64(), got.InexactFloat64(), 1e-5, "%s=%s", v.Key, v.Text)
		}
	}
}

// TestReducedIsBlended: what reduce adds, blend puts together again.
func TestReducedIsBlended(t *testing.T) {
	r := reckon.Run("reduce", []reckon.Given{{Key: "volume", Text: "53gal"}, {Key: "from", Text: "140proof"}, {Key: "to", Text: "93proof"}})
	require.Empty(t, r.Faults)
	value := func(a reckon.Answer, key string) float64 {
		i := slices.IndexFunc(a.Outputs, func(v reckon.Value) bool { return v.Key == key })
		require.GreaterOrEqual(t, i, 0, key)
		return decimal.RequireFromString(a.Outputs[i].Text).InexactFloat64()
	}
	water := decimal.NewFromFloat(value(r, "water_weight")).String()
	b := reckon.Run("blend", []reckon.Given{{Key: "part", Text: "53gal@140proof"}, {Key: "part", Text: water + "lb@0proof"}})
	require.Empty(t, b.Faults)
	assert.InDelta(t, 93, value(b, "strength"), 1e-5)
	assert.InDelta(t, value(r, "final_volume"), value(b, "volume"), 1e-5)

	open := reckon.Run("blend", []reckon.Given{{Key: "part", Text: "53gal@140proof"}, {Key: "part", Text: "?@0proof"}, {Key: "target", Text: "93"}})
	require.Empty(t, open.Faults)
	assert.InDelta(t, value(r, "water_weight"), value(open, "part_weight"), 1e-4)
}

func TestUnknownCalculation(t *testing.T) {
	a := reckon.Run("guage-weight", nil)
	require.Len(t, a.Faults, 1)
	assert.Equal(t, fault.NotOneOf, a.Faults[0].Code)
	assert.Contains(t, a.Faults[0].Remedy, "gauge-weight")
}

func TestNearest(t *testing.T) {
	words := []string{"indicated", "temp", "to"}
	for typed, want := range map[string]string{"tmp": "temp", "Temp": "temp", "indicate": "indicated", "xyzzy": "", "t": "to"} {
		assert.Equal(t, want, reckon.Nearest(typed, words), typed)
	}
}

func TestUnitsNameTheBareOneFirst(t *testing.T) {
	c, ok := reckon.Find("liqueur")
	require.True(t, ok)
	for _, in := range c.Inputs {
		if in.Key == "water" {
			assert.Equal(t, quantity.Kilogram, in.Bare())
			assert.Equal(t, []string{"kg", "lb"}, in.Units()[:2])
			assert.Contains(t, in.Units(), "gal")
		}
	}
}

// FuzzRun types anything into any calculation: it must answer or say what is
// wrong, and never do both or neither.
func FuzzRun(f *testing.F) {
	for i, c := range reckon.All() {
		args := ""
		for _, g := range c.Example {
			args += g.Key + "=" + g.Text + " "
		}
		f.Add(i, args)
	}
	f.Add(6, "volume=1000000L from=100% to=0.0000001%")
	f.Add(10, "part=1e9L@7% part=0.000000001t@100% part=?@0% target=6%")
	f.Fuzz(func(t *testing.T, i int, args string) {
		all := reckon.All()
		c := all[(i%len(all)+len(all))%len(all)]
		var given []reckon.Given
		for _, arg := range strings.Fields(args) {
			key, text, _ := strings.Cut(arg, "=")
			given = append(given, reckon.Given{Key: key, Text: text})
		}
		a := reckon.Run(c.Name, given)
		if len(a.Faults) == 0 {
			require.NotEmpty(t, a.Outputs)
			require.NotEmpty(t, a.Method)
			require.NotEmpty(t, a.Working())
			return
		}
		require.Empty(t, a.Outputs)
		for _, fault := range a.Faults {
			require.NotEmpty(t, fault.Field, "%v", fault)
			require.NotEmpty(t, fault.Limit, "%v", fault)
			require.NotEmpty(t, fault.Remedy, "%v", fault)
		}
	})
}

func BenchmarkTrueProof(b *testing.B) {
	given := []reckon.Given{{Key: "indicated", Text: "118.4"}, {Key: "temp", Text: "72.1F"}}
	for b.Loop() {
		if a := reckon.Run("true-proof", given); len(a.Faults) > 0 {
			b.Fatal(a.Faults)
		}
	}
}
