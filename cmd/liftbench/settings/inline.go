// Settings in one file: a scenario may hold its machine and its field itself
// instead of naming their files.

package settings

import (
	"encoding/json"
	"fmt"
	"reflect"

	"github.com/goccy/go-yaml/ast"

	"liftbench/cmd/liftbench/settings/bind"
)

// fileOrInline is the name of a file, or its content.
type fileOrInline struct {
	file    string
	content ast.Node // nil where file is set
}

func (f *fileOrInline) Bind(n ast.Node) error {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		*f = fileOrInline{content: n}
		return nil
	}
	name, ok := bind.TextOf(n)
	if !ok || name == "" {
		return fmt.Errorf("found %s; expected the name of a file, or its content as a group of keys", bind.Describe(n))
	}
	*f = fileOrInline{file: name}
	return nil
}

// machineRef is a machine file, or the machine itself.
type machineRef struct{ fileOrInline }

func (m *machineRef) Schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "string", "minLength": 1},
		bind.GroupSchema(reflect.ValueOf(DefaultMachine()).Elem()),
	}}
}

// load reads the machine that a scenario file names or holds.
func (m *machineRef) load(scenario string, read Source) (*Machine, error) {
	if m.content == nil {
		return LoadMachine(read.beside(scenario, m.file), read)
	}
	c := DefaultMachine()
	c.Doc = bind.NewDocument(scenario)
	if err := c.Doc.BindGroup(m.content, reflect.ValueOf(c).Elem(), ""); err != nil {
		return nil, err
	}
	return c, c.taken()
}

// fieldRef is a field's file, or its GeoJSON itself: JSON is YAML.
type fieldRef struct{ fileOrInline }

func (f *fieldRef) Schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "string", "minLength": 1},
		map[string]any{"type": "object", "required": []string{"type"}},
	}}
}

// In returns the file of the field that a scenario file names or holds, and
// where it is read from.
func (f *fieldRef) In(scenario string, read Source) (string, Source) {
	if f.content == nil {
		return read.beside(scenario, f.file), read
	}
	return scenario, Source{beside: read.beside, Read: func(string, string) ([]byte, error) {
		v, err := bind.NewDocument(scenario).JsonOf(f.content)
		if err != nil {
			return nil, err
		}
		return json.Marshal(v)
	}}
}
