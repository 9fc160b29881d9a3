// The library as a program in C uses it.

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// A program in C comes to what ExampleController of package sections does.
func TestFromC(t *testing.T) {
	cc, err := exec.LookPath("cc")
	if err != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: cc (Debian gcc)")
		}
		t.Skip("missing: cc (Debian gcc)")
	}
	dir := t.TempDir()
	archive, program := filepath.Join(dir, "libsections.a"), filepath.Join(dir, "example")
	for _, command := range [][]string{
		{"go", "build", "-buildmode=c-archive", "-o", archive, "."},
		{cc, "-std=c99", "-Wall", "-Wextra", "-Werror", "-o", program, "example/example.c", archive, "-lm", "-lpthread"},
	} {
		if out, err := exec.Command(command[0], command[1:]...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v: %s", command, err, out)
		}
	}
	got, err := exec.Command(program).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, got)
	}
	const want = "10.40 s: drop section 1\n10.40 s: drop section 2\n30.70 s: lift section 1\n30.70 s: lift section 2\n" +
		"refused: 0 sections; expected 1 to 256\n"
	if string(got) != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}
