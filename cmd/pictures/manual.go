package main

import (
	"fmt"
	"os"
	"path/filepath"

	"gaugebook/cmd/internal/rig"
)

// A crop is one of the manual's pictures: a part of a room, or of one of its
// pages, as a phone shows it.
type crop struct {
	picture    string // its name, and that of the manual's page
	room, page string
	do         func(*rig.Tab) // before it is taken
	of         string         // a CSS selector
}

// highest is how high a picture of the manual may be, in the page's pixels.
const highest = 470

var crops = []crop{
	{picture: "yard", room: "Yard", of: "#room form", do: func(tab *rig.Tab) {
		tab.Tap("fruit")
		tab.Type("Kind and variety", "quince")
		tab.Tap("Weighed > net")
		tab.Type("Net weight", "1860")
	}},
	{picture: "mash", room: "Mash room", of: "#room form"},
	{picture: "ferment", room: "Ferment hall", of: ".board"},
	{picture: "still", room: "Still room", of: "#room form", do: func(tab *rig.Tab) { fillIn(tab, "still") }},
	{picture: "run", room: "Still room", of: "gb-chart", do: func(tab *rig.Tab) { fillIn(tab, "still") }},
	{picture: "store", room: "Spirit store", of: "#room form", do: func(tab *rig.Tab) { fillIn(tab, "store") }},
	{picture: "bottling", room: "Bottling floor", of: "#room form", do: func(tab *rig.Tab) { fillIn(tab, "bottling") }},
	{picture: "bottles", room: "Bottling floor", of: ".room > div + div .leaf"},
	{picture: "office", room: "Office", of: "[aria-label='What the building wants']"},
	{picture: "month", room: "Office", page: "Month", of: "[aria-label='The month']"},
}

// illustrate takes the manual's pictures.
func illustrate(b *bench, tab *rig.Tab, to string) {
	tab.Size(390, 844)
	tab.Scheme("light")
	for _, c := range crops {
		tab.Tap("Rooms")
		tab.Tap(c.room)
		rig.Wait[bool](tab, "document.querySelector('#room > .room') !== null")
		tab.Settle()
		if c.page != "" {
			tab.Tap(c.page)
			tab.Settle()
		}
		if c.do != nil {
			c.do(tab)
		}
		cut(b, tab, to, c)
	}
}

// cut takes one of them.
func cut(b *bench, tab *rig.Tab, to string, c crop) {
	rig.Eval[bool](tab, "(document.activeElement.blur(), scrollTo(0, 0), true)")
	tab.Settle()
	picture := tab.Crop(c.of, highest)
	name := filepath.Join(to, c.picture+".webp")
	if err := os.WriteFile(name, picture, 0o644); err != nil {
		b.Fatalf("%v", err)
	}
	fmt.Printf("%s: %d bytes\n", name, len(picture))
}
