//go:build linux

// What the page is for, in the browser: each control and each lesson changes
// the number that it is about; crossings are picked, settings pinned, linked
// and exported.

package main

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"

	"liftbench/cmd/liftbench/page"
)

// A figure of the result gets larger, smaller, or is merely another one.
const larger, smaller, another = +1, -1, 0

// turnCase is a control, what it is turned to, and the figure that it is about.
type turnCase struct {
	key, value string
	with       string // the setting before: where what is turned would not show at the default
	line       string
	way        int
	least      float64 // change, in the figure's unit
}

// browserControls: every control changes the number that it is about, the
// right way.
func browserControls(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	fresh := b.numbers()
	b.picture("page")
	cases := []turnCase{
		{"speed_kmh", "14", "lift_lead_ms=0", "lift place mean", larger, 10},
		{"lift_lead_ms", "0", "", "lift time mean", larger, 0.1},
		{"drop_lead_ms", "300", "", "drop time mean", larger, 0.2},
		{"flow_aware", "false", "pump_l_min=15&headland_deg=0", "lift time mean", larger, 0.05},
		{"valve_dead_ms", "260", "lift_lead_ms=135", "lift time mean", larger, 0.15},
		{"oil_c", "0", "drop_lead_ms=730", "drop time mean", larger, 0.2},
		{"pump_l_min", "8", "lift_lead_ms=135&headland_deg=0", "lift time mean", larger, 0.1},
		{"rate_hz", "1", "noise_cm=4", "drop place worst", larger, 2},
		{"latency_ms", "400", "", "lift time mean", larger, 0.25},
		{"latency_told_ms", "400", "", "lift time mean", smaller, 0.25},
		{"noise_cm", "10", "", "lift place p95", larger, 2},
		{"tool_m", "8", "noise_cm=5", "lift place worst", another, 0.1},
		{"antenna_wrong_cm", "30", "", "lift place mean", larger, 25},
		{"headland_deg", "40", "", "overrun", larger, 2},
		{"section_m", "6", "", "miss", larger, 10},
		{"edge_rule", "crop-first", "", "overrun", smaller, 1},
		{"work_headland", "true", "", "worked", larger, 1000},
		{"seed", "7", "", "lift place worst", another, 0.1},
	}
	for _, k := range cases {
		b.set(k.with)
		before := b.line(k.line)
		b.turn(k.key, k.value)
		after := b.line(k.line)
		change := (after - before) * float64(k.way)
		if k.way == another {
			change = math.Abs(after - before)
		}
		if !(change >= k.least) {
			t.Errorf("%s = %s, with %q: %s goes from %g to %g; want %g more or less at least, the way %+d", k.key, k.value, k.with, k.line, before, after, k.least, k.way)
		}
		if link := b.text(`location.href`); !strings.Contains(link, k.key+"="+k.value) {
			t.Errorf("%s = %s: the address is %s", k.key, k.value, link)
		}
	}
	for _, control := range page.Controls() {
		if key := control.Key; !slices.ContainsFunc(cases, func(k turnCase) bool { return k.key == key }) {
			t.Errorf("%s is not turned here", key)
		}
	}
	b.do(chromedp.Click(chromedp.CSS("#reset")))
	if b.numbers() != fresh {
		t.Error("all to default: the numbers are not those of the fresh page")
	}
}

