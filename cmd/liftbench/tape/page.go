// The page for a phone, one file that needs neither server nor network.

package tape

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"html"
	"io"
	"regexp"
	"strings"

	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/wording"
)

var (
	//go:embed page/measure.html
	pageFrame string
	//go:embed page/measure.css
	pageStyle string
	//go:embed page/tape.js
	pageTape string
	//go:embed page/measure.js
	pageScript string
)

// writePage writes the page in the language that was asked for, or else in that of the browser.
func (o *options) writePage(w io.Writer) error {
	lang := ""
	if o.changed("lang") {
		lang = o.say.Language.String()
	}
	text, _ := pageIn(lang)
	_, err := io.WriteString(w, text)
	return err
}

// Page is the page in the browser's language, and the policy that lets it run its own script and style and
// load nothing.
func Page() (text, policy string) { return pageIn("") }

// pageIn is the page in a language; "" = the browser's.
func pageIn(lang string) (text, policy string) {
	english := in(language.English)
	// A text stands where its element's tag ends, as the script puts another language there.
	frame := placeOfText.ReplaceAllStringFunc(pageFrame, func(place string) string {
		key := placeOfText.FindStringSubmatch(place)[1]
		return `data-text="` + key + `">` + html.EscapeString(english.Text(key))
	})
	script := "const texts = " + pageTexts() + ";\n" + joined(pageTape) + joined(pageScript)
	policy = "default-src 'none'; script-src '" + hash(script) + "'; style-src '" + hash(pageStyle) + "'; base-uri 'none'; form-action 'none'"
	return strings.NewReplacer("{{policy}}", policy, "{{style}}", pageStyle, "{{script}}", script, "{{lang}}", lang, "{{safety}}", strings.ReplaceAll(wording.StandClear, "\n", " "), "{{noscript}}", noScript(), "{{version}}", version.String()).Replace(frame), policy
}

// noScript is what who runs no script reads, in every language.
func noScript() string {
	var all []string
	for _, l := range []language.Language{language.English, language.German, language.French} {
		all = append(all, in(l).Text("page.script"))
	}
	return html.EscapeString(strings.Join(all, " "))
}

// pageTexts are the texts that the page uses, in all languages, and the safety words.
func pageTexts() string {
	all, used := language.Load(textsFile), map[string]any{}
	for _, m := range textOfPage.FindAllStringSubmatch(pageFrame+pageScript, -1) {
		used[m[1]] = all[m[1]]
	}
	safety := map[string]string{}
	for _, l := range []language.Language{language.English, language.German, language.French} {
		safety[l.String()] = strings.ReplaceAll(wording.StandClearIn(l), "\n", " ")
	}
	used["safety.words"] = safety
	data, err := json.Marshal(used)
	if err != nil {
		panic(err) // strings alone
	}
	return string(data)
}

// textOfPage is where the page uses a text.
var textOfPage = regexp.MustCompile(`\btext\("([a-z.0-9]+)"`)

// joined is a module as part of one script: what it exports stands there, what it imports already does.
func joined(module string) string {
	var b strings.Builder
	for _, line := range strings.SplitAfter(module, "\n") {
		if !strings.HasPrefix(line, "import ") {
			b.WriteString(strings.TrimPrefix(line, "export "))
		}
	}
	return b.String()
}

// hash is how a content security policy names a script or a style.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}
