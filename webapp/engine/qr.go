//go:build !pocket

package engine

import (
	"fmt"
	"strings"

	"github.com/skip2/go-qrcode"

	"gaugebook/calc/fault"
)

type scanned struct {
	Text string `json:"text"`
}

// qr is a text as squares to be scanned: a vessel's label, or an entry that a
// full phone could not keep.
func (e *Engine) qr(in scanned) (any, error) {
	rows, err := Squares(in.Text)
	return map[string]any{"rows": rows}, err
}

// Squares is the QR code of a text (ISO/IEC 18004), a string of 0 and 1 for each
// row, with its quiet edge. A text that is too long for one is a fault.
func Squares(text string) ([]string, error) {
	q, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return nil, fault.Fault{Code: fault.TooLong, Field: "text", Limit: fmt.Sprintf("%d bytes are more than a QR code takes", len(text)), Remedy: "copy the text instead"}
	}
	var rows []string
	for _, row := range q.Bitmap() {
		var b strings.Builder
		for _, dark := range row {
			if dark {
				b.WriteByte('1')
			} else {
				b.WriteByte('0')
			}
		}
		rows = append(rows, b.String())
	}
	return rows, nil
}