// browserLessons: each lesson opens where it says, and what it says to turn
// shows in the number that it says to watch.
func browserLessons(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	near := func(what string, got, want, within float64) {
		t.Helper()
		if !(math.Abs(got-want) <= within) {
			t.Errorf("%s: %g; want %g within %g", what, got, want, within)
		}
	}
	// slope and height at standstill of the line in the figure, ms and cm
	line := func(move int) (slopeMs, heightCm float64) {
		b.until("five speeds", `document.querySelector("#speed .note").textContent.startsWith("The same setting driven at five speeds")`)
		b.settled()
		said := b.text(fmt.Sprintf(`[...document.querySelectorAll("#speed text")].map((e) => e.textContent).filter((s) => s.startsWith("e = "))[%d]`, move))
		if _, err := fmt.Sscanf(strings.ReplaceAll(said, "\u2212", "-"), "e = %f cm + v · %f ms", &heightCm, &slopeMs); err != nil {
			t.Fatalf("the line says %q", said)
		}
		return slopeMs, heightCm
	}
	show := map[string]func(){
		"late-lift": func() {
			cm, s := b.line("lift place mean"), b.line("lift time mean")
			b.turn("speed_kmh", "16")
			near("centimetres at twice the speed", b.line("lift place mean")/cm, 2, 0.1)
			near("seconds at twice the speed", b.line("lift time mean")/s, 1, 0.1)
			b.turn("lift_lead_ms", "auto")
			near("centimetres, lead on auto", b.line("lift place mean"), 0, 6)
		},
		"time-or-distance": func() {
			ms, cm := line(0)
			near("slope to begin with", ms, 150, 25)
			near("height to begin with", cm, 20, 5)
			b.turn("latency_told_ms", "250")
			ms, _ = line(0)
			near("slope, latency told right", ms, 0, 25)
			b.turn("antenna_wrong_cm", "0")
			_, cm = line(0)
			near("height, antenna right", cm, 0, 5)
		},
		"one-or-twelve": func() {
			twelve := b.line("overrun") + b.line("miss")
			b.turn("section_m", "3")
			near("area with half the width", (b.line("overrun")+b.line("miss"))/twelve, 0.5, 0.1)
		},
		"whole-bar": func() {
			s := b.line("lift time mean")
			b.turn("pump_l_min", "8")
			if got := b.line("lift time mean"); got < 1.3*s {
				t.Errorf("lifts %g s late with half the oil, %g s before", got, s)
			}
			b.turn("flow_aware", "true")
			near("seconds, sections counted", b.line("lift time mean"), 0, 0.03)
		},
		"cold-morning": func() {
			cold, lift, miss := b.line("drop time mean"), b.line("lift time mean"), b.line("miss")
			b.turn("oil_c", "45")
			if got := b.line("drop time mean"); got > cold-0.3 {
				t.Errorf("drops %g s late with warm oil, %g s with cold", got, cold)
			}
			near("lifts, warm against cold", b.line("lift time mean"), lift, 0.03)
			if got := b.line("miss"); got > miss/2 {
				t.Errorf("%g m² missed with warm oil, %g with cold", got, miss)
			}
		},
		"one-or-ten-hertz": func() {
			worst := b.line("drop place worst")
			b.turn("rate_hz", "10")
			if got := b.line("drop place worst"); got > worst/2 {
				t.Errorf("worst %g cm at 10 Hz, %g at 1 Hz", got, worst)
			}
		},
		"antenna-30": func() {
			near("lifts", b.line("lift place mean"), 30, 4)
			near("drops", b.line("drop place mean"), 30, 4)
			b.turn("speed_kmh", "14")
			near("lifts, faster", b.line("lift place mean"), 30, 4)
			b.turn("antenna_wrong_cm", "0")
			near("lifts, measured again", b.line("lift place mean"), 0, 4)
		},
		"headland-rows": func() {
			worked := b.line("worked")
			b.turn("work_headland", "true")
			if got := b.line("worked"); got < worked+1000 {
				t.Errorf("%g m² worked with the headland's rows, %g m² without", got, worked)
			}
			near("m² across the rows", b.line("across rows"), 0, 0.002*b.line("worked"))
		},
	}
	for i := range page.Lessons {
		l := &page.Lessons[i]
		b.choose("lesson", l.Key)
		if got, want := b.text(`document.querySelector(".lesson-text p").textContent`), strings.Join(l.Text[:], " "); got != want {
			t.Errorf("%s: the page says %q", l.Key, got)
		}
		if got, want := b.text(`[...document.querySelectorAll("#turn .knob")].map((e) => e.dataset.key).join(" ")`), strings.Join(l.Turn, " "); got != want {
			t.Errorf("%s: to be turned are %s; want %s", l.Key, got, want)
		}
		if marked := b.text(`document.querySelectorAll(".watched").length`); (marked == "0") != (l.Watch == "fit") {
			t.Errorf("%s: %s lines of the result are marked to be watched", l.Key, marked)
		}
		// What is looked at is a crossing of the kind that is to be watched.
		if title := b.text(`document.getElementById("crossing").selectedOptions[0].textContent`); strings.HasPrefix(l.Watch, "drop") != strings.Contains(title, "drop") {
			t.Errorf("%s: to be watched is %s; the close-up shows %q", l.Key, l.Watch, title)
		}
		if l.Watch == "fit" {
			line(0) // so that the picture shows it
		}
		b.picture("lesson-" + l.Key)
		b.audit(l.Key)
		if show[l.Key] == nil {
			t.Errorf("%s is not tried here", l.Key)
			continue
		}
		show[l.Key]()
	}
}

