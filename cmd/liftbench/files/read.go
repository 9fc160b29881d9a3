// A settings or field file, read whole.

package files

import (
	"fmt"
	"os"
	"syscall"

	"liftbench/cmd/liftbench/failure"
)

// ReadFile returns the content of a configuration or field file, or a sentence
// that says why there is none. what names the kind of file for that sentence.
func ReadFile(file, what string) ([]byte, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, failure.Opening(file, what, err)
	}
	if info.IsDir() {
		return nil, failure.Opening(file, what, syscall.EISDIR)
	}
	if info.Size() > maxFileBytes {
		return nil, &failure.Input{File: file, Msg: fmt.Sprintf("holds %d bytes; expected %s of at most %d", info.Size(), what, int64(maxFileBytes))}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, failure.Opening(file, what, err)
	}
	return data, nil
}

// maxFileBytes is far above any field's file.
const maxFileBytes = 64 << 20
