// The version that the program was built as.

package main

import (
	"runtime/debug"
)

// version is the module version the program was built as, and its revision.
func version() string {
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
