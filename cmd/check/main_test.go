package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

// What drives a browser is named so that the race detector's run, which starts
// it in vain, can leave it out.
func TestWhatDrivesABrowserIsNamedSo(t *testing.T) {
	files, err := filepath.Glob("../gaugebook/browser*_test.go")
	require.NoError(t, err)
	named := 0
	for _, file := range files {
		body, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)`).FindAllStringSubmatch(string(body), -1) {
			require.Regexp(t, leftOut, m[1], file)
			named++
		}
	}
	require.Greater(t, named, 3, "browser tests looked at")
}
