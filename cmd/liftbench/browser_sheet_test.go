//go:build linux

// The acceptance sheet in a browser and on paper, in each language.

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// browserSheet: the sheet stands alone and hinders nobody, and as PDF each of its words
// is on A4, read back by pdftotext: what is signed, with the signatures, on the first page.
func browserSheet(t *testing.T, c *chromium) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		outside(t, "pdftotext (Debian poppler-utils)")
	}
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	c.run(t, "check", "--write-demo", at("beets"))
	c.run(t, "tape", "--write-demo", at("yard"))
	b := c.newTab(t, 1000, 900)
	for _, lang := range []string{"en", "de", "fr"} {
		c.run(t, "run", "--lang", lang, "--sheet", at("demo-"+lang+".html"), "--sheet-file", at("beets/sheet.yaml"))
		c.run(t, "diagnose", "--lang", lang, "--sheet", at("badday-"+lang+".html"))
		c.run(t, "tape", "--lang", lang, "--sheet", at("tape-"+lang+".html"), "--sheet-file", at("beets/sheet.yaml"), at("yard/passes.csv"))
		c.run(t, "tape", "--plan", "--both-ways", "--lang", lang, "--out", at("plan-"+lang))
		b.do(chromedp.Navigate("file://" + at("plan-"+lang+"/plan.html")))
		for _, width := range []int{1000, 360} {
			b.size(width, 740)
			b.audit(fmt.Sprintf("plan in %s, %d px", lang, width))
		}
		pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
		b.must(err)
		if pages := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1)); pages != 1 {
			t.Errorf("the plan in %s is printed on %d pages; want 1", lang, pages)
		}
		for _, name := range []string{"demo-" + lang, "badday-" + lang, "tape-" + lang} {
			b.size(1000, 900)
			b.do(chromedp.Navigate("file://" + at(name+".html")))
			for _, scheme := range []string{"light", "dark"} {
				b.emulate("prefers-color-scheme", scheme)
				b.audit(name + ", " + scheme)
			}
			b.inEveryFont(func(family string) { b.audit(name + ", " + family) })
			b.size(360, 740)
			b.audit(name + ", 360 px")
			b.picture("sheet-" + name + "-360px")
			b.emulate("prefers-color-scheme", "light")
			pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
			b.must(err)
			if !regexp.MustCompile(`/MediaBox \[0 0 59[45][.\d]* 84[12][.\d]*\]`).Match(pdf) {
				t.Errorf("%s is not printed on A4", name)
			}
			if os.Getenv("LIFTBENCH_SHOTS") != "" {
				b.save("sheet-"+name+".pdf", pdf)
			}
			read := exec.Command("pdftotext", "-", "-")
			read.Stdin = bytes.NewReader(pdf)
			text, err := read.Output()
			b.must(err)
			pages := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
			if len(pages) != 2 {
				t.Errorf("%s: %d pages; want what is signed on one, the crossings on another", name, len(pages))
			}
			// Words that break at the end of a line are read in two; so letters are compared.
			letters := func(s string) string { return regexp.MustCompile(`[^\pL\pN]+`).ReplaceAllString(s, "") }
			all := letters(string(text))
			for _, word := range strings.Fields(b.text(`document.body.innerText`)) {
				if w := letters(word); w != "" && !strings.Contains(all, w) {
					t.Errorf("%s: %q is not on paper", name, word)
				}
			}
			last := b.text(`document.querySelector(".sign tbody tr:last-child th").innerText`)
			if !strings.Contains(pages[0], last) {
				t.Errorf("%s: the first page has no %q", name, last)
			}
		}
	}
}
