package reckon_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// sameAsFile holds got to a file line by line; -update writes the file.
func sameAsFile(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	wantLines, gotLines := strings.Split(string(want), "\n"), strings.Split(got, "\n")
	require.Len(t, gotLines, len(wantLines))
	for i := range wantLines {
		require.Equal(t, wantLines[i], gotLines[i])
	}
}
