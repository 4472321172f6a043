package main

import (
	"path/filepath"
	"regexp"
	"testing"

	"gaugebook/calc/book"
	"gaugebook/server/store"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The stand-in joins the demo by itself, and its readings are in the book:
// a temperature every five minutes for each of the demo's fermenters.
func TestControllerStandsInForTheDemos(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := serve(t, nil, "--demo", "--book", path)
	out, err := prompt(t, "controller", "--demo", "--server", s.url, "--days", "0.5", "--every", "0")
	require.NoError(t, err, out)
	key := regexp.MustCompile(`joined as ([a-z]+\d+); its key is (\S+)`).FindStringSubmatch(out)
	require.NotNil(t, key, out)
	assert.NotContains(t, s.errs.String(), key[2], "a key is never in the log")

	again, err := prompt(t, "controller", "--key", key[2], "--server", s.url, "--vessel", "heron41-47", "--days", "0.01", "--every", "0")
	require.NoError(t, err, again)
	assert.NotContains(t, again, "its key is")
	_, err = prompt(t, "controller", "--key", "no key", "--server", s.url, "--vessel", "heron41-47", "--every", "0")
	require.ErrorContains(t, err, "join with a code")
	s.kill()

	r, err := store.OpenReader(t.Context(), path)
	require.NoError(t, err)
	defer r.Close()
	points := map[book.Address]int{}
	for e, err := range r.Entries(t.Context(), 0) {
		require.NoError(t, err)
		rec, err := record.Decode(e.Line)
		require.NoError(t, err)
		if rec.Device == key[1] {
			body, err := book.Decode(rec.Kind, rec.V, rec.Body)
			require.NoError(t, err)
			for _, reading := range body.(*book.ReadingsArrived).Readings {
				points[reading.Vessel]++
			}
		}
	}
	require.NotEmpty(t, points)
	for _, v := range demoFermenters() {
		assert.GreaterOrEqual(t, points[book.Address(v)], 144, "12 hours, every five minutes, in %s", v)
	}
}

func TestControllerRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		args  []string
		words string
	}{
		"no vessel":     {[]string{"controller"}, "at least one fermenter"},
		"a year":        {[]string{"controller", "--vessel", "heron41-1", "--days", "365"}, "0 to 30"},
		"nobody there":  {[]string{"controller", "--vessel", "heron41-1", "--server", "http://127.0.0.1:1", "--every", "0"}, "does not answer"},
		"no address":    {[]string{"controller", "--vessel", "heron41-1", "--server", "http://[", "--every", "0"}, "is not an address"},
		"an argument":   {[]string{"controller", "extra"}, "extra"},
		"a vessel left": {[]string{"controller", "--vessel"}, "vessel"},
	} {
		_, err := prompt(t, c.args...)
		assert.ErrorContains(t, err, c.words, name)
	}
}
