// What becomes of a mutant: it is compiled into its package's tests, which are
// run with limits on time and memory.

package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"
)

type duration = time.Duration

// fate is what became of a mutant.
type fate uint8

const (
	unbuildable fate = iota // does not compile: no mutant
	caught                  // a test fails
	hung                    // the tests ran into the time limit
	survived                // every test passes
)

// bench is a scratch directory for mutated files.
type bench struct {
	dir   string
	count atomic.Int64
}

// memoryKiB is the address space of a test process. A mutant that
// appends for ever fails by it instead of taking the machine's memory.
const memoryKiB = 6 << 20

func newBench() (*bench, error) {
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return nil, err
	}
	script := fmt.Sprintf("#!/bin/sh\nulimit -v %d\nexec \"$@\"\n", memoryKiB)
	return &bench{dir: dir}, os.WriteFile(filepath.Join(dir, "limited"), []byte(script), 0o755)
}

func (b *bench) close() { os.RemoveAll(b.dir) }

func defaultTimeout(dir string) duration {
	if dir == "replay/diagnose" {
		return 180 * time.Second
	}
	return 60 * time.Second
}

// test runs the tests of the package in dir with m in its place, or
// unchanged if m is nil. which are further arguments that say which tests.
func (b *bench) test(dir string, m *mutant, limit duration, which ...string) (output string, err error) {
	args := []string{"test", "-count=1", "-short", "-vet=off", "-failfast", "-p=1",
		"-timeout=" + limit.String(), "-exec=" + filepath.Join(b.dir, "limited")}
	if m != nil {
		overlay, err := b.overlay(m)
		if err != nil {
			return "", err
		}
		args = append(args, "-overlay="+overlay)
	}
	args = append(append(args, which...), "./"+dir)
	if drawsWithRapid(dir) {
		args = append(args, "-rapid.nofailfile") // it would go into the tree
	}
	out, err := exec.Command("go", args...).CombinedOutput()
	return string(out), err
}

// drawsWithRapid reports whether tests of the package in dir draw their input with rapid.
func drawsWithRapid(dir string) bool {
	names, _ := filepath.Glob(filepath.Join(dir, "*_test.go"))
	for _, name := range names {
		if text, err := os.ReadFile(name); err == nil && strings.Contains(string(text), `"pgregory.net/rapid"`) {
			return true
		}
	}
	return false
}

// overlay writes the mutated file and the file that tells the go command to
// read it in place of the original.
func (b *bench) overlay(m *mutant) (path string, err error) {
	base := filepath.Join(b.dir, fmt.Sprint(b.count.Add(1)))
	original, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	if err := os.WriteFile(base+".go", m.mutated(), 0o600); err != nil {
		return "", err
	}
	text, err := json.Marshal(map[string]map[string]string{"Replace": {original: base + ".go"}})
	if err != nil {
		return "", err
	}
	return base + ".json", os.WriteFile(base+".json", text, 0o600)
}

func (b *bench) fate(m *mutant, limit duration) fate {
	// Tests that ask GEOS are slow: they come last.
	dir := filepath.Dir(m.file)
	out, err := b.test(dir, m, limit, "-skip=GEOS")
	if err == nil {
		out, err = b.test(dir, m, limit, "-run=GEOS")
	}
	switch {
	case err == nil:
		return survived
	case strings.Contains(out, "[build failed]") || strings.Contains(out, "[setup failed]"):
		return unbuildable
	case strings.Contains(out, "panic: test timed out"):
		return hung
	}
	return caught
}

// readEquivalent reads the list of equivalent mutants: file, function, line,
// mutated line and the reason, with tabs between; # begins a comment line. An
// entry whose line is no longer in its file is an error.
func readEquivalent(path string) (map[string]bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	known := map[string]bool{}
	lines := bufio.NewScanner(f)
	for no := 1; lines.Scan(); no++ {
		if lines.Text() == "" || lines.Text()[0] == '#' {
			continue
		}
		col := strings.Split(lines.Text(), "\t")
		if len(col) != 5 || col[4] == "" {
			return nil, fmt.Errorf("%s:%d: %d columns; expected file, function, line, mutated line, reason", path, no, len(col))
		}
		source, err := os.ReadFile(col[0])
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", path, no, err)
		}
		if !strings.Contains(string(source), col[2]) {
			return nil, fmt.Errorf("%s:%d: %s no longer has the line %q", path, no, col[0], col[2])
		}
		known[strings.Join(col[:4], "\t")] = true
	}
	return known, lines.Err()
}
