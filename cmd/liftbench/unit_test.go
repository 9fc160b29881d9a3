// The unit for systemd in the README.

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestUnit: systemd (Debian systemd) finds nothing wrong with the unit, and live
// takes the flags that it names. The ports and files are of another machine, so
// they are not opened.
func TestUnit(t *testing.T) {
	readme, err := os.ReadFile("../../replay/live/README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(readme), "```ini\n")
	unit, _, ok := strings.Cut(rest, "```")
	_, line, ok2 := strings.Cut(unit, "ExecStart=/usr/local/bin/liftbench ")
	if !ok || !ok2 {
		t.Fatal("no unit in the README")
	}
	line, _, _ = strings.Cut(line, "\n")
	args := strings.Fields(line)
	args[len(args)-1] = filepath.Join(t.TempDir(), "absent.yaml")
	if status, _, stderr := command("", args...); status != 2 || !strings.Contains(stderr, "absent.yaml: no such file") {
		t.Errorf("exit status %d, %s; want the flags taken and the scenario missing", status, stderr)
	}
	program, err := exec.LookPath("systemd-analyze")
	if err != nil {
		outside(t, "systemd-analyze (Debian systemd)")
	}
	path := filepath.Join(t.TempDir(), "liftbench.service")
	// The program is not installed here; any other is.
	if err := os.WriteFile(path, []byte(strings.Replace(unit, "/usr/local/bin/liftbench", "/bin/true", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(program, "verify", "--man=no", "--recursive-errors=no", path).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("%v: %s", err, out)
	}
}
