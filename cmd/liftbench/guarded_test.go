// No goroutine of live may end the program by a panic while tools are in work.

package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
)

// TestGoroutinesAreGuarded: wherever a goroutine is started in packages that live
// uses, or a function is handed to one, it is a crash.Guard. The rooms below
// replay start none at all but in sim/sweep, which live does not use.
func TestGoroutinesAreGuarded(t *testing.T) {
	found := 0
	for dir, wanted := range map[string]bool{"../../replay": true, ".": true, "../../nmea": false, "../../sections": false, "../../sim": false} {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() && (d.Name() == "testdata" || path == "../../sim/sweep") {
				return filepath.SkipDir
			}
			if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return nil
			}
			files := token.NewFileSet()
			tree, err := parser.ParseFile(files, path, nil, 0)
			if err != nil {
				return err
			}
			ast.Inspect(tree, func(n ast.Node) bool {
				started := startedBy(n)
				if started == nil {
					return true
				}
				found++
				if !wanted || !isGuard(started) {
					t.Errorf("%s: a goroutine that is not guarded; expected crash.Guard", files.Position(n.Pos()))
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if found < 20 {
		t.Errorf("%d goroutines are started; expected to find 20 or more", found)
	}
}

// startedBy returns the function that n starts in a goroutine of its own: by go, by
// the method Go of a group, or by an AfterFunc. Nil = n starts none.
func startedBy(n ast.Node) ast.Expr {
	switch n := n.(type) {
	case *ast.GoStmt:
		return n.Call.Fun
	case *ast.CallExpr:
		if s, ok := n.Fun.(*ast.SelectorExpr); ok && len(n.Args) > 0 && (s.Sel.Name == "Go" || s.Sel.Name == "AfterFunc") {
			return n.Args[len(n.Args)-1]
		}
	}
	return nil
}

func isGuard(e ast.Expr) bool {
	call, ok := e.(*ast.CallExpr)
	if !ok {
		return false
	}
	s, ok := call.Fun.(*ast.SelectorExpr)
	if !ok {
		return false
	}
	pkg, ok := s.X.(*ast.Ident)
	return ok && pkg.Name == "crash" && s.Sel.Name == "Guard"
}
