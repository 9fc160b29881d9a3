//go:build !windows

package desktop

// windowOfOwn is false: elsewhere a program started from a desktop has no window.
func windowOfOwn() bool { return false }
