// This file lets one program at a time write a set of files.

package files

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/windows"
)

// lockWait is far longer than a set of files takes to be written.
const lockWait = time.Minute

// lockDir keeps other programs from putting a set of files into dir until unlock is
// called or this program ends, even if it is killed. It waits for them. The lock is a
// mutex that has the folder's name and is not there while nobody holds it; nobody waits
// by it, since a thread would have to.
func lockDir(dir string) (unlock func(), err error) {
	if dir, err = filepath.Abs(dir); err != nil {
		return nil, err
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return nil, err
	}
	name, err := windows.UTF16PtrFromString(fmt.Sprintf(`Local\liftbench-%x`, sha256.Sum256([]byte(strings.ToLower(dir)))))
	if err != nil {
		return nil, err
	}
	for until := time.Now().Add(lockWait); ; time.Sleep(10 * time.Millisecond) {
		h, err := windows.CreateMutex(nil, false, name)
		switch {
		case err == nil:
			return func() { _ = windows.CloseHandle(h) }, nil
		case !errors.Is(err, windows.ERROR_ALREADY_EXISTS):
			return nil, err
		}
		_ = windows.CloseHandle(h)
		if time.Now().After(until) {
			return nil, errors.New("another liftbench is writing there; wait for it, or stop it")
		}
	}
}
