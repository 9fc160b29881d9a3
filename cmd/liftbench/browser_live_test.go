//go:build linux

// The page that follows a live run, in the browser: a real process of live is
// fed a log, the browser sleeps in each way that browsers do, and what it shows
// when it is back is what a browser that never slept shows.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// cable is the way between browser and server, which can be cut.
type cable struct {
	net.Listener
	to string

	mu   sync.Mutex
	cut  bool
	ends []net.Conn
}

// newCable returns a cable to a server on this machine.
func newCable(t *testing.T, to string) *cable {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &cable{Listener: l, to: to}
	t.Cleanup(func() { l.Close(); w.set(true) })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			w.join(c)
		}
	}()
	return w
}

func (w *cable) join(c net.Conn) {
	w.mu.Lock()
	defer w.mu.Unlock()
	server, err := net.Dial("tcp", w.to)
	if w.cut || err != nil {
		c.Close()
		return
	}
	w.ends = append(w.ends, c, server)
	for _, d := range [...][2]net.Conn{{c, server}, {server, c}} {
		go func() {
			_, _ = io.Copy(d[0], d[1]) // until either end is closed
			d[0].Close()
		}()
	}
}

// set cuts the line, with all that goes over it, or mends it.
func (w *cable) set(cut bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.cut = cut
	for _, c := range w.ends {
		c.Close()
	}
	w.ends = nil
}

