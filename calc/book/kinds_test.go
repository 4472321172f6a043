package book

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// example is a file of testdata/book/kinds: the smallest entry of a kind, as it
// is stored. What a released build wrote there reads back for ever.
type example struct {
	Kind    string          `json:"kind"`
	Version int             `json:"v"`
	Body    json.RawMessage `json:"body"`
}

const kindsDir = "../../testdata/book/kinds"

func examples(t *testing.T) map[string]example {
	files, err := filepath.Glob(kindsDir + "/*.json")
	require.NoError(t, err)
	out := map[string]example{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		var x example
		require.NoError(t, json.Unmarshal(text, &x), f)
		require.Equal(t, strings.ReplaceAll(x.Kind, " ", "-")+".json", filepath.Base(f))
		out[x.Kind] = x
	}
	return out
}

func TestEveryKindHasAnExampleThatReadsBackByteForByte(t *testing.T) {
	all := examples(t)
	for _, k := range Kinds() {
		x, ok := all[k.Name]
		if !assert.True(t, ok, "%q has no example in %s", k.Name, kindsDir) {
			continue
		}
		b, err := Decode(x.Kind, x.Version, x.Body)
		require.NoError(t, err, k.Name)
		require.NotNil(t, b, k.Name)
		assert.Equal(t, string(x.Body), string(Encode(b)), k.Name)
		assert.Empty(t, Check(b), "%s: its example passes Check", k.Name)
		delete(all, k.Name)
	}
	assert.Empty(t, all, "examples of kinds that are gone: a kind is never taken out")
}

// An example is smallest when each thing in it is missed.
func TestExamplesAreSmallest(t *testing.T) {
	for name, x := range examples(t) {
		k, _ := KindNamed(name)
		var whole map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(x.Body, &whole))
		for key := range whole {
			less := map[string]json.RawMessage{}
			for other, v := range whole {
				if other != key {
					less[other] = v
				}
			}
			typed, err := json.Marshal(less)
			require.NoError(t, err)
			_, faults := Compose(k.Name, US, typed)
			assert.NotEmpty(t, faults, "%s: without %s it should not pass", name, key)
		}
	}
}

func TestKindsAreDescribed(t *testing.T) {
	pastTense := regexp.MustCompile(`(ed|made|begun|taken|read|found|put)$`)
	for _, k := range Kinds() {
		assert.Regexp(t, pastTense, k.Name, "kinds are past tense")
		assert.LessOrEqual(t, len(k.Name), 48, "%s: a record takes 48 bytes of kind", k.Name)
		assert.NotEmpty(t, k.Help, k.Name)
		assert.NotEmpty(t, k.Changes, k.Name)
		assert.Contains(t, Rooms(), k.Room, k.Name)
		assert.LessOrEqual(t, len(k.Fields), 64, "%s: the reader tells 64 fields apart", k.Name)
		describeFields(t, k.Name, k.Fields)
	}
}

func describeFields(t *testing.T, path string, fields []Field) {
	seen := map[string]bool{}
	for i := range fields {
		f := &fields[i]
		at := path + "." + f.Key
		assert.Regexp(t, `^[a-z][a-z0-9_]*$`, f.Key, at)
		assert.False(t, seen[f.Key], "%s stands twice", at)
		seen[f.Key] = true
		assert.NotEmpty(t, f.Label, at)
		assert.LessOrEqual(t, len(f.Label), 60, "%s: a label is short", at)
		if f.Help != "" {
			assert.Regexp(t, `[.?]$`, f.Help, "%s: help is sentences", at)
			assert.NotEqual(t, f.Label, strings.TrimSuffix(f.Help, "."), "%s: help says more than the label", at)
		}
		switch f.Type {
		case Figure:
			assert.NotEmpty(t, f.Units, at)
			assert.NotEmpty(t, f.Max, "%s: a figure has a most", at)
		case Naming:
			assert.NotEmpty(t, f.RefTo, at)
		case Word:
			assert.NotEmpty(t, f.Words, at)
		case Group:
			assert.NotEmpty(t, f.Fields, at)
			describeFields(t, at, f.Fields)
		}
	}
}
