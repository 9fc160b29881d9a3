// Text for a terminal without control codes: the name of a file, or a name in a
// file, may hold escape codes, which could hide or forge what is printed.

package terminal

import (
	"fmt"
	"io"
	"sync"
	"unicode/utf8"
)

// Plain writes text with its control characters made visible, such as \x1b for
// escape. Newlines and tabs pass, and carriage returns before a newline. Any
// goroutine may write.
type Plain struct {
	w    io.Writer
	mu   sync.Mutex
	rest []byte // the beginning of a character that was not whole yet
}

// NewPlain returns a Plain that writes to w.
func NewPlain(w io.Writer) *Plain { return &Plain{w: w} }

func (p *Plain) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	text, rest := visible(nil, append(p.rest, b...))
	p.rest = append([]byte(nil), rest...)
	if len(text) > 0 {
		if _, err := p.w.Write(text); err != nil {
			return 0, err
		}
	}
	return len(b), nil
}

// visible appends b with its control characters made visible to text. rest is
// the beginning of a character at the end of b.
func visible(text, b []byte) (out, rest []byte) {
	for len(b) > 0 {
		if !utf8.FullRune(b) || len(b) == 1 && b[0] == '\r' {
			return text, b
		}
		r, n := utf8.DecodeRune(b)
		switch {
		case r == utf8.RuneError && n == 1:
			text = fmt.Appendf(text, `\x%02x`, b[0])
		case r == '\n' || r == '\t' || r == '\r' && b[1] == '\n':
			text = append(text, byte(r))
		case r < 0x20 || r >= 0x7f && r < 0xa0: // C0, DEL and C1 (ISO/IEC 6429)
			text = fmt.Appendf(text, `\x%02x`, r)
		default:
			text = append(text, b[:n]...)
		}
		b = b[n:]
	}
	return text, nil
}

// eraseLine moves a terminal to the beginning of its line and erases it.
const eraseLine = "\r\x1b[K"

// Redraw writes text over the last line of a terminal; "" erases that line.
func Redraw(out io.Writer, text string) {
	plain, _ := visible([]byte(eraseLine), []byte(text))
	if p, ok := out.(*Plain); ok {
		out = p.w
	}
	_, _ = out.Write(plain) // a terminal that has gone takes nothing with it
}
