//go:build !(js && wasm)

package main

import (
	"fmt"
	"os"
)

// main for every other platform: `go build ./...` and `go vet ./...` take the
// whole module, and a person who runs it learns what it is.
func main() {
	fmt.Fprintln(os.Stderr, "engine is built for the browser: GOOS=js GOARCH=wasm go build ./cmd/engine, or go generate ./webapp")
	os.Exit(2)
}
