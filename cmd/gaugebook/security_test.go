package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The table of server/SECURITY.md names the test behind each line; a test that was
// renamed or taken away fails here.
func TestSecurityTableNamesTests(t *testing.T) {
	root := filepath.Join("..", "..")
	table, err := os.ReadFile(filepath.Join(root, "server", "SECURITY.md"))
	require.NoError(t, err)
	var tests strings.Builder
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		raw, err := os.ReadFile(path)
		tests.Write(raw)
		return err
	}))
	named := regexp.MustCompile(`\b(?:Test|Fuzz)[A-Z]\w+`).FindAllString(string(table), -1)
	require.Greater(t, len(named), 25)
	for _, name := range named {
		assert.Contains(t, tests.String(), "func "+name+"(", name)
	}
	parts := regexp.MustCompile(`TestBrowser/([A-Z]\w+)`).FindAllStringSubmatch(string(table), -1)
	require.NotEmpty(t, parts)
	for _, part := range parts {
		assert.Contains(t, tests.String(), `{"`+part[1]+`", `, part[0])
	}
}
