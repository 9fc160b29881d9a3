package worked

import "liftbench/sections/enum"

// Ground is what a section does over rows that were worked on an earlier pass.
type Ground uint8

const (
	Again Ground = iota // works them again
	Leave               // stays up over them
)

var groundNames = []string{Again: "again", Leave: "leave"}

// String returns the name that files and messages use: again or leave.
func (w Ground) String() string { return enum.Name(groundNames, w) }

// MarshalText returns the same name, or an error for a value that has none.
func (w Ground) MarshalText() ([]byte, error) { return enum.Text(groundNames, w) }

// UnmarshalText sets w to the value of that name.
func (w *Ground) UnmarshalText(text []byte) error { return enum.Set(w, groundNames, text) }
