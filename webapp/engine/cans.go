package engine

import (
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/fizz"
	"gaugebook/calc/quantity"
	"gaugebook/calc/spirit"
)

type cansView struct {
	Runs     []choice          `json:"runs"`
	Run      string            `json:"run"`
	Open     bool              `json:"open"`
	Drink    map[string]string `json:"drink"` // what the sums know of the drink already
	Cautions []string          `json:"cautions"`
	Blocks   []block           `json:"blocks"`
}

// strongestDrink is where the sums of package fizz end, % vol.
const strongestDrink = 20

// cansPage is what is to be known of gas in a drink: the checks that were
// written, what is customary, and what the sums begin with.
func (e *Engine) cansPage(wanted book.Address) (any, error) {
	out := cansView{Runs: e.runChoices(), Drink: map[string]string{}, Cautions: []string{}, Blocks: []block{{Table: e.carbonationsTable("")}, {Table: stylesTable()}}}
	for _, c := range fizz.Cautions() {
		out.Cautions = append(out.Cautions, strings.TrimSuffix(c.Text, " Follow your local code and licensed practice.")) // the page says it once for all
	}
	r := e.chosenRun(wanted, out.Runs)
	if r == nil {
		return out, nil
	}
	out.Run, out.Open = string(r.Address), r.Open()
	if s, err := spirit.StrengthOf(r.Label); err == nil && !r.Label.IsNone() && s.ABV20() <= strongestDrink {
		out.Drink["abv"] = abvText(s) + "%"
	}
	all := e.book.State().Carbonations()
	for i := len(all) - 1; i >= 0; i-- { // the last check of this run knows its gas and its sugar
		if c := all[i]; c.Bottling == r.Address || c.Tank == r.Tank {
			out.Drink["volumes"] = quantity.Fixed(c.Volumes, 2)
			if !c.Sugar.IsNone() {
				out.Drink["sugar"] = c.Sugar.Compact()
			}
			if !c.Rating.IsNone() {
				out.Drink["rating"] = c.Rating.Compact()
			}
			break
		}
	}
	return out, nil
}

func stylesTable() *table {
	t := &table{Title: "Customary carbonation", Rows: []row{}, Columns: []column{{Label: "Drink"}, {Label: "Volumes", Figure: true}}}
	for _, s := range fizz.Styles() {
		t.Rows = append(t.Rows, row{Cells: []cell{text(capital(s.Name)), text(s.Low.String() + " to " + s.High.String())}, Note: s.Source})
	}
	return t
}
