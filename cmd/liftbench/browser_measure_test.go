//go:build linux

// The Measure page on a phone: from the file, without network, by touch; kept, shared, printed; and the
// same through serve with its token.

package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// tap touches the middle of an element as a thumb does, which has to be large enough for one, and waits
// until the browser has made a click of the touch: it does so some time after the touch has been answered, and
// who asks at once may still find what was there before.
func (b *tab) tap(selector string) {
	b.Helper()
	at := b.text(`(() => {
		window.clicked = false;
		addEventListener("click", () => { setTimeout(() => { window.clicked = true; }); }, { once: true, capture: true });
		const e = document.querySelector(` + "`" + selector + "`" + `);
		e.scrollIntoView({ block: "center" });
		const r = e.getBoundingClientRect();
		if (r.width < 44 || r.height < 44) return "small " + r.width + " x " + r.height;
		const [x, y] = [r.left + r.width / 2, r.top + r.height / 2];
		const hit = document.elementFromPoint(x, y);
		if (!hit || !(e.contains(hit) || hit.contains(e))) return "covered by " + hit?.outerHTML;
		return x + " " + y;
	})()`)
	var xy [2]float64
	if n, err := fmt.Sscan(at, &xy[0], &xy[1]); n != 2 || err != nil {
		b.Fatalf("%s cannot be tapped: %s", selector, at)
	}
	b.touch(input.DispatchTouchEventTypeTouchStart, xy)
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.until("the touch of "+selector+" to be a click", `window.clicked`)
}

// again opens the page anew and waits until it is another one.
func (b *tab) again() {
	b.Helper()
	b.text(`window.before = true`)
	b.do(chromedp.Reload())
	b.until("the page", `!window.before && document.querySelector("#plot svg")`)
}

// asksFor lets the browser ask for a language.
func (b *tab) asksFor(languages string) {
	b.Helper()
	agent := b.text(`navigator.userAgent`)
	b.must(called(chromedp.Call(b.ctx, emulation.SetUserAgentOverride, emulation.SetUserAgentOverrideParams{UserAgent: agent, AcceptLanguage: languages})))
}

// enter types into a field that was tapped, in place of what it holds.
func (b *tab) enter(selector, text string) {
	b.Helper()
	b.tap(selector)
	b.until(selector+" to be typed into", `document.activeElement === document.querySelector("`+selector+`")`)
	b.text(`document.activeElement.select()`)
	b.must(called(chromedp.Call(b.ctx, input.InsertText, input.InsertTextParams{Text: text})))
}

// onAPhone makes a window one of a phone that has no network.
func (b *tab) onAPhone() {
	b.Helper()
	b.must(called(chromedp.Call(b.ctx, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})))
	b.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
}

// tenReadings are the readings of a lift at 4 and 10 km/h, cm late; the eighth slipped.
var tenReadings = []struct{ kmh, cm string }{
	{"4", "15,5"}, {"10", "41"}, {"4", "16"}, {"10", "38"}, {"4", "12"}, {"10", "36"}, {"4", "19"}, {"10", "73"}, {"4", "16"}, {"10", "40"},
}

// measure enters them by touch.
func (b *tab) measure() {
	b.Helper()
	b.tap("#set > summary")
	b.enter("#lift-lead", "310")
	for i, r := range tenReadings {
		slow := "1"
		if r.kmh == "10" {
			slow = "2"
		}
		b.tap("#speeds button:nth-child(" + slow + ")")
		b.enter("#late", r.cm)
		b.tap("button.main")
		b.until("the reading", `document.querySelectorAll("#list li").length === `+fmt.Sprint(i+1))
		if wrong := b.text(`document.getElementById("wrong").textContent`); wrong != "" {
			b.Fatalf("reading %d: %s", i+1, wrong)
		}
	}
}

