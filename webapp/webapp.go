// Package webapp holds the page: what a phone downloads once and then opens
// without a network.
//
// static/ is the source, written by hand. built/ is what is embedded: static/
// with the engine's WASM in two sizes, wasm_exec.js from the same Go release, the icons,
// and a brotli and a gzip copy of each (of the WASM the brotli copy alone, since
// it is a quarter of the binary and every phone takes it so), all made by `go generate ./webapp`
// (package bundle) and not committed. A binary built before that says so in
// words when Assets is called; it compiles all the same.
//
// Everything but five files lives under /app/<build>/, where build is the hash
// of all of it, so a file there never changes and a phone never mixes two
// builds. "/", "/sw.js", "/version.json", "/manifest.webmanifest" and
// "/favicon.ico" stay where they are and are asked for anew each time.
//
// The package refuses to serve: package server sets the headers. Its one
// surprise: it does not embed static/, so an edit there shows only after
// `go generate ./webapp`.
package webapp

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"github.com/andybalholm/brotli"
)

//go:generate go run ./bundle

//go:embed all:built
var built embed.FS

// A Bundle is one build of the page.
type Bundle struct {
	Build string          // hash over everything in it
	Files map[string]File // by URL path
}

// A File is one file in the forms a server can send. Brotli and Gzip are nil
// where the copy would be no smaller; Body is nil where the file is kept by
// brotli alone, as the engine is, which is most of the binary otherwise.
type File struct {
	Body, Brotli, Gzip []byte
	Size               int // of the file as it is, where Body is nil
	ContentType        string
	ETag               string // strong, quoted: the hash of Body
	Immutable          bool   // the URL holds the build, so the answer never changes
}

// Plain reads the file as it is, with its size in bytes.
func (f File) Plain() (from io.Reader, size int) {
	if f.Body == nil {
		return brotli.NewReader(bytes.NewReader(f.Brotli)), f.Size
	}
	return bytes.NewReader(f.Body), len(f.Body)
}

// An index is built/index.json: what package bundle tells this one.
type index struct {
	Build string      `json:"build"`
	Files []indexFile `json:"files"`
}

type indexFile struct {
	URL         string `json:"url"`
	Name        string `json:"name"` // below built/files
	ContentType string `json:"content_type"`
	ETag        string `json:"etag"`
	Size        int    `json:"size"`
	Immutable   bool   `json:"immutable"`
}

// Assets is the embedded build. It fails where `go generate ./webapp` has not
// been run before the binary was built.
func Assets() (*Bundle, error) { return read(built) }

func read(from fs.FS) (*Bundle, error) {
	raw, err := fs.ReadFile(from, "built/index.json")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, errors.New("this binary was built without the page: run `go generate ./webapp`, then build it again")
	}
	if err != nil {
		return nil, err
	}
	var ix index
	if err := json.Unmarshal(raw, &ix); err != nil {
		return nil, fmt.Errorf("webapp: built/index.json: %w", err)
	}
	b := &Bundle{Build: ix.Build, Files: make(map[string]File, len(ix.Files))}
	for _, f := range ix.Files {
		file := File{ContentType: f.ContentType, ETag: f.ETag, Size: f.Size, Immutable: f.Immutable}
		for suffix, form := range map[string]*[]byte{"": &file.Body, ".br": &file.Brotli, ".gz": &file.Gzip} {
			if *form, err = fs.ReadFile(from, "built/files/"+f.Name+suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, fmt.Errorf("webapp: %s: %w", f.URL, err)
			}
		}
		if file.Body == nil && file.Brotli == nil {
			return nil, fmt.Errorf("webapp: built/files holds no %s: run `go generate ./webapp`, then build again", f.Name)
		}
		b.Files[f.URL] = file
	}
	return b, nil
}
