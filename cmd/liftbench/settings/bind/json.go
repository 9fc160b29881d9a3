// A setting that is JSON itself, as GeoJSON in a scenario file.

package bind

import (
	"math"

	"github.com/goccy/go-yaml/ast"
)

// JsonOf returns what encoding/json writes as the node.
func (d *Document) JsonOf(n ast.Node) (any, error) {
	if x, ok := NumberOf(n); ok && !math.IsNaN(x) && !math.IsInf(x, 0) {
		return x, nil
	}
	if s, ok := TextOf(n); ok {
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
			if list[i], err = d.JsonOf(e); err != nil {
				return nil, err
			}
		}
		return list, nil
	case *ast.MappingValueNode:
		return d.jsonOfPairs([]*ast.MappingValueNode{x})
	case *ast.MappingNode:
		return d.jsonOfPairs(x.Values)
	}
	return nil, d.at(n, "field: found %s; expected GeoJSON", Describe(n))
}

func (d *Document) jsonOfPairs(pairs []*ast.MappingValueNode) (any, error) {
	m := make(map[string]any, len(pairs))
	for _, p := range pairs {
		key, ok := keyText(p.Key)
		if !ok {
			return nil, d.at(p.Key, "field: found %s as a key; expected GeoJSON", inLine(p.Key.String()))
		}
		var err error
		if m[key], err = d.JsonOf(p.Value); err != nil {
			return nil, err
		}
	}
	return m, nil
}
