// Package measured turns times of a lift at standstill, as a person takes them with a stopwatch or a
// video, into the dead time and the speeds of a tool, and back.
package measured

import "fmt"

// Times is the block hydraulics.measured of a machine file.
type Times struct {
	LiftS    float64  `key:"lift_s" need:"yes" unit:"s" above:"0" max:"60" doc:"from the command until the tip of a tool that rises alone leaves the ground"`
	RaisedS  float64  `key:"raised_s" need:"yes" unit:"s" above:"0" max:"600" doc:"from the command until that tool is raised"`
	DropS    *float64 `key:"drop_s" unit:"s" above:"0" max:"600" doc:"from the command until the tip of a lowered tool touches the ground; drop_dead_ms of it pass before it moves"`
	LiftAllS *float64 `key:"lift_all_s" unit:"s" above:"0" max:"600" doc:"as lift_s, with all sections commanded at once: what the pump feeds"`
	OilC     *float64 `key:"oil_c" unit:"°C" min:"-30" max:"120" doc:"temperature of the oil while it was timed; hydraulics.oil_c where it is not given"`
}

// Speeds is what the times say of a tool that goes from a working depth to a raised height.
type Speeds struct {
	LiftDeadS float64 // from the command to the first movement
	LiftMps   float64 // a tool that rises alone
	AllMps    float64 // all at once; 0 = not timed
	DropMps   float64 // 0 = not timed
}

// Speeds finds dead time and speeds: between leaving the ground and raised lies the raised height, so
// u = raised/(raised_s - lift_s), and the dead time is what is left of lift_s before the working depth
// at that speed. The error names the key at fault.
func (t *Times) Speeds(workingM, raisedM, dropDeadS float64) (s Speeds, key string, err error) {
	if t.RaisedS <= t.LiftS {
		return s, "raised_s", fmt.Errorf("found %g s; expected more than lift_s, %g s: the tool is raised after it has left the ground", t.RaisedS, t.LiftS)
	}
	s.LiftMps = raisedM / (t.RaisedS - t.LiftS)
	s.LiftDeadS = t.LiftS - workingM/s.LiftMps
	if s.LiftDeadS < 0 {
		return s, "lift_s", fmt.Errorf("found %g s; expected %.3g s or more: at the speed from there to raised, %.3g m/s, the working depth alone takes that long; look at depth.working_cm and depth.raised_cm", t.LiftS, workingM/s.LiftMps, s.LiftMps)
	}
	if t.LiftAllS != nil {
		if *t.LiftAllS <= s.LiftDeadS {
			return s, "lift_all_s", fmt.Errorf("found %g s; expected more than the dead time of %.3g s that lift_s and raised_s leave", *t.LiftAllS, s.LiftDeadS)
		}
		// More than one alone they cannot be: that is what a hand on a stopwatch adds.
		s.AllMps = min(workingM/(*t.LiftAllS-s.LiftDeadS), s.LiftMps)
	}
	if t.DropS != nil {
		if *t.DropS <= dropDeadS {
			return s, "drop_s", fmt.Errorf("found %g s; expected more than drop_dead_ms, %g ms", *t.DropS, 1000*dropDeadS)
		}
		s.DropMps = raisedM / (*t.DropS - dropDeadS)
	}
	return s, "", nil
}

// Times is the other way round: the times of a tool with these speeds.
func (s *Speeds) Times(workingM, raisedM, dropDeadS float64) Times {
	t := Times{LiftS: s.LiftDeadS + workingM/s.LiftMps, RaisedS: s.LiftDeadS + (workingM+raisedM)/s.LiftMps}
	if s.AllMps > 0 {
		all := s.LiftDeadS + workingM/s.AllMps
		t.LiftAllS = &all
	}
	if s.DropMps > 0 {
		drop := dropDeadS + raisedM/s.DropMps
		t.DropS = &drop
	}
	return t
}
