//go:build linux

// The page for every user: by keyboard alone, by touch, without motion, on a
// narrow window, in the dark, and for who cannot see it.

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// press presses a key where the focus is.
func (b *tab) press(keys ...string) {
	b.Helper()
	for _, k := range keys {
		b.do(chromedp.KeyEvent(k))
	}
}

// tabTo presses Tab until the focus is on what a selector names.
func (b *tab) tabTo(selector string) {
	b.Helper()
	for range 250 {
		b.press(kb.Tab)
		if b.text(fmt.Sprintf(`document.activeElement.matches(%q)`, selector)) == "true" {
			return
		}
	}
	b.Fatalf("Tab does not reach %s", selector)
}

// browserKeyboard: Tab reaches everything that can be used, shows where it is,
// and a whole visit needs no pointer.
func browserKeyboard(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	still := b.numbers()
	b.text(`[...document.querySelectorAll("button, input, select, summary, a[href], [tabindex='0']")]
		.filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.disabled && !(e.type === "radio" && !e.checked))
		.forEach((e) => e.dataset.expected = "yes")`)
	for range 250 {
		b.press(kb.Tab)
		// Where the focus is can be seen, and lies in the window.
		said := b.text(`(() => {
			const e = document.activeElement;
			if (e === document.body) return "around";
			delete e.dataset.expected;
			const s = getComputedStyle(e), r = e.getBoundingClientRect();
			const name = e.id || e.getAttribute("aria-label") || e.textContent;
			if (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2) return name + " does not show that it has the focus";
			if (r.bottom < 0 || r.top > innerHeight || r.right < 0 || r.left > innerWidth) return name + " has the focus out of sight";
			return "";
		})()`)
		if said == "around" {
			break
		}
		if said != "" {
			t.Error(said)
		}
	}
	if left := b.text(`[...document.querySelectorAll("[data-expected]")].map((e) => e.outerHTML.slice(0, 120)).join("\n")`); left != "" {
		t.Errorf("Tab does not reach\n%s", left)
	}

	b.open(b.text(`location.origin + "/?"`))
	b.settled()
	b.tabTo(".skip")
	b.press(kb.Enter)
	b.until("the figures", `document.activeElement.id === "figures"`)
	b.open(b.text(`location.origin + "/"`))
	b.settled()
	b.tabTo("#lesson")
	b.press(kb.ArrowDown)
	b.until("the first lesson", `document.querySelector(".lesson-text p")`)
	slow := b.line("lift place mean")
	b.tabTo("#pin")
	b.press(" ")
	b.tabTo("#numbers")
	b.open(b.text(`location.href`))
	b.tabTo("#set-speed_kmh")
	for range 8 {
		b.press(kb.ArrowUp)
	}
	b.until("12 km/h", `document.getElementById("set-speed_kmh").value === "12"`)
	fast := b.line("lift place mean")
	for end := time.Now().Add(browserPatience); fast < 1.3*slow && time.Now().Before(end); fast = b.line("lift place mean") {
		time.Sleep(100 * time.Millisecond) // speeds between are drawn first
	}
	if fast < 1.3*slow {
		t.Errorf("12 km/h by the arrow keys: lifts %g cm late; at 8 km/h %g", fast, slow)
	}
	if row := b.text(`document.querySelectorAll('[data-line="lift place mean"] td').length`); row != "3" {
		t.Errorf("pinned by the space bar: %s columns", row)
	}
	scale := `document.querySelector("#plan svg g[transform^=matrix]").getAttribute("transform")`
	b.tabTo(".plan-stage")
	whole := b.text(scale)
	b.press("+", "+", kb.ArrowRight, kb.ArrowUp)
	b.until("the plan to be larger", fmt.Sprintf(`%s !== %q`, scale, whole))
	picked := b.text(`document.getElementById("crossing").value`)
	b.press(kb.Enter)
	b.until("another crossing", fmt.Sprintf(`document.getElementById("crossing").value !== %q`, picked))
	b.press("0")
	b.until("the whole field", fmt.Sprintf(`%s === %q`, scale, whole))
	b.tabTo("#instant")
	at := b.text(`document.querySelector(".strip-stage").getAttribute("aria-valuenow")`)
	b.press(kb.ArrowRight)
	b.until("the instant to move", fmt.Sprintf(`document.querySelector(".strip-stage").getAttribute("aria-valuenow") !== %q`, at))
	b.tabTo("#crossing-figure summary")
	b.press(kb.Enter)
	b.until("the numbers of the close-up", `document.querySelector("#crossing-figure tbody tr")`)
	b.tabTo(".strip-stage")
	b.press(kb.End)
	b.until("the drive's end", `document.querySelector(".strip-stage").getAttribute("aria-valuenow") === document.querySelector(".strip-stage").getAttribute("aria-valuemax")`)
	b.press(kb.Home)
	b.until("the drive's start", `document.querySelector(".strip-stage").getAttribute("aria-valuenow") === "0.00"`)
	b.open(b.text(`location.origin + "/?"`))
	b.settled()
	b.tabTo("#reset")
	b.press(kb.Enter)
	if b.numbers() != still {
		t.Error("after a whole visit and all to default: other numbers than at first")
	}
}

