//go:build linux

// The page that follows tells the truth: what a driver reads when positions stop,
// are of low quality, jump or stand still, when the receiver's clock is set, when the
// server is killed and comes back, and on a screen that was left overnight.

package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// tamper changes the fields of a sentence without its checksum; nil = silence.
type tamper func(fields []string)

// liveReceiver says a log in real time, ten epochs a second from the given one on,
// to whoever connects. What it is silent about is past.
type liveReceiver struct {
	net.Listener
	tampers atomic.Pointer[tamper]
}

func newLiveReceiver(t *testing.T, log string, firstEpoch int) *liveReceiver {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &liveReceiver{Listener: l}
	r.become(func([]string) {})
	t.Cleanup(func() { l.Close() })
	sentences := strings.Fields(log)
	begun := time.Now()
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				for last := -1; ; time.Sleep(5 * time.Millisecond) {
					epoch := firstEpoch + int(time.Since(begun)/(100*time.Millisecond))
					if epoch == last || 3*epoch+3 > len(sentences) {
						continue
					}
					last = epoch
					change := *r.tampers.Load()
					if change == nil {
						continue
					}
					for _, s := range sentences[3*epoch : 3*epoch+3] {
						fields := strings.Split(s[1:len(s)-3], ",")
						change(fields)
						body := strings.Join(fields, ",")
						sum := byte(0)
						for i := range len(body) {
							sum ^= body[i]
						}
						if _, err := fmt.Fprintf(c, "$%s*%02X\r\n", body, sum); err != nil {
							return
						}
					}
				}
			}()
		}
	}()
	return r
}

func (r *liveReceiver) become(change tamper) { r.tampers.Store(&change) }

