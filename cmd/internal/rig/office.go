package rig

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
)

// A Bench is what a failure is told to: a *testing.T, or a command.
type Bench interface {
	Helper()
	Name() string
	Logf(format string, args ...any)
	Fatalf(format string, args ...any)
	Cleanup(func())
}

// root is the module's folder.
func root(b Bench) string {
	b.Helper()
	out, err := exec.Command("go", "env", "GOMOD").Output()
	if err != nil {
		b.Fatalf("go env GOMOD: %v", err)
	}
	return filepath.Dir(strings.TrimSpace(string(out)))
}

// Build builds the gaugebook binary into a folder. With a stand-in for files of
// the source, by path below the module, it builds it of those; a nil stand-in
// takes the file away.
func Build(b Bench, folder string, standIns map[string][]byte) (binary string) {
	b.Helper()
	binary = filepath.Join(folder, "gaugebook")
	args := []string{"build", "-ldflags", "-s -w", "-o", binary} // as the README has it
	if standIns != nil {
		overlay := struct{ Replace map[string]string }{map[string]string{}}
		for name, body := range standIns {
			to := ""
			if body != nil {
				to = filepath.Join(folder, strings.ReplaceAll(name, "/", "_"))
				if err := os.WriteFile(to, body, 0o600); err != nil {
					b.Fatalf("%v", err)
				}
			}
			overlay.Replace[filepath.Join(root(b), filepath.FromSlash(name))] = to
		}
		raw, err := json.Marshal(overlay)
		if err != nil {
			b.Fatalf("%v", err)
		}
		list := filepath.Join(folder, "overlay.json")
		if err := os.WriteFile(list, raw, 0o600); err != nil {
			b.Fatalf("%v", err)
		}
		args = append(args, "-overlay", list)
	}
	cmd := exec.Command("go", append(args, "gaugebook/cmd/gaugebook")...)
	cmd.Dir = root(b)
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("go build: %v\n%s", err, out)
	}
	return binary
}

// NewBuild is the source files of another build of the page: the one that is
// built, under another build's name.
func NewBuild(b Bench) map[string][]byte {
	b.Helper()
	read := func(name string) []byte {
		body, err := os.ReadFile(filepath.Join(root(b), filepath.FromSlash(name)))
		if err != nil {
			b.Fatalf("%v: run go generate ./webapp first", err)
		}
		return body
	}
	const index = "webapp/built/index.json"
	var page struct{ Build string }
	if err := json.Unmarshal(read(index), &page); err != nil {
		b.Fatalf("%s: %v", index, err)
	}
	next := []byte(strings.Repeat("5", len(page.Build)))
	out := map[string][]byte{index: bytes.ReplaceAll(read(index), []byte(page.Build), next)}
	for _, name := range []string{"index.html", "sw.js", "version.json"} {
		name = "webapp/built/files/" + name
		out[name] = bytes.ReplaceAll(read(name), []byte(page.Build), next)
		out[name+".br"], out[name+".gz"] = nil, nil
	}
	return out
}

// An Office is a running gaugebook serve, reached by its Wire.
type Office struct {
	bench  Bench
	binary string
	args   []string
	Book   string // its file
	Wire   *Wire
	Words  string // what it printed at its last start

	cmd  *exec.Cmd
	errs *words
	gone chan struct{}
}

// Open starts an office on a book of its own and puts it on a wire. args are
// further ones of gaugebook serve.
func Open(b Bench, binary, folder string, args ...string) *Office {
	b.Helper()
	o := &Office{bench: b, binary: binary, args: args, Book: filepath.Join(folder, "book.db"), Wire: NewWire(b), errs: &words{}}
	b.Cleanup(o.Kill)
	o.Start()
	return o
}

// Start starts it again after Kill, on a free port. more are further arguments
// for this time.
func (o *Office) Start(more ...string) {
	o.bench.Helper()
	args := append([]string{"serve", "--listen", "127.0.0.1:0", "--backups", "none", "--book", o.Book}, o.args...)
	cmd := exec.Command(o.binary, append(args, more...)...)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Stderr = o.errs
	out, err := cmd.StdoutPipe()
	if err != nil {
		o.bench.Fatalf("%v", err)
	}
	if err := cmd.Start(); err != nil {
		o.bench.Fatalf("%s: %v", o.binary, err)
	}
	o.Words = ""
	lines, address := bufio.NewScanner(out), ""
	for address == "" && lines.Scan() {
		o.Words += lines.Text() + "\n"
		_, address, _ = strings.Cut(lines.Text(), "listening on http://")
	}
	o.cmd, o.gone = cmd, make(chan struct{})
	go func(gone chan struct{}) {
		io.Copy(io.Discard, out) // ends with the process
		cmd.Wait()               // killed, it ends with an error
		close(gone)
	}(o.gone)
	if address == "" {
		<-o.gone
		o.bench.Fatalf("gaugebook serve did not start: %s%s", o.Words, o.errs)
	}
	o.Wire.To(address)
}

// Kill ends it as a power cut does, with SIGKILL.
func (o *Office) Kill() {
	if o.cmd == nil {
		return
	}
	o.cmd.Process.Kill() // an error says that it is gone already
	<-o.gone
	o.cmd = nil
}

// Use makes the next Start start another binary.
func (o *Office) Use(binary string) { o.binary = binary }

// Invite restarts the office and gives the code it prints for one more phone.
func (o *Office) Invite() string {
	o.bench.Helper()
	o.Kill()
	o.Start("--invite")
	_, code, ok := strings.Cut(o.Words, "joins with the code ")
	if !ok || len(code) < 9 {
		o.bench.Fatalf("no code in %q", o.Words)
	}
	return code[:9]
}

// words are what a process says, while others read it.
type words struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (w *words) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.buf.Write(p)
}

func (w *words) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.buf.String()
}
