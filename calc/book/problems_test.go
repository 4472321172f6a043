package book

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/calc/fault"
)

// problem is a file of testdata/problems: the smallest example of a fault, of a
// question, or of something overdue, with the words a person reads.
type problem struct {
	Fault    fault.Code      `json:"fault"`
	Before   []told          `json:"before"`
	Kind     string          `json:"kind"`
	Typed    json.RawMessage `json:"typed"`
	Question QuestionKind    `json:"question"`
	Due      QuestionKind    `json:"due"`
	Entries  []told          `json:"entries"`
	On       string          `json:"on"`
	Says     string          `json:"says"`
}

// told is one entry: its kind and its body as typed; then, if they are not the
// usual ones, the device and its number.
type told struct {
	kind   string
	body   json.RawMessage
	device string
	seq    uint64
}

func (e *told) UnmarshalJSON(text []byte) error {
	e.device = "heron41"
	parts := []any{&e.kind, &e.body, &e.device, &e.seq}
	return json.Unmarshal(text, &parts)
}

const problemsDir = "../../testdata/problems"

func (p *problem) book(t *testing.T, list []told) *Book {
	b := New()
	writers := map[string]*writer{}
	for i, e := range list {
		w := writers[e.device]
		if w == nil {
			w = &writer{t: t, device: e.device}
			writers[e.device] = w
		}
		if e.seq > 0 {
			w.seq = e.seq - 1
		}
		body, faults := Compose(e.kind, b.State().Convention(), e.body)
		require.Empty(t, faults, "%s %s", e.kind, e.body)
		w.minute = i
		entry := w.seal(body)
		entry.ID = fmt.Sprint(i)
		b.Add(entry)
	}
	return b
}

func TestEveryProblemHasAnExample(t *testing.T) {
	want := map[string]bool{}
	for _, c := range []fault.Code{fault.Missing, fault.NotANumber, fault.UnknownUnit, fault.WrongUnit, fault.TooLow, fault.TooHigh,
		fault.NotOneOf, fault.Unknown, fault.Conflict, fault.TooLong, Malformed, BeforeAnyReading} {
		want[string(c)] = true
	}
	for _, k := range QuestionKinds() {
		want[strings.NewReplacer(" ", "-", ",", "").Replace(string(k))] = true
	}
	files, err := filepath.Glob(problemsDir + "/*.json")
	require.NoError(t, err)
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".json")
		if !want[name] {
			continue // of another package
		}
		delete(want, name)
		t.Run(name, func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			var p problem
			require.NoError(t, json.Unmarshal(text, &p))
			says := p.says(t)
			require.Len(t, says, 1, "the example has this one problem and no other")
			assert.Equal(t, p.Says, says[0])
		})
	}
	assert.Empty(t, want, "faults and questions without an example in %s", problemsDir)
}

// says is what the book says of the problem, in the words a person reads.
func (p *problem) says(t *testing.T) (out []string) {
	switch {
	case p.Fault != "":
		b := p.book(t, p.Before)
		body, faults := Compose(p.Kind, US, p.Typed)
		if len(faults) == 0 {
			faults = b.State().Timely(body)
		}
		for _, f := range faults {
			require.Equal(t, p.Fault, f.Code, f.Error())
			require.NotEmpty(t, f.Field)
			require.NotEmpty(t, f.Remedy)
			out = append(out, f.Error())
		}
	case p.Question != "":
		s := p.book(t, p.Entries).State()
		requireConserved(t, s)
		for _, q := range s.Questions() {
			if q.Kind == p.Question {
				out = append(out, q.Says)
			}
		}
	default:
		on, err := ParseMoment(p.On)
		require.NoError(t, err)
		for _, d := range p.book(t, p.Entries).State().Overdue(on) {
			if d.Kind == p.Due {
				out = append(out, d.Says)
			}
		}
		out = out[:min(1, len(out))] // of three reports that are due, the first
	}
	return out
}
