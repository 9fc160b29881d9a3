// What is refused before it is parsed: the parser takes time and memory that
// grow with the square of depth and of the number of keys.

package bind

import (
	"bytes"
	"fmt"

	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/token"

	"liftbench/cmd/liftbench/failure"
)

// Limits of a file, each far above what settings need. A field may stand in a
// scenario file, so there may be many lists, as JSON writes them.
const (
	// MaxBytes keeps a log given by mistake from being parsed as YAML.
	MaxBytes      = 1 << 20
	maxIndicators = 200_000 // brackets, commas, colons, dashes …: there are no more parts than these
	maxDepth      = 64      // groups and lists within each other
	maxKeys       = 2_000   // on lines of their own
	maxFlowKeys   = 20_000  // in braces
	maxAliases    = 16      // anchors and aliases, of which no setting may be one
)

// tokens splits a file into the tokens of YAML, or says what is beyond a limit.
func tokens(file string, data []byte, what string) (token.Tokens, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	refuse := func(format string, args ...any) error {
		return &failure.Input{File: file, Msg: fmt.Sprintf(format, args...)}
	}
	if len(data) > MaxBytes {
		return nil, refuse("holds %d bytes; expected %s of at most %d", len(data), what, MaxBytes)
	}
	if isUTF16(data) {
		return nil, refuse("is in UTF-16; expected UTF-8: save it anew in that encoding")
	}
	indicators := 0
	for i, c := range data {
		switch c {
		case 0:
			return nil, refuse("byte %d is NUL; expected %s in YAML", i+1, what)
		case '[', ']', '{', '}', ',', ':', '-', '?', '&', '*', '!', '%':
			indicators++
		}
	}
	if indicators > maxIndicators {
		return nil, refuse("has %d brackets, commas, colons, dashes and other signs of YAML; expected %s with at most %d", indicators, what, maxIndicators)
	}
	all := lexer.Tokenize(string(data))
	var nest nesting
	keys, flowKeys, aliases := 0, 0, 0
	for _, t := range all {
		depth := nest.add(t)
		beyond := ""
		switch t.Type {
		case token.MappingValueType:
			if nest.flow > 0 {
				flowKeys++
			} else {
				keys++
			}
		case token.AnchorType, token.AliasType:
			aliases++
		}
		switch {
		case depth > maxDepth:
			beyond = fmt.Sprintf("more than %d groups and lists within each other", maxDepth)
		case keys > maxKeys:
			beyond = fmt.Sprintf("more than %d keys", maxKeys)
		case flowKeys > maxFlowKeys:
			beyond = fmt.Sprintf("more than %d keys in braces", maxFlowKeys)
		case aliases > maxAliases:
			beyond = fmt.Sprintf("more than %d anchors and aliases", maxAliases)
		default:
			continue
		}
		return nil, &failure.Setting{File: file, Line: t.Position.Line, Col: t.Position.Column, Msg: beyond + "; expected " + what}
	}
	return all, nil
}

// isUTF16 reports whether data begin as text in UTF-16 does: with its mark, or
// with two characters of which every other byte is NUL.
func isUTF16(data []byte) bool {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return true
	}
	return len(data) >= 4 && (data[0] == 0) == (data[2] == 0) && (data[1] == 0) == (data[3] == 0) && (data[0] == 0) != (data[1] == 0)
}

// nesting follows how deep tokens stand in groups and lists: in brackets, and on
// lines by their columns.
type nesting struct {
	flow    int   // brackets open
	columns []int // of the groups and lists around, outside brackets
	last    *token.Token
}

// add goes on to a token and returns its depth.
func (n *nesting) add(t *token.Token) int {
	opens := n.last == nil || n.last.Position.Line != t.Position.Line // the first of its line
	opens = opens || n.last.Type == token.SequenceEntryType || n.last.Type == token.MappingKeyType
	if n.flow == 0 && opens {
		col := t.Position.Column
		for len(n.columns) > 0 && n.columns[len(n.columns)-1] >= col {
			n.columns = n.columns[:len(n.columns)-1]
		}
		n.columns = append(n.columns, col)
	}
	switch t.Type {
	case token.SequenceStartType, token.MappingStartType:
		n.flow++
	case token.SequenceEndType, token.MappingEndType:
		n.flow = max(n.flow-1, 0)
	}
	n.last = t
	return n.flow + len(n.columns)
}
