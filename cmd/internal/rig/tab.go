package rig

import (
	"context"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/chromedp"
)

//go:embed find.js
var find string

// A Tab is one page on a phone.
type Tab struct {
	bench Bench
	ctx   context.Context
	Taps  int // touches of the screen so far
	Keys  int // characters typed and keys pressed so far

	mu       sync.Mutex
	problems []string
	said     string // the last receipt
}

type object = map[string]any

func (p *Phone) newTab(ctx context.Context) *Tab {
	p.bench.Helper()
	t := &Tab{bench: p.bench, ctx: ctx}
	p.tabs = append(p.tabs, t)
	for event, tell := range map[string]func([]byte) string{
		"Runtime.exceptionThrown":   thrown,
		"Runtime.consoleAPICalled":  consoled,
		"Log.entryAdded":            logged,
		"Network.requestWillBeSent": requested,
	} {
		heard, err := chromedp.Run(ctx, func(_ context.Context, target *chromedp.Target) (<-chan string, error) {
			events, _ := target.Subscribe(event)
			out := make(chan string)
			go func() {
				defer close(out)
				for raw := range events {
					out <- tell(raw)
				}
			}()
			return out, nil
		})
		if err != nil {
			p.bench.Fatalf("Chromium did not start: %v", err)
		}
		go func() {
			for problem := range heard {
				if problem == "" {
					continue
				}
				t.mu.Lock()
				t.problems = append(t.problems, problem)
				t.mu.Unlock()
			}
		}()
	}
	for _, domain := range []string{"Runtime.enable", "Log.enable", "Page.enable", "Network.enable"} {
		t.Call(domain, nil)
	}
	t.Call("Emulation.setTouchEmulationEnabled", object{"enabled": true, "maxTouchPoints": 1})
	t.Size(390, 844)
	return t
}

func thrown(raw []byte) string { return "thrown: " + brief(raw) }

func consoled(raw []byte) string {
	var e struct{ Type string }
	if json.Unmarshal(raw, &e) == nil && e.Type != "error" && e.Type != "warning" && e.Type != "assert" {
		return ""
	}
	return "console: " + brief(raw)
}

func logged(raw []byte) string {
	var e struct {
		Entry struct{ Level, Source, Text, URL string }
	}
	if json.Unmarshal(raw, &e) == nil && e.Entry.Level != "error" && e.Entry.Level != "warning" {
		return ""
	}
	return fmt.Sprintf("log: %s: %s %s", e.Entry.Source, e.Entry.Text, e.Entry.URL)
}

func requested(raw []byte) string {
	var e struct{ Request struct{ URL string } }
	if json.Unmarshal(raw, &e) == nil && (strings.HasPrefix(e.Request.URL, "http://127.0.0.1:") || strings.HasPrefix(e.Request.URL, "data:")) {
		return ""
	}
	return "asked of another machine: " + e.Request.URL
}

func brief(raw []byte) string { return string(raw[:min(len(raw), 600)]) }

// Problems are the errors and warnings that the console saw.
func (t *Tab) Problems() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return append([]string(nil), t.problems...)
}

// Call calls a method of Chromium's protocol.
func (t *Tab) Call(method string, params object) object {
	t.bench.Helper()
	out, err := t.call(method, params)
	if err != nil {
		t.Fail("%s: %v", method, err)
	}
	return out
}

func (t *Tab) call(method string, params object) (object, error) {
	if params == nil {
		params = object{}
	}
	return chromedp.Run(t.ctx, func(ctx context.Context, target *chromedp.Target) (object, error) {
		ctx, stop := context.WithTimeout(ctx, 2*patience)
		defer stop()
		out := object{}
		err := target.Call(ctx, method, params, &out)
		return out, err
	})
}

// eval gives the value of an expression, or of what it promises.
func (t *Tab) eval(js string, to any) error {
	out, err := t.call("Runtime.evaluate", object{"expression": js, "awaitPromise": true, "returnByValue": true, "userGesture": true})
	if err != nil {
		return err
	}
	if wrong, ok := out["exceptionDetails"].(object); ok {
		words := fmt.Sprint(wrong["text"])
		if e, ok := wrong["exception"].(object); ok {
			words = fmt.Sprint(e["description"])
		}
		words, _, _ = strings.Cut(words, "\n")
		return errors.New(words)
	}
	value, ok := out["result"].(object)
	if !ok || to == nil {
		return nil
	}
	raw, err := json.Marshal(value["value"])
	if err != nil {
		return err
	}
	return json.Unmarshal(raw, to)
}

