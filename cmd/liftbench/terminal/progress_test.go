// The line that tells how far a long command is.

package terminal

import (
	"bytes"
	"io"
	"os"
	"strings"
	"testing"
	"time"
)

func TestProgressIsSilentWhenPiped(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	for _, out := range []io.Writer{w, io.Discard, new(bytes.Buffer)} {
		if IsTerminal(out) {
			t.Errorf("%T is taken for a terminal", out)
		}
		if p := NewProgress(strings.NewReader("x"), 1, "x", out); p.Out != nil {
			t.Errorf("progress on %T", out)
		}
	}
	if null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0); err == nil {
		defer null.Close()
		if IsTerminal(null) {
			t.Error("the null device is taken for a terminal")
		}
	}
}

func TestProgressLine(t *testing.T) {
	var screen bytes.Buffer
	clock := time.Unix(0, 0)
	p := &Progress{
		In: strings.NewReader(strings.Repeat("x", 4_000_000)), Out: &screen, Name: "beets.nmea", Total: 4_000_000,
		Now: func() time.Time { clock = clock.Add(time.Second); return clock },
	}
	p.Begin, p.Shown = clock, clock
	buf := make([]byte, 1_000_000)
	if _, err := io.ReadFull(p, buf); err != nil {
		t.Fatal(err)
	}
	if want := "\r\x1b[Kbeets.nmea: 1.0 of 4.0 MB, 25 %, 3s left"; screen.String() != want {
		t.Errorf("%q, want %q", screen.String(), want)
	}
	screen.Reset()
	p.Finish()
	p.Finish()
	if want := "\r\x1b[K"; screen.String() != want {
		t.Errorf("finish writes %q, want %q", screen.String(), want)
	}
}
