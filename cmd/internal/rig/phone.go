package rig

import (
	"bufio"
	"context"
	"net"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/chromedp/chromedp"
)

// A Phone is a Chromium with a profile of its own.
type Phone struct {
	bench  Bench
	folder string // its storage: what survives switching off
	ctx    context.Context
	cmd    *exec.Cmd
	end    context.CancelFunc
	strays *strays
	Tab    *Tab // the first
	tabs   []*Tab
}

// NewPhone switches a phone on. The folder is its storage; a phone that was
// switched off and is switched on with the same folder is the same phone.
func NewPhone(b Bench, folder string) *Phone {
	b.Helper()
	browser, err := exec.LookPath("chromium")
	if err != nil {
		b.Fatalf("%v: apt-get install chromium (go run ./cmd/check does it)", err)
	}
	p := &Phone{bench: b, folder: folder, strays: listenForStrays(b)}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(browser), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(filepath.Join(folder, "profile")),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-quic", true), chromedp.Flag("no-pings", true),
		chromedp.Flag("disable-domain-reliability", true), chromedp.Flag("lang", "en-GB"),
		// A desktop's address bar is a page of its own, fetched while ours is: no phone has it.
		chromedp.Flag("disable-features", "Translate,BlinkGenPropertyTrees,WebUIOmniboxPopup,WebUIOmniboxAimPopup"),
		chromedp.Flag("proxy-server", p.strays.address), // this machine's own addresses pass it by
		chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) {
			cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
			p.cmd = cmd
		}))
	allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, stop := chromedp.NewContext(allocator)
	p.ctx, p.end = ctx, func() { stop(); stopAllocator() }
	b.Cleanup(p.Kill)
	p.Tab = p.newTab(ctx)
	return p
}

// NewTab opens one more tab.
func (p *Phone) NewTab() *Tab {
	p.bench.Helper()
	ctx, _ := chromedp.NewContext(p.ctx) // ends with the phone
	return p.newTab(ctx)
}

// SwitchOff closes the browser as a person does, and waits for it to end.
func (p *Phone) SwitchOff() {
	p.bench.Helper()
	ctx, stop := context.WithTimeout(p.ctx, patience)
	defer stop()
	if err := chromedp.Cancel(ctx); err != nil {
		p.bench.Fatalf("switching the phone off: %v", err)
	}
	p.Kill()
}

// Kill ends the browser and all its processes with SIGKILL, as a battery does.
func (p *Phone) Kill() {
	if p.end == nil {
		return
	}
	if p.cmd != nil && p.cmd.Process != nil {
		syscall.Kill(-p.cmd.Process.Pid, syscall.SIGKILL) // an error says that it is gone already
	}
	p.end()
	p.end = nil
}

// Again is the same phone, switched on again.
func (p *Phone) Again() *Phone {
	p.bench.Helper()
	return NewPhone(p.bench, p.folder)
}

// Problems are what the tabs' consoles complained of, and the addresses that
// something asked for beyond this machine.
func (p *Phone) Problems() (all []string) {
	for _, tab := range p.tabs {
		all = append(all, tab.Problems()...)
	}
	return append(all, p.strays.list()...)
}

// patience is how long anything may take before it counts as failed.
const patience = 20 * time.Second

// ownErrand is what Chromium itself asks of its maker, whatever its flags say;
// it gets no answer either. What a page asks is seen by its tab as well.
var ownErrand = regexp.MustCompile(`^\S+ (http://)?[\w.-]+\.(googleapis|google|gvt1)\.com[:/]`)

// strays is a listener in the place of a proxy: whatever Chromium asks of
// another machine comes here, is noted and gets no answer.
type strays struct {
	address string
	mu      sync.Mutex
	asked   []string
}

func listenForStrays(b Bench) *strays {
	b.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatalf("%v", err)
	}
	b.Cleanup(func() { ln.Close() })
	s := &strays{address: ln.Addr().String()}
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				line, err := bufio.NewReader(c).ReadString('\n')
				if err != nil {
					return
				}
				if ownErrand.MatchString(line) {
					return
				}
				s.mu.Lock()
				defer s.mu.Unlock()
				s.asked = append(s.asked, "asked of another machine: "+strings.TrimSpace(line))
			}()
		}
	}()
	return s
}

func (s *strays) list() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.asked...)
}
