package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"gaugebook/calc/book"
	"gaugebook/calc/report"
	"gaugebook/server/store"
	"gaugebook/sync/record"
)

// runVerify reads a whole book and names the first thing that is not as it was
// written; then it folds it and holds the accounts against the vessels, and the
// closed months against what was signed for.
func runVerify(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("verify", "[--book FILE] [HEAD…], where a head is what a report or a phone shows, like 311-9f8e…")
	if helped, err := parse(fs, args, stdout, 0, 1000); helped || err != nil {
		return err
	}
	heads := make([]record.Mark, fs.NArg())
	for i, text := range fs.Args() {
		if err := heads[i].UnmarshalText([]byte(text)); err != nil {
			return err
		}
	}
	r, err := store.OpenReader(ctx, bookOf(fs))
	if err != nil {
		return err
	}
	defer r.Close()
	v, err := r.Verify(ctx, heads...)
	if err == nil {
		err = v.Err()
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s: %d entries of %d devices, every one as it was written\nhead %s\n", bookOf(fs), v.Entries, v.Devices, v.Head)
	for _, gap := range v.Gaps {
		fmt.Fprintln(stdout, "missing:", gap)
	}
	if len(heads) > 0 {
		fmt.Fprintf(stdout, "the %d given heads lie in it\n", len(heads))
	}
	f, err := foldLog(ctx, r)
	if err != nil {
		return err
	}
	if err := f.verify(stdout); err != nil {
		return err
	}
	_, err = fmt.Fprintln(stdout, "this proves that nothing was altered since it was written, not that it was true;\na book rewritten as a whole is found by a head that was printed before")
	return err
}

// verify holds what the entries fold to against itself.
func (f *folded) verify(out io.Writer) error {
	s := f.State()
	if n := s.Incomplete() + f.unread; n > 0 {
		fmt.Fprintf(out, "%d entries are of kinds or versions this build does not know, and every total may be short\n", n)
	}
	if wrong := report.Balances(s); len(wrong) > 0 {
		return fmt.Errorf("%d things do not balance; the first: %s: %s", len(wrong), wrong[0].Where, wrong[0].Says)
	}
	fmt.Fprintf(out, "%d movements of alcohol; all accounts add up to nothing, and the vessels, stills and bottles hold what the accounts say\n", len(s.Postings()))
	var broken []string
	closings := report.Closings(f.Book)
	for i := range closings {
		c := &closings[i]
		said, sound := f.closing(c)
		if said != "" {
			fmt.Fprintln(out, said)
		}
		if !sound {
			broken = append(broken, c.Month)
		}
	}
	if len(broken) > 0 {
		return fmt.Errorf("closed months whose figures cannot be found again: %s", strings.Join(broken, ", "))
	}
	if len(closings) > 0 {
		fmt.Fprintf(out, "%d closed months have the figures they were signed for\n", len(closings))
	}
	return nil
}

// closing judges a closed month. Entries that were written before it was closed
// and reached the book after the phone that closed it had last read it are no
// fault of anybody: they count as adjustments.
func (f *folded) closing(c *report.Signed) (said string, sound bool) {
	name := fmt.Sprintf("%s, closed by %s: ", c.Month, c.By.Address())
	if !c.Intact {
		return name + "its digest is not that of its figures", false
	}
	if len(c.Differs) == 0 {
		return "", true
	}
	signed := f.State().Closed()[c.Month]
	heard := func(e *book.Entry) bool {
		if e.Device == c.By.Device {
			return e.Seq < c.By.Seq
		}
		return uint64(f.arrived[e.Address()]) <= c.By.Seen
	}
	d := c.Differs[0]
	if differs := report.Compare(report.Told(f.Book, heard).State(), signed); len(differs) > 0 {
		return fmt.Sprintf("%sfrom %s to %s, %s: %s proof gallons were signed for, and the entries before it give %s", name, d.From, d.To, d.Kind, report.Steps(d.Signed), report.Steps(d.Told)), false
	}
	return fmt.Sprintf("%sentries written before it came in after it, and count as adjustments in the first open month (from %s to %s, %s: %s proof gallons more)",
		name, d.From, d.To, d.Kind, report.Steps(d.Told-d.Signed)), true
}