// browserTellsTheTruth reads what the page says in each trouble, and that it says
// nothing of it when all is well again.
func browserTellsTheTruth(t *testing.T, c *chromium) {
	dir := t.TempDir()
	c.run(t, "drive", "--out", filepath.Join(dir, "drive.nmea"))
	drive, err := os.ReadFile(filepath.Join(dir, "drive.nmea"))
	if err != nil {
		t.Fatal(err)
	}
	machine := strings.Replace(demoText(t, "machine.yaml"), "controller:\n", "controller:\n  min_quality: 4\n", 1)
	if err := os.WriteFile(filepath.Join(dir, "machine.yaml"), []byte(machine), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "field.geojson"), []byte(demoText(t, "field.geojson")), 0o644); err != nil {
		t.Fatal(err)
	}
	receiver := newLiveReceiver(t, string(drive), 100)
	http := "127.0.0.1:" + freePort(t)
	startServer := func() *exec.Cmd {
		t.Helper()
		p := exec.Command(c.program, "live", "--machine", filepath.Join(dir, "machine.yaml"), "--field", filepath.Join(dir, "field.geojson"),
			"--in", "tcp:"+receiver.Addr().String(), "--out", "file:"+filepath.Join(dir, "setpoints"), "--http", http)
		if err := p.Start(); err != nil {
			t.Fatal(err)
		}
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			if c, err := net.Dial("tcp", http); err == nil {
				c.Close()
				return p
			}
		}
		t.Fatal("live does not answer")
		return nil
	}
	live := startServer()
	t.Cleanup(func() { live.Process.Kill(); live.Wait() })
	b := c.newTab(t, 1280, 900)
	t.Cleanup(func() { b.forgive("log: Failed to load resource: net::ERR_") })
	b.host = http
	b.do(chromedp.Navigate("http://" + http + "/"))

	const (
		now    = `(document.querySelector(".live-now")?.textContent ?? "")`
		banner = `(document.querySelector(".banner:not([hidden])")?.innerText ?? "")`
	)
	well := func(after string) {
		t.Helper()
		receiver.become(func([]string) {})
		b.until("all to be well after "+after, banner+` === "" && `+now+`.includes("RTK fixed") && document.querySelector(".live-line").textContent === "following"`)
	}
	reads := func(trouble, pattern string) {
		t.Helper()
		b.until("the words for "+trouble, `/`+pattern+`/.test(`+banner+`)`)
	}
	b.until("work", now+`.includes("told to be in work: all sections")`)
	well("opening")

	receiver.become(nil)
	reads("silence", `^Position lost \d+ s ago: fail-safe lifted all\.$`)
	b.until("the setpoints", now+`.endsWith("told to be in work: none")`)
	first := b.text(banner)
	b.until("the seconds to go on", banner+` !== "" && `+banner+` !== `+fmt.Sprintf("%q", first))
	b.picture("lost")
	b.audit("lost")
	well("silence")
	b.until("work again", now+`.includes("told to be in work: all sections")`)

	receiver.become(func(f []string) {
		if strings.HasSuffix(f[0], "GGA") {
			f[6] = "5"
		}
	})
	reads("low quality", `^Position lost \d+ s ago \(its quality is too low\): fail-safe lifted all\.$`)
	well("low quality")

	receiver.become(func(f []string) { // 18 km north
		for i := range f {
			f[i] = strings.Replace(f[i], "5203.", "5213.", 1)
		}
	})
	b.until("the setpoints of a machine elsewhere", `/, 18\.\d km from the field; .*told to be in work: none$/.test(`+now+`)`)
	well("a jump")
	b.until("nothing of the field's distance", `!`+now+`.includes("from the field")`)

	still := standStill()
	receiver.become(func(f []string) {
		f[0] = "$" + f[0]
		still(f)
		f[0] = f[0][1:]
	})
	reads("a position that stands still", `^Position lost \d+ s ago \(it does not agree with speed and course\): fail-safe lifted all\.$`)
	b.until("the setpoints", now+`.endsWith("told to be in work: none")`)
	well("a position that stood still")

	receiver.become(func(f []string) {
		if !strings.HasSuffix(f[0], "VTG") {
			f[1] = "11" + f[1][2:]
		}
	})
	b.until("the clock that was set", now+`.startsWith("11:0")`)
	well("a clock that was set and set back")
	b.until("the clock set back", now+`.startsWith("08:0")`)

	// A hung server speaks no more, a killed one hangs up. Either way the page says
	// so within 2 s, and what the test itself takes.
	b.text(`(() => {
		new MutationObserver(() => {
			const x = document.querySelector(".banner:not([hidden])");
			if (x && !window.seen && x.textContent.startsWith("No word")) window.seen = Date.now();
		}).observe(document.body, {subtree: true, attributes: true, childList: true, characterData: true});
	})()`)
	for _, end := range []struct {
		name string
		do   func() error
		back func()
	}{
		{"a server that hangs", func() error { return signalStop(live) }, func() { signalContinue(live) }},
		{"a server that is killed", live.Process.Kill, func() { live.Wait(); live = startServer() }},
	} {
		b.text(`window.seen = 0`)
		at := time.Now()
		if err := end.do(); err != nil {
			t.Fatal(err)
		}
		reads(end.name, `^No word from liftbench for \d+ s: what is shown is of 08:\d\d:\d\d UTC\.$`)
		seen, err := strconv.ParseInt(b.text(`window.seen`), 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		took := time.UnixMilli(seen).Sub(at)
		if t.Logf("%s is told after %.1f s", end.name, took.Seconds()); took > 2300*time.Millisecond {
			t.Errorf("%s is told after %v; want 2 s at most", end.name, took)
		}
		if line := b.text(`document.querySelector(".live-line").textContent`); line == "following" {
			t.Errorf("%s: the line says %q", end.name, line)
		}
		end.back()
		well(end.name)
	}

	// A screen left overnight: the browser freezes a page that nobody looks at. What
	// it says in the morning is what a page says that is opened then.
	night := func(state page.SetWebLifecycleStateState) {
		t.Helper()
		b.must(called(chromedp.Call(b.ctx, page.SetWebLifecycleState, page.SetWebLifecycleStateParams{State: state})))
	}
	for _, x := range []struct {
		name string
		do   func()
		then string // what the page says in the morning
	}{
		{"the receiver falls silent", func() { receiver.become(nil); time.Sleep(4 * time.Second) }, `/^Position lost \d+ s ago: fail-safe lifted all\.$/.test(` + banner + `) && ` + now + `.endsWith("told to be in work: none")`},
		{"live is started again, and the receiver is silent still", func() {
			live.Process.Kill()
			live.Wait()
			live = startServer()
		}, now + ` === "waiting for the first position" && ` + banner + ` === ""`},
		{"all is well again", func() { receiver.become(func([]string) {}); time.Sleep(3 * time.Second) }, banner + ` === "" && ` + now + `.includes("RTK fixed")`},
		{"live ends", func() { live.Process.Kill(); live.Wait(); time.Sleep(2 * time.Second) }, `/^No word from liftbench for \d+ s: what is shown is of 08:\d\d:\d\d UTC\.$/.test(` + banner + `)`},
	} {
		night(page.SetWebLifecycleStateStateFrozen)
		x.do()
		night(page.SetWebLifecycleStateStateActive)
		b.until("the truth in the morning: "+x.name, x.then)
		if x.name == "all is well again" {
			fresh := c.openTab(t, "http://"+http+"/", 1280, 900)
			t.Cleanup(func() { fresh.forgive("log: Failed to load resource: net::ERR_") })
			fresh.until("the fresh page", now+`.includes("RTK fixed")`)
			const clock = `new Date("2000-01-01T" + ` + now + `.slice(0, 8) + "Z").getTime()`
			ours, err := strconv.ParseInt(b.text(clock), 10, 64)
			theirs, err2 := strconv.ParseInt(fresh.text(clock), 10, 64)
			if err != nil || err2 != nil || theirs-ours > 2500 || ours > theirs {
				t.Errorf("%v, %v: the page's clock is %d ms behind a fresh page's", err, err2, theirs-ours)
			}
			title := `document.getElementById("drive-title").textContent`
			b.until("the drive of the new run", `/, 0:\d\d min/.test(`+title+`)`)
		}
	}
}

func signalStop(p *exec.Cmd) error     { return p.Process.Signal(syscall.SIGSTOP) }
func signalContinue(p *exec.Cmd) error { return p.Process.Signal(syscall.SIGCONT) }
