package webapp

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestContrast holds the colours of both schemes to WCAG 2.2: 4.5 to 1 for
// text (1.4.3), 3 to 1 for what shows a control (1.4.11).
func TestContrast(t *testing.T) {
	variable := regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6})`)
	schemes := regexp.MustCompile(`(?s):root \{.*?\}`).FindAllString(sources(t, ".css")["app.css"], -1)
	require.Len(t, schemes, 2, "a light and a dark scheme")
	for at, scheme := range schemes {
		colours := map[string]float64{}
		for _, m := range variable.FindAllStringSubmatch(scheme, -1) {
			colours[m[1]] = luminance(t, m[2])
		}
		for _, pair := range []struct {
			over, under string
			least       float64
		}{
			{"ink", "paper", 4.5}, {"ink", "leaf", 4.5}, {"pale", "paper", 4.5}, {"pale", "leaf", 4.5},
			{"copper", "paper", 4.5}, {"copper", "leaf", 4.5}, {"on-copper", "copper", 4.5}, {"wrong", "paper", 4.5}, {"wrong", "leaf", 4.5},
			{"paper", "ink", 4.5}, {"edge", "leaf", 3}, {"edge", "paper", 3},
		} {
			over, under := colours[pair.over], colours[pair.under]
			require.NotZero(t, over+under, "%s on %s", pair.over, pair.under)
			ratio := (max(over, under) + 0.05) / (min(over, under) + 0.05)
			require.GreaterOrEqual(t, ratio, pair.least, "scheme %d: %s on %s, after the formula of WCAG 2.2", at, pair.over, pair.under)
		}
	}
}

// luminance is the relative luminance of an sRGB colour, as WCAG 2.2 defines it.
func luminance(t *testing.T, hex string) float64 {
	n, err := strconv.ParseUint(hex, 16, 32)
	require.NoError(t, err)
	channel := func(shift uint) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(16) + 0.7152*channel(8) + 0.0722*channel(0)
}
