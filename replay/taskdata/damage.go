package taskdata

import "fmt"

// Damage is something in the files that is not as it should be, and what was done
// about it.
type Damage struct {
	File   string // within the folder of TASKDATA.XML
	Offset int64  // byte in File; -1: none in particular
	What   string // found
	Done   string // about it
}

// String returns the damage as a sentence.
func (d Damage) String() string {
	if d.Offset < 0 {
		return fmt.Sprintf("%s: %s; %s", d.File, d.What, d.Done)
	}
	return fmt.Sprintf("%s, byte %d: %s; %s", d.File, d.Offset, d.What, d.Done)
}

// maxDamage is how much damage is described; a file that is all damage needs no
// more.
const maxDamage = 200
