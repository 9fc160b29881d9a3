// What a terminal obeys is made visible, however it is cut into writes.

package terminal

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"unicode"
)

func TestPlain(t *testing.T) {
	for text, want := range map[string]string{
		"plain, ÄÖÜ, 日本 🚜\r\n\ttab\n": "plain, ÄÖÜ, 日本 🚜\r\n\ttab\n",
		"\x1b[2Jgone":                 `\x1b[2Jgone`,
		"\x1b]0;title\a":              `\x1b]0;title\x07`,
		"over\rwritten":               `over\x0dwritten`,
		"back\b\x7f":                  `back\x08\x7f`,
		"\u009b2J":                    `\x9b2J`,
		"\x9b2J and \xc3(":            `\x9b2J and \xc3(`,
	} {
		for name, from := range map[string]io.Reader{"whole": strings.NewReader(text), "byte by byte": iotest.OneByteReader(strings.NewReader(text))} {
			var out bytes.Buffer
			p := NewPlain(&out)
			if _, err := io.CopyBuffer(struct{ io.Writer }{p}, struct{ io.Reader }{from}, make([]byte, 100)); err != nil {
				t.Fatal(err)
			}
			if out.String() != want {
				t.Errorf("%s %q: %q; want %q", name, text, out.String(), want)
			}
		}
	}
}

func TestRedraw(t *testing.T) {
	var out bytes.Buffer
	Redraw(NewPlain(&out), "day\x1b[2J.nmea")
	if want := "\r\x1b[K" + `day\x1b[2J.nmea`; out.String() != want {
		t.Errorf("%q; want %q", out.String(), want)
	}
}

// FuzzPlain: no control character but those that pass.
func FuzzPlain(f *testing.F) {
	f.Add("a\x1b[1m", "\u009b\r\n")
	f.Add("\xc2", "\x9b")
	f.Fuzz(func(t *testing.T, first, second string) {
		var out bytes.Buffer
		p := NewPlain(&out)
		io.WriteString(p, first)
		io.WriteString(p, second)
		for i, r := range strings.ReplaceAll(out.String(), "\r\n", "\n") {
			if r == unicode.ReplacementChar && !strings.Contains(first+second, "\ufffd") || unicode.IsControl(r) && r != '\n' && r != '\t' {
				t.Fatalf("%q, %q: %q at byte %d of %q", first, second, r, i, out.String())
			}
		}
	})
}
