package main

import (
	"context"
	"io"

	"gaugebook/calc/report"
)

// runJournal prints the movements as a journal of plain-text accounting.
func runJournal(ctx context.Context, args []string, _ io.Reader, stdout, _ io.Writer) error {
	fs := flags("journal", "[--book FILE]")
	if helped, err := parse(fs, args, stdout, 0, 0); helped || err != nil {
		return err
	}
	b, err := readBook(ctx, bookOf(fs))
	if err != nil {
		return err
	}
	return report.Journal(stdout, b.Book)
}
