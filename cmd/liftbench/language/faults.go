// What is wrong with a catalogue, for the tests of the rooms that have one.

package language

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"sort"
	"strings"
	"unicode"
)

var (
	placeholder = regexp.MustCompile(`\{[^{}]*\}`)
	usedKey     = regexp.MustCompile(`\b[tT]ext\("([a-z][^"\\<]*)"`)
)

// shortest is how many letters a text may have and be the same in two languages.
const shortest = 12

// Faults returns what is wrong with the catalogue, in a sentence each: a language or a
// plural that is missing, a placeholder that one language has alone, the same words in
// two languages, a key that no source uses, and a key that a source uses and nobody has
// written. sources are files that call Text("key", …) or text("key", …), with the key
// written out.
func (c Catalogue) Faults(sources ...string) []string {
	var faults []string
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	used := map[string]bool{}
	for _, path := range sources {
		data, err := os.ReadFile(path)
		if err != nil {
			fault("%v", err)
		}
		for _, m := range usedKey.FindAllStringSubmatch(string(data), -1) {
			used[m[1]] = true
			if c[m[1]] == nil {
				fault("%s uses %q, which the catalogue lacks", path, m[1])
			}
		}
	}
	for key, text := range c {
		if !used[key] {
			fault("%q is used by no source", key)
		}
		for code := range text {
			if !slices.Contains(codes[:], code) {
				fault("%q is written in %q; expected en, de, fr", key, code)
			}
		}
		english := text[codes[English]]
		for l, code := range codes {
			list := text[code]
			if len(list) == 0 {
				fault("%q is missing in %q", key, code)
				continue
			}
			if len(list) != len(english) || len(list) > 2 {
				fault("%q has %d forms in %q and %d in English; expected a text in each, or a list of two", key, len(list), code, len(english))
				continue
			}
			for i, form := range list {
				if strings.TrimSpace(form) == "" || strings.TrimSpace(form) != form {
					fault("%q in %q is %q; expected text without spaces around it", key, code, form)
				}
				if got, want := placeholders(form), placeholders(english[i]); !slices.Equal(got, want) {
					fault("%q in %q has the placeholders %v, in English %v", key, code, got, want)
				}
				if Language(l) != English && form == english[i] && letters(form) > shortest {
					fault("%q in %q is English: %s", key, code, form)
				}
			}
		}
	}
	sort.Strings(faults)
	return faults
}

// letters is how many letters a text has beside its placeholders.
func letters(text string) int {
	n := 0
	for _, r := range placeholder.ReplaceAllString(text, "") {
		if unicode.IsLetter(r) {
			n++
		}
	}
	return n
}

// placeholders returns those of a text, each once, in order of their names. That of a
// number may stand in one form of a plural alone: "one pass", "{n} passes".
func placeholders(text string) []string {
	list := placeholder.FindAllString(text, -1)
	list = slices.DeleteFunc(list, func(p string) bool { return p == "{n}" })
	slices.Sort(list)
	return slices.Compact(list)
}
