// The generated drive: how the driver works the field, and what a receiver says
// meanwhile.

package run

import (
	"io"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// Plan plans how the setup's field is driven. If the scenario does not set the
// straight run before a border, Plan takes what StraightRun returns for the
// time in which the hydraulics drop a tool, whatever drop lead is set.
func Plan(u *settings.Setup, m *sections.Machine) (*drive.Drive, error) {
	p := u.Scenario.Drive.Params()
	p.Stop = u.Stop
	job := Job(u)
	_, job.Settings.DropLead = sim.Leads(&job.Hydraulics, len(m.Sections), false)
	need, err := straightRun(u, job, nil)
	if err != nil {
		return nil, ScenarioError(u, "drive", err)
	}
	p.SteadyBeforeM, p.RowSpacingM = need.SteadyM, u.Machine.Rows.SpacingM
	if p.StraightBeforeM == 0 {
		p.StraightBeforeM = max(need.LineM, 3)
	}
	d, err := drive.Plan(u.Field, m, p)
	if err != nil {
		return nil, ScenarioError(u, "drive", err)
	}
	return d, nil
}

// newReceiver returns the receiver on a drive.
func newReceiver(u *settings.Setup, m *sections.Machine, d *drive.Drive) (*receiver.Receiver, error) {
	r, err := receiver.New(d.Track, &u.Field.Plane, m, ReceiverParams(u))
	if err != nil {
		return nil, ScenarioError(u, "receiver", err)
	}
	return r, nil
}

// ReceiverParams are the errors and habits of the scenario's receiver.
func ReceiverParams(u *settings.Setup) receiver.Params {
	return u.Scenario.Receiver.Params(uint64(u.Scenario.Drive.Seed))
}

// ScenarioError puts the scenario's file and the block's place before an error.
func ScenarioError(u *settings.Setup, block string, err error) error {
	if u.Scenario.Doc == nil {
		return err
	}
	return u.Scenario.Doc.ErrorAt(block, "%s: %v", block, err)
}

// SpokenDrive is an io.Reader of the NMEA that a receiver says on a drive.
type SpokenDrive struct {
	Receiver *receiver.Receiver
	epoch    []byte // sentences of the current epoch
	rest     []byte // what of them is not read yet
}

func (s *SpokenDrive) Read(b []byte) (int, error) {
	n := 0
	for n < len(b) {
		if len(s.rest) == 0 {
			if !s.Receiver.Scan() {
				break
			}
			s.epoch = s.Receiver.Append(s.epoch[:0])
			s.rest = s.epoch
		}
		k := copy(b[n:], s.rest)
		s.rest = s.rest[k:]
		n += k
	}
	if n == 0 && len(b) > 0 {
		return 0, io.EOF
	}
	return n, nil
}