// browserMeasure: a whole measurement by touch from the file, without network.
func browserMeasure(t *testing.T, c *chromium) {
	dir := t.TempDir()
	file := filepath.Join(dir, "measure.html")
	c.run(t, "tape", "--page", file)
	var rows strings.Builder
	rows.WriteString("move;speed_kmh;late_cm;lead_ms\n")
	for _, r := range tenReadings {
		rows.WriteString("lift;" + r.kmh + ";" + r.cm + ";310\n")
	}
	status, said, _ := command(rows.String(), "tape")
	want, _, _ := strings.Cut(said, "\n")
	if status != 0 || !strings.HasPrefix(want, "lift lead 310 → ") {
		t.Fatalf("the command says %q", said)
	}

	b := c.newTab(t, 360, 740)
	b.onAPhone()
	b.must(called(chromedp.Call(b.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir, BrowserContextID: chromedp.FromContext(b.ctx).BrowserContextID})))
	b.do(chromedp.Navigate("file://" + file))
	b.until("the page", `document.querySelector("#plot svg")`)
	b.picture("measure-empty")
	b.tap("button.main")
	b.until("a word on what is missing", `document.getElementById("wrong").textContent.startsWith("Speed, km/h: expected 0.1 to 40")`)
	b.measure()

	first := func() string { return b.text(`document.querySelector("#answer .answer").textContent`) }
	if got := first(); got != want {
		t.Errorf("the page says %q; the command %q", got, want)
	}
	for what, script := range map[string]string{
		"the slip named":     `document.getElementById("answer").textContent.includes("reading 8: +3") && document.getElementById("list").children[7].textContent.includes("left out")`,
		"nine circles":       `document.querySelectorAll("#plot circle").length === 9`,
		"one cross":          `document.querySelectorAll("#plot path").length === 1`,
		"a line":             `document.querySelectorAll("#plot line[stroke-width='2']").length === 1`,
		"the next pass":      `/^(Next pass: at|Set this, and drive)/.test(document.getElementById("next").textContent)`,
		"the safety words":   `document.querySelector(".safety").textContent.includes("Nobody stands at the flag line")`,
		"nothing cut off":    `document.documentElement.scrollWidth <= 360`,
		"the list's numbers": `document.getElementById("list").children[0].textContent.includes("lift, 4 km/h, +15.5 cm")`,
	} {
		if b.text(script) != "true" {
			t.Errorf("not on the page: %s", what)
		}
	}
	b.picture("measure-360px")

	// Kept: after the page was opened anew all is there, also what the terminal is set to.
	if kept := b.text(`document.getElementById("kept").textContent`); kept != "10 kept in this browser until you delete them." {
		t.Errorf("it says of what it keeps: %q", kept)
	}
	b.again()
	b.until("what was kept", `document.querySelectorAll("#list li").length === 10`)
	if got := first(); got != want || b.text(`document.getElementById("lift-lead").value`) != "310" {
		t.Errorf("opened anew it says %q; want %q", got, want)
	}

	// Accessible, all opened, light and dark.
	b.text(`document.querySelectorAll("details").forEach((e) => { e.open = true; })`)
	b.audit("measure, 360 px")
	b.emulate("prefers-color-scheme", "dark")
	b.audit("measure, dark")
	b.picture("measure-dark")
	b.emulate("prefers-color-scheme", "light")

	// Shared and saved: what the command reads gives the same answer.
	b.text(`(() => {
		navigator.canShare = () => true;
		navigator.share = async ({ files }) => { window.shared = await files[0].text(); };
		document.getElementById("share").hidden = false;
	})()`)
	b.tap("#share")
	b.until("it to be shared", `window.shared`)
	b.tap("#save")
	b.until("a word that it is saved", `document.getElementById("done").textContent.startsWith("Saved")`)
	saved := filepath.Join(dir, "readings.csv")
	for end := time.Now().Add(browserPatience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if _, err := os.Stat(saved); err == nil {
			break
		}
	}
	data, err := os.ReadFile(saved)
	b.must(err)
	if shared := b.text(`window.shared`); shared != string(data) {
		t.Errorf("shared %q, saved %q", shared, data)
	}
	if status, said, stderr := command("", "tape", saved); status != 0 || !strings.HasPrefix(said, want+"\n") {
		t.Errorf("the command says of what was saved: %d, %s%s; want %s", status, said, stderr, want)
	}

	// Printed: one page of A4 with answer, plot and readings, without the form.
	asCSS := true
	pdf, err := chromedp.Call(b.ctx, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: &asCSS})
	b.must(err)
	if pages := strings.Count(string(pdf.Data), "/Type /Page\n"); pages != 1 {
		t.Errorf("printed on %d pages; want 1", pages)
	}
	if os.Getenv("LIFTBENCH_SHOTS") != "" {
		b.save("measure.pdf", pdf.Data)
	}

	// Deleted: one, then all at the second tap, and nothing is kept.
	b.tap("#list li:nth-child(8) button")
	b.until("nine readings", `document.querySelectorAll("#list li").length === 9`)
	b.tap("#clear")
	b.until("the question", `document.getElementById("clear").textContent.includes("Press again") && document.querySelectorAll("#list li").length === 9`)
	b.tap("#clear")
	b.until("none", `document.querySelectorAll("#list li").length === 0`)
	b.again()
	if b.text(`document.querySelectorAll("#list li").length`) != "0" {
		t.Error("readings that were deleted come back")
	}
}

