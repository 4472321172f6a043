package book

import (
	"slices"
	"strings"
)

// A QuestionKind is one way the book can doubt what it was told.
type QuestionKind string

// The questions that the entries themselves raise. What is overdue depends on
// the day it is asked: see State.Overdue.
const (
	Overdrawn       QuestionKind = "more drawn than held"
	OverFull        QuestionKind = "more than the vessel takes"
	Twice           QuestionKind = "one thing told twice"
	GaugeDisagrees  QuestionKind = "gauge disagrees with the book"
	ClosedMonth     QuestionKind = "entry for a closed month"
	AboveClassLimit QuestionKind = "distilled above the limit of its class"
	OffLabel        QuestionKind = "strength is not what the label says"
	Dangling        QuestionKind = "names something the book does not hold"
	BeforeReading   QuestionKind = "cut before any reading"
	CountDisagrees  QuestionKind = "count disagrees with the book"
	AddressTaken    QuestionKind = "two entries with one address"
	Mixing          QuestionKind = "two accounts in one vessel"
	NothingThere    QuestionKind = "nothing there, as far as the book knows"
	AboveLimit      QuestionKind = "result above a published limit"
	OffFill         QuestionKind = "fill outside its limits"
	OverPressure    QuestionKind = "pressure above the rating of the can"
	ClockWrong      QuestionKind = "written by a wrong clock"
)

// A Question is something only a person can settle: what is doubtful, between
// which entries, how large it is, and an entry that would settle it.
type Question struct {
	ID       string // the same across refolds: the kind and the entries
	Kind     QuestionKind
	Entries  []Address // in book order of their asking
	Seen     []uint64  // how far each entry's writer had read the common log
	On       Moment
	Says     string // one sentence, with the figures
	Proposal *Proposal
	Answer   Address // the entry that settled or acknowledged it; "" while open
}

// A Proposal is an entry that would settle a question, ready to be looked over
// and saved by a person.
type Proposal struct {
	Kind string
	Body []byte // as Compose takes it
}

func questionID(k QuestionKind, entries []Address) string {
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = string(e)
	}
	slices.Sort(names)
	return strings.ReplaceAll(string(k), " ", "-") + "/" + strings.Join(names, "+")
}

// ask raises a question about this entry and others.
func (t *turn) ask(k QuestionKind, says string, p *Proposal, others ...Address) {
	entries := append([]Address{t.entry.address}, others...)
	q := Question{Kind: k, Entries: entries, On: t.now(), Says: says, Proposal: p}
	for _, a := range entries {
		if e := t.book.byAddress[a]; e != nil {
			q.Seen = append(q.Seen, e.Seen)
		}
	}
	q.ID = questionID(k, entries)
	t.state.questions = append(t.state.questions, q)
}

// Questions lists what the book asks, open ones first among equals in the order
// they arose. Every question keeps its answer once it has one.
func (s *State) Questions() []Question {
	out := slices.Clone(s.questions)
	for i := range out {
		out[i].Answer = s.answers[out[i].ID]
	}
	slices.SortStableFunc(out, func(a, b Question) int {
		return boolCompare(a.Answer != "", b.Answer != "")
	})
	return out
}

func boolCompare(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// Open counts the questions without an answer.
func (s *State) Open() int {
	n := 0
	for i := range s.questions {
		if s.answers[s.questions[i].ID] == "" {
			n++
		}
	}
	return n
}

// QuestionKinds lists all of them, the overdue ones last.
func QuestionKinds() []QuestionKind {
	return []QuestionKind{Overdrawn, OverFull, Twice, GaugeDisagrees, ClosedMonth, AboveClassLimit, OffLabel, Dangling, BeforeReading,
		CountDisagrees, AddressTaken, Mixing, NothingThere, AboveLimit, OffFill, OverPressure, ClockWrong,
		NotChecked, RestOver, InfusionDue, StageDue, InstrumentDue, GoodsLow, ApprovalEnding, RunOpen, BottlingOpen, MonthOpen, ReportDue, InventoryDue}
}
