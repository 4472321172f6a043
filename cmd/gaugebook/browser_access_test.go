package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// fitsScreens holds the page to the screens of a phone, a tablet and a desk, light and
// dark: nothing runs off the side, is too small to touch or has no name.
func fitsScreens(t *testing.T, tab *rig.Tab, where string) {
	t.Helper()
	for _, size := range [][2]int{{1280, 800}, {768, 1024}, {390, 844}} {
		tab.Size(size[0], size[1])
		for _, scheme := range []string{"dark", "light"} {
			tab.Scheme(scheme)
			tab.Settle()
			assert.LessOrEqual(t, rig.Eval[int](tab, "document.documentElement.scrollWidth - document.documentElement.clientWidth"), 0, "%s scrolls sideways at %v", where, size)
		}
		assert.Empty(t, rig.Eval[[]string](tab, tooSmall), "%s: smaller than 44 px at %v", where, size)
		assert.Empty(t, unnamed(t, tab), "%s: without a name at %v", where, size)
	}
}

// tooSmall lists what a person could touch that is smaller than 44 by 44 (WCAG
// 2.2, 2.5.5; 2.5.8 asks for 24), counting a control's label as part of it.
const tooSmall = `(() => {
	const out = [];
	const box = (nodes) => {
		const all = nodes.map((node) => node.getBoundingClientRect());
		const left = Math.min(...all.map((b) => b.left)); const top = Math.min(...all.map((b) => b.top));
		return { width: Math.max(...all.map((b) => b.right)) - left, height: Math.max(...all.map((b) => b.bottom)) - top };
	};
	for (const node of document.querySelectorAll('button, summary, a, input, select, textarea')) {
		if (!rig.seen(node) || node.classList.contains('skip')) continue;
		const { width, height } = box([node, ...(node.labels ?? [])]);
		if (width < 43.9 || height < 43.9) out.push(rig.names(node)[0] + ' <' + node.tagName.toLowerCase() + '> is ' + width.toFixed(1) + ' by ' + height.toFixed(1));
	}
	return out;
})()`

// unnamed lists the controls that a screen reader would read out without a
// name, by Chromium's own accessibility tree.
func unnamed(t *testing.T, tab *rig.Tab) (out []string) {
	t.Helper()
	tree := tab.Call("Accessibility.getFullAXTree", nil)
	nodes, ok := tree["nodes"].([]any)
	require.True(t, ok, "%v", tree)
	controls := 0
	for _, n := range nodes {
		node := n.(map[string]any)
		value := func(key string) string {
			v, _ := node[key].(map[string]any)
			return strings.TrimSpace(fmt.Sprint(v["value"]))
		}
		switch role := value("role"); role {
		case "button", "textbox", "combobox", "checkbox", "radio", "link", "DisclosureTriangle", "DateTime", "Date", "InputTime", "listbox", "spinbutton", "searchbox", "region", "form":
			if ignored, _ := node["ignored"].(bool); ignored {
				continue
			}
			controls++
			if name := value("name"); name == "" || name == "<nil>" {
				out = append(out, fmt.Sprintf("a %s without a name: %v", role, node["properties"]))
			}
		}
	}
	require.Greater(t, controls, 4, "controls in the accessibility tree")
	return out
}

// access opens every room with all its drawers at three sizes: everything has
// a name, is big enough to touch, and nothing runs off the side.
func access(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"}, [3]string{"Receiver one", "receiver", "10"}, [3]string{"Tank three", "tank", "300"})
	startRun(tab, "Copper still")
	tab.Type("In the receiver", "0.5")
	reading(tab, "160")
	tab.Tap("Cut to hearts")
	tab.Choose("Cut to hearts > into", "Receiver one")
	tab.Save("Save: cut to hearts")
	tab.Type("In the receiver", "2")
	reading(tab, "150")

	for _, room := range []string{"Still room", "Spirit store", "Bottling floor", "Office", "The building"} {
		if room == "The building" {
			tab.Tap("Rooms")
		} else {
			enter(tab, room)
			rig.Eval[bool](tab, "(document.querySelectorAll('details').forEach((one) => { one.open = true; }), true)")
			tab.Settle()
			rig.Eval[bool](tab, "(document.querySelectorAll('details').forEach((one) => { one.open = true; }), true)") // those inside the drawers
			tab.Settle()
		}
		for _, size := range [][2]int{{390, 844}, {768, 1024}, {1280, 800}} {
			tab.Size(size[0], size[1])
			tab.Settle()
			where := fmt.Sprintf("%s at %d × %d", room, size[0], size[1])
			assert.Empty(t, rig.Eval[[]string](tab, tooSmall), "%s: smaller than 44 px", where)
			over := rig.Eval[int](tab, "document.documentElement.scrollWidth - document.documentElement.clientWidth")
			assert.LessOrEqual(t, over, 0, "%s: pixels that the page runs off the side", where)
			assert.Empty(t, unnamed(t, tab), where)
		}
		tab.Size(390, 844)
	}
	tab.Tap("All at the office")
	assert.Empty(t, unnamed(t, tab), "the badge's panel")
	assert.Equal(t, "en", rig.Eval[string](tab, "document.documentElement.lang"))
	calm(t, p)
}

// keyboard takes a reading with the keyboard alone, from the top of the page.
func keyboard(t *testing.T, s stage) {
	o := s.open(t)
	p := join(t, o, codeOf(t, o))
	tab := p.Tab
	register(tab, [3]string{"Copper still", "still", "150"})
	startRun(tab, "Copper still")
	visit(tab, o)
	tab.Until("Hydrometer reads")
	tab.Settle()
	press := func(key, name string) {
		t.Helper()
		for range 40 {
			tab.Key(key)
			seen := rig.Eval[bool](tab, "document.activeElement === document.body || document.activeElement.matches(':focus-visible')") // from the end of the page by way of the browser's own controls to its top
			require.True(t, seen, "where the focus is can be seen: %s", rig.Eval[string](tab, "rig.names(document.activeElement)[0] ?? document.activeElement.tagName"))
			if rig.Eval[bool](tab, "rig.names(document.activeElement).includes('"+name+"')") {
				return
			}
		}
		tab.Fail("40 presses of %s do not lead to ‘%s’", key, name)
	}
	press("Tab", "Hydrometer reads")
	tab.Write("150.5")
	tab.Key("Enter")
	rig.Wait[bool](tab, "rig.names(document.activeElement).includes('at a temperature of')")
	tab.Write("60")
	tab.Key("Enter")
	tab.Saved()
	tab.Settle()
	press("Shift+Tab", "Hydrometer reads") // the focus stayed where it was
	tab.Write("149.5")
	press("Tab", "at a temperature of")
	tab.Write("60")
	press("Tab", "Save the reading")
	tab.Key(" ")
	tab.Saved()
	inTable(tab, "149.5")
	sent(tab)
	got, _ := arrived(t, o)
	assert.Len(t, got, 4)
	calm(t, p)
}
