//go:build js && wasm && !pocket

package main

import "gaugebook/webapp/engine"

// open begins the whole engine, which takes the pocket engine's place when
// something is asked that the pocket engine has not.
var open = engine.New
