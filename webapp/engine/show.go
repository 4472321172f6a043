package engine

import (
	"slices"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/report"
	"gaugebook/calc/spirit"
)

// A block is one thing a room reads out of the book; exactly one field is set.
type block struct {
	Table     *table     `json:"table,omitempty"`
	Chart     *chart     `json:"chart,omitempty"`
	Result    *result    `json:"result,omitempty"`
	Facts     *facts     `json:"facts,omitempty"`
	Questions []question `json:"questions,omitempty"`
}

type table struct {
	Title   string   `json:"title"`
	Columns []column `json:"columns"`
	Rows    []row    `json:"rows"`
	Empty   string   `json:"empty"`
}

type column struct {
	Label  string `json:"label"`
	Figure bool   `json:"figure,omitempty"`
}

type row struct {
	Cells  []cell `json:"cells"`
	Note   string `json:"note,omitempty"`
	Struck bool   `json:"struck,omitempty"`
}

type cell struct {
	Text  string       `json:"text"`
	Entry book.Address `json:"entry,omitempty"`
}

// csv is a table as the page has it, to be kept as a file: what its rows note
// stands in a column of its own.
func (e *Engine) csv(t table) (any, error) {
	noted := slices.ContainsFunc(t.Rows, func(r row) bool { return r.Note != "" })
	head := []string{}
	for _, c := range t.Columns {
		head = append(head, c.Label)
	}
	if noted {
		head = append(head, "note")
	}
	rows := [][]string{head}
	for _, r := range t.Rows {
		cells := []string{}
		for _, c := range r.Cells {
			cells = append(cells, c.Text)
		}
		if noted {
			cells = append(cells, r.Note)
		}
		rows = append(rows, cells)
	}
	return struct {
		CSV string `json:"csv"`
	}{report.CSV(rows)}, nil
}

type facts struct {
	Title string `json:"title"`
	Lines []pair `json:"lines"`
}

type pair struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

type question struct {
	ID       string         `json:"id"` // "" for what only a newer build can answer
	Kind     string         `json:"kind"`
	Text     string         `json:"text"`
	Entries  []book.Address `json:"entries"`
	Proposal *proposal      `json:"proposal,omitempty"`
}

// A proposal is an entry that would settle a question, as a form holds it.
type proposal struct {
	Kind   string         `json:"kind"`
	Values map[string]any `json:"values"`
}

// A result is the figure a person came for, what goes with it, and its working.
type result struct {
	Label  string           `json:"label"`
	Figure string           `json:"figure"`
	Unit   string           `json:"unit"`
	Beside []pair           `json:"beside"`
	Says   []string         `json:"says,omitempty"` // what to mind about it, in sentences
	Steps  quantity.Working `json:"steps"`
	Method string           `json:"method,omitempty"`
}

func text(s string) cell { return cell{Text: s} }

// proofText and abvText are a strength to the legal tenth.
func proofText(s spirit.Strength) string {
	return quantity.ProofToTenth(quantity.Snap(s.Proof())).StringFixed(1)
}

func abvText(s spirit.Strength) string {
	return quantity.ABVToTenth(quantity.Snap(s.ABV20())).StringFixed(1)
}

// strengthText is a strength as the book's convention writes it, with its unit.
func (e *Engine) strengthText(s spirit.Strength) string {
	return e.strengthFigure(s) + " " + e.strengthUnit()
}

func (e *Engine) strengthFigure(s spirit.Strength) string {
	if e.metric() {
		return abvText(s)
	}
	return proofText(s)
}

func (e *Engine) strengthUnit() string {
	if e.metric() {
		return "% vol"
	}
	return "proof"
}

func (e *Engine) metric() bool { return e.book.State().Convention() == book.Metric }

// volumeText is the volume of a content at the base temperature of the book's
// convention.
func (e *Engine) volumeText(c *book.Content) string {
	litres := c.Litres20()
	if !c.Material.Accounted() || e.metric() {
		return quantity.Fixed(litres, 1) + " L at 20 °C"
	}
	litres /= spirit.VolumeFactor(c.Strength(), spirit.Celsius(60-32)*5/9) / spirit.VolumeFactor(c.Strength(), 20)
	return quantity.Fixed(quantity.Figure{Value: litres, Unit: quantity.Litre}.In(quantity.Gallon).Value, 2) + " gal at 60 °F"
}

func (e *Engine) alcoholLabel() string {
	if e.metric() {
		return "L pure alcohol"
	}
	return "Proof gallons"
}

// alcoholText is an amount of alcohol in the unit of alcoholLabel.
func (e *Engine) alcoholText(a book.Alcohol) string {
	if e.metric() {
		return quantity.Fixed(a.LitresPureAlcohol(), 2)
	}
	return quantity.Fixed(a.ProofGallons(), 1)
}

// alcoholBoth is an amount of alcohol by both conventions.
func alcoholBoth(a book.Alcohol) string {
	return quantity.Fixed(a.ProofGallons(), 1) + " proof gallons, " + quantity.Fixed(a.LitresPureAlcohol(), 2) + " L of pure alcohol"
}

// openQuestions lists what the book asks and nobody has answered yet.
func (e *Engine) openQuestions() []question {
	var out []question
	for _, q := range e.book.State().Questions() {
		if q.Answer != "" {
			continue
		}
		to := question{ID: q.ID, Kind: string(q.Kind), Text: q.Says, Entries: q.Entries}
		if q.Proposal != nil {
			if body, faults := book.Compose(q.Proposal.Kind, e.book.State().Convention(), q.Proposal.Body); len(faults) == 0 {
				to.Proposal = &proposal{q.Proposal.Kind, values(body)}
			}
		}
		out = append(out, to)
	}
	return out
}
