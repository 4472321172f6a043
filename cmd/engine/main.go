//go:build js && wasm

package main

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"syscall/js"
	"time"

	"gaugebook/webapp/engine"
)

func main() {
	e := open(engine.Outside{Now: time.Now, Random: rand.Reader})
	bytes := js.Global().Get("Uint8Array")
	js.Global().Set("gaugebookEngine", js.FuncOf(func(_ js.Value, args []js.Value) any {
		in := make([]byte, args[1].Length())
		js.CopyBytesToGo(in, args[1])
		out := answer(e, args[0].String(), in)
		to := bytes.New(len(out))
		js.CopyBytesToJS(to, out)
		return to
	}))
	select {}
}

// answer turns a panic into {"broken": what happened}: the engine's state can
// no longer be trusted, and the page must start another.
func answer(e *engine.Engine, name string, in []byte) (out []byte) {
	defer func() {
		if p := recover(); p != nil {
			out, _ = json.Marshal(map[string]string{"broken": fmt.Sprint(p)}) // a map of strings always marshals
		}
	}()
	return e.Call(name, in)
}
