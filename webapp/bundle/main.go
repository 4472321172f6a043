package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/andybalholm/brotli"
)

func main() {
	if err := run(os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

// run works in webapp/, where go generate starts it.
func run(out io.Writer) error {
	stamp, err := inputs()
	if err != nil {
		return err
	}
	if old, err := os.ReadFile("built/stamp"); err == nil && string(old) == stamp {
		fmt.Fprintln(out, "webapp: nothing changed since the last build")
		return nil
	}
	files, err := collect()
	if err != nil {
		return err
	}
	build := hashOf(files)
	pages, err := place(files, build)
	if err != nil {
		return err
	}
	return write(out, build, stamp, pages)
}

// inputs is one hash over everything the build depends on: the Go release, the
// page's sources, this program, and every non-standard package of the engine.
func inputs() (string, error) {
	h := sha256.New()
	var list string
	for _, name := range sortedNames(sizes) {
		of, err := packages(forBrowser, sizes[name], "gaugebook/cmd/engine")
		if err != nil {
			return "", err
		}
		list += of
	}
	own, err := packages(nil, "", "gaugebook/webapp/bundle")
	if err != nil {
		return "", err
	}
	version, err := goTool(nil, "env", "GOVERSION", "GOROOT")
	if err != nil {
		return "", err
	}
	h.Write(version)
	fmt.Fprintln(h, draft())
	for line := range strings.Lines(list + own) {
		dir, names, _ := strings.Cut(strings.TrimSpace(line), "|")
		if dir == "" {
			continue
		}
		for name := range strings.SplitSeq(names, "|") {
			if err := addFile(h, filepath.Join(dir, name)); err != nil {
				return "", err
			}
		}
	}
	err = filepath.WalkDir("static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return addFile(h, name)
	})
	return hex.EncodeToString(h.Sum(nil)), err
}

// packages lists the directory and the files of every package that one needs
// and that is not of the Go release. What a program needs is another matter on
// another platform: the engine's main imports the engine only for the browser.
func packages(env []string, tags, of string) (string, error) {
	list, err := goTool(env, "list", "-tags", tags, "-deps", "-f", "{{if not .Standard}}{{.Dir}}{{range .GoFiles}}|{{.}}{{end}}{{range .EmbedFiles}}|{{.}}{{end}}{{end}}", of)
	return string(list), err
}

func addFile(h hash.Hash, name string) error {
	body, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	fmt.Fprintf(h, "%s %d\n", filepath.Base(name), len(body))
	h.Write(body)
	return nil
}

// collect gathers the files of one build, by their path below /app/<build>/,
// as they are before the build's hash is written into them.
func collect() (map[string][]byte, error) {
	files := map[string][]byte{}
	err := filepath.WalkDir("static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := os.ReadFile(name)
		files[filepath.ToSlash(strings.TrimPrefix(name, "static"+string(filepath.Separator)))] = body
		return err
	})
	if err != nil {
		return nil, err
	}
	for name, size := range map[string]int{"icon-192.png": 192, "icon-512.png": 512, "touch-180.png": 180} {
		if files[name], err = icon(size); err != nil {
			return nil, err
		}
	}
	root, err := goTool(nil, "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	if files["js/wasm_exec.js"], err = os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js")); err != nil {
		return nil, err
	}
	for name, tags := range sizes {
		if files[name], err = engine(tags); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// sizes are the engines, by their build tags.
var sizes = map[string]string{"pocket.wasm": "pocket", "engine.wasm": ""}

var forBrowser = []string{"GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0", "GOFLAGS="}

// unhurried are the packages that are built without inlining: the engines are a
// sixth smaller on the wire for it, and a fold is some hundredths slower. The
// runtime and what it stands on keep theirs, where it was dear.
var unhurried = []string{"gaugebook/...", "github.com/...", "encoding/...", "math/big", "time", "fmt", "reflect", "strings", "strconv", "internal/strconv", "unicode", "sync", "os", "crypto/..."}

// engine builds cmd/engine, with the tags of one of its two sizes.
func engine(tags string) ([]byte, error) {
	dir, err := os.MkdirTemp("", "gaugebook-engine-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	to := filepath.Join(dir, "engine.wasm")
	args := []string{"build", "-tags", tags, "-trimpath", "-ldflags", "-s -w", "-o", to}
	for _, packages := range unhurried {
		args = append(args, "-gcflags="+packages+"=-l")
	}
	if _, err := goTool(forBrowser, append(args, "gaugebook/cmd/engine")...); err != nil {
		return nil, err
	}
	program, err := os.ReadFile(to)
	if err != nil || draft() {
		return program, err
	}
	return slim(program)
}

func goTool(env []string, args ...string) ([]byte, error) {
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), env...)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go %s: %w\n%s", args[0], err, complaint.Bytes())
	}
	return out, nil
}

func hashOf(files map[string][]byte) string {
	h := sha256.New()
	for _, name := range sortedNames(files) {
		fmt.Fprintf(h, "%s %d\n", name, len(files[name]))
		h.Write(files[name])
	}
	return hex.EncodeToString(h.Sum(nil))[:16]
}

