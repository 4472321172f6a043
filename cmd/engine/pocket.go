//go:build js && wasm && pocket

package main

import "gaugebook/webapp/engine"

// open begins the pocket engine, which every phone opens with.
var open = engine.NewPocket
