package book

import (
	"fmt"
	"slices"
	"strings"

	"gaugebook/calc/fault"
	"gaugebook/calc/quantity"
)

var trialKinds = []*Kind{
	describe[TrialMade]("trial made", SpiritStore, ATrial,
		"A variant was put together in small glass, by weight.", "The trial or recipe it was changed from, if there is one.", "It waits for the marks of its tasters."),
	describe[TrialScored]("trial scored", SpiritStore, "",
		"One taster's marks for a trial.", "The trial.", "Nobody sees any marks before all are in."),
	describe[TrialOpened]("trial opened", SpiritStore, "",
		"The marks of a trial are looked at before all are in.", "The trial.", "Its marks can be read."),
	describe[ApprovalRecorded]("approval recorded", Office, AnApproval,
		"Where the approval of a formula or a label stands.", "The product.", "Stands with the product."),
}

// TrialMade is a variant on the bench.
type TrialMade struct {
	Name     string           `key:"name,need" label:"Name" help:"What is on the glass, so that nobody can guess what is in it."`
	Product  Ref              `key:"product" label:"For the product" ref:"product"`
	Recipe   Ref              `key:"recipe" label:"Recipe" ref:"recipe"`
	From     Ref              `key:"from" label:"Changed from the trial" ref:"trial"`
	Parts    []TrialPart      `key:"parts,need" label:"Parts"`
	Strength quantity.Reading `key:"strength" label:"Strength" unit:"proof|%" min:"0proof|0%" max:"200proof|100%"`
	Tasters  int64            `key:"tasters,need" label:"How many will taste it"`
	Note     string           `key:"note" label:"Note"`
}

// A TrialPart is what went into the glass.
type TrialPart struct {
	What   string           `key:"what,need" label:"What"`
	Vessel Ref              `key:"vessel" label:"From the vessel" ref:"vessel"`
	Lot    Ref              `key:"lot" label:"or lot" ref:"lot"`
	Weight quantity.Reading `key:"weight,need" label:"Weight" unit:"g" min:"0g" max:"100kg"`
}

func (b *TrialMade) timely(s *State, f *faults) {
	if b.From != "" && s.Trial(b.From) == nil {
		unknownRef(f, "from", b.From, "trial")
	}
}

// A Trial is a variant with what was thought of it.
type Trial struct {
	TrialMade
	Address  Address
	Made     Moment
	OpenedBy Address // the entry that opened it early, "" for none
	Children []Address
	scores   []Score
}

func (r *Trial) copied() Trial {
	c := *r
	c.scores, c.Children = slices.Clip(r.scores), slices.Clip(r.Children)
	return c
}

// A Score is one taster's marks.
type Score struct {
	Entry Address
	On    Moment
	*TrialScored
}

// In is how many tasters have given their marks.
func (r *Trial) In() int { return len(r.scores) }

// Tasted lists who has given marks, and not which.
func (r *Trial) Tasted() []string {
	var out []string
	for _, s := range r.scores {
		out = append(out, s.Taster)
	}
	return out
}

// Complete reports whether the marks may be read: all are in, or somebody
// opened them.
func (r *Trial) Complete() bool { return int64(len(r.scores)) >= r.Tasters || r.OpenedBy != "" }

// Scores lists the marks, none of them before all are in.
func (r *Trial) Scores() []Score {
	if !r.Complete() {
		return nil
	}
	return r.scores
}

// Mean is the mean of the marks 'all in all'; ok is false before all are in.
func (r *Trial) Mean() (mean float64, ok bool) {
	for _, s := range r.Scores() {
		mean += float64(s.Whole)
	}
	if n := len(r.Scores()); n > 0 {
		return mean / float64(n), true
	}
	return 0, false
}

// Trial finds a trial, nil where there is none by that address.
func (s *State) Trial(a Address) *Trial { return s.trials.get(a) }

// Trials ranges over the trials in the order they were made.
func (s *State) Trials(yield func(Address, *Trial) bool) { s.trials.all(yield) }

func (b *TrialMade) apply(t *turn) {
	t.state.trials.put(t.entry.address, &Trial{TrialMade: *b, Address: t.entry.address, Made: t.now()})
	if parent := t.state.trials.edit(b.From); parent != nil {
		parent.Children = append(parent.Children, t.entry.address)
	}
}

