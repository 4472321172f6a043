package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// watchEngines has the next pages say which engines they began and ended; where
// 'out' says so, the whole one cannot be fetched.
func watchEngines(tab *rig.Tab) {
	tab.Call("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": `(() => {
		globalThis.engines = [];
		globalThis.Worker = class extends Worker {
			constructor(url, options) {
				super(url, options);
				this.size = options.name;
				engines.push(this.size);
				if (globalThis.out && this.size === 'engine.wasm') {
					this.terminate();
					setTimeout(() => this.onmessage({ data: { dead: 'the engine did not arrive: 504' } }));
				}
			}
			terminate() {
				engines.push('ended ' + this.size);
				super.terminate();
			}
		};
	})()`})
}

const engines = "engines.join(', ')"

// A phone of the still room begins with the pocket engine and reads and saves by
// it; what only the whole one knows brings that in its place, without a network
// too, in the middle of what is being written and of what is still to be sent.
func widened(t *testing.T, s stage) {
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	register(owner.Tab, [3]string{"Copper still", "still", "150"})
	startRun(owner.Tab, "Copper still")
	sent(owner.Tab)

	p := join(t, o, o.Invite())
	tab := p.Tab
	enter(tab, "Still room")
	keptOffline(tab)
	watchEngines(tab)
	o.Wire.Cut()
	tab.Offline(true)
	visit(tab, o)
	first := reading(tab, "160")
	inTable(tab, "160.0")
	assert.Equal(t, "pocket.wasm", rig.Eval[string](tab, engines))
	tab.Type("Vapour", "178")

	enter(tab, "Office")
	tab.Until("Today")
	assert.Equal(t, "pocket.wasm, engine.wasm, ended pocket.wasm", rig.Eval[string](tab, engines))
	tab.Until(first)
	enter(tab, "Still room")
	rig.Wait[bool](tab, "rig.find('Vapour')?.value === '178'")
	second := reading(tab, "151.5")
	inTable(tab, "151.5")
	onlyHere(t, tab, 2)
	back(o, tab)
	got, _ := arrived(t, o)
	require.GreaterOrEqual(t, len(got), 2)
	assert.Equal(t, []string{first, second}, got[len(got)-2:])
	third := reading(tab, "150")
	sent(tab)
	got, _ = arrived(t, o)
	assert.Equal(t, third, got[len(got)-1], "the whole engine goes on with the exchange")
	assert.Equal(t, "pocket.wasm, engine.wasm, ended pocket.wasm", rig.Eval[string](tab, engines))

	enter(tab, "Office") // a phone that stands there begins with the whole engine
	visit(tab, o)
	tab.Until("Today")
	assert.Equal(t, "engine.wasm", rig.Eval[string](tab, engines))
	calm(t, p)
}

// Where the whole engine cannot be had a room says so, and everything that the
// pocket one does goes on.
func unwidened(t *testing.T, s stage) {
	o, p := s.away(t)
	tab := p.Tab
	watchEngines(tab)
	visit(tab, o)
	rig.Eval[bool](tab, "globalThis.out = true")
	tab.Tap("Rooms")
	tab.Tap("Office")
	tab.Until("“Today” is not on this phone yet, and the office cannot be reached.")
	enter(tab, "Still room")
	tab.Until("No run is open.")
	tab.Type("Hydrometer reads", "192.85")
	tab.Type("at a temperature of", "72.10")
	tab.Until("True proof")
	assert.Equal(t, "pocket.wasm, engine.wasm, ended engine.wasm, ended engine.wasm", rig.Eval[string](tab, engines))

	rig.Eval[bool](tab, "(globalThis.out = false, true)")
	tab.Tap("Rooms")
	tab.Tap("Office")
	tab.Until("Register a vessel")
	calm(t, p)
}
