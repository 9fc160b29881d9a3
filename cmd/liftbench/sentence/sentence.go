// Package sentence puts the sentences of a diagnosis, and what is wrong with rows of readings, which are made in
// English, into German and French. It
// knows each by its wording, with places for what differs: numbers, sizes with their units, intervals, and words
// from a list. Numbers are then written as the language does. sentences.json holds them all.
//
//	text, ok := sentence.In(language.German, "Lifts come 30 cm late …")
package sentence

import (
	_ "embed"
	"encoding/json"
	"regexp"
	"sort"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"liftbench/cmd/liftbench/language"
)

//go:embed sentences.json
var file []byte

// book is the file, ready to be looked up in.
type book struct {
	Words     map[string]map[string]string `json:"words"`
	Sentences []*entry                     `json:"sentences"`
}

// entry is one sentence, with places in braces. The first letter of a place's name says what stands there:
// n a number, u a size with its unit, i an interval of 95 %, a how far a clock is ahead or behind, w a word of the list, s part of a sentence
// that is an entry of its own; k anything, c a column of a file, q a quotation, f the name of a file, which
// stay as they are.
type entry struct {
	EN string `json:"en"`
	DE string `json:"de"`
	FR string `json:"fr"`

	pattern *regexp.Regexp
	places  []string
}

const number = `[-+]?\d+(?:\.\d+)?`

var (
	place    = regexp.MustCompile(`\{[a-z]\w*\}`)
	numbers  = regexp.MustCompile(number)
	interval = regexp.MustCompile(`^95 % interval (` + number + `) to (` + number + `)(.*)$`)
)

// clockWords say which way a clock is off.
var clockWords = map[language.Language]*strings.Replacer{
	language.German: strings.NewReplacer("ahead", "vor", "behind", "nach", " d ", " Tage "),
	language.French: strings.NewReplacer("ahead", "en avance", "behind", "en retard", " d ", " jours "),
}

var load = sync.OnceValue(func() *book {
	b := &book{}
	if err := json.Unmarshal(file, b); err != nil {
		panic("sentences: " + err.Error()) // a test loads them
	}
	var words []string
	for w := range b.Words {
		words = append(words, regexp.QuoteMeta(w))
	}
	sort.Slice(words, func(i, j int) bool {
		return len(words[i]) > len(words[j]) || len(words[i]) == len(words[j]) && words[i] < words[j]
	})
	kinds := map[byte]string{
		'n': `(` + number + `)`, 'u': `(` + number + ` (?:ms|cm|km/h|m|s))`, 'a': `(` + number + ` (?:d|h|s) (?:ahead|behind))`, 'w': `((?i:` + strings.Join(words, "|") + `))`,
		'i': `(95 % interval ` + number + ` to ` + number + `(?: (?:ms|cm|m|s|%))?)`, 's': `(.+?)`, 'k': `([^)]*)`, 'c': `([a-z_]+)`, 'q': `("(?:[^"\\]|\\.)*")`, 'f': `([^"]+?)`,
	}
	for _, e := range b.Sentences {
		var p strings.Builder
		p.WriteString("^")
		rest := e.EN
		for _, at := range place.FindAllString(e.EN, -1) {
			before, after, _ := strings.Cut(rest, at)
			p.WriteString(initial(before, rest == e.EN) + kinds[at[1]])
			e.places = append(e.places, at)
			rest = after
		}
		end := initial(rest, rest == e.EN) + `(?: |$)`
		if rest == "" {
			end = "$" // what a place holds at the end goes on to the end
		}
		e.pattern = regexp.MustCompile(p.String() + end)
	}
	return b
})

// initial is fixed text as a pattern; where the text begins it may have a capital or none.
func initial(text string, begins bool) string {
	if !begins || text == "" {
		return regexp.QuoteMeta(text)
	}
	first, n := utf8.DecodeRuneInString(text)
	return "[" + regexp.QuoteMeta(string(unicode.ToUpper(first))) + regexp.QuoteMeta(string(unicode.ToLower(first))) + "]" + regexp.QuoteMeta(text[n:])
}

// In returns sentences in a language. ok is false where one of them is not known; the text is then as it was.
func In(l language.Language, text string) (said string, ok bool) {
	if l == language.English || text == "" {
		return text, true
	}
	return load().in(l, text, 0)
}

// deepest is how many parts of sentences lie in each other at most; of more nothing is known.
const deepest = 5

// in is In for a text that is part of so many others.
func (b *book) in(l language.Language, text string, within int) (string, bool) {
	if within > deepest {
		return text, false
	}
	for _, e := range b.Sentences {
		m := e.pattern.FindStringSubmatch(text)
		if m == nil {
			continue
		}
		said, ok := b.fill(l, e, m, within)
		if !ok {
			continue
		}
		if rest := strings.TrimSpace(text[len(m[0]):]); rest != "" {
			more, ok := b.in(l, rest, within)
			if !ok {
				continue
			}
			said += " " + more
		}
		return said, true
	}
	return text, false
}

// fill puts what was found in the places of a sentence into its translation.
func (b *book) fill(l language.Language, e *entry, found []string, within int) (string, bool) {
	said := e.DE
	if l == language.French {
		said = e.FR
	}
	decimal := func(s string) string {
		return numbers.ReplaceAllStringFunc(s, func(n string) string {
			return strings.NewReplacer("-", "−", ".", l.DecimalMark()).Replace(n)
		})
	}
	for i, at := range e.places {
		value := found[i+1]
		switch at[1] {
		case 'n', 'u':
			value = decimal(value)
		case 'i':
			m := interval.FindStringSubmatch(value)
			if l == language.French {
				value = "intervalle à 95\u00a0% : " + decimal(m[1]) + " à " + decimal(m[2]) + m[3]
			} else {
				value = "95-%-Bereich " + decimal(m[1]) + " bis " + decimal(m[2]) + m[3]
			}
		case 'a':
			value = clockWords[l].Replace(decimal(value))
		case 'w':
			value = b.word(l, value)
		case 's':
			var ok bool
			if value, ok = b.in(l, value, within+1); !ok {
				return "", false
			}
		}
		said = strings.ReplaceAll(said, at, value)
	}
	// A sentence begins with a capital, a part of one as it did.
	first, n := utf8.DecodeRuneInString(said)
	if begins, _ := utf8.DecodeRuneInString(found[0]); unicode.IsUpper(begins) {
		said = string(unicode.ToUpper(first)) + said[n:]
	}
	return said, true
}

// word is a word of the list.
func (b *book) word(l language.Language, english string) string {
	if w, ok := b.Words[english]; ok {
		return w[l.String()]
	}
	return b.Words[strings.ToLower(english[:1])+english[1:]][l.String()]
}