// browserMeasureStill: times at standstill by stopwatch and by frames, a speed as seconds over a length, and
// several sections of one pass, by touch; what is saved says the same to the command. In the language that
// the browser asks for.
func browserMeasureStill(t *testing.T, c *chromium) {
	file := filepath.Join(t.TempDir(), "measure.html")
	c.run(t, "tape", "--page", file)
	b := c.newTab(t, 360, 740)
	b.onAPhone()
	b.do(chromedp.Navigate("file://" + file))
	b.until("the page", `document.querySelector("#plot svg")`)
	choose := func(name, value string) {
		b.tap(`label:has(> input[name=` + name + `][value=` + value + `])`)
	}
	count := 0
	add := func() {
		b.tap("button.main")
		count++
		b.until("the reading", `document.querySelectorAll("#list li").length === `+fmt.Sprint(count))
		if wrong := b.text(`document.getElementById("wrong").textContent`); wrong != "" {
			b.Fatalf("reading %d: %s", count, wrong)
		}
	}
	b.tap("details:has(#section) > summary")
	choose("by", "seconds")
	for _, x := range []struct{ seconds, section, cm string }{{"27", "1", "16"}, {"", "2", "18,5"}, {"10,8", "1", "41"}, {"", "2", "39"}, {"26,5", "1", "15"}, {"", "2", "17"}} {
		if x.seconds == "" {
			choose("same", "same")
		} else {
			b.enter("#seconds", x.seconds)
		}
		b.enter("#section", x.section)
		b.enter("#late", x.cm)
		add()
	}
	choose("kind", "still")
	b.enter("#sections", "6")
	for _, x := range []struct{ event, sections, frames string }{{"moves", "1", "4"}, {"out", "1", "13"}, {"raised", "1", "59"}, {"out", "", "15"}, {"raised", "", "71"}} {
		choose("event", x.event)
		b.enter("#atonce", x.sections)
		choose("timer", "video")
		b.enter("#frames", x.frames)
		b.enter("#fps", "60")
		add()
	}
	choose("event", "in")
	choose("timer", "watch")
	b.enter("#time", "0,7")
	add()
	b.text(`(() => {
		navigator.canShare = () => true;
		navigator.share = async ({ files }) => { window.shared = await files[0].text(); };
		document.getElementById("share").hidden = false;
	})()`)
	b.tap("#share")
	b.until("it to be shared", `window.shared`)
	shared := b.text(`window.shared`)
	for lang, asked := range map[string]string{"en": "en-GB", "de": "de-CH,de", "fr": "fr-CA,fr,en"} {
		status, said, stderr := command(shared, "tape", "--sections", "6", "--lang", lang)
		if status != 0 {
			t.Fatalf("%s of %s", stderr, shared)
		}
		b.asksFor(asked)
		b.again()
		page := b.text(`document.getElementById("answer").innerText`)
		words := func(s string) string { return strings.Join(strings.Fields(s), " ") }
		for _, line := range strings.Split(said, "\n") {
			if strings.HasPrefix(line, "  - ") || line == "" { // sentences are broken where the terminal ends
				continue
			}
			if strings.Contains(line, "depth.working_cm") {
				break
			}
			if !strings.Contains(words(page), words(line)) {
				t.Errorf("%s: the command says %q, the page\n%s", lang, line, page)
			}
		}
		if got := b.text(`document.documentElement.lang`); got != lang {
			t.Errorf("the page is in %s; want %s", got, lang)
		}
		b.text(`document.querySelectorAll("details").forEach((e) => { e.open = true; })`)
		b.audit("measure in " + lang)
		if b.text(`document.documentElement.scrollWidth <= 360`) != "true" {
			t.Errorf("%s: something is cut off", lang)
		}
		choose("kind", "still")
		choose("timer", "video")
		b.audit("measure at standstill in " + lang)
		if b.text(`document.documentElement.scrollWidth <= 360`) != "true" {
			t.Errorf("%s at standstill: something is cut off", lang)
		}
		b.picture("measure-still-" + lang)
	}
}

