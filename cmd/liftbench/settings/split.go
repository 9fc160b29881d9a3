// How the rows of a bar are divided into sections.

package settings

import (
	"errors"
	"fmt"
	"math"

	"github.com/goccy/go-yaml/ast"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/sections"
)

// SectionSplit is how rows are divided into sections: a number of sections
// of the same size, or the rows of each section from the left.
type SectionSplit struct {
	Count int   // 0 when rows is set
	rows  []int // rows of each section
}

var errSplit = errors.New("expected a number of sections, or the rows of each section from the left as [4, 4, 4]")

func (s *SectionSplit) Bind(n ast.Node) error {
	whole := func(n ast.Node, atMost int) (int, bool) {
		x, ok := bind.NumberOf(n)
		return int(x), ok && x == math.Trunc(x) && x >= 1 && x <= float64(atMost)
	}
	if list, ok := n.(*ast.SequenceNode); ok {
		if len(list.Values) < 1 || len(list.Values) > sections.MaxSections {
			return fmt.Errorf("found a list of %d; expected the rows of 1 to %d sections", len(list.Values), sections.MaxSections)
		}
		*s = SectionSplit{}
		for i, v := range list.Values {
			rows, ok := whole(v, maxRows)
			if !ok {
				return fmt.Errorf("found %s as section %d; expected its number of rows, 1 to %d", bind.Describe(v), i+1, maxRows)
			}
			s.rows = append(s.rows, rows)
		}
		return nil
	}
	count, ok := whole(n, sections.MaxSections)
	if !ok {
		return fmt.Errorf("found %s; %w, 1 to %d sections", bind.Describe(n), errSplit, sections.MaxSections)
	}
	*s = SectionSplit{Count: count}
	return nil
}

func (s *SectionSplit) Schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "integer", "minimum": 1, "maximum": sections.MaxSections},
		map[string]any{
			"type": "array", "minItems": 1, "maxItems": sections.MaxSections,
			"items": map[string]any{"type": "integer", "minimum": 1, "maximum": maxRows},
		},
	}}
}
