package webapp

import (
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

func TestReadTheEmbeddedBuild(t *testing.T) {
	b, err := read(fstest.MapFS{
		"built/index.json": {Data: []byte(`{"build":"b1","files":[
			{"url":"/","name":"index.html","content_type":"text/html; charset=utf-8","etag":"\"e1\"","immutable":false},
			{"url":"/app/b1/app.css","name":"app.css","content_type":"text/css; charset=utf-8","etag":"\"e2\"","immutable":true}]}`)},
		"built/files/index.html":    {Data: []byte("page")},
		"built/files/index.html.gz": {Data: []byte("small")},
		"built/files/app.css":       {Data: []byte("look")},
	})
	require.NoError(t, err)
	require.Equal(t, &Bundle{Build: "b1", Files: map[string]File{
		"/":               {Body: []byte("page"), Gzip: []byte("small"), ContentType: "text/html; charset=utf-8", ETag: `"e1"`},
		"/app/b1/app.css": {Body: []byte("look"), ContentType: "text/css; charset=utf-8", ETag: `"e2"`, Immutable: true},
	}}, b)
}

func TestABinaryWithoutThePageSaysSo(t *testing.T) {
	_, err := read(fstest.MapFS{"built/.keep": {}})
	require.ErrorContains(t, err, "go generate ./webapp")
	_, err = read(fstest.MapFS{"built/index.json": {Data: []byte(`{"build":"b1","files":[{"url":"/","name":"index.html"}]}`)}})
	require.ErrorContains(t, err, "index.html", "a file the index names and the build lacks")
}

// sources are the page's files as written.
func sources(t *testing.T, suffix string) map[string]string {
	out := map[string]string{}
	require.NoError(t, fs.WalkDir(os.DirFS("static"), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, suffix) {
			return err
		}
		body, err := os.ReadFile("static/" + name)
		out[name] = string(body)
		return err
	}))
	require.NotEmpty(t, out, suffix)
	return out
}

// A ban is something the page's JavaScript must not hold, and why.
type ban struct {
	what   *regexp.Regexp
	except string // the one file that may
	why    string
}

// TestScripts holds what conventions and the Content-Security-Policy ask of the
// page where a browser without Trusted Types would not.
func TestScripts(t *testing.T) {
	bans := []ban{
		{regexp.MustCompile(`innerHTML|outerHTML|insertAdjacentHTML|document\.write|DOMParser|createContextualFragment|setHTML`), "", "nothing is ever read as markup"},
		{regexp.MustCompile(`\beval\(|new Function|setTimeout\(['"]|import\((?:[^']|'[^.])`), "", "nothing is ever read as a program, but our own modules by their names"},
		{regexp.MustCompile(`indexedDB`), "js/database.js", "the phone's database is opened in one place"},
		{regexp.MustCompile(`IDBKeyRange|globalThis\.gaugebookDatabase;`), "js/log.js", "only the log touches the phone's database"},
		{regexp.MustCompile(`createPolicy`), "js/trusted.js", "there is one Trusted Types policy"},
		{regexp.MustCompile(`localStorage|sessionStorage|document\.cookie`), "", "what a phone keeps, it keeps in its log"},
		{regexp.MustCompile(`https?://`), "js/view/dom.js", "nothing is fetched from elsewhere (the one address is the name of SVG)"},
		{regexp.MustCompile(`parseFloat|toFixed|toPrecision|Math\.(pow|exp|log|sqrt)|\*\*[^/\n]`), "", "figures of the trade are worked out in Go"},
		{regexp.MustCompile(`\b(proof|gallons?|litres?)\s*[*/]|[*/]\s*(100|3\.785|231)\b`), "", "figures of the trade are worked out in Go"},
		{regexp.MustCompile(`\son[a-z]+=["']`), "", "listeners are added, not written into markup"},
	}
	comments := regexp.MustCompile(`(?s)/\*.*?\*/|\s//[^\n]*`)
	for name, body := range sources(t, ".js") {
		body := comments.ReplaceAllString(body, "")
		for _, b := range bans {
			if name != b.except {
				require.NotRegexp(t, b.what, body, "%s: %s", name, b.why)
			}
		}
	}
}

// Every import names a file that is there, so that no phone finds out.
func TestImports(t *testing.T) {
	from := regexp.MustCompile(`(?m)(?:from|^import) '(\.[^']+)'|import\('(\.[^']+)'\)`)
	files := sources(t, ".js")
	count := 0
	for name, body := range files {
		for _, m := range from.FindAllStringSubmatch(body, -1) {
			target := path.Join(path.Dir(name), m[1]+m[2])
			if target != "js/wasm_exec.js" { // comes from the Go release
				require.Contains(t, files, target, "%s imports %s", name, m[1]+m[2])
			}
			count++
		}
	}
	require.Greater(t, count, 30, "imports looked at")
}

// The page fetches all that main.js is made of at once, and nothing else: found
// module by module it would arrive in as many steps as they are deep.
func TestPreloads(t *testing.T) {
	files := sources(t, ".js")
	static := regexp.MustCompile(`(?m)(?:from|^import) '(\.[^']+)'`)
	begun := map[string]bool{"js/main.js": true, "js/glance.js": true} // the page has these as scripts
	wanted := []string{}
	for next := []string{"js/main.js", "js/glance.js"}; len(next) > 0; next = next[1:] {
		for _, m := range static.FindAllStringSubmatch(files[next[0]], -1) {
			if name := path.Join(path.Dir(next[0]), m[1]); !begun[name] {
				begun[name] = true
				wanted, next = append(wanted, name), append(next, name)
			}
		}
	}
	html := sources(t, "index.html")["index.html"]
	listed := []string{}
	for _, m := range regexp.MustCompile(`<link rel="modulepreload" href="/app/\{\{build\}\}/([^"]+)">`).FindAllStringSubmatch(html, -1) {
		listed = append(listed, m[1])
	}
	require.ElementsMatch(t, wanted, listed)
	for _, name := range listed {
		require.NotRegexp(t, `^js/(room|office|store|bottling)/`, name, "a room is fetched when it is opened")
	}
}

// Every room says what to mind in it, and defers to those who decide.
func TestCautions(t *testing.T) {
	files := sources(t, ".js")
	rooms := 0
	for name, body := range files {
		if !strings.HasPrefix(name, "js/room/") {
			continue
		}
		rooms++
		if name == "js/room/still.js" {
			body = files["js/still/run.js"] // what it fetches after the reading
		}
		require.Regexp(t, `caution\((view\.)?cautions\)|pagedRoom\(.*, cautions\)`, body, name)
	}
	require.GreaterOrEqual(t, rooms, 4)
	require.Contains(t, files["js/view/pages.js"], "caution(cautions)", "of a room of several pages")
	require.Contains(t, files["js/view/caution.js"], "follow your local code, your fire marshal and licensed practice")
	for _, room := range []string{"store", "bottling"} { // the still room's own come with its figures
		require.Contains(t, files["js/room/"+room+".js"], "Ethanol vapour burns", room)
	}
}

// The look works without a colour scheme, without motion, and loads nothing.
func TestStyle(t *testing.T) {
	css := sources(t, ".css")["app.css"]
	for _, wanted := range []string{"prefers-color-scheme: dark", "prefers-reduced-motion", "min-height: 2.75rem", ":focus-visible", "tabular-nums"} {
		require.Contains(t, css, wanted)
	}
	require.NotRegexp(t, `url\(|@import|@font-face`, css, "the look is system fonts and lines")
}
