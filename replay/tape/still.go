package tape

import "errors"

// StillReading is a placeholder.
type StillReading struct{}

func (t *table) still() (StillReading, error) { return StillReading{}, errors.New("x") }
