// The unit for systemd in the package.

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// mostExposure is how exposed the service may be, by systemd-analyze security, which goes
// from 0 to 10.
const mostExposure = 2.0

// TestUnit: systemd (Debian systemd) finds nothing wrong with the unit and little
// exposed, and live takes the flags that it and its configuration name. The ports and
// files are of another machine, so they are not opened.
func TestUnit(t *testing.T) {
	unit, err := os.ReadFile("../../.ci/packaging/liftbench.service")
	if err != nil {
		t.Fatal(err)
	}
	defaults, err := os.ReadFile("../../.ci/packaging/default")
	if err != nil {
		t.Fatal(err)
	}
	_, line, ok := strings.Cut(string(unit), "ExecStart=/usr/bin/liftbench ")
	_, ports, ok2 := strings.Cut(string(defaults), "LIVE=\"")
	if !ok || !ok2 {
		t.Fatal("no command in the unit, or no ports in its configuration")
	}
	line, _, _ = strings.Cut(line, "\n")
	ports, _, _ = strings.Cut(ports, "\"")
	args := strings.Fields(strings.Replace(line, "$LIVE", ports, 1))
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
	if err := os.WriteFile(path, []byte(strings.Replace(string(unit), "/usr/bin/liftbench", "/bin/true", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(program, "verify", "--man=no", "--recursive-errors=no", path).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("%v: %s", err, out)
	}
	out, err := exec.Command(program, "security", "--offline=true", path).CombinedOutput()
	found := regexp.MustCompile(`Overall exposure level for liftbench.service: ([0-9.]+)`).FindSubmatch(out)
	if err != nil || found == nil {
		t.Fatalf("%v: %s", err, out)
	}
	if exposure, err := strconv.ParseFloat(string(found[1]), 64); err != nil || exposure > mostExposure {
		t.Errorf("exposure %s; want at most %v: %s", found[1], mostExposure, out)
	}
}
