// Strict reading of YAML into structs: the tags of a struct's fields are the
// one table from which both the decoder here and the JSON Schema are made.
//
// Tags of a field:
//
//	key    its name in the file
//	doc    what it means, in a sentence
//	unit   its unit, as spoken
//	min    least value;     above  the value it must exceed
//	max    greatest value;  below  the value it must stay under
//	words  the words allowed, divided by |; a field that takes words is a
//	       string, or implements encoding.TextUnmarshaler and TextMarshaler
//	need   "yes" when the key must be there
//
// A pointer field is nil when its key is absent; any other field keeps the
// value it had, which is therefore its default.

package bind

import (
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"liftbench/cmd/liftbench/failure"
	"liftbench/sections/enum"
)

// Document remembers where in its file each setting stands, so that a check
// of several settings together can point at one.
type Document struct {
	File   string
	places map[string]token.Position // by path, as "rows.spacing_m"
	under  *Document                 // whose settings this one changes; nil = none
}

// NewDocument returns a document of which no place is known yet.
func NewDocument(file string) *Document {
	return &Document{File: file, places: map[string]token.Position{}}
}

// ErrorAt returns a failure.Setting at the setting of that path, or at the
// nearest group that is in the file.
func (d *Document) ErrorAt(path, format string, args ...any) error {
	e := &failure.Setting{File: d.File, Msg: fmt.Sprintf(format, args...)}
	for p := path; ; {
		if pos, ok := d.places[p]; ok {
			e.Line, e.Col = pos.Line, pos.Column
			return e
		}
		cut := strings.LastIndexAny(p, ".[")
		if cut < 0 {
			break
		}
		p = p[:cut]
	}
	if d.under != nil {
		return d.under.ErrorAt(path, format, args...)
	}
	return e
}

// Has reports whether the file itself holds the setting, or the one that it changes.
func (d *Document) Has(path string) bool {
	return d.Own(path) || d.under != nil && d.under.Has(path)
}

// Own reports whether the file itself holds the setting, whatever the one that it changes
// holds.
func (d *Document) Own(path string) bool {
	_, ok := d.places[path]
	return ok
}

// Union is a setting that may take several forms, such as a number or a word.
type Union interface {
	// bind sets the value from a node, or returns a sentence that says what was found
	// and what is expected.
	Bind(n ast.Node) error
	// schema returns the JSON Schema of the forms.
	Schema() map[string]any
}

// YAML reads data, the content of file, into the struct that into points
// at. what says what the file holds, for errors: "a machine".
func YAML(file string, data []byte, what string, into any) (*Document, error) {
	return YAMLOver(nil, file, data, what, into)
}

// YAMLOver is YAML of a file that changes settings which another holds: into has
// their values, and under their places. A key that must be there may stand in either.
func YAMLOver(under *Document, file string, data []byte, what string, into any) (*Document, error) {
	d := NewDocument(file)
	d.under = under
	parts, err := tokens(file, data, what)
	if err != nil {
		return nil, err
	}
	tree, err := parser.Parse(parts, 0)
	if err != nil {
		var at yaml.Error
		if errors.As(err, &at) && at.GetToken() != nil {
			pos := at.GetToken().Position
			return nil, &failure.Setting{File: file, Line: pos.Line, Col: pos.Column, Msg: "not valid YAML: " + at.GetMessage()}
		}
		return nil, &failure.Setting{File: file, Msg: "not valid YAML: " + err.Error()}
	}
	var body ast.Node
	for _, doc := range tree.Docs {
		if doc.Body == nil {
			continue
		}
		if body != nil {
			return nil, d.at(doc.Body, "found a second YAML document; expected %s alone", what)
		}
		body = doc.Body
	}
	if body == nil || body.Type() == ast.NullType {
		return nil, &failure.Input{File: file, Msg: "is empty; expected " + what}
	}
	if err := d.BindGroup(body, reflect.ValueOf(into).Elem(), ""); err != nil {
		return nil, err
	}
	return d, nil
}

// TopKeys returns the keys at the top of YAML; none where it is not valid or too large.
func TopKeys(data []byte) map[string]bool {
	keys := map[string]bool{}
	parts, err := tokens("", data, "")
	if err != nil {
		return keys
	}
	tree, err := parser.Parse(parts, 0)
	if err != nil {
		return keys
	}
	for _, doc := range tree.Docs {
		var pairs []*ast.MappingValueNode
		switch m := doc.Body.(type) {
		case *ast.MappingNode:
			pairs = m.Values
		case *ast.MappingValueNode:
			pairs = []*ast.MappingValueNode{m}
		}
		for _, p := range pairs {
			if name, ok := TextOf(p.Key); ok {
				keys[name] = true
			}
		}
	}
	return keys
}

