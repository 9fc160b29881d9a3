// Source: products that go into sums, and calls of functions that differ.

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/constant"
	"go/format"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
)

// differing are functions of package math that differ between processors: in
// assembly on some, or with products and sums that some fuse.
var differing = []string{
	"Acos", "Acosh", "Asin", "Asinh", "Atan", "Atan2", "Atanh", "Cbrt", "Cos", "Cosh", "Erf", "Erfc", "Erfcinv", "Erfinv",
	"Exp", "Exp2", "Expm1", "Gamma", "Hypot", "J0", "J1", "Jn", "Lgamma", "Log", "Log10", "Log1p", "Log2", "Pow", "Sin", "Sincos",
	"Sinh", "Tan", "Tanh", "Y0", "Y1", "Yn",
}

// allowed are files whose results are rounded to float32 before anything hangs on
// their last bits.
var allowed = map[string]bool{"nmea/decode_accuracy.go": true}

// source is a package as the compiler sees it.
type source struct {
	fset  *token.FileSet
	files []*ast.File
	paths []string
	types map[ast.Expr]types.TypeAndValue
}

// sources loads the packages with their types.
func sources() ([]source, error) {
	cmd := exec.Command("go", append([]string{"list", "-export", "-deps", "-json=ImportPath,Dir,GoFiles,Export,Standard,Module,DepOnly"}, packages...)...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w\n%s", err, stderr.Bytes())
	}
	type listed struct {
		ImportPath, Dir, Export string
		GoFiles                 []string
		DepOnly                 bool
	}
	exports := map[string]string{}
	var ours []listed
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		exports[p.ImportPath] = p.Export
		if !p.DepOnly {
			ours = append(ours, p)
		}
	}
	var all []source
	for _, p := range ours {
		s := source{fset: token.NewFileSet(), types: map[ast.Expr]types.TypeAndValue{}}
		for _, name := range p.GoFiles {
			path := filepath.Join(p.Dir, name)
			f, err := parser.ParseFile(s.fset, path, nil, parser.ParseComments)
			if err != nil {
				return nil, err
			}
			s.files, s.paths = append(s.files, f), append(s.paths, path)
		}
		imports := importer.ForCompiler(s.fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
		check := types.Config{Importer: imports}
		if _, err := check.Check(p.ImportPath, s.fset, s.files, &types.Info{Types: s.types}); err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, nil
}

// differingCalls returns where functions that differ are called.
func differingCalls() ([]string, error) {
	all, err := sources()
	if err != nil {
		return nil, err
	}
	var found []string
	for _, s := range all {
		for _, f := range s.files {
			ast.Inspect(f, func(n ast.Node) bool {
				sel, ok := n.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				if allowed[here(s.fset.Position(sel.Pos()).Filename)] {
					return true
				}
				if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "math" && slices.Contains(differing, sel.Sel.Name) {
					at := s.fset.Position(sel.Pos())
					found = append(found, fmt.Sprintf("%s:%d: math.%s", here(at.Filename), at.Line, sel.Sel.Name))
				}
				return true
			})
		}
	}
	return found, nil
}

// wrapAll writes a conversion around every product that goes into a sum.
func wrapAll() error {
	all, err := sources()
	if err != nil {
		return err
	}
	for _, s := range all {
		for i, f := range s.files {
			if err := s.wrap(f, s.paths[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// insertion is text that goes into a file at an offset, in place of some bytes.
type insertion struct {
	at, instead int
	text        string
}

func (s *source) wrap(f *ast.File, path string) error {
	var insertions []insertion
	offset := func(p token.Pos) int { return s.fset.Position(p).Offset }
	// product converts x, where it is a product of floats that is no constant.
	product := func(x ast.Expr) {
		outer := x
		if u, ok := x.(*ast.UnaryExpr); ok && u.Op == token.SUB {
			x, outer = u.X, u.X
		}
		parens := false
		for {
			p, ok := x.(*ast.ParenExpr)
			if !ok {
				break
			}
			x, parens = p.X, true
		}
		b, ok := x.(*ast.BinaryExpr)
		// The compiler makes x/2 of a constant power of two x·½.
		if !ok || b.Op != token.MUL && !(b.Op == token.QUO && powerOfTwo(s.types[b.Y].Value)) || s.types[b].Value != nil {
			return
		}
		basic, ok := s.types[b].Type.Underlying().(*types.Basic)
		if !ok || basic.Info()&types.IsFloat == 0 {
			return
		}
		name := s.types[b].Type.String()
		if basic.Kind() == types.UntypedFloat {
			name = "float64"
		}
		if parens {
			insertions = append(insertions, insertion{offset(outer.Pos()), 0, name})
			return
		}
		insertions = append(insertions, insertion{offset(b.Pos()), 0, name + "("}, insertion{offset(b.End()), 0, ")"})
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BinaryExpr:
			if n.Op == token.ADD || n.Op == token.SUB {
				product(n.X)
				product(n.Y)
			}
		case *ast.AssignStmt:
			if n.Tok == token.ADD_ASSIGN || n.Tok == token.SUB_ASSIGN {
				product(n.Rhs[0])
			}
		}
		return true
	})
	if len(insertions) == 0 {
		return nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	slices.SortStableFunc(insertions, func(a, b insertion) int { return b.at - a.at })
	for _, in := range insertions {
		text = slices.Concat(text[:in.at], []byte(in.text), text[in.at+in.instead:])
	}
	text, err = format.Source(text)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.WriteFile(path, text, 0o644)
}

// powerOfTwo reports whether v is a constant power of two.
func powerOfTwo(v constant.Value) bool {
	if v == nil {
		return false
	}
	x, _ := constant.Float64Val(constant.ToFloat(v))
	fraction, _ := math.Frexp(x)
	return math.Abs(fraction) == 0.5
}
