package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
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
	"github.com/chromedp/chromedp/kb"

	"liftbench/cmd/liftbench/web"
)

// The page in headless Chromium (Debian chromium). LIFTBENCH_SCREENSHOTS names
// a folder for pictures of it, for the eye.

// tab is one tab of the browser on the page, with what went wrong in it.
type tab struct {
	*testing.T
	ctx     context.Context
	address string

	mu      sync.Mutex
	trouble []string
}

// openTab opens the page in a window of that width.
func openTab(t *testing.T, address string, width, height int) *tab {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		outside(t, "chromium (Debian chromium)")
	}
	own, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	tab := &tab{T: t, address: address}
	hear := func(event any) {
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			tab.complain("exception: " + e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
				tab.complain(fmt.Sprintf("console: %s %s", e.Type, e.Args[0].Value))
			}
		case *log.EventEntryAdded:
			// What the server refuses is shown on the page; the browser notes it too.
			if e.Entry.Level == log.EntryLevelError && !strings.Contains(e.Entry.Text, "status of 400") {
				tab.complain("log: " + e.Entry.Text)
			}
		case *network.EventRequestWillBeSent:
			u, err := url.Parse(e.Request.URL)
			if err == nil && u.Scheme != "data" && u.Scheme != "blob" && u.Host != own.Host {
				tab.complain("asks another host: " + e.Request.URL)
			}
		}
	}
	ctx, stop := chromedp.NewContext(context.Background(), chromedp.WithListener(hear), chromedp.WithAllocatorOptions(
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(width, height)))
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil { // starts the browser
		t.Fatal(err)
	}
	var stopTime context.CancelFunc
	tab.ctx, stopTime = context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(stopTime)
	for _, enable := range []func() error{
		func() error { return called(chromedp.Call(tab.ctx, network.Enable, network.EnableParams{})) },
		func() error { return called(chromedp.Call(tab.ctx, log.Enable, cdp.Empty{})) },
	} {
		if err := enable(); err != nil {
			t.Fatal(err)
		}
	}
	tab.do(chromedp.EmulateViewport(int64(width), int64(height)), chromedp.Navigate(address), chromedp.WaitVisible(chromedp.CSS("#plan svg, #plan canvas")))
	t.Cleanup(func() {
		tab.mu.Lock()
		defer tab.mu.Unlock()
		for _, s := range tab.trouble {
			t.Error(s)
		}
	})
	return tab
}

// called drops what a command answers.
func called[R any](_ R, err error) error { return err }

func (b *tab) complain(s string) {
	b.mu.Lock()
	b.trouble = append(b.trouble, s)
	b.mu.Unlock()
}

