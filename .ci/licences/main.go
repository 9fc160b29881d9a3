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

// add appends the licences in a module's folder; none is an error.
func add(out *bytes.Buffer, name, dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	found := false
	for _, e := range entries {
		upper := strings.ToUpper(e.Name())
		if e.IsDir() || !strings.HasPrefix(upper, "LICEN") && !strings.HasPrefix(upper, "COPYING") && !strings.HasPrefix(upper, "NOTICE") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		found = found || !strings.HasPrefix(upper, "NOTICE")
		fmt.Fprintf(out, "\n==== %s: %s ====\n\n%s\n", name, e.Name(), bytes.TrimSpace(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))))
	}
	if !found {
		return fmt.Errorf("%s: no licence in %s", name, dir)
	}
	return nil
}