// touch sends a touch with fingers at these places; none = all are lifted.
func (b *tab) touch(kind input.DispatchTouchEventType, at ...[2]float64) {
	b.Helper()
	p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
	for i, xy := range at {
		id := float64(i)
		p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: xy[0], Y: xy[1], ID: &id})
	}
	b.must(called(chromedp.Call(b.ctx, input.DispatchTouchEvent, p)))
}

// browserTouch: two fingers enlarge the plan, one scrolls the page over it
// upwards and moves the plan sideways, a tap picks a crossing.
func browserTouch(t *testing.T, c *chromium) {
	b := c.newTab(t, 360, 740)
	b.must(called(chromedp.Call(b.ctx, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true, MaxTouchPoints: 2})))
	b.do(chromedp.EmulateViewport(360, 740, chromedp.EmulateMobile, chromedp.EmulateTouch))
	b.open(c.address)
	b.settled()
	b.do(chromedp.ScrollIntoView(chromedp.CSS(".plan-stage")))
	b.text(`document.querySelector(".plan-stage").scrollIntoView({block: "start"})`)
	middle := func() (x, y float64) {
		fmt.Sscan(b.text(`(() => { const r = document.querySelector(".plan-stage").getBoundingClientRect(); return r.x + r.width / 2 + " " + (r.y + 130); })()`), &x, &y)
		return x, y
	}
	matrix := regexp.MustCompile(`matrix\(([-\d.]+) 0 0 [-\d.]+ ([-\d.]+)`)
	plan := func() (pxPerM, leftPx float64) {
		b.settled()
		m := matrix.FindStringSubmatch(b.text(`document.querySelector("#plan svg g[transform^=matrix]").getAttribute("transform")`))
		fmt.Sscan(m[1]+" "+m[2], &pxPerM, &leftPx)
		return pxPerM, leftPx
	}
	x, y := middle()
	before, _ := plan()
	b.touch(input.DispatchTouchEventTypeTouchStart, [2]float64{x - 20, y}, [2]float64{x + 20, y})
	for d := 24.0; d <= 60; d += 4 {
		b.touch(input.DispatchTouchEventTypeTouchMove, [2]float64{x - d, y}, [2]float64{x + d, y})
	}
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	after, left := plan()
	if r := after / before; r < 2.5 || r > 3.5 {
		t.Errorf("fingers three times as far apart make the plan %.2f times as large", r)
	}
	if scale := b.text(`visualViewport.scale`); scale != "1" {
		t.Errorf("the page too is enlarged, %s times", scale)
	}
	swipe := func(dx, dy float64) {
		b.touch(input.DispatchTouchEventTypeTouchStart, [2]float64{x, y})
		for i := 1.0; i <= 10; i++ {
			b.touch(input.DispatchTouchEventTypeTouchMove, [2]float64{x + dx*i/10, y + dy*i/10})
		}
		b.touch(input.DispatchTouchEventTypeTouchEnd)
	}
	swipe(80, 0)
	if _, moved := plan(); moved < left+40 {
		t.Errorf("a finger that moves 80 px to the right moves the plan by %.0f px", moved-left)
	}
	from := b.text(`scrollY`)
	swipe(0, -100)
	b.until("the page to scroll", `scrollY > 40 + `+from)
	b.do(chromedp.Click(chromedp.CSS(`button[aria-label="Show the whole field"]`)))
	b.choose("crossing", "3")
	// A swiped page rolls on for a while, and what is drawn late moves the plan:
	// the tap goes to where the crossing is by then.
	top := func() (y float64) {
		b.text(`document.querySelector(".plan-stage").scrollIntoView({block: "start", behavior: "instant"})`)
		still := b.text(`new Promise((done) => {
			const top = () => document.querySelector(".plan-stage").getBoundingClientRect().top;
			const look = (was) => setTimeout(() => top() === was ? done(String(was)) : look(top()), 150);
			look(top());
		})`)
		fmt.Sscan(still, &y)
		return y
	}
	was := top()
	cx, cy, _ := b.chosen()
	third := b.text(`document.querySelector("#crossing-figure .note").textContent`)
	b.choose("crossing", "9")
	b.until("another close-up", fmt.Sprintf(`document.querySelector("#crossing-figure .note").textContent !== %q`, third))
	b.settled()
	cy += top() - was
	b.touch(input.DispatchTouchEventTypeTouchStart, [2]float64{cx, cy})
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.until("the crossing that was tapped", `document.getElementById("crossing").value === "3"`)
}

