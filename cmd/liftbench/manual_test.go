// The manual pages, made of the same texts as the help.

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
	"github.com/spf13/pflag"
)

// manualVariable names the folder for the manual pages where .ci/deb wants them.
const manualVariable = "LIFTBENCH_MANUAL"

// TestManual writes a page for each command and each topic of the help. man (Debian
// man-db) finds nothing wrong with them, and shows every flag and every word of the text.
// Their date is SOURCE_DATE_EPOCH, in s since 1970, as reproducible-builds.org has it.
func TestManual(t *testing.T) {
	dir := os.Getenv(manualVariable)
	if dir == "" {
		dir = t.TempDir()
	}
	date := time.Unix(0, 0).UTC()
	if text := os.Getenv("SOURCE_DATE_EPOCH"); text != "" {
		s, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		date = time.Unix(s, 0).UTC()
	}
	man, err := exec.LookPath("man")
	if err != nil {
		outside(t, "man (Debian man-db)")
	}
	pages := 0
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		c.InitDefaultHelpFlag()
		for _, sub := range c.Commands() {
			if sub.Name() != "help" && !sub.Hidden {
				visit(sub)
			}
		}
		title, section, told, page := strings.ReplaceAll(c.CommandPath(), " ", "-"), "1", c.Long, new(bytes.Buffer)
		if c.Runnable() {
			header := doc.GenManHeader{Title: strings.ToUpper(title), Section: section, Date: &date, Source: "liftbench", Manual: "liftbench"}
			if err := doc.GenMan(c, &header, page); err != nil {
				t.Fatal(err)
			}
		} else {
			section = "7"
			told = topicPage(page, c, title, date)
		}
		path := filepath.Join(dir, title+"."+section)
		if err := os.WriteFile(path, page.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		pages++
		cmd := exec.Command(man, "--warnings=w", "--local-file", path)
		cmd.Env = append(os.Environ(), "MANWIDTH=500", "LC_ALL=C.UTF-8", "MANROFFOPT=-c", "PAGER=cat", "MANPAGER=cat", "MAN_KEEP_FORMATTING=")
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		shown, err := cmd.Output()
		if err != nil || stderr.Len() > 0 {
			t.Errorf("man %s: %v: %s", path, err, stderr.String())
		}
		words := strings.Join(strings.Fields(string(shown)), " ")
		for _, word := range strings.Fields(told) {
			if !strings.Contains(words, word) {
				t.Errorf("man %s does not show %q", title, word)
			}
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && c.Runnable() && !strings.Contains(words, "--"+f.Name) {
				t.Errorf("man %s does not show --%s", title, f.Name)
			}
		})
		if len(words) < 200 {
			t.Errorf("man %s shows only %q", title, words)
		}
	}
	visit(newRootCommand())
	if pages < 20 {
		t.Errorf("%d pages; expected at least 20", pages)
	}
}

// topicPage writes the page of a help topic, line for line as the help prints it, which
// it returns. The requests are those of man(7).
func topicPage(to *bytes.Buffer, c *cobra.Command, title string, date time.Time) string {
	var text bytes.Buffer
	c.SetOut(&text)
	_ = c.Help() // prints what SetHelpFunc gave it
	escape := strings.NewReplacer(`\`, `\e`, "-", `\-`, "`", `\(ga`, "'", `\(aq`, "^", `\(ha`, "~", `\(ti`)
	fmt.Fprintf(to, ".TH \"%s\" \"7\" \"%s\" \"liftbench\" \"liftbench\"\n.nh\n.SH NAME\n%s \\- %s\n.SH DESCRIPTION\n.nf\n",
		strings.ToUpper(title), date.Format("Jan 2006"), escape.Replace(title), escape.Replace(c.Short))
	for line := range strings.Lines(text.String()) {
		if strings.HasPrefix(line, ".") {
			to.WriteString(`\&`)
		}
		to.WriteString(escape.Replace(line))
	}
	to.WriteString(".fi\n")
	return text.String()
}
