package report

import (
	"testing"

	"liftbench/cmd/liftbench/language"
)

// TestTexts: no text is missing, unused or left in English.
func TestTexts(t *testing.T) {
	for _, fault := range language.Load(textsFile).Faults("html.go", "diagnosishtml.go", "diagnosispage.go", "diagnosiswhere.go") {
		t.Error(fault)
	}
}