// browserMotion: who wants no motion gets none.
func browserMotion(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	b.settled()
	plays := `[...document.querySelectorAll(".player button")].some((e) => e.textContent.startsWith("Play") && e.checkVisibility())`
	if b.text(plays) != "true" {
		t.Error("nothing plays where motion is welcome")
	}
	b.do(chromedp.Click(chromedp.JSPath(`[...document.querySelectorAll(".player button")].find((e) => e.textContent.startsWith("Play"))`)))
	b.emulate("prefers-reduced-motion", "reduce")
	b.until("the play to be gone", `!(`+plays+`)`)
	at := `document.querySelector(".strip-stage").getAttribute("aria-valuenow")`
	first := b.text(at)
	b.text(`new Promise((done) => setTimeout(done, 300))`)
	if again := b.text(at); again != first {
		t.Errorf("the cursor goes on from %s to %s", first, again)
	}
	if moving := b.text(`[...document.querySelectorAll("*")].filter((e) => { const s = getComputedStyle(e); return s.transitionDuration !== "0s" || s.animationName !== "none" || s.scrollBehavior === "smooth"; }).length`); moving != "0" {
		t.Errorf("%s elements still move", moving)
	}
}

// Roles that a user acts on or is told of by name.
var namedRoles = []string{"button", "link", "textbox", "spinbutton", "slider", "combobox", "checkbox", "radio", "image", "img", "region", "group", "figure", "form", "DisclosureTriangle"}

// audit looks for what hinders people: by the rules of audit.js, and by the
// names that the browser itself computes for assistive programs.
func (b *tab) audit(where string) {
	b.Helper()
	rules, err := os.ReadFile("web/pagetest/audit.js")
	b.must(err)
	b.until("the colours to settle", `document.getAnimations().length === 0`)
	if faults := b.text(strings.TrimSpace(string(rules))); faults != "" {
		b.Errorf("%s:\n%s", where, faults)
	}
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	b.must(err)
	text := func(v *accessibility.Value) string {
		if v == nil {
			return ""
		}
		return strings.Trim(string(v.Value), `"`)
	}
	landmarks, named := map[string]int{}, 0
	for _, n := range tree.Nodes {
		role, name := text(n.Role), strings.TrimSpace(text(n.Name))
		if n.Ignored {
			continue
		}
		if slices.Contains(namedRoles, role) {
			named++
			if name == "" && role != "group" {
				b.Errorf("%s: a %s has no name (%s)", where, role, text(n.Description))
			}
		}
		if role == "region" || role == "form" {
			if landmarks[role+" "+name]++; landmarks[role+" "+name] == 2 {
				b.Errorf("%s: two %ss are called %q", where, role, name)
			}
		}
		landmarks[role]++
	}
	if landmarks["banner"] != 1 || landmarks["main"] != 1 || landmarks["contentinfo"] != 1 || named == 0 {
		b.Errorf("%s: %d banners, %d mains, %d contentinfos, %d named", where, landmarks["banner"], landmarks["main"], landmarks["contentinfo"], named)
	}
}

