// Command pictures makes the README's pictures: it starts the demo server on a
// free port with a book of its own, writes a run of this morning into it, and
// photographs the rooms in Chromium, as a phone and as a desk see them, in
// light and in dark. It makes those of the manual in the app, too.
//
//	go run ./cmd/pictures              into webapp/pictures and webapp/static/manual
//	go run ./cmd/pictures -to DIR      the README's elsewhere
//	go run ./cmd/pictures -manual DIR  the manual's elsewhere
//	go run ./cmd/pictures -all       every room at every size, not only the README's
package main

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"log"
	"os"
	"path/filepath"
	"slices"

	"gaugebook/cmd/internal/rig"
)

func main() {
	to := flag.String("to", filepath.Join("webapp", "pictures"), "`FOLDER` for the pictures")
	manual := flag.String("manual", filepath.Join("webapp", "static", "manual"), "`FOLDER` for the manual's pictures")
	all := flag.Bool("all", false, "every room at every size")
	flag.Parse()
	b := &bench{}
	defer b.cleanUp()
	take(b, *to, *manual, *all)
}

// A bench is what package rig tells failures to: they end the command.
type bench struct{ cleanups []func() }

func (*bench) Helper()                         {}
func (*bench) Name() string                    { return "pictures" }
func (*bench) Logf(format string, args ...any) { log.Printf(format, args...) }
func (b *bench) Cleanup(f func())              { b.cleanups = append(b.cleanups, f) }

func (b *bench) Fatalf(format string, args ...any) {
	b.cleanUp()
	log.Fatalf(format, args...)
}

func (b *bench) cleanUp() {
	for _, f := range slices.Backward(b.cleanups) {
		f()
	}
	b.cleanups = nil
}

func (b *bench) folder() string {
	dir, err := os.MkdirTemp("", "gaugebook-pictures-")
	if err != nil {
		b.Fatalf("%v", err)
	}
	b.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// sizes are the screens, in CSS pixels.
var sizes = [...][2]int{{390, 844}, {1280, 800}}

// A shot is one picture: a room at a size in a scheme, and whether the README
// shows it.
type shot struct {
	room, key string
	readme    func(size [2]int, scheme string) bool
}

func take(b *bench, to, manual string, all bool) {
	o := rig.Open(b, rig.Build(b, b.folder(), nil), b.folder(), "--demo")
	entries := writeScene(b, o)
	p := rig.NewPhone(b, b.folder())
	tab := p.Tab
	tab.Go(o.Wire.URL)
	if err := os.MkdirAll(manual, 0o755); err != nil {
		b.Fatalf("%v", err)
	}
	tab.Type("How you sign", "MQ")
	cut(b, tab, manual, crop{picture: "first-day", of: "form.leaf"})
	tab.Tap("Join this book")
	tab.Until("Which room are you in?")
	rig.Wait[bool](tab, fmt.Sprintf("rig.held().then((n) => n >= %d)", entries))
	tab.Settle()
	if err := os.MkdirAll(to, 0o755); err != nil {
		b.Fatalf("%v", err)
	}
	light := func(size [2]int, scheme string) bool { return size[0] == 390 && scheme == "light" }
	for _, s := range []shot{
		{"Still room", "still", func([2]int, string) bool { return true }},
		{"Spirit store", "store", light},
		{"Bottling floor", "bottling", light},
		{"Office", "office", light},
	} {
		tab.Size(390, 844)
		tab.Tap("Rooms")
		tab.Tap(s.room)
		rig.Wait[bool](tab, "document.querySelector('#room > .room') !== null")
		tab.Settle()
		fillIn(tab, s.key)
		for _, size := range sizes {
			for _, scheme := range []string{"light", "dark"} {
				if !all && !s.readme(size, scheme) {
					continue
				}
				tab.Size(size[0], size[1])
				tab.Scheme(scheme)
				rig.Eval[bool](tab, "(document.activeElement.blur(), scrollTo(0, 0), true)")
				tab.Settle()
				name := filepath.Join(to, fmt.Sprintf("%s-%d-%s.png", s.key, size[0], scheme))
				small, err := fewerColours(tab.Picture())
				if err == nil {
					err = os.WriteFile(name, small, 0o644)
				}
				if err != nil {
					b.Fatalf("%s: %v", name, err)
				}
				fmt.Printf("%s: %d bytes\n", name, len(small))
			}
		}
	}
	illustrate(b, tab, manual)
	if problems := p.Problems(); len(problems) > 0 {
		b.Fatalf("the console complains: %q", problems)
	}
}

// fillIn types what is being read just now.
func fillIn(tab *rig.Tab, room string) {
	switch room {
	case "still":
		if rig.Eval[bool](tab, "document.getElementById('choose-run') !== null") { // the demo has a run of its own
			tab.Choose("Run", "Quince brandy, Copper still")
		}
		tab.Type("Hydrometer reads", "151.5")
		tab.Type("at a temperature of", "66.4")
		tab.Type("Hearts are to end at", "120")
	case "store":
		tab.Choose("Vessel", "Hearts tank")
		tab.Type("Volume as read", "41.35")
		tab.Type("Hydrometer reads", "152.0")
		tab.Type("at a temperature of", "64.0")
	case "bottling":
		tab.Tap("Count")
		tab.Type("Full cases", "2")
		tab.Type("Loose bottles", "5")
	}
	tab.Settle()
}

// fewerColours makes a PNG small: the page has few colours, and the shades of
// its letters' edges need not all be told apart.
func fewerColours(raw []byte) ([]byte, error) {
	img, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil, err
	}
	counts := map[color.RGBA]int{}
	bounds := img.Bounds()
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(img.At(x, y)).(color.RGBA) }
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			counts[at(x, y)]++
		}
	}
	colours := make([]color.RGBA, 0, len(counts))
	for c := range counts {
		colours = append(colours, c)
	}
	slices.SortFunc(colours, func(a, b color.RGBA) int { return counts[b] - counts[a] })
	var palette color.Palette
	for _, c := range colours[:min(len(colours), 64)] {
		palette = append(palette, c)
	}
	small := image.NewPaletted(bounds, palette)
	nearest := map[color.RGBA]uint8{}
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x := bounds.Min.X; x < bounds.Max.X; x++ {
			c := at(x, y)
			index, known := nearest[c]
			if !known {
				index = uint8(palette.Index(c))
				nearest[c] = index
			}
			small.SetColorIndex(x, y, index)
		}
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	err = enc.Encode(&out, small)
	return out.Bytes(), err
}