func sortedNames[V any](m map[string]V) []string {
	names := make([]string, 0, len(m))
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// A page is one file where the server will offer it.
type page struct {
	body      []byte
	immutable bool
}

// atRoot lists the files that keep one address from build to build: the
// browser finds everything else through them.
var atRoot = map[string]string{
	"index.html":           "/",
	"sw.js":                "/sw.js",
	"manifest.webmanifest": "/manifest.webmanifest",
}

// place gives every file its address and writes the build's hash, and for the
// service worker the lists of files, where the sources hold {{build}}, {{files}}
// and {{later}}: what a phone keeps before the app opens without a network, and
// what it keeps once the app is there, which is the manual.
func place(files map[string][]byte, build string) (map[string]page, error) {
	pages := map[string]page{}
	for name, body := range files {
		if at, ok := atRoot[name]; ok {
			pages[at] = page{body: body}
		} else {
			pages["/app/"+build+"/"+name] = page{body: body, immutable: true}
		}
	}
	pages["/favicon.ico"] = page{body: files["icon-192.png"]}
	pages["/version.json"] = page{body: []byte(`{"build":"{{build}}"}` + "\n")}

	var first, later []string
	for _, url := range sortedNames(pages) {
		switch {
		case url == "/sw.js" || url == "/version.json":
		case strings.HasPrefix(url, "/app/"+build+"/manual/"):
			later = append(later, url)
		default:
			first = append(first, url)
		}
	}
	for url, p := range pages {
		if p.immutable {
			if bytes.Contains(p.body, []byte("{{build}}")) {
				return nil, errors.New(url + " asks for the build's hash, which only the files at the root may hold")
			}
			continue
		}
		p.body = bytes.ReplaceAll(p.body, []byte("{{build}}"), []byte(build))
		p.body = bytes.ReplaceAll(p.body, []byte("{{files}}"), []byte(strings.Join(first, " ")))
		p.body = bytes.ReplaceAll(p.body, []byte("{{later}}"), []byte(strings.Join(later, " ")))
		pages[url] = p
	}
	return pages, nil
}

var contentTypes = map[string]string{
	".html":        "text/html; charset=utf-8",
	".js":          "text/javascript; charset=utf-8",
	".css":         "text/css; charset=utf-8",
	".json":        "application/json",
	".webmanifest": "application/manifest+json",
	".wasm":        "application/wasm",
	".png":         "image/png",
	".webp":        "image/webp",
	".ico":         "image/png",
	".svg":         "image/svg+xml",
}

// write makes the new files aside and then puts them in the place of the old
// ones, so that two preparations at once (an editor's and a test's) leave one
// whole build. The stamp goes last: an interrupted build is done again.
func write(out io.Writer, build, stamp string, pages map[string]page) (err error) {
	aside, err := os.MkdirTemp("built", "next-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(aside)) }()
	type entry struct {
		URL         string `json:"url"`
		Name        string `json:"name"`
		ContentType string `json:"content_type"`
		ETag        string `json:"etag"`
		Size        int    `json:"size"`
		Immutable   bool   `json:"immutable"`
	}
	var index struct {
		Build string  `json:"build"`
		Files []entry `json:"files"`
	}
	index.Build = build
	for _, url := range sortedNames(pages) {
		p := pages[url]
		name := strings.TrimPrefix(strings.TrimPrefix(url, "/app/"+build+"/"), "/")
		if url == "/" {
			name = "index.html"
		}
		kind, ok := contentTypes[path.Ext(name)]
		if !ok {
			return fmt.Errorf("no content type is known for %s", name)
		}
		sum := sha256.Sum256(p.body)
		index.Files = append(index.Files, entry{url, name, kind, `"` + hex.EncodeToString(sum[:16]) + `"`, len(p.body), p.immutable})
		small, err := writeCopies(filepath.Join(aside, "files", filepath.FromSlash(name)), p.body)
		if err != nil {
			return err
		}
		if path.Ext(name) == ".wasm" {
			fmt.Fprintf(out, "webapp: %s is %d bytes, %d by brotli\n", name, len(p.body), small)
		}
	}
	list, err := json.MarshalIndent(index, "", " ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(aside, "index.json"), list, 0o644); err != nil {
		return err
	}
	for _, name := range []string{"files", "index.json"} {
		if err := replace(filepath.Join(aside, name), filepath.Join("built", name)); err != nil {
			return err
		}
	}
	fmt.Fprintf(out, "webapp: build %s, %d files\n", build, len(pages))
	return os.WriteFile("built/stamp", []byte(stamp), 0o644)
}

// replace moves from to where to is, whatever stands there.
func replace(from, to string) error {
	for tries := 0; ; tries++ {
		if err := os.RemoveAll(to); err != nil {
			return err
		}
		err := os.Rename(from, to)
		if err == nil || tries == 5 || !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
}

// draft says whether the build is one of many of an afternoon's work, for which
// half a minute of compressing is too long.
func draft() bool { return os.Getenv("GAUGEBOOK_DRAFT") != "" }

// writeCopies writes a file, and the compressed copies that are smaller than
// it; it returns the size of the brotli copy. Of a WASM it writes that alone.
func writeCopies(name string, body []byte) (int, error) {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return 0, err
	}
	small, smaller := brotli.BestCompression, gzip.BestCompression
	if draft() {
		small, smaller = brotli.BestSpeed, gzip.BestSpeed
	}
	var br, gz bytes.Buffer
	gw, err := gzip.NewWriterLevel(&gz, smaller)
	if err != nil {
		return 0, err
	}
	for _, w := range []io.WriteCloser{brotli.NewWriterOptions(&br, brotli.WriterOptions{Quality: small, LGWin: 24}), gw} {
		if _, err := w.Write(body); err != nil {
			return 0, err
		}
		if err := w.Close(); err != nil {
			return 0, err
		}
	}
	forms := map[string][]byte{"": body, ".br": br.Bytes(), ".gz": gz.Bytes()}
	if path.Ext(name) == ".wasm" {
		forms = map[string][]byte{".br": br.Bytes()}
	}
	for suffix, form := range forms {
		if suffix != "" && len(forms) > 1 && len(form) >= len(body) {
			continue
		}
		if err := os.WriteFile(name+suffix, form, 0o644); err != nil {
			return 0, err
		}
	}
	return br.Len(), nil
}
