// Command bundle prepares webapp/built, the files the binary embeds. It is run
// by `go generate ./webapp` and by nothing else.
//
// It builds cmd/engine for GOOS=js GOARCH=wasm in both its sizes and takes out of
// them what only a traceback reads (slim.go), takes wasm_exec.js from the
// same Go release (another release's copy fails to load the module), draws the
// icons, writes the build's hash into index.html, sw.js, version.json and the
// manifest, and puts a brotli and a gzip copy beside each file. The hash is
// over the content before the hash is written into it.
//
// It refuses to minify or rewrite: what a browser shows in its inspector is
// what is in static/. wasm-opt is left out on purpose: it was measured to save
// nothing after brotli.
//
// Its one surprise: it does nothing when neither static/, nor the engine's
// sources, nor the Go release changed, which it tells by a hash in
// built/stamp. Delete that file to force it. With GAUGEBOOK_DRAFT=1 it
// compresses quickly and worse and leaves the engines as they were linked, for
// an afternoon of many builds.
package main
