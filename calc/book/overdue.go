package book

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// What can be overdue.
const (
	NotChecked     QuestionKind = "fermenter not checked today"
	RestOver       QuestionKind = "ready to taste"
	InfusionDue    QuestionKind = "infusion to be drained"
	StageDue       QuestionKind = "next stage of a reduction"
	InstrumentDue  QuestionKind = "instrument to be checked"
	GoodsLow       QuestionKind = "goods running out"
	ApprovalEnding QuestionKind = "approval ending"
	RunOpen        QuestionKind = "run not ended"
	BottlingOpen   QuestionKind = "bottling not closed"
	MonthOpen      QuestionKind = "month not closed"
	ReportDue      QuestionKind = "report not filed"
	InventoryDue   QuestionKind = "inventory not taken"
)

// A Due is something the house wants done: what, about what, and since when.
// It follows from the entries and the day it is asked on, so it is no question
// of the book and needs no answer but the thing itself.
type Due struct {
	Kind  QuestionKind
	Room  Room
	About Address // of the vessel, run, instrument; "" for a month
	On    Day     // when it was, or is, to be done
	Says  string
}

// Overdue lists what the house wants on the day of a moment: what was due
// before first, then by room.
func (s *State) Overdue(now Moment) []Due {
	today, ok := dayOf(Day(now.Day()))
	if !ok {
		return nil
	}
	d := dues{state: s, now: now, today: today}
	d.vessels()
	d.work()
	d.registers()
	d.papers()
	slices.SortStableFunc(d.list, func(a, b Due) int {
		if c := strings.Compare(string(a.On), string(b.On)); c != 0 {
			return c
		}
		return slices.Index(Rooms(), a.Room) - slices.Index(Rooms(), b.Room)
	})
	return d.list
}

type dues struct {
	state *State
	now   Moment
	today time.Time
	list  []Due
}

func (d *dues) add(k QuestionKind, r Room, about Address, on Day, says string) {
	d.list = append(d.list, Due{Kind: k, Room: r, About: about, On: on, Says: says})
}

// over reports whether a day has come.
func (d *dues) over(day Day) bool {
	t, ok := dayOf(day)
	return ok && !t.After(d.today)
}

func (d *dues) vessels() {
	today := d.now.Day()
	for a, v := range d.state.vessels.all {
		if d.over(v.Rest.Until) && !v.Content.Empty() {
			d.add(RestOver, SpiritStore, a, v.Rest.Until, v.Name+" was to rest until "+string(v.Rest.Until)+".")
		}
		if d.over(v.Infused.Until) {
			d.add(InfusionDue, SpiritStore, a, v.Infused.Until, v.Name+" was to steep until "+string(v.Infused.Until)+".")
		}
		if on, ok := v.Reducing.Due(); ok && d.over(on) {
			d.add(StageDue, SpiritStore, a, on, v.Name+" is on its way down to "+v.Reducing.Target().String()+", with days between.")
		}
		mashes := d.state.Fermenting(a)
		if len(mashes) == 0 || slices.ContainsFunc(mashes, func(m *Ferment) bool { return !m.Finished.IsNone() || m.Begun.Day() >= today }) {
			continue
		}
		last := Moment{}
		for _, m := range mashes {
			if c := m.Last(); c != nil && last.Before(c.On) {
				last = c.On
			}
		}
		if last.Day() < today {
			says := v.Name + " was never checked."
			if !last.IsNone() {
				says = fmt.Sprintf("%s was last checked on %s at %s.", v.Name, last.Day(), last.Clock())
			}
			d.add(NotChecked, FermentHall, a, Day(today), says)
		}
	}
}

func (d *dues) work() {
	for a, r := range d.state.runs.all {
		if r.Running() && d.now.Since(r.Started) > 24*time.Hour {
			d.add(RunOpen, StillRoom, a, Day(r.Started.Day()), "The run of "+r.Started.Day()+" was not ended.")
		}
	}
	for a, b := range d.state.bottlings.all {
		if b.Open() && b.Opened.Day() < d.now.Day() {
			d.add(BottlingOpen, BottlingFloor, a, Day(b.Opened.Day()), "The bottling of "+b.Opened.Day()+" was not closed.")
		}
	}
}

// approvalNotice is how long before its end an approval is spoken of.
const approvalNotice = 30 * 24 * time.Hour

