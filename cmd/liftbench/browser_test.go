//go:build linux

// The page in headless Chromium (Debian chromium): one browser for all tests,
// a window for each, and what must not happen in any of them.

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// TestBrowser drives the page as a user does, served by the program as it is
// built. LIFTBENCH_SHOTS names a folder for pictures of it, for the eye.
func TestBrowser(t *testing.T) {
	onTheClock(t)
	c := startChromium(t)
	for _, test := range []struct {
		name string
		test func(*testing.T, *chromium)
	}{
		{"Follows live", browserFollowsLive},
		{"Tells the truth", browserTellsTheTruth},
		{"Controls", browserControls},
		{"Lessons", browserLessons},
		{"Crossings", browserCrossings},
		{"Pinned", browserPinned},
		{"Link", browserLink},
		{"Refused", browserRefused},
		{"Dragged", browserDragged},
		{"Upload", browserUpload},
		{"Given", browserGiven},
		{"Export", browserExport},
		{"Keyboard", browserKeyboard},
		{"Touch", browserTouch},
		{"Motion", browserMotion},
		{"Narrow", browserNarrow},
		{"Accessible", browserAccessible},
		{"Fonts", browserFonts},
		{"Measure", browserMeasure},
		{"Measure at standstill", browserMeasureStill},
		{"Measure without network", browserMeasureWithoutNetwork},
		{"Measure served", browserMeasureServed},
		{"Measure from elsewhere", browserMeasureFromElsewhere},
		{"Report", browserReport},
		{"Sheet", browserSheet},
		{"First paint", browserFirstPaint},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			test.test(t, c)
		})
	}
}

// browserPatience bounds every wait: a page that is right comes within
// seconds, even on a slow machine.
const browserPatience = 2 * time.Minute

// chromium is a browser, the program, and where it serves the page.
type chromium struct {
	ctx     context.Context
	program string
	address string
}

// startChromium starts a browser and a server of the page, which end with the
// test.
func startChromium(t *testing.T) *chromium {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		outside(t, "chromium (Debian chromium)")
	}
	c := &chromium{program: filepath.Join(t.TempDir(), "liftbench")}
	// The program as users have it: the race detector, under which the server's
	// own tests run, makes it ten times as slow.
	build := exec.Command("go", "build", "-o", c.program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	c.address = c.serve(t, nil)

	// Root, as which CI runs, has no sandbox; what is opened is our own page.
	var stop context.CancelFunc
	c.ctx, stop = chromedp.NewContext(context.Background(), chromedp.WithAllocatorOptions(
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(browserPatience)))
	t.Cleanup(stop)
	if err := chromedp.Do(c.ctx); err != nil {
		t.Fatalf("%s does not start: %v", path, err)
	}
	return c
}

// serve serves the page, until the test ends, by the program with these settings of its surroundings beside those of the
// test, and returns its address.
func (c *chromium) serve(t *testing.T, env []string, flags ...string) string {
	t.Helper()
	serve := exec.Command(c.program, append([]string{"serve", "--http", "127.0.0.1:0"}, flags...)...)
	serve.Env = append(os.Environ(), env...)
	said, err := serve.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := serve.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		serve.Process.Kill()
		serve.Wait()
	})
	line, err := bufio.NewReader(said).ReadString('\n')
	if err != nil {
		t.Fatalf("serve says %q, %v", line, err)
	}
	return strings.TrimSpace(line)
}

// run runs the program, which must succeed.
func (c *chromium) run(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command(c.program, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %v, %s", args, err, out)
	}
}

// tab is a window of the browser, with what went wrong in it.
type tab struct {
	*testing.T
	ctx context.Context

	mu      sync.Mutex
	host    string // that may be asked
	trouble []string
}

// newTab opens an empty window of that size, which shares nothing with others.
// What goes wrong in it fails the test.
func (c *chromium) newTab(t *testing.T, width, height int) *tab {
	t.Helper()
	b := &tab{T: t}
	ctx, stop := chromedp.NewContext(c.ctx, chromedp.WithNewBrowserContext(), chromedp.WithNewWindow(true), chromedp.WithListener(b.hear))
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil { // with a context that does not end before the window
		t.Fatal(err)
	}
	var stopTime context.CancelFunc
	b.ctx, stopTime = context.WithTimeout(ctx, 4*browserPatience)
	t.Cleanup(stopTime)
	b.must(called(chromedp.Call(b.ctx, network.Enable, network.EnableParams{})))
	b.must(called(chromedp.Call(b.ctx, log.Enable, cdp.Empty{})))
	// Every window is the one in front, as it would be for its user.
	b.must(called(chromedp.Call(b.ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})))
	b.size(width, height)
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, s := range b.trouble {
			t.Error(s)
		}
	})
	return b
}

// openTab opens a page of the program in a window of that size.
func (c *chromium) openTab(t *testing.T, address string, width, height int) *tab {
	t.Helper()
	b := c.newTab(t, width, height)
	b.open(address)
	return b
}

