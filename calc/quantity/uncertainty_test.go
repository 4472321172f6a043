package quantity

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// JCGM 100:2008, annex H.1: an end gauge compared with a standard,
// l = lS + d − lS (δα·θ + αS·δθ); printed 50 000 838 nm and, first order,
// uc = 32 nm (from memory).
func TestEndGaugeOfTheGUM(t *testing.T) {
	in := []Estimate{
		{50_000_623, 25},  // lS, nm
		{215, 9.7},        // d, nm
		{0, 0.58e-6},      // δα, 1/K
		{-0.1, 0.41},      // θ, K
		{11.5e-6, 1.2e-6}, // αS, 1/K
		{0, 0.029},        // δθ, K
	}
	out, err := Propagate(in, func(x []float64) ([]float64, error) {
		return []float64{x[0] + x[1] - x[0]*(x[2]*x[3]+x[4]*x[5])}, nil
	})
	require.NoError(t, err)
	assert.InDelta(t, 50_000_838, out[0].Value, 0.5, "JCGM 100, H.1.5: the length")
	assert.InDelta(t, 32, out[0].U, 0.5, "JCGM 100, H.1.4: the combined standard uncertainty")
}

func TestPropagationAgainstLaws(t *testing.T) {
	sum, err := Propagate([]Estimate{{1, 3}, {2, 4}}, func(x []float64) ([]float64, error) { return []float64{x[0] + x[1], x[0] - x[1], 7}, nil })
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{5, 5, 0}, []float64{sum[0].U, sum[1].U, sum[2].U}, 1e-12, "sums and differences add in squares; a constant has none")
	product, err := Propagate([]Estimate{{10, 0.3}, {20, 0.8}}, func(x []float64) ([]float64, error) { return []float64{x[0] * x[1]}, nil })
	require.NoError(t, err)
	assert.InDelta(t, 200*math.Hypot(0.03, 0.04), product[0].U, 1e-9, "JCGM 100, 5.1.6: relative uncertainties of a product")
}

func TestPropagationAtTheEndOfARange(t *testing.T) {
	refused := errors.New("below nothing")
	f := func(x []float64) ([]float64, error) {
		if x[0] < 0 {
			return nil, refused
		}
		return []float64{3 * x[0]}, nil
	}
	out, err := Propagate([]Estimate{{0, 0.5}}, f)
	require.NoError(t, err)
	assert.InDelta(t, 1.5, out[0].U, 1e-12, "the side inside the range alone")
	_, err = Propagate([]Estimate{{-1, 0.5}}, f)
	assert.ErrorIs(t, err, refused)
	_, err = Propagate([]Estimate{{1, 0.5}}, func(x []float64) ([]float64, error) {
		if x[0] != 1 {
			return nil, refused
		}
		return x, nil
	})
	assert.ErrorIs(t, err, refused, "a function good at one point has no uncertainty")
}

// A curved function of uniform inputs, against 200,000 draws (JCGM 101).
func TestPropagationAgainstMonteCarlo(t *testing.T) {
	f := func(x []float64) ([]float64, error) { return []float64{math.Exp(x[0]/10) * x[1] / x[2]}, nil }
	half := []float64{0.5, 0.3, 0.2}
	in := []Estimate{{12, 0}, {30, 0}, {8, 0}}
	for i := range in {
		in[i].U = half[i] / math.Sqrt(3)
	}
	out, err := Propagate(in, f)
	require.NoError(t, err)
	rnd := rand.New(rand.NewPCG(3, 14))
	const n = 200_000
	var sum, squares float64
	x := make([]float64, 3)
	for range n {
		for i := range x {
			x[i] = in[i].Value + half[i]*(2*rnd.Float64()-1)
		}
		y, _ := f(x)
		d := y[0] - out[0].Value
		sum, squares = sum+d, squares+d*d
	}
	sd := math.Sqrt(squares/n - (sum/n)*(sum/n))
	assert.InEpsilon(t, sd, out[0].U, 0.01, "law of propagation %g, Monte Carlo %g", out[0].U, sd)
}
