// Files made to take the parser's time and memory, and encodings.

package bind

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"
)

// grown repeats a text up to a size in bytes.
func grown(text string, size int) string { return strings.Repeat(text, size/len(text)) }

// numbered joins a line for each number up to a size in bytes.
func numbered(format string, size int) string {
	var b strings.Builder
	for i := 0; b.Len() < size; i++ {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

// hostile are files of about that size, each of another kind.
func hostile(size int) map[string]string {
	deep := ""
	for i := 0; len(deep) < size; i++ {
		deep += strings.Repeat(" ", i) + "a:\n"
	}
	return map[string]string{
		"brackets":             grown("[", size),
		"brackets closed":      grown("[", size/2) + grown("]", size/2),
		"braces":               grown("{a: ", size),
		"dashes":               grown("- ", size) + "a",
		"question marks":       grown("? ", size),
		"tags":                 grown("!a ", size),
		"anchors":              grown("&a ", size) + "b",
		"anchors, a line each": numbered("k%d: &a 1\n", size),
		"laughs": "a0: &a0 [x, x]\n" + func() (s string) {
			for i := 1; i < 30; i++ {
				s += fmt.Sprintf("a%d: &a%d [*a%d, *a%d]\n", i, i, i-1, i-1)
			}
			return s
		}(),
		"keys":              numbered("k%d: 1\n", size),
		"keys in braces":    "{" + numbered("k%d: 1, ", size) + "}",
		"the same key":      grown("mount: rear\n", size),
		"groups in groups":  deep,
		"a list":            "mount:\n" + grown("- 1\n", size),
		"a list of lists":   "mount: [" + grown("[1.0,2.0],", size) + "1]",
		"a list of nothing": "mount: [" + grown("[],", size) + "1]",
		"commas":            "[" + grown(",", size),
		"colons":            grown(": ", size),
		"words":             "mount: " + grown("abcdefg ", size),
		"words on lines":    "mount: " + grown("abcdefg\n  ", size),
		"escapes":           "mount: \"" + grown(`\u00e4`, size) + "\"",
		"quotes":            grown(`"a" `, size),
		"lines in quotes":   "mount: \"" + grown("a\n\n", size) + "\"",
		"comments":          "mount: rear\n" + grown("# c\n", size),
		"a block of text":   "mount: |\n" + grown("  c\n", size),
		"empty lines":       "mount: rear\n" + grown("\n", size),
		"spaces":            "mount: rear\n" + grown(" ", size),
		"documents":         grown("---\n", size),
		"documents of keys": grown("---\na: 1\n", size),
		"percent signs":     grown("%a\n", size),
	}
}

// Whatever a file holds, reading it takes some hundred megabytes at most over
// its whole course, garbage included; 400 kB of brackets once took 10 GB.
func TestHostileYAML(t *testing.T) {
	const mostMB = 250
	for _, size := range []int{400_000, MaxBytes - 100} {
		for name, text := range hostile(size) {
			t.Run(fmt.Sprintf("%s/%d", name, size), func(t *testing.T) {
				var into struct {
					Mount string `key:"mount" doc:"a word"`
				}
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				_, err := YAML("f.yaml", []byte(text), "a machine", &into)
				runtime.ReadMemStats(&after)
				if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > mostMB {
					t.Errorf("%d MB allocated; want %d at most", mb, mostMB)
				}
				if err != nil && (len(err.Error()) > 300 || strings.Contains(err.Error(), "\n")) {
					t.Errorf("the error is no sentence on a line: %.400q", err)
				}
				t.Logf("%d MB, %.100v", (after.TotalAlloc-before.TotalAlloc)>>20, err)
			})
		}
	}
}

// What is beyond a limit is said with its line and column.
func TestLimits(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"deep in brackets", "mount:\n  " + grown("[", 64), "f.yaml:2:65: more than 64 groups and lists within each other; expected a machine"},
		{"deep in dashes", grown("- ", 200), "f.yaml:1:129: more than 64 groups and lists within each other; expected a machine"},
		{"keys", numbered("k%d: 1\n", 30_000), "f.yaml:2001:6: more than 2000 keys; expected a machine"},
		{"keys in braces", "{" + numbered("k%d: 1, \n", 300_000) + "}", "f.yaml:20001:7: more than 20000 keys in braces; expected a machine"},
		{"aliases", "a: &a 1\n" + grown("b: *a\n", 200), "f.yaml:17:4: more than 16 anchors and aliases; expected a machine"},
		{"parts", "mount: [" + grown("[],", 400_000), "f.yaml: has 400001 brackets, commas, colons, dashes and other signs of YAML; expected a machine with at most 200000"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var into struct {
				Mount string `key:"mount" doc:"a word"`
			}
			if _, err := YAML("f.yaml", []byte(c.text), "a machine", &into); fmt.Sprint(err) != c.want {
				t.Errorf("%v\nwant %s", err, c.want)
			}
		})
	}
}

// UTF-8 may begin with its mark; UTF-16 is named.
func TestEncodings(t *testing.T) {
	const text = "mount: rear\n"
	wide := func(first, second byte, mark string) string {
		b := []byte(mark)
		for _, u := range utf16.Encode([]rune(text)) {
			pair := [2]byte{}
			pair[first], pair[second] = byte(u>>8), byte(u)
			b = append(b, pair[:]...)
		}
		return string(b)
	}
	const refused = "f.yaml: is in UTF-16; expected UTF-8: save it anew in that encoding"
	for _, c := range []struct{ name, text, want string }{
		{"plain", text, ""},
		{"marked", "\xef\xbb\xbf" + text, ""},
		{"UTF-16, low byte first, marked", wide(1, 0, "\xff\xfe"), refused},
		{"UTF-16, high byte first, marked", wide(0, 1, "\xfe\xff"), refused},
		{"UTF-16, low byte first", wide(1, 0, ""), refused},
		{"UTF-16, high byte first", wide(0, 1, ""), refused},
		{"a place after the mark", "\xef\xbb\xbfmounts: rear\n", `f.yaml:1:1: unknown key "mounts"; did you mean "mount"? expected one of: mount`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var into struct {
				Mount string `key:"mount" doc:"a word"`
			}
			_, err := YAML("f.yaml", []byte(c.text), "a machine", &into)
			if got := fmt.Sprint(err); c.want == "" && (err != nil || into.Mount != "rear") || c.want != "" && got != c.want {
				t.Errorf("%q, %v; want %s", into.Mount, err, c.want)
			}
		})
	}
}
