// Package split says how the rows of a bar are divided into sections.
package split

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/sections"
)

// Sections is how rows are divided into sections: a number of sections
// of the same size, or the rows of each section from the left.
type Sections struct {
	Count int   // 0 when rows is set
	Rows  []int // of each section; nil where Count is set
}

// MaxRows bounds the rows of one bar.
const MaxRows = 1024

var errSplit = errors.New("expected a number of sections, or the rows of each section from the left as [4, 4, 4]")

// Bind takes either form.
func (s *Sections) Bind(n ast.Node) error {
	whole := func(n ast.Node, atMost int) (int, bool) {
		x, ok := bind.NumberOf(n)
		return int(x), ok && x == math.Trunc(x) && x >= 1 && x <= float64(atMost)
	}
	if list, ok := n.(*ast.SequenceNode); ok {
		if len(list.Values) < 1 || len(list.Values) > sections.MaxSections {
			return fmt.Errorf("found a list of %d; expected the rows of 1 to %d sections", len(list.Values), sections.MaxSections)
		}
		*s = Sections{}
		for i, v := range list.Values {
			rows, ok := whole(v, MaxRows)
			if !ok {
				return fmt.Errorf("found %s as section %d; expected its number of rows, 1 to %d", bind.Describe(v), i+1, MaxRows)
			}
			s.Rows = append(s.Rows, rows)
		}
		return nil
	}
	count, ok := whole(n, sections.MaxSections)
	if !ok {
		return fmt.Errorf("found %s; %w, 1 to %d sections", bind.Describe(n), errSplit, sections.MaxSections)
	}
	*s = Sections{Count: count}
	return nil
}

// Schema returns the schema of both forms.
func (s *Sections) Schema() map[string]any {
	return map[string]any{"anyOf": []any{
		map[string]any{"type": "integer", "minimum": 1, "maximum": sections.MaxSections},
		map[string]any{
			"type": "array", "minItems": 1, "maxItems": sections.MaxSections,
			"items": map[string]any{"type": "integer", "minimum": 1, "maximum": MaxRows},
		},
	}}
}

// YAML returns the form that Bind takes.
func (s *Sections) YAML() string {
	if s.Rows == nil {
		return strconv.Itoa(s.Count)
	}
	rows := make([]string, len(s.Rows))
	for i, r := range s.Rows {
		rows[i] = strconv.Itoa(r)
	}
	return "[" + strings.Join(rows, ", ") + "]"
}