// chosen says where on the plan the picked crossing is, in pixels of the
// window, and which it is in the list.
func (b *tab) chosen() (x, y float64, index string) {
	b.Helper()
	b.settled()
	said := b.text(`(() => {
		const r = document.querySelector("#plan circle[r='12']").getBoundingClientRect();
		return r.x + r.width / 2 + " " + (r.y + r.height / 2) + " " + document.getElementById("crossing").value;
	})()`)
	if _, err := fmt.Sscan(said, &x, &y, &index); err != nil {
		b.Fatal(said, err)
	}
	return x, y, index
}

// browserCrossings: a click on the plan picks a crossing; close-up, strip chart
// and list go with it, and the close-up plays.
func browserCrossings(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	b.choose("crossing", "3")
	x, y, _ := b.chosen()
	third := b.text(`document.querySelector("#crossing-figure .note").textContent`)
	b.choose("crossing", "8")
	b.until("another close-up", fmt.Sprintf(`document.querySelector("#crossing-figure .note").textContent !== %q`, third))
	b.settled() // what is drawn late would move the plan from under the click
	b.do(chromedp.MouseClickXY(x, y))
	b.until("the crossing that was clicked", fmt.Sprintf(`document.getElementById("crossing").value === "3" && document.querySelector("#crossing-figure .note").textContent === %q`, third))
	b.settled()
	// The largest error of the close-up is the one in the list.
	b.do(chromedp.Click(chromedp.CSS("#crossing-figure summary")))
	b.until("the numbers", `document.querySelector("#crossing-figure tbody tr")`)
	worst := b.text(`(() => {
		const cells = [...document.querySelectorAll("#crossing-figure tbody tr")].map((r) => Number(r.lastElementChild.textContent));
		return cells.length + " " + Math.max(...cells.map(Math.abs)).toFixed(1);
	})()`)
	var n int
	var cm float64
	if _, err := fmt.Sscan(worst, &n, &cm); err != nil || n != 6 {
		t.Fatalf("%q of six sections, %v", worst, err)
	}
	if title := b.text(`document.getElementById("crossing").selectedOptions[0].textContent`); !strings.Contains(title, fmt.Sprintf("worst %.1f", cm)) {
		t.Errorf("the close-up's worst is %g cm; the list says %q", cm, title)
	}
	cursor := `Number(document.querySelector(".strip-stage").getAttribute("aria-valuenow"))`
	at := b.text(cursor)
	b.do(chromedp.Click(chromedp.CSS(`button[aria-label^="+0.1 s"]`)))
	b.until("a step of 0.1 s", fmt.Sprintf(`Math.abs(%s - %s - 0.1) < 0.011`, cursor, at))
	at = b.text(cursor)
	b.do(chromedp.Click(chromedp.JSPath(`[...document.querySelectorAll(".player button")].find((e) => e.textContent.startsWith("Play"))`)))
	b.until("the play to go on", fmt.Sprintf(`%s > %s + 0.03`, cursor, at))
	b.do(chromedp.Click(chromedp.JSPath(`[...document.querySelectorAll(".player button")].find((e) => e.textContent === "Stop" || e.textContent.startsWith("Play"))`)))
	b.do(chromedp.Click(chromedp.CSS(`button[aria-label="Show the picked crossing"]`)))
	b.settled()
	b.picture("crossing")
	for _, by := range []struct{ button, want string }{{"Crossing after", "4"}, {"Crossing before", "3"}} {
		b.do(chromedp.Click(chromedp.CSS(`button[aria-label="` + by.button + `"]`)))
		if _, _, got := b.chosen(); got != by.want {
			t.Errorf("%s: %s; want %s", by.button, got, by.want)
		}
	}
	// One cursor: a click on the strip chart moves it everywhere.
	b.do(chromedp.Click(chromedp.CSS(`button[aria-label^="All:"]`)), chromedp.ScrollIntoView(chromedp.CSS(".strip-stage")))
	b.settled()
	var sx, sy float64
	fmt.Sscan(b.text(`(() => { const r = document.querySelector(".strip-stage").getBoundingClientRect(); return r.x + r.width * 0.7 + " " + (r.y + 60); })()`), &sx, &sy)
	b.do(chromedp.MouseClickXY(sx, sy))
	b.until("the crossing nearest to the cursor", `Number(document.getElementById("crossing").value) > 5`)
	b.until("its close-up", `document.querySelector("#crossing-figure .note").textContent !== `+fmt.Sprintf("%q", third))
}

