// Where a package can be changed, and how: arithmetic, comparisons (negated
// and moved by their boundary), constants, conditions, removed statements.

package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
)

// mutant is one change of one file: text in place of source[from:to].
type mutant struct {
	file     string // from the top of the tree
	function string
	line     int
	source   []byte
	from, to int
	text     string
}

func (m *mutant) mutated() []byte {
	return bytes.Join([][]byte{m.source[:m.from], []byte(m.text), m.source[m.to:]}, nil)
}

// change returns the function, and the changed lines before and after, with
// tabs between.
func (m *mutant) change() string {
	begin := bytes.LastIndexByte(m.source[:m.from], '\n') + 1
	end := m.to + bytes.IndexByte(m.source[m.to:], '\n')
	one := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	old := string(m.source[begin:end])
	if first, _, more := strings.Cut(old, "\n"); more {
		old = first
	}
	return m.function + "\t" + strings.TrimSpace(old) + "\t" +
		one(string(m.source[begin:m.from])+m.text+string(m.source[m.to:end]))
}

// key is how the list of equivalent mutants names m.
func (m *mutant) key() string { return m.file + "\t" + m.change() }

// swaps are what an operator is replaced by.
var swaps = map[token.Token][]token.Token{
	token.ADD: {token.SUB}, token.SUB: {token.ADD},
	token.MUL: {token.QUO}, token.QUO: {token.MUL}, token.REM: {token.MUL},
	token.AND: {token.OR}, token.OR: {token.AND}, token.XOR: {token.AND},
	token.SHL: {token.SHR}, token.SHR: {token.SHL}, token.AND_NOT: {token.AND},
	token.LAND: {token.LOR}, token.LOR: {token.LAND},
	token.EQL: {token.NEQ}, token.NEQ: {token.EQL},
	token.LSS: {token.LEQ, token.GEQ}, token.LEQ: {token.LSS, token.GTR},
	token.GTR: {token.GEQ, token.LEQ}, token.GEQ: {token.GTR, token.LSS},
	token.ADD_ASSIGN: {token.SUB_ASSIGN}, token.SUB_ASSIGN: {token.ADD_ASSIGN},
	token.MUL_ASSIGN: {token.QUO_ASSIGN}, token.QUO_ASSIGN: {token.MUL_ASSIGN},
	token.OR_ASSIGN: {token.AND_ASSIGN}, token.AND_ASSIGN: {token.OR_ASSIGN},
	token.SHL_ASSIGN: {token.SHR_ASSIGN}, token.SHR_ASSIGN: {token.SHL_ASSIGN},
	token.XOR_ASSIGN: {token.AND_ASSIGN}, token.AND_NOT_ASSIGN: {token.OR_ASSIGN},
	token.INC: {token.DEC}, token.DEC: {token.INC},
}

// find returns every mutant of the package in dir, in the order of the source.
// Some do not compile.
func find(dir string) ([]mutant, error) {
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	var all []mutant
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		source, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		files := token.NewFileSet()
		tree, err := parser.ParseFile(files, name, source, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		s := search{files: files, file: mutant{file: name, source: source}}
		for _, d := range tree.Decls {
			s.file.function = "-"
			if f, ok := d.(*ast.FuncDecl); ok {
				s.file.function = f.Name.Name
			}
			ast.Inspect(d, s.visit)
		}
		all = append(all, s.found...)
	}
	return all, nil
}

// search collects the mutants of one file.
type search struct {
	files *token.FileSet
	file  mutant
	found []mutant
}

func (s *search) add(from, to token.Pos, text string) {
	m := s.file
	at := s.files.Position(from)
	m.line, m.from, m.to, m.text = at.Line, at.Offset, s.files.Position(to).Offset, text
	s.found = append(s.found, m)
}

// swap adds the mutants with another operator in place of op at pos.
func (s *search) swap(pos token.Pos, op token.Token) {
	for _, other := range swaps[op] {
		s.add(pos, pos+token.Pos(len(op.String())), other.String())
	}
}

func (s *search) remove(n ast.Node) { s.add(n.Pos(), n.End(), "{}") }

func (s *search) negate(e ast.Expr) {
	s.add(e.Pos(), e.End(), "!("+s.text(e)+")")
}

func (s *search) text(n ast.Node) string {
	return string(s.file.source[s.files.Position(n.Pos()).Offset:s.files.Position(n.End()).Offset])
}

func (s *search) visit(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.ImportSpec:
		return false
	case *ast.ArrayType:
		// A longer array is no mutant: nothing reads its last element.
		return false
	case *ast.CallExpr:
		switch s.text(n.Fun) {
		case "math.Inf":
			// Only the sign of its argument counts.
			s.add(n.Args[0].Pos(), n.Args[0].End(), "-("+s.text(n.Args[0])+")")
			return false
		case "make":
			// More capacity is no mutant.
			if len(n.Args) == 3 {
				ast.Inspect(n.Args[1], s.visit)
				return false
			}
		}
	case *ast.BinaryExpr:
		s.swap(n.OpPos, n.Op)
	case *ast.UnaryExpr:
		if n.Op == token.SUB || n.Op == token.NOT {
			s.add(n.OpPos, n.OpPos+1, "")
		}
	case *ast.AssignStmt:
		s.swap(n.TokPos, n.Tok)
		if n.Tok != token.DEFINE {
			s.remove(n)
		}
	case *ast.IncDecStmt:
		s.swap(n.TokPos, n.Tok)
		s.remove(n)
	case *ast.ExprStmt:
		s.remove(n)
	case *ast.BranchStmt:
		if n.Tok == token.CONTINUE || n.Tok == token.BREAK {
			s.remove(n)
		}
	case *ast.IfStmt:
		if _, comparison := n.Cond.(*ast.BinaryExpr); !comparison {
			s.negate(n.Cond)
		}
	case *ast.BasicLit:
		switch n.Kind {
		case token.INT:
			s.add(n.Pos(), n.End(), fmt.Sprintf("(%s + 1)", n.Value))
		case token.FLOAT:
			if strings.Trim(n.Value, "0.") == "" {
				break // twice nothing is nothing
			}
			s.add(n.Pos(), n.End(), fmt.Sprintf("(2 * %s)", n.Value))
		}
	}
	return true
}
