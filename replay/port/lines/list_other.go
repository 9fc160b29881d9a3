//go:build !linux && !windows

// Serial lines where what is behind them is told only to C: by the names that the
// system gives their files.

package lines

import (
	"path/filepath"
	"runtime"
)

// files are patterns of the names that open a line without waiting for a carrier.
var files = map[string][]string{
	"darwin":  {"/dev/cu.*"},
	"freebsd": {"/dev/cuau[0-9]", "/dev/cuaU[0-9]", "/dev/cuaU[0-9][0-9]"},
}

// List returns the serial lines, sorted by name.
func List() ([]Line, error) {
	var lines []Line
	for _, pattern := range files[runtime.GOOS] {
		names, err := filepath.Glob(pattern)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			lines = append(lines, Line{Name: name})
		}
	}
	return sorted(lines), nil
}
