// The acceptance sheet of tune: what the settings found do on drives that they were not
// chosen on.

package study

import (
	"io"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/run"
)

// Sheet drives the scenario with the settings found, as often as each setting was driven,
// with the seeds that follow those of the search: on its own the best of many looks better
// than it is.
func (t *Tuned) Sheet(command string) (*acceptance.Sheet, error) {
	var s *acceptance.Sheet
	for i := range t.Options.Drives {
		u := t.settings.Copy()
		u.Scenario.Drive.Seed = t.Options.FirstSeed + t.Options.Drives + i
		o, err := run.Drive(u, nil, io.Discard, false)
		if err != nil {
			return nil, err
		}
		next := acceptance.FromRun(o)
		if s == nil {
			s = next
			continue
		}
		s.Lifts, s.Drops = append(s.Lifts, next.Lifts...), append(s.Drops, next.Drops...)
	}
	s.Before, s.Command = acceptance.TimingOf(t.Base), command
	return s, nil
}
