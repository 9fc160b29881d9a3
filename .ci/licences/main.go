// Command licences prints the licence texts of all that is in a Go program: of each module
// that `go version -m` names, and of Go itself. It takes the program's path.
package main

import (
	"bytes"
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

func main() {
	if err := print(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "licences:", err)
		os.Exit(1)
	}
}

func print(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("%q; expected the path of one program", args)
	}
	info, err := buildinfo.ReadFile(args[0])
	if err != nil {
		return err
	}
	out := new(bytes.Buffer)
	fmt.Fprintf(out, "liftbench is a single static program. It holds Go %s and the modules below, under these licences.\n", info.GoVersion)
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	if err := add(out, "Go "+info.GoVersion, strings.TrimSpace(string(goroot))); err != nil {
		return err
	}
	for _, m := range info.Deps {
		text, err := exec.Command("go", "list", "-m", "-json", m.Path).Output()
		if err != nil {
			return fmt.Errorf("%s: %w", m.Path, err)
		}
		var module struct{ Dir, Version string }
		if err := json.Unmarshal(text, &module); err != nil {
			return err
		}
		if module.Version != m.Version {
			return fmt.Errorf("%s: the program holds %s, go.mod %s", m.Path, m.Version, module.Version)
		}
		if err := add(out, m.Path+" "+m.Version, module.Dir); err != nil {
			return err
		}
	}
	_, err = os.Stdout.Write(out.Bytes())
	return err
}

// beginnings are how the names of files with a licence begin, and of what goes with it.
var beginnings = []string{"LICEN", "COPYING", "NOTICE", "PATENTS"}

// add appends the licences in a module's folder, and those in a folder of licences there;
// none is an error.
func add(out *bytes.Buffer, name, dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	var files []string // ReadDir and Glob sort
	licensed := false
	for _, e := range entries {
		for i, b := range beginnings {
			if !strings.HasPrefix(strings.ToUpper(e.Name()), b) {
				continue
			}
			licensed = licensed || i < 2
			path := filepath.Join(dir, e.Name())
			if !e.IsDir() {
				files = append(files, path)
			} else if below, err := filepath.Glob(filepath.Join(path, "*")); err == nil {
				files = append(files, below...)
			}
		}
	}
	if !licensed {
		return fmt.Errorf("%s: no licence in %s", name, dir)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		if !utf8.Valid(text) { // the FreeType licence is Latin-1, whose bytes are code points
			runes := make([]rune, len(text))
			for i, b := range text {
				runes[i] = rune(b)
			}
			text = []byte(string(runes))
		}
		fmt.Fprintf(out, "\n==== %s: %s ====\n\n%s\n", name, filepath.Base(file), bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))))
	}
	return nil
}