// at returns a failure.Setting at a node.
func (d *Document) at(n ast.Node, format string, args ...any) error {
	pos := place(n)
	return &failure.Setting{File: d.File, Line: pos.Line, Col: pos.Column, Msg: fmt.Sprintf(format, args...)}
}

// place returns where a node begins. The library's token of a mapping is its
// first colon; a reader looks for its first key.
func place(n ast.Node) token.Position {
	switch m := n.(type) {
	case *ast.MappingValueNode:
		return place(m.Key)
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return place(m.Values[0])
		}
	}
	return *n.GetToken().Position
}

// BindGroup reads a mapping into a struct.
func (d *Document) BindGroup(n ast.Node, v reflect.Value, path string) error {
	var pairs []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		pairs = m.Values
	case *ast.MappingValueNode:
		pairs = []*ast.MappingValueNode{m}
	default:
		return d.at(n, "%sfound %s; expected keys: %s", prefix(path), Describe(n), strings.Join(KeysOf(v.Type()), ", "))
	}
	for _, pair := range pairs {
		name, ok := keyText(pair.Key)
		if !ok {
			return d.at(pair.Key, "%sfound %s as a key; expected one of: %s", prefix(path), inLine(pair.Key.String()), strings.Join(KeysOf(v.Type()), ", "))
		}
		field, ok := FieldOf(v.Type(), name)
		if !ok {
			return d.at(pair.Key, "%sunknown key %q; %s", prefix(path), name, ExpectKey(name, KeysOf(v.Type())))
		}
		sub := name
		if path != "" {
			sub = path + "." + name
		}
		d.places[sub] = place(pair.Value)
		if err := d.BindValue(pair.Value, v.FieldByIndex(field.Index), field.Tag, sub); err != nil {
			return err
		}
	}
	for i := range v.NumField() {
		f := v.Type().Field(i)
		sub := f.Tag.Get("key")
		if path != "" {
			sub = path + "." + sub
		}
		if f.Tag.Get("need") == "yes" && !d.Has(sub) {
			return d.at(n, "%skey %q is missing; expected %s", prefix(path), f.Tag.Get("key"), f.Tag.Get("doc"))
		}
	}
	return nil
}

// BindValue reads one value into a field, checking it against the field's
// tags.
func (d *Document) BindValue(n ast.Node, v reflect.Value, tag reflect.StructTag, path string) error {
	switch n.(type) {
	case *ast.AnchorNode, *ast.AliasNode:
		return d.at(n, "%s: found %s; expected the value written out", path, inLine(n.String()))
	}
	if v.Kind() == reflect.Pointer {
		v.Set(reflect.New(v.Type().Elem()))
		v = v.Elem()
	}
	if u, ok := v.Addr().Interface().(Union); ok {
		if err := u.Bind(n); err != nil {
			return d.at(n, "%s: %v", path, err)
		}
		return nil
	}
	if v.Type() == reflect.TypeFor[time.Time]() {
		t, err := time.Parse(time.RFC3339Nano, n.GetToken().Value)
		if err != nil {
			return d.at(n, "%s: found %s; expected a time as 2026-05-12T08:00:00Z (RFC 3339)", path, Describe(n))
		}
		v.Set(reflect.ValueOf(t.UTC()))
		return nil
	}
	if u, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		s, err := d.word(n, tag, path)
		if err != nil {
			return err
		}
		if err := u.UnmarshalText([]byte(s)); err != nil {
			return d.at(n, "%s: found %v", path, err)
		}
		return nil
	}
	switch v.Kind() {
	case reflect.Struct:
		return d.BindGroup(n, v, path)
	case reflect.Float64:
		x, ok := NumberOf(n)
		if !ok || !RangeOf(tag).Holds(x) {
			return d.at(n, "%s: found %s; expected a number%s", path, Describe(n), RangeOf(tag))
		}
		v.SetFloat(x)
	case reflect.Int:
		x, ok := NumberOf(n)
		if !ok || x != math.Trunc(x) || !RangeOf(tag).Holds(x) {
			return d.at(n, "%s: found %s; expected a whole number%s", path, Describe(n), RangeOf(tag))
		}
		v.SetInt(int64(x))
	case reflect.Bool:
		b, ok := n.(*ast.BoolNode)
		if !ok {
			return d.at(n, "%s: found %s; expected true or false", path, Describe(n))
		}
		v.SetBool(b.Value)
	case reflect.String:
		s, err := d.word(n, tag, path)
		if err != nil {
			return err
		}
		if i := strings.IndexFunc(s, unicode.IsControl); i >= 0 {
			return d.at(n, "%s: found %s with the control character %U; expected text on one line", path, Describe(n), []rune(s[i:])[0])
		}
		v.SetString(s)
	case reflect.Slice:
		list, ok := n.(*ast.SequenceNode)
		if !ok || len(list.Values) == 0 {
			return d.at(n, "%s: found %s; expected a list as [first, second]", path, Describe(n))
		}
		v.Set(reflect.MakeSlice(v.Type(), len(list.Values), len(list.Values)))
		for i, e := range list.Values {
			sub := fmt.Sprintf("%s[%d]", path, i)
			d.places[sub] = place(e)
			if err := d.BindValue(e, v.Index(i), tag, sub); err != nil {
				return err
			}
		}
	default:
		return d.at(n, "%s: settings of type %s are not read", path, v.Type())
	}
	return nil
}