// browserPinned: a setting that is pinned stays beside the one that is turned,
// with the difference.
func browserPinned(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	b.set("lift_lead_ms=0")
	slow := b.line("lift place mean")
	b.do(chromedp.Click(chromedp.CSS("#pin")))
	b.turn("speed_kmh", "14")
	fast := b.line("lift place mean")
	row := b.text(`[...document.querySelectorAll('[data-line="lift place mean"] td')].map((e) => e.textContent).join(" ")`)
	if want := fmt.Sprintf("+%.1f +%.1f +%.1f", fast, slow, fast-slow); row != want {
		t.Errorf("the line says %q; want %q", row, want)
	}
	b.picture("pinned")
	pinned := b.text(`location.href`)
	b.do(chromedp.Click(chromedp.CSS("#swap")))
	if got := b.line("lift place mean"); got != slow {
		t.Errorf("exchanged: %g cm; want %g", got, slow)
	}
	b.do(chromedp.Navigate("about:blank"))
	b.open(pinned)
	b.until("what was pinned", `document.querySelectorAll('[data-line="lift place mean"] td').length === 3`)
	if got := b.text(`[...document.querySelectorAll('[data-line="lift place mean"] td')].map((e) => e.textContent).join(" ")`); got != row {
		t.Errorf("the address of a pinned setting shows %q; want %q", got, row)
	}
	b.do(chromedp.Click(chromedp.CSS("#unpin")))
	b.until("one column", `document.querySelectorAll('[data-line="lift place mean"] td').length === 1`)
}

// browserRefused: what the page itself does not take stays named beside its field, whatever answers of the server come
// in after it, until something else is given there.
func browserRefused(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	enter := func(key, text string) {
		b.text(fmt.Sprintf(`(() => { const f = document.getElementById("set-%s"); f.value = %q; f.dispatchEvent(new Event("input", { bubbles: true })); })()`, key, text))
	}
	speed := `document.getElementById("set-speed_kmh-fault")`
	enter("speed_kmh", "55")
	was := b.numbers()
	b.turn("lift_lead_ms", "0")
	if b.numbers() == was {
		t.Fatal("the other setting changed nothing")
	}
	if said := b.text(speed + `.innerText`); !strings.Contains(said, "Found “55”; expected a number from") {
		t.Errorf("after another answer the field of 55 km/h says %q", said)
	}
	b.picture("refused")
	enter("speed_kmh", "9")
	b.settled()
	if said := b.text(speed + `.innerText`); said != "" {
		t.Errorf("after 9 km/h it still says %q", said)
	}
	large := `document.getElementById("own-machine-fault")`
	b.text(`(() => {
		const files = new DataTransfer(), field = document.getElementById("own-machine");
		files.items.add(new File([new Uint8Array(3 << 20)], "large.yaml"));
		field.files = files.files;
		field.dispatchEvent(new Event("change"));
	})()`)
	b.settled()
	b.turn("lift_lead_ms", "100")
	if said := b.text(large + `.innerText`); !strings.Contains(said, "large.yaml holds 3 MiB; expected at most") {
		t.Errorf("after another answer the upload says %q", said)
	}
}