// TrialScored is one taster's marks.
type TrialScored struct {
	Trial  Ref    `key:"trial,need" label:"Trial" ref:"trial"`
	Taster string `key:"taster,need" label:"Who tasted"`
	Nose   int64  `key:"nose" label:"Nose, 1 to 10"`
	Palate int64  `key:"palate" label:"Palate, 1 to 10"`
	Finish int64  `key:"finish" label:"Finish, 1 to 10"`
	Whole  int64  `key:"whole,need" label:"All in all, 1 to 10"`
	Words  string `key:"words" label:"In words"`
}

func (b *TrialScored) sound(f *faults) { marks(f, b.Nose, b.Palate, b.Finish, b.Whole) }

func (b *TrialScored) timely(s *State, f *faults) {
	r := s.Trial(b.Trial)
	if r == nil {
		unknownRef(f, "trial", b.Trial, "trial")
		return
	}
	if slices.ContainsFunc(r.scores, b.sameTaster) {
		f.add(fault.Conflict, "taster", b.Taster, "has given marks for this trial", "amend that entry, if they have changed their mind")
	}
}

func (b *TrialScored) sameTaster(s Score) bool {
	return strings.EqualFold(strings.TrimSpace(s.Taster), strings.TrimSpace(b.Taster))
}

func (b *TrialScored) apply(t *turn) {
	r := t.state.trials.edit(b.Trial)
	if r == nil {
		t.dangling("trial", b.Trial)
		return
	}
	if i := slices.IndexFunc(r.scores, b.sameTaster); i >= 0 {
		t.ask(Twice, fmt.Sprintf("%s gave marks for %s before; the first ones count.", b.Taster, r.Name), proposeVoid(t.entry.address, "given twice"), r.scores[i].Entry)
		return
	}
	r.scores = append(r.scores, Score{t.entry.address, t.now(), b})
}

// Blind reports whether a body has marks that nobody is to read before all are
// in: a taster's, or a correction of them. The log has them all the same.
func (s *State) Blind(body Body) bool {
	switch b := body.(type) {
	case *TrialScored:
		r := s.Trial(b.Trial)
		return r != nil && !r.Complete()
	case *EntryAmended:
		if e := s.book.Entry(b.Entry); e != nil && e.Body != nil && e.Kind != "entry amended" {
			now, _, _, _ := s.book.Effective(e)
			return s.Blind(e.Body) || now != nil && s.Blind(now)
		}
	}
	return false
}

// TrialOpened lets the marks be read early.
type TrialOpened struct {
	Trial Ref    `key:"trial,need" label:"Trial" ref:"trial"`
	Why   string `key:"why,need" label:"Why"`
}

func (b *TrialOpened) timely(s *State, f *faults) {
	if s.Trial(b.Trial) == nil {
		unknownRef(f, "trial", b.Trial, "trial")
	}
}

func (b *TrialOpened) apply(t *turn) {
	if r := t.state.trials.edit(b.Trial); r == nil {
		t.dangling("trial", b.Trial)
	} else if r.OpenedBy == "" {
		r.OpenedBy = t.entry.address
	}
}

// ApprovalRecorded says where an approval stands.
type ApprovalRecorded struct {
	Product Ref    `key:"product,need" label:"Product" ref:"product"`
	Of      string `key:"of,need" label:"Approval of" words:"formula|label"`
	Number  string `key:"number" label:"Its number" help:"As the authority writes it."`
	Status  string `key:"status,need" label:"Where it stands" words:"applied for|approved|sent back|withdrawn|expired"`
	Until   Day    `key:"until" label:"Good until"`
	Note    string `key:"note" label:"Note"`
}

func (b *ApprovalRecorded) timely(s *State, f *faults) {
	s.registered(f, "product", AProduct, b.Product)
}

func (b *ApprovalRecorded) apply(t *turn) {
	if t.state.Registered(AProduct, b.Product) == nil {
		t.dangling("product", b.Product)
	}
	t.register(AnApproval, b.Number, b)
}

// Approvals lists the latest word on each approval of a product: its formula's,
// then its label's.
func (s *State) Approvals(product Address) []*Registered {
	var formula, label []*Registered
	for _, r := range s.Register(AnApproval) {
		switch a := r.Body.(*ApprovalRecorded); {
		case a.Product != product:
		case a.Of == "formula":
			formula = latest(formula, r)
		default:
			label = latest(label, r)
		}
	}
	return append(formula, label...)
}

// latest puts a later word on the same number in the place of the earlier one.
func latest(list []*Registered, r *Registered) []*Registered {
	for i := range list {
		if list[i].Name == r.Name {
			list[i] = r
			return list
		}
	}
	return append(list, r)
}
