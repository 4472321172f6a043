package server

import (
	"crypto/x509"
	_ "embed"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/webapp/engine"
)

// A Sheet is what the join sheet tells: where the book is, and what a phone
// must trust to open it.
type Sheet struct {
	App     string // the one origin of the book, https://name:port
	Join    string // the plain address of this sheet, for the QR
	Root    *x509.Certificate
	Profile []byte // the root as an iPhone takes it
	PEM     []byte // the root as others take it
	Print   string // the root's SHA-256
}

// Paths of the sheet, the same on the plain listener and beside the book.
const (
	pathSheet   = "/join"
	pathTrusted = "/trusted"
)

//go:embed joinsheet.html
var sheetText string

//go:embed joinsheet.css
var sheetStyle []byte

//go:embed joinsheet.js
var sheetScript []byte

// sheetFiles are the sheet's files by path.
func (sh Sheet) files() (map[string]sheetFile, error) {
	rows, err := engine.Squares(sh.Join)
	if err != nil {
		return nil, err
	}
	page, err := template.New("sheet").Parse(sheetText)
	if err != nil {
		return nil, err
	}
	var html strings.Builder
	shown := struct {
		Sheet
		Size   int
		Dark   string
		Prints []string
		Names  string
		Until  string
	}{Sheet: sh, Size: len(rows), Dark: outline(rows)}
	if sh.Root != nil {
		pairs := strings.Fields(sh.Print)
		for i := 0; i+8 <= len(pairs); i += 8 {
			shown.Prints = append(shown.Prints, strings.Join(pairs[i:i+8], " "))
		}
		shown.Names = strings.Join(sh.Root.PermittedDNSDomains, ", ")
		shown.Until = sh.Root.NotAfter.Format("2006-01-02")
	}
	if err := page.Execute(&html, shown); err != nil {
		return nil, err
	}
	files := map[string]sheetFile{
		pathSheet:                {"text/html; charset=utf-8", "", []byte(html.String())},
		pathSheet + "/sheet.css": {"text/css; charset=utf-8", "", sheetStyle},
		pathSheet + "/sheet.js":  {"text/javascript; charset=utf-8", "", sheetScript},
	}
	if sh.Root != nil {
		files[pathSheet+"/gaugebook.mobileconfig"] = sheetFile{"application/x-apple-aspen-config", "gaugebook.mobileconfig", sh.Profile}
		files[pathSheet+"/gaugebook-root.crt"] = sheetFile{"application/x-x509-ca-cert", "gaugebook-root.crt", sh.PEM}
	}
	return files, nil
}

// outline is the dark squares of a QR code as the path of an SVG.
func outline(rows []string) string {
	var b strings.Builder
	for y, row := range rows {
		for x, square := range row {
			if square == '1' {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	return b.String()
}

type sheetFile struct {
	kind, name string // name: of what is to be saved
	body       []byte
}

// policy of the sheet: it may ask the book's own origin whether it is trusted.
func (sh Sheet) policy() string {
	return "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self' " + sh.App + "; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types 'none'"
}

func (sh Sheet) give(f sheetFile) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", sh.policy())
		h.Set("Cache-Control", "no-store")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Content-Type", f.kind)
		if f.name != "" {
			h.Set("Content-Disposition", `attachment; filename="`+f.name+`"`)
		}
		w.Write(f.body) // who hangs up needs no sheet
	}
}

// Handler is the plain listener: the sheet, and nothing of the book. It takes
// any Host, for it holds nothing that a hostile page could not have.
func (sh Sheet) Handler() (http.Handler, error) {
	files, err := sh.files()
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for path, f := range files {
		mux.HandleFunc("GET "+path, sh.give(f))
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/" {
			http.Redirect(w, r, pathSheet, http.StatusFound)
			return
		}
		http.Error(w, "Only the join sheet is given without encryption: open "+pathSheet+". The book itself is at "+sh.App+".", http.StatusNotFound)
	})
	return mux, nil
}

// A sheetView is the sheet as the owner's phone shows it, to be scanned off its
// screen.
type sheetView struct {
	Join  string   `json:"join"`
	App   string   `json:"app"`
	Print string   `json:"print"` // of the root; "" where phones trust the office as they are
	QR    []string `json:"qr"`
}

// ShowSheet gives the sheet beside the book, for the office. It is to be
// called before serving.
func (s *Server) ShowSheet(sh Sheet) error {
	files, err := sh.files()
	if err != nil {
		return err
	}
	rows, err := engine.Squares(sh.Join)
	if err != nil {
		return err
	}
	s.sheet = &sheetView{sh.Join, sh.App, sh.Print, rows}
	for path, f := range files {
		s.echo.GET(path, echo.WrapHandler(sh.give(f)))
	}
	return nil
}

// trusted answers a page of the plain listener that asks whether this phone
// trusts the root: only who does gets an answer at all.
func trusted(c echo.Context) error {
	c.Response().Header().Set("Cross-Origin-Resource-Policy", "cross-origin")
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.NoContent(http.StatusNoContent)
}
