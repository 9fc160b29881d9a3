package files

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"liftbench/cmd/liftbench/failure"
)

// Where one file of an earlier run cannot be removed, all of them stay as they are, and
// nothing else is left. Here its name is none that a file can have; under Windows it is
// one that another program has open.
func TestEarlierFilesStayTogether(t *testing.T) {
	dir := t.TempDir()
	paths := []string{filepath.Join(dir, "events.csv"), filepath.Join(dir, "gone.csv"), filepath.Join(dir, "no folder", "\x00.csv")}
	if err := os.WriteFile(paths[0], []byte("old"), 0o666); err != nil {
		t.Fatal(err)
	}
	err := removeAll(paths)
	var input *failure.Input
	if !errors.As(err, &input) || input.File != paths[2] {
		t.Errorf("%v; want an error of %q", err, paths[2])
	}
	if text, err := os.ReadFile(paths[0]); err != nil || string(text) != "old" {
		t.Errorf("%q, %v; want the old file", text, err)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("%v, %v; want events.csv alone", entries, err)
	}
}
