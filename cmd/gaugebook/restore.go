package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"gaugebook/server/store"
)

// runRestore puts a backup in the place of the book.
func runRestore(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("restore", "[--book FILE] BACKUP")
	if helped, err := parse(fs, args, stdout, 1, 1); helped || err != nil {
		return err
	}
	kept, v, err := store.Restore(ctx, fs.Arg(0), bookOf(fs), time.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s is restored from %s: %d entries\nhead %s\n", bookOf(fs), fs.Arg(0), v.Entries, v.Head)
	if kept != "" {
		fmt.Fprintf(stdout, "the book that was there is kept as %s\n", kept)
	}
	_, err = fmt.Fprintln(stdout, "phones notice, and send again what they hold")
	return err
}
