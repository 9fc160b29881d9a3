// JSON Schema (draft 2020-12) of the configuration files, for editors, made
// from the same tags the decoder reads.

package bind

import (
	"encoding"
	"encoding/json"
	"io"
	"math"
	"reflect"
	"strings"
	"time"
)

// WriteSchema writes the schema of the struct that defaults points at; the
// values it holds are given as the keys' defaults.
func WriteSchema(w io.Writer, title string, defaults any) error {
	s := GroupSchema(reflect.ValueOf(defaults).Elem())
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = title
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(s)
}

// GroupSchema returns the schema of a group of keys.
func GroupSchema(v reflect.Value) map[string]any {
	properties := map[string]any{}
	var required []string
	for i := range v.NumField() {
		f := v.Type().Field(i)
		key := f.Tag.Get("key")
		if key == "" {
			continue
		}
		properties[key] = ValueSchema(v.Field(i), f.Tag)
		if f.Tag.Get("need") == "yes" {
			required = append(required, key)
		}
	}
	s := map[string]any{"type": "object", "properties": properties, "additionalProperties": false}
	if required != nil {
		s["required"] = required
	}
	return s
}

// ValueSchema returns the schema of one key.
func ValueSchema(v reflect.Value, tag reflect.StructTag) map[string]any {
	optional := v.Kind() == reflect.Pointer
	if optional {
		v = reflect.New(v.Type().Elem()).Elem()
	}
	s := map[string]any{}
	leaf := true
	if u, ok := addressable(v).Interface().(Union); ok {
		s = u.Schema()
	} else if v.Type() == reflect.TypeFor[time.Time]() {
		s["type"], s["format"] = "string", "date-time"
		if t := v.Interface().(time.Time); !t.IsZero() {
			s["default"] = t.Format(time.RFC3339Nano)
		}
		leaf = false
	} else if _, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		s["enum"] = strings.Split(tag.Get("words"), "|")
	} else {
		switch v.Kind() {
		case reflect.Struct:
			s = GroupSchema(v)
			leaf = false
		case reflect.Float64, reflect.Int:
			s["type"] = "number"
			if v.Kind() == reflect.Int {
				s["type"] = "integer"
			}
			rangeSchema(s, RangeOf(tag))
		case reflect.Bool:
			s["type"] = "boolean"
		case reflect.Slice:
			s["type"], s["minItems"] = "array", 1
			s["items"] = itemSchema(v.Type().Elem(), tag)
			leaf = false
			if v.Len() > 0 {
				s["default"] = v.Interface()
			}
		case reflect.String:
			s["type"], s["minLength"] = "string", 1
			if words := tag.Get("words"); words != "" {
				s = map[string]any{"enum": strings.Split(words, "|")}
			}
		}
	}
	if _, isUnion := addressable(v).Interface().(Union); leaf && !isUnion && !optional && tag.Get("need") != "yes" {
		if !(v.Kind() == reflect.String && v.Len() == 0) {
			s["default"] = v.Interface()
		}
	}
	doc := tag.Get("doc")
	if unit := tag.Get("unit"); unit != "" {
		doc += " [" + unit + "]"
	}
	if doc != "" {
		s["description"] = doc
	}
	return s
}

// itemSchema returns the schema of a list's items.
func itemSchema(t reflect.Type, tag reflect.StructTag) map[string]any {
	s := ValueSchema(reflect.New(t).Elem(), tag)
	delete(s, "description")
	if t.Kind() != reflect.Struct {
		delete(s, "default")
	}
	return s
}

// rangeSchema adds a number's bounds.
func rangeSchema(s map[string]any, l Range) {
	if !math.IsInf(l.Lo, -1) {
		if l.LoOpen {
			s["exclusiveMinimum"] = l.Lo
		} else {
			s["minimum"] = l.Lo
		}
	}
	if !math.IsInf(l.Hi, 1) {
		if l.HiOpen {
			s["exclusiveMaximum"] = l.Hi
		} else {
			s["maximum"] = l.Hi
		}
	}
}

// addressable returns a pointer to a copy of v, through which methods of the
// pointer are seen.
func addressable(v reflect.Value) reflect.Value {
	p := reflect.New(v.Type())
	p.Elem().Set(v)
	return p
}
