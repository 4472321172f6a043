package server_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAssetForms(t *testing.T) {
	h := newHouse(t)
	p := h.browser()
	for name, c := range map[string]struct {
		path, accept         string
		coding, body, etag   string
		contentType, caching string
	}{
		"brotli first":                {"/", "gzip, deflate, br", "br", "brotli of the page", `"e1-br"`, "text/html; charset=utf-8", "no-cache"},
		"gzip where that is all":      {"/", "gzip", "gzip", string(packed("<!doctype html><title>page</title>")), `"e1-gz"`, "text/html; charset=utf-8", "no-cache"},
		"brotli refused":              {"/", "br;q=0, gzip;q=0.5", "gzip", string(packed("<!doctype html><title>page</title>")), `"e1-gz"`, "text/html; charset=utf-8", "no-cache"},
		"plain":                       {"/", "identity", "", "<!doctype html><title>page</title>", `"e1"`, "text/html; charset=utf-8", "no-cache"},
		"anything":                    {"/", "*", "br", "brotli of the page", `"e1-br"`, "text/html; charset=utf-8", "no-cache"},
		"anything but brotli":         {"/", "*, br;q=0.000", "gzip", string(packed("<!doctype html><title>page</title>")), `"e1-gz"`, "text/html; charset=utf-8", "no-cache"},
		"a file with no such copy":    {"/sw.js", "br, gzip", "", "worker", `"e2"`, "text/javascript; charset=utf-8", "no-cache"},
		"kept by brotli alone":        {"/app/b1/large.wasm", "gzip", "", "large module", `"e4"`, "application/wasm", "public, max-age=31536000, immutable"},
		"and taken so":                {"/app/b1/large.wasm", "br", "br", string(brotlied("large module")), `"e4-br"`, "application/wasm", "public, max-age=31536000, immutable"},
		"an immutable one, no brotli": {"/app/b1/engine.wasm", "br, gzip", "gzip", string(packed("\x00asm")), `"e3-gz"`, "application/wasm", "public, max-age=31536000, immutable"},
	} {
		t.Run(name, func(t *testing.T) {
			req := p.request("GET", c.path, "", nil)
			req.Header.Set("Accept-Encoding", c.accept)
			r := p.do(req)
			assert.Equal(t, http.StatusOK, r.status)
			assert.Equal(t, c.coding, r.header.Get("Content-Encoding"))
			assert.Equal(t, c.body, r.body)
			assert.Equal(t, c.etag, r.header.Get("ETag"))
			assert.Equal(t, c.contentType, r.header.Get("Content-Type"))
			assert.Equal(t, c.caching, r.header.Get("Cache-Control"))
			assert.Equal(t, "Accept-Encoding", r.header.Get("Vary"))

			req.Header.Set("If-None-Match", `"other", W/`+c.etag)
			again := p.do(req)
			assert.Equal(t, http.StatusNotModified, again.status)
			assert.Empty(t, again.body)
			assert.Equal(t, c.etag, again.header.Get("ETag"))

			req.Header.Set("If-None-Match", `"other"`)
			assert.Equal(t, http.StatusOK, p.do(req).status)
			req.Method = "HEAD"
			head := p.do(req)
			assert.Equal(t, http.StatusOK, head.status)
			assert.Empty(t, head.body)
			assert.Equal(t, r.header.Get("Content-Length"), head.header.Get("Content-Length"))
		})
	}
}