// word returns the text of a node: one of the words of the tag, or any text but
// the empty one where the tag has none.
func (d *Document) word(n ast.Node, tag reflect.StructTag, path string) (string, error) {
	s, ok := TextOf(n)
	if words := tag.Get("words"); words != "" {
		if list := strings.Split(words, "|"); !ok || !slices.Contains(list, s) {
			return "", d.at(n, "%s: found %s; %s", path, Describe(n), ExpectKey(s, list))
		}
	} else if !ok || s == "" {
		return "", d.at(n, "%s: found %s; expected text", path, Describe(n))
	}
	return s, nil
}

// prefix puts a group's path before a sentence about it.
func prefix(path string) string {
	if path == "" {
		return ""
	}
	return path + ": "
}

// keyText returns the text of a plain key.
func keyText(k ast.MapKeyNode) (string, bool) {
	n, ok := k.(ast.Node)
	if !ok {
		return "", false
	}
	return TextOf(n)
}

// TextOf returns the text of a string node.
func TextOf(n ast.Node) (string, bool) {
	switch s := n.(type) {
	case *ast.StringNode:
		return s.Value, true
	case *ast.LiteralNode:
		return strings.TrimRight(s.Value.Value, "\n"), true
	}
	return "", false
}

// plainWhole is a whole number as YAML 1.2 writes it (10.3.2, the core schema):
// decimal, 0o and octal digits, 0x and hexadecimal ones. Other spellings are
// read as one number by some programs and as another by others: 012 is ten to
// those of YAML 1.1.
var plainWhole = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]*|0o[0-7]+|0x[0-9a-fA-F]+)$`)

// NumberOf returns the value of a number node; NaN and infinities included, for
// the range to refuse.
func NumberOf(n ast.Node) (float64, bool) {
	switch x := n.(type) {
	case *ast.IntegerNode:
		if !plainWhole.MatchString(x.GetToken().Value) {
			return 0, false
		}
		switch i := x.Value.(type) {
		case int64:
			return float64(i), true
		case uint64:
			return float64(i), true
		}
	case *ast.FloatNode:
		return x.Value, true
	case *ast.StringNode:
		// 1e9 is a number in JSON and in YAML 1.2, and text to the library.
		if x.GetToken().Type == token.StringType && json.Valid([]byte(x.Value)) {
			v, err := strconv.ParseFloat(x.Value, 64)
			return v, err == nil
		}
	case *ast.InfinityNode:
		return x.Value, true
	case *ast.NanNode:
		return math.NaN(), true
	}
	return 0, false
}

// Describe says what was found, as the writer of the file would name it.
func Describe(n ast.Node) string {
	switch x := n.(type) {
	case *ast.NullNode:
		return "nothing"
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.StringNode:
		return shorten(strconv.Quote(x.Value))
	case *ast.LiteralNode:
		return shorten(strconv.Quote(x.Value.Value))
	case *ast.IntegerNode:
		if value := x.GetToken().Value; !plainWhole.MatchString(value) {
			return shorten(value) + ", which programs read differently"
		}
	}
	return inLine(n.GetToken().Value)
}

// inLine puts YAML of several lines on one, cut to a length that fits it.
func inLine(s string) string { return shorten(strings.Join(strings.Fields(s), " ")) }

// shorten cuts what was found to a length that fits a line.
func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:37]) + "..."
	}
	return s
}

// Range is the range of a number.
type Range struct {
	Lo, Hi         float64
	LoOpen, HiOpen bool // the bound itself is outside
	unit           string
}

// RangeOf reads a field's range from its tags; without one any finite number
// is in range.
func RangeOf(tag reflect.StructTag) Range {
	l := Range{Lo: math.Inf(-1), Hi: math.Inf(1), unit: tag.Get("unit")}
	for _, b := range []struct {
		key  string
		to   *float64
		open *bool
		is   bool
	}{
		{"min", &l.Lo, &l.LoOpen, false},
		{"above", &l.Lo, &l.LoOpen, true},
		{"max", &l.Hi, &l.HiOpen, false},
		{"below", &l.Hi, &l.HiOpen, true},
	} {
		if s, ok := tag.Lookup(b.key); ok {
			// A tag that is no number leaves NaN, which no value passes: the
			// test of all tags finds it.
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				x = math.NaN()
			}
			*b.to, *b.open = x, b.is
		}
	}
	return l
}

// Holds reports whether x is finite and in range.
func (l Range) Holds(x float64) bool {
	if math.IsInf(x, 0) {
		return false
	}
	low := x >= l.Lo && !(l.LoOpen && x == l.Lo)
	high := x <= l.Hi && !(l.HiOpen && x == l.Hi)
	return low && high
}

// String continues the sentence "expected a number".
func (l Range) String() string {
	unit := ""
	if l.unit != "" {
		unit = " " + l.unit
	}
	noLow, noHigh := math.IsInf(l.Lo, -1), math.IsInf(l.Hi, 1)
	switch {
	case noLow && noHigh:
		return ", finite" + strings.Replace(unit, " ", ", in ", 1)
	case noHigh && l.LoOpen:
		return fmt.Sprintf(" above %g%s", l.Lo, unit)
	case noHigh:
		return fmt.Sprintf(", %g%s or more", l.Lo, unit)
	case noLow && l.HiOpen:
		return fmt.Sprintf(" below %g%s", l.Hi, unit)
	case noLow:
		return fmt.Sprintf(" up to %g%s", l.Hi, unit)
	}
	low := fmt.Sprintf(" from %g", l.Lo)
	if l.LoOpen {
		low = fmt.Sprintf(" above %g", l.Lo)
	}
	high := fmt.Sprintf(" to %g", l.Hi)
	if l.LoOpen {
		high = fmt.Sprintf(" up to %g", l.Hi)
	}
	if l.HiOpen {
		high = fmt.Sprintf(" to below %g", l.Hi)
	}
	return low + high + unit
}

// FieldOf returns the field with that key.
func FieldOf(t reflect.Type, key string) (reflect.StructField, bool) {
	for i := range t.NumField() {
		if f := t.Field(i); key != "" && f.Tag.Get("key") == key {
			return f, true
		}
	}
	return reflect.StructField{}, false
}

// KeysOf returns a struct's keys in order.
func KeysOf(t reflect.Type) []string {
	var keys []string
	for i := range t.NumField() {
		if k := t.Field(i).Tag.Get("key"); k != "" {
			keys = append(keys, k)
		}
	}
	return keys
}

// ExpectKey names the closest word of a list to what was found, or the list.
func ExpectKey(found string, list []string) string {
	best, bestAt := len(found)/3+2, -1
	for i, w := range list {
		d := enum.EditDistance(found, w)
		if strings.HasPrefix(w, found+"_") { // its unit is missing
			d = 0
		}
		if d < best {
			best, bestAt = d, i
		}
	}
	all := "expected one of: " + strings.Join(list, ", ")
	if bestAt < 0 || found == "" {
		return all
	}
	return fmt.Sprintf("did you mean %q? %s", list[bestAt], all)
}

// NumberNode is x as a file would hold it.
func NumberNode(x float64) (ast.Node, error) {
	tree, err := parser.ParseBytes([]byte(strconv.FormatFloat(x, 'g', -1, 64)), 0)
	if err != nil {
		return nil, err
	}
	return tree.Docs[0].Body, nil
}
