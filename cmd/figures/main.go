// Command figures measures what is promised of speed and size and prints the
// table, in Markdown, with the machine and the day.
//
//	go run ./cmd/figures            all of it, in a quarter of an hour
//	go run ./cmd/figures Push Save  what has one of these words in its name
//
// The benchmarks themselves stand beside the code they measure, and can be run
// by go test -bench; no test asserts any of them. Each is run three times, one
// after another, and the median is shown; those with a browser once.
//
// It refuses to judge: a figure beyond its aim is shown as it is. Its one
// surprise: times of a slowed phone are taken while the whole browser is
// stopped and let run in turn, so they are those of a slow machine and not of a
// slow page.
package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "figures:", err)
		os.Exit(1)
	}
}

// A figure is one line of the table.
type figure struct {
	says, aim string
	bench     string  // as go test prints it, without the number of processors
	metric    string  // its unit there
	scale     float64 // of what go test prints
	unit      string
}

// A group is the benchmarks of one package that are run together.
type group struct {
	pkg, bench, time string
	count            int
	figures          []figure
}

const mega = 1e-6

var groups = []group{
	{"./server/store", "^Benchmark(RawSQLite|Append)$/^batch=500$", "100x", 3, []figure{
		{"floor: bare rows into SQLite, synchronous=FULL, 500 at a time", "", "BenchmarkRawSQLite/batch=500", "rows/s", 1, "rows/s"},
		{"the log with everything on, 500 at a time", "half of the floor", "BenchmarkAppend/batch=500", "rows/s", 1, "entries/s"},
	}},
	{"./cmd/gaugebook", "^BenchmarkPush$", "20x", 3, []figure{
		{"push to the real server over HTTP, 500 at a time", "", "BenchmarkPush", "entries/s", 1, "entries/s"},
	}},
	{"./cmd/gaugebook", "^BenchmarkFiftyPhones$", "3x", 3, []figure{
		{"50 phones pushing 20 times each: wait for the answer, median", "", "BenchmarkFiftyPhones", "p50-ms", 1, "ms"},
		{"the same, 99th percentile", "", "BenchmarkFiftyPhones", "p99-ms", 1, "ms"},
	}},
	{"./cmd/gaugebook", "^BenchmarkMemory$", "1x", 1, []figure{
		{"server's memory at most, 100,000 entries pushed and pulled", "< 100 MB", "BenchmarkMemory", "peak-MB", 1, "MiB"},
	}},
	{"./cmd/gaugebook", "^Benchmark(Sizes|FirstLoad)$", "1x", 1, []figure{
		{"the binary, built as the README has it", "< 30 MB", "BenchmarkSizes", "binary-bytes", mega, "MB"},
		{"the engine that a phone opens with, brotli", "≤ 1.2 MB", "BenchmarkSizes", "pocket-br-bytes", mega, "MB"},
		{"the whole engine, which comes after it, brotli", "", "BenchmarkSizes", "engine-br-bytes", mega, "MB"},
		{"first load, on the wire, until a person can join", "≤ 1.4 MB", "BenchmarkFirstLoad", "usable-bytes", mega, "MB"},
		{"the same, until the page opens without a network", "", "BenchmarkFirstLoad", "kept-bytes", mega, "MB"},
	}},
	{"./calc/book", "^BenchmarkFold200k$", "1x", 3, []figure{
		{"fold of 200,000 decoded entries, native", "", "BenchmarkFold200k", "ns/op", 1e-9, "s"},
	}},
	{"./calc/book", "^BenchmarkAppendTo200k$", "1000x", 3, []figure{
		{"one entry more in a book of 200,000, native", "", "BenchmarkAppendTo200k", "ns/op", 1e-3, "µs"},
	}},
	{"./webapp/engine", "^BenchmarkOfficeOfTenYears$", "5x", 1, []figure{
		{"ten years, 200,000 entries: a month's report, native", "< 300 ms", "BenchmarkOfficeOfTenYears/month", "ms", 1, "ms"},
		{"the same: the tax of a year", "< 300 ms", "BenchmarkOfficeOfTenYears/tax", "ms", 1, "ms"},
		{"the same: yield and cost of all years", "< 300 ms", "BenchmarkOfficeOfTenYears/yield-of-all", "ms", 1, "ms"},
		{"the same: seasons", "< 300 ms", "BenchmarkOfficeOfTenYears/seasons", "ms", 1, "ms"},
		{"the same: trace of a delivery of the first year", "< 200 ms", "BenchmarkOfficeOfTenYears/trace-fruit", "ms", 1, "ms"},
	}},
	{"./cmd/gaugebook", "^BenchmarkFoldStored$", "1x", 3, []figure{
		{"fold of 200,000 entries from stored bytes, native", "", "BenchmarkFoldStored", "fold-s", 1, "s"},
	}},
	{"./cmd/gaugebook", "^BenchmarkExchange$", "1x", 1, []figure{
		{"floor: 10,000 records into bare IndexedDB, 500 at a time", "", "BenchmarkExchange", "floor-s", 1, "s"},
		{"push of 10,000 entries from Chromium, everything on", "", "BenchmarkExchange", "push-s", 1, "s"},
		{"pull of 10,000 entries into a fresh phone, everything on, from the tap on Join", "", "BenchmarkExchange", "pull-s", 1, "s"},
		{"pull over the floor", "≤ 2", "BenchmarkExchange", "pull/floor", 1, "times"},
	}},
	{"./cmd/gaugebook", "^BenchmarkSave$", "1x", 1, []figure{
		{"tap 'Save' to 'Saved as …', slowed, median of 60", "", "BenchmarkSave", "p50-ms", 1, "ms"},
		{"the same, 95th percentile", "< 100 ms", "BenchmarkSave", "p95-ms", 1, "ms"},
	}},
	{"./cmd/gaugebook", "^BenchmarkBarrelStore$", "1x", 1, []figure{
		{"the store of 2,000 barrels, from the tap on its door to the map of its rows, slowed, median of 20", "< 300 ms", "BenchmarkBarrelStore", "store-p50-ms", 1, "ms"},
		{"the same, 95th percentile", "", "BenchmarkBarrelStore", "store-p95-ms", 1, "ms"},
		{"one of its rows, slowed, median of 20", "< 300 ms", "BenchmarkBarrelStore", "row-p50-ms", 1, "ms"},
		{"the same store, to the form of a gauge, slowed, median of 20", "< 300 ms", "BenchmarkBarrelStore", "gauge-p50-ms", 1, "ms"},
	}},
	{"./cmd/gaugebook", "^BenchmarkColdStart$", "1x", 1, slices.Concat(cold("2,000", "1.5 s"), cold("20,000", "4 s"))},
}