// opened opens all that can be opened, and shows as much as the page can.
func (b *tab) opened() {
	b.Helper()
	b.set("lesson=late-lift&lift_lead_ms=0&pinned=v%3D1")
	b.text(`document.querySelectorAll("details").forEach((e) => { e.open = true; })`)
	b.settled()
}

// browserNarrow: at 360 px, and at 200 % zoom, nothing is cut off or hidden,
// and all that hinders is absent too.
func browserNarrow(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 360, 740)
	b.settled()
	b.picture("360px")
	b.opened()
	b.audit("360 px")
	b.do(chromedp.EmulateViewport(640, 450, chromedp.EmulateScale(2)))
	b.settled()
	b.audit("200 %")
	b.text(`document.querySelectorAll("details").forEach((e) => { e.open = false; })`)
	b.picture("zoom")
}

// fontFamilies are sans-serifs of which a machine may have one alone, from wide
// to narrow, by their Debian package.
var fontFamilies = []struct{ name, debian string }{
	{"DejaVu Sans", "fonts-dejavu-core"},
	{"Liberation Sans", "fonts-liberation"},
	{"Roboto Condensed", "fonts-roboto-unhinted"},
}

// inEveryFont runs test once for each family, in which the page is then set as
// on a machine that has no other.
func (b *tab) inEveryFont(test func(family string)) {
	b.Helper()
	for _, f := range fontFamilies {
		if out, err := exec.Command("fc-list", f.name, "family").Output(); err != nil || len(out) == 0 {
			if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
				b.Errorf("missing: %s (Debian %s)", f.name, f.debian)
			}
			b.Logf("not seen in %s: Debian %s is missing", f.name, f.debian)
			continue
		}
		// The page's security policy allows no style element.
		b.text(fmt.Sprintf(`(() => {
			const sheet = new CSSStyleSheet();
			sheet.replaceSync('*:not(pre, code) { font-family: "%s" !important }');
			document.adoptedStyleSheets = [sheet];
		})()`, f.name))
		test(f.name)
	}
	b.text(`document.adoptedStyleSheets = []`)
}

// browserFonts: the page holds its text in any sans-serif, wide or narrow.
func browserFonts(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	b.settled()
	b.opened()
	for _, width := range []int{1280, 360} {
		b.size(width, 900)
		b.settled()
		b.inEveryFont(func(family string) { b.audit(fmt.Sprintf("%d px, %s", width, family)) })
	}
}

