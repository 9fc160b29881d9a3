// Progress of long work on a terminal; silent when the output is piped.

package terminal

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"
)

// Progress counts the bytes read through it and, on a terminal, shows how far
// the work is and how long it will take.
type Progress struct {
	In    io.Reader
	Out   io.Writer // nil: silent
	Name  string
	Total int64 // bytes; 0 = not known
	Done  int64
	Begin time.Time
	Shown time.Time
	Now   func() time.Time
	drawn bool
}

// NewProgress reads in, a stream of total bytes (0 = not known) called name,
// and shows its progress on stderr where that is a terminal.
func NewProgress(in io.Reader, total int64, name string, stderr io.Writer) *Progress {
	p := &Progress{In: in, Total: total, Name: name, Now: time.Now}
	if IsTerminal(stderr) {
		p.Out = stderr
		p.Begin = p.Now()
		p.Shown = p.Begin
	}
	return p
}

// IsTerminal reports whether w is a character device that is not the null
// device.
func IsTerminal(w io.Writer) bool {
	if p, ok := w.(*Plain); ok {
		w = p.w
	}
	f, ok := w.(*os.File)
	if !ok || f.Name() == os.DevNull {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// ProgressEvery is the time between two updates; work shorter than it shows
// nothing.
const ProgressEvery = 200 * time.Millisecond

func (p *Progress) Read(b []byte) (int, error) {
	n, err := p.In.Read(b)
	p.Done += int64(n)
	if p.Out != nil {
		if now := p.Now(); now.Sub(p.Shown) >= ProgressEvery {
			p.Shown = now
			p.draw(now)
		}
	}
	return n, err
}

// draw writes the line over the one before.
func (p *Progress) draw(now time.Time) {
	const mb = 1e6
	line := fmt.Sprintf("%s: %.1f MB", p.Name, float64(p.Done)/mb)
	if p.Total > 0 && p.Done > 0 {
		share := min(float64(p.Done)/float64(p.Total), 1)
		left := time.Duration(float64(now.Sub(p.Begin)) * (1 - share) / share)
		line = fmt.Sprintf("%s: %.1f of %.1f MB, %.0f %%, %s left", p.Name,
			float64(p.Done)/mb, float64(p.Total)/mb, 100*share, left.Round(time.Second))
	}
	Redraw(p.Out, line)
	p.drawn = true
}

// Finish clears the line, so that results start on an empty one.
func (p *Progress) Finish() {
	if p.drawn {
		Redraw(p.Out, "")
		p.drawn = false
	}
}

// DrivesBar shows on a terminal how far a study is and how long it will take.
type DrivesBar struct {
	Out           io.Writer // nil: silent
	Begin, shown  time.Time
	first         int // done when it began
	drawn, Begins bool
}

// NewDrivesBar returns a bar on stderr, silent where that is no terminal.
func NewDrivesBar(stderr io.Writer) *DrivesBar {
	b := &DrivesBar{Begins: true}
	if IsTerminal(stderr) {
		b.Out, b.Begin = stderr, time.Now()
	}
	return b
}

// Show draws the bar: so many of all drives are done.
func (b *DrivesBar) Show(done, of int) {
	if b.Out == nil {
		return
	}
	now := time.Now()
	if b.Begins {
		b.first, b.Begins = done-1, false
	}
	if now.Sub(b.shown) < ProgressEvery {
		return
	}
	b.shown, b.drawn = now, true
	left := time.Duration(float64(now.Sub(b.Begin)) / float64(done-b.first) * float64(of-done))
	const width = 24
	full := done * width / of
	Redraw(b.Out, fmt.Sprintf("%s%s %d of %d drives, %s left", strings.Repeat("=", full), strings.Repeat(".", width-full), done, of, left.Round(time.Second)))
}

// Finish clears the line.
func (b *DrivesBar) Finish() {
	if b.drawn {
		Redraw(b.Out, "")
	}
}
