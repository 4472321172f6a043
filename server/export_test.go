package server

import "time"

// SetWriteTimeout shortens the time a reply may take, before Serve.
func SetWriteTimeout(s *Server, d time.Duration) { s.timeout = d }
