package main

import (
	"context"
	"fmt"
	"io"

	"gaugebook/server/store"
)

// runBackup copies a book while it may be in use, and reads the copy before it
// gets its name.
func runBackup(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("backup", "[--book FILE] NEWFILE")
	if helped, err := parse(fs, args, stdout, 1, 1); helped || err != nil {
		return err
	}
	r, err := store.OpenReader(ctx, bookOf(fs))
	if err != nil {
		return err
	}
	defer r.Close()
	v, err := r.Backup(ctx, fs.Arg(0))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(stdout, "%s holds %d entries, read back and whole\nhead %s\n", fs.Arg(0), v.Entries, v.Head)
	return err
}
