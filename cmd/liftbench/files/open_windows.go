package files

import (
	"errors"

	"golang.org/x/sys/windows"
)

// openElsewhere reports whether err of writing path is that another program has it open
// and does not share it. To replace such a file Windows says only that access is denied,
// as it says of a file that is protected; to open it, it says which.
func openElsewhere(path string, err error) bool {
	if errors.Is(err, windows.ERROR_ACCESS_DENIED) {
		name, nameErr := windows.UTF16PtrFromString(path)
		if nameErr != nil {
			return false
		}
		const shared = windows.FILE_SHARE_READ | windows.FILE_SHARE_WRITE | windows.FILE_SHARE_DELETE
		h, openErr := windows.CreateFile(name, windows.DELETE, shared, nil, windows.OPEN_EXISTING, 0, 0)
		if openErr == nil {
			_ = windows.CloseHandle(h)
		}
		err = openErr
	}
	return errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_LOCK_VIOLATION)
}
