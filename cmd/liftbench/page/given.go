// The files that the page opens with.

package page

import (
	"os"
	"path/filepath"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/web"
)

// Given returns the files of paths for the page to open with. Each is read when the page
// asks for it, so that a page that is loaded again has it as it is then.
func Given(paths []string) ([]web.Given, error) {
	var given []web.Given
	for _, path := range paths {
		info, err := os.Stat(path)
		switch {
		case err != nil:
			return nil, failure.Opening(path, "a file of a recorded day", err)
		case !info.Mode().IsRegular():
			return nil, &failure.Input{File: path, Msg: "is no regular file; expected a file of a recorded day"}
		case info.Size() > web.MaxBodyBytes:
			return nil, &failure.Input{File: path, Msg: "is larger than the page takes; expected a file for liftbench diagnose"}
		}
		given = append(given, web.Given{Name: filepath.Base(path), Read: func() ([]byte, error) { return os.ReadFile(path) }})
	}
	return given, nil
}
