// Command check is the one test command: it prepares what is missing on a
// fresh Debian machine with Go and git, builds what is embedded, and runs every
// check and every test.
//
//	go run ./cmd/check            everything
//	go run ./cmd/check -quick     without the race detector's second run
//
// On a machine that has only Go, git and apt it installs the rest from Debian.
// The last lines are go test's own.
package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "check:", err)
		os.Exit(1)
	}
}

// A tool is a program the tests use, and the Debian package that brings it.
type tool struct{ command, debian, why string }

var tools = []tool{
	{"chromium", "chromium", "the browser tests drive it"},
	{"strace", "strace", "a test watches that the disk is asked before the reply leaves"},
	{"gcc", "gcc libc6-dev", "the race detector is linked with it"},
	{"certutil", "libnss3-tools", "a test gives Chromium the house's own root to trust"},
	{"hledger", "hledger", "the accounts are checked against it"},
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	flags := flag.NewFlagSet("check", flag.ContinueOnError)
	flags.SetOutput(stderr)
	quick := flags.Bool("quick", false, "leave out the second run under the race detector")
	if err := flags.Parse(args); err != nil {
		return err
	}
	c := checker{ctx, stdout, stderr}
	if err := c.install(); err != nil {
		return err
	}
	steps := []struct {
		says string
		cmd  []string
	}{
		{"build what is embedded", []string{"go", "generate", "./webapp"}},
		{"go vet", []string{"go", "vet", "./..."}},
		{"go vet, for the phone", []string{"env", "GOOS=js", "GOARCH=wasm", "go", "vet", "./cmd/engine", "./webapp/engine", "./calc/..."}},
		{"go vet, for the pocket", []string{"env", "GOOS=js", "GOARCH=wasm", "go", "vet", "-tags", "pocket", "./cmd/engine"}},
		{"staticcheck", []string{"go", "tool", "staticcheck", "./..."}},
	}
	if err := c.formatted(); err != nil {
		return err
	}
	for _, s := range steps {
		if err := c.step(s.says, s.cmd...); err != nil {
			return err
		}
	}
	if err := c.vulnerabilities(); err != nil {
		return err
	}
	var failed error
	if !*quick {
		// What has one goroutine has no races: the simulator and the torn logs are
		// left to the second run, and so are most kills of the server and whatever
		// drives a browser, which starts a binary that is not built with the detector.
		failed = c.step("go test under the race detector", append([]string{"env", "GAUGEBOOK_KILLS=40", "go", "test", "-race", "-short", "-skip", leftOut, "-timeout", "20m"}, concurrent...)...)
	}
	// Packages run one after another: browsers and killed servers would starve
	// each other on two cores. Nothing is taken from an earlier run, since the
	// browser tests build the binary themselves, which go test does not see.
	return errors.Join(failed, c.last("go test", "go", "test", "-p", "1", "-count", "1", "-timeout", "40m", "./..."))
}

// leftOut are the tests that the race detector can say nothing about, and the
// one that weighs the server, which under it weighs twice as much.
const leftOut = "^(TestTornLogs$|TestFiftyPhonesAtTheEndOfAShift$|TestBrowser)"

// concurrent are the packages with goroutines of their own.
var concurrent = []string{"./server/...", "./sync/exchange", "./webapp/...", "./cmd/gaugebook"}

type checker struct {
	ctx            context.Context
	stdout, stderr io.Writer
}

// step runs a command and says how long it took.
func (c *checker) step(says string, cmd ...string) error {
	started := time.Now()
	err := c.last(says, cmd...)
	fmt.Fprintf(c.stdout, "== %s: %s\n", says, time.Since(started).Round(time.Second))
	return err
}

// last runs the last command, whose own words close the output.
func (c *checker) last(says string, cmd ...string) error {
	fmt.Fprintf(c.stdout, "== %s: %s\n", says, strings.Join(cmd, " "))
	x := exec.CommandContext(c.ctx, cmd[0], cmd[1:]...)
	x.Stdout, x.Stderr = c.stdout, c.stderr
	if err := x.Run(); err != nil {
		return fmt.Errorf("%s: %w", says, err)
	}
	return nil
}

// install brings the programs that are missing from Debian.
func (c *checker) install() error {
	var packages, missing []string
	for _, t := range tools {
		if _, err := exec.LookPath(t.command); err != nil {
			packages = append(packages, strings.Fields(t.debian)...)
			missing = append(missing, fmt.Sprintf("%s (%s)", t.command, t.why))
		}
	}
	if len(packages) == 0 {
		return nil
	}
	install := append([]string{"apt-get", "install", "-y", "-qq", "--no-install-recommends"}, packages...)
	if os.Geteuid() != 0 {
		return fmt.Errorf("missing: %s; install them with: sudo %s", strings.Join(missing, ", "), strings.Join(install, " "))
	}
	if err := c.step("bring Debian's lists up to date", "apt-get", "update", "-qq"); err != nil {
		return err
	}
	return c.step("install "+strings.Join(missing, ", "), append([]string{"env", "DEBIAN_FRONTEND=noninteractive"}, install...)...)
}

// vulnerabilities holds the dependencies against the database of known faults.
// Where that cannot be reached, which is no fault of the code, it says so.
func (c *checker) vulnerabilities() error {
	const found = 3 // govulncheck's exit code where a known fault is called
	var said bytes.Buffer
	x := exec.CommandContext(c.ctx, "go", "tool", "govulncheck", "./...")
	fmt.Fprintf(c.stdout, "== govulncheck: %s\n", strings.Join(x.Args, " "))
	x.Stdout, x.Stderr = io.MultiWriter(c.stdout, &said), io.MultiWriter(c.stderr, &said)
	err := x.Run()
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) && exit.ExitCode() != found && strings.Contains(said.String(), "fetching vulnerabilities") {
		fmt.Fprintln(c.stdout, "== govulncheck: the database of known faults cannot be reached from here, so NO dependency was held against it; it is owed before a release")
		return nil
	}
	if err != nil {
		return fmt.Errorf("govulncheck: %w", err)
	}
	return nil
}

// formatted holds every tracked Go file to gofmt.
func (c *checker) formatted() error {
	files, err := exec.CommandContext(c.ctx, "git", "ls-files", "*.go").Output()
	if err != nil {
		return fmt.Errorf("git ls-files: %w", err)
	}
	out, err := exec.CommandContext(c.ctx, "gofmt", append([]string{"-l"}, strings.Fields(string(files))...)...).Output()
	if err != nil {
		return fmt.Errorf("gofmt: %w", err)
	}
	if len(out) > 0 {
		return fmt.Errorf("not formatted: %s", strings.Fields(string(out)))
	}
	return nil
}