// browserDragged: a slider that is dragged shows what is on its way, and ends with what it was left at.
func browserDragged(t *testing.T, c *chromium) {
	b := c.openTab(t, c.serve(t, nil), 1280, 900)
	b.text(`(() => {
		window.shown = new Set();
		new MutationObserver(() => window.shown.add(document.getElementById("numbers").innerText)).observe(document.getElementById("numbers"), { childList: true, subtree: true, characterData: true });
		const slider = document.querySelector('[data-key="speed_kmh"] input[type=range]');
		window.inputs = 0;
		const drag = () => {
			slider.value = String(4 + (window.inputs % 20) * 0.5);
			slider.dispatchEvent(new Event("input", { bubbles: true }));
			if (++window.inputs < 140) setTimeout(drag, 16);
			else window.over = window.shown.size;
		};
		drag();
	})()`)
	b.until("the end of the drag", `window.over !== undefined`)
	b.settled()
	during, err := strconv.Atoi(b.text(`String(window.over)`))
	b.must(err)
	t.Logf("140 inputs, %d different results on the way", during)
	if during < 5 {
		t.Errorf("of 140 inputs 16 ms apart %d results were shown on the way; expected them to go on", during)
	}
	dragged := b.numbers()
	b.set("speed_kmh=13.5")
	if set := b.numbers(); set != dragged {
		t.Errorf("left at 13.5 km/h it shows\n%s\nwhere the setting has\n%s", dragged, set)
	}
}

// browserLink: an address opens the setting it holds; back goes back.
func browserLink(t *testing.T, c *chromium) {
	b := c.openTab(t, c.address, 1280, 900)
	slow := b.numbers()
	b.turn("speed_kmh", "13")
	fast := b.numbers()
	link := b.text(`location.href`)
	b.do(chromedp.NavigateBack())
	b.until("the slow drive", `document.getElementById("set-speed_kmh").value === "8"`)
	if b.numbers() != slow {
		t.Error("back does not lead back to the numbers before")
	}
	b.do(chromedp.Navigate("about:blank"))
	b.open(link)
	if got := b.numbers(); got != fast || got == slow {
		t.Errorf("%s shows other numbers than those it was taken from", link)
	}
	if v := b.text(`document.getElementById("set-speed_kmh").value`); v != "13" {
		t.Errorf("the speed is %s", v)
	}
	b.set("speed_kmh=99&colour=red")
	if said := b.text(`document.getElementById("trouble").innerText`); !strings.Contains(said, "speed_kmh, colour") {
		t.Errorf("a link with a speed of 99 km/h and a colour: %q", said)
	}
}

// download clicks what saves a file, and returns the file.
func (b *tab) download(dir, name, button string) []byte {
	b.Helper()
	b.do(chromedp.Click(chromedp.JSPath(button)))
	for end := time.Now().Add(browserPatience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if data, err := os.ReadFile(filepath.Join(dir, name)); err == nil && len(data) > 0 {
			if left, _ := filepath.Glob(filepath.Join(dir, "*.crdownload")); len(left) == 0 {
				return data
			}
		}
	}
	b.Fatalf("%s is not saved", name)
	return nil
}

