package engine_test

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/webapp/engine"
)

// Any table of the page becomes a file that a spreadsheet takes for no formula.
func TestATableCanBeKept(t *testing.T) {
	e := engine.New(engine.Outside{Random: counting{new(byte)}})
	raw := e.Call("csv", []byte(`{"title":"Lots","columns":[{"label":"Lot"},{"label":"PG","figure":true}],"rows":[
		{"cells":[{"text":"=1+1","entry":"heron41-1"},{"text":"-2.5"}],"note":"came, then went"},{"cells":[{"text":"Quince"},{"text":"3"}]}]}`))
	var got struct{ CSV string }
	require.NoError(t, json.Unmarshal(raw, &got))
	rows, err := csv.NewReader(strings.NewReader(got.CSV)).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, [][]string{{"Lot", "PG", "note"}, {"'=1+1", "-2.5", "came, then went"}, {"Quince", "3", ""}}, rows)
}
