// Changing a setting by the path of its key.

package settings

import (
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings/bind"
)

// settingAt returns the setting of a path with its tags: keys of the scenario
// file ("drive.speed_kmh", "receiver.faults[0].from_s"), and after "machine."
// those of the machine file. The controller is one for both.
func (u *Setup) settingAt(path string) (reflect.Value, reflect.StructTag, error) {
	v, rest := reflect.ValueOf(u.Scenario).Elem(), path
	switch head, tail, _ := strings.Cut(path, "."); head {
	case "machine":
		v, rest = reflect.ValueOf(u.Machine).Elem(), tail
		if key, tail, _ := strings.Cut(tail, "."); key == "controller" {
			return v, "", fmt.Errorf("%s: expected controller.%s", path, tail)
		}
	case "controller":
		v, rest = reflect.ValueOf(&u.Machine.Controller).Elem(), tail
	}
	var tag reflect.StructTag
	for rest != "" {
		var name string
		name, rest, _ = strings.Cut(rest, ".")
		name, index, indexed := strings.Cut(name, "[")
		if v.Kind() != reflect.Struct {
			return v, "", fmt.Errorf("%s: nothing is below it", strings.TrimSuffix(path, "."+name))
		}
		f, ok := bind.FieldOf(v.Type(), name)
		if !ok {
			return v, "", fmt.Errorf("%s: unknown key %q; %s", path, name, bind.ExpectKey(name, bind.KeysOf(v.Type())))
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

// Set puts x into the setting of a path, as though the file said so.
func (u *Setup) Set(path string, x float64) error {
	v, tag, err := u.settingAt(path)
	if err != nil {
		return err
	}
	n, err := bind.NumberNode(x)
	if err != nil {
		return err
	}
	var bad *failure.Setting
	if err := bind.NewDocument("").BindValue(n, v, tag, path); errors.As(err, &bad) {
		return errors.New(bad.Msg)
	}
	return nil
}

// Copy returns a setup whose settings can be set without changing u's.
func (u *Setup) Copy() *Setup {
	c, m, s := *u, *u.Machine, *u.Scenario
	c.Machine, c.Scenario = &m, &s
	return &c
}

// Check reports settings that contradict each other, after some were set.
func (u *Setup) Check() error {
	u.Scenario.Controller = u.Machine.Controller
	if err := u.Machine.Check(); err != nil {
		return err
	}
	return u.Scenario.check()
}