// browserExport: what the page saves is what run computes from the setting that
// the page saves; figures come as SVG, PNG and CSV.
func browserExport(t *testing.T, c *chromium) {
	dir := t.TempDir()
	// A browser asks its user before it saves an eleventh file from one page, so
	// the figures are saved from a page of their own.
	open := func() *tab {
		b := c.openTab(t, c.address, 1280, 900)
		_, err := chromedp.CallBrowser(b.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
			Behavior: browser.SetDownloadBehaviorBehaviorAllow, BrowserContextID: chromedp.FromContext(b.ctx).BrowserContextID, DownloadPath: dir})
		b.must(err)
		b.set("speed_kmh=11&lift_lead_ms=90&headland_deg=-15&edge_rule=weed-first")
		return b
	}
	b := open()
	file := func(name string) []byte {
		return b.download(dir, "liftbench-"+name, `document.getElementById("save-`+name+`")`)
	}
	b.must(os.WriteFile(filepath.Join(dir, "setting.yaml"), file("setting.yaml"), 0o644))
	c.run(t, "run", "--out", filepath.Join(dir, "out"), filepath.Join(dir, "setting.yaml"))
	for _, name := range []string{"events.csv", "summary.json", "ground.geojson"} {
		want, err := os.ReadFile(filepath.Join(dir, "out", name))
		b.must(err)
		if !bytes.Equal(file(name), want) {
			t.Errorf("%s of the page and of run differ", name)
		}
	}
	if report := file("report.html"); !bytes.Contains(report, []byte("<svg")) {
		t.Error("the report has no figures")
	}

	b = open()
	figure := func(name, kind string) []byte {
		return b.download(dir, "liftbench-"+name+"."+kind, `document.querySelector('[aria-labelledby="`+name+`-title"] [aria-label$=" as `+strings.ToUpper(kind)+`"]')`)
	}
	for _, name := range []string{"plan", "crossing", "strip", "speed"} {
		if svg := figure(name, "svg"); !bytes.Contains(svg, []byte(`xmlns="http://www.w3.org/2000/svg"`)) {
			t.Errorf("%s.svg is none: %.80s", name, svg)
		}
		if png := figure(name, "png"); !bytes.HasPrefix(png, []byte("\x89PNG")) {
			t.Errorf("%s.png is none: %.80q", name, png)
		}
	}
	// The close-up's figures are those of run, rounded.
	rows := func(data []byte) [][]string {
		list, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
		b.must(err)
		return list[1:]
	}
	ran, err := os.ReadFile(filepath.Join(dir, "out", "events.csv"))
	b.must(err)
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		b.must(err)
		return x
	}
	closeUp := rows(figure("crossing", "csv"))
	if len(closeUp) != 6 {
		t.Errorf("%d sections in the close-up; want 6", len(closeUp))
	}
	for _, r := range closeUp {
		if !slices.ContainsFunc(rows(ran), func(e []string) bool {
			return e[1] == r[0] && e[7] != "" && math.Abs(number(e[7])*100-number(r[5])) < 0.0051 && math.Abs(number(e[6])-number(r[4])) < 0.0001
		}) {
			t.Errorf("the close-up's %v is no lift of run's", r)
		}
	}
}

// browserUpload: an own field is driven; what is wrong with a file is said
// beside it, with the place in it.
// The server is its own: one keeps few drives, and other windows would have it drop those of this one.
func browserUpload(t *testing.T, c *chromium) {
	dir := t.TempDir()
	save := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	machine, line := edit(t, demoText(t, "machine.yaml"), "count: 12", "count: twelve")
	b := c.openTab(t, c.serve(t, nil), 1280, 900)
	still := b.numbers()
	give := func(part string, paths ...string) {
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#own-"+part), paths))
	}
	fault := func(part, says string) {
		t.Helper()
		b.until(part+": "+says, fmt.Sprintf(`document.getElementById("own-%s-fault").innerText.includes(%q) && document.getElementById("own-%[1]s").getAttribute("aria-invalid") === "true"`, part, says))
	}
	for _, f := range []struct{ part, path, says string }{
		{"machine", save("hoe.yaml", machine), fmt.Sprintf("hoe.yaml:%d:10: rows.count", line)},
		{"field", save("bow.geojson", `{"type": "Polygon", "coordinates": [[[11,52],[11.001,52.001],[11.001,52],[11,52.001],[11,52]]]}`), "bow.geojson"},
		{"log", save("mute.nmea", "hello\n"), "mute.nmea"},
		{"states", save("alone.csv", "time,section,actual\n"), "expected a log too"},
	} {
		give(f.part, f.path)
		fault(f.part, f.says)
		b.picture("bad-" + f.part)
		b.do(chromedp.Click(chromedp.CSS("#own-files button")))
		if got := b.numbers(); got != still {
			t.Errorf("%s: back to the demo's files, other numbers than before", f.part)
		}
	}
	// A good day: field, machine, log and states, and its diagnosis.
	c.run(t, "diagnose", "--write-demo", dir)
	give("field", filepath.Join(dir, "field.geojson"))
	b.until("the own field", fmt.Sprintf(`document.getElementById("busy").hidden && document.getElementById("numbers").innerText !== %q`, still))
	if note := b.text(`document.querySelector('[data-key="headland_deg"] label').className + getComputedStyle(document.querySelector('[data-key="headland_deg"] label'), "::after").content`); !strings.Contains(note, "no effect here") {
		t.Errorf("the slant has no effect on an own field; the page says %q", note)
	}
	give("machine", filepath.Join(dir, "machine.yaml"))
	give("log", filepath.Join(dir, "day.nmea.gz"))
	give("states", filepath.Join(dir, "day.states.csv"))
	b.until("the diagnosis", `!document.getElementById("diagnosis").hidden && document.querySelector("#diagnosis li")`)
	b.settled()
	b.until("its close-up", `document.querySelector("#crossing-figure svg")`)
	b.picture("diagnosis")
	// To look at another crossing the files are not sent again.
	was := b.text(`document.querySelector("#crossing-figure .note").textContent`)
	b.do(chromedp.Click(chromedp.CSS(`button[aria-label^="Worst"]`)))
	b.until("the worst crossing", fmt.Sprintf(`document.querySelector("#crossing-figure .note").textContent !== %q`, was))
	if again := b.text(`performance.getEntriesByType("resource").filter((e) => e.name.includes("api/closeup") && !e.name.includes("&drive=")).length`); again != "0" {
		t.Errorf("%s close-ups were asked for with all files", again)
	}
	// A bad states file beside good ones.
	give("states", save("late.csv", "time,section,actual\nnoon,1,1\n"))
	fault("states", "late.csv:2")

	// Times of a spreadsheet say no zone: the page asks for it.
	give("states", save("local.csv", localTimes(t, filepath.Join(dir, "day.states.csv"))))
	fault("states", "local.csv:2")
	name := func(zone string) {
		b.text(`document.getElementById("own-zone").value = ""`)
		b.do(chromedp.SendKeys(chromedp.CSS("#own-zone"), zone+"\t"))
	}
	name("Europe/Erlangen")
	fault("zone", `found "Europe/Erlangen"; expected a zone, like Europe/Berlin`)
	b.picture("bad-zone")
	name("Europe/Berlin")
	b.until("the diagnosis of local times", `!document.getElementById("diagnosis").hidden && document.querySelector("#diagnosis li") && document.getElementById("own-zone").getAttribute("aria-invalid") !== "true" && document.getElementById("busy").hidden`)
	b.settled()

	// A stick's zip is dropped among the files: it brings machine, field and work states.
	b.do(chromedp.Click(chromedp.CSS("#own-files button")))
	c.run(t, "export", "--taskdata", filepath.Join(dir, "stick.zip"))
	stick, err := os.ReadFile(filepath.Join(dir, "stick.zip"))
	b.must(err)
	b.text(fmt.Sprintf(`(() => {
		const files = new DataTransfer();
		files.items.add(new File([Uint8Array.from(atob(%q), (c) => c.charCodeAt(0))], "stick.zip"));
		document.getElementById("own-log").dispatchEvent(new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: files }));
	})()`, base64.StdEncoding.EncodeToString(stick)))
	b.until("the stick's day", `document.getElementById("warnings").innerText.includes("It is ISO 11783-10 task data.") && document.querySelector("#diagnosis li")`)
	b.settled()
	b.picture("stick")
}

