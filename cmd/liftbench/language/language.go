// Package language writes pages in English, German and French: texts from a
// catalogue of each room, with their plurals, and numbers and dates as the
// language writes them.
//
// A room keeps its texts in one JSON file beside its code, all languages of a
// text together:
//
//	"passes": {
//	  "en": ["{n} pass at {speed}", "{n} passes at {speed}"],
//	  "de": ["{n} Überfahrt mit {speed}", "{n} Überfahrten mit {speed}"],
//	  "fr": ["{n} passage à {speed}", "{n} passages à {speed}"]
//	}
//
// A list holds the form for one and the form for any other number n. Faults tells
// a test of the room what is missing, unused or untranslated.
package language

import (
	"fmt"
	"strconv"
	"strings"
)

// Language is a language in which pages are written.
type Language uint8

const (
	English Language = iota
	German
	French
)

// codes are the languages by their codes of ISO 639-1.
var codes = [...]string{English: "en", German: "de", French: "fr"}

// String returns the code of ISO 639-1: en, de, fr.
func (l Language) String() string { return codes[l] }

// Parse returns the language of a code.
func Parse(code string) (Language, error) {
	for l, c := range codes {
		if c == code {
			return Language(l), nil
		}
	}
	return English, fmt.Errorf("found %q; expected en, de or fr", code)
}

// Accepted returns the language that an Accept-Language header likes best (RFC 9110, 12.5.4), English if it
// likes none of ours.
func Accepted(header string) Language {
	best, most := English, 0.0
	for _, choice := range strings.Split(header, ",") {
		tag, parameters, _ := strings.Cut(choice, ";")
		code, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(tag)), "-")
		l, err := Parse(code)
		if err != nil {
			continue
		}
		q := 1.0
		if weight, ok := strings.CutPrefix(strings.ReplaceAll(parameters, " ", ""), "q="); ok {
			if q, err = strconv.ParseFloat(weight, 64); err != nil {
				continue
			}
		}
		if q > most && q <= 1 {
			best, most = l, q
		}
	}
	return best
}

// one reports whether the language says the number n in the singular: French
// none as well as one (CLDR, Language Plural Rules).
func (l Language) one(n int) bool { return n == 1 || l == French && n == 0 }