// found evaluates an expression that may use rig.… of find.js, again and again
// until it gives something or patience ends. A page that goes away under it is
// asked again.
func (t *Tab) found(js string, to any) error {
	var err error
	for end := time.Now().Add(patience); time.Now().Before(end); {
		left := time.Until(end).Milliseconds()
		err = t.eval(fmt.Sprintf("%s; rig.until(() => (%s), %d)", find, js, left), to)
		if err == nil || !strings.Contains(err.Error(), "context") && !strings.Contains(err.Error(), "navigated") {
			return err
		}
	}
	return err
}

// Eval gives the value of a JavaScript expression, or of what it promises.
func Eval[V any](t *Tab, js string) (v V) {
	t.bench.Helper()
	if err := t.eval(find+"; "+js, &v); err != nil {
		t.Fail("%s: %v", js, err)
	}
	return v
}

// Wait waits until a JavaScript expression gives something, and gives it.
func Wait[V any](t *Tab, js string) (v V) {
	t.bench.Helper()
	if err := t.found(js, &v); err != nil {
		t.Fail("waited for %s: %v", js, err)
	}
	return v
}

// quoted is a string as JavaScript writes it.
func quoted(s string) string {
	raw, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always marshals
	}
	return string(raw)
}

// Until waits until the page shows the words.
func (t *Tab) Until(words string) {
	t.bench.Helper()
	Wait[bool](t, "document.body?.innerText.includes("+quoted(words)+")")
}

// Go opens an address.
func (t *Tab) Go(url string) {
	t.bench.Helper()
	out := t.Call("Page.navigate", object{"url": url})
	if wrong, ok := out["errorText"]; ok {
		t.Fail("opening %s: %v", url, wrong)
	}
	Wait[bool](t, "document.readyState === 'complete'")
}

// Tap touches what is called so.
func (t *Tab) Tap(path string) {
	t.bench.Helper()
	if err := t.found("rig.touch("+quoted(path)+")", nil); err != nil {
		t.Fail("tapping ‘%s’: %v", path, err)
	}
	t.Taps++
}

// Type taps a field and types, in the place of what it held.
func (t *Tab) Type(path, text string) {
	t.bench.Helper()
	t.Tap(path)
	Wait[bool](t, "document.activeElement === rig.find("+quoted(path)+") && (document.activeElement.select(), true)")
	t.Write(text)
}

// Write types where the cursor is.
func (t *Tab) Write(text string) {
	t.bench.Helper()
	if text == "" {
		t.Key("Delete")
		return
	}
	t.Call("Input.insertText", object{"text": text})
	t.Keys += len([]rune(text))
}

// keyCodes are the keys that Key knows, with what they type.
var keyCodes = map[string]struct {
	code int
	text string
}{"Enter": {13, "\r"}, "Tab": {9, ""}, "Delete": {46, ""}, "Escape": {27, ""}, "ArrowDown": {40, ""}, " ": {32, " "}}

// Key presses a key, "Shift+Tab" with the other held down.
func (t *Tab) Key(name string) {
	t.bench.Helper()
	name, shift := strings.CutPrefix(name, "Shift+")
	modifiers := 0
	if shift {
		modifiers = 8
	}
	key := keyCodes[name]
	down := object{"type": "keyDown", "key": name, "code": name, "windowsVirtualKeyCode": key.code, "modifiers": modifiers}
	if key.text != "" {
		down["text"] = key.text
	}
	t.Call("Input.dispatchKeyEvent", down)
	t.Call("Input.dispatchKeyEvent", object{"type": "keyUp", "key": name, "code": name, "windowsVirtualKeyCode": key.code, "modifiers": modifiers})
	t.Keys++
}

// Choose takes what begins with the words from a list: two taps.
func (t *Tab) Choose(path, option string) {
	t.bench.Helper()
	if err := t.found("rig.choose("+quoted(path)+", "+quoted(option)+")", nil); err != nil {
		t.Fail("choosing ‘%s’ at ‘%s’: %v", option, path, err)
	}
	t.Taps += 2
}

// Save taps a button that saves, and gives the address that the page says the
// entry was saved as, once the page has taken it in.
func (t *Tab) Save(button string) (address string) {
	t.bench.Helper()
	t.Tap(button)
	address = t.Saved()
	t.Settle()
	return address
}