// browserGiven: as a double click starts it, the program tells the desktop's browser its address, and files that were
// dropped on its icon are those that the page opens with: a stick's day is diagnosed, and reloaded it still is.
func browserGiven(t *testing.T, c *chromium) {
	dir := t.TempDir()
	stick, told := filepath.Join(dir, "stick of a day.zip"), filepath.Join(dir, "told")
	c.run(t, "export", "--taskdata", stick)
	opener := "#!/bin/sh\nprintf %s \"$1\" >" + told + ".new && mv " + told + ".new " + told + "\n"
	if err := os.WriteFile(filepath.Join(dir, "xdg-open"), []byte(opener), 0o755); err != nil {
		t.Fatal(err)
	}
	address := c.serve(t, []string{"PATH=" + dir + string(os.PathListSeparator) + os.Getenv("PATH")}, "--open", "--give", stick)
	var opened []byte
	for end := time.Now().Add(browserPatience); len(opened) == 0 && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		opened, _ = os.ReadFile(told)
	}
	if string(opened) != address {
		t.Fatalf("the browser was given %q; the page is at %q", opened, address)
	}
	b := c.openTab(t, address, 1280, 900)
	for _, when := range []string{"opened", "loaded again"} {
		b.until("the given day, "+when, `document.getElementById("warnings").innerText.includes("It is ISO 11783-10 task data.") && document.querySelector("#diagnosis li")`)
		if name := b.text(`document.getElementById("own-log").files[0].name`); name != "stick of a day.zip" {
			t.Errorf("%s: the page's log is %q", when, name)
		}
		b.settled()
		b.open(address + "?again")
	}
}