// browserMeasureWithoutNetwork: the file computes in a browser that has no network at all, not even
// loopback.
func browserMeasureWithoutNetwork(t *testing.T, c *chromium) {
	chromiumPath, err := exec.LookPath("chromium")
	if err != nil {
		outside(t, "chromium (Debian chromium)")
	}
	if err := exec.Command("unshare", "--net", "true").Run(); err != nil {
		t.Skipf("this user may not make a network namespace: %v", err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "measure.html")
	c.run(t, "tape", "--page", file)
	ctx, stop := context.WithTimeout(t.Context(), browserPatience)
	defer stop()
	out, err := exec.CommandContext(ctx, "unshare", "--net", chromiumPath, "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+filepath.Join(dir, "profile"), "--dump-dom", "file://"+file).Output()
	if err != nil || !strings.Contains(string(out), "Next pass: at 4 km/h") || !strings.Contains(string(out), "<circle") && !strings.Contains(string(out), "speed, km/h</text>") {
		t.Errorf("%v; without a network the page is %.300s", err, out)
	}
}

// browserMeasureServed: the same through serve beyond loopback, let in by the token once.
func browserMeasureServed(t *testing.T, c *chromium) {
	serve := exec.Command(c.program, "serve", "--http", "0.0.0.0:0")
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
	address := ""
	lines := bufio.NewScanner(said)
	for address == "" && lines.Scan() {
		if strings.HasPrefix(lines.Text(), "http://") {
			address = lines.Text()
		}
	}
	if address == "" {
		t.Skip("this machine has no address but loopback")
	}
	b := c.newTab(t, 360, 740)
	b.onAPhone()
	b.mu.Lock()
	b.host = strings.Split(strings.TrimPrefix(address, "http://"), "/")[0]
	b.mu.Unlock()
	plain, _, _ := strings.Cut(address, "?")
	b.do(chromedp.Navigate(plain))
	b.until("who has no token to be refused", `document.body.innerText.includes("a token is needed")`)
	b.do(chromedp.Navigate(address))
	b.until("the page", `document.querySelector("#plot svg")`)
	if at := b.text(`location.href`); at != plain {
		t.Errorf("the address is %s; want %s, without the token", at, plain)
	}
	b.measure()
	if got := b.text(`document.querySelector("#answer .answer").textContent`); !strings.HasPrefix(got, "lift lead 310 → ") {
		t.Errorf("it says %q", got)
	}
	// The whole page knows the way to this room.
	b.do(chromedp.Navigate(strings.TrimSuffix(plain, "measure")))
	defer b.forgive("log: Failed to load resource: the server responded with a status of 401") // what was refused above
	defer b.forgive("log: The Cross-Origin-Opener-Policy header has been ignored")             // without encryption it is
	b.until("the link", `!document.getElementById("measure").hidden && document.querySelector("#measure a").href === "`+plain+`"`)
}

// browserMeasureFromElsewhere: a browser in another network namespace, as on another machine, reaches
// serve by the address that is printed, and nothing without its token.
func browserMeasureFromElsewhere(t *testing.T, c *chromium) {
	chromiumPath, err := exec.LookPath("chromium")
	if err != nil {
		outside(t, "chromium (Debian chromium)")
	}
	if _, err := exec.LookPath("ip"); err != nil {
		outside(t, "ip (Debian iproute2)")
	}
	name := fmt.Sprintf("lb%d", os.Getpid())
	ip := func(args ...string) error { return exec.Command("ip", args...).Run() }
	if err := ip("netns", "add", name); err != nil {
		t.Skipf("this user may not make a network namespace: %v", err)
	}
	t.Cleanup(func() { ip("netns", "del", name) }) // and with it both ends of the cable
	// Addresses for documentation (RFC 5737), so that they are nobody's.
	for _, args := range [][]string{
		{"link", "add", name + "a", "type", "veth", "peer", "name", name + "b", "netns", name},
		{"addr", "add", "198.51.100.1/30", "dev", name + "a"}, {"link", "set", name + "a", "up"},
		{"-n", name, "addr", "add", "198.51.100.2/30", "dev", name + "b"}, {"-n", name, "link", "set", name + "b", "up"},
	} {
		if err := ip(args...); err != nil {
			t.Skipf("ip %v: %v", args, err)
		}
	}
	serve := exec.Command(c.program, "serve", "--http", "198.51.100.1:0")
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
	lines := bufio.NewScanner(said)
	address := ""
	for !strings.HasPrefix(address, "http://198.51.100.1:") && lines.Scan() {
		address = lines.Text()
	}
	go io.Copy(io.Discard, said)
	plain, _, _ := strings.Cut(address, "?")
	ctx, stop := context.WithTimeout(t.Context(), 2*browserPatience)
	defer stop()
	for what, want := range map[string]string{address: "Next pass: at 4 km/h", plain: "a token is needed"} {
		out, err := exec.CommandContext(ctx, "ip", "netns", "exec", name, chromiumPath, "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+filepath.Join(t.TempDir(), "profile"), "--dump-dom", what).Output()
		if err != nil || !strings.Contains(string(out), want) {
			t.Errorf("%s from another namespace: %v, %.300s; want %q", what, err, out, want)
		}
	}
}
