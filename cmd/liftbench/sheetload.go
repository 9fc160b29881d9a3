// What a set-up sheet is about, as the command line selects it.

package main

// sheet loads what the sheet is about.
func (s *selection) sheet() (*sheet, error) {
	if s.arg == "" && s.machine != "" && s.field == "" {
		m, err := loadMachine(s.machine, onDisk)
		if err != nil {
			return nil, err
		}
		return &sheet{machine: m}, nil
	}
	if !s.isScenario() {
		return nil, &usageError{s.arg + " is no scenario file; expected a name that ends in .yaml"}
	}
	u, err := s.load()
	if err != nil {
		return nil, err
	}
	x := &sheet{machine: u.machine, scenario: u.scenario, field: u.field, headlandM: u.headlandM}
	if u.log == "" {
		if x.drive, err = u.plan(u.machine.geometry()); err != nil {
			return nil, err
		}
	}
	return x, nil
}
