// Package version tells the program's version.
package version

import (
	"runtime/debug"
	"strings"
)

// released is the version of a release and commit the one it was built from, both set
// by .ci/release; "" otherwise.
var released, commit string

// String is the version the program was built as, its commit where it is known, and the
// version of Go.
func String() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(built without module information)"
	}
	return text(released, commit, info)
}

func text(released, commit string, info *debug.BuildInfo) string {
	v := released
	if v == "" {
		v = info.Main.Version // which go build makes from tag and commit
	}
	if v == "" {
		v = "(devel)"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && commit == "" {
			commit = s.Value
		}
	}
	if commit = commit[:min(12, len(commit))]; commit != "" && !strings.Contains(v, commit) {
		v += " commit " + commit
	}
	return v + " " + info.GoVersion
}
