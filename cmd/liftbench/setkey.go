// A number put in place of what the settings say, by the path of its key.

package main

import (
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// settingAt returns the setting of a path with its tags: keys of the scenario
// file ("drive.speed_kmh", "receiver.faults[0].from_s"), and after "machine."
// those of the machine file. The controller is one for both.
func (u *setup) settingAt(path string) (reflect.Value, reflect.StructTag, error) {
	v, rest := reflect.ValueOf(u.scenario).Elem(), path
	switch head, tail, _ := strings.Cut(path, "."); head {
	case "machine":
		v, rest = reflect.ValueOf(u.machine).Elem(), tail
		if key, tail, _ := strings.Cut(tail, "."); key == "controller" {
			return v, "", fmt.Errorf("%s: expected controller.%s", path, tail)
		}
	case "controller":
		v, rest = reflect.ValueOf(&u.machine.Controller).Elem(), tail
	}
	var tag reflect.StructTag
	for rest != "" {
		var name string
		name, rest, _ = strings.Cut(rest, ".")
		name, index, indexed := strings.Cut(name, "[")
		if v.Kind() != reflect.Struct {
			return v, "", fmt.Errorf("%s: nothing is below it", strings.TrimSuffix(path, "."+name))
		}
		f, ok := fieldOf(v.Type(), name)
		if !ok {
			return v, "", fmt.Errorf("%s: unknown key %q; %s", path, name, expectKey(name, keysOf(v.Type())))
		}
		v, tag = v.FieldByIndex(f.Index), f.Tag
		if !indexed {
			continue
		}
		i, err := strconv.Atoi(strings.TrimSuffix(index, "]"))
		if err != nil || v.Kind() != reflect.Slice || i < 0 || i >= v.Len() {
			return v, "", fmt.Errorf("%s: found [%s; expected the number of an entry of the list %s, from [0]", path, index, name)
		}
		// Other setups share the list.
		list := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(list, v)
		v.Set(list)
		v = v.Index(i)
	}
	return v, tag, nil
}

// set puts x into the setting of a path, as though the file said so.
func (u *setup) set(path string, x float64) error {
	v, tag, err := u.settingAt(path)
	if err != nil {
		return err
	}
	n, err := numberNode(x)
	if err != nil {
		return err
	}
	var bad *configError
	if err := newDocument("").bindValue(n, v, tag, path); errors.As(err, &bad) {
		return errors.New(bad.msg)
	}
	return nil
}

// copy returns a setup whose settings can be set without changing u's.
func (u *setup) copy() *setup {
	c, m, s := *u, *u.machine, *u.scenario
	c.machine, c.scenario = &m, &s
	return &c
}

// check reports settings that contradict each other, after some were set.
func (u *setup) check() error {
	u.scenario.Controller = u.machine.Controller
	if err := u.machine.check(); err != nil {
		return err
	}
	return u.scenario.check()
}
