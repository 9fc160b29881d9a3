// No key is read and then forgotten.

package settings

import (
	"fmt"
	"liftbench/cmd/liftbench/settings/split"
	"reflect"
	"testing"

	"liftbench/sections"
)

// leaves calls each with every setting below v by its path, as an addressable value.
// Optional settings that are absent are given the zero value first.
func leaves(v reflect.Value, path string, each func(path string, v reflect.Value)) {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			v.Set(reflect.New(v.Type().Elem()))
		}
		v = v.Elem()
	}
	if v.Kind() != reflect.Struct {
		each(path, v)
		return
	}
	if l, ok := v.Addr().Interface().(*LeadTime); ok {
		l.Auto = false
		each(path, v.FieldByName("Ms"))
		return
	}
	for i := range v.NumField() {
		if key := v.Type().Field(i).Tag.Get("key"); key != "" {
			leaves(v.Field(i), path+"."+key, each)
		}
	}
}

// change gives a setting another value, and reports whether it knows how.
func change(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(v.Float()*1.25 + 0.5)
	case reflect.Int:
		v.SetInt(v.Int() + 1)
	case reflect.Uint8:
		v.SetUint(1 - min(v.Uint(), 1))
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Uint64:
		v.SetUint(v.Uint() + 1)
	default:
		return false
	}
	return true
}

// heeded checks that every setting of a group shows in what is made of the group.
func heeded[T any](t *testing.T, fresh func() *T, made func(*T) string, elsewhere map[string]bool) {
	t.Helper()
	var paths []string
	leaves(reflect.ValueOf(fresh()).Elem(), "", func(path string, _ reflect.Value) { paths = append(paths, path) })
	changed := 0
	for i, path := range paths {
		c := fresh()
		k, was := 0, ""
		known := true
		leaves(reflect.ValueOf(c).Elem(), "", func(string, reflect.Value) {})
		was = made(c)
		leaves(reflect.ValueOf(c).Elem(), "", func(_ string, v reflect.Value) {
			if k++; k-1 == i {
				known = change(v)
			}
		})
		if !known || elsewhere[path] {
			continue
		}
		changed++
		if made(c) == was {
			t.Errorf("%s is read, and nothing follows from it", path[1:])
		}
	}
	if changed < len(paths)/2 {
		t.Errorf("%d of %d settings were changed; expected most", changed, len(paths))
	}
}

// TestEveryKeyIsHeeded changes one key at a time, and looks whether what the bench
// computes with changes as well. Keys that only a sheet prints or that only a job takes
// are named here.
func TestEveryKeyIsHeeded(t *testing.T) {
	machine := func() *Machine {
		m := DefaultMachine()
		m.Mount = sections.Trailed
		m.Tool.ForwardM, m.Rows.Count, m.Rows.SpacingM = -3, 12, 0.5
		m.Sections = split.Sections{Rows: []int{5, 7}}
		return m
	}
	heeded(t, machine, func(m *Machine) string {
		p := m.Params()
		return fmt.Sprintf("%+v %+v %+v", m.Geometry(), p, m.Settings(&p))
	}, map[string]bool{
		".name": true, ".transport.width_m": true, ".transport.height_m": true, ".tool.side_shift_total_mm": true, // the sheet
		".rows.tool_width_m": true, ".rows.plant_strip_m": true, // Job.Tools
		".controller.flow_aware": true, // needs leads on auto
		// TestMeasured: they are taken when a file is read.
		".hydraulics.measured.lift_s": true, ".hydraulics.measured.raised_s": true, ".hydraulics.measured.drop_s": true, ".hydraulics.measured.lift_all_s": true, ".hydraulics.measured.oil_c": true,
	})
	heeded(t, func() *Drive { d := DefaultScenario().Drive; return &d },
		func(d *Drive) string { return fmt.Sprintf("%+v", d.Params()) }, map[string]bool{})
	heeded(t, func() *Receiver {
		r, ten := DefaultScenario().Receiver, 10.0
		r.FloatCorrS = &ten // a share of 0 without it stands for the share of a fix
		return &r
	},
		func(r *Receiver) string { return fmt.Sprintf("%+v", r.Params(1)) }, map[string]bool{})
	heeded(t, func() *Spread { s := DefaultScenario().Spread; return &s },
		func(s *Spread) string { return fmt.Sprintf("%+v %+v", s.Spread(1), s.Warming()) }, map[string]bool{})
}