// do runs actions, which must not fail.
func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		shown, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.body.innerText.slice(0, 600)`))
		b.Fatalf("%v; the page shows %q", err, shown)
	}
}

// text returns what a script says.
func (b *tab) text(script string) string {
	b.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`String(`+script+`)`))
	if err != nil {
		b.Fatalf("%v, of %.200s", err, script)
	}
	return s
}

// until waits for a condition to hold.
func (b *tab) until(what, script string) {
	b.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Poll[bool](`!!(`+script+`)`, chromedp.WithPollingInterval(50*time.Millisecond), chromedp.WithPollingTimeout(30*time.Second)))
	if err != nil {
		if errors.Is(err, chromedp.ErrPollingTimeout) {
			b.Fatalf("waited in vain for %s; the page shows %.600q", what, b.text(`document.body.innerText`))
		}
		b.Fatal(err)
	}
}

// numbers waits for the computation in hand and returns the result's table.
func (b *tab) numbers() string {
	b.Helper()
	b.until("the result", `document.getElementById("busy").hidden && document.querySelector("#numbers td.now")`)
	return b.text(`document.getElementById("numbers").innerText`)
}

// turn sets a control as a hand does, and waits for what comes of it.
func (b *tab) turn(key, value string) string {
	b.Helper()
	b.text(fmt.Sprintf(`(() => {
		const e = document.getElementById("set-%s");
		if (e.type === "checkbox") e.checked = %q === "true"; else e.value = %q;
		e.dispatchEvent(new Event("input", {bubbles: true}));
		e.dispatchEvent(new Event("change", {bubbles: true}));
	})()`, key, value, value))
	time.Sleep(150 * time.Millisecond) // the page waits for more of a drag
	return b.numbers()
}

// picture saves what is seen, where a folder is given.
func (b *tab) picture(name string) {
	b.Helper()
	dir := os.Getenv("LIFTBENCH_SCREENSHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.Fatal(err)
	}
}

// TestBrowserControls: the page loads, every control changes a number, and the
// numbers are those of run.
func TestBrowserControls(t *testing.T) {
	bench := newTestBench(t)
	b := openTab(t, startPage(t, bench.bench()), 1280, 900)
	still := b.numbers()
	b.picture("page")
	for _, c := range bench.controls {
		value, with := "", ""
		switch c.Kind {
		case web.Word:
			value = c.Words[0]
		case web.Switch:
			value = fmt.Sprint(!c.Default.(bool))
		case web.Choice:
			value = fmt.Sprint(c.Choices[len(c.Choices)-1])
		default:
			value = fmt.Sprint(c.Min + (c.Max-c.Min)/4)
		}
		switch c.Key {
		case "flow_aware":
			with = "10"
		case "pump_l_min":
			value = "5"
		case "valve_dead_ms", "oil_c", "tool_m":
			continue // leads on auto make up for them; held in TestEveryControlTurnsSomething
		}
		before := still
		if with != "" {
			before = b.turn("pump_l_min", with)
		}
		if b.turn(c.Key, value) == before {
			t.Errorf("%s = %s changes no number", c.Key, value)
		}
		if link := b.text(`location.href`); !strings.Contains(link, c.Key+"=") {
			t.Errorf("%s = %s: the address is %s", c.Key, value, link)
		}
		b.do(chromedp.Click(chromedp.CSS("#reset")))
		time.Sleep(150 * time.Millisecond)
		if got := b.numbers(); got != still {
			t.Errorf("after %s, all at default: other numbers than at first", c.Key)
		}
	}
	if lift := b.text(`document.querySelector('[data-line="overrun"] td.now').innerText`); lift == "" {
		t.Error("no overrun in the result")
	} else {
		d, err := bench.run(&web.Ask{})
		if err != nil {
			t.Fatal(err)
		}
		if want := fmt.Sprintf("%.1f", d.Outcome.Score.Area.OverrunM2); lift != want {
			t.Errorf("the page shows an overrun of %s m²; run has %s", lift, want)
		}
	}
}

// TestBrowserLink: an address opens the setting it holds.
func TestBrowserLink(t *testing.T) {
	address := startPage(t, newTestBench(t).bench())
	b := openTab(t, address, 1280, 900)
	slow := b.numbers()
	fast := b.turn("speed_kmh", "13")
	link := b.text(`location.href`)
	b.do(chromedp.Navigate("about:blank"), chromedp.Navigate(link), chromedp.WaitVisible(chromedp.CSS("#plan svg, #plan canvas")))
	if got := b.numbers(); got != fast || got == slow {
		t.Errorf("%s shows other numbers than those it was taken from", link)
	}
	if v := b.text(`document.getElementById("set-speed_kmh").value`); v != "13" {
		t.Errorf("the speed is %s", v)
	}
}

// TestBrowserUpload: an own field is driven; a bad machine is said to be bad
// beside its field, with the place.
func TestBrowserUpload(t *testing.T) {
	dir := t.TempDir()
	save := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	good := save("beets.geojson", demoText(t, "field.geojson"))
	text, line := edit(t, demoText(t, "machine.yaml"), "count: 12", "count: twelve")
	bad := save("hoe.yaml", text)
	b := openTab(t, startPage(t, newTestBench(t).bench()), 1280, 900)
	still := b.numbers()
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#own-field"), []string{good}))
	b.until("the field's own drive", `document.getElementById("busy").hidden && document.getElementById("numbers").innerText !== `+fmt.Sprintf("%q", still))
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#own-machine"), []string{bad}))
	b.until("the fault", fmt.Sprintf(`document.getElementById("own-machine-fault").innerText.includes("hoe.yaml:%d:")`, line))
	b.picture("bad-upload")
}

// TestBrowserKeyboard: Tab reaches every control, button and figure that can
// be used, in order, and a key changes a control.
func TestBrowserKeyboard(t *testing.T) {
	b := openTab(t, startPage(t, newTestBench(t).bench()), 1280, 900)
	still := b.numbers()
	reached := map[string]bool{}
	for range 160 {
		b.do(chromedp.KeyEvent(kb.Tab))
		id := b.text(`document.activeElement ? document.activeElement.id || document.activeElement.tagName + "." + document.activeElement.className : ""`)
		reached[id] = true
		if id == "set-speed_kmh" {
			b.do(chromedp.KeyEvent(kb.ArrowUp))
			time.Sleep(150 * time.Millisecond)
			if b.numbers() == still {
				t.Error("the arrow key on the speed changes nothing")
			}
		}
	}
	for _, id := range strings.Fields(b.text(`[...document.querySelectorAll("button, input, select, summary, a[href], [tabindex='0']")]
		.filter((e) => e.id && !e.disabled && e.offsetParent !== null).map((e) => e.id).join(" ")`)) {
		if !reached[id] {
			t.Errorf("Tab does not reach %s", id)
		}
	}
}

// TestBrowserNarrow: at 360 px, and at 200 % zoom, nothing is cut off, light
// and dark.
func TestBrowserNarrow(t *testing.T) {
	address := startPage(t, newTestBench(t).bench())
	for _, c := range []struct {
		name          string
		width, height int
	}{{"360px", 360, 740}, {"zoom", 640, 450}} {
		b := openTab(t, address, c.width, c.height)
		b.numbers()
		if wide := b.text(`document.documentElement.scrollWidth`); wide != fmt.Sprint(c.width) {
			t.Errorf("%s: the page is %s px wide", c.name, wide)
		}
		b.picture(c.name)
	}
}

// audit looks for what hinders people who do not see, or not well: a contrast
// below that of WCAG 2.2, 1.4.3 (4.5, large text 3), controls and figures
// without a name, ids that come twice.
const audit = `(() => {
	const faults = [];
	const name = (e) => (e.getAttribute("aria-label") || (e.getAttribute("aria-labelledby") || "").split(" ").map((i) => document.getElementById(i)?.textContent || "").join(" ").trim() ||
		[...(e.labels || [])].map((l) => l.textContent).join(" ").trim() || e.textContent.trim() || e.getAttribute("title") || e.getAttribute("alt") || "");
	const seen = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility === "visible";
	const what = (e) => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + (typeof e.className === "string" && e.className ? "." + e.className.replaceAll(" ", ".") : "");
	for (const e of document.querySelectorAll("input, select, button, summary, a[href], [role=img], [role=region], [role=slider], svg[role], canvas"))
		if (seen(e) && !name(e) && !e.querySelector?.("title") && e.getAttribute("aria-hidden") !== "true") faults.push(what(e) + " has no name");
	const ids = new Map();
	for (const e of document.querySelectorAll("[id]")) ids.set(e.id, (ids.get(e.id) || 0) + 1);
	for (const [id, n] of ids) if (n > 1) faults.push("id " + id + " comes " + n + " times");
	for (const e of document.querySelectorAll("[aria-describedby], [aria-labelledby]"))
		if (seen(e)) for (const id of ((e.getAttribute("aria-describedby") || "") + " " + (e.getAttribute("aria-labelledby") || "")).split(" "))
			if (id && !document.getElementById(id)) faults.push(what(e) + " names " + id + ", which is not there");
	if (!document.documentElement.lang) faults.push("no language");
	if (document.querySelectorAll("h1").length !== 1) faults.push("not one h1");
	const channel = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
	const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
	const parse = (s) => { const m = s.match(/[\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; };
	const ground = (e) => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c[3] > 0.99) return c; } return [255, 255, 255, 1]; };
	const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	const told = new Set();
	while (walker.nextNode()) {
		const e = walker.currentNode.parentElement;
		if (!walker.currentNode.textContent.trim() || !seen(e) || e.closest("svg, noscript, option, .unseen, [aria-hidden=true]") || e.closest(":disabled")) continue;
		const style = getComputedStyle(e), size = parseFloat(style.fontSize);
		const [a, b] = [luminance(parse(style.color)), luminance(ground(e))].sort((x, y) => y - x);
		const least = size >= 24 || size >= 18.66 && style.fontWeight >= 700 ? 3 : 4.5;
		const ratio = (a + 0.05) / (b + 0.05);
		if (ratio < least && !told.has(what(e))) { told.add(what(e)); faults.push(what(e) + " has a contrast of " + ratio.toFixed(2)); }
	}
	return faults.join("\n");
})()`

// TestBrowserAccessible: the audit finds nothing, light or dark.
func TestBrowserAccessible(t *testing.T) {
	b := openTab(t, startPage(t, newTestBench(t).bench()), 1280, 900)
	b.numbers()
	for _, scheme := range []string{"light", "dark"} {
		dark := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
		if err := called(chromedp.Call(b.ctx, emulation.SetEmulatedMedia, dark)); err != nil {
			t.Fatal(err)
		}
		b.until("the colours to settle", `document.getAnimations().length === 0`)
		if faults := b.text(audit); faults != "" {
			t.Errorf("%s:\n%s", scheme, faults)
		}
		b.picture(scheme)
	}
}

// TestBrowserFollowsLive: the page shows a live run and goes on with it, also
// after the line was cut.
func TestBrowserFollowsLive(t *testing.T) {
	p := followedDemo(t, 3000)
	p.publish()
	var mu sync.Mutex
	cut := false
	page := web.Handler(p.bench())
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		down := cut
		mu.Unlock()
		if down {
			panic(http.ErrAbortHandler)
		}
		page.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close) // after the tab, which holds a line open
	b := openTab(t, server.URL+"/", 1280, 900)
	title := `document.getElementById("drive-title").textContent`
	first := b.text(title)
	for i, lost := range []bool{false, true} {
		mu.Lock()
		cut = lost
		mu.Unlock()
		if lost {
			server.CloseClientConnections()
		}
		// Ten seconds more of driving: the newest sample again, later.
		p.mu.Lock()
		for range 100 {
			s := p.samples[len(p.samples)-1]
			s.TimeNs += 100e6
			p.samples = append(p.samples, s)
		}
		p.told++
		p.mu.Unlock()
		p.publish()
		mu.Lock()
		cut = false
		mu.Unlock()
		b.until(fmt.Sprintf("state %d", i+2), title+` !== `+fmt.Sprintf("%q", first))
		first = b.text(title)
	}
	// The browser says itself that the line was cut.
	b.mu.Lock()
	kept := b.trouble[:0]
	for _, s := range b.trouble {
		if !strings.HasPrefix(s, "log: Failed to load resource: net::ERR_") {
			kept = append(kept, s)
		}
	}
	b.trouble = kept
	b.mu.Unlock()
	b.picture("live")
}
