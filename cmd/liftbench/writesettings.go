// A setup written as one scenario file.

package main

import (
	"reflect"
	"strconv"
	"strings"
)

func (l *leadTime) yamlText() string {
	if l.auto {
		return "auto"
	}
	return plainNumber(l.ms)
}

func (s *sectionSplit) yamlText() string {
	if s.rows == nil {
		return strconv.Itoa(s.count)
	}
	rows := make([]string, len(s.rows))
	for i, r := range s.rows {
		rows[i] = strconv.Itoa(r)
	}
	return "[" + strings.Join(rows, ", ") + "]"
}

// settingText returns the setup as one scenario file that holds its machine.
// The field is given as it is to stand there: a file's name, or GeoJSON, which
// is YAML.
func (u *setup) settingText(fieldText string) []byte {
	var b []byte
	line := func(key, text string) { b = append(b, key+": "+text+"\n"...) }
	s := *u.scenario
	line("name", strconv.Quote(u.title))
	b = append(b, "machine:\n"...)
	b = appendGroup(b, "  ", reflect.ValueOf(*u.machine), reflect.ValueOf(*defaultMachine()))
	line("field", fieldText)
	// What is written above, and what the machine already says.
	d := defaultScenario()
	s.Name, s.Machine, s.Field = d.Name, d.Machine, d.Field
	s.Controller = d.Controller
	if s.Log != "" {
		s.Drive, s.Receiver, s.Measured = d.Drive, d.Receiver, d.Measured
	}
	if s.States != "" {
		s.Spread = d.Spread
	}
	d.Receiver = presetReceiver(s.Receiver.Preset)
	d.Receiver.Preset = rtkFixed // what holds when the key is absent
	v, defaults := reflect.ValueOf(s), reflect.ValueOf(*d)
	for i := range v.NumField() {
		key := v.Type().Field(i).Tag.Get("key")
		if key != "" && !reflect.DeepEqual(v.Field(i).Interface(), defaults.Field(i).Interface()) {
			b = appendSetting(b, "", key, v.Field(i), defaults.Field(i))
		}
	}
	return b
}
