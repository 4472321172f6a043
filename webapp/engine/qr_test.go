package engine_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/webapp/engine"
)

// A code is square, has its three finders inside a quiet edge of four modules
// (ISO/IEC 18004, 5.3.8 and 6.3.3), and another text is another code.
func TestSquares(t *testing.T) {
	const edge, finder = 4, "1111111"
	rows, err := engine.Squares("https://book.example/#vessel=heron41-12")
	require.NoError(t, err)
	n := len(rows)
	for _, row := range rows {
		require.Len(t, row, n)
	}
	assert.Equal(t, strings.Repeat("0", n), rows[0])
	assert.Equal(t, finder, rows[edge][edge:edge+7], "top left")
	assert.Equal(t, finder, rows[edge][n-edge-7:n-edge], "top right")
	assert.Equal(t, finder, rows[n-edge-1][edge:edge+7], "bottom left")
	other, err := engine.Squares("https://book.example/#vessel=heron41-13")
	require.NoError(t, err)
	assert.NotEqual(t, rows, other)

	_, err = engine.Squares(strings.Repeat("x", 4000))
	assert.EqualError(t, err, "text: 4000 bytes are more than a QR code takes; copy the text instead.")

	p := newPhone(t, "")
	out := p.call("qr", map[string]any{"text": "heron41-12"})
	assert.Len(t, out["rows"], len(out["rows"].([]any)[0].(string)))
}