func cold(n, aim string) []figure {
	name := "BenchmarkColdStart/entries=" + strings.ReplaceAll(n, ",", "")
	return []figure{
		{"cold start without a network, " + n + " entries, slowed, to a usable form: median of 40", "", name, "median-s", 1, "s"},
		{"the same, 95th percentile", "< " + aim, name, "p95-s", 1, "s"},
		{"the same start, the page's thread alone slowed as by a browser's tools: median of 40", "", name, "throttled-median-s", 1, "s"},
		{"the same, 95th percentile", "< " + aim, name, "throttled-p95-s", 1, "s"},
		{"the same start, all slowed, until the engine has the book: median of 40", "", name, "opened-median-s", 1, "s"},
		{"the engine's fold of " + n + " entries in Chromium", "", name, "fold-s", 1, "s"},
		{"the same, slowed", "", name, "fold-slowed-s", 1, "s"},
		{"how much slower 'slowed' was, by a loop in the page", "4", name, "times-slower", 1, "times"},
	}
}

func run(ctx context.Context, words []string, stdout, stderr io.Writer) error {
	version, err := exec.CommandContext(ctx, "chromium", "--version").Output()
	if err != nil {
		return fmt.Errorf("chromium: %w: apt-get install chromium", err)
	}
	fmt.Fprintf(stdout, "# Figures\n\nWritten by `go run ./cmd/figures` on %s. %s; %s; %s.\nThe load of the machine before it began: %s.\n\n| what | figure | aim |\n|---|---:|---|\n",
		time.Now().Format(time.DateOnly), machine(), runtime.Version(), strings.TrimSpace(string(version)), load())
	for _, g := range groups {
		if len(words) > 0 && !slices.ContainsFunc(words, func(w string) bool { return strings.Contains(g.bench, w) }) {
			continue
		}
		measured, err := measure(ctx, g, stderr)
		if err != nil {
			return err
		}
		for _, f := range g.figures {
			values := measured[f.bench+" "+f.metric]
			if len(values) == 0 {
				return fmt.Errorf("%s printed no %s", f.bench, f.metric)
			}
			slices.Sort(values)
			fmt.Fprintf(stdout, "| %s | %s %s | %s |\n", f.says, digits(values[len(values)/2]*f.scale), f.unit, f.aim)
		}
	}
	_, err = fmt.Fprintf(stdout, "\nThe load after it: %s.\n", load())
	return err
}

// digits writes a figure with three digits that count, or with all before the point.
func digits(v float64) string {
	decimals := 0
	for below := 100.0; v < below && decimals < 4; below /= 10 {
		decimals++
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

var line = regexp.MustCompile(`^(Benchmark\S+?)(?:-\d+)?\s+\d+\s+(.*)$`)

// measure runs a group's benchmarks and gives what they printed, by name and unit.
func measure(ctx context.Context, g group, stderr io.Writer) (map[string][]float64, error) {
	cmd := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-bench", g.bench, "-benchtime", g.time, "-count", strconv.Itoa(g.count), "-timeout", "30m", g.pkg)
	fmt.Fprintln(stderr, strings.Join(cmd.Args, " "))
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, stderr
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, &out)
	}
	measured := map[string][]float64{}
	for lines := bufio.NewScanner(&out); lines.Scan(); {
		m := line.FindStringSubmatch(lines.Text())
		if m == nil {
			continue
		}
		fields := strings.Fields(m[2])
		for i := 0; i+1 < len(fields); i += 2 {
			value, err := strconv.ParseFloat(fields[i], 64)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", lines.Text(), err)
			}
			key := m[1] + " " + fields[i+1]
			measured[key] = append(measured[key], value)
		}
	}
	return measured, nil
}

// machine names the processor.
func machine() string {
	model := runtime.GOARCH
	if info, err := os.ReadFile("/proc/cpuinfo"); err == nil {
		if _, rest, ok := strings.Cut(string(info), "model name"); ok {
			model, _, _ = strings.Cut(strings.TrimLeft(rest, "\t :"), "\n")
		}
	}
	return fmt.Sprintf("%s, %d processors, %s", model, runtime.NumCPU(), runtime.GOOS)
}

func load() string {
	now, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "not known"
	}
	return strings.Join(strings.Fields(string(now))[:3], " ")
}
