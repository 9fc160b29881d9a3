// A settings or field file, read whole.

package files

import (
	"fmt"
	"io"
	"os"
	"syscall"

	"liftbench/cmd/liftbench/failure"
	"liftbench/sections/field/form"
)

// ReadFile returns the content of a settings or field file, or an error in a
// sentence. what names the kind of file for that sentence.
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
	f, err := os.Open(file)
	if err != nil {
		return nil, failure.Opening(file, what, err)
	}
	defer f.Close()
	// The size of a device or a FIFO is not known beforehand.
	data, err := io.ReadAll(io.LimitReader(f, maxFileBytes+1))
	if err != nil {
		return nil, failure.Opening(file, what, err)
	}
	if len(data) > maxFileBytes {
		return nil, &failure.Input{File: file, Msg: fmt.Sprintf("holds more than %d bytes; expected %s", int64(maxFileBytes), what)}
	}
	return data, nil
}

// maxFileBytes bounds what is read of a field file or a settings file.
const maxFileBytes = 2 * form.MaxBytes
