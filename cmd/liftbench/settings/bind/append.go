// Settings written as YAML: what bind.go reads, from the same tags. A setting
// at its default is left out.

package bind

import (
	"encoding"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"
)

// Writable is a union that can be written: its value in flow style.
type Writable interface{ YAML() string }

// AppendGroup appends the keys of the struct v, each line after an indent; of
// those that equal the same key of the defaults only what must be there.
func AppendGroup(b []byte, indent string, v, defaults reflect.Value) []byte {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		key := f.Tag.Get("key")
		if key == "" || f.Tag.Get("need") != "yes" && reflect.DeepEqual(v.Field(i).Interface(), defaults.Field(i).Interface()) {
			continue
		}
		b = AppendSetting(b, indent, key, v.Field(i), defaults.Field(i))
	}
	return b
}

// AppendSetting appends one key with its value.
func AppendSetting(b []byte, indent, key string, v, defaults reflect.Value) []byte {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return b
		}
		v, defaults = v.Elem(), reflect.Zero(v.Type().Elem())
	}
	if u, ok := addressable(v).Interface().(Writable); ok {
		return append(b, indent+key+": "+u.YAML()+"\n"...)
	}
	if v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[time.Time]() {
		b = append(b, indent+key+":\n"...)
		return AppendGroup(b, indent+"  ", v, defaults)
	}
	return append(b, indent+key+": "+flow(v)+"\n"...)
}

// flow returns a value in YAML's flow style.
func flow(v reflect.Value) string {
	if t, ok := v.Interface().(time.Time); ok {
		return t.Format(time.RFC3339Nano)
	}
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		text, err := m.MarshalText()
		if err != nil {
			panic(fmt.Sprintf("a setting of type %s: %v", v.Type(), err))
		}
		return strconv.Quote(string(text))
	}
	switch v.Kind() {
	case reflect.Float64:
		return PlainNumber(v.Float())
	case reflect.Int:
		return strconv.FormatInt(v.Int(), 10)
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	case reflect.String:
		return strconv.Quote(v.String())
	case reflect.Slice:
		items := make([]string, v.Len())
		for i := range items {
			items[i] = flow(v.Index(i))
		}
		return "[" + strings.Join(items, ", ") + "]"
	case reflect.Struct:
		var items []string
		for i := range v.NumField() {
			if key := v.Type().Field(i).Tag.Get("key"); key != "" {
				items = append(items, key+": "+flow(v.Field(i)))
			}
		}
		return "{" + strings.Join(items, ", ") + "}"
	case reflect.Pointer:
		return flow(v.Elem())
	}
	var pairs []string
	for i := range v.NumField() {
		if key := v.Type().Field(i).Tag.Get("key"); key != "" {
			pairs = append(pairs, key+": "+flow(v.Field(i)))
		}
	}
	return "{" + strings.Join(pairs, ", ") + "}"
}

// PlainNumber prints the shortest text that reads back as the same number.
func PlainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
