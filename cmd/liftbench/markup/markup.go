// Package markup writes HTML by hand: package html/template calls methods by name, for
// which the linker would have to keep every exported method of the program, a third of
// its size.
package markup

import (
	_ "embed"
	"fmt"
	"strings"
)

// Style is the look of every page that stands alone: on a screen, in the dark, on A4.
//
//go:embed style.html
var Style string

// escaper escapes text so that a browser shows it as it is, between tags and inside a
// quoted attribute.
var escaper = strings.NewReplacer("\x00", "\uFFFD", `"`, "&#34;", "&", "&amp;", "'", "&#39;", "+", "&#43;", "<", "&lt;", ">", "&gt;")

// Page is a page while it is being written.
type Page struct{ b strings.Builder }

// HTML appends markup as it is.
func (p *Page) HTML(markup string) { p.b.WriteString(markup) }

// Fill appends markup in which each %s is replaced by the next of texts, escaped. A per
// cent sign of the markup is written %%.
func (p *Page) Fill(markup string, texts ...string) {
	escaped := make([]any, len(texts))
	for i, t := range texts {
		escaped[i] = escaper.Replace(t)
	}
	fmt.Fprintf(&p.b, markup, escaped...)
}

// String returns what was written.
func (p *Page) String() string { return p.b.String() }
