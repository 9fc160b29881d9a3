// Progress of long work on a terminal; silent when the output is piped.

package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// progress counts the bytes read through it and, on a terminal, shows how far
// the work is and how long it will take.
type progress struct {
	in    io.Reader
	out   io.Writer // nil: silent
	name  string
	total int64 // bytes; 0 = not known
	done  int64
	begin time.Time
	shown time.Time
	now   func() time.Time
	drawn bool
}

// newProgress reads in, a stream of total bytes (0 = not known) called name,
// and shows its progress on stderr where that is a terminal.
func newProgress(in io.Reader, total int64, name string, stderr io.Writer) *progress {
	p := &progress{in: in, total: total, name: name, now: time.Now}
	if isTerminal(stderr) {
		p.out = stderr
		p.begin = p.now()
		p.shown = p.begin
	}
	return p
}

// isTerminal reports whether w is a character device that is not the null
// device.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok || f.Name() == os.DevNull {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// progressEvery is the time between two updates; work shorter than it shows
// nothing.
const progressEvery = 200 * time.Millisecond

func (p *progress) Read(b []byte) (int, error) {
	n, err := p.in.Read(b)
	p.done += int64(n)
	if p.out != nil {
		if now := p.now(); now.Sub(p.shown) >= progressEvery {
			p.shown = now
			p.draw(now)
		}
	}
	return n, err
}

// draw writes the line over the one before.
func (p *progress) draw(now time.Time) {
	const mb = 1e6
	line := fmt.Sprintf("%s: %.1f MB", p.name, float64(p.done)/mb)
	if p.total > 0 && p.done > 0 {
		share := min(float64(p.done)/float64(p.total), 1)
		left := time.Duration(float64(now.Sub(p.begin)) * (1 - share) / share)
		line = fmt.Sprintf("%s: %.1f of %.1f MB, %.0f %%, %s left", p.name,
			float64(p.done)/mb, float64(p.total)/mb, 100*share, left.Round(time.Second))
	}
	fmt.Fprintf(p.out, "\r\x1b[K%s", line)
	p.drawn = true
}

// finish clears the line, so that results start on an empty one.
func (p *progress) finish() {
	if p.drawn {
		fmt.Fprint(p.out, "\r\x1b[K")
		p.drawn = false
	}
}

// benchBar shows on a terminal how far a study is and how long it will take.
type benchBar struct {
	out           io.Writer // nil: silent
	begin, shown  time.Time
	first         int // done when it began
	drawn, begins bool
}

func newBenchBar(stderr io.Writer) *benchBar {
	b := &benchBar{begins: true}
	if isTerminal(stderr) {
		b.out, b.begin = stderr, time.Now()
	}
	return b
}

func (b *benchBar) show(done, of int) {
	if b.out == nil {
		return
	}
	now := time.Now()
	if b.begins {
		b.first, b.begins = done-1, false
	}
	if now.Sub(b.shown) < progressEvery {
		return
	}
	b.shown, b.drawn = now, true
	left := time.Duration(float64(now.Sub(b.begin)) / float64(done-b.first) * float64(of-done))
	const width = 24
	full := done * width / of
	fmt.Fprintf(b.out, "\r\x1b[K%s%s %d of %d drives, %s left", strings.Repeat("=", full), strings.Repeat(".", width-full), done, of, left.Round(time.Second))
}

// finish clears the line.
func (b *benchBar) finish() {
	if b.drawn {
		fmt.Fprint(b.out, "\r\x1b[K")
	}
}
