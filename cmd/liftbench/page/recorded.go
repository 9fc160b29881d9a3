// An uploaded day that is no log of sentences: task data, or the trace of a bus.

package page

import (
	"io"
	"maps"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
	"liftbench/replay/day"
)

// asFiles returns what is asked with the files that an uploaded recording holds in place of
// it, and what is to be said of it. Files that are uploaded beside it stay as they are.
func asFiles(a *web.Ask) (*web.Ask, []string, error) {
	log, ok := a.Files["log"]
	if !ok {
		return a, nil, nil
	}
	plain, err := unpacked(log)
	if err != nil {
		return nil, nil, err
	}
	data, err := io.ReadAll(plain)
	if err != nil {
		return a, nil, nil // which reading it as sentences says in its own way
	}
	d, err := recording.Within(log.Name, data, recording.Choice{})
	if err != nil || d == nil {
		return a, nil, err
	}
	with := &web.Ask{Set: a.Set, Files: maps.Clone(a.Files), Zone: a.Zone}
	put := func(part string, data []byte) {
		if _, given := with.Files[part]; !given && len(data) > 0 {
			with.Files[part] = web.Upload{Name: log.Name + " (" + part + ")", Data: data}
		}
	}
	said := append([]string{"It is " + d.Form + "."}, d.Found...)
	if d.Machine != nil {
		text, usual := settings.MachineText(d.Machine)
		if machine, given := a.Files["machine"]; given {
			// It may hold no more than what the recording does not tell.
			m, err := settings.MachineOver(log.Name, text, machine.Name, settings.Named(func(string, string) ([]byte, error) { return machine.Data, nil }))
			if err != nil {
				return nil, nil, err
			}
			with.Files["machine"] = web.Upload{Name: machine.Name, Data: m.Text()}
		} else {
			put("machine", text)
			said = append(said, settings.UsualText(usual))
		}
	}
	sentences, err := io.ReadAll(day.NewSentences(d.Fixes))
	if err != nil || len(sentences) == 0 {
		return nil, nil, &failure.Input{File: log.Name, Msg: "no position in it"}
	}
	with.Files["log"] = web.Upload{Name: log.Name, Data: sentences}
	put("field", d.Field)
	if d.Work != nil {
		put("states", run.AppendRecorded(nil, d.Work))
	}
	return with, said, nil
}
