// What is said, in every language.

package tape

import (
	"testing"

	"liftbench/cmd/liftbench/language"
)

// TestTexts: no text is missing, unused or left in English.
func TestTexts(t *testing.T) {
	for _, fault := range language.Load(textsFile).Faults("words.go", "answer.go", "ask.go", "out.go", "plansheet.go", "acceptance.go", "page.go", "plan.html", "page/measure.html", "page/measure.js") {
		t.Error(fault)
	}
}
