// The files of the built-in bad day, for tests of what is done with them.

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
)

// badDay holds the files by name. To drive the day takes most of a second, so it is
// driven once; that every run writes the same is TestBadDay's.
var badDay = sync.OnceValues(func() (map[string][]byte, error) {
	dir, err := os.MkdirTemp("", "badday")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if status, _, stderr := command("", "diagnose", "--write-demo", dir); status != 0 {
		return nil, fmt.Errorf("status %d: %s", status, stderr)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	day := map[string][]byte{}
	for _, e := range entries {
		if day[e.Name()], err = os.ReadFile(filepath.Join(dir, e.Name())); err != nil {
			return nil, err
		}
	}
	return day, nil
})

// keepBadDay writes the files to dir, as liftbench diagnose --write-demo does.
func keepBadDay(t *testing.T, dir string) {
	t.Helper()
	day, err := badDay()
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range day {
		keep(t, filepath.Join(dir, name), data)
	}
}
