package rig

import (
	_ "embed"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

//go:embed gotest.js
var gotest string

// GoTest builds a package's tests for the browser and runs those that a
// pattern names in a page of the phone. It gives what they printed, and whether
// they passed.
func (p *Phone) GoTest(folder, pkg, pattern string) (printed string, passed bool) {
	p.bench.Helper()
	wasm := filepath.Join(folder, "go.test.wasm")
	build := exec.Command("go", "test", "-c", "-o", wasm, "gaugebook/"+pkg)
	build.Dir, build.Env = root(p.bench), append(os.Environ(), "GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		p.bench.Fatalf("go test -c %s for the browser: %v\n%s", pkg, err, out)
	}
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		p.bench.Fatalf("go env GOROOT: %v", err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /file/", http.StripPrefix("/file/", http.FileServerFS(os.DirFS(root(p.bench)))))
	mux.HandleFunc("GET /go.test.wasm", func(w http.ResponseWriter, r *http.Request) { http.ServeFile(w, r, wasm) })
	mux.HandleFunc("GET /wasm_exec.js", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFile(w, r, filepath.Join(strings.TrimSpace(string(goroot)), "lib", "wasm", "wasm_exec.js"))
	})
	mux.HandleFunc("GET /gotest.js", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/javascript")
		fmt.Fprint(w, gotest)
	})
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprint(w, `<!doctype html><title>Go tests</title><link rel="icon" href="data:,"><script src="/wasm_exec.js"></script><script src="/gotest.js"></script>`)
	})
	server := httptest.NewServer(mux)
	defer server.Close()
	p.Tab.Go(server.URL)
	out := Eval[struct {
		Code    int
		Printed string
	}](p.Tab, fmt.Sprintf("gotest('/go.test.wasm', %s, ['-test.v', '-test.run', %s])", quoted(pkg+"/"), quoted(pattern)))
	return out.Printed, out.Code == 0
}
