package store

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"
)

// Pragma reads a setting of the writer's connection and of the readers'.
func Pragma(t testing.TB, s *Store, name string) map[string]string {
	t.Helper()
	got := map[string]string{}
	for pool, db := range map[string]*sql.DB{"writer": s.writer, "readers": s.readers} {
		var value string
		require.NoError(t, db.QueryRow("PRAGMA "+name).Scan(&value))
		got[pool] = value
	}
	return got
}

// WithMigrations is the options with other migrations than the built-in ones:
// the built-in and then these.
func WithMigrations(t testing.TB, o Options, more ...string) Options {
	t.Helper()
	ms, err := migrations()
	require.NoError(t, err)
	for _, sql := range more {
		ms = append(ms, migration{len(ms) + 1, sql})
	}
	o.migrations = ms
	return o
}
