// Settings in one file: a scenario may hold its machine and its field itself
// instead of naming their files.

package main

import (
	"encoding/json"
	"fmt"
	"math"
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
func (m *machineRef) load(scenario string, from source) (*machineConfig, error) {
	if m.content == nil {
		return loadMachine(from.beside(scenario, m.file), from)
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
func (f *fieldRef) in(scenario string, from source) (string, source) {
	if f.content == nil {
		return from.beside(scenario, f.file), from
	}
	return scenario, slashed(func(string, string) ([]byte, error) {
		v, err := newDocument(scenario).jsonOf(f.content)
		if err != nil {
			return nil, err
		}
		return json.Marshal(v)
	})
}

// jsonOf returns what encoding/json writes as the node.
func (d *document) jsonOf(n ast.Node) (any, error) {
	if x, ok := number(n); ok && !math.IsNaN(x) && !math.IsInf(x, 0) {
		return x, nil
	}
	if s, ok := text(n); ok {
		return s, nil
	}
	switch x := n.(type) {
	case *ast.NullNode:
		return nil, nil
	case *ast.BoolNode:
		return x.Value, nil
	case *ast.SequenceNode:
		list := make([]any, len(x.Values))
		for i, e := range x.Values {
			var err error
			if list[i], err = d.jsonOf(e); err != nil {
				return nil, err
			}
		}
		return list, nil
	case *ast.MappingValueNode:
		return d.jsonOfPairs([]*ast.MappingValueNode{x})
	case *ast.MappingNode:
		return d.jsonOfPairs(x.Values)
	}
	return nil, d.at(n, "field: found %s; expected GeoJSON", describe(n))
}

func (d *document) jsonOfPairs(pairs []*ast.MappingValueNode) (any, error) {
	m := make(map[string]any, len(pairs))
	for _, p := range pairs {
		key, ok := keyText(p.Key)
		if !ok {
			return nil, d.at(p.Key, "field: found %s as a key; expected GeoJSON", inLine(p.Key.String()))
		}
		var err error
		if m[key], err = d.jsonOf(p.Value); err != nil {
			return nil, err
		}
	}
	return m, nil
}