// hear takes what the browser tells of a window.
func (b *tab) hear(event any) {
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.complain("exception: " + e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			b.complain(fmt.Sprintf("console: %s %s", e.Type, e.Args[0].Value))
		}
	case *log.EventEntryAdded:
		// What the server refuses is shown on the page, and a drive that it keeps no
		// longer, since others asked for theirs, is sent again; the browser notes both.
		if e.Entry.Level == log.EntryLevelError && !strings.Contains(e.Entry.Text, "status of 400") && !strings.Contains(e.Entry.Text, "status of 410") {
			b.complain("log: " + e.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		u, err := url.Parse(e.Request.URL)
		b.mu.Lock()
		own := b.host
		b.mu.Unlock()
		if err == nil && u.Scheme != "data" && u.Scheme != "blob" && u.Scheme != "about" && u.Host != own {
			b.complain("asks another host: " + e.Request.URL)
		}
	}
}

func (b *tab) complain(s string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !slices.Contains(b.trouble, s) {
		b.trouble = append(b.trouble, s)
	}
}

// forgive forgets trouble that begins so: what the test itself brought about.
func (b *tab) forgive(prefix string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.trouble = slices.DeleteFunc(b.trouble, func(s string) bool { return strings.HasPrefix(s, prefix) })
}

// called drops what a command answers.
func called[R any](_ R, err error) error { return err }

func (b *tab) must(err error) {
	b.Helper()
	if err != nil {
		b.Fatal(err)
	}
}

// do runs actions, which must not fail.
func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		shown, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText.slice(0, 600)`))
		b.Fatalf("%v; the page shows %q", err, shown)
	}
}

// size gives the window's viewport a size.
func (b *tab) size(width, height int) {
	b.Helper()
	b.do(chromedp.EmulateViewport(int64(width), int64(height)))
}

// open opens the page and waits until it has drawn.
func (b *tab) open(address string) {
	b.Helper()
	u, err := url.Parse(address)
	b.must(err)
	b.mu.Lock()
	b.host = u.Host
	b.mu.Unlock()
	b.do(chromedp.Navigate(address))
	b.until("the plan", `document.querySelector("#plan svg")`)
}

// text returns what a script says; a promise is waited for.
func (b *tab) text(script string) string {
	b.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`(async () => String(await (`+script+`)))()`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatalf("%v, of %.200s", err, script)
	}
	return s
}

// until waits for a condition to hold.
func (b *tab) until(what, script string) {
	b.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Poll[bool](`!!(`+script+`)`, chromedp.WithPollingInterval(20*time.Millisecond), chromedp.WithPollingTimeout(browserPatience)))
	if errors.Is(err, chromedp.ErrPollingTimeout) {
		b.Fatalf("waited in vain for %s; the page shows %.600q", what, b.text(`document.body.innerText`))
	}
	b.must(err)
}

// settled waits until the page has computed and drawn what was asked of it.
func (b *tab) settled() {
	b.Helper()
	b.until("the result", `document.getElementById("busy").hidden && (document.getElementById("result").hidden || document.querySelector("#numbers td.now"))`)
	b.text(`new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))`)
}

// numbers returns the result's table.
func (b *tab) numbers() string {
	b.Helper()
	b.settled()
	return b.text(`document.getElementById("numbers").innerText`)
}

// line returns a figure of the result by the name of its line.
func (b *tab) line(name string) float64 {
	b.Helper()
	b.settled()
	said := b.text(fmt.Sprintf(`document.querySelector('[data-line="%s"] td.now').textContent`, name))
	x, err := strconv.ParseFloat(strings.ReplaceAll(said, "\u2212", "-"), 64)
	if err != nil {
		b.Fatalf("%s is %q; expected a number", name, said)
	}
	return x
}

// set puts a setting, as a link holds it, into the address of the open page.
func (b *tab) set(query string) {
	b.Helper()
	b.text(fmt.Sprintf(`new Promise((done) => {
		const wanted = "#v=1&" + %q;
		if (location.hash === wanted) return done();
		addEventListener("hashchange", () => done(), {once: true});
		location.hash = wanted;
	})`, query))
	b.settled()
}

// turn sets a control as a hand does, and waits for what comes of it.
func (b *tab) turn(key, value string) {
	b.Helper()
	b.text(fmt.Sprintf(`(() => {
		const [key, value] = [%q, %q];
		let e = document.getElementById("set-" + key);
		const auto = document.getElementById("set-" + key + "-auto");
		if (auto && auto.checked !== (value === "auto")) auto.click();
		if (value === "auto") return;
		if (e.type === "checkbox") {
			if (e.checked !== (value === "true")) e.click();
			return;
		}
		e.value = value;
		e.dispatchEvent(new Event("input", {bubbles: true}));
		e.dispatchEvent(new Event("change", {bubbles: true}));
	})()`, key, value))
	b.settled()
}

// choose takes an option of a list.
func (b *tab) choose(id, value string) {
	b.Helper()
	b.text(fmt.Sprintf(`(() => {
		const e = document.getElementById(%q);
		e.value = %q;
		e.dispatchEvent(new Event("change", {bubbles: true}));
	})()`, id, value))
	b.settled()
}

// emulate makes the browser say that its user wants something, such as dark.
func (b *tab) emulate(feature, value string) {
	b.Helper()
	b.must(called(chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: feature, Value: value}}})))
}

// picture saves what is seen, where a folder is given.
func (b *tab) picture(name string) {
	b.Helper()
	if os.Getenv("LIFTBENCH_SHOTS") == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	b.must(err)
	b.save(name+".png", png)
}

// save keeps a file for the eye, where a folder is given.
func (b *tab) save(name string, data []byte) {
	b.Helper()
	dir := os.Getenv("LIFTBENCH_SHOTS")
	b.must(os.MkdirAll(dir, 0o755))
	b.must(os.WriteFile(filepath.Join(dir, name), data, 0o644))
}
