package main

import (
	"os/exec"
	"strings"
	"testing"
)

// A controller from outside that knows straight rows alone is told of rows that bend in words that it passes over.
func TestLockstepPassesOverRowsThatBend(t *testing.T) {
	if _, err := exec.LookPath("python3"); err != nil {
		outside(t, "python3")
	}
	status, stdout, stderr := command("", "bench", "--lockstep", "--exec", "python3 testdata/controllers/naive.py", "../../testdata/curved/constant-radius.yaml")
	if status == 2 || !strings.Contains(stdout, "setpoints in") || !strings.Contains(stdout, "0 damaged") {
		t.Errorf("status %d: %s%s", status, stdout, stderr)
	}
}
