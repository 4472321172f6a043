package server

import (
	"bytes"
	"io"
	"net/http"
	"strconv"
	"strings"

	"gaugebook/webapp"

	"github.com/labstack/echo/v4"
)

// asset hands out one file of the page, in the best form the browser takes.
func asset(f webapp.File) echo.HandlerFunc {
	// Each form is another representation, so each has its own strong ETag.
	type form struct {
		coding, etag string
		body         []byte // nil for the file as it is
	}
	forms := []form{}
	tag := strings.TrimSuffix(f.ETag, `"`)
	if f.Brotli != nil {
		forms = append(forms, form{"br", tag + `-br"`, f.Brotli})
	}
	if f.Gzip != nil {
		forms = append(forms, form{"gzip", tag + `-gz"`, f.Gzip})
	}
	cache := "no-cache"
	if f.Immutable {
		cache = "public, max-age=31536000, immutable"
	}
	csp := policy
	if strings.HasPrefix(f.ContentType, "text/html") {
		csp = documentPolicy
	}
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("Content-Security-Policy", csp)
		h.Set("Cache-Control", cache)
		h.Set("Content-Type", f.ContentType)
		h.Set("Vary", "Accept-Encoding")
		chosen := form{"", f.ETag, nil}
		from, size := f.Plain()
		for _, fm := range forms {
			if accepts(c.Request().Header.Values("Accept-Encoding"), fm.coding) {
				chosen, from, size = fm, bytes.NewReader(fm.body), len(fm.body)
				h.Set("Content-Encoding", fm.coding)
				break
			}
		}
		h.Set("ETag", chosen.etag)
		if matches(c.Request().Header.Values("If-None-Match"), chosen.etag) {
			h.Del("Content-Type")
			h.Del("Content-Encoding")
			return c.NoContent(http.StatusNotModified)
		}
		h.Set("Content-Length", strconv.Itoa(size))
		c.Response().WriteHeader(http.StatusOK)
		if c.Request().Method == http.MethodHead {
			return nil
		}
		_, err := io.Copy(c.Response(), from)
		return err
	}
}

// accepts reads Accept-Encoding (RFC 9110 §12.5.3): a coding that is named, or
// covered by *, and whose weight is not 0.
func accepts(headers []string, coding string) bool {
	star := false
	for item := range strings.SplitSeq(strings.Join(headers, ","), ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(item), ";")
		name = strings.ToLower(strings.TrimSpace(name))
		q, ok := strings.CutPrefix(strings.ReplaceAll(strings.ToLower(weight), " ", ""), "q=")
		v, err := strconv.ParseFloat(q, 64)
		wanted := !ok || err == nil && v > 0
		switch name {
		case coding:
			return wanted
		case "*":
			star = wanted
		}
	}
	return star
}

// matches reads If-None-Match (RFC 9110 §13.1.2), which compares weakly.
func matches(headers []string, etag string) bool {
	for item := range strings.SplitSeq(strings.Join(headers, ","), ",") {
		item = strings.TrimPrefix(strings.TrimSpace(item), "W/")
		if item == etag || item == "*" {
			return true
		}
	}
	return false
}
