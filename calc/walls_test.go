//go:build !js

package calc

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A wall says what a package must not import, directly or through others of
// ours, and why. Patterns end in /... for a tree.
type wall struct {
	pkg    string
	never  []string
	reason string
}

var walls = []wall{
	{"gaugebook/calc/fault", []string{"gaugebook/..."}, "a fault is below everything"},
	{"gaugebook/calc/quantity", []string{"gaugebook/calc/spirit", "gaugebook/calc/book", "gaugebook/sync/...", "gaugebook/server/...", "gaugebook/webapp/..."}, "a reading knows no trade rule"},
	{"gaugebook/calc/...", []string{"gaugebook/sync/...", "gaugebook/server/...", "gaugebook/webapp/...", "gaugebook/cmd/..."}, "calc knows the trade and not how entries travel"},
	{"gaugebook/calc/...", []string{"os", "net", "net/http", "database/sql", "syscall/js", "math/rand", "crypto/rand", "html/template", "text/template"}, "calc reads no clock, file, network or chance"},
	{"gaugebook/calc/spirit", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/must", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/still", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/cask", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/fizz", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/fill", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/duty", []string{"gaugebook/calc/book", "encoding/json"}, "a formula knows no book and no format"},
	{"gaugebook/calc/book", []string{"gaugebook/calc/report", "gaugebook/calc/demo", "gaugebook/calc/reckon", "gaugebook/calc/party"}, "the book does not know who reads it"},
	{"gaugebook/sync/...", []string{"gaugebook/calc/...", "gaugebook/server/...", "gaugebook/webapp/..."}, "sync knows records and no spirit"},
	{"gaugebook/sync/record", []string{"net", "net/http", "os", "database/sql", "gaugebook/sync/exchange"}, "a record is bytes"},
	{"gaugebook/sync/exchange", []string{"net", "net/http", "os", "database/sql"}, "the exchange decides, others carry"},
	{"gaugebook/server/store", []string{"gaugebook/calc/...", "gaugebook/server", "github.com/labstack/echo/v4"}, "the store keeps bytes"},
	{"gaugebook/server", []string{"gaugebook/server/store", "gaugebook/server/shelf", "modernc.org/sqlite"}, "the server declares what it needs and cmd wires it"},
	{"gaugebook/server/shelf", []string{"gaugebook/cmd/...", "gaugebook/webapp/bundle"}, "the shelf joins store and server and decides nothing"},
	{"gaugebook/webapp/engine", []string{"gaugebook/server/...", "syscall/js", "net/http"}, "the engine is testable without a browser"},
	{"gaugebook/cmd/engine", []string{"net/http", "net", "html/template", "database/sql", "time/tzdata", "crypto/tls"}, "the phone downloads it"},
}

type listed struct {
	ImportPath string
	Imports    []string
}

// TestWalls asks the go command what every package imports, for the machine it
// runs on and for the phone, and holds the table above.
func TestWalls(t *testing.T) {
	for _, env := range [][]string{nil, {"GOOS=js", "GOARCH=wasm"}} {
		imports := imports(t, env)
		checked := 0
		for _, w := range walls {
			for pkg := range imports {
				if !matches(w.pkg, pkg) {
					continue
				}
				checked++
				for _, path := range reach(imports, pkg) {
					last := path[len(path)-1]
					for _, n := range w.never {
						if matches(n, last) && last != pkg {
							t.Errorf("%s imports %s: %s (%s)", pkg, last, w.reason, strings.Join(path, " -> "))
						}
					}
				}
			}
		}
		require.Greater(t, checked, 10, "packages held to a wall")
	}
}

func imports(t *testing.T, env []string) map[string][]string {
	cmd := exec.Command("go", "list", "-e", "-json=ImportPath,Imports", "gaugebook/...")
	cmd.Env = append(cmd.Environ(), env...)
	out, err := cmd.Output()
	require.NoError(t, err, "go list: is the go command on PATH?")
	all := map[string][]string{}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		all[p.ImportPath] = p.Imports
	}
	return all
}

// reach lists the paths from a package to everything it imports: through
// packages of ours, up to and including the first that is not.
func reach(imports map[string][]string, from string) [][]string {
	var out [][]string
	seen := map[string]bool{from: true}
	var walk func(path []string)
	walk = func(path []string) {
		for _, next := range imports[path[len(path)-1]] {
			if seen[next] {
				continue
			}
			seen[next] = true
			p := append(append([]string(nil), path...), next)
			out = append(out, p)
			if strings.HasPrefix(next, "gaugebook/") {
				walk(p)
			}
		}
	}
	walk([]string{from})
	return out
}

func matches(pattern, pkg string) bool {
	if tree, ok := strings.CutSuffix(pattern, "/..."); ok {
		return pkg == tree || strings.HasPrefix(pkg, tree+"/")
	}
	return pattern == pkg
}
