// Command engine is package webapp/engine for the browser, whole or, with the
// build tag pocket, as a phone opens with it: built for
// GOOS=js GOARCH=wasm, it hangs the engine on one JavaScript function,
//
//	globalThis.gaugebookEngine(name: string, body: Uint8Array) → Uint8Array
//
// and waits. It holds no rule of the trade and no state of its own; a panic in
// a call is answered, not died of, so that the page can say what happened and
// open its log again in a new worker.
//
// Its one surprise: main never returns, since a Go program that has ended
// cannot be called.
package main
