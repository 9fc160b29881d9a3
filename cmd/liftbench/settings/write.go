// A setup written as one scenario file.

package settings

import (
	"path/filepath"
	"reflect"
	"strconv"

	"liftbench/cmd/liftbench/settings/bind"
)

func (l *LeadTime) YAML() string {
	if l.Auto {
		return "auto"
	}
	return bind.PlainNumber(l.Ms)
}

// SettingText returns the setup as one scenario file that holds its machine.
// The field is given as it is to stand there: a file's name, or GeoJSON, which
// is YAML.
func (u *Setup) SettingText(fieldText string) []byte {
	var b []byte
	line := func(key, text string) { b = append(b, key+": "+text+"\n"...) }
	s := *u.Scenario
	line("name", strconv.Quote(u.Title))
	b = append(b, "machine:\n"...)
	machine := *u.Machine
	machine.Hydraulics.Measured = machine.measuredAnew()
	b = bind.AppendGroup(b, "  ", reflect.ValueOf(machine), reflect.ValueOf(*DefaultMachine()))
	line("field", fieldText)
	// Keys that are written above, and those that the machine already has.
	d := DefaultScenario()
	s.Name, s.Machine, s.Field = d.Name, d.Machine, d.Field
	s.Log, s.States = filepath.ToSlash(s.Log), filepath.ToSlash(s.States) // the same text under every system; Windows takes both
	s.Controller = d.Controller
	s.Conditions = d.Conditions // every value that it stands for is written
	if s.Log != "" {
		s.Drive, s.Receiver, s.Measured = d.Drive, d.Receiver, d.Measured
	}
	if s.States != "" {
		s.Spread = d.Spread
	}
	d.Receiver = PresetReceiver(s.Receiver.Preset)
	d.Receiver.Preset = RtkFixed // what holds when the key is absent
	v, defaults := reflect.ValueOf(s), reflect.ValueOf(*d)
	for i := range v.NumField() {
		key := v.Type().Field(i).Tag.Get("key")
		if key != "" && !reflect.DeepEqual(v.Field(i).Interface(), defaults.Field(i).Interface()) {
			b = bind.AppendSetting(b, "", key, v.Field(i), defaults.Field(i))
		}
	}
	return b
}
