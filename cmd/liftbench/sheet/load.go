// The input of a set-up sheet, as the command line selects it.

package sheet

import (
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
)

// Load loads what the sheet is about.
func Load(s *settings.Selection) (*Sheet, error) {
	if s.Arg == "" && s.Machine != "" && s.Field == "" {
		m, err := settings.LoadMachine(s.Machine, settings.OnDisk)
		if err != nil {
			return nil, err
		}
		straight, err := run.StraightRun(&settings.Setup{Machine: m, Scenario: settings.DefaultScenario()})
		return &Sheet{Machine: m, straight: straight}, err
	}
	if !s.IsScenario() {
		return nil, &failure.Usage{Msg: s.Arg + " is no scenario file; expected a name that ends in .yaml"}
	}
	u, err := s.Load()
	if err != nil {
		return nil, err
	}
	x := &Sheet{Machine: u.Machine, Scenario: u.Scenario, field: u.Field, headlandM: u.HeadlandM}
	if x.straight, err = run.StraightRun(u); err != nil {
		return nil, run.ScenarioError(u, "drive", err)
	}
	if u.Log != "" {
		o, err := run.Drive(u, strings.NewReader(""), io.Discard, false)
		if err != nil {
			return nil, err
		}
		if x.wrong = o.Wrong(); o.Suspicion != nil {
			x.warn("%s", o.Suspicion.Text)
		}
	} else {
		if x.drive, err = run.Plan(u, u.Machine.Geometry()); err != nil {
			return nil, err
		}
		if x.ideal, err = run.Job(u).Ideal(x.drive.Track); err != nil {
			return nil, err
		}
	}
	return x, nil
}
