package main

import (
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// TestBrowserPhones adds a phone by the office's page, has it write, and takes it
// back: both screens show the same two words, and nothing is left on it.
func TestBrowserPhones(t *testing.T) {
	s := stage{rig.Build(t, t.TempDir(), nil)}
	o := s.open(t)
	owner := join(t, o, codeOf(t, o))
	owner.Tab.Tap("Office")
	owner.Tab.Tap("Phones")
	owner.Tab.Choose("Add a phone > Role", "cellar hand")
	owner.Tab.Type("Whose phone", "Harvest helper")
	owner.Tab.Tap("Make a code")
	owner.Tab.Until("The phone scans the square")
	code := rig.Eval[string](owner.Tab, "document.querySelector('.code').textContent")

	p := rig.NewPhone(t, t.TempDir())
	p.Tab.Go(o.Wire.URL + "/#join=" + code)
	p.Tab.Until("Join a book")
	assert.Equal(t, "/", rig.Eval[string](p.Tab, "location.pathname + location.search + location.hash"), "the code is no longer in the address")
	p.Tab.Type("How you sign", "AB")
	p.Tab.Tap("Join this book")
	p.Tab.Until("The office’s screen shows two words")
	words := rig.Eval[string](p.Tab, "document.querySelector('[data-about=words] p').textContent.match(/be: (.*)\\./)[1]")
	owner.Tab.Until("Its screen shows the words " + words)
	owner.Tab.Tap("The same words")
	p.Tab.Tap("They are the same")

	doors := rig.Eval[string](p.Tab, "[...document.querySelectorAll('.plan b')].map((b) => b.textContent).join(', ')")
	assert.Contains(t, doors, "This phone")
	p.Tab.Tap("Yard")
	p.Tab.Tap("Register a supplier")
	p.Tab.Type("Register a supplier > Name", "Far Orchard")
	p.Tab.Save("Save the supplier")
	keptOffline(p.Tab)

	p.Tab.Tap("Rooms")
	p.Tab.Tap("This phone")
	p.Tab.Tap("Hand back")
	p.Tab.Tap("Send all, then wipe this phone")
	p.Tab.Until("Safe to hand back")
	p.Tab.Until("1 of 1 received.")
	left := rig.Wait[string](p.Tab, `(globalThis.leftover ??= null, Promise.all([indexedDB.databases(), caches.keys(), navigator.serviceWorker.getRegistrations()])
		.then(([a, b, c]) => { globalThis.leftover = a.length + ' ' + b.length + ' ' + c.length; }), globalThis.leftover)`)
	assert.Equal(t, "0 0 0", left, "databases, caches and workers")

	owner.Tab.Tap("Today")
	owner.Tab.Tap("Phones")
	owner.Tab.Until("ended")
}

// TestBrowserTrust has a real verifier say what the root is worth: a phone
// that has it keeps the app and opens it with the office gone; another name,
// and a phone without the root, are refused.
func TestBrowserTrust(t *testing.T) {
	certutil, err := exec.LookPath("certutil")
	require.NoError(t, err, "apt-get install libnss3-tools")
	folder := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	_, at := httpsHouseUntil(t, ctx, folder)
	app := "https://stillhouse.local:" + strings.TrimPrefix(at, "127.0.0.1:")

	with, without := t.TempDir(), t.TempDir()
	db := filepath.Join(with, ".pki", "nssdb")
	require.NoError(t, os.MkdirAll(db, 0o700))
	for _, args := range [][]string{{"-d", "sql:" + db, "-N", "--empty-password"}, {"-d", "sql:" + db, "-A", "-t", "C,,", "-n", "house", "-i", filepath.Join(folder, "gaugebook-root.crt")}} {
		out, err := exec.Command(certutil, args...).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	open := browserAt(t, with)
	b := open()
	require.Empty(t, b.visit(app))
	b.until(`document.querySelector('form') !== null`)
	b.until(`navigator.serviceWorker.ready.then((r) => new Promise((done) => {
		const look = () => (r.active.state === 'activated' ? done(true) : r.active.addEventListener('statechange', look, { once: true })); look(); }))`)
	assert.Equal(t, "net::ERR_CERT_COMMON_NAME_INVALID", b.visit(strings.Replace(app, "stillhouse.local", "other.local", 1)), "a name outside of it")
	b.close()

	stranger := browserAt(t, without)()
	assert.Equal(t, "net::ERR_CERT_AUTHORITY_INVALID", stranger.visit(app), "a phone without the root")
	stranger.close()

	stop() // the office is gone
	require.Eventually(t, func() bool {
		c, err := net.Dial("tcp", at)
		if err == nil {
			c.Close()
		}
		return err != nil
	}, time.Minute, 20*time.Millisecond)
	b = open()
	require.Empty(t, b.visit(app), "it opens cold without the office")
	b.until(`document.querySelector('form') !== null`)
	b.close()
}

// A trusting browser has a home of its own, in which its trusted roots and its
// storage are. It finds the house's names here, and reaches nothing else.
type trusting struct {
	t     *testing.T
	ctx   context.Context
	close func()
}

func browserAt(t *testing.T, home string) func() trusting {
	return func() trusting {
		t.Helper()
		allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
			chromedp.ExecPath("chromium"), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(filepath.Join(home, "profile")),
			chromedp.Flag("disable-component-update", true), chromedp.Flag("no-pings", true),
			chromedp.Flag("host-resolver-rules", "MAP *.local 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
			chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) {
				cmd.Env = append(os.Environ(), "HOME="+home)
				cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
			}))...)
		ctx, stop := chromedp.NewContext(allocator)
		b := trusting{t, ctx, func() {
			assert.NoError(t, chromedp.Cancel(ctx))
			stop()
			stopAllocator()
		}}
		b.call("Page.enable", map[string]any{})
		return b
	}
}

func (b trusting) call(method string, params map[string]any) map[string]any {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, func(ctx context.Context, target *chromedp.Target) (map[string]any, error) {
		ctx, stop := context.WithTimeout(ctx, time.Minute)
		defer stop()
		out := map[string]any{}
		err := target.Call(ctx, method, params, &out)
		return out, err
	})
	require.NoError(b.t, err, method)
	return out
}

// visit opens an address and gives the browser's word for what it refused.
func (b trusting) visit(url string) string {
	b.t.Helper()
	wrong, _ := b.call("Page.navigate", map[string]any{"url": url})["errorText"].(string)
	return wrong
}

// until waits until an expression, or what it promises, is true.
func (b trusting) until(js string) {
	b.t.Helper()
	got := b.call("Runtime.evaluate", map[string]any{"awaitPromise": true, "returnByValue": true, "expression": `new Promise((done) => {
		const look = async () => { if (await (` + js + `)) done('so'); else requestAnimationFrame(look); }; look(); })`})
	value, _ := got["result"].(map[string]any)
	require.Equal(b.t, "so", value["value"], "%s: %v", js, got)
}
