// Where configuration files come from.

package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"liftbench/cmd/liftbench/settings"
)

// Files that are not on the disk have names with slashes on every system: a
// file whose name has a backslash is never asked for.
func TestNamedSourceAsksWithSlashes(t *testing.T) {
	files := fstest.MapFS{}
	for _, name := range []string{"machine.yaml", "field.geojson", "scenario.yaml"} {
		data, err := settings.InDemo.Read("demo/"+name, "a file of the demo")
		if err != nil {
			t.Fatal(err)
		}
		files["farm/east/"+name] = &fstest.MapFile{Data: data}
	}
	var asked []string
	u, err := loadIn("farm/east/scenario.yaml", settings.Named(func(name, what string) ([]byte, error) {
		asked = append(asked, name)
		if !fs.ValidPath(name) || strings.Contains(name, `\`) {
			t.Errorf("asked for %q", name)
		}
		return files.ReadFile(name)
	}))
	if err != nil {
		t.Fatalf("%v, after asking for %q", err, asked)
	}
	if len(asked) != 3 || u.Field == nil {
		t.Errorf("asked for %q; want machine, field and scenario", asked)
	}
}

// On this system path and filepath may do the same. So no function that finds
// an embedded file may use filepath, which on others joins by backslashes.
func TestNamedSourceHasNoSystemPaths(t *testing.T) {
	looked := 0
	for file, functions := range map[string]string{"settings/scenario.go": "Named", "settings/demo.go": "InDemo DemoOutFiles WriteDemo"} {
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			name := ""
			switch d := n.(type) {
			case *ast.FuncDecl:
				name = d.Name.Name
			case *ast.ValueSpec:
				name = d.Names[0].Name
			}
			for _, f := range strings.Fields(functions) {
				if name != f {
					continue
				}
				looked++
				ast.Inspect(n, func(n ast.Node) bool {
					if id, ok := n.(*ast.Ident); ok && id.Name == "filepath" {
						t.Errorf("%s: %s uses filepath", file, name)
					}
					return true
				})
			}
			return true
		})
	}
	if looked != 4 {
		t.Errorf("looked at %d functions; want 4", looked)
	}
}
