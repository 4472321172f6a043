// Command gaugebook-sim plays days of phones and an office against each other,
// with every fault, one day for each seed, and says which promise broke.
//
//	gaugebook-sim -seeds 100000     the days of seeds 0 to 99999
//	gaugebook-sim -seed 17 -trace   the day of seed 17, shortened if it fails
//	gaugebook-sim -sqlite           on the real storage in a temporary folder
//	gaugebook-sim -mutations        the table of planted bugs, as Markdown
//	gaugebook-sim -parties 1000     bottling parties instead: how often the cause
//	                                ranked first is the error that was planted
//
// See packages sync/simulate and calc/party/simulate.
package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	parties "gaugebook/calc/party/simulate"
	"gaugebook/sync/simulate"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); err != nil {
		if !errors.Is(err, flag.ErrHelp) {
			fmt.Fprintln(os.Stderr, "gaugebook-sim:", err)
		}
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	flags := flag.NewFlagSet("gaugebook-sim", flag.ContinueOnError)
	flags.SetOutput(stderr)
	var (
		seeds     = flags.Uint64("seeds", 1_000, "how many days to play")
		first     = flags.Uint64("first", 0, "seed of the first of them")
		seed      = flags.Int64("seed", -1, "play the day of this seed alone")
		trace     = flags.Bool("trace", false, "with -seed: tell everything that happens")
		mutation  = flags.Int("mutation", 0, "with -seed: plant the bug of this number, from 1")
		mutations = flags.Bool("mutations", false, "print the table of planted bugs as Markdown")
		bottlings = flags.Int("parties", 0, "play so many bottling parties and reconcile them; -first is their seed")
		sqlite    = flags.Bool("sqlite", false, "let the office store in the real storage")
		workers   = flags.Int("workers", runtime.NumCPU(), "days to play beside each other")
	)
	if err := flags.Parse(args); err != nil {
		return err
	}
	options := simulate.Options{Mutation: simulate.Mutation(*mutation)}
	if *mutation < 0 || *mutation > len(simulate.Mutations()) {
		return fmt.Errorf("mutation %d: the planted bugs are 1 to %d; 0 plants none", *mutation, len(simulate.Mutations()))
	}
	if *sqlite {
		dir, err := os.MkdirTemp("", "gaugebook-sim-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		options.Open = func() simulate.Storage { return openSQLite(dir) }
	}
	switch {
	case *bottlings > 0:
		return party(*first, *bottlings, stdout)
	case *mutations:
		return simulate.MutationTable(stdout, 300, 5_000)
	case *seed >= 0:
		return one(uint64(*seed), options, *trace, stdout)
	}
	return many(ctx, *first, *seeds, *workers, options, stdout)
}

// party plays bottling parties, and fails where a promise about them is broken.
func party(seed uint64, n int, stdout io.Writer) error {
	r, err := parties.Play(seed, n)
	if err != nil {
		return err
	}
	fmt.Fprintln(stdout, r)
	if broken := r.Broken(); len(broken) > 0 {
		return fmt.Errorf("broken: %s", strings.Join(broken, "; "))
	}
	return nil
}

// one plays the day of one seed.
func one(seed uint64, o simulate.Options, trace bool, stdout io.Writer) error {
	r := simulate.Run(seed, o)
	out := bufio.NewWriter(stdout)
	defer out.Flush()
	if r.Violation != nil {
		f := simulate.Shorten(seed, o, *r.Violation)
		fmt.Fprint(out, f)
		if trace {
			f.Trace(out)
		}
		return fmt.Errorf("seed %d broke “%s”", seed, r.Violation.Oracle)
	}
	if trace {
		o.Trace = out
		simulate.Run(seed, o)
	}
	fmt.Fprintf(out, "seed %d: every promise was kept\n", seed)
	return nil
}

// many plays days beside each other, and shortens the first that fails.
func many(ctx context.Context, first, n uint64, workers int, o simulate.Options, stdout io.Writer) error {
	began := time.Now()
	var (
		next   atomic.Uint64
		mu     sync.Mutex
		all    simulate.Coverage
		played uint64
		broken []uint64
		group  sync.WaitGroup
	)
	for range max(workers, 1) {
		group.Go(func() {
			for ctx.Err() == nil {
				i := next.Add(1) - 1
				if i >= n {
					return
				}
				r := simulate.Run(first+i, o)
				mu.Lock()
				played++
				all.Add(r.Coverage)
				if r.Violation != nil {
					broken = append(broken, first+i)
				}
				stop := len(broken) > 0
				mu.Unlock()
				if stop {
					return
				}
			}
		})
	}
	group.Wait()
	fmt.Fprintf(stdout, "%d days from seed %d in %v: %d entries saved, %d requests, %d days broke a promise\n",
		played, first, time.Since(began).Round(time.Second), all.Saved, all.Sends, len(broken))
	for _, f := range simulate.Faults() {
		fmt.Fprintf(stdout, "%9d × %v\n", all.Faults[f], f)
	}
	if len(broken) > 0 {
		slices.Sort(broken)
		fmt.Fprintf(stdout, "replay: go run ./cmd/gaugebook-sim -seed %d -trace\n", broken[0])
		return one(broken[0], o, false, stdout)
	}
	return ctx.Err()
}
