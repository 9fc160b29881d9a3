// What is written on the figures, in the language of their page.

package figure

import (
	_ "embed"
	"sync"

	"liftbench/cmd/liftbench/language"
)

//go:embed texts.json
var textsFile []byte

var catalogue = sync.OnceValue(func() language.Catalogue { return language.Load(textsFile) })

// wordsIn returns the words of the figures in a language.
func wordsIn(l language.Language) language.Texts { return catalogue().In(l) }

// meters is a length with its unit.
func meters(length string) string { return length + " m" }