// browserAccessible: the audit finds nothing, light or dark, whatever is open.
func browserAccessible(t *testing.T, c *chromium) {
	noStates, err := filepath.Abs("settings/demo/machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b := c.openTab(t, c.address, 1280, 900)
	b.settled()
	for _, scheme := range []string{"light", "dark"} {
		b.emulate("prefers-color-scheme", scheme)
		b.set("")
		b.text(`document.querySelectorAll("details.numbers-of").forEach((e) => { e.open = false; })`)
		b.settled()
		b.picture(scheme)
		b.audit(scheme)
		b.opened()
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#own-states"), []string{noStates}))
		b.until("a fault", `document.getElementById("own-states-fault").innerText`)
		b.audit(scheme + ", all open")
		b.do(chromedp.Click(chromedp.CSS("#own-files button")))
		b.settled()
	}
}

// browserReport: report.html and diagnosis.html, in each language, stand alone, hinder
// nobody and print on A4.
func browserReport(t *testing.T, c *chromium) {
	dir := t.TempDir()
	c.run(t, "diagnose", "--write-demo", dir)
	c.run(t, "diagnose", "--out", dir, filepath.Join(dir, "day.yaml"))
	c.run(t, "run", "--out", dir)
	for _, lang := range []string{"de", "fr"} {
		c.run(t, "run", "--lang", lang, "--out", filepath.Join(dir, lang))
		c.run(t, "diagnose", "--lang", lang, "--out", filepath.Join(dir, lang), filepath.Join(dir, "day.yaml"))
	}
	b := c.newTab(t, 1000, 900)
	for _, name := range []string{"report", "diagnosis", "de/report", "fr/report", "de/diagnosis", "fr/diagnosis"} {
		file := strings.ReplaceAll(name, "/", "-") // of the pictures
		b.size(1000, 900)
		b.do(chromedp.Navigate("file://" + filepath.Join(dir, name+".html")))
		for _, scheme := range []string{"light", "dark"} {
			b.emulate("prefers-color-scheme", scheme)
			b.audit(name + ", " + scheme)
			b.picture(file + "-" + scheme)
		}
		b.inEveryFont(func(family string) { b.audit(name + ", " + family) })
		b.size(360, 740)
		b.audit(name + ", 360 px")
		b.inEveryFont(func(family string) { b.audit(name + ", 360 px, " + family) })
		b.picture(file + "-360px")
		b.emulate("prefers-color-scheme", "light")
		pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
		b.must(err)
		pages := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1))
		a4 := regexp.MustCompile(`/MediaBox \[0 0 59[45][.\d]* 84[12][.\d]*\]`).Match(pdf)
		if !a4 || pages < 1 || pages > 6 {
			t.Errorf("%s prints on %d pages, of A4: %v", name, pages, a4)
		}
		if os.Getenv("LIFTBENCH_SHOTS") != "" {
			b.save(file+".pdf", pdf)
		}
	}
}

// browserFirstPaint: the page's weight, and, printed, the time until it is seen
// and until a change is drawn.
func browserFirstPaint(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	b.settled()
	var files, sent, unpacked int
	fmt.Sscan(b.text(`(() => {
		const list = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].filter((e) => !e.name.includes("/api/"));
		const sum = (name) => list.reduce((s, e) => s + e[name], 0);
		return list.length + " " + sum("transferSize") + " " + sum("decodedBodySize");
	})()`), &files, &sent, &unpacked)
	const most = 300_000
	if files < 10 || sent > most || unpacked > most || sent < 10_000 {
		t.Errorf("the page is %d files of %d bytes, %d as sent; want at most %d", files, unpacked, sent, most)
	}
	t.Logf("the page: %d files, %d bytes, %d as sent", files, unpacked, sent)
	t.Logf("first paint after %s ms, first contents after %s ms", b.text(`performance.getEntriesByName("first-paint")[0].startTime.toFixed(0)`),
		b.text(`performance.getEntriesByName("first-contentful-paint")[0].startTime.toFixed(0)`))
	t.Logf("from a slider's input to the result drawn, ms, least, median and most of 21: %s", b.text(`(async () => {
		const slider = document.querySelector('[data-key="speed_kmh"] input[type=range]');
		const times = [];
		for (let i = 0; i < 21; i++) {
			const start = performance.now();
			slider.value = 6 + (i % 9) / 2;
			slider.dispatchEvent(new Event("input", {bubbles: true}));
			await new Promise((done) => {
				const seen = new MutationObserver(() => {
					seen.disconnect();
					requestAnimationFrame(() => setTimeout(done)); // after the frame that draws it
				});
				seen.observe(document.getElementById("numbers"), {childList: true});
			});
			times.push(performance.now() - start);
		}
		times.sort((a, b) => a - b);
		return [times[0], times[10], times[20]].map((x) => x.toFixed(0)).join(", ");
	})()`))
}
