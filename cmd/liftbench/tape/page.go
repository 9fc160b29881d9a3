// The page for a phone, one file that needs neither server nor network.

package tape

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"io"
	"strings"

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

// WritePage writes the page.
func WritePage(w io.Writer) error {
	text, _ := Page()
	_, err := io.WriteString(w, text)
	return err
}

// Page is the page, and the policy that lets it run its own script and style and load nothing.
func Page() (text, policy string) {
	script := joined(pageTape) + joined(pageScript)
	policy = "default-src 'none'; script-src '" + hash(script) + "'; style-src '" + hash(pageStyle) + "'; base-uri 'none'; form-action 'none'"
	return strings.NewReplacer("{{policy}}", policy, "{{style}}", pageStyle, "{{script}}", script,
		"{{safety}}", terminalText(wording.StandClear), "{{version}}", version.String()).Replace(pageFrame), policy
}

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
