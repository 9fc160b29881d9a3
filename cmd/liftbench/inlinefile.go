// Settings in one file: a scenario may hold its machine and its field itself
// instead of naming their files.

package main

import (
	"encoding/json"
	"fmt"
	"reflect"

	"github.com/goccy/go-yaml/ast"
)

// fileOrInline is the name of a file, or its content.
type fileOrInline struct {
	file    string
	content ast.Node // nil where file is set
}

func (f *fileOrInline) bind(n ast.Node) error {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		*f = fileOrInline{content: n}
		return nil
	}
	name, ok := text(n)
	if !ok || name == "" {
		return fmt.Errorf("found %s; expected the name of a file, or its content as a group of keys", describe(n))
	}
	*f = fileOrInline{file: name}
	return nil
}

// machineRef is a machine file, or the machine itself.
type machineRef struct{ fileOrInline }

func (m *machineRef) schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "string", "minLength": 1},
		groupSchema(reflect.ValueOf(defaultMachine()).Elem()),
	}}
}

// load reads the machine that a scenario file names or holds.
func (m *machineRef) load(scenario string, read source) (*machineConfig, error) {
	if m.content == nil {
		return loadMachine(read.beside(scenario, m.file), read)
	}
	c := defaultMachine()
	c.doc = newDocument(scenario)
	if err := c.doc.bindGroup(m.content, reflect.ValueOf(c).Elem(), ""); err != nil {
		return nil, err
	}
	return c, c.check()
}

// fieldRef is a field's file, or its GeoJSON itself: JSON is YAML.
type fieldRef struct{ fileOrInline }

func (f *fieldRef) schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "string", "minLength": 1},
		map[string]any{"type": "object", "required": []string{"type"}},
	}}
}

// in returns the file of the field that a scenario file names or holds, and
// where it is read from.
func (f *fieldRef) in(scenario string, read source) (string, source) {
	if f.content == nil {
		return read.beside(scenario, f.file), read
	}
	return scenario, source{beside: read.beside, read: func(string, string) ([]byte, error) {
		v, err := newDocument(scenario).jsonOf(f.content)
		if err != nil {
			return nil, err
		}
		return json.Marshal(v)
	}}
}
