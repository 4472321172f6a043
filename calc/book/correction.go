package book

import "gaugebook/calc/fault"

// An EntryAmended replaces what an earlier entry says. The earlier one stays
// readable and the new body acts in its place and, unless another time is
// given, at its time.
type EntryAmended struct {
	Entry    Ref    `key:"entry,need" label:"Entry to amend" ref:"entry"`
	Why      string `key:"why,need" label:"Why" help:"What was wrong, in a few words. It stays readable for ever."`
	Happened Moment `key:"happened" label:"When it really happened" help:"Only if the time itself was wrong."`
	Version  int64  `key:"v,need" label:"Version of the body"`
	Body     Inner  `key:"body,need" label:"What it should have said"`
}

// An EntryVoided takes an earlier entry out: it did not happen.
type EntryVoided struct {
	Entry Ref    `key:"entry,need" label:"Entry to void" ref:"entry"`
	Why   string `key:"why,need" label:"Why" help:"Why it did not happen. It stays readable for ever."`
	// A phone that sees one bottling only is given what names it.
	Bottling Ref `key:"bottling" label:"Of the bottling" ref:"bottling" help:"Where it takes out a count or a spoil of one."`
}

// Corrections act through the Book, at the place of the entry they name; in
// their own place they only show if they name nothing.
func (c *EntryAmended) apply(t *turn) { t.correction(c.Entry) }
func (c *EntryVoided) apply(t *turn)  { t.correction(c.Entry) }

func (t *turn) correction(target Address) {
	switch e := t.book.byAddress[target]; {
	case e == nil:
		t.ask(Dangling, "It corrects "+string(target)+", which the book does not hold. Either the entry has not arrived yet or the address is wrong.", nil)
	case e.Entry.place().compareWritten(t.entry.Entry.place()) >= 0:
		t.ask(Dangling, "It corrects "+string(target)+", which was written later. A correction can only name an earlier entry.", nil)
	}
}

func (c *EntryAmended) timely(s *State, f *faults) { s.correctable(c.Entry, f) }
func (c *EntryVoided) timely(s *State, f *faults)  { s.correctable(c.Entry, f) }

// correctable says why an entry cannot be corrected from here.
func (s *State) correctable(a Address, f *faults) {
	if s.book.byAddress[a] == nil {
		f.add(fault.Unknown, "entry", string(a), "is not an entry of this book", "open the entry that is wrong and correct it from there")
	}
}

// correctionOf is the address that e corrects, "" where it is no correction.
func correctionOf(e *Entry) Address {
	switch c := e.Body.(type) {
	case *EntryAmended:
		return c.Entry
	case *EntryVoided:
		return c.Entry
	}
	return ""
}

// root is the entry that a correction, or a correction of a correction, is
// about; e itself where it is no correction; nil where it is not in the book.
func (b *Book) root(l *leaf) *leaf {
	for range maxCorrections {
		target := correctionOf(l.Entry)
		if target == "" {
			return l
		}
		named := b.byAddress[target]
		if named == nil || named.Entry.place().compareWritten(l.Entry.place()) >= 0 {
			return nil
		}
		l = named
	}
	return nil
}

// maxCorrections bounds how long a chain of corrections is followed.
const maxCorrections = 1000

// An effect is what an entry does after its corrections.
type effect struct {
	body     Body
	void     bool
	happened *Moment // where an amendment changed the time
	by       *Entry  // the correction that decided, nil for none
	place    place
}

// effective works out what e does: the last correction that itself stands
// decides. Only corrections written later than what they name count, so no
// circle of corrections can form.
func (b *Book) effective(e *Entry) effect {
	out := effect{body: e.Body, place: e.place()}
	for _, c := range b.standing(e) {
		switch body := c.Body.(type) {
		case *EntryVoided:
			out.void, out.by = true, c
		case *EntryAmended:
			out.void, out.by = false, c
			out.body, _ = Decode(e.Kind, int(body.Version), body.Body)
			out.happened, out.place.ms = nil, e.Happened.ms
			if !body.Happened.IsNone() {
				out.happened, out.place.ms = &body.Happened, body.Happened.ms
			}
		}
	}
	return out
}

// standing lists the corrections about e that no void has taken out, in the
// order they were written. An amendment of an amendment is about the same entry.
func (b *Book) standing(e *Entry) []*Entry {
	if len(b.corrections) == 0 {
		return nil
	}
	direct := b.corrections[e.Address()]
	if len(direct) == 0 {
		return nil
	}
	var out []*Entry
	for _, c := range direct {
		if c.place().compareWritten(e.place()) <= 0 || b.void(c) {
			continue
		}
		out = append(out, c)
		for _, again := range b.standing(c) {
			if _, amends := again.Body.(*EntryAmended); amends {
				out = append(out, again)
			}
		}
	}
	return out
}

// void reports whether a correction was itself voided.
func (b *Book) void(c *Entry) bool {
	for _, v := range b.standing(c) {
		if _, voids := v.Body.(*EntryVoided); voids {
			return true
		}
	}
	return false
}

// A Version is one state of an entry's words over time.
type Version struct {
	By     *Entry // the entry itself, or the correction
	Why    string
	Body   Body // nil where voided
	Stands bool // false where a later void took the correction out
}

// History lists what an entry said, first to last: itself, then each
// correction, those that were themselves voided among them.
func (b *Book) History(a Address) []Version {
	e := b.Entry(a)
	if e == nil {
		return nil
	}
	out := []Version{{By: e, Body: e.Body, Stands: true}}
	for _, c := range b.corrections[a] {
		v := Version{By: c, Stands: !b.void(c)}
		switch body := c.Body.(type) {
		case *EntryVoided:
			v.Why = body.Why
		case *EntryAmended:
			v.Why = body.Why
			v.Body, _ = Decode(e.Kind, int(body.Version), body.Body)
		}
		out = append(out, v)
		out = append(out, b.History(c.Address())[1:]...)
	}
	return out
}

// Effective is what an entry says now: its body after corrections, when it
// happened, and whether it was voided. by is the correction that decided.
func (b *Book) Effective(e *Entry) (body Body, happened Moment, void bool, by *Entry) {
	eff := b.effective(e)
	happened = e.Happened
	if eff.happened != nil {
		happened = *eff.happened
	}
	return eff.body, happened, eff.void, eff.by
}
