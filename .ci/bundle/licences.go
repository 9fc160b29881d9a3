// The licences of what is linked into a program, from the module cache.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sort"
	"strings"
)

// licenceTexts returns the licence texts of Go and of all modules of a program. A module
// without one is an error: it could not be passed on.
func licenceTexts(info *debug.BuildInfo) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("The program contains the Go runtime and the modules below, each under the licence that follows its name.\n")
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("go env GOROOT: %w", err)
	}
	if err := appendLicence(&b, "Go "+runtime.Version(), strings.TrimSpace(string(root))); err != nil {
		return nil, err
	}
	for _, m := range info.Deps {
		text, err := exec.Command("go", "list", "-m", "-json", m.Path).Output()
		if err != nil {
			return nil, fmt.Errorf("go list -m %s: %w", m.Path, err)
		}
		var listed struct{ Version, Dir string }
		if err := json.Unmarshal(text, &listed); err != nil {
			return nil, err
		}
		if listed.Version != m.Version || listed.Dir == "" {
			return nil, fmt.Errorf("%s: the program has %s and the module cache %s in %q", m.Path, m.Version, listed.Version, listed.Dir)
		}
		if err := appendLicence(&b, m.Path+" "+m.Version, listed.Dir); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}

// names are how files with a licence, or with what has to go with it, begin.
var names = []string{"licen", "copying", "notice", "patents"}

// appendLicence appends the licence files at the root of a module.
func appendLicence(b *bytes.Buffer, name, dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var files []string
	for _, e := range entries {
		found := filepath.Join(dir, e.Name())
		for _, n := range names {
			if !strings.HasPrefix(strings.ToLower(e.Name()), n) {
				continue
			}
			if !e.IsDir() {
				files = append(files, found)
			} else if below, err := filepath.Glob(filepath.Join(found, "*")); err == nil {
				files = append(files, below...)
			}
		}
	}
	if len(files) == 0 {
		return fmt.Errorf("%s: no licence in %s", name, dir)
	}
	sort.Strings(files)
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		fmt.Fprintf(b, "\n\n======== %s, %s\n\n%s\n", name, filepath.Base(file), bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))))
	}
	return nil
}
