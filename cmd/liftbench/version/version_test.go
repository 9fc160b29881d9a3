package version

import (
	"runtime/debug"
	"testing"
)

// Of a release, of a build in a clone, and of one without its commit.
func TestText(t *testing.T) {
	const commit = "0123456789abcdef0123456789abcdef01234567"
	in := func(version string, settings ...debug.BuildSetting) *debug.BuildInfo {
		return &debug.BuildInfo{GoVersion: "go1.26", Main: debug.Module{Version: version}, Settings: settings}
	}
	revision := debug.BuildSetting{Key: "vcs.revision", Value: commit}
	for _, c := range []struct {
		released, commit string
		info             *debug.BuildInfo
		want             string
	}{
		{"1.2.0", commit, in("(devel)"), "1.2.0 commit 0123456789ab go1.26"},
		{"", "", in("v0.0.0-20260512080000-0123456789ab", revision), "v0.0.0-20260512080000-0123456789ab go1.26"},
		{"", "", in("v1.2.0", revision), "v1.2.0 commit 0123456789ab go1.26"},
		{"", "", in("(devel)"), "(devel) go1.26"},
		{"", "", in(""), "(devel) go1.26"},
	} {
		if got := text(c.released, c.commit, c.info); got != c.want {
			t.Errorf("%q; want %q", got, c.want)
		}
	}
}
