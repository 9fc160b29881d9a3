package files

import (
	"errors"

	"golang.org/x/sys/windows"
)

// openElsewhere reports whether Windows refuses because another program has the file
// open and does not share it.
func openElsewhere(err error) bool {
	return errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_LOCK_VIOLATION)
}
