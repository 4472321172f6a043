package main

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPlace(t *testing.T) {
	files := map[string][]byte{
		"index.html":           []byte(`<script src="/app/{{build}}/js/main.js">`),
		"sw.js":                []byte(`'{{build}}' '{{files}}' later '{{later}}'`),
		"manifest.webmanifest": []byte(`{"src":"/app/{{build}}/icon-192.png"}`),
		"js/main.js":           []byte(`start()`),
		"icon-192.png":         []byte("picture"),
		"manual/still.webp":    []byte("picture"),
	}
	build := hashOf(files)
	pages, err := place(files, build)
	require.NoError(t, err)
	require.Equal(t, `<script src="/app/`+build+`/js/main.js">`, string(pages["/"].body))
	require.True(t, pages["/app/"+build+"/js/main.js"].immutable)
	require.False(t, pages["/sw.js"].immutable, "the browser asks for the service worker anew")
	worker, later, _ := strings.Cut(string(pages["/sw.js"].body), "later ")
	require.Equal(t, "'/app/"+build+"/manual/still.webp'", later, "the manual is kept once the app is")
	delete(pages, "/app/"+build+"/manual/still.webp")
	for url := range pages {
		kept := url != "/sw.js" && url != "/version.json"
		require.Equal(t, kept, strings.Contains(worker+" ", url+" ") || strings.Contains(worker, url+"'"), "%s in the list of what is kept", url)
	}
	require.Contains(t, string(pages["/version.json"].body), build)

	files["js/main.js"] = []byte(`const build = '{{build}}'`)
	_, err = place(files, build)
	require.ErrorContains(t, err, "js/main.js", "a hash inside what it is the hash of")
}

// What the engine is made of decides whether it is built again.
func TestTheEngineIsAmongTheInputs(t *testing.T) {
	list, err := packages(forBrowser, sizes["pocket.wasm"], "gaugebook/cmd/engine")
	require.NoError(t, err)
	for _, wanted := range []string{"|pocket.go", "/webapp/engine|", "/calc/book|", "/sync/exchange|"} {
		require.Contains(t, filepath.ToSlash(list), wanted)
	}
}

func TestHashFollowsContentAndNames(t *testing.T) {
	of := func(name, body string) string { return hashOf(map[string][]byte{name: []byte(body)}) }
	require.Equal(t, of("a", "x"), of("a", "x"))
	require.NotEqual(t, of("a", "x"), of("b", "x"))
	require.NotEqual(t, of("a", "x"), of("a", "y"))
	require.NotEqual(t, hashOf(map[string][]byte{"a": []byte("xb"), "c": nil}), hashOf(map[string][]byte{"a": []byte("x"), "bc": nil}))
}

func TestIcon(t *testing.T) {
	for _, size := range []int{180, 192} {
		body, err := icon(size)
		require.NoError(t, err)
		img, err := png.Decode(bytes.NewReader(body))
		require.NoError(t, err)
		require.Equal(t, size, img.Bounds().Dx())
		edge, bulb := img.At(1, 1), img.At(size/2, size*66/100)
		require.NotEqual(t, edge, bulb, "a hydrometer on paper")
	}
}

func TestCopies(t *testing.T) {
	dir := t.TempDir()
	_, err := writeCopies(filepath.Join(dir, "long.txt"), []byte(strings.Repeat("proof ", 500)))
	require.NoError(t, err)
	require.FileExists(t, filepath.Join(dir, "long.txt.br"))
	require.FileExists(t, filepath.Join(dir, "long.txt.gz"))
	_, err = writeCopies(filepath.Join(dir, "short.txt"), []byte("a"))
	require.NoError(t, err)
	require.NoFileExists(t, filepath.Join(dir, "short.txt.gz"))
	_, err = writeCopies(filepath.Join(dir, "engine.wasm"), []byte("\x00asm"))
	require.NoError(t, err)
	require.FileExists(t, filepath.Join(dir, "engine.wasm.br"), "however small it is")
	require.NoFileExists(t, filepath.Join(dir, "engine.wasm"))
}

func TestReplaceTakesThePlaceOfWhatIsThere(t *testing.T) {
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from"), filepath.Join(dir, "to")
	require.NoError(t, os.MkdirAll(filepath.Join(from, "new"), 0o755))
	require.NoError(t, os.MkdirAll(filepath.Join(to, "old"), 0o755))
	require.NoError(t, replace(from, to))
	require.DirExists(t, filepath.Join(to, "new"))
	require.NoDirExists(t, filepath.Join(to, "old"))
}
