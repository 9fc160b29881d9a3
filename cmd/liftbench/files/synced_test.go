// What a power cut must not leave: a file under its name whose content is not on the disk.

package files

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Every file is synced before it gets its name, as the kernel sees it: strace (Debian strace)
// tells the calls of a process that writes one file and a set of two.
func TestSyncedBeforeRenamed(t *testing.T) {
	const variable = "LIFTBENCH_TEST_WRITES_TO"
	text := func(w io.Writer) error { _, err := io.WriteString(w, "late by 3 cm\n"); return err }
	if dir := os.Getenv(variable); dir != "" {
		if err := WriteWhole(filepath.Join(dir, "one.csv"), text); err != nil {
			t.Fatal(err)
		}
		if err := WriteDir(filepath.Join(dir, "set"), []File{{Name: "two.csv", Write: text}, {Name: "three.csv", Write: text}}); err != nil {
			t.Fatal(err)
		}
		return
	}
	strace, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: strace")
		}
		t.Skip("missing: strace")
	}
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "set"), 0o777); err != nil {
		t.Fatal(err)
	}
	told := filepath.Join(dir, "calls.txt")
	c := exec.Command(strace, "-f", "-y", "-e", "trace=fsync,rename,renameat,renameat2", "-o", told, os.Args[0], "-test.run=^TestSyncedBeforeRenamed$")
	c.Env = append(os.Environ(), variable+"="+dir)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	calls, err := os.ReadFile(told)
	if err != nil {
		t.Fatal(err)
	}
	synced, renamed := map[string]bool{}, 0
	sync := regexp.MustCompile(`fsync\(\d+<([^>]*)>\) += 0`)
	rename := regexp.MustCompile(`rename\w*\(.*?"([^"]*)".*"([^"]*)".*\) += 0`)
	for line := range strings.Lines(string(calls)) {
		if m := sync.FindStringSubmatch(line); m != nil {
			synced[filepath.Base(m[1])] = true
		}
		if m := rename.FindStringSubmatch(line); m != nil {
			renamed++
			if !synced[filepath.Base(m[1])] {
				t.Errorf("%s got its name before it was synced", filepath.Base(m[2]))
			}
		}
	}
	if renamed != 3 {
		t.Errorf("%d files got their names, want 3:\n%s", renamed, calls)
	}
}