func (d *dues) registers() {
	onHand := map[Address]int64{}
	for _, g := range d.state.goods.all {
		onHand[g.Good] += g.OnHand()
	}
	for a, r := range d.state.registers.all {
		if r.Retired {
			continue
		}
		switch b := r.Body.(type) {
		case *InstrumentRegistered:
			if due, ok := b.Due(); ok && d.over(due) {
				d.add(InstrumentDue, Office, a, due, b.Name+" was last checked on "+string(b.Checked)+".")
			}
		case *GoodsRegistered:
			if n, came := onHand[a]; came && b.Reorder > 0 && n <= b.Reorder*b.Measured.Unit() {
				d.add(GoodsLow, BottlingFloor, a, Day(d.now.Day()), b.Measured.Show(n)+" of "+b.Name+" are left.")
			}
		case *ApprovalRecorded:
			end, ok := dayOf(b.Until)
			if ok && b.Status == "approved" && end.Sub(d.today) <= approvalNotice && slices.Contains(d.state.Approvals(b.Product), r) {
				d.add(ApprovalEnding, Office, a, b.Until, "The approval of the "+b.Of+" "+b.Number+" ends on "+string(b.Until)+".")
			}
		}
	}
}

// Unit is what one of its reorder level is in whole steps.
func (m Measured) Unit() int64 {
	switch m {
	case ByWeight:
		return 1e6
	case ByVolume:
		return 1e3
	}
	return 1
}

// dueOnThe15th is the day of the next month that a month's reports are due on
// (27 CFR 19.632).
const dueOnThe15th = "-15"

// papers asks for the month that has ended, and for every one since the last
// that was closed or filed.
func (d *dues) papers() {
	first := d.state.firstMonth()
	past := monthsFrom(first, d.now.Month())
	if len(past) == 0 {
		return
	}
	last := past[len(past)-1]
	open := first
	for m := range d.state.closed {
		if isMonth(m) {
			open = max(open, NextMonth(m))
		}
	}
	for _, m := range monthsFrom(open, d.now.Month()) {
		d.add(MonthOpen, Office, "", Day(NextMonth(m)+dueOnThe15th), m+" is not closed.")
	}
	if d.state.Convention() != US {
		return
	}
	for _, form := range []string{"5110.40", "5110.11", "5110.28"} {
		unfiled, filed := last, ""
		for _, f := range d.state.notes.filings {
			if f.Form == form && isMonth(f.Month) {
				filed = max(filed, f.Month)
			}
		}
		if filed != "" {
			unfiled = NextMonth(filed)
		}
		for _, m := range monthsFrom(unfiled, d.now.Month()) {
			d.add(ReportDue, Office, "", Day(NextMonth(m)+dueOnThe15th), "The report "+form+" of "+m+" is not filed.")
		}
	}
	d.inventory(last)
}

func isMonth(m string) bool {
	_, err := time.Parse("2006-01", m)
	return err == nil
}

// monthsFrom lists the months from one until another, as many as a book may
// have been left lying for.
func monthsFrom(m, until string) (out []string) {
	for ; isMonth(m) && m < until && len(out) < 1200; m = NextMonth(m) {
		out = append(out, m)
	}
	return out
}

// inventory asks for the count of the storage tanks that a quarter ends with
// (27 CFR 19.333).
func (d *dues) inventory(last string) {
	quarter := last
	for range 2 {
		switch quarter[5:] {
		case "03", "06", "09", "12":
		default:
			quarter = previousMonth(quarter)
		}
	}
	if quarter < d.state.firstMonth() || d.state.Balance(Storage) == 0 {
		return
	}
	end := quarter + "-20" // a count a few days before the end of the quarter is that quarter's
	for _, i := range d.state.notes.inventories {
		if i.Account == Storage && string(i.Taken) >= end {
			return
		}
	}
	d.add(InventoryDue, Office, "", Day(NextMonth(quarter)+"-01"), "The storage tanks were not counted at the end of the quarter, "+quarter+".")
}

func previousMonth(m string) string {
	t, err := time.Parse("2006-01", m)
	if err != nil {
		return m
	}
	return t.AddDate(0, -1, 0).Format("2006-01")
}

// firstMonth is the month of the first movement of alcohol, "" before it.
func (s *State) firstMonth() string {
	if len(s.ledger.postings) == 0 {
		return ""
	}
	return s.ledger.postings[0].On.Month()
}
