package server

import (
	"slices"
	"time"
)

// SetWriteTimeout shortens the time a reply may take, before Serve.
func SetWriteTimeout(s *Server, d time.Duration) { s.timeout = d }

// Routes are all that the server answers, as "METHOD path".
func Routes(s *Server) (out []string) {
	for _, r := range s.echo.Routes() {
		out = append(out, r.Method+" "+r.Path)
	}
	slices.Sort(out)
	return out
}
