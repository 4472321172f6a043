package main

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
)

// icon draws the app's sign at a size in pixels: a ruled page with a copper
// hydrometer standing in it, up to its line. The drawing keeps to the middle
// four fifths, which every launcher leaves uncut.
func icon(size int) ([]byte, error) {
	const sub = 4 // samples a side, for smooth edges
	img := image.NewNRGBA(image.Rect(0, 0, size, size))
	for y := range size {
		for x := range size {
			var r, g, b int
			for i := range sub * sub {
				c := iconAt((float64(x)+(float64(i%sub)+0.5)/sub)/float64(size), (float64(y)+(float64(i/sub)+0.5)/sub)/float64(size))
				r, g, b = r+int(c.R), g+int(c.G), b+int(c.B)
			}
			const n = sub * sub
			img.SetNRGBA(x, y, color.NRGBA{uint8(r / n), uint8(g / n), uint8(b / n), 255})
		}
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	err := enc.Encode(&out, img)
	return out.Bytes(), err
}

// iconAt is the colour at a place, both coordinates from 0 to 1.
func iconAt(x, y float64) color.NRGBA {
	var (
		paper  = color.NRGBA{0xf6, 0xf0, 0xe2, 255}
		rule   = color.NRGBA{0xc9, 0xd3, 0xd6, 255}
		ink    = color.NRGBA{0x22, 0x2a, 0x33, 255}
		copper = color.NRGBA{0xa4, 0x50, 0x1e, 255}
	)
	const surface = 0.46
	stem := math.Abs(x-0.5) < 0.035 && y > 0.14 && y < 0.56
	bulb := math.Hypot((x-0.5)/0.105, (y-0.66)/0.17) < 1
	switch {
	case stem && y < surface && math.Mod(y-0.14, 0.08) < 0.016 && x > 0.5: // the scale on the stem
		return paper
	case stem, bulb:
		return copper
	case math.Abs(y-surface) < 0.014 && x > 0.14 && x < 0.86: // the liquid's surface
		return ink
	}
	for _, line := range []float64{0.22, 0.34, 0.58, 0.70, 0.82} {
		if math.Abs(y-line) < 0.006 && x > 0.14 && x < 0.86 {
			return rule
		}
	}
	return paper
}
