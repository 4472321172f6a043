package webapp

import (
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/book"
)

// A chapter is one page of the manual, as static/manual/manual.json has it.
type chapter struct {
	Key, Title, Says, Picture, Shows string
	Parts                            []struct {
		Title        string
		Steps, Notes []string
	}
	Cautions []string
}

func chapters(t *testing.T) (all []chapter) {
	raw, err := os.ReadFile("static/manual/manual.json")
	require.NoError(t, err)
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(&all))
	return all
}

// Every button, field and page that the manual names in [brackets] is one of
// the app's, so that a new name there is a new name here.
func TestTheManualNamesWhatIsThere(t *testing.T) {
	known := map[string]bool{}
	var label func(fields []book.Field)
	label = func(fields []book.Field) {
		for _, f := range fields {
			known[f.Label], known["Add: "+strings.ToLower(f.Label)] = true, true
			label(f.Fields)
		}
	}
	for _, k := range book.Kinds() {
		label(k.Fields)
	}
	written := strings.Join(append(values(sources(t, ".js")), engineSources(t)...), "\n")
	named := regexp.MustCompile(`\[([^\]]*)\]`)
	count := 0
	for _, c := range chapters(t) {
		for _, p := range c.Parts {
			for _, sentence := range append(p.Steps, p.Notes...) {
				for _, m := range named.FindAllStringSubmatch(sentence, -1) {
					there := known[m[1]] || regexp.MustCompile(`['"`+"`"+`]`+regexp.QuoteMeta(m[1])+`['"`+"`"+`]`).MatchString(written)
					assert.True(t, there, "%s: nothing in the app is called [%s]", c.Title, m[1])
					count++
				}
				assert.Equal(t, strings.Count(sentence, "["), strings.Count(sentence, "]"), sentence)
			}
		}
	}
	require.Greater(t, count, 60, "names looked up")
}

// Every room has a page, what can hurt has its cautions, and the pictures are
// there, described, and small.
func TestTheManualIsWhole(t *testing.T) {
	pages := map[string]chapter{}
	pictures := map[string]bool{"manual.json": true}
	for _, c := range chapters(t) {
		pages[c.Key] = c
		require.NotEmpty(t, c.Says, c.Title)
		if c.Picture != "" {
			require.NotEmpty(t, c.Shows, "%s: what its picture shows", c.Title)
			pictures[c.Picture] = true
		}
		if c.Key != "first-day" && c.Key != "phone" {
			require.NotEmpty(t, c.Cautions, c.Title)
		}
	}
	for _, key := range append(roomKeys(t), "phone", "first-day", "run", "bottles", "month-end") {
		require.Contains(t, pages, key)
	}
	files, err := os.ReadDir("static/manual")
	require.NoError(t, err)
	total := int64(0)
	for _, f := range files {
		info, err := f.Info()
		require.NoError(t, err)
		total += info.Size()
		require.True(t, pictures[f.Name()], "%s is shown on no page", f.Name())
		delete(pictures, f.Name())
	}
	require.Empty(t, pictures, "pictures that go run ./cmd/pictures has not made")
	require.Less(t, total, int64(200_000), "bytes of the whole manual")
}

// roomKeys are the keys of the rooms, from the table of their doors.
func roomKeys(t *testing.T) (keys []string) {
	for _, m := range regexp.MustCompile(`\{ key: '(\w+)', .* import\('\./room/`).FindAllStringSubmatch(sources(t, ".js")["js/rooms.js"], -1) {
		keys = append(keys, m[1])
	}
	require.Len(t, keys, len(book.Rooms()))
	return keys
}

func engineSources(t *testing.T) (all []string) {
	files, err := os.ReadDir("engine")
	require.NoError(t, err)
	for _, f := range files {
		body, err := os.ReadFile("engine/" + f.Name())
		require.NoError(t, err)
		all = append(all, string(body))
	}
	return all
}

func values(m map[string]string) (all []string) {
	for _, v := range m {
		all = append(all, v)
	}
	return all
}
