// Package version tells the program's version.
package version

import (
	"runtime/debug"
)

// String is the module version the program was built as, and its revision.
func String() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(built without module information)"
	}
	v := info.Main.Version
	if v == "" {
		v = "(devel)"
	}
	return v + " " + info.GoVersion
}
