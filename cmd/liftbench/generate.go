// The generated drive: a driver on the field, and what a receiver says of him.

package main

import (
	"io"

	"liftbench/sections"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// plan drives the setup's field.
func (u *setup) plan(m *sections.Machine) (*drive.Drive, error) {
	d, err := drive.Plan(u.field, m, u.scenario.Drive.params())
	if err != nil {
		return nil, u.scenarioError("drive", err)
	}
	return d, nil
}

// receiver returns the receiver on a drive.
func (u *setup) receiver(m *sections.Machine, d *drive.Drive) (*receiver.Receiver, error) {
	r, err := receiver.New(d.Track, &u.field.Plane, m, u.receiverParams())
	if err != nil {
		return nil, u.scenarioError("receiver", err)
	}
	return r, nil
}

func (u *setup) receiverParams() receiver.Params {
	return u.scenario.Receiver.params(uint64(u.scenario.Drive.Seed))
}

// scenarioError puts the scenario's file and the block's place before an error.
func (u *setup) scenarioError(block string, err error) error {
	if u.scenario.doc == nil {
		return err
	}
	return u.scenario.doc.errorAt(block, "%s: %v", block, err)
}

// spokenDrive reads as the NMEA that a receiver says.
type spokenDrive struct {
	receiver *receiver.Receiver
	epoch    []byte // sentences of the current epoch
	rest     []byte // what of them is not read yet
}

func (s *spokenDrive) Read(b []byte) (int, error) {
	n := 0
	for n < len(b) {
		if len(s.rest) == 0 {
			if !s.receiver.Scan() {
				break
			}
			s.epoch = s.receiver.Append(s.epoch[:0])
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