// Settle waits until the page has nothing more to change by itself.
func (t *Tab) Settle() {
	t.bench.Helper()
	Eval[bool](t, "rig.quiet(150)")
}

// Saved waits for the next receipt and gives its address.
func (t *Tab) Saved() string {
	t.bench.Helper()
	t.said = Wait[string](t, "(() => { const said = document.querySelector('.receipt').textContent.match(/^Saved as (\\S+)$/)?.[1]; return said !== "+quoted(t.said)+" && said })()")
	return t.said
}

// Below is what stands below a field once something is wrong with it.
func (t *Tab) Below(path string) string {
	t.bench.Helper()
	return Wait[string](t, "(() => { const b = rig.below("+quoted(path)+"); return b.wrong && b.text })()")
}

// BelowSays waits until the sentence below a wrong field holds the words.
func (t *Tab) BelowSays(path, words string) {
	t.bench.Helper()
	Wait[bool](t, "(() => { const b = rig.below("+quoted(path)+"); return b.wrong && b.text.includes("+quoted(words)+") })()")
}

// Text is what the page shows.
func (t *Tab) Text() string {
	t.bench.Helper()
	return Eval[string](t, "document.body.innerText")
}

// Size sets the screen, in CSS pixels; a narrow one is a phone's.
func (t *Tab) Size(width, height int) {
	t.bench.Helper()
	t.Call("Emulation.setDeviceMetricsOverride", object{"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 700})
}

// Scheme sets what the person prefers: "light" or "dark".
func (t *Tab) Scheme(scheme string) {
	t.bench.Helper()
	t.Call("Emulation.setEmulatedMedia", object{"features": []object{{"name": "prefers-color-scheme", "value": scheme}}})
}

// Offline tells the page that there is no network, as the phone would; to be
// so, the Wire is cut.
func (t *Tab) Offline(is bool) {
	t.bench.Helper()
	t.Call("Network.emulateNetworkConditions", object{"offline": is, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1})
}

// Picture is a PNG of the screen.
func (t *Tab) Picture() []byte {
	t.bench.Helper()
	png, err := t.picture()
	if err != nil {
		t.bench.Fatalf("taking a picture: %v", err)
	}
	return png
}

func (t *Tab) picture() ([]byte, error) {
	out, err := t.call("Page.captureScreenshot", object{"format": "png", "optimizeForSpeed": false})
	if err != nil {
		return nil, err
	}
	data, _ := out["data"].(string)
	return base64.StdEncoding.DecodeString(data)
}

// Crop is a WebP of the part of the page from the top of what a CSS selector
// finds, as wide as the screen and so many pixels high at the most.
func (t *Tab) Crop(selector string, height int) []byte {
	t.bench.Helper()
	box := Wait[struct{ Top, Width, Height float64 }](t, fmt.Sprintf("((one) => { if (!one) return null; one.scrollIntoView({ block: 'start' }); const { top, height } = one.getBoundingClientRect(); return { top: top + scrollY, width: document.documentElement.clientWidth, height }; })([...document.querySelectorAll(%s)].find(rig.seen))", quoted(selector)))
	out := t.Call("Page.captureScreenshot", object{"format": "webp", "quality": 25, "captureBeyondViewport": true, "optimizeForSpeed": false,
		"clip": object{"x": 0, "y": box.Top - 8, "width": box.Width, "height": min(box.Height+16, float64(height)), "scale": 1.5}})
	data, _ := out["data"].(string)
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil || len(raw) == 0 {
		t.Fail("no picture of %s: %v", selector, err)
	}
	return raw
}

// Fail ends the test with what is wrong, a picture of the page and its text.
func (t *Tab) Fail(format string, args ...any) {
	t.bench.Helper()
	words := fmt.Sprintf(format, args...)
	var text string
	if err := t.eval("document.body.innerText", &text); err != nil {
		text = fmt.Sprintf("(cannot be read: %v)", err)
	}
	picture := "none"
	if png, err := t.picture(); err == nil {
		folder := filepath.Join(os.TempDir(), "gaugebook-failures")
		name := filepath.Join(folder, strings.ReplaceAll(t.bench.Name(), "/", "-")+time.Now().Format("-150405.000")+".png")
		if err := errors.Join(os.MkdirAll(folder, 0o755), os.WriteFile(name, png, 0o644)); err == nil {
			picture = name
		}
	}
	t.bench.Fatalf("%s\npicture: %s\nconsole: %s\nthe page says:\n%s", words, picture, strings.Join(t.Problems(), "\n  "), text)
}
