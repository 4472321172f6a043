package main

import (
	"context"
	"fmt"
	"io"

	"gaugebook/server/store"
	"gaugebook/sync/record"
)

// runVerify reads a whole book and names the first thing that is not as it was
// written.
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
	_, err = fmt.Fprintln(stdout, "this proves that nothing was altered since it was written, not that it was true;\na book rewritten as a whole is found by a head that was printed before")
	return err
}