// startLive starts a process of live that takes a log as it is written, at a
// pace, and returns where the page is and the log to write. It ends with the
// test.
func (c *chromium) startLive(t *testing.T, dir string, pace int) (host string, log io.Writer) {
	t.Helper()
	pipe := filepath.Join(dir, "log")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	p := exec.Command(c.program, "live", "--in", "file:"+pipe, "--pace", fmt.Sprint(pace), "--out", "file:"+filepath.Join(dir, "setpoints"), "--http", "127.0.0.1:0")
	said, err := p.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Start(); err != nil {
		t.Fatal(err)
	}
	var later bytes.Buffer // what live says once it runs
	read := make(chan struct{})
	t.Cleanup(func() {
		p.Process.Kill()
		<-read
		if p.Wait(); t.Failed() {
			t.Logf("live: %v, %s", p.ProcessState, &later)
		}
	})
	// Opened by both, so that neither waits for the other.
	fifo, err := os.OpenFile(pipe, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	// Until then it is held: let go, it would be closed with the next garbage, and
	// live would end with its log.
	t.Cleanup(func() { fifo.Close() })
	var text []byte
	for buf := make([]byte, 1<<10); ; {
		n, err := said.Read(buf)
		text = append(text, buf[:n]...)
		if _, rest, ok := bytes.Cut(text, []byte("follows: http://")); ok {
			if host, _, ok := bytes.Cut(rest, []byte("/")); ok {
				go func() {
					_, _ = io.Copy(&later, said) // until live ends
					close(read)
				}()
				return string(host), fifo
			}
		}
		if err != nil {
			close(read)
			t.Fatalf("live: %v, %s", err, text)
		}
	}
}

// browserFollowsLive: by server-sent events, and right again after each sleep.
func browserFollowsLive(t *testing.T, c *chromium) {
	dir := t.TempDir()
	c.run(t, "drive", "--out", filepath.Join(dir, "drive.nmea"))
	drive, err := os.ReadFile(filepath.Join(dir, "drive.nmea"))
	if err != nil {
		t.Fatal(err)
	}
	// So many seconds of driving; the newest borders are crossed within each.
	const partS, perS = 90, 30 // 10 Hz, three sentences an epoch
	sentences := strings.SplitAfter(string(drive), "\n")
	host, log := c.startLive(t, dir, 50)
	way := newCable(t, host)
	feed := func(part int) {
		t.Helper()
		if _, err := io.WriteString(log, strings.Join(sentences[part*partS*perS:(part+1)*partS*perS], "")); err != nil {
			t.Fatal(err)
		}
	}
	// arrived waits until live itself has that many parts.
	arrived := func(parts int) {
		t.Helper()
		for end := time.Now().Add(browserPatience); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
			resp, err := http.Get("http://" + host + "/api/live/state")
			if err != nil {
				t.Fatal(err)
			}
			var state *struct{ Duration int64 }
			err = json.NewDecoder(resp.Body).Decode(&state)
			resp.Body.Close()
			if err != nil {
				t.Fatal(err)
			}
			if state != nil && state.Duration > int64(parts)*partS*1000-1000 {
				return
			}
		}
		t.Fatalf("live does not get to part %d", parts)
	}
	feed(0)
	arrived(1)
	address := "http://" + way.Addr().String() + "/"
	// open opens a window of which the line is cut at some time: the browser notes
	// it, even of a page that it has left.
	open := func() *tab {
		t.Helper()
		b := c.openTab(t, address, 1280, 900)
		t.Cleanup(func() { b.forgive("log: Failed to load resource: net::ERR_") })
		return b
	}
	b := open()
	// shown is what the page says of the drive as far as it has come.
	const shown = `JSON.stringify([
		document.getElementById("drive-title").textContent,
		[...document.getElementById("crossing").options].map((o) => o.textContent),
		document.getElementById("crossing").value,
		document.querySelector("#crossing-figure .note").textContent,
		document.querySelector(".strip-stage").getAttribute("aria-valuetext"),
		document.querySelector("#plan svg").outerHTML,
	])`
	title := `document.getElementById("drive-title").textContent`
	// follows waits until the page shows so many parts, and compares it with a
	// page that is opened now.
	follows := func(parts int, after string) {
		t.Helper()
		b.until(fmt.Sprintf("part %d after %s", parts, after), fmt.Sprintf(`%s.includes(", %d:%02d min")`, title, (parts*partS-1)/60, (parts*partS-1)%60)+
			` || `+fmt.Sprintf(`%s.includes(", %d:%02d min")`, title, parts*partS/60, parts*partS%60))
		b.until("the line to be well", `document.querySelector(".live-line").textContent === "following"`)
		fresh := open()
		want := fresh.text(shown)
		fresh.do(chromedp.Navigate("about:blank")) // it follows no further
		b.until("what a fresh page shows, after "+after, fmt.Sprintf(`%s === %q`, shown, want))
	}
	follows(1, "opening")
	// What the tools do is not known here: it is said to be simulated, apart from what they
	// are told.
	for _, words := range []string{"heights and work states are simulated from them", "in work (simulated)", "setpoint: in work"} {
		b.until("the page to say "+words, fmt.Sprintf(`document.body.textContent.includes(%q)`, words))
	}
	if b.text(`String(document.body.textContent.includes("(recorded)"))`) != "false" {
		t.Error("the page that follows says of something that it was recorded")
	}

	feed(1)
	arrived(2)
	follows(2, "going on")

	// The browser freezes the page, as it does with one out of sight.
	life := func(s page.SetWebLifecycleStateState) {
		t.Helper()
		b.must(called(chromedp.Call(b.ctx, page.SetWebLifecycleState, page.SetWebLifecycleStateParams{State: s})))
	}
	life(page.SetWebLifecycleStateStateFrozen)
	time.Sleep(time.Second) // a busy browser has not stopped the page yet when it answers
	before := b.text(title)
	feed(2)
	arrived(3)
	if got := b.text(title); got != before {
		t.Errorf("the page goes on while it is frozen: %q", got)
	}
	life(page.SetWebLifecycleStateStateActive)
	follows(3, "being frozen")

	// The machine sleeps: every connection is gone, and the network comes back
	// some time later.
	way.set(true)
	b.until("the page to say so", `document.querySelector(".live-line").textContent.startsWith("the line is cut")`)
	feed(3)
	arrived(4)
	way.set(false)
	follows(4, "a line that was cut")

	// A crossing that is looked at stays while the drive goes on.
	b.choose("crossing", "2")
	feed(4)
	arrived(5)
	b.until("part 5", fmt.Sprintf(`%s.includes(", %d:%02d min")`, title, 5*partS/60, 5*partS%60)+` || `+fmt.Sprintf(`%s.includes(", %d:%02d min")`, title, (5*partS-1)/60, (5*partS-1)%60))
	if got := b.text(`document.getElementById("crossing").value`); got != "2" {
		t.Errorf("crossing %s is shown; 2 was picked", got)
	}
	b.picture("live")
	b.audit("live")
}
